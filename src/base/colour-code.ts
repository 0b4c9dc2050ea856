// Letter codes of colours after IEC 60757, as wires and resistor bands bear them in files and on the printed pages. What a
// colour looks like on a screen is not said here: the standard leaves that to others, and so does this file.

import { foldName } from './names.ts';

/** A colour of the standard's table. */
export interface Colour {
  /** Two upper-case letters. */
  readonly code: string;
  /** English name, lower case. */
  readonly name: string;
}

/** The table of IEC 60757, in its order, which is also the order of the codes where an item bears several colours. */
export const COLOURS: readonly Colour[] = [
  { code: 'BK', name: 'black' },
  { code: 'BN', name: 'brown' },
  { code: 'RD', name: 'red' },
  { code: 'OG', name: 'orange' },
  { code: 'YE', name: 'yellow' },
  { code: 'GN', name: 'green' },
  { code: 'BU', name: 'blue' },
  { code: 'VT', name: 'violet' },
  { code: 'GY', name: 'grey' },
  { code: 'WH', name: 'white' },
  { code: 'PK', name: 'pink' },
  { code: 'GD', name: 'gold' },
  { code: 'TQ', name: 'turquoise' },
  { code: 'SR', name: 'silver' },
];

/** Green-and-yellow: the one pair with a meaning of its own, protective earth, and for nothing else (IEC 60445). */
export const PROTECTIVE_EARTH = 'GNYE';

const ORDER = new Map(COLOURS.map((colour, index) => [colour.code, index]));
const BY_NAME = new Map(COLOURS.map((colour) => [colour.name, colour.code]));
const OTHER_NAMES: Readonly<Record<string, string>> = { gray: 'GY', purple: 'VT' };

/** A colour designation as read: one colour or several on one item. */
export interface ColourReading {
  /** The codes in the order of the standard's table, so that BURD and RDBU read alike. */
  readonly codes: readonly string[];
  /** The designation in its right form: `RD`, `RDBU`, `GNYE`. */
  readonly code: string;
  /** `red`, `red-blue`, `green-yellow`. */
  readonly name: string;
  /** True for green-and-yellow, which no wire of a signal may bear. */
  readonly isProtectiveEarth: boolean;
  /** True where green or yellow stands beside another colour in a way the standard forbids. */
  readonly isForbidden: boolean;
}

/** Reads a designation such as `BU`, `rdbu`, or a colour's English name; undefined where it is neither. */
export function readColour(text: string): ColourReading | undefined {
  const trimmed = text.trim();
  const key = foldName(trimmed);
  const named = BY_NAME.get(key) ?? (Object.hasOwn(OTHER_NAMES, key) ? OTHER_NAMES[key] : undefined);
  const letters = named ?? trimmed.toUpperCase();
  if (letters.length === 0 || letters.length % 2 === 1 || letters.length > 2 * COLOURS.length) return undefined;
  const codes: string[] = [];
  for (let at = 0; at < letters.length; at += 2) {
    const code = letters.slice(at, at + 2);
    if (!ORDER.has(code) || codes.includes(code)) return undefined;
    codes.push(code);
  }
  codes.sort((a, b) => ORDER.get(a)! - ORDER.get(b)!);
  // By the table yellow comes before green; the standard writes this pair the other way round.
  const isProtectiveEarth = codes.length === 2 && codes[0] === 'YE' && codes[1] === 'GN';
  if (isProtectiveEarth) codes.reverse();
  const greenOrYellow = codes.includes('GN') && codes.includes('YE');
  return {
    codes,
    code: codes.join(''),
    name: codes.map((code) => COLOURS[ORDER.get(code)!]!.name).join('-'),
    isProtectiveEarth,
    isForbidden: greenOrYellow && !isProtectiveEarth,
  };
}

/** The English name of a designation, or the text itself where it is none. */
export function colourName(code: string): string {
  return readColour(code)?.name ?? code;
}
