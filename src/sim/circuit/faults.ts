// Wrong wires as changes of a circuit. The compiled kernel takes faults while it runs; this rewriting is what it is held against,
// on the plain kernel.

import { HIGH } from '../values.ts';
import type { Circuit, CircuitCluster, CircuitPart } from './circuit.ts';

/** A pin by place of its part in the circuit and pin number. */
export interface FaultPin {
  readonly place: number;
  readonly pin: number;
}

/** One thing that is wired or made wrong. */
export type SimFault =
  /** The pin is joined to nothing. */
  | { readonly kind: 'open'; readonly at: FaultPin }
  /** Two pins are each where the other belongs. */
  | { readonly kind: 'exchange'; readonly a: FaultPin; readonly b: FaultPin }
  /** Two nets are joined. With a rail, the rail wins. */
  | { readonly kind: 'short'; readonly a: number; readonly b: number }
  /** The net stands at a value (values.ts), whatever drives it. */
  | { readonly kind: 'stuck'; readonly net: number; readonly value: number };

/** Nets of a part's pins with open and exchanged ones replaced, in the form of the part. */
export function rewirePart(part: CircuitPart, netOf: (pin: number, net: number) => number): CircuitPart {
  if (part.kind === 'formulas')
    return {
      ...part,
      inputs: part.inputs.map((net, k) => netOf(part.inputPins[k]!, net)),
      outputs: part.outputs.map((net, k) => netOf(part.outputPins[k]!, net)),
    };
  const ports = (nets: readonly (readonly number[])[], pins: readonly (readonly number[])[]): number[][] =>
    nets.map((port, k) => port.map((net, bit) => netOf(pins[k]![bit]!, net)));
  return { ...part, ins: ports(part.ins, part.inPins), outs: ports(part.outs, part.outPins) };
}

/** Net of a pin of a part as built, or -1. */
export function netAt(circuit: Circuit, { place, pin }: FaultPin): number {
  const part = circuit.parts[place];
  return part === undefined ? -1 : (circuit.netOfPin.get(part.part * 256 + pin) ?? -1);
}

/** Where pins of a place go by the faults: pin number to net. */
export function rewirings(circuit: Circuit, faults: readonly SimFault[]): Map<number, Map<number, number>> {
  const moved = new Map<number, Map<number, number>>();
  const put = (at: FaultPin, net: number): void => {
    moved.set(at.place, (moved.get(at.place) ?? new Map<number, number>()).set(at.pin, net));
  };
  for (const fault of faults) {
    if (fault.kind === 'open') put(fault.at, -1);
    else if (fault.kind === 'exchange') {
      put(fault.a, netAt(circuit, fault.b));
      put(fault.b, netAt(circuit, fault.a));
    }
  }
  return moved;
}

/** Joins two nets into the clusters there are; a new list, and which cluster each net is in. */
export function joinNets(
  circuit: Circuit,
  clusters: readonly (CircuitCluster | undefined)[],
  clusterOf: Int32Array,
  a: number,
  b: number,
  condition: number,
): { readonly clusters: readonly (CircuitCluster | undefined)[]; readonly clusterOf: Int32Array } {
  const olds = [...new Set([clusterOf[a]!, clusterOf[b]!])].filter((index) => index >= 0);
  const parts = olds.map((index) => clusters[index]!);
  const nets = [...new Set([a, b, ...parts.flatMap((cluster) => cluster.nets)])].sort((x, y) => x - y);
  const made: CircuitCluster = {
    nets,
    up: nets.map((net) => circuit.up[net]!),
    down: nets.map((net) => circuit.down[net]!),
    resistors: parts.flatMap((cluster) => cluster.resistors),
    switches: [...parts.flatMap((cluster) => cluster.switches), { part: -1, a, b, condition }],
  };
  const of = clusterOf.slice();
  for (const net of nets) of[net] = clusters.length;
  return {
    clusters: [...clusters.map((cluster, index) => (olds.includes(index) ? undefined : cluster)), made],
    clusterOf: of,
  };
}

/** The circuit with faults in it, parts in the same order. Stuck nets are left to the kernel (`force`). */
export function faultCircuit(circuit: Circuit, faults: readonly SimFault[]): Circuit {
  const moved = rewirings(circuit, faults);
  const always = circuit.nets.length;
  let clusters: readonly (CircuitCluster | undefined)[] = circuit.clusters;
  let clusterOf: Int32Array = Int32Array.from([...circuit.clusterOf, -1]);
  for (const fault of faults) {
    if (fault.kind !== 'short' || fault.a === fault.b) continue;
    if (circuit.fed[fault.a] !== 0 || circuit.fed[fault.b] !== 0) continue;
    ({ clusters, clusterOf } = joinNets(circuit, clusters, clusterOf, fault.a, fault.b, always));
  }
  // Places of clusters that were merged are closed up.
  const kept = clusters.flatMap((cluster, index) => (cluster === undefined ? [] : [{ cluster, index }]));
  const place = new Map(kept.map(({ index }, k) => [index, k]));
  return {
    ...circuit,
    nets: [...circuit.nets, '.always'],
    fed: Uint8Array.from([...circuit.fed, HIGH]),
    pulls: Uint8Array.from([...circuit.pulls, 0]),
    up: Float64Array.from([...circuit.up, 0]),
    down: Float64Array.from([...circuit.down, 0]),
    parts: circuit.parts.map((part, index) => {
      const pins = moved.get(index);
      return pins === undefined ? part : rewirePart(part, (pin, net) => pins.get(pin) ?? net);
    }),
    clusters: kept.map(({ cluster }) => cluster),
    clusterOf: clusterOf.map((index) => (index < 0 ? -1 : place.get(index)!)),
  };
}

/** Nets that faults hold at a value: stuck ones, and those that are shorted to a rail. */
export function heldNets(
  circuit: Circuit,
  faults: readonly SimFault[],
): { readonly net: number; readonly value: number }[] {
  return faults.flatMap((fault) => {
    if (fault.kind === 'stuck') return [{ net: fault.net, value: fault.value }];
    if (fault.kind !== 'short') return [];
    const [a, b] = [circuit.fed[fault.a]!, circuit.fed[fault.b]!];
    if (a !== 0 && b === 0) return [{ net: fault.b, value: a }];
    return b !== 0 && a === 0 ? [{ net: fault.a, value: b }] : [];
  });
}
