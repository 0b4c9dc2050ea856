// The clock that a processor gets (or makes): how long it is high at least and at most, and how steep its edges are. From the
// machine's own statement, or the source's record.

import { type Affine, minus, nanoseconds, periods } from './affine.ts';

export interface ClockModel {
  /** The high part of a period at least and at most, edge to edge; null where nobody says. */
  readonly highMin: Affine | null;
  readonly highMax: Affine | null;
  /** ns that an edge takes at most. */
  readonly edgeNs: number;
  readonly says: string;
}

/** A point in time of a bus cycle: an edge of the clock. `fall n` comes half a period (more or less) after `rise n`. */
export interface ClockEdge {
  readonly n: number;
  readonly phase: 'rise' | 'fall';
}

/** A clock of which a share from `least` to `most` is high. */
export function dutyClock(least: number, most: number, edgeNs: number, says: string): ClockModel {
  return { highMin: periods(least), highMax: periods(most), edgeNs, says };
}

/** The shortest time from one edge to a later one; null where it needs a duty that nobody states. */
export function edgeGap(from: ClockEdge, to: ClockEdge, clock: ClockModel): Affine | null {
  const whole = periods(to.n - from.n);
  if (from.phase === to.phase) return whole;
  if (from.phase === 'rise') {
    return clock.highMin === null
      ? null
      : { perPeriod: whole.perPeriod + clock.highMin.perPeriod, ns: clock.highMin.ns };
  }
  return clock.highMax === null ? null : minus(whole, clock.highMax);
}

/** Values of the symbols that printed formulas use, by any of their makers' names. */
export function clockSymbols(clock: ClockModel): (symbol: string) => Affine | undefined {
  const edge = nanoseconds(clock.edgeNs);
  const high = clock.highMin === null ? undefined : minus(clock.highMin, edge);
  const low = clock.highMax === null ? undefined : minus(minus(periods(1), clock.highMax), edge);
  const table: Readonly<Record<string, Affine | undefined>> = {
    TcC: periods(1),
    TwCh: high,
    TwCl: low,
    TrC: edge,
    TfC: edge,
    tc: periods(1),
    'tw(PhiH)': high,
    'tw(PhiL)': low,
    tr: edge,
    tf: edge,
    TCLCL: periods(1),
    TCHCL: high,
    TCLCH: low,
  };
  return (symbol) => (Object.hasOwn(table, symbol) ? table[symbol] : undefined);
}
