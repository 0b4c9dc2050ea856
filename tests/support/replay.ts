// Replays steps on boards of its own and looks at what they join: plain sets, no code of the planner. For tests only.

import type { Fact } from '../../src/stage/index.ts';
import { ENTRIES, stripOf, type TestMachine } from './bench.ts';

export interface Boards {
  readonly parts: Map<string, { readonly type: string; readonly leads: readonly (readonly [number, string])[] }>;
  readonly wires: Map<string, { readonly from: string; readonly to: string; readonly colour: string }>;
  readonly images: Map<string, string>;
}

export function emptyBoards(): Boards {
  return { parts: new Map(), wires: new Map(), images: new Map() };
}

/** What sits in each hole; throws where two things share one. */
function holes(boards: Boards): Map<string, string> {
  const there = new Map<string, string>();
  const put = (hole: string, item: string): void => {
    const before = there.get(hole);
    if (before !== undefined) throw new Error(`${item} and ${before} are both in ${hole}`);
    there.set(hole, item);
  };
  for (const [name, part] of boards.parts) for (const [, hole] of part.leads) put(hole, name);
  for (const [name, wire] of boards.wires) {
    put(wire.from, name);
    put(wire.to, name);
  }
  return there;
}

/** Does what facts say, strictly: taking out what isn't in, or putting in what is, throws. */
export function act(boards: Boards, facts: readonly Fact[]): void {
  for (const fact of facts) {
    if (fact.fact === 'part-in') boards.parts.set(fact.part, { type: fact.type, leads: fact.leads });
    else if (fact.fact === 'part-out') {
      if (!boards.parts.delete(fact.part)) throw new Error(`${fact.part} isn't in`);
    } else if (fact.fact === 'wire-out') {
      if (!boards.wires.delete(fact.wire)) throw new Error(`wire ${fact.wire} isn't in`);
    } else if (fact.fact === 'wire-in') {
      if (fact.was !== undefined && !boards.wires.delete(fact.was)) throw new Error(`wire ${fact.was} isn't in`);
      if (boards.wires.has(fact.wire)) throw new Error(`wire ${fact.wire} is in already`);
      boards.wires.set(fact.wire, { from: fact.from, to: fact.to, colour: fact.colour });
    } else if (fact.fact === 'image') boards.images.set(fact.device, fact.file);
  }
  holes(boards);
}

/** Groups of pins (`U1.3`) and entries (`+main`, `-main`) that are joined, found by spreading out from each strip. */
export function joined(boards: Boards): string[][] {
  const next = new Map<string, string[]>();
  const link = (a: string, b: string): void => {
    next.set(a, [...(next.get(a) ?? []), b]);
  };
  for (const wire of boards.wires.values()) {
    const a = stripOf(wire.from)!;
    const b = stripOf(wire.to)!;
    link(a, b);
    link(b, a);
  }
  const on = new Map<string, string[]>();
  const put = (hole: string, item: string): void => {
    const strip = stripOf(hole)!;
    on.set(strip, [...(on.get(strip) ?? []), item]);
  };
  for (const [name, part] of boards.parts) for (const [number, hole] of part.leads) put(hole, `${name}.${number}`);
  for (const entry of ENTRIES) {
    put(entry.plus, `+${entry.supply}`);
    put(entry.ground, `-${entry.supply}`);
  }
  const seen = new Set<string>();
  const groups: string[][] = [];
  for (const start of new Set([...on.keys(), ...next.keys()])) {
    if (seen.has(start)) continue;
    const queue = [start];
    seen.add(start);
    const group: string[] = [];
    for (const strip of queue) {
      group.push(...(on.get(strip) ?? []));
      for (const other of next.get(strip) ?? [])
        if (!seen.has(other)) {
          seen.add(other);
          queue.push(other);
        }
    }
    groups.push(group.sort());
  }
  return groups;
}

/** Nets of a machine by pin; entries included. */
export function netOf(machine: TestMachine): Map<string, string> {
  const nets = new Map<string, string>([
    ['+main', 'main'],
    ['-main', 'GND'],
  ]);
  for (const [net, refs] of machine.nets) for (const [part, pin] of refs) nets.set(`${part}.${pin}`, net);
  return nets;
}

const SOURCES = new Set(['output', 'three-state', 'bidirectional', 'supply', 'ground']);

/** Sources that are joined although no machine of `machines` has them on one net: a short, or undefined. */
export function findShort(boards: Boards, machines: readonly TestMachine[]): string | undefined {
  const kind = new Map<string, string>();
  for (const machine of machines)
    for (const part of machine.parts) for (const [i, k] of part.kinds.entries()) kind.set(`${part.name}.${i + 1}`, k);
  const nets = machines.map(netOf);
  for (const group of joined(boards)) {
    const sources = group.filter((item) => item[0] === '+' || item[0] === '-' || SOURCES.has(kind.get(item) ?? ''));
    for (let i = 0; i < sources.length; i++)
      for (let j = i + 1; j < sources.length; j++) {
        const a = sources[i]!;
        const b = sources[j]!;
        if (!nets.some((net) => net.get(a) !== undefined && net.get(a) === net.get(b))) return `${a} and ${b}`;
      }
  }
  return undefined;
}
