// Pins to nets: what is joined outside and inside parts becomes one net; every pin that stands alone gets a net of its own.

import type { SimNetlist, SimPart } from '../model.ts';
import { HIGH, LOW } from '../values.ts';

export interface Pins {
  readonly names: readonly string[];
  /** Per net: value driven by supply or ground (3 where both), or 0. */
  readonly fed: readonly number[];
  /** Nets that both feed. */
  readonly shorted: readonly number[];
  /** Net of a pin of a part by index, or -1 where there is no such pin. */
  netOf(part: number, pin: number): number;
  readonly all: ReadonlyMap<number, number>;
}

/** Key of a pin: part index and pin number. */
export function pinKey(part: number, pin: number): number {
  return part * 256 + pin;
}

/** Numbers nets in the order of the netlist, then lone pins in the order of parts. `joined` gives more pins of a part that are one. */
export function joinPins(netlist: SimNetlist, joined: (part: SimPart) => readonly (readonly number[])[]): Pins {
  const parent = new Map<number, number>();
  const find = (key: number): number => {
    let at = key;
    for (let up = parent.get(at); up !== undefined && up !== at; up = parent.get(at)) at = up;
    return at;
  };
  const join = (a: number, b: number): void => {
    const [x, y] = [find(a), find(b)];
    if (x !== y) parent.set(y, x);
  };
  netlist.parts.forEach((part, index) => {
    const always = (part.record.behaviour?.joins ?? [])
      .filter((entry) => entry.when === undefined)
      .map((entry) => part.record.pins.filter((pin) => entry.pins.includes(pin.name)).map((pin) => pin.number));
    for (const group of [...(part.record.joined ?? []), ...joined(part), ...always])
      for (const pin of group.slice(1)) join(pinKey(index, group[0]!), pinKey(index, pin));
  });
  for (const net of netlist.nets) {
    const [first, ...rest] = net.pins;
    if (first === undefined) continue;
    for (const pin of rest) join(pinKey(first.part, first.number), pinKey(pin.part, pin.number));
  }
  const names: string[] = [];
  const fed: number[] = [];
  const shorted: number[] = [];
  const all = new Map<number, number>();
  const netOfRoot = new Map<number, number>();
  const refOf = (part: number, number: number): string => {
    const owner = netlist.parts[part];
    const pin = owner?.record.pins.find((row) => row.number === number);
    return owner === undefined ? `${part}` : `${owner.name}.${pin?.name ?? number}`;
  };
  for (const net of netlist.nets) {
    const first = net.pins[0];
    if (first === undefined) continue;
    const root = find(pinKey(first.part, first.number));
    let id = netOfRoot.get(root);
    if (id === undefined) {
      id = names.length;
      netOfRoot.set(root, id);
      names.push(net.name ?? refOf(first.part, first.number));
      fed.push(0);
    }
    const value = net.fed === undefined ? 0 : net.fed === 1 ? HIGH : LOW;
    fed[id]! |= value;
    if (fed[id] === 3 && !shorted.includes(id)) shorted.push(id);
    for (const pin of net.pins) all.set(pinKey(pin.part, pin.number), id);
  }
  netlist.parts.forEach((part, index) => {
    for (const pin of part.record.pins) {
      const key = pinKey(index, pin.number);
      if (all.has(key)) continue;
      const root = find(key);
      let id = netOfRoot.get(root);
      if (id === undefined) {
        id = names.length;
        netOfRoot.set(root, id);
        names.push(refOf(index, pin.number));
        fed.push(0);
      }
      all.set(key, id);
    }
  });
  return { names, fed, shorted, all, netOf: (part, pin) => all.get(pinKey(part, pin)) ?? -1 };
}
