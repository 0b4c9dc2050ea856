// The signals of a bus cycle over time, as far as figures tell: when each edge comes at the latest and the earliest. Drawn from
// the processor's table and the paths to the part, not simulated.

import { foldName } from '../../base/index.ts';
import type { Design, NetPart } from '../../netlist/index.ts';
import { at } from './affine.ts';
import type { ClockEdge } from './clock-model.ts';
import { busContext } from './context.ts';
import type { Launch } from './cycle.ts';
import { launchNs, type BusContext } from './launches.ts';
import { partNamed } from './candidates.ts';
import type { TimingRow } from './row.ts';
import type { BusTiming, TimingOptions } from './timing.ts';
import { type Arrival, signalPins, Tracer } from './trace.ts';

/** An edge of a lane: between `first` and `last` ns from the cycle's start. */
export interface WaveEdge {
  readonly first: number;
  readonly last: number;
  readonly to: 'high' | 'low' | 'valid' | 'idle';
}

export interface WaveLane {
  readonly name: string;
  readonly shape: 'level' | 'bus';
  readonly edges: readonly WaveEdge[];
}

export interface CycleWaves {
  readonly cycle: string;
  readonly target: string | null;
  readonly periodNs: number;
  /** Part of a period that the clock is high, the middle of what it may be; half where nobody says. */
  readonly high: number;
  readonly startsWith: 'rise' | 'fall';
  readonly lanes: readonly WaveLane[];
  /** ns at which data are taken in, and by which edge; null in writes. */
  readonly capture: { readonly ns: number; readonly edge: string } | null;
  /** The rows of this cycle with this part, the tightest first. */
  readonly rows: readonly TimingRow[];
}

/** Lanes of one cycle, with one part or with none. Null where that cycle isn't there. */
export function cycleWaves(
  design: Design,
  stage: number,
  timing: BusTiming,
  ask: { readonly cycle: string; readonly target?: string },
  options: TimingOptions,
): CycleWaves | null {
  const found = busContext(design, stage, options);
  if (found?.context === undefined) return null;
  const { context } = found;
  const rows = timing.rows.filter(
    (row) => row.cycle === ask.cycle && (ask.target === undefined || foldName(row.target) === foldName(ask.target)),
  );
  const cycle = context.timing.cycles.find((item) => item.name === ask.cycle);
  const fact = context.processor.record.facts?.['clock-divided-by'];
  const divide = typeof fact === 'number' ? fact : 1;
  const hz = timing.clockHz;
  const periodNs = hz === null ? 1000 : (1e9 * divide) / hz;
  const { highMin, highMax } = context.clock;
  const high =
    highMin === null || highMax === null ? 0.5 : (at(highMin, periodNs) + at(highMax, periodNs)) / 2 / periodNs;
  const base = { cycle: ask.cycle, target: ask.target ?? null, periodNs, high, rows };
  if (cycle === undefined) return rows.length === 0 ? null : { ...base, startsWith: 'rise', lanes: [], capture: null };
  const startsWith = (cycle.begin.find((launch) => launch.signal === 'address') ?? cycle.begin[0]!).at.phase;
  const zero = startsWith === 'rise' ? 0 : high * periodNs;
  const edgeNs = (edge: ClockEdge): number => {
    const n = cycle.waitFrom !== undefined && edge.n >= cycle.waitFrom ? edge.n + (options.waits ?? 0) : edge.n;
    return n * periodNs + (edge.phase === 'fall' ? high * periodNs : 0) - zero;
  };
  const edgeOf = (launch: Launch): WaveEdge => {
    const delay = launchNs(context, launch, periodNs);
    const from = edgeNs(launch.at);
    return {
      first: from + delay.min,
      last: from + (delay.max ?? delay.min),
      to: launch.edge === 'rise' ? 'high' : launch.edge === 'fall' ? 'low' : 'valid',
    };
  };
  const lanes: WaveLane[] = [];
  const seen = new Set<string>();
  for (const launch of cycle.begin) {
    if (seen.has(launch.signal) || launch.signal === 'data') continue;
    seen.add(launch.signal);
    const of = (list: readonly Launch[]): WaveEdge[] =>
      list.filter((item) => item.signal === launch.signal).map((item) => edgeOf(item));
    const name = laneName(context, launch);
    if (name === undefined) continue;
    const isBus = launch.edge === 'valid';
    const ends = of(cycle.end).map((edge) => (isBus ? { ...edge, to: 'idle' as const } : edge));
    lanes.push({ name, shape: isBus ? 'bus' : 'level', edges: [...of(cycle.begin), ...ends] });
  }
  const target = ask.target === undefined ? undefined : partNamed(context.netlist.parts, ask.target);
  if (target !== undefined) lanes.push(...strobesOf(context, cycle, target, edgeOf));
  const captureNs = cycle.capture === undefined ? null : edgeNs(cycle.capture.at);
  const data = dataLane(context, cycle, rows, edgeOf, edgeNs);
  if (data !== undefined) lanes.push(data);
  return {
    ...base,
    startsWith,
    lanes,
    capture:
      captureNs === null
        ? null
        : { ns: captureNs, edge: `clock ${cycle.capture!.at.phase === 'rise' ? 'rises' : 'falls'}` },
  };
}

/** The pin of a launched signal, as printed: `A15-A0`, `/MREQ`; with the chip's name where it isn't the processor. */
function laneName(context: BusContext, launch: Launch): string | undefined {
  const part = launch.via === 'controller' ? context.controller : context.processor;
  if (part === undefined) return undefined;
  if (launch.signal === 'address') return part.record.bus?.address?.replace(/,.*/, '') ?? 'address';
  const [pin] = signalPins(part, launch.signal);
  return pin === undefined ? undefined : launch.via === 'controller' ? `${part.name} ${pin}` : pin;
}

/** Inputs of the part that something between makes for it: its selects, and strobes that a gate joins. */
function strobesOf(
  context: BusContext,
  cycle: BusContext['timing']['cycles'][number],
  target: NetPart,
  edgeOf: (launch: Launch) => WaveEdge,
): WaveLane[] {
  const tracer = new Tracer(context, cycle);
  const lanes: WaveLane[] = [];
  for (const id of target.pins) {
    const pin = context.netlist.pins[id]!;
    if (pin.kind !== 'input' || pin.net < 0) continue;
    const own = (arrivals: readonly Arrival[]): Arrival[] =>
      arrivals.filter((item) => item.edge !== 'valid' && item.missing.length === 0 && item.max > 0);
    const begin = own(tracer.arrivals(pin.net, 'begin'));
    const end = own(tracer.arrivals(pin.net, 'end'));
    if (begin.length === 0) continue;
    const edge = (arrival: Arrival): WaveEdge => {
      const from = edgeOf(arrival.launch);
      return {
        first: from.first + arrival.min,
        last: from.last + arrival.max,
        to: arrival.edge === 'rise' ? 'high' : 'low',
      };
    };
    // A conjunction begins with the last of what makes it and ends with the first.
    const starts = begin.map(edge).reduce((a, b) => (b.last > a.last ? b : a));
    const stops = end.map(edge).filter((item) => item.to !== starts.to);
    const stop = stops.length === 0 ? undefined : stops.reduce((a, b) => (b.first < a.first ? b : a));
    lanes.push({
      name: `${target.name} ${pin.name}`,
      shape: 'level',
      edges: stop === undefined ? [starts] : [starts, stop],
    });
  }
  return lanes;
}

/** The data lines: in reads valid when the slowest way of the part is done, in writes as the processor drives them. */
function dataLane(
  context: BusContext,
  cycle: BusContext['timing']['cycles'][number],
  rows: readonly TimingRow[],
  edgeOf: (launch: Launch) => WaveEdge,
  edgeNs: (edge: ClockEdge) => number,
): WaveLane | undefined {
  const name = context.processor.record.bus?.data?.replace(/,.*/, '') ?? 'data';
  if (cycle.way === 'write') {
    const of = (list: readonly Launch[]): WaveEdge[] => list.filter(({ signal }) => signal === 'data').map(edgeOf);
    const ends = of(cycle.end).map((edge) => ({ ...edge, to: 'idle' as const }));
    return { name, shape: 'bus', edges: [...of(cycle.begin), ...ends] };
  }
  let valid: number | undefined;
  let earliest = Number.POSITIVE_INFINITY;
  for (const row of rows) {
    if (row.start === null || row.marginNs === null || row.kind !== 'access') continue;
    const last = row.path.findLastIndex((step) => step.part !== context.processor.name);
    const ns = row.path.slice(0, last + 1).reduce((sum, step) => sum + step.ns, edgeNs(row.start));
    valid = valid === undefined ? ns : Math.max(valid, ns);
    earliest = Math.min(earliest, edgeNs(row.start));
  }
  if (valid === undefined || cycle.capture === undefined) return undefined;
  const taken = edgeNs(cycle.capture.at);
  return {
    name,
    shape: 'bus',
    edges: [
      // No maker prints how soon a memory may answer, so the lines may change from the first edge on.
      { first: earliest, last: valid, to: 'valid' },
      { first: taken, last: Math.max(taken, edgeNs(cycle.nextDrive)), to: 'idle' },
    ],
  };
}
