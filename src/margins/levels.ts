// Direct-current levels: what an output guarantees under a load, what an input demands, and the distance between them. Every
// figure comes from the records; what is not there is null.

import type { InputFigures, OutputFigures } from '../parts/index.ts';

/** V, a tolerance band of a supply. */
export interface Band {
  readonly min: number;
  readonly max: number;
}

/** A level with the drive point that guarantees it. */
export interface DriveLevel {
  readonly volts: number;
  /** mA up to which it is guaranteed, positive. */
  readonly upTo: number;
}

interface Point {
  readonly volts: number;
  readonly load: number;
}

const sized = (points: readonly { readonly volts: number; readonly at: number }[] | undefined): Point[] =>
  (points ?? []).map((point) => ({ volts: point.volts, load: Math.abs(point.at) }));

/**
 * The level at a load: of points that promise at least so much the best, and between two points a straight line. An output loses
 * more with every milliampere than with the one before (it leaves its resistive range), so the line lies on the safe side of any
 * output that keeps both points; no maker prints it (common practice, no source). Null beyond the last point.
 */
function levelAt(
  points: readonly Point[],
  loadMa: number,
  better: (a: number, b: number) => boolean,
): DriveLevel | null {
  const enough = points.filter((point) => point.load >= loadMa - 1e-9);
  if (enough.length === 0) return null;
  const best = enough.reduce((a, b) => (better(b.volts, a.volts) ? b : a));
  const below = points.filter((point) => point.load < loadMa - 1e-9 && better(point.volts, best.volts));
  if (below.length === 0) return { volts: best.volts, upTo: best.load };
  const near = below.reduce((a, b) => (b.load > a.load ? b : a));
  const share = (loadMa - near.load) / (best.load - near.load);
  return { volts: near.volts + share * (best.volts - near.volts), upTo: best.load };
}

/** The greatest low level at `loadMa` sunk; null beyond what is promised. */
export function lowLevel(figures: OutputFigures | undefined, loadMa: number): DriveLevel | null {
  return levelAt(sized(figures?.low), loadMa, (a, b) => a < b);
}

/** The least high level at `loadMa` sourced, with a supply of `volts`; null beyond what is promised. */
export function highLevel(figures: OutputFigures | undefined, loadMa: number, volts: number): DriveLevel | null {
  const points = [
    ...sized(figures?.high),
    ...sized(figures?.['high-below-supply']).map((point) => ({ ...point, volts: volts - point.volts })),
  ];
  return levelAt(points, loadMa, (a, b) => a > b);
}

/** mA that an output promises to sink and source at a stated level; null where nothing is printed. */
export function drive(figures: OutputFigures | undefined): {
  readonly low: number | null;
  readonly high: number | null;
} {
  const low = sized(figures?.low);
  const high = [...sized(figures?.high), ...sized(figures?.['high-below-supply'])];
  return {
    low: low.length === 0 ? null : Math.max(...low.map((point) => point.load)),
    high: high.length === 0 ? null : Math.max(...high.map((point) => point.load)),
  };
}

/** Highest level read as low, V; null where it is not printed. */
export function lowThreshold(figures: InputFigures | undefined, volts: number): number | null {
  const part = figures?.['vil-of-supply'];
  return part !== undefined ? part * volts : (figures?.vil ?? null);
}

/** Lowest level read as high, V; null where it is not printed. */
export function highThresholdAt(figures: InputFigures | undefined, volts: number): number | null {
  const below = figures?.['vih-below-supply'];
  if (below !== undefined) return volts - below;
  const part = figures?.['vih-of-supply'];
  return part !== undefined ? part * volts : (figures?.vih ?? null);
}

/** Noise margins of an output and an input: VOH - VIH and VIL - VOL. */
export function noiseMargins(levels: {
  readonly voh: number;
  readonly vih: number;
  readonly vol: number;
  readonly vil: number;
}): { readonly high: number; readonly low: number } {
  return { high: levels.voh - levels.vih, low: levels.vil - levels.vol };
}

/** How many like inputs an output drives: the whole number of times each current goes in, and the lesser. mA all. */
export function fanOut(
  output: { readonly low: number; readonly high: number },
  input: { readonly low: number; readonly high: number },
): { readonly low: number; readonly high: number; readonly both: number } {
  // A thousandth of a load is the dust of the division, not a load.
  const times = (have: number, each: number): number =>
    each === 0 ? Number.POSITIVE_INFINITY : Math.floor(Math.abs(have) / Math.abs(each) + 1e-9);
  const low = times(output.low, input.low);
  const high = times(output.high, input.high);
  return { low, high, both: Math.min(low, high) };
}

/** One unit load of standard TTL: 40 uA at high, 1.6 mA at low (Motorola SN54/74LS373, p.5-521, loading table). */
export const UNIT_LOAD = { highMa: 0.04, lowMa: 1.6 } as const;

/** Currents in mA as unit loads. */
export function unitLoads(mA: { readonly low: number; readonly high: number }): { low: number; high: number } {
  return { low: Math.abs(mA.low) / UNIT_LOAD.lowMa, high: Math.abs(mA.high) / UNIT_LOAD.highMa };
}
