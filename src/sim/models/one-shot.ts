// One-shots of the 74x123 kind and the 555 timer: pulses whose length a resistor and a capacitor set. The analogue pins are not
// simulated: what hangs on them is read from the wiring when the circuit is built (surroundings.ts).
//
//   A /CLR B: falls with B high, rises with A low, or /CLR rises with A low and B high -> Q high for its time, from the last
//   trigger on (retriggerable); /CLR low ends it. Source, from memory: TI SN74LS123 data sheet SDLS043, function table; SN74HC123
//   for the /CLR edge. Time, from memory: 0.45 R C for HC and HCT at 5 V (Nexperia 74HC/HCT123: K of about 0.45 from 10 nF on), 0.37 R C and a little for LS (TI
//   SDLS043: K of about 0.37 at large C). A real one is off by some percent.
//
//   555: TI NE555 data sheet SLFS022I. Astable: high for 0.693 (RA + RB) C, low for 0.693 RB C. Monostable: TRIG low starts
//   1.1 R C; the output stays high while TRIG is low. /RESET low holds the output low.

import { driven, falls, highs, lows, rises } from './levels.ts';
import type { PartModel } from './model.ts';

/** One one-shot of a part: its pins, and the length of its pulse in ns. */
export interface OneShot {
  readonly a: string;
  readonly b: string;
  readonly clear: string;
  readonly q: string;
  readonly nq: string;
  readonly ns: number;
}

/** The model of one one-shot. Parts with two are two of these. */
export function oneShotModel(unit: OneShot): PartModel {
  const isReady = (word: number): boolean => (lows(word) & 1) !== 0 && (highs(word) & 6) === 6;
  return {
    ins: [[unit.a, unit.b, unit.clear]],
    outs: [[unit.q, unit.nq]],
    words: 1,
    drivesFrom: [true],
    commitsFrom: [true],
    power(s, b) {
      s[b] = 0;
    },
    drive(s, b, i, o) {
      const q = s[b] === 1 && !(lows(s[i]!) & 4) ? 1 : 0;
      s[o] = driven(q | ((q ^ 1) << 1), 2);
    },
    commit(s, b, p, i, moment) {
      const now = s[i]!;
      if (lows(now) & 4) {
        if (s[b] === 0) return false;
        s[b] = 0;
        moment.after(Number.POSITIVE_INFINITY);
        return true;
      }
      const edge = (falls(s[p]!, now) & 1) | (rises(s[p]!, now) & 6);
      if (edge === 0 || !isReady(now)) return false;
      moment.after(unit.ns);
      if (s[b] === 1) return false;
      s[b] = 1;
      return true;
    },
    timeout(s, b) {
      s[b] = 0;
      return true;
    },
  };
}

/** A 555 as a source: high and low times in ns. */
export function astableModel(highNs: number, lowNs: number): PartModel {
  return {
    ins: [['/RESET']],
    outs: [['OUT']],
    words: 1,
    drivesFrom: [true],
    commitsFrom: [true],
    power(s, b, _random, moment) {
      s[b] = 1;
      moment.after(highNs);
    },
    drive(s, b, i, o) {
      s[o] = driven(s[b] === 1 && !(lows(s[i]!) & 1) ? 1 : 0, 1);
    },
    commit(s, b, p, i, moment) {
      // Out of reset it begins with an empty capacitor: high.
      if (!(rises(s[p]!, s[i]!) & 1)) return false;
      s[b] = 1;
      moment.after(highNs);
      return true;
    },
    timeout(s, b, moment) {
      s[b] = s[b] === 1 ? 0 : 1;
      moment.after(s[b] === 1 ? highNs : lowNs);
      return true;
    },
  };
}

/** A 555 as a one-shot of so many ns; 0 idle, 1 in its time, 2 over it but held by TRIG. */
export function monostableModel(ns: number): PartModel {
  return {
    ins: [['/RESET', 'TRIG']],
    outs: [['OUT']],
    words: 2,
    drivesFrom: [true],
    commitsFrom: [true],
    power(s, b) {
      s[b] = 0;
      s[b + 1] = 0;
    },
    drive(s, b, i, o) {
      s[o] = driven(s[b] !== 0 && !(lows(s[i]!) & 1) ? 1 : 0, 1);
    },
    commit(s, b, _p, i, moment) {
      const low = lows(s[i]!);
      s[b + 1] = low & 2;
      if (low & 1) {
        if (s[b] === 0) return false;
        s[b] = 0;
        moment.after(Number.POSITIVE_INFINITY);
        return true;
      }
      if (low & 2) {
        if (s[b] !== 0) return false;
        s[b] = 1;
        moment.after(ns);
        return true;
      }
      if (s[b] !== 2) return false;
      s[b] = 0;
      return true;
    },
    timeout(s, b) {
      s[b] = s[b + 1] !== 0 ? 2 : 0;
      return true;
    },
  };
}
