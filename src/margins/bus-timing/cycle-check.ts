// What the parts of one bus ask of each other in a cycle: the pieces that reads and writes share. Along the paths as wired; each
// requirement keeps its figures, so that it can be read at any period. A figure that is missing leaves it open.

import type { NetPart, NetPin } from '../../netlist/index.ts';
import { expandPins, pinsNamed, type TimingArc } from '../../parts/index.ts';
import { nsPerUnit, sourceOf } from '../model.ts';
import { type Affine, add, nanoseconds, ZERO } from './affine.ts';
import { arcsOfOtherGrades, type PartArc } from './arcs.ts';
import { anyOf, earliest, latest } from './candidates.ts';
import { type ClockEdge, edgeGap } from './clock-model.ts';
import type { ArcFinder, BusCycle, Launch, PromisedGap } from './cycle.ts';
import { type BusContext, processorArcs, promised } from './launches.ts';
import type { Candidate, Reckoning, Requirement, RowKind } from './row.ts';
import { type Arrival, arcNs, arcsIn, type Phase, type Step, signalPins, Tracer } from './trace.ts';

/** Whether a part can be read or written at all, by its data pins that drive or listen. */
export interface DataSide {
  /** The pins on the data lines, and what lies between them and the processor. */
  readonly pins: readonly { readonly pin: NetPin; readonly through: NetPart | undefined; readonly cpuNet: number }[];
}

/** How long a part keeps its own data in a read: its promise, not what it asks for in a write. */
export function isOwnHold(arc: TimingArc): boolean {
  return arc.kind === 'hold' && (/^read/i.test(arc.meaning ?? '') || arcNs(arc, 'max') !== null);
}

/** From the part's data pins to the processor; `bit` is the slowest line where they differ. */
export interface WayBack {
  readonly steps: readonly Step[];
  readonly missing: readonly string[];
  readonly bit?: string;
}

interface LaunchDelay {
  readonly step: Step | undefined;
  readonly missing: string | undefined;
}

/** One cycle of a bus: what reads and writes share. Its rows are made by read-rows and write-rows. */
export class BusCycleCheck {
  readonly context: BusContext;
  readonly cycle: BusCycle;
  readonly tracer: Tracer;
  readonly find: ArcFinder;
  readonly findOther: ArcFinder;
  readonly delays = { max: new Map<Launch, LaunchDelay>(), min: new Map<Launch, LaunchDelay>() };
  readonly promises = new Map<PromisedGap, Affine | undefined>();

  constructor(context: BusContext, cycle: BusCycle) {
    this.context = context;
    this.cycle = cycle;
    this.tracer = new Tracer(context, cycle);
    this.find = processorArcs(context);
    this.findOther = processorArcs(context, context.controller);
  }

  pinsOf(part: NetPart): NetPin[] {
    return part.pins.map((id) => this.context.netlist.pins[id]!);
  }

  edge(edge: ClockEdge): ClockEdge {
    const { waitFrom } = this.cycle;
    return waitFrom !== undefined && edge.n >= waitFrom ? { n: edge.n + this.context.waits, phase: edge.phase } : edge;
  }

  /** The delay from the clock to an edge, with its name and source. */
  launchDelay(launch: Launch, side: 'max' | 'min'): LaunchDelay {
    let delay = this.delays[side].get(launch);
    if (delay === undefined) {
      delay = this.delayOf(launch, side);
      this.delays[side].set(launch, delay);
    }
    return delay;
  }

  promise(gap: PromisedGap): Affine | undefined {
    if (!this.promises.has(gap)) {
      const arc = this.find(gap.symbols);
      this.promises.set(gap, arc === undefined ? undefined : promised(arc, this.context.clock));
    }
    return this.promises.get(gap);
  }

  /** Whether a wait state puts a period between two edges. */
  gains(late: ClockEdge, early: ClockEdge): boolean {
    const from = this.cycle.waitFrom;
    return from !== undefined && late.n < from && early.n >= from;
  }

  delayOf(launch: Launch, side: 'max' | 'min'): LaunchDelay {
    const { clock } = this.context;
    const isOther = launch.via === 'controller';
    const processor = isOther ? this.context.controller! : this.context.processor;
    const find = isOther ? this.findOther : this.find;
    const name = launch.symbols.join(' or ');
    if (launch.besides !== undefined) {
      if (side === 'min') return { step: undefined, missing: undefined };
      const value = launch.besides(find, clock);
      if (value === undefined) return { step: undefined, missing: `${launch.signal} delay of ${processor.name}` };
      return {
        step: { part: processor.name, symbol: `${launch.signal} after E`, value, source: this.sourceOf(undefined) },
        missing: undefined,
      };
    }
    if (launch.symbols.length === 0) return { step: undefined, missing: undefined };
    if (side === 'max' && typeof launch.latest === 'function') {
      const value = launch.latest(find, clock);
      if (value === undefined) return { step: undefined, missing: `${launch.signal} delay of ${processor.name}` };
      return {
        step: { part: processor.name, symbol: `${launch.signal} after E`, value, source: this.sourceOf(undefined) },
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

  sourceOf(key: string | undefined): string {
    return sourceOf(this.context.processor.record, key).text;
  }

  /** From a late edge to an early one: every promise there is. `last` is what is asked for between them. */
  between(late: Arrival, early: Arrival, last: readonly Step[], to: string): Candidate {
    const from = `${this.context.processor.name} ${late.launch.signal}`;
    const missing = [...late.missing, ...early.missing];
    if (missing.length > 0) return { from, to, reckonings: [], missing };
    const reckonings: Reckoning[] = [];
    const lateDelay = this.launchDelay(late.launch, 'max');
    const earlyDelay = this.launchDelay(early.launch, 'min');
    const span = edgeGap(this.edge(late.launch.at), this.edge(early.launch.at), this.context.clock);
    const gained = nanoseconds(early.min);
    if (late.launch === early.launch) {
      reckonings.push({
        available: gained,
        steps: [...late.steps, ...last],
        start: this.edge(late.launch.at),
        ...(lateDelay.step === undefined ? {} : { startAfter: lateDelay.step.value }),
      });
    } else if (span !== null && lateDelay.missing === undefined && earlyDelay.missing === undefined) {
      reckonings.push({
        gains: this.gains(late.launch.at, early.launch.at),
        start: this.edge(late.launch.at),
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
      const asSlow = this.launchDelay(early.launch, 'max');
      if (asSlow.step !== undefined && asSlow.missing === undefined)
        reckonings.push({
          available: add(gained, asSlow.step.value),
          steps: [lateDelay.step, ...late.steps, ...last],
          tracks: true,
          start: this.edge(late.launch.at),
        });
    }
    for (const gap of this.cycle.gaps) {
      if (gap.from.signal !== late.launch.signal || gap.from.edge !== late.launch.edge) continue;
      if (gap.to.signal !== early.launch.signal || gap.to.edge !== early.launch.edge) continue;
      const value = this.promise(gap);
      // A promise printed for the cycle without waits is still true with them, only smaller than what is there.
      if (value !== undefined)
        reckonings.push({
          available: add(value, gained),
          steps: [...late.steps, ...last],
          start: this.edge(late.launch.at),
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
  dataSide(target: NetPart): DataSide {
    const { netlist, processor } = this.context;
    const names = new Set(signalPins(processor, 'data'));
    const straight = new Map<number, { through: NetPart | undefined; cpuNet: number }>();
    for (const pin of this.pinsOf(processor))
      if (names.has(pin.name) && pin.net >= 0) straight.set(pin.net, { through: undefined, cpuNet: pin.net });
    for (const part of netlist.parts) {
      const bus = part.record.bus;
      if (bus?.role !== 'transceiver' || part === target) continue;
      const sides = [bus.inputs ?? [], bus.outputs ?? []];
      sides[0]!.forEach((a, k) => {
        const nets = [a, sides[1]![k] ?? ''].map(
          (name) => this.pinsOf(part).find((pin) => pin.name === name)?.net ?? -1,
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
    const pins = this.pinsOf(target).flatMap((pin) => {
      const found = straight.get(pin.net);
      return found === undefined ? [] : [{ pin, ...found }];
    });
    return { pins };
  }

  make(target: NetPart, check: string, candidates: readonly Candidate[], kind: RowKind = 'rule'): Requirement {
    return { cycle: this.cycle.name, target: target.name, check, kind, candidates };
  }

  open(target: NetPart, check: string, missing: string, kind: RowKind = 'rule'): Requirement {
    const open = { from: this.context.processor.name, to: target.name, reckonings: [], missing: [missing] };
    return this.make(target, check, [open], kind);
  }

  /** Pins of a part that this cycle moves, with what arrives there. */
  moved(
    target: NetPart,
    data: ReadonlySet<string>,
  ): { pin: NetPin; begin: readonly Arrival[]; end: readonly Arrival[] }[] {
    // A strobe of the other direction may move as well where a gate makes it from the clock; it is not this cycle's business.
    const signals = target.record.bus?.signals;
    const other = this.cycle.way === 'read' ? signals?.write : signals?.read;
    const aside = new Set(
      other === undefined || other === (this.cycle.way === 'read' ? signals?.read : signals?.write)
        ? []
        : expandPins(target.record, other).flatMap((name) => pinsNamed(target.record, name).map((row) => row.name)),
    );
    // In an acknowledge no address is there: only what says so counts.
    const named =
      this.cycle.space === 'vector'
        ? new Set(
            Object.values(signals ?? {}).flatMap((text) =>
              expandPins(target.record, text).flatMap((name) => pinsNamed(target.record, name).map((row) => row.name)),
            ),
          )
        : undefined;
    return this.pinsOf(target)
      .filter(
        (pin) =>
          named?.has(pin.name) !== false &&
          !data.has(pin.name) &&
          !aside.has(pin.name) &&
          (pin.kind === 'input' || pin.kind === 'bidirectional'),
      )
      .map((pin) => ({
        pin,
        begin: this.tracer.arrivals(pin.net, 'begin'),
        end: this.tracer.arrivals(pin.net, 'end'),
      }))
      .filter(({ begin, end }) => begin.length > 0 || end.length > 0);
  }

  partStep(part: NetPart, arc: TimingArc, ns: number): Step {
    return {
      part: part.name,
      symbol: arc.symbol,
      value: nanoseconds(ns),
      source: sourceOf(part.record, arc.source).text,
    };
  }

  cpuStep(arc: TimingArc, ns: number): Step {
    return this.partStep(this.context.processor, arc, ns);
  }

  /** Figures that other grades of the same memory print and this one doesn't: asked for all the same, so open. */
  siblings(
    target: NetPart,
    kinds: readonly string[],
    moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[] }[],
    data: ReadonlySet<string>,
  ): Requirement[] {
    if (target.record.category !== 'memory' && target.record.category !== 'companion') return [];
    const active = new Set(moved.filter(({ begin }) => begin.length > 0).map(({ pin }) => pin.name));
    const touches = (end: PartArc['from']): boolean => [...end.pins].some((name) => active.has(name) || data.has(name));
    return arcsOfOtherGrades({
      record: target.record,
      family: target.family,
      grade: this.context.gradeOf(target),
    })
      .filter(({ arc, from, to }) => kinds.includes(arc.kind) && touches(from) && touches(to))
      .filter(({ arc }) => nsPerUnit(arc) === 1)
      .filter(({ arc }) => this.cycle.way === 'read' || !isOwnHold(arc))
      .map(({ arc }) => this.open(target, arc.symbol, `${arc.symbol} of ${target.name}`));
  }

  /** Set-up, hold and width as the part itself asks for them between pins that this cycle moves. */
  strobes(
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
    for (const { arc, from, to } of arcsIn(this.context, target)) {
      if (arc.kind !== 'setup' && arc.kind !== 'hold' && arc.kind !== 'width') continue;
      if (isOwnHold(arc) && [...to.pins].some((name) => data.has(name))) continue;
      const ns = arcNs(arc, 'min');
      if (ns === null) continue;
      const last = [this.partStep(target, arc, ns)];
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
              candidates.push(anyOf(begins.map((early) => this.between(arrival, early, last, ref))));
            for (const early of ofPhase(strobe, 'end')) candidates.push(this.between(arrival, early, last, ref));
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
            for (const late of ofPhase(strobe, 'begin')) candidates.push(this.between(late, early, last, ref));
            if (ends.length > 0) candidates.push(anyOf(ends.map((late) => this.between(late, early, last, ref))));
          }
        }
      } else {
        for (const name of from.pins) {
          if (!to.pins.has(name)) continue;
          for (const late of ofPhase(edges(name, from.edge), 'begin'))
            for (const early of ofPhase(edges(name, to.edge), 'end'))
              candidates.push(this.between(late, early, last, `${target.name}.${name}`));
        }
      }
      if (candidates.length > 0) rows.push(this.make(target, arc.symbol, candidates));
    }
    return rows;
  }

  /**
   * What a peripheral with strobes has to state: the width of its strobe, and how long address and select stand before and after
   * it. One that is silent on them is unknown, not undemanding.
   */
  rules(
    target: NetPart,
    moved: readonly { readonly pin: NetPin; readonly begin: readonly Arrival[] }[],
    strobeText: string | undefined,
  ): Requirement[] {
    const { record } = target;
    const style = record.bus?.style;
    if (record.category !== 'companion' || (style !== 'strobe' && style !== 'e-clock') || strobeText === undefined)
      return [];
    const named = (text: string): string[] =>
      expandPins(record, text).flatMap((name) => pinsNamed(record, name).map((row) => row.name));
    const reached = new Set(moved.filter(({ begin }) => begin.length > 0).map(({ pin }) => pin.name));
    const strobe = named(strobeText).find((name) => reached.has(name));
    if (strobe === undefined) return [];
    const arcs = arcsIn(this.context, target);
    const has = (kind: string, from: readonly string[], to: readonly string[]): boolean =>
      arcs.some(
        ({ arc, from: a, to: b }) =>
          arc.kind === kind &&
          from.some((name) => a.pins.has(name)) &&
          to.some((name) => b.pins.has(name)) &&
          (arcNs(arc, 'min') ?? arcNs(arc, 'max')) !== null,
      );
    const bus = record.bus!;
    const data = bus.data === undefined ? [] : named(bus.data);
    const rows: Requirement[] = [];
    const ask = (isThere: boolean, check: string, text: string): void => {
      if (!isThere) rows.push(this.open(target, check, `${text} of ${target.name}`));
    };
    const active = strobe.startsWith('/') ? 'fall' : 'rise';
    const isWide = arcs.some(
      ({ arc, from, to }) =>
        arc.kind === 'width' &&
        from.edge === active &&
        from.pins.has(strobe) &&
        to.pins.has(strobe) &&
        arcNs(arc, 'min') !== null,
    );
    ask(isWide, `${strobe} width`, `width of ${strobe}`);
    // One that is printed in another unit has a row of its own that says so.
    const rests = arcs.some(
      ({ arc, from, to }) => arc.kind === 'recovery' && from.pins.has(strobe) && to.pins.has(strobe),
    );
    if (style === 'strobe') ask(rests, `${strobe} again`, `rest between two ${strobe}`);
    const address = (bus.address === undefined ? [] : named(bus.address)).filter((name) => reached.has(name));
    const selects = (bus.selects ?? []).flatMap(named).filter((name) => reached.has(name));
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
}
