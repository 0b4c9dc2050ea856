import { expect, test } from 'vitest';
import { plainPart, readFamily, readPart } from './index.ts';

const SOUND = `part: 74x00
title: Gates
category: logic
families: [LS]
package: { kind: dip, pins: 6, width: 300 }
pins:
  - { number: 1, name: 1A, kind: input }
  - { number: 2, name: 1B, kind: input }
  - { number: 3, name: GND, kind: ground }
  - { number: 4, name: 1Y, kind: output }
  - { number: 5, name: NC, kind: unconnected }
  - { number: 6, name: VCC, kind: supply }
behaviour:
  outputs: { 1Y: "~(1A & 1B)" }
sources:
  pins: a sheet
`;
const show = (text: string): string[] =>
  readPart('f', text).findings.map(
    (finding) => `${finding.code} ${text.slice(finding.where[0]!.start, finding.where[0]!.end)}: ${finding.message}`,
  );
const changed = (from: string, to: string): string[] => {
  expect(SOUND).toContain(from);
  return show(SOUND.replace(from, to));
};

test('a sound record has no findings', () => {
  expect(show(SOUND)).toEqual([]);
  expect(plainPart(readPart('f', SOUND).value!)?.drive({}, { '1A': 1, '1B': 1 })).toEqual({ '1Y': 0 });
});

test('pin numbers against each other and the package', () => {
  expect(changed('number: 5', 'number: 4')).toEqual([
    'parts/pin-number 4: Pin 4 is 1Y already.',
    'parts/pin-number pins: Pin 5 is missing from the table.',
  ]);
  expect(changed('number: 5', 'number: 7')).toContain('parts/pin-number 7: The package has no lead 7.');
  expect(changed('pins: 6,', 'pins: 8,')).toHaveLength(2);
  expect(changed('kind: dip, pins: 6', 'kind: dip, only: [1, 2, 3, 4, 6], pins: 6')).toEqual([
    'parts/pin-number 5: The package has no lead 5.',
  ]);
  expect(changed(', width: 300', '')).toEqual(['parts/package dip: A dip needs its width.']);
});

test('names of pins', () => {
  expect(changed('name: 1B', 'name: 1a')).toContain('parts/repeated-name 1a: 1a is a name of pin 1 already.');
  expect(changed('name: NC, kind: unconnected', 'name: GND, kind: ground')).toEqual([]);
  expect(changed('name: NC, kind: unconnected', 'name: GND, kind: unconnected')).toEqual([
    'parts/repeated-name GND: GND is a name of pin 3 already.',
  ]);
  expect(changed('name: NC,', 'name: "N=C",')).toEqual(['parts/pin-name "N=C": N=C cannot be written in a formula.']);
  expect(changed('kind: supply', 'kind: input')).toEqual(['parts/no-supply pins: No pin is of kind supply.']);
});

test('formulas stand under the pointer', () => {
  expect(changed('1A & 1B', '1A & 1C')).toEqual([
    'parts/unknown-pin 1C: There is no pin or state variable 1C; did you mean 1A?',
  ]);
  expect(changed('1A & 1B', '1A && 1B')).toEqual(['parts/formula &&: Write a single & here.']);
  expect(changed('1A & 1B', '1A & 1Y')).toEqual(['parts/formula-pin 1Y: 1Y is output: its level decides nothing.']);
  expect(changed('{ 1Y:', '{ 1A:')).toEqual([
    'parts/formula-pin 1A: 1A is input and cannot be driven.',
    'parts/undriven-output outputs: Nothing drives 1Y.',
  ]);
});

test('units, freedoms, ties, joined leads and buses name pins', () => {
  const after = (block: string): string[] => show(SOUND.replace('behaviour:', `${block}\nbehaviour:`));
  expect(after('units: [{ name: "1", kind: g, pins: { A: 1A, Y: 2Y } }]')).toEqual([
    'parts/unknown-pin 2Y: There is no pin 2Y; did you mean 1Y?',
  ]);
  expect(after('units: [{ name: "1", kind: g, pins: { A: 1A } }, { name: "2", kind: g, pins: { B: 1B } }]')).toEqual([
    'parts/unit { B: 1B }: Units of kind g have unlike pins.',
  ]);
  expect(after('freedoms: [{ exchange: [[1A], [1Y]] }]')).toEqual(['parts/freedom 1Y: 1Y is output, but 1A is input.']);
  expect(after('freedoms: [{ exchange: [[1A], [1A]] }]')).toEqual([
    'parts/freedom 1A: 1A stands twice in this freedom.',
  ]);
  expect(after('freedoms: [{ exchange: [[1A], [1B, 1Y]] }]')[0]).toMatch(/one length/);
  expect(after('ties: [{ pins: [1C], to: high, why: x }]')).toEqual([
    'parts/unknown-pin 1C: There is no pin 1C; did you mean 1A?',
  ]);
  expect(after('ties: [{ pins: [1A], to: hihg, why: x }]')[0]).toMatch(/did you mean high/);
  expect(after('ties: [{ pins: [1A], to: high, through: 10 V, why: x }]')[0]).toMatch(/no resistance/);
  expect(after('joined: [[3, 9], [3, 6]]')).toEqual([
    'parts/joined 9: There is no pin 9.',
    'parts/joined 3: Pin 3 stands twice.',
  ]);
  expect(after('bus: { role: decoder, inputs: [1A, 1B], outputs: [1Z] }')).toEqual([
    'parts/unknown-pin 1Z: There is no pin 1Z; did you mean 1A?',
  ]);
});

test('figures and sources', () => {
  const after = (block: string): string[] => show(SOUND.replace('behaviour:', `${block}\nbehaviour:`));
  expect(after('current: { typ: 3, max: 2, source: sheet }')).toEqual([
    'parts/range-order 3: typ 3 is above max 2.',
    'parts/unknown-source sheet: There is no source sheet.',
  ]);
  expect(after('current: { typ: 1, max: 2, source: from memory }')).toEqual([]);
  expect(after('arcs: [{ symbol: t, kind: delay, from: rise 1A, to: 1Y, max: 9, source: pins }]')).toEqual([]);
  expect(after('arcs: [{ symbol: t, kind: delay, from: rise CLK, to: 1Y, max: 9 }]')[0]).toMatch(/^parts\/arc-end/);
  expect(show(SOUND.replace('  pins: a sheet', '  table: a sheet'))[0]).toMatch(/^parts\/no-source/);
});

test('state and repeats', () => {
  const record = (block: string): string[] => show(SOUND.replace('  outputs: { 1Y: "~(1A & 1B)" }', block));
  expect(
    record('  state: [S1-S2]\n  clocked: [{ edge: rise, of: 1A, set: { S1: 1B, S2: S1 } }]\n  outputs: { 1Y: S2 }'),
  ).toEqual([]);
  expect(record('  state: [S1]\n  clocked: [{ edge: rise, of: 1A, set: { S2: 1B } }]\n  outputs: { 1Y: S1 }')).toEqual([
    'parts/unknown-state S2: There is no state variable S2; did you mean S1?',
  ]);
  expect(record('  state: [1A]\n  outputs: { 1Y: 1B }')).toEqual([
    'parts/state-name [1A]: 1A is a pin; state needs its own name.',
  ]);
  expect(record('  outputs: { "#Y": { value: "#A", repeat: 1-2 } }')).toHaveLength(2);
  expect(record('  outputs: { "#Y": { value: "#A", repeat: one } }')[0]).toMatch(/^parts\/formula one/);
});

test('repeats and ranges are written out in the value', () => {
  const text = SOUND.replace(
    '  outputs: { 1Y: "~(1A & 1B)" }',
    `  state: [S1-S2]
  asynchronous: [{ when: "~1B", set: { "S#": "0" }, repeat: 1-2 }]
  clocked: [{ edge: rise, of: 1A, set: { "S#": 1B }, repeat: 1-2 }]
  outputs: { "#Y": { value: "S# & 1B", repeat: "1" } }`,
  );
  const { value, findings } = readPart('f', text);
  expect(findings).toEqual([]);
  expect(JSON.parse(JSON.stringify(value?.behaviour))).toEqual({
    state: ['S1', 'S2'],
    asynchronous: [
      { when: '~1B', set: { S1: '0' } },
      { when: '~1B', set: { S2: '0' } },
    ],
    clocked: [
      { edge: 'rise', of: '1A', set: { S1: '1B' } },
      { edge: 'rise', of: '1A', set: { S2: '1B' } },
    ],
    outputs: { '1Y': 'S1 & 1B' },
  });
});

test('hostile and broken texts give findings', () => {
  for (const text of [
    '',
    '[',
    'part: x',
    SOUND.slice(0, 200),
    SOUND.replaceAll('name', 'nmae'),
    '\u0000',
    'a: '.repeat(9000),
  ])
    expect(readPart('f', text).findings.length, text.slice(0, 20)).toBeGreaterThan(0);
});

test('family files', () => {
  const family = `family: LS
title: t
technology: bipolar
supply: { min: 4.75, max: 5.25, source: sheet }
inputs: { default: { vil: 0.8, vih: 2 } }
outputs: { default: { low: [{ volts: 0.5, at: 8 }] } }
sources: { sheet: a sheet }
`;
  expect(readFamily('f', family).findings).toEqual([]);
  expect(readFamily('f', family.replace('vil: 0.8', 'vil: 2.8')).findings.map((finding) => finding.message)).toEqual([
    'vil 2.8 is above vih 2.',
  ]);
});
