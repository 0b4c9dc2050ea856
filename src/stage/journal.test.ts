import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { contentId, createRng } from '../base/index.ts';
import { builtState } from './built.ts';
import { ACTS, appendText, type JournalEntry, LONGEST_LINE, readJournal, recordId } from './journal.ts';

const OWNER = { machine: 'Weir keeper', build: 'first' };
const time = (n: number): string =>
  `2026-03-01T18:00:${String(n % 60).padStart(2, '0')}.${String(n % 1000).padStart(3, '0')}Z`;
const wire = (n: number): JournalEntry => ({
  act: 'done',
  time: time(n),
  step: `s${n}`,
  do: 'wire',
  text: `näht "${n}" {"id":" 雨`,
  facts: [
    {
      fact: 'wire-in',
      wire: `w${n}`,
      net: 'A0',
      from: `1:${n}a`,
      to: `1:${n}j`,
      cutMm: 12.5,
      colour: 'BU',
      style: 'flat',
    },
  ],
});
const ENTRIES: readonly JournalEntry[] = [
  { act: 'open', time: time(0), machine: OWNER.machine, build: OWNER.build },
  ...Array.from({ length: 6 }, (_, i) => wire(i + 1)),
  { act: 'note', time: time(8), text: 'the gate sticks when it rains\nsecond line' },
];
const write = (entries: readonly JournalEntry[]): string =>
  entries.reduce((text, entry) => text + appendText(text, entry, OWNER), '');
const read = (text: string) => readJournal('journal.jsonl', text, OWNER);
const TEXT = write(ENTRIES);
const IDS = ENTRIES.map((entry) => recordId(entry, OWNER));
const idsOf = (text: string): string[] => read(text).value.records.map((record) => record.id);

test('what is appended is read back, one line each', () => {
  const { value, findings } = read(TEXT);
  expect(findings).toEqual([]);
  expect(value.records.map((record) => record.id)).toEqual(IDS);
  expect(value.records[3]).toEqual({ ...ENTRIES[3], id: IDS[3], line: 4 });
  expect(TEXT.split('\n').length).toBe(ENTRIES.length + 1);
  expect(new Set(IDS).size).toBe(IDS.length);
});

test('cut at every byte, every whole record before the cut is read, and what follows is appended whole', () => {
  const bytes = Buffer.from(TEXT);
  const ends: number[] = [];
  for (let i = 0; i < bytes.length; i++) if (bytes[i] === 10) ends.push(i);
  const extra = wire(30);
  for (let cut = 0; cut <= bytes.length; cut++) {
    const text = bytes.subarray(0, cut).toString('utf8');
    const whole = ends.filter((end) => end <= cut).length; // a record counts from its last brace on
    const { value, findings } = read(text);
    expect(value.records.map((record) => record.id)).toEqual(IDS.slice(0, whole));
    const atEnd = cut === 0 || ends.some((end) => cut === end || cut === end + 1);
    expect(findings.length > 0).toBe(!atEnd);
    expect(idsOf(text + appendText(text, extra, OWNER))).toEqual([...IDS.slice(0, whole), recordId(extra, OWNER)]);
    // Another writer that saw the file before the cut glues its record to the half line.
    expect(idsOf(`${text}${appendText('', extra, OWNER)}`)).toEqual([...IDS.slice(0, whole), recordId(extra, OWNER)]);
  }
});

test('a damaged line in the middle is kept aside with its place, and the rest is used', () => {
  const lines = TEXT.split('\n');
  for (const [n, bad] of [
    [2, lines[2]!.replace('12.5', '13.5')],
    [3, lines[3]!.slice(10)],
    [4, 'scribble'],
    [5, `${lines[5]!.slice(0, 40)}\u0000${lines[5]!.slice(41)}`],
  ] as const) {
    const changed = [...lines];
    changed[n] = bad;
    const { value, findings } = read(changed.join('\n'));
    expect(value.records.map((record) => record.id)).toEqual(IDS.filter((_, i) => i !== n));
    expect(findings.map((f) => f.code)).toEqual(['stage/journal-damaged']);
    const place = findings[0]!.where[0]!;
    expect(changed.join('\n').slice(place.start, place.end)).toBe(bad);
    expect(value.aside[0]!.line).toBe(n + 1);
  }
});

test('repeated lines count once; carriage returns, blank lines and a byte order mark do no harm', () => {
  const lines = TEXT.trim().split('\n');
  const text = `\ufeff${[...lines, lines[3]!, '', ...lines.slice(0, 2)].join('\r\n\r\n')}\r\n`;
  const { value, findings } = read(text);
  expect(value.records.map((record) => record.id)).toEqual(IDS);
  expect(findings.map((f) => f.severity)).toEqual(['note', 'note', 'note']);
});

test('two records on one line, with and without junk around, are both found', () => {
  const lines = TEXT.trim().split('\n');
  expect(idsOf(lines.join(''))).toEqual(IDS);
  expect(idsOf(`xx${lines.join('}{"id":"')}yy`)).toEqual(IDS);
});

test('a journal of another machine or build is refused whole, and one that was renamed is not', () => {
  for (const other of [
    { machine: 'Carillon', build: 'first' },
    { machine: 'Weir keeper', build: 'second' },
  ]) {
    const { value, findings } = readJournal('journal.jsonl', TEXT, other);
    expect(value).toEqual({ records: [], aside: [], refused: true });
    expect(findings.map((f) => f.code)).toEqual(['stage/journal-other-machine']);
    expect(findings[0]!.message).toContain('"Weir keeper", build "first"');
    const renamed = appendText(
      TEXT,
      { act: 'renamed', time: time(40), wasMachine: OWNER.machine, wasBuild: OWNER.build, ...other },
      other,
    );
    expect(readJournal('journal.jsonl', TEXT + renamed, other).value.records.length).toBe(IDS.length + 1);
  }
  expect(readJournal('journal.jsonl', TEXT, { machine: 'WEIR KEEPER', build: 'First' }).value.refused).toBe(false);
});

test('a record pasted from another journal is kept aside', () => {
  const foreign = appendText('', wire(50), { machine: 'Carillon', build: 'first' });
  const { value, findings } = read(TEXT + foreign);
  expect(value.records.length).toBe(IDS.length);
  expect(findings.map((f) => f.code)).toEqual(['stage/journal-foreign-record']);
});

test('a lost head is said, and the rest still used', () => {
  const { value, findings } = read(TEXT.slice(TEXT.indexOf('\n') + 1));
  expect(value.records.length).toBe(IDS.length - 1);
  expect(findings.map((f) => f.code)).toEqual(['stage/journal-no-head']);
});

test('a line of a megabyte and a file of junk end soon, with findings', () => {
  const long = 'x'.repeat(LONGEST_LINE + 1);
  expect(idsOf(`${TEXT}${long}\n${appendText('', wire(60), OWNER)}`)).toEqual([...IDS, recordId(wire(60), OWNER)]);
  expect(read(`${TEXT}${long}`).findings.map((f) => f.code)).toEqual(['stage/journal-line-too-long']);
  const rng = createRng(7);
  let junk = '';
  for (let i = 0; i < 300_000; i++) junk += String.fromCharCode(rng.below(256));
  expect(read(junk).value.records).toEqual([]);
  expect(read(`${junk}\n${TEXT}`).value.records.length).toBe(IDS.length);
  expect(read('{"id":"'.repeat(100_000)).value.records).toEqual([]);
  expect(read(`{"id":"0123456789",${'['.repeat(500_000)}`).value.records).toEqual([]);
  expect(read(junk).findings.length).toBeLessThan(60);
});

test('a later format or act is kept aside as such', () => {
  const line = (fields: object): string => {
    const body = JSON.stringify(fields).slice(1);
    // Made by hand as a later version would, with this version's checksum.
    return `{"id":"${contentId(body, 10)}",${body}\n`;
  };
  const base = JSON.parse(`{${TEXT.split('\n')[1]!.slice(19)}`) as Record<string, unknown>;
  for (const change of [{ format: 2 }, { act: 'teleport' }, { facts: [{ fact: 'welded' }] }]) {
    const { value, findings } = read(TEXT + line({ ...base, ...change }));
    expect(value.records.length).toBe(IDS.length);
    expect(findings.map((f) => f.code)).toEqual(['stage/journal-newer']);
  }
  for (const change of [{ time: 'yesterday' }, { text: 5 }, { measured: 1 }, { about: [1] }, { facts: 3 }]) {
    expect(read(TEXT + line({ ...base, ...change })).findings.map((f) => f.code)).toEqual(['stage/journal-damaged']);
  }
});

test('property: any mixture of whole lines of two writers, halves and junk yields each whole record once, in order', () => {
  const lines = TEXT.trim().split('\n');
  fc.assert(
    fc.property(
      fc.array(
        fc.oneof(
          fc.record({ kind: fc.constant('whole' as const), n: fc.nat(lines.length - 1), glued: fc.boolean() }),
          fc.record({
            kind: fc.constant('half' as const),
            n: fc.nat(lines.length - 1),
            cut: fc.nat(400),
            glued: fc.boolean(),
          }),
          fc.record({ kind: fc.constant('junk' as const), text: fc.string({ unit: 'binary' }), glued: fc.boolean() }),
        ),
        { maxLength: 20 },
      ),
      (pieces) => {
        let text = '';
        const wanted: string[] = [];
        for (const piece of pieces) {
          const end = piece.glued ? '' : '\n';
          if (piece.kind === 'whole') {
            text += `${lines[piece.n]!}${end}`;
            if (!wanted.includes(IDS[piece.n]!)) wanted.push(IDS[piece.n]!);
          } else if (piece.kind === 'half')
            text += lines[piece.n]!.slice(0, Math.min(piece.cut, lines[piece.n]!.length - 1)) + end;
          else text += piece.text + end;
        }
        expect(idsOf(text)).toEqual(wanted);
      },
    ),
    { numRuns: 600, seed: 11 },
  );
});

test('property: thousands of changed bytes never throw, and never yield a record that was not written', () => {
  const rng = createRng(3);
  const bytes = Buffer.from(TEXT);
  const known = new Set(IDS);
  for (let i = 0; i < 3000; i++) {
    const copy = Buffer.from(bytes);
    for (let k = 0; k <= rng.below(4); k++) copy[rng.below(copy.length)] = rng.below(256);
    const ids = idsOf(copy.toString('utf8'));
    expect(ids.every((id) => known.has(id))).toBe(true);
    expect(ids.length).toBeGreaterThanOrEqual(known.size - 8);
  }
});

test('the built state is a fold of the facts, as of any record, and undo takes a record back', () => {
  const undo: JournalEntry = { act: 'undo', time: time(20), undoes: IDS[3]! };
  const redo: JournalEntry = { act: 'undo', time: time(21), undoes: recordId(undo, OWNER) };
  const wires = (text: string, upTo?: string): string[] => [
    ...builtState(read(text).value.records, upTo).value.wires.keys(),
  ];
  expect(wires(TEXT)).toEqual(['w1', 'w2', 'w3', 'w4', 'w5', 'w6']);
  expect(wires(TEXT, IDS[2])).toEqual(['w1', 'w2']);
  const undone = TEXT + appendText(TEXT, undo, OWNER);
  expect(wires(undone)).toEqual(['w1', 'w2', 'w4', 'w5', 'w6']);
  expect(wires(undone, IDS[6])).toEqual(['w1', 'w2', 'w3', 'w4', 'w5', 'w6']);
  expect(wires(undone + appendText(undone, redo, OWNER))).toEqual(['w1', 'w2', 'w3', 'w4', 'w5', 'w6']);
});

test('facts that contradict each other are told', () => {
  const text = write([
    ENTRIES[0]!,
    wire(1),
    { ...wire(2), facts: [{ ...(wire(2).facts![0] as object), from: '1:1a' } as never] },
    { act: 'done', time: time(9), facts: [{ fact: 'wire-out', wire: 'w9' }] },
    { act: 'done', time: time(10), facts: [{ fact: 'part-out', part: 'CPU' }] },
  ]);
  const { findings } = builtState(read(text).value.records);
  expect(findings.map((f) => f.code)).toEqual(Array.from({ length: 3 }, () => 'stage/built-contradicts'));
  expect(findings[0]!.message).toContain('hole 1:1a');
});

test('the example in the description of the format is a journal', () => {
  const text = readFileSync('docs/formats/journal.md', 'utf8');
  const block = /```jsonl\n([\s\S]*?)```/.exec(text)![1]!;
  const { value, findings } = readJournal('docs/formats/journal.md', block, OWNER);
  expect(findings).toEqual([]);
  expect(value.records.map((record) => record.act)).toEqual(['open', 'done', 'undo', 'measure', 'note']);
  expect(builtState(value.records).value.wires.size).toBe(0);
  for (const act of ACTS) expect(text).toContain(act);
});
