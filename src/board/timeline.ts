// The design as the layout sees it: every part once with the stages during which it is there, and the net of each of its
// pins at each stage. Derived from the netlists of all stages; places nothing.

import { bug, foldName } from '../base/index.ts';
import type { Design, Net, NetPart } from '../netlist/index.ts';
import { type Footprint, footprintOf } from './footprint.ts';

/** A pin's net where it has none: the strip must stay its own. */
export const NO_NET = -1;
/** The part is not there at that stage. */
export const ABSENT = -2;

export interface ItemPin {
  readonly number: number;
  readonly name: string;
  readonly ref: string;
  /** Index by stage (0 to the last): a net, NO_NET or ABSENT. */
  readonly nets: Int32Array;
}

/** One part that has to be placed, for the stages `from` until (not including) `until`. */
export interface Item {
  readonly index: number;
  readonly part: NetPart;
  readonly name: string;
  readonly footprint: Footprint;
  readonly from: number;
  /** The number of stages + 1 where it stays to the end. */
  readonly until: number;
  readonly pins: readonly ItemPin[];
  readonly pinOf: ReadonlyMap<number, ItemPin>;
  /** The item whose part this is from its stage on, where a stage says that the part moves. */
  readonly movedFrom: number | undefined;
  /** Group of conductors inside the part for each pin number that is joined to another. */
  readonly joined: ReadonlyMap<number, number>;
}

export interface TimelineNet {
  readonly index: number;
  readonly name: string;
  /** As of the last stage that has it. */
  readonly net: Net;
  readonly from: number;
  /** Item and pin of every pin that is ever on it. */
  readonly pins: readonly { readonly item: number; readonly pin: ItemPin }[];
}

export interface Timeline {
  /** The number of stages; stages count from 1. */
  readonly stages: number;
  readonly items: readonly Item[];
  readonly nets: readonly TimelineNet[];
  readonly netByName: ReadonlyMap<string, number>;
}

/**
 * Of pins that are one conductor inside the part the first with a net is wired; the others need no wire and get a strip of
 * their own. Where they are on several nets, each is wired.
 */
function wireOneOf(
  group: readonly number[],
  draft: { readonly from: number; readonly until: number; readonly nets: ReadonlyMap<number, Int32Array> },
): void {
  const lists = group.map((number) => draft.nets.get(number)).filter((list) => list !== undefined);
  const rest: Int32Array[] = [];
  for (let t = draft.from; t < draft.until; t++) {
    const found = new Set(lists.map((list) => list[t]!).filter((net) => net >= 0));
    if (found.size > 1) return;
  }
  const first = lists.find((list) => list.subarray(draft.from, draft.until).some((net) => net >= 0));
  if (first === undefined) return;
  for (const list of lists) if (list !== first) rest.push(list);
  for (let t = draft.from; t < draft.until; t++) {
    for (const list of rest) {
      first[t] = Math.max(first[t]!, list[t]!);
      list[t] = NO_NET;
    }
  }
}

/** Builds the timeline of a design. O(stages x pins). */
export function timelineOf(design: Design): Timeline {
  const stages = design.netlists.length - 1;
  interface Draft {
    part: NetPart;
    from: number;
    until: number;
    last: number;
    before: Draft | undefined;
    nets: Map<number, Int32Array>;
    names: Map<number, { name: string; ref: string }>;
  }
  const drafts = new Map<string, Draft>();
  /** The piece as which a part stands now, by what it is. */
  const standing = new Map<string, Draft>();
  const netByName = new Map<string, number>();
  const nets: { name: string; net: Net; from: number; pins: { item: number; pin: ItemPin }[] }[] = [];
  for (let t = 1; t <= stages; t++) {
    const netlist = design.netlists[t]!;
    const indexOf = new Int32Array(netlist.nets.length);
    netlist.nets.forEach((net, id) => {
      let index = netByName.get(net.name);
      if (index === undefined) {
        index = nets.length;
        netByName.set(net.name, index);
        nets.push({ name: net.name, net, from: t, pins: [] });
      } else nets[index]!.net = net;
      indexOf[id] = index;
    });
    const moves = new Set(
      (design.stages.find((stage) => stage.number === t)?.decl?.moves ?? []).map((ref) => foldName(ref.name)),
    );
    for (const part of netlist.parts) {
      const key = `${part.name}\n${part.type}\n${part.stage}`;
      const known = standing.get(key);
      const isThere = known !== undefined && known.last === t - 1;
      // What serves a part that moves goes with it.
      const moved =
        isThere &&
        moves.size > 0 &&
        (moves.has(foldName(part.name)) || moves.has(foldName(part.implied?.serves.split('.')[0] ?? '')));
      let draft = known;
      // A part that went away and came back is a new piece to place, and so is one that moves.
      if (draft === undefined || !isThere || moved) {
        const before = moved ? known : undefined;
        draft = { part, from: t, until: t + 1, last: t, before, nets: new Map(), names: new Map() };
        drafts.set(`${key}\n${t}`, draft);
        standing.set(key, draft);
      }
      draft.last = t;
      draft.until = t + 1;
      draft.part = part;
      for (const id of part.pins) {
        const pin = netlist.pins[id] ?? bug('a part names a pin that is not there', { part: part.name, id });
        let list = draft.nets.get(pin.number);
        if (list === undefined) {
          list = new Int32Array(stages + 1).fill(ABSENT);
          draft.nets.set(pin.number, list);
          draft.names.set(pin.number, { name: pin.name, ref: pin.ref });
        }
        list[t] = pin.net >= 0 ? indexOf[pin.net]! : NO_NET;
      }
    }
  }
  const items: Item[] = [];
  const indexOf = new Map<Draft, number>();
  for (const draft of drafts.values()) {
    const record = draft.part.record;
    const joined = new Map<number, number>();
    (record.joined ?? []).forEach((group, index) => {
      for (const number of group) joined.set(number, index);
    });
    (record.joined ?? []).forEach((group) => {
      wireOneOf(group, draft);
    });
    const footprint = footprintOf(record);
    const numbers = footprint.kind === 'rigid' ? footprint.leads.map((lead) => lead.number) : footprint.numbers;
    const blank = (): Int32Array => {
      const list = new Int32Array(stages + 1).fill(ABSENT);
      for (let t = draft.from; t < draft.until; t++) list[t] = NO_NET;
      return list;
    };
    // Every lead that exists occupies a hole, whether the netlist names its pin or not.
    const pins = [...new Set([...numbers, ...draft.nets.keys()])]
      .sort((a, b) => a - b)
      .map((number) => ({
        number,
        name: draft.names.get(number)?.name ?? String(number),
        ref: draft.names.get(number)?.ref ?? `${draft.part.name}.${number}`,
        nets: draft.nets.get(number) ?? blank(),
      }));
    const index = items.length;
    indexOf.set(draft, index);
    items.push({
      index,
      part: draft.part,
      name: draft.part.name,
      footprint,
      from: draft.from,
      until: draft.until,
      pins,
      pinOf: new Map(pins.map((pin) => [pin.number, pin])),
      joined,
      movedFrom: draft.before === undefined ? undefined : indexOf.get(draft.before),
    });
    for (const pin of pins) {
      const seen = new Set<number>();
      for (let t = draft.from; t < draft.until; t++) {
        const net = pin.nets[t]!;
        if (net >= 0 && !seen.has(net)) {
          seen.add(net);
          nets[net]!.pins.push({ item: index, pin });
        }
      }
    }
  }
  return { stages, items, nets: nets.map((net, index) => ({ ...net, index })), netByName };
}
