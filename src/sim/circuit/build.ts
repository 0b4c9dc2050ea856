// From a netlist as plain data to a circuit: pins to nets, supply to parts, records to formulas and models. What cannot be
// modelled is left open and told of.

import { type Finding, foldName, type Result } from '../../base/index.ts';
import { pinsNamed, readBehaviour } from '../../parts/index.ts';
import { SIM_CODES, type SimCode } from '../codes.ts';
import type { SimContents, SimNetlist, SimPart } from '../model.ts';
import { bindFormula, type Expr, type FormulaPart, formulaPart, logicPart } from '../models/formulas.ts';
import type { PartModel } from '../models/model.ts';
import { modelFor } from '../models/registry.ts';
import { HIGH, LOW, X } from '../values.ts';
import type { Circuit, CircuitCluster, CircuitLamp, CircuitPart, CircuitSource } from './circuit.ts';
import { lampsOf, resistorsOf } from './elements.ts';
import { orderParts } from './order.ts';
import { joinPins, type Pins } from './pins.ts';
import { surroundingsIn } from './surroundings.ts';

/** Conductance of a pull inside a part: 50 kohm, common practice, no source. */
const INNER_PULL = 1 / 50e3;
/** A weak level counts as high from this fraction of the supply, as low up to the other: common practice, no source. */
export const WEAK_HIGH = 0.7;
export const WEAK_LOW = 0.2;

/** The value of a net that is only pulled, from the conductances to supply and to ground. */
export function pulledValue(up: number, down: number): number {
  if (up === 0 && down === 0) return 0;
  const fraction = up / (up + down);
  return fraction >= WEAK_HIGH ? HIGH : fraction <= WEAK_LOW ? LOW : X;
}

const ACTIVE = new Set(['input', 'output', 'three-state', 'bidirectional', 'open-drain']);

const FUSED = new Set(['fuse']);

/** Formulas that keep nothing: what the pins drive follows from the inputs at once. */
const stateless = (inputs: FormulaPart['inputs'], outputs: FormulaPart['outputs']): FormulaPart => ({
  states: [],
  powerUp: new Map(),
  asynchronous: [],
  clocked: [],
  latched: [],
  inputs,
  outputs,
});

/** Builds the circuit. Every fault of the netlist's wiring is in it as it is wired; nothing is put right. */
export function buildCircuit(netlist: SimNetlist, contents: SimContents): Result<Circuit> {
  const findings: Finding[] = [];
  const report = (code: SimCode, message: string, about: readonly string[], why: string, help?: string): void => {
    findings.push({
      code,
      severity: SIM_CODES[code].severity,
      message,
      where: [],
      notes: why === '' ? [] : [{ text: why }],
      about,
      ...(help === undefined ? {} : { help }),
    });
  };
  const pins: Pins = joinPins(netlist, (part) =>
    FUSED.has(part.record.symbol ?? '') && part.record.pins.length === 2
      ? [[part.record.pins[0]!.number, part.record.pins[1]!.number]]
      : [],
  );
  for (const net of pins.shorted)
    report(
      'sim/supply-shorted',
      `Supply and ground are joined on ${pins.names[net]}.`,
      [pins.names[net]!],
      'Every other level would mean nothing; the net is taken as unknown.',
      'Find the wire or part that joins them before any power is given.',
    );
  const around = surroundingsIn(netlist, pins);
  const fed = [...pins.fed];
  const names = [...pins.names];
  const up: number[] = names.map(() => 0);
  const down: number[] = names.map(() => 0);
  const inner = (name: string): number => {
    names.push(`.${name}`);
    fed.push(0);
    up.push(0);
    down.push(0);
    return names.length - 1;
  };
  const parts: CircuitPart[] = [];
  const sources: CircuitSource[] = [];
  const lamps: CircuitLamp[] = [];
  const resistors: { part: number; a: number; b: number; ohms: number }[] = [];
  const switches: { part: number; a: number; b: number; condition: number }[] = [];

  const diodes: number[] = [];

  const addFormulas = (index: number, name: string, formulas: FormulaPart, netOf: (pin: number) => number): void => {
    parts.push({
      part: index,
      name,
      kind: 'formulas',
      formulas,
      inputs: formulas.inputs.map(netOf),
      outputs: formulas.outputs.map((output) => netOf(output.pin)),
      inputPins: formulas.inputs,
      outputPins: formulas.outputs.map((output) => output.pin),
    });
  };
  const addModel = (index: number, part: SimPart, model: PartModel, netOf: (pin: number) => number): void => {
    const numbers = (ports: readonly (readonly string[])[]): number[][] =>
      ports.map((port) => port.map((name) => pinsNamed(part.record, name)[0]?.number ?? -1));
    const inPins = numbers(model.ins);
    const outPins = numbers(model.outs);
    parts.push({
      part: index,
      name: part.name,
      kind: 'model',
      model,
      ins: inPins.map((port) => port.map(netOf)),
      outs: outPins.map((port) => port.map(netOf)),
      inPins,
      outPins,
    });
  };

  netlist.parts.forEach((part, index) => {
    const { record } = part;
    const netOf = (pin: number): number => pins.netOf(index, pin);
    for (const resistor of resistorsOf(part)) {
      const [a, b] = [netOf(resistor.pair[0]), netOf(resistor.pair[1])];
      if (a < 0 || b < 0 || a === b) continue;
      if (
        resistor.ohms === undefined &&
        !findings.some((f) => f.code === 'sim/value-unknown' && f.about?.[0] === part.name)
      )
        report(
          'sim/value-unknown',
          `The resistance of ${part.name} is not known${part.value === undefined ? '' : `: "${part.value}"`}.`,
          [part.name],
          'It is taken as 10 kohm.',
          'Give it a value such as 4.7 kohm.',
        );
      resistors.push({ part: index, a, b, ohms: Math.max(resistor.ohms ?? 10e3, 1e-3) });
    }
    for (const lamp of lampsOf(part)) {
      const [anode, cathode] = [netOf(lamp.pair[0]), netOf(lamp.pair[1])];
      if (anode >= 0 && cathode >= 0) lamps.push({ name: lamp.name, anode, cathode });
    }
    if (!isFed(part, index)) return;
    for (const pin of record.pins) {
      const net = netOf(pin.number);
      if (pin.pull === undefined || net < 0) continue;
      const kohm = record.facts?.['pull-up-kohm'];
      const conductance = typeof kohm === 'number' && pin.kind === 'open-drain' ? 1 / (kohm * 1e3) : INNER_PULL;
      if (pin.pull === 'up') up[net]! += conductance;
      else down[net]! += conductance;
    }
    const model = record.behaviour?.model;
    if (model === 'logic-device') {
      const logic = contents.logic?.get(part.name);
      if (logic !== undefined) addFormulas(index, part.name, logicPart(logic), netOf);
      else
        report(
          'sim/no-logic',
          `${part.name} is not programmed: its outputs float.`,
          [part.name],
          'A logic device does what its fuses say, and none are known at this stage.',
          'Give it a map, formulas or a fuse file, and a stage that programs it.',
        );
      return;
    }
    if (model === 'oscillator') {
      addOscillator(part, index, netOf);
      return;
    }
    if (model !== undefined || record.category === 'memory' || isSerialHeader(part)) {
      const found = modelFor(part, contents, around(index));
      for (const problem of found.problems)
        report(problem.code, problem.message, [part.name], problem.why, problem.help);
      for (const one of found.models) addModel(index, part, one, netOf);
      if (found.models.length > 0 || found.problems.length > 0) return;
      noModel(part, `There is no model "${model}" yet: its pins are open.`);
      return;
    }
    const formulas = formulaPart(record);
    if (formulas !== undefined) addFormulas(index, part.name, formulas, netOf);
    const hasJoins = addJoins(part, index, netOf);
    if (formulas !== undefined || hasJoins) return;
    if (record.pins.some((pin) => ACTIVE.has(pin.kind) && pin.kind !== 'input') && record.category !== 'connector')
      noModel(part, 'Its record says nothing of what it does: its pins are open.');
    else if (record.symbol === 'diode') diodes.push(index);
    else if (record.symbol === 'transistor' || record.symbol === 'crystal')
      noModel(part, 'It is no switch and no logic: its leads are open.');
  });

  function noModel(part: SimPart, why: string): void {
    report(
      'sim/no-model',
      `${part.name} (${part.type}) is not simulated.`,
      [part.name],
      why,
      'What depends on it shows as floating or unknown: prove it on the bench.',
    );
  }

  /** Whether its supply and ground pins are fed. Parts without supply pins always are. */
  function isFed(part: SimPart, index: number): boolean {
    if (part.record.category === 'connector' || part.record.category === 'supply') return true;
    const open = part.record.pins.filter((pin) => {
      if (pin.kind !== 'supply' && pin.kind !== 'ground') return false;
      const net = pins.netOf(index, pin.number);
      return net < 0 || fed[net] !== (pin.kind === 'supply' ? HIGH : LOW);
    });
    if (open.length === 0) return true;
    report(
      'sim/no-supply',
      `${part.name} has no supply: ${open.map((pin) => `${pin.name} (pin ${pin.number})`).join(', ')} ${open.length === 1 ? 'is' : 'are'} not fed.`,
      [part.name, ...open.map((pin) => `${part.name}.${pin.name}`)],
      'A part without supply does nothing that can be relied on; its pins are taken as open.',
      'Join the pin to its rail.',
    );
    return false;
  }

  /**
   * A diode passes one level on, which one follows from the pulls: low from cathode to anode where the anode is pulled up (several
   * make an and), high from anode to cathode where the cathode is pulled down (an or). A clamp to a rail passes nothing.
   */
  function addDiode(index: number): void {
    const part = netlist.parts[index]!;
    const netOf = (name: string): number => pins.netOf(index, pinsNamed(part.record, name)[0]?.number ?? -1);
    const pinOf = (name: string): number => pinsNamed(part.record, name)[0]?.number ?? -1;
    const [anode, cathode] = [netOf('A'), netOf('K')];
    if (anode < 0 || cathode < 0 || anode === cathode) return;
    if (fed[cathode] === HIGH || fed[anode] === LOW) return;
    const pass = (from: 'A' | 'K', to: 'A' | 'K', level: 0 | 1): void => {
      const input: Expr = { op: 'input', index: 0 };
      const formulas = stateless(
        [pinOf(from)],
        [
          {
            pin: pinOf(to),
            value: { op: 'constant', value: level },
            enable: level === 1 ? input : { op: 'not', term: input },
            openDrain: false,
          },
        ],
      );
      addFormulas(index, part.name, formulas, (pin) => pins.netOf(index, pin));
    };
    const isUp = up[anode]! > down[anode]!;
    const isDown = down[cathode]! > up[cathode]!;
    if (isUp) pass('K', 'A', 0);
    else if (isDown) pass('A', 'K', 1);
    else
      noModel(part, 'Neither its anode is pulled up nor its cathode down: which way it passes a level is not known.');
  }

  function addOscillator(part: SimPart, index: number, netOf: (pin: number) => number): void {
    if (part.rateHz === undefined || !(part.rateHz > 0)) {
      report(
        'sim/no-rate',
        `The rate of ${part.name} is not known: its output stays low.`,
        [part.name],
        'An oscillator swings at the rate printed on it.',
        'Give it a rate such as 4 MHz.',
      );
    }
    const out = netOf(pinsNamed(part.record, 'OUT')[0]?.number ?? -1);
    const enablePin = pinsNamed(part.record, 'EN')[0]?.number;
    if (out < 0) return;
    const swing = inner(`${part.name}.swing`);
    sources.push({
      name: part.name,
      net: swing,
      rateHz: part.rateHz !== undefined && part.rateHz > 0 ? part.rateHz : undefined,
      start: LOW,
    });
    const input: Expr = { op: 'input', index: 0 };
    parts.push({
      part: index,
      name: part.name,
      kind: 'formulas',
      formulas: stateless(enablePin === undefined ? [-1] : [-1, enablePin], [
        {
          pin: pinsNamed(part.record, 'OUT')[0]!.number,
          value: input,
          enable: enablePin === undefined ? undefined : { op: 'input', index: 1 },
          openDrain: false,
        },
      ]),
      inputs: enablePin === undefined ? [swing] : [swing, netOf(enablePin)],
      outputs: [out],
      inputPins: enablePin === undefined ? [-1] : [-1, enablePin],
      outputPins: [pinsNamed(part.record, 'OUT')[0]!.number],
    });
  }

  function addJoins(part: SimPart, index: number, netOf: (pin: number) => number): boolean {
    const block = part.record.behaviour;
    if (block?.joins === undefined) return false;
    const { behaviour, problems } = readBehaviour(block);
    if (problems.length > 0) return false;
    // What a hand does to the part is a source of its own.
    const hands = new Map<string, number>();
    for (const name of behaviour.state) {
      const net = inner(`${part.name}.${name}`);
      sources.push({ name: `${part.name}.${name}`, net, rateHz: undefined, start: LOW });
      hands.set(foldName(name), net);
    }
    behaviour.joins.forEach((join, k) => {
      if (join.when === undefined) return;
      const direct = join.when.kind === 'name' ? hands.get(foldName(join.when.name)) : undefined;
      let condition = direct;
      if (condition === undefined) {
        condition = inner(`${part.name}.contact${k + 1}`);
        const inputs: number[] = [];
        const inputPins: number[] = [];
        const ofNet = (net: number, pin: number): number => {
          inputPins.push(pin);
          return inputs.push(net) - 1;
        };
        const states = new Map(behaviour.state.map((name, n) => [foldName(name), n]));
        const bound = bindFormula(join.when, part.record, (pin) => ofNet(netOf(pin), pin), states);
        const value = replaceStates(bound, (n) => ofNet(hands.get(foldName(behaviour.state[n]!))!, -1));
        parts.push({
          part: index,
          name: part.name,
          kind: 'formulas',
          formulas: stateless(inputPins, [{ pin: -1, value, enable: undefined, openDrain: false }]),
          inputs,
          outputs: [condition],
          inputPins,
          outputPins: [-1],
        });
      }
      const numbers = join.pins.map((name) => pinsNamed(part.record, name)[0]?.number ?? -1);
      for (let n = 1; n < numbers.length; n++) {
        const a = netOf(numbers[0]!);
        const b = netOf(numbers[n]!);
        if (a < 0 || b < 0 || a === b) continue;
        if (fed[a] === 0 && fed[b] === 0) switches.push({ part: index, a, b, condition });
        else if (fed[a] !== fed[b]) {
          // A contact to a rail drives the other side.
          const isRail = fed[a] !== 0;
          const [rail, other] = isRail ? [a, b] : [b, a];
          const pin = numbers[isRail ? n : 0]!;
          parts.push({
            part: index,
            name: part.name,
            kind: 'formulas',
            formulas: stateless(
              [-1],
              [
                {
                  pin,
                  value: { op: 'constant', value: fed[rail] === HIGH ? 1 : 0 },
                  enable: { op: 'input', index: 0 },
                  openDrain: false,
                },
              ],
            ),
            inputs: [condition],
            outputs: [other],
            inputPins: [-1],
            outputPins: [pin],
          });
        }
      }
    });
    return true;
  }

  // Resistors to a rail are pulls; the others and switches between signals make clusters.
  const between: { part: number; a: number; b: number; ohms: number }[] = [];
  for (const resistor of resistors) {
    const { a, b, ohms } = resistor;
    if (fed[a] !== 0 && fed[b] !== 0) continue;
    const rail = fed[a] !== 0 ? a : fed[b] !== 0 ? b : -1;
    if (rail < 0) between.push(resistor);
    else if (fed[rail] === HIGH) up[rail === a ? b : a]! += 1 / ohms;
    else if (fed[rail] === LOW) down[rail === a ? b : a]! += 1 / ohms;
  }
  for (const index of diodes) addDiode(index);
  const { clusters, clusterOf } = makeClusters(names.length, between, switches, up, down);
  const circuit: Circuit = {
    nets: names,
    fed: Uint8Array.from(fed),
    pulls: Uint8Array.from(names, (_, net) => (fed[net] === 0 ? pulledValue(up[net]!, down[net]!) : 0)),
    up: Float64Array.from(up),
    down: Float64Array.from(down),
    parts: orderParts(parts, names.length, clusters),
    sources,
    clusters,
    clusterOf,
    lamps,
    floating: contents.floating === 1 ? HIGH : contents.floating === 0 ? LOW : X,
    netOfPin: pins.all,
    pinNames: new Map(
      netlist.parts.flatMap((part, index) =>
        part.record.pins.map((pin) => [index * 256 + pin.number, `${part.name}.${pin.name}`] as const),
      ),
    ),
  };
  return { value: circuit, findings };
}

/** A serial header stands for the terminal at its other end. */
function isSerialHeader(part: SimPart): boolean {
  return (
    part.record.category === 'connector' &&
    pinsNamed(part.record, 'TXD')[0]?.kind === 'output' &&
    pinsNamed(part.record, 'RXD')[0]?.kind === 'input'
  );
}

function replaceStates(expr: Expr, input: (state: number) => number): Expr {
  switch (expr.op) {
    case 'state':
      return { op: 'input', index: input(expr.index) };
    case 'not':
      return { op: 'not', term: replaceStates(expr.term, input) };
    case 'and':
    case 'or':
    case 'xor':
      return { op: expr.op, terms: expr.terms.map((term) => replaceStates(term, input)) };
    default:
      return expr;
  }
}

function makeClusters(
  nets: number,
  between: readonly { readonly part: number; readonly a: number; readonly b: number; readonly ohms: number }[],
  switches: readonly { readonly part: number; readonly a: number; readonly b: number; readonly condition: number }[],
  up: readonly number[],
  down: readonly number[],
): { clusters: CircuitCluster[]; clusterOf: Int32Array } {
  const parent = Int32Array.from({ length: nets }, (_, net) => net);
  const find = (net: number): number => {
    let at = net;
    while (parent[at] !== at) at = parent[at]!;
    return at;
  };
  const join = (a: number, b: number): void => {
    const [x, y] = [find(a), find(b)];
    if (x !== y) parent[Math.max(x, y)] = Math.min(x, y);
  };
  for (const { a, b } of between) join(a, b);
  for (const { a, b } of switches) join(a, b);
  const clusterOf = new Int32Array(nets).fill(-1);
  const roots = new Map<number, number[]>();
  for (const { a, b } of [...between, ...switches])
    for (const net of [a, b]) {
      const list = roots.get(find(net)) ?? [];
      if (!list.includes(net)) list.push(net);
      roots.set(find(net), list);
    }
  const clusters = [...roots].map(([root, list], index): CircuitCluster => {
    const sorted = list.sort((x, y) => x - y);
    for (const net of sorted) clusterOf[net] = index;
    return {
      nets: sorted,
      up: sorted.map((net) => up[net]!),
      down: sorted.map((net) => down[net]!),
      resistors: between.filter(({ a }) => find(a) === root),
      switches: switches.filter(({ a }) => find(a) === root),
    };
  });
  return { clusters, clusterOf };
}
