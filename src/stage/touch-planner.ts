// Which touches tell most: candidates with what each would prove or exclude, few of them chosen, and put into words.

import { contentId, formatQuantity } from '../base/index.ts';
import type { HoleName, StripId } from '../board/index.ts';
import type { InTheWay } from './bench-facts.ts';
import { coverWithFew } from './cover.ts';
import { createOhmNetwork, type OhmEdge, type OhmNetwork } from './ohms.ts';
import { buildTree, type PathTree } from './path-tree.ts';
import { BRIDGE_OHMS, CHAIN_OHMS, OPEN_OHMS, type Touch, type TouchEnd, type TouchPlan } from './touch-model.ts';

/** How far a reading through resistors may be off: resistors 5 %, the meter and the contacts the rest. */
const TOLERANCE = 0.1;
/** A fault shows when it changes a reading by more than this ratio, well clear of twice the tolerance. */
const SHOWS = 1.3;

/** A strip in use. */
export interface Member {
  readonly strip: StripId;
  readonly pins: string[];
  readonly leadHoles: HoleName[];
  readonly wireHoles: HoleName[];
  isNew: boolean;
}

/** A resistor between two strips (their indices). */
export interface Resistor {
  readonly part: string;
  readonly a: number;
  readonly b: number;
  readonly ohms: number;
  readonly isNew: boolean;
}

interface Candidate {
  readonly from: number;
  readonly to: number;
  readonly elements: readonly number[];
}

/** A new or old wire between two strips (their indices). */
export interface WireEdge {
  readonly id: string;
  readonly a: number;
  readonly b: number;
  readonly isNew: boolean;
  readonly net: string;
}

/** The boards as they are to be measured. */
export interface TouchBoards {
  readonly members: readonly Member[];
  readonly wires: readonly WireEdge[];
  /** Strips that parts join inside. */
  readonly links: readonly { readonly a: number; readonly b: number }[];
  readonly resistors: readonly Resistor[];
  /** What an ohmmeter may see beside wires and resistors, by strip. */
  readonly inTheWay: ReadonlyMap<number, ReadonlySet<InTheWay>>;
  readonly netOfStrip: ReadonlyMap<number, string>;
  readonly chipsIn: boolean;
}

/** Candidates, what each would tell, and the choice of few. */
export class TouchPlanner {
  private readonly members: readonly Member[];
  private readonly wires: readonly WireEdge[];
  private readonly resistors: readonly Resistor[];
  private readonly netOfStrip: ReadonlyMap<number, string>;
  private readonly chipsIn: boolean;
  private readonly tree: PathTree;
  private readonly network: OhmNetwork;
  private readonly edges: OhmEdge[];
  /** Conductor of each strip, and of each conductor what is in the way there. */
  private readonly comp: Int32Array;
  private readonly ways: Set<InTheWay>[] = [];

  constructor(boards: TouchBoards) {
    const { members, wires, links, resistors, inTheWay } = boards;
    this.members = members;
    this.wires = wires;
    this.resistors = resistors;
    this.netOfStrip = boards.netOfStrip;
    this.chipsIn = boards.chipsIn;
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
