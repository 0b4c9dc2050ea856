import fc from 'fast-check';
import { expect, test } from 'vitest';
import { createRng } from '../../base/index.ts';
import { simCircuit, simLibrary } from '../../../tests/support/sim.ts';
import { buildCircuit } from '../circuit/build.ts';
import type { Circuit } from '../circuit/circuit.ts';
import { type FaultPin, faultCircuit, heldNets, type SimFault } from '../circuit/faults.ts';
import type { SimContents, SimNet, SimNetlist, SimPart } from '../model.ts';
import { PlainKernel } from '../plain/kernel.ts';
import { levelOf } from '../values.ts';
import { CompiledKernel } from './kernel.ts';

const types = simLibrary().records.filter(
  (record) =>
    record.part !== '628512' &&
    (record.category === 'logic' ||
      record.category === 'switch' ||
      record.symbol === 'resistor' ||
      record.part === '6116' ||
      record.part === '16C550' ||
      record.part === 'Z80' ||
      record.part === '2N3904'),
);

/** A netlist of parts of all kinds, wired at random: pins on a few nets, so that most nets have several drivers. */
interface Choice {
  readonly parts: readonly number[];
  readonly seed: number;
  readonly nets: number;
}
const choices = fc.record({
  parts: fc.array(fc.nat(types.length - 1), { minLength: 1, maxLength: 7 }),
  seed: fc.nat(99999),
  nets: fc.integer({ min: 4, max: 60 }),
});

function netlistOf({ parts, seed, nets }: Choice): SimNetlist {
  const rng = createRng(seed);
  const list = parts.map((k, index): SimPart => {
    const record = types[k]!;
    return { name: `P${index}`, type: record.part, record, value: '4.7 kohm' };
  });
  const made: { part: number; number: number }[][] = Array.from({ length: nets + 2 }, () => []);
  list.forEach((part, index) => {
    for (const pin of part.record.pins) {
      // Some pins stay alone, few are on a rail.
      const any = rng.below(10) === 0 ? rng.below(2) : 2 + rng.below(nets + 4);
      const to = pin.kind === 'supply' ? 0 : pin.kind === 'ground' ? 1 : any;
      if (to < nets + 2) made[to]!.push({ part: index, number: pin.number });
    }
  });
  return {
    parts: list,
    nets: made.map(
      (pins, k): SimNet => ({ name: `n${k}`, pins, ...(k === 0 ? { fed: 1 } : k === 1 ? { fed: 0 } : {}) }),
    ),
  };
}

/** Stimuli: which net or hand, and a value; Z lets a net go. */
const stimuli = fc.array(fc.record({ at: fc.nat(9999), value: fc.integer({ min: 0, max: 3 }) }), {
  minLength: 10,
  maxLength: 40,
});

function compare(
  netlist: SimNetlist,
  steps: readonly { at: number; value: number }[],
  contents: SimContents,
  faultsOf: (circuit: Circuit) => readonly SimFault[] = () => [],
): number {
  const circuit = buildCircuit(netlist, contents).value;
  const faults = faultsOf(circuit);
  const compiled = new CompiledKernel(circuit, contents, steps.length % 2 === 0 ? 0 : undefined);
  if (faults.length > 0) {
    // The faults come into a machine that runs, and it is switched off and on.
    compiled.setFaults(faults);
    compiled.step();
    compiled.restart();
  }
  const plain = new PlainKernel(
    faults.length > 0 ? faultCircuit(circuit, faults) : circuit,
    contents,
    heldNets(circuit, faults),
  );
  const same = (when: string): void => {
    circuit.nets.forEach((name, net) => {
      if (plain.value(net) !== compiled.value(net))
        expect.fail(`${when}: ${name} is ${levelOf(plain.value(net))} plain, ${levelOf(compiled.value(net))} compiled`);
    });
  };
  same('power-up');
  let now = 0;
  steps.forEach(({ at, value }, k) => {
    const count = circuit.nets.length + circuit.sources.length;
    const which = at % count;
    for (const kernel of [plain, compiled]) {
      kernel.now = now;
      if (which < circuit.nets.length) kernel.force(which, value);
      else kernel.setSource(which - circuit.nets.length, value === 1 ? 1 : 2);
      kernel.step();
    }
    same(`step ${k}`);
    now += 1e7;
    for (const kernel of [plain, compiled]) {
      kernel.now = now;
      kernel.timeouts();
      kernel.step();
    }
    same(`timeouts ${k}`);
  });
  const codes = (kernel: { findings: readonly { code: string }[] }): string[] =>
    [...new Set(kernel.findings.map((finding) => finding.code))].sort();
  expect(codes(compiled)).toEqual(codes(plain));
  return steps.length;
}

test('compiled is plain on random netlists and stimuli', () => {
  fc.assert(
    fc.property(
      choices,
      stimuli,
      fc.constantFrom<SimContents>({}, { flipFlops: 'random', seed: 5 }, { floating: 1 }, { floating: 0, seed: 9 }),
      (choice, steps, contents) => {
        compare(netlistOf(choice), steps, contents);
      },
    ),
    { numRuns: 60, seed: 12 },
  );
}, 60_000);

/** The circuit with sources, as of oscillators and hands, on nets of it: they are moved without anything being held. */
function withSources(circuit: Circuit, nets: readonly number[]): Circuit {
  const taken = new Set(circuit.sources.map(({ net }) => net));
  const free = [...new Set(nets)].filter((net) => circuit.fed[net] === 0 && !taken.has(net));
  return {
    ...circuit,
    sources: [
      ...circuit.sources,
      ...free.map((net, k) => ({ name: `source ${k}`, net, rateHz: undefined, start: 2 - (k % 2) })),
    ],
  };
}

/** Sources moved and swung, with every net recorded: levels and changes are those of the plain kernel, edge by edge. */
function compareSwings(choice: Choice, steps: readonly { at: number; value: number }[], seed: number): void {
  const built = buildCircuit(netlistOf(choice), {}).value;
  const rng = createRng(seed);
  const circuit = withSources(
    built,
    Array.from({ length: 6 }, () => rng.below(built.nets.length)),
  );
  if (circuit.sources.length === 0) return;
  const faults = seed % 3 === 0 && circuit.parts.length > 0 ? faultsOf(circuit, seed) : [];
  const compiled = new CompiledKernel(circuit, { flipFlops: 'random' }, seed % 2 === 0 ? 0 : undefined);
  if (faults.length > 0) {
    compiled.setFaults(faults);
    compiled.restart();
  }
  const plain = new PlainKernel(
    faults.length > 0 ? faultCircuit(circuit, faults) : circuit,
    { flipFlops: 'random' },
    heldNets(circuit, faults),
  );
  const nets = [...circuit.nets.keys()];
  const seen: string[] = [];
  const watch = {
    nets,
    last: Uint8Array.from(nets, (net) => compiled.value(net)),
    record: (now: number, index: number, value: number) => void seen.push(`${now} ${index} ${value}`),
  };
  const last = Uint8Array.from(nets, (net) => plain.value(net));
  let now = 0;
  for (const { at, value } of steps) {
    const source = at % circuit.sources.length;
    for (const kernel of [plain, compiled]) {
      kernel.now = now;
      kernel.setSource(source, value & 1 ? 1 : 2);
      kernel.step();
    }
    nets.forEach((net) => {
      watch.last[net] = compiled.value(net);
      last[net] = plain.value(net);
    });
    expect([...watch.last], 'after a hand').toEqual([...last]);
    const wanted: string[] = [];
    seen.length = 0;
    let level = value & 1 ? 1 : 2;
    const edges = compiled.swing(source, 1 + (at % 9), 50, watch);
    for (let k = 1; k <= edges; k++) {
      level = 3 - level;
      plain.now = now + k * 50;
      plain.setSource(source, level);
      plain.step();
      for (const net of nets) {
        if (plain.value(net) === last[net]) continue;
        last[net] = plain.value(net);
        wanted.push(`${plain.now} ${net} ${last[net]}`);
      }
    }
    expect(seen.sort(), `swing of source ${source}`).toEqual(wanted.sort());
    now += edges * 50;
  }
}

test('a swinging source records edge by edge what the plain kernel shows', () => {
  fc.assert(
    fc.property(choices, stimuli, fc.nat(99999), (choice, steps, seed) => compareSwings(choice, steps, seed)),
    { numRuns: 60, seed: 21 },
  );
}, 60_000);

/** One to three faults of any kind, anywhere. */
function faultsOf(circuit: Circuit, seed: number): SimFault[] {
  const rng = createRng(seed);
  const pin = (): FaultPin => {
    const place = rng.below(circuit.parts.length);
    const part = circuit.parts[place]!;
    const pins = (
      part.kind === 'formulas' ? [...part.inputPins, ...part.outputPins] : [...part.inPins, ...part.outPins].flat()
    ).filter((number) => number >= 0);
    return { place, pin: pins.length === 0 ? -2 : pins[rng.below(pins.length)]! };
  };
  return Array.from({ length: 1 + rng.below(3) }, (): SimFault => {
    const net = (): number => rng.below(circuit.nets.length);
    switch (rng.below(4)) {
      case 0:
        return { kind: 'open', at: pin() };
      case 1:
        return { kind: 'exchange', a: pin(), b: pin() };
      case 2:
        return { kind: 'short', a: net(), b: net() };
      default:
        return { kind: 'stuck', net: net(), value: 1 + rng.below(2) };
    }
  });
}

test('compiled with faults put in while it runs is plain on the netlist with the faults', () => {
  fc.assert(
    fc.property(choices, stimuli, fc.nat(99999), (choice, steps, seed) => {
      const netlist = netlistOf(choice);
      if (buildCircuit(netlist, {}).value.parts.length === 0) return;
      compare(netlist, steps, {}, (circuit) => faultsOf(circuit, seed));
    }),
    { numRuns: 80, seed: 14 },
  );
}, 60_000);

test('faults show, and taken out again leave no trace', () => {
  const circuit = simCircuit({ G: '74HCT00' }, { a: 'G.1A', b: 'G.1B', y: 'G.1Y G.2A G.2B', z: 'G.2Y' });
  const kernel = new CompiledKernel(circuit, {});
  const net = (name: string): number => circuit.nets.indexOf(name);
  const show = (): string => {
    kernel.step();
    return ['a', 'b', 'y', 'z'].map((name) => String(levelOf(kernel.value(net(name))))).join('');
  };
  kernel.force(net('a'), 1);
  kernel.force(net('b'), 1);
  expect(show()).toBe('1101');
  const place = 0;
  kernel.setFaults([{ kind: 'open', at: { place, pin: 1 } }]);
  expect(show()).toBe('11XX');
  kernel.setFaults([{ kind: 'exchange', a: { place, pin: 1 }, b: { place, pin: 6 } }]);
  // Pin 1, an input, is on z and pin 6, the output 2Y, on a: z floats.
  expect(show()).toBe('11XZ');
  kernel.setFaults([{ kind: 'stuck', net: net('y'), value: 1 }]);
  expect(show()).toBe('1110');
  kernel.setFaults([{ kind: 'short', a: net('a'), b: net('z') }]);
  expect(show()).toBe('1101');
  kernel.setFaults([]);
  expect(show()).toBe('1101');
});

test('back at a snapshot a machine runs as it ran, and with other faults as with those faults from there', () => {
  fc.assert(
    fc.property(choices, fc.nat(99999), (choice, seed) => {
      const built = buildCircuit(netlistOf(choice), {}).value;
      const rng = createRng(seed);
      const nets = Array.from({ length: 5 }, () => rng.below(built.nets.length));
      const circuit = withSources(built, nets);
      if (circuit.sources.length === 0 || circuit.parts.length === 0) return;
      const kernel = new CompiledKernel(circuit, { flipFlops: 'random', seed });
      const none = { nets: [], last: new Uint8Array(0), record: () => undefined };
      const moves = Array.from({ length: 12 }, () => [rng.below(circuit.sources.length), 1 + rng.below(9)] as const);
      const play = (): string => {
        let text = '';
        for (const [source, edges] of moves) {
          kernel.swing(source, edges, 50, none);
          text += `${circuit.nets.map((_, net) => kernel.value(net)).join('')}\n`;
        }
        return text;
      };
      play();
      const snapshot = kernel.snapshot();
      const first = play();
      kernel.restore(snapshot);
      expect(play()).toBe(first);
      const faults = faultsOf(circuit, seed);
      kernel.restore(snapshot);
      kernel.setFaults(faults);
      kernel.step();
      const faulted = kernel.snapshot();
      const second = play();
      kernel.restore(faulted);
      kernel.step();
      expect(play(), 'faulted').toBe(second);
      kernel.setFaults([]);
      kernel.step();
      kernel.restore(snapshot);
      kernel.step();
      expect(play()).toBe(first);
    }),
    { numRuns: 60, seed: 31 },
  );
}, 60_000);

test('a ring of inverters ends unknown in the compiled kernel too, with one finding, and comes to life again', () => {
  const circuit = simCircuit(
    { G: '74HCT00' },
    { go: 'G.1A', a: 'G.1B G.3Y', b: 'G.1Y G.2A G.2B', c: 'G.2Y G.3A G.3B' },
  );
  const kernel = new CompiledKernel(circuit, {});
  const set = (value: number): string => {
    kernel.force(circuit.nets.indexOf('go'), value);
    kernel.step();
    return ['a', 'b', 'c'].map((name) => String(levelOf(kernel.value(circuit.nets.indexOf(name))))).join('');
  };
  expect([set(2), set(1), set(2), set(1)]).toEqual(['110', 'XXX', '110', 'XXX']);
  expect(kernel.findings.map(({ code }) => code)).toEqual(['sim/oscillates']);
  // The same without a hand on a net: the program as built.
  const driven = {
    ...circuit,
    sources: [{ name: 'go', net: circuit.nets.indexOf('go'), rateHz: undefined, start: 2 }],
  };
  const fast = new CompiledKernel(driven, {});
  const none = { nets: [], last: new Uint8Array(0), record: () => undefined };
  const levels = (): string =>
    ['a', 'b', 'c'].map((name) => String(levelOf(fast.value(circuit.nets.indexOf(name))))).join('');
  expect(levels()).toBe('110');
  expect(fast.swing(0, 1, 50, none)).toBe(1);
  expect(levels()).toBe('XXX');
  fast.swing(0, 1, 50, none);
  expect(levels()).toBe('110');
  expect(fast.findings.map(({ code }) => code)).toEqual(['sim/oscillates']);
});
