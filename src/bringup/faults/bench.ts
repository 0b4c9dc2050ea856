// The boards as a list of conductors and of what stands in them, made once for a stage, so that a slip of the hand can be told as
// a small edit and its nets read again in some microseconds. Holes decide; the netlist only says what was meant.

import { foldName } from '../../base/index.ts';
import {
  findBoardKind,
  formatHole,
  hasHole,
  type HoleName,
  type Layout,
  layoutAt,
  parseHole,
  stripOfHole,
  type Wire,
} from '../../board/index.ts';
import type { NetPart, Netlist } from '../../netlist/index.ts';

/** A lead of a part in its hole. */
export interface BenchPin {
  /** Place of the part in the netlist. */
  readonly part: number;
  readonly number: number;
  readonly hole: HoleName;
  /** Index of the strip. */
  readonly strip: number;
  /** `CPU.A0`. */
  readonly ref: string;
  /** Net it is meant to be on, or -1. */
  readonly net: number;
}

export interface BenchWire {
  readonly wire: Wire;
  readonly a: number;
  readonly b: number;
}

/** A channel's place: the strip that its probe stands in. */
export interface BenchProbe {
  readonly net: string;
  readonly hole: HoleName;
  readonly strip: number;
}

/** The boards of one stage. Strips are numbers; `strip` gives a number to a hole's strip, also to empty ones. */
export interface Bench {
  readonly layout: Layout;
  readonly stage: number;
  readonly netlist: Netlist;
  readonly pins: readonly BenchPin[];
  /** Indexes of a part's pins, by its place in the netlist. */
  readonly pinsOf: readonly (readonly number[])[];
  readonly wires: readonly BenchWire[];
  /** Pins that are one conductor inside a part. */
  readonly joined: readonly (readonly [number, number])[];
  /** Strips that a supply (1) or ground (0) enters. */
  readonly feeds: readonly { readonly strip: number; readonly level: 0 | 1 }[];
  /** Pins of parts that make a supply. */
  readonly feeders: readonly number[];
  readonly stripNames: readonly string[];
  strip(hole: HoleName): number;
  /** The hole so many columns along its row, or undefined. */
  beside(hole: HoleName, columns: number): HoleName | undefined;
  /** The hole of the other polarity beside a hole of a rail. */
  otherRail(hole: HoleName): HoleName | undefined;
  isFree(hole: HoleName): boolean;
}

/** Reads the boards of a stage. A lead or wire in a hole that does not exist is left out. */
export function makeBench(layout: Layout, netlist: Netlist): Bench {
  const kinds = new Map(layout.boards.map((board) => [board.board, board.kind]));
  const numbers = new Map<string, number>();
  const stripNames: string[] = [];
  const strip = (hole: HoleName): number => {
    const name = stripOfHole(hole, (board) => kinds.get(board));
    if (name === undefined) return -1;
    let number = numbers.get(name);
    if (number === undefined) {
      number = stripNames.length;
      numbers.set(name, number);
      stripNames.push(name);
    }
    return number;
  };
  const used = new Set<HoleName>();
  const index = new Map(netlist.parts.map((part) => [foldName(part.name), part.id]));
  const now = layoutAt(layout, netlist.stage);
  const pins: BenchPin[] = [];
  const pinsOf: number[][] = netlist.parts.map(() => []);
  const joined: [number, number][] = [];
  for (const placed of now.parts) {
    for (const lead of placed.leads) used.add(lead.hole);
    const part = index.get(foldName(placed.part));
    if (part === undefined) continue;
    const meant = new Map(netlist.parts[part]!.pins.map((id) => [netlist.pins[id]!.number, netlist.pins[id]!]));
    const own = new Map<number, number>();
    for (const lead of placed.leads) {
      const at = strip(lead.hole);
      const pin = meant.get(lead.number);
      if (at < 0 || pin === undefined) continue;
      own.set(lead.number, pins.length);
      pinsOf[part]!.push(pins.length);
      pins.push({ part, number: lead.number, hole: lead.hole, strip: at, ref: pin.ref, net: pin.net });
    }
    for (const group of netlist.parts[part]!.record.joined ?? []) {
      const list = group.map((number) => own.get(number)).filter((pin) => pin !== undefined);
      for (let k = 1; k < list.length; k++) joined.push([list[0]!, list[k]!]);
    }
  }
  const wires = now.wires.flatMap((wire): BenchWire[] => {
    const [a, b] = [strip(wire.from), strip(wire.to)];
    used.add(wire.from);
    used.add(wire.to);
    return a < 0 || b < 0 ? [] : [{ wire, a, b }];
  });
  const feeds = layout.entries.flatMap((entry) => [
    { strip: strip(entry.plus), level: 1 as const },
    { strip: strip(entry.ground), level: 0 as const },
  ]);
  const feeders = pins.flatMap((pin, k) => {
    const { record } = netlist.parts[pin.part]!;
    const isPlus =
      record.category === 'supply' &&
      netlist.nets[pin.net]?.kind === 'supply' &&
      record.pins.find((row) => row.number === pin.number)?.kind !== 'ground';
    return isPlus ? [k] : [];
  });
  const move = (hole: HoleName, columns: number, rows: (name: string) => string): HoleName | undefined => {
    const address = parseHole(hole);
    if (address === undefined) return undefined;
    const kind = findBoardKind(kinds.get(address.board) ?? '');
    if (kind === undefined) return undefined;
    const text = formatHole({ ...address, column: address.column + columns });
    const moved = parseHole(rows(text));
    return moved !== undefined && hasHole(kind, moved.column, moved.row) ? formatHole(moved) : undefined;
  };
  return {
    layout,
    stage: netlist.stage,
    netlist,
    pins,
    pinsOf,
    wires,
    joined,
    feeds: feeds.filter((feed) => feed.strip >= 0),
    feeders,
    stripNames,
    strip,
    beside: (hole, columns) => move(hole, columns, (text) => text),
    otherRail: (hole) =>
      move(hole, 0, (text) => text.replace(/([tb])([+-])/, (_, side, sign) => `${side}${sign === '+' ? '-' : '+'}`)),
    isFree: (hole) => !used.has(hole),
  };
}

/**
 * Where the probe of a channel stands: the hole that the layout keeps for it, else a hole of a crimped lead, else in the strip of
 * the processor's pin, else of the first pin of the net. Undefined where the net has no pin on the boards.
 */
export function probeOf(bench: Bench, net: string): BenchProbe | undefined {
  const { layout, netlist, stage } = bench;
  const at = (hole: HoleName): BenchProbe => ({ net, hole, strip: bench.strip(hole) });
  const key = foldName(net);
  const kept = (layout.probes ?? []).find(
    (probe) =>
      foldName(probe.net) === key && probe.stage <= stage && (probe.until === undefined || stage < probe.until),
  );
  if (kept !== undefined) return at(kept.hole);
  const lead = bench.wires.find(({ wire }) => wire.lead !== undefined && foldName(wire.net) === key);
  if (lead !== undefined) return at(lead.wire.from);
  const meant = netlist.nets.find((one) => foldName(one.name) === key);
  if (meant === undefined) return undefined;
  const own = bench.pins.filter((pin) => pin.net === meant.id);
  const isProcessor = (part: NetPart): boolean => part.record.category === 'processor';
  const pin = own.find((one) => isProcessor(netlist.parts[one.part]!)) ?? own[0];
  return pin === undefined ? undefined : at(pin.hole);
}
