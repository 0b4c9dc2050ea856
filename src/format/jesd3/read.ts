// Reads JESD3 fuse files (JEDEC Standard 3A and C as programmers' manuals print its grammar) the way files really are:
// star at the end of a field or at the start of the next line, QP and QV left out, blanks anywhere between fields, either
// line end. Whatever is doubtful becomes a finding with its place; nothing throws, and no input makes it slow or large.

import type { Finding, Note, Result, Span } from '../../base/index.ts';
import { JESD3_CODES, type Jesd3Code } from './codes.ts';
import { type FuseFile, type FuseVector, fuseChecksum, LARGEST_FILE, MOST_FUSES } from './model.ts';
import { checkTransmission, findFrame } from './transmission.ts';

/** Findings of one code that are listed; the rest are counted. */
const MOST_PER_CODE = 8;
const STAR = 0x2a;
/** The condition symbols of JESD3; D and U are in its later issues. */
const CONDITIONS = /^[0-9BCDFHKLNPUXZ]+$/;

interface Field {
  /** Offset of the identifier. */
  readonly start: number;
  /** Offset of the closing star, or the end of the file's fields. */
  readonly end: number;
  readonly text: string;
}

type Report = (code: Jesd3Code, message: string, start: number, end: number, extra?: Partial<Finding>) => void;

/** What the fields say, as it grows. */
interface Reading {
  readonly report: Report;
  readonly span: (start: number, end: number) => Span;
  readonly single: Map<string, { value: number; field: Field }>;
  readonly lists: { field: Field; first: number; bits: number; hex: boolean }[];
  readonly vectors: FuseVector[];
  /** The field of each vector. */
  readonly vectorFields: Field[];
  readonly notes: string[];
  pinOrder: number[] | undefined;
}

/** Reads the bytes of a fuse file. `file` names it in findings. Runs in time proportional to the bytes. */
export function readJesd3(bytes: Uint8Array, file: string): Result<FuseFile> {
  const findings = createReport(bytes, file);
  const { report } = findings;
  if (bytes.length > LARGEST_FILE) {
    report('jesd3/too-large', `The file has ${bytes.length} bytes; at most ${LARGEST_FILE} are read.`, 0, 0, {
      help: 'Check that this is the fuse file and not a listing or an archive.',
    });
    return { value: emptyFile(), findings: findings.list() };
  }
  const frame = findFrame(bytes);
  checkCharacters(bytes, frame.start, frame.end, report);
  const { specification, fields } = splitFields(bytes, frame, report);
  const reading: Reading = {
    report,
    span: findings.span,
    single: new Map(),
    lists: [],
    vectors: [],
    vectorFields: [],
    notes: [],
    pinOrder: undefined,
  };
  for (const field of fields) readField(reading, field);
  if (reading.single.size === 0 && reading.lists.length === 0 && reading.vectors.length === 0) {
    report('jesd3/not-a-fuse-file', 'No field of a fuse file can be found here.', 0, Math.min(bytes.length, 80), {
      help: 'A fuse file has fields such as QF2194* and L0000 0110...*; choose the file that ends in .jed.',
    });
    return { value: { ...emptyFile(), designSpecification: specification }, findings: findings.list() };
  }
  const fuses = layFuses(reading, report);
  checkFuseSum(reading, fuses.fuses, report);
  const transmissionSum = checkTransmission(bytes, frame, report);
  checkVectors(reading);
  const value = (key: string): number | undefined => reading.single.get(key)?.value;
  const bit = (key: string): 0 | 1 | undefined => (value(key) === undefined ? undefined : value(key) === 1 ? 1 : 0);
  return {
    value: {
      designSpecification: specification,
      fuses: fuses.fuses,
      listed: fuses.listed,
      fuseCount: fuses.believed ? value('QF') : undefined,
      pinCount: value('QP'),
      vectorLimit: value('QV'),
      defaultFuse: bit('F'),
      security: value('G') === 1,
      defaultTest: bit('X'),
      pinOrder: reading.pinOrder,
      vectors: reading.vectors,
      notes: reading.notes,
      fuseSum: { stated: value('C'), computed: fuseChecksum(fuses.fuses) },
      transmissionSum,
    },
    findings: findings.list(),
  };
}

function emptyFile(): FuseFile {
  const none = { stated: undefined, computed: 0 };
  return {
    designSpecification: '',
    fuses: new Uint8Array(0),
    listed: new Uint8Array(0),
    fuseCount: undefined,
    pinCount: undefined,
    vectorLimit: undefined,
    defaultFuse: undefined,
    security: false,
    defaultTest: undefined,
    pinOrder: undefined,
    vectors: [],
    notes: [],
    fuseSum: none,
    transmissionSum: none,
  };
}

/** Collects findings, at most a few of each code, with byte offsets turned into offsets of the text an editor shows. */
function createReport(bytes: Uint8Array, file: string) {
  const found: Finding[] = [];
  const count = new Map<Jesd3Code, number>();
  let ascii = true;
  for (const byte of bytes) if (byte > 0x7f) ascii = false;
  // An editor shows the file as UTF-8: continuation bytes take no place, four-byte characters take two.
  const shown = (offset: number): number => {
    if (ascii) return offset;
    let at = 0;
    for (let i = 0; i < offset; i++) {
      const byte = bytes[i]!;
      if ((byte & 0xc0) !== 0x80) at += byte >= 0xf0 ? 2 : 1;
    }
    return at;
  };
  const span = (start: number, end: number): Span => ({ file, start: shown(start), end: shown(end) });
  const report: Report = (code, message, start, end, extra) => {
    const before = count.get(code) ?? 0;
    count.set(code, before + 1);
    if (before >= MOST_PER_CODE) return;
    found.push({
      code,
      severity: JESD3_CODES[code].severity,
      message,
      where: [span(start, end)],
      notes: [],
      ...extra,
    });
  };
  const list = (): Finding[] =>
    found.map((finding, index) => {
      const all = count.get(finding.code as Jesd3Code)!;
      const last = found.findLastIndex((other) => other.code === finding.code) === index;
      if (all <= MOST_PER_CODE || !last) return finding;
      const note: Note = { text: `${all - MOST_PER_CODE} more of this kind are not listed.` };
      return { ...finding, notes: [...finding.notes, note] };
    });
  return { report, list, span };
}

function checkCharacters(bytes: Uint8Array, start: number, end: number, report: Report): void {
  let first = -1;
  let bad = 0;
  for (let i = start; i < end; i++) {
    const byte = bytes[i]!;
    // Tabs are not allowed either, but they are blanks to every reader and so harm nothing.
    if ((byte >= 0x20 && byte <= 0x7e) || byte === 13 || byte === 10 || byte === 9) continue;
    if (byte === 2 && i === start) continue;
    if (bad++ === 0) first = i;
  }
  if (bad === 0) return;
  const code = bytes[first]!.toString(16).toUpperCase().padStart(2, '0');
  const count = bad === 1 ? 'One character' : `${bad} characters`;
  report(
    'jesd3/bad-character',
    `${count} outside printable ASCII, the first with code ${code} hex.`,
    first,
    first + 1,
    {
      notes: [{ text: 'JESD3 allows 20 to 7E hex, CR, LF, and the marks STX and ETX.' }],
      help: 'If the file was copied, copy it again in binary form; a programmer may refuse it as it is.',
    },
  );
}

/** A field that can only be a quantity: files without a design specification begin with one. */
const QUANTITY = /^\s*Q[FPV]\s*\d+\s*$/;

function splitFields(
  bytes: Uint8Array,
  frame: { readonly start: number; readonly end: number; readonly hasStart: boolean; readonly hasEnd: boolean },
  report: Report,
): { specification: string; fields: Field[] } {
  const from = frame.hasStart ? frame.start + 1 : frame.start;
  const fields: Field[] = [];
  let specification: string | undefined;
  let at = from;
  const textOf = (start: number, end: number): string => {
    let text = '';
    for (let i = start; i < end; i += 4096) text += String.fromCharCode(...bytes.subarray(i, Math.min(end, i + 4096)));
    return text;
  };
  while (at < frame.end) {
    let star = bytes.indexOf(STAR, at);
    const isClosed = star >= 0 && star < frame.end;
    if (!isClosed) star = frame.end;
    const text = textOf(at, star);
    if (!isClosed && text.trim() !== '') {
      const start = at + text.length - text.trimStart().length;
      report('jesd3/truncated', 'The last field is not closed by a star: the file breaks off here.', start, star, {
        help: 'Make or fetch the file again; do not program a device from it.',
      });
    }
    if (specification === undefined && isClosed && !QUANTITY.test(text)) specification = text.trim();
    else if (text.trim() !== '') {
      if (specification === undefined) {
        specification = '';
        if (isClosed)
          report('jesd3/bad-field', 'The design specification, which comes first, is missing.', at, star, {
            notes: [{ text: 'JESD3 wants a text closed by a star before the first field; a lone star will do.' }],
          });
      }
      const start = at + text.length - text.trimStart().length;
      fields.push({ start, end: star, text: text.trim() });
    }
    at = star + 1;
  }
  if (!frame.hasStart && fields.length > 0)
    report('jesd3/no-start', 'The file has no start mark (STX, 02 hex).', 0, Math.min(1, frame.end), {
      help: 'It is read from its first character; a programmer may refuse it.',
    });
  if (!frame.hasEnd && fields.length > 0)
    report('jesd3/no-end', 'The file has no end mark (ETX, 03 hex).', Math.max(0, frame.end - 1), frame.end, {
      help: 'Its end may be missing: compare the fuse checksum, and make or fetch the file again.',
    });
  return { specification: specification ?? '', fields };
}

/** Fields that nothing here depends on: device, signature analysis, user data. */
const PASSED_OVER = 'ADEJRSTU';

function readField(reading: Reading, field: Field): void {
  const letter = field.text[0]!;
  const rest = field.text.slice(1);
  if (letter === 'Q' || 'FGXC'.includes(letter)) readQuantity(reading, field);
  else if (letter === 'L' || letter === 'K') readList(reading, field);
  else if (letter === 'V') readVector(reading, field);
  else if (letter === 'P') {
    const numbers = rest.trim().split(/\s+/);
    if (numbers.every((word) => /^\d{1,4}$/.test(word))) reading.pinOrder = numbers.map(Number);
    else unreadable(reading, field, 'pin numbers are wanted');
  } else if (letter === 'N') reading.notes.push(rest.trim());
  else if (!PASSED_OVER.includes(letter))
    reading.report('jesd3/bad-field', `No field begins with ${printable(letter)}.`, field.start, field.end, {
      notes: [
        { text: 'It is passed over. A stray star in a note or in the design specification looks like this too.' },
      ],
    });
}

function unreadable(reading: Reading, field: Field, want: string): void {
  const message = `This ${field.text[0]} field cannot be read: ${want}.`;
  reading.report('jesd3/bad-field', message, field.start, field.end);
}

/** Each field that holds one number: what it looks like after its letters, and what is wanted where it doesn't. */
const QUANTITIES: readonly { readonly form: RegExp; readonly want: string }[] = [
  { form: /^(Q[FPV])\s*(\d+)$/, want: 'QF, QP or QV and a number is wanted' },
  { form: /^([FGX])\s*([01])$/, want: '0 or 1 is wanted after the letter' },
  { form: /^(C)\s*([0-9a-f]{1,4})$/i, want: 'four hexadecimal digits are wanted' },
];

function readQuantity(reading: Reading, field: Field): void {
  const { form, want } = QUANTITIES[field.text[0] === 'Q' ? 0 : field.text[0] === 'C' ? 2 : 1]!;
  const match = form.exec(field.text);
  if (match === null) {
    unreadable(reading, field, want);
    return;
  }
  const key = match[1]!.toUpperCase();
  const digits = match[2]!;
  const value = key === 'C' ? Number.parseInt(digits, 16) : Number(digits);
  if (key.startsWith('Q') && (digits.length > 12 || value > MOST_FUSES)) {
    reading.report('jesd3/too-large', `${key} is larger than any device's.`, field.start, field.end);
    return;
  }
  if (key === 'C') reading.single.delete('C'); // a later sum covers all that came before it
  const before = reading.single.get(key);
  if (before === undefined) reading.single.set(key, { value, field });
  else if (before.value !== value) {
    const message = `${key} was ${before.value} before and is ${value} here.`;
    reading.report('jesd3/conflicting-field', message, field.start, field.end, {
      notes: [{ text: 'The first is used.', span: reading.span(before.field.start, before.field.end) }],
    });
  }
}

function readList(reading: Reading, field: Field): void {
  const match = /^[LK]\s*(\d+)(?:\s+|$)/.exec(field.text);
  if (match === null) {
    unreadable(reading, field, 'a fuse number and a blank are wanted before the states');
    return;
  }
  const digits = match[1]!;
  if (digits.length > 12 || Number(digits) > MOST_FUSES) {
    const shown = digits.length > 12 ? `${digits.slice(0, 12)}...` : digits;
    reading.report('jesd3/fuse-out-of-range', `There is no fuse ${shown}.`, field.start, field.end);
    return;
  }
  reading.lists.push({ field, first: Number(digits), bits: match[0].length, hex: field.text[0] === 'K' });
}

function readVector(reading: Reading, field: Field): void {
  const match = /^V\s*(\d{1,9})\s+([\s\S]*)$/.exec(field.text);
  const conditions = (match?.[2] ?? '').replace(/\s+/g, '');
  if (match === null || conditions === '')
    reading.report('jesd3/bad-vector', 'This vector has no number or no conditions.', field.start, field.end);
  else {
    const span = reading.span(field.start, field.end);
    reading.vectors.push({ number: Number(match[1]), conditions, span });
    reading.vectorFields.push(field);
  }
}

function printable(letter: string): string {
  return /^[\x21-\x7e]$/.test(letter)
    ? letter
    : `the character ${letter.charCodeAt(0).toString(16).padStart(2, '0')} hex`;
}

function layFuses(reading: Reading, report: Report): { fuses: Uint8Array; listed: Uint8Array; believed: boolean } {
  const stated = reading.single.get('QF');
  let reach = 0;
  for (const list of reading.lists) {
    let states = 0;
    for (let i = list.bits; i < list.field.text.length; i++) if (list.field.text.charCodeAt(i) > 0x20) states++;
    reach = Math.max(reach, list.first + states * (list.hex ? 4 : 1));
  }
  const count = stated?.value ?? Math.min(reach, MOST_FUSES);
  if (stated === undefined && reading.lists.length > 0) {
    const { field } = reading.lists[0]!;
    report(
      'jesd3/no-fuse-count',
      'There is no QF field: how many fuses the device has is not said.',
      field.start,
      field.end,
      {
        notes: [{ text: `The lists reach to fuse ${count - 1}.` }],
      },
    );
  }
  const start = (reading.single.get('F')?.value ?? 0) as 0 | 1;
  const fuses = new Uint8Array(count).fill(start);
  const listed = new Uint8Array(count);
  for (const list of reading.lists) layList(list, fuses, listed, report);
  if (reading.lists.length === 0 && count > 0)
    report('jesd3/no-fuses', 'The file lists no fuse.', stated!.field.start, stated!.field.end);
  else if (reading.single.get('F') === undefined) {
    const missing = listed.indexOf(0);
    if (missing >= 0) {
      const field = stated?.field ?? reading.lists[0]!.field;
      const all = listed.reduce((sum, state) => sum + 1 - state, 0);
      report(
        'jesd3/no-default-fuse',
        `${all === 1 ? 'One fuse is' : `${all} fuses are`} neither listed nor given a default, the first ${missing}.`,
        field.start,
        field.end,
        { notes: [{ text: 'Without an F field every fuse must be listed. 0 is assumed.' }] },
      );
    }
  }
  return { fuses, listed, believed: stated !== undefined };
}

function layList(list: Reading['lists'][number], fuses: Uint8Array, listed: Uint8Array, report: Report): void {
  const { text, start } = list.field;
  let fuse = list.first;
  let conflict = -1;
  let beyond = -1;
  const put = (state: number, at: number): void => {
    if (fuse >= fuses.length) {
      if (beyond < 0) beyond = at;
    } else {
      if (listed[fuse] === 1 && fuses[fuse] !== state && conflict < 0) {
        conflict = fuse;
        report(
          'jesd3/conflicting-fuse',
          `Fuse ${fuse} was listed as ${fuses[fuse]} before and is ${state} here.`,
          at,
          at + 1,
        );
      }
      fuses[fuse] = state;
      listed[fuse] = 1;
    }
    fuse++;
  };
  for (let i = list.bits; i < text.length; i++) {
    const code = text.charCodeAt(i);
    const at = start + i;
    if (code <= 0x20) continue;
    const digit = Number.parseInt(text[i]!, list.hex ? 16 : 2);
    if (Number.isNaN(digit)) {
      report('jesd3/bad-fuse-state', `The state of fuse ${fuse} is ${printable(text[i]!)}.`, at, at + 1, {
        notes: [{ text: `It is passed over; the states after it keep their places.` }],
      });
      fuse += list.hex ? 4 : 1;
    } else if (list.hex) for (let bit = 3; bit >= 0; bit--) put((digit >> bit) & 1, at);
    else put(digit, at);
  }
  // A hexadecimal list fills whole digits, so its last digit may hold up to three states too many, all 0.
  if (beyond >= 0 && !(list.hex && fuse - fuses.length < 4))
    report(
      'jesd3/fuse-out-of-range',
      `This list reaches to fuse ${fuse - 1}; the file says that there are ${fuses.length}, the last ${fuses.length - 1}.`,
      beyond,
      list.field.end,
      { help: 'Check that the file was made for the device it is used for.' },
    );
}

function checkFuseSum(reading: Reading, fuses: Uint8Array, report: Report): void {
  const stated = reading.single.get('C');
  if (stated === undefined) return;
  const sum = fuseChecksum(fuses);
  if (sum === stated.value) return;
  const hex = (value: number): string => value.toString(16).toUpperCase().padStart(4, '0');
  report(
    'jesd3/fuse-checksum',
    `The fuse checksum is stated as ${hex(stated.value)}; the fuses add up to ${hex(sum)}.`,
    stated.field.start,
    stated.field.end,
    {
      notes: [{ text: 'Either a fuse was changed after the file was made, or fuses are missing.' }],
      help: 'Make or fetch the file again. If it was edited by hand, let the sum follow the fuses.',
    },
  );
}

function checkVectors(reading: Reading): void {
  const pins = reading.single.get('QP')?.value ?? reading.pinOrder?.length;
  for (const [index, vector] of reading.vectors.entries()) {
    const field = reading.vectorFields[index]!;
    if (!CONDITIONS.test(vector.conditions)) {
      const bad = /[^0-9BCDFHKLNPUXZ]/.exec(vector.conditions)![0];
      reading.report(
        'jesd3/bad-vector',
        `Vector ${vector.number}: ${printable(bad)} is no condition.`,
        field.start,
        field.end,
      );
    } else if (pins !== undefined && vector.conditions.length !== pins)
      reading.report(
        'jesd3/bad-vector',
        `Vector ${vector.number} has ${vector.conditions.length} conditions for ${pins} pins.`,
        field.start,
        field.end,
      );
  }
  const limit = reading.single.get('QV');
  if (limit !== undefined && reading.vectors.length > limit.value)
    reading.report(
      'jesd3/bad-vector',
      `There are ${reading.vectors.length} vectors; QV allows ${limit.value}.`,
      limit.field.start,
      limit.field.end,
    );
}
