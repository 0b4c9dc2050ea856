// What a level rests on that is not simulated: parts without a model and memories whose contents are not known, behind a net through
// everything that drives it. A proof that fails for want of them says nothing against the wiring.

import { type Circuit, readsOf, outputsOf } from './circuit/circuit.ts';
import type { SimContents, SimNetlist } from './model.ts';
import { isRam } from './models/registry.ts';

const DRIVES = new Set(['output', 'three-state', 'bidirectional', 'open-drain']);

/** In words, in the order of the netlist: `CPU (65C02) is not simulated`, `what ROM holds is not known`. */
export function unknownsBehind(
  netlist: SimNetlist,
  circuit: Circuit,
  contents: SimContents,
  nets: Iterable<number>,
): string[] {
  const drivers = new Map<number, number[]>();
  circuit.parts.forEach((part, place) => {
    for (const net of outputsOf(part)) drivers.set(net, [...(drivers.get(net) ?? []), place]);
  });
  const modelled = new Set(circuit.parts.map(({ part }) => part));
  const open = new Map<number, number[]>();
  netlist.parts.forEach((part, index) => {
    if (modelled.has(index) || part.record.category === 'connector') return;
    for (const pin of part.record.pins) {
      const net = circuit.netOfPin.get(index * 256 + pin.number);
      if (net !== undefined && DRIVES.has(pin.kind)) open.set(net, [...(open.get(net) ?? []), index]);
    }
  });
  const found = new Map<number, string>();
  const seen = new Set<number>();
  const rest = [...nets];
  const add = (net: number): void => {
    if (net >= 0 && circuit.fed[net] === 0 && !seen.has(net)) {
      seen.add(net);
      rest.push(net);
    }
  };
  for (let net = rest.pop(); net !== undefined; net = rest.pop()) {
    for (const index of open.get(net) ?? []) {
      const { name, type } = netlist.parts[index]!;
      found.set(index, `${name} (${type}) is not simulated`);
    }
    for (const place of drivers.get(net) ?? []) {
      const part = circuit.parts[place]!;
      const owner = netlist.parts[part.part];
      if (owner?.record.category === 'memory' && !isRam(owner) && contents.images?.has(owner.name) !== true)
        found.set(part.part, `what ${owner.name} holds is not known`);
      for (const read of readsOf(part)) add(read);
    }
    const cluster = circuit.clusters[circuit.clusterOf[net]!];
    if (cluster === undefined) continue;
    for (const joined of cluster.nets) add(joined);
    for (const { condition } of cluster.switches) add(condition);
  }
  return [...found].sort(([a], [b]) => a - b).map(([, words]) => words);
}
