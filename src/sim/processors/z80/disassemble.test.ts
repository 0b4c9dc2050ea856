import { expect, test } from 'vitest';
import { Z80Bench } from '../../../../tests/support/z80-bench.ts';
import { disassembleZ80 } from './disassemble.ts';
import * as Z80 from './state.ts';

const words = (...bytes: number[]): string => disassembleZ80(bytes, 0, 0x100).text;

test.each([
  // Opcodes as Zilog UM0080 prints them, and undocumented ones; from memory.
  [[0x00], 'NOP'],
  [[0x08], "EX AF,AF'"],
  [[0x10, 0xfe], 'DJNZ 0x0100'],
  [[0x38, 0x10], 'JR C,0x0112'],
  [[0x21, 0x34, 0x12], 'LD HL,0x1234'],
  [[0xdd, 0x21, 0x34, 0x12], 'LD IX,0x1234'],
  [[0x32, 0x00, 0x80], 'LD (0x8000),A'],
  [[0xfd, 0x2a, 0x00, 0x80], 'LD IY,(0x8000)'],
  [[0x76], 'HALT'],
  [[0xdd, 0x66, 0xff], 'LD H,(IX-1)'],
  [[0xdd, 0x65], 'LD IXH,IXL'],
  [[0xdd, 0x36, 0x05, 0x7f], 'LD (IX+5),0x7F'],
  [[0xfd, 0xae, 0x80], 'XOR (IY-128)'],
  [[0xcb, 0x37], 'SLL A'],
  [[0xcb, 0x7e], 'BIT 7,(HL)'],
  [[0xdd, 0xcb, 0x02, 0x06], 'RLC (IX+2)'],
  [[0xdd, 0xcb, 0x02, 0x00], 'RLC (IX+2),B'],
  [[0xfd, 0xcb, 0xfe, 0x46], 'BIT 0,(IY-2)'],
  [[0xfd, 0xcb, 0xfe, 0x40], 'BIT 0,(IY-2)'],
  [[0xed, 0x70], 'IN F,(C)'],
  [[0xed, 0x71], 'OUT (C),0'],
  [[0xed, 0x4d], 'RETI'],
  [[0xed, 0x5e], 'IM 2'],
  [[0xed, 0x43, 0x00, 0x90], 'LD (0x9000),BC'],
  [[0xed, 0xb3], 'OTIR'],
  [[0xed, 0x00], 'NOP (ED 00)'],
  [[0xdd, 0xfd], 'NOP (DD)'],
  [[0xdd, 0xe9], 'JP (IX)'],
  [[0xdd, 0xeb], 'EX DE,HL'],
  [[0xe3], 'EX (SP),HL'],
  [[0xff], 'RST 0x38'],
])('%j', (bytes, text) => {
  expect(words(...bytes)).toBe(text);
});

test('missing bytes are said', () => {
  expect(disassembleZ80([0x21, 0x34])).toEqual({ text: 'LD HL,?', length: 2, isComplete: false });
  expect(disassembleZ80([0xdd, 0xcb])).toEqual({ text: '?', length: 2, isComplete: false });
  expect(disassembleZ80([])).toEqual({ text: '?', length: 1, isComplete: false });
});

test('the length is what the processor takes, for every opcode of every page', () => {
  let compared = 0;
  for (const prefix of [[], [0xcb], [0xed], [0xdd], [0xfd], [0xdd, 0xcb, 0x05], [0xfd, 0xcb, 0x05]]) {
    for (let opcode = 0; opcode < 256; opcode++) {
      const bytes = [...prefix, opcode, 0x02, 0x03, 0x04].slice(0, 4);
      const { text, length, isComplete } = disassembleZ80(bytes);
      expect(isComplete, text).toBe(true);
      if (/^(J|CALL|RET|RST|DJNZ)/.test(text) || text.startsWith('NOP (DD') || text.startsWith('NOP (FD')) continue;
      const bench = new Z80Bench(bytes);
      // Nothing repeats: counters of block instructions at their last round.
      bench.set(Z80.C, 1).set(Z80.SPH, 0x90).set(Z80.H, 0x80).set(Z80.D, 0x81);
      if (/^(IN|OT)[ID]R/.test(text)) bench.set(Z80.B, 1);
      if (bytes[0] === 0xcb && prefix.length === 0) continue;
      bench.instructions(1);
      if (text.startsWith('JP')) continue;
      expect(bench.get(Z80.PC), text).toBe(length);
      compared++;
    }
  }
  expect(compared).toBeGreaterThan(1500);
});
