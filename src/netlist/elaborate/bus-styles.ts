// How each family of processors signals a transfer, as conditions on levels of nets. The only place that knows what a /MREQ
// or an E is for; elaboration, decoding and margins take it from here as plain data.

import type { PartBusRole } from '../../parts/index.ts';

/** A strobe or control line as a bus offers it: an existing signal of a part, or a formula over nets for one to be made. */
export type BusLine = { readonly signal: string } | { readonly make: string; readonly net: string };

/** What a style offers. Names in formulas are `{signal}` and stand for the net of that signal. */
export interface BusStyle {
  /** Lines by the key that members' records use: read, write, rw, e; a line for one space has memory- or io- in front. */
  readonly lines: Readonly<Record<string, BusLine>>;
  /** When an address of this space is meant, beside the address itself; empty when the address alone decides. */
  readonly memoryWhen: string;
  readonly portsWhen: string | undefined;
  /** `portsWhen` as far as it is needed beside a read or write strobe; default the same. */
  readonly portsWhenStrobed?: string;
  /**
   * Set where the line that names the space falls together with the strobes: a select that looks at it comes too late for a
   * part whose selects must precede its strobes. Such a part is selected by the address alone, and its strobes are the lines
   * `<space>-<key>-alone`, or `<space>-e`, which have the space in them.
   */
  readonly isSpaceLate?: true;
  /**
   * How the processor is made to wait, where that is derived: it samples the net of `signal`, low to wait, once in each clock
   * from the one in which a select can first be seen at a rising edge; `net` is its name where it has none.
   */
  readonly wait?: { readonly signal: string; readonly net: string };
}

const Z80: BusStyle = {
  lines: {
    read: { signal: 'read' },
    write: { signal: 'write' },
    memory: { signal: 'memory' },
    io: { signal: 'io' },
    fetch: { signal: 'fetch' },
    refresh: { signal: 'refresh' },
    // An E-style part on strobes: E while an access is under way, R/W from the write strobe.
    'io-e': { make: '~{io} & (~{read} | ~{write})', net: 'E' },
    'memory-e': { make: '~{memory} & (~{read} | ~{write})', net: 'E-memory' },
    rw: { signal: 'write' },
    // An interrupt acknowledge has neither /RD nor /WR, a refresh neither too: these stay high in both.
    'io-read-alone': { make: '{io} | {read}', net: '/IORD' },
    'io-write-alone': { make: '{io} | {write}', net: '/IOWR' },
    'memory-read-alone': { make: '{memory} | {read}', net: '/MEMRD' },
    'memory-write-alone': { make: '{memory} | {write}', net: '/MEMWR' },
    // A transceiver looks outwards but for reads and the vector of an interrupt acknowledge (/M1 low with /IORQ low).
    'data-enable': { make: '{memory} & {io}', net: '/DEN' },
    'data-direction': { make: '{read} & ({io} | {fetch})', net: 'DT//R' },
  },
  memoryWhen: '~{memory}',
  // /M1 low with /IORQ low is an interrupt acknowledge, not a port.
  portsWhen: '~{io} & {fetch}',
  portsWhenStrobed: '~{io}',
  isSpaceLate: true,
  // /WAIT is sampled at the falling edge of T2 and of each wait state (Z8400 data sheet). /MREQ is there before T2 rises, /IORQ
  // before the automatic wait state rises.
  wait: { signal: 'wait', net: '/WAIT' },
};

const MOS6502: BusStyle = {
  lines: {
    rw: { signal: 'rw' },
    e: { signal: 'phase2' },
    sync: { signal: 'sync' },
    read: { make: '~({phase2} & {rw})', net: '/RD' },
    write: { make: '~({phase2} & ~{rw})', net: '/WR' },
    'data-enable': { make: '~{phase2}', net: '/DEN' },
    'data-direction': { make: '~{rw}', net: 'DT//R' },
  },
  memoryWhen: '',
  portsWhen: undefined,
};

const M6809: BusStyle = {
  lines: {
    rw: { signal: 'rw' },
    e: { signal: 'e' },
    q: { signal: 'q' },
    read: { make: '~({e} & {rw})', net: '/RD' },
    write: { make: '~({e} & ~{rw})', net: '/WR' },
    'data-enable': { make: '~{e}', net: '/DEN' },
    'data-direction': { make: '~{rw}', net: 'DT//R' },
  },
  memoryWhen: '',
  portsWhen: undefined,
};

const I8085: BusStyle = {
  lines: {
    read: { signal: 'read' },
    write: { signal: 'write' },
    ale: { signal: 'ale' },
    'io-memory': { signal: 'io-memory' },
    'interrupt-acknowledge': { signal: 'interrupt-acknowledge' },
    'data-enable': { make: '{read} & {write} & {interrupt-acknowledge}', net: '/DEN' },
    'data-direction': { make: '{read} & {interrupt-acknowledge}', net: 'DT//R' },
    'io-e': { make: '{io-memory} & (~{read} | ~{write})', net: 'E' },
    'memory-e': { make: '~{io-memory} & (~{read} | ~{write})', net: 'E-memory' },
    rw: { signal: 'write' },
  },
  memoryWhen: '~{io-memory}',
  portsWhen: '{io-memory}',
};

const I8088: BusStyle = {
  ...I8085,
  lines: {
    ...I8085.lines,
    'data-enable': { signal: 'data-enable' },
    'data-direction': { signal: 'data-direction' },
  },
};

/** With a bus controller the strobes say which space is meant. */
const I8288: BusStyle = {
  lines: {
    'memory-read': { signal: 'memory-read' },
    'memory-write': { signal: 'memory-write' },
    'io-read': { signal: 'io-read' },
    'io-write': { signal: 'io-write' },
    ale: { signal: 'ale' },
    'data-enable': { make: '~{data-enable}', net: '/DEN' },
    'data-direction': { signal: 'data-direction' },
    'interrupt-acknowledge': { signal: 'interrupt-acknowledge' },
    'io-e': { make: '~{io-read} | ~{io-write}', net: 'E' },
    'io-rw': { signal: 'io-write' },
    'memory-e': { make: '~{memory-read} | ~{memory-write}', net: 'E-memory' },
    'memory-rw': { signal: 'memory-write' },
  },
  memoryWhen: '',
  portsWhen: '',
};

const STYLES: Readonly<Record<string, BusStyle>> = {
  z80: Z80,
  '6502': MOS6502,
  '6809': M6809,
  '8085': I8085,
  '8088': I8088,
  '8086': I8088,
};

/** The style of a processor's bus, with or without a bus controller between; undefined when it isn't analysed. */
export function busStyle(processor: PartBusRole, withController: boolean): BusStyle | undefined {
  if (withController && (processor.style === '8088' || processor.style === '8086')) return I8288;
  return processor.style === undefined || !Object.hasOwn(STYLES, processor.style) ? undefined : STYLES[processor.style];
}
