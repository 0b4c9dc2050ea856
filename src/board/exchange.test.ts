import { expect, test } from 'vitest';
import { groupedMachine } from '../../benchmarks/machines/grouped.ts';
import { chipRecord, designOf, RECORDS } from '../../benchmarks/machines/random-design.ts';
import { NO_CHOICES } from './choices.ts';
import { composeExchanges, exchangePins, freedomsOf, isPermutation } from './exchange.ts';
import { proveLayout } from './extract.ts';
import { lay } from './lay.ts';

const P = (n: number): string[] => [`P${n}`];
const ADDRESS = [10, 9, 8, 7, 6, 5, 4, 3, 25, 24, 21, 23, 2, 26, 1];
const DATA = [11, 12, 13, 15, 16, 17, 18, 19];
const MEMORY = chipRecord('M28', 28, { kind: 'dip', width: 600 }, {
  freedoms: [{ exchange: ADDRESS.map(P) }, { exchange: DATA.map(P) }],
} as never);

const machine = groupedMachine(10, 3);
for (const part of machine.parts) if (part.record === RECORDS.dip28) part.record = MEMORY;
// One memory has its lines in disorder, as where somebody wrote them down as they came.
const ram = machine.parts.find((part) => part.name === 'g0RAM')!;
const before = new Map(ram.nets);
for (const list of [ADDRESS, DATA])
  list.forEach((pin, i) => {
    ram.nets.set(pin, before.get(list[(i * 7 + 3) % list.length]!));
  });
const design = designOf(machine);
const free = { ...NO_CHOICES, freedoms: ['nothing'] as const };

test('the freedoms of a record are read as sets of tuples of pin numbers', () => {
  expect(freedomsOf(MEMORY, ['nothing'])).toEqual([ADDRESS.map((n) => [n]), DATA.map((n) => [n])]);
  expect(freedomsOf(MEMORY, ['image'])).toEqual([]);
});

test('exchanges shorten wire, stay within the freedoms, and the boards are the exchanged design', () => {
  const plain = lay(design, NO_CHOICES, undefined, { seed: 2, moves: 20000 });
  const { value, findings } = lay(design, free, undefined, { seed: 2, moves: 20000 });
  expect(findings).toEqual([]);
  expect(value.exchanges?.length).toBeGreaterThan(0);
  for (const exchange of value.exchanges!) {
    expect(isPermutation(exchange)).toBe(true);
    for (const [from, to] of exchange.pins) {
      const set = [ADDRESS, DATA].find((list) => list.includes(from))!;
      expect(set).toContain(to);
    }
  }
  const exchanged = exchangePins(design, value.exchanges!);
  expect(proveLayout(value, exchanged.netlists)).toEqual([]);
  expect(proveLayout(value, design.netlists).length).toBeGreaterThan(0);
  const mm = (wires: readonly { cutMm: number }[]): number => wires.reduce((sum, wire) => sum + wire.cutMm, 0);
  expect(mm(value.wires)).toBeLessThan(mm(plain.value.wires));
  const again = lay(design, free, value, { seed: 5, moves: 20000 });
  expect(again.findings).toEqual([]);
  expect(again.value.exchanges).toEqual(value.exchanges);
  expect(again.value.wires).toEqual(value.wires);
});

test('one exchange after another is their composition', () => {
  const a = [
    {
      part: 'X',
      type: 'M28',
      pins: [
        [1, 2],
        [2, 1],
      ] as [number, number][],
    },
  ];
  const b = [
    {
      part: 'X',
      type: 'M28',
      pins: [
        [2, 3],
        [3, 2],
      ] as [number, number][],
    },
  ];
  expect(composeExchanges(a, b)[0]!.pins).toEqual([
    [1, 3],
    [2, 1],
    [3, 2],
  ]);
  expect(composeExchanges(a, a)).toEqual([]);
});
