// Results to a verdict and places to look at. Classes that explain the captures equally well, to within what the costs of guesses
// mean, cannot be told apart by them: they are one group, shown as the places in it.

import type { Fault, Place } from '../faults/index.ts';
import type { ClassResult, Prepared } from './diagnose.ts';

/** How much of the nats counts: real evidence is not as independent as the score takes it. Fitted on the training seeds of benchmarks/diagnosis. */
const TEMPER = 0.5;
/** Nats within which equal predictions count as equally good, and within which any do that fail equally often. */
const SAME = 3;
const ALIKE = 1;
/** Odds, before anything is measured, that the machine is right. */
const PRIOR_CORRECT = 1;
/** A leader that fails more often than this, a thousand half clocks, explains nothing. */
const UNEXPLAINED_PER_THOUSAND = 6;
const UNEXPLAINED_LEAST = 5;

export interface RankedPlace {
  readonly place: Place;
  /** Probability that the place is to be mended. */
  readonly probability: number;
  /** The likeliest slip there. */
  readonly fault: Fault;
}

export interface Group {
  readonly probability: number;
  /** True where the machine as meant explains it as well. */
  readonly holdsCorrect: boolean;
  readonly nats: number;
  /** Best first. */
  readonly places: readonly RankedPlace[];
  readonly faults: readonly Fault[];
  /** Classes in it. */
  readonly classes: readonly number[];
  /** Firm predictions of its best class that failed. */
  readonly failures: number;
}

export type Verdict = 'correct' | 'differs' | 'none-of-these';

export interface Diagnosis {
  readonly verdict: Verdict;
  /** Probability that the machine is right in the part that was exercised. */
  readonly correct: number;
  /** Best first; ends where a thousandth of a part is left. */
  readonly groups: readonly Group[];
  /** Every place over all groups, best first. */
  readonly places: readonly RankedPlace[];
  /** First half clock, by capture, at which the machine as meant fails, or -1. */
  readonly first: readonly number[];
  /** Hypotheses run, and half clocks in all. */
  readonly hypotheses: number;
  readonly halves: number;
}

/** Probability of each class by its result's place in `results`. */
export function posterior(prepared: Prepared, results: readonly ClassResult[], temper = TEMPER): Float64Array {
  const logs = results.map(({ at, nats }) => {
    const one = prepared.classes[at]!;
    return Math.log(one.prior + (one.isCorrect ? PRIOR_CORRECT : 0)) + temper * nats;
  });
  const most = Math.max(...logs);
  const weights = Float64Array.from(logs, (log) => Math.exp(log - most));
  const sum = weights.reduce((a, b) => a + b, 0);
  return weights.map((weight) => weight / sum);
}

/** Puts results of all parts together. Results for one class in several parts count once. */
export function rank(prepared: Prepared, parts: readonly (readonly ClassResult[])[], temper = TEMPER): Diagnosis {
  const byClass = new Map<number, ClassResult>();
  for (const result of parts.flat()) {
    const old = byClass.get(result.at);
    if (old === undefined || (result.whole && !old.whole) || (result.whole === old.whole && result.nats > old.nats))
      byClass.set(result.at, result);
  }
  const results = [...byClass.values()].sort((a, b) => a.at - b.at);
  const weights = posterior(prepared, results, temper);
  const order = results
    .map((_, k) => k)
    .sort((a, b) => results[b]!.nats - results[a]!.nats || results[a]!.at - results[b]!.at);
  const { faults } = prepared.input;
  interface Building {
    nats: number;
    print: number;
    whole: boolean;
    failures: number;
    members: number[];
  }
  const building: Building[] = [];
  const byPrint = new Map<number, Building[]>();
  for (const k of order) {
    const result = results[k]!;
    const list = byPrint.get(result.print) ?? [];
    const home = result.whole
      ? (list.find((group) => group.whole && group.nats - result.nats <= SAME) ??
        building.find(
          (group) => group.whole && group.failures === result.failures && group.nats - result.nats <= ALIKE,
        ))
      : undefined;
    if (home !== undefined) {
      home.members.push(k);
      continue;
    }
    const made = {
      nats: result.nats,
      print: result.print,
      whole: result.whole,
      failures: result.failures,
      members: [k],
    };
    building.push(made);
    byPrint.set(result.print, [...list, made]);
  }
  const placesOf = (members: readonly number[]): RankedPlace[] => {
    const found = new Map<string, { place: Place; probability: number; fault: Fault; best: number }>();
    for (const k of members) {
      const one = prepared.classes[results[k]!.at]!;
      if (one.isCorrect) continue;
      for (const member of one.members) {
        const fault = faults[member]!;
        const share = weights[k]! * (fault.prior / one.prior);
        for (const place of fault.places) {
          const old = found.get(place.key);
          if (old === undefined) found.set(place.key, { place, probability: share, fault, best: share });
          else {
            old.probability += share;
            if (share > old.best) {
              old.best = share;
              old.fault = fault;
            }
          }
        }
      }
    }
    return [...found.values()]
      .sort((a, b) => b.probability - a.probability || (a.place.key < b.place.key ? -1 : 1))
      .map(({ place, probability, fault }) => ({ place, probability, fault }));
  };
  const groups = building
    .map((group): Group => {
      const holdsCorrect = group.members.some((k) => prepared.classes[results[k]!.at]!.isCorrect);
      return {
        probability: group.members.reduce((sum, k) => sum + weights[k]!, 0),
        holdsCorrect,
        nats: group.nats,
        places: placesOf(group.members),
        faults: group.members.flatMap((k) =>
          prepared.classes[results[k]!.at]!.members.map((member) => faults[member]!),
        ),
        classes: group.members.map((k) => results[k]!.at),
        failures: Math.min(...group.members.map((k) => results[k]!.failures)),
      };
    })
    .sort((a, b) => b.probability - a.probability || b.nats - a.nats);
  const good = results.find(({ at }) => prepared.classes[at]!.isCorrect);
  const goodGroup = groups.find(({ holdsCorrect }) => holdsCorrect);
  const correct = goodGroup?.probability ?? 0;
  const whole = prepared.captures.reduce((sum, { packed }) => sum + packed.halves, 0);
  const least = Math.min(...results.filter((result) => result.whole).map(({ failures }) => failures));
  const unexplained = Math.max(UNEXPLAINED_LEAST, (whole / 1000) * UNEXPLAINED_PER_THOUSAND);
  const verdict: Verdict =
    least > unexplained ? 'none-of-these' : groups[0]?.holdsCorrect === true ? 'correct' : 'differs';
  return {
    verdict,
    correct,
    groups: groups.filter(({ probability }, k) => k < 10 || probability > 1e-3).slice(0, 60),
    places: placesOf(results.map((_, k) => k)).filter(({ probability }, k) => k < 20 || probability > 1e-4),
    first: good?.first ?? [],
    hypotheses: results.length,
    halves: results.reduce((sum, { halves }) => sum + halves, 0),
  };
}
