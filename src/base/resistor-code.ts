// How values stand on the parts themselves, after IEC 60062: colour bands of resistors, the letter-and-digit code of
// resistors and capacitors, and the three-figure code. Values come in as ohms or farads and go out as text, and back.

import { readColour } from './colour-code.ts';

/** Figures of the bands, by IEC 60757 code. */
const DIGITS: readonly string[] = ['BK', 'BN', 'RD', 'OG', 'YE', 'GN', 'BU', 'VT', 'GY', 'WH'];
/** Powers of ten below the figures: pink, silver, gold. */
const SMALL: Readonly<Record<string, number>> = { PK: -3, SR: -2, GD: -1 };
/** Percent. Violet and grey are from memory; published tables that were read disagree about them. */
const TOLERANCES: Readonly<Record<string, number>> = {
  GY: 0.01,
  YE: 0.02,
  OG: 0.05,
  VT: 0.1,
  BU: 0.25,
  GN: 0.5,
  BN: 1,
  RD: 2,
  GD: 5,
  SR: 10,
};
/** Percent by letter; E, L, P and W are from memory. */
const LETTERS: Readonly<Record<string, number>> = {
  E: 0.005,
  L: 0.01,
  P: 0.02,
  W: 0.05,
  B: 0.1,
  C: 0.25,
  D: 0.5,
  F: 1,
  G: 2,
  H: 3,
  J: 5,
  K: 10,
  M: 20,
  N: 30,
};

/** A value with the tolerance marked beside it. */
export interface MarkedValue {
  /** ohm or farad. */
  readonly value: number;
  /** Percent either way, or undefined where the mark says nothing. */
  readonly tolerancePercent: number | undefined;
}

/**
 * The bands of a resistor as IEC 60757 codes, first figure first. Two figures at 5 % and wider, three at 2 % and tighter,
 * unless `figures` says otherwise; no tolerance band at 20 %. Undefined where the value has more figures than there are
 * bands for, lies outside 1 milliohm to 999 gigohm, or the tolerance has no colour.
 */
export function printResistorBands(
  ohms: number,
  tolerancePercent: number,
  figures?: 2 | 3,
): readonly string[] | undefined {
  const count = figures ?? (tolerancePercent >= 5 ? 2 : 3);
  const tolerance = Object.keys(TOLERANCES).find((code) => TOLERANCES[code] === tolerancePercent);
  if (tolerance === undefined && tolerancePercent !== 20) return undefined;
  if (!(ohms > 0) || !Number.isFinite(ohms)) return undefined;
  const [mantissa, power] = ohms.toExponential(count - 1).split('e') as [string, string];
  if (Math.abs(Number(`${mantissa}e${power}`) / ohms - 1) > 1e-9) return undefined;
  const digits = mantissa.replace('.', '');
  const exponent = Number(power) - (count - 1);
  const multiplier = exponent >= 0 ? DIGITS[exponent] : Object.keys(SMALL).find((code) => SMALL[code] === exponent);
  if (multiplier === undefined) return undefined;
  return [
    ...[...digits].map((digit) => DIGITS[Number(digit)]!),
    multiplier,
    ...(tolerance === undefined ? [] : [tolerance]),
  ];
}

/** Reads three (20 %), four or five bands, as codes or English colour names; undefined where they are no value. */
export function readResistorBands(bands: readonly string[]): MarkedValue | undefined {
  if (bands.length < 3 || bands.length > 5) return undefined;
  const codes = bands.map((band) => readColour(band)?.code ?? '');
  const figures = codes.length === 5 ? 3 : 2;
  let digits = '';
  for (const code of codes.slice(0, figures)) {
    const digit = DIGITS.indexOf(code);
    if (digit < 0) return undefined;
    digits += String(digit);
  }
  const multiplier = codes[figures]!;
  const power = Object.hasOwn(SMALL, multiplier) ? SMALL[multiplier]! : DIGITS.indexOf(multiplier);
  if (power === -1 && multiplier !== 'GD') return undefined;
  const last = codes[figures + 1];
  if (last !== undefined && !Object.hasOwn(TOLERANCES, last)) return undefined;
  if (Number(digits) === 0) return undefined;
  return { value: Number(`${digits}e${power}`), tolerancePercent: last === undefined ? 20 : TOLERANCES[last]! };
}

const OHM_MARKS: readonly (readonly [string, number])[] = [
  ['G', 9],
  ['M', 6],
  ['K', 3],
  ['R', 0],
  ['L', -3],
];
const FARAD_MARKS: readonly (readonly [string, number])[] = [
  ['F', 0],
  ['m', -3],
  ['µ', -6],
  ['n', -9],
  ['p', -12],
];

/** `4K7`, `220R`, `1M0`; with a tolerance `4K7J`. Capacitors in the same way: `100n`, `4n7`, `3p3K`. Undefined beyond four figures. */
export function printValueMark(
  value: number,
  dimension: 'resistance' | 'capacitance',
  tolerancePercent?: number,
): string | undefined {
  const letter =
    tolerancePercent === undefined ? '' : Object.keys(LETTERS).find((key) => LETTERS[key] === tolerancePercent);
  if (letter === undefined || !(value > 0) || !Number.isFinite(value)) return undefined;
  const marks = dimension === 'resistance' ? OHM_MARKS : FARAD_MARKS;
  for (const [mark, power] of marks) {
    const scaled = shifted(value, -power);
    // Below one only in the smallest unit that stands for a whole one: R47 is usual, 0p5 too.
    const last = mark === 'R' || mark === 'p';
    if (scaled < 1 && !last) continue;
    const rounded = Number(scaled.toPrecision(4));
    if (Math.abs(rounded / scaled - 1) > 1e-9 || rounded >= 1000 * (power === 9 || mark === 'F' ? 1000 : 1))
      return undefined;
    if (rounded < 0.01) continue;
    const [whole, fraction = ''] = String(rounded).split('.') as [string, string?];
    const front = whole === '0' && dimension === 'resistance' ? '' : whole;
    // A single figure takes a zero behind the mark, as on parts: 1K0, 1n0.
    return `${front}${mark}${fraction === '' && whole.length === 1 ? '0' : fraction}${letter}`;
  }
  return undefined;
}

/** Reads such a mark; `k` may stand for `K`, `u` for `µ`. Undefined where it is none of its dimension. */
export function readValueMark(text: string, dimension: 'resistance' | 'capacitance'): MarkedValue | undefined {
  const marks = new Map(dimension === 'resistance' ? OHM_MARKS : FARAD_MARKS);
  const match = /^(\d{0,4})([A-Za-zµμ])(\d{0,4})([A-Z]?)$/.exec(text.trim());
  if (match === null || (match[1] === '' && match[3] === '')) return undefined;
  let mark = match[2]!;
  if (mark === 'k' && dimension === 'resistance') mark = 'K';
  if ((mark === 'u' || mark === 'μ') && dimension === 'capacitance') mark = 'µ';
  const power = marks.get(mark);
  if (power === undefined) return undefined;
  const letter = match[4]!;
  if (letter !== '' && !Object.hasOwn(LETTERS, letter)) return undefined;
  const value = Number(`${match[1] === '' ? '0' : match[1]}.${match[3] === '' ? '0' : match[3]}e${power}`);
  return value > 0 ? { value, tolerancePercent: letter === '' ? undefined : LETTERS[letter]! } : undefined;
}

/** Two figures and the number of zeros, of picofarads or ohms: 104 is 100,000. A trailing 9 is a tenth: 479 is 4.7. */
export function readThreeFigures(text: string): number | undefined {
  const match = /^([1-9]\d)(\d)$/.exec(text.trim());
  if (match === null) return undefined;
  const zeros = match[2] === '9' ? -1 : match[2] === '8' ? -2 : Number(match[2]);
  return Number(`${match[1]}e${zeros}`);
}

/** The three-figure code of picofarads or ohms, or undefined where two figures are not enough. */
export function printThreeFigures(units: number): string | undefined {
  if (!(units > 0) || !Number.isFinite(units)) return undefined;
  const [mantissa, power] = units.toExponential(1).split('e') as [string, string];
  if (Math.abs(Number(`${mantissa}e${power}`) / units - 1) > 1e-9) return undefined;
  const zeros = Number(power) - 1;
  if (zeros > 7 || zeros < -2) return undefined;
  return `${mantissa.replace('.', '')}${zeros === -1 ? 9 : zeros === -2 ? 8 : zeros}`;
}

/** `value` times ten to `power`, at twelve figures, without the dust of binary fractions. */
function shifted(value: number, power: number): number {
  const [mantissa, exponent] = value.toExponential(11).split('e') as [string, string];
  return Number(`${mantissa}e${Number(exponent) + power}`);
}
