// Proofs on the simulated machine: what is given is done to it, and what is expected is looked for. Each proof runs on a machine
// of its own, switched on anew. Volts and currents of a supply are not simulated: they are held against what the machine file
// states and the margins worked out. What nothing is known of (volts of a net) comes out as not simulated, never as passed.

import { foldName, parseQuantity } from '../base/index.ts';
import { expandRange } from '../parts/index.ts';
import { type Circuit, readsOf } from './circuit/circuit.ts';
import type { SimFault } from './circuit/faults.ts';
import { CompiledKernel } from './compiled/kernel.ts';
import type { SimContents, SimLevel, SimNetlist } from './model.ts';
import { type ProofFacts, setSupply, showMemory, showSelfTest, showSupply } from './proof-facts.ts';
import { type Shown, processorNets, stretchOf } from './proof-terms.ts';
import { digitsText, displays, lightOver } from './readouts.ts';
import { type SavedSession, Session } from './session.ts';
import { unknownsBehind } from './unknowns.ts';

/** A term of a proof as written: `press` and `RESET-BUTTON`. */
export interface SimTerm {
  readonly key: string;
  readonly value: string;
}

export interface SimProof {
  readonly given: readonly SimTerm[];
  readonly expect: readonly SimTerm[];
}

export interface ProofOutcome {
  /** What each expected term showed, in words. */
  readonly predicted: readonly string[];
  /** undefined where something of it cannot be simulated and nothing failed. */
  readonly pass: boolean | undefined;
  /** Clocks of the fastest clock that were simulated. */
  readonly clocks: number;
  readonly terminal: string;
}

export interface ProofOptions {
  /** Clocks to run after reset and givens at most, while something is waited for. Default 2,000,000. */
  readonly clocks?: number;
  /** What is known of the machine beside its wiring. */
  readonly facts?: ProofFacts;
  /** Wrong wires and the like, put in before power comes on. */
  readonly faults?: readonly SimFault[];
  /** A machine that is out of reset already, and that moment; made with `proofWatch` of this proof among what it watches. */
  readonly machine?: { readonly session: Session; readonly saved: SavedSession };
}

const PRESS_NS = 50e6;
/** Terms that name a text to be read. */
const READ: ReadonlySet<string> = new Set(['terminal says', 'display shows', 'digits show']);
/** How long digits are looked at, and how often: digits that are lit in turn take a few milliseconds each. */
const LOOK_NS = 20e6;
const LOOKS = 200;

/** ns after power-up at which every supervisor has let go, with a millisecond to spare. */
export function resetNs(netlist: SimNetlist): number {
  const pulses = netlist.parts.flatMap((part) => {
    const typical = part.record.facts?.['pulse-typ'];
    return part.record.behaviour?.model === 'supervisor' ? [typeof typical === 'number' ? typical * 1e6 : 200e6] : [];
  });
  return Math.max(0, ...pulses) + 1e6;
}

/** Nets that `A15-A0` or `/RD` stands for, highest bit first. */
function netsOf(session: Session, text: string): number[] | undefined {
  const one = session.net(text);
  if (one !== undefined) return [one];
  const nets = expandRange(text)?.map((name) => session.net(name));
  return nets?.every((net) => net !== undefined) === true ? nets : undefined;
}

/** Levels for nets, the first the highest bit. */
function levelsFor(text: string, count: number): SimLevel[] | undefined {
  if (text === 'high') return new Array<SimLevel>(count).fill(1);
  if (text === 'low') return new Array<SimLevel>(count).fill(0);
  const value = parseQuantity(text)?.value;
  if (value === undefined) return undefined;
  return Array.from({ length: count }, (_, k) => (Math.floor(value / 2 ** (count - 1 - k)) % 2 === 1 ? 1 : 0));
}

/** Names of the nets whose changes proofs look at. */
export function proofWatch(netlist: SimNetlist, circuit: Circuit, proofs: readonly SimProof[]): string[] {
  const names = new Set(
    proofs.flatMap(({ expect }) => expect.flatMap(({ key }) => [key, ...(expandRange(key) ?? [])])),
  );
  if (proofs.some(({ expect }) => expect.some(({ key }) => key === 'free run')))
    for (const name of processorNets(netlist, circuit)?.watch ?? []) names.add(name);
  return [...names];
}

/** Runs one proof. */
export function runProof(
  netlist: SimNetlist,
  circuit: Circuit,
  contents: SimContents,
  proof: SimProof,
  options: ProofOptions = {},
): ProofOutcome {
  const processor = processorNets(netlist, circuit);
  const wantsRun = proof.expect.some(({ key }) => key === 'free run');
  const { machine } = options;
  const session =
    machine?.session ?? new Session(circuit, contents, { watch: proofWatch(netlist, circuit, [proof]), quiet: true });
  if (machine !== undefined) session.restore(machine.saved);
  else if (options.faults !== undefined && session.kernel instanceof CompiledKernel)
    session.kernel.setFaults(options.faults);
  const fastest = Math.max(1, ...circuit.sources.map((source) => source.rateHz ?? 0));
  const isClocked = fastest > 1;
  const clockNs = isClocked ? 1e9 / fastest : 1e6;
  let unsure = '';
  const start = resetNs(netlist);
  session.runTo(Math.max(start, session.now));
  session.startRecording();
  let release: { hands: string[]; at: number } | undefined;
  let window = isClocked ? 20_000 * clockNs : 1e6;
  if (proof.expect.some(({ value }) => / for /.test(` ${value}`))) window = 2 * start + 1e9;
  const most = (options.clocks ?? 2_000_000) * clockNs;
  const before = session.changes.length;
  const facts = options.facts ?? {};
  for (const { key, value } of proof.given) {
    if (key === 'press') {
      const match = /^(\S+)(?:\s+for\s+(\S.*))?$/.exec(value.trim());
      // A part with one thing to press, or one of its keys: PAD.KEY-5.
      const wantedHand = foldName(match?.[1] ?? '');
      const hands = session
        .hands()
        .filter((name) => foldName(name) === wantedHand || foldName(name).startsWith(`${wantedHand}.`));
      for (const hand of hands) session.hand(hand, true);
      if (hands.length === 0) unsure = `${match?.[1] ?? value} cannot be pressed`;
      const length = match?.[2] === undefined ? PRESS_NS : (parseQuantity(match[2])?.value ?? 0) * 1e9;
      release = { hands, at: session.now + length };
    } else if (key === 'hold') {
      const match = /^(\S+)\s+at\s+(\S+)$/.exec(value.trim());
      const nets = match === null ? undefined : netsOf(session, match[1]!);
      const levels = match === null || nets === undefined ? undefined : levelsFor(match[2]!, nets.length);
      if (nets === undefined || levels === undefined) unsure = `${value} cannot be held`;
      else
        nets.forEach((net, k) => {
          session.force(net, levels[k]!);
        });
    } else if (key === 'clock') {
      const sources = circuit.sources.filter((source) => source.rateHz !== undefined);
      const hertz = /([\d.]+\s*[kM]?Hz)/.exec(value)?.[1];
      const pulses = /([1-9]\d*)\s+pulses?/.exec(value)?.[1];
      if (sources.length !== 1) unsure = 'which clock is meant is not known to the simulator';
      else if (pulses !== undefined) window = Number(pulses) * clockNs;
      else {
        const rate = hertz === undefined ? 0 : (parseQuantity(hertz)?.value ?? 0);
        session.setRate(sources[0]!.name, rate);
        if (rate > 0) window = 20_000 * (1e9 / rate);
      }
    } else if (key === 'send') {
      // The machine must have set its line up before it can be spoken to.
      waitForRest(session, most, clockNs);
      session.send([...`${value}\r`].map((character) => character.charCodeAt(0) & 0xff));
      window = most;
    } else if (key === 'supply') unsure = setSupply(session, netlist, value, facts) ?? unsure;
    else unsure = `${key} ${value} is not simulated`;
  }
  const givenAt = session.now;
  if (release !== undefined) {
    session.runTo(release.at);
    for (const hand of release.hands) session.hand(hand, false);
  }
  // Texts come when they come: everything that is to be read is waited for.
  const texts = proof.expect.filter(({ key }) => READ.has(key));
  const readOut = (key: string): string => {
    if (key === 'terminal says') return session.terminalText();
    if (key === 'display shows')
      return displays(session, netlist)
        .flatMap(({ lines }) => lines)
        .join('\n');
    return digitsText(session, netlist, lightOver(session, LOOK_NS, LOOKS));
  };
  if (texts.length > 0) {
    const end = givenAt + most;
    while (session.now < end && !texts.every(({ key, value }) => readOut(key).includes(value)))
      session.runTo(Math.min(end, session.now + 20_000 * clockNs));
  } else session.runTo(givenAt + (wantsRun ? 70_000 * 4 * clockNs : window));
  const shown = proof.expect.map(({ key, value }): Shown => {
    if (key === 'free run') return freeRun(session, processor, before);
    if (READ.has(key)) {
      const text = readOut(key);
      return {
        text: text.trim() === '' ? `the ${key} nothing` : `the ${key} ${JSON.stringify(text)}`,
        pass: text.includes(value),
      };
    }
    if (key === 'supply') return showSupply(value, facts);
    if (key === 'memory') return showMemory(session, netlist, value, facts);
    if (key === 'self-test passes') return showSelfTest(session, netlist, processor, facts, clockNs, options.clocks);
    return showNet(session, key, value, before, givenAt);
  });
  // What fails for want of a model or of contents is not held against the design.
  const reasons = new Set(unsure === '' ? [] : [unsure]);
  const passes = shown.map(({ pass }, k) => {
    if (pass !== false) return pass;
    const behind = unknownsBehind(netlist, circuit, contents, netsBehind(session, proof.expect[k]!.key, processor));
    for (const reason of behind) reasons.add(reason);
    return behind.length > 0 ? undefined : false;
  });
  return {
    predicted: [...shown.map(({ text }) => text), ...reasons],
    pass:
      passes.includes(false) && unsure === '' ? false : passes.includes(undefined) || unsure !== '' ? undefined : true,
    clocks: Math.round(session.now / clockNs),
    terminal: session.terminalText(),
  };
}

/** The nets that an expected term looks at: of a terminal its line, of displays and digits what leads to them. */
function netsBehind(session: Session, key: string, processor: ReturnType<typeof processorNets>): number[] {
  const { circuit } = session;
  const named = netsOf(session, key);
  if (named !== undefined) return named;
  if (key === 'terminal says') return session.terminals().flatMap((place) => readsOf(circuit.parts[place]!));
  const lamps = circuit.lamps.flatMap(({ anode, cathode }) => [anode, cathode]);
  if (key === 'digits show') return lamps;
  if (key === 'display shows') return circuit.parts.flatMap((part) => (part.kind === 'model' ? readsOf(part) : []));
  return (processor?.watch ?? []).flatMap((name) => session.net(name) ?? []);
}

/** Runs until the terminal has been silent for a while after it said something, or for so long. */
function waitForRest(session: Session, most: number, clockNs: number): void {
  const end = session.now + most;
  let length = session.terminalText().length;
  while (session.now < end) {
    session.runTo(Math.min(end, session.now + 40_000 * clockNs));
    const now = session.terminalText().length;
    if (now > 0 && now === length) return;
    length = now;
  }
}

/** Addresses fetched: what the address nets show when a read begins within a fetch. */
function freeRun(session: Session, processor: ReturnType<typeof processorNets>, from: number): Shown {
  if (processor?.fetch === undefined || processor.read === undefined)
    return { text: 'free run: not simulated', pass: undefined };
  const place = (name: string): number => session.watched.indexOf(name);
  const fetch = place(processor.fetch);
  const read = place(processor.read);
  const lines = processor.address.map(place);
  const now = new Map<number, SimLevel>();
  const fetched: number[] = [];
  session.changes.forEach(({ net, level }, k) => {
    now.set(net, level);
    if (k < from || net !== read || level !== 0 || now.get(fetch) !== 0) return;
    fetched.push(lines.reduce((sum, line, bit) => sum + (now.get(line) === 1 ? 2 ** (lines.length - 1 - bit) : 0), 0));
  });
  const size = 2 ** lines.length;
  const wrong = fetched.findIndex((address, k) => k > 0 && address !== (fetched[k - 1]! + 1) % size);
  const hex = (address: number): string => `0x${address.toString(16).toUpperCase().padStart(4, '0')}`;
  if (fetched.length < 100) return { text: `${fetched.length} fetches only`, pass: false };
  if (wrong > 0) return { text: `after ${hex(fetched[wrong - 1]!)} it fetches ${hex(fetched[wrong]!)}`, pass: false };
  const round = fetched.length > size ? ' through all addresses' : '';
  return { text: `${fetched.length} fetches, each one address on${round}`, pass: true };
}

function showNet(session: Session, key: string, value: string, from: number, givenAt: number): Shown {
  const nets = netsOf(session, key);
  if (nets === undefined) return { text: `there is no ${key} at this stage`, pass: undefined };
  const text = value.trim();
  const show = (level: SimLevel): string =>
    level === 1 ? 'high' : level === 0 ? 'low' : level === 'Z' ? 'floating' : 'unknown';
  const levels = nets.map((net) => session.level(net));
  const changes = nets.flatMap((net) => {
    const place = session.watched.indexOf(session.circuit.nets[net]!);
    return session.changes.filter((change, k) => k >= from && change.net === place);
  });
  if (/^(?:low|high|floating)$/.test(text)) {
    const shown = [...new Set(levels.map(show))].join(' and ');
    return { text: `${key} is ${shown}`, pass: shown === text };
  }
  if (text === 'changes' || text === 'still') {
    const moves = changes.length > 0;
    return {
      text: `${key} ${moves ? `has ${changes.length} edges` : 'stands still'}`,
      pass: moves === (text === 'changes'),
    };
  }
  const duty = /^(low|high)\s+(.*%.*)$/.exec(text);
  if (duty !== null) {
    const wanted = stretchOf(duty[2]!);
    const span = session.now - givenAt;
    const level = duty[1] === 'low' ? 0 : 1;
    let during = 0;
    let since = givenAt;
    let at: SimLevel = session.level(nets[0]!);
    const later = changes.filter((change) => change.ns > givenAt);
    const first = changes.findLast((change) => change.ns <= givenAt);
    if (first !== undefined) at = first.level;
    for (const change of later) {
      if (at === level) during += change.ns - since;
      at = change.level;
      since = change.ns;
    }
    if (at === level) during += session.now - since;
    const part = during / span;
    return {
      text: `${key} is ${duty[1]} for ${(part * 100).toFixed(1)} % of the time`,
      pass: wanted?.dimension === 'ratio' && part >= wanted.least && part <= wanted.most,
    };
  }
  const pulse = /^(low|high)\s+for\s+(\S.*)$/.exec(text);
  if (pulse !== null) {
    const wanted = stretchOf(pulse[2]!);
    const level = pulse[1] === 'low' ? 0 : 1;
    const begin = changes.find((change) => change.level === level);
    const end =
      begin === undefined ? undefined : changes.find((change) => change.ns > begin.ns && change.level !== level);
    if (wanted === undefined || begin === undefined || end === undefined)
      return { text: `${key} shows no such pulse`, pass: false };
    const seconds = (end.ns - begin.ns) / 1e9;
    return {
      text: `${key} is ${pulse[1]} for ${(seconds * 1e3).toPrecision(4)} ms`,
      pass: seconds >= wanted.least && seconds <= wanted.most,
    };
  }
  const stretch = stretchOf(text);
  if (stretch?.dimension === 'frequency') {
    const rises = changes.filter((change) => change.level === 1 && change.ns >= givenAt);
    if (rises.length < 2) return { text: `${key} does not swing`, pass: false };
    const hertz = ((rises.length - 1) / (rises.at(-1)!.ns - rises[0]!.ns)) * 1e9;
    return {
      text: `${key} swings at ${hertz.toPrecision(6)} Hz`,
      pass: hertz >= stretch.least && hertz <= stretch.most,
    };
  }
  if (stretch?.dimension === 'plain') {
    if (levels.some((level) => level === 'X' || level === 'Z')) return { text: `${key} is not known`, pass: false };
    const number = levels.reduce<number>((sum, level) => sum * 2 + (level === 1 ? 1 : 0), 0);
    const wanted = parseQuantity(text)?.value;
    return { text: `${key} is 0x${number.toString(16).toUpperCase()}`, pass: number === wanted };
  }
  return { text: `${key}: not simulated`, pass: undefined };
}
