// What the emitter writes, read back by the disassembler: two programs that share no table.

import { expect, test } from 'vitest';
import { createZ80Emitter, type Z80Emitter, type Z80Operand, type Z80Pair } from '../../src/firmware/z80/index.ts';
import { disassembleZ80 } from '../../src/sim/index.ts';

const back = (emit: (p: Z80Emitter) => void): string => {
  const p = createZ80Emitter(0x100);
  emit(p);
  const { bytes } = p.finish();
  const { text, length } = disassembleZ80(bytes, 0, 0x100);
  expect(length, text).toBe(bytes.length);
  return text;
};
const name = (operand: Z80Operand | number): string =>
  typeof operand === 'number'
    ? `0x${operand.toString(16).toUpperCase().padStart(2, '0')}`
    : typeof operand === 'string'
      ? operand
      : `(${operand.index}${operand.offset < 0 ? '-' : '+'}${Math.abs(operand.offset)})`;

const PLAIN_REGISTERS = ['A', 'B', 'C', 'D', 'E', 'H', 'L', '(HL)'] as const;
const HALVES = ['IXH', 'IXL', 'IYH', 'IYL'] as const;
const INDEXED = [
  { index: 'IX', offset: 5 },
  { index: 'IY', offset: -128 },
] as const;
const OPERANDS: readonly Z80Operand[] = [...PLAIN_REGISTERS, ...HALVES, ...INDEXED];
const CONDITIONS = ['NZ', 'Z', 'NC', 'C', 'PO', 'PE', 'P', 'M'] as const;
const PAIRS: readonly Z80Pair[] = ['BC', 'DE', 'HL', 'SP', 'IX', 'IY'];

test('eight-bit instructions', () => {
  for (const operand of OPERANDS) {
    expect(back((p) => p.load(operand, 0x12))).toBe(`LD ${name(operand)},0x12`);
    expect(back((p) => p.increment(operand))).toBe(`INC ${name(operand)}`);
    expect(back((p) => p.decrement(operand))).toBe(`DEC ${name(operand)}`);
    for (const kind of ['ADD', 'ADC', 'SBC'] as const)
      expect(back((p) => p.arithmetic(kind, operand))).toBe(`${kind} A,${name(operand)}`);
    for (const kind of ['SUB', 'AND', 'XOR', 'OR', 'CP'] as const)
      expect(back((p) => p.arithmetic(kind, operand))).toBe(`${kind} ${name(operand)}`);
    if (operand !== 'A') expect(back((p) => p.load('A', operand))).toBe(`LD A,${name(operand)}`);
    expect(back((p) => p.load(operand, 'B'))).toBe(`LD ${name(operand)},B`);
  }
  for (const operand of [...PLAIN_REGISTERS, ...INDEXED]) {
    for (const kind of ['RLC', 'RRC', 'RL', 'RR', 'SLA', 'SRA', 'SLL', 'SRL'] as const)
      expect(back((p) => p.shift(kind, operand))).toBe(`${kind} ${name(operand)}`);
    for (let k = 0; k < 8; k++) {
      expect(back((p) => p.bit(k, operand))).toBe(`BIT ${k},${name(operand)}`);
      expect(back((p) => p.resetBit(k, operand))).toBe(`RES ${k},${name(operand)}`);
      expect(back((p) => p.setBit(k, operand))).toBe(`SET ${k},${name(operand)}`);
    }
  }
  expect(back((p) => p.load('IXH', 'IXL'))).toBe('LD IXH,IXL');
  expect(back((p) => p.load('H', { index: 'IX', offset: 1 }))).toBe('LD H,(IX+1)');
  expect(() => back((p) => p.load('IXH', 'H'))).toThrow();
  expect(() => back((p) => p.load('IXH', 'IYL'))).toThrow();
  expect(back((p) => p.arithmetic('CP', 0x80))).toBe('CP 0x80');
});

test('pairs, memory, ports', () => {
  for (const pair of PAIRS) {
    expect(back((p) => p.loadPair(pair, 0x1234))).toBe(`LD ${pair},0x1234`);
    expect(back((p) => p.loadPairFrom(pair, 0x8000))).toBe(`LD ${pair},(0x8000)`);
    expect(back((p) => p.storePair(0x8000, pair))).toBe(`LD (0x8000),${pair}`);
    expect(back((p) => p.incrementPair(pair))).toBe(`INC ${pair}`);
    expect(back((p) => p.decrementPair(pair))).toBe(`DEC ${pair}`);
    if (pair !== 'SP') {
      expect(back((p) => p.push(pair))).toBe(`PUSH ${pair}`);
      expect(back((p) => p.pop(pair))).toBe(`POP ${pair}`);
    }
  }
  expect(back((p) => p.push('AF'))).toBe('PUSH AF');
  for (const pair of ['HL', 'IX', 'IY'] as const) {
    expect(back((p) => p.addPair(pair, 'DE'))).toBe(`ADD ${pair},DE`);
    expect(back((p) => p.addPair(pair, pair))).toBe(`ADD ${pair},${pair}`);
    expect(back((p) => p.jumpTo(pair))).toBe(`JP (${pair})`);
    expect(back((p) => p.stackFrom(pair))).toBe(`LD SP,${pair}`);
  }
  expect(back((p) => p.adcPair('DE'))).toBe('ADC HL,DE');
  expect(back((p) => p.sbcPair('SP'))).toBe('SBC HL,SP');
  expect(back((p) => p.loadA('(DE)'))).toBe('LD A,(DE)');
  expect(back((p) => p.storeA('(BC)'))).toBe('LD (BC),A');
  expect(back((p) => p.storeA(0x9000))).toBe('LD (0x9000),A');
  expect(back((p) => p.input(0x15))).toBe('IN A,(0x15)');
  expect(back((p) => p.output(0x28))).toBe('OUT (0x28),A');
  expect(back((p) => p.inputC('E'))).toBe('IN E,(C)');
  expect(back((p) => p.outputC('L'))).toBe('OUT (C),L');
});

test('flow, and labels forward and back', () => {
  for (const when of CONDITIONS) {
    expect(back((p) => p.jump(0x200, when))).toBe(`JP ${when},0x0200`);
    expect(back((p) => p.call(0x200, when))).toBe(`CALL ${when},0x0200`);
    expect(back((p) => p.ret(when))).toBe(`RET ${when}`);
  }
  expect(back((p) => p.restart(0x28))).toBe('RST 0x28');
  const p = createZ80Emitter(0x100);
  p.label('top');
  p.branch('end', 'NC');
  p.branchWhileB('top');
  p.call('end');
  p.label('end');
  p.branch('top');
  const { bytes, labels } = p.finish();
  const texts: string[] = [];
  for (let at = 0; at < bytes.length; ) {
    const { text, length } = disassembleZ80(bytes, at, 0x100 + at);
    texts.push(text);
    at += length;
  }
  expect(texts).toEqual(['JR NC,0x0107', 'DJNZ 0x0100', 'CALL 0x0107', 'JR 0x0100']);
  expect(labels.get('end')).toBe(0x107);
});

test.each([
  ['NOP', 'NOP'],
  ['EX_AF', "EX AF,AF'"],
  ['EX_DE_HL', 'EX DE,HL'],
  ['EX_SP_HL', 'EX (SP),HL'],
  ['NEG', 'NEG'],
  ['RETN', 'RETN'],
  ['RETI', 'RETI'],
  ['IM0', 'IM 0'],
  ['IM1', 'IM 1'],
  ['IM2', 'IM 2'],
  ['LD_I_A', 'LD I,A'],
  ['LD_A_I', 'LD A,I'],
  ['LD_R_A', 'LD R,A'],
  ['LD_A_R', 'LD A,R'],
  ['RRD', 'RRD'],
  ['RLD', 'RLD'],
  ['LDI', 'LDI'],
  ['LDIR', 'LDIR'],
  ['LDDR', 'LDDR'],
  ['CPIR', 'CPIR'],
  ['INIR', 'INIR'],
  ['OTIR', 'OTIR'],
  ['EXX', 'EXX'],
  ['DAA', 'DAA'],
  ['CPL', 'CPL'],
  ['SCF', 'SCF'],
  ['CCF', 'CCF'],
  ['RLCA', 'RLCA'],
  ['RRCA', 'RRCA'],
  ['RLA', 'RLA'],
  ['RRA', 'RRA'],
  ['HALT', 'HALT'],
  ['DI', 'DI'],
  ['EI', 'EI'],
] as const)('%s', (plain, text) => {
  expect(back((p) => p.plain(plain))).toBe(text);
});
