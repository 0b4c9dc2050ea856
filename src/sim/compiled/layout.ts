// Where everything lies in the one Int32Array of a compiled machine: nets packed in buses of up to 16, the words that drive
// them, state, inputs as they were. Buses gather nets that the same words drive, so that most parts read with one mask.

import { type Circuit, type CircuitPart, drivesFromOf, readsOf } from '../circuit/circuit.ts';
import type { Expr, FormulaPart } from '../models/formulas.ts';

/** One lane of a word: bit `to` of it is bit `from` of word `at`, or a constant value. */
export type Lane = { readonly at: number; readonly from: number } | { readonly value: number };

/** A word that drives nets: lanes by bit; -1 where a lane drives nothing. */
export interface Driver {
  /** Index in the array. */
  readonly at: number;
  readonly nets: readonly number[];
  /** Place of the part in the circuit, or -1 for a source. */
  readonly part: number;
  /** Which output of the part a lane is. */
  readonly outputs: readonly number[];
}

export interface Bus {
  readonly id: number;
  /** Index of the value word and of the word of floating bits. */
  readonly at: number;
  readonly floats: number;
  /** Index of the value word as it was at the commit before, while its bit of `changed` is set. */
  readonly old: number;
  /** What drives it at this moment, before pulls: kept for hooked buses only. */
  readonly raw: number;
  readonly nets: readonly number[];
  readonly drivers: readonly Driver[];
  /** Always resolved by the hook: nets of clusters and conditions of switches. */
  readonly hooked: boolean;
}

/** Outputs of a formula part that have one shape. */
export interface OutputGroup {
  readonly driver: Driver;
  readonly rules: FormulaPart['outputs'];
}

export interface PartLayout {
  readonly part: CircuitPart;
  readonly place: number;
  /** Words of state; formula parts pack 16 variables a word. */
  readonly state: number;
  readonly ins: number;
  readonly before: number;
  readonly outs: number;
  readonly drivers: readonly Driver[];
  readonly groups: readonly OutputGroup[];
  readonly hasCommit: boolean;
  /** Its bit among the bits of parts: its place. */
  readonly bit: number;
}

export interface MachineLayout {
  readonly circuit: Circuit;
  readonly words: number;
  readonly buses: readonly Bus[];
  /** Per net: its bus and bit, or undefined for what supply and ground feed. */
  readonly places: readonly ({ readonly bus: Bus; readonly bit: number } | undefined)[];
  readonly parts: readonly PartLayout[];
  readonly sources: readonly Driver[];
  /** Words of bits, one for each part; and for each bus. */
  readonly changeWords: number;
  readonly busWords: number;
  /** Index of the words of part bits: to be asked in this sweep, in the next one, to be committed, states that changed now and before. */
  readonly now: number;
  readonly next: number;
  readonly round: number;
  readonly states: number;
  readonly again: number;
  /** Parts to which every change of an input matters: their clock is not known, or they are being written to. */
  readonly alert: number;
  /** Buses that changed since the last commit. */
  readonly changed: number;
  /** Buses that changed in this step. */
  readonly step: number;
  /** Place of the part whose model is being asked. */
  readonly who: number;
  /** Index of the count of edges in this run. */
  readonly edge: number;
  /** Index of a word that is not 0 where a shared net may be in conflict. */
  readonly suspect: number;
  /** Index of masks: buses with a hook set at run time; watched buses; marks by hooks; faulted parts. */
  readonly hooks: number;
  readonly watch: number;
  readonly marks: number;
  readonly commitMarks: number;
  readonly faulted: number;
  /** Index of a word that says a loop must stop after this step, and of the count of edges. */
  readonly stop: number;
}

/** The shape of a formula, with its leaves taken out in order. */
export function shapeOf(expr: Expr, leaves: Expr[]): string {
  switch (expr.op) {
    case 'constant':
      return String(expr.value);
    case 'input':
    case 'state':
      leaves.push(expr);
      return '_';
    case 'not':
      return `~${shapeOf(expr.term, leaves)}`;
    default:
      return `${expr.op}(${expr.terms.map((term) => shapeOf(term, leaves)).join()})`;
  }
}

/** Lays a circuit out. */
export function layMachine(circuit: Circuit): MachineLayout {
  let words = 0;
  const take = (count: number): number => {
    words += count;
    return words - count;
  };
  const driversOf: Driver[][] = circuit.nets.map(() => []);
  const addDriver = (nets: readonly number[], part: number, outputs: readonly number[]): Driver => {
    const driver: Driver = { at: take(1), nets, part, outputs };
    for (const net of new Set(nets)) if (net >= 0) driversOf[net]!.push(driver);
    return driver;
  };
  const sources = circuit.sources.map((source) => addDriver([source.net], -1, [0]));
  const half = circuit.parts.map((part, place) => {
    const drivers: Driver[] = [];
    const groups: OutputGroup[] = [];
    if (part.kind === 'model') {
      let output = 0;
      for (const port of part.outs) {
        drivers.push(
          addDriver(
            port,
            place,
            port.map(() => output++),
          ),
        );
      }
    } else {
      const byShape = new Map<string, number[]>();
      part.formulas.outputs.forEach((rule, k) => {
        const leaves: Expr[] = [];
        const key = `${shapeOf(rule.value, leaves)};${rule.enable === undefined ? '' : shapeOf(rule.enable, leaves)};${rule.openDrain}`;
        byShape.set(key, [...(byShape.get(key) ?? []), k]);
      });
      for (const list of byShape.values())
        for (let k = 0; k < list.length; k += 16) {
          const some = list.slice(k, k + 16);
          const driver = addDriver(
            some.map((output) => part.outputs[output]!),
            place,
            some,
          );
          drivers.push(driver);
          groups.push({ driver, rules: some.map((output) => part.formulas.outputs[output]!) });
        }
    }
    return { part, place, drivers, groups };
  });
  // Buses.
  const conditions = new Set(circuit.clusters.flatMap((cluster) => cluster.switches.map((entry) => entry.condition)));
  const groups = new Map<string, number[]>();
  circuit.nets.forEach((_, net) => {
    if (circuit.fed[net] !== 0) return;
    const isHooked = circuit.clusterOf[net]! >= 0 || conditions.has(net);
    const key = `${isHooked ? 'h' : ''}${driversOf[net]!.map((driver) => driver.at).join()}`;
    groups.set(key, [...(groups.get(key) ?? []), net]);
  });
  const buses: Bus[] = [];
  const places: MachineLayout['places'][number][] = circuit.nets.map(() => undefined);
  for (const [key, list] of groups) {
    const lane = (net: number): number => {
      const first = driversOf[net]![0];
      return first === undefined ? 0 : first.nets.indexOf(net);
    };
    list.sort((a, b) => lane(a) - lane(b) || a - b);
    for (let k = 0; k < list.length; k += 16) {
      const nets = list.slice(k, k + 16);
      const bus: Bus = {
        id: buses.length,
        at: take(1),
        floats: take(1),
        old: take(1),
        raw: take(1),
        nets,
        drivers: driversOf[nets[0]!]!,
        hooked: key.startsWith('h'),
      };
      nets.forEach((net, bit) => {
        places[net] = { bus, bit };
      });
      buses.push(bus);
    }
  }
  const parts = half.map((entry): PartLayout => {
    const { part } = entry;
    const isModel = part.kind === 'model';
    const states = isModel ? part.model.words : Math.ceil(part.formulas.states.length / 16);
    const hasCommit = isModel ? part.model.commitsFrom.includes(true) : part.formulas.states.length > 0;
    // Formula parts keep their inputs as they were by buses they read: one word for each.
    const inputs = isModel ? part.ins.length : Math.ceil(part.inputs.length / 16);
    return {
      ...entry,
      state: take(states),
      ins: take(inputs),
      before: take(inputs),
      outs: take(isModel ? part.outs.length : 0),
      hasCommit,
      bit: entry.place,
    };
  });
  const changeWords = Math.max(1, Math.ceil(parts.length / 32));
  const busWords = Math.max(1, Math.ceil(buses.length / 32));
  return {
    circuit,
    buses,
    places,
    parts,
    sources,
    changeWords,
    busWords,
    now: take(changeWords),
    next: take(changeWords),
    round: take(changeWords),
    states: take(changeWords),
    again: take(changeWords),
    alert: take(changeWords),
    changed: take(busWords),
    step: take(busWords),
    who: take(1),
    edge: take(1),
    suspect: take(1),
    hooks: take(busWords),
    watch: take(busWords),
    marks: take(changeWords),
    commitMarks: take(changeWords),
    faulted: take(changeWords),
    stop: take(1),
    words,
  };
}

/** Bits of places as masks. */
export function maskWords(places: readonly number[], words: number): number[] {
  const masks = new Array<number>(words).fill(0);
  for (const place of places) masks[place >> 5]! |= 1 << (place & 31);
  return masks;
}

/** Whether latches or asynchronous inputs of formulas read state: then they may need to be asked again. */
export function readsOwnState(formulas: FormulaPart): boolean {
  const exprs = [
    ...formulas.latched.flatMap((one) => [one.while, ...one.set.map((set) => set.value)]),
    ...formulas.asynchronous.flatMap((one) => [one.when, ...one.set.map((set) => set.value)]),
  ];
  return exprs.some((expr) => leavesOf(expr).some((leaf) => leaf.op === 'state'));
}

function leavesOf(expr: Expr): Expr[] {
  const leaves: Expr[] = [];
  shapeOf(expr, leaves);
  return leaves;
}

/** Nets whose change makes a part's commit necessary: always, and while the part is alert. */
function wakesOf(part: CircuitPart): { readonly always: readonly number[]; readonly alert: readonly number[] } {
  const reads = readsOf(part);
  let always: number[];
  let others = reads;
  if (part.kind === 'model') {
    const { model } = part;
    const pins = part.ins.flatMap((port, k) =>
      port.map((net, bit) => ({ net, name: model.ins[k]![bit]!, commits: model.commitsFrom[k]! })),
    );
    const on = model.commitsOn;
    always = pins.filter(({ name, commits }) => (on === undefined ? commits : on.includes(name))).map(({ net }) => net);
    others = model.armed === undefined ? [] : pins.filter(({ commits }) => commits).map(({ net }) => net);
  } else {
    const { formulas } = part;
    if (readsOwnState(formulas)) return { always: reads, alert: [] };
    const exprs = [
      ...formulas.clocked.map((one) => one.of),
      ...formulas.latched.flatMap((one) => [one.while, ...one.set.map((set) => set.value)]),
      ...formulas.asynchronous.flatMap((one) => [one.when, ...one.set.map((set) => set.value)]),
    ];
    always = exprs.flatMap((expr) =>
      leavesOf(expr).flatMap((leaf) => (leaf.op === 'input' ? [part.inputs[leaf.index]!] : [])),
    );
  }
  const first = new Set(always.filter((net) => net >= 0));
  return { always: [...first], alert: others.filter((net) => net >= 0 && !first.has(net)) };
}

/** A part that a bus wakes, and the lanes of the bus that do: bits of the lower half of a word. */
export interface Reader {
  readonly place: number;
  readonly lanes: number;
}

export interface BusReaders {
  /** Parts whose outputs may change with the bus, in order. */
  readonly driving: readonly (readonly Reader[])[];
  /** Parts whose state may change with it: always, and while they are alert. */
  readonly committing: readonly (readonly Reader[])[];
  readonly whenAlert: readonly (readonly Reader[])[];
  /** Whether a part with state reads it: its levels before a change are kept. */
  readonly sampled: readonly boolean[];
}

/** Parts that read a bus when it changes, by bus. */
export function busReaders(layout: MachineLayout): BusReaders {
  const lists = (): Reader[][] => layout.buses.map(() => []);
  const driving = lists();
  const committing = lists();
  const whenAlert = lists();
  const sampled = layout.buses.map(() => false);
  for (const { part, place, hasCommit } of layout.parts) {
    const add = (to: Reader[][], nets: readonly number[]): void => {
      const lanes = new Map<number, number>();
      for (const net of nets) {
        const at = layout.places[net];
        if (at !== undefined) lanes.set(at.bus.id, (lanes.get(at.bus.id) ?? 0) | (1 << at.bit));
      }
      for (const [bus, mask] of lanes) to[bus]!.push({ place, lanes: mask });
    };
    add(driving, drivesFromOf(part));
    if (!hasCommit) continue;
    for (const net of readsOf(part)) {
      const at = layout.places[net];
      if (at !== undefined) sampled[at.bus.id] = true;
    }
    const wakes = wakesOf(part);
    add(committing, wakes.always);
    add(whenAlert, wakes.alert);
  }
  return { driving, committing, whenAlert, sampled };
}

/** Whether the part's bit in the alert words means anything. */
export function canBeAlert(part: CircuitPart): boolean {
  return part.kind === 'model'
    ? part.model.armed !== undefined
    : part.formulas.clocked.length > 0 && !readsOwnState(part.formulas);
}
