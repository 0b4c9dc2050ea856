// Preferred values of resistors and capacitors after IEC 60063: which values are made, and which of them is nearest.

import { bug } from './bug.ts';

/** The number of values in a decade. */
export type PreferredSeries = 3 | 6 | 12 | 24 | 48 | 96 | 192;

export const PREFERRED_SERIES: readonly PreferredSeries[] = [3, 6, 12, 24, 48, 96, 192];

/** E24 is a table of its own: eight of its values are not what the rounded geometric series would give. */
const E24 = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91];

/** Three figures each; the one exception of the standard is 920, where rounding would give 919. */
const E192 = Array.from({ length: 192 }, (_, step) => (step === 185 ? 920 : Math.round(100 * 10 ** (step / 192))));

const every = (table: readonly number[], step: number): readonly number[] => table.filter((_, i) => i % step === 0);

const TABLES: Readonly<Record<PreferredSeries, readonly number[]>> = {
  3: every(E24, 8).map((value) => value * 10),
  6: every(E24, 4).map((value) => value * 10),
  12: every(E24, 2).map((value) => value * 10),
  24: E24.map((value) => value * 10),
  48: every(E192, 4),
  96: every(E192, 2),
  192: E192,
};

/** The values of one decade as whole numbers from 100 to 999, ascending. Do not change the array. */
export function preferredValues(series: PreferredSeries): readonly number[] {
  return TABLES[series] ?? bug('no such series of preferred values', { series });
}

/** The nearest preferred values below and above a positive `value`, itself where it is one; exact to twelve figures. */
export function preferredAround(
  value: number,
  series: PreferredSeries,
): { readonly below: number; readonly above: number } {
  if (!(value > 0) || !Number.isFinite(value)) bug('preferred values are positive', { value });
  const table = preferredValues(series);
  // One decade to either side makes the ends of a decade nothing special.
  const exponent = Math.floor(Math.log10(value)) - 2;
  const at = (index: number): number => {
    const decade = Math.floor(index / series);
    return scaled(table[index - decade * series]!, exponent + decade);
  };
  let index = -series;
  while (at(index + 1) <= value * (1 + 1e-12)) index++;
  const below = at(index);
  return { below, above: Math.abs(below / value - 1) <= 1e-11 ? below : at(index + 1) };
}

/** The preferred value nearest to `value` by ratio; the lower one where both are equally far. */
export function nearestPreferred(value: number, series: PreferredSeries): number {
  const { below, above } = preferredAround(value, series);
  return value / below <= (above / value) * (1 + 1e-12) ? below : above;
}

/** True where `value` stands in the series. */
export function isPreferred(value: number, series: PreferredSeries): boolean {
  if (!(value > 0) || !Number.isFinite(value)) return false;
  const { below, above } = preferredAround(value, series);
  return below === above;
}

/** The coarsest series that holds `value`, or undefined where none does. */
export function coarsestSeries(value: number): PreferredSeries | undefined {
  return PREFERRED_SERIES.find((series) => isPreferred(value, series));
}

/** mantissa times ten to the exponent without the dust of binary fractions. */
function scaled(mantissa: number, exponent: number): number {
  return Number(`${mantissa}e${exponent}`);
}
