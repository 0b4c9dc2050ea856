// The journal: one line of JSON for each act at the bench, only ever appended. Each line begins with its own id, which is a
// checksum of the rest of the line, so that a line cut off, glued to another or damaged is known for what it is and every
// whole record is found again. Pure: the host reads and writes the file; nothing here ever asks for a line to be rewritten.

import { bug, contentId, type Finding, foldName, type Result } from '../base/index.ts';
import { type Fact, readFact } from './facts.ts';

/** What was done. `done` marks a step; `undo` takes back another record; the rest say what their names say. */
export const ACTS = [
  'open',
  'renamed',
  'done',
  'undo',
  'note',
  'photo',
  'program',
  'measure',
  'fault',
  'mend',
  'power',
] as const;
export type Act = (typeof ACTS)[number];

/** A measurement, of a proof or of one touch of the meter plan. */
export interface Measured {
  /** The id of the proof or touch. */
  readonly what: string;
  readonly expected: string;
  readonly found: string;
  readonly pass: boolean;
  /** For a proof: a fingerprint of everything it depends on, as it was when it was measured. */
  readonly basis?: string;
}

/** What a host appends. Which fields an act has is said beside each. */
export interface JournalEntry {
  readonly act: Act;
  /** By the host's clock: ISO 8601, UTC, such as 2026-11-25T18:04:05.123Z. */
  readonly time: string;
  /** A short token of the program that writes, so that two at the same millisecond don't make one id. */
  readonly writer?: string;
  /** open, renamed: the machine's name and the build's. */
  readonly machine?: string;
  readonly build?: string;
  /** renamed: the names before. */
  readonly wasMachine?: string;
  readonly wasBuild?: string;
  /** The stage's name, where the act belongs to one. */
  readonly stage?: string;
  /** done: the id of the step and what kind it is. */
  readonly step?: string;
  readonly do?: string;
  /** undo: the record taken back. */
  readonly undoes?: string;
  /** mend: the record of the fault. */
  readonly mends?: string;
  /** note, photo, fault, mend: the words. */
  readonly text?: string;
  /** photo: its file, as a path in the build's folder. */
  readonly file?: string;
  /** fault, mend: parts, wires, holes it is about. */
  readonly about?: readonly string[];
  readonly measured?: Measured;
  /** power: on or off. */
  readonly on?: boolean;
  readonly facts?: readonly Fact[];
}

/** One record as read. `id` is unique for its content and time. */
export interface JournalRecord extends JournalEntry {
  readonly id: string;
  /** From 1. */
  readonly line: number;
}

/** A stretch of the file that is no record; it stays in the file, and nothing of it is used. */
export interface AsideLine {
  readonly line: number;
  /** UTF-16 offsets in the file. */
  readonly start: number;
  readonly end: number;
  readonly why: 'cut-short' | 'damaged' | 'newer' | 'too-long' | 'foreign' | 'repeated';
}

export interface Journal {
  /** In the order of the file, each once. Empty where the journal is refused. */
  readonly records: readonly JournalRecord[];
  readonly aside: readonly AsideLine[];
  /** The journal belongs to another machine or build: nothing of it is used and nothing may be appended. */
  readonly refused: boolean;
}

/** The machine and build that a journal is kept for. */
export interface JournalOwner {
  readonly machine: string;
  readonly build: string;
}

/** The longest line that is read, in UTF-16 units. */
export const LONGEST_LINE = 1 << 20;
const FORMAT = 1;
const ID_LENGTH = 10;
const MARK = '{"id":"';
const HEAD = /^\{"id":"([0-9a-hjkmnp-tv-z]{10})",/;
const MOST_FINDINGS = 40;

/** A short key of machine and build that every record carries. */
function ownerKey(owner: JournalOwner): string {
  return contentId(`${foldName(owner.machine)}\n${foldName(owner.build)}`, 6);
}

const TIME = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,9})?Z$/;

/** The record's line without its end. The id is a checksum of all that follows it. */
function lineOf(entry: JournalEntry, owner: JournalOwner): string {
  if (!TIME.test(entry.time)) bug('a journal entry needs a time in UTC', { time: entry.time });
  const { act, time, facts, ...rest } = entry;
  const fields: Record<string, unknown> = { format: FORMAT, time, of: ownerKey(owner), act };
  for (const key of Object.keys(rest).sort()) fields[key] = rest[key as keyof typeof rest];
  if (facts !== undefined && facts.length > 0) fields.facts = facts;
  const body = JSON.stringify(fields).slice(1);
  const line = `${MARK}${contentId(body, ID_LENGTH)}",${body}`;
  if (line.length > LONGEST_LINE) bug('a journal entry is too long', { act, length: line.length });
  return line;
}

/** The id that the record of `entry` will bear. */
export function recordId(entry: JournalEntry, owner: JournalOwner): string {
  return lineOf(entry, owner).slice(MARK.length, MARK.length + ID_LENGTH);
}

/**
 * What to append for `entry`, in one write: the line with its end, and a line end before it when the file doesn't end in one
 * (its last writer was stopped midway). `existingTail` is the end of the file, at least its last character; '' for an empty file.
 */
export function appendText(existingTail: string, entry: JournalEntry, owner: JournalOwner): string {
  const gap = existingTail === '' || existingTail.endsWith('\n') ? '' : '\n';
  return `${gap}${lineOf(entry, owner)}\n`;
}

interface Raw {
  readonly id: string;
  readonly fields: Readonly<Record<string, unknown>>;
}

/** The record that `text` is, wholly and undamaged, or undefined. */
function verify(text: string): Raw | undefined {
  const head = HEAD.exec(text);
  if (head === null) return undefined;
  const body = text.slice(head[0].length);
  if (contentId(body, ID_LENGTH) !== head[1]) return undefined;
  try {
    const fields: unknown = JSON.parse(`{${body}`);
    if (typeof fields !== 'object' || fields === null) return undefined;
    return { id: head[1]!, fields: fields as Record<string, unknown> };
  } catch {
    return undefined; // the sum fits but it is no JSON: junk that happens to fit
  }
}

/** The offset after the object that begins at the start of `text`, or -1 where it doesn't end. Linear. */
function objectEnd(text: string): number {
  let depth = 0;
  let inString = false;
  for (let i = 0; i < text.length; i++) {
    const c = text.charCodeAt(i);
    if (inString) {
      if (c === 92) i++;
      else if (c === 34) inString = false;
    } else if (c === 34) inString = true;
    else if (c === 123) depth++;
    else if (c === 125 && --depth === 0) return i + 1;
  }
  return -1;
}

interface Piece {
  readonly start: number;
  readonly end: number;
  readonly raw: Raw | undefined;
}

/** Cuts a line that isn't one whole record into whole records and what lies between them. */
function recover(line: string): Piece[] {
  const pieces: Piece[] = [];
  const junk = (start: number, end: number): void => {
    if (line.slice(start, end).trim() === '') return;
    const last = pieces.at(-1);
    if (last !== undefined && last.raw === undefined && last.end === start)
      pieces[pieces.length - 1] = { start: last.start, end, raw: undefined };
    else pieces.push({ start, end, raw: undefined });
  };
  let at = line.indexOf(MARK);
  junk(0, at < 0 ? line.length : at);
  while (at >= 0) {
    const next = line.indexOf(MARK, at + 1);
    const end = next < 0 ? line.length : next;
    const text = line.slice(at, end);
    const stop = objectEnd(text);
    const raw = stop < 0 ? undefined : verify(text.slice(0, stop));
    if (raw === undefined) junk(at, end);
    else {
      pieces.push({ start: at, end: at + stop, raw });
      junk(at + stop, end);
    }
    at = next;
  }
  return pieces;
}

const isText = (value: unknown): value is string => typeof value === 'string';

function readMeasured(value: unknown): Measured | undefined {
  if (typeof value !== 'object' || value === null) return undefined;
  const m = value as Record<string, unknown>;
  if (!isText(m.what) || !isText(m.expected) || !isText(m.found) || typeof m.pass !== 'boolean') return undefined;
  return {
    what: m.what,
    expected: m.expected,
    found: m.found,
    pass: m.pass,
    ...(isText(m.basis) ? { basis: m.basis } : {}),
  };
}

const TEXT_FIELDS = [
  'writer',
  'machine',
  'build',
  'wasMachine',
  'wasBuild',
  'stage',
  'step',
  'do',
  'undoes',
  'mends',
  'text',
  'file',
] as const;

/** The record in verified fields, or why it can't be used. */
function readRecord(raw: Raw, line: number): { record: JournalRecord; of: string } | 'newer' | 'damaged' {
  const f = raw.fields;
  if (typeof f.format === 'number' && f.format > FORMAT) return 'newer';
  if (f.format !== FORMAT || !isText(f.time) || !TIME.test(f.time) || !isText(f.of)) return 'damaged';
  const act = ACTS.find((known) => known === f.act);
  if (act === undefined) return isText(f.act) ? 'newer' : 'damaged';
  const texts: Partial<Record<(typeof TEXT_FIELDS)[number], string>> = {};
  for (const key of TEXT_FIELDS) {
    const value = f[key];
    if (value === undefined) continue;
    if (!isText(value)) return 'damaged';
    texts[key] = value;
  }
  const facts: Fact[] = [];
  if (f.facts !== undefined) {
    if (!Array.isArray(f.facts)) return 'damaged';
    for (const item of f.facts) {
      const fact = readFact(item);
      if (fact === undefined) return 'newer'; // whole and unchanged, so a later program wrote it
      facts.push(fact);
    }
  }
  const measured = f.measured === undefined ? undefined : readMeasured(f.measured);
  if (f.measured !== undefined && measured === undefined) return 'damaged';
  const about = f.about;
  if (about !== undefined && !(Array.isArray(about) && about.every(isText))) return 'damaged';
  return {
    of: f.of,
    record: {
      id: raw.id,
      line,
      act,
      time: f.time,
      ...texts,
      ...(about !== undefined ? { about: about as string[] } : {}),
      ...(measured !== undefined ? { measured } : {}),
      ...(typeof f.on === 'boolean' ? { on: f.on } : {}),
      ...(facts.length > 0 ? { facts } : {}),
    },
  };
}

const WORDS: Readonly<Record<AsideLine['why'], { code: string; message: (line: number) => string; help: string }>> = {
  'cut-short': {
    code: 'stage/journal-cut-short',
    message: (line) => `Line ${line} of the journal ends in the middle of a record.`,
    help: 'The program that wrote it was stopped; if the act was done on the boards, mark it done again.',
  },
  damaged: {
    code: 'stage/journal-damaged',
    message: (line) => `Line ${line} of the journal holds something that is no whole record; it is kept aside.`,
    help: 'Compare the boards with the drawing for what it may have said; an older copy of the file may have it whole.',
  },
  newer: {
    code: 'stage/journal-newer',
    message: (line) => `Line ${line} of the journal was written by a later version; it is kept aside.`,
    help: 'Use the version of the program that wrote it.',
  },
  'too-long': {
    code: 'stage/journal-line-too-long',
    message: (line) => `Line ${line} of the journal is longer than ${LONGEST_LINE} characters; it is kept aside.`,
    help: 'No record is that long: something else was written into the file.',
  },
  foreign: {
    code: 'stage/journal-foreign-record',
    message: (line) => `Line ${line} of the journal belongs to another machine or build; it is kept aside.`,
    help: 'It was copied into this file; take it back to the journal it came from.',
  },
  repeated: {
    code: 'stage/journal-repeated',
    message: (line) => `Line ${line} of the journal repeats an earlier record; it counts once.`,
    help: 'Nothing needs doing; a merge of two copies of the file does this.',
  },
};

/**
 * Reads a journal. Records come in the order of the file, each once; whatever isn't a whole record is kept aside with a finding
 * and the rest is used. A journal of another machine or build is refused. Linear in the length of `text`; never throws.
 */
export function readJournal(file: string, text: string, owner: JournalOwner): Result<Journal> {
  const found: { record: JournalRecord; of: string; start: number; end: number }[] = [];
  const aside: AsideLine[] = [];
  const ids = new Set<string>();
  let line = 0;
  let start = 0;
  while (start < text.length) {
    line++;
    const newline = text.indexOf('\n', start);
    const end = newline < 0 ? text.length : newline;
    let from = start;
    if (line === 1 && text.charCodeAt(0) === 0xfeff) from = 1;
    let to = end;
    if (to > from && text.charCodeAt(to - 1) === 13) to--;
    start = end + 1;
    if (to - from > LONGEST_LINE) {
      aside.push({ line, start: from, end: to, why: 'too-long' });
      continue;
    }
    const whole = text.slice(from, to);
    if (whole.trim() === '') continue;
    const raw = verify(whole);
    const pieces = raw === undefined ? recover(whole) : [{ start: 0, end: whole.length, raw }];
    for (const piece of pieces) {
      const place = { line, start: from + piece.start, end: from + piece.end };
      if (piece.raw === undefined) {
        const cut = whole.startsWith(MARK.slice(0, whole.length - piece.start), piece.start);
        aside.push({
          ...place,
          why: cut && objectEnd(whole.slice(piece.start, piece.end)) < 0 ? 'cut-short' : 'damaged',
        });
        continue;
      }
      const read = readRecord(piece.raw, line);
      if (typeof read === 'string') aside.push({ ...place, why: read });
      else if (ids.has(read.record.id)) aside.push({ ...place, why: 'repeated' });
      else {
        ids.add(read.record.id);
        found.push({ ...read, start: place.start, end: place.end });
      }
    }
  }
  return judge(file, text, owner, found, aside);
}

/** Decides whose records these are, and puts the findings into words. */
function judge(
  file: string,
  text: string,
  owner: JournalOwner,
  found: readonly { record: JournalRecord; of: string; start: number; end: number }[],
  aside: AsideLine[],
): Result<Journal> {
  // A machine that was renamed keeps its journal: the record of it names both, and is written under the new name.
  const own = new Set([ownerKey(owner)]);
  for (let i = found.length - 1; i >= 0; i--) {
    const { record, of } = found[i]!;
    if (record.act !== 'renamed' || !own.has(of)) continue;
    if (record.wasMachine !== undefined && record.wasBuild !== undefined)
      own.add(ownerKey({ machine: record.wasMachine, build: record.wasBuild }));
  }
  const mine = found.filter((item) => own.has(item.of));
  const first = found.find((item) => item.record.act === 'open') ?? found[0];
  if (first !== undefined && !own.has(first.of)) {
    const { machine, build } = first.record;
    const named = machine === undefined ? 'another machine or build' : `"${machine}", build "${build ?? ''}"`;
    return {
      value: { records: [], aside: [], refused: true },
      findings: [
        {
          code: 'stage/journal-other-machine',
          severity: 'error',
          message: `This journal belongs to ${named}, not to "${owner.machine}", build "${owner.build}".`,
          where: [{ file, start: first.start, end: first.end }],
          notes: [
            { text: 'Nothing of it is used and nothing is written to it, so nothing is lost.' },
            { text: 'Steps worked out from the state of other boards would send you to the wrong holes.' },
          ],
          help: 'Put it back into the build it belongs to. If this machine or build was renamed, say so once: `proofboard renamed --machine "OLD NAME"`, with `--was-build` where the build was.',
        },
      ],
    };
  }
  for (const item of found)
    if (!own.has(item.of)) aside.push({ line: item.record.line, start: item.start, end: item.end, why: 'foreign' });
  aside.sort((a, b) => a.start - b.start);
  const findings: Finding[] = aside.slice(0, MOST_FINDINGS).map((item) => {
    const words = WORDS[item.why];
    return {
      code: words.code,
      severity: item.why === 'repeated' ? 'note' : 'warning',
      message: words.message(item.line),
      where: [{ file, start: item.start, end: item.end }],
      notes: [],
      help: words.help,
    };
  });
  if (aside.length > MOST_FINDINGS)
    findings.push({
      code: 'stage/journal-damaged',
      severity: 'warning',
      message: `${aside.length - MOST_FINDINGS} further stretches of the journal are no whole records; they are kept aside.`,
      where: [{ file, start: aside[MOST_FINDINGS]!.start, end: text.length }],
      notes: [],
      help: WORDS.damaged.help,
    });
  if (mine.length > 0 && !mine.some((item) => item.record.act === 'open'))
    findings.push({
      code: 'stage/journal-no-head',
      severity: 'warning',
      message:
        'The record that says whose journal this is isn’t there; its other records are of this machine and are used.',
      where: [{ file, start: 0, end: 0 }],
      notes: [],
      help: 'The start of the file was lost: compare the boards with the drawing.',
    });
  return { value: { records: mine.map((item) => item.record), aside, refused: false }, findings };
}
