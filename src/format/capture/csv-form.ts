// What the first lines of a table say of its form: the separator, the decimal mark, where the data begins, and what each column
// is. Guesses only from what stands there; what cannot be told is a finding.

import { numberIn, secondsOf, textOf } from './bytes.ts';

/** What a column holds. */
export type ColumnKind =
  | 'time'
  | 'index'
  | 'level'
  | 'volts'
  /** A number whose bits are channels. */
  | 'bus'
  /** Rows of changes: which channel, and its level. */
  | 'channel'
  | 'value'
  | 'other';

export interface Column {
  readonly kind: ColumnKind;
  /** As in the heading, without its unit. */
  readonly name: string;
  /** Seconds or volts of one unit. */
  readonly scale: number;
  /** Names of a bus's bits, the highest first. */
  readonly bits: readonly string[];
  readonly isHex: boolean;
}

export interface TableForm {
  readonly separator: number;
  /** 46 a point, 44 a comma. */
  readonly mark: number;
  readonly columns: readonly Column[];
  /** Number of the first line of data, from 1. */
  readonly firstLine: number;
  /** s between samples, as the lines above the data say it. */
  readonly period: number | undefined;
  /** s of the first row, where a scope says so. */
  readonly begin: number;
  /** True where the time column's unit is not told. */
  readonly isUnitGuessed: boolean;
  /** Columns of numbers that are neither levels nor volts nor a bus with its width. */
  readonly notVolts: readonly string[];
}

/** Spaces and tabs as one separator. */
export const BLANKS = 32;
const SEPARATORS: readonly number[] = [9, 59, 44, 124, BLANKS];

/** The fields of one line as text, quotes taken off (RFC 4180). */
export function fieldsOf(line: string, separator: number): string[] {
  if (separator === BLANKS) return line.trim().split(/[ \t]+/);
  const mark = String.fromCharCode(separator);
  const fields: string[] = [];
  let k = 0;
  for (;;) {
    while (line[k] === ' ') k++;
    let field = '';
    if (line[k] === '"') {
      k++;
      for (; k < line.length; k++) {
        if (line[k] !== '"') field += line[k];
        else if (line[k + 1] === '"') {
          field += '"';
          k++;
        } else break;
      }
      while (k < line.length && line[k] !== mark) k++;
    } else {
      const end = line.indexOf(mark, k);
      field = line.slice(k, end < 0 ? undefined : end).trim();
      k = end < 0 ? line.length : end;
    }
    fields.push(field);
    if (k >= line.length) return fields;
    k++;
  }
}

const encode = (text: string): Uint8Array => Uint8Array.from(text, (letter) => letter.charCodeAt(0) & 0xff);

/** A number, with its unit of time where it bears one. */
function plainNumber(text: string, mark: number): number {
  const bytes = encode(text);
  return numberIn(bytes, 0, bytes.length, mark);
}

const LEVEL_WORD = /^(?:[01xzhl]|low|high|true|false|on|off)$/i;
const HEX = /^(?:0x[0-9a-f]+|[0-9a-f]+h|\$[0-9a-f]+)$/i;
const CLOCK_TIME = /^(?:\d{4}-\d{2}-\d{2}[T ])?\d{1,2}:\d{2}:\d{2}(?:[.,]\d+)?Z?$/;

const isComment = (line: string): boolean => /^\s*(?:#|;|\/\/|%|!)/.test(line);
const isNumber = (text: string, mark: number): boolean => !Number.isNaN(plainNumber(text, mark));
const isDatum = (text: string, mark: number): boolean =>
  isNumber(text, mark) ||
  LEVEL_WORD.test(text) ||
  HEX.test(text) ||
  CLOCK_TIME.test(text) ||
  withUnit(text) !== undefined;

function withUnit(text: string): readonly [string, string] | undefined {
  const match = /^([-+]?[\d.,]+(?:e[-+]?\d+)?)\s*([a-zµμ]+)$/i.exec(text);
  return match !== null && secondsOf(match[2]!) !== undefined ? [match[1]!, match[2]!] : undefined;
}

/** Whether a line's fields can be a row of data: something to read, and nothing that is a heading. */
function isData(fields: readonly string[], mark: number): boolean {
  const full = fields.filter((field) => field !== '');
  if (full.length === 0) return false;
  const data = full.filter((field) => isDatum(field, mark)).length;
  // A row of changes has a name among its fields; a heading has no number.
  return full.some(
    (field) => isNumber(field, mark) || HEX.test(field) || CLOCK_TIME.test(field) || withUnit(field) !== undefined,
  )
    ? data === full.length || (full.length >= 3 && data >= full.length - 1)
    : data === full.length;
}

function pickSeparator(lines: readonly string[]): number {
  let best = 44;
  let bestShare = 0;
  for (const separator of SEPARATORS) {
    const counts = new Map<number, number>();
    for (const line of lines) {
      const count = fieldsOf(line, separator).length;
      counts.set(count, (counts.get(count) ?? 0) + 1);
    }
    const [count, times] = [...counts].sort((a, b) => b[1] - a[1])[0] ?? [1, 0];
    const share = count < 2 ? 0 : times / lines.length;
    if (share > bestShare + 0.05) {
      bestShare = share;
      best = separator;
    }
  }
  return best;
}

/** Splits `Time [ns]`, `CH1 (V)`, `Volt` or `D[7:0]` into name and unit. */
function headingOf(text: string): { readonly name: string; readonly unit: string } {
  const match = /^(.*?)[\s_/,]*[([]\s*([^)\]:]*?)\s*[)\]]\s*$/.exec(text);
  if (match !== null && !/^\d*$/.test(match[2]!)) return { name: match[1]!.trim(), unit: match[2]! };
  const slash = /^(.+?)\s*[/]\s*([munpf]?[sV]|µs|μs)$/.exec(text);
  if (slash !== null) return { name: slash[1]!.trim(), unit: slash[2]! };
  return { name: text.trim(), unit: '' };
}

const voltsOf = (unit: string): number | undefined =>
  /^v(?:olts?)?$/i.test(unit)
    ? 1
    : /^mv$|^millivolts?$/.test(unit) || unit === 'mV'
      ? 1e-3
      : /^[uµμ]v$/i.test(unit)
        ? 1e-6
        : undefined;

/** Names of the bits of `D[7:0]`, `D7-D0` or `D7..D0`, the highest first. */
function bitsOf(name: string): string[] {
  const match =
    /^(.*?)[[(<](\d+)\s*(?::|\.\.|-)\s*(\d+)[\])>]$/.exec(name) ?? /^(\D+?)(\d+)\s*(?:-|\.\.|:)\s*\1?(\d+)$/.exec(name);
  if (match === null) return [];
  const [from, to] = [Number(match[2]), Number(match[3])];
  const count = Math.abs(from - to) + 1;
  if (count < 2 || count > 64) return [];
  return Array.from({ length: count }, (_, k) => `${match[1]}${from > to ? from - k : from + k}`);
}

/** A rate or interval that a line above the data states, as seconds between samples. */
function periodOf(line: string): number | undefined {
  const text = line.replace(/^[\s#;/%!]+/, '').replace(/"/g, '');
  const match = /^(.*?)\s*[:=,;\t]\s*([-+\d.]+(?:e[-+]?\d+)?)\s*[,;]?\s*([a-zA-Zµμ/]*)/i.exec(text);
  if (match === null) return undefined;
  const key = match[1]!.toLowerCase();
  const value = Number(match[2]);
  const unit = match[3]!;
  if (!(value > 0) || !Number.isFinite(value)) return undefined;
  const hertz = /^([kMG]?)(?:hz|s\/s|sa\/s|sps)$/i.exec(unit);
  if (/rate|frequency|clock|sampling/.test(key) && (hertz !== null || unit === '')) {
    const scale = hertz === null ? 1 : ({ k: 1e3, m: 1e6, g: 1e9 }[hertz[1]!.toLowerCase()] ?? 1);
    return 1 / (value * scale);
  }
  const told = /[([]\s*([a-zµμ]+)\s*[)\]]/i.exec(match[1]!)?.[1] ?? '';
  if (/interval|period|increment|resolution|time per sample/.test(key))
    return value * (secondsOf(unit) ?? secondsOf(told) ?? 1);
  return undefined;
}

/** What the first lines say; undefined where there is no row of data among them. */
export function formOf(lines: readonly string[], timeUnit: number | undefined): TableForm | undefined {
  const plain = lines.map((line, k) => ({ line, number: k + 1 })).filter(({ line }) => line.trim() !== '');
  const body = plain.filter(({ line }) => !isComment(line));
  if (body.length === 0) return undefined;
  // The lower half is data rather than preamble.
  const sample = body.slice(Math.floor(body.length / 2)).map(({ line }) => line);
  const separator = pickSeparator(sample);
  const mark =
    separator !== 44 && sample.some((line) => fieldsOf(line, separator).some((field) => /^-?\d+,\d+/.test(field)))
      ? 44
      : 46;
  const width = modeOf(sample.map((line) => fieldsOf(line, separator).length));
  const firstRow = body.findIndex(({ line }, k) => {
    const fits = (text: string | undefined): boolean => {
      if (text === undefined) return true;
      const fields = fieldsOf(text, separator);
      return Math.abs(fields.length - width) <= 1 && isData(fields, mark);
    };
    return fits(line) && fits(body[k + 1]?.line);
  });
  if (firstRow < 0) return undefined;
  const firstLine = body[firstRow]!.number;
  const above = plain.filter(({ number }) => number < firstLine);
  const rows = body.slice(firstRow).map(({ line }) => fieldsOf(line, separator));
  const columns = Math.max(
    1,
    trimmed(rows[0]!).length,
    width - (rows.every((row) => (row[width - 1] ?? '') === '') ? 1 : 0),
  );
  // The heading: the last line above with as many fields; a line of units may stand between.
  const heads = above
    .map(({ line }) => {
      const own = fieldsOf(line, separator);
      const bare = fieldsOf(line.replace(/^\s*(?:#|;|\/\/|%|!)+\s*/, ''), separator);
      return trimmed(isComment(line) ? bare : own);
    })
    .filter((fields) => fields.length >= columns && (columns > 1 || fields.length === 1));
  let heading = heads.at(-1) ?? [];
  let units: readonly string[] = [];
  const isUnits = (fields: readonly string[]): boolean =>
    fields.some((field) => secondsOf(field) !== undefined || voltsOf(field) !== undefined || /^sequence$/i.test(field));
  if (heads.length > 1 && isUnits(heading)) {
    units = heading;
    heading = heads.at(-2)!;
  }
  if (columns === 1 && heading.length === 1 && /[:=]/.test(heading[0]!)) heading = [];
  let period: number | undefined;
  let begin = 0;
  for (const { line } of above) period ??= periodOf(line);
  heading.forEach((name, k) => {
    const value = Number(units[k]);
    if (units[k] === undefined || units[k] === '' || !Number.isFinite(value)) return;
    if (/^(?:x)?increment$/i.test(name) && value > 0) period ??= value;
    if (/^start$/i.test(name)) begin = value;
  });
  return describe({ separator, mark, columns, firstLine, period, begin, heading, units, rows, timeUnit });
}

const trimmed = (fields: readonly string[]): readonly string[] => {
  let end = fields.length;
  while (end > 1 && fields[end - 1] === '') end--;
  return fields.slice(0, end);
};

function modeOf(values: readonly number[]): number {
  const counts = new Map<number, number>();
  for (const value of values) counts.set(value, (counts.get(value) ?? 0) + 1);
  return [...counts].sort((a, b) => b[1] - a[1] || b[0] - a[0])[0]?.[0] ?? 1;
}

function describe(given: {
  readonly separator: number;
  readonly mark: number;
  readonly columns: number;
  readonly firstLine: number;
  readonly period: number | undefined;
  readonly begin: number;
  readonly heading: readonly string[];
  readonly units: readonly string[];
  readonly rows: readonly (readonly string[])[];
  readonly timeUnit: number | undefined;
}): TableForm {
  const { mark, heading, units, rows } = given;
  const heads = Array.from({ length: given.columns }, (_, k) => {
    const { name, unit } = headingOf(heading[k] ?? '');
    return { name, unit: unit === '' ? (units[k] ?? '') : unit };
  });
  const valuesOf = (k: number): string[] => rows.map((row) => row[k] ?? '').filter((field) => field !== '');
  const climbs = (k: number): boolean => {
    const numbers = valuesOf(k).map((text) => plainNumber(withUnit(text)?.[0] ?? text, mark));
    return (
      numbers.length > 2 &&
      numbers.filter((value, j) => j === 0 || value > numbers[j - 1]!).length > numbers.length * 0.9 &&
      new Set(numbers).size > 2
    );
  };
  const isLong =
    heads.some(({ name }) => /^(?:channel|signal|probe|net|line)s?$/i.test(name)) &&
    heads.some(({ name }) => /^(?:value|level|state|data)$/i.test(name));
  const timeWord = /^(?:time|t|x|times?tamp|seconds?|sec|time ?stamp|.*\btime)$/i;
  const indexWord = /^(?:#|n|no\.?|nr\.?|index|samples?|sample (?:number|index|no\.?)|point|sequence)$/i;
  let timeAt = heads.findIndex(({ unit }, k) => secondsOf(unit) !== undefined && valuesOf(k).length > 0);
  if (timeAt < 0) timeAt = heads.findIndex(({ name, unit }) => timeWord.test(name) && !/sequence/i.test(unit));
  if (timeAt < 0)
    timeAt = heads.findIndex((_, k) =>
      valuesOf(k).some((text) => withUnit(text) !== undefined || CLOCK_TIME.test(text)),
    );
  let indexAt = heads.findIndex(
    ({ name, unit }, k) => k !== timeAt && (indexWord.test(name) || /^sequence$/i.test(unit)),
  );
  if (timeAt < 0 && indexAt < 0) {
    const climbing = heads.findIndex((_, k) => climbs(k));
    if (climbing >= 0) {
      const isCount = given.period !== undefined && valuesOf(climbing).every((text) => /^\d+$/.test(text));
      if (isCount) indexAt = climbing;
      else timeAt = climbing;
    }
  }
  const notVolts: string[] = [];
  let isUnitGuessed = false;
  const columns = heads.map(({ name, unit }, k): Column => {
    const base = { name: name === '' ? `column ${k + 1}` : name, scale: 1, bits: [], isHex: false };
    if (k === timeAt) {
      const told = secondsOf(unit) ?? secondsOf(name);
      const own = valuesOf(k).some((text) => withUnit(text) !== undefined || CLOCK_TIME.test(text));
      if (told === undefined && !own && given.timeUnit === undefined) isUnitGuessed = true;
      return { ...base, kind: 'time', scale: given.timeUnit ?? told ?? 1 };
    }
    if (k === indexAt) return { ...base, kind: 'index' };
    if (isLong && /^(?:channel|signal|probe|net|line)s?$/i.test(name)) return { ...base, kind: 'channel' };
    if (isLong && /^(?:value|level|state|data)$/i.test(name)) return { ...base, kind: 'value' };
    const values = valuesOf(k);
    if (values.length === 0 || /^(?:date|comment|note|start|increment)$/i.test(name)) return { ...base, kind: 'other' };
    const bits = bitsOf(name);
    if (bits.length > 0) return { ...base, kind: 'bus', bits, isHex: isHexColumn(values) };
    const scale = voltsOf(unit);
    if (scale !== undefined) return { ...base, kind: 'volts', scale };
    // A stray word among levels is a bad value, not another kind of column.
    const levels = values.filter((text) => LEVEL_WORD.test(text) || /^[01](?:[.,]0*)?$/.test(text));
    const others = values.length - levels.length;
    if (
      others <= values.length * 0.2 &&
      levels.length + values.filter((text) => !isNumber(text, mark)).length >= values.length
    )
      return { ...base, kind: 'level' };
    const numbers = values.map((text) => plainNumber(text, mark));
    const good = numbers.filter((value) => !Number.isNaN(value));
    if (good.length < values.length * 0.8) {
      if (values.some((text) => HEX.test(text))) notVolts.push(base.name);
      return { ...base, kind: 'other' };
    }
    if (good.every((value) => Math.abs(value) <= 60)) return { ...base, kind: 'volts' };
    notVolts.push(base.name);
    return { ...base, kind: 'other' };
  });
  return {
    separator: given.separator,
    mark,
    columns,
    firstLine: given.firstLine,
    period: given.period,
    begin: given.begin,
    isUnitGuessed,
    notVolts,
  };
}

/** A bus's values are hexadecimal where they say so, or where a letter stands among them, or all have as many digits. */
function isHexColumn(values: readonly string[]): boolean {
  if (values.some((text) => /^0x|h$|^\$/i.test(text) || /[a-f]/i.test(text))) return true;
  const widths = new Set(values.map((text) => text.length));
  return widths.size === 1 && values.length > 4 && values.some((text) => /^0./.test(text));
}

/** Seconds of `12:34:56.789`, with or without its date; NaN where it is none. */
export function clockSeconds(bytes: Uint8Array, start: number, end: number): number {
  const match = /^(?:(\d{4})-(\d{2})-(\d{2})[T ])?(\d{1,2}):(\d{2}):(\d{2}(?:[.,]\d+)?)Z?$/.exec(
    textOf(bytes, start, end),
  );
  if (match === null) return Number.NaN;
  // Days of a month that differ are told by the day alone: a capture is not a month long.
  return (
    (Number(match[3] ?? 0) * 24 + Number(match[4])) * 3600 + Number(match[5]) * 60 + Number(match[6]!.replace(',', '.'))
  );
}
