// Slips that join the same pins to the same nets are one class: run once. `correct` is a class too, and holds the slips that change
// nothing.

import { type Bench, type Edit, type Fault, type Nodes, nodesOf, signatureOf } from '../faults/index.ts';

export interface FaultClassOfNets {
  /** Of `faults`; empty for the machine as meant. */
  readonly members: readonly number[];
  readonly edit: Edit;
  readonly prior: number;
  readonly isCorrect: boolean;
}

/** Classes of faults; the first is the machine as it is meant. `probes` are strips. */
export function classesOf(
  bench: Bench,
  probes: readonly number[],
  faults: readonly Fault[],
  counts?: Uint8Array,
): FaultClassOfNets[] {
  const good = signatureOf(nodesOf(bench, probes, {}), {}, counts);
  const byNets = new Map<string, number[]>([[good, []]]);
  faults.forEach((fault, k) => {
    const key = signatureOf(nodesOf(bench, probes, fault.edit), fault.edit, counts);
    const list = byNets.get(key);
    if (list === undefined) byNets.set(key, [k]);
    else list.push(k);
  });
  return [...byNets].map(([key, members]) => ({
    members,
    edit: key === good ? {} : faults[members[0]!]!.edit,
    prior: members.reduce((sum, k) => sum + faults[k]!.prior, 0),
    isCorrect: key === good,
  }));
}

export function nodesOfClass(bench: Bench, probes: readonly number[], one: FaultClassOfNets): Nodes {
  return nodesOf(bench, probes, one.edit);
}
