// The half clocks of each machine cycle, from the maker's timing diagrams (Zilog UM0080, "CPU timing": figure 5 opcode
// fetch, 6 memory read or write, 7 input or output, 8 bus request, 9 interrupt acknowledge, 10 non-maskable interrupt,
// 11 halt exit; the edge that moves each output also from PS0178, AC characteristics: TdCr is from a rising, TdCf from a
// falling edge of the clock). A phase is one edge of the clock: what the processor does at it and the control outputs
// after it. The sequencer in step.ts walks these tables; a compiled kernel may read them too.

import {
  PIN_ADDRESS_FLOATS,
  PIN_ALL,
  PIN_BUSACK,
  PIN_CONTROL_FLOATS,
  PIN_HALT,
  PIN_IORQ,
  PIN_M1,
  PIN_MREQ,
  PIN_RD,
  PIN_RFSH,
  PIN_UNKNOWN,
  PIN_WR,
} from './state.ts';

/** What happens at an edge; the numbers are the cases of `step`. */
export const ACTION = {
  /** Only the control outputs move. */
  pass: 0,
  /** T1 rises: the bus may be given away; the address goes out and the data bus is left. */
  begin: 1,
  /** T1 of an internal machine cycle rises: as begin, the address stays. */
  beginInternal: 2,
  /** A T-state added to the machine cycle rises: it may be the last. */
  extend: 3,
  /** The byte to write goes out. */
  put: 4,
  /** /WAIT is sampled: low goes back half a clock for one more wait state. */
  wait: 5,
  /** T3 of a fetch rises: the opcode is taken in and the refresh address goes out. */
  fetch: 6,
  /** The rising edge of a last T-state: requests are sampled. */
  latch: 7,
  /** A fetch ends: the opcode chooses the micro-steps. */
  decode: 8,
  /** As decode, PC stays: opcode given in an interrupt acknowledge of mode 0. */
  decodeGiven: 9,
  /** The machine cycle ends: on with the next micro-step. */
  next: 10,
  /** The byte is taken in and the machine cycle ends. */
  read: 11,
  /** Half of an internal T-state: on, or round again. */
  count: 12,
  /** The bus is given away: /BUSREQ is sampled at every rising edge. */
  granted: 13,
  /** The bus comes back: on with the machine cycle that waited. */
  resume: 14,
  /** A phase that goes back to the one before (lost, held in reset, bus given away). */
  back: 15,
  /** Out of reset: the first fetch follows. */
  start: 16,
  /** The bus is away: only time passes. */
  away: 17,
  /** /WAIT is sampled in T2 of a memory write, whose /WR has just fallen: low goes on to the wait states behind T3. */
  waitWrite: 18,
  /** /WAIT is sampled in a wait state of a memory write: high goes back to T3. */
  waitMore: 19,
} as const;

/** Machine cycles a micro-step can ask for. */
export const CYCLE = {
  fetch: 0,
  /** Fetch whose byte is ignored: the start of a non-maskable interrupt. */
  idleFetch: 1,
  /** Interrupt acknowledge whose byte is an opcode. */
  acknowledgeOpcode: 2,
  /** Interrupt acknowledge whose byte is a vector, or ignored. */
  acknowledge: 3,
  memoryRead: 4,
  memoryWrite: 5,
  ioRead: 6,
  ioWrite: 7,
  /** A machine cycle of internal work only. */
  internal: 8,
  /** T-states added to the machine cycle before. */
  extra: 9,
  /** Fetch whose byte is ignored, /HALT low: a halted processor's no-operation. */
  haltedFetch: 10,
  /** No cycle: the instruction is over. */
  end: 11,
} as const;

type Edge = readonly [low: number, action: keyof typeof ACTION];

const M1 = PIN_M1;
const MREQ = PIN_MREQ;
const RD = PIN_RD;
const WR = PIN_WR;
const IORQ = PIN_IORQ;
const RFSH = PIN_RFSH;

const fetch = (end: 'decode' | 'next', also = 0): readonly Edge[] => [
  [M1 | also, 'begin'], // T1 rises
  [M1 | MREQ | RD | also, 'pass'],
  [M1 | MREQ | RD | also, 'pass'], // T2 and wait states
  [M1 | MREQ | RD | also, 'wait'],
  [RFSH | also, 'fetch'], // T3
  [RFSH | MREQ | also, 'pass'],
  [RFSH | MREQ | also, 'latch'], // T4
  [RFSH | also, end],
];

const acknowledge = (end: 'decodeGiven' | 'next'): readonly Edge[] => [
  [M1, 'begin'], // T1
  [M1, 'pass'],
  [M1, 'pass'], // T2
  [M1, 'pass'],
  [M1, 'pass'], // first wait state of its own
  [M1 | IORQ, 'pass'],
  [M1 | IORQ, 'pass'], // second, and wait states asked for
  [M1 | IORQ, 'wait'],
  [RFSH, 'fetch'], // T3
  [RFSH | MREQ, 'pass'],
  [RFSH | MREQ, 'latch'], // T4
  [RFSH, end],
];

// In the order of CYCLE.
const CYCLES: readonly (readonly Edge[])[] = [
  fetch('decode'),
  fetch('next'),
  acknowledge('decodeGiven'),
  acknowledge('next'),
  [
    [0, 'begin'], // memory read, figure 6
    [MREQ | RD, 'pass'],
    [MREQ | RD, 'pass'],
    [MREQ | RD, 'wait'],
    [MREQ | RD, 'latch'],
    [0, 'read'],
  ],
  [
    [0, 'begin'], // memory write, figure 6
    [MREQ, 'put'],
    [MREQ, 'pass'],
    [MREQ | WR, 'waitWrite'],
    [MREQ | WR, 'latch'],
    [0, 'next'],
    [MREQ | WR, 'pass'], // wait states asked for
    [MREQ | WR, 'waitMore'],
  ],
  [
    [0, 'begin'], // input, figure 7
    [0, 'pass'],
    [IORQ | RD, 'pass'],
    [IORQ | RD, 'pass'],
    [IORQ | RD, 'pass'], // the wait state of its own, and those asked for
    [IORQ | RD, 'wait'],
    [IORQ | RD, 'latch'],
    [0, 'read'],
  ],
  [
    [0, 'begin'], // output, figure 7
    [0, 'put'],
    [IORQ | WR, 'pass'],
    [IORQ | WR, 'pass'],
    [IORQ | WR, 'pass'],
    [IORQ | WR, 'wait'],
    [IORQ | WR, 'latch'],
    [0, 'next'],
  ],
  [
    [0, 'beginInternal'],
    [0, 'count'],
  ],
  [
    [0, 'extend'],
    [0, 'count'],
  ],
  fetch('next', PIN_HALT),
];

const control: number[] = [];
const action: number[] = [];
const starts: number[] = [];
const add = (level: number, name: keyof typeof ACTION): number => {
  control.push(level);
  action.push(ACTION[name]);
  return control.length - 1;
};
for (const edges of CYCLES) {
  starts.push(control.length);
  for (const [low, name] of edges) add(PIN_ALL & ~low, name);
}

// Figure 8: the bus floats and /BUSACK falls from a rising edge, /BUSACK rises from a falling one. /M1, /HALT and /RFSH stay
// driven: the pin descriptions name /MREQ, /IORQ, /RD and /WR alone (the drawing of figure 8 lists /RFSH with them).
const away = (PIN_ALL & ~PIN_BUSACK) | PIN_ADDRESS_FLOATS | PIN_CONTROL_FLOATS;
/** Phase: the bus has just been given away (rise). */
export const PHASE_GRANT: number = add(away, 'away');
/** Phase: the bus is away (fall). */
export const PHASE_AWAY: number = add(away, 'away');
add(away, 'granted');
/** Phase: /BUSACK rises (fall). */
export const PHASE_GIVE_BACK: number = add(PIN_ALL | PIN_ADDRESS_FLOATS | PIN_CONTROL_FLOATS, 'resume');
/** Phase: lost (rise, then fall and back). */
export const PHASE_LOST: number = add(PIN_UNKNOWN, 'pass');
add(PIN_UNKNOWN, 'back');
// UM0080, /RESET: address and data bus float, control outputs are inactive.
/** Phase: held in reset (rise, then fall and back). */
export const PHASE_HELD: number = add(PIN_ALL | PIN_ADDRESS_FLOATS, 'pass');
add(PIN_ALL | PIN_ADDRESS_FLOATS, 'back');
/** Phase: first of the two clocks between reset and the first fetch. */
export const PHASE_RELEASED: number = add(PIN_ALL | PIN_ADDRESS_FLOATS, 'pass');
add(PIN_ALL | PIN_ADDRESS_FLOATS, 'pass');
add(PIN_ALL | PIN_ADDRESS_FLOATS, 'pass');
add(PIN_ALL | PIN_ADDRESS_FLOATS, 'start');

/** By phase: control outputs after its edge (PIN_* bits) in bits 0-15, the number of its action (ACTION) above. */
export const PHASES: Int32Array = Int32Array.from(control, (level, phase) => level | (action[phase]! << 16));
/** First phase of each machine cycle, by its number in CYCLE. */
export const FIRST_PHASE: Int32Array = Int32Array.from(starts);
/** First phase of an added T-state: CYCLE.extra. */
export const PHASE_EXTRA: number = starts[CYCLE.extra]!;
