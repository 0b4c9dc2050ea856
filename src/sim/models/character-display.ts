// Character displays of the HD44780 class. Source: Hitachi HD44780U data sheet (ADE-207-272): instructions and times (table 6: 37 us
// and 1.52 ms at 270 kHz), addresses, shift function (table 7), 4-bit transfer (table 12); the state after its reset from memory.
//
//   RS R/W                         00000001 clear        0000001x home         000001is entry: one up, shift
//   0   0   instruction            00001dcb on, cursor, blink               0001srxx move the cursor or the text
//   0   1   busy flag, address     001dnfxx 8 bits, 2 lines                  01aaaaaa, 1aaaaaaa address of patterns, text
//   1   0   byte in
//   1   1   byte out
//
// A transfer ends with the fall of E. What is written while it is busy is lost, as it may be in life: firmware that does not wait
// shows nothing here. Not modelled: contrast, the shapes of characters, 5 by 10 dots.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { drivenWhere, falls, highs, lows } from './levels.ts';
import type { PartModel } from './model.ts';

const TEXT = 0;
const PATTERNS = TEXT + 128;
const ADDRESS = PATTERNS + 64;
/** 1 while the address is one of patterns. */
const IN_PATTERNS = ADDRESS + 1;
const STEP = ADDRESS + 2;
const SHIFTS = ADDRESS + 3;
/** Bits 2 on, 1 cursor, 0 blink. */
const SHOWN = ADDRESS + 4;
const OFFSET = ADDRESS + 5;
/** Bits 4 eight bits, 3 two lines. */
const FUNCTION = ADDRESS + 6;
/** In 4-bit transfers: 1 when the upper half is done. */
const HALF = ADDRESS + 7;
const UPPER = ADDRESS + 8;
const BUSY = ADDRESS + 9;
const WORDS = ADDRESS + 10;

const SHORT_NS = 37e3;
const LONG_NS = 1.52e6;
/** Busy after power comes on. */
const RESET_NS = 10e6;

const DATA = ['DB0', 'DB1', 'DB2', 'DB3', 'DB4', 'DB5', 'DB6', 'DB7'];
const E = 4;
const RW = 2;

const CLEAR = (s: Int32Array, b: number): void => {
  s.fill(0x20, b + TEXT, b + TEXT + 128);
  s[b + ADDRESS] = 0;
  s[b + IN_PATTERNS] = 0;
  s[b + OFFSET] = 0;
  s[b + STEP] = 1;
};

/** The model of a display. */
export function displayModel(): PartModel {
  const move = (s: Int32Array, b: number, by: number): void => {
    if (s[b + IN_PATTERNS] === 1) {
      s[b + ADDRESS] = (s[b + ADDRESS]! + by) & 63;
      return;
    }
    const at = s[b + ADDRESS]! + by;
    if ((s[b + FUNCTION]! & 8) === 0) s[b + ADDRESS] = (at + 80) % 80;
    else if (at === 0x28) s[b + ADDRESS] = 0x40;
    else if (at === 0x68) s[b + ADDRESS] = 0;
    else if (at === -1) s[b + ADDRESS] = 0x67;
    else if (at === 0x3f) s[b + ADDRESS] = 0x27;
    else s[b + ADDRESS] = at & 0x7f;
  };
  const shift = (s: Int32Array, b: number, by: number): void => {
    s[b + OFFSET] = (s[b + OFFSET]! + by + 40) % 40;
  };
  /** Carries an instruction out; ns that it takes. */
  const instruct = (s: Int32Array, b: number, byte: number): number => {
    if (byte & 0x80) {
      s[b + ADDRESS] = byte & 0x7f;
      s[b + IN_PATTERNS] = 0;
    } else if (byte & 0x40) {
      s[b + ADDRESS] = byte & 0x3f;
      s[b + IN_PATTERNS] = 1;
    } else if (byte & 0x20) {
      s[b + FUNCTION] = byte & 0x1c;
      s[b + HALF] = 0;
    } else if (byte & 0x10) {
      const by = byte & 4 ? 1 : -1;
      if (byte & 8) shift(s, b, -by);
      else move(s, b, by);
    } else if (byte & 8) s[b + SHOWN] = byte & 7;
    else if (byte & 4) {
      s[b + STEP] = byte & 2 ? 1 : -1;
      s[b + SHIFTS] = byte & 1;
    } else if (byte & 2) {
      s[b + ADDRESS] = 0;
      s[b + IN_PATTERNS] = 0;
      s[b + OFFSET] = 0;
      return LONG_NS;
    } else if (byte & 1) {
      CLEAR(s, b);
      return LONG_NS;
    }
    return SHORT_NS;
  };
  const cell = (s: Int32Array, b: number): number =>
    b + (s[b + IN_PATTERNS] === 1 ? PATTERNS + (s[b + ADDRESS]! & 63) : TEXT + (s[b + ADDRESS]! & 127));
  const isWide = (s: Int32Array, b: number): boolean => (s[b + FUNCTION]! & 16) !== 0;
  return {
    ins: [['RS', 'R/W', 'E'], DATA],
    outs: [DATA],
    words: WORDS,
    drivesFrom: [true, false],
    commitsFrom: [true, false],
    power(s, b, _random, moment) {
      s.fill(0, b, b + WORDS);
      CLEAR(s, b);
      s[b + FUNCTION] = 16;
      s[b + BUSY] = 1;
      moment.after(RESET_NS);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      if ((highs(word) & (E | RW)) !== (E | RW)) {
        s[o] = 0;
        return;
      }
      if (!isKnown(word, 1)) {
        s[o] = unknownWord(8);
        return;
      }
      const byte = word & 1 ? s[cell(s, b)]! : (s[b + BUSY]! << 7) | (s[b + ADDRESS]! & 0x7f);
      if (isWide(s, b)) s[o] = wordOf(byte, 8);
      else s[o] = drivenWhere(s[b + HALF] === 1 ? byte << 4 : byte, 0xf0);
    },
    commit(s, b, p, i, moment) {
      const before = s[p]!;
      if (!(falls(before, s[i]!) & E) || !isKnown(before, 3)) return false;
      const isRead = highs(before) & RW;
      const data = s[p + 1]! & 0xff;
      if (!isWide(s, b)) {
        if (s[b + HALF] === 0) {
          // Bits below are not wired or not looked at.
          s[b + UPPER] = data & 0xf0;
          s[b + HALF] = 1;
          return true;
        }
        s[b + HALF] = 0;
      }
      const byte = isWide(s, b) ? data : s[b + UPPER]! | (data >> 4);
      if (isRead) {
        if (before & 1) move(s, b, s[b + STEP]!);
        return true;
      }
      if (s[b + BUSY] === 1) return true;
      let ns = SHORT_NS;
      if (lows(before) & 1) ns = instruct(s, b, byte);
      else {
        s[cell(s, b)] = byte;
        if (s[b + SHIFTS] === 1 && s[b + IN_PATTERNS] === 0) shift(s, b, s[b + STEP]!);
        move(s, b, s[b + STEP]!);
      }
      s[b + BUSY] = 1;
      moment.after(ns);
      return true;
    },
    timeout(s, b) {
      s[b + BUSY] = 0;
      return true;
    },
  };
}

/** What stands on a display, line by line; blank while it is off. Codes that are no ASCII letters show as `?`. */
export function displayText(s: Int32Array, b: number, rows: number, columns: number): string[] {
  const isOn = (s[b + SHOWN]! & 4) !== 0;
  const two = (s[b + FUNCTION]! & 8) !== 0;
  return Array.from({ length: rows }, (_, row) => {
    if (!isOn || (row > 0 && !two)) return ' '.repeat(columns);
    return Array.from({ length: columns }, (_, column) => {
      const code = s[b + TEXT + row * 0x40 + ((column + s[b + OFFSET]!) % 40)]!;
      return code >= 0x20 && code < 0x7e ? String.fromCharCode(code) : '?';
    }).join('');
  });
}
