// The compiled kernel: the machine as one generated function over one Int32Array. It gives what the plain kernel gives, net for
// net and step for step, some hundred times faster. Whatever is rare is done here, in slow code that the function calls: nets
// of clusters, nets held from outside, parts with faulted pins.

import { createRng, type Finding } from '../../base/index.ts';
import type { Circuit, CircuitCluster, CircuitPart } from '../circuit/circuit.ts';
import { heldNets, joinNets, rewirePart, rewirings, type SimFault } from '../circuit/faults.ts';
import { resolveCluster } from '../circuit/resolve.ts';
import { oscillationFinding } from '../findings.ts';
import type { Kernel, SimNews, Watch } from '../kernel.ts';
import type { SimContents } from '../model.ts';
import type { Moment, PartModel } from '../models/model.ts';
import { evaluate, stepFormulas } from '../plain/kernel.ts';
import { HIGH, LOW, valueAt, X, Z } from '../values.ts';
import { Conflicts } from './conflicts.ts';
import { busBits, emitMachine, LONG_PART, RECORD_WORDS } from './emit.ts';
import { type Bus, busReaders, type Driver, layMachine, maskWords, type MachineLayout, type Reader } from './layout.ts';
import { type Term, termsOf } from './terms.ts';

/** What generated code calls. */
interface Host {
  bus(id: number): void;
  drive(place: number): void;
  commit(place: number): boolean;
  unknown(...bits: number[]): void;
  restless(...bits: number[]): void;
  conflicts(): void;
  /** Takes what stands in the record up to there; gives where to go on. */
  flush(words: number): number;
}

type Run = (steps: number, source: number, isRecording: boolean) => number;

/** Words of the record between two flushes. */
const RECORD_ROOM = 1 << 15;

/** How the host resolves a bus, with the faults there are. */
interface BusPlan {
  readonly mask: number;
  /** Lanes pulled up and down; lanes held from outside, and at which levels. */
  readonly up: number;
  readonly down: number;
  readonly held: number;
  readonly heldAt: number;
  /** Some of its nets are joined to others, or close switches: net by net then. */
  readonly isJoined: boolean;
  readonly wakes: readonly { readonly place: number; readonly lanes: number }[];
  readonly strays: boolean;
}

/** A copy of a machine's whole state, to go back to. */
export interface Snapshot {
  readonly words: Int32Array;
  readonly due: Float64Array;
  readonly now: number;
  /** What pins that are not where they belong drive: net, place and output, value. */
  readonly strays: readonly (readonly [number, number, number])[];
}

export class CompiledKernel implements Kernel {
  readonly circuit: Circuit;
  readonly layout: MachineLayout;
  readonly findings: Finding[] = [];
  readonly news: SimNews[] = [];
  readonly due: Float64Array;
  readonly #s: Int32Array;
  readonly #host: Host;
  readonly #moment: Moment;
  readonly #models: readonly (PartModel | undefined)[];
  /** The generated programs: without tests for faults and hands, and with them. Made when first used. */
  #fast: Run | undefined;
  #hooked: Run | undefined;
  /** A fault or a hand has taken something over. */
  #isHooked = false;
  readonly #records = new Int32Array(RECORD_ROOM);
  readonly #terms: readonly (readonly Term[])[];
  readonly #forced: Uint8Array;
  readonly #conflicts: Conflicts;
  readonly #clustersOfCondition = new Map<number, number[]>();
  readonly #contents: SimContents;
  readonly #longPart: number;
  /** Bits of the parts that a bus wakes, for driving and for committing, per bus. */
  readonly #driving: readonly (readonly number[])[];
  readonly #committing: readonly (readonly number[])[];
  /** Clusters as they are with shorts, and which one a net is in. */
  #clusters: readonly (CircuitCluster | undefined)[];
  #clusterOf: Int32Array;
  /** Parts with open or exchanged pins, by place: as wired, and their inputs as they were. */
  readonly #rewired = new Map<number, { part: CircuitPart; before: number[] }>();
  /** What pins that are not where they belong drive, by net: value by place and output. */
  readonly #strays = new Map<number, Map<number, number>>();
  /** Parts to wake when a net changes. */
  readonly #wakes = new Map<number, number[]>();
  /** Faulted parts whose state changed in the round before. */
  readonly #again = new Set<number>();
  readonly #plans: BusPlan[];
  #faultHolds: readonly { readonly net: number; readonly value: number }[] = [];
  /** A bus that was resolved here may be in conflict. */
  #isSuspect = false;
  #base = 0;
  #half = 0;
  #watch: Watch | undefined;
  /** Bits of buses that are watched, and the watched nets of each. */
  #watched: readonly (readonly { readonly index: number; readonly bit: number }[])[] = [];

  /** `longPart`: length of a part's text beyond which it becomes a function of its own; for tests. */
  constructor(circuit: Circuit, contents: SimContents, longPart: number = LONG_PART) {
    this.circuit = circuit;
    this.#contents = contents;
    this.#longPart = longPart;
    this.#clusters = circuit.clusters;
    this.#clusterOf = circuit.clusterOf;
    const layout = layMachine(circuit);
    this.layout = layout;
    const readers = busReaders(layout);
    const masks = (list: readonly Reader[]): number[] =>
      maskWords(
        list.map(({ place }) => place),
        layout.changeWords,
      );
    this.#driving = readers.driving.map(masks);
    this.#committing = readers.committing.map((list, id) => masks([...list, ...readers.whenAlert[id]!]));
    const s = new Int32Array(layout.words);
    this.#s = s;
    this.due = new Float64Array(circuit.parts.length).fill(Number.POSITIVE_INFINITY);
    this.#forced = new Uint8Array(circuit.nets.length);
    circuit.clusters.forEach((cluster, index) => {
      for (const { condition } of cluster.switches)
        this.#clustersOfCondition.set(condition, [...(this.#clustersOfCondition.get(condition) ?? []), index]);
    });
    const self = this;
    this.#moment = {
      get now(): number {
        return self.now;
      },
      after(ns: number): void {
        self.due[s[layout.who]!] = self.now + ns;
        s[layout.stop] = 1;
      },
      out(byte: number): void {
        self.news.push({ part: s[layout.who]!, byte, now: self.now });
      },
    };
    this.#terms = layout.buses.map(termsOf);
    this.#conflicts = new Conflicts(layout, s, this.#terms, this.#strays);
    this.#plans = layout.buses.map((bus) => this.#planOf(bus));
    this.#host = {
      bus: (id) => {
        const bus = layout.buses[id]!;
        const driven = this.#driven(bus);
        if ((driven & (driven >>> 16) & 0xffff) !== 0 && this.#conflicts.isOpposed(bus)) s[layout.suspect] = 1;
        this.#finishBus(bus, driven);
      },
      drive: (place) => this.#driveFaulted(place),
      commit: (place) => this.#commitFaulted(place),
      unknown: (...bits) => this.#allUnknown(bits),
      restless: (...bits) => this.#oscillates(bits, 'state'),
      conflicts: () => this.#tellConflicts(),
      flush: (words) => this.#flush(words),
    };
    this.#models = circuit.parts.map((part) => (part.kind === 'model' ? part.model : undefined));
    this.#switchOn();
  }

  #make(hooks: boolean): Run {
    const { layout } = this;
    // Only numbers and names of our own making are in this text.
    const make = new Function('s', 'h', 'm', 't', 'r', emitMachine(layout, hooks, this.#longPart)) as (
      words: Int32Array,
      host: Host,
      models: readonly (PartModel | undefined)[],
      moment: Moment,
      records: Int32Array,
    ) => Run;
    return make(this.#s, this.#host, this.#models, this.#moment, this.#records);
  }

  #run(steps: number, source: number, isRecording: boolean): number {
    if (this.#isHooked) {
      this.#hooked ??= this.#make(true);
      return this.#hooked(steps, source, isRecording);
    }
    this.#fast ??= this.#make(false);
    return this.#fast(steps, source, isRecording);
  }

  #momentOf(place: number): Moment {
    this.#s[this.layout.who] = place;
    return this.#moment;
  }

  /** Power goes off and comes on again, faults as they are. */
  restart(): void {
    const { layout } = this;
    const keep = [
      [layout.hooks, layout.busWords],
      [layout.watch, layout.busWords],
      [layout.faulted, layout.changeWords],
    ].map(([from, count]) => ({ from: from!, words: this.#s.slice(from, from! + count!) }));
    this.#s.fill(0);
    for (const { from, words } of keep) this.#s.set(words, from);
    this.due.fill(Number.POSITIVE_INFINITY);
    this.news.length = 0;
    this.findings.length = 0;
    this.#conflicts.forget(true);
    this.now = 0;
    for (const strays of this.#strays.values()) strays.clear();
    this.#switchOn();
  }

  #switchOn(): void {
    const s = this.#s;
    const { layout, circuit } = this;
    const contents = this.#contents;
    const rng = createRng(contents.seed ?? 1);
    for (const { part, place, state } of layout.parts) {
      if (part.kind === 'model') part.model.power(s, state, () => rng.next32(), this.#momentOf(place));
      else
        part.formulas.states.forEach((_, k) => {
          const known = part.formulas.powerUp.get(k);
          const random = contents.flipFlops === 'random' ? (rng.next32() & 1) + 1 : X;
          const value = known === undefined ? random : known === 1 ? HIGH : LOW;
          s[state + (k >> 4)]! |= ((value & 1) << (k & 15)) | ((value >> 1) << ((k & 15) + 16));
        });
    }
    layout.sources.forEach((driver, k) => {
      const { start } = circuit.sources[k]!;
      s[driver.at] = (start & 1) | ((start >> 1) << 16);
    });
    for (const bus of layout.buses) {
      const mask = 2 ** bus.nets.length - 1;
      s[bus.floats] = mask;
      s[bus.at] = (circuit.floating & 1 ? mask : 0) | (circuit.floating & 2 ? mask << 16 : 0);
    }
    for (let k = 0; k < layout.changeWords; k++) s[layout.alert + k] = -1;
    for (const bus of layout.buses) this.#refreshBus(bus);
    this.#pendAll();
    // The first step settles; inputs as they were are the same as they are then, so that nothing is an edge.
    this.#powerOn();
  }

  /** Brings nets to rest with the state of power-up, takes that as what stood before, and makes the first step. */
  #powerOn(): void {
    const s = this.#s;
    const { layout } = this;
    this.#run(1, -2, false);
    const read = (net: number): number => {
      const value = net < 0 ? 0 : this.value(net);
      return value === 0 ? this.circuit.floating : value;
    };
    for (const [place, entry] of this.#rewired) {
      const ports = entry.part.kind === 'model' ? entry.part.ins.flat() : entry.part.inputs;
      entry.before = ports.map(read);
      this.#again.add(place);
    }
    for (const { part: built, before, place } of layout.parts) {
      const part = this.#rewired.get(place)?.part ?? built;
      const ports = part.kind === 'model' ? part.ins : [part.inputs];
      ports.forEach((port, k) => {
        port.forEach((net, bit) => {
          const at = before + (part.kind === 'model' ? k : bit >> 4);
          if ((bit & 15) === 0) s[at] = 0;
          const value = read(net);
          s[at]! |= ((value & 1) | ((value >> 1) << 16)) << (bit & 15);
        });
      });
    }
    this.#pendAll();
    this.#isSuspect = true;
    this.step();
  }

  get now(): number {
    return this.#base + this.#s[this.layout.edge]! * this.#half;
  }

  set now(ns: number) {
    this.#base = ns;
    this.#s[this.layout.edge] = 0;
    this.#half = 0;
  }

  value(net: number): number {
    const place = this.layout.places[net];
    if (place === undefined) return this.circuit.fed[net]!;
    const { bus, bit } = place;
    return (this.#s[bus.floats]! >>> bit) & 1 ? 0 : valueAt(this.#s[bus.at]!, bit);
  }

  setSource(source: number, value: number): void {
    const driver = this.layout.sources[source]!;
    this.#s[driver.at] = (value & 1) | ((value >> 1) << 16);
    for (const bus of this.#busesOf(driver)) this.#refreshBus(bus);
  }

  force(net: number, value: number): void {
    const place = this.layout.places[net];
    if (place === undefined) return;
    const { bus } = place;
    this.#forced[net] = value;
    this.#hook(bus);
    this.#refreshBus(bus);
  }

  /** A bus goes the slow way while anything of it is held, shorted, strayed to or waited for. */
  #hook(bus: Bus): void {
    this.#plans[bus.id] = this.#planOf(bus);
    const isHooked = bus.nets.some(
      (net) =>
        this.#forced[net] !== 0 ||
        this.#strays.has(net) ||
        this.#wakes.has(net) ||
        (this.#clusterOf[net]! >= 0 && !bus.hooked),
    );
    const word = this.layout.hooks + (bus.id >> 5);
    if (isHooked) this.#s[word]! |= 1 << (bus.id & 31);
    else this.#s[word]! &= ~(1 << (bus.id & 31));
    this.#chooseCode();
  }

  #planOf(bus: Bus): BusPlan {
    const wakes = new Map<number, number>();
    let [up, down, held, heldAt] = [0, 0, 0, 0];
    bus.nets.forEach((net, bit) => {
      const pull = this.circuit.pulls[net]!;
      if (pull & HIGH) up |= 1 << bit;
      if (pull & LOW) down |= 1 << bit;
      const value = this.#forced[net]!;
      if (value !== 0) {
        held |= 1 << bit;
        heldAt |= ((value & 1) | ((value >> 1) << 16)) << bit;
      }
      for (const place of this.#wakes.get(net) ?? []) wakes.set(place, (wakes.get(place) ?? 0) | (1 << bit));
    });
    return {
      mask: 2 ** bus.nets.length - 1,
      up,
      down,
      held,
      heldAt,
      isJoined: bus.nets.some((net) => this.#clusterOf[net]! >= 0 || this.#clustersOfCondition.has(net)),
      wakes: [...wakes].map(([place, lanes]) => ({ place, lanes })),
      strays: bus.nets.some((net) => this.#strays.has(net)),
    };
  }

  #chooseCode(): void {
    const { layout } = this;
    const any = (from: number, count: number): boolean =>
      this.#s.subarray(from, from + count).some((word) => word !== 0);
    this.#isHooked = any(layout.hooks, layout.busWords) || any(layout.faulted, layout.changeWords);
  }

  /**
   * Puts these faults in, in place of those that are in; without compiling again. It takes effect with the next step.
   * Nets that are held by `force` stay held, unless a fault holds them.
   */
  setFaults(faults: readonly SimFault[]): void {
    const { layout, circuit } = this;
    const touched = new Set<Bus>();
    const touch = (net: number): void => {
      const bus = layout.places[net]?.bus;
      if (bus !== undefined) touched.add(bus);
    };
    for (const { net } of this.#faultHolds) {
      this.#forced[net] = 0;
      touch(net);
    }
    for (const net of [...this.#strays.keys(), ...this.#wakes.keys()]) touch(net);
    for (let net = 0; net < circuit.nets.length; net++) if (this.#clusterOf[net]! >= 0) touch(net);
    const before = [...this.#rewired.keys()];
    this.#strays.clear();
    this.#wakes.clear();
    this.#rewired.clear();
    this.#clusters = circuit.clusters;
    this.#clusterOf = circuit.clusterOf;
    for (const fault of faults) {
      if (fault.kind !== 'short' || fault.a === fault.b) continue;
      if (circuit.fed[fault.a] !== 0 || circuit.fed[fault.b] !== 0) continue;
      const joined = joinNets(circuit, this.#clusters, this.#clusterOf, fault.a, fault.b, -1);
      this.#clusters = joined.clusters;
      this.#clusterOf = joined.clusterOf;
      touch(fault.a);
      touch(fault.b);
    }
    this.#clustersOfCondition.clear();
    this.#clusters.forEach((cluster, index) => {
      for (const { condition } of cluster?.switches ?? [])
        if (condition >= 0)
          this.#clustersOfCondition.set(condition, [...(this.#clustersOfCondition.get(condition) ?? []), index]);
    });
    this.#faultHolds = heldNets(circuit, faults);
    for (const { net, value } of this.#faultHolds) {
      this.#forced[net] = value;
      touch(net);
    }
    for (let k = 0; k < layout.changeWords; k++) this.#s[layout.faulted + k] = 0;
    for (const [place, pins] of rewirings(circuit, faults)) {
      const built = circuit.parts[place]!;
      const part = rewirePart(built, (pin, net) => pins.get(pin) ?? net);
      const nets = part.kind === 'model' ? part.ins.flat() : part.inputs;
      this.#rewired.set(place, {
        part,
        before: nets.map((net) => this.#read(net)),
      });
      const { bit, before: at } = layout.parts[place]!;
      if (part.kind === 'model') this.#gatherPorts(part.ins, at);
      this.#s[layout.faulted + (bit >> 5)]! |= 1 << (bit & 31);
      for (const net of nets) {
        if (net < 0) continue;
        this.#wakes.set(net, [...(this.#wakes.get(net) ?? []), place]);
        touch(net);
      }
      for (const net of part.kind === 'model' ? part.outs.flat() : part.outputs) {
        if (net < 0) continue;
        if (!this.#strays.has(net)) this.#strays.set(net, new Map());
        touch(net);
      }
      this.#pend(bit);
    }
    for (const place of before) {
      this.#pend(place);
      this.#s[layout.alert + (place >> 5)]! |= 1 << (place & 31);
    }
    this.#conflicts.forget(false);
    for (const bus of touched) this.#hook(bus);
    for (const bus of touched) this.#s[bus.raw] = this.#driven(bus);
    for (const bus of touched) this.#refreshBus(bus);
    this.#chooseCode();
  }

  #read(net: number): number {
    const value = net < 0 ? 0 : this.value(net);
    return value === 0 ? this.circuit.floating : value;
  }

  #stateValue(state: number, k: number): number {
    return valueAt(this.#s[state + (k >> 4)]!, k & 15);
  }

  /** Drives the nets of a part whose pins are not where they belong. */
  #driveFaulted(place: number): void {
    const entry = this.layout.parts[place]!;
    const rewired = this.#rewired.get(place)!;
    const { part } = rewired;
    let values: number[];
    if (part.kind === 'formulas') {
      const input = (k: number): number => this.#read(part.inputs[k]!);
      const state = (k: number): number => this.#stateValue(entry.state, k);
      values = part.formulas.outputs.map((output) => {
        const enabled = output.enable === undefined ? HIGH : evaluate(output.enable, input, state);
        const level = evaluate(output.value, input, state);
        return enabled === LOW || (output.openDrain && level === HIGH) ? Z : enabled === X ? X : level;
      });
    } else {
      this.#gatherPorts(part.ins, entry.ins);
      part.model.drive(this.#s, entry.state, entry.ins, entry.outs);
      values = part.outs.flatMap((port, k) => port.map((_, bit) => valueAt(this.#s[entry.outs + k]!, bit)));
    }
    const nets = part.kind === 'formulas' ? part.outputs : part.outs.flat();
    const changed = new Set<Bus>();
    // All outputs go as strays; the words of the part itself drive nothing.
    for (const driver of entry.drivers) {
      if (this.#s[driver.at] === 0) continue;
      this.#s[driver.at] = 0;
      for (const bus of this.#busesOf(driver)) changed.add(bus);
    }
    values.forEach((value, output) => {
      const net = nets[output]!;
      const strays = this.#strays.get(net);
      if (strays === undefined) return;
      const key = place * 4096 + output;
      if ((strays.get(key) ?? Z) === value) return;
      strays.set(key, value);
      const bus = this.layout.places[net]?.bus;
      if (bus !== undefined) changed.add(bus);
      else this.#s[this.layout.suspect] = 1;
    });
    for (const bus of changed) {
      const driven = this.#driven(bus);
      if ((driven & (driven >>> 16) & 0xffff) !== 0 && this.#conflicts.isOpposed(bus)) this.#s[this.layout.suspect] = 1;
      this.#finishBus(bus, driven);
    }
  }

  #gatherPorts(ports: readonly (readonly number[])[], to: number): void {
    ports.forEach((port, k) => {
      let word = 0;
      port.forEach((net, bit) => {
        const value = this.#read(net);
        word |= ((value & 1) << bit) | ((value >> 1) << (bit + 16));
      });
      this.#s[to + k] = word;
    });
  }

  #commitFaulted(place: number): boolean {
    const entry = this.layout.parts[place]!;
    const rewired = this.#rewired.get(place)!;
    const { part } = rewired;
    const s = this.#s;
    if (part.kind === 'model') {
      this.#gatherPorts(part.ins, entry.ins);
      const changed = part.model.commit(s, entry.state, entry.before, entry.ins, this.#momentOf(place));
      s.copyWithin(entry.before, entry.ins, entry.ins + part.ins.length);
      return changed;
    }
    const count = part.formulas.states.length;
    const now = part.inputs.map((net) => this.#read(net));
    const { before } = rewired;
    if (!this.#again.delete(place) && now.every((value, k) => value === before[k])) return false;
    const old = Array.from({ length: count }, (_, k) => this.#stateValue(entry.state, k));
    const next = stepFormulas(
      part.formulas,
      old,
      (k) => before[k]!,
      (k) => now[k]!,
    );
    rewired.before = now;
    let changed = false;
    next.forEach((value, k) => {
      if (value === old[k]) return;
      changed = true;
      const at = entry.state + (k >> 4);
      s[at] = (s[at]! & ~(0x10001 << (k & 15))) | (((value & 1) | ((value >> 1) << 16)) << (k & 15));
    });
    if (changed) this.#again.add(place);
    return changed;
  }

  give(part: number, byte: number): boolean {
    const entry = this.layout.parts[part]!;
    if (entry.part.kind !== 'model') return false;
    const taken = entry.part.model.give?.(this.#s, entry.state, byte, this.#momentOf(part)) ?? false;
    this.#pend(entry.bit);
    return taken;
  }

  timeouts(): void {
    for (const { part, place, state, bit } of this.layout.parts) {
      if (this.due[place]! > this.now || part.kind !== 'model') continue;
      this.due[place] = Number.POSITIVE_INFINITY;
      if (part.model.timeout?.(this.#s, state, this.#momentOf(place)) === true) this.#pend(bit);
    }
  }

  step(): void {
    this.#run(1, -1, false);
    this.#s[this.layout.stop] = 0;
    if (!this.#isSuspect) return;
    this.#isSuspect = false;
    this.#tellConflicts();
  }

  swing(source: number, edges: number, halfNs: number, watch: Watch): number {
    this.#base = this.now;
    this.#s[this.layout.edge] = 0;
    this.#half = halfNs;
    if (this.#watch !== watch) this.#setWatch(watch);
    // A record says its edge in what the bus leaves of a word.
    const most = 2 ** (31 - busBits(this.layout));
    return this.#run(Math.min(edges, most), source, watch.nets.length > 0);
  }

  #setWatch(watch: Watch): void {
    const { layout } = this;
    this.#watch = watch;
    this.#s.fill(0, layout.watch, layout.watch + layout.busWords);
    const watched: { index: number; bit: number }[][] = layout.buses.map(() => []);
    watch.nets.forEach((net, index) => {
      const place = layout.places[net];
      if (place === undefined) return;
      const { id } = place.bus;
      watched[id]!.push({ index, bit: place.bit });
      this.#s[layout.watch + (id >> 5)]! |= 1 << (id & 31);
    });
    this.#watched = watched;
  }

  stateOf(part: number): Int32Array {
    const entry = this.layout.parts[part]!;
    return this.#s.subarray(entry.state, entry.ins);
  }

  /** A copy of everything that a step can change. */
  snapshot(): Snapshot {
    const strays = [...this.#strays].flatMap(([net, values]) =>
      [...values].map(([key, value]): [number, number, number] => [net, key, value]),
    );
    return { words: this.#s.slice(), due: this.due.slice(), now: this.now, strays };
  }

  /** Goes back to a snapshot; faults, nets held and nets watched stay as they are now, and take effect with the next step. */
  restore(snapshot: Snapshot): void {
    const { layout } = this;
    const s = this.#s;
    const hooks = s.slice(layout.hooks, layout.hooks + layout.busWords);
    const watch = s.slice(layout.watch, layout.watch + layout.busWords);
    const faulted = s.slice(layout.faulted, layout.faulted + layout.changeWords);
    s.set(snapshot.words);
    this.due.set(snapshot.due);
    this.now = snapshot.now;
    const isSet = (words: ArrayLike<number>, from: number, bit: number): boolean =>
      ((words[from + (bit >> 5)]! >>> (bit & 31)) & 1) !== 0;
    s.set(hooks, layout.hooks);
    s.set(watch, layout.watch);
    s.set(faulted, layout.faulted);
    this.#chooseCode();
    this.#again.clear();
    for (const strays of this.#strays.values()) strays.clear();
    for (const [net, key, value] of snapshot.strays)
      if (this.#rewired.has(Math.floor(key / 4096))) this.#strays.get(net)?.set(key, value);
    for (const { place, before } of layout.parts) {
      const rewired = this.#rewired.get(place);
      if (rewired === undefined && !isSet(snapshot.words, layout.faulted, place)) continue;
      // Asked, but not as one whose state has just changed: to go back is no edge.
      for (const words of [layout.now, layout.round, layout.alert]) s[words + (place >> 5)]! |= 1 << (place & 31);
      if (rewired === undefined) continue;
      const { part } = rewired;
      rewired.before = (part.kind === 'model' ? part.ins.flat() : part.inputs).map((net) => this.#read(net));
      if (part.kind === 'model') this.#gatherPorts(part.ins, before);
    }
    const touched = layout.buses.filter(
      ({ id, nets }) =>
        isSet(hooks, 0, id) ||
        isSet(snapshot.words, layout.hooks, id) ||
        nets.some((net) => this.#clusterOf[net]! >= 0),
    );
    for (const bus of touched) s[bus.raw] = this.#driven(bus);
    for (const bus of touched) this.#refreshBus(bus);
  }

  /** Asks a part in the next step, whether its inputs changed or not. */
  #pend(place: number): void {
    const { now, round, again } = this.layout;
    for (const words of [now, round, again]) this.#s[words + (place >> 5)]! |= 1 << (place & 31);
  }

  #pendAll(): void {
    const { now, round, again, changeWords } = this.layout;
    for (const words of [now, round, again]) this.#s.fill(-1, words, words + changeWords);
  }

  #busesOf(driver: Driver): Set<Bus> {
    return new Set(
      driver.nets
        .flatMap((net) => (net < 0 ? [] : [this.layout.places[net]]))
        .flatMap((at) => (at === undefined ? [] : [at.bus])),
    );
  }

  /** What the drivers of a bus drive, before pulls. */
  #driven(bus: Bus): number {
    let word = 0;
    for (const { at, shift, mask } of this.#terms[bus.id]!) {
      const lanes = this.#s[at]! & mask;
      word |= shift >= 0 ? lanes << shift : lanes >>> -shift;
    }
    return word | this.#strayed(bus);
  }

  #strayed(bus: Bus): number {
    if (!this.#plans[bus.id]!.strays) return 0;
    let word = 0;
    bus.nets.forEach((net, bit) => {
      for (const value of this.#strays.get(net)?.values() ?? []) word |= ((value & 1) | ((value >> 1) << 16)) << bit;
    });
    return word;
  }

  /** Resolves a bus from here; its change is taken up by the next step. */
  #refreshBus(bus: Bus): void {
    const { layout } = this;
    const driven = this.#driven(bus);
    if ((driven & (driven >>> 16) & 0xffff) !== 0) this.#isSuspect = true;
    this.#finishBus(bus, driven);
    for (let k = 0; k < layout.changeWords; k++) {
      this.#s[layout.now + k]! |= this.#s[layout.marks + k]!;
      this.#s[layout.marks + k] = 0;
      this.#s[layout.round + k]! |= this.#s[layout.commitMarks + k]!;
      this.#s[layout.commitMarks + k] = 0;
    }
  }

  /** A bus's levels from what drives it: pulls, clusters, nets held. Changes are marked. */
  #finishBus(bus: Bus, driven: number): void {
    const s = this.#s;
    s[bus.raw] = driven;
    const plan = this.#plans[bus.id]!;
    if (!plan.isJoined) {
      const held = plan.held | (plan.held << 16);
      let levels = (driven & ~held) | plan.heldAt;
      let floats = ~(levels | (levels >>> 16)) & plan.mask;
      levels |= (floats & plan.up) | ((floats & plan.down) << 16);
      floats &= ~(plan.up | plan.down);
      const { floating } = this.circuit;
      levels |= ((floating & 1) !== 0 ? floats : 0) | ((floating & 2) !== 0 ? floats << 16 : 0);
      if (levels === s[bus.at] && floats === s[bus.floats]) return;
      const moved = levels ^ s[bus.at]!;
      const lanes = (moved | (moved >>> 16) | (floats ^ s[bus.floats]!)) & plan.mask;
      this.#keepOld(bus);
      s[bus.at] = levels;
      s[bus.floats] = floats;
      this.#markReaders(bus);
      for (const wake of plan.wakes) if ((wake.lanes & lanes) !== 0) this.#markPart(wake.place);
      return;
    }
    const clusters = new Set<number>();
    bus.nets.forEach((net, bit) => {
      const cluster = this.#clusterOf[net]!;
      if (cluster >= 0) clusters.add(cluster);
      else {
        const value = valueAt(driven, bit);
        this.#put(net, this.#forced[net]! || (value === 0 ? this.circuit.pulls[net]! : value));
      }
    });
    for (const cluster of clusters) this.#resolveCluster(cluster);
  }

  #resolveCluster(index: number): void {
    const cluster = this.#clusters[index]!;
    const strong = Uint8Array.from(cluster.nets, (net) => {
      const place = this.layout.places[net];
      if (place === undefined) return this.circuit.fed[net]!;
      return this.#forced[net]! || valueAt(this.#s[place.bus.raw]!, place.bit);
    });
    const closed = Uint8Array.from(cluster.switches, ({ condition }) => (condition < 0 ? HIGH : this.value(condition)));
    const out = new Uint8Array(cluster.nets.length);
    resolveCluster(cluster, strong, closed, out);
    cluster.nets.forEach((net, k) => {
      this.#put(net, this.#forced[net]! || out[k]!);
    });
  }

  #put(net: number, value: number): void {
    const place = this.layout.places[net];
    if (place === undefined || this.value(net) === value) return;
    const { bus, bit } = place;
    const read = value === 0 ? this.circuit.floating : value;
    const word = ((read & 1) | ((read >> 1) << 16)) << bit;
    this.#keepOld(bus);
    this.#s[bus.at] = (this.#s[bus.at]! & ~(0x10001 << bit)) | word;
    this.#s[bus.floats] = (this.#s[bus.floats]! & ~(1 << bit)) | ((value === 0 ? 1 : 0) << bit);
    this.#markReaders(bus);
    for (const part of this.#wakes.get(net) ?? []) this.#markPart(part);
    for (const cluster of this.#clustersOfCondition.get(net) ?? []) this.#resolveCluster(cluster);
  }

  /** Keeps the levels of a bus as they were at the commit before, if they have not changed since. */
  #keepOld(bus: Bus): void {
    const changed = this.layout.changed + (bus.id >> 5);
    if ((this.#s[changed]! & (1 << (bus.id & 31))) === 0) this.#s[bus.old] = this.#s[bus.at]!;
    this.#s[changed]! |= 1 << (bus.id & 31);
  }

  #markReaders(bus: Bus): void {
    const { marks, commitMarks, changeWords } = this.layout;
    const driving = this.#driving[bus.id]!;
    const committing = this.#committing[bus.id]!;
    for (let k = 0; k < changeWords; k++) {
      this.#s[marks + k]! |= driving[k]!;
      this.#s[commitMarks + k]! |= committing[k]!;
    }
  }

  #markPart(place: number): void {
    const { marks, commitMarks } = this.layout;
    this.#s[marks + (place >> 5)]! |= 1 << (place & 31);
    this.#s[commitMarks + (place >> 5)]! |= 1 << (place & 31);
  }

  #allUnknown(bits: readonly number[]): void {
    this.#oscillates(bits, 'gates');
    for (const strays of this.#strays.values()) strays.clear();
    for (const [place, { part }] of this.#rewired) {
      const nets = part.kind === 'formulas' ? part.outputs : part.outs.flat();
      nets.forEach((net, output) => {
        this.#strays.get(net)?.set(place * 4096 + output, X);
      });
    }
    for (const { drivers, place } of this.layout.parts)
      for (const driver of drivers) {
        if (this.#rewired.has(place)) continue;
        const mask = driver.nets.reduce((sum, net, lane) => (net >= 0 ? sum | (1 << lane) : sum), 0);
        this.#s[driver.at] = mask | (mask << 16);
      }
    for (const bus of this.layout.buses) this.#finishBus(bus, this.#driven(bus));
    this.#s[this.layout.suspect] = 1;
  }

  #oscillates(bits: readonly number[], what: 'gates' | 'state'): void {
    const isSet = (bit: number): boolean => ((bits[bit >> 5]! >>> (bit & 31)) & 1) !== 0;
    const parts = this.layout.parts.filter((entry) => isSet(entry.bit));
    const finding = oscillationFinding(
      this.circuit,
      parts.map((entry) => entry.place),
      what,
    );
    if (!this.findings.some((old) => old.message === finding.message)) this.findings.push(finding);
  }

  #tellConflicts(): void {
    this.findings.push(...this.#conflicts.find(this.#forced, (bus) => this.#plans[bus.id]!.isJoined, this.now));
  }

  /** Records of buses as changes of the watched nets on them. */
  #flush(words: number): number {
    const watch = this.#watch;
    if (watch === undefined) return 0;
    const records = this.#records;
    if (watch.log !== undefined) watch.log(records.subarray(0, words), this.#base, this.#half);
    else this.readRecords(records, words, this.#base, this.#half, watch);
    return 0;
  }

  readRecords(
    records: Int32Array,
    words: number,
    base: number,
    half: number,
    { last, record }: Pick<Watch, 'last' | 'record'>,
  ): void {
    const bits = busBits(this.layout);
    const mask = 2 ** bits - 1;
    for (let k = 0; k < words; k += RECORD_WORDS) {
      const head = records[k]!;
      const levels = records[k + 1]!;
      for (const { index, bit } of this.#watched[head & mask]!) {
        const value = valueAt(levels, bit);
        if (value === last[index]) continue;
        last[index] = value;
        record(base + (head >>> bits) * half, index, value);
      }
    }
  }
}
