// Bus timing of a machine as of a stage: every cycle of its processor with every part that answers, the fastest and slowest clock,
// wait states, the critical path, and which single faster part helps most.

import { foldName } from '../../base/index.ts';
import type { Design, Netlist, NetPart } from '../../netlist/index.ts';
import type { NetLoading } from '../loading.ts';
import type { MarginOptions } from '../model.ts';
import { clockRequirements, slowestClock } from './clock-of.ts';
import { busContext } from './context.ts';
import { partNamed } from './candidates.ts';
import { BusCycleCheck } from './cycle-check.ts';
import type { BusContext } from './launches.ts';
import { waitRows } from './pause-rows.ts';
import { readRows } from './read-rows.ts';
import { writeRows } from './write-rows.ts';
import { type Requirement, rowAt, shortestFor, type TimingRow } from './row.ts';
import { arcNs } from './trace.ts';

/** Which single part, in which of its grades, lets the clock go highest. */
export interface FasterPart {
  readonly part: string;
  readonly grade: string;
  readonly maxClockHz: number;
}

export interface BusTiming {
  readonly processor: string | null;
  /** Hz: asked for, else the machine's own. */
  readonly clockHz: number | null;
  readonly rows: readonly TimingRow[];
  /**
   * Hz of the machine's clock up to which every row that depends on it stays positive; null where any row is unknown, for then
   * nobody knows. `ofKnown` leaves the unknown out.
   */
  readonly maxClockHz: number | null;
  readonly maxClockOfKnownHz: number | null;
  readonly minClockHz: number | null;
  /** Wait states that the slowest part needs at this clock; null where unknown or waiting doesn't help. */
  readonly waitStates: number | null;
  /** Rows that are negative at every clock. */
  readonly never: readonly TimingRow[];
  /** The row that limits the clock, among those known. */
  readonly critical: TimingRow | null;
  readonly faster: FasterPart | null;
  /** What is taken for granted. */
  readonly assumptions: readonly string[];
  readonly unknown: readonly string[];
}

export interface TimingOptions extends MarginOptions {
  /** Another clock than the machine's, Hz. */
  readonly clockHz?: number;
  /** Wait states put in at every cycle. */
  readonly waits?: number;
  /** Loading as worked out before, for the delay of loads; none adds nothing. */
  readonly loading?: readonly NetLoading[];
  /** Another grade for a part, by name folded. */
  readonly grades?: ReadonlyMap<string, string>;
  /** Leaves out which part to replace, which costs a run for each grade. */
  readonly withoutAdvice?: boolean;
}

const NOTHING: BusTiming = {
  processor: null,
  clockHz: null,
  rows: [],
  maxClockHz: null,
  maxClockOfKnownHz: null,
  minClockHz: null,
  waitStates: null,
  never: [],
  critical: null,
  faster: null,
  assumptions: [],
  unknown: [],
};

/** Timing of the bus as of a stage. Without a processor that is known there are no rows. */
export function busTiming(design: Design, stage: number, options: TimingOptions): BusTiming {
  const found = busContext(design, stage, options);
  if (found === undefined) return NOTHING;
  if (found.context === undefined) return { ...NOTHING, processor: found.processor.name, unknown: [found.missing] };
  const { context, find, hz, processor } = found;
  const { netlist } = context;
  const model = context.clock;
  const requirements = [...clockRequirements(context, find), ...cycleRequirements(context)];
  const fact = processor.record.facts?.['clock-divided-by'];
  const divide = typeof fact === 'number' ? fact : 1;
  const clockHz = options.clockHz ?? hz ?? null;
  const frequency = (periodNs: number): number => (1e9 * divide) / periodNs;
  // Without a clock the rows stand at 1 MHz of the bus, and no margin is told.
  const periodNs = clockHz === null ? 1000 : (1e9 * divide) / clockHz;
  const rows = requirements.map((requirement) => rowAt(requirement, periodNs, frequency));
  const shortest = requirements.map(shortestFor);
  // What no clock mends says nothing of the clock; it stands in the rows with its negative margin.
  const known = shortest.filter((period) => period !== undefined && Number.isFinite(period)) as number[];
  const longest = known.length === 0 ? undefined : Math.max(...known);
  const unknown = [...new Set(rows.flatMap((row) => row.missing))].sort();
  const toHz = (period: number): number => (period === 0 ? Number.POSITIVE_INFINITY : frequency(period));
  const ofKnown = longest === undefined ? null : finite(toHz(longest));
  const criticalAt = longest === undefined ? -1 : shortest.indexOf(longest);
  const waiting = rows.map((row) => (row.marginNs === null ? null : row.marginNs >= 0 ? 0 : row.waitStates));
  const timed: BusTiming = {
    processor: processor.name,
    clockHz,
    rows,
    maxClockHz: unknown.length > 0 ? null : ofKnown,
    maxClockOfKnownHz: ofKnown,
    minClockHz: slowestClock(context, find, divide),
    waitStates: waiting.some((waits) => waits === null) ? null : Math.max(0, ...waiting.map((waits) => waits!)),
    never: rows.filter((_, k) => shortest[k] === Number.POSITIVE_INFINITY),
    critical: criticalAt < 0 ? null : rows[criticalAt]!,
    faster: null,
    assumptions: [
      `Clock: ${model.says}.`,
      'A shortest delay that the maker does not print counts as 0.',
      'Outputs that one chip launches from one edge of its clock are slow or fast together (common practice, no source).',
      ...(options.wiring === undefined ? ['No layout: wire and strips add nothing.'] : []),
    ],
    unknown,
  };
  return options.withoutAdvice === true
    ? timed
    : { ...timed, faster: fasterPart(design, stage, options, netlist, timed) };
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

/** Every cycle with every part that the map puts in its space; acknowledge with parts that give a vector. */
function cycleRequirements(context: BusContext): Requirement[] {
  const { design, stage, netlist, processor, timing } = context;
  const rows: Requirement[] = [];
  const regions = design.map.filter(
    (region) => region.stage <= stage && (region.until === undefined || stage < region.until),
  );
  for (const cycle of timing.cycles) {
    const check = new BusCycleCheck(context, cycle);
    const targets =
      cycle.space === 'vector'
        ? netlist.parts.filter(
            (part) =>
              part.id !== processor.id &&
              (part.record.bus?.signals?.fetch !== undefined ||
                part.record.bus?.signals?.['interrupt-acknowledge'] !== undefined) &&
              part.record.bus.role === 'peripheral',
          )
        : regions
            .filter(
              (region) => region.space === cycle.space && (region.access === undefined || region.access === cycle.way),
            )
            .flatMap((region) => partNamed(netlist.parts, region.part) ?? []);
    if (targets.length > 0) rows.push(...waitRows(check));
    for (const target of new Set(targets)) {
      const role = target.record.bus?.role;
      if (cycle.way === 'read' && role === 'latch') continue;
      if (cycle.way === 'write' && role === 'buffer') continue;
      rows.push(...(cycle.way === 'read' ? readRows(check, target) : writeRows(check, target)));
    }
  }
  return rows;
}

/** Tries every other grade of the parts on the limiting path. */
function fasterPart(
  design: Design,
  stage: number,
  options: TimingOptions,
  netlist: Netlist,
  now: BusTiming,
): FasterPart | null {
  const { critical, maxClockOfKnownHz } = now;
  if (critical === null || maxClockOfKnownHz === null) return null;
  let best: FasterPart | null = null;
  for (const name of new Set(critical.path.map((step) => step.part))) {
    const part = partNamed(netlist.parts, name);
    if (part === undefined || part.family !== undefined) continue;
    for (const grade of quickest(part, critical)) {
      const grades = new Map([...(options.grades ?? []), [foldName(name), grade] as const]);
      const then = busTiming(design, stage, { ...options, grades, withoutAdvice: true });
      const hz = then.maxClockOfKnownHz;
      if (hz === null || then.unknown.length > now.unknown.length) continue;
      if (hz > (best?.maxClockHz ?? maxClockOfKnownHz) + 1) best = { part: name, grade, maxClockHz: hz };
    }
  }
  return best;
}

/** The two grades of a part that shorten its share of a path most; those that lack one of its figures are no advice. */
function quickest(part: NetPart, row: TimingRow): string[] {
  const steps = row.path.filter((step) => foldName(step.part) === foldName(part.name));
  const now = steps.reduce((sum, step) => sum + step.ns, 0);
  return Object.entries(part.record.grades ?? {})
    .flatMap(([grade, { arcs = [] }]) => {
      if (grade === part.grade) return [];
      let sum = 0;
      for (const step of steps) {
        const arc = arcs.find((item) => item.symbol === step.symbol);
        const ns = arc === undefined ? null : (arcNs(arc, 'max') ?? arcNs(arc, 'min'));
        if (ns === null) return [];
        sum += ns;
      }
      return sum < now ? [{ grade, sum }] : [];
    })
    .sort((a, b) => a.sum - b.sum)
    .slice(0, 2)
    .map(({ grade }) => grade);
}
