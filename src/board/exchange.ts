// Freedoms: pins, elements and units that a record allows to change places, used to shorten wire. The layout keeps what was
// exchanged as plain data; `exchangePins` gives the design with the exchanges made, which everything downstream (netlist,
// image, fuse file, steps) is to be derived from.

import type { Design, Net, Netlist, NetPin } from '../netlist/index.ts';
import type { PartRecord } from '../parts/index.ts';
import type { Exchange } from './model.ts';
import type { Placement } from './placement.ts';

/** Which freedoms may be used, by what has to follow them: nothing, the image of a memory, the fuses of a device. */
export type FreedomKind = 'nothing' | 'image' | 'fuses';

/** The design with the exchanges made. Exchanges of parts or pins that are not there are left out. */
export function exchangePins(design: Design, exchanges: readonly Exchange[]): Design {
  if (exchanges.length === 0) return design;
  const byPart = new Map(exchanges.map((exchange) => [exchange.part, exchange]));
  return { ...design, netlists: design.netlists.map((netlist) => exchangeIn(netlist, byPart)) };
}

function exchangeIn(netlist: Netlist, byPart: ReadonlyMap<string, Exchange>): Netlist {
  const pins: NetPin[] = [...netlist.pins];
  let changed = false;
  for (const part of netlist.parts) {
    const exchange = byPart.get(part.name);
    if (exchange === undefined || exchange.type !== part.type || !isPermutation(exchange)) continue;
    const byNumber = new Map(part.pins.map((id) => [netlist.pins[id]!.number, netlist.pins[id]!]));
    if (exchange.pins.some(([from, to]) => !byNumber.has(from) || !byNumber.has(to))) continue;
    for (const [from, to] of exchange.pins) {
      const source = byNumber.get(from)!;
      const target = byNumber.get(to)!;
      pins[target.id] = { ...target, net: source.net, open: source.open, origin: source.origin };
      changed = true;
    }
  }
  if (!changed) return netlist;
  const lists: number[][] = netlist.nets.map(() => []);
  for (const pin of pins) if (pin.net >= 0) lists[pin.net]!.push(pin.id);
  return { ...netlist, pins, nets: netlist.nets.map((net, id): Net => ({ ...net, pins: lists[id]! })) };
}

/** Whether every pin that gives a net away gets one, once. */
export function isPermutation(exchange: Exchange): boolean {
  const from = exchange.pins.map((pair) => pair[0]);
  const to = exchange.pins.map((pair) => pair[1]);
  const given = new Set(from);
  return given.size === from.length && new Set(to).size === to.length && to.every((pin) => given.has(pin));
}

/** Two exchanges of one part, one after the other. */
export function composeExchanges(first: readonly Exchange[], second: readonly Exchange[]): Exchange[] {
  const result = new Map<string, Exchange>(first.map((exchange) => [exchange.part, exchange]));
  for (const later of second) {
    const earlier = result.get(later.part);
    if (earlier === undefined || earlier.type !== later.type) {
      result.set(later.part, later);
      continue;
    }
    const forward = new Map(later.pins.map(([from, to]) => [from, to]));
    const moved = new Map<number, number>();
    for (const [from, to] of earlier.pins) moved.set(from, forward.get(to) ?? to);
    const sources = new Set(earlier.pins.map((pair) => pair[0]));
    for (const [from, to] of later.pins) if (!sources.has(from)) moved.set(from, to);
    result.set(later.part, {
      part: later.part,
      type: later.type,
      pins: [...moved].filter(([from, to]) => from !== to).sort((a, b) => a[0] - b[0]),
    });
  }
  return [...result.values()].filter((exchange) => exchange.pins.length > 0);
}

/** The sets of tuples of pin numbers that may change places in a record. */
export function freedomsOf(record: PartRecord, kinds: readonly FreedomKind[]): number[][][] {
  const numbers = new Map<string, number[]>();
  for (const pin of record.pins) {
    const list = numbers.get(pin.name);
    if (list === undefined) numbers.set(pin.name, [pin.number]);
    else list.push(pin.number);
  }
  const sets: number[][][] = [];
  for (const freedom of record.freedoms ?? []) {
    if (!kinds.includes((freedom.follows ?? 'nothing') as FreedomKind)) continue;
    const tuples = freedom.exchange.map((names) => names.map((name) => numbers.get(name)));
    // A name that several pins bear says not which is meant.
    if (tuples.some((tuple) => tuple.some((list) => list === undefined || list.length !== 1))) continue;
    const set = tuples.map((tuple) => tuple.map((list) => list![0]!));
    if (set.some((tuple) => tuple.length !== set[0]!.length)) continue;
    sets.push(set);
  }
  return sets;
}

/**
 * Exchanges tuples in the placed parts as long as that shortens the trees; parts in `held` stay as they are. Returns what
 * was exchanged. O(passes x tuples squared x net length); ends at the first pass that finds nothing.
 */
export function exchangeDescent(
  placement: Placement,
  kinds: readonly FreedomKind[],
  held: (slot: number) => boolean,
): Exchange[] {
  const { problem } = placement;
  const { netCount, weight, endNet } = problem;
  placement.fullCost();
  const jobs: { slot: number; set: readonly (readonly number[])[] }[] = [];
  /** End at a pin, by slot and pin number; -1 for none, -2 where the pin has several (its net changes with the stages). */
  const endAt = new Map<number, number>();
  const key = (slot: number, pin: number): number => slot * 1024 + pin;
  for (let q = 0; q < problem.endSlot.length; q++) {
    const k = key(problem.endSlot[q]!, problem.endPin[q]!);
    endAt.set(k, endAt.has(k) ? -2 : q);
  }
  for (const slot of problem.slots) {
    if (held(slot.index) || slot.items.length !== 1 || placement.board[slot.index]! < 0) continue;
    const variants = problem.variants[slot.index]!;
    for (const set of freedomsOf(slot.items[0]!.part.record, kinds)) {
      // Pins that the package has no lead for, or whose net changes, stay.
      const usable = set.filter((tuple) =>
        tuple.every((pin) => variants[0]!.pins.has(pin) && endAt.get(key(slot.index, pin)) !== -2),
      );
      if (usable.length > 1) jobs.push({ slot: slot.index, set: usable });
    }
  }
  /** Which pin of the machine each pin now stands for. */
  const origin = new Map<number, number>();
  const originOf = (slot: number, pin: number): number => origin.get(key(slot, pin)) ?? pin;
  const exchange = (slot: number, a: readonly number[], b: readonly number[]): void => {
    for (let i = 0; i < a.length; i++) {
      const x = endAt.get(key(slot, a[i]!));
      const y = endAt.get(key(slot, b[i]!));
      if (x !== undefined) placement.setPin(x, b[i]!);
      if (y !== undefined) placement.setPin(y, a[i]!);
      put(endAt, key(slot, b[i]!), x);
      put(endAt, key(slot, a[i]!), y);
      const o = originOf(slot, a[i]!);
      origin.set(key(slot, a[i]!), originOf(slot, b[i]!));
      origin.set(key(slot, b[i]!), o);
    }
  };
  const stamp = new Int32Array(netCount);
  let round = 0;
  for (let pass = 0; pass < 20; pass++) {
    let any = false;
    for (const { slot, set } of jobs) {
      for (let i = 0; i < set.length; i++) {
        for (let j = i + 1; j < set.length; j++) {
          const a = set[i]!;
          const b = set[j]!;
          round++;
          const nets: number[] = [];
          for (const pin of [...a, ...b]) {
            const q = endAt.get(key(slot, pin));
            if (q === undefined || stamp[endNet[q]!] === round) continue;
            stamp[endNet[q]!] = round;
            nets.push(endNet[q]!);
          }
          if (nets.length === 0) continue;
          exchange(slot, a, b);
          let delta = 0;
          for (const net of nets) delta += placement.netLength(net) * weight[net]! - placement.cost[net]!;
          if (delta < -1e-9) {
            any = true;
            for (const net of nets) placement.cost[net] = placement.netLength(net) * weight[net]!;
          } else exchange(slot, a, b);
        }
      }
    }
    if (!any) break;
  }
  const moved = new Map<number, [number, number][]>();
  for (const [k, from] of origin) {
    const slot = Math.floor(k / 1024);
    const to = k % 1024;
    if (from === to) continue;
    const list = moved.get(slot);
    if (list === undefined) moved.set(slot, [[from, to]]);
    else list.push([from, to]);
  }
  return [...moved]
    .sort((a, b) => a[0] - b[0])
    .map(([slot, pins]) => {
      const { part } = problem.slots[slot]!.items[0]!;
      return { part: part.name, type: part.type, pins: pins.sort((a, b) => a[0] - b[0]) };
    });
}

function put(map: Map<number, number>, key: number, value: number | undefined): void {
  if (value === undefined) map.delete(key);
  else map.set(key, value);
}
