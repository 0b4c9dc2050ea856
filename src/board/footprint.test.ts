import { expect, test } from 'vitest';
import { chipRecord, RECORDS } from '../../benchmarks/machines/random-design.ts';
import {
  bentOffsets,
  bodiesOverlap,
  bodyOfBox,
  type BentFootprint,
  footprintOf,
  type RigidFootprint,
  turned,
} from './footprint.ts';

const rigid = (record: Parameters<typeof footprintOf>[0]): RigidFootprint => footprintOf(record) as RigidFootprint;

test('a DIP has pin 1 lower left and counts counter-clockwise', () => {
  const { leads } = rigid(RECORDS.dip14);
  expect(leads[0]).toEqual({ number: 1, dx: 0, dy: 0 });
  expect(leads[6]).toEqual({ number: 7, dx: 6, dy: 0 });
  expect(leads[7]).toEqual({ number: 8, dx: 6, dy: -3 });
  expect(leads[13]).toEqual({ number: 14, dx: 0, dy: -3 });
});

test('turned by 180 degrees pin 1 is upper right', () => {
  const { leads } = turned(rigid(RECORDS.dip14), 180);
  expect(leads[6]).toEqual({ number: 7, dx: -6, dy: 0 });
  expect(leads[13]).toEqual({ number: 14, dx: 0, dy: 3 });
});

test('counter-clockwise by 90 degrees: what was to the right is above', () => {
  const { leads } = turned(rigid(RECORDS.sip6), 90);
  expect(leads[5]).toEqual({ number: 6, dx: 0, dy: -5 });
});

test('a can has only the leads that exist', () => {
  expect(rigid(RECORDS.can).leads.map((lead) => lead.number)).toEqual([1, 7, 8, 14]);
});

test('spans: along rows first, and nothing out of reach', () => {
  const footprint = footprintOf(chipRecord('X', 2, { kind: 'two-lead', span: [5, 7.7] })) as BentFootprint;
  const offsets = bentOffsets(footprint);
  expect(offsets.slice(0, 4).map(([dx, dy]) => Math.abs(dx) + Math.abs(dy))).toEqual([2, 2, 2, 2]);
  for (const [dx, dy] of offsets) expect(Math.hypot(dx, dy) * 2.54).toBeGreaterThan(4.8);
  for (const [dx, dy] of offsets) expect(Math.hypot(dx, dy) * 2.54).toBeLessThan(7.9);
});

test('two DIPs end to end touch and do not overlap; one column less and they do', () => {
  const { body } = rigid(RECORDS.dip14);
  expect(bodiesOverlap(bodyOfBox(body, 0, 11), bodyOfBox(body, 7, 11))).toBe(false);
  expect(bodiesOverlap(bodyOfBox(body, 0, 11), bodyOfBox(body, 6, 11))).toBe(true);
});
