// Boards, holes, placed parts and wires. Millimetres where lengths are physical; one pitch is 2.54 mm and every hole of every
// board lies on one grid of whole pitches (interface GUIDE: boards stack every 24 pitches).

/** A hole as people write it: `2:34e`, or on a rail `2:t+31`. */
export type HoleName = string;

/** One electrical node of bare boards, named by its holes: the strip of five `2:34a-e`, `2:34f-j`, the rail segment `2:t+3-31`. */
export type StripId = string;

export interface PlacedBoard {
  /** From 1, as printed in hole names. */
  readonly board: number;
  /** A board record's name: `full` (830 holes), `half` (400 holes). */
  readonly kind: string;
  /** mm of its upper left corner in the arrangement. */
  readonly x: number;
  readonly y: number;
}

export interface PlacedLead {
  /** Pin number. */
  readonly number: number;
  readonly hole: HoleName;
}

/** A part in its place during the stages from `stage` until (not including) `until`. */
export interface PlacedPart {
  readonly part: string;
  readonly type: string;
  /** Degrees, counter-clockwise, of the part as its record draws it (pin 1 lower left for a DIP at 0). */
  readonly rotation: 0 | 90 | 180 | 270;
  readonly leads: readonly PlacedLead[];
  readonly stage: number;
  readonly until: number | undefined;
  /** True where the builder fixed the place. */
  readonly fixed: boolean;
}

export type WireStyle = 'flat' | 'arched' | 'crimped' | 'jumper';

export interface Wire {
  /** From content: net and ends. */
  readonly id: string;
  readonly net: string;
  readonly from: HoleName;
  readonly to: HoleName;
  /** Cut length, both insertions included. */
  readonly cutMm: number;
  /** IEC 60757 code. */
  readonly colour: string;
  readonly style: WireStyle;
  readonly stage: number;
  /** The stage that takes it out, or undefined. */
  readonly until: number | undefined;
  readonly temporary: boolean;
  /** The crimped lead it is a way of. */
  readonly lead: string | undefined;
  /** Grid corners of its path in pitches, ends included, where it lies along lanes. */
  readonly path: readonly (readonly [number, number])[] | undefined;
}

/**
 * Pins of a part whose nets the layout exchanged, as its record allows: the net that the machine gives to pin `from` goes to
 * pin `to`. A permutation: every pin named as `from` is named once as `to`. Netlist, image and fuse file follow it.
 */
export interface Exchange {
  readonly part: string;
  /** The part's type; the exchange holds for this type only. */
  readonly type: string;
  /** [from, to] pin numbers. */
  readonly pins: readonly (readonly [number, number])[];
}

/**
 * A crimped lead: wires whose ends stand side by side in one housing, the other ends as single pins. An instrument's lead ends
 * where its plug goes in beside it; a header's lead ends in the header's strips.
 */
export interface CrimpedLead {
  /** As wires name it. */
  readonly lead: string;
  readonly kind: 'pod' | 'header';
  readonly stage: number;
  readonly until: number | undefined;
  /** Holes under the housing from way 1, which is at the left; empty where there is no hole. */
  readonly housing: readonly HoleName[];
  /** A way that stays empty and is plugged, so that the housing shows which way round it goes; counted from 1. */
  readonly key: number | undefined;
  /** Ways that are used, in order. */
  readonly ways: readonly { readonly way: number; readonly net: string; readonly wire: string }[];
}

/** What layout.json holds, all stages in one. */
export interface Layout {
  readonly format: 1;
  readonly machine: string;
  readonly seed: number;
  readonly boards: readonly PlacedBoard[];
  readonly parts: readonly PlacedPart[];
  readonly wires: readonly Wire[];
  /** Where each supply enters: a hole on a rail for plus and one for ground. */
  readonly entries: readonly { readonly supply: string; readonly plus: HoleName; readonly ground: HoleName }[];
  /** Holes kept free for instruments, during the stages from `stage` until (not including) `until`. */
  readonly probes?: readonly {
    readonly net: string;
    readonly hole: HoleName;
    readonly stage: number;
    readonly until: number | undefined;
  }[];
  /** Crimped leads that wires are ways of. */
  readonly leads?: readonly CrimpedLead[];
  /** What was exchanged to shorten wire; already in effect in `parts` and `wires`. */
  readonly exchanges?: readonly Exchange[];
}

/** The parts and wires that are on the boards as of a stage. */
export function layoutAt(
  layout: Layout,
  stage: number,
): { readonly parts: readonly PlacedPart[]; readonly wires: readonly Wire[] } {
  const holds = (item: { readonly stage: number; readonly until: number | undefined }): boolean =>
    item.stage <= stage && (item.until === undefined || stage < item.until);
  return { parts: layout.parts.filter(holds), wires: layout.wires.filter(holds) };
}
