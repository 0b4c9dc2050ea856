// The half clocks of a capture. No common clock is assumed: where the clock is a channel, a loop predicts each edge and is pulled
// by the edge that came, so that glitches, jitter, lost edges and holes do not throw it off; where it is not, the moments at which
// the other channels change tell rate and phase.

import type { Capture, CaptureChannel } from '../model.ts';

/** Edges of the clock, found or reckoned. */
export interface Grid {
  /** Times of edges, s; half clock h lies between edges h and h + 1. */
  readonly edges: Float64Array;
  /** True where half clock 0 is high. */
  readonly firstHigh: boolean;
  /** Half clocks before which an unknown number of others is missing. */
  readonly gaps: readonly number[];
  /** s. */
  readonly period: number;
  /** Time between samples, or 0 where edges come at any time. */
  readonly sample: number;
  /** Moment of some sample, where samples are as far apart as `sample` says throughout; null where that isn't so. */
  readonly origin: number | null;
  readonly samplesPerClock: number;
  /** 0 to 1: share of edges that were found where they were expected. */
  readonly found: number;
  /** False where nothing tells which half is the high one. */
  readonly knowsHigh: boolean;
}

/** Share of an error in time that the next edge is moved by, and of the period. From trials with 4 to 20 samples a clock. */
const PHASE_GAIN = 0.45;
const PERIOD_GAIN = 0.01;
const PERIOD_REACH = 0.02;
const MISSES = 4;
const MOST_HALVES = 4_000_000;

/**
 * Whether all entries lie on one raster of samples, and its exact step: printed times are rounded, so the step is made better over
 * longer and longer stretches.
 */
export function sampleRaster(capture: Capture): { readonly origin: number; readonly step: number } | undefined {
  let step = capture.samplePeriod ?? 0;
  if (!(step > 0)) return undefined;
  const busiest = capture.channels.reduce<CaptureChannel | undefined>(
    (best, channel) => (best === undefined || channel.times.length > best.times.length ? channel : best),
    undefined,
  );
  const all = busiest?.times ?? new Float64Array(0);
  const origin = capture.start;
  const stride = Math.max(1, Math.floor(all.length / 20_000));
  for (let span = 64; ; span *= 4) {
    let up = 0;
    let down = 0;
    let on = 0;
    let count = 0;
    let isAll = true;
    for (let k = 0; k < all.length; k += span < 4096 ? 1 : stride) {
      const time = all[k]! - origin;
      if (time > span * step) {
        isAll = false;
        break;
      }
      const place = Math.round(time / step);
      count++;
      if (Math.abs(time / step - place) > 0.2) continue;
      on++;
      up += place * time;
      down += place * place;
    }
    if (count > 8 && on < 0.95 * count) return undefined;
    if (down > 0) step = up / down;
    if (isAll || span > 1e10) return { origin, step };
  }
}

const median = (values: Float64Array): number => values[values.length >> 1]!;

/** The grid by a clock channel, or undefined where the channel does not swing. */
export function gridByClock(capture: Capture, clock: CaptureChannel, isInverted: boolean): Grid | undefined {
  const times: number[] = [];
  const rises: number[] = [];
  const flip = isInverted ? 1 : 0;
  let last = 2;
  for (let k = 0; k < clock.levels.length; k++) {
    const level = clock.levels[k]!;
    if (level !== 2 && last !== 2 && level !== last) {
      // The level before a hole tells nothing of an edge after it.
      times.push(clock.times[k]!);
      rises.push(level ^ flip);
    }
    last = level;
  }
  const count = times.length;
  if (count < 24) return undefined;
  const steps: number[] = [];
  const highs: number[] = [];
  let before = -1;
  for (let k = 0; k < count; k++) {
    if (rises[k] !== 1) {
      if (k > 0) highs.push(times[k]! - times[k - 1]!);
      continue;
    }
    if (before >= 0) steps.push(times[k]! - times[before]!);
    before = k;
  }
  if (steps.length < 8) return undefined;
  const sorted = Float64Array.from(steps).sort();
  const middle = median(sorted);
  const near = steps.filter((step) => Math.abs(step - middle) < 0.35 * middle);
  const period = near.reduce((sum, step) => sum + step, 0) / near.length;
  const nearSorted = Float64Array.from(near).sort();
  const spread = nearSorted[Math.floor(near.length * 0.97)]! - nearSorted[Math.floor(near.length * 0.03)]!;
  const raster = sampleRaster(capture);
  const sample = raster?.step ?? capture.samplePeriod ?? (spread > period * 0.01 ? spread : 0);
  // Length of the high half: not half the period with every clock generator.
  const high = Math.min(Math.max(median(Float64Array.from(highs).sort()), period * 0.2), period * 0.8);
  const shift = sample / 2;
  const found = { edges: 0, all: 0 };
  const edges: number[] = [];
  const gaps: number[] = [];
  const halfAfter = (isHigh: boolean, of: number): number => ((isHigh ? high : period - high) * of) / period;
  const least = Math.min(high, period - high);
  const window = Math.max(0.62 * sample, 0.45 * least);
  let k = 0;
  const fits = (at: number): boolean =>
    at + 1 < count &&
    rises[at + 1] !== rises[at] &&
    Math.abs(times[at + 1]! - times[at]! - halfAfter(rises[at] === 1, period)) <= window;
  while (k < count && !(rises[k] === 1 && fits(k))) k++;
  if (k >= count) return undefined;
  let time = times[k]! - shift;
  let isHigh = true;
  let running = period;
  let misses = 0;
  edges.push(time);
  const end = Math.min(capture.end, times[count - 1]! + 0.25 * period);
  let from = k;
  while (edges.length < MOST_HALVES) {
    const expected = time + halfAfter(isHigh, running);
    if (expected > end) break;
    isHigh = !isHigh;
    found.all++;
    while (from < count && times[from]! - shift < expected - window) from++;
    let best = -1;
    let error = Number.POSITIVE_INFINITY;
    for (let at = from; at < count && times[at]! - shift <= expected + window; at++) {
      if ((rises[at] === 1) !== isHigh) continue;
      const off = Math.abs(times[at]! - shift - expected);
      if (off < error) {
        error = off;
        best = at;
      }
    }
    if (best >= 0) {
      const off = times[best]! - shift - expected;
      time = expected + PHASE_GAIN * off;
      running = Math.min(
        period * (1 + PERIOD_REACH),
        Math.max(period * (1 - PERIOD_REACH), running + PERIOD_GAIN * off),
      );
      misses = 0;
      found.edges++;
      edges.push(time);
      continue;
    }
    time = expected;
    misses++;
    if (misses >= MISSES) {
      // Lost: the next edge that a fitting one follows. Its distance says how many edges lie between, unless it was no time.
      let at = from;
      while (at < count && !(times[at]! - shift > time - 0.3 * running && fits(at))) at++;
      if (at >= count) {
        edges.push(time);
        break;
      }
      // The mean of all periods reaches across a hole; that of the last few does not.
      running = period;
      const target = times[at]! - shift;
      const wantsHigh = rises[at] === 1;
      // Fill whole half clocks up to the target; the last one ends there.
      while (target - time > 0.6 * halfAfter(!isHigh, running) && edges.length < MOST_HALVES) {
        edges.push(time);
        time += halfAfter(isHigh, running);
        isHigh = !isHigh;
      }
      const drift = Math.abs(target - time);
      const doubt = ((sample > 0 ? sample : period * 0.001) / Math.max(1, edges.length)) * misses;
      if (isHigh !== wantsHigh) {
        // Half a clock too many: edges rise and fall in turn, so one is taken back, and what is missing is not known.
        edges.pop();
        gaps.push(edges.length);
      } else if (drift > 0.3 * least || doubt > 0.25 * period) gaps.push(edges.length);
      time = target;
      isHigh = wantsHigh;
      misses = 0;
    }
    edges.push(time);
  }
  if (edges.length < 3) return undefined;
  return {
    edges: Float64Array.from(edges),
    firstHigh: true,
    gaps,
    period,
    sample,
    origin: raster?.origin ?? null,
    samplesPerClock: sample > 0 ? period / sample : Number.POSITIVE_INFINITY,
    found: found.all === 0 ? 0 : found.edges / found.all,
    knowsHigh: true,
  };
}

/** How much a set of moments keeps to one rate: length of the mean pointer, and its angle as a share of a turn. */
function coherence(
  times: Float64Array,
  count: number,
  step: number,
): { readonly length: number; readonly angle: number } {
  let x = 0;
  let y = 0;
  for (let k = 0; k < count; k++) {
    const turn = (times[k]! / step) * 2 * Math.PI;
    x += Math.cos(turn);
    y += Math.sin(turn);
  }
  return { length: Math.hypot(x, y) / Math.max(1, count), angle: Math.atan2(y, x) / (2 * Math.PI) };
}

/** Delay of signals behind their clock edge, in half clocks: taken off the mean moment of change. */
const MEAN_DELAY = 0.15;

/** The grid by the changes of other channels, at about the rate that is meant; undefined where too little changes. */
export function gridByChanges(capture: Capture, channels: readonly CaptureChannel[], rateHz: number): Grid | undefined {
  let total = 0;
  const most = 40_000;
  const pieces = channels.map((channel) => {
    const piece = channel.times.subarray(1, Math.min(channel.times.length, 1 + most));
    total += piece.length;
    return piece;
  });
  if (total < 40) return undefined;
  const raster = sampleRaster(capture);
  const sample = raster?.step ?? capture.samplePeriod ?? 0;
  const times = new Float64Array(total);
  let at = 0;
  for (const piece of pieces) {
    times.set(piece, at);
    at += piece.length;
  }
  times.sort();
  const origin = times[0]!;
  for (let k = 0; k < total; k++) times[k] = times[k]! - origin;
  let half = 0.5 / rateHz;
  // First over a short stretch with a wide search, then over longer ones with finer steps.
  let reach = 0.02;
  for (let span = 64; ; span *= 2) {
    let count = 0;
    while (count < total && times[count]! <= span * half) count++;
    if (count >= 24) {
      const step = Math.max(reach / 24, 0.15 / span);
      let best = half;
      let bestLength = 0;
      for (let off = -reach; off <= reach + 1e-12; off += step) {
        const tried = half * (1 + off);
        const { length } = coherence(times, count, tried);
        if (length > bestLength + 1e-9) {
          bestLength = length;
          best = tried;
        }
      }
      half = best;
      reach = Math.min(reach, step * 2);
    }
    if (count >= total || span > 4_000_000) break;
  }
  const { length, angle } = coherence(times, total, half);
  const phase = origin + (angle - MEAN_DELAY) * half - sample / 2;
  const first = Math.floor((capture.start - phase) / half) + 1;
  const halves = Math.min(MOST_HALVES, Math.floor((capture.end - phase) / half) - first);
  if (!(halves >= 8)) return undefined;
  const edges = Float64Array.from({ length: halves + 1 }, (_, k) => phase + (first + k) * half);
  return {
    edges,
    firstHigh: true,
    gaps: [],
    period: 2 * half,
    sample,
    origin: raster?.origin ?? null,
    samplesPerClock: sample > 0 ? (2 * half) / sample : Number.POSITIVE_INFINITY,
    found: length,
    knowsHigh: false,
  };
}
