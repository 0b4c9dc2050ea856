// The meter plan: before the first power of a stage, few touches of an ohmmeter that prove every new wire and resistor and
// exclude every bridge that could physically be there, with the reading to expect where pull-ups or networks are in the way.
// One fault at a time is assumed. Reads the layout as of the stage; the boards are as the steps leave them, supply off.

import type { HoleName, Layout, StripId } from '../board/index.ts';
import { layoutAt } from '../board/index.ts';
import { contentId, type Finding, formatQuantity, type Result } from '../base/index.ts';
import type { Netlist } from '../netlist/index.ts';
import type { BenchFacts, InTheWay } from './bench-facts.ts';
import type { BenchState } from './difference.ts';
import { coverWithFew } from './cover.ts';
import { createOhmNetwork, type OhmEdge, type OhmNetwork } from './ohms.ts';
import { buildTree, type PathTree } from './path-tree.ts';

export interface TouchEnd {
  readonly hole: HoleName;
  readonly strip: StripId;
  /** Pins in the same strip: `CPU.A0`, or part and pin number where no netlist is given. */
  readonly pins: readonly string[];
  readonly net: string;
}

export interface Touch {
  readonly id: string;
  readonly from: TouchEnd;
  readonly to: TouchEnd;
  /** `ohms` with the least and greatest reading that pass, or open: anything of `above` ohms or more. */
  readonly expect:
    | { readonly ohms: number; readonly least: number; readonly most: number }
    | { readonly open: true; readonly above: number };
  /** Wires and resistors (parts) that a right reading proves. */
  readonly proves: { readonly wires: readonly string[]; readonly parts: readonly string[] };
  /** Pairs of strips between which a right reading excludes a bridge. */
  readonly excludes: readonly (readonly [StripId, StripId])[];
  readonly text: string;
  /** What may make a right reading look odd. */
  readonly notes: readonly string[];
}

export interface TouchPlan {
  readonly touches: readonly Touch[];
  /** What no reading can tell, and why; to be looked at by eye. */
  readonly byEye: readonly {
    readonly wires: readonly string[];
    readonly strips: readonly StripId[];
    readonly why: string;
  }[];
  readonly counts: {
    readonly wires: number;
    readonly resistors: number;
    /** Neighbouring strips of different nets. */
    readonly bridges: number;
    /** Pairs of nets that those bridges would join. */
    readonly pairs: number;
  };
}

export interface TouchInput {
  readonly layout: Layout;
  /** The stage about to be powered. */
  readonly stage: number;
  readonly facts: BenchFacts;
  /** For the names of pins and nets. */
  readonly netlist?: Netlist;
  /** What was on the boards when they were last checked; by default the machine as of the stage before. */
  readonly checked?: BenchState;
  /** False where no chip is in yet: readings through resistors then tell more, and fewer touches are needed. Default true. */
  readonly chipsIn?: boolean;
}

/** A contact or a bridge reads less than this, in ohms; more is no bridge. Common practice, no source. */
export const BRIDGE_OHMS = 20;
/** A good chain of wires and contacts reads at most this with the leads' own resistance taken off. Common practice, no source. */
export const CHAIN_OHMS = 2;
/** Where no chip is in the way, anything under this is a path. Common practice, no source. */
export const OPEN_OHMS = 100_000;
/** How far a reading through resistors may be off: resistors 5 %, the meter and the contacts the rest. */
const TOLERANCE = 0.1;
/** A fault shows when it changes a reading by more than this ratio, well clear of twice the tolerance. */
const SHOWS = 1.3;

interface Member {
  readonly strip: StripId;
  readonly pins: string[];
  readonly leadHoles: HoleName[];
  readonly wireHoles: HoleName[];
  isNew: boolean;
}

/** The strips in use and what is in them. */
class Boards {
  readonly members: Member[] = [];
  private readonly index = new Map<StripId, number>();
  private readonly facts: BenchFacts;

  constructor(facts: BenchFacts) {
    this.facts = facts;
  }
  find(strip: StripId): number | undefined {
    return this.index.get(strip);
  }
  at(hole: HoleName): number | undefined {
    const strip = this.facts.rules.stripOf(hole);
    if (strip === undefined) return undefined;
    let id = this.index.get(strip);
    if (id === undefined) {
      id = this.members.length;
      this.index.set(strip, id);
      this.members.push({ strip, pins: [], leadHoles: [], wireHoles: [], isNew: false });
    }
    return id;
  }
}

interface Resistor {
  readonly part: string;
  readonly a: number;
  readonly b: number;
  readonly ohms: number;
  readonly isNew: boolean;
}

/** Plans the touches. About 50 ms for a machine of 1,500 wires. */
export function planTouches(input: TouchInput): Result<TouchPlan> {
  const { layout, stage, facts } = input;
  const on = layoutAt(layout, stage);
  const before = layoutAt(layout, stage - 1);
  const key = (from: string, to: string): string => (from < to ? `${from} ${to}` : `${to} ${from}`);
  const leadKey = (part: string, hole: string): string => `${part} ${hole}`;
  const oldWires = new Set(
    input.checked === undefined
      ? before.wires.map((wire) => key(wire.from, wire.to))
      : [...input.checked.wires.values()].map((wire) => key(wire.from, wire.to)),
  );
  const oldLeads = new Set(
    input.checked === undefined
      ? before.parts.flatMap((part) => part.leads.map((lead) => leadKey(part.part, lead.hole)))
      : [...input.checked.parts.values()].flatMap((part) => part.leads.map(([, hole]) => leadKey(part.part, hole))),
  );

  const boards = new Boards(facts);
  const wires: { id: string; a: number; b: number; isNew: boolean; net: string }[] = [];
  const netOfStrip = new Map<number, string>();
  for (const wire of on.wires) {
    const a = boards.at(wire.from);
    const b = boards.at(wire.to);
    if (a === undefined || b === undefined) continue; // the plan of steps reports holes that aren't there
    const isNew = !oldWires.has(key(wire.from, wire.to));
    boards.members[a]!.wireHoles.push(wire.from);
    boards.members[b]!.wireHoles.push(wire.to);
    for (const end of [a, b]) {
      if (isNew) boards.members[end]!.isNew = true;
      if (!netOfStrip.has(end)) netOfStrip.set(end, wire.net);
    }
    wires.push({ id: wire.id, a, b, isNew, net: wire.net });
  }
  const names = new Map<string, { ref: string; net: string | undefined }>();
  for (const pin of input.netlist?.pins ?? [])
    names.set(`${input.netlist!.parts[pin.part]!.name}\n${pin.number}`, {
      ref: pin.ref,
      net: pin.net < 0 ? undefined : input.netlist!.nets[pin.net]!.name,
    });
  const links: { a: number; b: number }[] = [];
  const resistors: Resistor[] = [];
  const unread: string[] = [];
  const inTheWay = new Map<number, Set<InTheWay>>();
  for (const part of on.parts) {
    const at = new Map<number, number>();
    let isNew = false;
    for (const lead of part.leads) {
      const strip = boards.at(lead.hole);
      if (strip === undefined) continue;
      at.set(lead.number, strip);
      const member = boards.members[strip]!;
      const pin = names.get(`${part.part}\n${lead.number}`);
      member.pins.push(pin?.ref ?? `${part.part}.${lead.number}`);
      if (pin?.net !== undefined && !netOfStrip.has(strip)) netOfStrip.set(strip, pin.net);
      member.leadHoles.push(lead.hole);
      if (!oldLeads.has(leadKey(part.part, lead.hole))) {
        member.isNew = true;
        isNew = true;
      }
      const way = facts.inTheWay(part.part);
      if (way !== undefined) {
        const set = inTheWay.get(strip) ?? new Set();
        set.add(way);
        inTheWay.set(strip, set);
      }
    }
    for (const group of facts.rules.joined?.(part.type) ?? []) {
      const strips = group.flatMap((number) => at.get(number) ?? []);
      for (const other of strips.slice(1)) links.push({ a: strips[0]!, b: other });
    }
    for (const element of facts.resistors(part.part)) {
      const a = at.get(element.a);
      const b = at.get(element.b);
      if (a === undefined || b === undefined) continue;
      if (element.ohms === undefined || element.ohms <= 0) unread.push(part.part);
      else resistors.push({ part: part.part, a, b, ohms: element.ohms, isNew });
    }
  }
  for (const entry of layout.entries) {
    for (const [hole, net] of [
      [entry.plus, entry.supply],
      [entry.ground, 'GND'],
    ] as const) {
      const strip = boards.at(hole);
      if (strip === undefined) continue;
      boards.members[strip]!.wireHoles.push(hole);
      if (!netOfStrip.has(strip)) netOfStrip.set(strip, net);
    }
  }
  const plan = new Planner(boards.members, wires, links, resistors, inTheWay, netOfStrip, input);
  const value = plan.plan((strip) => facts.neighbours(strip).flatMap((next) => boards.find(next) ?? []));
  const findings: Finding[] = [...new Set(unread)].map((part) => ({
    code: 'stage/touch-value-unknown',
    severity: 'warning',
    message: `the meter plan can't say what ${part} reads: its value isn't given as a resistance`,
    where: [],
    notes: [{ text: 'It is left out of the plan, and readings of nets it joins may differ from what is said.' }],
    help: 'Give its value in the machine file, such as 10 kohm.',
    about: [part],
    stage,
  }));
  return { value, findings };
}

interface Candidate {
  readonly from: number;
  readonly to: number;
  readonly elements: readonly number[];
}

class Planner {
  private readonly members: readonly Member[];
  private readonly wires: readonly { id: string; a: number; b: number; isNew: boolean; net: string }[];
  private readonly resistors: readonly Resistor[];
  private readonly netOfStrip: ReadonlyMap<number, string>;
  private readonly chipsIn: boolean;
  private readonly tree: PathTree;
  private readonly network: OhmNetwork;
  private readonly edges: OhmEdge[];
  /** Conductor of each strip, and of each conductor what is in the way there. */
  private readonly comp: Int32Array;
  private readonly ways: Set<InTheWay>[] = [];

  constructor(
    members: readonly Member[],
    wires: Planner['wires'],
    links: readonly { a: number; b: number }[],
    resistors: readonly Resistor[],
    inTheWay: ReadonlyMap<number, ReadonlySet<InTheWay>>,
    netOfStrip: ReadonlyMap<number, string>,
    input: TouchInput,
  ) {
    this.members = members;
    this.wires = wires;
    this.resistors = resistors;
    this.netOfStrip = netOfStrip;
    this.chipsIn = input.chipsIn ?? true;
    this.tree = buildTree(members.length, [
      ...wires.map((wire, i) => ({ a: wire.a, b: wire.b, element: wire.isNew ? i : -1 })),
      ...links.map((link) => ({ ...link, element: -1 })),
    ]);
    this.comp = this.tree.component;
    for (const [strip, set] of inTheWay) {
      const comp = this.comp[strip]!;
      const all = this.ways[comp] ?? new Set();
      for (const way of set) all.add(way);
      this.ways[comp] = all;
    }
    this.edges = resistors.map((item) => ({ a: this.comp[item.a]!, b: this.comp[item.b]!, ohms: item.ohms }));
    this.network = createOhmNetwork(this.tree.components, this.edges);
  }

  plan(neighbours: (strip: StripId) => readonly number[]): TouchPlan {
    // Elements: new wires that a reading can prove, then new resistors, then pairs of nets that a bridge could join.
    const wireElement = new Map<number, number>();
    for (const i of this.tree.provable) wireElement.set(i, wireElement.size);
    const resistorElement = new Map<number, number>();
    const shorted: string[] = [];
    this.resistors.forEach((item, i) => {
      if (!item.isNew) return;
      if (this.comp[item.a] === this.comp[item.b]) shorted.push(item.part);
      else resistorElement.set(i, wireElement.size + resistorElement.size);
    });
    const base = wireElement.size + resistorElement.size;
    const pairs: { x: number; y: number; places: (readonly [StripId, StripId])[]; at: readonly [number, number] }[] =
      [];
    const pairAt = new Map<string, number>();
    let bridges = 0;
    const hidden: (readonly [StripId, StripId])[] = [];
    this.members.forEach((member, s) => {
      for (const t of neighbours(member.strip)) {
        if (t < s && this.isNear(t, s, neighbours)) continue; // seen from the other side
        const x = this.comp[s]!;
        const y = this.comp[t]!;
        const other = this.members[t]!;
        if (x === y || !(member.isNew || other.isNew)) continue;
        bridges++;
        if (this.network.between(x, y) < 2 * BRIDGE_OHMS) {
          hidden.push([member.strip, other.strip]);
          continue;
        }
        const name = x < y ? `${x} ${y}` : `${y} ${x}`;
        const known = pairAt.get(name);
        if (known === undefined) {
          pairAt.set(name, pairs.length);
          pairs.push({ x: Math.min(x, y), y: Math.max(x, y), places: [[member.strip, other.strip]], at: [s, t] });
        } else pairs[known]!.places.push([member.strip, other.strip]);
      }
    });

    const candidates: Candidate[] = [];
    const wiresBetween = (from: number, to: number): number[] =>
      this.tree.path(from, to).flatMap((i) => wireElement.get(i) ?? []);
    for (const [from, to] of this.tree.pairs()) candidates.push({ from, to, elements: wiresBetween(from, to) });
    const trusted = (x: number, y: number): boolean => this.isClear(x) && this.isClear(y);
    const reach = (from: number, to: number): number[] => {
      // What a touch between two nets proves: resistors whose absence it shows, wires up to the only resistor between
      // them, and bridges that would change it.
      const x = this.comp[from]!;
      const y = this.comp[to]!;
      const expected = this.network.between(x, y);
      const found: number[] = [];
      const sure = trusted(x, y);
      const shows = (reading: number): boolean =>
        reading === expected
          ? false
          : !Number.isFinite(reading) ||
            !Number.isFinite(expected) ||
            Math.max(reading, expected) > SHOWS * Math.min(reading, expected);
      if (Number.isFinite(expected))
        for (const [i, element] of resistorElement) {
          const item = this.resistors[i]!;
          const reading = this.network.without(x, y, i);
          const direct = new Set([this.comp[item.a], this.comp[item.b]]);
          if (!shows(reading) || !(sure || (direct.has(x) && direct.has(y)))) continue;
          found.push(element);
        }
      if (Number.isFinite(expected)) {
        const way = this.onlyWay(x, y);
        if (way.length === 1 || sure) {
          let at = from;
          for (const i of way) {
            const item = this.resistors[i]!;
            const near = this.comp[item.a] === this.comp[at] ? item.a : item.b;
            found.push(...wiresBetween(at, near));
            at = near === item.a ? item.b : item.a;
          }
          if (way.length > 0) found.push(...wiresBetween(at, to));
        }
      }
      pairs.forEach((pair, k) => {
        const direct = (pair.x === x && pair.y === y) || (pair.x === y && pair.y === x);
        if (direct || (sure && trusted(pair.x, pair.y) && shows(this.network.bridged(x, y, pair.x, pair.y))))
          found.push(base + k);
      });
      return [...new Set(found)];
    };
    for (const i of resistorElement.keys()) {
      const item = this.resistors[i]!;
      for (const from of this.tree.ends(item.a).slice(0, 5))
        for (const to of this.tree.ends(item.b).slice(0, 5)) candidates.push({ from, to, elements: reach(from, to) });
    }
    for (const pair of pairs) {
      candidates.push({ from: pair.at[0], to: pair.at[1], elements: reach(pair.at[0], pair.at[1]) });
      // A net that a bridge would join to a pulled one reads that resistor to the other side of it.
      for (const [strip, other] of [pair.at, [pair.at[1], pair.at[0]] as const])
        for (const far of this.beyond(other).slice(0, 3))
          if (this.comp[far] !== this.comp[strip] && trusted(this.comp[strip]!, this.comp[far]!))
            candidates.push({ from: strip, to: far, elements: reach(strip, far) });
    }

    const elements = base + pairs.length;
    const chosen = coverWithFew(
      candidates.map((candidate) => candidate.elements),
      elements,
    );
    // The plain plan, by net: never worse than it.
    const plain = this.tree.fewest().map(([from, to]) => ({ from, to, elements: wiresBetween(from, to) }));
    const others = candidates.slice(this.tree.pairs().length);
    const mixed = coverWithFew(
      [...plain, ...others].map((candidate) => candidate.elements),
      elements,
    );
    const list =
      mixed.length < chosen.length ? mixed.map((i) => [...plain, ...others][i]!) : chosen.map((i) => candidates[i]!);

    const wireOf = new Map([...wireElement].map(([i, element]) => [element, this.wires[i]!.id]));
    const partOf = new Map([...resistorElement].map(([i, element]) => [element, this.resistors[i]!.part]));
    const touches = list.map((candidate) => this.touch(candidate, wireOf, partOf, (k) => pairs[k - base]!.places));
    touches.sort(
      (a, b) =>
        rank(a) - rank(b) ||
        (a.from.net < b.from.net ? -1 : a.from.net > b.from.net ? 1 : 0) ||
        (a.from.hole < b.from.hole ? -1 : a.from.hole > b.from.hole ? 1 : 0) ||
        (a.to.hole < b.to.hole ? -1 : a.to.hole > b.to.hole ? 1 : 0),
    );
    const looped = this.tree.looped.map((i) => this.wires[i]!.id);
    return {
      touches,
      byEye: [
        ...(looped.length > 0
          ? [
              {
                wires: looped,
                strips: [],
                why: 'another way joins the same strips, so a meter reads through even if one of these is missing',
              },
            ]
          : []),
        ...(hidden.length > 0
          ? [
              {
                wires: [],
                strips: [...new Set(hidden.flat())],
                why: `less than ${2 * BRIDGE_OHMS} ohm is between these nets by design, so a bridge can't be told from it`,
              },
            ]
          : []),
        ...(shorted.length > 0
          ? [{ wires: [], strips: [], why: `both ends of ${shorted.join(', ')} are on one net` }]
          : []),
      ],
      counts: { wires: wireElement.size, resistors: resistorElement.size, bridges, pairs: pairs.length },
    };
  }

  /** Strips at the far ends of resistors on the conductor of `strip`, one for each other conductor. */
  private beyond(strip: number): number[] {
    const found = new Map<number, number>();
    for (const item of this.resistors)
      for (const [near, far] of [
        [item.a, item.b],
        [item.b, item.a],
      ] as const)
        if (this.comp[near] === this.comp[strip] && !found.has(this.comp[far]!)) found.set(this.comp[far]!, far);
    return [...found.values()];
  }

  /** True where nothing but wires and resistors is on a conductor, so that what it reads to another can be worked out. */
  private isClear(comp: number): boolean {
    const ways = this.ways[comp];
    if (ways === undefined) return true;
    return !((this.chipsIn && ways.has('chip')) || ways.has('diode') || ways.has('other'));
  }

  /** Resistors on the only way between two conductors, in order from x; [] where there are several ways or none. */
  private onlyWay(x: number, y: number): number[] {
    const by = new Map<number, { node: number; resistor: number }>([[x, { node: -1, resistor: -1 }]]);
    const queue = [x];
    for (const node of queue) {
      if (node === y) break;
      this.edges.forEach((edge, i) => {
        const other = edge.a === node ? edge.b : edge.b === node ? edge.a : -1;
        if (other < 0 || by.has(other)) return;
        by.set(other, { node, resistor: i });
        queue.push(other);
      });
    }
    const way: number[] = [];
    for (let at = y; at !== x; ) {
      const step = by.get(at);
      if (step === undefined || Number.isFinite(this.network.without(x, y, step.resistor))) return [];
      way.push(step.resistor);
      at = step.node;
    }
    return way.reverse();
  }

  /** Whether the neighbourhood is told from t's side too; it always is on real boards. */
  private isNear(t: number, s: number, neighbours: (strip: StripId) => readonly number[]): boolean {
    return neighbours(this.members[t]!.strip).includes(s);
  }

  private end(strip: number): TouchEnd {
    const member = this.members[strip]!;
    return {
      hole: member.leadHoles[0] ?? member.wireHoles[0] ?? member.strip,
      strip: member.strip,
      pins: member.pins,
      net: this.netOfStrip.get(strip) ?? '',
    };
  }

  private touch(
    candidate: Candidate,
    wireOf: ReadonlyMap<number, string>,
    partOf: ReadonlyMap<number, string>,
    placesOf: (element: number) => readonly (readonly [StripId, StripId])[],
  ): Touch {
    const from = this.end(candidate.from);
    const to = this.end(candidate.to);
    const x = this.comp[candidate.from]!;
    const y = this.comp[candidate.to]!;
    const ohms = this.network.between(x, y);
    const ways = new Set([...(this.ways[x] ?? []), ...(this.ways[y] ?? [])]);
    const unsure = x !== y && !(this.isClear(x) && this.isClear(y));
    const notes: string[] = [];
    if (x !== y) {
      if (ways.has('chip') && unsure)
        notes.push(
          'Chips on the nets: kilohms, or one way more than the other, is normal; only a reading under the limit is a bridge.',
        );
      if (ways.has('capacitor')) notes.push('A capacitor is charged by the meter: wait until the reading stands.');
      if (ways.has('switch')) notes.push('Switches open, buttons let go.');
      if (ways.has('diode')) notes.push('A diode may read one way and not the other.');
    }
    const wires = candidate.elements.flatMap((element) => wireOf.get(element) ?? []);
    const parts = [...new Set(candidate.elements.flatMap((element) => partOf.get(element) ?? []))];
    const excludes = candidate.elements.flatMap((element) =>
      wireOf.has(element) || partOf.has(element) ? [] : placesOf(element),
    );
    const through = x !== y && Number.isFinite(ohms);
    const expect: Touch['expect'] =
      x === y
        ? { ohms: 0, least: 0, most: CHAIN_OHMS }
        : through
          ? {
              ohms: Number(ohms.toPrecision(3)),
              // What else is on the nets can only lower it.
              least: unsure ? BRIDGE_OHMS : Number((ohms * (1 - TOLERANCE)).toPrecision(3)),
              most: Number((ohms * (1 + TOLERANCE)).toPrecision(3)),
            }
          : { open: true, above: unsure ? BRIDGE_OHMS : OPEN_OHMS };
    const reading =
      x === y
        ? `under ${CHAIN_OHMS} ohm`
        : through
          ? `about ${formatQuantity(ohms, 'resistance', 3)}${unsure ? ' or somewhat less' : ''}`
          : unsure
            ? `no bridge, over ${BRIDGE_OHMS} ohm`
            : 'open';
    return {
      id: contentId(`touch|${from.hole}|${to.hole}|${reading}`),
      from,
      to,
      expect,
      proves: { wires, parts },
      excludes,
      text: `${named(from)} to ${named(to)}: ${reading}.`,
      notes,
    };
  }
}

const named = (end: TouchEnd): string => {
  const words = [...(end.net === '' ? [] : [end.net]), ...end.pins.slice(0, 1)];
  return `${end.hole}${words.length === 0 ? '' : ` (${words.join(', ')})`}`;
};
const rank = (touch: Touch): number => ('open' in touch.expect ? 2 : touch.proves.parts.length > 0 ? 1 : 0);

/** What a wrong reading of a touch may mean, most likely first: what was to be proved isn't there, or a bridge is. */
export function suspectsOf(
  touch: Touch,
  reading: number,
): {
  readonly wires: readonly string[];
  readonly parts: readonly string[];
  readonly bridges: readonly (readonly [StripId, StripId])[];
} {
  const { expect } = touch;
  if ('open' in expect) {
    return reading < expect.above
      ? { wires: [], parts: [], bridges: touch.excludes }
      : { wires: [], parts: [], bridges: [] };
  }
  if (reading > expect.most) return { wires: touch.proves.wires, parts: touch.proves.parts, bridges: [] };
  if (reading < expect.least) return { wires: [], parts: touch.proves.parts, bridges: touch.excludes };
  return { wires: [], parts: [], bridges: [] };
}
