// Clocks of a small program in flat memory, added up by hand from the maker's instruction pages (Zilog UM0080: T states of
// LD dd,nn 10; LDIR 21, last 16; LD r,n 7; DJNZ 13, last 8; JR 12).

import { expect, test } from 'vitest';
import { PROCESSORS } from '../../src/sim/index.ts';

const run = (bytes: readonly number[], clocks = 1e6) => {
  const memory = new Uint8Array(65536);
  memory.set(bytes, 0x100);
  return { ...PROCESSORS['z80']!.runFlat(memory, 0x100, clocks), memory };
};

const program = [0x21, 0, 0x01, 0x11, 0, 0x90, 0x01, 0x20, 0, 0xed, 0xb0, 0x06, 5, 0x10, 0xfe, 0x18, 0xfe];

test('a program runs to its jump to itself', () => {
  const { stopped, at, clocks, memory } = run(program);
  expect({ stopped, at, clocks }).toEqual({
    stopped: true,
    at: 0x10f,
    clocks: 10 + 10 + 10 + 31 * 21 + 16 + 7 + 4 * 13 + 8,
  });
  expect([...memory.subarray(0x9000, 0x9011)]).toEqual(program);
});

test('a halt stops it, and so does the end of the clocks', () => {
  expect(run([0, 0x76])).toMatchObject({ stopped: true, at: 0x101, clocks: 4 });
  expect(run(program, 50)).toMatchObject({ stopped: false, at: 0x109, clocks: 50 });
});
