// Supervisors: reset from power-up for the pulse of the record's facts (typical), again after a button, and a watchdog where
// the part has one that is wired. Source: the facts of each record, with their sources there.
//
//   button pin low (or an open-drain reset pin pulled low from outside)  -> reset, until the pulse after release
//   watchdog input without an edge for its time, from the end of a reset on -> a reset pulse, or /WDO low; off while it floats
//   supply said to be too low (0 given), or good again (1)               -> reset, until the pulse after it is good
//
// Not modelled: volts of the supply (whoever gives the byte has held them against the threshold), power-fail comparators, CT
// capacitors (the typical pulse at 100 nF is taken).

import { type PartRecord, pinsNamed } from '../../parts/index.ts';
import { HIGH, LOW } from '../values.ts';
import type { PartModel } from './model.ts';

/** 0 idle, 1 reset for the pulse, 2 held by the button on its own pin, 3 held by a low supply. */
const ASSERTED = 0;
const STROBE = 1;
const WATCHED = 2;

/** Reset pulse in ns, from the record's facts (ms). */
function pulseNs(record: PartRecord): number {
  const facts = record.facts ?? {};
  for (const key of ['pulse-typ', 'pulse-100nf-typ', 'pulse-min']) {
    const value = facts[key];
    if (typeof value === 'number') return value * 1e6;
  }
  return 200e6; // common practice, no source
}

function watchdogNs(record: PartRecord, td: 0 | 1 | undefined): number | undefined {
  const facts = record.facts ?? {};
  if (typeof facts['watchdog-typ-s'] === 'number') return facts['watchdog-typ-s'] * 1e9;
  const set = facts[`watchdog-typ-ms-td-${td === 0 ? 'low' : td === 1 ? 'high' : 'open'}`];
  return typeof set === 'number' ? set * 1e6 : undefined;
}

/** The model of a supervisor's record; `td` is the rail its TD pin is on, if any. Undefined where it has no reset output that is known. */
export function supervisorModel(record: PartRecord, td?: 0 | 1 | undefined): PartModel | undefined {
  const named = (...names: readonly string[]): string | undefined =>
    names.find((name) => pinsNamed(record, name).length > 0);
  const low = named('/RST', '/RESET');
  const high = record.pins.find((pin) => pin.name === 'RST' || pin.name === 'RESET')?.name;
  const button = named('/PBRST', '/MR', '/RESIN');
  const strobe = named('/ST', 'WDI');
  // /ST wants a falling edge, WDI any.
  const isFall = strobe === '/ST';
  const dog = record.pins.find((pin) => pin.name === '/WDO')?.name;
  if (low === undefined && high === undefined) return undefined;
  const isOpenLow = low !== undefined && pinsNamed(record, low)[0]!.kind === 'open-drain';
  const isOpenHigh = high !== undefined && pinsNamed(record, high)[0]!.kind === 'three-state';
  // A part without a button pin whose record says push-button watches its own output.
  const watch = button ?? (record.facts?.['push-button'] === true && isOpenLow ? low : undefined);
  const pulse = pulseNs(record);
  const watchdog = strobe === undefined ? undefined : watchdogNs(record, td);
  const outs = [low, high, dog].filter((name) => name !== undefined);
  const ins = [watch === undefined ? [] : [watch], strobe === undefined ? [] : [strobe]];
  return {
    ins,
    outs: [outs],
    words: 4,
    drivesFrom: [false, false],
    commitsFrom: [true, true],
    power(s, b, _random, moment) {
      s[b + ASSERTED] = 1;
      s[b + STROBE] = 0;
      s[b + WATCHED] = 0;
      moment.after(pulse);
    },
    drive(s, b, _i, o) {
      const asserted = (s[b + ASSERTED]! & 1) !== 0;
      let word = 0;
      let bit = 0;
      const put = (value: number): void => {
        word |= ((value & 1) << bit) | ((value >> 1) << (bit + 16));
        bit++;
      };
      if (low !== undefined) put(asserted ? LOW : isOpenLow ? 0 : HIGH);
      if (high !== undefined) put(asserted ? HIGH : isOpenHigh ? 0 : LOW);
      if (dog !== undefined) put(s[b + WATCHED] === 2 ? LOW : HIGH);
      s[o] = word;
    },
    commit(s, b, p, i, moment) {
      let changed = false;
      if (watch !== undefined) {
        const before = (s[p]! & 1) | ((s[p]! >>> 15) & 2);
        const now = (s[i]! & 1) | ((s[i]! >>> 15) & 2);
        const isOwn = watch === low;
        if (isOwn && s[b + ASSERTED] === 2 && now === HIGH) {
          s[b + ASSERTED] = 1;
          moment.after(pulse);
          changed = true;
        } else if (now === LOW && s[b + ASSERTED] === 0) {
          // On its own pin the button holds the line; the part joins in when it lets go.
          s[b + ASSERTED] = isOwn ? 2 : 1;
          moment.after(Number.POSITIVE_INFINITY);
          changed = true;
        } else if (before === LOW && now === HIGH && !isOwn && s[b + ASSERTED] === 1) moment.after(pulse);
      }
      if (watchdog !== undefined) {
        const word = s[i + 1]! & 0x10001;
        const was = s[b + STROBE]!;
        // A strobe that floats switches it off; a level from the beginning is no edge.
        s[b + STROBE] = word === 1 || word === 0x10000 ? word : 0;
        const isEdge = s[b + STROBE] !== 0 && s[b + STROBE] !== was && (!isFall || s[b + STROBE] === 0x10000);
        if (s[b + ASSERTED] === 0 && isEdge) {
          if (s[b + WATCHED] !== 1) changed = true;
          s[b + WATCHED] = 1;
          moment.after(watchdog);
        } else if (s[b + ASSERTED] === 0 && s[b + STROBE] === 0 && s[b + WATCHED] === 1) {
          s[b + WATCHED] = 0;
          moment.after(Number.POSITIVE_INFINITY);
        }
      }
      return changed;
    },
    give(s, b, byte, moment) {
      if (byte === 0) {
        s[b + ASSERTED] = 3;
        s[b + WATCHED] = 0;
        moment.after(Number.POSITIVE_INFINITY);
      } else if (s[b + ASSERTED] === 3) {
        s[b + ASSERTED] = 1;
        moment.after(pulse);
      }
      return true;
    },
    timeout(s, b, moment) {
      if (s[b + ASSERTED] === 1) {
        s[b + ASSERTED] = 0;
        // The watchdog's time begins when the reset ends.
        s[b + WATCHED] = watchdog !== undefined && s[b + STROBE] !== 0 ? 1 : 0;
        if (s[b + WATCHED] === 1) moment.after(watchdog!);
        return true;
      }
      if (s[b + WATCHED] === 1) {
        if (dog !== undefined) s[b + WATCHED] = 2;
        else {
          s[b + WATCHED] = 0;
          s[b + ASSERTED] = 1;
          moment.after(pulse);
        }
        return true;
      }
      return false;
    },
  };
}
