// Emits Z80 machine code from calls: one function for each form of instruction, labels by name, fixed up at the end. For the
// firmware that this project makes itself (self-tests, demonstrations); no language of its own, no text to parse.
// Mistakes in such a program are ours: an unknown label or a jump too far is a bug.

import { bug } from '../../base/index.ts';

/** Eight-bit registers and memory through a pair. */
export type Z80Register = 'A' | 'B' | 'C' | 'D' | 'E' | 'H' | 'L' | 'IXH' | 'IXL' | 'IYH' | 'IYL' | '(HL)';
/** Memory at an index register with a displacement of -128 to 127. */
export interface Z80Indexed {
  readonly index: 'IX' | 'IY';
  readonly offset: number;
}
export type Z80Operand = Z80Register | Z80Indexed;
export type Z80Pair = 'BC' | 'DE' | 'HL' | 'SP' | 'IX' | 'IY';
export type Z80Condition = 'NZ' | 'Z' | 'NC' | 'C' | 'PO' | 'PE' | 'P' | 'M';
export type Z80Arithmetic = 'ADD' | 'ADC' | 'SUB' | 'SBC' | 'AND' | 'XOR' | 'OR' | 'CP';
export type Z80Shift = 'RLC' | 'RRC' | 'RL' | 'RR' | 'SLA' | 'SRA' | 'SLL' | 'SRL';
/** A number, or a label whose address is wanted. */
export type Z80Value = number | string;

const R8 = ['B', 'C', 'D', 'E', 'H', 'L', '(HL)', 'A'];
const R16 = ['BC', 'DE', 'HL', 'SP'];
const CONDITIONS = ['NZ', 'Z', 'NC', 'C', 'PO', 'PE', 'P', 'M'];
const ARITHMETIC = ['ADD', 'ADC', 'SUB', 'SBC', 'AND', 'XOR', 'OR', 'CP'];
const SHIFTS = ['RLC', 'RRC', 'RL', 'RR', 'SLA', 'SRA', 'SLL', 'SRL'];
/** Instructions without operands. */
const PLAIN = {
  NOP: [0x00],
  HALT: [0x76],
  DI: [0xf3],
  EI: [0xfb],
  EXX: [0xd9],
  EX_AF: [0x08],
  EX_DE_HL: [0xeb],
  EX_SP_HL: [0xe3],
  RLCA: [0x07],
  RRCA: [0x0f],
  RLA: [0x17],
  RRA: [0x1f],
  DAA: [0x27],
  CPL: [0x2f],
  SCF: [0x37],
  CCF: [0x3f],
  NEG: [0xed, 0x44],
  RETN: [0xed, 0x45],
  RETI: [0xed, 0x4d],
  IM0: [0xed, 0x46],
  IM1: [0xed, 0x56],
  IM2: [0xed, 0x5e],
  LD_I_A: [0xed, 0x47],
  LD_A_I: [0xed, 0x57],
  LD_R_A: [0xed, 0x4f],
  LD_A_R: [0xed, 0x5f],
  RRD: [0xed, 0x67],
  RLD: [0xed, 0x6f],
  LDI: [0xed, 0xa0],
  LDIR: [0xed, 0xb0],
  LDDR: [0xed, 0xb8],
  CPIR: [0xed, 0xb1],
  INIR: [0xed, 0xb2],
  OTIR: [0xed, 0xb3],
} as const;
/** Names of instructions without operands. */
export type Z80Plain = keyof typeof PLAIN;

/** A finished program. */
export interface Z80Code {
  readonly origin: number;
  readonly bytes: Uint8Array;
  readonly labels: ReadonlyMap<string, number>;
}

interface Fixup {
  readonly at: number;
  readonly label: string;
  readonly form: 'word' | 'relative';
}

/** A program as it grows. Addresses go up from the origin. */
export interface Z80Emitter {
  /** Address of the next byte. */
  here(): number;
  label(name: string): void;
  bytes(...values: readonly number[]): void;
  words(...values: readonly Z80Value[]): void;
  /** ASCII, no end mark. */
  text(characters: string): void;
  /** Goes on at a higher address; bytes between are 0xFF as in an erased ROM (RST 38, should they be run). */
  moveTo(address: number): void;
  plain(name: Z80Plain): void;
  /** target = source, or an immediate byte. */
  load(target: Z80Operand, source: Z80Operand | number): void;
  loadPair(target: Z80Pair, value: Z80Value): void;
  /** A = memory at an address or a pair. */
  loadA(from: Z80Value | '(BC)' | '(DE)'): void;
  storeA(to: Z80Value | '(BC)' | '(DE)'): void;
  loadPairFrom(target: Z80Pair, address: Z80Value): void;
  storePair(address: Z80Value, source: Z80Pair): void;
  stackFrom(source: 'HL' | 'IX' | 'IY'): void;
  arithmetic(kind: Z80Arithmetic, operand: Z80Operand | number): void;
  increment(target: Z80Operand): void;
  decrement(target: Z80Operand): void;
  incrementPair(target: Z80Pair): void;
  decrementPair(target: Z80Pair): void;
  addPair(target: 'HL' | 'IX' | 'IY', source: Z80Pair): void;
  adcPair(source: 'BC' | 'DE' | 'HL' | 'SP'): void;
  sbcPair(source: 'BC' | 'DE' | 'HL' | 'SP'): void;
  push(pair: Z80Pair | 'AF'): void;
  pop(pair: Z80Pair | 'AF'): void;
  jump(to: Z80Value, condition?: Z80Condition): void;
  jumpTo(pair: 'HL' | 'IX' | 'IY'): void;
  /** Relative jump; the label must be near. */
  branch(to: string, condition?: 'NZ' | 'Z' | 'NC' | 'C'): void;
  branchWhileB(to: string): void;
  call(to: Z80Value, condition?: Z80Condition): void;
  ret(condition?: Z80Condition): void;
  restart(address: number): void;
  input(port: number): void;
  output(port: number): void;
  inputC(target: 'A' | 'B' | 'C' | 'D' | 'E' | 'H' | 'L'): void;
  outputC(source: 'A' | 'B' | 'C' | 'D' | 'E' | 'H' | 'L'): void;
  shift(kind: Z80Shift, target: Z80Operand): void;
  bit(number: number, target: Z80Operand): void;
  resetBit(number: number, target: Z80Operand): void;
  setBit(number: number, target: Z80Operand): void;
  /** Puts addresses in place of labels; nothing may be emitted afterwards. */
  finish(): Z80Code;
}

/** How an operand is coded: prefix, register code, displacement. */
const coded = (operand: Z80Operand): { prefix: number[]; code: number; displacement: number[] } => {
  if (typeof operand === 'object') {
    if (operand.offset < -128 || operand.offset > 127) bug('a displacement out of range', { ...operand });
    return { prefix: [operand.index === 'IX' ? 0xdd : 0xfd], code: 6, displacement: [operand.offset & 0xff] };
  }
  const half = /^(IX|IY)([HL])$/.exec(operand);
  if (half !== null)
    return { prefix: [half[1] === 'IX' ? 0xdd : 0xfd], code: half[2] === 'H' ? 4 : 5, displacement: [] };
  return { prefix: [], code: R8.indexOf(operand), displacement: [] };
};
const pairOf = (pair: Z80Pair | 'AF'): { prefix: number[]; code: number } => {
  if (pair === 'IX' || pair === 'IY') return { prefix: [pair === 'IX' ? 0xdd : 0xfd], code: 2 };
  return { prefix: [], code: pair === 'AF' ? 3 : R16.indexOf(pair) };
};

/** A new program whose first byte stands at `origin`. */
export const createZ80Emitter = (origin: number): Z80Emitter => {
  const code: number[] = [];
  const labels = new Map<string, number>();
  const fixups: Fixup[] = [];
  const put = (...values: readonly number[]): void => {
    for (const value of values) {
      if (!Number.isInteger(value) || value < -128 || value > 255) bug('not a byte', { value, here: here() });
      code.push(value & 0xff);
    }
  };
  const here = (): number => origin + code.length;
  const word = (value: Z80Value): void => {
    if (typeof value === 'string') {
      fixups.push({ at: code.length, label: value, form: 'word' });
      put(0, 0);
    } else {
      if (!Number.isInteger(value) || value < -32768 || value > 65535) bug('not a word', { value });
      put(value & 0xff, (value >> 8) & 0xff);
    }
  };
  const relative = (label: string): void => {
    fixups.push({ at: code.length, label, form: 'relative' });
    put(0);
  };
  const one = (base: number, position: number, operand: Z80Operand): void => {
    const { prefix, code: register, displacement } = coded(operand);
    put(...prefix, base | (register << position), ...displacement);
  };
  const bits = (base: number, operand: Z80Operand): void => {
    const { prefix, code: register, displacement } = coded(operand);
    if (prefix.length > 0 && displacement.length === 0) bug('no such instruction', { operand });
    put(...prefix, 0xcb, ...displacement, base | register);
  };
  const condition = (name: Z80Condition): number => CONDITIONS.indexOf(name) << 3;
  return {
    here,
    label: (name) => {
      if (labels.has(name)) bug('a label twice', { name });
      labels.set(name, here());
    },
    bytes: put,
    words: (...values) => values.forEach(word),
    text: (characters) => put(...[...characters].map((character) => character.charCodeAt(0))),
    moveTo: (address) => {
      if (address < here()) bug('a move backwards', { address, here: here() });
      while (here() < address) put(0xff);
    },
    plain: (name) => put(...PLAIN[name]),
    load: (target, source) => {
      const to = coded(target);
      if (typeof source === 'number') {
        put(...to.prefix, 0x06 | (to.code << 3), ...to.displacement, source);
        return;
      }
      const from = coded(source);
      if (to.code === 6 && from.code === 6) bug('memory to memory', { target, source });
      // H and L beside (IX+d) are themselves; beside IXH they would become its halves.
      const prefixes = [...new Set([...to.prefix, ...from.prefix])];
      const isMixed =
        prefixes.length > 1 ||
        (prefixes.length === 1 &&
          to.displacement.length + from.displacement.length === 0 &&
          [target, source].some((name) => name === 'H' || name === 'L' || name === '(HL)'));
      if (isMixed) bug('no such instruction', { target, source });
      put(...prefixes, 0x40 | (to.code << 3) | from.code, ...to.displacement, ...from.displacement);
    },
    loadPair: (target, value) => {
      const { prefix, code: pair } = pairOf(target);
      put(...prefix, 0x01 | (pair << 4));
      word(value);
    },
    loadA: (from) => {
      if (from === '(BC)' || from === '(DE)') put(from === '(BC)' ? 0x0a : 0x1a);
      else {
        put(0x3a);
        word(from);
      }
    },
    storeA: (to) => {
      if (to === '(BC)' || to === '(DE)') put(to === '(BC)' ? 0x02 : 0x12);
      else {
        put(0x32);
        word(to);
      }
    },
    loadPairFrom: (target, address) => {
      const { prefix, code: pair } = pairOf(target);
      if (pair === 2) put(...prefix, 0x2a);
      else put(0xed, 0x4b | (pair << 4));
      word(address);
    },
    storePair: (address, source) => {
      const { prefix, code: pair } = pairOf(source);
      if (pair === 2) put(...prefix, 0x22);
      else put(0xed, 0x43 | (pair << 4));
      word(address);
    },
    stackFrom: (source) => put(...pairOf(source).prefix, 0xf9),
    arithmetic: (kind, operand) => {
      const k = ARITHMETIC.indexOf(kind) << 3;
      if (typeof operand === 'number') put(0xc6 | k, operand);
      else one(0x80 | k, 0, operand);
    },
    increment: (target) => one(0x04, 3, target),
    decrement: (target) => one(0x05, 3, target),
    incrementPair: (target) => put(...pairOf(target).prefix, 0x03 | (pairOf(target).code << 4)),
    decrementPair: (target) => put(...pairOf(target).prefix, 0x0b | (pairOf(target).code << 4)),
    addPair: (target, source) => {
      const to = pairOf(target);
      const from = pairOf(source);
      if (from.code === 2 && source !== target) bug('no such instruction', { target, source });
      put(...to.prefix, 0x09 | (from.code << 4));
    },
    adcPair: (source) => put(0xed, 0x4a | (pairOf(source).code << 4)),
    sbcPair: (source) => put(0xed, 0x42 | (pairOf(source).code << 4)),
    push: (pair) => put(...pairOf(pair).prefix, 0xc5 | (pairOf(pair).code << 4)),
    pop: (pair) => put(...pairOf(pair).prefix, 0xc1 | (pairOf(pair).code << 4)),
    jump: (to, when) => {
      put(when === undefined ? 0xc3 : 0xc2 | condition(when));
      word(to);
    },
    jumpTo: (pair) => put(...pairOf(pair).prefix, 0xe9),
    branch: (to, when) => {
      put(when === undefined ? 0x18 : 0x20 | condition(when));
      relative(to);
    },
    branchWhileB: (to) => {
      put(0x10);
      relative(to);
    },
    call: (to, when) => {
      put(when === undefined ? 0xcd : 0xc4 | condition(when));
      word(to);
    },
    ret: (when) => put(when === undefined ? 0xc9 : 0xc0 | condition(when)),
    restart: (address) => put(0xc7 | (address & 0x38)),
    input: (port) => put(0xdb, port),
    output: (port) => put(0xd3, port),
    inputC: (target) => put(0xed, 0x40 | (R8.indexOf(target) << 3)),
    outputC: (source) => put(0xed, 0x41 | (R8.indexOf(source) << 3)),
    shift: (kind, target) => bits(SHIFTS.indexOf(kind) << 3, target),
    bit: (number, target) => bits(0x40 | (number << 3), target),
    resetBit: (number, target) => bits(0x80 | (number << 3), target),
    setBit: (number, target) => bits(0xc0 | (number << 3), target),
    finish: () => {
      for (const { at, label, form } of fixups) {
        const address = labels.get(label) ?? bug('no such label', { label });
        if (form === 'word') {
          code[at] = address & 0xff;
          code[at + 1] = (address >> 8) & 0xff;
        } else {
          const distance = address - (origin + at + 1);
          if (distance < -128 || distance > 127) bug('a jump too far', { label, distance });
          code[at] = distance & 0xff;
        }
      }
      return { origin, bytes: Uint8Array.from(code), labels };
    },
  };
};
