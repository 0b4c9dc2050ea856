// A wrong pin destroys parts. Every record has its pins entered twice; the two must agree, and a change of any single entry
// of either table must be noticed.

import { expect, test } from 'vitest';
import { checkLibrary, compareTables, type PartRecord, PIN_KINDS, type SecondTable } from '../../src/parts/index.ts';
import { lines, loadFamilies, loadParts, loadSeconds } from './load-parts.ts';

const parts = loadParts();
const seconds = loadSeconds();
const tables = parts.flatMap(({ stem, record }) => {
  const table = seconds.get(stem)?.table;
  return record === undefined || table === undefined ? [] : [{ stem, record, table }];
});

test('every record reads without errors', () => {
  expect(parts.length).toBeGreaterThan(15);
  expect(
    parts.flatMap((part) =>
      lines(
        part.text,
        part.findings.filter((finding) => finding.severity === 'error'),
      ),
    ),
  ).toEqual([]);
});

test('families read, and records fit together', () => {
  const families = loadFamilies();
  expect(families.length).toBeGreaterThanOrEqual(8);
  expect(families.flatMap(({ findings }) => findings.map((finding) => finding.message))).toEqual([]);
  for (const { file, family } of families) expect(file).toMatch(new RegExp(`[\\\\/]${family?.family}\\.yaml$`));
  expect(
    checkLibrary(
      parts.flatMap(({ file, record }) => (record === undefined ? [] : [{ file, record }])),
      families.flatMap(({ family }) => (family === undefined ? [] : [family])),
    ).map((finding) => `${finding.where[0]?.file} ${finding.code}: ${finding.message}`),
  ).toEqual([]);
});

test('every record has a second table, and every second table a record', () => {
  const stems = parts.map((part) => part.stem);
  expect(new Set(stems).size).toBe(stems.length);
  expect([...seconds].flatMap(([, { findings }]) => findings.map((finding) => finding.message))).toEqual([]);
  expect([...seconds.keys()].sort()).toEqual([...stems].sort());
});

test('the two tables of every part agree', () => {
  expect(tables.flatMap(({ record, table }) => compareTables(record, table).map((finding) => finding.message))).toEqual(
    [],
  );
});

test('a second table does not cite the document of the first', () => {
  expect(
    tables
      .filter(({ record }) => record.pins.some((pin) => pin.kind !== 'passive' && pin.kind !== 'unconnected'))
      .filter(({ record, table }) => table.source === record.sources.pins && !/^from memory/.test(table.source))
      .map(({ stem }) => stem),
  ).toEqual([]);
});

test('any single changed entry of either table is noticed', () => {
  let changes = 0;
  const missed: string[] = [];
  const noticed = (stem: string, what: string, record: PartRecord, table: SecondTable): void => {
    changes++;
    if (compareTables(record, table).length === 0) missed.push(`${stem}: ${what}`);
  };
  for (const { stem, record, table } of tables) {
    const pins = record.pins;
    pins.forEach((pin, index) => {
      const put = (change: object): PartRecord => ({
        ...record,
        pins: pins.map((other, place) => (place === index ? { ...other, ...change } : other)),
      });
      noticed(stem, `record name ${pin.name}`, put({ name: `${pin.name}X` }), table);
      for (const kind of PIN_KINDS)
        if (kind !== pin.kind) noticed(stem, `record ${pin.name} ${kind}`, put({ kind }), table);
      noticed(stem, `record without ${pin.name}`, { ...record, pins: pins.filter((other) => other !== pin) }, table);
      // Two pins with each other's number; pins of one name and kind are the same entry.
      for (const other of pins.slice(index + 1)) {
        if (other.name === pin.name && other.kind === pin.kind) continue;
        const swapped = pins.map((row) =>
          row === pin ? { ...row, number: other.number } : row === other ? { ...row, number: pin.number } : row,
        );
        noticed(stem, `numbers of ${pin.name}, ${other.name}`, { ...record, pins: swapped }, table);
      }
    });
    table.pins.forEach((pin, index) => {
      const put = (change: object): SecondTable => ({
        ...table,
        pins: table.pins.map((other, place) => (place === index ? { ...other, ...change } : other)),
      });
      noticed(stem, `second name ${pin.name}`, record, put({ name: `${pin.name}X` }));
      for (const kind of PIN_KINDS)
        if (kind !== pin.kind) noticed(stem, `second ${pin.name} ${kind}`, record, put({ kind }));
      noticed(stem, `second without ${pin.name}`, record, {
        ...table,
        pins: table.pins.filter((other) => other !== pin),
      });
      const next = table.pins[index + 1];
      if (next !== undefined && (next.name !== pin.name || next.kind !== pin.kind)) {
        const order = [...table.pins];
        order[index] = next;
        order[index + 1] = pin;
        noticed(stem, `second order ${pin.name}`, record, { ...table, pins: order });
      }
    });
  }
  expect(changes).toBeGreaterThan(1000);
  expect(missed).toEqual([]);
});

/**
 * Wrong pinouts met in circulation (hobby pages, drawings, one reprinted sheet), and what the makers' sheets say: `danger`
 * is what the wrong one does. The record must say the right thing, and must not pass for the wrong one.
 */
const TRAPS: readonly {
  part: string;
  danger: string;
  right: Readonly<Record<number, string>>;
  wrong: Readonly<Record<number, string>>;
}[] = [
  {
    part: '8255A',
    danger: 'supply and /WR exchanged: powers the chip through an input',
    right: { 26: 'VCC', 36: '/WR', 14: 'PC0', 15: 'PC1', 16: 'PC2', 17: 'PC3' },
    wrong: { 26: '/WR', 36: 'VCC', 14: 'PC3', 17: 'PC0' },
  },
  {
    part: '8255A',
    danger: 'ranges written in ascending order although the chip descends',
    right: {
      ...named(1, ['PA3', 'PA2', 'PA1', 'PA0']),
      8: 'A1',
      9: 'A0',
      ...named(10, ['PC7', 'PC6', 'PC5', 'PC4', 'PC0', 'PC1', 'PC2', 'PC3']),
      ...named(27, ['D7', 'D6', 'D5', 'D4', 'D3', 'D2', 'D1', 'D0']),
      ...named(37, ['PA7', 'PA6', 'PA5', 'PA4']),
    },
    wrong: { 1: 'PA0', 4: 'PA3', 8: 'A0', 9: 'A1', 10: 'PC0', 27: 'D0', 37: 'PA4' },
  },
  {
    part: '6821',
    danger: 'register selects exchanged',
    right: { 35: 'RS1', 36: 'RS0' },
    wrong: { 35: 'RS0', 36: 'RS1' },
  },
  {
    part: 'W65C02S',
    danger: 'ground on an output, reset on ground',
    right: { 1: '/VP', 2: 'RDY', 3: 'PHI1O', 21: 'VSS', 37: 'PHI2', 39: 'PHI2O', 40: '/RES' },
    wrong: { 1: 'VSS', 21: '/RES', 40: '/VP' },
  },
  {
    part: '74x163',
    danger: 'almost every pin wrong',
    right: {
      3: 'A',
      4: 'B',
      5: 'C',
      6: 'D',
      7: 'ENP',
      9: '/LOAD',
      10: 'ENT',
      11: 'QD',
      12: 'QC',
      13: 'QB',
      14: 'QA',
      15: 'RCO',
    },
    wrong: { 3: 'D', 4: 'C', 5: 'B', 6: 'A', 7: 'QA', 9: 'QB', 15: '/LOAD' },
  },
  {
    part: '74x193',
    danger: 'almost every pin wrong, clear polarity wrong',
    right: {
      ...named(1, ['B', 'QB', 'QA', 'DOWN', 'UP', 'QC', 'QD']),
      ...named(9, ['D', 'C', '/LOAD', '/CO', '/BO', 'CLR', 'A']),
    },
    wrong: { 1: 'A', 2: 'B', 3: 'C', 4: 'D', 6: 'DOWN', 7: '/BO', 14: '/LOAD', 15: '/CLR' },
  },
  {
    part: '74x10',
    danger: 'ground on an input',
    right: {
      7: 'GND',
      ...named(1, ['1A', '1B', '2A', '2B', '2C', '2Y']),
      ...named(8, ['3Y', '3A', '3B', '3C', '1Y', '1C', 'VCC']),
    },
    wrong: { 13: 'GND' },
  },
  {
    part: '74x00',
    danger: 'reversed supply destroys the chip',
    right: { 7: 'GND', 14: 'VCC' },
    wrong: { 13: 'VCC', 14: 'GND' },
  },
  {
    part: '74x27',
    danger: 'ground on an output',
    right: {
      7: 'GND',
      ...named(1, ['1A', '1B', '2A', '2B', '2C', '2Y']),
      ...named(8, ['3Y', '3A', '3B', '3C', '1Y', '1C', 'VCC']),
    },
    wrong: { 8: 'GND', 9: '2Y', 13: '3Y' },
  },
  {
    part: '74x573',
    danger: 'the order of the 373: outputs shorted together',
    right: {
      ...named(2, ['1D', '2D', '3D', '4D', '5D', '6D', '7D', '8D']),
      ...named(12, ['8Q', '7Q', '6Q', '5Q', '4Q', '3Q', '2Q', '1Q']),
    },
    wrong: { 2: '1Q', 5: '2Q', 19: '8Q' },
  },
  {
    part: '7447',
    danger: 'segments scrambled, D on a blanking input',
    right: { 4: '/BI//RBO', 5: '/RBI', 6: 'D' },
    wrong: { 4: '/RBI', 5: 'D', 6: '/BI//RBO' },
  },
  {
    part: '74x4511',
    danger: 'segments F and G exchanged, inputs on controls',
    right: {
      ...named(1, ['B', 'C', '/LT', '/BI', 'LE', 'D', 'A']),
      ...named(9, ['QE', 'QD', 'QC', 'QB', 'QA', 'QG', 'QF']),
    },
    wrong: { 1: 'A', 5: '/LT', 9: 'QA', 14: 'QF', 15: 'QG' },
  },
  {
    part: '6809',
    danger: 'clock into the crystal output',
    right: { 38: 'EXTAL', 39: 'XTAL' },
    wrong: { 38: 'XTAL', 39: 'EXTAL' },
  },
  {
    part: 'DS1233-10',
    danger: 'supply reversed if taken for a DS1233M',
    right: { 1: 'GND', 2: '/RST', 3: 'VCC' },
    wrong: { 1: '/RST', 2: 'VCC', 3: 'GND' },
  },
  {
    part: '74x273',
    danger: 'bit order reversed if mixed with a data sheet',
    right: { ...named(12, ['5Q', '5D', '6D', '6Q', '7Q', '7D', '8D', '8Q']) },
    wrong: { 19: '4Q', 18: '4D', 13: '7D', 12: '7Q' },
  },
  {
    part: 'Z80',
    danger: 'data lines exchanged',
    right: { 7: 'D4', 8: 'D3', 9: 'D5', 10: 'D6' },
    wrong: { 8: 'D5', 9: 'D3' },
  },
  {
    part: '74x593',
    danger: 'clock and output enables of the wrong polarity',
    right: { 14: '/CCKEN', 15: 'CCKEN', 18: '/G', 19: 'G' },
    wrong: { 14: 'CCKEN', 15: '/CCKEN', 18: 'G', 19: '/G' },
  },
  {
    part: 'ULN2803A',
    danger: 'bit order reversed',
    right: { 1: '1B', 8: '8B', 11: '8C', 18: '1C' },
    wrong: { 11: '1C', 18: '8C' },
  },
];

function named(first: number, names: readonly string[]): Record<number, string> {
  return Object.fromEntries(names.map((name, index) => [first + index, name]));
}

for (const { part, danger, right, wrong } of TRAPS) {
  const record = parts.find(
    ({ record: found }) => found?.part === part || found?.aliases?.includes(part) === true,
  )?.record;
  test.skipIf(record === undefined)(`${part}: ${danger}`, () => {
    const bears = (number: number, name: string): boolean => {
      const pin = record?.pins.find((row) => row.number === number);
      return [pin?.name, ...(pin?.aliases ?? [])].some((other) => other?.toLowerCase() === name.toLowerCase());
    };
    expect(Object.entries(right).filter(([number, name]) => !bears(Number(number), name))).toEqual([]);
    expect(Object.entries(wrong).filter(([number, name]) => bears(Number(number), name))).toEqual([]);
  });
}

test('enables of bus drivers: outputs are off when /OE is high', () => {
  for (const part of ['74x244', '74x245', '74x541', '74x573']) {
    const record = parts.find(({ record: found }) => found?.part === part)?.record;
    expect(record, part).toBeDefined();
    for (const rule of Object.values(record?.behaviour?.outputs ?? {}))
      expect(`${part} ${typeof rule === 'string' ? 'always' : rule.enable}`).toMatch(/~\/(?:[#12]?OE|[12]G)/);
  }
});

test('pin 1 of a 28C64 is an output on the plain version, and a caution says that versions differ', () => {
  const record = parts.find(({ record: found }) => found?.part === '28C64')?.record;
  expect(record?.pins.find((row) => row.number === 1)?.kind).toBe('open-drain');
  expect(record?.cautions?.some((caution) => /pin 1\b/i.test(caution) && /not connected/.test(caution))).toBe(true);
});
