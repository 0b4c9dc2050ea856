// From observations to places to look at: slips collapsed into classes, each class run against what was observed, the survivors
// run in full with other physics, equal ones grouped, and a verdict. Pure and cut in parts: a host runs `evaluate` for one part
// of the classes in each of its workers, puts the results together and asks for the ranking.

import type { Observed } from '../model.ts';
import { type Bench, bothEdits, type Edit, type Fault, nodesOf, probeOf } from '../faults/index.ts';
import { classesOf, type FaultClassOfNets } from './classes.ts';
import { findStart } from './start.ts';
import { type Packed, pack } from './packed.ts';
import { type Score, scoreTrial, type Start, WINDOW } from './score.ts';
import { type Physics, PLAIN_PHYSICS, Trial } from './trial.ts';
import { pinsThatCount, type TrialPlan } from './trial-plan.ts';

export interface DiagnoseInput {
  readonly bench: Bench;
  readonly plan: TrialPlan;
  readonly faults: readonly Fault[];
  /** One or more captures of the same machine. */
  readonly observed: readonly Observed[];
  readonly images?: ReadonlyMap<string, Uint8Array>;
  /** Half clocks looked at in each capture, at most. Default 8,000. */
  readonly most?: number;
}

/** One capture made ready. */
export interface ReadyCapture {
  readonly packed: Packed;
  readonly probes: readonly number[];
  /** Undefined where nothing fits: then each hypothesis looks for its own. */
  readonly start: Start | undefined;
  readonly good: Score;
}

export interface Prepared {
  readonly input: DiagnoseInput;
  readonly classes: readonly FaultClassOfNets[];
  readonly captures: readonly ReadyCapture[];
  /** Nets of captures that no probe could be found for. */
  readonly unknownNets: readonly string[];
  readonly edgesPerHalf: number;
}

/** What one class came to. Plain data. */
export interface ClassResult {
  readonly at: number;
  /** Nats over all captures, with the best physics; what was not run to the end counts as far as it got. */
  readonly nats: number;
  /** Run to the end in every capture. */
  readonly whole: boolean;
  /** First failure of a firm prediction, by capture. */
  readonly first: readonly number[];
  readonly failures: number;
  readonly print: number;
  readonly halves: number;
}

/** Gets classes, starts and the curve of the machine as meant. */
export function prepare(input: DiagnoseInput): Prepared {
  const { bench, plan } = input;
  const unknownNets = new Set<string>();
  const place = (net: string): number => {
    const probe = probeOf(bench, net);
    if (probe === undefined) unknownNets.add(net);
    return probe?.strip ?? -1;
  };
  const reset = bench.netlist.nets[bench.pins[plan.resetPin]?.net ?? -1]?.name;
  const clock = bench.netlist.nets[bench.pins[plan.clockPin]?.net ?? -1]?.name;
  const packs = input.observed.map((observed) =>
    pack(observed, (net) => place(net) >= 0, reset, clock, input.most ?? 8000),
  );
  const strips = packs.map((packed) => packed.nets.map(place));
  // Without a capture everything that could be probed counts.
  const all =
    packs.length > 0
      ? [...new Set(strips.flat())]
      : bench.netlist.nets.flatMap(({ kind, name }) => (kind === 'signal' && place(name) >= 0 ? [place(name)] : []));
  const counts = pinsThatCount(plan, all);
  const classes = classesOf(bench, all, input.faults, counts);
  const trial = new Trial(plan);
  const edgesPerHalf = trial.measureHalf(nodesOf(bench, [], {}));
  const captures = packs.map((packed, k): ReadyCapture => {
    const probes = strips[k]!;
    const nodes = nodesOf(bench, probes, {});
    const start = findStart(trial, packed, () => trial.wire(nodes, {}, PLAIN_PHYSICS), probes);
    trial.wire(nodes, {}, PLAIN_PHYSICS);
    return { packed, probes, start, good: scoreTrial(trial, packed, start) };
  });
  return { input, classes, captures, unknownNets: [...unknownNets], edgesPerHalf };
}

/** Results before anything was captured: every slip as likely as its prior. `isWrong`: something is known to be wrong. */
export function unmeasured(prepared: Prepared, isWrong: boolean): ClassResult[] {
  return prepared.classes.flatMap(({ isCorrect }, at) =>
    isCorrect && isWrong ? [] : [{ at, nats: 0, whole: false, first: [], failures: 0, print: at, halves: 0 }],
  );
}

export interface EvaluateOptions {
  /** This part of so many. Default the whole. */
  readonly part?: number;
  readonly of?: number;
  /** Told now and then; false stops. */
  readonly progress?: (done: number, total: number) => boolean;
  /** Nats below the leader at which a run is given up. */
  readonly margin?: number;
}

const PAIR_MARGIN = 40;
/** Nats within which a leader explains everything: then only what is worse than it tries other levels of floating nets. */
const FITS_WELL = 60;
const FIRST_LOOK = 4;
/** Nats by which another level of one floating net may fall behind before it is given up. */
const OWN_MARGIN = 8;
/** Floating nets tried one by one at most; below this cost none are. */
const MOST_LOOSE = 40;
const FLOAT_COST = 3;

/** What it costs to take things otherwise than they mostly are, in nats. */
function costOf({ floats, wins, unfed }: Physics): number {
  return (floats === 'any' ? 1.5 : 0) + (wins === 1 ? 0.7 : 0) + (unfed === 'dead' ? 0 : 2);
}

/** Two slips at once, and how well they explain the captures. */
export interface PairResult {
  readonly a: number;
  readonly b: number;
  readonly nats: number;
  readonly failures: number;
}

/** Singles that a pair is made of: each of the first with each of the second number of leaders. */
const PAIR_FIRST = 16;
const PAIR_SECOND = 80;

/**
 * Where no single slip explains the captures: pairs of the best singles, best first. Classes by their place in `prepared.classes`.
 */
export function evaluatePairs(
  prepared: Prepared,
  results: readonly ClassResult[],
  progress?: (done: number, total: number) => boolean,
): PairResult[] {
  const { classes, captures, input } = prepared;
  const order = [...results]
    .filter(({ at }) => !classes[at]!.isCorrect)
    .sort((x, y) => y.nats - x.nats || classes[y.at]!.prior - classes[x.at]!.prior || x.at - y.at)
    .slice(0, PAIR_SECOND);
  const trial = new Trial(input.plan);
  trial.setHalf(prepared.edgesPerHalf);
  const best = captures.map(({ good }) => Float64Array.from(good.curve));
  const found: PairResult[] = [];
  const total = Math.min(PAIR_FIRST, order.length) * order.length;
  let done = 0;
  for (let i = 0; i < Math.min(PAIR_FIRST, order.length); i++)
    for (let j = i + 1; j < order.length; j++) {
      done++;
      if ((done & 15) === 0 && progress?.(done, total) === false) return found;
      const edit = bothEdits(classes[order[i]!.at]!.edit, classes[order[j]!.at]!.edit);
      let leader: { nats: number; failures: number } | undefined;
      for (const floats of [1, 0] as const) {
        let nats = 0;
        let failures = 0;
        let isWhole = true;
        captures.forEach((capture, k) => {
          trial.wire(nodesOf(input.bench, capture.probes, edit), edit, { ...PLAIN_PHYSICS, floats }, input.images);
          const start = capture.start ?? { inReset: 24, skip: 0 };
          const score = scoreTrial(trial, capture.packed, start, { best: best[k]!, margin: PAIR_MARGIN });
          if (score.halves < capture.packed.halves) isWhole = false;
          else for (let w = 0; w < score.curve.length; w++) best[k]![w] = Math.max(best[k]![w]!, score.curve[w]!);
          nats += score.nats;
          failures += score.failures;
        });
        if (isWhole && (leader === undefined || nats > leader.nats)) leader = { nats, failures };
        if (trial.loose.length === 0) break;
      }
      if (leader !== undefined) found.push({ a: order[i]!.at, b: order[j]!.at, ...leader });
    }
  return found.sort((x, y) => y.nats - x.nats || x.a - y.a || x.b - y.b);
}

/** Runs the classes of one part. Deterministic for a part; what is given up depends on the part's own leader only. */
export function evaluate(prepared: Prepared, options: EvaluateOptions = {}): ClassResult[] {
  const { classes, captures, input } = prepared;
  const part = options.part ?? 0;
  const of = options.of ?? 1;
  // Where the machine as meant explains everything, one clear failure puts a slip out of question.
  const margin = options.margin ?? (captures.every(({ good }) => good.failures === 0) ? 25 : 60);
  const trial = new Trial(input.plan);
  trial.setHalf(prepared.edgesPerHalf);
  const mine = classes.map((_, k) => k).filter((k) => k % of === part || classes[k]!.isCorrect);
  const results = new Map<number, ClassResult>();
  const best = captures.map(({ good }) => Float64Array.from(good.curve));
  // Windows of each capture in which the machine as meant first fails: nothing is decided before.
  const shows = captures.map(({ good }) => (good.first < 0 ? -1 : good.first));
  let done = 0;
  const total = mine.length * 2;
  let isStopped = false;
  const tell = (): void => {
    done++;
    if ((done & 15) === 0 && options.progress?.(done, total) === false) isStopped = true;
  };
  const raise = (capture: number, curve: Float64Array, whole: boolean): void => {
    const to = best[capture]!;
    for (let w = 0; w < curve.length; w++) if ((whole || curve[w] !== 0) && curve[w]! > to[w]!) to[w] = curve[w]!;
  };
  const runOne = (
    edit: Edit,
    physics: Physics,
    limits: readonly number[] | undefined,
    own?: readonly Float64Array[],
  ): ClassResult & { readonly curves: readonly Float64Array[] } => {
    const curves: Float64Array[] = [];
    let nats = 0;
    let whole = true;
    let failures = 0;
    let print = 0;
    let halves = 0;
    const first: number[] = [];
    captures.forEach((capture, k) => {
      const nodes = nodesOf(input.bench, capture.probes, edit);
      trial.wire(nodes, edit, physics, input.images);
      const limit = limits?.[k] ?? capture.packed.halves;
      const score = scoreTrial(trial, capture.packed, capture.start ?? { inReset: 24, skip: 0 }, {
        best: own?.[k] ?? best[k]!,
        margin: own === undefined ? margin : OWN_MARGIN,
        limit,
      });
      curves.push(score.curve);
      const isWhole = score.halves >= Math.min(limit, capture.packed.halves);
      if (isWhole && limit >= capture.packed.halves) raise(k, score.curve, true);
      if (!isWhole || limit < capture.packed.halves) whole = whole && isWhole && limit >= capture.packed.halves;
      // What is not run counts as the best there is from there on.
      const from = score.curve[Math.max(0, Math.ceil(score.halves / WINDOW) - 1)] ?? 0;
      const leader = best[k]!;
      const rest = leader.at(-1)! - (leader[Math.max(0, Math.ceil(score.halves / WINDOW) - 1)] ?? 0);
      nats += from + (score.halves >= capture.packed.halves ? 0 : rest);
      failures += score.failures;
      print = Math.imul(print ^ score.print, 0x85ebca6b) >>> 0;
      halves += score.halves;
      first.push(score.first);
      if (!isWhole) whole = false;
    });
    nats -= costOf(physics);
    return { at: -1, nats, whole, failures, print, halves, first, curves };
  };
  /** All physics that can matter for a class. */
  const runClass = (at: number, limits: readonly number[] | undefined): ClassResult => {
    const { edit } = classes[at]!;
    let leader = runOne(edit, PLAIN_PHYSICS, limits);
    let halves = leader.halves;
    let chosen = PLAIN_PHYSICS;
    const consider = (physics: Physics, own?: readonly Float64Array[]): void => {
      const other = runOne(edit, physics, limits, own);
      halves += other.halves;
      if (own !== undefined && !other.whole && leader.whole) return;
      if (other.nats <= leader.nats) return;
      leader = other;
      chosen = physics;
    };
    const loose = [...trial.loose];
    const hasLoose = loose.length > 0;
    const hasUnfed = trial.hasUnfed;
    let hadConflict = trial.hadConflict;
    const top = best.reduce((sum, curve) => sum + curve.at(-1)!, 0);
    const isLate = limits === undefined;
    if (leader.nats < (isLate && top > -FITS_WELL ? top - 1 : -1)) {
      if (hasLoose) {
        consider({ ...PLAIN_PHYSICS, floats: 0 });
        hadConflict ||= trial.hadConflict;
        if (leader.nats < -FLOAT_COST) consider({ ...PLAIN_PHYSICS, floats: 'any' });
      }
      if (hadConflict) {
        consider({ ...PLAIN_PHYSICS, wins: 1 });
        if (hasLoose) consider({ ...PLAIN_PHYSICS, floats: 0, wins: 1 });
      }
      if (hasUnfed) {
        consider({ ...PLAIN_PHYSICS, unfed: 'works' });
        consider({ ...PLAIN_PHYSICS, unfed: 'low' });
      }
      // Several nets that float: each at a level of its own.
      if (loose.length > 1 && loose.length <= MOST_LOOSE && captures.length === 1 && leader.nats < -FLOAT_COST) {
        if (chosen.floats === 'any') chosen = { ...chosen, floats: 1 };
        for (let pass = 0; pass < 2; pass++) {
          const before = leader.nats;
          for (const node of loose) {
            const floats = Uint8Array.from({ length: trial.level.length }, (_, n) =>
              typeof chosen.floats === 'object' ? chosen.floats[n]! : chosen.floats === 0 ? 0 : 1,
            );
            floats[node] = 1 - floats[node]!;
            consider({ ...chosen, floats }, leader.curves);
          }
          if (leader.nats <= before) break;
        }
      }
    }
    const { curves: _curves, ...result } = leader;
    return { ...result, at, halves };
  };
  // A first look as far as shortly after the machine as meant fails, then the rest for those that are still in it.
  const limits = captures.map(({ packed }, k) =>
    shows[k]! < 0 ? packed.halves : Math.min(packed.halves, (Math.ceil(shows[k]! / WINDOW) + FIRST_LOOK) * WINDOW),
  );
  const isShort = limits.every((limit, k) => limit >= captures[k]!.packed.halves);
  for (const at of mine) {
    if (isStopped) break;
    results.set(at, runClass(at, isShort ? undefined : limits));
    tell();
  }
  if (!isShort && !isStopped) {
    const order = [...results.values()].sort((a, b) => b.nats - a.nats || a.at - b.at);
    const top = order[0]?.nats ?? 0;
    for (const result of order) {
      if (isStopped) break;
      tell();
      if (result.nats < top - margin * captures.length) continue;
      results.set(result.at, runClass(result.at, undefined));
    }
  }
  return [...results.values()].sort((a, b) => a.at - b.at);
}
