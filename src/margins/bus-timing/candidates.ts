// Choosing among edges and candidates: the slowest, the soonest, any of several promises.

import { foldName } from '../../base/index.ts';
import type { NetPart } from '../../netlist/index.ts';
import type { Launch } from './cycle.ts';
import type { Candidate } from './row.ts';
import type { Arrival } from './trace.ts';

/** Of edges that come the same way to several pins, the one that takes longest. */
export function latest(arrivals: readonly Arrival[]): Arrival[] {
  return reduced(arrivals, (a, b) => b.max > a.max);
}

/** Of edges that come the same way to several pins, the one that is there first. */
export function earliest(arrivals: readonly Arrival[]): Arrival[] {
  return reduced(arrivals, (a, b) => b.min < a.min);
}

function reduced(arrivals: readonly Arrival[], better: (a: Arrival, b: Arrival) => boolean): Arrival[] {
  if (arrivals.length < 2) return [...arrivals];
  const byLaunch = new Map<Launch, Arrival[]>();
  for (const arrival of arrivals) {
    const known = byLaunch.get(arrival.launch);
    if (known === undefined) {
      byLaunch.set(arrival.launch, [arrival]);
      continue;
    }
    const like = known.findIndex(
      (item) => item.edge === arrival.edge && item.missing.join() === arrival.missing.join(),
    );
    if (like < 0) known.push(arrival);
    else if (better(known[like]!, arrival)) known[like] = arrival;
  }
  return [...byLaunch.values()].flat();
}

/** One candidate that any of several promises fulfils; open only where all of them are. */
export function anyOf(candidates: readonly Candidate[]): Candidate {
  const good = candidates.filter((candidate) => candidate.missing.length === 0 && candidate.reckonings.length > 0);
  if (good.length === 0) return candidates[0]!;
  return {
    ...good[0]!,
    reckonings: good.flatMap((candidate) =>
      candidate.reckonings.map((reckoning) => ({ ...reckoning, from: reckoning.from ?? candidate.from })),
    ),
  };
}

/** The one that lacks most. */
export function worst(candidates: readonly Candidate[]): Candidate {
  return candidates.reduce((a, b) => (length([b]) > length([a]) ? b : a));
}

/** ns by which candidates fall short at a period of 1 us: only for putting them in order. */
export function length(candidates: readonly Candidate[]): number {
  const sums = candidates.flatMap((candidate) =>
    candidate.reckonings.map(
      (reckoning) =>
        reckoning.steps.reduce((sum, step) => sum + step.value.ns, 0) -
        reckoning.available.ns -
        1e3 * reckoning.available.perPeriod,
    ),
  );
  return sums.length === 0 ? 0 : Math.max(...sums);
}

/** Same part by name, without regard to case. */
export function partNamed(parts: readonly NetPart[], name: string): NetPart | undefined {
  return parts.find((part) => foldName(part.name) === foldName(name));
}
