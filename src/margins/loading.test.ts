import { expect, test } from 'vitest';
import { highLevel, highThresholdAt, lowLevel } from './levels.ts';
import { addedDelay, STRAY } from './loading.ts';

const hct = {
  low: [
    { volts: 0.1, at: 0.02 },
    { volts: 0.33, at: 4 },
  ],
  'high-below-supply': [
    { volts: 0.1, at: -0.02 },
    { volts: 0.66, at: -4 },
  ],
  capacitance: 10,
  'test-load': 50,
};

test('a level is the best promise that covers the load, and none beyond the last one', () => {
  expect(lowLevel(hct, 0.01)).toEqual({ volts: 0.1, upTo: 0.02 });
  expect(lowLevel(hct, 4)).toEqual({ volts: 0.33, upTo: 4 });
  expect(lowLevel(hct, 4.1)).toBeNull();
  expect(highLevel(hct, 4, 4.75)!.volts).toBeCloseTo(4.09, 9);
  expect(highLevel(undefined, 0, 5)).toBeNull();
});

test('a clock threshold that follows the supply moves with it', () => {
  expect(highThresholdAt({ 'vih-below-supply': 0.6, vil: 0.45 }, 5.25)).toBeCloseTo(4.65, 9);
  expect(highThresholdAt({ vih: 3.5, 'vih-of-supply': 0.7 }, 4.5)).toBeCloseTo(3.15, 9);
});

test('capacitance beyond the specified load delays, and none below it quickens', () => {
  expect(addedDelay(hct, 50)).toBe(0);
  expect(addedDelay(hct, 20)).toBe(0);
  const more = addedDelay(hct, 150)!;
  // 0.66 V / 4 mA = 165 ohm; 1.2 x 165 ohm x 100 pF = 19.8 ns.
  expect(more).toBeCloseTo(19.8, 1);
  expect(addedDelay({ ...hct, 'test-load': 30 }, 150)!).toBeGreaterThan(more);
  expect(addedDelay({ low: hct.low }, 150), 'no test load printed: not known').toBeNull();
  // Fairchild MM74HC541 data sheet, Feb 1999, p.3: 29 ns at 50 pF and 42 ns at 150 pF, -40 to 85 C; drivers of 6 mA at 0.66 V.
  const bus = { 'high-below-supply': [{ volts: 0.66, at: -6 }], 'test-load': 50 };
  expect(Math.abs(addedDelay(bus, 150)! - (42 - 29))).toBeLessThan(0.5);
  // Zilog PS017801-0602, AC Characteristics: add 10 ns for each further 50 pF.
  expect(addedDelay(hct, 150, 0.2)).toBeCloseTo(20, 9);
  expect(STRAY.wirePfPerMm * 1000).toBeCloseTo(27.2, 6);
});

test('between two promised points the level goes straight, beyond the last there is none', () => {
  // 74HCT at 4.5 V: 4.4 V at 20 uA and 3.84 V at 4 mA; half way 4.12 V.
  const figures = {
    low: [
      { volts: 0.1, at: 0.02 },
      { volts: 0.33, at: 4 },
    ],
    high: [
      { volts: 4.4, at: -0.02 },
      { volts: 3.84, at: -4 },
    ],
  };
  expect(highLevel(figures, 0.01, 4.5)!.volts).toBe(4.4);
  expect(highLevel(figures, 2.01, 4.5)!.volts).toBeCloseTo(4.12, 9);
  expect(highLevel(figures, 4, 4.5)!.volts).toBeCloseTo(3.84, 9);
  expect(highLevel(figures, 4.1, 4.5)).toBeNull();
  expect(lowLevel(figures, 2.01)!.volts).toBeCloseTo(0.215, 9);
  for (let mA = 0; mA < 4; mA += 0.1) {
    expect(highLevel(figures, mA + 0.1 - 1e-9, 4.5)!.volts).toBeLessThanOrEqual(
      highLevel(figures, mA, 4.5)!.volts + 1e-9,
    );
    expect(lowLevel(figures, mA + 0.1 - 1e-9)!.volts).toBeGreaterThanOrEqual(lowLevel(figures, mA)!.volts - 1e-9);
  }
});
