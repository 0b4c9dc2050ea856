// What proofs ask that the wiring alone does not answer: the supply as stated and worked out, the memory's contents, the ends of
// a self-test. The machine is looked at as an instrument would: addresses are read from the nets while a fetch is under way.

import { foldName, parseQuantity } from '../base/index.ts';
import { expandPins } from '../parts/index.ts';
import type { SimNetlist } from './model.ts';
import { type ProcessorNets, type Shown, stretchOf } from './proof-terms.ts';
import { Z80 } from './processors/index.ts';
import type { Session } from './session.ts';
import { HIGH, isKnown } from './values.ts';

/** Where a self-test stays for each result, by the result's name; `passed` is the good one. */
export interface SelfTestEnds {
  readonly ends: Readonly<Record<string, number>>;
  /** Clocks it takes at most. */
  readonly clocks: number;
}

/** What is known of a machine beside its wiring. */
export interface ProofFacts {
  /** The first one is meant where none is named. */
  readonly supplies?: readonly {
    readonly name: string;
    readonly volts: number;
    /** A fraction. */
    readonly tolerance: number;
    /** mA that the machine draws: typical and greatest; undefined where a part's figure is not known. */
    readonly typMa?: number;
    readonly maxMa?: number;
  }[];
  readonly selfTest?: SelfTestEnds;
  /** The memory part that answers at an address. */
  readonly memoryAt?: (address: number) => string | undefined;
}

const hex = (value: number, digits: number): string => `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`;

/** `main 4.2 V` or `4.2 V`: the name, if any, and the rest. */
function named(text: string): { readonly name: string | undefined; readonly rest: string } {
  const match = /^([A-Za-z/_][^\s]*)\s+(\S.*)$/.exec(text.trim());
  return match === null ? { name: undefined, rest: text.trim() } : { name: match[1]!, rest: match[2]! };
}

/** A supply's volts or current against what is expected. */
export function showSupply(value: string, facts: ProofFacts): Shown {
  const { name, rest } = named(value);
  const supply = facts.supplies?.find((one) => name === undefined || foldName(one.name) === foldName(name));
  const wanted = stretchOf(rest);
  if (supply === undefined || wanted === undefined)
    return { text: `supply ${value}: nothing is known of it`, pass: undefined };
  if (wanted.dimension === 'voltage') {
    const least = supply.volts * (1 - supply.tolerance);
    const most = supply.volts * (1 + supply.tolerance);
    const slack = 1e-9;
    return {
      text: `${supply.name} is stated as ${least.toFixed(2)} V to ${most.toFixed(2)} V`,
      pass: least >= wanted.least - slack && most <= wanted.most + slack,
    };
  }
  if (wanted.dimension !== 'current') return { text: `supply ${value}: not simulated`, pass: undefined };
  if (supply.typMa === undefined || supply.maxMa === undefined)
    return { text: `what ${supply.name} gives is not known for every part`, pass: undefined };
  return {
    text: `${supply.name} gives ${supply.typMa.toFixed(0)} mA, ${supply.maxMa.toFixed(0)} mA at most`,
    pass: supply.typMa / 1e3 >= wanted.least && supply.maxMa / 1e3 <= wanted.most,
  };
}

/**
 * Sets a supply: every supervisor on it that surely sees it as too low asserts its reset, one that surely does not lets go after
 * its pulse. Other parts take no notice. Gives what cannot be said, or undefined.
 */
export function setSupply(session: Session, netlist: SimNetlist, value: string, facts: ProofFacts): string | undefined {
  const { name, rest } = named(value);
  const volts = parseQuantity(rest)?.value;
  const supply = name ?? facts.supplies?.[0]?.name;
  if (volts === undefined) return `supply ${value} is not simulated`;
  let unsure: string | undefined;
  const { circuit, kernel } = session;
  circuit.parts.forEach((part, place) => {
    const record = netlist.parts[part.part]?.record;
    if (part.kind !== 'model' || record?.category !== 'supervisor') return;
    const netOf = (pin: number | undefined): number | undefined =>
      pin === undefined ? undefined : circuit.netOfPin.get(part.part * 256 + pin);
    const net = netOf(record.pins.find((row) => row.kind === 'supply')?.number);
    if (supply !== undefined && net !== undefined && foldName(circuit.nets[net]!) !== foldName(supply)) return;
    // The 1232 class has a second pair of thresholds, taken with its TOL pin high.
    const tol = netOf(record.pins.find((row) => row.name === 'TOL')?.number);
    const set = tol !== undefined && kernel.value(tol) === HIGH ? 'threshold-10' : 'threshold';
    const [least, most] = [record.facts?.[`${set}-min`], record.facts?.[`${set}-max`]];
    if (typeof least !== 'number' || typeof most !== 'number') unsure = `the threshold of ${part.name} is not known`;
    else if (volts >= least && volts < most)
      unsure = `${volts} V lies where ${part.name} may reset or not (${least} V to ${most} V)`;
    else kernel.give(place, volts < least ? 0 : 1);
  });
  session.settle();
  return unsure;
}

/** What a memory holds: `0x8000 holds 0x55 0xAA`, read in the part through the wiring of its address and data pins. */
export function showMemory(session: Session, netlist: SimNetlist, value: string, facts: ProofFacts): Shown {
  const match = /^(\S+)\s+holds\s+(\S.*)$/.exec(value.trim());
  const start = match === null ? undefined : parseQuantity(match[1]!)?.value;
  const wanted = match?.[2]?.split(/\s+/).map((text) => parseQuantity(text)?.value);
  if (start === undefined || wanted === undefined) return { text: `memory ${value}: not simulated`, pass: undefined };
  const bytes = wanted.map((_, k) => byteAt(session, netlist, start + k, facts));
  if (bytes.includes(undefined)) return { text: `no memory is known at ${hex(start, 4)}`, pass: undefined };
  const text = bytes.map((byte) => (byte === 'unknown' ? 'unknown' : hex(byte!, 2))).join(' ');
  return { text: `${hex(start, 4)} holds ${text}`, pass: bytes.every((byte, k) => byte === wanted[k]) };
}

/** The byte that the processor would read at an address, through the wiring; undefined where no memory is known there. */
export function byteAt(
  session: Session,
  netlist: SimNetlist,
  address: number,
  facts: ProofFacts,
): number | 'unknown' | undefined {
  const name = facts.memoryAt?.(address);
  const { circuit, kernel } = session;
  const place = circuit.parts.findIndex(
    (part) => part.kind === 'model' && name !== undefined && foldName(part.name) === foldName(name),
  );
  const part = circuit.parts[place];
  const record = part === undefined ? undefined : netlist.parts[part.part]?.record;
  const master = netlist.parts.findIndex((one) => one.record.category === 'processor');
  const bus = netlist.parts[master]?.record.bus;
  if (part === undefined || record?.bus?.address === undefined || bus?.address === undefined) return undefined;
  const nets = (index: number, pins: string): (number | undefined)[] => {
    const owner = netlist.parts[index]!.record;
    return expandPins(owner, pins)
      .map((pin) => owner.pins.find((row) => row.name === pin))
      .map((row) => (row === undefined ? undefined : circuit.netOfPin.get(index * 256 + row.number)))
      .reverse();
  };
  const lines = nets(master, bus.address);
  const data = nets(master, bus.data ?? '');
  let cell = 0;
  for (const [bit, net] of nets(part.part, record.bus.address).entries()) {
    // A pin on no address line has the level that it has now.
    const line = lines.indexOf(net);
    const level =
      line >= 0 ? Math.floor(address / 2 ** line) % 2 : net !== undefined && kernel.value(net) === HIGH ? 1 : 0;
    if (level === 1) cell += 2 ** bit;
  }
  const word = kernel.stateOf(place)[cell]!;
  let byte = 0;
  for (const [bit, net] of nets(part.part, record.bus.data ?? '').entries()) {
    const line = data.indexOf(net);
    if (line < 0 || !isKnown(word >>> bit, 1)) return 'unknown';
    byte += ((word >>> bit) & 1) << line;
  }
  return byte;
}

/** The address of the fetch under way or the next one; undefined where its lines are not known or nothing is fetched. */
function fetchedAddress(session: Session, processor: ProcessorNets, clockNs: number): number | undefined {
  const net = (name: string): number => session.net(name) ?? -1;
  const [fetch, read] = [net(processor.fetch ?? ''), net(processor.read ?? '')];
  const lines = processor.address.map(net);
  for (let half = 0; half < 120; half++) {
    if (session.level(fetch) === 0 && session.level(read) === 0) {
      const levels = lines.map((line) => session.level(line));
      if (levels.some((level) => typeof level === 'string')) return undefined;
      return levels.reduce<number>((sum, level) => sum * 2 + (level === 1 ? 1 : 0), 0);
    }
    session.runTo(session.now + clockNs / 2);
  }
  return undefined;
}

/** Runs a self-test until it stays at one of its ends. */
export function showSelfTest(
  session: Session,
  netlist: SimNetlist,
  processor: ProcessorNets | undefined,
  facts: ProofFacts,
  clockNs: number,
  mostClocks = Number.POSITIVE_INFINITY,
): Shown {
  const { selfTest } = facts;
  if (selfTest === undefined || processor?.fetch === undefined || processor.read === undefined)
    return { text: 'there is no self-test for this machine', pass: undefined };
  const results = new Map(Object.entries(selfTest.ends).map(([name, at]) => [at, name]));
  const stop = session.now + Math.min(selfTest.clocks, mostClocks) * clockNs;
  let last: number | undefined;
  let lost = 0;
  while (session.now < stop) {
    last = fetchedAddress(session, processor, clockNs);
    // Unknown for long: nothing brings it back but a reset.
    lost = last === undefined ? lost + 1 : 0;
    if (lost > 8) return { text: 'the self-test is lost: the address lines of its fetches are not known', pass: false };
    const result = last === undefined ? undefined : results.get(last);
    if (result !== undefined) {
      const where = result === 'passed' ? '' : whereOf(session, netlist);
      return { text: `the self-test ends at ${hex(last!, 4)}: ${result}${where}`, pass: result === 'passed' };
    }
    session.runTo(Math.min(stop, session.now + 20_000 * clockNs));
  }
  const at = last === undefined ? 'an unknown address' : hex(last, 4);
  // Cut short is no failure.
  return mostClocks < selfTest.clocks
    ? { text: `the self-test has not ended after ${mostClocks} of ${selfTest.clocks} clocks`, pass: undefined }
    : { text: `the self-test does not end; it was last at ${at}`, pass: false };
}

/** What the registers of a Z80 say at the end of a failed self-test: HL the address, E the bits. */
function whereOf(session: Session, netlist: SimNetlist): string {
  const place = session.circuit.parts.findIndex(
    (part) => part.kind === 'model' && netlist.parts[part.part]?.record.behaviour?.model === 'z80',
  );
  if (place < 0) return '';
  const s = session.kernel.stateOf(place);
  return `, at ${hex(s[Z80.H]! * 256 + s[Z80.L]!, 4)}, bits ${hex(s[Z80.E]!, 2)}`;
}
