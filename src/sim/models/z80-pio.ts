// Z80 PIO: two ports of eight lines with handshake and interrupts, all four modes. Source: Zilog Z80 PIO technical manual (reset,
// vector, modes, interrupt control word, timing of each mode; read in Sharp's reprint, MZ-80B manual pages 114 to 120) and Zilog
// UM0081 (Z80 CPU Peripherals); from memory where noted.
//
//   control words:  xxxxxxx0 vector   mm--1111 mode (0 output, 1 input, 2 both ways, 3 bits; then the directions, 1 input)
//                   eAPm0111 interrupts: enable, and (else or), high (else low), mask follows (a 0 watches its line)
//                   e---0011 interrupts on or off
//
// Mode 0: a write makes RDY high; the end of /STB makes it low and asks. Mode 1: lines are taken while /STB is low; its end asks
// and makes RDY low until the processor reads. Mode 2 (port A): output with A's handshake, driving while /ASTB is low, input
// with B's. Mode 3: asks when the watched lines come to what is asked for. /M1 alone, without /RD or /IORQ, resets (the manual).
// Not modelled: RDY follows at once and not at a fall of the clock; what a read of the control registers gives (unknown).

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { driven, drivenWhere, lows } from './levels.ts';
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
  LONE_M1,
  withdraw,
} from './z80-chain.ts';

const CHAIN = 0;
const PORTS = CHAIN_WORDS;
// Of one port.
const MODE = 0;
const OUTPUT = 1;
const INPUT = 2;
const DIRECTION = 3;
const MASK = 4;
const INTERRUPTS = 5;
const VECTOR = 6;
/** 0 a control word comes next, 1 the directions, 2 the mask. */
const NEXT = 7;
const READY = 8;
/** The watched lines are as asked for. */
const MATCH = 9;
/** Mode 2: the input is taken and not yet read, output is waiting. */
const INPUT_READY = 10;
const SIZE = 11;
const WORDS = PORTS + 2 * SIZE;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const PINS = [...CHAIN_PINS, 'C//D', 'B//A'];
const PORT = (letter: string): string[] => Array.from({ length: 8 }, (_, k) => `P${letter}${k}`);
const STROBES = ['/ASTB', '/BSTB'];

/** The model of a PIO. */
export function pioModel(): PartModel {
  const at = (b: number, port: number): number => b + PORTS + port * SIZE;

  const reset = (s: Int32Array, b: number): void => {
    s.fill(0, b + CHAIN, b + CHAIN + CHAIN_WORDS);
    for (let port = 0; port < 2; port++) {
      const c = at(b, port);
      s[c + MODE] = 1;
      s[c + OUTPUT] = 0;
      s[c + MASK] = 0xff;
      s[c + INTERRUPTS] = 0;
      s[c + NEXT] = 0;
      s[c + READY] = 0;
      s[c + MATCH] = 0;
      s[c + INPUT_READY] = 0;
    }
  };

  const control = (s: Int32Array, b: number, port: number, byte: number): void => {
    const c = at(b, port);
    if (s[c + NEXT] === 1) {
      s[c + DIRECTION] = byte;
      s[c + NEXT] = 0;
    } else if (s[c + NEXT] === 2) {
      s[c + MASK] = byte;
      s[c + NEXT] = 0;
    } else if ((byte & 1) === 0) s[c + VECTOR] = byte;
    else if ((byte & 15) === 15) {
      s[c + MODE] = byte >> 6;
      s[c + READY] = 0;
      s[c + INPUT_READY] = byte >> 6 === 2 ? 1 : 0;
      if (byte >> 6 === 3) s[c + NEXT] = 1;
    } else if ((byte & 15) === 7) {
      s[c + INTERRUPTS] = byte & 0xe0;
      if (byte & 16) {
        s[c + NEXT] = 2;
        withdraw(s, b + CHAIN, 1 << port);
        s[c + MATCH] = 0;
      }
    } else if ((byte & 15) === 3) s[c + INTERRUPTS] = (s[c + INTERRUPTS]! & 0x60) | (byte & 0x80);
    if ((s[c + INTERRUPTS]! & 0x80) === 0) withdraw(s, b + CHAIN, 1 << port);
  };

  const asks = (s: Int32Array, b: number, port: number): void => {
    if (s[at(b, port) + INTERRUPTS]! & 0x80) ask(s, b + CHAIN, 1 << port);
  };

  /** A port's byte as the processor reads it, dual-rail. */
  const read = (s: Int32Array, b: number, port: number, lines: number): number => {
    const c = at(b, port);
    const mode = s[c + MODE]!;
    if (mode === 0) return wordOf(s[c + OUTPUT]!, 8);
    if (mode !== 3) return s[c + INPUT]!;
    const inputs = s[c + DIRECTION]!;
    const both = inputs | (inputs << 16);
    return (lines & both) | (wordOf(s[c + OUTPUT]!, 8) & ~both & 0xff00ff);
  };

  const isControl = (word: number): boolean => ((word >>> 5) & 1) === 1;
  const portOf = (word: number): number => (isKnown(word >>> 5, 3) ? (word >>> 6) & 1 : -1);

  /** Mode 3: asks when the watched lines come to what is asked for. */
  const watch = (s: Int32Array, b: number, port: number, lines: number): boolean => {
    const c = at(b, port);
    if (s[c + MODE] !== 3) return false;
    const watched = ~s[c + MASK]! & 0xff;
    const word = read(s, b, port, lines);
    const wanted = s[c + INTERRUPTS]! & 0x20 ? word & 0xff & ~(word >>> 16) : (word >>> 16) & 0xff & ~word;
    const hit = wanted & watched;
    const match = watched !== 0 && (s[c + INTERRUPTS]! & 0x40 ? hit === watched : hit !== 0) ? 1 : 0;
    if (match === s[c + MATCH] || s[c + NEXT] !== 0) return false;
    s[c + MATCH] = match;
    if (match === 1) asks(s, b, port);
    return true;
  };

  return {
    ins: [PINS, DATA, PORT('A'), PORT('B'), STROBES],
    outs: [DATA, PORT('A'), PORT('B'), ['ARDY', 'BRDY', 'IEO'], ['/INT']],
    words: WORDS,
    drivesFrom: [true, false, true, true, true],
    commitsFrom: [true, false, true, true, true],
    power(s, b, random) {
      s.fill(0, b, b + WORDS);
      for (let port = 0; port < 2; port++) {
        s[at(b, port) + VECTOR] = random() & 0xfe;
        s[at(b, port) + INPUT] = unknownWord(8);
      }
      reset(s, b);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      const source = acknowledged(s, b + CHAIN, word);
      const port = portOf(word);
      if (source >= 0) s[o] = wordOf(s[at(b, source) + VECTOR]!, 8);
      else if (accessOf(word) === 1)
        s[o] = port < 0 || isControl(word) ? unknownWord(8) : read(s, b, port, s[i + 2 + port]!);
      else s[o] = 0;
      let ready = 0;
      for (let k = 0; k < 2; k++) {
        const c = at(b, k);
        const mode = s[c + MODE]!;
        const mask =
          mode === 0
            ? 0xff
            : mode === 3
              ? ~s[c + DIRECTION]! & 0xff
              : mode === 2 && k === 0 && lows(s[i + 4]!) & 1
                ? 0xff
                : 0;
        s[o + 1 + k] = drivenWhere(s[c + OUTPUT]!, mask);
        if (s[c + READY] === 1) ready |= 1 << k;
      }
      // In mode 2 B's handshake is that of A's input.
      if (s[at(b, 0) + MODE] === 2) ready = (ready & 1) | (s[at(b, 0) + INPUT_READY]! << 1);
      s[o + 3] = driven(ready | (enablesNext(s, b + CHAIN, word) ? 4 : 0), 3);
      s[o + 4] = isAsking(s, b + CHAIN, word) ? 0x10000 : 0;
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      let changed = false;
      if (before !== now) {
        const bus = follow(s, b + CHAIN, before, now, s[p + 1]!);
        if (bus !== 0) changed = true;
        if (bus & LONE_M1) {
          reset(s, b);
          changed = true;
        }
        const was = accessOf(before);
        const port = portOf(before);
        if (was !== 0 && accessOf(now) !== was && port >= 0) {
          const c = at(b, port);
          const mode = s[c + MODE]!;
          changed = true;
          if (was === 2 && isControl(before)) control(s, b, port, s[p + 1]! & 0xff);
          else if (was === 2) {
            s[c + OUTPUT] = s[p + 1]! & 0xff;
            if (mode === 0 || mode === 2) s[c + READY] = 1;
          } else if (!isControl(before) && mode === 1) s[c + READY] = 1;
          else if (!isControl(before) && mode === 2) s[c + INPUT_READY] = 1;
        }
      }
      // Lines and strobes that stand still do nothing, but for what was just written.
      const isQuiet = !changed && s[p + 2] === s[i + 2] && s[p + 3] === s[i + 3] && s[p + 4] === s[i + 4];
      if (isQuiet) return admit(s, b + CHAIN, now);
      const strobes = s[i + 4]!;
      for (let k = 0; k < 2; k++) {
        const c = at(b, k);
        const mode = s[c + MODE]!;
        const wasLow = (lows(s[p + 4]!) >> k) & 1;
        const isLow = (lows(strobes) >> k) & 1;
        const ends = wasLow === 1 && isLow === 0;
        if (mode === 1 && isLow === 1 && s[c + INPUT] !== s[i + 2 + k]) {
          s[c + INPUT] = s[i + 2 + k]!;
          changed = true;
        }
        if (mode === 0 && ends && s[c + READY] === 1) {
          s[c + READY] = 0;
          asks(s, b, k);
          changed = true;
        } else if (mode === 1 && ends) {
          s[c + READY] = 0;
          asks(s, b, k);
          changed = true;
        } else if (mode === 2 && k === 0) {
          if (ends && s[c + READY] === 1) {
            s[c + READY] = 0;
            asks(s, b, 0);
            changed = true;
          }
          const inWas = (lows(s[p + 4]!) >> 1) & 1;
          const inIs = (lows(strobes) >> 1) & 1;
          if (inIs === 1 && s[c + INPUT] !== s[i + 2]) {
            s[c + INPUT] = s[i + 2]!;
            changed = true;
          }
          if (inWas === 1 && inIs === 0) {
            s[c + INPUT_READY] = 0;
            // Input in mode 2 asks with B's vector (from memory).
            asks(s, b, 1);
            changed = true;
          }
        }
        if (watch(s, b, k, s[i + 2 + k]!)) changed = true;
      }
      if (admit(s, b + CHAIN, now)) changed = true;
      return changed;
    },
  };
}
