// A line of the timing table: several ways in which one requirement may fail, the worst of which is shown at the chosen period.

import { type Affine, at, minus, shortestPeriod, ZERO, add } from './affine.ts';
import type { ClockEdge } from './clock-model.ts';
import type { Step } from './trace.ts';

/** One way of reckoning a margin: what is there, and the train of what is needed. */
export interface Reckoning {
  readonly available: Affine;
  readonly steps: readonly Step[];
  /** True where two outputs of one chip are taken to be slow or fast together. */
  readonly tracks?: boolean;
  /** The edge of the clock that it starts from, and what passes from there on before the first step. */
  readonly start?: ClockEdge;
  readonly startAfter?: Affine;
  /** The data line that is the slowest of all, where loads make them differ. */
  readonly bit?: string;
  /** True where a wait state gives a period more. */
  readonly gains?: boolean;
  /** Whose edge it is, where a candidate has several. */
  readonly from?: string;
}

/** One way in which a requirement may fail. The best of its reckonings holds, as each is a promise of its own. */
export interface Candidate {
  readonly from: string;
  readonly to: string;
  readonly reckonings: readonly Reckoning[];
  /** What is missing; then there is no reckoning that counts. */
  readonly missing: readonly string[];
}

/** What a row is about: data for the processor, a rule of the part, the lines between two drivers, how long data stay, the clock. */
export type RowKind = 'access' | 'rule' | 'turnaround' | 'read hold' | 'clock';

export interface Requirement {
  readonly cycle: string;
  readonly target: string;
  readonly check: string;
  readonly kind: RowKind;
  readonly candidates: readonly Candidate[];
}

/** One contribution as printed. */
export interface PathStep {
  readonly part: string;
  readonly symbol: string;
  readonly ns: number;
  readonly source: string;
}

/** A line of the timing table, at the chosen clock. */
export interface TimingRow {
  readonly cycle: string;
  /** The part that the cycle is with. */
  readonly target: string;
  /** What is asked for: `tACC`, `address before /WE` … */
  readonly check: string;
  readonly kind: RowKind;
  readonly from: string;
  readonly to: string;
  readonly availableNs: number | null;
  readonly requiredNs: number | null;
  readonly marginNs: number | null;
  readonly path: readonly PathStep[];
  /** The edge of the clock at which the path starts, counted from the cycle's first; null where there is none. */
  readonly start: ClockEdge | null;
  /** ns from that edge to where the path starts: for a gap that the maker promises between two of its outputs. */
  readonly startAfterNs: number;
  /** The net of the slowest data line, where loads make them differ. */
  readonly bit: string | null;
  readonly missing: readonly string[];
  /** True where it rests on two outputs of one chip being slow or fast together, which no maker promises. */
  readonly tracks: boolean;
  /** The fastest clock at which the margin isn't negative; null where unknown, and with `isFixed` where every clock will do; 0 where none helps. */
  readonly maxClockHz: number | null;
  /** True where the margin doesn't depend on the clock. */
  readonly isFixed: boolean;
  /** Wait states needed at the chosen clock; null where waiting doesn't help or the margin is unknown. */
  readonly waitStates: number | null;
}

const needed = (reckoning: Reckoning): Affine => reckoning.steps.reduce((sum, step) => add(sum, step.value), ZERO);

export function marginOf(reckoning: Reckoning): Affine {
  return minus(reckoning.available, needed(reckoning));
}

/** The shortest period at which a requirement is met; undefined where something is missing. */
export function shortestFor(requirement: Requirement): number | undefined {
  let longest = 0;
  for (const candidate of requirement.candidates) {
    if (candidate.missing.length > 0 || candidate.reckonings.length === 0) return undefined;
    const periods = candidate.reckonings.map((reckoning) => shortestPeriod(marginOf(reckoning)));
    longest = Math.max(longest, Math.min(...periods));
  }
  return longest;
}

/** The row of a requirement at a period. `frequency` turns a period of the cycles into Hz of the machine's clock. */
export function rowAt(requirement: Requirement, periodNs: number, frequency: (periodNs: number) => number): TimingRow {
  const base = {
    cycle: requirement.cycle,
    target: requirement.target,
    check: requirement.check,
    kind: requirement.kind,
  };
  const missing = [...new Set(requirement.candidates.flatMap((candidate) => candidate.missing))];
  const open = requirement.candidates.find(
    (candidate) => candidate.missing.length > 0 || candidate.reckonings.length === 0,
  );
  if (open !== undefined || requirement.candidates.length === 0) {
    return {
      ...base,
      from: open?.from ?? '',
      to: open?.to ?? '',
      availableNs: null,
      requiredNs: null,
      marginNs: null,
      path: [],
      start: null,
      startAfterNs: 0,
      bit: null,
      missing: missing.length > 0 ? missing : ['nothing that would meet it'],
      tracks: false,
      maxClockHz: null,
      isFixed: false,
      waitStates: null,
    };
  }
  let worst: { candidate: Candidate; reckoning: Reckoning; margin: number } | undefined;
  for (const candidate of requirement.candidates) {
    const best = candidate.reckonings
      .map((reckoning) => ({ candidate, reckoning, margin: at(marginOf(reckoning), periodNs) }))
      .reduce((a, b) => (b.margin > a.margin ? b : a));
    if (worst === undefined || best.margin < worst.margin) worst = best;
  }
  const { candidate, reckoning, margin } = worst!;
  const shortest = shortestFor(requirement)!;
  const isFixed = shortest === 0 || !Number.isFinite(shortest);
  return {
    ...base,
    from: reckoning.from ?? candidate.from,
    to: candidate.to,
    availableNs: at(reckoning.available, periodNs),
    requiredNs: at(needed(reckoning), periodNs),
    marginNs: margin,
    path: reckoning.steps.map((step) => ({
      part: step.part,
      symbol: step.symbol,
      ns: at(step.value, periodNs),
      source: step.source,
    })),
    start: reckoning.start ?? null,
    startAfterNs: reckoning.startAfter === undefined ? 0 : at(reckoning.startAfter, periodNs),
    bit: reckoning.bit ?? null,
    missing: [],
    tracks: reckoning.tracks === true,
    maxClockHz: shortest === 0 ? null : Number.isFinite(shortest) ? frequency(shortest) : 0,
    isFixed,
    waitStates: margin >= 0 ? 0 : reckoning.gains === true ? Math.ceil(-margin / periodNs - 1e-9) : null,
  };
}
