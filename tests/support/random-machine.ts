// Machines drawn by seed from the parts whose behaviour is in the records, without loops of gates: what an output follows at once
// is wired to nets that come before it. State closes loops, buses have several drivers.

import { createRng, type Rng } from '../../src/base/index.ts';
import type { PartRecord } from '../../src/parts/index.ts';
import {
  buildCircuit,
  type Circuit,
  type SimContents,
  type SimLiteral,
  type SimLogic,
  type SimLogicOutput,
  type SimNet,
  type SimNetlist,
  type SimPart,
} from '../../src/sim/index.ts';
import { simLibrary } from './sim.ts';

export interface RandomMachine {
  readonly netlist: SimNetlist;
  readonly contents: SimContents;
  readonly circuit: Circuit;
  /** Nets that nothing drives: what a bench moves. */
  readonly free: readonly number[];
}

/** Terms of a 16V8 at random: combinational, registered and three-state outputs. */
function randomLogic(rng: Rng): SimLogic {
  const inputs = [2, 3, 4, 5, 6, 7, 8, 9];
  const outputs = [12, 13, 14, 15, 16, 17, 18, 19];
  const registered = rng.below(2) === 1;
  const literal = (pins: readonly number[]): SimLiteral => ({
    pin: pins[rng.below(pins.length)]!,
    level: rng.below(2) as 0 | 1,
  });
  const terms = (most: number): SimLiteral[][] =>
    Array.from({ length: 1 + rng.below(most) }, () => Array.from({ length: 1 + rng.below(4) }, () => literal(inputs)));
  return {
    outputs: outputs.map((pin): SimLogicOutput => {
      const isRegistered = registered && rng.below(2) === 1;
      const own = terms(registered ? 8 : 7);
      if (isRegistered) own.push([{ pin, level: rng.below(2) as 0 | 1, feedback: true }, literal(inputs)]);
      return {
        pin,
        terms: own,
        activeLow: rng.below(2) === 1,
        enable: rng.below(3) === 0 ? terms(1) : true,
        registered: isRegistered,
        ...(isRegistered ? { powerUp: 1 as const } : {}),
      };
    }),
    ...(registered ? { clockPin: 1 } : {}),
  };
}

/** Types the machines are made of: logic with formulas, small memories, the logic device, resistors. */
function types(): PartRecord[] {
  return simLibrary().records.filter(
    (record) =>
      (record.category === 'logic' && record.behaviour !== undefined && record.behaviour.model === undefined) ||
      ['6116', '28C64', '16V8'].includes(record.part),
  );
}

/** The machine of a seed. */
export function randomMachine(seed: number): RandomMachine {
  const rng = createRng(seed);
  const from = types();
  const parts: SimPart[] = [];
  const images = new Map<string, Uint8Array>();
  const logic = new Map<string, SimLogic>();
  const count = 3 + rng.below(8);
  for (let k = 0; k < count; k++) {
    const special = ['6116', '28C64', '16V8', '74x74', '74x245'][rng.below(20)];
    const record = from.find((one) => one.part === special) ?? from[rng.below(from.length)]!;
    const name = `P/${k}`;
    parts.push({ name, type: record.part, record });
    if (record.part === '28C64')
      images.set(
        name,
        Uint8Array.from({ length: 8192 - 100 }, () => rng.below(256)),
      );
    if (record.part === '16V8') logic.set(name, randomLogic(rng));
  }
  const contents: SimContents = {
    images,
    logic,
    seed,
    flipFlops: rng.below(3) === 0 ? 'unknown' : 'random',
    ...(rng.below(3) === 0 ? { floating: rng.below(2) as 0 | 1 } : {}),
  };
  // What each output follows at once, from the circuit of the unwired parts: every pin is a net of its own there.
  const alone = buildCircuit({ parts, nets: supplies(parts) }, contents).value;
  const follows = followed(alone);
  const nets: { pins: { part: number; number: number }[]; level: number }[] = [];
  const stimuli = 6 + rng.below(10);
  for (let k = 0; k < stimuli; k++) nets.push({ pins: [], level: -1 });
  const buses: number[] = [];
  const bus = 4 + rng.below(5);
  for (let k = 0; k < bus; k++) buses.push(nets.push({ pins: [], level: -1 }) - 1);
  // First the outputs: a net of their own, or for those that can let go a line of the bus.
  parts.forEach((part, index) => {
    const onBus = rng.below(2) === 0;
    let line = rng.below(bus);
    for (const pin of part.record.pins) {
      if (!drives(alone, index, pin.number)) continue;
      // Two transceivers on one bus could pass a level round.
      const letsGo =
        pin.kind === 'three-state' ||
        pin.kind === 'open-drain' ||
        (pin.kind === 'bidirectional' && part.record.category === 'memory');
      const at = { part: index, number: pin.number };
      if (letsGo && onBus) {
        const net = nets[buses[line++ % bus]!]!;
        if (!net.pins.some((one) => one.part === index)) {
          net.pins.push(at);
          net.level = Math.max(net.level, index);
          continue;
        }
      }
      nets.push({ pins: [at], level: index });
    }
  });
  // Then the inputs: those that are followed at once from nets that come before the part, the others from anywhere.
  parts.forEach((part, index) => {
    for (const pin of part.record.pins) {
      if (pin.kind !== 'input') continue;
      const atOnce = follows.has(index * 256 + pin.number);
      const fitting = nets.filter((net) => !atOnce || net.level < index);
      const choice = rng.below(24);
      if (choice === 0) continue;
      // Mostly the moved nets, so that something happens.
      const net = choice < 12 ? nets[rng.below(stimuli)]! : fitting[rng.below(fitting.length)]!;
      net.pins.push({ part: index, number: pin.number });
    }
  });
  // Some lines of the bus are pulled.
  const resistor = simLibrary().find('resistor')!.record;
  const made: { name: string; pins: { part: number; number: number }[]; fed?: 0 | 1 }[] = supplies(parts).map(
    (net) => ({
      ...net,
      pins: [...net.pins],
    }),
  );
  for (const net of buses) {
    if (rng.below(2) === 0) continue;
    const part = parts.push({ name: `R/${net}`, type: 'resistor', record: resistor, value: '4.7 kohm' }) - 1;
    nets[net]!.pins.push({ part, number: 1 });
    made[rng.below(2)]!.pins.push({ part, number: 2 });
  }
  nets.forEach((net, k) => {
    if (net.pins.length > 0) made.push({ name: k < stimuli ? `in/${k} "\n//` : `net ${k}`, pins: net.pins });
  });
  const netlist: SimNetlist = { parts, nets: made };
  const circuit = buildCircuit(netlist, contents).value;
  const free = circuit.nets.flatMap((name, net) => (name.startsWith('in/') ? [net] : []));
  return { netlist, contents, circuit, free };
}

function supplies(parts: readonly SimPart[]): (SimNet & { name: string })[] {
  const on = (kind: string): { part: number; number: number }[] =>
    parts.flatMap((part, index) =>
      part.record.pins.filter((pin) => pin.kind === kind).map((pin) => ({ part: index, number: pin.number })),
    );
  return [
    { name: 'VCC', pins: on('supply'), fed: 1 },
    { name: 'GND', pins: on('ground'), fed: 0 },
  ];
}

/** Whether a part drives a pin. */
function drives(circuit: Circuit, part: number, pin: number): boolean {
  return circuit.parts.some(
    (one) => one.part === part && (one.kind === 'formulas' ? one.outputPins : one.outPins.flat()).includes(pin),
  );
}

/** Pins (part * 256 + number) that some output of their part follows without a change of state. */
function followed(circuit: Circuit): Set<number> {
  const found = new Set<number>();
  for (const part of circuit.parts) {
    if (part.kind === 'model') {
      part.inPins.forEach((port, k) => {
        if (part.model.drivesFrom[k] === true) for (const pin of port) found.add(part.part * 256 + pin);
      });
      continue;
    }
    const walk = (expr: (typeof part.formulas.outputs)[number]['value']): void => {
      if (expr.op === 'input') found.add(part.part * 256 + part.inputPins[expr.index]!);
      else if (expr.op === 'not') walk(expr.term);
      else if (expr.op === 'and' || expr.op === 'or' || expr.op === 'xor') expr.terms.forEach(walk);
    };
    for (const output of part.formulas.outputs) {
      walk(output.value);
      if (output.enable !== undefined) walk(output.enable);
    }
  }
  return found;
}
