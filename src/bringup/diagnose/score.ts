// How well one trial explains what was observed, in nats; 0 is perfect. A firm prediction that fails costs much when it begins
// and little while it lasts; a guess that fails costs little. A level may come half a clock late: outputs have delays, the trial has
// none. What was observed is then held on the nets, so that one error does not spoil the rest.

import { bitCount, type Packed } from './packed.ts';
import { GUESS, type Trial } from './trial.ts';

/** Costs in nats. Set by the training set of benchmarks/diagnosis; see docs/bring-up.md. */
const FIRM_ONSET = 10;
const FIRM_LASTING = 0.5;
/** A failure of one half clock, before it is known whether it lasts. */
const FIRM_BRIEF = 1;
/** A change on a net whose level is a guess. */
const GUESS_CHANGE = 1;
/** Half clocks of a window, and what a window costs at most. */
export const WINDOW = 64;
const WINDOW_MOST = 250;
/** What the guesses of a window cost at most. */
const GUESS_MOST = 40;

export interface Score {
  /** Nats, never above 0. */
  readonly nats: number;
  /** Half clocks run; fewer than observed where it was given up. */
  readonly halves: number;
  /** Sum of nats at the end of each window. */
  readonly curve: Float64Array;
  /** First half clock with a firm failure, or -1; the bits that fail. */
  readonly first: number;
  readonly firstBits: number;
  /** Firm failures that began, in all. */
  readonly failures: number;
  /** Like for trials that predict the same. */
  readonly print: number;
}

/** Where the entries of an observation lie in a trial. */
export interface Start {
  /** Half clocks in reset before it is let go. */
  readonly inReset: number;
  /** Half clocks after the release before the first entry; negative while still in reset. */
  readonly skip: number;
}

/** Runs a wired trial against an observation. `limit` half clocks at most; given up where it falls `margin` below `best`. */
export function scoreTrial(
  trial: Trial,
  packed: Packed,
  start: Start,
  options: { readonly limit?: number; readonly best?: Float64Array; readonly margin?: number } = {},
): Score {
  const halves = Math.min(packed.halves, options.limit ?? packed.halves);
  const { best } = options;
  const margin = options.margin ?? Number.POSITIVE_INFINITY;
  const { probes } = trial;
  const count = packed.nets.length;
  const curve = new Float64Array(Math.ceil(halves / WINDOW));
  let nats = 0;
  let inWindow = 0;
  let first = -1;
  let firstBits = 0;
  let failures = 0;
  let print = 0x811c9dc5;
  let before = 0;
  let earlier = 0;
  let earliest = 0;
  const { lag } = packed;
  let failing = 0;
  let confirmed = 0;
  let guessing = 0;
  let inGuesses = 0;
  const softs = new Int32Array(3);
  let seenBefore = packed.level[0] ?? 0;
  let k = 0;
  const { inReset, skip } = start;
  /** One half clock; reset goes after the edge, as it is seen to have gone at the end of that half clock. */
  const half = (n: number): void => {
    trial.half();
    if (n === inReset) trial.releaseReset();
  };
  for (let n = 0; n < inReset + skip; n++) half(n);
  for (; k < halves; k++) {
    half(inReset + skip + k);
    let word = 0;
    let soft = 0;
    let guess = 0;
    const { level, soft: why } = trial;
    for (let bit = 0; bit < count; bit++) {
      const node = probes[bit]!;
      word |= level[node]! << bit;
      const reason = why[node]!;
      if (reason !== 0) {
        soft |= 1 << bit;
        if ((reason & GUESS) !== 0) guess |= 1 << bit;
      }
    }
    const strong = packed.strong[k]!;
    const seen = packed.level[k]!;
    if (k === 0) before = earlier = earliest = word;
    const differ = (word ^ seen) & strong;
    let firm = differ & (before ^ seen) & ~soft;
    if (lag > 1) firm &= earlier ^ seen;
    if (lag > 2) firm &= earliest ^ seen;
    const loose = differ & soft;
    print = Math.imul(print ^ (word & ~soft), 0x01000193) ^ Math.imul(soft, 0x9e3779b1);
    print ^= print >>> 15;
    if (firm !== 0) {
      // What is wrong for one half clock only may be a level that moves at the edge.
      const lasting = firm & failing;
      const onset = bitCount(lasting & ~confirmed);
      inWindow +=
        onset * FIRM_ONSET + bitCount(lasting & confirmed) * FIRM_LASTING + bitCount(firm & ~failing) * FIRM_BRIEF;
      failures += onset;
      if (first < 0 && onset > 0) {
        first = k;
        firstBits = lasting;
      }
      confirmed = lasting;
    } else confirmed = 0;
    // A guess explains a change that it did not foresee, but it does not foresee it.
    // What a bus does in the first half clocks that nobody drives it (holds, falls, rises) is no surprise.
    const long = soft & softs[0]! & softs[1]! & softs[2]!;
    const surprise = (((seen ^ seenBefore) & strong) | (loose & ~guessing)) & long;
    softs[2] = softs[1]!;
    softs[1] = softs[0]!;
    softs[0] = soft;
    if (surprise !== 0) inGuesses += bitCount(surprise) * GUESS_CHANGE;
    seenBefore = seen;
    failing = firm;
    guessing = loose;
    earliest = earlier;
    earlier = before;
    before = word;
    // Hold what was seen.
    const hold = (firm | (soft & strong)) & (differ | guess);
    if (hold !== 0) {
      for (let bit = 0; bit < count; bit++)
        if (((hold >>> bit) & 1) !== 0) trial.clamp(probes[bit]!, (seen >>> bit) & 1);
      trial.step();
      if (guess !== 0) trial.learn();
    }
    if ((k & (WINDOW - 1)) === WINDOW - 1 || k === halves - 1) {
      nats -= Math.min(inWindow, WINDOW_MOST) + Math.min(inGuesses, GUESS_MOST);
      inWindow = 0;
      inGuesses = 0;
      const window = k >> 6;
      curve[window] = nats;
      if (best !== undefined && nats < best[Math.min(window, best.length - 1)]! - margin) {
        k++;
        break;
      }
    }
  }
  return { nats, halves: k, curve, first, firstBits, failures, print: print >>> 0 };
}
