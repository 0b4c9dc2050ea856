// Which intermediate states of a rework are safe. While wires and chips go from old places to new ones the boards are neither
// the old machine nor the new; a state is safe when it joins no two sources (supply entries, supply and ground pins, pins
// that can drive) that neither the old machine nor the new one joins.

import type { HoleName, StripId } from '../board/index.ts';
import type { PinKind } from '../parts/index.ts';

/** What lies on the boards, as far as currents are concerned. */
export interface Bench {
  readonly parts: ReadonlyMap<string, BenchPart>;
  readonly wires: ReadonlyMap<string, BenchWire>;
}

export interface BenchPart {
  readonly type: string;
  readonly leads: readonly (readonly [number, HoleName])[];
}

export interface BenchWire {
  readonly from: HoleName;
  readonly to: HoleName;
}

/** What the boards and the part records say, as far as the plan needs it. */
export interface BenchRules {
  /** The strip of a hole, or undefined where the boards have no such hole. */
  readonly stripOf: (hole: HoleName) => StripId | undefined;
  /** How a pin behaves; undefined for a type that isn't known, whose pins then count as sources. */
  readonly pinKind: (type: string, pin: number) => PinKind | undefined;
  /** Pins that are one conductor inside a part. */
  readonly joined?: (type: string) => readonly (readonly number[])[];
  /** Holes under a part's body, between its rows, that can't be reached while it is in; none where it isn't given. */
  readonly covers?: (leads: readonly (readonly [number, HoleName])[]) => readonly HoleName[];
  /** Holes that the supplies feed: plus and ground. */
  readonly entries: readonly { readonly supply: string; readonly plus: HoleName; readonly ground: HoleName }[];
}

const SOURCES: ReadonlySet<string> = new Set(['output', 'three-state', 'bidirectional', 'supply', 'ground']);

/** Strips as numbers, shared by all states that are compared. */
class Numbering {
  private readonly numbers = new Map<string, number>();
  private readonly rules: BenchRules;

  constructor(rules: BenchRules) {
    this.rules = rules;
  }

  of(hole: HoleName): number {
    const strip = this.rules.stripOf(hole) ?? `hole ${hole}`;
    let number = this.numbers.get(strip);
    if (number === undefined) {
      number = this.numbers.size;
      this.numbers.set(strip, number);
    }
    return number;
  }
}

function find(parent: number[], node: number): number {
  let at = node;
  for (;;) {
    const up = parent[at] ?? at;
    if (up === at) return at;
    const next = parent[up] ?? up;
    parent[at] = next;
    at = next;
  }
}

function join(parent: number[], a: number, b: number): void {
  const x = find(parent, a);
  const y = find(parent, b);
  if (x !== y) parent[x] = y;
}

/** The source pins and entries of a state, each with the root of its node. */
function roots(bench: Bench, rules: BenchRules, numbering: Numbering): Map<string, number> {
  const parent: number[] = [];
  for (const wire of bench.wires.values()) join(parent, numbering.of(wire.from), numbering.of(wire.to));
  const sources = new Map<string, number>();
  for (const [name, part] of bench.parts) {
    for (const group of rules.joined?.(part.type) ?? []) {
      const holes = part.leads.filter(([number]) => group.includes(number)).map(([, hole]) => numbering.of(hole));
      for (const hole of holes.slice(1)) join(parent, holes[0]!, hole);
    }
    for (const [number, hole] of part.leads) {
      const kind = rules.pinKind(part.type, number);
      if (kind === undefined || SOURCES.has(kind)) sources.set(`${name}\n${number}`, numbering.of(hole));
    }
  }
  for (const entry of rules.entries) {
    sources.set(`+${entry.supply}`, numbering.of(entry.plus));
    sources.set(`-${entry.supply}`, numbering.of(entry.ground));
  }
  for (const [source, node] of sources) sources.set(source, find(parent, node));
  return sources;
}

/** A source as it was joined before and will be after: roots there, undefined where it isn't on the boards. */
interface Joined {
  readonly source: string;
  readonly before: number | undefined;
  readonly after: number | undefined;
}

/** Two of these sources that neither machine joins, or undefined. */
function clash(sources: Iterable<Joined>): readonly [string, string] | undefined {
  // Sources with the same nodes before and after are alike, so only one of each kind is compared.
  const kinds = new Map<string, Joined>();
  for (const item of sources) {
    const alone = item.before === undefined && item.after === undefined;
    kinds.set(alone ? item.source : `${item.before}|${item.after}`, item);
  }
  const list = [...kinds.values()];
  for (let i = 0; i < list.length; i++)
    for (let j = i + 1; j < list.length; j++) {
      const x = list[i]!;
      const y = list[j]!;
      const joinedBefore = x.before !== undefined && x.before === y.before;
      const joinedAfter = x.after !== undefined && x.after === y.after;
      if (!joinedBefore && !joinedAfter) return [x.source, y.source];
    }
  return undefined;
}

/** A check of whole states on the way from `before` to `after`. Each call costs about the size of the state. */
export function createShortCheck(
  before: Bench,
  after: Bench,
  rules: BenchRules,
): (state: Bench) => readonly [string, string] | undefined {
  const numbering = new Numbering(rules);
  const old = roots(before, rules, numbering);
  const target = roots(after, rules, numbering);
  return (state) => {
    const nodes = new Map<number, Joined[]>();
    for (const [source, root] of roots(state, rules, numbering)) {
      const item = { source, before: old.get(source), after: target.get(source) };
      const there = nodes.get(root);
      if (there === undefined) nodes.set(root, [item]);
      else there.push(item);
    }
    for (const sources of nodes.values()) {
      const found = clash(sources);
      if (found !== undefined) return found;
    }
    return undefined;
  };
}

/**
 * The same for states that change piece by piece: taking out can't join anything, so after a piece went in only the
 * conductors it touches are looked at. The caller keeps to safe states, as `createShortCheck` has them.
 */
export class ShortWatch {
  private readonly rules: BenchRules;
  private readonly numbering: Numbering;
  private readonly old: ReadonlyMap<string, number>;
  private readonly target: ReadonlyMap<string, number>;
  /** By strip: what leads on from it (by piece, to which strip), and the sources in it. */
  private readonly links: Map<string, number>[] = [];
  private readonly sources: Map<string, Joined>[] = [];

  constructor(before: Bench, after: Bench, rules: BenchRules) {
    this.rules = rules;
    this.numbering = new Numbering(rules);
    this.old = roots(before, rules, this.numbering);
    this.target = roots(after, rules, this.numbering);
    for (const entry of rules.entries) {
      this.addSource(this.numbering.of(entry.plus), `+${entry.supply}`);
      this.addSource(this.numbering.of(entry.ground), `-${entry.supply}`);
    }
    for (const [name, part] of before.parts) this.addPart(name, part);
    for (const [id, wire] of before.wires) this.addWire(id, wire);
  }

  addWire(id: string, wire: BenchWire): void {
    this.link(`wire ${id}`, this.numbering.of(wire.from), this.numbering.of(wire.to));
  }

  removeWire(id: string, wire: BenchWire): void {
    this.links[this.numbering.of(wire.from)]?.delete(`wire ${id}`);
    this.links[this.numbering.of(wire.to)]?.delete(`wire ${id}`);
  }

  addPart(name: string, part: BenchPart): void {
    for (const [number, hole] of part.leads) {
      const kind = this.rules.pinKind(part.type, number);
      if (kind === undefined || SOURCES.has(kind)) this.addSource(this.numbering.of(hole), `${name}\n${number}`);
    }
    for (const [key, a, b] of this.inside(name, part)) this.link(key, a, b);
  }

  removePart(name: string, part: BenchPart): void {
    for (const [number, hole] of part.leads) this.sources[this.numbering.of(hole)]?.delete(`${name}\n${number}`);
    for (const [key, a, b] of this.inside(name, part)) {
      this.links[a]?.delete(key);
      this.links[b]?.delete(key);
    }
  }

  /** Two sources that are joined in a conductor of one of these holes although neither machine joins them. */
  clashAt(holes: readonly HoleName[]): readonly [string, string] | undefined {
    const seen = new Set<number>();
    for (const hole of holes) {
      const start = this.numbering.of(hole);
      if (seen.has(start)) continue;
      seen.add(start);
      const queue = [start];
      const found: Joined[] = [];
      for (const strip of queue) {
        const sources = this.sources[strip];
        if (sources !== undefined) found.push(...sources.values());
        for (const next of this.links[strip]?.values() ?? [])
          if (!seen.has(next)) {
            seen.add(next);
            queue.push(next);
          }
      }
      const pair = clash(found);
      if (pair !== undefined) return pair;
    }
    return undefined;
  }

  /** Conductors inside a part, as links between strips. */
  private inside(name: string, part: BenchPart): [string, number, number][] {
    return (this.rules.joined?.(part.type) ?? []).flatMap((group, g) => {
      const strips = part.leads.filter(([number]) => group.includes(number)).map(([, hole]) => this.numbering.of(hole));
      return strips.slice(1).map((strip, i): [string, number, number] => [`part ${name} ${g} ${i}`, strips[0]!, strip]);
    });
  }

  private link(key: string, a: number, b: number): void {
    for (const [from, to] of [
      [a, b],
      [b, a],
    ] as const) {
      const there = this.links[from];
      if (there === undefined) this.links[from] = new Map([[key, to]]);
      else there.set(key, to);
    }
  }

  private addSource(strip: number, source: string): void {
    const item = { source, before: this.old.get(source), after: this.target.get(source) };
    const there = this.sources[strip];
    if (there === undefined) this.sources[strip] = new Map([[source, item]]);
    else there.set(source, item);
  }
}
