// Makers' function tables, restated as data, against the behaviour in the records; and, where a part counts, adds or
// compares, against plain arithmetic. A table whose source is `from memory` is no outside check and says so.

import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import type { FormulaLevel } from '../../src/base/index.ts';
import {
  type PinDrive,
  type PinLevels,
  type PlainPart,
  type PartState,
  plainPart,
  readPart,
} from '../../src/parts/index.ts';
import { TABLES } from './function-tables-data.ts';
import { loadParts } from './load-parts.ts';

const recordOf161 = readFileSync('data/parts/logic/74x161.yaml', 'utf8');
const parts = new Map(loadParts().flatMap(({ record }) => (record === undefined ? [] : [[record.part, record]])));
const partOf = (name: string): PlainPart => {
  const record = parts.get(name);
  const part = record === undefined ? undefined : plainPart(record);
  if (part === undefined) throw new Error(`${name} has no behaviour as data`);
  return part;
};
const flip = (level: PinDrive | undefined): PinDrive | undefined => (level === 0 ? 1 : level === 1 ? 0 : level);

/** Every choice of levels that a row's inputs stand for, before and after its edge. */
function cases(names: readonly string[], symbols: readonly string[]): { before: PinLevels; now: PinLevels }[] {
  let list: { before: Record<string, FormulaLevel>; now: Record<string, FormulaLevel> }[] = [{ before: {}, now: {} }];
  names.forEach((name, index) => {
    const pairs: readonly (readonly [FormulaLevel, FormulaLevel])[] = {
      L: [[0, 0]],
      H: [[1, 1]],
      X: [
        [0, 0],
        [1, 1],
      ],
      '^': [[0, 1]],
      v: [[1, 0]],
    }[symbols[index]!] as [FormulaLevel, FormulaLevel][];
    list = list.flatMap((entry) =>
      pairs.map(([was, is]) => ({ before: { ...entry.before, [name]: was }, now: { ...entry.now, [name]: is } })),
    );
  });
  return list;
}

/** Some states to start from: all zero, all one, and patterns that differ in every variable. */
function states(part: PlainPart): PartState[] {
  const names = part.behaviour.state;
  if (names.length === 0) return [{}];
  return [0, 1, 2, 3].map((pattern) =>
    Object.fromEntries(
      names.map((name, index) => [
        name,
        (pattern === 0 ? 0 : pattern === 1 ? 1 : (index + pattern) % 2) as FormulaLevel,
      ]),
    ),
  );
}

for (const table of TABLES)
  test(`${table.part}: ${table.source}`, () => {
    const part = partOf(table.part);
    let checked = 0;
    for (const value of table.repeat ?? [''])
      for (const row of table.rows) {
        const put = (text: string): string[] => text.replaceAll('#', value).trim().split(/\s+/);
        const [left, right] = row.split('|') as [string, string];
        const inputs = put(table.inputs);
        const outputs = put(table.outputs);
        const wanted = put(right);
        expect(put(left), row).toHaveLength(inputs.length);
        expect(wanted, row).toHaveLength(outputs.length);
        for (const start of states(part))
          for (const { before, now } of cases(inputs, put(left))) {
            // What is latched or cleared by the levels before the edge has settled when the edge comes.
            const rest = part.step(start, before, before);
            const was = part.drive(rest, before);
            const is = part.drive(part.step(rest, before, now), now);
            outputs.forEach((output, index) => {
              const symbol = wanted[index]!;
              const input = symbol.replace(/^~/, '');
              const level: PinDrive | undefined =
                symbol === 'L'
                  ? 0
                  : symbol === 'H'
                    ? 1
                    : symbol === 'Z'
                      ? 'Z'
                      : symbol === '='
                        ? was[output]
                        : symbol === '!'
                          ? flip(was[output])
                          : symbol.startsWith('~')
                            ? flip(now[input])
                            : now[input];
              expect(`${output} ${is[output]}`, `${row} at ${JSON.stringify(now)} from ${JSON.stringify(start)}`).toBe(
                `${output} ${level}`,
              );
              checked++;
            });
          }
      }
    expect(checked).toBeGreaterThan(table.rows.length);
  });

/** Levels of several pins from the bits of a number, first pin lowest. */
const put = (names: readonly string[], value: number): Record<string, FormulaLevel> =>
  Object.fromEntries(names.map((name, bit) => [name, ((value >> bit) & 1) as FormulaLevel]));
const get = (names: readonly string[], drives: Record<string, PinDrive>): number | string => {
  let value = 0;
  for (const [bit, name] of names.entries()) {
    const level = drives[name];
    if (level !== 0 && level !== 1) return `${name} ${level}`;
    value += level << bit;
  }
  return value;
};
const list = (text: string, range: readonly (string | number)[]): string[] =>
  range.map((value) => text.replace('#', String(value)));
const LETTERS = [...'ABCDEFGH'];
const NIBBLE = LETTERS.slice(0, 4);
const QS = list('Q#', NIBBLE);
const Q8 = list('Q#', LETTERS);

test('74x283 adds', () => {
  const part = partOf('74x283');
  const [a, b, s] = [list('A#', [1, 2, 3, 4]), list('B#', [1, 2, 3, 4]), list('S#', [1, 2, 3, 4])];
  for (let x = 0; x < 512; x++) {
    const pins = { ...put(a, x & 15), ...put(b, (x >> 4) & 15), ...put(['C0'], x >> 8) };
    expect(get([...s, 'C4'], part.drive({}, pins))).toBe((x & 15) + ((x >> 4) & 15) + (x >> 8));
  }
});

// The identity comparator as in TI SN74HC688 SCLS010F (May 2022), function table.
test('74x85 and 74x688 compare', () => {
  const compare = partOf('74x85');
  const equal = partOf('74x688');
  const [a, b] = [list('A#', [0, 1, 2, 3]), list('B#', [0, 1, 2, 3])];
  for (let x = 0; x < 16; x++)
    for (let y = 0; y < 16; y++) {
      const drives = compare.drive({}, { ...put(a, x), ...put(b, y), IEQ: 1, ILT: 0, IGT: 0 });
      expect(get(['OGT', 'OEQ', 'OLT'], drives)).toBe(x > y ? 1 : x === y ? 2 : 4);
    }
  const bits = [0, 1, 2, 3, 4, 5, 6, 7];
  for (let x = 0; x < 256; x += 5)
    for (const y of [x, x ^ 1, x ^ 128, x ^ 16]) {
      const pins = { ...put(list('P#', bits), x), ...put(list('Q#', bits), y) };
      expect(equal.drive({}, { ...pins, '/G': 0 })['/EQ']).toBe(x === y ? 0 : 1);
      expect(equal.drive({}, { ...pins, '/G': 1 })['/EQ']).toBe(1);
    }
});

test('74x139 and 74x154 decode to one low output', () => {
  const half = partOf('74x139');
  const wide = partOf('74x154');
  for (const k of [1, 2])
    for (let x = 0; x < 8; x++) {
      const drives = half.drive({}, put([`${k}A`, `${k}B`, `/${k}G`], x));
      expect(get(list(`/${k}Y#`, [0, 1, 2, 3]), drives)).toBe(x < 4 ? 15 & ~(1 << x) : 15);
    }
  const outputs = list(
    '/Y#',
    Array.from({ length: 16 }, (_, i) => i),
  );
  for (let x = 0; x < 64; x++)
    expect(get(outputs, wide.drive({}, put(['A', 'B', 'C', 'D', '/G1', '/G2'], x)))).toBe(
      x < 16 ? 65535 & ~(1 << x) : 65535,
    );
});

/** Steps a part through a list of input changes, keeping its state and the levels. */
function bench(name: string, first: PinLevels) {
  const part = partOf(name);
  let levels: PinLevels = first;
  let state = part.step(part.start, first, first);
  return {
    set(change: PinLevels): void {
      const now = { ...levels, ...change };
      state = part.step(state, levels, now);
      levels = now;
    },
    pulse(pin: string): void {
      this.set({ [pin]: 1 });
      this.set({ [pin]: 0 });
    },
    out: (): Record<string, PinDrive> => part.drive(state, levels),
  };
}

test('74x161 and 74x163 load, count, hold and clear, each in its way', () => {
  for (const name of ['74x161', '74x163']) {
    const part = bench(name, { '/CLR': 1, CLK: 0, '/LOAD': 0, ENP: 1, ENT: 1, ...put(NIBBLE, 9) });
    expect(get(QS, part.out())).toBe('QA X'); // nothing is known after power comes on
    part.pulse('CLK');
    expect(get(QS, part.out())).toBe(9);
    part.set({ '/LOAD': 1 });
    for (let count = 10; count < 40; count++) {
      part.pulse('CLK');
      expect(get([...QS, 'RCO'], part.out())).toBe((count % 16) + (count % 16 === 15 ? 16 : 0));
    }
    part.set({ ENT: 0 });
    part.pulse('CLK');
    expect(get(QS, part.out())).toBe(7);
    part.set({ ENT: 1, ENP: 0 });
    part.pulse('CLK');
    expect(get(QS, part.out())).toBe(7);
    part.set({ '/CLR': 0 });
    expect(get(QS, part.out())).toBe(name === '74x161' ? 0 : 7);
    part.pulse('CLK');
    expect(get(QS, part.out())).toBe(0);
  }
});

test('74x193 counts both ways, loads and clears at once', () => {
  const part = bench('74x193', { CLR: 0, '/LOAD': 0, UP: 1, DOWN: 1, ...put(NIBBLE, 13) });
  expect(get(QS, part.out())).toBe(13);
  part.set({ '/LOAD': 1 });
  const tick = (pin: string): void => {
    part.set({ [pin]: 0 });
    part.set({ [pin]: 1 });
  };
  for (const count of [14, 15, 0, 1]) {
    tick('UP');
    expect(get(QS, part.out())).toBe(count);
  }
  for (const count of [0, 15, 14]) {
    tick('DOWN');
    expect(get(QS, part.out())).toBe(count);
  }
  tick('UP');
  part.set({ UP: 0 });
  expect(part.out()).toMatchObject({ '/CO': 0, '/BO': 1 });
  part.set({ CLR: 1 });
  part.set({ DOWN: 0, UP: 1 });
  expect(part.out()).toMatchObject({ '/CO': 1, '/BO': 0, QA: 0, QD: 0 });
});

test('ripple counters count falling edges', () => {
  for (const [name, clock, clear, outputs, weights] of [
    ['74x393', '1CLK', '1CLR', list('1Q#', NIBBLE), [0, 1, 2, 3]],
    ['74x393', '2CLK', '2CLR', list('2Q#', NIBBLE), [0, 1, 2, 3]],
    [
      '74x4040',
      'CLK',
      'CLR',
      list('Q#', [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]),
      [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
    ],
    ['CD4040B', 'CLK', 'CLR', list('Q#', [1, 2, 12]), [0, 1, 11]],
    ['74x4060', 'CLKI', 'CLR', list('Q#', [4, 5, 6, 7, 8, 9, 10]), [3, 4, 5, 6, 7, 8, 9]],
    ['CD4060B', 'CLKI', 'CLR', list('Q#', [4, 10]), [3, 9]],
  ] as const) {
    const part = bench(name, { [clock]: 0, [clear]: 1 });
    part.set({ [clear]: 0 });
    for (let count = 1; count <= 1200; count++) {
      part.set({ [clock]: 1 });
      part.set({ [clock]: 0 });
      if (count % 7 !== 0 && count < 1190) continue;
      const wanted = weights.reduce<number>((sum, weight, bit) => sum + (((count >> weight) & 1) << bit), 0);
      expect(`${name} ${count}: ${get(outputs, part.out())}`).toBe(`${name} ${count}: ${wanted}`);
    }
  }
});

test('74x590 shows a count only after the register clock', () => {
  const part = bench('74x590', { '/CCLR': 0, CCLK: 0, '/CCKEN': 0, RCLK: 0, '/OE': 0 });
  part.set({ '/CCLR': 1 });
  for (let count = 1; count <= 300; count++) {
    part.pulse('CCLK');
    expect(part.out()['/RCO']).toBe(count % 256 === 255 ? 0 : 1);
    part.pulse('RCLK');
    expect(get(Q8, part.out())).toBe(count % 256);
  }
  part.pulse('CCLK');
  expect(get(Q8, part.out())).toBe(300 % 256);
  part.set({ '/OE': 1 });
  expect(part.out().QA).toBe('Z');
});

test('74x593 takes a number through its register and counts on from it', () => {
  const pins = LETTERS.map((letter) => `${letter}/Q${letter}`);
  const part = bench('74x593', {
    '/CCLR': 1,
    '/CLOAD': 1,
    CCLK: 0,
    RCLK: 0,
    '/RCKEN': 0,
    CCKEN: 0,
    '/CCKEN': 1,
    G: 0,
    '/G': 1,
    ...put(pins, 200),
  });
  part.pulse('RCLK');
  part.set({ '/CLOAD': 0 });
  part.set({ '/CLOAD': 1, G: 1, '/G': 0 });
  expect(get(pins, part.out())).toBe(200);
  part.pulse('CCLK');
  expect(get(pins, part.out())).toBe(200);
  part.set({ CCKEN: 1 });
  for (let count = 201; count < 260; count++) {
    part.pulse('CCLK');
    expect(get([...pins, '/RCO'], part.out())).toBe((count % 256) + (count === 255 ? 0 : 256));
  }
});

test('shift registers pass bits on in order', () => {
  const bits = 0b1011_0010;
  const serial = bench('74x164', { A: 1, B: 0, CLK: 0, '/CLR': 0 });
  const storing = bench('74x595', { SER: 0, SRCLK: 0, RCLK: 0, '/SRCLR': 0, '/OE': 0 });
  serial.set({ '/CLR': 1 });
  storing.set({ '/SRCLR': 1 });
  for (let k = 7; k >= 0; k--) {
    const bit = ((bits >> k) & 1) as FormulaLevel;
    serial.set({ B: bit });
    serial.pulse('CLK');
    storing.set({ SER: bit });
    storing.pulse('SRCLK');
  }
  expect(get(Q8, serial.out())).toBe(bits);
  storing.pulse('RCLK');
  expect(get(Q8, storing.out())).toBe(bits);
  expect(storing.out().QHS).toBe(1);
  for (const name of ['74x165', '74x166']) {
    const part = bench(name, { 'SH//LD': 0, CLK: 0, 'CLK-INH': 0, SER: 0, '/CLR': 1, ...put(LETTERS, bits) });
    if (name === '74x166') part.pulse('CLK');
    part.set({ 'SH//LD': 1 });
    for (let k = 7; k >= 0; k--) {
      expect(part.out().QH).toBe((bits >> k) & 1);
      part.pulse('CLK');
    }
    part.set({ 'SH//LD': 0, ...put(LETTERS, 0b0101_0101) });
    expect(part.out().QH).toBe(0);
    if (name === '74x166') part.pulse('CLK');
    // CLK and CLK-INH are one clock: with CLK high, raising CLK-INH makes no edge, and CLK then none either.
    part.set({ 'SH//LD': 1 });
    part.set({ CLK: 1 });
    expect(part.out().QH).toBe(1);
    part.set({ 'CLK-INH': 1 });
    part.set({ CLK: 0 });
    part.set({ CLK: 1 });
    expect(part.out().QH).toBe(1);
    part.set({ 'CLK-INH': 0 });
    part.set({ CLK: 0 });
    part.set({ CLK: 1 });
    expect(part.out().QH).toBe(0);
  }
});

test('74x259 and 74x670 keep what was written where it was written', () => {
  const eight = [0, 1, 2, 3, 4, 5, 6, 7];
  const latch = bench('74x259', { S0: 0, S1: 0, S2: 0, D: 0, '/G': 1, '/CLR': 0 });
  latch.set({ '/CLR': 1 });
  for (const k of eight) {
    latch.set({ ...put(['S0', 'S1', 'S2'], k), D: k % 3 === 0 ? 1 : 0 });
    latch.set({ '/G': 0 });
    latch.set({ '/G': 1 });
  }
  expect(get(list('Q#', eight), latch.out())).toBe(0b0100_1001);
  latch.set({ '/CLR': 0, '/G': 0, D: 1 }); // cleared and open: a decoder
  expect(get(list('Q#', eight), latch.out())).toBe(0b1000_0000);
  const file = bench('74x670', { '/GW': 1, '/GR': 1, WA: 0, WB: 0, RA: 0, RB: 0 });
  const data = list('D#', [1, 2, 3, 4]);
  [6, 9, 12, 3].forEach((word, at) => {
    file.set({ ...put(['WA', 'WB'], at), ...put(data, word) });
    file.set({ '/GW': 0 });
    file.set({ '/GW': 1 });
  });
  [6, 9, 12, 3].forEach((word, at) => {
    file.set({ ...put(['RA', 'RB'], at), '/GR': 0 });
    expect(get(list('Q#', [1, 2, 3, 4]), file.out())).toBe(word);
  });
  file.set({ '/GR': 1 });
  expect(file.out().Q1).toBe('Z');
});

test('74x374 and 74x574 take data at the rising edge and can be turned off', () => {
  for (const name of ['74x374', '74x574']) {
    const part = bench(name, { CLK: 0, '/OE': 0, ...put(list('#D', [1, 2, 3, 4, 5, 6, 7, 8]), 0xa5) });
    part.set({ CLK: 1 });
    part.set(put(list('#D', [1, 2, 3, 4, 5, 6, 7, 8]), 0x5a));
    expect(get(list('#Q', [1, 2, 3, 4, 5, 6, 7, 8]), part.out())).toBe(0xa5);
    part.set({ CLK: 0, '/OE': 1 });
    expect(part.out()['1Q']).toBe('Z');
  }
});

// TI CD74HC4511 data sheet SCHS279E (Aug 2022), table 7-1.
test('74x4511 and CD4511B: digits, latch, lamp test and blanking', () => {
  const shapes = ['abcdef', 'bc', 'abdeg', 'abcdg', 'bcfg', 'acdfg', 'cdefg', 'abc', 'abcdefg', 'abcfg'];
  const lit = (drives: Record<string, PinDrive>): string =>
    [...'abcdefg'].filter((segment) => drives[`Q${segment.toUpperCase()}`] === 1).join('');
  for (const name of ['74x4511', 'CD4511B']) {
    const part = bench(name, { LE: 0, '/LT': 1, '/BI': 1, ...put(NIBBLE, 0) });
    for (let digit = 0; digit < 16; digit++) {
      part.set(put(NIBBLE, digit));
      expect(`${digit} ${lit(part.out())}`).toBe(`${digit} ${shapes[digit] ?? ''}`);
    }
    part.set(put(NIBBLE, 5));
    part.set({ LE: 1, ...put(NIBBLE, 8) });
    expect(lit(part.out())).toBe(shapes[5]);
    part.set({ '/BI': 0 });
    expect(lit(part.out())).toBe('');
    part.set({ '/LT': 0 });
    expect(lit(part.out())).toBe('abcdefg');
  }
});

test('74x646 passes the bus or what it holds', () => {
  const a = list('A#', [1, 2, 3, 4, 5, 6, 7, 8]);
  const b = list('B#', [1, 2, 3, 4, 5, 6, 7, 8]);
  const part = bench('74x646', { CLKAB: 0, CLKBA: 0, SAB: 0, SBA: 0, DIR: 1, '/OE': 0, ...put(a, 0x3c) });
  expect(get(b, part.out())).toBe(0x3c);
  part.pulse('CLKAB');
  part.set({ ...put(a, 0xff), SAB: 1 });
  expect(get(b, part.out())).toBe(0x3c);
  part.set({ DIR: 0, ...put(b, 0x81) });
  expect(get(a, part.out())).toBe(0x81);
  part.set({ '/OE': 1 });
  expect([part.out().A1, part.out().B1]).toEqual(['Z', 'Z']);
});

/** Gates by their definition, over every combination of inputs. */
const GATES: readonly (readonly [string, string, number, (...inputs: boolean[]) => boolean])[] = [
  ['74x00', 'AB', 4, (a, b) => !(a && b)],
  ['74x02', 'AB', 4, (a, b) => !(a || b)],
  ['74x03', 'AB', 4, (a, b) => !(a && b)],
  ['74x04', 'A', 6, (a) => !a],
  ['74x05', 'A', 6, (a) => !a],
  ['74x06', 'A', 6, (a) => !a],
  ['74x07', 'A', 6, (a) => a!],
  ['74x08', 'AB', 4, (a, b) => a! && b!],
  ['74x10', 'ABC', 3, (a, b, c) => !(a && b && c)],
  ['74x11', 'ABC', 3, (a, b, c) => a! && b! && c!],
  ['74x14', 'A', 6, (a) => !a],
  ['74x20', 'ABCD', 2, (a, b, c, d) => !(a && b && c && d)],
  ['74x21', 'ABCD', 2, (a, b, c, d) => a! && b! && c! && d!],
  ['74x27', 'ABC', 3, (a, b, c) => !(a || b || c)],
  ['74x32', 'AB', 4, (a, b) => a! || b!],
  ['74x86', 'AB', 4, (a, b) => a !== b],
  ['74x132', 'AB', 4, (a, b) => !(a && b)],
];

test('gates do what their names say; open outputs only pull down', () => {
  for (const [name, letters, count, gate] of GATES) {
    const part = partOf(name);
    const open = parts.get(name)?.pins.find((pin) => pin.name === '1Y')?.kind === 'open-drain';
    expect(open, name).toBe(['74x03', '74x05', '74x06', '74x07'].includes(name));
    for (let unit = 1; unit <= count; unit++)
      for (let x = 0; x < 2 ** letters.length; x++) {
        const drives = part.drive(
          {},
          put(
            [...letters].map((letter) => `${unit}${letter}`),
            x,
          ),
        );
        const level = gate(...[...letters].map((_, bit) => ((x >> bit) & 1) === 1));
        expect(`${name} ${unit} ${x} ${drives[`${unit}Y`]}`).toBe(
          `${name} ${unit} ${x} ${level ? (open ? 'Z' : 1) : 0}`,
        );
      }
  }
  const wide = partOf('74x30');
  for (let x = 0; x < 256; x++) expect(wide.drive({}, put(LETTERS, x)).Y).toBe(x === 255 ? 0 : 1);
});

test('every 74 and 4000 series record is exercised above or names a model', () => {
  const tested = new Set<string>([...TABLES.map((table) => table.part), ...GATES.map(([name]) => name)]);
  for (const name of '74x30 74x283 74x688 74x139 74x154 74x161 74x163 74x193 74x393 74x4040 CD4040B 74x4060 CD4060B 74x590 74x595 74x165 74x166 74x259 74x670 74x374 74x574 74x4511 CD4511B 74x646'.split(
    ' ',
  ))
    tested.add(name);
  const left = [...parts.values()]
    .filter(
      (record) => record.category === 'logic' && record.behaviour?.model === undefined && !tested.has(record.part),
    )
    .map((record) => record.part);
  expect(left.sort()).toEqual([]);
});

test('the example of docs/part-records.md is the behaviour of the 74x161', () => {
  const block = /```yaml\n(behaviour:[\s\S]*?)```/.exec(readFileSync('docs/part-records.md', 'utf8'))?.[1];
  const example = readPart('example', recordOf161.replace(/^behaviour:[\s\S]*?(?=^sources:)/m, block ?? '')).value;
  const shipped = parts.get('74x161')?.behaviour;
  expect(block).toBeDefined();
  expect(JSON.parse(JSON.stringify(example?.behaviour))).toEqual({
    ...JSON.parse(JSON.stringify(shipped)),
    source: undefined,
  });
});
