import fc from 'fast-check';
import { expect, test } from 'vitest';
import { simCircuit, simLibrary, simNetlist } from '../../../tests/support/sim.ts';
import type { FormulaLevel } from '../../base/index.ts';
import { plainPart } from '../../parts/index.ts';
import { buildCircuit } from '../circuit/build.ts';
import type { Circuit } from '../circuit/circuit.ts';
import type { SimLevel } from '../model.ts';
import { formulaPart } from '../models/formulas.ts';
import { levelOf, valueOfLevel } from '../values.ts';
import { PlainKernel, stepFormulas } from './kernel.ts';

const level = (kernel: PlainKernel, net: string): SimLevel => levelOf(kernel.value(kernel.circuit.nets.indexOf(net)));
const force = (kernel: PlainKernel, net: string, value: SimLevel): void => {
  kernel.force(kernel.circuit.nets.indexOf(net), valueOfLevel(value));
  kernel.step();
};
const run = (circuit: Circuit): PlainKernel => new PlainKernel(circuit, {});

test('gates pass levels on, and unknown ones only where they matter', () => {
  const kernel = run(simCircuit({ G: '74HCT00' }, { a: 'G.1A', b: 'G.1B', y: 'G.1Y G.2A G.2B', z: 'G.2Y' }));
  expect(level(kernel, 'y')).toBe('X');
  force(kernel, 'a', 0);
  expect([level(kernel, 'y'), level(kernel, 'z')]).toEqual([1, 0]);
  force(kernel, 'a', 1);
  expect(level(kernel, 'y')).toBe('X');
  force(kernel, 'b', 1);
  expect([level(kernel, 'y'), level(kernel, 'z')]).toEqual([0, 1]);
});

test('open-drain outputs share a line that a resistor pulls up', () => {
  const kernel = run(
    simCircuit(
      { G: '74HCT03', R: { type: 'resistor', value: '4.7 kohm' } },
      { a: 'G.1A G.1B', b: 'G.2A G.2B', y: 'G.1Y G.2Y R.A', VCC: 'R.B' },
    ),
  );
  const seen: SimLevel[] = [];
  for (const [a, b] of [
    [0, 0],
    [1, 0],
    [0, 1],
    [1, 1],
  ] as const) {
    force(kernel, 'a', a);
    force(kernel, 'b', b);
    seen.push(level(kernel, 'y'));
  }
  expect(seen).toEqual([1, 0, 0, 0]);
  expect(kernel.findings).toEqual([]);
});

test('two outputs against each other are a finding that names both', () => {
  const kernel = run(simCircuit({ G: '74HCT04', H: '74HCT04' }, { a: 'G.1A', b: 'H.1A', y: 'G.1Y H.1Y' }));
  force(kernel, 'a', 0);
  force(kernel, 'b', 0);
  expect(kernel.findings).toEqual([]);
  force(kernel, 'b', 1);
  expect(level(kernel, 'y')).toBe('X');
  expect(kernel.findings.map((finding) => finding.message)).toEqual([
    'y is driven high by G.1Y (pin 2) and low by H.1Y (pin 2).',
  ]);
});

test('a ring of inverters ends unknown, with a finding', () => {
  const kernel = run(
    simCircuit({ G: '74HCT00' }, { go: 'G.1A', a: 'G.1B G.3Y', b: 'G.1Y G.2A G.2B', c: 'G.2Y G.3A G.3B' }),
  );
  force(kernel, 'go', 0);
  expect(level(kernel, 'a')).toBe(1);
  force(kernel, 'go', 1);
  expect([level(kernel, 'a'), level(kernel, 'b'), level(kernel, 'c')]).toEqual(['X', 'X', 'X']);
  expect(kernel.findings.map((finding) => finding.code)).toEqual(['sim/oscillates']);
  force(kernel, 'go', 0);
  expect(level(kernel, 'a')).toBe(1);
});

test('a counter that clears itself at ten counts to nine', () => {
  const kernel = run(
    simCircuit(
      { C: '74HCT393', G: '74HCT08' },
      { clk: 'C.1CLK', clear: 'C.1CLR G.2Y', b: 'C.1QB G.1A', d: 'C.1QD G.1B', ten: 'G.1Y G.2A', go: 'G.2B' },
    ),
  );
  const out = (): number =>
    ['C.1QA', 'b', 'C.1QC', 'd'].reduce((sum, net, k) => sum + (level(kernel, net) === 1 ? 2 ** k : 0), 0);
  force(kernel, 'clk', 0);
  force(kernel, 'clear', 1);
  force(kernel, 'clear', 'Z');
  force(kernel, 'go', 1);
  const seen: number[] = [];
  for (let k = 0; k < 12; k++) {
    force(kernel, 'clk', 1);
    force(kernel, 'clk', 0);
    seen.push(out());
  }
  expect(seen).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 0, 1, 2]);
});

test('resistors divide; a series resistor passes its driver on against a pull', () => {
  const circuit = simCircuit(
    {
      G: '74HCT04',
      S: { type: 'resistor', value: '330 ohm' },
      P: { type: 'resistor', value: '10 kohm' },
      M: { type: 'resistor', value: '10 kohm' },
      N: { type: 'resistor', value: '12 kohm' },
    },
    { a: 'G.1A', out: 'G.1Y S.A', far: 'S.B P.A G.2A', VCC: 'P.B M.A', mid: 'M.B N.A', GND: 'N.B' },
  );
  const kernel = run(circuit);
  force(kernel, 'a', 1);
  expect(level(kernel, 'far')).toBe(0);
  force(kernel, 'a', 0);
  expect(level(kernel, 'far')).toBe(1);
  expect(level(kernel, 'mid')).toBe('X');
});

test('a part without supply is dead, and a finding says which pin', () => {
  const netlist = simNetlist({ G: '74HCT04' }, { a: 'G.1A', y: 'G.1Y', VCC: 'G.VCC' }, { bare: true });
  const { value, findings } = buildCircuit(netlist, {});
  expect(findings.map((finding) => finding.message)).toEqual(['G has no supply: GND (pin 7) is not fed.']);
  const kernel = run(value);
  force(kernel, 'a', 0);
  expect(level(kernel, 'y')).toBe('Z');
});

test('switches and keypads join what they join', () => {
  const circuit = simCircuit(
    {
      K: 'keypad-4x4',
      B: 'push-button',
      P: { type: 'resistor-network-9', value: '10 kohm' },
    },
    { r1: 'K.R1 P.R1', r2: 'K.R2 P.R2', c1: 'K.C1', c2: 'K.C2', b: 'B.A P.R3', VCC: 'P.COM', GND: 'B.B' },
  );
  const kernel = run(circuit);
  const hand = (name: string, on: boolean): void => {
    kernel.setSource(
      circuit.sources.findIndex((source) => source.name === name),
      valueOfLevel(on ? 1 : 0),
    );
    kernel.step();
  };
  expect([level(kernel, 'r1'), level(kernel, 'c1'), level(kernel, 'b')]).toEqual([1, 'Z', 1]);
  hand('B.PRESSED', true);
  expect(level(kernel, 'b')).toBe(0);
  hand('K.KEY-4', true);
  expect([level(kernel, 'c1'), level(kernel, 'c2')]).toEqual([1, 'Z']);
  force(kernel, 'c1', 0);
  expect([level(kernel, 'r1'), level(kernel, 'r2')]).toEqual([1, 0]);
  hand('K.KEY-4', false);
  expect(level(kernel, 'r2')).toBe(1);
});

test('every record of formulas steps and drives as its plain part', () => {
  const levels: readonly FormulaLevel[] = [0, 1, 'X'];
  let records = 0;
  for (const record of simLibrary().records) {
    const plain = plainPart(record);
    const part = formulaPart(record);
    if (plain === undefined || part === undefined) continue;
    records++;
    const name = (pin: number): string => record.pins.find((row) => row.number === pin)!.name;
    fc.assert(
      fc.property(
        fc.array(fc.constantFrom(...levels), { minLength: part.inputs.length, maxLength: part.inputs.length }),
        fc.array(fc.constantFrom(...levels), { minLength: part.inputs.length, maxLength: part.inputs.length }),
        fc.array(fc.constantFrom(...levels), { minLength: part.states.length, maxLength: part.states.length }),
        (before, now, state) => {
          const pins = (list: readonly FormulaLevel[]): Record<string, FormulaLevel> =>
            Object.fromEntries(part.inputs.map((pin, k) => [name(pin), list[k]!]));
          const stateOf = Object.fromEntries(part.states.map((key, k) => [key, state[k]!]));
          const wanted = plain.step(stateOf, pins(before), pins(now));
          const made = stepFormulas(
            part,
            state.map(valueOfLevel),
            (k) => valueOfLevel(before[k]!),
            (k) => valueOfLevel(now[k]!),
          );
          expect(made.map(levelOf)).toEqual(part.states.map((key) => wanted[key]));
        },
      ),
      { numRuns: 15, seed: 7 },
    );
  }
  expect(records).toBeGreaterThan(60);
});
