// Bus cycles out of half clocks, and instructions out of cycles: of a capture or of a prediction, from whatever channels there are.
// What cannot be told for want of a channel is left open and said.

import { type Disassembly, disassembleZ80 } from '../../sim/index.ts';

/** Levels of one net, half clock by half clock; `known` 0 where not known, absent where `level` 2 says so. */
export interface CycleNet {
  readonly level: Uint8Array;
  readonly known?: Uint8Array;
}

/** The processor's nets by what they are for; a net that is not captured is undefined. */
export interface BusNets {
  /** Style of the bus as part records name it. */
  readonly style: string;
  /** Highest bit first. */
  readonly address: readonly (CycleNet | undefined)[];
  readonly data: readonly (CycleNet | undefined)[];
  /** By the record's names of signals: read, write, fetch, memory, io, refresh, rw, sync, e, phase2. */
  readonly signals: ReadonlyMap<string, CycleNet>;
  /** Names of the signals that the processor has, with the net of each, for what is missing. */
  readonly names: ReadonlyMap<string, string>;
}

export type CycleKind = 'fetch' | 'read' | 'write' | 'input' | 'output' | 'acknowledge' | 'access';

export interface BusCycle {
  /** First half clock, and the one after the last. */
  readonly from: number;
  readonly to: number;
  readonly kind: CycleKind;
  /** Address with the bits that are known. */
  readonly address: number;
  readonly addressMask: number;
  readonly data: number;
  readonly dataMask: number;
}

export interface ReadInstruction {
  readonly from: number;
  readonly to: number;
  /** Undefined where not all lines were captured. */
  readonly address: number | undefined;
  readonly text: string;
}

export interface BusReading {
  readonly cycles: readonly BusCycle[];
  readonly instructions: readonly ReadInstruction[];
  /** What cannot be told and why, in sentences. */
  readonly missing: readonly string[];
}

const at = (net: CycleNet | undefined, half: number): 0 | 1 | 2 => {
  if (net === undefined || half < 0 || half >= net.level.length) return 2;
  const level = net.level[half]!;
  return level > 1 || (net.known !== undefined && net.known[half] !== 1) ? 2 : (level as 0 | 1);
};

function word(
  nets: readonly (CycleNet | undefined)[],
  half: number,
): { readonly value: number; readonly mask: number } {
  let value = 0;
  let mask = 0;
  for (const net of nets) {
    const level = at(net, half);
    value = value * 2 + (level === 1 ? 1 : 0);
    mask = mask * 2 + (level === 2 ? 0 : 1);
  }
  return { value, mask };
}

/** Reads a bus from half clock `from` up to `to`. */
export function readBus(bus: BusNets, from: number, to: number): BusReading {
  const missing: string[] = [];
  const has = (signal: string): boolean => bus.signals.has(signal);
  const lacks = (signal: string, so: string): void => {
    const net = bus.names.get(signal);
    if (net !== undefined && !has(signal)) missing.push(`${net} is not captured: ${so}.`);
  };
  const count = (nets: readonly (CycleNet | undefined)[]): number => nets.filter((net) => net !== undefined).length;
  const addressLines = count(bus.address);
  const dataLines = count(bus.data);
  if (addressLines < bus.address.length)
    missing.push(
      addressLines === 0
        ? 'No address line is captured: cycles have no addresses.'
        : `${addressLines} of ${bus.address.length} address lines are captured: unknown digits stand as ?.`,
    );
  if (dataLines < bus.data.length)
    missing.push(
      dataLines === 0
        ? 'No data line is captured: nothing tells which instructions run.'
        : `${dataLines} of ${bus.data.length} data lines are captured: unknown digits stand as ?.`,
    );
  let cycles: BusCycle[] = [];
  if (bus.signals.has('read') || bus.signals.has('write')) {
    lacks('read', 'reads and fetches cannot be told');
    lacks('write', 'writes cannot be told');
    lacks('fetch', 'fetches look like other reads, so instructions cannot be told');
    if (bus.names.has('memory')) lacks('io', 'ports look like memory');
    cycles = byStrobes(bus, from, to);
  } else if (bus.signals.has('rw') || bus.signals.has('sync')) {
    lacks('rw', 'reads cannot be told from writes');
    cycles = byClock(bus, from, to);
  } else missing.push('Neither a read nor a write strobe is captured: bus cycles cannot be told.');
  const canRead = bus.style === 'z80' && has('fetch') && has('read') && dataLines === bus.data.length;
  return { cycles, instructions: canRead ? instructionsZ80(cycles, bus.address.length) : [], missing };
}

/** Cycles of processors with a strobe for reading and one for writing, both active low. */
function byStrobes(bus: BusNets, from: number, to: number): BusCycle[] {
  const { signals } = bus;
  const read = signals.get('read');
  const write = signals.get('write');
  const fetch = signals.get('fetch');
  const io = signals.get('io');
  const cycles: BusCycle[] = [];
  const active = (h: number): number => {
    if (at(read, h) === 0) return 1;
    if (at(write, h) === 0) return 2;
    return at(fetch, h) === 0 && at(io, h) === 0 ? 3 : 0;
  };
  for (let h = from; h < to; h++) {
    const which = active(h);
    if (which === 0) continue;
    let end = h + 1;
    while (end < to && active(end) === which) end++;
    // Cut off at either end, a cycle shows too little.
    if (h === from && from > 0 && active(from - 1) === which) {
      h = end - 1;
      continue;
    }
    const last = end - 1;
    const isFetch = at(fetch, last) === 0;
    const isIo = at(io, last) === 0;
    const kind: CycleKind =
      which === 3
        ? 'acknowledge'
        : which === 2
          ? isIo
            ? 'output'
            : 'write'
          : isIo
            ? 'input'
            : isFetch
              ? 'fetch'
              : 'read';
    const address = word(bus.address, last);
    const data = word(bus.data, last);
    cycles.push({
      from: h,
      to: end,
      kind,
      address: address.value,
      addressMask: address.mask,
      data: data.value,
      dataMask: data.mask,
    });
    h = end - 1;
  }
  return cycles;
}

/** Cycles of processors that make one a clock, data good at the end of the high half of E or phase 2. */
function byClock(bus: BusNets, from: number, to: number): BusCycle[] {
  const { signals } = bus;
  const phase = signals.get('e') ?? signals.get('phase2') ?? signals.get('clock');
  const rw = signals.get('rw');
  const sync = signals.get('sync');
  const cycles: BusCycle[] = [];
  let begin = from;
  for (let h = from; h < to; h++) {
    if (!(at(phase, h) === 1 && at(phase, h + 1) === 0)) continue;
    const write = at(rw, h);
    const address = word(bus.address, h);
    const data = word(bus.data, h);
    cycles.push({
      from: begin,
      to: h + 1,
      kind: write === 0 ? 'write' : write === 2 ? 'access' : at(sync, h) === 1 ? 'fetch' : 'read',
      address: address.value,
      addressMask: address.mask,
      data: data.value,
      dataMask: data.mask,
    });
    begin = h + 1;
  }
  return cycles;
}

const full = (bits: number): number => 2 ** bits - 1;

/** Instructions of a Z80: a fetch begins one, unless the one before wants it as the byte after its prefix. */
function instructionsZ80(cycles: readonly BusCycle[], lines: number): ReadInstruction[] {
  const list: ReadInstruction[] = [];
  let bytes: number[] = [];
  let start: BusCycle | undefined;
  let end = 0;
  let isWhole = true;
  const known = (cycle: BusCycle): boolean => cycle.addressMask === full(lines);
  const textOf = (): Disassembly => disassembleZ80(bytes, 0, start !== undefined && known(start) ? start.address : 0);
  const close = (): void => {
    if (start === undefined) return;
    const { text, isComplete } = textOf();
    list.push({
      from: start.from,
      to: end,
      address: known(start) ? start.address : undefined,
      // The target of a relative jump is not known without the address.
      text:
        isWhole && (isComplete || bytes.length > 0)
          ? known(start)
            ? text
            : text.replace(/^(JR|DJNZ)(.*)0x[0-9A-F]{4}$/, '$1$2?')
          : '?',
    });
    start = undefined;
  };
  for (const cycle of cycles) {
    const isOpen = start !== undefined && isWhole && !textOf().isComplete;
    if (cycle.kind === 'fetch') {
      if (!isOpen) {
        close();
        start = cycle;
        bytes = [];
        isWhole = true;
      }
    } else if (cycle.kind === 'acknowledge') {
      close();
      continue;
    } else if (!(isOpen && cycle.kind === 'read')) {
      if (start !== undefined) end = cycle.to;
      continue;
    }
    if (start === undefined) continue;
    if (cycle.dataMask !== 0xff) isWhole = false;
    bytes.push(cycle.data);
    end = cycle.to;
  }
  close();
  return list;
}

/** Hexadecimal with ? for digits that are not wholly known: `0x3F?0`. */
export function hexWith(value: number, mask: number, bits: number): string {
  const digits = Math.ceil(bits / 4);
  let text = '';
  for (let k = digits - 1; k >= 0; k--) {
    const size = Math.min(4, bits - 4 * k);
    const all = 2 ** size - 1;
    const known = Math.floor(mask / 16 ** k) % 16;
    text += (known & all) === all ? ((Math.floor(value / 16 ** k) % 16) & all).toString(16).toUpperCase() : '?';
  }
  return `0x${text}`;
}
