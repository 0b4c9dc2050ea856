// Z80 SIO: two serial ports, asynchronous modes. Source: Zilog UM0081 (Z80 CPU Peripherals, UM008101-0601), SIO: interrupts and their
// priorities (page 228), read registers 0 and 1 (pages 292, 297); write registers and the table of the vector from memory. Synchronous modes, DMA and the /W//RDY lines are not modelled: they
// stay open, and a port set to a synchronous mode sends and receives nothing.
//
//   WR0 register (2-0), command (5-3): 2 reset external/status, 3 channel reset, 4 interrupt on next character, 5 reset the
//       transmitter's interrupt, 6 error reset, 7 return from interrupt (A only)
//   WR1 external, transmitter, status in the vector (B), receiver (4-3: none, first, all with and without parity)
//   WR2 vector (B)     WR3 receiver: 7-6 bits, 5 auto enables, 0 on    WR4 7-6 clock by 1, 16, 32, 64; 3-2 stop; 1-0 parity
//   WR5 7 DTR, 6-5 bits, 4 break, 3 on, 1 RTS    RR0 break .. CTS . DCD TBE ... RX    RR1 frame, overrun, parity, all sent
//
// Priorities: A receiver, A transmitter, A external/status, then B's. The vector with status: bits 3 to 1 are 000 B transmitter,
// 001 B external, 010 B receiver, 011 B special, and 1xx the same of A.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { driven, falls, lows, rises } from './levels.ts';
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
  SERVICE,
  withdraw,
} from './z80-chain.ts';

const CHAIN = 0;
const CHANNELS = CHAIN_WORDS;
// Of one channel: write registers 0 to 7, then
const POINTER = 8;
const WAITING = 9;
const BYTE = 10;
/** Characters received with errors above, and how many. */
const QUEUE = 11;
const COUNT = 14;
const OVERRUN = 15;
const BREAKING = 16;
/** The first character is still to ask (receive interrupts on the first). */
const FIRST = 17;
/** External status as it was latched, and whether it is. */
const EXTERNAL = 18;
const LATCHED = 19;
const SENDER = 20;
const RECEIVER = SENDER + SENDER_WORDS;
const SIZE = RECEIVER + RECEIVER_WORDS;
const WORDS = CHANNELS + 2 * SIZE;

/** Sources of a channel, by priority. */
const RX = 1;
const TX = 2;
const EXT = 4;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const RESET = 32;
const DIVIDERS = [1, 16, 32, 64];
const BITS = [5, 7, 6, 8];

/** Frames by clock, parity, stop, bits: kept, for one is asked for at each edge of a clock. */
const FRAMES = new Map<number, Frame>();
function frameOf(wr4: number, bits: number): Frame | undefined {
  if ((wr4 & 12) === 0) return undefined;
  const key = (wr4 << 4) | bits;
  let frame = FRAMES.get(key);
  if (frame === undefined) {
    frame = {
      bits,
      parity: wr4 & 1 ? (wr4 & 2 ? 2 : 1) : 0,
      stop: ((wr4 >> 2) & 3) + 1,
      divider: DIVIDERS[wr4 >> 6]!,
    };
    FRAMES.set(key, frame);
  }
  return frame;
}

/** The model of an SIO; the bondings differ in their clocks and modem lines. `has` says whether there is such a pin. */
export function sioModel(has: (pin: string) => boolean): PartModel {
  const pick = (...names: readonly string[]): string => names.find(has) ?? names[0]!;
  const rxb = pick('/RxCB', '/RxTxCB');
  const txb = pick('/TxCB', '/RxTxCB');
  const outs = ['TxDA', '/RTSA', '/DTRA', 'TxDB', '/RTSB', ...(has('/DTRB') ? ['/DTRB'] : [])];

  const channel = (b: number, k: number): number => b + CHANNELS + k * SIZE;
  const source = (k: number, which: number): number => which << (3 * k);

  const resetChannel = (s: Int32Array, b: number, k: number): void => {
    const c = channel(b, k);
    const vector = s[c + 2]!;
    s.fill(0, c, c + SIZE);
    s[c + 2] = vector;
    restSender(s, c + SENDER);
    restReceiver(s, c + RECEIVER);
    withdraw(s, b + CHAIN, source(k, RX | TX | EXT));
  };

  /** DCD (bit 3), CTS (5), break (7) as RR0 has them. */
  const external = (s: Int32Array, b: number, k: number, modem: number): number => {
    const low = lows(modem) >> (2 * k);
    return (low & 1 ? 8 : 0) | (low & 2 ? 0x20 : 0) | (s[channel(b, k) + BREAKING] === 1 ? 0x80 : 0);
  };

  const rr0 = (s: Int32Array, b: number, k: number, modem: number): number => {
    const c = channel(b, k);
    const status = s[c + LATCHED] === 1 ? s[c + EXTERNAL]! : external(s, b, k, modem);
    const asking = k === 0 && (s[b + CHAIN]! | s[b + CHAIN + SERVICE]!) !== 0 ? 2 : 0;
    return status | (s[c + COUNT]! > 0 ? 1 : 0) | asking | (s[c + WAITING] === 0 ? 4 : 0);
  };

  const rr1 = (s: Int32Array, b: number, k: number): number => {
    const c = channel(b, k);
    const head = s[c + COUNT]! > 0 ? s[c + QUEUE]! : 0;
    const isSent = s[c + WAITING] === 0 && !isSending(s, c + SENDER);
    return (
      (isSent ? 1 : 0) |
      (head & PARITY_ERROR ? 0x10 : 0) |
      (s[c + OVERRUN] === 1 ? 0x20 : 0) |
      (head & FRAME_ERROR ? 0x40 : 0)
    );
  };

  const isSpecial = (s: Int32Array, b: number, k: number): boolean => {
    const mask = (s[channel(b, k) + 1]! & 0x18) === 0x10 ? 0x70 : 0x60;
    return (rr1(s, b, k) & mask) !== 0;
  };

  /** The vector for a source, with its status where WR1 of channel B says so. */
  const vectorFor = (s: Int32Array, b: number, which: number): number => {
    const vector = s[channel(b, 1) + 2]!;
    if (!(s[channel(b, 1) + 1]! & 4)) return vector;
    let status = 3;
    if (which >= 0) {
      const k = which < 3 ? 0 : 1;
      const kind = which % 3;
      const code = kind === 1 ? 0 : kind === 2 ? 1 : isSpecial(s, b, k) ? 3 : 2;
      status = code | (k === 0 ? 4 : 0);
    }
    return (vector & 0xf1) | (status << 1);
  };

  const asksNow = (s: Int32Array, b: number): number => {
    const asking = s[b + CHAIN]!;
    return asking === 0 ? -1 : 31 - Math.clz32(asking & -asking);
  };

  const readControl = (s: Int32Array, b: number, k: number, modem: number): number => {
    const c = channel(b, k);
    const register = s[c + POINTER]!;
    if (register === 1) return rr1(s, b, k);
    if (register === 2 && k === 1) return vectorFor(s, b, asksNow(s, b));
    return rr0(s, b, k, modem);
  };

  const write = (s: Int32Array, b: number, k: number, byte: number, modem: number): void => {
    const c = channel(b, k);
    const register = s[c + POINTER]!;
    s[c + POINTER] = 0;
    if (register !== 0) {
      s[c + register] = byte;
      if (register === 1) {
        if (!(byte & 2)) withdraw(s, b + CHAIN, source(k, TX));
        if (!(byte & 1)) withdraw(s, b + CHAIN, source(k, EXT));
        if (!(byte & 0x18)) withdraw(s, b + CHAIN, source(k, RX));
        if ((byte & 0x18) === 8) s[c + FIRST] = 1;
      }
      return;
    }
    s[c + POINTER] = byte & 7;
    switch ((byte >> 3) & 7) {
      case 2:
        s[c + LATCHED] = 0;
        s[c + EXTERNAL] = external(s, b, k, modem);
        withdraw(s, b + CHAIN, source(k, EXT));
        break;
      case 3:
        resetChannel(s, b, k);
        break;
      case 4:
        s[c + FIRST] = 1;
        break;
      case 5:
        withdraw(s, b + CHAIN, source(k, TX));
        break;
      case 6:
        s[c + OVERRUN] = 0;
        break;
      case 7:
        if (k === 0) s[b + CHAIN + SERVICE]! &= s[b + CHAIN + SERVICE]! - 1;
        break;
      default:
    }
  };

  const readData = (s: Int32Array, b: number, k: number): void => {
    const c = channel(b, k);
    if (s[c + COUNT]! === 0) return;
    s[c + QUEUE] = s[c + QUEUE + 1]!;
    s[c + QUEUE + 1] = s[c + QUEUE + 2]!;
    s[c + COUNT]!--;
    if (s[c + COUNT] === 0) withdraw(s, b + CHAIN, source(k, RX));
    else arrived(s, b, k);
  };

  /** Asks for a character where the channel's mode says so. */
  const arrived = (s: Int32Array, b: number, k: number): void => {
    const c = channel(b, k);
    const mode = s[c + 1]! & 0x18;
    if (mode === 0) return;
    if (mode === 8 && s[c + FIRST] === 0 && !isSpecial(s, b, k)) return;
    s[c + FIRST] = 0;
    ask(s, b + CHAIN, source(k, RX));
  };

  const receive = (s: Int32Array, b: number, k: number, line: number, modem: number): boolean => {
    const c = channel(b, k);
    const wr3 = s[c + 3]!;
    if (!(wr3 & 1) || (wr3 & 0x20 && !((lows(modem) >> (2 * k)) & 1))) return false;
    if (line === 1 && s[c + BREAKING] === 1) {
      s[c + BREAKING] = 0;
      changedExternal(s, b, k, modem);
    }
    const frame = frameOf(s[c + 4]!, BITS[wr3 >> 6]!);
    if (frame === undefined) return false;
    const came = receiveClock(s, c + RECEIVER, line, frame);
    if (came < 0) return false;
    if (came & BREAK) {
      s[c + BREAKING] = 1;
      changedExternal(s, b, k, modem);
    }
    // Bits above the character are high (from memory).
    const word = came | (0xff & (-1 << frame.bits));
    if (s[c + COUNT] === 3) {
      s[c + OVERRUN] = 1;
      s[c + QUEUE + 2] = word;
    } else s[c + QUEUE + s[c + COUNT]!++] = word;
    arrived(s, b, k);
    return true;
  };

  const transmit = (s: Int32Array, b: number, k: number, modem: number): boolean => {
    const c = channel(b, k);
    const wr5 = s[c + 5]!;
    let changed = false;
    if (!isSending(s, c + SENDER) && s[c + WAITING] === 1 && wr5 & 8) {
      const isHeld = s[c + 3]! & 0x20 && !((lows(modem) >> (2 * k)) & 2);
      const frame = isHeld ? undefined : frameOf(s[c + 4]!, BITS[(wr5 >> 5) & 3]!);
      if (frame !== undefined) {
        send(s, c + SENDER, s[c + BYTE]!, frame);
        s[c + WAITING] = 0;
        if (s[c + 1]! & 2) ask(s, b + CHAIN, source(k, TX));
        changed = true;
      }
    }
    if (sendClock(s, c + SENDER, DIVIDERS[s[c + 4]! >> 6]!) !== 0) changed = true;
    return changed;
  };

  const changedExternal = (s: Int32Array, b: number, k: number, modem: number): boolean => {
    const c = channel(b, k);
    const status = external(s, b, k, modem);
    if (s[c + LATCHED] === 1 || status === s[c + EXTERNAL]) return false;
    s[c + EXTERNAL] = status;
    if (!(s[c + 1]! & 1)) return false;
    s[c + LATCHED] = 1;
    ask(s, b + CHAIN, source(k, EXT));
    return true;
  };

  const isControl = (word: number): boolean => ((word >>> 6) & 1) === 1;
  const channelOf = (word: number): number => (isKnown(word >>> 6, 3) ? (word >>> 7) & 1 : -1);

  return {
    ins: [
      [...CHAIN_PINS, '/RESET', 'C//D', 'B//A'],
      DATA,
      ['RxDA', 'RxDB'],
      ['/RxCA', '/TxCA', rxb, txb],
      ['/DCDA', '/CTSA', '/DCDB', '/CTSB'],
    ],
    outs: [DATA, outs, ['IEO'], ['/INT']],
    words: WORDS,
    drivesFrom: [true, false, false, false, true],
    commitsFrom: [true, false, false, true, true],
    power(s, b, random) {
      s.fill(0, b, b + WORDS);
      for (let k = 0; k < 2; k++) resetChannel(s, b, k);
      s[channel(b, 1) + 2] = random() & 0xff;
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      const which = acknowledged(s, b + CHAIN, word);
      if (which >= 0) s[o] = wordOf(vectorFor(s, b, which), 8);
      else if (accessOf(word) === 1) {
        const k = channelOf(word);
        if (k < 0) s[o] = unknownWord(8);
        else if (isControl(word)) s[o] = wordOf(readControl(s, b, k, s[i + 4]!), 8);
        else s[o] = wordOf(s[channel(b, k) + QUEUE]!, 8);
      } else s[o] = 0;
      let out = 0;
      for (let k = 0; k < 2; k++) {
        const c = channel(b, k);
        const wr5 = s[c + 5]!;
        const line = wr5 & 0x10 ? 0 : s[c + SENDER + LINE]!;
        out |= (line | (wr5 & 2 ? 0 : 2) | (wr5 & 0x80 ? 0 : 4)) << (3 * k);
      }
      s[o + 1] = driven(out, outs.length);
      s[o + 2] = driven(enablesNext(s, b + CHAIN, word) ? 1 : 0, 1);
      s[o + 3] = isAsking(s, b + CHAIN, word) ? 0x10000 : 0;
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      const modem = s[i + 4]!;
      let changed = false;
      if (lows(now) & RESET) {
        if (lows(before) & RESET) return false;
        for (let k = 0; k < 2; k++) resetChannel(s, b, k);
        return true;
      }
      if (before !== now) {
        if (follow(s, b + CHAIN, before, now, s[p + 1]!) !== 0) changed = true;
        const was = accessOf(before);
        const k = channelOf(before);
        if (was !== 0 && accessOf(now) !== was && k >= 0) {
          const c = channel(b, k);
          changed = true;
          if (was === 2 && isControl(before)) write(s, b, k, s[p + 1]! & 0xff, modem);
          else if (was === 2) {
            s[c + BYTE] = s[p + 1]! & 0xff;
            s[c + WAITING] = 1;
            withdraw(s, b + CHAIN, source(k, TX));
          } else if (isControl(before)) s[c + POINTER] = 0;
          else readData(s, b, k);
        }
      }
      if (s[p + 4] !== modem)
        for (let k = 0; k < 2; k++) {
          changedExternal(s, b, k, modem);
          changed = true;
        }
      if (s[p + 3] !== s[i + 3]) {
        const up = rises(s[p + 3]!, s[i + 3]!);
        const down = falls(s[p + 3]!, s[i + 3]!);
        for (let k = 0; k < 2; k++) {
          if ((down >> (2 * k)) & 2 && transmit(s, b, k, modem)) changed = true;
          if ((up >> (2 * k)) & 1 && receive(s, b, k, (lows(s[i + 2]!) >> k) & 1 ? 0 : 1, modem)) changed = true;
        }
      }
      if (admit(s, b + CHAIN, now)) changed = true;
      return changed;
    },
  };
}
