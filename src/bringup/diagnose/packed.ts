// What was observed as one word a half clock: levels, what is firm, for up to 31 nets at once.

import type { Observed } from '../model.ts';

export const MOST_CHANNELS = 31;

export interface Packed {
  readonly halves: number;
  /** Names of the nets by bit. */
  readonly nets: readonly string[];
  readonly level: Int32Array;
  readonly strong: Int32Array;
  readonly sinceReset: number | null;
  readonly firstHigh: boolean;
  /** Half clocks by which a level may come late: outputs and memories have delays, a trial has none. */
  readonly lag: number;
}

/** ns that strobe, decoder and memory together may be late by, at most: common practice, no source. */
const LATE_NS = 200;
const MOST_LAG = 3;

/** A level of reset that lasts less is none: one wrong sample must not move the origin. */
const LEAST_RESET = 6;

/** The entry at which reset is let go, or -1. */
function releaseOf(level: Uint8Array, known: Uint8Array): number {
  for (let k = LEAST_RESET >> 1; k + LEAST_RESET < level.length; k++) {
    if (level[k] !== 1 || level[k - 1] !== 0 || known[k] === 0) continue;
    let lasts = true;
    for (let n = 1; n < LEAST_RESET; n++) if (level[k + n] !== 1) lasts = false;
    for (let n = 1; n <= LEAST_RESET >> 1; n++) if (level[k - n] !== 0) lasts = false;
    if (lasts) return k;
  }
  return -1;
}

/** Half clocks without a swing of the clock that are a gap in the capture, after so many with one. */
const GAP = 6;
const BEFORE_GAP = 500;

/** Where the clock has stood still after it swung well: half clocks were lost there, and what follows cannot be counted. */
function untilGap(level: Uint8Array): number {
  let still = 0;
  for (let k = 1; k < level.length; k++) {
    still = level[k] === level[k - 1] ? still + 1 : 0;
    if (still >= GAP) return k - GAP >= BEFORE_GAP ? k - GAP : level.length;
  }
  return level.length;
}

/**
 * The first 31 nets that `has` knows; the rest are left out. Where the reset net is captured, its own release is the origin: what the
 * rest of a faulty machine does says nothing of it.
 */
export function pack(
  observed: Observed,
  has: (net: string) => boolean,
  reset: string | undefined,
  clock: string | undefined,
  most = Number.POSITIVE_INFINITY,
): Packed {
  const seen = observed.nets.find(({ net }) => net === clock);
  const halves = Math.min(observed.halves, most, seen === undefined ? most : untilGap(seen.level));
  const nets = observed.nets.filter(({ net }) => has(net)).slice(0, MOST_CHANNELS);
  const level = new Int32Array(halves);
  const strong = new Int32Array(halves);
  nets.forEach((net, bit) => {
    // Few samples a half clock: then what is known must do.
    let firm = 0;
    for (let k = 0; k < halves; k++) firm += net.strong[k]!;
    const counts = firm > halves * 0.3 ? net.strong : net.known;
    for (let k = 0; k < halves; k++) {
      if (net.known[k] === 0 || counts[k] === 0) continue;
      level[k]! |= (net.level[k]! & 1) << bit;
      strong[k]! |= 1 << bit;
    }
  });
  const last = observed.times.length - 1;
  const halfNs = last < 1 ? LATE_NS : ((observed.times[last]! - observed.times[0]!) / last) * 1e9;
  const own = nets.find(({ net }) => net === reset);
  const release = own === undefined ? -1 : releaseOf(own.level, own.known);
  return {
    halves,
    nets: nets.map(({ net }) => net),
    level,
    strong,
    sinceReset: own === undefined ? observed.sinceReset : release < 0 ? null : -release,
    firstHigh: observed.firstHigh,
    lag: Math.max(1, Math.min(MOST_LAG, Math.round(LATE_NS / Math.max(1, halfNs)))),
  };
}

/** Number of bits set. */
export function bitCount(word: number): number {
  let n = word - ((word >>> 1) & 0x55555555);
  n = (n & 0x33333333) + ((n >>> 2) & 0x33333333);
  return Math.imul((n + (n >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}
