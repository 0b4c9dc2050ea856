// The machine of a stage made ready for trials: parts, their pins by the bench, what pulls. Made once; a trial then wires it up
// as a hypothesis says. From the intended circuit: which parts there are and what they do; never which net a pin is on.

import { parseValue } from '../../base/index.ts';
import { pinsNamed } from '../../parts/index.ts';
import type { Circuit, SimContents, SimNetlist } from '../../sim/index.ts';
import { type Bench, nodesOf } from '../faults/index.ts';
import { type DriveCode, driveCode, type StepCode, stepCode } from './formula-code.ts';

type CircuitPart = Circuit['parts'][number];

export interface TrialPart {
  readonly part: CircuitPart;
  /** Place in the netlist, or -1. */
  readonly netPart: number;
  /** Slots of the inputs: flat for formulas, by port for models. */
  readonly ins: readonly (readonly number[])[];
  readonly outs: readonly (readonly number[])[];
  readonly state: number;
  readonly words: number;
  /** Index of the input words now and before, and of the output words (models). */
  readonly inWords: number;
  readonly beforeWords: number;
  readonly outWords: number;
  readonly drive: DriveCode | undefined;
  readonly step: StepCode | undefined;
  /** Inputs of a formula part, now and before. */
  readonly now: Uint8Array;
  readonly before: Uint8Array;
  readonly drives: Uint8Array;
  readonly drives2: Uint8Array;
  /** Whether what it drives can change with an input: by port, and by bit for formulas. */
  readonly drivesFrom: readonly (readonly boolean[])[];
  readonly commits: boolean;
  readonly isMemory: boolean;
  /** A memory that comes up with unknown bytes and is written. */
  readonly isRam: boolean;
  readonly isSupervisor: boolean;
}

/** A pin of a part or an inner net of the circuit, wired to a node. */
export interface Slot {
  /** Index in the bench, or -1. */
  readonly pin: number;
  /** Number of the inner net, or -1. */
  readonly inner: number;
}

export interface TrialPlan {
  readonly bench: Bench;
  readonly circuit: Circuit;
  readonly parts: readonly TrialPart[];
  readonly slots: readonly Slot[];
  readonly innerCount: number;
  readonly words: number;
  /** State at power-up. */
  readonly power: Int32Array;
  /** Resistors by bench pin; pulls inside parts. */
  readonly resistors: readonly { readonly a: number; readonly b: number; readonly ohms: number }[];
  readonly pulls: readonly {
    readonly pin: number;
    readonly up: boolean;
    readonly siemens: number;
    readonly part: number;
  }[];
  /** Supply and ground pins by part of the netlist. */
  readonly supplies: readonly (readonly { readonly pin: number; readonly level: 1 | 2 }[])[];
  /** Sources that swing, with slot and half period in ns. */
  readonly clocks: readonly { readonly slot: number; readonly halfNs: number; readonly start: number }[];
  readonly hands: readonly { readonly slot: number; readonly start: number }[];
  /** Places in `parts` of processor and memories. */
  readonly processor: number;
  /** Bench pins of the processor's clock and reset inputs. */
  readonly clockPin: number;
  readonly resetPin: number;
}

/**
 * Which pins can matter to what is seen at `probes` (strips): those of parts that reach a probe or the processor, outputs of all
 * others (they may get onto a net by mistake), and resistors. 1 for each bench pin that counts.
 */
export function pinsThatCount(plan: TrialPlan, probes: readonly number[]): Uint8Array {
  const { bench, slots } = plan;
  const good = nodesOf(bench, probes, {});
  const nodeOf = (slot: number): number => {
    const { pin, inner } = slots[slot]!;
    return pin >= 0 ? good.ofPin[pin]! : inner >= 0 ? good.count + inner : -1;
  };
  const wanted = new Set<number>(good.ofProbe);
  const reached = new Set<number>();
  if (plan.processor >= 0) reached.add(plan.processor);
  for (const slot of plan.parts[plan.processor]?.ins.flat() ?? []) wanted.add(nodeOf(slot));
  for (let grew = true; grew; ) {
    grew = false;
    for (const { a, b } of plan.resistors) {
      const [x, y] = [good.ofPin[a]!, good.ofPin[b]!];
      if (good.fed[x] !== 0 || good.fed[y] !== 0 || wanted.has(x) === wanted.has(y)) continue;
      wanted.add(x).add(y);
      grew = true;
    }
    plan.parts.forEach((entry, k) => {
      if (reached.has(k) || !entry.outs.flat().some((slot) => wanted.has(nodeOf(slot)))) return;
      reached.add(k);
      for (const slot of entry.ins.flat()) wanted.add(nodeOf(slot));
      grew = true;
    });
  }
  const counts = new Uint8Array(bench.pins.length);
  const parts = new Set<number>();
  plan.parts.forEach((entry, k) => {
    for (const slot of entry.outs.flat()) if (slots[slot]!.pin >= 0) counts[slots[slot]!.pin] = 1;
    if (!reached.has(k)) return;
    parts.add(entry.netPart);
    for (const slot of entry.ins.flat()) if (slots[slot]!.pin >= 0) counts[slots[slot]!.pin] = 1;
  });
  for (const { a, b } of plan.resistors) {
    counts[a] = 1;
    counts[b] = 1;
  }
  plan.supplies.forEach((list, part) => {
    if (parts.has(part)) for (const { pin } of list) counts[pin] = 1;
  });
  // Switches and buttons join their pins.
  for (const part of plan.circuit.parts)
    if (part.kind === 'formulas' && part.inputPins.length === 1 && part.inputPins[0] === -1)
      for (const pin of bench.pinsOf[part.part] ?? []) counts[pin] = 1;
  return counts;
}

/** 50 kohm, as in the simulator: common practice, no source. */
const INNER_PULL = 1 / 50e3;

type Formulas = Extract<CircuitPart, { kind: 'formulas' }>['formulas'];

/** Whether an output looks at an input other than through state. */
function usesInput(part: Formulas, input: number): boolean {
  const uses = (expr: Formulas['outputs'][number]['value']): boolean =>
    expr.op === 'input'
      ? expr.index === input
      : expr.op === 'not'
        ? uses(expr.term)
        : expr.op === 'and' || expr.op === 'or' || expr.op === 'xor'
          ? expr.terms.some(uses)
          : false;
  return part.outputs.some(({ value, enable }) => uses(value) || (enable !== undefined && uses(enable)));
}

/** Makes the plan. `netlist` has its parts in the order of the bench's netlist. */
export function planTrials(bench: Bench, circuit: Circuit, netlist: SimNetlist, contents: SimContents): TrialPlan {
  const pinAt = new Map<number, number>();
  bench.pins.forEach((pin, k) => {
    pinAt.set(pin.part * 256 + pin.number, k);
  });
  const slots: Slot[] = [];
  const inner = new Map<number, number>();
  const innerOf = (net: number): number => {
    let number = inner.get(net);
    if (number === undefined) {
      number = inner.size;
      inner.set(net, number);
    }
    return number;
  };
  const slot = (part: number, pin: number, net: number): number => {
    const at = pin < 0 ? undefined : pinAt.get(part * 256 + pin);
    slots.push({
      pin: at ?? -1,
      inner: at === undefined && net >= 0 && circuit.nets[net]!.startsWith('.') ? innerOf(net) : -1,
    });
    return slots.length - 1;
  };
  let words = 0;
  const take = (count: number): number => {
    words += count;
    return words - count;
  };
  const parts = circuit.parts.map((part): TrialPart => {
    const record = netlist.parts[part.part]?.record;
    const none = new Uint8Array(0);
    if (part.kind === 'formulas') {
      const { formulas } = part;
      const commits = formulas.states.length > 0;
      return {
        part,
        netPart: part.part,
        ins: [part.inputs.map((net, k) => slot(part.part, part.inputPins[k]!, net))],
        outs: [part.outputs.map((net, k) => slot(part.part, part.outputPins[k]!, net))],
        state: take(formulas.states.length),
        words: formulas.states.length,
        inWords: 0,
        beforeWords: 0,
        outWords: 0,
        drive: driveCode(formulas),
        step: stepCode(formulas),
        now: new Uint8Array(part.inputs.length),
        before: new Uint8Array(part.inputs.length),
        drives: new Uint8Array(part.outputs.length),
        drives2: new Uint8Array(part.outputs.length),
        drivesFrom: [part.inputs.map((_, k) => usesInput(formulas, k))],
        commits,
        isMemory: false,
        isRam: false,
        isSupervisor: false,
      };
    }
    const { model } = part;
    const ports = (nets: readonly (readonly number[])[], pins: readonly (readonly number[])[]): number[][] =>
      nets.map((port, k) => port.map((net, bit) => slot(part.part, pins[k]![bit]!, net)));
    const isMemory = record?.category === 'memory';
    return {
      part,
      netPart: part.part,
      ins: ports(part.ins, part.inPins),
      outs: ports(part.outs, part.outPins),
      state: take(model.words),
      words: model.words,
      inWords: take(model.ins.length),
      beforeWords: take(model.ins.length),
      outWords: take(model.outs.length),
      drive: undefined,
      step: undefined,
      now: none,
      before: none,
      drives: none,
      drives2: none,
      drivesFrom: part.ins.map((port, k) => port.map(() => model.drivesFrom[k]!)),
      commits: model.commitsFrom.includes(true),
      isMemory,
      isRam: isMemory && model.commitsFrom.includes(true) && contents.images?.get(part.name) === undefined,
      isSupervisor: record?.behaviour?.model === 'supervisor',
    };
  });
  const clocks: TrialPlan['clocks'][number][] = [];
  const hands: TrialPlan['hands'][number][] = [];
  for (const source of circuit.sources) {
    slots.push({ pin: -1, inner: innerOf(source.net) });
    if (source.rateHz === undefined) hands.push({ slot: slots.length - 1, start: source.start });
    else clocks.push({ slot: slots.length - 1, halfNs: 0.5e9 / source.rateHz, start: source.start });
  }
  const resistors: { a: number; b: number; ohms: number }[] = [];
  const pulls: { pin: number; up: boolean; siemens: number; part: number }[] = [];
  const supplies = bench.netlist.parts.map((part, id) => {
    const { record } = part;
    const ohms = Math.max((part.value === undefined ? undefined : parseValue(part.value, 'resistance')) ?? 10e3, 1e-3);
    const number = (name: string | undefined): number => pinsNamed(record, name ?? '')[0]?.number ?? 0;
    const pair = (a: number, b: number, value: number): void => {
      const [x, y] = [pinAt.get(id * 256 + a), pinAt.get(id * 256 + b)];
      if (x !== undefined && y !== undefined) resistors.push({ a: x, b: y, ohms: value });
    };
    const units = (record.units ?? []).filter((unit) => unit.kind === 'resistor');
    for (const unit of units) pair(number(unit.pins.A), number(unit.pins.B), ohms);
    if (units.length === 0 && record.symbol === 'resistor') {
      if (record.pins.length === 2) pair(record.pins[0]!.number, record.pins[1]!.number, ohms);
      // A trimmer stands in the middle.
      if (record.pins.length === 3)
        for (const k of [0, 1]) pair(record.pins[k]!.number, record.pins[k + 1]!.number, ohms / 2);
    }
    for (const row of record.pins) {
      const pin = pinAt.get(id * 256 + row.number);
      if (pin === undefined || row.pull === undefined) continue;
      const kohm = record.facts?.['pull-up-kohm'];
      const siemens = typeof kohm === 'number' && row.kind === 'open-drain' ? 1 / (kohm * 1e3) : INNER_PULL;
      pulls.push({ pin, up: row.pull === 'up', siemens, part: id });
    }
    if (record.category === 'connector' || record.category === 'supply') return [];
    return record.pins.flatMap((row) => {
      const pin = pinAt.get(id * 256 + row.number);
      const level = row.kind === 'supply' ? 1 : row.kind === 'ground' ? 2 : 0;
      return pin === undefined || level === 0 ? [] : [{ pin, level: level as 1 | 2 }];
    });
  });
  const processor = parts.findIndex(({ netPart }) => netlist.parts[netPart]?.record.category === 'processor');
  const home = parts[processor];
  const pinOf = (...names: readonly string[]): number => {
    if (home === undefined) return -1;
    const { record } = netlist.parts[home.netPart]!;
    for (const name of names) {
      const row = pinsNamed(record, name)[0];
      const pin = row === undefined ? undefined : pinAt.get(home.netPart * 256 + row.number);
      if (pin !== undefined) return pin;
    }
    return -1;
  };
  const plan = {
    bench,
    circuit,
    parts,
    slots,
    innerCount: inner.size,
    words,
    power: new Int32Array(words),
    resistors,
    pulls,
    supplies,
    clocks,
    hands,
    processor,
    clockPin: pinOf('CLK', 'PHI2', 'PHI0', 'E', 'XIN'),
    resetPin: pinOf('/RESET', '/RES', 'RESET'),
  };
  // A fixed pattern: what RAM and registers hold is not known, and nothing may hang on it.
  let seed = 0x2545f491;
  const random = (): number => {
    seed = (Math.imul(seed, 1664525) + 1013904223) | 0;
    return seed;
  };
  for (const entry of parts) {
    const { part } = entry;
    if (part.kind === 'model') {
      part.model.power(plan.power, entry.state, random, { now: 0, after: () => undefined, out: () => undefined });
      if (entry.isRam) plan.power.fill(0xff00ff, entry.state, entry.state + entry.words);
    } else
      part.formulas.states.forEach((_, k) => {
        plan.power[entry.state + k] = part.formulas.powerUp.get(k) ?? (random() >>> 16) & 1;
      });
  }
  return plan;
}
