import { expect, test } from 'vitest';
import { Desk } from '../../tests/support/desk.ts';
import { base } from '../../tests/support/small.ts';
import { faultList, journalCsv, minutesByStage, timeMs, whereWasI } from './log.ts';
import { wordEntry } from './progress.ts';

test('times are read by the calendar, leap years and fractions included', () => {
  for (const time of ['2026-11-25T15:22:47.123Z', '2024-02-29T23:59:59Z', '1999-12-31T00:00:00.5Z'])
    expect(timeMs(time)).toBe(Date.parse(time));
  expect(timeMs('yesterday')).toBeNaN();
});

test('where was I: the last act, what is left, what is broken, what is out of its place', () => {
  const desk = new Desk(base);
  expect(whereWasI(desk.records(), desk.built(), desk.plan(), desk.time()).text[0]).toBe('Nothing is done yet.');
  // Up to the moment when the ROM is out to be programmed anew.
  for (;;) {
    const [step] = desk.plan().steps;
    desk.done([step!.id]);
    if (step!.do === 'program' && step!.file === 'b.hex') break;
  }
  desk.append({ act: 'fault', time: desk.time(), text: 'the strap on D0 is warm', stage: 'memory' });
  const fault = faultList(desk.records())[0]!;
  expect(fault.mended).toBeUndefined();
  desk.append({ act: 'power', time: desk.time(), on: true });
  desk.append(wordEntry('note', desk.time(), { text: 'rain on the roof', stage: 'memory' }).value);
  const now = new Date(timeMs(desk.time()) + 100 * 86_400_000).toISOString();
  const where = whereWasI(desk.records(), desk.built(), desk.plan(), now);
  expect(where.daysAgo).toBe(100);
  expect(where.devicesOut).toEqual(['ROM']);
  expect(where.next!.do).toBe('label');
  expect(where.notes.map((note) => note.text)).toEqual(['rain on the roof']);
  expect(where.text).toEqual([
    'The last act, 100 days ago: rain on the roof',
    'By the journal the supply is on: switch it off before you touch a wire.',
    expect.stringMatching(/^Stage 3, memory: \d+ steps left\. Next: Label ROM "ROM b.hex"\.$/),
    'Not mended: the strap on D0 is warm',
    'Out of its place: ROM.',
  ]);
  desk.append({ act: 'mend', time: desk.time(), text: 'wrong value, changed', mends: fault.record.id });
  expect(faultList(desk.records())[0]!.mended!.text).toBe('wrong value, changed');
  desk.undo();
  expect(faultList(desk.records())[0]!.mended).toBeUndefined();
});

test('minutes by stage count work and leave out pauses, and a clock set back takes none', () => {
  const at = (minute: number): string => new Date(Date.UTC(2026, 0, 1, 18, minute)).toISOString();
  const desk = new Desk(base);
  const note = (minute: number, stage: string): void =>
    desk.append({ act: 'note', time: at(minute), text: 'x', stage });
  desk.text = '';
  desk.append({ act: 'open', time: at(0), machine: 'Weir keeper', build: 'first' });
  note(5, 'supply'); // 5
  note(12, 'supply'); // 7
  note(60, 'logic'); // a pause
  note(70, 'logic'); // 10
  note(65, 'logic'); // set back
  note(72, 'logic'); // 2 since the latest
  expect(minutesByStage(desk.records())).toEqual([
    { stage: 'supply', minutes: 12, acts: 2 },
    { stage: 'logic', minutes: 12, acts: 4 },
  ]);
});

test('the export is CSV that reads back, with what was taken back marked', () => {
  const desk = new Desk(base);
  desk.append({ act: 'note', time: desk.time(), text: '=1+1, "quoted"\nsecond line', stage: 'supply' });
  desk.undo();
  desk.append({ act: 'photo', time: desk.time(), text: 'before', file: 'photos/1.jpg' });
  // RFC 4180 by hand: quotes doubled, fields with commas, quotes or line ends quoted, rows ended by CR LF.
  const [head, open, note, undo, photo, end] = journalCsv(desk.records()).split('\r\n');
  expect(head).toBe('time,stage,act,do,text,file,expected,found,pass,counts,id');
  expect(open).toContain(',open,');
  expect(note).toContain(`,supply,note,,"'=1+1, ""quoted""\nsecond line",,,,,no,`);
  expect(undo).toContain(',undo,');
  expect(photo).toContain(',photo,,before,photos/1.jpg,,,,yes,');
  expect(end).toBe('');
});
