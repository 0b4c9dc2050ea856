import { expect, test } from 'vitest';
import { createRng } from '../base/index.ts';
import { type AddressPlan, type DiscreteFigures, type DiscreteType, discreteSelects, planFunctions } from './index.ts';

/** Round figures for arithmetic, of no part. */
const FIGURES: Record<DiscreteType, DiscreteFigures> = {
  '138': { delayNs: 20, currentMa: 8 },
  '139': { delayNs: 19, currentMa: 7 },
  '04': { delayNs: 10, currentMa: 4 },
  '08': { delayNs: 12, currentMa: 5 },
  '32': { delayNs: 11, currentMa: 6 },
};
const lines = (count: number): string[] => Array.from({ length: count }, (_, k) => `A${k}`);
const memory = { name: 'memory', lines: lines(16), cycle: 'low(/MREQ) & high(/RFSH)' } as const;
const of = (plan: AddressPlan, figures = FIGURES) => discreteSelects(planFunctions(plan).value!, figures);
const select = (part: string, at: number, bytes: number, activeLow = true) => ({
  part,
  net: `/${part}`,
  activeLow,
  ranges: [{ space: 'memory' as const, at, bytes }],
});

test('eight blocks of 8 KiB are one decoder of one of eight, enabled by both strobes', () => {
  const selects = Array.from({ length: 8 }, (_, k) => select(`P${k}`, k * 0x2000, 0x2000));
  const { value } = of({ spaces: [memory], selects });
  expect(value!.packages).toEqual([{ type: '138', count: 1, spareUnits: 0 }]);
  expect(value!.units[0]!.inputs).toEqual(['A13', 'A14', 'A15', '/RFSH', '/MREQ', 'low']);
  expect([value!.delayNs, value!.currentMa]).toEqual([20, 8]);
});

test('halves with one strobe fit half of a two-of-four; an active-high select takes an inverter', () => {
  const plan: AddressPlan = {
    spaces: [{ ...memory, cycle: 'low(/MREQ)' }],
    selects: [select('ROM', 0, 0x8000), select('RAM', 0x8000, 0x8000, false)],
  };
  const { value } = of(plan);
  expect(value!.packages.map((one) => [one.type, one.count])).toEqual([
    ['139', 1],
    ['04', 1],
  ]);
  expect(value!.delayNs).toBe(29);
});

test('a range of several outputs is joined, a small one told apart in a second level', () => {
  const { value } = of({
    spaces: [memory],
    selects: [select('RAM', 0, 0xc000), select('ROM', 0xe000, 0x2000), select('IO', 0xd000, 0x100)],
  });
  const types = value!.packages.map((one) => one.type);
  expect(types).toContain('08'); // six of the eight outputs are RAM's
  expect(types).toContain('32'); // A12 to A8 of the small one
  expect(value!.delayNs).toBeGreaterThan(20 + 2 * 11);
});

test('an unknown figure is unknown in the sum', () => {
  const { value } = of(
    { spaces: [memory], selects: [select('ROM', 0, 0x2000), select('RAM', 0x4000, 0x4000)] },
    { ...FIGURES, '138': { delayNs: undefined, currentMa: undefined } },
  );
  expect([value!.delayNs, value!.currentMa]).toEqual([undefined, undefined]);
});

test('random maps are built, each proved against its functions, or said to be too deep', () => {
  const rng = createRng(51);
  let made = 0;
  for (let round = 0; round < 60; round++) {
    const cuts = [...new Set(Array.from({ length: 6 }, () => rng.below(64) * 1024))].sort((a, b) => a - b);
    const selects = cuts.slice(1).map((end, k) => select(`P${k}`, cuts[k]!, end - cuts[k]!, rng.below(4) > 0));
    const { value, findings } = of({ spaces: [memory], selects });
    if (value === undefined) expect(findings.map((one) => one.code)).toEqual(['decode/no-discrete-form']);
    else made++;
  }
  expect(made).toBeGreaterThan(40);
});
