// Values as numbers. A net or driver is two bits, "may be high" (1) and "may be low" (2): 0 is not driven (Z), 1 high, 2 low,
// 3 not known (X). Several drivers on one net are OR-ed. A word packs up to 16 of them: the high bits in the lower half, the
// low bits in the upper half. Operators follow IEEE 1164 for 0, 1 and X; a floating input is to be made X before.

import type { SimLevel } from './model.ts';

export const Z = 0;
export const HIGH = 1;
export const LOW = 2;
export const X = 3;

const LEVELS: readonly SimLevel[] = ['Z', 1, 0, 'X'];

/** The level that a value is shown as. */
export function levelOf(value: number): SimLevel {
  return LEVELS[value & 3]!;
}

/** The value of a level. */
export function valueOfLevel(level: SimLevel): number {
  return level === 1 ? HIGH : level === 0 ? LOW : level === 'X' ? X : Z;
}

/** Not, of one value that is not Z. */
export function not(value: number): number {
  return ((value & 1) << 1) | (value >> 1);
}

/** And, of two values that are not Z. */
export function and(a: number, b: number): number {
  return (a & b & 1) | ((a | b) & 2);
}

/** Or, of two values that are not Z. */
export function or(a: number, b: number): number {
  return ((a | b) & 1) | (a & b & 2);
}

/** A word of `bits` values that are all known, from a number. */
export function wordOf(number: number, bits: number): number {
  const mask = (1 << bits) - 1;
  return (number & mask) | ((~number & mask) << 16);
}

/** A word of `bits` values that are all X. */
export function unknownWord(bits: number): number {
  const mask = (1 << bits) - 1;
  return mask | (mask << 16);
}

/** Whether the lowest `bits` values of a word are all 0 or 1. */
export function isKnown(word: number, mask: number): boolean {
  return ((word ^ (word >>> 16)) & mask) === mask;
}

/** One value of a word. */
export function valueAt(word: number, bit: number): number {
  return ((word >>> bit) & 1) | (((word >>> (bit + 16)) & 1) << 1);
}
