// 8251A serial port in its asynchronous modes. Source: Intel 8251A data sheet (205222): mode instruction, command instruction,
// status read, TxRDY and /CTS, break detect; all from memory. Synchronous modes are not modelled: a mode
// word that asks for one leaves the line at rest and nothing received.
//
//   mode     ss pp ll bb   stop bits 1, 1.5, 2; parity on, even; 5 to 8 bits; clock by 1, 16, 64 (00 synchronous)
//   command  EH IR RTS ER SBRK RxE DTR TxEN
//   status   DSR SYNDET/BD FE OE PE TxEMPTY RxRDY TxRDY
//
// After a reset the first control byte is the mode, the next ones are commands. The status bit TxRDY says that the buffer is empty; the
// pin waits for TxEN and /CTS too. A transfer acts when its strobe ends.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { driven, falls, highs, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';
import {
  BREAK,
  FRAME_ERROR,
  type Frame,
  isSending,
  LINE,
  PARITY_ERROR,
  receiveClock,
  RECEIVER_WORDS,
  restReceiver,
  restSender,
  send,
  SENDER_WORDS,
  sendClock,
} from './serial-line.ts';

const MODE = 0;
const COMMAND = 1;
/** The next control byte is the mode. */
const WANTS_MODE = 2;
/** 1 while a byte waits to be sent, and the byte. */
const WAITING = 3;
const BYTE = 4;
const RECEIVED = 5;
const READY = 6;
/** PE, OE, FE as in the status: bits 3 to 5; break at 6. */
const ERRORS = 7;
const SENDER = 8;
const RECEIVER = SENDER + SENDER_WORDS;
const WORDS = RECEIVER + RECEIVER_WORDS;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const CS = 1;
const RD = 2;
const WR = 4;
const RESET = 8;
const CONTROL = 16;
const TXEN = 1;
const RXE = 4;
const SBRK = 8;

const DIVIDERS = [0, 1, 16, 64];
/** Every mode word's frame; undefined for synchronous ones and for no stop bit. */
const FRAMES: readonly (Frame | undefined)[] = Array.from({ length: 256 }, (_, mode): Frame | undefined => {
  const divider = DIVIDERS[mode & 3]!;
  const stop = [0, 2, 3, 4][mode >> 6]!;
  if (divider === 0 || stop === 0) return undefined;
  return { bits: 5 + ((mode >> 2) & 3), parity: mode & 16 ? (mode & 32 ? 2 : 1) : 0, stop, divider };
});

/** The model of an 8251A. */
export function usartModel(): PartModel {
  const access = (word: number): number => {
    const low = lows(word);
    if (!(low & CS)) return 0;
    return low & RD ? 1 : low & WR ? 2 : 0;
  };
  const isEmpty = (s: Int32Array, b: number): boolean => s[b + WAITING] === 0 && !isSending(s, b + SENDER);
  const status = (s: Int32Array, b: number, modem: number): number =>
    (s[b + WAITING] === 0 ? 1 : 0) |
    (s[b + READY] === 1 ? 2 : 0) |
    (isEmpty(s, b) ? 4 : 0) |
    s[b + ERRORS]! |
    (lows(modem) & 2 ? 0x80 : 0);
  const reset = (s: Int32Array, b: number): void => {
    s.fill(0, b, b + WORDS);
    s[b + WANTS_MODE] = 1;
    restSender(s, b + SENDER);
    restReceiver(s, b + RECEIVER);
  };
  return {
    ins: [['/CS', '/RD', '/WR', 'RESET', 'C//D'], DATA, ['RxD'], ['/RxC', '/TxC'], ['/CTS', '/DSR']],
    outs: [DATA, ['TxD', '/RTS', '/DTR', 'RxRDY', 'TxRDY', 'TxEMPTY', 'SYNDET/BD']],
    words: WORDS,
    drivesFrom: [true, false, false, false, true],
    commitsFrom: [true, false, false, true, false],
    power(s, b) {
      reset(s, b);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      if (access(word) === 1) {
        if (!isKnown(word >>> 4, 1)) s[o] = unknownWord(8);
        else s[o] = wordOf(word & CONTROL ? status(s, b, s[i + 4]!) : s[b + RECEIVED]!, 8);
      } else s[o] = 0;
      const command = s[b + COMMAND]!;
      const isOn = (command & TXEN) !== 0 && (lows(s[i + 4]!) & 1) !== 0;
      let out = command & SBRK ? 0 : s[b + SENDER + LINE]!;
      if (!(command & 0x20)) out |= 2;
      if (!(command & 2)) out |= 4;
      if (s[b + READY] === 1) out |= 8;
      if (isOn && s[b + WAITING] === 0) out |= 16;
      if (isEmpty(s, b)) out |= 32;
      if (s[b + ERRORS]! & 0x40) out |= 64;
      s[o + 1] = driven(out, 7);
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      let changed = false;
      if (before !== now) {
        if (highs(now) & RESET) {
          if (highs(before) & RESET) return false;
          reset(s, b);
          return true;
        }
        const was = access(before);
        if (was !== 0 && access(now) !== was && isKnown(before >>> 4, 1)) {
          changed = true;
          const byte = s[p + 1]! & 0xff;
          if (was === 1) {
            if (!(before & CONTROL)) s[b + READY] = 0;
          } else if (!(before & CONTROL)) {
            s[b + BYTE] = byte;
            s[b + WAITING] = 1;
          } else if (s[b + WANTS_MODE] === 1) {
            s[b + MODE] = byte;
            s[b + WANTS_MODE] = 0;
          } else if (byte & 0x40) reset(s, b);
          else {
            s[b + COMMAND] = byte;
            if (byte & 0x10) s[b + ERRORS]! &= ~0x38;
          }
        }
      }
      const frame = s[b + WANTS_MODE] === 1 ? undefined : FRAMES[s[b + MODE]!];
      if (s[p + 3] === s[i + 3] || frame === undefined) return changed;
      const command = s[b + COMMAND]!;
      if (falls(s[p + 3]!, s[i + 3]!) & 2) {
        const sender = b + SENDER;
        if (!isSending(s, sender) && s[b + WAITING] === 1 && command & TXEN && lows(s[i + 4]!) & 1) {
          send(s, sender, s[b + BYTE]!, frame);
          s[b + WAITING] = 0;
          changed = true;
        }
        if (sendClock(s, sender, frame.divider) !== 0) changed = true;
      }
      if (rises(s[p + 3]!, s[i + 3]!) & 1 && command & RXE) {
        const line = lows(s[i + 2]!) & 1 ? 0 : 1;
        if (line === 1 && s[b + ERRORS]! & 0x40) {
          s[b + ERRORS]! &= ~0x40;
          changed = true;
        }
        const came = receiveClock(s, b + RECEIVER, line, frame);
        if (came >= 0) {
          if (s[b + READY] === 1) s[b + ERRORS]! |= 0x10;
          s[b + RECEIVED] = came & 0xff;
          s[b + READY] = 1;
          if (came & PARITY_ERROR) s[b + ERRORS]! |= 8;
          if (came & FRAME_ERROR) s[b + ERRORS]! |= 0x20;
          if (came & BREAK) s[b + ERRORS]! |= 0x40;
          changed = true;
        }
      }
      return changed;
    },
  };
}
