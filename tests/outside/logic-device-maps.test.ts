// Sizes of the fuse maps against data sheets: Lattice, Specifications GAL16V8 (1996 data book), p. 3-65 (64 x 32 array, eight
// product terms for each of eight outputs) and Lattice, GAL22V10, p. 1 (132 x 44 array, 8 to 16 terms); signature of 64 bits.

import { expect, test } from 'vitest';
import { compileDevice } from '../../src/decode/index.ts';

/** The terms an output on `pin` takes before it no longer fits: a sum of `n` products that share nothing. */
function roomOf(device: '16V8' | '20V8' | '22V10', pin: number): number {
  let room = 0;
  for (let n = 1; n <= 17; n++) {
    const names = Array.from({ length: 6 }, (_, k) => `i${k}`);
    const products = Array.from({ length: n }, (_, k) => {
      // Points of odd parity share no side: none can be joined with another.
      const point = odd[k]!;
      return `(${names.map((name, bit) => ((point >> bit) & 1 ? name : `~${name}`)).join(' & ')})`;
    });
    const { value } = compileDevice({
      device,
      outputs: [{ name: 'out', pin, formula: products.join(' | '), registered: true }],
      clock: 'ck',
    });
    const found = value?.outputs[0];
    if (found === undefined) break;
    room = found.room;
  }
  return room;
}
const odd = Array.from({ length: 64 }, (_, point) => point).filter(
  (point) => [...point.toString(2)].filter((bit) => bit === '1').length % 2,
);

test('16V8: 64 rows of 32, eight terms each, 2,194 fuses', () => {
  expect(roomOf('16V8', 19)).toBe(8);
  expect(roomOf('16V8', 12)).toBe(8);
  const { value } = compileDevice({ device: '16V8', outputs: [{ name: 'x', formula: 'a' }] });
  // Array, polarity, signature, kind of output, rows in use, two mode fuses.
  expect(value!.fuses.length).toBe(64 * 32 + 8 + 64 + 8 + 64 + 2);
});

test('22V10: 132 rows of 44, terms by pin, 5,892 fuses', () => {
  const terms = [23, 22, 21, 20, 19, 18, 17, 16, 15, 14].map((pin) => roomOf('22V10', pin));
  expect(terms).toEqual([8, 10, 12, 14, 16, 16, 14, 12, 10, 8]);
  const { value } = compileDevice({ device: '22V10', outputs: [{ name: 'x', formula: 'a' }] });
  // An enable row for each of ten outputs, reset and preset; two fuses for each output; signature.
  expect(terms.reduce((sum, count) => sum + count, 0) + 10 + 2).toBe(132);
  expect(value!.fuses.length).toBe(132 * 44 + 20 + 64);
});
