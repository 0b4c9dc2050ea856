// Edits of the maps: whatever form an entry is written in, the map afterwards is the map before with that one change, and the
// rest of the text is as it was. Each text is read again by the reader of machine files.

import { describe, expect, test } from 'vitest';
import { editMap, type MapEdit } from './edit-map.ts';
import type { MapDecl } from './model.ts';
import { readMachine } from './read.ts';

const HEAD =
  'machine: Test\nsupplies: { main: { volts: 5 V } }\nparts: { CPU: { type: Z80 }, ROM: { type: 28C256 }, RAM: { type: "62256" }, UART: { type: 16C550 } }\n';

const read = (text: string): ReturnType<typeof readMachine> => readMachine('machine.yaml', { read: () => text });

const mapOf = (text: string): readonly MapDecl[] => read(text).value.map;

const words = (text: string): string[] =>
  mapOf(text).map((entry) =>
    [
      entry.space,
      entry.part.name,
      entry.at.toString(16),
      entry.bytes,
      ...(entry.mirrors === undefined ? [] : [entry.mirrors]),
      ...(entry.access === undefined ? [] : [entry.access]),
      ...(entry.when === undefined ? [] : [entry.when.name]),
    ].join(' '),
  );

function edited(text: string, edit: (map: readonly MapDecl[]) => MapEdit): string | undefined {
  const edits = editMap('machine.yaml', text, edit(mapOf(text)));
  if (edits === undefined) return undefined;
  return [...edits]
    .sort((a, b) => b.span.start - a.span.start)
    .reduce((now, { span, text: by }) => now.slice(0, span.start) + by + now.slice(span.end), text);
}

const FORMS: Readonly<Record<string, string>> = {
  flow: 'memory:\n  - { ROM: 32 KiB at 0x0000 } # the program\n  - { RAM: 32 KiB at 0x8000 }\n',
  block: 'memory:\n  - ROM: 32 KiB at 0x0000\n  # and\n  - RAM: 32 KiB at 0x8000\n',
  'one line': 'memory: [{ ROM: 32 KiB at 0x0000 }, { RAM: 32 KiB at 0x8000 }]\n',
  'from to': 'memory:\n- { ROM: 0x0000 to 0x7FFF }\n- { RAM: "0x8000 to 0xFFFF" }\n',
  long: 'memory:\n  - { part: ROM, at: 0x0000, size: 32 KiB }\n  - part: RAM\n    at: 0x8000\n    size: 32 KiB\n',
};

describe.each(Object.entries(FORMS))('written in the form: %s', (_, form) => {
  const text = `${HEAD}${form}stages: []\n`;

  test('a region moves and is sized', () => {
    const moved = edited(text, (map) => ({ do: 'move', entry: map[1]!, at: 0x4000, bytes: 0x4000 }))!;
    expect(words(moved)).toEqual(['memory ROM 0 32768', 'memory RAM 4000 16384']);
    expect(moved.startsWith(HEAD)).toBe(true);
    expect(moved.includes('#')).toBe(text.includes('#'));
  });

  test('a word on mirrors is said, changed, and taken back', () => {
    const say =
      (word: string | undefined) =>
      (map: readonly MapDecl[]): MapEdit => ({
        do: 'say',
        entry: map[1]!,
        key: 'mirrors',
        word,
      });
    const said = edited(text, say('allowed'))!;
    expect(words(said)[1]).toBe('memory RAM 8000 32768 allowed');
    const changed = edited(said, say('forbidden'))!;
    expect(words(changed)[1]).toBe('memory RAM 8000 32768 forbidden');
    expect(edited(changed, say(undefined))).toBe(text);
  });

  test('a region goes, and the last one takes its list with it', () => {
    const one = edited(text, (map) => ({ do: 'remove', entry: map[0]! }))!;
    expect(words(one)).toEqual(['memory RAM 8000 32768']);
    const none = edited(one, (map) => ({ do: 'remove', entry: map[0]! }))!;
    expect(words(none)).toEqual([]);
    const errors = read(none).findings.filter(({ severity }) => severity === 'error');
    expect(errors.map(({ message }) => message)).toEqual(
      read(`${HEAD}stages: []\n`)
        .findings.filter(({ severity }) => severity === 'error')
        .map(({ message }) => message),
    );
  });

  test('a region comes, also to a list that is not there yet', () => {
    const more = edited(text, () => ({ do: 'add', space: 'memory', part: 'UART', at: 0xff00, bytes: 8 }))!;
    expect(words(more)).toEqual(['memory ROM 0 32768', 'memory RAM 8000 32768', 'memory UART ff00 8']);
    const port = edited(text, () => ({ do: 'add', space: 'ports', part: 'UART', at: 0x10, bytes: 8 }))!;
    expect(words(port)).toContain('ports UART 10 8');
    expect(
      edited(port, (map) => ({ do: 'remove', entry: map.find(({ space }) => space === 'ports')! }))!.trim(),
    ).toContain(form.trim().split('\n')[0]);
  });
});

test('one of several regions of a part moves alone', () => {
  const text = `${HEAD}memory:\n  - { RAM: [16 KiB at 0x8000, 0xC000 to 0xFFFF], offset: 32 KiB }\n`;
  const moved = edited(text, (map) => ({ do: 'move', entry: map[1]!, at: 0x4000, bytes: 0x2000 }))!;
  expect(moved).toBe(`${HEAD}memory:\n  - { RAM: [16 KiB at 0x8000, 0x4000 to 0x5FFF], offset: 32 KiB }\n`);
  const gone = edited(text, (map) => ({ do: 'remove', entry: map[0]! }))!;
  expect(words(gone)).toEqual(['memory RAM c000 16384']);
});

test('other keys of an entry stay', () => {
  const text = `${HEAD}memory:\n  - { ROM: 32 KiB at 0, when: low(rom-off), access: read }\n`;
  const moved = edited(text, (map) => ({ do: 'move', entry: map[0]!, at: 0x8000, bytes: 0x8000 }))!;
  expect(words(moved)).toEqual(['memory ROM 8000 32768 read low(rom-off)']);
  const said = edited(moved, (map) => ({ do: 'say', entry: map[0]!, key: 'access', word: undefined }))!;
  expect(words(said)).toEqual(['memory ROM 8000 32768 low(rom-off)']);
});

test('an entry of another file is left alone', () => {
  const [entry] = mapOf(`${HEAD}${FORMS['flow']}`);
  expect(editMap('panel.yaml', 'x', { do: 'remove', entry: entry! })).toBeUndefined();
});
