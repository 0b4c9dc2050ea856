// What the meter plan says: touches, what each proves and excludes, and the limits of readings.

import type { HoleName, StripId } from '../board/index.ts';

/** A contact or a bridge reads less than this, in ohms; more is no bridge. Common practice, no source. */
export const BRIDGE_OHMS = 20;
/** A good chain of wires and contacts reads at most this with the leads' own resistance taken off. Common practice, no source. */
export const CHAIN_OHMS = 2;
/** Where no chip is in the way, anything under this is a path. Common practice, no source. */
export const OPEN_OHMS = 100_000;
export interface TouchEnd {
  readonly hole: HoleName;
  readonly strip: StripId;
  /** Pins in the same strip: `CPU.A0`, or part and pin number where no netlist is given. */
  readonly pins: readonly string[];
  readonly net: string;
}

export interface Touch {
  readonly id: string;
  readonly from: TouchEnd;
  readonly to: TouchEnd;
  /** `ohms` with the least and greatest reading that pass, or open: anything of `above` ohms or more. */
  readonly expect:
    | { readonly ohms: number; readonly least: number; readonly most: number }
    | { readonly open: true; readonly above: number };
  /** Wires and resistors (parts) that a right reading proves. */
  readonly proves: { readonly wires: readonly string[]; readonly parts: readonly string[] };
  /** Pairs of strips between which a right reading excludes a bridge. */
  readonly excludes: readonly (readonly [StripId, StripId])[];
  readonly text: string;
  /** What may make a right reading look odd. */
  readonly notes: readonly string[];
}

export interface TouchPlan {
  readonly touches: readonly Touch[];
  /** What no reading can tell, and why; to be looked at by eye. */
  readonly byEye: readonly {
    readonly wires: readonly string[];
    readonly strips: readonly StripId[];
    readonly why: string;
  }[];
  readonly counts: {
    readonly wires: number;
    readonly resistors: number;
    /** Neighbouring strips of different nets. */
    readonly bridges: number;
    /** Pairs of nets that those bridges would join. */
    readonly pairs: number;
  };
}
