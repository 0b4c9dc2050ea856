// Predicted and captured, side by side: where they first differ, and how far each channel agrees.

import { foldName } from '../../base/index.ts';
import type { Observed, ObservedNet, Predicted } from '../model.ts';
import { compareAt, type Packed, pack } from './packed.ts';

/** One net of a comparison. */
export interface NetComparison {
  readonly net: string;
  /** Half clocks that could be compared: known in both. */
  readonly compared: number;
  /** Share of them that agree, 1 where none could be compared. */
  readonly agreement: number;
  /** First entry of the capture that firmly differs, or null. */
  readonly firstDifference: number | null;
}

/** What a comparison found. */
export interface Comparison {
  /** Entry of the prediction that belongs to entry 0 of the capture; null where no place was found. */
  readonly offset: number | null;
  readonly nets: readonly NetComparison[];
  readonly firstDifference: {
    /** Entry of the capture, and its end in s. */
    readonly half: number;
    readonly time: number;
    /** Half clocks since reset; null where that is not known. */
    readonly sinceReset: number | null;
    readonly nets: readonly { readonly net: string; readonly predicted: 0 | 1; readonly captured: 0 | 1 }[];
  } | null;
  /** Half clocks compared. */
  readonly halves: number;
  /** Entries where one bit alone differs and nothing else for a while: noise, or a fault that shows that rarely. */
  readonly strays: readonly number[];
}

/** Nets that both have, in the capture's order. */
export function commonNets(
  observed: Observed,
  predicted: Predicted,
): { readonly seen: readonly ObservedNet[]; readonly told: Predicted['nets'] } {
  const byName = new Map(predicted.nets.map((net) => [foldName(net.net), net]));
  const seen = observed.nets.filter((net) => byName.has(foldName(net.net)));
  return { seen, told: seen.map((net) => byName.get(foldName(net.net))!) };
}

const SLACK = 12;
const LOOK = 2000;

/** Both packed; of the capture, what is firm. */
function packBoth(observed: Observed, predicted: Predicted): { readonly a: Packed; readonly b: Packed } {
  const { seen, told } = commonNets(observed, predicted);
  return {
    a: pack(
      seen.map(({ level, strong }) => ({ level, known: strong })),
      observed.halves,
    ),
    b: pack(told, predicted.halves),
  };
}

/** A place in the prediction, and how well it fits. */
export interface TracePlace {
  readonly offset: number;
  /** Half clocks before the first difference, and share of bits that agree in the stretch looked at. */
  readonly prefix: number;
  readonly agreement: number;
}

/**
 * Where in the prediction the capture belongs. With the release of reset in both, near it: an input that is let go at any time is
 * seen by the processor a clock sooner or later. Without it, the stretch that fits best anywhere. `parity` false where nothing
 * tells which half of the clock is high. Undefined where nothing fits.
 */
export function findPlace(observed: Observed, predicted: Predicted, parity = true): TracePlace | undefined {
  const { a, b } = packBoth(observed, predicted);
  const fitsParity = (offset: number): boolean =>
    !parity || ((offset & 1) === 0) === (observed.firstHigh === predicted.firstHigh);
  if (observed.sinceReset !== null && predicted.sinceReset !== null) {
    const middle = observed.sinceReset - predicted.sinceReset;
    // While reset is held nothing tells: the first thousands of half clocks after it do.
    const begin = Math.max(0, -observed.sinceReset - 4);
    let best: TracePlace | undefined;
    let bestScore = -1;
    for (let slip = 0; slip <= 2 * SLACK; slip++) {
      const offset = middle + (slip & 1 ? -((slip + 1) >> 1) : slip >> 1);
      if (!fitsParity(offset)) continue;
      const { compared, differing, first } = compareAt(a, b, offset, begin, begin + LOOK);
      if (compared === 0) continue;
      const prefix = first < 0 ? LOOK : first - begin;
      const agreement = 1 - differing / compared;
      const score = prefix + LOOK * agreement;
      if (score > bestScore + 1e-9) {
        bestScore = score;
        best = { offset, prefix, agreement };
      }
    }
    return best;
  }
  // Free running: windows of the capture, each at every offset.
  const width = Math.min(observed.halves, 600);
  const starts = [
    ...new Set([0, 0.25, 0.5, 0.75].map((share) => Math.floor(share * Math.max(0, observed.halves - width)))),
  ];
  let best: { offset: number; differing: number; compared: number } | undefined;
  for (const start of starts) {
    for (let offset = -start; offset + start + 64 <= predicted.halves; offset++) {
      if (!fitsParity(offset)) continue;
      const most: number = best === undefined ? Number.POSITIVE_INFINITY : best.differing;
      const { compared, differing } = compareAt(a, b, offset, start, start + width, most);
      // Too little in common tells nothing.
      if (compared < width * 2 || differing >= most) continue;
      best = { offset, differing, compared };
      if (differing === 0) break;
    }
    if (best !== undefined && best.differing === 0) break;
  }
  if (best === undefined || best.differing > best.compared * 0.06) return undefined;
  const whole = compareAt(a, b, best.offset, 0, observed.halves);
  return {
    offset: best.offset,
    prefix: whole.first < 0 ? observed.halves : whole.first,
    agreement: 1 - best.differing / best.compared,
  };
}

/** A bit that differs alone, with nothing else that differs within so many half clocks, is a stray. */
const ALONE = 64;
/** Strays above this share of half clocks are no noise any more. */
const MOST_STRAYS = 1 / 500;

/** Which entries count as differing, given how many nets differ in each; and the strays. */
function withoutStrays(differing: Uint8Array): {
  readonly strays: number[];
  readonly counts: (half: number) => boolean;
} {
  const strays: number[] = [];
  let before = -ALONE - 1;
  for (let h = 0; h < differing.length; h++) {
    if (differing[h] === 0) continue;
    let next = h + 1;
    while (next < differing.length && differing[next] === 0 && next - h <= ALONE) next++;
    const isAlone = differing[h] === 1 && h - before > ALONE && (next >= differing.length || next - h > ALONE);
    if (isAlone) strays.push(h);
    before = h;
  }
  // More than noise makes: each of them counts.
  const isNoise = strays.length <= Math.max(2, differing.length * MOST_STRAYS);
  const set = new Set(isNoise ? strays : []);
  return { strays: isNoise ? strays : [], counts: (half) => !set.has(half) };
}

/** Compares at a place; without one nothing is compared. `clock` is the net that the capture was laid on, which tells nothing. */
export function compareTraces(
  observed: Observed,
  predicted: Predicted,
  place: TracePlace | undefined,
  clock?: string,
): Comparison {
  const { seen, told } = commonNets(observed, predicted);
  if (place === undefined)
    return {
      offset: null,
      nets: seen.map(({ net }) => ({ net, compared: 0, agreement: 1, firstDifference: null })),
      firstDifference: null,
      halves: 0,
      strays: [],
    };
  const { offset } = place;
  const begin = Math.max(0, -offset);
  // Beyond a stretch of unknown length nothing can be set side by side.
  const end = Math.min(observed.halves, predicted.halves - offset, ...(observed.gaps ?? []));
  const isClock = (net: string): boolean =>
    observed.by === 'clock' && clock !== undefined && foldName(net) === foldName(clock);
  const differing = new Uint8Array(observed.halves);
  seen.forEach((net, k) => {
    if (isClock(net.net)) return;
    const { level } = told[k]!;
    for (let h = begin; h < end; h++) {
      const want = level[h + offset]!;
      if (want < 2 && net.strong[h] === 1 && net.level[h] !== want && differing[h]! < 255) differing[h]!++;
    }
  });
  const { strays, counts } = withoutStrays(differing);
  const nets = seen.map((net, k): NetComparison => {
    if (isClock(net.net)) return { net: net.net, compared: end - begin, agreement: 1, firstDifference: null };
    const { level } = told[k]!;
    let compared = 0;
    let agreeing = 0;
    let first = -1;
    for (let h = begin; h < end; h++) {
      const want = level[h + offset]!;
      if (want > 1 || net.known[h] !== 1) continue;
      compared++;
      if (net.level[h] === want) agreeing++;
      else if (first < 0 && net.strong[h] === 1 && counts(h)) first = h;
    }
    return {
      net: net.net,
      compared,
      agreement: compared === 0 ? 1 : agreeing / compared,
      firstDifference: first < 0 ? null : first,
    };
  });
  const firsts = nets.flatMap(({ firstDifference }) => firstDifference ?? []);
  const half = firsts.length === 0 ? -1 : Math.min(...firsts);
  return {
    offset,
    nets,
    firstDifference:
      half < 0
        ? null
        : {
            half,
            time: observed.times[half]!,
            sinceReset: predicted.sinceReset === null ? null : predicted.sinceReset + half + offset,
            nets: nets.flatMap(({ net, firstDifference }, k) =>
              firstDifference === half
                ? [{ net, predicted: told[k]!.level[half + offset] as 0 | 1, captured: seen[k]!.level[half] as 0 | 1 }]
                : [],
            ),
          },
    halves: Math.max(0, end - begin),
    strays,
  };
}
