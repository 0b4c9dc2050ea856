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

/** A check of states on the way from `before` to `after`. Each call costs about the size of the state. */
export function createShortCheck(
  before: Bench,
  after: Bench,
  rules: BenchRules,
): (state: Bench) => readonly [string, string] | undefined {
  const numbering = new Numbering(rules);
  const old = roots(before, rules, numbering);
  const target = roots(after, rules, numbering);
  return (state) => {
    const nodes = new Map<number, string[]>();
    for (const [source, root] of roots(state, rules, numbering)) {
      const there = nodes.get(root);
      if (there === undefined) nodes.set(root, [source]);
      else there.push(source);
    }
    for (const sources of nodes.values()) {
      // Sources with the same pair of nodes before and after are alike, so only one of each pair is compared.
      const kinds = new Map<string, { source: string; before: number | undefined; after: number | undefined }>();
      for (const source of sources) {
        const b = old.get(source);
        const a = target.get(source);
        kinds.set(`${b}|${a}${b === undefined && a === undefined ? source : ''}`, { source, before: b, after: a });
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
    }
    return undefined;
  };
}
