// The terse second pin table: the same pins entered a second time, from another document where one could be read. A wrong
// pin destroys parts, so the two are compared by a test, and anything that differs is told.

import { type Finding, foldName, type Result } from '../base/index.ts';
import type { PartRecord, PinKind } from './record.ts';

/** One entry: the pin's name and kind; its number follows from its place among the leads. */
export interface SecondPin {
  readonly name: string;
  readonly kind: PinKind;
  /** Offsets in the file. */
  readonly start: number;
  readonly end: number;
}

export interface SecondTable {
  readonly file: string;
  /** What the first line says: a document, or `from memory`. */
  readonly source: string;
  readonly pins: readonly SecondPin[];
}

const KINDS: Readonly<Record<string, PinKind>> = {
  i: 'input',
  o: 'output',
  t: 'three-state',
  b: 'bidirectional',
  c: 'open-drain',
  s: 'supply',
  g: 'ground',
  p: 'passive',
  u: 'unconnected',
};

/**
 * Reads a second table: the first line is `source: …`, then `NAME:k` for each lead in order of pin number, k one of
 * i input, o output, t three-state, b bidirectional, c open-drain, s supply, g ground, p passive, u unconnected.
 */
export function readSecond(file: string, text: string): Result<SecondTable | undefined> {
  const findings: Finding[] = [];
  const say = (message: string, start: number, end: number, help: string): void => {
    findings.push({
      code: 'parts/second-form',
      severity: 'error',
      message,
      where: [{ file, start, end }],
      notes: [],
      help,
    });
  };
  const firstEnd = text.search(/\r?\n|$/);
  const source = /^source:\s*(\S.*)$/.exec(text.slice(0, firstEnd))?.[1]?.trim();
  if (source === undefined) {
    say('The first line does not say the source.', 0, firstEnd, 'Write `source:` and the document, or `from memory`.');
    return { value: undefined, findings };
  }
  const pins: SecondPin[] = [];
  for (const match of text.slice(firstEnd).matchAll(/\S+/g)) {
    const start = firstEnd + match.index;
    const end = start + match[0].length;
    const parts = /^(.+):([a-z])$/.exec(match[0]);
    const kind = parts === null || !Object.hasOwn(KINDS, parts[2]!) ? undefined : KINDS[parts[2]!];
    if (parts === null || kind === undefined)
      say(`${match[0].slice(0, 40)} is not NAME:k.`, start, end, `k is one of ${Object.keys(KINDS).join(' ')}.`);
    else pins.push({ name: parts[1]!, kind, start, end });
  }
  if (findings.length > 0) return { value: undefined, findings };
  return { value: { file, source, pins }, findings };
}

/** Compares a record's pin table with its second one. Any difference of name, kind, number or count is an error. */
export function compareTables(record: PartRecord, second: SecondTable): Finding[] {
  const findings: Finding[] = [];
  const rows = [...record.pins].sort((a, b) => a.number - b.number);
  const say = (code: string, message: string, pin: SecondPin | undefined, help: string): void => {
    const start = pin?.start ?? 0;
    findings.push({
      code,
      severity: 'error',
      message: `${record.part}: ${message}`,
      where: [{ file: second.file, start, end: pin?.end ?? start }],
      notes: [],
      help,
    });
  };
  if (rows.length !== second.pins.length)
    say(
      'parts/second-count',
      `the record has ${rows.length} pins, the second table ${second.pins.length}.`,
      second.pins.at(-1),
      'Find the entry that is missing or stands twice.',
    );
  rows.forEach((row, index) => {
    const pin = second.pins[index];
    if (pin === undefined) return;
    if (foldName(pin.name) !== foldName(row.name))
      say(
        'parts/second-name',
        `pin ${row.number} is ${row.name} in the record and ${pin.name} in the second table.`,
        pin,
        'Look the pin up in a data sheet; do not copy one table into the other.',
      );
    if (pin.kind !== row.kind)
      say(
        'parts/second-kind',
        `pin ${row.number}, ${row.name}, is ${row.kind} in the record and ${pin.kind} in the second table.`,
        pin,
        'Look the pin up in a data sheet; do not copy one table into the other.',
      );
  });
  return findings;
}
