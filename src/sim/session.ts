// A machine that is switched on: time, clocks, hands, terminals and the record of watched nets, over either kernel. It adds
// no levels of its own. Time is in ns since power-up and stands still between calls.

import { type Finding, foldName } from '../base/index.ts';
import type { Circuit, CircuitPart } from './circuit/circuit.ts';
import { CompiledKernel, type Snapshot } from './compiled/kernel.ts';
import type { Kernel, Watch } from './kernel.ts';
import type { SimContents, SimLevel } from './model.ts';
import { setTerminalBit } from './models/terminal.ts';
import { PlainKernel } from './plain/kernel.ts';
import { readSerial, type SerialEdge } from './serial.ts';
import { HIGH, levelOf, LOW, valueOfLevel, Z } from './values.ts';

/** One change of a watched net. */
export interface SimChange {
  /** ns since power-up. */
  readonly ns: number;
  /** Place in the list of watched nets. */
  readonly net: number;
  readonly level: SimLevel;
}

export interface SessionOptions {
  readonly kernel?: 'plain' | 'compiled';
  /** Nets whose changes are kept, by name. */
  readonly watch?: readonly string[];
  /** Changes kept at most; later ones are counted only. Default 1,000,000. */
  readonly mostChanges?: number;
  /** Nothing is kept before `startRecording`. */
  readonly quiet?: boolean;
  /** Takes each change of a watched net in place of the list: ns, place among the watched, value (values.ts). */
  readonly record?: (ns: number, index: number, value: number) => void;
  /** Rate of the terminals; found from what arrives unless given. */
  readonly baud?: number;
}

/** What is kept of a run until somebody asks: records of a swing as the kernel made them, or one change. */
type Kept =
  | { readonly records: Int32Array; readonly base: number; readonly half: number }
  | { readonly ns: number; readonly net: number; readonly value: number };

/** Words of records that are kept as they are at most; then they are read. */
const MOST_WORDS = 1 << 23;

interface Clock {
  readonly source: number;
  /** ns of half a period; Infinity while stopped. */
  half: number;
  next: number;
  high: boolean;
  /** Edges made in all, and when and at which count the present rate began: times are products, not sums. */
  edges: number;
  base: number;
  baseEdges: number;
}

/** Sets when the next edge comes, after some were made. */
function advance(clock: Clock, made: number): void {
  clock.edges += made;
  if (made & 1) clock.high = !clock.high;
  clock.next = clock.base + (clock.edges + 1 - clock.baseEdges) * clock.half;
}

const NOTHING: Watch = { nets: [], last: new Uint8Array(0), record: () => undefined };

/** A moment of a session, to go back to. */
export interface SavedSession {
  readonly kernel: Snapshot;
  readonly clocks: readonly Readonly<Clock>[];
  readonly edges: readonly (readonly [number, readonly SerialEdge[]])[];
  readonly bytes: readonly (readonly [number, readonly number[]])[];
}

/** A running machine. */
export class Session {
  readonly circuit: Circuit;
  readonly kernel: Kernel;
  readonly #changes: SimChange[] = [];
  readonly #most: number;
  #lost = 0;
  #kept: Kept[] = [];
  #words = 0;
  /** Levels of watched nets when they were last looked at; those of `#watch` are as far as the record was read. */
  readonly #seen: Uint8Array;
  readonly watched: readonly string[];
  readonly #clocks: Clock[] = [];
  /** What is recorded; nothing while `#active` is another one. */
  readonly #watch: Watch;
  #active: Watch;
  readonly #edges = new Map<number, SerialEdge[]>();
  readonly #bytes = new Map<number, number[]>();
  readonly #waiting: { part: number; bytes: number[] }[] = [];
  readonly #baud: number | undefined;
  readonly #netByName: ReadonlyMap<string, number>;
  readonly #held = new Set<number>();

  constructor(circuit: Circuit, contents: SimContents, options: SessionOptions = {}) {
    this.circuit = circuit;
    this.kernel =
      options.kernel === 'plain' ? new PlainKernel(circuit, contents) : new CompiledKernel(circuit, contents);
    this.#baud = options.baud;
    const byName = new Map<string, number>();
    circuit.nets.forEach((name, net) => {
      if (!byName.has(foldName(name))) byName.set(foldName(name), net);
    });
    this.#netByName = byName;
    circuit.sources.forEach((source, index) => {
      if (source.rateHz === undefined) return;
      const half = 0.5e9 / source.rateHz;
      this.#clocks.push({ source: index, half, next: half, high: false, edges: 0, base: 0, baseEdges: 0 });
    });
    this.#most = options.mostChanges ?? 1_000_000;
    const nets = (options.watch ?? []).map((name) => byName.get(foldName(name))).filter((net) => net !== undefined);
    this.watched = nets.map((net) => circuit.nets[net]!);
    const { record } = options;
    this.#watch = {
      nets,
      last: Uint8Array.from(nets, (net) => this.kernel.value(net)),
      record: record ?? ((ns, net, value) => void this.#kept.push({ ns, net, value })),
      ...(record === undefined
        ? {
            log: (records: Int32Array, base: number, half: number): void => {
              this.#kept.push({ records: records.slice(), base, half });
              this.#words += records.length;
              if (this.#words > MOST_WORDS) this.#readKept();
            },
          }
        : {}),
    };
    this.#seen = this.#watch.log === undefined ? this.#watch.last : this.#watch.last.slice();
    this.#active = NOTHING;
    if (options.quiet !== true) this.startRecording();
    if (options.baud !== undefined)
      for (const part of this.terminals()) setTerminalBit(this.kernel.stateOf(part), 0, 1e9 / options.baud);
  }

  /** Keeps the changes of watched nets from now on, their present levels first. */
  startRecording(): void {
    this.#active = this.#watch;
    this.#watch.nets.forEach((net, index) => {
      this.#seen[index] = this.kernel.value(net);
      this.#watch.record(this.now, index, this.#seen[index]!);
    });
  }

  /** Changes of watched nets so far, in order of time. */
  get changes(): readonly SimChange[] {
    this.#readKept();
    return this.#changes;
  }

  /** Changes that were not kept for want of room. */
  get lost(): number {
    this.#readKept();
    return this.#lost;
  }

  #readKept(): void {
    const { last } = this.#watch;
    const take = (ns: number, net: number, value: number): void => {
      if (this.#changes.length < this.#most) this.#changes.push({ ns, net, level: levelOf(value) });
      else this.#lost++;
    };
    const kept = this.#kept;
    this.#kept = [];
    this.#words = 0;
    for (const entry of kept) {
      if ('records' in entry)
        this.kernel.readRecords?.(entry.records, entry.records.length, entry.base, entry.half, { last, record: take });
      else {
        last[entry.net] = entry.value;
        take(entry.ns, entry.net, entry.value);
      }
    }
  }

  /** Looks at watched nets after a swing whose records were kept. */
  #look(): void {
    const { nets, log } = this.#active;
    if (log === undefined) return;
    for (let k = 0; k < nets.length; k++) this.#seen[k] = this.kernel.value(nets[k]!);
  }

  get now(): number {
    return this.kernel.now;
  }

  get findings(): readonly Finding[] {
    return this.kernel.findings;
  }

  /** Net by name, whatever its case; undefined where there is none. */
  net(name: string): number | undefined {
    return this.#netByName.get(foldName(name));
  }

  level(net: number): SimLevel {
    return levelOf(this.kernel.value(net));
  }

  /** Edges that a clock source has made, by the source's place. */
  edgesOf(source: number): number {
    return this.#clocks.find((clock) => clock.source === source)?.edges ?? 0;
  }

  /** Places of terminals (serial headers) in the circuit. */
  terminals(): number[] {
    return this.#partsWith((part) => part.kind === 'model' && part.model.outs[0]?.[0] === 'TXD');
  }

  #partsWith(fits: (part: CircuitPart) => boolean): number[] {
    return this.circuit.parts.flatMap((part, index) => (fits(part) ? [index] : []));
  }

  /** Names of what a hand can do: `RESET-BUTTON.PRESSED`. */
  hands(): string[] {
    return this.circuit.sources.filter((source) => source.rateHz === undefined).map((source) => source.name);
  }

  /** Presses, sets or lets go; false where there is no such thing to do. */
  hand(name: string, isOn: boolean): boolean {
    const source = this.circuit.sources.findIndex((entry) => foldName(entry.name) === foldName(name));
    if (source < 0 || this.circuit.sources[source]!.rateHz !== undefined) return false;
    this.kernel.setSource(source, isOn ? HIGH : LOW);
    this.#rest();
    return true;
  }

  /** Brings the machine to rest after something was given to a part. */
  settle(): void {
    this.#rest();
  }

  /** Holds a net at a level from outside, whatever drives it; Z lets go. */
  force(net: number, level: SimLevel): void {
    if (level === 'Z') this.#held.delete(net);
    else this.#held.add(net);
    this.kernel.force(net, valueOfLevel(level));
    this.#rest();
  }

  /** This moment, to go back to; undefined with the plain kernel, or while nets are held or bytes wait at a terminal. */
  save(): SavedSession | undefined {
    if (!(this.kernel instanceof CompiledKernel) || this.#held.size > 0) return undefined;
    if (this.#waiting.some(({ bytes }) => bytes.length > 0)) return undefined;
    return {
      kernel: this.kernel.snapshot(),
      clocks: this.#clocks.map((clock) => ({ ...clock })),
      edges: [...this.#edges].map(([part, edges]) => [part, [...edges]] as const),
      bytes: [...this.#bytes].map(([part, bytes]) => [part, [...bytes]] as const),
    };
  }

  /** Goes back to a moment of this session: nothing is held, nothing recorded, changes are forgotten. */
  restore(saved: SavedSession): void {
    if (!(this.kernel instanceof CompiledKernel)) return;
    for (const net of this.#held) this.kernel.force(net, Z);
    this.#held.clear();
    this.kernel.restore(saved.kernel);
    this.#clocks.forEach((clock, k) => {
      Object.assign(clock, saved.clocks[k]);
    });
    this.#edges.clear();
    for (const [part, edges] of saved.edges) this.#edges.set(part, [...edges]);
    this.#bytes.clear();
    for (const [part, bytes] of saved.bytes) this.#bytes.set(part, [...bytes]);
    this.#waiting.length = 0;
    this.#active = NOTHING;
    this.#changes.length = 0;
    this.#kept = [];
    this.#words = 0;
    this.#lost = 0;
  }

  /** Changes a clock's rate; 0 stops it where it stands. */
  setRate(name: string, rateHz: number): boolean {
    const clock = this.#clocks.find(({ source }) => foldName(this.circuit.sources[source]!.name) === foldName(name));
    if (clock === undefined) return false;
    clock.half = rateHz > 0 ? 0.5e9 / rateHz : Number.POSITIVE_INFINITY;
    clock.base = this.now;
    clock.baseEdges = clock.edges;
    advance(clock, 0);
    return true;
  }

  /** Sends bytes from the terminals, as fast as their line takes them. */
  send(bytes: readonly number[]): void {
    for (const part of this.terminals()) {
      this.#setBit(part);
      this.#waiting.push({ part, bytes: [...bytes] });
    }
    this.#feed();
  }

  /** Text that arrived at the terminals so far. */
  terminalText(): string {
    let text = '';
    for (const edges of this.#edges.values()) text += readSerial(edges, this.#baud, this.now).text;
    return text;
  }

  /** Rate that the terminals found, or undefined. */
  terminalBaud(): number | undefined {
    for (const edges of this.#edges.values()) {
      const { baud } = readSerial(edges, this.#baud, this.now);
      if (baud !== undefined) return baud;
    }
    return undefined;
  }

  /** Runs until a time in ns. */
  runTo(until: number): void {
    const { kernel } = this;
    for (;;) {
      let next = Number.POSITIVE_INFINITY;
      let clock: Clock | undefined;
      let second = Number.POSITIVE_INFINITY;
      for (const one of this.#clocks) {
        if (one.next < next) {
          second = next;
          next = one.next;
          clock = one;
        } else if (one.next < second) second = one.next;
      }
      let due = Number.POSITIVE_INFINITY;
      for (let k = 0; k < kernel.due.length; k++) if (kernel.due[k]! < due) due = kernel.due[k]!;
      if (next > until && due > until) break;
      if (due <= next) {
        kernel.now = due;
        kernel.timeouts();
        this.#rest();
        continue;
      }
      const one = clock!;
      const limit = Math.min(due, second, until);
      const edges = Math.floor((limit - one.next) / one.half);
      if (kernel.swing !== undefined && edges > 2 && Number.isFinite(edges)) {
        kernel.now = one.next - one.half;
        const made = kernel.swing(one.source, Math.min(edges, 1 << 24), one.half, this.#active);
        advance(one, made);
        this.#look();
        this.#take();
        continue;
      }
      kernel.now = one.next;
      // Clocks that swing at the same time swing in one step.
      for (const other of this.#clocks) {
        if (other.next > kernel.now) continue;
        advance(other, 1);
        kernel.setSource(other.source, other.high ? HIGH : LOW);
      }
      this.#rest();
    }
    kernel.now = Math.max(kernel.now, until);
  }

  #rest(): void {
    this.kernel.step();
    const { nets } = this.#active;
    const seen = this.#seen;
    for (let k = 0; k < nets.length; k++) {
      const value = this.kernel.value(nets[k]!);
      if (value === seen[k]) continue;
      seen[k] = value;
      this.#active.record(this.now, k, value);
    }
    this.#take();
  }

  /** Takes the kernel's news: edges at terminals, bytes of others. */
  #take(): void {
    const { news } = this.kernel;
    if (news.length === 0) return;
    const terminals = new Set(this.terminals());
    for (const { part, byte, now } of news) {
      if (terminals.has(part)) {
        const edges = this.#edges.get(part) ?? [];
        if (edges.length === 0) this.#edges.set(part, edges);
        edges.push({ ns: now, level: byte });
      } else {
        const bytes = this.#bytes.get(part) ?? [];
        bytes.push(byte);
        this.#bytes.set(part, bytes);
      }
    }
    news.length = 0;
    this.#feed();
  }

  #setBit(part: number): void {
    const baud = this.terminalBaud();
    if (baud !== undefined) setTerminalBit(this.kernel.stateOf(part), 0, 1e9 / baud);
  }

  #feed(): void {
    for (const { part, bytes } of this.#waiting)
      while (bytes.length > 0 && this.kernel.give(part, bytes[0]!)) bytes.shift();
  }
}
