// Bus cycles of the 6502 family. A cycle runs from one fall of phase 2 to the next: `fall 0` to `fall 1`, `rise 1` between them.
// W65C02S: WDC data sheet, table 6-3 and figure 6-1; R65C02: Rockwell, doc 29651N64; NMOS: MCS6500 Hardware Manual, figure 1.5.

import type { BusCycle, Launch, ProcessorTiming } from './cycle.ts';

const fall = (n: number) => ({ n, phase: 'fall' }) as const;
const rise = (n: number) => ({ n, phase: 'rise' }) as const;

const begin: readonly Launch[] = [
  { signal: 'address', edge: 'valid', at: fall(0), symbols: ['tADS', 'TADS'] },
  { signal: 'rw', edge: 'valid', at: fall(0), symbols: ['tRWS', 'TRWS', 'tADS'] },
  { signal: 'phase2', edge: 'rise', at: rise(1), symbols: [] },
];
const end: readonly Launch[] = [
  { signal: 'phase2', edge: 'fall', at: fall(1), symbols: [] },
  { signal: 'address', edge: 'valid', at: fall(1), symbols: ['tAH', 'tHA', 'THA'], latest: ['tADS', 'TADS'] },
  { signal: 'rw', edge: 'valid', at: fall(1), symbols: ['tHRW', 'THRW', 'tAH'], latest: ['tRWS', 'TRWS', 'tADS'] },
];

const read: BusCycle = {
  name: 'memory read',
  space: 'memory',
  way: 'read',
  begin,
  end,
  capture: { at: fall(1), setup: ['tDSR', 'tDSU', 'TDSU'], lost: ['TR'], lostWith: 'TADS' },
  readHold: { after: 'phase2', symbols: ['tDHR', 'tHR', 'TH'] },
  gaps: [],
  nextDrive: rise(2),
  waitFrom: 1,
  wait: { signal: 'ready', at: fall(1) },
  length: 1,
};
const write: BusCycle = {
  name: 'memory write',
  space: 'memory',
  way: 'write',
  begin: [...begin, { signal: 'data', edge: 'valid', at: rise(1), symbols: ['tMDS', 'tWDS', 'TMDS'] }],
  end: [...end, { signal: 'data', edge: 'valid', at: fall(1), symbols: ['tDHW', 'tHW', 'THW'] }],
  gaps: [],
  nextDrive: rise(2),
  waitFrom: 1,
  length: 1,
};

export const SIXTY_FIVE_TIMING: ProcessorTiming = {
  style: '6502',
  cycles: [read, write],
  period: ['tCYC', 'TCYC'],
  high: ['tPWH', 'tCH', 'PWH phi2'],
  low: ['tPWL', 'tCL', 'PWH phi1'],
  clockSignal: 'clock',
};
