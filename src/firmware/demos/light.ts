// The firmware of the light keeper demonstration (projects/light-keeper): a Z80 with ROM below 0x8000 and RAM above, a CTC at port
// 0x00, a PIO at 0x10 (port A the keys, port B the light), a 6850 at 0x20 clocked with 64 times 9600 baud, four digits at
// 0x30 and 0x40, switches at 0x50 (closed is low), a character display at 0x60 whose A1 is R/W. It works from the first stage
// that has a terminal: with pull-ups on the bus a part that is not there yet reads 0xFF, asks for nothing and is left out.
//
// Interrupts are of mode 2: a hundred ticks a second flash the lamp, every hundredth tick is a second, a key that goes down is
// looked up and not asked for again until it has been up for five ticks. Commands: `T` waits for a tick, `S` says the seconds,
// `D 4711` sets the digits (`S` gives them back to the seconds), `L`, `O`, `C` light the lamp, put it out, give it its character.

import { createZ80Emitter, type Z80Code, type Z80Emitter } from '../z80/index.ts';

const CTC = 0x00;
const KEYS = 0x10;
const LIGHT = 0x11;
const KEYS_CONTROL = 0x12;
const LIGHT_CONTROL = 0x13;
const ACIA = 0x20;
const DIGITS_HIGH = 0x30;
const DIGITS_LOW = 0x40;
const SWITCHES = 0x50;
const DISPLAY = 0x60;

/** 4.9152 MHz / 256 / 192 = 100 Hz. */
const TICK_CONSTANT = 192;
const TICKS_A_SECOND = 100;
/** The character: two flashes of half a second, two seconds apart, every ten seconds. In ticks. */
const PERIOD = 1000;
const FLASHES = [0, 200];
const FLASH = 50;

// RAM.
const PHASE = 0x8000;
const SECONDS = 0x8002;
/** 0 character, 1 on, 2 off. */
const MODE = 0x8004;
/** 1 while the digits show what was set. */
const FIXED = 0x8005;
/** The character of a key that went down, or 0. */
const KEY = 0x8006;
/** Ticks for which all keys must still be up; 0 while they are watched. */
const RELEASE = 0x8007;
const TICKED = 0x8008;
const SECOND = 0x8009;
/** 1 where a display answers. */
const SHOWING = 0x800a;
const COUNT = 0x800b;
const LINE = 0x8010;
const LINE_BYTES = 24;

const VECTORS = 0x100;

/** Makes the firmware, from address 0. */
export const makeLightFirmware = (): Z80Code => {
  const p = createZ80Emitter(0);
  p.plain('DI');
  p.jump('start');
  p.moveTo(0x38);
  p.plain('EI');
  p.plain('RETI');
  p.moveTo(0x66);
  p.plain('RETN');
  p.moveTo(VECTORS);
  // Four channels of the CTC, then the keys. A channel that was never asked to has none.
  p.words('tick', 'second', 'nothing', 'nothing', 'key');
  p.label('nothing');
  p.plain('EI');
  p.plain('RETI');
  setUp(p);
  mainLoop(p);
  commands(p);
  interrupts(p);
  display(p);
  terminal(p);
  texts(p);
  return p.finish();
};

const out = (p: Z80Emitter, port: number, ...values: readonly number[]): void => {
  for (const value of values) {
    p.load('A', value);
    p.output(port);
  }
};

const setUp = (p: Z80Emitter): void => {
  p.label('start');
  p.loadPair('SP', 0);
  p.plain('IM2');
  p.load('A', VECTORS >> 8);
  p.plain('LD_I_A');
  p.loadPair('HL', PHASE);
  p.load('B', LINE - PHASE);
  p.label('clear');
  p.load('(HL)', 0);
  p.incrementPair('HL');
  p.branchWhileB('clear');
  // Master reset; then clock by 64, 8 bits, one stop bit, /RTS low, no interrupts.
  out(p, ACIA, 0x03, 0x16);
  out(p, DIGITS_HIGH, 0);
  out(p, DIGITS_LOW, 0);
  // Bits: 3 of the light comes in, all others go out. No interrupts.
  out(p, LIGHT_CONTROL, 0xcf, 0x08, 0x07);
  out(p, LIGHT, 0);
  // Rows out and low, columns in.
  out(p, KEYS_CONTROL, 0xcf, 0xf0, 0x08);
  out(p, KEYS, 0);
  p.call('watch-keys');
  out(p, CTC, 0x00);
  out(p, CTC, 0xa7, TICK_CONSTANT);
  out(p, CTC + 1, 0xd7, TICKS_A_SECOND);
  p.call('display-start');
  p.plain('EI');
  p.loadPair('HL', 'text-ready');
  p.call('say');
  p.call('prompt');
  p.jump('main');
};

const mainLoop = (p: Z80Emitter): void => {
  p.label('prompt');
  p.arithmetic('XOR', 'A');
  p.storeA(COUNT);
  p.load('A', 0x3e);
  p.jump('put');

  p.label('main');
  p.loadA(KEY);
  p.arithmetic('OR', 'A');
  p.call('say-key', 'NZ');
  p.loadA(SECOND);
  p.arithmetic('OR', 'A');
  p.call('show-second', 'NZ');
  p.input(ACIA);
  p.plain('RRCA');
  p.branch('main', 'NC');
  p.input(ACIA + 1);
  p.arithmetic('AND', 0x7f);
  p.arithmetic('CP', 0x0d);
  p.branch('obey', 'Z');
  p.arithmetic('CP', 0x20);
  p.branch('main', 'C');
  p.load('C', 'A');
  p.loadA(COUNT);
  p.arithmetic('CP', LINE_BYTES);
  p.branch('main', 'NC');
  p.loadPair('HL', LINE);
  p.arithmetic('ADD', 'L');
  p.load('L', 'A');
  p.load('(HL)', 'C');
  p.incrementPair('HL');
  p.load('(HL)', 0);
  p.loadA(COUNT);
  p.increment('A');
  p.storeA(COUNT);
  p.load('A', 'C');
  p.call('put');
  p.branch('main');

  p.label('obey');
  p.loadPair('HL', 'text-line');
  p.call('say');
  p.loadA(COUNT);
  p.arithmetic('OR', 'A');
  p.branch('obeyed', 'Z');
  p.loadA(LINE);
  p.arithmetic('AND', 0xdf);
  for (const [letter, label] of [
    ['T', 'wait-tick'],
    ['S', 'say-seconds'],
    ['D', 'set-digits'],
    ['L', 'lamp-on'],
    ['O', 'lamp-off'],
    ['C', 'lamp-character'],
  ] as const) {
    p.arithmetic('CP', letter.charCodeAt(0));
    p.jump(label, 'Z');
  }
  p.loadPair('HL', 'text-help');
  p.label('answer');
  p.call('say');
  p.label('obeyed');
  p.call('prompt');
  p.jump('main');

  p.label('say-key');
  p.push('AF');
  p.loadPair('HL', 'text-key');
  p.call('say');
  p.pop('AF');
  p.call('put');
  p.arithmetic('XOR', 'A');
  p.storeA(KEY);
  p.loadPair('HL', 'text-line');
  p.call('say');
  p.jump('prompt');

  p.label('show-second');
  p.arithmetic('XOR', 'A');
  p.storeA(SECOND);
  p.loadA(SHOWING);
  p.arithmetic('OR', 'A');
  p.ret('Z');
  p.load('C', 0xc0);
  p.call('display-order');
  p.loadPair('HL', SECONDS + 1);
  for (const half of ['high', 'low'] as const) {
    p.load('A', '(HL)');
    if (half === 'high') p.decrementPair('HL');
    p.push('AF');
    for (let k = 0; k < 4; k++) p.plain('RRCA');
    p.call('display-digit');
    p.pop('AF');
    p.call('display-digit');
  }
  p.ret();
};

const commands = (p: Z80Emitter): void => {
  for (const [label, mode] of [
    ['lamp-character', 0],
    ['lamp-on', 1],
    ['lamp-off', 2],
  ] as const) {
    p.label(label);
    p.load('A', mode);
    p.storeA(MODE);
    p.jump('obeyed');
  }

  // Waits for a tick; without the CTC there is none, and it gives up.
  p.label('wait-tick');
  p.arithmetic('XOR', 'A');
  p.storeA(TICKED);
  p.loadPair('DE', 0x2000);
  p.label('tick-wait');
  p.loadA(TICKED);
  p.arithmetic('OR', 'A');
  p.loadPair('HL', 'text-tick');
  p.jump('answer', 'NZ');
  p.decrementPair('DE');
  p.load('A', 'D');
  p.arithmetic('OR', 'E');
  p.branch('tick-wait', 'NZ');
  p.loadPair('HL', 'text-no-tick');
  p.jump('answer');

  p.label('say-seconds');
  p.arithmetic('XOR', 'A');
  p.storeA(FIXED);
  p.loadPair('HL', 'text-seconds');
  p.call('say');
  p.loadA(SECONDS + 1);
  p.call('put-two');
  p.loadA(SECONDS);
  p.call('put-two');
  p.loadPair('HL', 'text-line');
  p.jump('answer');

  // Up to four decimal digits after the letter.
  p.label('set-digits');
  p.loadPair('HL', LINE + 1);
  p.loadPair('DE', 0);
  p.label('digits-next');
  p.load('A', '(HL)');
  p.incrementPair('HL');
  p.arithmetic('OR', 'A');
  p.branch('digits-done', 'Z');
  p.arithmetic('SUB', 0x30);
  p.branch('digits-next', 'C');
  p.arithmetic('CP', 10);
  p.branch('digits-next', 'NC');
  p.plain('EX_DE_HL');
  for (let k = 0; k < 4; k++) p.addPair('HL', 'HL');
  p.arithmetic('OR', 'L');
  p.load('L', 'A');
  p.plain('EX_DE_HL');
  p.branch('digits-next');
  p.label('digits-done');
  p.load('A', 1);
  p.storeA(FIXED);
  p.load('A', 'D');
  p.output(DIGITS_HIGH);
  p.load('A', 'E');
  p.output(DIGITS_LOW);
  p.jump('obeyed');
};

const interrupts = (p: Z80Emitter): void => {
  const enter = (label: string): void => {
    p.label(label);
    for (const pair of ['AF', 'BC', 'DE', 'HL'] as const) p.push(pair);
  };
  const leave = (label: string): void => {
    p.label(label);
    for (const pair of ['HL', 'DE', 'BC', 'AF'] as const) p.pop(pair);
    p.plain('EI');
    p.plain('RETI');
  };

  enter('tick');
  p.load('A', 1);
  p.storeA(TICKED);
  p.loadPairFrom('HL', PHASE);
  p.incrementPair('HL');
  p.loadPair('DE', PERIOD);
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('phase-kept', 'NC');
  p.addPair('HL', 'DE');
  p.branch('phase-store');
  p.label('phase-kept');
  p.loadPair('HL', 0);
  p.label('phase-store');
  p.storePair(PHASE, 'HL');
  // C gathers lamp (bit 0), horn (1) and alarm (2).
  p.load('C', 0);
  p.input(SWITCHES);
  p.load('B', 'A');
  p.loadA(MODE);
  p.arithmetic('CP', 1);
  p.branch('lamp-lit', 'Z');
  p.branch('lamp-done', 'NC');
  p.bit(0, 'B');
  p.branch('lamp-done', 'Z');
  FLASHES.forEach((from, k) => {
    p.loadPairFrom('HL', PHASE);
    if (from > 0) {
      p.loadPair('DE', from);
      p.arithmetic('OR', 'A');
      p.sbcPair('DE');
      p.branch(`flash-${k}`, 'C');
    }
    p.loadPair('DE', FLASH);
    p.arithmetic('OR', 'A');
    p.sbcPair('DE');
    p.branch('lamp-lit', 'C');
    p.label(`flash-${k}`);
  });
  // In its character and by night: the watch must not have run out.
  p.input(LIGHT);
  p.bit(3, 'A');
  p.branch('lamp-done', 'NZ');
  p.loadPairFrom('HL', PHASE);
  p.loadPair('DE', FLASHES[1]! + FLASH);
  p.arithmetic('OR', 'A');
  p.sbcPair('DE');
  p.branch('lamp-done', 'NC');
  p.setBit(2, 'C');
  p.branch('lamp-done');
  p.label('lamp-lit');
  p.setBit(0, 'C');
  p.bit(1, 'B');
  p.branch('lamp-done', 'NZ');
  p.setBit(1, 'C');
  p.label('lamp-done');
  p.load('A', 'C');
  p.output(LIGHT);
  // Keys are watched again when all have been up for a while.
  p.loadA(RELEASE);
  p.arithmetic('OR', 'A');
  p.branch('tick-end', 'Z');
  p.load('C', 'A');
  p.input(KEYS);
  p.arithmetic('AND', 0xf0);
  p.arithmetic('CP', 0xf0);
  p.load('A', 5);
  p.branch('release-store', 'NZ');
  p.load('A', 'C');
  p.decrement('A');
  p.label('release-store');
  p.storeA(RELEASE);
  p.arithmetic('OR', 'A');
  p.call('watch-keys', 'Z');
  leave('tick-end');

  enter('second');
  p.load('A', 1);
  p.storeA(SECOND);
  p.loadA(SECONDS);
  p.arithmetic('ADD', 1);
  p.plain('DAA');
  p.storeA(SECONDS);
  p.load('E', 'A');
  p.loadA(SECONDS + 1);
  p.arithmetic('ADC', 0);
  p.plain('DAA');
  p.storeA(SECONDS + 1);
  p.load('D', 'A');
  p.loadA(FIXED);
  p.arithmetic('OR', 'A');
  p.branch('second-end', 'NZ');
  p.load('A', 'D');
  p.output(DIGITS_HIGH);
  p.load('A', 'E');
  p.output(DIGITS_LOW);
  leave('second-end');

  // One row low at a time; the first column that is low is the key.
  enter('key');
  out(p, KEYS_CONTROL, 0x03);
  p.load('A', 5);
  p.storeA(RELEASE);
  p.loadPair('HL', 'keys');
  p.load('B', 4);
  p.load('C', 0xfe);
  p.label('key-row');
  p.load('A', 'C');
  p.output(KEYS);
  p.input(KEYS);
  p.load('D', 4);
  for (let k = 0; k < 4; k++) p.plain('RLCA');
  p.label('key-column');
  p.plain('RRCA');
  p.branch('key-found', 'NC');
  p.incrementPair('HL');
  p.decrement('D');
  p.branch('key-column', 'NZ');
  p.shift('RLC', 'C');
  p.branchWhileB('key-row');
  p.branch('key-idle');
  p.label('key-found');
  p.load('A', '(HL)');
  p.storeA(KEY);
  p.label('key-idle');
  out(p, KEYS, 0);
  leave('key-end');

  // Asks when a column is low; a mask takes back what was asked before.
  p.label('watch-keys');
  out(p, KEYS_CONTROL, 0x97, 0x0f);
  p.ret();
};

const display = (p: Z80Emitter): void => {
  // Nothing there reads 0xFF. One that is there may still be busy with its own reset.
  p.label('display-start');
  p.input(DISPLAY + 2);
  p.increment('A');
  p.ret('Z');
  p.load('A', 1);
  p.storeA(SHOWING);
  for (const order of [0x38, 0x0c, 0x01, 0x06]) {
    p.load('C', order);
    p.call('display-order');
  }
  p.loadPair('HL', 'text-display');
  p.label('display-text');
  p.load('A', '(HL)');
  p.arithmetic('OR', 'A');
  p.ret('Z');
  p.load('C', 'A');
  p.call('display-put');
  p.incrementPair('HL');
  p.branch('display-text');

  p.label('display-order');
  p.call('display-wait');
  p.load('A', 'C');
  p.output(DISPLAY);
  p.ret();

  p.label('display-digit');
  p.arithmetic('AND', 15);
  p.arithmetic('OR', 0x30);
  p.load('C', 'A');
  p.label('display-put');
  p.call('display-wait');
  p.load('A', 'C');
  p.output(DISPLAY + 1);
  p.ret();

  p.label('display-wait');
  p.input(DISPLAY + 2);
  p.plain('RLCA');
  p.branch('display-wait', 'C');
  p.ret();
};

const terminal = (p: Z80Emitter): void => {
  p.label('put');
  p.push('AF');
  p.label('put-wait');
  p.input(ACIA);
  p.arithmetic('AND', 2);
  p.branch('put-wait', 'Z');
  p.pop('AF');
  p.output(ACIA + 1);
  p.ret();

  p.label('say');
  p.load('A', '(HL)');
  p.arithmetic('OR', 'A');
  p.ret('Z');
  p.call('put');
  p.incrementPair('HL');
  p.branch('say');

  // Two decimal digits packed in A.
  p.label('put-two');
  p.push('AF');
  for (let k = 0; k < 4; k++) p.plain('RRCA');
  p.call('put-digit');
  p.pop('AF');
  p.label('put-digit');
  p.arithmetic('AND', 15);
  p.arithmetic('OR', 0x30);
  p.jump('put');
};

const texts = (p: Z80Emitter): void => {
  for (const [name, text] of [
    ['ready', 'LIGHT 1, ALL WELL\r\n'],
    ['help', 'T TICK, S SECONDS, D 4711 DIGITS, L LIT, O OUT, C CHARACTER\r\n'],
    ['tick', 'TICK COMES\r\n'],
    ['no-tick', 'NO TICK\r\n'],
    ['seconds', 'SECONDS '],
    ['key', '\r\nKEY '],
    ['line', '\r\n'],
    ['display', 'LIGHT 1 FL2 10S'],
  ] as const) {
    p.label(`text-${name}`);
    p.text(text);
    p.bytes(0);
  }
  p.label('keys');
  p.text('123A456B789C*0#D');
};
