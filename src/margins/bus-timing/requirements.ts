// What the parts of one bus ask of each other in every cycle: access, set-up, hold, pulse widths, turnaround. Along the paths as
// wired; each requirement keeps its figures, so that it can be read at any period. A figure that is missing leaves it open.

import { foldName } from '../../base/index.ts';
import { type NetPart, type NetPin, viewOf } from '../../netlist/index.ts';
import { pinsNamed, expandPins, type TimingArc } from '../../parts/index.ts';
import { nsPerUnit, sourceOf } from '../model.ts';
import { type Affine, add, at, nanoseconds, ZERO } from './affine.ts';
import { arcsOfOtherGrades, type PartArc } from './arcs.ts';
import { type ClockEdge, type ClockModel, clockSymbols, edgeGap } from './clock-model.ts';
import type { ArcFinder, BusCycle, Launch, ProcessorTiming, PromisedGap } from './cycle.ts';
import { formulaOf, printedFormula } from './printed-formula.ts';
import type { Candidate, Reckoning, Requirement, RowKind } from './row.ts';
import {
  type Arrival,
  arcNs,
  arcsIn,
  loadStep,
  type Phase,
  type Step,
  signalPins,
  type TraceContext,
  Tracer,
} from './trace.ts';

export interface BusContext extends TraceContext {
  readonly timing: ProcessorTiming;
  readonly clock: ClockModel;
  readonly waits: number;
}

/** Finds an arc of the processor (or of another chip) by symbol, within its grade. */
export function processorArcs(context: TraceContext, part: NetPart | undefined = context.processor): ArcFinder {
  const bySymbol = new Map<string, TimingArc>();
  for (const { arc } of part === undefined ? [] : arcsIn(context, part))
    if (!bySymbol.has(arc.symbol)) bySymbol.set(arc.symbol, arc);
  return (symbols) => {
    for (const symbol of symbols) {
      const found = bySymbol.get(symbol);
      if (found !== undefined) return found;
    }
    return undefined;
  };
}

/** A promise in an arc: its printed formula with the machine's clock, else its least figure. */
export function promised(arc: TimingArc, clock: ClockModel): Affine | undefined {
  const formula = formulaOf(arc.conditions);
  if (formula !== undefined) {
    const value = printedFormula(formula, clockSymbols(clock));
    if (value !== undefined) return value;
  }
  const factor = nsPerUnit(arc);
  return arc.min === undefined || factor === undefined ? undefined : nanoseconds(arc.min * factor);
}

/** ns from an edge of the clock to what is launched at it: at least, and at most (null where not printed). */
export function launchNs(
  context: BusContext,
  launch: Launch,
  periodNs: number,
): { readonly min: number; readonly max: number | null } {
  const isOther = launch.via === 'controller';
  const find = processorArcs(context, isOther ? context.controller : context.processor);
  if (launch.besides !== undefined) {
    const value = launch.besides(find, context.clock);
    return value === undefined ? { min: 0, max: null } : { min: at(value, periodNs), max: at(value, periodNs) };
  }
  if (launch.symbols.length === 0) return { min: 0, max: 0 };
  const arc = find(launch.symbols);
  return arc === undefined ? { min: 0, max: null } : { min: arcNs(arc, 'min') ?? 0, max: arcNs(arc, 'max') };
}

/** Whether a part can be read or written at all, by its data pins that drive or listen. */
interface DataSide {
  /** The pins on the data lines, and what lies between them and the processor. */
  readonly pins: readonly { readonly pin: NetPin; readonly through: NetPart | undefined; readonly cpuNet: number }[];
}

/** From the part's data pins to the processor; `bit` is the slowest line where they differ. */
interface WayBack {
  readonly steps: readonly Step[];
  readonly missing: readonly string[];
  readonly bit?: string;
}

interface LaunchDelay {
  readonly step: Step | undefined;
  readonly missing: string | undefined;
}

/** One cycle, with any part that answers to it. */
export class BusCheck {
  readonly #context: BusContext;
  readonly #cycle: BusCycle;
  readonly #tracer: Tracer;
  readonly #find: ArcFinder;
  readonly #findOther: ArcFinder;
  readonly #delays = { max: new Map<Launch, LaunchDelay>(), min: new Map<Launch, LaunchDelay>() };
  readonly #promises = new Map<PromisedGap, Affine | undefined>();

  constructor(context: BusContext, cycle: BusCycle) {
    this.#context = context;
    this.#cycle = cycle;
    this.#tracer = new Tracer(context, cycle);
    this.#find = processorArcs(context);
    this.#findOther = processorArcs(context, context.controller);
  }

  #pinsOf(part: NetPart): NetPin[] {
    return part.pins.map((id) => this.#context.netlist.pins[id]!);
  }

  #edge(edge: ClockEdge): ClockEdge {
    const { waitFrom } = this.#cycle;
    return waitFrom !== undefined && edge.n >= waitFrom ? { n: edge.n + this.#context.waits, phase: edge.phase } : edge;
  }

  /** The delay from the clock to an edge, with its name and source. */
  #launchDelay(launch: Launch, side: 'max' | 'min'): LaunchDelay {
    let delay = this.#delays[side].get(launch);
    if (delay === undefined) {
      delay = this.#delayOf(launch, side);
      this.#delays[side].set(launch, delay);
    }
    return delay;
  }

  #promise(gap: PromisedGap): Affine | undefined {
    if (!this.#promises.has(gap)) {
      const arc = this.#find(gap.symbols);
      this.#promises.set(gap, arc === undefined ? undefined : promised(arc, this.#context.clock));
    }
    return this.#promises.get(gap);
  }

  /** Whether a wait state puts a period between two edges. */
  #gains(late: ClockEdge, early: ClockEdge): boolean {
    const from = this.#cycle.waitFrom;
    return from !== undefined && late.n < from && early.n >= from;
  }

  #delayOf(launch: Launch, side: 'max' | 'min'): LaunchDelay {
    const { clock } = this.#context;
    const isOther = launch.via === 'controller';
    const processor = isOther ? this.#context.controller! : this.#context.processor;
    const find = isOther ? this.#findOther : this.#find;
    const name = launch.symbols.join(' or ');
    if (launch.besides !== undefined) {
      if (side === 'min') return { step: undefined, missing: undefined };
      const value = launch.besides(find, clock);
      if (value === undefined) return { step: undefined, missing: `${launch.signal} delay of ${processor.name}` };
      return {
        step: { part: processor.name, symbol: `${launch.signal} after E`, value, source: this.#sourceOf(undefined) },
        missing: undefined,
      };
    }
    if (launch.symbols.length === 0) return { step: undefined, missing: undefined };
    if (side === 'max' && typeof launch.latest === 'function') {
      const value = launch.latest(find, clock);
      if (value === undefined) return { step: undefined, missing: `${launch.signal} delay of ${processor.name}` };
      return {
        step: { part: processor.name, symbol: `${launch.signal} after E`, value, source: this.#sourceOf(undefined) },
        missing: undefined,
      };
    }
    const arc = find(
      side === 'max' && launch.latest !== undefined ? (launch.latest as readonly string[]) : launch.symbols,
    );
    if (arc === undefined) return { step: undefined, missing: `${name} of ${processor.name}` };
    const ns = arcNs(arc, side);
    if (ns === null && side === 'max')
      return { step: undefined, missing: `greatest ${arc.symbol} of ${processor.name}` };
    return {
      step: {
        part: processor.name,
        symbol: arc.symbol,
        value: nanoseconds(ns ?? 0),
        source: sourceOf(processor.record, arc.source).text,
      },
      missing: undefined,
    };
  }

  #sourceOf(key: string | undefined): string {
    return sourceOf(this.#context.processor.record, key).text;
  }

  /** From a late edge to an early one: every promise there is. `last` is what is asked for between them. */
  #between(late: Arrival, early: Arrival, last: readonly Step[], to: string): Candidate {
    const from = `${this.#context.processor.name} ${late.launch.signal}`;
    const missing = [...late.missing, ...early.missing];
    if (missing.length > 0) return { from, to, reckonings: [], missing };
    const reckonings: Reckoning[] = [];
    const lateDelay = this.#launchDelay(late.launch, 'max');
    const earlyDelay = this.#launchDelay(early.launch, 'min');
    const span = edgeGap(this.#edge(late.launch.at), this.#edge(early.launch.at), this.#context.clock);
    const gained = nanoseconds(early.min);
    if (late.launch === early.launch) {
      reckonings.push({
        available: gained,
        steps: [...late.steps, ...last],
        start: this.#edge(late.launch.at),
        ...(lateDelay.step === undefined ? {} : { startAfter: lateDelay.step.value }),
      });
    } else if (span !== null && lateDelay.missing === undefined && earlyDelay.missing === undefined) {
      reckonings.push({
        gains: this.#gains(late.launch.at, early.launch.at),
        start: this.#edge(late.launch.at),
        available: add(add(span, gained), earlyDelay.step?.value ?? ZERO),
        steps: [...(lateDelay.step === undefined ? [] : [lateDelay.step]), ...late.steps, ...last],
      });
    }
    if (
      late.launch !== early.launch &&
      late.launch.at.n === early.launch.at.n &&
      late.launch.at.phase === early.launch.at.phase &&
      lateDelay.step !== undefined &&
      lateDelay.missing === undefined
    ) {
      // Two outputs of one chip from one edge of its clock: both slow or both fast. Common practice, no source.
      const asSlow = this.#launchDelay(early.launch, 'max');
      if (asSlow.step !== undefined && asSlow.missing === undefined)
        reckonings.push({
          available: add(gained, asSlow.step.value),
          steps: [lateDelay.step, ...late.steps, ...last],
          tracks: true,
          start: this.#edge(late.launch.at),
        });
    }
    for (const gap of this.#cycle.gaps) {
      if (gap.from.signal !== late.launch.signal || gap.from.edge !== late.launch.edge) continue;
      if (gap.to.signal !== early.launch.signal || gap.to.edge !== early.launch.edge) continue;
      const value = this.#promise(gap);
      // A promise printed for the cycle without waits is still true with them, only smaller than what is there.
      if (value !== undefined)
        reckonings.push({
          available: add(value, gained),
          steps: [...late.steps, ...last],
          start: this.#edge(late.launch.at),
          ...(lateDelay.step === undefined ? {} : { startAfter: lateDelay.step.value }),
        });
    }
    if (reckonings.length > 0) return { from, to, reckonings, missing: [] };
    return {
      from,
      to,
      reckonings: [],
      missing: [
        ...(span === null ? ['how long the clock is high'] : []),
        ...[lateDelay.missing, earlyDelay.missing].filter((text) => text !== undefined),
      ],
    };
  }

  /** The data pins of a part on the processor's data lines, straight or through a transceiver. */
  #dataSide(target: NetPart): DataSide {
    const { netlist, processor } = this.#context;
    const names = new Set(signalPins(processor, 'data'));
    const straight = new Map<number, { through: NetPart | undefined; cpuNet: number }>();
    for (const pin of this.#pinsOf(processor))
      if (names.has(pin.name) && pin.net >= 0) straight.set(pin.net, { through: undefined, cpuNet: pin.net });
    for (const part of netlist.parts) {
      const bus = part.record.bus;
      if (bus?.role !== 'transceiver' || part === target) continue;
      const sides = [bus.inputs ?? [], bus.outputs ?? []];
      sides[0]!.forEach((a, k) => {
        const nets = [a, sides[1]![k] ?? ''].map(
          (name) => this.#pinsOf(part).find((pin) => pin.name === name)?.net ?? -1,
        );
        for (const [near, far] of [
          [nets[0]!, nets[1]!],
          [nets[1]!, nets[0]!],
        ] as const) {
          const known = straight.get(near);
          if (known !== undefined && known.through === undefined && far >= 0 && !straight.has(far))
            straight.set(far, { through: part, cpuNet: near });
        }
      });
    }
    const pins = this.#pinsOf(target).flatMap((pin) => {
      const found = straight.get(pin.net);
      return found === undefined ? [] : [{ pin, ...found }];
    });
    return { pins };
  }

  /** All requirements of this cycle with one part. */
  requirements(target: NetPart): Requirement[] {
    return this.#cycle.way === 'read' ? this.#read(target) : this.#write(target);
  }

  #make(target: NetPart, check: string, candidates: readonly Candidate[], kind: RowKind = 'rule'): Requirement {
    return { cycle: this.#cycle.name, target: target.name, check, kind, candidates };
  }

  #open(target: NetPart, check: string, missing: string, kind: RowKind = 'rule'): Requirement {
    const open = { from: this.#context.processor.name, to: target.name, reckonings: [], missing: [missing] };
    return this.#make(target, check, [open], kind);
  }

  /** Pins of a part that this cycle moves, with what arrives there. */
  #moved(
    target: NetPart,
    data: ReadonlySet<string>,
  ): { pin: NetPin; begin: readonly Arrival[]; end: readonly Arrival[] }[] {
    // A strobe of the other direction may move as well where a gate makes it from the clock; it is not this cycle's business.
    const signals = target.record.bus?.signals;
    const other = this.#cycle.way === 'read' ? signals?.write : signals?.read;
    const aside = new Set(
      other === undefined || other === (this.#cycle.way === 'read' ? signals?.read : signals?.write)
        ? []
        : expandPins(target.record, other).flatMap((name) => pinsNamed(target.record, name).map((row) => row.name)),
    );
    return this.#pinsOf(target)
      .filter(
        (pin) => !data.has(pin.name) && !aside.has(pin.name) && (pin.kind === 'input' || pin.kind === 'bidirectional'),
      )
      .map((pin) => ({
        pin,
        begin: this.#tracer.arrivals(pin.net, 'begin'),
        end: this.#tracer.arrivals(pin.net, 'end'),
      }))
      .filter(({ begin, end }) => begin.length > 0 || end.length > 0);
  }

  #read(target: NetPart): Requirement[] {
    const { processor } = this.#context;
    const { capture } = this.#cycle;
    if (capture === undefined) return [];
    const side = this.#dataSide(target);
    const drivers = side.pins.filter(({ pin }) => pin.kind !== 'input');
    if (side.pins.length === 0)
      return [this.#open(target, 'data', `a way of data from ${target.name} to ${processor.name}`)];
    if (drivers.length === 0) return [];
    const dataNames = new Set(side.pins.map(({ pin }) => pin.name));
    const moved = this.#moved(target, dataNames);
    const arcs = arcsIn(this.#context, target);
    const toData = arcs.filter(
      ({ arc, to }) =>
        (arc.kind === 'access' || arc.kind === 'enable' || arc.kind === 'delay') &&
        drivers.some(({ pin }) => to.pins.has(pin.name)) &&
        arcNs(arc, 'max') !== null,
    );
    const setup = this.#find(capture.setup);
    const setupNs = setup === undefined ? null : arcNs(setup, 'min');
    const isLost = capture.lostWith === undefined || this.#find([capture.lostWith]) !== undefined;
    const lost: Step[] = [];
    const notLost: string[] = [];
    for (const symbol of isLost ? (capture.lost ?? []) : []) {
      const arc = this.#find([symbol]);
      const ns = arc === undefined ? null : arcNs(arc, 'max');
      if (arc === undefined || ns === null) notLost.push(`${symbol} of ${processor.name}`);
      else lost.push(this.#cpuStep(arc, ns));
    }
    const back = this.#wayBack(drivers);
    const groups = new Map<string, Candidate[]>();
    const open: Requirement[] = [];
    if (!moved.some(({ begin }) => begin.length > 0))
      return [
        this.#open(target, 'access', `nothing of ${processor.name} is seen to reach ${target.name} in this cycle`),
      ];
    for (const { pin, begin } of moved) {
      if (begin.length === 0 || toData.some(({ from }) => from.pins.has(pin.name))) continue;
      const isBound = arcs.some(
        ({ arc, from, to }) =>
          arc.kind === 'setup' &&
          from.pins.has(pin.name) &&
          moved.some((other) => other.begin.length > 0 && to.pins.has(other.pin.name)),
      );
      if (!isBound && this.#matters(target, pin))
        open.push(this.#open(target, 'access', `access of ${target.name} from ${pin.name}`));
    }
    const reading = (arrival: Arrival, step: Step, way: WayBack): Candidate => {
      const launch = this.#launchDelay(arrival.launch, 'max');
      const span = edgeGap(this.#edge(arrival.launch.at), this.#edge(capture.at), this.#context.clock);
      const missing = [
        ...arrival.missing,
        ...way.missing,
        ...notLost,
        ...(launch.missing === undefined ? [] : [launch.missing]),
        ...(setupNs === null ? [`${capture.setup.join(' or ')} of ${processor.name}`] : []),
        ...(span === null ? ['how long the clock is high'] : []),
      ];
      const from = `${processor.name} ${arrival.launch.signal}`;
      const to = `${processor.name} data`;
      if (missing.length > 0) return { from, to, missing, reckonings: [] };
      const steps = [
        ...(launch.step === undefined ? [] : [launch.step]),
        ...arrival.steps,
        step,
        ...way.steps,
        this.#cpuStep(setup!, setupNs!),
        ...lost,
      ];
      const gains = this.#gains(arrival.launch.at, capture.at);
      return {
        from,
        to,
        missing,
        reckonings: [
          {
            gains,
            start: this.#edge(arrival.launch.at),
            available: span!,
            steps,
            ...(way.bit === undefined ? {} : { bit: way.bit }),
          },
        ],
      };
    };
    for (const { arc, from } of toData) {
      const begin = latest(moved.filter(({ pin }) => from.pins.has(pin.name)).flatMap((item) => item.begin));
      if (begin.length === 0) continue;
      const candidates = groups.get(arc.symbol) ?? [];
      groups.set(arc.symbol, candidates);
      for (const arrival of begin)
        candidates.push(reading(arrival, this.#partStep(target, arc, arcNs(arc, 'max')!), back));
    }
    // A transceiver on the way has to be switched on and round in time as well.
    for (const through of new Set(drivers.flatMap((item) => item.through ?? []))) {
      const nets = new Set(drivers.filter((item) => item.through === through).map((item) => item.cpuNet));
      const outputs = new Set(
        this.#pinsOf(through)
          .filter((pin) => nets.has(pin.net))
          .map((pin) => pin.name),
      );
      for (const pin of this.#pinsOf(through)) {
        if (pin.kind !== 'input') continue;
        const begin = latest(this.#tracer.arrivals(pin.net, 'begin'));
        if (begin.length === 0) continue;
        const found = arcsIn(this.#context, through).filter(
          ({ arc, from, to }) =>
            (arc.kind === 'enable' || arc.kind === 'delay') &&
            arcNs(arc, 'max') !== null &&
            from.pins.has(pin.name) &&
            [...to.pins].some((name) => outputs.has(name)),
        );
        if (found.length === 0) {
          open.push(this.#open(target, `${through.name} on`, `delay of ${through.name} from ${pin.name} to data`));
          continue;
        }
        const slowest = found.reduce((a, b) => (arcNs(b.arc, 'max')! > arcNs(a.arc, 'max')! ? b : a)).arc;
        const step = this.#partStep(through, slowest, arcNs(slowest, 'max')!);
        const key = `${through.name} ${slowest.symbol}`;
        groups.set(key, [
          ...(groups.get(key) ?? []),
          ...begin.map((arrival) => reading(arrival, step, { steps: [], missing: back.missing })),
        ]);
      }
    }
    const rows = [...groups].map(([symbol, candidates]) => this.#make(target, symbol, candidates, 'access'));
    rows.push(...this.#siblings(target, ['access'], moved, dataNames), ...open);
    rows.push(...this.#rules(target, moved, target.record.bus?.signals?.read));
    rows.push(...this.#strobes(target, moved, new Map()));
    rows.push(...this.#turnaround(target, moved, drivers));
    rows.push(...this.#readHold(target, moved, drivers));
    return rows;
  }

  /** Pins whose access somebody has to know: addresses, selects and the read strobe of what is read. */
  #matters(target: NetPart, pin: NetPin): boolean {
    const bus = target.record.bus;
    if (bus === undefined) return true;
    const named = (text: string | undefined): boolean =>
      text !== undefined &&
      expandPins(target.record, text).some((name) =>
        pinsNamed(target.record, name).some((row) => row.name === pin.name),
      );
    return (
      named(bus.address) ||
      (bus.selects ?? []).some((name) => named(name)) ||
      named(bus.signals?.read) ||
      named(bus.signals?.enable) ||
      named(bus.signals?.['output-enable'])
    );
  }

  /** From the part's data pins to the processor: the load of the data lines and a transceiver between. */
  #wayBack(drivers: DataSide['pins']): WayBack {
    const { netlist, loadDelay } = this.#context;
    let worst: (WayBack & { ns: number }) | undefined;
    let least = Number.POSITIVE_INFINITY;
    for (const { pin, through, cpuNet } of drivers) {
      const load = loadDelay(pin.net, pin);
      const steps: Step[] = load > 0 ? [loadStep(netlist.nets[pin.net]!.name, load)] : [];
      const missing: string[] = [];
      let ns = load;
      if (through !== undefined) {
        const pins = this.#pinsOf(through);
        const input = pins.find((item) => item.net === pin.net)!;
        const output = pins.find((item) => item.net === cpuNet)!;
        const arc = arcsIn(this.#context, through).find(
          (item) => item.arc.kind === 'delay' && item.from.pins.has(input.name) && item.to.pins.has(output.name),
        );
        const delay = arc === undefined ? null : arcNs(arc.arc, 'max');
        if (arc === undefined || delay === null)
          missing.push(`delay of ${through.name} from ${input.name} to ${output.name}`);
        else {
          ns += delay;
          steps.push(this.#partStep(through, arc.arc, delay));
        }
        const far = loadDelay(cpuNet, output);
        if (far > 0) {
          ns += far;
          steps.push(loadStep(netlist.nets[cpuNet]!.name, far));
        }
      }
      least = Math.min(least, ns);
      if (worst === undefined || missing.length > worst.missing.length || ns > worst.ns)
        worst = { ns, steps, missing, bit: netlist.nets[cpuNet]!.name };
    }
    if (worst === undefined) return { steps: [], missing: [] };
    const { steps, missing, bit } = worst;
    return worst.ns > least + 0.05 && bit !== undefined ? { steps, missing, bit } : { steps, missing };
  }

  #partStep(part: NetPart, arc: TimingArc, ns: number): Step {
    return {
      part: part.name,
      symbol: arc.symbol,
      value: nanoseconds(ns),
      source: sourceOf(part.record, arc.source).text,
    };
  }

  #cpuStep(arc: TimingArc, ns: number): Step {
    return this.#partStep(this.#context.processor, arc, ns);
  }

  /** Figures that other grades of the same memory print and this one doesn't: asked for all the same, so open. */
  #siblings(
    target: NetPart,
    kinds: readonly string[],
    moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[] }[],
    data: ReadonlySet<string>,
  ): Requirement[] {
    if (target.record.category !== 'memory') return [];
    const active = new Set(moved.filter(({ begin }) => begin.length > 0).map(({ pin }) => pin.name));
    const touches = (end: PartArc['from']): boolean => [...end.pins].some((name) => active.has(name) || data.has(name));
    return arcsOfOtherGrades({
      record: target.record,
      family: target.family,
      grade: this.#context.gradeOf(target),
    })
      .filter(({ arc, from, to }) => kinds.includes(arc.kind) && touches(from) && touches(to))
      .filter(({ arc }) => nsPerUnit(arc) === 1)
      .map(({ arc }) => this.#open(target, arc.symbol, `${arc.symbol} of ${target.name}`));
  }

  /** Set-up, hold and width as the part itself asks for them between pins that this cycle moves. */
  #strobes(
    target: NetPart,
    moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[]; readonly end: readonly Arrival[] }[],
    data: ReadonlyMap<string, { readonly begin: readonly Arrival[]; readonly end: readonly Arrival[] }>,
  ): Requirement[] {
    const at = new Map([...moved.map((item) => [item.pin.name, item] as const), ...data]);
    const edges = (name: string, edge: 'rise' | 'fall' | undefined): { arrival: Arrival; phase: Phase }[] => {
      const found = at.get(name);
      if (found === undefined) return [];
      return (['begin', 'end'] as const).flatMap((phase) =>
        found[phase].filter((item) => edge === undefined || item.edge === edge).map((arrival) => ({ arrival, phase })),
      );
    };
    /** Whatever may be the last to bring a pin to an edge: what changes anyhow counts with the beginning. */
    const settling = (name: string, edge: 'rise' | 'fall' | undefined): Arrival[] => {
      const found = at.get(name);
      if (found === undefined) return [];
      return found.begin.filter((item) => edge === undefined || item.edge === edge || item.edge === 'valid');
    };
    const rows: Requirement[] = [];
    for (const { arc, from, to } of arcsIn(this.#context, target)) {
      if (arc.kind !== 'setup' && arc.kind !== 'hold' && arc.kind !== 'width') continue;
      const ns = arcNs(arc, 'min');
      if (ns === null) continue;
      const last = [this.#partStep(target, arc, ns)];
      const candidates: Candidate[] = [];
      // A strobe goes active when the last of what makes it does, and inactive with the first: where any one of several edges
      // is promise enough, they are alternatives of one candidate; where all count, each is one of its own.
      const ofPhase = (found: readonly { arrival: Arrival; phase: Phase }[], wanted: Phase): Arrival[] =>
        found.filter(({ phase }) => phase === wanted).map(({ arrival }) => arrival);
      if (arc.kind === 'setup') {
        if (to.edge === undefined) continue;
        const late = latest([...from.pins].flatMap((name) => settling(name, from.edge)));
        if (late.length === 0) continue;
        for (const b of to.pins) {
          const strobe = edges(b, to.edge);
          const begins = ofPhase(strobe, 'begin');
          const ref = `${target.name}.${b}`;
          for (const arrival of late) {
            if (begins.length > 0)
              candidates.push(anyOf(begins.map((early) => this.#between(arrival, early, last, ref))));
            for (const early of ofPhase(strobe, 'end')) candidates.push(this.#between(arrival, early, last, ref));
          }
        }
      } else if (arc.kind === 'hold') {
        if (from.edge === undefined) continue;
        const kept = earliest([...to.pins].flatMap((name) => at.get(name)?.end ?? []));
        if (kept.length === 0) continue;
        const ref = `${target.name} ${[...to.pins].length === 1 ? [...to.pins][0] : arc.to}`;
        for (const a of from.pins) {
          const strobe = edges(a, from.edge);
          const ends = ofPhase(strobe, 'end');
          for (const early of kept) {
            for (const late of ofPhase(strobe, 'begin')) candidates.push(this.#between(late, early, last, ref));
            if (ends.length > 0) candidates.push(anyOf(ends.map((late) => this.#between(late, early, last, ref))));
          }
        }
      } else {
        for (const name of from.pins) {
          if (!to.pins.has(name)) continue;
          for (const late of ofPhase(edges(name, from.edge), 'begin'))
            for (const early of ofPhase(edges(name, to.edge), 'end'))
              candidates.push(this.#between(late, early, last, `${target.name}.${name}`));
        }
      }
      if (candidates.length > 0) rows.push(this.#make(target, arc.symbol, candidates));
    }
    return rows;
  }

  /**
   * What a peripheral with strobes has to state: the width of its strobe, and how long address and select stand before and after
   * it. One that is silent on them is unknown, not undemanding.
   */
  #rules(
    target: NetPart,
    moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[] }[],
    strobeText: string | undefined,
  ): Requirement[] {
    const { record } = target;
    if (record.category !== 'companion' || record.bus?.style !== 'strobe' || strobeText === undefined) return [];
    const named = (text: string): string[] =>
      expandPins(record, text).flatMap((name) => pinsNamed(record, name).map((row) => row.name));
    const active = new Set(moved.filter(({ begin }) => begin.length > 0).map(({ pin }) => pin.name));
    const strobe = named(strobeText).find((name) => active.has(name));
    if (strobe === undefined) return [];
    const arcs = arcsIn(this.#context, target);
    const has = (kind: string, from: readonly string[], to: readonly string[]): boolean =>
      arcs.some(
        ({ arc, from: a, to: b }) =>
          arc.kind === kind &&
          from.some((name) => a.pins.has(name)) &&
          to.some((name) => b.pins.has(name)) &&
          (arcNs(arc, 'min') ?? arcNs(arc, 'max')) !== null,
      );
    const data = record.bus.data === undefined ? [] : named(record.bus.data);
    const rows: Requirement[] = [];
    const ask = (isThere: boolean, check: string, text: string): void => {
      if (!isThere) rows.push(this.#open(target, check, `${text} of ${target.name}`));
    };
    ask(has('width', [strobe], [strobe]), `${strobe} width`, `width of ${strobe}`);
    const address = (record.bus.address === undefined ? [] : named(record.bus.address)).filter((name) =>
      active.has(name),
    );
    const selects = (record.bus.selects ?? []).flatMap(named).filter((name) => active.has(name));
    for (const [pins, word] of [
      [address, 'address'],
      [selects, 'select'],
    ] as const) {
      if (pins.length === 0) continue;
      ask(
        has('setup', pins, [strobe]) || has('access', pins, data),
        `${word} before ${strobe}`,
        `set-up of ${word} before ${strobe}`,
      );
      ask(has('hold', [strobe], pins), `${word} after ${strobe}`, `hold of ${word} after ${strobe}`);
    }
    return rows;
  }

  #write(target: NetPart): Requirement[] {
    const { processor } = this.#context;
    const side = this.#dataSide(target);
    const listeners = side.pins.filter(({ pin }) => pin.kind === 'input' || pin.kind === 'bidirectional');
    if (side.pins.length === 0)
      return [this.#open(target, 'data', `a way of data from ${processor.name} to ${target.name}`)];
    if (listeners.length === 0) return [];
    const dataNames = new Set(side.pins.map(({ pin }) => pin.name));
    const moved = this.#moved(target, dataNames);
    const strobe = this.#writeStrobe(target, moved);
    if (strobe === undefined) return [];
    const data = new Map(
      listeners.map(({ pin }) => [
        pin.name,
        {
          begin: this.#tracer.arrivals(pin.net, 'begin', 'data'),
          end: this.#tracer.arrivals(pin.net, 'end', 'data'),
        },
      ]),
    );
    if (strobe === 'none')
      return [
        this.#open(target, 'write', `nothing of ${processor.name} is seen to write to ${target.name} in this cycle`),
      ];
    const rows = this.#strobes(target, moved, data);
    const isData = (end: PartArc['from']): boolean => [...end.pins].some((name) => dataNames.has(name));
    const arcs = arcsIn(this.#context, target);
    const has = (kind: string, test: (item: PartArc) => boolean): boolean =>
      arcs.some((item) => item.arc.kind === kind && arcNs(item.arc, 'min') !== null && test(item));
    const onStrobe = (end: PartArc['from']): boolean => end.pins.has(strobe.name);
    if (!has('setup', ({ from, to }) => isData(from) && onStrobe(to)))
      rows.push(this.#open(target, 'data set-up', `set-up of data of ${target.name} to ${strobe.name}`));
    if (!has('hold', ({ from, to }) => onStrobe(from) && isData(to)))
      rows.push(this.#open(target, 'data hold', `hold of data of ${target.name} after ${strobe.name}`));
    if (!has('width', ({ from }) => onStrobe(from)))
      rows.push(this.#open(target, 'write pulse', `width of ${strobe.name} of ${target.name}`));
    rows.push(...this.#siblings(target, ['setup', 'hold', 'width'], moved, dataNames));
    rows.push(...this.#rules(target, moved, target.record.bus?.signals?.write));
    return rows;
  }

  /** The pin that takes the data in: the write pin, or the clock of a latch; undefined where it is tied off. */
  #writeStrobe(
    target: NetPart,
    moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[] }[],
  ): NetPin | 'none' | undefined {
    const bus = target.record.bus;
    const text =
      bus?.signals?.write ??
      (bus?.role === 'peripheral' ? bus.signals?.e : undefined) ??
      bus?.signals?.clock2 ??
      (bus?.role === 'latch' ? bus.signals?.clock : undefined) ??
      bus?.signals?.e;
    const names =
      text === undefined ? [] : expandPins(target.record, text).flatMap((name) => pinsNamed(target.record, name));
    const reached = moved.find(({ pin, begin }) => begin.length > 0 && names.some((row) => row.name === pin.name));
    if (reached !== undefined) return reached.pin;
    const pins = this.#pinsOf(target).filter((pin) => names.some((row) => row.name === pin.name));
    const view = viewOf(this.#context.netlist);
    const isTied = pins.length > 0 && pins.every((pin) => pin.net < 0 || view.nets[pin.net]!.net.kind !== 'signal');
    if (isTied || (pins.length === 0 && bus?.role === 'buffer')) return undefined;
    return 'none';
  }

  /** After a read the part has to be off the lines before anything else drives them. */
  #turnaround(
    target: NetPart,
    moved: readonly { readonly pin: NetPin; readonly end: readonly Arrival[] }[],
    drivers: DataSide['pins'],
  ): Requirement[] {
    const { processor, clock } = this.#context;
    // A hold with a greatest is how long the part may still drive: makers of E-clocked parts print it so.
    const disables = arcsIn(this.#context, target).filter(
      ({ arc, to }) =>
        (arc.kind === 'disable' || (arc.kind === 'hold' && arcNs(arc, 'max') !== null)) &&
        drivers.some(({ pin }) => to.pins.has(pin.name)),
    );
    const perPin: Candidate[][] = [];
    for (const { pin, end } of moved) {
      const covering = disables.filter(({ arc, from }) => from.pins.has(pin.name) && arcNs(arc, 'max') !== null);
      if (covering.length === 0 || end.length === 0) continue;
      const definite = end.filter(({ edge }) => edge !== 'valid');
      perPin.push(
        covering.map(({ arc }) => {
          const each = (definite.length > 0 ? definite : end).map((late): Candidate => {
            const launch = this.#launchDelay(late.launch, 'max');
            const span = edgeGap(this.#edge(late.launch.at), this.#edge(this.#cycle.nextDrive), clock);
            const missing = [
              ...late.missing,
              ...(launch.missing === undefined ? [] : [launch.missing]),
              ...(span === null ? ['how long the clock is high'] : []),
            ];
            const steps = [
              ...(launch.step === undefined ? [] : [launch.step]),
              ...late.steps,
              this.#partStep(target, arc, arcNs(arc, 'max')!),
            ];
            return {
              from: `${processor.name} ${late.launch.signal}`,
              to: 'next on the data lines',
              missing,
              reckonings: missing.length > 0 ? [] : [{ available: span!, steps, start: this.#edge(late.launch.at) }],
            };
          });
          return definite.length > 0 ? anyOf(each) : (each.find(({ missing }) => missing.length > 0) ?? worst(each));
        }),
      );
    }
    if (perPin.length === 0)
      return [this.#open(target, 'turnaround', `time in which ${target.name} lets the data lines go`, 'turnaround')];
    // Any one of its enables going away is enough; the one with the fewest gaps in its figures and the shortest way counts.
    const known = perPin.filter((candidates) => candidates.every((candidate) => candidate.missing.length === 0));
    const chosen = known.length === 0 ? perPin[0]! : known.reduce((a, b) => (length(b) < length(a) ? b : a));
    return [this.#make(target, 'turnaround', chosen, 'turnaround')];
  }

  /** Data must stay until the processor has taken them: from the first thing that goes away. */
  #readHold(
    target: NetPart,
    moved: readonly { readonly pin: NetPin; readonly end: readonly Arrival[] }[],
    drivers: DataSide['pins'],
  ): Requirement[] {
    const { capture, readHold } = this.#cycle;
    if (readHold === undefined || capture === undefined) return [];
    const arc = this.#find(readHold.symbols);
    const ns = arc === undefined ? null : arcNs(arc, 'min');
    if (arc === undefined || ns === null)
      return [
        this.#open(
          target,
          'read hold',
          `${readHold.symbols.join(' or ')} of ${this.#context.processor.name}`,
          'read hold',
        ),
      ];
    const launch: Launch = this.#cycle.end.find((item) => item.signal === readHold.after) ?? {
      signal: 'clock',
      edge: capture.at.phase,
      at: capture.at,
      symbols: [],
    };
    const late: Arrival = { launch, edge: launch.edge, steps: [], max: 0, min: 0, missing: [] };
    const keeping = arcsIn(this.#context, target).filter(
      ({ arc: item, to }) =>
        (item.kind === 'disable' || item.kind === 'hold') && drivers.some(({ pin }) => to.pins.has(pin.name)),
    );
    const candidates = keeping.flatMap(({ arc: item, from }) =>
      earliest(moved.filter(({ pin }) => from.pins.has(pin.name)).flatMap(({ end }) => end)).map((early) =>
        this.#between(
          late,
          { ...early, min: early.min + Math.max(0, arcNs(item, 'min') ?? 0) },
          [this.#cpuStep(arc, ns)],
          `${this.#context.processor.name} data`,
        ),
      ),
    );
    return candidates.length === 0 ? [] : [this.#make(target, 'read hold', candidates, 'read hold')];
  }
}

/** Of edges that come the same way to several pins, the one that takes longest. */
function latest(arrivals: readonly Arrival[]): Arrival[] {
  return reduced(arrivals, (a, b) => b.max > a.max);
}

/** Of edges that come the same way to several pins, the one that is there first. */
function earliest(arrivals: readonly Arrival[]): Arrival[] {
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
function anyOf(candidates: readonly Candidate[]): Candidate {
  const good = candidates.filter((candidate) => candidate.missing.length === 0 && candidate.reckonings.length > 0);
  if (good.length === 0) return candidates[0]!;
  return {
    ...good[0]!,
    reckonings: good.flatMap((candidate) =>
      candidate.reckonings.map((reckoning) => ({ ...reckoning, from: reckoning.from ?? candidate.from })),
    ),
  };
}

function worst(candidates: readonly Candidate[]): Candidate {
  return candidates.reduce((a, b) => (length([b]) > length([a]) ? b : a));
}

function length(candidates: readonly Candidate[]): number {
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
