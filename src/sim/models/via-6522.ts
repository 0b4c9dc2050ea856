// 6522: two ports, two timers, a shift register. Source: WDC W65C22 and Rockwell R6522 data sheets, from memory (register summary,
// port latching, handshake, timers, shift register modes, interrupt flag and enable registers); N + 1.5 and N + 2 of timer 1 as a
// builder measured them (robin-6502-project, June 2020).
//
//   0 port B   1 port A, handshake   2, 3 directions B, A   4, 5 timer 1   6, 7 its latch   8, 9 timer 2   A shift register
//   B auxiliary: 7 PB7 by timer 1, 6 timer 1 goes on, 5 timer 2 counts PB6, 4-2 shift mode, 1-0 latching
//   C peripheral: 7-5 CB2, 4 CB1, 3-1 CA2, 0 CA1     D flags: 7 any, T1 T2 CB1 CB2 SR CA1 CA2     E enables     F port A
//
// A transfer acts at the fall of PHI2 with what stood before; timers count there too. Timer 1 loaded with N sets its flag N + 1
// falls after the load, half a clock before the sheet's N + 1.5; going on, it repeats every N + 2. Timer 2 counts on after its flag.
// Shifts: CB1 gives the clock (every PHI2, or every N + 2 of timer 2's low byte) or takes it; CB2 is bit 7 out, or in at rises.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { drivenWhere, falls, highs, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';

const ORB = 0;
const ORA = 1;
const DDRB = 2;
const DDRA = 3;
const T1 = 4;
const T1_LATCH = 5;
const T2 = 6;
const T2_LATCH = 7;
const SR = 8;
const ACR = 9;
const PCR = 10;
const IFR = 11;
const IER = 12;
/** 1 while a flag is still to come from the timer. */
const T1_ARMED = 13;
const T2_ARMED = 14;
/** 1 where timer 1 takes its latch at the next fall. */
const T1_RELOAD = 15;
const PB7 = 16;
/** Levels of CA2 and CB2 as outputs; 1 where a pulse ends with the next fall. */
const CA2 = 17;
const CB2 = 18;
const PULSES = 19;
/** Input latches, dual-rail. */
const LATCH_A = 20;
const LATCH_B = 21;
/** Clock at CB1, half clocks left of eight bits, falls until the next half clock, the bit at CB2. */
const SHIFT_CLOCK = 22;
const SHIFT_LEFT = 23;
const SHIFT_WAIT = 24;
const SHIFT_BIT = 25;
const WORDS = 26;

const F_CA2 = 1;
const F_CA1 = 2;
const F_SR = 4;
const F_CB2 = 8;
const F_CB1 = 16;
const F_T2 = 32;
const F_T1 = 64;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const PORT = (letter: string): string[] => Array.from({ length: 8 }, (_, k) => `P${letter}${k}`);
const PHI2 = 1;
const RW = 2;
const RESET = 16;
const LINE_CA1 = 1;
const LINE_CA2 = 2;
const LINE_CB1 = 4;
const LINE_CB2 = 8;

/** The model of a 6522. */
export function viaModel(): PartModel {
  const access = (word: number): number => {
    if (!(highs(word) & PHI2) || !(highs(word) & 4) || !(lows(word) & 8)) return 0;
    return highs(word) & RW ? 1 : lows(word) & RW ? 2 : 0;
  };
  const registerOf = (word: number): number => (isKnown(word >>> 5, 15) ? (word >>> 5) & 15 : -1);
  const shiftMode = (s: Int32Array, b: number): number => (s[b + ACR]! >> 2) & 7;
  const raise = (s: Int32Array, b: number, flags: number): void => {
    s[b + IFR]! |= flags;
  };
  const clear = (s: Int32Array, b: number, flags: number): void => {
    s[b + IFR]! &= ~flags;
  };
  const reset = (s: Int32Array, b: number): void => {
    for (const at of [ORB, ORA, DDRB, DDRA, ACR, PCR, IFR, IER, T1_ARMED, T2_ARMED, T1_RELOAD, PULSES, SHIFT_LEFT])
      s[b + at] = 0;
    for (const at of [PB7, CA2, CB2, SHIFT_CLOCK, SHIFT_BIT]) s[b + at] = 1;
  };

  /** Control of CA2 (`half` 0) or CB2 (4): 3 bits. */
  const control2 = (s: Int32Array, b: number, half: number): number => (s[b + PCR]! >> (half + 1)) & 7;
  /** What x2 clears by an access of its port: not where it is an independent input. */
  const portFlags = (s: Int32Array, b: number, isB: boolean): number => {
    const isIndependent = (control2(s, b, isB ? 4 : 0) & 5) === 1;
    return isB ? F_CB1 | (isIndependent ? 0 : F_CB2) : F_CA1 | (isIndependent ? 0 : F_CA2);
  };
  const handshake = (s: Int32Array, b: number, isB: boolean): void => {
    const control = control2(s, b, isB ? 4 : 0);
    if (control !== 4 && control !== 5) return;
    s[b + (isB ? CB2 : CA2)] = 0;
    if (control === 5) s[b + PULSES]! |= isB ? 2 : 1;
  };

  /** Port B as it drives: PB7 may be the timer's. */
  const portB = (s: Int32Array, b: number): { readonly value: number; readonly mask: number } => {
    const timed = s[b + ACR]! & 0x80;
    return {
      value: timed ? (s[b + ORB]! & 0x7f) | (s[b + PB7]! << 7) : s[b + ORB]!,
      mask: s[b + DDRB]! | timed,
    };
  };

  const read = (s: Int32Array, b: number, register: number, i: number): number => {
    switch (register) {
      case 0: {
        const out = s[b + DDRB]! | (s[b + DDRB]! << 16);
        const lines = s[b + ACR]! & 2 && s[b + IFR]! & F_CB1 ? s[b + LATCH_B]! : s[i + 3]! & 0xff00ff;
        return (wordOf(s[b + ORB]!, 8) & out) | (lines & ~out);
      }
      case 1:
      case 15:
        return s[b + ACR]! & 1 && s[b + IFR]! & F_CA1 ? s[b + LATCH_A]! : s[i + 2]! & 0xff00ff;
      case 2:
        return wordOf(s[b + DDRB]!, 8);
      case 3:
        return wordOf(s[b + DDRA]!, 8);
      case 4:
        return wordOf(s[b + T1]!, 8);
      case 5:
        return wordOf(s[b + T1]! >> 8, 8);
      case 6:
        return wordOf(s[b + T1_LATCH]!, 8);
      case 7:
        return wordOf(s[b + T1_LATCH]! >> 8, 8);
      case 8:
        return wordOf(s[b + T2]!, 8);
      case 9:
        return wordOf(s[b + T2]! >> 8, 8);
      case 10:
        return wordOf(s[b + SR]!, 8);
      case 11:
        return wordOf(s[b + ACR]!, 8);
      case 12:
        return wordOf(s[b + PCR]!, 8);
      case 13:
        return wordOf(s[b + IFR]! | (s[b + IFR]! & s[b + IER]! ? 0x80 : 0), 8);
      default:
        return wordOf(s[b + IER]! | 0x80, 8);
    }
  };

  const startShift = (s: Int32Array, b: number): void => {
    clear(s, b, F_SR);
    s[b + SHIFT_LEFT] = 16;
    s[b + SHIFT_WAIT] = shiftHalf(s, b);
  };
  /** Falls of PHI2 for half a clock at CB1. */
  const shiftHalf = (s: Int32Array, b: number): number => {
    const mode = shiftMode(s, b);
    return mode === 2 || mode === 6 ? 1 : (s[b + T2_LATCH]! & 0xff) + 2;
  };

  const afterRead = (s: Int32Array, b: number, register: number): void => {
    if (register === 0) clear(s, b, portFlags(s, b, true));
    else if (register === 1) {
      clear(s, b, portFlags(s, b, false));
      handshake(s, b, false);
    } else if (register === 4) clear(s, b, F_T1);
    else if (register === 8) clear(s, b, F_T2);
    else if (register === 10) startShift(s, b);
  };

  const write = (s: Int32Array, b: number, register: number, byte: number): void => {
    switch (register) {
      case 0:
        s[b + ORB] = byte;
        clear(s, b, portFlags(s, b, true));
        handshake(s, b, true);
        break;
      case 1:
        s[b + ORA] = byte;
        clear(s, b, portFlags(s, b, false));
        handshake(s, b, false);
        break;
      case 2:
        s[b + DDRB] = byte;
        break;
      case 3:
        s[b + DDRA] = byte;
        break;
      case 4:
      case 6:
        s[b + T1_LATCH] = (s[b + T1_LATCH]! & 0xff00) | byte;
        break;
      case 5:
        s[b + T1_LATCH] = (s[b + T1_LATCH]! & 0xff) | (byte << 8);
        s[b + T1] = s[b + T1_LATCH]!;
        s[b + T1_ARMED] = 1;
        s[b + T1_RELOAD] = 0;
        s[b + PB7] = 0;
        clear(s, b, F_T1);
        break;
      case 7:
        s[b + T1_LATCH] = (s[b + T1_LATCH]! & 0xff) | (byte << 8);
        clear(s, b, F_T1);
        break;
      case 8:
        s[b + T2_LATCH] = byte;
        break;
      case 9:
        s[b + T2] = s[b + T2_LATCH]! | (byte << 8);
        s[b + T2_ARMED] = 1;
        clear(s, b, F_T2);
        break;
      case 10:
        s[b + SR] = byte;
        startShift(s, b);
        break;
      case 11:
        s[b + ACR] = byte;
        if (!(byte & 0x80)) s[b + PB7] = 1;
        break;
      case 12:
        s[b + PCR] = byte;
        for (const isB of [false, true]) {
          const control = control2(s, b, isB ? 4 : 0);
          if (control >= 4) s[b + (isB ? CB2 : CA2)] = control === 6 ? 0 : 1;
        }
        break;
      case 13:
        clear(s, b, byte & 0x7f);
        break;
      case 14:
        s[b + IER] = byte & 0x80 ? s[b + IER]! | (byte & 0x7f) : s[b + IER]! & ~byte;
        break;
      default:
        s[b + ORA] = byte;
    }
  };

  /** One half clock at CB1: out at the fall, in at the rise. */
  const shiftEdge = (s: Int32Array, b: number, isRise: boolean, line: number): void => {
    const out = shiftMode(s, b) >= 4;
    if (!isRise && out) {
      const bit = (s[b + SR]! >> 7) & 1;
      s[b + SHIFT_BIT] = bit;
      s[b + SR] = ((s[b + SR]! << 1) | bit) & 0xff;
    } else if (isRise && !out) s[b + SR] = ((s[b + SR]! << 1) | line) & 0xff;
  };

  /** Timers and shifts at a fall of PHI2; true where pins may have changed. */
  const tick = (s: Int32Array, b: number, cb2: number): boolean => {
    let changed = false;
    const acr = s[b + ACR]!;
    if (s[b + T1_RELOAD] === 1) {
      s[b + T1_RELOAD] = 0;
      s[b + T1] = s[b + T1_LATCH]!;
    } else {
      s[b + T1] = (s[b + T1]! - 1) & 0xffff;
      if (s[b + T1] === 0xffff) {
        s[b + T1_RELOAD] = 1;
        if (s[b + T1_ARMED] === 1) {
          raise(s, b, F_T1);
          if (acr & 0x40) s[b + PB7]! ^= 1;
          else {
            s[b + T1_ARMED] = 0;
            s[b + PB7] = 1;
          }
          changed = true;
        }
        // Without going on it counts down from the top.
        if (!(acr & 0x40)) s[b + T1_RELOAD] = 0;
      }
    }
    if (!(acr & 0x20) && countT2(s, b)) changed = true;
    const mode = shiftMode(s, b);
    if (mode !== 0 && mode !== 3 && mode !== 7 && (s[b + SHIFT_LEFT]! > 0 || mode === 4)) {
      s[b + SHIFT_WAIT]!--;
      if (s[b + SHIFT_WAIT]! <= 0) {
        s[b + SHIFT_WAIT] = shiftHalf(s, b);
        s[b + SHIFT_CLOCK]! ^= 1;
        shiftEdge(s, b, s[b + SHIFT_CLOCK] === 1, cb2);
        // Mode 4 goes round and round and sets no flag.
        if (mode !== 4) {
          s[b + SHIFT_LEFT]!--;
          if (s[b + SHIFT_LEFT] === 0) raise(s, b, F_SR);
        }
        changed = true;
      }
    }
    return changed;
  };

  const countT2 = (s: Int32Array, b: number): boolean => {
    s[b + T2] = (s[b + T2]! - 1) & 0xffff;
    if (s[b + T2] !== 0xffff || s[b + T2_ARMED] !== 1) return false;
    s[b + T2_ARMED] = 0;
    raise(s, b, F_T2);
    return true;
  };

  /** Edges at CA1, CA2, CB1, CB2. */
  const lines = (s: Int32Array, b: number, p: number, i: number): boolean => {
    const up = rises(s[p + 4]!, s[i + 4]!);
    const down = falls(s[p + 4]!, s[i + 4]!);
    if ((up | down) === 0) return false;
    const pcr = s[b + PCR]!;
    let changed = false;
    for (const isB of [false, true]) {
      const half = isB ? 4 : 0;
      const one = isB ? LINE_CB1 : LINE_CA1;
      const two = isB ? LINE_CB2 : LINE_CA2;
      if (((pcr >> half) & 1 ? up : down) & one) {
        // The port is taken with the first edge only, until it is read.
        if (!(s[b + IFR]! & (isB ? F_CB1 : F_CA1))) s[b + (isB ? LATCH_B : LATCH_A)] = s[i + (isB ? 3 : 2)]! & 0xff00ff;
        raise(s, b, isB ? F_CB1 : F_CA1);
        if (control2(s, b, half) === 4) s[b + (isB ? CB2 : CA2)] = 1;
        changed = true;
      }
      const control = control2(s, b, half);
      if (control < 4 && (control & 2 ? up : down) & two) {
        raise(s, b, isB ? F_CB2 : F_CA2);
        changed = true;
      }
    }
    const mode = shiftMode(s, b);
    if ((mode === 3 || mode === 7) && (up | down) & LINE_CB1) {
      shiftEdge(s, b, (up & LINE_CB1) !== 0, highs(s[i + 4]!) & LINE_CB2 ? 1 : 0);
      s[b + SHIFT_LEFT]!--;
      if (s[b + SHIFT_LEFT]! <= 0) {
        raise(s, b, F_SR);
        s[b + SHIFT_LEFT] = 16;
      }
      changed = true;
    }
    return changed;
  };

  return {
    ins: [
      ['PHI2', 'R/W', 'CS1', '/CS2', '/RES', 'RS0', 'RS1', 'RS2', 'RS3'],
      DATA,
      PORT('A'),
      PORT('B'),
      ['CA1', 'CA2', 'CB1', 'CB2'],
    ],
    outs: [DATA, PORT('A'), PORT('B'), ['CA2', 'CB1', 'CB2'], ['/IRQ']],
    words: WORDS,
    drivesFrom: [true, false, true, true, false],
    commitsFrom: [true, false, false, true, true],
    power(s, b, random) {
      s.fill(0, b, b + WORDS);
      for (const at of [T1, T1_LATCH, T2, SR]) s[b + at] = random() & (at === SR ? 0xff : 0xffff);
      s[b + T2_LATCH] = random() & 0xff;
      s[b + LATCH_A] = unknownWord(8);
      s[b + LATCH_B] = unknownWord(8);
      reset(s, b);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      const register = registerOf(word);
      if (access(word) === 1) s[o] = register < 0 ? unknownWord(8) : read(s, b, register, i);
      else s[o] = 0;
      s[o + 1] = drivenWhere(s[b + ORA]!, s[b + DDRA]!);
      const { value, mask } = portB(s, b);
      s[o + 2] = drivenWhere(value, mask);
      const mode = shiftMode(s, b);
      const clocks = mode !== 0 && mode !== 3 && mode !== 7;
      const shiftsOut = mode >= 4;
      s[o + 3] = drivenWhere(
        s[b + CA2]! | (s[b + SHIFT_CLOCK]! << 1) | ((shiftsOut ? s[b + SHIFT_BIT]! : s[b + CB2]!) << 2),
        (control2(s, b, 0) >= 4 ? 1 : 0) |
          (clocks ? 2 : 0) |
          (shiftsOut || (mode === 0 && control2(s, b, 4) >= 4) ? 4 : 0),
      );
      s[o + 4] = s[b + IFR]! & s[b + IER]! ? 0x10000 : 0;
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      if (lows(now) & RESET) {
        if (lows(before) & RESET) return false;
        reset(s, b);
        return true;
      }
      let changed = false;
      if (falls(before, now) & PHI2) {
        if (s[b + PULSES] !== 0) {
          if (s[b + PULSES]! & 1) s[b + CA2] = 1;
          if (s[b + PULSES]! & 2) s[b + CB2] = 1;
          s[b + PULSES] = 0;
          changed = true;
        }
        if (tick(s, b, highs(s[p + 4]!) & LINE_CB2 ? 1 : 0)) changed = true;
        const was = access(before);
        const register = registerOf(before);
        if (was !== 0 && register >= 0) {
          if (was === 1) afterRead(s, b, register);
          else write(s, b, register, s[p + 1]! & 0xff);
          changed = true;
        }
      }
      if (s[p + 3] !== s[i + 3] && s[b + ACR]! & 0x20 && falls(s[p + 3]!, s[i + 3]!) & 0x40 && countT2(s, b))
        changed = true;
      if (s[p + 4] !== s[i + 4] && lines(s, b, p, i)) changed = true;
      return changed;
    },
  };
}
