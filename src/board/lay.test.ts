import { expect, test } from 'vitest';
import { chipRecord, designOf, RECORDS } from '../../benchmarks/machines/random-design.ts';
import { NO_CHOICES } from './choices.ts';
import { openEditor } from './edit.ts';
import { proveLayout } from './extract.ts';
import { lay } from './lay.ts';

test('nothing to lay out is laid out', () => {
  for (const stages of [0, 1, 3]) {
    const { value, findings } = lay(designOf({ name: 'bare', stages, parts: [] }), NO_CHOICES);
    expect(findings).toEqual([]);
    expect([value.parts, value.wires]).toEqual([[], []]);
  }
});

test('two-lead parts alone, a part without nets, and a wide chip across the gutter', () => {
  const { value, findings } = lay(
    designOf({
      name: 'odd',
      stages: 2,
      parts: [
        {
          name: 'R1',
          record: RECORDS.resistor,
          stage: 1,
          nets: new Map([
            [1, 'a'],
            [2, 'b'],
          ]),
        },
        {
          name: 'R2',
          record: RECORDS.resistor,
          stage: 2,
          nets: new Map([
            [1, 'b'],
            [2, 'c'],
          ]),
        },
        { name: 'IDLE', record: RECORDS.dip14, stage: 1, nets: new Map() },
        {
          name: 'WIDE',
          record: RECORDS.dip64,
          stage: 2,
          nets: new Map([
            [1, 'a'],
            [40, 'c'],
            [64, 'main'],
            [32, 'GND'],
          ]),
        },
      ],
    }),
    NO_CHOICES,
    undefined,
    { moves: 1000 },
  );
  expect(findings).toEqual([]);
  expect(value.parts.map((part) => part.part)).toEqual(['IDLE', 'R1', 'R2', 'WIDE']);
});

test('a chip replaced by another of the same shape takes its place, one of another shape another', () => {
  const other = chipRecord('D14B', 14, { kind: 'dip', width: 300 });
  const nets = new Map<number, string>([
    [14, 'main'],
    [7, 'GND'],
    [1, 'x'],
    [2, 'y'],
  ]);
  const design = designOf({
    name: 'replaced',
    stages: 3,
    parts: [
      {
        name: 'A',
        record: RECORDS.dip20,
        stage: 1,
        nets: new Map([
          [20, 'main'],
          [10, 'GND'],
          [3, 'x'],
          [4, 'y'],
        ]),
      },
      { name: 'B', record: RECORDS.dip14, stage: 1, until: 2, nets },
      { name: 'B', record: other, stage: 2, until: 3, nets: new Map([...nets, [3, 'z'], [5, 'z']]) },
      {
        name: 'B',
        record: RECORDS.dip16,
        stage: 3,
        nets: new Map([
          [16, 'main'],
          [8, 'GND'],
          [1, 'x'],
          [2, 'y'],
        ]),
      },
    ],
  });
  const { value, findings } = lay(design, NO_CHOICES, undefined, { moves: 2000 });
  expect(findings).toEqual([]);
  const places = value.parts.filter((part) => part.part === 'B').map((part) => part.leads[0]!.hole);
  expect(places[0]).toBe(places[1]);
  expect(places[2]).not.toBe(places[0]);
  expect(proveLayout(value, design.netlists)).toEqual([]);
  const editor = openEditor(design, NO_CHOICES, value).value;
  const moved = editor.move({ part: 'A', at: value.parts[0]!.leads[0]!.hole.replace(/\d+([a-j])$/, '40$1') });
  expect(proveLayout(moved.value.layout, design.netlists)).toEqual([]);
});
