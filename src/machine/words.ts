// The small languages inside the machine file's texts: ranges (A7-A0), pins (PART.PIN@20) and regions (32 KiB at 0x8000).
// Pure text to data, no findings: the caller knows the place and says what is wrong.

import { parseQuantity } from '../base/index.ts';

/** The longest range that is spelled out. */
export const LONGEST_RANGE = 256;

/** Longer texts are no ranges; it also bounds the work of the back reference. */
const LONGEST_TEXT = 200;
const RANGE = /^(\/?[a-z0-9_-]*[a-z_])(\d{1,6})-(\1)(\d{1,6})$/i;
/** The number may stand in front, as makers name the pins of alike elements: 1D-8D. */
const FRONT_RANGE = /^(\/?)(\d{1,6})([a-z_]{1,20})-\1(\d{1,6})\3$/i;

interface Range {
  readonly before: string;
  readonly first: string;
  readonly last: string;
  readonly after: string;
}

function readRange(text: string): Range | undefined {
  if (text.length > LONGEST_TEXT) return undefined;
  const back = RANGE.exec(text);
  if (back !== null) return { before: back[1]!, first: back[2]!, last: back[4]!, after: '' };
  const front = FRONT_RANGE.exec(text);
  return front === null ? undefined : { before: front[1]!, first: front[2]!, last: front[4]!, after: front[3]! };
}

/** The number of members of a range as written, or undefined where `text` is a plain name. */
export function rangeLength(text: string): number | undefined {
  const range = readRange(text);
  return range === undefined ? undefined : Math.abs(Number(range.first) - Number(range.last)) + 1;
}

/**
 * The names that `text` stands for: those of a range in the order written (`A7-A0` is A7 first, `1D-8D` 1D), or `text`
 * itself. At most LONGEST_RANGE of them. Leading zeros are kept where both ends have the same number of digits (D07-D00).
 */
export function expandRange(text: string): string[] {
  const range = readRange(text);
  if (range === undefined) return [text];
  const first = Number(range.first);
  const last = Number(range.last);
  const step = last < first ? -1 : 1;
  const digits = range.first.length === range.last.length ? range.first.length : 1;
  return Array.from(
    { length: Math.min(Math.abs(first - last) + 1, LONGEST_RANGE) },
    (_, k) => range.before + String(first + step * k).padStart(digits, '0') + range.after,
  );
}

/** A pin as written; `pin` may be a range. */
export interface PinText {
  readonly part: string;
  readonly pin: string;
  readonly number?: number;
}

/** Splits PART.PIN or PART.PIN@20 at the first dot; undefined where it is not of that form. */
export function splitPin(text: string): PinText | undefined {
  const dot = text.indexOf('.');
  if (dot <= 0 || dot === text.length - 1) return undefined;
  const part = text.slice(0, dot);
  const pin = splitPinName(text.slice(dot + 1));
  return pin === undefined ? undefined : { part, ...pin };
}

/** Splits PIN or PIN@20; undefined where what stands after @ is no pin number. */
export function splitPinName(text: string): Omit<PinText, 'part'> | undefined {
  const at = text.lastIndexOf('@');
  if (at < 0) return text === '' ? undefined : { pin: text };
  const digits = text.slice(at + 1);
  if (at === 0 || !/^[1-9]\d{0,2}$/.test(digits)) return undefined;
  return { pin: text.slice(0, at), number: Number(digits) };
}

/** What is wrong with a name, as half a sentence, or undefined. */
export function nameFault(name: string, kind: 'part' | 'net' | 'other'): string | undefined {
  if (name.trim() === '') return 'is empty';
  if (name !== name.trim()) return 'has a space at its end';
  if (name.length > 80) return 'is longer than 80 characters';
  // biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what is looked for
  if (/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/.test(name)) return 'has a character in it that cannot be printed';
  if (kind === 'other') return undefined;
  if (/\s/.test(name)) return 'has a space in it';
  if (name.includes('.')) return 'has a dot in it, which stands between a part and its pin';
  if (/[@,;:#"'`()[\]{}&|^~]/.test(name)) return `has a ${/[@,;:#"'`()[\]{}&|^~]/.exec(name)![0]} in it`;
  if (kind === 'net' && name.toLowerCase() === 'open') return 'is the word for a pin left open on purpose';
  if (kind === 'part' && name.startsWith('/')) return 'starts with a slash, which only pins and nets do';
  if (kind === 'part' && rangeLength(name) !== undefined) return 'reads as a range; a part stands alone';
  return undefined;
}

/** Bytes from an address on. */
export interface Region {
  readonly at: number;
  readonly bytes: number;
}

/** The number of addresses that any map may have. */
export const LARGEST_SPACE = 2 ** 32;

/** Reads an address: a whole number from 0, decimal or 0x. A string says what is wrong. */
export function readAddress(text: string): number | string {
  const value = parseQuantity(text);
  if (value === undefined || value.dimension !== 'plain') {
    return /^\$[0-9a-f]+$|^[0-9a-f]+h$/i.test(text.trim()) || /^[0-9a-f]*[a-f][0-9a-f]*$/i.test(text.trim())
      ? `${text.trim()} is no address here; hexadecimal is written 0x${text.trim().replace(/^\$|h$/gi, '')}`
      : `${text.trim()} is no address; one is written 0x8000, or 128`;
  }
  if (!Number.isInteger(value.value) || value.value < 0)
    return `${text.trim()} is no address: a whole number is wanted`;
  if (value.value >= LARGEST_SPACE) return `${text.trim()} is beyond the largest address, 0xFFFFFFFF`;
  return value.value;
}

/** Reads a length in bytes: `32 KiB`, `8`. A string says what is wrong. */
export function readSize(text: string): number | string {
  const value = parseQuantity(text);
  if (value === undefined || (value.dimension !== 'plain' && value.dimension !== 'size'))
    return `${text.trim()} is no size; one is written 32 KiB, or 8 for bytes`;
  if (!Number.isInteger(value.value) || value.value <= 0)
    return `${text.trim()} is no size: a whole number of bytes, 1 or more, is wanted`;
  if (value.value > LARGEST_SPACE) return `${text.trim()} is more than the largest address space, 4096 MiB`;
  return value.value;
}

/** Reads `32 KiB at 0x8000` or `0x8000 to 0xFFFF` (both ends included). A string says what is wrong. */
export function readRegion(text: string): Region | string {
  const at = /^(.*\S)\s+at\s+(\S.*)$/.exec(text.trim());
  if (at !== null) {
    const bytes = readSize(at[1]!);
    if (typeof bytes === 'string') return bytes;
    const start = readAddress(at[2]!);
    return typeof start === 'string' ? start : checkRegion({ at: start, bytes });
  }
  const to = /^(.*\S)\s+to\s+(\S.*)$/.exec(text.trim());
  if (to === null) return `${text.trim()} is no region; one is written 32 KiB at 0x8000, or 0x8000 to 0xFFFF`;
  const first = readAddress(to[1]!);
  if (typeof first === 'string') return first;
  const last = readAddress(to[2]!);
  if (typeof last === 'string') return last;
  if (last < first) return `${to[2]!.trim()} is below ${to[1]!.trim()}: the lower address stands first`;
  return { at: first, bytes: last - first + 1 };
}

/** The region, or what is wrong where it runs past the end of any address space. */
export function checkRegion(region: Region): Region | string {
  if (region.at + region.bytes > LARGEST_SPACE) return 'the region runs past the largest address, 0xFFFFFFFF';
  return region;
}
