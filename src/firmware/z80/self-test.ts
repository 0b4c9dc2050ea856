// A memory self-test for a Z80 machine, made for its addresses. Until the RAM is proved it uses no byte of it: no stack, no
// variables, registers only, so that a wrong wire between processor and RAM cannot mislead it. It takes for granted that the
// processor runs from the ROM.
//
// What it does, in order: (1) data lines: patterns and single ones through one cell; (2) address lines: a different byte at the
// first cell and at each power of two, then the complements; (3) every cell: the march test known as C- (A. J. van de Goor,
// Testing Semiconductor Memories, 1991), for each background byte. It ends in a jump to itself whose address says the
// result: a probe on the few high address lines, a simulator, or the LEDs of a bus show it with nothing else fitted.

import { bug } from '../../base/index.ts';
import { createZ80Emitter, type Z80Emitter } from './emit.ts';

/** Addresses of the machine under test. */
export interface Z80SelfTestPlan {
  /** Bytes of ROM from address 0; at least 8 KiB. */
  readonly romSize: number;
  readonly ram: { readonly address: number; readonly size: number };
  /** A port for stage numbers and the result: LEDs. Default none. */
  readonly lamps?: number;
  /** A 16450-like UART at a port, with its divisor: results in words. Default none. */
  readonly uart?: { readonly port: number; readonly divisor: number };
  /** Bytes written through the march, each with its complement. Default 0x00 and 0x55. */
  readonly backgrounds?: readonly number[];
}

/** How it can end. */
export type Z80SelfTestEnd = 'passed' | 'data' | 'address' | 'cell';

/** A self-test and what its ends mean. */
export interface Z80SelfTest {
  /** From address 0. */
  readonly bytes: Uint8Array;
  /** Where it stays for each result. */
  readonly ends: Readonly<Record<Z80SelfTestEnd, number>>;
  /** Where a processor stays that has lost its way (an interrupt, an erased byte). */
  readonly astray: readonly number[];
  /** What the lamps show: 1, 2, 3 while a stage runs, then one of these. */
  readonly lampCodes: Readonly<Record<Z80SelfTestEnd, number>>;
  /** Clocks it takes at most, with no terminal to wait for. */
  readonly clocks: number;
  /** Registers at the end of a failure: HL the address, E the bits that differ. */
  readonly symbols: ReadonlyMap<string, number>;
}

const LAMPS: Readonly<Record<Z80SelfTestEnd, number>> = { passed: 0xaa, data: 0x81, address: 0x82, cell: 0x83 };
/** Nothing of the test itself stands from here up. */
const CODE_END = 0x0800;

/** Makes the self-test. A plan that cannot be met (ROM too small, RAM in the ROM) is a bug of the caller. */
export const makeZ80SelfTest = (plan: Z80SelfTestPlan): Z80SelfTest => {
  const { ram, romSize } = plan;
  if (romSize < 0x2000) bug('a ROM too small for the self-test', { romSize });
  if (ram.size < 2 || ram.address + ram.size > 0x10000 || ram.address < romSize) bug('no such RAM', ram);
  const ends = endsOf(romSize);
  const p = createZ80Emitter(0);
  p.plain('DI');
  p.jump('start');
  for (const [name, at] of [
    ['astray', 0x38],
    ['nmi', 0x66],
  ] as const) {
    p.moveTo(at);
    p.label(name);
    p.branch(name);
  }
  p.label('start');
  if (plan.uart !== undefined) setUp(p, plan.uart);

  lamp(p, plan, 1);
  p.loadPair('HL', ram.address);
  for (const pattern of [0x00, 0xff, 0x55, 0xaa, ...Array.from({ length: 8 }, (_, k) => 1 << k)]) {
    p.load('E', pattern);
    p.load('(HL)', 'E');
    p.load('A', '(HL)');
    p.arithmetic('XOR', 'E');
    p.jump('fail-data', 'NZ');
  }

  lamp(p, plan, 2);
  const offsets = [0];
  for (let offset = 1; offset < ram.size; offset *= 2) offsets.push(offset);
  for (const flip of [0, 0xff]) {
    offsets.forEach((offset, k) => {
      p.loadPair('HL', ram.address + offset);
      p.load('(HL)', (k + 1) ^ flip);
    });
    offsets.forEach((offset, k) => {
      p.loadPair('HL', ram.address + offset);
      p.load('A', '(HL)');
      p.arithmetic('XOR', (k + 1) ^ flip);
      p.jump('fail-address', 'NZ');
    });
  }

  lamp(p, plan, 3);
  (plan.backgrounds ?? [0x00, 0x55]).forEach((background, k) => {
    const other = background ^ 0xff;
    march(p, plan, `${k}a`, 'up', undefined, background);
    march(p, plan, `${k}b`, 'up', background, other);
    march(p, plan, `${k}c`, 'up', other, background);
    march(p, plan, `${k}d`, 'down', background, other);
    march(p, plan, `${k}e`, 'down', other, background);
    march(p, plan, `${k}f`, 'up', background, undefined);
  });

  for (const end of ['passed', 'data', 'address', 'cell'] as const) {
    p.label(end === 'passed' ? 'pass' : `fail-${end}`);
    if (end !== 'passed') p.load('E', 'A');
    lamp(p, plan, LAMPS[end]);
    if (plan.uart !== undefined) tell(p, end);
    p.jump(ends[end]);
  }
  if (plan.uart !== undefined) speech(p, plan.uart.port);
  if (p.here() > CODE_END) bug('the self-test is too long', { here: p.here() });
  for (const at of Object.values(ends).sort((a, b) => a - b)) {
    p.moveTo(at);
    p.label(`end-${at}`);
    p.branch(`end-${at}`);
  }
  const { bytes, labels } = p.finish();
  // Each cell and background: 39 clocks for the first element, 60 for each of the four in the middle, 53 for the last (UM0080).
  const clocks = 20_000 + ram.size * (plan.backgrounds ?? [0x00, 0x55]).length * (39 + 4 * 60 + 53);
  return { bytes, ends, astray: [0x38, 0x66], lampCodes: LAMPS, clocks, symbols: labels };
};

/** One high address line for each result where the ROM has four above the test itself; else two or three lines. */
const endsOf = (romSize: number): Record<Z80SelfTestEnd, number> => {
  const half = romSize / 2;
  const places: number[] = [];
  for (let at = half; at >= CODE_END; at /= 2) places.push(at);
  for (let at = half / 2; places.length < 4; at /= 2) places.push(half + (romSize >= 0x4000 ? at : at + half / 4));
  return { passed: places[0]!, data: places[1]!, address: places[2]!, cell: places[3]! };
};

const lamp = (p: Z80Emitter, plan: Z80SelfTestPlan, code: number): void => {
  if (plan.lamps === undefined) return;
  // A is needed by nobody here: the bits that differ are in E by now.
  p.load('A', code);
  p.output(plan.lamps);
};

/** One element of the march: read what is expected, write what comes next, cell by cell. */
const march = (
  p: Z80Emitter,
  { ram }: Z80SelfTestPlan,
  name: string,
  direction: 'up' | 'down',
  expected: number | undefined,
  written: number | undefined,
): void => {
  p.loadPair('HL', direction === 'up' ? ram.address : ram.address + ram.size - 1);
  p.loadPair('BC', ram.size);
  if (expected !== undefined) p.load('D', expected);
  if (written !== undefined) p.load('E', written);
  p.label(`march-${name}`);
  if (expected !== undefined) {
    p.load('A', '(HL)');
    p.arithmetic('XOR', 'D');
    p.jump('fail-cell', 'NZ');
  }
  if (written !== undefined) p.load('(HL)', 'E');
  if (direction === 'up') p.incrementPair('HL');
  else p.decrementPair('HL');
  p.decrementPair('BC');
  p.load('A', 'B');
  p.arithmetic('OR', 'C');
  p.branch(`march-${name}`, 'NZ');
};

/** 8 bits, no parity, one stop bit. */
const setUp = (p: Z80Emitter, { port, divisor }: { readonly port: number; readonly divisor: number }): void => {
  for (const [register, value] of [
    [3, 0x83],
    [0, divisor & 0xff],
    [1, divisor >> 8],
    [3, 0x03],
    [2, 0x07],
    [4, 0x03],
  ] as const) {
    p.load('A', value);
    p.output(port + register);
  }
};

/** Says the result; a failure with the address in HL and the bits in E. IX is the way back, for there is no stack. */
const tell = (p: Z80Emitter, end: Z80SelfTestEnd): void => {
  const say = (what: string): void => {
    p.loadPair('IX', `said-${what}`);
    p.loadPair('IY', `text-${what}`);
    p.jump('say');
    p.label(`said-${what}`);
  };
  const hex = (what: string, register: 'H' | 'L' | 'E'): void => {
    p.loadPair('IX', `hexed-${what}`);
    p.load('B', register);
    p.jump('hex');
    p.label(`hexed-${what}`);
  };
  say(end);
  if (end === 'passed') return;
  hex(`${end}-high`, 'H');
  hex(`${end}-low`, 'L');
  p.loadPair('IX', `said-bits-${end}`);
  p.loadPair('IY', 'text-bits');
  p.jump('say');
  p.label(`said-bits-${end}`);
  hex(`${end}-bits`, 'E');
};

const speech = (p: Z80Emitter, port: number): void => {
  // A UART that never gets ready, or isn't there, is waited for 256 times and no longer.
  const send = (name: string): void => {
    p.load('C', 0);
    p.label(`wait-${name}`);
    p.input(port + 5);
    p.arithmetic('AND', 0x20);
    p.branch(`ready-${name}`, 'NZ');
    p.decrement('C');
    p.branch(`wait-${name}`, 'NZ');
    p.label(`ready-${name}`);
  };
  p.label('say');
  send('say');
  p.load('A', { index: 'IY', offset: 0 });
  p.arithmetic('OR', 'A');
  p.branch('said', 'Z');
  p.output(port);
  p.incrementPair('IY');
  p.branch('say');
  p.label('said');
  p.jumpTo('IX');
  p.label('hex');
  for (const digit of ['high', 'low']) {
    send(digit);
    p.load('A', 'B');
    if (digit === 'high') for (let k = 0; k < 4; k++) p.plain('RRCA');
    p.arithmetic('AND', 0x0f);
    p.arithmetic('ADD', 0x90);
    p.plain('DAA');
    p.arithmetic('ADC', 0x40);
    p.plain('DAA');
    p.output(port);
  }
  p.jumpTo('IX');
  for (const [name, text] of [
    ['passed', '\r\nMEMORY PASSED\r\n'],
    ['data', '\r\nDATA LINES AT '],
    ['address', '\r\nADDRESS LINES AT '],
    ['cell', '\r\nCELL AT '],
    ['bits', ', BITS '],
  ] as const) {
    p.label(`text-${name}`);
    p.text(text);
    p.bytes(0);
  }
};
