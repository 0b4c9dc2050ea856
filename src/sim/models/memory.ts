// ROM, EEPROM, flash and static RAM. State is one word a byte, dual-rail, so that a byte may be unknown in part.
//
//  selects /OE /WE | data pins
//  off      -   -  | Z
//  on       L   H  | the byte; X while any address line is unknown
//  on       H   H  | Z
//  on       -   L  | Z; RAM takes the byte for as long as /WE is low (the last one stands)
//
// Writing an EEPROM or flash in the machine: the part is taken as write-protected (the write is ignored, as after the
// maker's software protection), unless made with `writes: 'allowed'`, where the byte is taken at once.
// Not modelled: write cycle time, polling, page writes, protection sequences, sector erase, programming voltages.

import { isKnown, LOW, unknownWord, wordOf } from '../values.ts';
import type { PartModel } from './model.ts';

export interface MemoryOptions {
  readonly address: readonly string[];
  readonly data: readonly string[];
  /** Selects: pin and the level that selects. */
  readonly selects: readonly { readonly pin: string; readonly high: boolean }[];
  readonly read: string;
  readonly write: string | undefined;
  readonly writes: 'never' | 'ignored' | 'allowed';
  /** Bytes at power-up; undefined bytes are random. */
  readonly image: Uint8Array | undefined;
  /** What stands beyond the image: random bytes, or unknown. */
  readonly rest: 'random' | 'unknown';
}

/** The model of a memory. At most 32 address lines and 8 data lines. */
export function memoryModel(options: MemoryOptions): PartModel {
  const { address, data, selects } = options;
  const size = 2 ** address.length;
  const low = address.slice(0, 16);
  const high = address.slice(16);
  const lowMask = 2 ** low.length - 1;
  const highMask = 2 ** high.length - 1;
  const bits = data.length;
  const mask = (1 << bits) - 1;
  const control = [options.read, ...(options.write === undefined ? [] : [options.write]), ...selects.map((s) => s.pin)];
  const hasWrite = options.write !== undefined;
  const first = hasWrite ? 2 : 1;
  const unknown = unknownWord(bits);
  // Input words: low address, high address, control, data.
  const at = (s: Int32Array, i: number): number => {
    const lowWord = s[i]!;
    const highWord = s[i + 1]!;
    if (!isKnown(lowWord, lowMask) || !isKnown(highWord, highMask)) return -1;
    return (lowWord & lowMask) | ((highWord & highMask) << 16);
  };
  /** May be selected (bit 0) and may be not selected (bit 1), as a value. */
  const selected = (word: number): number => {
    let value = 1;
    for (let k = 0; k < selects.length; k++) {
      const may = (word >>> (first + k)) & 1;
      const mayNot = (word >>> (first + k + 16)) & 1;
      const one = selects[k]!.high ? may | (mayNot << 1) : mayNot | (may << 1);
      value = (value & one & 1) | ((value | one) & 2);
    }
    return value;
  };
  /** Selected and written to, as a value. */
  const mayWrite = (word: number): number => {
    const on = selected(word);
    const writes = ((word >>> 17) & 1) | (((word >>> 1) & 1) << 1);
    return (on & writes & 1) | ((on | writes) & 2);
  };
  const controlMask = 2 ** control.length - 1;
  /** By levels of the controls, all known: 1 where the part drives. */
  const reads = Uint8Array.from({ length: 2 ** control.length }, (_, levels) =>
    (levels & 1) === 0 &&
    (!hasWrite || (levels & 2) !== 0) &&
    selects.every(({ high: isHigh }, k) => ((levels >> (first + k)) & 1) === (isHigh ? 1 : 0))
      ? 1
      : 0,
  );
  return {
    ins: [low, high, control, data],
    outs: [data],
    words: size,
    drivesFrom: [true, true, true, false],
    commitsFrom: options.writes === 'allowed' ? [true, true, true, true] : [false, false, false, false],
    commitsOn: [...(options.write === undefined ? [] : [options.write]), ...selects.map(({ pin }) => pin)],
    armed: (s, _b, i) => mayWrite(s[i + 2]!) !== LOW,
    power(s, b, random) {
      const { image } = options;
      for (let k = 0; k < size; k++) {
        const byte = image?.[k];
        if (byte !== undefined) s[b + k] = wordOf(byte, bits);
        else s[b + k] = options.rest === 'random' ? wordOf(random(), bits) : unknown;
      }
    },
    drive(s, b, i, o) {
      const word = s[i + 2]!;
      const levels = word & controlMask;
      if ((levels ^ (word >>> 16)) === controlMask) {
        // The usual case: every control is known.
        if (reads[levels] === 0) s[o] = 0;
        else {
          const lowWord = s[i]!;
          const highWord = s[i + 1]!;
          const isAt = ((lowWord ^ (lowWord >>> 16)) & lowMask) === lowMask && isKnown(highWord, highMask);
          s[o] = isAt ? s[b + ((lowWord & lowMask) | ((highWord & highMask) << 16))]! : unknown;
        }
        return;
      }
      let on = selected(word);
      // /OE low, and /WE high.
      on = (on & (word >>> 16) & 1) | ((on | ((word & 1) << 1)) & 2);
      if (hasWrite) {
        const may = (word >>> 1) & 1;
        const mayNot = (word >>> 17) & 1;
        on = (on & may) | ((on | (mayNot << 1)) & 2);
      }
      if (on === 2) {
        s[o] = 0;
        return;
      }
      const place = on === 1 ? at(s, i) : -1;
      s[o] = place < 0 ? unknown : s[b + place]!;
    },
    commit(s, b, _p, i) {
      if (!hasWrite || options.writes !== 'allowed') return false;
      const word = s[i + 2]!;
      const on = mayWrite(word);
      if (on === LOW) return false;
      const place = at(s, i);
      if (place < 0) {
        // Before reset all lines are unknown: what random bytes stand for is then as unknown as they already were.
        if (on !== 1 && options.rest === 'random') return false;
        for (let k = 0; k < size; k++) s[b + k] = unknown;
        return true;
      }
      // A write that may be none leaves only what both agree on.
      const value = on === 1 ? s[i + 3]! & (mask | (mask << 16)) : s[b + place]! | s[i + 3]!;
      if (s[b + place] === value) return false;
      s[b + place] = value;
      return true;
    },
  };
}
