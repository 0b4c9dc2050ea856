// 8253 and 8254: three counters of sixteen bits, all six modes. Source: Intel 8254 mode definitions and gate operations as reprinted
// in Ziatech's manuals of the ZT 8809A (page 255) and ZT 89CT04 (page 248); control word, read-back and the timing diagrams of
// Intel's sheet (231164, figures 15 to 20) from memory. The 8253 has no read-back.
//
// A CLK pulse is a rise and then a fall: gates and triggers are sampled at the rise; counts are loaded and counted at the fall.
// A control word sets OUT at once; a count written is loaded at the next pulse, which does not count it down.
//
//   mode  OUT after the control word   then
//   0     low     high when the count has run down; GATE low stops
//   1     high    low from a trigger until the count has run down
//   2     high    low for one clock each N; GATE low stops and sets it high, a trigger begins anew
//   3     high    high for (N+1)/2, low for (N-1)/2 or both N/2; GATE as in 2
//   4     high    low for one clock when the count has run down; GATE low stops
//   5     high    the same, from a trigger on
//
// Not modelled: reading while it counts without a latch may give a byte in change; here it never does.

import { isKnown, unknownWord, wordOf } from '../values.ts';
import { driven, falls, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';

// Of one counter.
const MODE = 0;
/** 1 low byte, 2 high byte, 3 low then high. */
const FORM = 1;
const BCD = 2;
const COUNT = 3;
/** What is loaded. */
const REGISTER = 4;
const OUT = 5;
/** A whole count has been written: 1 waits for a rise of CLK, 2 is loaded at the fall after it. */
const NULL = 6;
/** Counts: 0 no count yet, 1 counting, 2 run down (modes 0, 1, 4, 5). */
const RUN = 7;
/** 1 a trigger has come, 2 it was sampled by a rise of CLK. */
const TRIGGERED = 8;
const GATE = 9;
const READ_HIGH = 10;
const WRITE_HIGH = 11;
const LATCHED = 12;
const LATCH = 13;
const STATUS = 14;
const SIZE = 15;
const WORDS = 3 * SIZE;

const DATA = ['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7'];

const minusOne = (value: number, isBcd: boolean): number => {
  if (!isBcd) return (value - 1) & 0xffff;
  if (value === 0) return 0x9999;
  let digit = 0;
  while (((value >> (4 * digit)) & 15) === 0) digit++;
  // Digits below borrow: 1000 - 1 is 999.
  let result = value - (1 << (4 * digit));
  for (let k = 0; k < digit; k++) result += 9 << (4 * k);
  return result;
};

/** The model of an 8253 or an 8254. */
export function timerModel(options: { readonly readsBack: boolean }): PartModel {
  const access = (word: number): number => {
    const low = lows(word);
    if (!(low & 1)) return 0;
    return low & 2 ? 1 : low & 4 ? 2 : 0;
  };
  const addressOf = (word: number): number => (isKnown(word >>> 3, 3) ? (word >>> 3) & 3 : -1);
  const statusOf = (s: Int32Array, c: number): number =>
    (s[c + OUT]! << 7) |
    (s[c + NULL] !== 0 || s[c + RUN] === 0 ? 0x40 : 0) |
    (s[c + FORM]! << 4) |
    (s[c + MODE]! << 1) |
    s[c + BCD]!;

  const control = (s: Int32Array, b: number, byte: number): void => {
    const which = byte >> 6;
    if (which === 3) {
      if (!options.readsBack) return;
      for (let k = 0; k < 3; k++) {
        if (!((byte >> (k + 1)) & 1)) continue;
        const c = b + k * SIZE;
        if (!(byte & 0x20)) latch(s, c);
        if (!(byte & 0x10) && s[c + STATUS]! < 0) s[c + STATUS] = statusOf(s, c);
      }
      return;
    }
    const c = b + which * SIZE;
    const form = (byte >> 4) & 3;
    if (form === 0) {
      latch(s, c);
      return;
    }
    const mode = (byte >> 1) & 7;
    s[c + MODE] = mode > 5 ? mode & 3 : mode;
    s[c + FORM] = form;
    s[c + BCD] = byte & 1;
    s[c + OUT] = s[c + MODE] === 0 ? 0 : 1;
    s[c + NULL] = 0;
    s[c + RUN] = 0;
    s[c + TRIGGERED] = 0;
    s[c + READ_HIGH] = 0;
    s[c + WRITE_HIGH] = 0;
    s[c + LATCHED] = 0;
    s[c + STATUS] = -1;
  };

  const latch = (s: Int32Array, c: number): void => {
    if (s[c + LATCHED] !== 0) return;
    s[c + LATCH] = s[c + COUNT]!;
    s[c + LATCHED] = s[c + FORM] === 3 ? 2 : 1;
  };

  const write = (s: Int32Array, c: number, byte: number): void => {
    const form = s[c + FORM]!;
    if (form === 3 && s[c + WRITE_HIGH] === 0) {
      s[c + REGISTER] = (s[c + REGISTER]! & 0xff00) | byte;
      s[c + WRITE_HIGH] = 1;
      // In mode 0 the first byte stops the counting and sets the output low.
      if (s[c + MODE] === 0) {
        s[c + RUN] = 0;
        s[c + OUT] = 0;
      }
      return;
    }
    s[c + REGISTER] = form === 1 ? byte : form === 2 ? byte << 8 : (s[c + REGISTER]! & 0xff) | (byte << 8);
    s[c + WRITE_HIGH] = 0;
    s[c + NULL] = 1;
    if (s[c + MODE] === 0) s[c + OUT] = 0;
  };

  const read = (s: Int32Array, c: number): number => {
    if (s[c + STATUS]! >= 0) return s[c + STATUS]!;
    const value = s[c + LATCHED] !== 0 ? s[c + LATCH]! : s[c + COUNT]!;
    return s[c + FORM] === 2 || (s[c + FORM] === 3 && s[c + READ_HIGH] === 1) ? value >> 8 : value & 0xff;
  };

  const afterRead = (s: Int32Array, c: number): void => {
    if (s[c + STATUS]! >= 0) {
      s[c + STATUS] = -1;
      return;
    }
    if (s[c + FORM] === 3) s[c + READ_HIGH]! ^= 1;
    if (s[c + LATCHED] !== 0) s[c + LATCHED]!--;
  };

  const load = (s: Int32Array, c: number): void => {
    // Mode 3 counts by twos, from an even number.
    s[c + COUNT] = s[c + MODE] === 3 ? s[c + REGISTER]! & ~1 : s[c + REGISTER]!;
    s[c + NULL] = 0;
    s[c + RUN] = 1;
  };

  /** A fall of CLK. */
  const pulse = (s: Int32Array, c: number): boolean => {
    const mode = s[c + MODE]!;
    const isBcd = s[c + BCD] === 1;
    const gate = s[c + GATE] === 1;
    const triggered = s[c + TRIGGERED] === 2;
    const isNew = s[c + NULL] === 2;
    const out = s[c + OUT];
    if (triggered) s[c + TRIGGERED] = 0;
    const step = (): void => {
      s[c + COUNT] = minusOne(s[c + COUNT]!, isBcd);
    };
    if (mode === 0 || mode === 4) {
      if (isNew) load(s, c);
      else if (s[c + RUN] !== 0 && gate) {
        step();
        if (s[c + RUN] === 1 && s[c + COUNT] === 0) {
          s[c + OUT] = mode === 0 ? 1 : 0;
          s[c + RUN] = 2;
        } else if (mode === 4) s[c + OUT] = 1;
      } else if (mode === 4) s[c + OUT] = 1;
    } else if (mode === 1 || mode === 5) {
      if (triggered && (isNew || s[c + RUN] !== 0)) {
        load(s, c);
        s[c + OUT] = mode === 1 ? 0 : 1;
      } else if (s[c + RUN] !== 0) {
        step();
        if (s[c + RUN] === 1 && s[c + COUNT] === 0) {
          s[c + OUT] = mode === 1 ? 1 : 0;
          s[c + RUN] = 2;
        } else if (mode === 5) s[c + OUT] = 1;
      }
    } else if (mode === 2) {
      if ((isNew && s[c + RUN] === 0) || triggered) {
        if (isNew || s[c + RUN] !== 0) load(s, c);
      } else if (s[c + RUN] === 1 && gate) {
        step();
        if (s[c + COUNT] === 1) s[c + OUT] = 0;
        else if (s[c + COUNT] === 0) {
          load(s, c);
          s[c + OUT] = 1;
        }
      }
    } else if ((isNew && s[c + RUN] === 0) || triggered) {
      if (isNew || s[c + RUN] !== 0) load(s, c);
      s[c + OUT] = 1;
    } else if (s[c + RUN] === 1 && gate) {
      // An odd count stays high for one clock more: the turn comes one pulse after the count is down.
      const odd = s[c + REGISTER]! & 1;
      if (s[c + COUNT] === 0 && odd === 1 && s[c + OUT] === 1) {
        s[c + OUT] = 0;
        load(s, c);
      } else {
        step();
        step();
        if (s[c + COUNT] === 0 && !(odd === 1 && s[c + OUT] === 1)) {
          s[c + OUT]! ^= 1;
          load(s, c);
        }
      }
    }
    return s[c + OUT] !== out;
  };

  const clocks = ['CLK0', 'CLK1', 'CLK2'];
  return {
    ins: [['/CS', '/RD', '/WR', 'A0', 'A1'], DATA, clocks, ['GATE0', 'GATE1', 'GATE2']],
    outs: [DATA, ['OUT0', 'OUT1', 'OUT2']],
    words: WORDS,
    drivesFrom: [true, false, false, false],
    commitsFrom: [true, false, true, true],
    power(s, b, random) {
      s.fill(0, b, b + WORDS);
      for (let k = 0; k < 3; k++) {
        const c = b + k * SIZE;
        s[c + FORM] = 3;
        s[c + COUNT] = random() & 0xffff;
        s[c + OUT] = random() & 1;
        s[c + STATUS] = -1;
      }
    },
    drive(s, b, i, o) {
      const word = s[i]!;
      if (access(word) === 1) {
        const address = addressOf(word);
        s[o] = address < 0 || address === 3 ? unknownWord(8) : wordOf(read(s, b + address * SIZE), 8);
      } else s[o] = 0;
      s[o + 1] = driven(s[b + OUT]! | (s[b + SIZE + OUT]! << 1) | (s[b + 2 * SIZE + OUT]! << 2), 3);
    },
    commit(s, b, p, i) {
      const before = s[p]!;
      const now = s[i]!;
      let changed = false;
      if (before !== now) {
        const was = access(before);
        const address = addressOf(before);
        if (was !== 0 && address >= 0 && (access(now) !== was || addressOf(now) !== address)) {
          if (was === 2 && address === 3) control(s, b, s[p + 1]! & 0xff);
          else if (was === 2) write(s, b + address * SIZE, s[p + 1]! & 0xff);
          else if (address !== 3) afterRead(s, b + address * SIZE);
          changed = true;
        }
      }
      const gates = s[i + 3]!;
      const triggers = rises(s[p + 3]!, gates);
      const stopped = falls(s[p + 3]!, gates);
      const up = rises(s[p + 2]!, s[i + 2]!);
      const down = falls(s[p + 2]!, s[i + 2]!);
      if ((triggers | stopped | up | down) === 0) return changed;
      for (let k = 0; k < 3; k++) {
        const c = b + k * SIZE;
        const bit = 1 << k;
        const mode = s[c + MODE]!;
        if (up & bit) {
          // Sampled as they stood before the rise; an open gate counts as high.
          s[c + GATE] = lows(s[p + 3]!) & bit ? 0 : 1;
          if (s[c + TRIGGERED] === 1) s[c + TRIGGERED] = 2;
          if (s[c + NULL] === 1) s[c + NULL] = 2;
        }
        if (triggers & bit && (mode === 1 || mode === 2 || mode === 3 || mode === 5)) s[c + TRIGGERED] = 1;
        // In modes 2 and 3 a low gate sets the output high at once.
        if (stopped & bit && (mode === 2 || mode === 3) && s[c + OUT] === 0) {
          s[c + OUT] = 1;
          changed = true;
        }
        if (down & bit && pulse(s, c)) changed = true;
      }
      return changed;
    },
  };
}
