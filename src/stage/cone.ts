// What a proof depends on: the nets and parts from which what it measures can be influenced, followed backwards from pin to
// driver to the driver's inputs. Proofs of the machine as a whole depend on all of it.

import { foldName } from '../base/index.ts';
import type { Netlist, NetPin } from '../netlist/index.ts';

/** Names of nets and parts, as the netlist writes them. */
export interface Cone {
  readonly nets: ReadonlySet<string>;
  readonly parts: ReadonlySet<string>;
  /** True where the proof names nothing smaller than the machine: `self-test passes`. */
  readonly whole: boolean;
}

const DRIVES: ReadonlySet<string> = new Set(['output', 'three-state', 'bidirectional', 'open-drain', 'passive']);

/**
 * The cone of the things named: nets, pins as PART.PIN, parts, or `supply` for every supply net; in any case of letters. A name
 * that is none of these stands for the whole machine in `names`, and for nothing in `also` (what is given, not measured).
 */
export function coneOf(netlist: Netlist, names: readonly string[], also: readonly string[] = []): Cone {
  const netByName = new Map(netlist.nets.map((net) => [foldName(net.name), net.id]));
  const partByName = new Map(netlist.parts.map((part) => [foldName(part.name), part.id]));
  const pinByRef = new Map(netlist.pins.map((pin) => [foldName(pin.ref), pin]));
  const nets = new Set<number>();
  const parts = new Set<number>();
  const queue: number[] = [];
  const addNet = (id: number): void => {
    if (id < 0 || nets.has(id)) return;
    nets.add(id);
    queue.push(id);
  };
  const addPart = (id: number, through: NetPin | undefined): void => {
    if (parts.has(id) && through?.kind !== 'passive') return;
    parts.add(id);
    for (const pin of netlist.parts[id]!.pins) {
      const other = netlist.pins[pin]!;
      if (other.kind !== 'output' && other.kind !== 'three-state') addNet(other.net);
    }
  };
  let whole = false;
  for (const [i, name] of [...names, ...also].entries()) {
    const key = foldName(name);
    const net = netByName.get(key) ?? pinByRef.get(key)?.net;
    const part = partByName.get(key);
    if (net !== undefined && net >= 0) addNet(net);
    else if (part !== undefined) addPart(part, undefined);
    else if (key === 'supply') {
      for (const each of netlist.nets) if (each.kind !== 'signal') addNet(each.id);
    } else if (i < names.length) whole = true;
  }
  if (whole || names.length === 0)
    return {
      nets: new Set(netlist.nets.map((net) => net.name)),
      parts: new Set(netlist.parts.map((part) => part.name)),
      whole: true,
    };
  for (const id of queue) {
    // Every part hangs on the supply; what is driven there drives nothing else, so the search stops.
    if (netlist.nets[id]!.kind !== 'signal') continue;
    for (const pin of netlist.nets[id]!.pins) {
      const driver = netlist.pins[pin]!;
      if (DRIVES.has(driver.kind)) addPart(driver.part, driver);
    }
  }
  return {
    nets: new Set([...nets].map((id) => netlist.nets[id]!.name)),
    parts: new Set([...parts].map((id) => netlist.parts[id]!.name)),
    whole: false,
  };
}
