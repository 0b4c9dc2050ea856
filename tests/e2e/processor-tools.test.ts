// The tools that try processor models, as their scripts call them: files in, last line and exit code out.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, expect, test } from 'vitest';
import { writeIntelHex } from '../../src/format/intel-hex/index.ts';
import { writeSRecord } from '../../src/format/s-record/index.ts';
import { flatImage, type ToolOutput, vectors } from '../../tools/processor-tools-entry.ts';

const folder = mkdtempSync(join(tmpdir(), 'processor-tools-'));
afterAll(() => rmSync(folder, { recursive: true }));

const file = (name: string, content: string | Uint8Array): string => {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
};
const run = (tool: (args: readonly string[], output: ToolOutput) => number, args: readonly string[]) => {
  const out: string[] = [];
  const err: string[] = [];
  const code = tool(args, { out: (line) => out.push(line), err: (line) => err.push(line) });
  return { code, last: out.at(-1), out, err: err.join('\n') };
};

const registers = {
  ...{ a: 1, b: 2, c: 3, d: 4, e: 5, f: 0, h: 6, l: 7, i: 8, r: 9, im: 0, iff1: 0, iff2: 0 },
  ...{ ix: 0, iy: 0, sp: 0x9000, wz: 0, af_: 0, bc_: 0, de_: 0, hl_: 0, ei: 0, p: 0, q: 0 },
};
// INC A at 0x1000, worked out by hand.
const increment = {
  name: '3C by hand',
  initial: { ...registers, pc: 0x1000, ram: [[0x1000, 0x3c]] },
  final: { ...registers, pc: 0x1001, r: 10, a: 2, ram: [[0x1000, 0x3c]] },
  cycles: [
    [0x1000, null, '----'],
    [0x1000, null, 'r-m-'],
    [0x0809, 0x3c, '----'],
    [0x0809, null, '----'],
  ],
};
const asked = (path: string, ...more: string[]) => run(vectors, ['--processor', 'z80', '--file', path, ...more]);

test('vectors: JSON and gzip, counted, with or without the bus', () => {
  const good = JSON.stringify({ '3c': [increment, increment] });
  expect(asked(file('good.json', good))).toMatchObject({ code: 0, last: '2 passed, 0 failed' });
  expect(asked(file('good.json.gz', gzipSync(good)), '--cycles')).toMatchObject({
    code: 0,
    last: '2 passed, 0 failed',
  });
  const wrong = {
    ...increment,
    final: { ...increment.final, a: 3 },
  };
  const mixed = asked(file('mixed.json', JSON.stringify({ '3c': [wrong, increment] })));
  expect(mixed).toMatchObject({ code: 1, last: '1 passed, 1 failed' });
  expect(mixed.out[0]).toBe('3c 3C by hand: a: 2, not 3');
  const bus = { ...increment, cycles: increment.cycles.slice(0, 3) };
  const path = file('bus.json', JSON.stringify({ '3c': [bus] }));
  expect(asked(path)).toMatchObject({ code: 0, last: '1 passed, 0 failed' });
  expect(asked(path, '--cycles')).toMatchObject({ code: 1, last: '0 passed, 1 failed' });
  expect(asked(file('odd.json', JSON.stringify({ '3c': [{}, null, 7, { initial: 1 }] })))).toMatchObject({
    code: 1,
    last: '0 passed, 4 failed',
  });
});

test('vectors: misuse is told', () => {
  expect(asked(join(folder, 'none.json')).code).toBe(2);
  expect(asked(file('bad.json', '{')).code).toBe(2);
  expect(asked(file('list.json', '{"3c": 7}')).code).toBe(2);
  expect(run(vectors, ['--processor', '4004', '--file', 'x']).err).toContain('There is no model of 4004; there is z80');
  expect(run(vectors, ['--what']).code).toBe(2);
});

test('flat-image: bare bytes, Intel HEX and S-records', () => {
  const bytes = Uint8Array.of(0x06, 0x03, 0x10, 0xfe, 0x18, 0xfe); // B = 3, count down, stay
  const clocks = 7 + 13 + 13 + 8;
  const image = { blocks: [{ address: 0x4000, bytes }] };
  for (const path of [
    file('flat.bin', bytes),
    file('flat.hex', writeIntelHex(image)),
    file('flat.s19', writeSRecord(image)),
  ])
    expect(
      run(flatImage, ['--processor', 'z80', '--file', path, '--load', '0x4000', '--start', '4000h']),
    ).toMatchObject({ code: 0, last: `stopped at 0x4004 after ${clocks} clocks` });
  const args = ['--processor', 'z80', '--file', join(folder, 'flat.bin'), '--load', '$4000', '--start', '16384'];
  expect(run(flatImage, [...args, '--clocks', '20'])).toMatchObject({
    code: 1,
    last: 'still running at 0x4002 after 20 clocks',
  });
});

test('flat-image: images that do not fit and records that are wrong are told', () => {
  const options = (path: string, load: string) => [
    '--processor',
    'z80',
    '--file',
    path,
    '--load',
    load,
    '--start',
    '0',
  ];
  const long = run(flatImage, options(file('long.bin', new Uint8Array(300)), '0xFF00'));
  expect(long).toMatchObject({ code: 2 });
  expect(long.err).toContain('image/does-not-fit');
  const broken = run(flatImage, options(file('broken.hex', ':0100000001FF\n:00000001FF\n'), '0'));
  expect(broken.err).toContain('image/bad-checksum');
  expect(run(flatImage, options(join(folder, 'none.bin'), '0')).code).toBe(2);
  expect(run(flatImage, options(join(folder, 'long.bin'), '70000')).code).toBe(2);
});
