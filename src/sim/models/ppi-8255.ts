// 8255A: three ports of eight lines, modes 0, 1 and 2. Source: Intel 8255A data sheet, output control signals of mode 1 (read in the
// reprint of the Tandy 1000 technical reference manual, page 230); the rest of the 8255A/82C55A sheet (231308/231256) from memory.
//
//   control word  1 mm a c m b c   group A mode, port A in, upper C in, group B mode, port B in, lower C in
//                 0 --- bbb v      sets or clears one bit of port C (in modes 1 and 2 the enables INTE among them)
//
// Handshake lines on port C: input  /STB (PC4, PC2) in, IBF (PC5, PC1), INTR (PC3, PC0) out
//                            output /ACK (PC6, PC2) in, /OBF (PC7, PC1), INTR out
// A read or write acts when its strobe ends, where a real part takes INTR back with the strobe's beginning. Reading port C in
// modes 1 and 2 gives the status: the INTE bits stand where the lines
// that come in would. A read of the control word gives it back (82C55A; the NMOS part does not).

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { drivenWhere, falls, highs, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';

const CONTROL = 0;
/** Output latches of A, B, C. */
const OUT = 1;
/** Input latches of A and B in modes 1 and 2, dual-rail. */
const LATCH = 4;
const INTE_A_IN = 6;
const INTE_A_OUT = 7;
const INTE_B = 8;
const IBF_A = 9;
const OBF_A = 10;
/** IBF or OBF of group B, asserted is 1. */
const FLAG_B = 11;
const INTR_A = 12;
const INTR_B = 13;
const WORDS = 14;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const PORT = (letter: string): string[] => Array.from({ length: 8 }, (_, k) => `P${letter}${k}`);
const CS = 1;
const RD = 2;
const WR = 4;
const RESET = 8;

/** The model of an 8255. */
export function ppiModel(): PartModel {
  const access = (word: number): number => {
    const low = lows(word);
    if (!(low & CS) || highs(word) & RESET) return 0;
    return low & RD ? 1 : low & WR ? 2 : 0;
  };
  const addressOf = (word: number): number => (isKnown(word >>> 4, 3) ? (word >>> 4) & 3 : -1);
  /** 0, 1 or 2. */
  const modeA = (s: Int32Array, b: number): number => Math.min(2, (s[b + CONTROL]! >> 5) & 3);
  const modeB = (s: Int32Array, b: number): number => (s[b + CONTROL]! >> 2) & 1;
  const aIn = (s: Int32Array, b: number): boolean => modeA(s, b) !== 2 && (s[b + CONTROL]! & 0x10) !== 0;
  const bIn = (s: Int32Array, b: number): boolean => (s[b + CONTROL]! & 2) !== 0;

  const setControl = (s: Int32Array, b: number, byte: number): void => {
    s[b + CONTROL] = byte;
    // A change of mode clears all latches and flags.
    for (let k = OUT; k < OUT + 3; k++) s[b + k] = 0;
    for (let k = INTE_A_IN; k < WORDS; k++) s[b + k] = 0;
  };

  /** Lines of port C as they drive: value and which of them. */
  const portC = (s: Int32Array, b: number): { readonly value: number; readonly mask: number } => {
    let value = s[b + OUT + 2]!;
    let mask = (s[b + CONTROL]! & 8 ? 0 : 0xf0) | (s[b + CONTROL]! & 1 ? 0 : 0x0f);
    const line = (bit: number, level: number): void => {
      mask |= 1 << bit;
      value = level ? value | (1 << bit) : value & ~(1 << bit);
    };
    const input = (bit: number): void => {
      mask &= ~(1 << bit);
    };
    const mode = modeA(s, b);
    if (mode !== 0) {
      line(3, s[b + INTR_A]!);
      const isInput = mode === 2 || aIn(s, b);
      if (isInput) {
        input(4);
        line(5, s[b + IBF_A]!);
      }
      if (mode === 2 || !aIn(s, b)) {
        input(6);
        line(7, s[b + OBF_A]! ^ 1);
      }
    }
    if (modeB(s, b) === 1) {
      line(0, s[b + INTR_B]!);
      input(2);
      line(1, bIn(s, b) ? s[b + FLAG_B]! : s[b + FLAG_B]! ^ 1);
    }
    return { value, mask };
  };

  /** Port C as it reads, dual-rail: lines, with the enables in place of handshake inputs. */
  const readC = (s: Int32Array, b: number, lines: number): number => {
    const { value, mask } = portC(s, b);
    let word = (wordOf(value, 8) & (mask | (mask << 16))) | (lines & ~(mask | (mask << 16)) & 0xff00ff);
    const status = (bit: number, level: number): void => {
      word = (word & ~(0x10001 << bit)) | (level ? 1 << bit : 0x10000 << bit);
    };
    const mode = modeA(s, b);
    if (mode === 2 || (mode === 1 && aIn(s, b))) status(4, s[b + INTE_A_IN]!);
    if (mode === 2 || (mode === 1 && !aIn(s, b))) status(6, s[b + INTE_A_OUT]!);
    if (modeB(s, b) === 1) status(2, s[b + INTE_B]!);
    return word;
  };

  const read = (s: Int32Array, b: number, address: number, i: number): number => {
    if (address === 3) return wordOf(s[b + CONTROL]!, 8);
    if (address === 2) return readC(s, b, s[i + 4]!);
    if (address === 0) {
      if (modeA(s, b) === 2 || (modeA(s, b) === 1 && aIn(s, b))) return s[b + LATCH]!;
      return aIn(s, b) ? s[i + 2]! & 0xff00ff : wordOf(s[b + OUT]!, 8);
    }
    if (bIn(s, b)) return modeB(s, b) === 1 ? s[b + LATCH + 1]! : s[i + 3]! & 0xff00ff;
    return wordOf(s[b + OUT + 1]!, 8);
  };

  const write = (s: Int32Array, b: number, address: number, byte: number): void => {
    if (address === 3) {
      if (byte & 0x80) {
        setControl(s, b, byte);
        return;
      }
      const bit = (byte >> 1) & 7;
      const level = byte & 1;
      const mode = modeA(s, b);
      if (mode !== 0 && bit === 4 && (mode === 2 || aIn(s, b))) {
        s[b + INTE_A_IN] = level;
        if (level === 0) s[b + INTR_A] = 0;
      } else if (mode !== 0 && bit === 6 && (mode === 2 || !aIn(s, b))) {
        s[b + INTE_A_OUT] = level;
        if (level === 0) s[b + INTR_A] = 0;
        else if (s[b + OBF_A] === 0) s[b + INTR_A] = 1;
      } else if (modeB(s, b) === 1 && bit === 2) {
        s[b + INTE_B] = level;
        if (level === 0) s[b + INTR_B] = 0;
        else if (!bIn(s, b) && s[b + FLAG_B] === 0) s[b + INTR_B] = 1;
      } else s[b + OUT + 2] = level ? s[b + OUT + 2]! | (1 << bit) : s[b + OUT + 2]! & ~(1 << bit);
      return;
    }
    s[b + OUT + address] = byte;
    if (address === 0 && modeA(s, b) !== 0 && !aIn(s, b)) {
      s[b + OBF_A] = 1;
      if (modeA(s, b) === 1 || s[b + IBF_A] === 0) s[b + INTR_A] = 0;
    }
    if (address === 1 && modeB(s, b) === 1 && !bIn(s, b)) {
      s[b + FLAG_B] = 1;
      s[b + INTR_B] = 0;
    }
  };

  const afterRead = (s: Int32Array, b: number, address: number): void => {
    if (address === 0 && (modeA(s, b) === 2 || (modeA(s, b) === 1 && aIn(s, b)))) {
      s[b + IBF_A] = 0;
      s[b + INTR_A] = modeA(s, b) === 2 && s[b + INTE_A_OUT] === 1 && s[b + OBF_A] === 0 ? 1 : 0;
    } else if (address === 1 && modeB(s, b) === 1 && bIn(s, b)) {
      s[b + FLAG_B] = 0;
      s[b + INTR_B] = 0;
    }
  };

  /** Edges of the handshake lines that come in. */
  const handshake = (s: Int32Array, b: number, p: number, i: number): boolean => {
    const down = falls(s[p + 4]!, s[i + 4]!);
    const up = rises(s[p + 4]!, s[i + 4]!);
    if (down === 0 && up === 0) return false;
    let changed = false;
    const mode = modeA(s, b);
    if (mode === 2 || (mode === 1 && aIn(s, b))) {
      if (down & 0x10) {
        s[b + LATCH] = s[i + 2]! & 0xff00ff;
        s[b + IBF_A] = 1;
        changed = true;
      }
      if (up & 0x10 && s[b + INTE_A_IN] === 1 && s[b + IBF_A] === 1) {
        s[b + INTR_A] = 1;
        changed = true;
      }
    }
    if (mode === 2 || (mode === 1 && !aIn(s, b))) {
      if (down & 0x40) {
        s[b + OBF_A] = 0;
        changed = true;
      }
      if (up & 0x40 && s[b + INTE_A_OUT] === 1 && s[b + OBF_A] === 0) {
        s[b + INTR_A] = 1;
        changed = true;
      }
    }
    if (modeB(s, b) === 1) {
      if (down & 4) {
        if (bIn(s, b)) s[b + LATCH + 1] = s[i + 3]! & 0xff00ff;
        s[b + FLAG_B] = bIn(s, b) ? 1 : 0;
        changed = true;
      }
      if (up & 4 && s[b + INTE_B] === 1 && s[b + FLAG_B] === (bIn(s, b) ? 1 : 0)) {
        s[b + INTR_B] = 1;
        changed = true;
      }
    }
    return changed;
  };

  return {
    ins: [['/CS', '/RD', '/WR', 'RESET', 'A0', 'A1'], DATA, PORT('A'), PORT('B'), PORT('C')],
    outs: [DATA, PORT('A'), PORT('B'), PORT('C')],
    words: WORDS,
    drivesFrom: [true, false, true, true, true],
    commitsFrom: [true, false, false, false, true],
    power(s, b) {
      s.fill(0, b, b + WORDS);
      setControl(s, b, 0x9b);
      s[b + LATCH] = unknownWord(8);
      s[b + LATCH + 1] = unknownWord(8);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      const address = addressOf(word);
      if (access(word) === 1) s[o] = address < 0 ? unknownWord(8) : read(s, b, address, i);
      else s[o] = 0;
      // Mode 2 drives while it is acknowledged.
      const a = modeA(s, b) === 2 ? (lows(s[i + 4]!) & 0x40 ? 0xff : 0) : aIn(s, b) ? 0 : 0xff;
      s[o + 1] = drivenWhere(s[b + OUT]!, a);
      s[o + 2] = drivenWhere(s[b + OUT + 1]!, bIn(s, b) ? 0 : 0xff);
      const { value, mask } = portC(s, b);
      s[o + 3] = drivenWhere(value, mask);
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      let changed = false;
      if (before !== now) {
        if (highs(now) & RESET) {
          if (highs(before) & RESET) return false;
          setControl(s, b, 0x9b);
          return true;
        }
        const was = access(before);
        const address = addressOf(before);
        if (was !== 0 && address >= 0 && (access(now) !== was || addressOf(now) !== address)) {
          if (was === 1) afterRead(s, b, address);
          else write(s, b, address, s[p + 1]! & 0xff);
          changed = true;
        }
      }
      if (s[p + 4] !== s[i + 4] && handshake(s, b, p, i)) changed = true;
      return changed;
    },
  };
}
