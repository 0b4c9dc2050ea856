import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  coarsestSeries,
  isPreferred,
  nearestPreferred,
  PREFERRED_SERIES,
  type PreferredSeries,
  preferredAround,
  preferredValues,
} from './preferred-values.ts';

const series = fc.constantFrom<PreferredSeries>(...PREFERRED_SERIES);

test('each series has its number of values, ascending, within one decade', () => {
  for (const count of PREFERRED_SERIES) {
    const values = preferredValues(count);
    expect(values).toHaveLength(count);
    expect([...values].sort((a, b) => a - b)).toEqual(values);
    expect(new Set(values).size).toBe(count);
    expect(values[0]).toBe(100);
    expect(values.at(-1)).toBeLessThan(1000);
  }
  expect(preferredValues(3)).toEqual([100, 220, 470]);
});

test('a value of a series is its own neighbour in every decade', () => {
  fc.assert(
    fc.property(series, fc.nat(191), fc.integer({ min: -15, max: 12 }), (count, at, decade) => {
      const value = Number(`${preferredValues(count)[at % count]}e${decade}`);
      expect(preferredAround(value, count)).toEqual({ below: value, above: value });
      expect(isPreferred(value, count)).toBe(true);
      expect(nearestPreferred(value, count)).toBe(value);
    }),
    { seed: 11, numRuns: 500 },
  );
});

test('the neighbours enclose a value, with none between them', () => {
  fc.assert(
    fc.property(series, fc.double({ min: 1e-12, max: 1e9, noNaN: true }), (count, value) => {
      const { below, above } = preferredAround(value, count);
      expect(below).toBeLessThanOrEqual(value * (1 + 1e-11));
      expect(above).toBeGreaterThanOrEqual(value * (1 - 1e-11));
      const near = nearestPreferred(value, count);
      // Slow and plain: every value of the decades around it.
      const decade = Math.floor(Math.log10(value)) - 2;
      const all = [-1, 0, 1].flatMap((d) => preferredValues(count).map((m) => Number(`${m}e${decade + d}`)));
      const far = (other: number): number => Math.abs(Math.log(other / value));
      expect(far(near)).toBeLessThanOrEqual(Math.min(...all.map(far)) + 1e-9);
    }),
    { seed: 13, numRuns: 500 },
  );
});

test('the coarsest series that holds a value', () => {
  expect([4700, 3300, 27, 5.1e3, 511, 51.7, 200].map(coarsestSeries)).toEqual([3, 6, 12, 24, 48, 192, 24]);
  expect(coarsestSeries(512.3)).toBeUndefined();
  expect(isPreferred(0, 24)).toBe(false);
  expect(isPreferred(Number.NaN, 24)).toBe(false);
});
