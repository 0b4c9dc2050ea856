// Machine cycles and T-states of each kind of instruction against the maker's instruction pages: Zilog, Z80 CPU User Manual
// UM008007, "M Cycles, T States"; the page is given where it was read, the other rows are from memory of the same tables.
// The model is asked for the bus in every machine cycle, so that the spaces between grants show where one ends.

import { expect, test } from 'vitest';
import { Z80 } from '../../src/sim/index.ts';
import { Z80Bench } from '../support/z80-bench.ts';

/** Lengths of the machine cycles of one instruction, and what they are with the condition turned round. */
function cyclesOf(code: readonly number[], set: readonly (readonly [number, number])[]): number[] {
  const bench = new Z80Bench(code).set(Z80.SPH, 0x90).set(Z80.H, 0x80).set(Z80.D, 0x81).set(Z80.IXH, 0x82);
  for (const [word, value] of set) bench.set(word, value);
  const lengths: number[] = [];
  let halves = 0;
  for (let half = 0; half < 300; half++) {
    const acknowledged = bench.seen.at(-1)?.addressFloats ?? false;
    bench.halves(1, acknowledged ? [] : [['BUSREQ', 0, 1000]]);
    if (!bench.seen.at(-1)!.addressFloats) halves++;
    else if (halves > 0) {
      lengths.push(halves / 2);
      halves = 0;
      if (bench.get(Z80.INSTRUCTIONS) > 0) break;
    }
  }
  return lengths;
}

const F = Z80.F;
const zero = [[F, 0x40]] as const;
const notZero = [[F, 0]] as const;
const lastRound = [
  [Z80.B, 0],
  [Z80.C, 1],
] as const;
const manyRounds = [
  [Z80.B, 9],
  [Z80.C, 9],
] as const;

test.each([
  ['LD r,r', [0x41], '4', 'from memory'],
  ['LD r,n', [0x06, 1], '4,3', 'from memory'],
  ['LD r,(HL)', [0x46], '4,3', 'from memory'],
  ['LD r,(IX+d)', [0xdd, 0x46, 1], '4,4,3,5,3', 'from memory'],
  ['LD (HL),n', [0x36, 1], '4,3,3', 'from memory'],
  ['LD (IX+d),n', [0xdd, 0x36, 1, 2], '4,4,3,5,3', 'from memory'],
  ['LD (nn),A', [0x32, 0, 0x80], '4,3,3,3', 'from memory'],
  ['LD A,I', [0xed, 0x57], '4,5', 'from memory'],
  ['LD dd,nn', [0x01, 1, 2], '4,3,3', 'from memory'],
  ['LD HL,(nn)', [0x2a, 0, 0x80], '4,3,3,3,3', 'from memory'],
  ['LD (nn),IX', [0xdd, 0x22, 0, 0x80], '4,4,3,3,3,3', 'p. 108'],
  ['LD SP,HL', [0xf9], '6', 'from memory'],
  ['PUSH qq', [0xc5], '5,3,3', 'from memory'],
  ['POP qq', [0xc1], '4,3,3', 'from memory'],
  ['EX (SP),HL', [0xe3], '4,3,4,3,5', 'p. 125'],
  ['EX (SP),IX', [0xdd, 0xe3], '4,4,3,4,3,5', 'p. 126'],
  ['LDIR, BC not 0', [0xed, 0xb0], '4,4,3,5,5', 'p. 130', manyRounds],
  ['LDIR, BC 0', [0xed, 0xb0], '4,4,3,5', 'p. 130', lastRound],
  ['LDDR, BC not 0', [0xed, 0xb8], '4,4,3,5,5', 'p. 134', manyRounds],
  ['CPIR, BC not 0', [0xed, 0xb1], '4,4,3,5,5', 'from memory', [...manyRounds, [Z80.A, 1]]],
  ['CPI', [0xed, 0xa1], '4,4,3,5', 'from memory'],
  ['ADC A,r', [0x88], '4', 'p. 150'],
  ['ADC A,n', [0xce, 1], '4,3', 'p. 150'],
  ['ADC A,(HL)', [0x8e], '4,3', 'p. 150'],
  ['ADC A,(IX+d)', [0xdd, 0x8e, 1], '4,4,3,5,3', 'p. 150'],
  ['INC r', [0x04], '4', 'p. 163'],
  ['INC (HL)', [0x34], '4,4,3', 'from memory'],
  ['INC (IX+d)', [0xdd, 0x34, 1], '4,4,3,5,4,3', 'from memory'],
  ['ADD HL,ss', [0x09], '4,4,3', 'p. 186'],
  ['ADC HL,ss', [0xed, 0x4a], '4,4,4,3', 'p. 188'],
  ['INC ss', [0x03], '6', 'from memory'],
  ['INC IX', [0xdd, 0x23], '4,6', 'from memory'],
  ['RLC (IX+d)', [0xdd, 0xcb, 1, 0x06], '4,4,3,5,4,3', 'p. 215'],
  ['RR r', [0xcb, 0x18], '4,4', 'p. 227 of the manual, table of RR m'],
  ['RR (HL)', [0xcb, 0x1e], '4,4,4,3', 'p. 227 of the manual, table of RR m'],
  ['RLD', [0xed, 0x6f], '4,4,3,4,3', 'p. 236'],
  ['BIT b,(HL)', [0xcb, 0x46], '4,4,4', 'from memory'],
  ['BIT b,(IX+d)', [0xdd, 0xcb, 1, 0x46], '4,4,3,5,4', 'p. 245'],
  ['JP nn', [0xc3, 0, 1], '4,3,3', 'from memory'],
  ['JR e', [0x18, 2], '4,3,5', 'from memory'],
  ['JR Z, taken', [0x28, 2], '4,3,5', 'from memory', zero],
  ['JR Z, not taken', [0x28, 2], '4,3', 'from memory', notZero],
  ['DJNZ, B not 0', [0x10, 2], '5,3,5', 'from memory', [[Z80.B, 2]]],
  ['DJNZ, B 0', [0x10, 2], '5,3', 'from memory', [[Z80.B, 1]]],
  ['JP (HL)', [0xe9], '4', 'from memory'],
  ['CALL nn', [0xcd, 0, 1], '4,3,4,3,3', '17 in 5: table of the call group'],
  ['CALL Z, not taken', [0xcc, 0, 1], '4,3,3', '10 in 3: table of the call group', notZero],
  ['RET', [0xc9], '4,3,3', '10 in 3: table of the call group'],
  ['RET Z, taken', [0xc8], '5,3,3', '11 in 3: table of the call group', zero],
  ['RET Z, not taken', [0xc8], '5', '5 in 1: table of the call group', notZero],
  ['RETI', [0xed, 0x4d], '4,4,3,3', '14 in 4: table of the call group'],
  ['RST p', [0xcf], '5,3,3', '11 in 3: table of the call group'],
  ['IN A,(n)', [0xdb, 1], '4,3,4', 'from memory'],
  ['IN r,(C)', [0xed, 0x40], '4,4,4', 'from memory'],
  ['OUT (n),A', [0xd3, 1], '4,3,4', 'from memory'],
  // The page prints 4,5,3,4 for all four; the byte goes to memory after it comes from the port, in 4 and then 3.
  ['INI', [0xed, 0xa2], '4,5,4,3', 'from memory', manyRounds],
  ['INIR, B not 0', [0xed, 0xb2], '4,5,4,3,5', 'from memory', manyRounds],
  ['OUTI', [0xed, 0xa3], '4,5,3,4', 'from memory', manyRounds],
] as const)('%s', (_, code, cycles, _source, set: readonly (readonly [number, number])[] = []) => {
  expect(cyclesOf(code, set).join(',')).toBe(cycles);
});
