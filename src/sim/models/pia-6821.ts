// 6821: two ports of eight lines with four handshake lines. Source: Motorola MC6821 data sheet (DS9435): internal addressing
// (table), control word format, control of CA1/CB1 and of CA2/CB2 (tables 3 to 6); all from memory.
//
//   RS1 RS0   CRA2/CRB2 1      0                control  7 flag of x1, 6 of x2; 5-3 control of x2; 2 data, not direction; 1 rising
//   0   0     data A           direction A               edge of x1; 0 enables its interrupt
//   0   1     control A
//   1   0, 1  the same of B
//
// A transfer acts at the fall of E with what stood before. A's data read the lines; B's read the latch where a line goes out. x2 as
// an output: 100 handshake (A: low after a read of the data, B: after a write; high again at the active edge of x1), 101 a pulse
// of one E, 110 low, 111 high.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { drivenWhere, falls, highs, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';

// Of one side.
const DATA_OUT = 0;
const DIRECTION = 1;
const CONTROL = 2;
const FLAGS = 3;
/** Level of x2 as an output. */
const LINE = 4;
/** 1 where the next fall of E ends a pulse at x2. */
const PULSE = 5;
const SIZE = 6;
const WORDS = 2 * SIZE;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const PORT = (letter: string): string[] => Array.from({ length: 8 }, (_, k) => `P${letter}${k}`);
const E = 1;
const RW = 2;
const RESET = 128;

/** The model of a 6821. */
export function piaModel(): PartModel {
  const isSelected = (word: number): boolean => (highs(word) & 12) === 12 && (lows(word) & 16) !== 0;
  /** 1 read, 2 write, 0 neither. */
  const access = (word: number): number => {
    if (!(highs(word) & E) || !isSelected(word)) return 0;
    return highs(word) & RW ? 1 : lows(word) & RW ? 2 : 0;
  };
  /** RS0 + 2 RS1, or -1. */
  const addressOf = (word: number): number => (isKnown(word >>> 5, 3) ? (word >>> 5) & 3 : -1);
  const isOutput2 = (control: number): boolean => (control & 0x20) !== 0;
  const reset = (s: Int32Array, b: number): void => {
    s.fill(0, b, b + WORDS);
    s[b + LINE] = 1;
    s[b + SIZE + LINE] = 1;
  };
  const read = (s: Int32Array, b: number, address: number, i: number): number => {
    const side = address >> 1;
    const c = b + side * SIZE;
    const control = s[c + CONTROL]!;
    if (address & 1) return wordOf(control | s[c + FLAGS]!, 8);
    if (!(control & 4)) return wordOf(s[c + DIRECTION]!, 8);
    const lines = s[i + 2 + side]! & 0xff00ff;
    if (side === 0) return lines;
    const out = s[c + DIRECTION]! | (s[c + DIRECTION]! << 16);
    return (wordOf(s[c + DATA_OUT]!, 8) & out) | (lines & ~out);
  };
  /** x2 goes low after an access to the data: handshake or pulse. */
  const strobe = (s: Int32Array, c: number): void => {
    const control = s[c + CONTROL]!;
    if ((control & 0x30) !== 0x20) return;
    s[c + LINE] = 0;
    s[c + PULSE] = control & 8 ? 1 : 0;
  };
  const asks = (s: Int32Array, c: number): boolean => {
    const control = s[c + CONTROL]!;
    const flags = s[c + FLAGS]!;
    return ((control & 1) !== 0 && (flags & 0x80) !== 0) || ((control & 0x28) === 8 && (flags & 0x40) !== 0);
  };
  return {
    ins: [
      ['E', 'R/W', 'CS0', 'CS1', '/CS2', 'RS0', 'RS1', '/RESET'],
      DATA,
      PORT('A'),
      PORT('B'),
      ['CA1', 'CA2', 'CB1', 'CB2'],
    ],
    outs: [DATA, PORT('A'), PORT('B'), ['CA2', 'CB2'], ['/IRQA', '/IRQB']],
    words: WORDS,
    drivesFrom: [true, false, true, true, false],
    commitsFrom: [true, false, false, false, true],
    power(s, b) {
      reset(s, b);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      const address = addressOf(word);
      if (access(word) === 1) s[o] = address < 0 ? unknownWord(8) : read(s, b, address, i);
      else s[o] = 0;
      for (let side = 0; side < 2; side++) {
        const c = b + side * SIZE;
        s[o + 1 + side] = drivenWhere(s[c + DATA_OUT]!, s[c + DIRECTION]!);
      }
      const [a, other] = [b, b + SIZE];
      s[o + 3] = drivenWhere(
        s[a + LINE]! | (s[other + LINE]! << 1),
        (isOutput2(s[a + CONTROL]!) ? 1 : 0) | (isOutput2(s[other + CONTROL]!) ? 2 : 0),
      );
      s[o + 4] = drivenWhere(0, (asks(s, a) ? 1 : 0) | (asks(s, other) ? 2 : 0));
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      let changed = false;
      if (lows(now) & RESET) {
        if (lows(before) & RESET) return false;
        reset(s, b);
        return true;
      }
      if (before !== now && falls(before, now) & E) {
        // Pulses end with the next E.
        for (let side = 0; side < 2; side++) {
          const c = b + side * SIZE;
          if (s[c + PULSE] !== 1) continue;
          s[c + PULSE] = 0;
          s[c + LINE] = 1;
          changed = true;
        }
        const was = access(before);
        const address = addressOf(before);
        if (was !== 0 && address >= 0) {
          changed = true;
          const side = address >> 1;
          const c = b + side * SIZE;
          const byte = s[p + 1]! & 0xff;
          const isData = (address & 1) === 0 && (s[c + CONTROL]! & 4) !== 0;
          if (was === 1) {
            if (isData) {
              s[c + FLAGS] = 0;
              if (side === 0) strobe(s, c);
            }
          } else if (address & 1) {
            s[c + CONTROL] = byte & 0x3f;
            if ((byte & 0x30) === 0x30) s[c + LINE] = (byte >> 3) & 1;
            else if (isOutput2(byte)) s[c + LINE] = 1;
            // As an output x2 sets no flag.
            if (isOutput2(byte)) s[c + FLAGS]! &= ~0x40;
          } else if (isData) {
            s[c + DATA_OUT] = byte;
            if (side === 1) strobe(s, c);
          } else s[c + DIRECTION] = byte;
        }
      }
      if (s[p + 4] !== s[i + 4]) {
        const up = rises(s[p + 4]!, s[i + 4]!);
        const down = falls(s[p + 4]!, s[i + 4]!);
        for (let side = 0; side < 2; side++) {
          const c = b + side * SIZE;
          const control = s[c + CONTROL]!;
          const one = 1 << (2 * side);
          if ((control & 2 ? up : down) & one) {
            s[c + FLAGS]! |= 0x80;
            if ((control & 0x38) === 0x20) s[c + LINE] = 1;
            changed = true;
          }
          if (!isOutput2(control) && (control & 0x10 ? up : down) & (one << 1)) {
            s[c + FLAGS]! |= 0x40;
            changed = true;
          }
        }
      }
      return changed;
    },
  };
}
