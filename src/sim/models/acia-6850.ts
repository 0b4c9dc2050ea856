// 6850 serial port. Source: Motorola MC6850 data sheet: control register as listed from it in net.micro (16 Sep 1982), status bits
// as in a lecture's notes (Clarkson, up12); overrun, carrier and /CTS from memory of the sheet (DS9493-R4).
//
//   RS R/W   register                control: 1-0 divide by 1, 16, 64, master reset; 4-2 word; 6-5 /RTS and transmitter; 7 receiver
//   0   W    control                 status: 0 receive full, 1 transmit empty, 2 /DCD, 3 /CTS, 4 framing, 5 overrun, 6 parity,
//   0   R    status                  7 /IRQ
//   1   W    transmit data
//   1   R    receive data
//
// A transfer acts at the fall of E with what stood before. After power-up nothing works until a master reset. A loss of carrier is
// kept, with its interrupt, until status and then data are read. Not modelled: the internal power-on reset's details.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { driven, falls, highs, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';
import {
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

const CONTROL = 0;
/** Bits 0, 1, 4, 5, 6 of the status. */
const STATUS = 1;
const SENDING = 2;
const RECEIVED = 3;
/** 0 carrier, 1 lost, 2 lost and the status was read. */
const CARRIER = 4;
/** An overrun that shows with the next read. */
const OVERRUN = 5;
const SENDER = 6;
const RECEIVER = SENDER + SENDER_WORDS;
const WORDS = RECEIVER + RECEIVER_WORDS;

const RDRF = 1;
const TDRE = 2;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const BUS = ['E', 'R/W', 'CS0', 'CS1', '/CS2', 'RS'];
const E = 1;
const RW = 2;
const CS = 12;
const CS2 = 16;

/** Bits, parity, stop by bits 4 to 2 of the control register. */
const FRAMES: readonly Omit<Frame, 'divider'>[] = [
  { bits: 7, parity: 2, stop: 4 },
  { bits: 7, parity: 1, stop: 4 },
  { bits: 7, parity: 2, stop: 2 },
  { bits: 7, parity: 1, stop: 2 },
  { bits: 8, parity: 0, stop: 4 },
  { bits: 8, parity: 0, stop: 2 },
  { bits: 8, parity: 2, stop: 2 },
  { bits: 8, parity: 1, stop: 2 },
];
const DIVIDERS = [1, 16, 64];
const ALL_FRAMES: readonly (readonly Frame[])[] = DIVIDERS.map((divider) =>
  FRAMES.map((frame) => ({ ...frame, divider })),
);

/** The model of a 6850. */
export function aciaModel(): PartModel {
  const frameOf = (control: number): Frame | undefined => ALL_FRAMES[control & 3]?.[(control >> 2) & 7];
  const isSelected = (word: number): boolean => (highs(word) & CS) === CS && (lows(word) & CS2) !== 0;
  /** 1 read, 2 write, 0 neither. */
  const access = (word: number): number => {
    if ((highs(word) & E) === 0 || !isSelected(word)) return 0;
    return highs(word) & RW ? 1 : lows(word) & RW ? 2 : 0;
  };
  const asks = (s: Int32Array, b: number): boolean => {
    const control = s[b + CONTROL]!;
    if ((control & 3) === 3) return false;
    const receives = (control & 0x80) !== 0 && ((s[b + STATUS]! & RDRF) !== 0 || s[b + CARRIER] !== 0);
    return receives || ((control & 0x60) === 0x20 && (s[b + STATUS]! & TDRE) !== 0);
  };
  /** The status as it reads: with /CTS high the transmitter does not show empty. */
  const status = (s: Int32Array, b: number, modem: number): number => {
    let value = s[b + STATUS]!;
    if (s[b + CARRIER] !== 0 || highs(modem) & 1) value = (value | 4) & ~RDRF;
    if (highs(modem) & 2) value = (value | 8) & ~TDRE;
    if (asks(s, b) && !(highs(modem) & 2 && (s[b + CONTROL]! & 0x80) === 0)) value |= 0x80;
    return value;
  };
  const reset = (s: Int32Array, b: number): void => {
    s[b + STATUS] = 0;
    s[b + CARRIER] = 0;
    s[b + OVERRUN] = 0;
    restSender(s, b + SENDER);
    restReceiver(s, b + RECEIVER);
  };
  return {
    ins: [BUS, DATA, ['RxDATA'], ['RxCLK', 'TxCLK'], ['/DCD', '/CTS']],
    outs: [DATA, ['TxDATA', '/RTS'], ['/IRQ']],
    words: WORDS,
    drivesFrom: [true, false, false, false, true],
    commitsFrom: [true, false, false, true, true],
    power(s, b) {
      s.fill(0, b, b + WORDS);
      s[b + CONTROL] = 3;
      reset(s, b);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      if (access(word) === 1) {
        if (!isKnown(word >>> 5, 1)) s[o] = unknownWord(8);
        else s[o] = wordOf((word >>> 5) & 1 ? s[b + RECEIVED]! : status(s, b, s[i + 4]!), 8);
      } else s[o] = 0;
      const control = s[b + CONTROL]!;
      // Both bits set send a break.
      const line = (control & 0x60) === 0x60 ? 0 : s[b + SENDER + LINE]!;
      const rts = (control & 0x60) === 0x40 ? 1 : 0;
      s[o + 1] = driven(line | (rts << 1), 2);
      const isMuted = (highs(s[i + 4]!) & 2) !== 0 && (control & 0x80) === 0;
      s[o + 2] = asks(s, b) && !isMuted ? 0x10000 : 0;
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      let changed = false;
      if (before !== now && falls(before, now) & E) {
        const was = access(before);
        const rs = isKnown(before >>> 5, 1) ? (before >>> 5) & 1 : -1;
        if (was !== 0 && rs >= 0) {
          changed = true;
          const byte = s[p + 1]! & 0xff;
          if (was === 2 && rs === 0) {
            const old = s[b + CONTROL]!;
            s[b + CONTROL] = byte;
            if ((byte & 3) === 3) reset(s, b);
            else if ((old & 3) === 3) s[b + STATUS]! |= TDRE;
          } else if (was === 2) {
            if ((s[b + CONTROL]! & 3) !== 3) {
              s[b + SENDING] = byte;
              s[b + STATUS]! &= ~TDRE;
            }
          } else if (rs === 0) {
            if (s[b + CARRIER] === 1) s[b + CARRIER] = 2;
          } else {
            s[b + STATUS]! &= ~(RDRF | 0x70);
            if (s[b + OVERRUN] === 1) {
              // The overrun shows when the last good character was read.
              s[b + OVERRUN] = 0;
              s[b + STATUS]! |= 0x20 | RDRF;
            }
            if (s[b + CARRIER] === 2) s[b + CARRIER] = 0;
          }
        }
      }
      if (s[p + 4] !== s[i + 4]) {
        if (rises(s[p + 4]!, s[i + 4]!) & 1 && s[b + CARRIER] === 0) {
          s[b + CARRIER] = 1;
          restReceiver(s, b + RECEIVER);
        }
        changed = true;
      }
      if (s[p + 3] === s[i + 3]) return changed;
      const frame = frameOf(s[b + CONTROL]!);
      if (frame === undefined) return changed;
      if (falls(s[p + 3]!, s[i + 3]!) & 2) {
        const sender = b + SENDER;
        if (!isSending(s, sender) && (s[b + STATUS]! & TDRE) === 0) {
          send(s, sender, s[b + SENDING]!, frame);
          s[b + STATUS]! |= TDRE;
          changed = true;
        }
        if (sendClock(s, sender, frame.divider) !== 0) changed = true;
      }
      if (rises(s[p + 3]!, s[i + 3]!) & 1 && !(highs(s[i + 4]!) & 1)) {
        const came = receiveClock(s, b + RECEIVER, lows(s[i + 2]!) & 1 ? 0 : 1, frame);
        if (came >= 0) {
          if (s[b + STATUS]! & RDRF) s[b + OVERRUN] = 1;
          else {
            s[b + RECEIVED] = came & 0xff;
            s[b + STATUS]! =
              (s[b + STATUS]! & ~0x50) | RDRF | (came & FRAME_ERROR ? 0x10 : 0) | (came & PARITY_ERROR ? 0x40 : 0);
          }
          changed = true;
        }
      }
      return changed;
    },
  };
}
