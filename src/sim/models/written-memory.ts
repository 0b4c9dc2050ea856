// EEPROM and flash that the machine itself writes. Cells stand first in the state, one word a byte as in memory.ts, so that images and
// contents are read the same way. Sources: Atmel AT28C256 data sheet 0006F and 0006M (page write, data polling; tBLC, tWC), the
// protection algorithms as printed for the AT28C040; SST39SF010A data sheets S71147 (software command sequence, table 4) and
// DS20005022D (TBP, TSE, TSCE); AMD Am29F040B data sheet 21445 (byte program 7 us), its commands from memory.
//
//   EEPROM  bytes of one page, each within 150 us of the one before, then the write cycle. While both last a read gives the last byte
//           with bit 7 turned round and bit 6 turning with every read. AA 55 A0 before the bytes switches the protection on, and
//           writes those bytes; AA 55 80 AA 55 20 switches it off. As delivered it is off.
//   flash   AA 55 A0 then a byte (ones become zeros only); AA 55 80 AA 55 30 at a sector, or 10 for all; AA 55 90 identification,
//           F0 ends it. While busy bit 7 is turned round (0 in an erase) and bit 6 turns with every read.
//
// Writes are taken at the end of /WE or /CE, the address as it stood before. Only strobes that are surely there count. Not modelled:
// several sectors in one erase, erase suspend, sector protection, DQ5 and DQ3, wear, writes with /OE low (they are ignored).

import { isKnown, wordOf } from '../values.ts';
import { highs, lows } from './levels.ts';
import { memoryModel, type MemoryOptions } from './memory.ts';
import type { Moment, PartModel } from './model.ts';

/** How a part is written. Times in ns. */
export type Writing =
  | { readonly kind: 'eeprom'; readonly page: number; readonly protects: boolean; readonly writeNs: number }
  | {
      readonly kind: 'flash';
      /** Address bits that a command looks at. */
      readonly commandMask: number;
      readonly sector: number;
      readonly programNs: number;
      readonly eraseNs: number;
      readonly eraseAllNs: number;
      readonly maker: number;
      readonly device: number;
    };

/** How long the next byte of a page may take: tBLC. */
const PAGE_NS = 150e3;

// After the cells.
/** 0 idle, 1 taking bytes of a page, 2 busy. */
const STATE = 0;
/** The byte that polling turns round; -1 for an erase. */
const POLLED = 1;
const TOGGLE = 2;
/** How far the unlock sequence has come: 0 to 2, then the command 0x80 and 3 to 5, 6 armed for one byte. */
const STEP = 3;
const PROTECTED = 4;
const IDENTIFIES = 5;
/** The page being taken. */
const PAGE = 6;
/** What is to be done at the end: 0 nothing, 1 program byte, 2 erase from, 3 erase all; its address and byte. */
const TODO = 7;
const PLACE = 8;
const BYTE = 9;
/** Whether the bytes being taken are to be written at all. */
const TAKES = 10;
const BUFFER = 11;

/** The model of a memory that is written in the machine. `options.writes` is not looked at. */
export function writtenMemoryModel(options: MemoryOptions, writing: Writing): PartModel {
  const plain = memoryModel({ ...options, writes: 'ignored' });
  const size = 2 ** options.address.length;
  const { selects } = options;
  const page = writing.kind === 'eeprom' ? writing.page : 0;
  const words = size + BUFFER + page;
  const addressOf = (s: Int32Array, i: number): number => {
    const [low, high] = [options.address.slice(0, 16).length, Math.max(0, options.address.length - 16)];
    if (!isKnown(s[i]!, 2 ** low - 1) || !isKnown(s[i + 1]!, 2 ** high - 1)) return -1;
    return (s[i]! & (2 ** low - 1)) | ((s[i + 1]! & (2 ** high - 1)) << 16);
  };
  // Control word: /OE, /WE, then the selects.
  const isSelected = (word: number): boolean =>
    selects.every(({ high }, k) => ((high ? highs(word) : lows(word)) >> (2 + k)) & 1);
  const isWrite = (word: number): boolean => (highs(word) & 1) !== 0 && (lows(word) & 2) !== 0 && isSelected(word);
  const isRead = (word: number): boolean => (lows(word) & 1) !== 0 && (highs(word) & 2) !== 0 && isSelected(word);

  /** The unlock sequence; gives the command that has just come, 0x180 and above after a second unlock, or -1. */
  const unlock = (s: Int32Array, c: number, address: number, byte: number, mask: number): number => {
    const step = s[c + STEP]!;
    const at = address & mask;
    const [first, second] = [0x5555 & mask, 0x2aaa & mask];
    const base = step >= 3 && step < 6 ? 3 : 0;
    const place = step - base;
    if (place === 0 && at === first && byte === 0xaa) s[c + STEP] = base + 1;
    else if (place === 1 && at === second && byte === 0x55) s[c + STEP] = base + 2;
    else if (place === 2 && base === 0 && at === first && byte === 0x80) s[c + STEP] = 3;
    else if (place === 2) {
      s[c + STEP] = 0;
      return base === 0 ? (at === first ? byte : -1) : 0x100 | byte;
    } else s[c + STEP] = 0;
    return -1;
  };

  const writeFlash = (s: Int32Array, b: number, address: number, byte: number, moment: Moment): void => {
    if (writing.kind !== 'flash') return;
    const c = b + size;
    const busy = (todo: number, place: number, value: number, ns: number): void => {
      s[c + STATE] = 2;
      s[c + TODO] = todo;
      s[c + PLACE] = place;
      s[c + BYTE] = value;
      s[c + POLLED] = todo === 1 ? value : -1;
      moment.after(ns);
    };
    if (s[c + STEP] === 6) {
      s[c + STEP] = 0;
      busy(1, address, byte, writing.programNs);
      return;
    }
    if (byte === 0xf0 && s[c + STEP] === 0) {
      s[c + IDENTIFIES] = 0;
      return;
    }
    const command = unlock(s, c, address, byte, writing.commandMask);
    if (command === 0xa0) s[c + STEP] = 6;
    else if (command === 0x90) s[c + IDENTIFIES] = 1;
    else if (command === 0xf0) s[c + IDENTIFIES] = 0;
    else if (command === 0x130) busy(2, address & ~(writing.sector - 1), 0, writing.eraseNs);
    else if (command === 0x110 && (address & writing.commandMask) === (0x5555 & writing.commandMask))
      busy(3, 0, 0, writing.eraseAllNs);
  };

  const writeEeprom = (s: Int32Array, b: number, address: number, byte: number, moment: Moment): void => {
    if (writing.kind !== 'eeprom') return;
    const c = b + size;
    const at = address & (page - 1);
    const takeByte = (): void => {
      if (s[c + STATE] === 0) {
        s.fill(-1, c + BUFFER, c + BUFFER + page);
        s[c + PAGE] = address & ~(page - 1);
      }
      // Bytes of another page belong to no cell of this one.
      if ((address & ~(page - 1)) === s[c + PAGE]) s[c + BUFFER + at] = byte;
      s[c + STATE] = 1;
      s[c + POLLED] = byte;
    };
    moment.after(PAGE_NS);
    if (writing.protects) {
      const command = unlock(s, c, address, byte, size - 1);
      if (command === 0xa0) {
        s[c + PROTECTED] = 1;
        s.fill(-1, c + BUFFER, c + BUFFER + page);
        s[c + STATE] = 0;
        s[c + TAKES] = 1;
        s[c + POLLED] = byte;
        return;
      }
      if (command === 0x120) {
        s[c + PROTECTED] = 0;
        s.fill(-1, c + BUFFER, c + BUFFER + page);
        s[c + STATE] = 0;
        s[c + TAKES] = 1;
        return;
      }
    }
    takeByte();
  };

  return {
    ins: plain.ins,
    outs: plain.outs,
    words,
    drivesFrom: plain.drivesFrom,
    commitsFrom: [true, true, true, true],
    power(s, b, random, moment) {
      plain.power(s, b, random, moment);
      s.fill(0, b + size, b + words);
    },
    drive(s, b, i, o) {
      plain.drive(s, b, i, o);
      const c = b + size;
      if (s[o] === 0 || !isRead(s[i + 2]!)) return;
      if (s[c + STATE] !== 0) {
        const polled = s[c + POLLED]!;
        const bit7 = polled < 0 ? 0 : ~polled & 0x80;
        s[o] = wordOf((polled < 0 ? 0x3f : polled & 0x3f) | bit7 | (s[c + TOGGLE] === 1 ? 0x40 : 0), 8);
      } else if (s[c + IDENTIFIES] === 1 && writing.kind === 'flash') {
        const address = addressOf(s, i);
        if (address >= 0) s[o] = wordOf(address & 1 ? writing.device : writing.maker, 8);
      }
    },
    commit(s, b, p, i, moment) {
      const before = s[p + 2]!;
      const now = s[i + 2]!;
      if (before === now) return false;
      const c = b + size;
      if (isRead(before) && !isRead(now) && s[c + STATE] !== 0) {
        s[c + TOGGLE]! ^= 1;
        return true;
      }
      if (!isWrite(before) || isWrite(now)) return false;
      const address = addressOf(s, p);
      if (address < 0 || !isKnown(s[p + 3]!, 0xff) || s[c + STATE] === 2) return false;
      const byte = s[p + 3]! & 0xff;
      if (writing.kind === 'flash') writeFlash(s, b, address, byte, moment);
      else writeEeprom(s, b, address, byte, moment);
      return true;
    },
    timeout(s, b, moment) {
      const c = b + size;
      if (writing.kind === 'eeprom') {
        if (s[c + STATE] === 1) {
          const allowed = s[c + PROTECTED] === 0 || s[c + TAKES] === 1;
          s[c + TODO] = allowed ? 1 : 0;
          s[c + STATE] = 2;
          s[c + STEP] = 0;
          moment.after(writing.writeNs);
          return true;
        }
        if (s[c + STATE] === 2 && s[c + TODO] === 1)
          for (let k = 0; k < page; k++)
            if (s[c + BUFFER + k]! >= 0) s[b + s[c + PAGE]! + k] = wordOf(s[c + BUFFER + k]!, 8);
        s[c + STATE] = 0;
        s[c + STEP] = 0;
        s[c + TAKES] = 0;
        return true;
      }
      const place = s[c + PLACE]!;
      if (s[c + TODO] === 1) {
        const old = s[b + place]!;
        const zeros = ~s[c + BYTE]! & 0xff;
        s[b + place] = (old & ~zeros) | (zeros << 16);
      } else if (s[c + TODO] === 2) for (let k = 0; k < writing.sector; k++) s[b + place + k] = wordOf(0xff, 8);
      else if (s[c + TODO] === 3) for (let k = 0; k < size; k++) s[b + k] = wordOf(0xff, 8);
      s[c + TODO] = 0;
      s[c + STATE] = 0;
      return true;
    },
  };
}

/** How a type is written in the machine, by the name of its record; undefined for one that is not. */
export function writingOf(type: string): Writing | undefined {
  const flash = (
    commandMask: number,
    sector: number,
    times: readonly [program: number, erase: number, eraseAll: number],
    maker: number,
    device: number,
  ): Writing => ({
    kind: 'flash',
    commandMask,
    sector,
    programNs: times[0],
    eraseNs: times[1],
    eraseAllNs: times[2],
    maker,
    device,
  });
  // Greatest times of DS20005022D; of AMD's the program time of 21445, erase times and codes from memory.
  const sst = [10e3, 25e6, 100e6] as const;
  switch (type) {
    case '28C256':
      return { kind: 'eeprom', page: 64, protects: true, writeNs: 10e6 };
    // The plain AT28C64 knows neither pages nor protection.
    case '28C64':
      return { kind: 'eeprom', page: 1, protects: false, writeNs: 1e6 };
    case '28C512':
      return { kind: 'eeprom', page: 128, protects: true, writeNs: 5e6 };
    case '39SF010':
      return flash(0x7fff, 0x1000, sst, 0xbf, 0xb5);
    case '39SF020':
      return flash(0x7fff, 0x1000, sst, 0xbf, 0xb6);
    case '39SF040':
      return flash(0x7fff, 0x1000, sst, 0xbf, 0xb7);
    case '29F010':
      return flash(0x7ff, 0x4000, [7e3, 1e9, 8e9], 0x01, 0x20);
    case '29F040':
      return flash(0x7ff, 0x10000, [7e3, 1e9, 8e9], 0x01, 0xa4);
    default:
      return undefined;
  }
}
