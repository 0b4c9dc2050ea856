// Bus cycles as data: which signals a processor launches from which edge of its clock, what it takes in, and which gaps its
// maker promises outright. One table for each processor; the symbols are the makers'.

import type { TimingArc } from '../../parts/index.ts';
import type { Affine } from './affine.ts';
import type { ClockEdge, ClockModel } from './clock-model.ts';

/** Finds an arc of the processor by the first of several symbols it knows. */
export type ArcFinder = (symbols: readonly string[]) => TimingArc | undefined;

/** An edge of a signal, launched by an edge of the clock. */
export interface Launch {
  /** `address`, `data`, or the name of a signal of the bus role. */
  readonly signal: string;
  readonly edge: 'rise' | 'fall' | 'valid';
  readonly at: ClockEdge;
  /** The chip that launches it, where it isn't the processor: a bus controller on the same clock. */
  readonly via?: 'controller';
  /** Symbols of the delay, one for each maker; none where the edge of the clock is the signal itself. */
  readonly symbols: readonly string[];
  /** Part of the delay that goes with the period, where signals are made inside (in clock periods and ns). */
  readonly besides?: (find: ArcFinder, clock: ClockModel) => Affine | undefined;
  /**
   * Where the symbols are a hold, which prints no greatest: what comes next is there at the latest after this, by symbols or made
   * inside.
   */
  readonly latest?: readonly string[] | ((find: ArcFinder, clock: ClockModel) => Affine | undefined);
}

/** A gap between two signals that the maker promises: `from` valid (or at an edge) to `to`. */
export interface PromisedGap {
  readonly from: { readonly signal: string; readonly edge: Launch['edge'] };
  readonly to: { readonly signal: string; readonly edge: Launch['edge'] };
  readonly symbols: readonly string[];
}

export interface BusCycle {
  readonly name: string;
  readonly space: 'memory' | 'ports' | 'vector';
  readonly way: 'read' | 'write';
  /** Signals going to what selects and enables. */
  readonly begin: readonly Launch[];
  /** Signals going back; a hold is a launch whose least delay is what counts. */
  readonly end: readonly Launch[];
  /** Where data are taken in. */
  readonly capture?: {
    readonly at: ClockEdge;
    readonly setup: readonly string[];
    /** Further time lost at the edge, such as its own fall. */
    readonly lost?: readonly string[];
    /** Only where the processor has a figure of this symbol: makers differ in whether the edge counts. */
    readonly lostWith?: string;
  };
  /** Hold of read data: after a signal's release, or after the edge of the clock. */
  readonly readHold?: { readonly after: string; readonly symbols: readonly string[] };
  readonly gaps: readonly PromisedGap[];
  /** The earliest edge at which something else may drive the data lines after a read. */
  readonly nextDrive: ClockEdge;
  /** Edges from this number on move by one period for each wait state; undefined where there is no waiting. */
  readonly waitFrom?: number;
  /** Where a wait or ready input is looked at, by the processor and by a clock generator before it. */
  readonly wait?: { readonly signal: string; readonly at: ClockEdge; readonly atGenerator?: ClockEdge };
  /** Periods that always lie between this cycle and the next of its kind: a fetch, where each is an instruction of its own. */
  readonly apart?: number;
  /** Periods from the start of one to the next. */
  readonly length: number;
}

export interface ProcessorTiming {
  readonly style: string;
  readonly cycles: readonly BusCycle[];
  /** Symbols of the clock's least period, high and low part. */
  readonly period: readonly string[];
  readonly high: readonly string[];
  readonly low: readonly string[];
  /** What the clock of the cycles is, where it isn't the pin `clock`: E of the 6809. */
  readonly clockSignal: string;
}
