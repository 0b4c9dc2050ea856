// A place in a file that has been read: the plain value there, its path, and findings about it. Everything of this folder
// looks at files through cursors, so that each item gets the span of the very text that it came from.

import {
  type Dimension,
  type Finding,
  type Fix,
  formatQuantity,
  nearestName,
  parseQuantity,
  parseValue,
  type Severity,
  type Span,
} from '../base/index.ts';
import type { Path, SchemaReading } from '../yaml/index.ts';
import type { NameRef } from './model.ts';

/** A file that has been read, and the list that findings about it go to. */
export interface Source {
  readonly file: string;
  readonly text: string;
  readonly reading: SchemaReading;
  readonly findings: Finding[];
}

export interface Cursor {
  readonly source: Source;
  readonly value: unknown;
  readonly path: Path;
}

/** A cursor at the root of a file. */
export function rootOf(source: Source): Cursor {
  return { source, value: source.reading.value, path: [] };
}

/** Whether there is a list of `key: value` here. */
export function isMapping(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

/** The value of `key`, or undefined where there is none. */
export function child(at: Cursor, key: string): Cursor | undefined {
  if (!isMapping(at.value) || !Object.hasOwn(at.value, key)) return undefined;
  const value = at.value[key];
  return value === undefined ? undefined : { source: at.source, value, path: [...at.path, key] };
}

/** Keys and values, in the order of the file. */
export function entries(at: Cursor | undefined): [string, Cursor][] {
  if (at === undefined || !isMapping(at.value)) return [];
  // Not Object.entries: it puts keys that look like numbers first.
  const keys = at.source.reading.keysOf(at.path);
  const value = at.value;
  return keys
    .filter((key) => Object.hasOwn(value, key) && value[key] !== undefined)
    .map((key) => [key, { source: at.source, value: value[key], path: [...at.path, key] }]);
}

/** The items of a list; a single thing counts as a list of one. */
export function items(at: Cursor | undefined): Cursor[] {
  if (at === undefined) return [];
  if (!Array.isArray(at.value)) return [at];
  return at.value.map((value: unknown, index) => ({ source: at.source, value, path: [...at.path, index] }));
}

export function spanOf(at: Cursor): Span {
  return at.source.reading.spanOf(at.path);
}

/** The span of the key under which this value stands, without quotes. */
export function keySpanOf(at: Cursor): Span {
  return withinQuotes(at.source, at.source.reading.keySpanOf(at.path), String(at.path.at(-1) ?? ''));
}

/** The span of `text` inside its quotes, so that a fix can put another word there; all of it where it is written otherwise. */
function withinQuotes(source: Source, span: Span, text: string): Span {
  const quote = source.text.charCodeAt(span.start);
  if (quote !== 0x22 && quote !== 0x27) return span;
  if (span.end - span.start !== text.length + 2 || !source.text.startsWith(text, span.start + 1)) return span;
  return { file: span.file, start: span.start + 1, end: span.end - 1 };
}

/** The stretch from `start` to `end` of the text at this place, where the file shows it letter by letter, else all of it. */
export function partSpan(span: Span, source: Source, text: string, start: number, end: number): Span {
  if (start >= end || end > text.length || source.text.slice(span.start, span.end) !== text) return span;
  return { file: span.file, start: span.start + start, end: span.start + end };
}

/** What else may be said with a finding. */
export interface Extra {
  readonly severity?: Severity;
  readonly help?: string;
  readonly notes?: readonly { readonly text: string; readonly span?: Span }[];
  readonly fixes?: readonly Fix[];
  readonly about?: readonly string[];
}

/** Reports a finding at `span`; error unless said otherwise. Returns undefined, for use in `return report(...)`. */
export function report(findings: Finding[], code: string, message: string, span: Span, extra: Extra = {}): undefined {
  findings.push({
    code: `machine/${code}`,
    severity: extra.severity ?? 'error',
    message,
    where: [span],
    notes: extra.notes ?? [],
    ...(extra.help === undefined ? {} : { help: extra.help }),
    ...(extra.fixes === undefined ? {} : { fixes: extra.fixes }),
    ...(extra.about === undefined ? {} : { about: extra.about }),
  });
  return undefined;
}

/** More names than this are not searched for a near one: it would take longer than it helps. */
const MOST_KNOWN = 2000;

/** `; did you mean X?` and the fix that goes with it, where a known name is near. Cost: one comparison for each known name. */
export function suggest(word: string, known: readonly string[], span: Span): { said: string; fixes?: readonly Fix[] } {
  const near = known.length > MOST_KNOWN ? undefined : nearestName(word, known);
  if (near === undefined) return { said: '.' };
  return {
    said: `; did you mean ${near}?`,
    fixes: [{ title: `Change it to ${near}`, edits: [{ span, text: near }] }],
  };
}

/** The text here with its place, or undefined. */
export function textAt(at: Cursor | undefined): NameRef | undefined {
  if (at === undefined || typeof at.value !== 'string') return undefined;
  return { name: at.value, span: withinQuotes(at.source, spanOf(at), at.value) };
}

/** The scalar here as the builder wrote it (`0x00`, `true`), with its place. */
export function writtenAt(at: Cursor | undefined): NameRef | undefined {
  if (at === undefined) return undefined;
  if (typeof at.value === 'string') return textAt(at);
  if (typeof at.value !== 'number' && typeof at.value !== 'boolean') return undefined;
  const span = spanOf(at);
  const shown = at.source.text.slice(span.start, span.end);
  return { name: /^[\w.+-]+$/.test(shown) ? shown : String(at.value), span };
}

/** Texts of a name or a list of names. */
export function textsAt(at: Cursor | undefined): NameRef[] {
  return items(at).flatMap((item) => textAt(item) ?? []);
}

const EXAMPLE: Readonly<Record<Dimension, string>> = {
  voltage: '5 V',
  current: '100 mA',
  resistance: '10 kohm',
  capacitance: '100 nF',
  inductance: '10 uH',
  frequency: '4 MHz',
  time: '10 ms',
  length: '80 mm',
  size: '32 KiB',
  ratio: '5 %',
  plain: '3',
};
const CALLED: Readonly<Record<Dimension, string>> = {
  voltage: 'a voltage',
  current: 'a current',
  resistance: 'a resistance',
  capacitance: 'a capacitance',
  inductance: 'an inductance',
  frequency: 'a frequency',
  time: 'a time',
  length: 'a length',
  size: 'a size',
  ratio: 'a percentage',
  plain: 'a bare number',
};
/** Part values may leave the unit out, as on parts themselves: 10k, 4k7, 100n. */
const MARKED: readonly Dimension[] = ['resistance', 'capacitance', 'inductance'];

/** A quantity of `dimension`, as half a sentence where it is none. `least` is excluded where `above` says so. */
export function readQuantity(text: string, dimension: Dimension): number | string {
  const quantity = parseQuantity(text);
  if (quantity !== undefined && quantity.dimension === dimension)
    return Number.isFinite(quantity.value) ? quantity.value : `${text.trim()} is beyond all numbers`;
  if (
    MARKED.includes(dimension) &&
    (quantity === undefined || quantity.dimension === 'plain') &&
    /[a-zA-Zµμ]/.test(text)
  ) {
    const marked = parseValue(text, dimension);
    if (marked !== undefined) return marked;
  }
  const wanted = `${CALLED[dimension]} is wanted, such as ${EXAMPLE[dimension]}`;
  if (quantity === undefined) return `"${text.trim()}" cannot be read: ${wanted}`;
  if (quantity.dimension === 'plain') return `${text.trim()} has no unit: ${wanted}`;
  return `${text.trim()} is ${CALLED[quantity.dimension]}: ${wanted}`;
}

/** Bounds of a quantity, both included unless `above`. */
export interface Bounds {
  /** Must be more than this. */
  readonly above?: number;
  readonly most?: number;
}

/** Reads the quantity here, with a finding where it has the wrong dimension or is out of bounds. */
export function quantityAt(at: Cursor | undefined, dimension: Dimension, bounds: Bounds = {}): number | undefined {
  const written = writtenAt(at);
  if (at === undefined || written === undefined) return undefined;
  const { findings } = at.source;
  const read = readQuantity(written.name, dimension);
  if (typeof read === 'string') {
    const sentence = `${read.charAt(0).toUpperCase()}${read.slice(1)}.`;
    return report(findings, 'bad-quantity', sentence, written.span);
  }
  if (bounds.above !== undefined && read <= bounds.above)
    return report(
      findings,
      'bad-quantity',
      `${written.name} is too small: more than ${formatQuantity(bounds.above, dimension)} is wanted.`,
      written.span,
    );
  if (bounds.most !== undefined && read > bounds.most)
    return report(
      findings,
      'bad-quantity',
      `${written.name} is too large: at most ${formatQuantity(bounds.most, dimension)} makes sense here.`,
      written.span,
    );
  return read;
}
