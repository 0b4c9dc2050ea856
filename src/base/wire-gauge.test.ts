import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  contactFit,
  copperOhmPerMetre,
  nearestGauge,
  wireAreaMm2,
  wireDiameterMm,
  wireOhmPerMetre,
} from './wire-gauge.ts';

test('three gauges down is nearly half the area, six half the diameter', () => {
  expect(wireAreaMm2(25) / wireAreaMm2(22)).toBeCloseTo(0.5, 2);
  expect(wireDiameterMm(28) / wireDiameterMm(22)).toBeCloseTo(0.5, 2);
});

test('the nearest gauge of a gauge is itself', () => {
  for (let awg = -3; awg <= 56; awg++) expect(nearestGauge(wireDiameterMm(awg))).toBe(awg);
  for (const mm of [0, -1, Number.NaN, 20, 0.001, Number.POSITIVE_INFINITY]) expect(nearestGauge(mm)).toBeUndefined();
  expect(() => wireDiameterMm(22.5)).toThrow();
});

test('resistance goes with length over area, and up with temperature', () => {
  fc.assert(
    fc.property(fc.double({ min: 0.1, max: 5, noNaN: true }), (mm) => {
      expect(copperOhmPerMetre(mm) / copperOhmPerMetre(2 * mm)).toBeCloseTo(4, 9);
      expect(copperOhmPerMetre(mm, 30)).toBeGreaterThan(copperOhmPerMetre(mm));
    }),
    { seed: 7 },
  );
  expect(wireOhmPerMetre(22)).toBe(copperOhmPerMetre(wireDiameterMm(22)));
});

test('which wires suit a contact', () => {
  expect([19, 20, 22, 24, 26, 27].map((awg) => contactFit(wireDiameterMm(awg)))).toEqual([
    'thick',
    'fits',
    'fits',
    'fits',
    'fits',
    'thin',
  ]);
});
