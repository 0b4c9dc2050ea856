// Z80 CTC: four channels that count clocks or pulses. Source: Zilog UM0081 (Z80 CPU Peripherals, UM008101-0601), CTC: channel control
// register (table 2), modes, programming, interrupts; from memory where noted.
//
//   control word: 7 interrupt, 6 counter, 5 prescaler 256 (else 16), 4 rising edge, 3 trigger starts the timer,
//                 2 time constant follows, 1 reset, 0 always 1; with 0 at 0 the vector (channel 0 only)
//
// A channel counts down from its constant (0 is 256) and begins again by itself; at zero ZC/TO is high for one clock (from memory)
// and, where enabled, an interrupt is asked for. A timer begins with the second rise of the clock after the write, as the manual
// has it (T2 of the next machine cycle). A pulse counts at the next rise of the clock.
// Not modelled: an edge made by changing bit 4.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { driven, falls, lows, put, rises } from './levels.ts';
import type { PartModel } from './model.ts';
import {
  accessOf,
  acknowledged,
  admit,
  ask,
  CHAIN_PINS,
  CHAIN_WORDS,
  enablesNext,
  follow,
  isAsking,
  withdraw,
} from './z80-chain.ts';

const CHAIN = 0;
const VECTOR = CHAIN_WORDS;
const OUT = VECTOR + 1;
const CHANNELS = OUT + 1;
// Of one channel.
const CONTROL = 0;
const CONSTANT = 1;
const COUNT = 2;
const PRESCALER = 3;
/** 0 stopped, 1 runs, 2 waits for a trigger, 3 and 4 start in one clock and in two. */
const RUN = 4;
/** The next byte is the time constant. */
const LOADING = 5;
/** A pulse that counts at the next rise. */
const PULSE = 6;
const SIZE = 7;
const WORDS = CHANNELS + 4 * SIZE;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const PINS = [...CHAIN_PINS, '/RESET', 'CS0', 'CS1'];
const RESET = 32;
const COUNTS = ['CLK/TRG0', 'CLK/TRG1', 'CLK/TRG2', 'CLK/TRG3'];

const full = (constant: number): number => (constant === 0 ? 256 : constant);

/** The model of a CTC. */
export function ctcModel(): PartModel {
  const reset = (s: Int32Array, b: number): void => {
    for (let k = 0; k < 4; k++) {
      const c = b + CHANNELS + k * SIZE;
      s[c + RUN] = 0;
      s[c + LOADING] = 0;
      s[c + PULSE] = 0;
      s[c + CONTROL]! &= 0x7f;
    }
    s[b + OUT] = 0;
    s.fill(0, b + CHAIN, b + CHAIN + CHAIN_WORDS);
  };

  const write = (s: Int32Array, b: number, channel: number, byte: number): void => {
    const c = b + CHANNELS + channel * SIZE;
    if (s[c + LOADING] === 1) {
      s[c + LOADING] = 0;
      s[c + CONSTANT] = byte;
      // A channel that runs takes the new constant at its next zero.
      if (s[c + RUN] === 1) return;
      s[c + COUNT] = full(byte);
      const control = s[c + CONTROL]!;
      s[c + PRESCALER] = 0;
      s[c + RUN] = control & 0x40 ? 1 : control & 8 ? 2 : 4;
      return;
    }
    if ((byte & 1) === 0) {
      if (channel === 0) s[b + VECTOR] = byte & 0xf8;
      return;
    }
    s[c + CONTROL] = byte;
    if (byte & 2) s[c + RUN] = 0;
    if (byte & 4) s[c + LOADING] = 1;
    if ((byte & 0x80) === 0) withdraw(s, b + CHAIN, 1 << channel);
  };

  const count = (s: Int32Array, b: number, channel: number): boolean => {
    const c = b + CHANNELS + channel * SIZE;
    s[c + COUNT]!--;
    if (s[c + COUNT]! > 0) return false;
    s[c + COUNT] = full(s[c + CONSTANT]!);
    if (s[c + CONTROL]! & 0x80) ask(s, b + CHAIN, 1 << channel);
    s[b + OUT]! |= 1 << channel;
    return true;
  };

  /** One rise of the clock. */
  const clock = (s: Int32Array, b: number): boolean => {
    let changed = s[b + OUT] !== 0;
    s[b + OUT] = 0;
    for (let channel = 0; channel < 4; channel++) {
      const c = b + CHANNELS + channel * SIZE;
      const run = s[c + RUN]!;
      if (run === 0) continue;
      const control = s[c + CONTROL]!;
      if (control & 0x40) {
        if (s[c + PULSE] === 0) continue;
        s[c + PULSE] = 0;
        if (count(s, b, channel)) changed = true;
        continue;
      }
      if (run === 1) {
        s[c + PRESCALER]!++;
        if (s[c + PRESCALER]! < (control & 0x20 ? 256 : 16)) continue;
        s[c + PRESCALER] = 0;
        if (count(s, b, channel)) changed = true;
      } else if (run === 2) {
        if (s[c + PULSE] === 0) continue;
        s[c + PULSE] = 0;
        s[c + RUN] = 3;
      } else s[c + RUN] = run === 4 ? 3 : 1;
    }
    return changed;
  };

  const channelOf = (control: number): number => (isKnown(control >>> 6, 3) ? (control >>> 6) & 3 : -1);

  return {
    ins: [PINS, DATA, ['CLK'], COUNTS],
    outs: [DATA, ['ZC/TO0', 'ZC/TO1', 'ZC/TO2', 'IEO'], ['/INT']],
    words: WORDS,
    drivesFrom: [true, false, false, false],
    commitsFrom: [true, false, true, true],
    power(s, b, random) {
      s.fill(0, b, b + WORDS);
      s[b + VECTOR] = random() & 0xf8;
      for (let k = 0; k < 4; k++) s[b + CHANNELS + k * SIZE + COUNT] = (random() & 0xff) + 1;
    },
    drive(s, b, i, o) {
      const control = s[i]!;
      const source = acknowledged(s, b + CHAIN, control);
      if (source >= 0) s[o] = wordOf(s[b + VECTOR]! | (source << 1), 8);
      else if (accessOf(control) === 1) {
        const channel = channelOf(control);
        s[o] = channel < 0 ? unknownWord(8) : wordOf(s[b + CHANNELS + channel * SIZE + COUNT]!, 8);
      } else s[o] = 0;
      s[o + 1] = driven(s[b + OUT]! | (enablesNext(s, b + CHAIN, control) ? 8 : 0), 4);
      s[o + 2] = isAsking(s, b + CHAIN, control) ? 0x10000 : 0;
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      // A fall of the clock alone does nothing.
      const rise = rises(s[p + 2]!, s[i + 2]!);
      if (before === now && rise === 0 && s[p + 3] === s[i + 3]) return false;
      let changed = false;
      if (before !== now) {
        if (follow(s, b + CHAIN, before, now, s[p + 1]!) !== 0) changed = true;
        if (accessOf(before) === 2 && accessOf(now) !== 2) {
          const channel = channelOf(before);
          if (channel >= 0) {
            write(s, b, channel, s[p + 1]! & 0xff);
            changed = true;
          }
        }
      }
      if (lows(now) & RESET) {
        if (!(lows(before) & RESET)) {
          reset(s, b);
          changed = true;
        }
        return changed;
      }
      // What counts at this rise is what came before it.
      if (rise !== 0 && clock(s, b)) changed = true;
      if (s[p + 3] !== s[i + 3]) {
        const up = rises(s[p + 3]!, s[i + 3]!);
        const down = falls(s[p + 3]!, s[i + 3]!);
        for (let channel = 0; channel < 4; channel++) {
          const c = b + CHANNELS + channel * SIZE;
          const control = s[c + CONTROL]!;
          const edge = (control & 0x10 ? up : down) & (1 << channel);
          const wants = control & 0x40 ? s[c + RUN] !== 0 : s[c + RUN] === 2;
          if (edge !== 0 && wants) put(s, c + PULSE, 1);
        }
      }
      if (admit(s, b + CHAIN, now)) changed = true;
      return changed;
    },
  };
}
