// An ohmmeter on boards of the test's own: conductors by spreading out, resistors by solving Kirchhoff's equations for each
// reading. Slow and plain; shares nothing with the planner.

import { stripOf } from './bench.ts';

export interface MeterBench {
  readonly wires: readonly { readonly id: string; readonly from: string; readonly to: string }[];
  readonly resistors: readonly {
    readonly part: string;
    readonly a: string;
    readonly b: string;
    readonly ohms: number;
  }[];
}

export interface Fault {
  readonly what: string;
  readonly withoutWire?: string;
  readonly withoutResistor?: string;
  readonly bridge?: readonly [string, string];
}

/** Readings between strips of a bench with at most one fault: 0, a resistance, or Infinity. */
export function meter(bench: MeterBench, fault?: Fault): (a: string, b: string) => number {
  const next = new Map<string, string[]>();
  const link = (a: string, b: string): void => {
    for (const [x, y] of [
      [a, b],
      [b, a],
    ] as const)
      next.set(x, [...(next.get(x) ?? []), y]);
  };
  for (const wire of bench.wires) if (wire.id !== fault?.withoutWire) link(stripOf(wire.from)!, stripOf(wire.to)!);
  if (fault?.bridge !== undefined) link(...(fault.bridge as [string, string]));
  const node = new Map<string, number>();
  let nodes = 0;
  const nodeOf = (strip: string): number => {
    const known = node.get(strip);
    if (known !== undefined) return known;
    const queue = [strip];
    node.set(strip, nodes);
    for (const at of queue)
      for (const other of next.get(at) ?? [])
        if (!node.has(other)) {
          node.set(other, nodes);
          queue.push(other);
        }
    return nodes++;
  };
  const edges = bench.resistors
    .filter((item) => item.part !== fault?.withoutResistor)
    .map((item) => ({ a: nodeOf(stripOf(item.a)!), b: nodeOf(stripOf(item.b)!), ohms: item.ohms }));
  const known = new Map<string, number>();
  return (a, b) => {
    const x = nodeOf(a);
    const y = nodeOf(b);
    if (x === y) return 0;
    const key = x < y ? `${x} ${y}` : `${y} ${x}`;
    let ohms = known.get(key);
    if (ohms === undefined) {
      ohms = solve(edges, Math.min(x, y), Math.max(x, y));
      known.set(key, ohms);
    }
    return ohms;
  };
}

/** One ampere in at x and out at y: the voltage between them, by elimination. */
function solve(edges: readonly { a: number; b: number; ohms: number }[], x: number, y: number): number {
  const reached = new Set([x]);
  for (let grown = true; grown; ) {
    grown = false;
    for (const edge of edges)
      if (reached.has(edge.a) !== reached.has(edge.b)) {
        reached.add(edge.a).add(edge.b);
        grown = true;
      }
  }
  if (!reached.has(y)) return Number.POSITIVE_INFINITY;
  const unknown = [...reached].filter((n) => n !== y);
  const rows = unknown.map((n) => {
    const row = [...unknown.map(() => 0), n === x ? 1 : 0];
    for (const edge of edges) {
      if (edge.a === edge.b || (edge.a !== n && edge.b !== n)) continue;
      const other = edge.a === n ? edge.b : edge.a;
      row[unknown.indexOf(n)]! += 1 / edge.ohms;
      if (other !== y) row[unknown.indexOf(other)]! -= 1 / edge.ohms;
    }
    return row;
  });
  const size = unknown.length;
  for (let c = 0; c < size; c++) {
    let best = c;
    for (let r = c + 1; r < size; r++) if (Math.abs(rows[r]![c]!) > Math.abs(rows[best]![c]!)) best = r;
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    for (let r = c + 1; r < size; r++) {
      const f = rows[r]![c]! / rows[c]![c]!;
      for (let k = c; k <= size; k++) rows[r]![k]! -= f * rows[c]![k]!;
    }
  }
  const volts = new Array<number>(size).fill(0);
  for (let r = size - 1; r >= 0; r--) {
    let sum = rows[r]![size]!;
    for (let k = r + 1; k < size; k++) sum -= rows[r]![k]! * volts[k]!;
    volts[r] = sum / rows[r]![r]!;
  }
  return volts[unknown.indexOf(x)]!;
}
