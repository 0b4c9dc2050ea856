// What goes into the simulator and comes out: a netlist as plain data, made from the boards or from the intended netlist by
// the caller, and the trace of a run. No other folder's types but part records.

import type { PartRecord } from '../parts/index.ts';

/** A pin by its part's index in `parts` and its number. */
export interface SimPinRef {
  readonly part: number;
  readonly number: number;
}

export interface SimPart {
  readonly name: string;
  readonly type: string;
  readonly record: PartRecord;
  readonly grade?: string;
  /** As written: `10 kohm`. */
  readonly value?: string;
  /** Hz, of an oscillator. */
  readonly rateHz?: number;
}

export interface SimNet {
  /** For traces and messages; a net without one is named after its first pin. */
  readonly name?: string;
  readonly pins: readonly SimPinRef[];
  /** Fed from outside: 1 by the positive end of a supply, 0 by ground. */
  readonly fed?: 0 | 1;
}

/** The one form from which every kernel is built. A pin that is in no net stands alone. */
export interface SimNetlist {
  readonly parts: readonly SimPart[];
  readonly nets: readonly SimNet[];
}

/** One input of a product term of a logic device: true while the pin has this level. */
export interface SimLiteral {
  readonly pin: number;
  readonly level: 0 | 1;
  /** The array sees the register and not the pin; `level` is that of the pin if it were driven. */
  readonly feedback?: true;
}

/** What one output of a programmed logic device does. */
export interface SimLogicOutput {
  readonly pin: number;
  readonly terms: readonly (readonly SimLiteral[])[];
  readonly activeLow: boolean;
  readonly enable: boolean | readonly (readonly SimLiteral[])[];
  readonly registered: boolean;
  /** `register`: the array sees the register even while the pin is off or driven otherwise. Default: the pin. */
  readonly feedbackFrom?: 'none' | 'pin' | 'register';
  /** Level at the pin after power-up, of a registered output. */
  readonly powerUp?: 0 | 1;
}

/** A programmed logic device as terms; made from its fuse file by the caller. */
export interface SimLogic {
  readonly outputs: readonly SimLogicOutput[];
  readonly clockPin?: number;
  readonly reset?: readonly (readonly SimLiteral[])[];
  readonly preset?: readonly (readonly SimLiteral[])[];
}

/** What the parts hold and how they come up. */
export interface SimContents {
  /** Bytes in a memory part, by the part's name. */
  readonly images?: ReadonlyMap<string, Uint8Array>;
  /** What logic devices are programmed with, by the part's name. */
  readonly logic?: ReadonlyMap<string, SimLogic>;
  /** Seed of what RAM and registers hold at power-up. Default 1. */
  readonly seed?: number;
  /** Flip-flops and latches at power-up: not known, or some level by the seed. Default unknown. */
  readonly flipFlops?: 'unknown' | 'random';
  /** What an input reads that nothing drives or pulls. Default X. */
  readonly floating?: 0 | 1 | 'X';
}

/** A level as shown: Z is floating, X is not known. */
export type SimLevel = 0 | 1 | 'Z' | 'X';
