import fc from 'fast-check';
import { expect, test } from 'vitest';
import { preferredValues } from './preferred-values.ts';
import {
  printResistorBands,
  printThreeFigures,
  printValueMark,
  readResistorBands,
  readThreeFigures,
  readValueMark,
} from './resistor-code.ts';

test('bands written are read back', () => {
  fc.assert(
    fc.property(
      fc.nat(191),
      fc.integer({ min: -5, max: 9 }),
      fc.constantFrom(0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1, 2),
      (at, exponent, tolerancePercent) => {
        const ohms = Number(`${preferredValues(192)[at]}e${exponent}`);
        const bands = printResistorBands(ohms, tolerancePercent);
        if (exponent < -3) {
          expect(bands).toBeUndefined();
          return;
        }
        expect(bands).toHaveLength(5);
        expect(readResistorBands(bands!)).toEqual({ value: ohms, tolerancePercent });
      },
    ),
    { seed: 17, numRuns: 400 },
  );
  for (const value of preferredValues(24))
    for (const tolerancePercent of [5, 10, 20]) {
      const bands = printResistorBands(value, tolerancePercent)!;
      expect(bands).toHaveLength(tolerancePercent === 20 ? 3 : 4);
      expect(readResistorBands(bands)).toEqual({ value, tolerancePercent });
    }
});

test('what bands cannot say is not printed', () => {
  expect(printResistorBands(4750, 5)).toBeUndefined();
  expect(printResistorBands(4750, 5, 3)).toEqual(['YE', 'VT', 'GN', 'BN', 'GD']);
  expect(printResistorBands(4700, 3)).toBeUndefined();
  expect(printResistorBands(0, 5)).toBeUndefined();
  expect(printResistorBands(Number.NaN, 5)).toBeUndefined();
  expect(printResistorBands(1e13, 5)).toBeUndefined();
});

test('bands that are no value are not read', () => {
  for (const bands of [
    [],
    ['RD', 'RD'],
    ['GD', 'RD', 'RD', 'GD'],
    ['RD', 'XX', 'RD', 'GD'],
    ['RD', 'RD', 'TQ', 'GD'],
    ['RD', 'RD', 'RD', 'WH'],
    ['BK', 'BK', 'RD', 'GD'],
    ['RDBU', 'RD', 'RD', 'GD'],
    ['RD', 'RD', 'RD', 'RD', 'RD', 'RD'],
  ])
    expect(readResistorBands(bands)).toBeUndefined();
});

test('marks written are read back', () => {
  fc.assert(
    fc.property(
      fc.nat(95),
      fc.integer({ min: -3, max: 7 }),
      fc.constantFrom(undefined, 1, 5, 20),
      (at, exponent, percent) => {
        const ohms = Number(`${preferredValues(96)[at]}e${exponent}`);
        const mark = printValueMark(ohms, 'resistance', percent);
        expect(readValueMark(mark!, 'resistance')).toEqual({ value: ohms, tolerancePercent: percent });
        const farads = Number(`${preferredValues(24)[at % 24]}e${exponent - 11}`);
        expect(readValueMark(printValueMark(farads, 'capacitance')!, 'capacitance')?.value).toBe(farads);
      },
    ),
    { seed: 19, numRuns: 400 },
  );
});

test('odd marks', () => {
  expect(printValueMark(220, 'resistance')).toBe('220R');
  expect(printValueMark(1000, 'resistance', 5)).toBe('1K0J');
  expect(printValueMark(100e-9, 'capacitance')).toBe('100n');
  expect(printValueMark(47e-6, 'capacitance')).toBe('47µ');
  expect(printValueMark(0.5e-12, 'capacitance')).toBe('0p5');
  expect(readValueMark('4k7', 'resistance')?.value).toBe(4700);
  expect(readValueMark('10u', 'capacitance')?.value).toBe(10e-6);
  expect(readValueMark('4700m', 'capacitance')?.value).toBe(4.7);
  for (const text of ['', 'K', '4K7Q', '4X7', '47', '0K0', '4n7'])
    expect(readValueMark(text, 'resistance')).toBeUndefined();
  for (const text of ['4K7', 'n', '0n0']) expect(readValueMark(text, 'capacitance')).toBeUndefined();
  expect(printValueMark(0, 'resistance')).toBeUndefined();
  expect(printValueMark(1234567, 'resistance')).toBeUndefined();
  expect(printValueMark(4700, 'resistance', 7)).toBeUndefined();
});

test('three figures', () => {
  for (const [text, units] of [
    ['100', 10],
    ['104', 100_000],
    ['479', 4.7],
    ['478', 0.47],
    ['220', 22],
  ] as const) {
    expect(readThreeFigures(text)).toBe(units);
    expect(printThreeFigures(units)).toBe(text);
  }
  for (const text of ['', '10', '012', '1000', 'abc']) expect(readThreeFigures(text)).toBeUndefined();
  for (const units of [0, -5, 1234, 1e12, 0.001]) expect(printThreeFigures(units)).toBeUndefined();
});
