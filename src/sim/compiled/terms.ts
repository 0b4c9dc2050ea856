// What drives a bus, word by word, for the slow ways of the host: lanes of driver words and how far they are moved.

import type { Bus } from './layout.ts';

/** A term of what drives a bus: lanes of one word, moved. */
export interface Term {
  readonly at: number;
  readonly shift: number;
  readonly mask: number;
}

/** Lanes of the words that drive a bus. */
export function termsOf(bus: Bus): Term[] {
  const terms = new Map<string, { at: number; shift: number; mask: number }>();
  for (const driver of bus.drivers)
    driver.nets.forEach((net, lane) => {
      const bit = bus.nets.indexOf(net);
      if (bit < 0) return;
      const key = `${driver.at} ${bit - lane}`;
      const term = terms.get(key) ?? { at: driver.at, shift: bit - lane, mask: 0 };
      term.mask |= 0x10001 << lane;
      terms.set(key, term);
    });
  return [...terms.values()];
}
