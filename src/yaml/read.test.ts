import { type TSchema, Type } from 'typebox';
import { expect, test } from 'vitest';
import { readYaml } from './index.ts';

const schema = Type.Object(
  {
    name: Type.String(),
    kind: Type.Optional(Type.Union([Type.Literal('input'), Type.Literal('output')])),
    parts: Type.Optional(
      Type.Record(Type.String(), Type.Object({ type: Type.String() }, { additionalProperties: false })),
    ),
    list: Type.Optional(Type.Array(Type.Union([Type.String(), Type.Number()]))),
    pair: Type.Optional(Type.Tuple([Type.Number(), Type.Number()])),
  },
  { additionalProperties: false },
);
const show = (text: string): string[] =>
  readYaml('f', text, schema).findings.map(
    (finding) => `${finding.code} ${text.slice(finding.where[0]!.start, finding.where[0]!.end)}: ${finding.message}`,
  );

test('a sound file gives its value and the place of each part', () => {
  const text = 'name: a\nparts:\n  X: { type: Z80 }\nlist: [b, 3]\npair: [1, 2]\n';
  const reading = readYaml('f', text, schema);
  expect(reading.findings).toEqual([]);
  expect(JSON.parse(JSON.stringify(reading.value))).toEqual({
    name: 'a',
    parts: { X: { type: 'Z80' } },
    list: ['b', 3],
    pair: [1, 2],
  });
  const span = reading.spanOf(['parts', 'X', 'type']);
  expect(text.slice(span.start, span.end)).toBe('Z80');
  const key = reading.keySpanOf(['parts', 'X']);
  expect(text.slice(key.start, key.end)).toBe('X');
});

test('findings stand at the word that is wrong', () => {
  expect(show('nam: a')).toEqual([
    'yaml/unknown-key nam: There is no nam here; did you mean name?',
    'yaml/missing-key n: name is missing here.',
  ]);
  expect(show('name: a\nkind: imput')).toEqual([
    'yaml/unknown-word imput: "imput" is not one of the words wanted here; did you mean input?',
  ]);
  expect(show('name: a\nparts: { X: { type: 8255 } }')).toEqual([
    'yaml/misread-value 8255: YAML reads 8255 as the number 8255, but here a text is wanted.',
  ]);
  expect(show('name: a\nparts: { X: { type: 1E1 } }')).toEqual([
    'yaml/misread-value 1E1: YAML reads 1E1 as the number 10, but here a text is wanted.',
  ]);
  expect(show('name: a\nname: b')).toEqual(['yaml/duplicate-key name: name stands here a second time.']);
  expect(show('name: [a]')).toEqual(['yaml/wrong-kind [a]: Here a text is wanted, and there is a list.']);
  expect(show('')).toEqual(['yaml/empty : The file is empty.']);
  expect(show('name: {')[0]).toMatch(/^yaml\/syntax/);
});

test('a misread value still yields its text as written', () => {
  expect((readYaml('f', 'name: 0010', schema).value as { name: string }).name).toBe('0010');
});

test('hostile texts give findings', () => {
  for (const text of [
    '['.repeat(100000),
    '{a: '.repeat(50000),
    '- '.repeat(100000),
    '? '.repeat(50000),
    '&a [*a]',
    'name: *b',
    '\u0000',
    '%YAML 9.9\n---\n!!x y',
    '__proto__: {a: 1}\nname: x',
  ]) {
    expect(readYaml('f', text, schema).findings.length, text.slice(0, 20)).toBeGreaterThan(0);
  }
  const deep = Array.from({ length: 5000 }, (_, i) => `${' '.repeat(i)}a:`).join('\n');
  expect(readYaml('f', deep, schema).findings.length).toBeGreaterThan(0);
});

test('keys that YAML misreads are caught beside known ones, unless only digits are wanted', () => {
  const mixed = Type.Object({ at: Type.Optional(Type.Number()) }, { additionalProperties: Type.String() });
  const found = (text: string, under: TSchema): string[] => readYaml('f', text, under).findings.map(({ code }) => code);
  expect(found('{ at: 3, 62256: x }', mixed)).toEqual(['yaml/misread-value']);
  expect(found('{ at: 3, "62256": x }', mixed)).toEqual([]);
  const numbered = Type.Record(Type.String({ pattern: '^[0-9]+$' }), Type.String());
  expect(found('{ 1: a, 20: b }', numbered)).toEqual([]);
  expect(found('{ x: a }', numbered)).toEqual(['yaml/unknown-key']);
});

test('a number where a text or a list would do is one that YAML misread', () => {
  const names = Type.Union([Type.String(), Type.Array(Type.String())]);
  const reading = readYaml('f', '0010', names);
  expect(reading.findings.map(({ code }) => code)).toEqual(['yaml/misread-value']);
  expect(reading.value).toBe('0010');
});

test('keys keep the order of the file', () => {
  const reading = readYaml('f', 'b: x\n"10": x\na: x\n"2": x\n', Type.Record(Type.String(), Type.String()));
  expect(reading.keysOf([])).toEqual(['b', '10', 'a', '2']);
  expect(reading.keysOf(['b', 'c'])).toEqual([]);
});
