// The firmware of the tide clerk demonstration (projects/tide-clerk): a Z80 with ROM below 0x8000 and RAM above, a 16C550 at
// port 0x10 clocked by 3.6864 MHz, switches at port 0x20 (closed is low), lamps at port 0x28. It greets, then takes a line
// at a time: `L 255` sets the lamps, `S` says which harbour the switches ask for, `T` prints the next four tides from
// midnight and shows the height on the lamps, anything else the commands. Integer arithmetic only: a table of a sine in 256
// steps, phases of 16 bits that wrap by themselves.

import { createZ80Emitter, type Z80Code, type Z80Emitter } from '../z80/index.ts';
import { HARBOURS, TIDE_PERIODS_HOURS, TIDE_STEP_MINUTES } from './tide-data.ts';

const UART = 0x10;
const SWITCHES = 0x20;
const LAMPS = 0x28;
/** 3.6864 MHz / 16 / 24 = 9600 baud. */
const DIVISOR = 24;
/** Bytes of a line that are kept. */
const LINE_BYTES = 30;
/** The height must turn by this much (in 1/128 cm) before a high or low water is believed: smaller is rounding. */
const TURN = 512;

// RAM.
const LINE = 0x8000;
const PHASES = 0x8040;
const SPEEDS = 0x8046;
const AMPLITUDES = 0x804c;
const MEAN = 0x8050;
const LEVEL = 0x8052;
const BEST = 0x8054;
const BEST_TIME = 0x8056;
const TIME = 0x8058;
const FALLING = 0x805a;
const LEFT = 0x805b;
const SHOWN = 0x805c;
const HARMONICS = 3;
/** Bytes of a harbour's row in ROM: mean, then phases, then amplitudes, then the name. */
const ROW = 32;
const NAME_AT = 11;

/** Makes the firmware, from address 0. */
export const makeTideFirmware = (): Z80Code => {
  const p = createZ80Emitter(0);
  p.plain('DI');
  p.jump('start');
  for (const [name, at] of [
    ['interrupt', 0x38],
    ['nmi', 0x66],
  ] as const) {
    p.moveTo(at);
    p.label(name);
    // Nothing asks for interrupts here; one that comes all the same goes back.
    p.plain(name === 'nmi' ? 'RETN' : 'RETI');
  }
  p.moveTo(0x100);
  p.label('start');
  p.loadPair('SP', 0);
  for (const [register, value] of [
    [3, 0x83],
    [0, DIVISOR],
    [1, 0],
    [3, 0x03],
    [2, 0x07],
    [4, 0x03],
  ] as const) {
    p.load('A', value);
    p.output(UART + register);
  }
  p.arithmetic('XOR', 'A');
  p.output(LAMPS);
  p.loadPair('HL', 'text-ready');
  p.call('say');
  conversation(p);
  tides(p);
  arithmetic(p);
  terminal(p);
  tables(p);
  return p.finish();
};

const conversation = (p: Z80Emitter): void => {
  p.label('main');
  p.load('A', 0x3e);
  p.call('put');
  p.call('read-line');
  p.loadPair('HL', LINE);
  p.load('A', '(HL)');
  p.arithmetic('OR', 'A');
  p.branch('main', 'Z');
  for (const [letter, label] of [
    ['L', 'lamps'],
    ['S', 'switches'],
    ['T', 'tides'],
  ] as const) {
    p.arithmetic('CP', letter.charCodeAt(0));
    p.jump(label, 'Z');
  }
  p.label('help');
  p.loadPair('HL', 'text-help');
  p.call('say');
  p.jump('main');

  p.label('lamps');
  p.incrementPair('HL');
  p.call('read-number');
  p.jump('help', 'C');
  p.output(LAMPS);
  p.jump('main');

  p.label('switches');
  p.call('say-harbour');
  p.jump('main');

  // A line into LINE, in capitals, ended by a zero; backspace takes one back.
  p.label('read-line');
  p.loadPair('HL', LINE);
  p.load('B', 0);
  p.label('read-more');
  p.call('get');
  p.arithmetic('CP', 0x0d);
  p.branch('read-end', 'Z');
  p.arithmetic('CP', 0x08);
  p.branch('read-back', 'Z');
  p.arithmetic('CP', 0x20);
  p.branch('read-more', 'C');
  p.arithmetic('CP', 0x61);
  p.branch('read-keep', 'C');
  p.arithmetic('CP', 0x7b);
  p.branch('read-keep', 'NC');
  p.arithmetic('AND', 0xdf);
  p.label('read-keep');
  p.load('C', 'A');
  p.load('A', 'B');
  p.arithmetic('CP', LINE_BYTES);
  p.branch('read-more', 'NC');
  p.load('(HL)', 'C');
  p.incrementPair('HL');
  p.increment('B');
  p.load('A', 'C');
  p.call('put');
  p.branch('read-more');
  p.label('read-back');
  p.load('A', 'B');
  p.arithmetic('OR', 'A');
  p.branch('read-more', 'Z');
  p.decrement('B');
  p.decrementPair('HL');
  for (const character of [0x08, 0x20, 0x08]) {
    p.load('A', character);
    p.call('put');
  }
  p.branch('read-more');
  p.label('read-end');
  p.load('(HL)', 0);
  p.loadPair('HL', 'text-line');
  p.jump('say');

  // Decimal at HL into A, blanks before it passed over; carry when it is none or above 255.
  p.label('read-number');
  p.loadPair('DE', 0);
  p.load('C', 0);
  p.label('number-more');
  p.load('A', '(HL)');
  p.incrementPair('HL');
  p.arithmetic('CP', 0x20);
  p.branch('number-blank', 'Z');
  p.arithmetic('OR', 'A');
  p.branch('number-end', 'Z');
  p.arithmetic('SUB', 0x30);
  p.ret('C');
  p.arithmetic('CP', 10);
  p.plain('CCF');
  p.ret('C');
  p.load('C', 1);
  p.push('HL');
  p.load('H', 'D');
  p.load('L', 'E');
  p.addPair('HL', 'HL');
  p.addPair('HL', 'HL');
  p.addPair('HL', 'DE');
  p.addPair('HL', 'HL');
  p.load('E', 'A');
  p.load('D', 0);
  p.addPair('HL', 'DE');
  p.plain('EX_DE_HL');
  p.pop('HL');
  p.load('A', 'D');
  p.arithmetic('OR', 'A');
  p.branch('number-more', 'Z');
  p.plain('SCF');
  p.ret();
  p.label('number-blank');
  p.load('A', 'C');
  p.arithmetic('OR', 'A');
  p.branch('number-more', 'Z');
  p.label('number-end');
  p.load('A', 'C');
  p.arithmetic('SUB', 1);
  p.load('A', 'E');
  p.ret();
};

const tides = (p: Z80Emitter): void => {
  // The row of the harbour whose switch is closed first; the first harbour when none is. HL = row.
  p.label('harbour');
  p.input(SWITCHES);
  p.load('B', 8);
  p.loadPair('HL', 'harbours');
  p.loadPair('DE', ROW);
  p.label('harbour-next');
  p.plain('RRCA');
  p.ret('NC');
  p.addPair('HL', 'DE');
  p.branchWhileB('harbour-next');
  p.loadPair('HL', 'harbours');
  p.ret();

  p.label('say-harbour');
  p.loadPair('HL', 'text-at');
  p.call('say');
  p.call('harbour');
  p.push('HL');
  p.loadPair('DE', NAME_AT);
  p.addPair('HL', 'DE');
  p.call('say');
  p.loadPair('HL', 'text-line');
  p.call('say');
  p.pop('HL');
  p.ret();

  p.label('tides');
  p.call('say-harbour');
  p.loadPair('DE', MEAN);
  p.plain('LDI');
  p.plain('LDI');
  p.loadPair('DE', PHASES);
  p.loadPair('BC', HARMONICS * 2);
  p.plain('LDIR');
  p.loadPair('DE', AMPLITUDES);
  p.loadPair('BC', HARMONICS);
  p.plain('LDIR');
  p.loadPair('HL', 'speeds');
  p.loadPair('DE', SPEEDS);
  p.loadPair('BC', HARMONICS * 2);
  p.plain('LDIR');
  p.loadPair('HL', 0);
  p.storePair(TIME, 'HL');
  p.storePair(BEST, 'HL');
  p.storePair(BEST_TIME, 'HL');
  p.arithmetic('XOR', 'A');
  p.storeA(FALLING);
  p.storeA(SHOWN);
  p.load('A', 4);
  p.storeA(LEFT);

  p.label('tide-step');
  p.call('level');
  p.loadA(SHOWN);
  p.arithmetic('OR', 'A');
  p.call('show-level', 'Z');
  p.loadA(FALLING);
  p.arithmetic('OR', 'A');
  p.branch('tide-falling', 'NZ');
  // Rising: a new best is a higher one; TURN below the best, it was high water.
  p.loadPairFrom('HL', BEST);
  p.loadPairFrom('DE', LEVEL);
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('tide-better', 'C');
  p.branch('tide-turned');
  p.label('tide-falling');
  p.loadPairFrom('HL', LEVEL);
  p.loadPairFrom('DE', BEST);
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('tide-better', 'C');
  p.label('tide-turned');
  // HL is how far it has come back.
  p.loadPair('DE', TURN);
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('tide-next', 'C');
  p.loadPairFrom('HL', BEST_TIME);
  p.load('A', 'H');
  p.arithmetic('OR', 'L');
  p.call('say-tide', 'NZ');
  p.loadA(FALLING);
  p.arithmetic('XOR', 1);
  p.storeA(FALLING);
  p.label('tide-better');
  p.loadPairFrom('HL', LEVEL);
  p.storePair(BEST, 'HL');
  p.loadPairFrom('HL', TIME);
  p.storePair(BEST_TIME, 'HL');
  p.label('tide-next');
  p.loadPairFrom('HL', TIME);
  p.incrementPair('HL');
  p.storePair(TIME, 'HL');
  p.loadA(LEFT);
  p.arithmetic('OR', 'A');
  p.jump('tide-step', 'NZ');
  p.jump('main');

  // HIGH 03:40 4.12 M
  p.label('say-tide');
  p.loadA(LEFT);
  p.decrement('A');
  p.storeA(LEFT);
  p.loadPair('HL', 'text-high');
  p.loadA(FALLING);
  p.arithmetic('OR', 'A');
  p.branch('tide-word', 'Z');
  p.loadPair('HL', 'text-low');
  p.label('tide-word');
  p.call('say');
  p.loadPairFrom('HL', BEST_TIME);
  p.load('B', 0);
  p.loadPair('DE', 60 / TIDE_STEP_MINUTES);
  p.label('tide-hour');
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('tide-minute', 'C');
  p.increment('B');
  p.branch('tide-hour');
  p.label('tide-minute');
  p.addPair('HL', 'DE');
  p.load('A', 'B');
  p.label('tide-day');
  p.arithmetic('CP', 24);
  p.branch('tide-clock', 'C');
  p.arithmetic('SUB', 24);
  p.branch('tide-day');
  p.label('tide-clock');
  p.push('HL');
  p.call('put-two');
  p.load('A', 0x3a);
  p.call('put');
  p.pop('HL');
  // Tens of minutes are the steps left over.
  p.load('A', 'L');
  p.arithmetic('ADD', 0x30);
  p.call('put');
  p.load('A', 0x30);
  p.call('put');
  p.load('A', 0x20);
  p.call('put');
  p.loadPairFrom('HL', BEST);
  p.call('centimetres');
  p.load('B', 0x30 - 1);
  p.loadPair('DE', 100);
  p.label('tide-metre');
  p.increment('B');
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('tide-metre', 'NC');
  p.addPair('HL', 'DE');
  p.load('A', 'B');
  p.call('put');
  p.load('A', 0x2e);
  p.call('put');
  p.load('A', 'L');
  p.call('put-two');
  p.loadPair('HL', 'text-metres');
  p.jump('say');

  // One more lamp for each 64 cm, at the first height worked out.
  p.label('show-level');
  p.loadPairFrom('HL', LEVEL);
  p.call('centimetres');
  p.load('A', 1);
  p.storeA(SHOWN);
  p.arithmetic('XOR', 'A');
  p.loadPair('DE', 64);
  p.label('show-more');
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('show-end', 'C');
  p.plain('SCF');
  p.plain('RLA');
  p.branch('show-more');
  p.label('show-end');
  p.output(LAMPS);
  p.ret();
};

const arithmetic = (p: Z80Emitter): void => {
  // LEVEL = 0x8000 + the sum of amplitude x sine, in 1/128 cm; phases move on.
  p.label('level');
  p.loadPair('HL', 0x8000);
  p.storePair(LEVEL, 'HL');
  for (let k = 0; k < HARMONICS; k++) {
    p.loadPairFrom('HL', PHASES + k * 2);
    p.load('A', 'H');
    p.loadPairFrom('DE', SPEEDS + k * 2);
    p.addPair('HL', 'DE');
    p.storePair(PHASES + k * 2, 'HL');
    p.loadPair('HL', 'sine');
    p.load('L', 'A');
    p.load('A', '(HL)');
    p.load('C', 'A');
    p.arithmetic('OR', 'A');
    p.jump(`level-${k}`, 'P');
    p.plain('NEG');
    p.label(`level-${k}`);
    p.load('E', 'A');
    p.loadA(AMPLITUDES + k);
    p.call('multiply');
    p.loadPairFrom('DE', LEVEL);
    p.bit(7, 'C');
    p.branch(`minus-${k}`, 'NZ');
    p.addPair('HL', 'DE');
    p.branch(`sum-${k}`);
    p.label(`minus-${k}`);
    p.plain('EX_DE_HL');
    p.arithmetic('OR', 'A');
    p.sbcPair('DE');
    p.label(`sum-${k}`);
    p.storePair(LEVEL, 'HL');
  }
  p.ret();

  // HL = A x E.
  p.label('multiply');
  p.loadPair('HL', 0);
  p.load('D', 0);
  p.load('B', 8);
  p.label('multiply-more');
  p.addPair('HL', 'HL');
  p.plain('RLCA');
  p.branch('multiply-next', 'NC');
  p.addPair('HL', 'DE');
  p.label('multiply-next');
  p.branchWhileB('multiply-more');
  p.ret();

  // HL (as LEVEL) to centimetres above datum: HL / 128 - 256 + mean.
  p.label('centimetres');
  p.addPair('HL', 'HL');
  p.load('L', 'H');
  p.load('A', 0);
  p.plain('RLA');
  p.load('H', 'A');
  p.loadPairFrom('DE', MEAN);
  p.addPair('HL', 'DE');
  p.decrement('H');
  p.ret();
};

const terminal = (p: Z80Emitter): void => {
  p.label('put');
  p.push('AF');
  p.label('put-wait');
  p.input(UART + 5);
  p.arithmetic('AND', 0x20);
  p.branch('put-wait', 'Z');
  p.pop('AF');
  p.output(UART);
  p.ret();

  p.label('get');
  p.input(UART + 5);
  p.plain('RRCA');
  p.branch('get', 'NC');
  p.input(UART);
  p.ret();

  // Text at HL, up to a zero.
  p.label('say');
  p.load('A', '(HL)');
  p.arithmetic('OR', 'A');
  p.ret('Z');
  p.call('put');
  p.incrementPair('HL');
  p.branch('say');

  // A, 0 to 99, as two digits.
  p.label('put-two');
  p.load('B', 0x30 - 1);
  p.label('put-tens');
  p.increment('B');
  p.arithmetic('SUB', 10);
  p.branch('put-tens', 'NC');
  p.arithmetic('ADD', 10 + 0x30);
  p.push('AF');
  p.load('A', 'B');
  p.call('put');
  p.pop('AF');
  p.jump('put');
};

const tables = (p: Z80Emitter): void => {
  for (const [name, text] of [
    ['ready', 'READY, TIDES\r\n'],
    ['help', 'L 0 TO 255: LAMPS. S: HARBOUR. T: TIDES.\r\n'],
    ['at', 'HARBOUR '],
    ['high', 'HIGH '],
    ['low', 'LOW  '],
    ['metres', ' M'],
  ] as const) {
    p.label(`text-${name}`);
    p.text(text);
    if (name !== 'metres') p.bytes(0);
  }
  p.label('text-line');
  p.text('\r\n');
  p.bytes(0);
  p.label('speeds');
  p.words(...TIDE_PERIODS_HOURS.map((hours) => Math.round((65536 * TIDE_STEP_MINUTES) / (hours * 60))));
  p.label('harbours');
  for (const { name, mean, harmonics } of HARBOURS) {
    const row = p.here();
    p.words(mean);
    p.words(...harmonics.map(([, degrees]) => Math.round((degrees * 65536) / 360) & 0xffff));
    p.bytes(...harmonics.map(([amplitude]) => amplitude));
    p.text(name);
    p.bytes(0);
    p.moveTo(row + ROW);
  }
  p.moveTo((p.here() + 0xff) & 0xff00);
  p.label('sine');
  p.bytes(...Array.from({ length: 256 }, (_, k) => Math.round(127 * Math.sin((k * Math.PI) / 128)) & 0xff));
};
