// Bus cycles of the 6809 (E and Q made inside, from four times the frequency) and the 6809E (E and Q given). `fall 0` to `fall 1`
// of E; Q rises a quarter of a period after E falls. Motorola MC6809 DS9845-R2 and MC6809E data sheets, bus timing, whose access
// time is tcyc - tf - address delay - tDSR.

import { type Affine, add, periods, nanoseconds } from './affine.ts';
import type { ArcFinder, BusCycle, Launch, ProcessorTiming } from './cycle.ts';

const fall = (n: number) => ({ n, phase: 'fall' }) as const;
const rise = (n: number) => ({ n, phase: 'rise' }) as const;

/**
 * From the fall of E to the rise of Q at the latest. Made inside: tAVS at the shortest period, and a quarter of what the period
 * is longer. Given from outside: a quarter of the period, as the driver of Q has to see to.
 */
function riseOfQ(find: ArcFinder): Affine | undefined {
  const inside = find(['tAVS']);
  const shortest = find(['tcyc']);
  if (inside === undefined) return find(['tEQ1']) === undefined ? undefined : periods(0.25);
  if (inside.max === undefined || shortest?.min === undefined) return undefined;
  return add(nanoseconds(inside.max - shortest.min / 4), periods(0.25));
}

/** Address after the fall of E: tAD where it is printed, else the rise of Q less tAQ. */
function addressDelay(find: ArcFinder): Affine | undefined {
  const given = find(['tAD']);
  if (given !== undefined) return given.max === undefined ? undefined : nanoseconds(given.max);
  const q = riseOfQ(find);
  const before = find(['tAQ']);
  return q === undefined || before?.min === undefined ? undefined : add(q, nanoseconds(-before.min));
}

function dataDelay(find: ArcFinder): Affine | undefined {
  const q = riseOfQ(find);
  const after = find(['tDDQ']);
  return q === undefined || after?.max === undefined ? undefined : add(q, nanoseconds(after.max));
}

const begin: readonly Launch[] = [
  { signal: 'address', edge: 'valid', at: fall(0), symbols: [], besides: addressDelay },
  { signal: 'rw', edge: 'valid', at: fall(0), symbols: [], besides: addressDelay },
  { signal: 'q', edge: 'rise', at: fall(0), symbols: [], besides: riseOfQ },
  { signal: 'e', edge: 'rise', at: rise(1), symbols: [] },
];
const end: readonly Launch[] = [
  { signal: 'e', edge: 'fall', at: fall(1), symbols: [] },
  { signal: 'address', edge: 'valid', at: fall(1), symbols: ['tAH'], latest: addressDelay },
  { signal: 'rw', edge: 'valid', at: fall(1), symbols: ['tAH'], latest: addressDelay },
];

const read: BusCycle = {
  name: 'memory read',
  space: 'memory',
  way: 'read',
  begin,
  end,
  capture: { at: fall(1), setup: ['tDSR'], lost: ['tr,tf'] },
  readHold: { after: 'e', symbols: ['tDHR'] },
  gaps: [],
  nextDrive: rise(2),
  waitFrom: 1,
  length: 1,
};
const write: BusCycle = {
  name: 'memory write',
  space: 'memory',
  way: 'write',
  begin: [...begin, { signal: 'data', edge: 'valid', at: fall(0), symbols: [], besides: dataDelay }],
  end: [...end, { signal: 'data', edge: 'valid', at: fall(1), symbols: ['tDHW'] }],
  gaps: [],
  nextDrive: rise(2),
  waitFrom: 1,
  length: 1,
};

export const SIXTY_EIGHT_O_NINE_TIMING: ProcessorTiming = {
  style: '6809',
  cycles: [read, write],
  period: ['tcyc'],
  high: ['PWEH'],
  low: ['PWEL'],
  clockSignal: 'e',
};
