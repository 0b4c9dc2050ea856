// How an edge that the processor launches reaches a pin: back from the pin's net through gates, decoders and latches to the
// processor, with the arcs of every part on the way. Nothing about the period is decided here.

import { type Formula, foldName, namesOf, parseFormula, truthTable } from '../../base/index.ts';
import {
  type Design,
  type DeviceOutput,
  type DevicePlan,
  type Netlist,
  type NetPart,
  type NetPin,
  type NetlistView,
  viewOf,
} from '../../netlist/index.ts';
import { expandPins, influences, type PartRecord, pinsNamed, readBehaviour } from '../../parts/index.ts';
import { nsPerUnit, sourceOf } from '../model.ts';
import { type Affine, nanoseconds } from './affine.ts';
import { arcsOf, type PartArc } from './arcs.ts';
import type { BusCycle, Launch } from './cycle.ts';

/** One contribution on a path. */
export interface Step {
  readonly part: string;
  readonly symbol: string;
  readonly value: Affine;
  readonly source: string;
}

export type Phase = 'begin' | 'end';

/** An edge at a pin: where it was launched, and what it meets on the way. */
export interface Arrival {
  readonly launch: Launch;
  readonly edge: Launch['edge'];
  readonly steps: readonly Step[];
  /** ns of the way, at most and at least; a shortest delay that nobody prints counts as 0. */
  readonly max: number;
  readonly min: number;
  readonly missing: readonly string[];
}

export interface TraceContext {
  readonly design: Design;
  readonly stage: number;
  readonly netlist: Netlist;
  readonly processor: NetPart;
  /** The bus controller that makes the commands, where there is one. */
  readonly controller?: NetPart | undefined;
  /** ns that a net's load adds to what its driver prints. */
  readonly loadDelay: (net: number, driver: NetPin) => number;
  /** The grade to reckon with, where another than the part's own is tried. */
  readonly gradeOf: (part: NetPart) => string | undefined;
  readonly passes: (part: string, pin: string) => number;
}

export function arcsIn(context: TraceContext, part: NetPart): readonly PartArc[] {
  return arcsOf({ record: part.record, family: part.family, grade: context.gradeOf(part) });
}

/** An arc's greatest or least figure in ns; null where that side isn't printed. */
export function arcNs(arc: PartArc['arc'], side: 'min' | 'max'): number | null {
  const factor = nsPerUnit(arc);
  const value = arc[side];
  return factor === undefined || value === undefined ? null : value * factor;
}

const flip = (edge: Launch['edge']): Launch['edge'] => (edge === 'rise' ? 'fall' : edge === 'fall' ? 'rise' : 'valid');

const inAt = (item: { readonly stage: number; readonly until: number | undefined }, stage: number): boolean =>
  item.stage <= stage && (item.until === undefined || stage < item.until);

/** Readings of records and formulas, made once: a machine is traced again at every change. */
const influencesKnown = new WeakMap<PartRecord, ReturnType<typeof influences>>();

function influencesOf(record: PartRecord): ReturnType<typeof influences> {
  if (!influencesKnown.has(record)) influencesKnown.set(record, influences(record));
  return influencesKnown.get(record);
}

interface PlannedFormulas {
  readonly names: ReadonlySet<string>;
  readonly formula: Formula | undefined;
}
const plannedKnown = new WeakMap<DeviceOutput, PlannedFormulas>();

function plannedFormulas(planned: DeviceOutput): PlannedFormulas {
  const before = plannedKnown.get(planned);
  if (before !== undefined) return before;
  const names = new Set<string>();
  for (const text of [planned.formula, planned.enable, planned.select?.when]) {
    const formula = text === undefined || text === '' ? undefined : parseFormula(text).formula;
    for (const name of formula === undefined ? [] : namesOf(formula)) names.add(foldName(name));
  }
  for (const name of planned.select?.address ?? []) names.add(foldName(name));
  const made: PlannedFormulas = {
    names,
    formula: planned.formula === undefined ? undefined : parseFormula(planned.formula).formula,
  };
  plannedKnown.set(planned, made);
  return made;
}

const senses = new WeakMap<Formula, Map<string, 'same' | 'opposite' | 'either'>>();

/** Whether a formula follows a name, opposes it, or may do either. Formulas of more than ten names count as either. */
function senseOf(formula: Formula, name: string): 'same' | 'opposite' | 'either' {
  let known = senses.get(formula);
  if (known === undefined) {
    known = new Map();
    senses.set(formula, known);
  }
  const key = foldName(name);
  const before = known.get(key);
  if (before !== undefined) return before;
  const names = namesOf(formula);
  const index = names.findIndex((item) => foldName(item) === key);
  let sense: 'same' | 'opposite' | 'either' = 'either';
  if (index >= 0 && names.length <= 10) {
    const table = truthTable(formula, names);
    let rises = false;
    let falls = false;
    for (let row = 0; row < table.length; row++) {
      if ((row & (1 << index)) !== 0) continue;
      const low = table[row]!;
      const high = table[row | (1 << index)]!;
      rises ||= high > low;
      falls ||= high < low;
    }
    sense = rises && !falls ? 'same' : falls && !rises ? 'opposite' : 'either';
  }
  known.set(key, sense);
  return sense;
}

/** Pins of the processor that a signal of a cycle means. */
export function signalPins(processor: NetPart, signal: string): string[] {
  const bus = processor.record.bus;
  const text = signal === 'address' ? bus?.address : signal === 'data' ? bus?.data : bus?.signals?.[signal];
  if (text === undefined) return [];
  return expandPins(processor.record, text).flatMap((name) => pinsNamed(processor.record, name).map((pin) => pin.name));
}

/** Everything that a cycle sends to the nets of one netlist. */
export class Tracer {
  readonly #context: TraceContext;
  readonly #view: NetlistView;
  readonly #plans: ReadonlyMap<string, DevicePlan>;
  readonly #sources: Readonly<Record<Phase, ReadonlyMap<number, readonly Launch[]>>>;
  readonly #known = new Map<string, readonly Arrival[]>();
  readonly #clockNet: number;

  constructor(context: TraceContext, cycle: BusCycle) {
    this.#context = context;
    this.#view = viewOf(context.netlist);
    this.#plans = new Map(context.design.devices.map((plan) => [foldName(plan.part), plan]));
    this.#sources = { begin: this.#launches(cycle.begin), end: this.#launches(cycle.end) };
    const clock = signalPins(context.processor, 'clock')[0];
    this.#clockNet = this.#pinsOf(context.processor).find((pin) => pin.name === clock)?.net ?? -1;
  }

  #pinsOf(part: NetPart): NetPin[] {
    return part.pins.map((id) => this.#context.netlist.pins[id]!);
  }

  #launches(launches: readonly Launch[]): Map<number, Launch[]> {
    const found = new Map<number, Launch[]>();
    for (const launch of launches) {
      const part = launch.via === 'controller' ? this.#context.controller : this.#context.processor;
      if (part === undefined) continue;
      const names = new Set(signalPins(part, launch.signal));
      for (const pin of this.#pinsOf(part)) {
        if (!names.has(pin.name) || pin.net < 0) continue;
        const list = found.get(pin.net) ?? [];
        list.push(launch);
        found.set(pin.net, list);
      }
    }
    return found;
  }

  /** What a cycle's edges do at a net. `data` follows the written data only; `control` everything else. */
  arrivals(net: number, phase: Phase, kind: 'control' | 'data' = 'control'): readonly Arrival[] {
    const key = `${net} ${phase} ${kind}`;
    const before = this.#known.get(key);
    if (before !== undefined) return before;
    this.#known.set(key, []); // a loop through gates adds nothing to what enters it
    const found = this.#find(net, phase, kind);
    this.#known.set(key, found);
    return found;
  }

  #find(net: number, phase: Phase, kind: 'control' | 'data'): Arrival[] {
    const { netlist, processor, controller, loadDelay } = this.#context;
    if (net < 0 || netlist.nets[net]!.kind !== 'signal') return [];
    const found: Arrival[] = [];
    const own = this.#view.nets[net]!.pins.find((pin) => pin.part === processor.id || pin.part === controller?.id);
    for (const launch of this.#sources[phase].get(net) ?? []) {
      if ((launch.signal === 'data') !== (kind === 'data')) continue;
      const load = own === undefined ? 0 : loadDelay(net, own);
      found.push({
        launch,
        edge: launch.edge,
        steps: load > 0 ? [loadStep(netlist.nets[net]!.name, load)] : [],
        max: load,
        min: 0,
        missing: [],
      });
    }
    // On a line that the processor launches itself in this cycle it is the only one to follow: what a transceiver puts back on
    // shared address and data lines comes when the latches behind them are closed.
    if (own !== undefined && this.#sources.begin.has(net)) return worstOf(found);
    for (const pin of this.#view.nets[net]!.pins) {
      if (pin.part === processor.id) continue;
      const part = netlist.parts[pin.part]!;
      if (part.record.symbol === 'resistor' && part.implied?.kind === 'series') {
        const far = this.#pinsOf(part).find((other) => other !== pin);
        if (far !== undefined) found.push(...this.arrivals(far.net, phase, kind));
      } else if (kind === 'data' && part.record.bus?.role !== 'transceiver') continue;
      else if (this.#drives(part, pin)) found.push(...this.#through(part, pin, phase, kind));
    }
    return worstOf(found);
  }

  #planned(part: NetPart, pin: NetPin): DeviceOutput | undefined {
    return this.#plans
      .get(foldName(part.name))
      ?.outputs.find((output) => output.pin === pin.name && inAt(output, this.#context.stage));
  }

  #drives(part: NetPart, pin: NetPin): boolean {
    const { category } = part.record;
    if (category !== 'logic' && category !== 'logic-device' && category !== 'driver') return false;
    if (
      pin.kind !== 'output' &&
      pin.kind !== 'three-state' &&
      pin.kind !== 'bidirectional' &&
      pin.kind !== 'open-drain'
    )
      return false;
    return category !== 'logic-device' || this.#planned(part, pin) !== undefined;
  }

  /** Through one part to the nets of the inputs that act on an output. */
  #through(part: NetPart, output: NetPin, phase: Phase, kind: 'control' | 'data'): Arrival[] {
    const { netlist, loadDelay, passes } = this.#context;
    const planned = this.#planned(part, output);
    const pins = this.#pinsOf(part);
    const { inputs, clocks, unknown } = this.#inputsOf(part, output, planned);
    const found: Arrival[] = [];
    if (clocks.some((name) => pins.some((pin) => pin.name === name && pin.net === this.#clockNet && pin.net >= 0)))
      found.push(...this.#unfollowed(phase, `${part.name} is clocked by the machine's clock; that is not followed`));
    if (unknown) found.push(...this.#unfollowed(phase, `what ${part.name} (${part.type}) does is not described`));
    const load = loadDelay(output.net, output);
    for (const name of inputs) {
      for (const input of pins.filter((pin) => pin.name === name && pin.net >= 0)) {
        const before = this.arrivals(input.net, phase, kind);
        if (before.length === 0) continue;
        const arcs = this.#arcs(part, input.name, output.name, planned);
        const times = part.record.category === 'logic-device' ? passes(part.name, output.name) : 1;
        const chosen = worstArc(arcs);
        for (const arrival of before) {
          const missing = chosen === undefined ? [`delay of ${part.name} from ${input.name} to ${output.name}`] : [];
          const max = chosen === undefined ? 0 : chosen.max * times;
          const min = chosen === undefined ? 0 : chosen.min * times;
          const steps: Step[] =
            chosen === undefined
              ? []
              : [
                  {
                    part: part.name,
                    symbol: times === 1 ? chosen.arc.symbol : `${chosen.arc.symbol}, ${times} passes`,
                    value: nanoseconds(max),
                    source: sourceOf(part.record, chosen.arc.source).text,
                  },
                ];
          if (load > 0) steps.push(loadStep(netlist.nets[output.net]!.name, load));
          found.push({
            launch: arrival.launch,
            edge: this.#edge(part, output, planned, input, arrival.edge, phase),
            steps: [...arrival.steps, ...steps],
            max: arrival.max + max + load,
            min: arrival.min + min,
            missing: [...arrival.missing, ...missing],
          });
        }
      }
    }
    return found;
  }

  /** Arrivals that stand for something not followed: whatever rests on them is unknown. */
  #unfollowed(phase: Phase, text: string): Arrival[] {
    const launch = [...this.#sources[phase].values()][0]?.[0];
    return launch === undefined ? [] : [{ launch, edge: 'valid', steps: [], max: 0, min: 0, missing: [text] }];
  }

  #inputsOf(
    part: NetPart,
    output: NetPin,
    planned: DeviceOutput | undefined,
  ): { inputs: readonly string[]; clocks: readonly string[]; unknown: boolean } {
    const plan = this.#plans.get(foldName(part.name));
    if (planned !== undefined && plan !== undefined) {
      const { names } = plannedFormulas(planned);
      const byNet = plan.inputs.filter((input) => names.has(foldName(input.net))).map((input) => input.pin);
      // A fixed decoder's own behaviour knows its enables as well.
      const fixed = part.record.category === 'logic-device' ? undefined : influencesOf(part.record)?.get(output.name);
      return {
        inputs: fixed === undefined ? byNet : [...fixed.direct],
        clocks: planned.clock === undefined ? [] : signalNetPins(plan, planned.clock),
        unknown: false,
      };
    }
    const influence = influencesOf(part.record)?.get(output.name);
    if (influence === undefined) return { inputs: [], clocks: [], unknown: true };
    return { inputs: [...influence.direct], clocks: [...influence.clocks], unknown: false };
  }

  #arcs(part: NetPart, input: string, output: string, planned: DeviceOutput | undefined): PartArc[] {
    const arcs = arcsIn(this.#context, part).filter(({ arc }) => arc.kind === 'delay' || arc.kind === 'enable');
    if (part.record.category === 'logic-device') {
      // Any pin can be an input of the array; the sheet's delay stands for all of them.
      const plain = arcs.filter(
        ({ arc, from, to }) => arc.kind === 'delay' && from.edge === undefined && to.pins.size > 0,
      );
      const enable = arcs.filter(({ arc, from }) => arc.kind === 'enable' && from.edge === undefined);
      return planned?.enable === undefined ? plain : [...plain, ...enable];
    }
    return arcs.filter(({ from, to }) => from.pins.has(input) && to.pins.has(output));
  }

  /** Which way an output goes when an input does. */
  #edge(
    part: NetPart,
    output: NetPin,
    planned: DeviceOutput | undefined,
    input: NetPin,
    edge: Launch['edge'],
    phase: Phase,
  ): Launch['edge'] {
    if (planned?.select !== undefined) {
      // Whatever selects, selects: the output goes active at the cycle's beginning and inactive at its end.
      return planned.select.activeLow === (phase === 'begin') ? 'fall' : 'rise';
    }
    if (edge === 'valid') return 'valid';
    let formula: Formula | undefined;
    let name = input.name;
    if (planned?.formula !== undefined) {
      formula = plannedFormulas(planned).formula;
      name = this.#context.netlist.nets[input.net]!.name;
    } else if (part.record.behaviour !== undefined && part.record.behaviour.model === undefined) {
      formula = outputFormula(part, output.name);
    }
    const sense = formula === undefined ? 'either' : senseOf(formula, name);
    return sense === 'same' ? edge : sense === 'opposite' ? flip(edge) : 'valid';
  }
}

const outputFormulas = new WeakMap<object, ReadonlyMap<string, Formula>>();

function outputFormula(part: NetPart, pin: string): Formula | undefined {
  const behaviour = part.record.behaviour!;
  let known = outputFormulas.get(behaviour);
  if (known === undefined) {
    known = new Map(
      readBehaviour(behaviour).behaviour.outputs.map((output) => [
        pinsNamed(part.record, output.pin)[0]?.name ?? output.pin,
        output.value,
      ]),
    );
    outputFormulas.set(behaviour, known);
  }
  return known.get(pin);
}

function signalNetPins(plan: DevicePlan, formula: string): string[] {
  const parsed = parseFormula(formula).formula;
  const names = new Set((parsed === undefined ? [] : namesOf(parsed)).map(foldName));
  return plan.inputs.filter((input) => names.has(foldName(input.net))).map((input) => input.pin);
}

export function loadStep(net: string, ns: number): Step {
  return {
    part: net,
    symbol: 'load',
    value: nanoseconds(ns),
    source: 'estimate from the load beyond the specified one',
  };
}

/** The slowest of several arcs that cover the same way, with its shortest delay over all of them. */
export function worstArc(arcs: readonly PartArc[]): { arc: PartArc['arc']; max: number; min: number } | undefined {
  let worst: { arc: PartArc['arc']; max: number } | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const { arc } of arcs) {
    const max = arcNs(arc, 'max');
    if (max === null) continue;
    if (worst === undefined || max > worst.max) worst = { arc, max };
    least = Math.min(least, arcNs(arc, 'min') ?? 0);
  }
  return worst === undefined ? undefined : { ...worst, min: Math.max(0, least) };
}

/** One arrival for each launch and edge: the slowest, with the least of the shortest ways; what is unknown stays. */
function worstOf(arrivals: readonly Arrival[]): Arrival[] {
  const best = new Map<string, Arrival>();
  for (const arrival of arrivals) {
    const { launch, edge } = arrival;
    const key = `${launch.signal} ${launch.edge} ${launch.at.n} ${launch.at.phase} ${edge} ${arrival.missing.join(';')}`;
    const before = best.get(key);
    if (before === undefined) best.set(key, arrival);
    else {
      const slower = arrival.max > before.max ? arrival : before;
      best.set(key, { ...slower, min: Math.min(arrival.min, before.min) });
    }
  }
  return [...best.values()];
}
