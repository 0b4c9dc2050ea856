// The order in which parts are evaluated within a sweep: a part after those whose outputs it needs, loops broken where the
// search meets them. Deterministic: it follows the order of the netlist.

import { type CircuitCluster, type CircuitPart, drivesFromOf, outputsOf } from './circuit.ts';

/** The parts in order of evaluation. */
export function orderParts(
  parts: readonly CircuitPart[],
  nets: number,
  clusters: readonly CircuitCluster[],
): CircuitPart[] {
  // A change on one net of a cluster is a change on all of them.
  const groupOf = Int32Array.from({ length: nets }, (_, net) => net);
  const conditions = new Map<number, number[]>();
  for (const cluster of clusters) {
    for (const net of cluster.nets) groupOf[net] = cluster.nets[0]!;
    for (const { condition } of cluster.switches) {
      const list = conditions.get(condition) ?? [];
      list.push(cluster.nets[0]!);
      conditions.set(condition, list);
    }
  }
  const readers = new Map<number, number[]>();
  parts.forEach((part, index) => {
    for (const net of drivesFromOf(part)) {
      const group = groupOf[net]!;
      const list = readers.get(group);
      if (list === undefined) readers.set(group, [index]);
      else if (list.at(-1) !== index) list.push(index);
    }
  });
  const state = new Uint8Array(parts.length);
  const post: number[] = [];
  const next = (index: number): number[] => {
    const groups = new Set<number>();
    for (const net of outputsOf(parts[index]!)) {
      groups.add(groupOf[net]!);
      for (const group of conditions.get(net) ?? []) groups.add(group);
    }
    return [...groups].flatMap((group) => readers.get(group) ?? []);
  };
  const visit = (root: number): void => {
    if (state[root] !== 0) return;
    state[root] = 1;
    const stack: { index: number; rest: number[] }[] = [{ index: root, rest: next(root) }];
    while (stack.length > 0) {
      const top = stack.at(-1)!;
      const to = top.rest.pop();
      if (to === undefined) {
        post.push(top.index);
        stack.pop();
      } else if (state[to] === 0) {
        state[to] = 1;
        stack.push({ index: to, rest: next(to) });
      }
    }
  };
  // What no input moves comes first (processors, registers), then whatever is left.
  parts.forEach((part, index) => {
    if (drivesFromOf(part).length === 0) visit(index);
  });
  parts.forEach((_, index) => {
    visit(index);
  });
  return post.reverse().map((index) => parts[index]!);
}
