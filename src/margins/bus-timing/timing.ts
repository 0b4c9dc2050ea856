// Bus timing of a machine as of a stage: every cycle of its processor with every part that answers, the fastest and slowest clock,
// wait states, the critical path, and which single faster part helps most.

import { foldName } from '../../base/index.ts';
import { type Design, type Netlist, netlistAt, type NetPart, type NetPin } from '../../netlist/index.ts';
import { gradeOf, pinsNamed } from '../../parts/index.ts';
import type { NetLoading } from '../loading.ts';
import { type MarginOptions, nsPerUnit, sourceOf } from '../model.ts';
import { type Affine, minus, nanoseconds, periods } from './affine.ts';
import { arcsOf } from './arcs.ts';
import { type ClockModel, dutyClock } from './clock-model.ts';
import type { ProcessorTiming } from './cycle.ts';
import { EIGHTY_EIGHT_MAXIMUM, EIGHTY_EIGHT_TIMING } from './eighty-eight.ts';
import { formulaOf, printedFormula } from './printed-formula.ts';
import { BusCheck, type BusContext, partNamed, processorArcs } from './requirements.ts';
import { type Requirement, rowAt, shortestFor, type TimingRow } from './row.ts';
import { SIXTY_EIGHT_O_NINE_TIMING } from './sixty-eight-o-nine.ts';
import { SIXTY_FIVE_TIMING } from './sixty-five.ts';
import { arcNs, type TraceContext } from './trace.ts';
import { Z80_TIMING } from './z80.ts';

const STYLES: readonly ProcessorTiming[] = [
  Z80_TIMING,
  SIXTY_FIVE_TIMING,
  SIXTY_EIGHT_O_NINE_TIMING,
  EIGHTY_EIGHT_TIMING,
];

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

/** The clock that reaches a processor: stated by the machine, else from the record of whatever drives it. */
function clockOf(
  design: Design,
  netlist: Netlist,
  processor: NetPart,
  timing: ProcessorTiming,
  find: ReturnType<typeof processorArcs>,
): { model: ClockModel; hz: number | undefined } {
  const pinName = processor.record.bus?.signals?.clock;
  const names = pinName === undefined ? [] : pinsNamed(processor.record, pinName).map((row) => row.name);
  const pin = processor.pins.map((id) => netlist.pins[id]!).find((item) => names.includes(item.name));
  const net = pin === undefined || pin.net < 0 ? undefined : netlist.nets[pin.net];
  const clock =
    net === undefined
      ? undefined
      : (design.clocks.find((item) => item.net !== undefined && foldName(item.net) === foldName(net.name)) ??
        design.clocks[0]);
  const source = net?.pins.map((id) => netlist.pins[id]!).find((item) => item !== pin && item.kind === 'output');
  const maker = source === undefined ? undefined : netlist.parts[source.part];
  const fact = (name: string): number | undefined => {
    const value = maker?.record.facts?.[name];
    return typeof value === 'number' ? value : undefined;
  };
  const edgeNs = fact('rise-max-ns') ?? 0;
  if (timing.clockSignal === 'e') {
    // Made inside: the high part follows the period, less than half of it by what is printed at the shortest one.
    const period = find(timing.period)?.min;
    const high = find(timing.high)?.min;
    const low = find(timing.low)?.min;
    const short = (part: number | undefined): Affine | null =>
      period === undefined || part === undefined ? null : { perPeriod: 0.5, ns: part - period / 2 };
    const least = short(low);
    return {
      model: {
        highMin: short(high),
        highMax: least === null ? null : minus(periods(1), least),
        edgeNs: 0,
        says: 'E as printed at its shortest period, the rest in halves',
      },
      hz: clock?.rateHz,
    };
  }
  const generated = maker === undefined ? undefined : generatorClock(maker, edgeNs);
  if (generated !== undefined) return { model: generated, hz: clock?.rateHz };
  if (clock?.duty !== undefined)
    return {
      model: dutyClock(clock.duty, clock.duty, edgeNs, `${Math.round(clock.duty * 100)} % high, as the machine says`),
      hz: clock.rateHz,
    };
  const least = fact('duty-min-percent');
  const most = fact('duty-max-percent');
  if (least !== undefined && most !== undefined)
    return {
      model: dutyClock(least / 100, most / 100, edgeNs, `${least} to ${most} % high, as ${maker!.name} promises`),
      hz: clock?.rateHz,
    };
  return {
    model: { highMin: null, highMax: null, edgeNs, says: 'nobody says how long the clock is high' },
    hz: clock?.rateHz,
  };
}

/** A clock generator that prints how long its output is high and low at any period. */
function generatorClock(maker: NetPart, edgeNs: number): ClockModel | undefined {
  const arcs = arcsOf({ record: maker.record, family: maker.family, grade: maker.grade });
  const value = (symbol: string): Affine | undefined => {
    const formula = formulaOf(arcs.find(({ arc }) => arc.symbol === symbol)?.arc.conditions);
    return formula === undefined
      ? undefined
      : printedFormula(formula, (name) => (name === 'TCLCL' || name === 'tCLCL' ? periods(1) : undefined));
  };
  const high = value('TCHCL') ?? value('tCHCL');
  const low = value('TCLCH') ?? value('tCLCH');
  if (high === undefined || low === undefined) return undefined;
  return {
    highMin: high,
    highMax: minus(periods(1), low),
    edgeNs,
    says: `high and low as ${maker.name} prints them`,
  };
}

/** Requirements of the clock itself: period, high and low part, and the slowest clock. */
function clockRequirements(context: BusContext, find: ReturnType<typeof processorArcs>): Requirement[] {
  const { processor, timing, clock } = context;
  const make = (check: string, symbols: readonly string[], available: Affine | null): Requirement => {
    const arc = find(symbols);
    const ns = arc === undefined ? null : arcNs(arc, 'min');
    const missing = [
      ...(arc === undefined || ns === null ? [`${symbols.join(' or ')} of ${processor.name}`] : []),
      ...(available === null ? ['how long the clock is high'] : []),
    ];
    return {
      cycle: 'clock',
      target: processor.name,
      check,
      candidates: [
        {
          from: 'clock',
          to: processor.name,
          missing,
          reckonings:
            missing.length > 0
              ? []
              : [
                  {
                    available: available!,
                    steps: [
                      {
                        part: processor.name,
                        symbol: arc!.symbol,
                        value: nanoseconds(ns!),
                        source: sourceOf(processor.record, arc!.source).text,
                      },
                    ],
                  },
                ],
        },
      ],
    };
  };
  const rows = [make('clock period', timing.period, periods(1))];
  if (timing.clockSignal === 'e') return rows;
  const edge = nanoseconds(clock.edgeNs);
  rows.push(make('clock high', timing.high, clock.highMin === null ? null : minus(clock.highMin, edge)));
  rows.push(
    make('clock low', timing.low, clock.highMax === null ? null : minus(minus(periods(1), clock.highMax), edge)),
  );
  return rows;
}

function slowestClock(context: BusContext, find: ReturnType<typeof processorArcs>, divide: number): number | null {
  const { processor, timing, clock } = context;
  const stated = [gradeOf(processor.record, context.gradeOf(processor))?.clock?.min, processor.record.clock?.min].find(
    (hz) => hz !== undefined,
  );
  const limits: number[] = stated === undefined ? [] : [stated];
  const longest = (symbols: readonly string[], share: number | undefined): void => {
    const arc = find(symbols);
    const factor = arc === undefined ? undefined : nsPerUnit(arc);
    if (arc?.max === undefined || factor === undefined || share === undefined || share <= 0) return;
    limits.push((1e9 * share * divide) / (arc.max * factor));
  };
  longest(timing.period, 1);
  if (timing.clockSignal !== 'e') {
    longest(timing.high, clock.highMax?.perPeriod);
    longest(timing.low, clock.highMin === null ? undefined : 1 - clock.highMin.perPeriod);
  }
  return limits.length === 0 ? null : Math.max(...limits);
}

/** Timing of the bus as of a stage. Without a processor that is known there are no rows. */
export function busTiming(design: Design, stage: number, options: TimingOptions): BusTiming {
  const netlist = netlistAt(design, stage);
  const processor = netlist.parts.find((part) => part.record.category === 'processor');
  if (processor === undefined) return NOTHING;
  const isMaximum = isMaximumMode(netlist, processor);
  const controller = isMaximum ? netlist.parts.find((part) => part.record.bus?.role === 'bus-controller') : undefined;
  const timing = isMaximum
    ? controller === undefined
      ? undefined
      : EIGHTY_EIGHT_MAXIMUM
    : STYLES.find((item) => item.style === processor.record.bus?.style);
  if (timing === undefined)
    return {
      ...NOTHING,
      processor: processor.name,
      unknown: [
        isMaximum
          ? `the bus cycles of ${processor.name} in maximum mode without a bus controller`
          : `the bus cycles of ${processor.name} (${processor.type})`,
      ],
    };
  const gradeName = (part: NetPart): string | undefined => options.grades?.get(foldName(part.name)) ?? part.grade;
  const delays = loadDelays(netlist, options.loading ?? []);
  const traceContext: TraceContext = {
    design,
    stage,
    netlist,
    processor,
    controller,
    loadDelay: (net, driver) => delays.get(`${net} ${driver.id}`) ?? 0,
    gradeOf: gradeName,
    passes: (part, pin) => options.passes?.get(foldName(`${part}.${pin}`)) ?? 1,
  };
  const find = processorArcs(traceContext);
  const { model, hz } = clockOf(design, netlist, processor, timing, find);
  const context: BusContext = { ...traceContext, timing, clock: model, waits: options.waits ?? 0 };
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

function isMaximumMode(netlist: Netlist, processor: NetPart): boolean {
  const name = processor.record.bus?.signals?.minmax;
  const pin = processor.pins.map((id) => netlist.pins[id]!).find((item) => item.name === name);
  return pin !== undefined && pin.net >= 0 && netlist.nets[pin.net]!.kind === 'ground';
}

/** ns by net and driver that loading adds. */
function loadDelays(netlist: Netlist, loading: readonly NetLoading[]): Map<string, number> {
  const nets = new Map(netlist.nets.map((net) => [net.name, net]));
  const delays = new Map<string, number>();
  for (const item of loading) {
    const net = nets.get(item.net);
    for (const driver of item.drivers) {
      if (net === undefined || driver.addedNs === null || driver.addedNs <= 0) continue;
      const pin = net.pins.map((id): NetPin => netlist.pins[id]!).find((candidate) => candidate.ref === driver.driver);
      if (pin !== undefined) delays.set(`${net.id} ${pin.id}`, driver.addedNs);
    }
  }
  return delays;
}

/** Every cycle with every part that the map puts in its space; acknowledge with parts that give a vector. */
function cycleRequirements(context: BusContext): Requirement[] {
  const { design, stage, netlist, processor, timing } = context;
  const rows: Requirement[] = [];
  const regions = design.map.filter(
    (region) => region.stage <= stage && (region.until === undefined || stage < region.until),
  );
  for (const cycle of timing.cycles) {
    const check = new BusCheck(context, cycle);
    const targets =
      cycle.space === 'vector'
        ? netlist.parts.filter(
            (part) =>
              part.id !== processor.id &&
              part.record.bus?.signals?.fetch !== undefined &&
              part.record.bus.role === 'peripheral',
          )
        : regions
            .filter(
              (region) => region.space === cycle.space && (region.access === undefined || region.access === cycle.way),
            )
            .flatMap((region) => partNamed(netlist.parts, region.part) ?? []);
    for (const target of new Set(targets)) {
      const role = target.record.bus?.role;
      if (cycle.way === 'read' && role === 'latch') continue;
      if (cycle.way === 'write' && role === 'buffer') continue;
      rows.push(...check.requirements(target));
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
