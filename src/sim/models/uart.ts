// 16450 and 16550 serial ports, register by register and bit by bit on the line. Source: National Semiconductor PC16550D
// data sheet (June 1995), registers in table II, interrupt control in table IV, reset in table I; from memory where noted.
//
//  DLAB A2-A0  read                 write
//   0   000    receiver buffer      transmitter holding
//   0   001    interrupt enable     interrupt enable
//   1   000/1  divisor low, high    divisor low, high
//   -   010    interrupt ident.     FIFO control (16550)
//   -   011    line control         line control
//   -   100    modem control        modem control
//   -   101    line status          -
//   -   110    modem status         -
//   -   111    scratch              scratch (not in the 8250)
//
// A read or write acts when its strobe ends, with the address and data that stood before. Not modelled: /ADS as a latch (the
// part is not selected while it is high), the duty of /BAUDOUT, DMA mode 1, parity and framing errors on purpose (stick
// parity), one and a half stop bits (taken as two), unknown strobes (they do nothing).

import { isKnown, unknownWord, wordOf } from '../values.ts';
import type { PartModel } from './model.ts';

const DLL = 0;
const DLM = 1;
const IER = 2;
const FCR = 3;
const LCR = 4;
const MCR = 5;
const LSR = 6;
const MSR = 7;
const SCR = 8;
const THRE_PENDING = 9;
const BAUD_COUNT = 10;
const BAUDOUT = 11;
const TX_COUNT = 12;
const TX_HEAD = 13;
const TX_SHIFT = 14;
/** Bits left of the frame in the shift register, 0 idle. */
const TX_LEFT = 15;
const TX_TICK = 16;
const SOUT = 17;
const RX_COUNT = 18;
const RX_HEAD = 19;
const RX_SHIFT = 20;
/** Bits received of a frame; -1 idle. */
const RX_BIT = 21;
const RX_TICK = 22;
/** Ticks of the receiver without a read or character, for the character timeout. */
const RX_IDLE = 23;
const RX_LAST = 24;
const TIMEOUT = 25;
const TX_QUEUE = 26;
const RX_QUEUE = 42;
/** 1 until the modem inputs have been looked at after a reset: what they show then is no change. */
const FRESH = 58;
const WORDS = 59;

const DR = 1;
const OE = 2;
const PE = 4;
const FE = 8;
const BI = 16;
const THRE = 32;
const TEMT = 64;
const RX_ERROR = 128;

const LEVELS = [1, 4, 8, 14];

// Input words: control, data, line.
const CONTROL = ['CS0', 'CS1', '/CS2', '/ADS', '/RD', 'RD', '/WR', 'WR', 'MR', 'A0', 'A1', 'A2'];
const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];
const LINE = ['SIN', 'XIN', 'RCLK', '/CTS', '/DSR', '/DCD', '/RI'];
const OUTS = ['SOUT', '/BAUDOUT', 'INTR', '/RTS', '/DTR', '/OUT1', '/OUT2', 'DDIS', '/TXRDY', '/RXRDY', 'XOUT'];

/** The model of a 16450, or of a 16550 with buffers. */
export function uartModel(options: { readonly buffers: boolean }): PartModel {
  const hasFifo = (s: Int32Array, b: number): boolean => options.buffers && (s[b + FCR]! & 1) !== 0;
  const depth = (s: Int32Array, b: number): number => (hasFifo(s, b) ? 16 : 1);

  /** 1 read, 2 write, 0 neither, for a word of control inputs. */
  const access = (word: number): number => {
    // Unknown levels count as inactive: bit set only where known.
    const high = word & ~(word >>> 16);
    const low = (word >>> 16) & ~word;
    if ((high & 3) !== 3 || (low & 12) !== 12) return 0;
    if ((low & 16) !== 0 || (high & 32) !== 0) return 1;
    return (low & 64) !== 0 || (high & 128) !== 0 ? 2 : 0;
  };
  const register = (word: number): number => (isKnown(word >>> 9, 7) ? (word >>> 9) & 7 : -1);

  const identify = (s: Int32Array, b: number): number => {
    const enabled = s[b + IER]!;
    const fifo = hasFifo(s, b) ? 0xc0 : 0;
    if (enabled & 4 && s[b + LSR]! & (OE | PE | FE | BI)) return fifo | 6;
    const trigger = hasFifo(s, b) ? LEVELS[s[b + FCR]! >> 6]! : 1;
    if (enabled & 1 && s[b + RX_COUNT]! >= trigger) return fifo | 4;
    if (enabled & 1 && s[b + TIMEOUT] !== 0 && s[b + RX_COUNT]! > 0) return fifo | 12;
    if (enabled & 2 && s[b + THRE_PENDING] !== 0) return fifo | 2;
    if (enabled & 8 && s[b + MSR]! & 15) return fifo;
    return fifo | 1;
  };

  const read = (s: Int32Array, b: number, at: number): number => {
    if (at < 2 && s[b + LCR]! & 0x80) return s[b + at]!;
    switch (at) {
      case 0:
        return s[b + RX_COUNT]! > 0 ? s[b + RX_QUEUE + s[b + RX_HEAD]!]! & 0xff : s[b + RX_LAST]!;
      case 1:
        return s[b + IER]!;
      case 2:
        return identify(s, b);
      case 3:
        return s[b + LCR]!;
      case 4:
        return s[b + MCR]!;
      case 5:
        return s[b + LSR]!;
      case 6:
        return s[b + MSR]!;
      default:
        return s[b + SCR]!;
    }
  };

  const afterRead = (s: Int32Array, b: number, at: number): void => {
    if (at === 0 && (s[b + LCR]! & 0x80) === 0) {
      if (s[b + RX_COUNT]! > 0) {
        s[b + RX_LAST] = s[b + RX_QUEUE + s[b + RX_HEAD]!]! & 0xff;
        s[b + RX_HEAD] = (s[b + RX_HEAD]! + 1) & 15;
        s[b + RX_COUNT]!--;
        showErrors(s, b);
      }
      if (s[b + RX_COUNT] === 0) s[b + LSR]! &= ~DR;
      s[b + RX_IDLE] = 0;
      s[b + TIMEOUT] = 0;
    } else if (at === 2) {
      if ((identify(s, b) & 15) === 2) s[b + THRE_PENDING] = 0;
    } else if (at === 5) s[b + LSR]! &= ~(OE | PE | FE | BI | RX_ERROR);
    else if (at === 6) s[b + MSR]! &= ~15;
  };

  /** The errors of the character at the head show in the line status. */
  const showErrors = (s: Int32Array, b: number): void => {
    if (s[b + RX_COUNT]! > 0) s[b + LSR]! |= (s[b + RX_QUEUE + s[b + RX_HEAD]!]! >> 8) & (PE | FE | BI);
  };

  const write = (s: Int32Array, b: number, at: number, byte: number): void => {
    if (at < 2 && s[b + LCR]! & 0x80) {
      s[b + at] = byte;
      s[b + BAUD_COUNT] = 0;
      return;
    }
    switch (at) {
      case 0:
        if (s[b + TX_COUNT]! < depth(s, b)) {
          s[b + TX_QUEUE + ((s[b + TX_HEAD]! + s[b + TX_COUNT]!) & 15)] = byte;
          s[b + TX_COUNT]!++;
        } else s[b + TX_QUEUE + ((s[b + TX_HEAD]! + s[b + TX_COUNT]! - 1) & 15)] = byte;
        s[b + LSR]! &= ~(THRE | TEMT);
        s[b + THRE_PENDING] = 0;
        break;
      case 1:
        // Enabling the interrupt of an empty transmitter raises it at once.
        if (byte & 2 && (s[b + IER]! & 2) === 0 && s[b + LSR]! & THRE) s[b + THRE_PENDING] = 1;
        s[b + IER] = byte & 15;
        break;
      case 2: {
        if (!options.buffers) break;
        const changed = (s[b + FCR]! ^ byte) & 1;
        s[b + FCR] = byte & 1 ? byte & 0xc9 : 0;
        if (changed || byte & 2) {
          s[b + RX_COUNT] = 0;
          s[b + RX_HEAD] = 0;
          s[b + LSR]! &= ~DR;
          s[b + TIMEOUT] = 0;
        }
        if (changed || byte & 4) {
          s[b + TX_COUNT] = 0;
          s[b + TX_HEAD] = 0;
          s[b + LSR]! |= THRE;
        }
        break;
      }
      case 3:
        s[b + LCR] = byte;
        break;
      case 4:
        s[b + MCR] = byte & 31;
        break;
      case 7:
        s[b + SCR] = byte;
        break;
      default:
    }
  };

  const reset = (s: Int32Array, b: number): void => {
    // Table I: the divisor and scratch are not touched.
    s[b + IER] = 0;
    s[b + FCR] = 0;
    s[b + LCR] = 0;
    s[b + MCR] = 0;
    s[b + LSR] = THRE | TEMT;
    s[b + MSR]! &= 0xf0;
    s[b + FRESH] = 1;
    s[b + THRE_PENDING] = 0;
    s[b + TX_COUNT] = 0;
    s[b + TX_HEAD] = 0;
    s[b + TX_LEFT] = 0;
    s[b + TX_TICK] = 0;
    s[b + SOUT] = 1;
    s[b + RX_COUNT] = 0;
    s[b + RX_HEAD] = 0;
    s[b + RX_BIT] = -1;
    s[b + TIMEOUT] = 0;
    s[b + RX_IDLE] = 0;
  };

  const dataBits = (s: Int32Array, b: number): number => 5 + (s[b + LCR]! & 3);

  /** Puts the next byte in the shift register where the transmitter is idle. */
  const load = (s: Int32Array, b: number): boolean => {
    if (s[b + TX_LEFT] !== 0 || s[b + TX_COUNT] === 0) return false;
    const byte = s[b + TX_QUEUE + s[b + TX_HEAD]!]!;
    s[b + TX_HEAD] = (s[b + TX_HEAD]! + 1) & 15;
    s[b + TX_COUNT]!--;
    if (s[b + TX_COUNT] === 0) {
      s[b + LSR]! |= THRE;
      s[b + THRE_PENDING] = 1;
    }
    const bits = dataBits(s, b);
    let frame = byte & ((1 << bits) - 1);
    let length = bits;
    if (s[b + LCR]! & 8) {
      let ones = 0;
      for (let k = 0; k < bits; k++) ones ^= (frame >> k) & 1;
      frame |= (s[b + LCR]! & 16 ? ones : ones ^ 1) << length++;
    }
    const stops = s[b + LCR]! & 4 ? 2 : 1;
    frame |= ((1 << stops) - 1) << length;
    length += stops;
    s[b + TX_SHIFT] = frame << 1;
    s[b + TX_LEFT] = length + 1;
    s[b + TX_TICK] = 0;
    return true;
  };

  /** One period of the baud rate generator: the sixteenth part of a bit. */
  const transmit = (s: Int32Array, b: number): boolean => {
    let changed = load(s, b);
    if (s[b + TX_LEFT] === 0) return changed;
    if (s[b + TX_TICK] === 0) {
      const bit = s[b + TX_SHIFT]! & 1;
      if (s[b + SOUT] !== bit) changed = true;
      s[b + SOUT] = bit;
    }
    s[b + TX_TICK]!++;
    if (s[b + TX_TICK] === 16) {
      s[b + TX_TICK] = 0;
      s[b + TX_SHIFT]! >>= 1;
      s[b + TX_LEFT]!--;
      if (s[b + TX_LEFT] === 0 && s[b + TX_COUNT] === 0) {
        s[b + LSR]! |= TEMT;
        changed = true;
      }
    }
    return changed;
  };

  const receive = (s: Int32Array, b: number, line: number): boolean => {
    let changed = false;
    if (hasFifo(s, b) && s[b + RX_COUNT]! > 0 && s[b + TIMEOUT] === 0) {
      // Four characters' time without a read or a new character.
      s[b + RX_IDLE]!++;
      if (s[b + RX_IDLE]! >= 16 * 4 * (dataBits(s, b) + 2)) {
        s[b + TIMEOUT] = 1;
        changed = true;
      }
    }
    if (s[b + RX_BIT]! < 0) {
      if (line === 0) {
        s[b + RX_BIT] = 0;
        s[b + RX_TICK] = 0;
        s[b + RX_SHIFT] = 0;
      }
      return changed;
    }
    s[b + RX_TICK]!++;
    if ((s[b + RX_TICK]! & 15) !== 8) return changed;
    const bit = s[b + RX_BIT]!;
    const bits = dataBits(s, b);
    const parity = s[b + LCR]! & 8 ? 1 : 0;
    if (bit === 0) {
      if (line !== 0) s[b + RX_BIT] = -1;
      else s[b + RX_BIT] = 1;
      return changed;
    }
    if (bit <= bits + parity) {
      s[b + RX_SHIFT]! |= line << (bit - 1);
      s[b + RX_BIT] = bit + 1;
      return changed;
    }
    // The stop bit.
    s[b + RX_BIT] = -1;
    const byte = s[b + RX_SHIFT]! & ((1 << bits) - 1);
    let errors = line === 0 ? (s[b + RX_SHIFT] === 0 ? BI | FE : FE) : 0;
    if (parity) {
      let ones = 0;
      for (let k = 0; k <= bits; k++) ones ^= (s[b + RX_SHIFT]! >> k) & 1;
      if (ones !== (s[b + LCR]! & 16 ? 0 : 1)) errors |= PE;
    }
    arrive(s, b, byte, errors);
    return true;
  };

  const arrive = (s: Int32Array, b: number, byte: number, errors: number): void => {
    s[b + RX_IDLE] = 0;
    s[b + TIMEOUT] = 0;
    if (s[b + RX_COUNT]! >= depth(s, b)) {
      s[b + LSR]! |= OE;
      // Without buffers the new character stands in place of the old one.
      if (!hasFifo(s, b)) s[b + RX_QUEUE + s[b + RX_HEAD]!] = byte | (errors << 8);
    } else {
      s[b + RX_QUEUE + ((s[b + RX_HEAD]! + s[b + RX_COUNT]!) & 15)] = byte | (errors << 8);
      s[b + RX_COUNT]!++;
    }
    s[b + LSR]! |= DR;
    showErrors(s, b);
    if (hasFifo(s, b) && errors !== 0) s[b + LSR]! |= RX_ERROR;
  };

  /** CTS, DSR, RI, DCD from bit 4 and their changes from bit 0, of RI only its end; in the loop back from the modem control. */
  const modemStatus = (s: Int32Array, b: number, line: number): boolean => {
    const mcr = s[b + MCR]!;
    const seen =
      mcr & 16
        ? ((mcr >> 1) & 1) | ((mcr & 1) << 1) | (mcr & 12)
        : ((~line >> 3) & 3) | ((~line >> 4) & 4) | ((~line >> 2) & 8);
    const was = s[b + MSR]! >> 4;
    if (s[b + FRESH] === 0 && seen === was) return false;
    const turned = s[b + FRESH] === 1 ? 0 : seen ^ was;
    s[b + FRESH] = 0;
    s[b + MSR] = (seen << 4) | (s[b + MSR]! & 15) | (turned & 11) | (turned & 4 && !(seen & 4) ? 4 : 0);
    return true;
  };

  const bit = (word: number, k: number): number => (word >>> k) & 1 & ~((word >>> (k + 16)) & 1);

  return {
    ins: [CONTROL, DATA, LINE],
    outs: [DATA, OUTS],
    words: WORDS,
    drivesFrom: [true, false, false],
    commitsFrom: [true, true, true],
    power(s, b) {
      s.fill(0, b, b + WORDS);
      s[b + DLL] = 1;
      reset(s, b);
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      const isRead = access(word) === 1;
      const at = register(word);
      s[o] = isRead ? (at < 0 ? unknownWord(8) : wordOf(read(s, b, at), 8)) : 0;
      const loop = (s[b + MCR]! & 16) !== 0;
      let out = 0;
      if (loop || s[b + SOUT] !== 0) out |= 1;
      if (s[b + BAUDOUT] !== 0) out |= 2;
      if ((identify(s, b) & 1) === 0) out |= 4;
      const modem = loop ? 0 : s[b + MCR]!;
      if ((modem & 2) === 0) out |= 8;
      if ((modem & 1) === 0) out |= 16;
      if ((modem & 4) === 0) out |= 32;
      if ((modem & 8) === 0) out |= 64;
      if (!isRead) out |= 128;
      if (s[b + TX_COUNT] !== 0) out |= 256;
      if (s[b + RX_COUNT] === 0) out |= 512;
      out |= 1024; // XOUT feeds a crystal and is taken as high
      s[o + 1] = wordOf(out, 11);
    },
    commit(s, b, p, i) {
      let changed = false;
      const before = s[p]!;
      const now = s[i]!;
      // Most often the baud clock alone swings: its falls do nothing where it is divided, nor its rises between two ticks.
      if (
        before === now &&
        ((s[p + 2]! ^ s[i + 2]!) & 0x790079) === 0 &&
        s[b + FRESH] === 0 &&
        (s[b + DLL]! > 1 || s[b + DLM]! > 0)
      ) {
        const line = s[i + 2]!;
        const turned = s[p + 2]! ^ line;
        if (turned === 0 || (turned === 0x20002 && (line & 0x20002) === 0x20000)) return false;
        if (turned === 0x20002 && (line & 0x20002) === 2) {
          const count = s[b + BAUD_COUNT]! + 1;
          const divisor = s[b + DLL]! | (s[b + DLM]! << 8);
          if (count < divisor && (count * 2 < divisor ? 0 : 1) === s[b + BAUDOUT]) {
            s[b + BAUD_COUNT] = count;
            return false;
          }
        }
      }
      if (before !== now) {
        const was = access(before);
        if (was !== 0 && (access(now) !== was || register(now) !== register(before))) {
          const at = register(before);
          if (at >= 0) {
            if (was === 1) afterRead(s, b, at);
            else {
              write(s, b, at, s[p + 1]! & 0xff);
            }
            changed = true;
          }
        }
        if (bit(now, 8) !== 0) {
          if (bit(before, 8) === 0) {
            reset(s, b);
            changed = true;
          }
          return changed;
        }
      }
      const lineBefore = s[p + 2]!;
      const line = s[i + 2]!;
      if (bit(now, 8) !== 0) return changed;
      if (modemStatus(s, b, line)) changed = true;
      if (lineBefore === line) return changed;
      if (bit(line, 2) !== 0 && bit(lineBefore, 2) === 0) {
        const level = s[b + MCR]! & 16 ? s[b + SOUT]! : bit(line, 0);
        if (receive(s, b, level)) changed = true;
      }
      if (((line ^ lineBefore) & 2) !== 0) {
        const rises = bit(line, 1) !== 0;
        const divisor = s[b + DLL]! | (s[b + DLM]! << 8);
        if (divisor === 0) return changed;
        let tick = false;
        if (divisor === 1) {
          s[b + BAUDOUT] = rises ? 0 : 1;
          changed = true;
          tick = rises;
        } else if (rises) {
          const count = s[b + BAUD_COUNT]! + 1;
          s[b + BAUD_COUNT] = count >= divisor ? 0 : count;
          const level = s[b + BAUD_COUNT]! * 2 < divisor ? 0 : 1;
          tick = count >= divisor;
          if (level !== s[b + BAUDOUT]) {
            s[b + BAUDOUT] = level;
            changed = true;
          }
        }
        if (tick) {
          if (transmit(s, b)) changed = true;
        }
      }
      return changed;
    },
    give(s, b, byte) {
      if (s[b + RX_COUNT]! >= depth(s, b)) return false;
      arrive(s, b, byte & 0xff, 0);
      return true;
    },
  };
}
