// What was observed as one word a half clock: levels, what is firm, for up to 31 nets at once.

import type { Observed } from '../model.ts';

export const MOST_CHANNELS = 31;

export interface Packed {
  readonly halves: number;
  /** Names of the nets by bit. */
  readonly nets: readonly string[];
  readonly level: Int32Array;
  readonly strong: Int32Array;
  readonly sinceReset: number | null;
  readonly firstHigh: boolean;
}

/** The first 31 nets that `has` knows; the rest are left out. */
export function pack(observed: Observed, has: (net: string) => boolean, most = Number.POSITIVE_INFINITY): Packed {
  const halves = Math.min(observed.halves, most);
  const nets = observed.nets.filter(({ net }) => has(net)).slice(0, MOST_CHANNELS);
  const level = new Int32Array(halves);
  const strong = new Int32Array(halves);
  nets.forEach((net, bit) => {
    for (let k = 0; k < halves; k++) {
      if (net.known[k] === 0 || net.strong[k] === 0) continue;
      level[k]! |= (net.level[k]! & 1) << bit;
      strong[k]! |= 1 << bit;
    }
  });
  return {
    halves,
    nets: nets.map(({ net }) => net),
    level,
    strong,
    sinceReset: observed.sinceReset,
    firstHigh: observed.firstHigh,
  };
}

/** Number of bits set. */
export function bitCount(word: number): number {
  let n = word - ((word >>> 1) & 0x55555555);
  n = (n & 0x33333333) + ((n >>> 2) & 0x33333333);
  return Math.imul((n + (n >>> 4)) & 0x0f0f0f0f, 0x01010101) >>> 24;
}
