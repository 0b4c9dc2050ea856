// Bus cycles of the 8088 in minimum mode, after the Intel data sheet, "Bus Timing, Minimum Mode System". `fall 0` starts T1; the
// clock is low first, for two thirds. Address, data and command come from falls, ALE's end from the rise in T1.

import type { BusCycle, Launch, ProcessorTiming, PromisedGap } from './cycle.ts';

const fall = (n: number) => ({ n, phase: 'fall' }) as const;
const rise = (n: number) => ({ n, phase: 'rise' }) as const;

const common: readonly Launch[] = [
  { signal: 'address', edge: 'valid', at: fall(0), symbols: ['TCLAV'] },
  { signal: 'ale', edge: 'rise', at: fall(0), symbols: ['TCLLH'] },
  { signal: 'io-memory', edge: 'valid', at: rise(0), symbols: ['TCHCTV'] },
  { signal: 'data-direction', edge: 'valid', at: rise(0), symbols: ['TCHCTV'] },
];
// The latch keeps the address from ALE's fall to its next rise, which is where the address behind it changes.
const next: readonly Launch[] = [
  { signal: 'ale', edge: 'rise', at: fall(4), symbols: ['TCLLH'] },
  { signal: 'address', edge: 'valid', at: fall(4), symbols: ['TCLAV'] },
  { signal: 'io-memory', edge: 'valid', at: rise(4), symbols: ['TCHCTV'] },
];
/** READY is looked at as T3 begins its high part; a clock generator takes the request in at the end of T2. */
const wait = { signal: 'ready', at: rise(3), atGenerator: fall(2) } as const;
const gap = (
  from: string,
  fromEdge: Launch['edge'],
  to: string,
  toEdge: Launch['edge'],
  symbol: string,
): PromisedGap => ({
  from: { signal: from, edge: fromEdge },
  to: { signal: to, edge: toEdge },
  symbols: [symbol],
});

function cycles(space: 'memory' | 'ports', name: string): BusCycle[] {
  return [
    {
      name: `${name} read`,
      space,
      way: 'read',
      begin: [
        ...common,
        { signal: 'read', edge: 'fall', at: fall(1), symbols: ['TCLRL'] },
        { signal: 'data-enable', edge: 'fall', at: rise(2), symbols: ['TCVCTV'] },
      ],
      end: [
        { signal: 'read', edge: 'rise', at: fall(3), symbols: ['TCLRH'] },
        { signal: 'data-enable', edge: 'rise', at: fall(3), symbols: ['TCVCTX'] },
        ...next,
      ],
      capture: { at: fall(3), setup: ['TDVCL'] },
      readHold: { after: 'clock', symbols: ['TCLDX'] },
      gaps: [gap('read', 'fall', 'read', 'rise', 'TRLRH'), gap('read', 'rise', 'address', 'valid', 'TRHAV')],
      nextDrive: fall(4),
      waitFrom: 3,
      wait,
      length: 4,
    },
    {
      name: `${name} write`,
      space,
      way: 'write',
      begin: [
        ...common,
        { signal: 'data', edge: 'valid', at: fall(1), symbols: ['TCLDV'] },
        { signal: 'write', edge: 'fall', at: fall(1), symbols: ['TCVCTV'] },
        { signal: 'data-enable', edge: 'fall', at: rise(1), symbols: ['TCVCTV'] },
      ],
      end: [
        { signal: 'write', edge: 'rise', at: fall(3), symbols: ['TCVCTX'] },
        { signal: 'data', edge: 'valid', at: rise(4), symbols: ['TCHDX'] },
        ...next,
      ],
      gaps: [gap('write', 'fall', 'write', 'rise', 'TWLWH'), gap('write', 'rise', 'data', 'valid', 'TWHDX')],
      nextDrive: fall(4),
      waitFrom: 3,
      wait,
      length: 4,
    },
  ];
}

/** The second of the two acknowledge cycles, in which the vector is taken in; no address, the rest as in a read. */
const acknowledge: BusCycle = {
  name: 'interrupt acknowledge',
  space: 'vector',
  way: 'read',
  begin: [
    { signal: 'ale', edge: 'rise', at: fall(0), symbols: ['TCLLH'] },
    { signal: 'interrupt-acknowledge', edge: 'fall', at: fall(1), symbols: ['TCVCTV'] },
    { signal: 'data-enable', edge: 'fall', at: rise(2), symbols: ['TCVCTV'] },
  ],
  end: [
    { signal: 'interrupt-acknowledge', edge: 'rise', at: fall(3), symbols: ['TCVCTX'] },
    { signal: 'data-enable', edge: 'rise', at: fall(3), symbols: ['TCVCTX'] },
  ],
  capture: { at: fall(3), setup: ['TDVCL'] },
  readHold: { after: 'clock', symbols: ['TCLDX'] },
  gaps: [],
  nextDrive: fall(4),
  waitFrom: 3,
  wait,
  length: 4,
};

export const EIGHTY_EIGHT_TIMING: ProcessorTiming = {
  style: '8088',
  cycles: [...cycles('memory', 'memory'), ...cycles('ports', 'port'), acknowledge],
  period: ['TCLCL'],
  high: ['TCHCL'],
  low: ['TCLCH'],
  clockSignal: 'clock',
};

/**
 * Maximum mode: a bus controller on the same clock makes ALE, the commands and the enable of the data lines. Intel 8088 data sheet,
 * "Bus Timing, Maximum Mode System (Using 8288)"; which edges switch the data lines is from memory.
 */
function maximum(space: 'memory' | 'ports', name: string): BusCycle[] {
  const [readCommand, writeCommand, early] =
    space === 'memory'
      ? ['memory-read', 'memory-write', 'memory-write-early']
      : ['io-read', 'io-write', 'io-write-early'];
  const via = 'controller' as const;
  const begin: readonly Launch[] = [
    { signal: 'address', edge: 'valid', at: fall(0), symbols: ['TCLAV'] },
    { signal: 'ale', edge: 'rise', at: fall(0), symbols: ['TCLLH'], via },
    { signal: 'data-direction', edge: 'valid', at: rise(1), symbols: ['TCHDTL'], via },
  ];
  const after: readonly Launch[] = [
    { signal: 'ale', edge: 'rise', at: fall(4), symbols: ['TCLLH'], via },
    { signal: 'address', edge: 'valid', at: fall(4), symbols: ['TCLAV'] },
    { signal: 'data-enable', edge: 'fall', at: rise(4), symbols: ['TCVNX'], via },
  ];
  const shared = { space, gaps: [], nextDrive: fall(4), waitFrom: 3, wait, length: 4 } as const;
  return [
    {
      ...shared,
      name: `${name} read`,
      way: 'read',
      begin: [
        ...begin,
        { signal: readCommand!, edge: 'fall', at: fall(1), symbols: ['TCLML'], via },
        { signal: 'data-enable', edge: 'rise', at: rise(2), symbols: ['TCVNV'], via },
      ],
      end: [{ signal: readCommand!, edge: 'rise', at: fall(3), symbols: ['TCLMH'], via }, ...after],
      capture: { at: fall(3), setup: ['TDVCL'] },
      readHold: { after: 'clock', symbols: ['TCLDX'] },
    },
    {
      ...shared,
      name: `${name} write`,
      way: 'write',
      begin: [
        ...begin,
        { signal: 'data', edge: 'valid', at: fall(1), symbols: ['TCLDV'] },
        { signal: 'data-enable', edge: 'rise', at: rise(1), symbols: ['TCVNV'], via },
        { signal: early!, edge: 'fall', at: fall(1), symbols: ['TCLML'], via },
        { signal: writeCommand!, edge: 'fall', at: fall(2), symbols: ['TCLML'], via },
      ],
      end: [
        { signal: early!, edge: 'rise', at: fall(3), symbols: ['TCLMH'], via },
        { signal: writeCommand!, edge: 'rise', at: fall(3), symbols: ['TCLMH'], via },
        { signal: 'data', edge: 'valid', at: rise(4), symbols: ['TCHDX'] },
        ...after,
      ],
    },
  ];
}

export const EIGHTY_EIGHT_MAXIMUM: ProcessorTiming = {
  ...EIGHTY_EIGHT_TIMING,
  cycles: [
    ...maximum('memory', 'memory'),
    ...maximum('ports', 'port'),
    {
      ...acknowledge,
      begin: [
        { signal: 'ale', edge: 'rise', at: fall(0), symbols: ['TCLLH'], via: 'controller' },
        { signal: 'data-direction', edge: 'valid', at: rise(1), symbols: ['TCHDTL'], via: 'controller' },
        { signal: 'interrupt-acknowledge', edge: 'fall', at: fall(1), symbols: ['TCLML'], via: 'controller' },
        { signal: 'data-enable', edge: 'rise', at: rise(2), symbols: ['TCVNV'], via: 'controller' },
      ],
      end: [
        { signal: 'interrupt-acknowledge', edge: 'rise', at: fall(3), symbols: ['TCLMH'], via: 'controller' },
        { signal: 'data-enable', edge: 'fall', at: rise(4), symbols: ['TCVNX'], via: 'controller' },
      ],
    },
  ],
};
