import { expect, test } from 'vitest';
import { influences, readPart } from './index.ts';

const text = (behaviour: string): string => `part: T
title: t
category: logic
package: { kind: dip, pins: 8, width: 300 }
pins:
  - { number: 1, name: A, kind: input }
  - { number: 2, name: B, kind: input }
  - { number: 3, name: CLK, kind: input }
  - { number: 4, name: GND, kind: ground }
  - { number: 5, name: /OE, kind: input }
  - { number: 6, name: Y, kind: three-state }
  - { number: 7, name: /CLR, kind: input }
  - { number: 8, name: VCC, kind: supply }
behaviour:
${behaviour}
sources: { pins: made up for this test }
`;
const show = (behaviour: string): string => {
  const { value, findings } = readPart('f', text(behaviour));
  expect(findings).toEqual([]);
  const of = influences(value!)?.get('Y');
  return [of?.direct, of?.clocks, of?.sampled].map((pins) => [...(pins ?? [])].sort().join(' ')).join(' | ');
};

test('a gate passes its inputs at once', () => {
  expect(show('  outputs: { Y: { value: "A & B", enable: "~/OE" } }')).toBe('/OE A B |  | ');
});

test('a register passes its clock and clear, and takes up its data', () => {
  expect(
    show(`  state: [F]
  asynchronous: [{ when: "~/CLR", set: { F: "0" } }]
  clocked: [{ edge: rise, of: CLK, when: B, set: { F: A } }]
  outputs: { Y: { value: F, enable: "~/OE" } }`),
  ).toBe('/CLR /OE | CLK | A B');
});

test('a latch is open', () => {
  expect(
    show('  state: [F]\n  latched: [{ while: CLK, set: { F: A } }]\n  outputs: { Y: { value: F, enable: "~/OE" } }'),
  ).toBe('/OE A CLK |  | ');
});

test('what a clocked state takes up from another latch is taken up, not passed', () => {
  expect(
    show(`  state: [M, F]
  latched: [{ while: B, set: { M: A } }]
  clocked: [{ edge: fall, of: CLK, set: { F: M } }]
  outputs: { Y: { value: F } }`),
  ).toBe(' | CLK | A B');
});
