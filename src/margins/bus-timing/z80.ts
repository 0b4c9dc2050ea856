// Bus cycles of the Z80 after the timing diagrams of Zilog PS017801-0602 (figures "Instruction Opcode Fetch", "Memory Read or
// Write", "Input or Output", "Interrupt Request/Acknowledge") and the Mostek MK3880 manual. `rise 0` is the start of T1.

import type { BusCycle, Launch, ProcessorTiming, PromisedGap } from './cycle.ts';

const rise = (n: number) => ({ n, phase: 'rise' }) as const;
const fall = (n: number) => ({ n, phase: 'fall' }) as const;

const address: Launch = { signal: 'address', edge: 'valid', at: rise(0), symbols: ['TdCr(A)', 'tD(AD)'] };
const refreshEnds: Launch = {
  signal: 'refresh',
  edge: 'rise',
  at: rise(0),
  symbols: ['TdCr(RFSHr)', 'tDH(RF)'],
};
const m1Ends: Launch = { signal: 'fetch', edge: 'rise', at: rise(0), symbols: [] };

const gap = (
  from: string,
  fromEdge: Launch['edge'],
  to: string,
  toEdge: Launch['edge'],
  ...symbols: string[]
): PromisedGap => ({ from: { signal: from, edge: fromEdge }, to: { signal: to, edge: toEdge }, symbols });

const addressKept = ['memory', 'io', 'read', 'write'].map((signal) =>
  gap(signal, 'rise', 'address', 'valid', 'TdCTr(A)', 'tca'),
);
const memoryGaps = [
  gap('address', 'valid', 'memory', 'fall', 'TdA(MREQf)', 'tacm'),
  gap('memory', 'fall', 'memory', 'rise', 'TwMREQl', 'tw(MRL)'),
  ...addressKept,
];
const portGaps = ['io', 'read', 'write'].map((signal) => gap('address', 'valid', signal, 'fall', 'TdA(IORQf)', 'taci'));

const fetch: BusCycle = {
  name: 'fetch',
  space: 'memory',
  way: 'read',
  begin: [
    address,
    refreshEnds,
    { signal: 'fetch', edge: 'fall', at: rise(0), symbols: ['TdCr(M1f)', 'tDL(M1)'] },
    { signal: 'memory', edge: 'fall', at: fall(0), symbols: ['TdCf(MREQf)', 'tDLf(MR)'] },
    { signal: 'read', edge: 'fall', at: fall(0), symbols: ['TdCf(RDf)', 'tDLf(RD)'] },
  ],
  end: [
    { signal: 'memory', edge: 'rise', at: rise(2), symbols: ['TdCr(MREQr)', 'tDHr(MR)'] },
    { signal: 'read', edge: 'rise', at: rise(2), symbols: ['TdCr(RDr)', 'tDHr(RD)'] },
    { signal: 'address', edge: 'valid', at: rise(2), symbols: ['TdCr(A)', 'tD(AD)'] },
  ],
  capture: { at: rise(2), setup: ['TsD(Cr)', 'tSPhi(D) M1'] },
  readHold: { after: 'read', symbols: ['ThD(RDr)', 'tH'] },
  gaps: [gap('address', 'valid', 'memory', 'fall', 'TdA(MREQf)', 'tacm')],
  nextDrive: fall(4),
  waitFrom: 2,
  wait: { signal: 'wait', at: fall(1) },
  length: 4,
};

const memoryRead: BusCycle = {
  name: 'memory read',
  space: 'memory',
  way: 'read',
  begin: [
    address,
    { signal: 'memory', edge: 'fall', at: fall(0), symbols: ['TdCf(MREQf)', 'tDLf(MR)'] },
    { signal: 'read', edge: 'fall', at: fall(0), symbols: ['TdCf(RDf)', 'tDLf(RD)'] },
  ],
  end: [
    { signal: 'memory', edge: 'rise', at: fall(2), symbols: ['TdCf(MREQr)', 'tDHf(MR)'] },
    { signal: 'read', edge: 'rise', at: fall(2), symbols: ['TdCf(RDr)', 'tDHf(RD)'] },
    { signal: 'address', edge: 'valid', at: rise(3), symbols: ['TdCr(A)', 'tD(AD)'] },
  ],
  capture: { at: fall(2), setup: ['TsD(Cf)', 'tSPhi(D)'] },
  readHold: { after: 'read', symbols: ['ThD(RDr)', 'tH'] },
  gaps: memoryGaps,
  nextDrive: fall(3),
  waitFrom: 2,
  wait: { signal: 'wait', at: fall(1) },
  length: 3,
};

const memoryWrite: BusCycle = {
  name: 'memory write',
  space: 'memory',
  way: 'write',
  begin: [
    address,
    { signal: 'memory', edge: 'fall', at: fall(0), symbols: ['TdCf(MREQf)', 'tDLf(MR)'] },
    { signal: 'data', edge: 'valid', at: fall(0), symbols: ['TdCf(D)', 'tD(D)'] },
    { signal: 'write', edge: 'fall', at: fall(1), symbols: ['TdCf(WRf)', 'tDLf(WR)'] },
  ],
  end: [
    { signal: 'write', edge: 'rise', at: fall(2), symbols: ['TdCf(WRr)', 'tDHf(WR)'] },
    { signal: 'memory', edge: 'rise', at: fall(2), symbols: ['TdCf(MREQr)', 'tDHf(MR)'] },
    { signal: 'address', edge: 'valid', at: rise(3), symbols: ['TdCr(A)', 'tD(AD)'] },
    { signal: 'data', edge: 'valid', at: rise(3), symbols: ['TdCr(Dz)', 'tF(D)'] },
  ],
  gaps: [
    ...memoryGaps,
    gap('data', 'valid', 'write', 'fall', 'TdD(WRf)Mw', 'tdcm'),
    gap('write', 'fall', 'write', 'rise', 'TwWR', 'tw(WRL)'),
    gap('write', 'rise', 'data', 'valid', 'TdWRr(D)', 'tcdf'),
  ],
  nextDrive: fall(3),
  waitFrom: 2,
  wait: { signal: 'wait', at: fall(1) },
  length: 3,
};

const portRead: BusCycle = {
  name: 'port read',
  space: 'ports',
  way: 'read',
  begin: [
    address,
    m1Ends,
    { signal: 'io', edge: 'fall', at: rise(1), symbols: ['TdCr(IORQf)', 'tDLr(IR)'] },
    { signal: 'read', edge: 'fall', at: rise(1), symbols: ['TdCr(RDf)', 'tDLr(RD)'] },
  ],
  end: [
    { signal: 'io', edge: 'rise', at: fall(3), symbols: ['TdCf(IORQr)', 'tDHf(IR)'] },
    { signal: 'read', edge: 'rise', at: fall(3), symbols: ['TdCf(RDr)', 'tDHf(RD)'] },
    { signal: 'address', edge: 'valid', at: rise(4), symbols: ['TdCr(A)', 'tD(AD)'] },
  ],
  capture: { at: fall(3), setup: ['TsD(Cf)', 'tSPhi(D)'] },
  readHold: { after: 'read', symbols: ['ThD(RDr)', 'tH'] },
  gaps: [...portGaps, ...addressKept],
  nextDrive: fall(4),
  waitFrom: 3,
  wait: { signal: 'wait', at: fall(2) },
  apart: 4,
  length: 4,
};

const portWrite: BusCycle = {
  name: 'port write',
  space: 'ports',
  way: 'write',
  begin: [
    address,
    m1Ends,
    { signal: 'data', edge: 'valid', at: fall(0), symbols: ['TdCf(D)', 'tD(D)'] },
    { signal: 'io', edge: 'fall', at: rise(1), symbols: ['TdCr(IORQf)', 'tDLr(IR)'] },
    { signal: 'write', edge: 'fall', at: rise(1), symbols: ['TdCr(WRf)', 'tDLr(WR)'] },
  ],
  end: [
    { signal: 'io', edge: 'rise', at: fall(3), symbols: ['TdCf(IORQr)', 'tDHf(IR)'] },
    { signal: 'write', edge: 'rise', at: fall(3), symbols: ['TdCf(WRr)', 'tDHf(WR)'] },
    { signal: 'address', edge: 'valid', at: rise(4), symbols: ['TdCr(A)', 'tD(AD)'] },
    { signal: 'data', edge: 'valid', at: rise(4), symbols: ['TdCr(Dz)', 'tF(D)'] },
  ],
  gaps: [
    ...portGaps,
    ...addressKept,
    gap('data', 'valid', 'write', 'fall', 'TdD(WRf)IO', 'tdci'),
    gap('write', 'rise', 'data', 'valid', 'TdWRr(D)', 'tcdf'),
  ],
  nextDrive: fall(4),
  waitFrom: 3,
  wait: { signal: 'wait', at: fall(2) },
  apart: 4,
  length: 4,
};

/** Two wait states come by themselves; the vector is taken in like an opcode, at the rise that starts T3. */
const acknowledge: BusCycle = {
  name: 'interrupt acknowledge',
  space: 'vector',
  way: 'read',
  begin: [
    { signal: 'fetch', edge: 'fall', at: rise(0), symbols: ['TdCr(M1f)', 'tDL(M1)'] },
    { signal: 'io', edge: 'fall', at: fall(2), symbols: ['TdCf(IORQf)', 'tDLf(IR)'] },
  ],
  end: [
    { signal: 'io', edge: 'rise', at: rise(4), symbols: ['TdCr(IORQr)', 'tDHr(IR)'] },
    { signal: 'fetch', edge: 'rise', at: rise(4), symbols: ['TdCr(M1r)', 'tDH(M1)'] },
  ],
  capture: { at: rise(4), setup: ['TsD(Cr)', 'tSPhi(D) M1'] },
  gaps: [gap('fetch', 'fall', 'io', 'fall', 'TdM1f(IORQf)', 'tmr')],
  nextDrive: fall(6),
  waitFrom: 4,
  length: 6,
};

export const Z80_TIMING: ProcessorTiming = {
  style: 'z80',
  cycles: [fetch, memoryRead, memoryWrite, portRead, portWrite, acknowledge],
  period: ['TcC', 'tc'],
  high: ['TwCh', 'tw(PhiH)'],
  low: ['TwCl', 'tw(PhiL)'],
  clockSignal: 'clock',
};
