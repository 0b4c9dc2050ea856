// One machine under one hypothesis, half clock by half clock. Levels are 0 and 1 always; beside each stands whether it is firm or
// a guess (a net that floats, two outputs against each other, a byte that nobody wrote), so that a trial never ends in "unknown".
// Wired afresh from nodes for each hypothesis, in some ten microseconds; nothing is compiled again.
//
// It follows the order of the simulator (docs/decisions/020): edges, gates to rest, then all state at once, and again. It is held
// against the plain kernel in trial.test.ts.

import type { Edit, Nodes } from '../faults/index.ts';
import type { TrialPart, TrialPlan } from './trial-plan.ts';

/** Why a level is a guess: bits. */
export const FLOATS = 1;
export const AGAINST = 2;
export const GUESS = 4;
/** Nothing can drive it and its level is part of the hypothesis: a guess where it is seen, firm in what follows from it. */
export const LOOSE = 8;

/** How what logic cannot say is taken. */
export interface Physics {
  /** What reads a net that nothing ever drives; or one level for each node; `any`: what follows from it is a guess. */
  readonly floats: 0 | 1 | 'any' | Uint8Array;
  /** Which output wins against another: 0 the low one, 1 the high one. */
  readonly wins: 0 | 1;
  /** A chip with only one of its supply pins open works all the same, does nothing, or holds its outputs low. */
  readonly unfed: 'dead' | 'works' | 'low';
}

export const PLAIN_PHYSICS: Physics = { floats: 1, wins: 0, unfed: 'dead' };

/** Of a net that is pulled both ways. */
const CONTESTED = 3;
const MOST_DRIVES = 300;
const MOST_ROUNDS = 24;
const LEARN_AFTER = 2;

export class Trial {
  readonly plan: TrialPlan;
  /** Per node: level, and why it is no firm one. */
  level = new Uint8Array(0);
  soft = new Uint8Array(0);
  /** Node of each probe. */
  probes: Int32Array = new Int32Array(0);
  /** Nodes that nothing can drive or pull and that some part reads. */
  loose: number[] = [];
  /** True when an output was against another since wiring, and when gates would not rest. */
  hadConflict = false;
  hadUnrest = false;
  /** True when a part has no supply but one that may work all the same. */
  hasUnfed = false;
  readonly state: Int32Array;
  readonly #slotNode: Int32Array;
  readonly #driven: Uint8Array;
  /** Outputs that stand at a level whatever their part means. */
  readonly #held: Uint8Array;
  #high = new Uint8Array(0);
  #low = new Uint8Array(0);
  #softly = new Uint8Array(0);
  #guess = new Uint8Array(0);
  #pull = new Uint8Array(0);
  #fed = new Uint8Array(0);
  #clamp = new Int8Array(0);
  #drivable = new Uint8Array(0);
  #floatLevel = new Uint8Array(0);
  #links: (number[] | undefined)[] = [];
  #up = new Float64Array(0);
  #down = new Float64Array(0);
  #fill = new Int32Array(0);
  #readers: Int32Array = new Int32Array(0);
  #readerStart: Int32Array = new Int32Array(0);
  readonly #wake: Int32Array;
  readonly #touched: Int32Array;
  readonly #committingMask: Int32Array;
  readonly #dead: Uint8Array;
  readonly #lowOnly: Uint8Array;
  /** Memories whose bytes are not known. */
  readonly #learns: Uint8Array;
  readonly #ports: Int32Array[][];
  readonly #outs: Int32Array[];
  readonly #xFor: Int32Array;
  readonly #lastOut: Int32Array[];
  readonly #lastSoft: Uint8Array;
  readonly #lastControl: Int32Array;
  /** Words of memories written since power-up; undefined where all must be put back. */
  #written: number[] | undefined;
  #clamped: number[] = [];
  #softCount = 0;
  #wins = 0;
  #default = 1;
  #looseIs = LOOSE;
  #blank: Uint8Array;
  readonly #time: Float64Array;
  readonly #clockLevel: Uint8Array;
  #master = 0;
  #perHalf = 1;
  #isHighFirst = true;
  #moment = { now: 0, after: (): void => undefined, out: (): void => undefined };

  constructor(plan: TrialPlan) {
    this.plan = plan;
    const { parts, slots } = plan;
    this.state = new Int32Array(plan.words);
    this.#slotNode = new Int32Array(slots.length);
    this.#driven = new Uint8Array(slots.length);
    this.#held = new Uint8Array(slots.length);
    const words = Math.max(1, Math.ceil(parts.length / 32));
    this.#wake = new Int32Array(words);
    this.#touched = new Int32Array(words);
    this.#committingMask = new Int32Array(words);
    parts.forEach((entry, k) => {
      if (entry.commits) this.#committingMask[k >> 5]! |= 1 << (k & 31);
    });
    this.#dead = new Uint8Array(parts.length);
    this.#blank = new Uint8Array(parts.length);
    this.#lowOnly = new Uint8Array(parts.length);
    this.#learns = new Uint8Array(parts.length);
    this.#xFor = new Int32Array(parts.length);
    this.#lastOut = parts.map((entry) => new Int32Array(entry.outs.length));
    this.#lastSoft = new Uint8Array(parts.length);
    this.#lastControl = new Int32Array(parts.length);
    this.#ports = parts.map((entry) => entry.ins.map((port) => new Int32Array(port.length)));
    this.#outs = parts.map((entry) => Int32Array.from(entry.outs.flat()));
    this.#time = new Float64Array(plan.clocks.length);
    this.#clockLevel = new Uint8Array(plan.clocks.length);
    this.#findMaster();
  }

  /** Sets how many edges of the main clock a half clock of the processor takes, and the clock's level after power-up. */
  setHalf(edges: number): void {
    this.#perHalf = edges;
  }

  /** Measures that on the machine as meant. Clocks that no divider of this kind makes count as one edge a half. */
  measureHalf(nodes: Nodes): number {
    this.#perHalf = 1;
    this.wire(nodes, {}, PLAIN_PHYSICS);
    const pin = this.plan.clockPin;
    if (pin < 0) return 1;
    const node = nodes.ofPin[pin]!;
    const levels: number[] = [];
    for (let k = 0; k < 64; k++) {
      this.half();
      levels.push(this.level[node]!);
    }
    const changes = levels.flatMap((level, k) => (k > 0 && level !== levels[k - 1] ? [k] : []));
    const gap =
      changes.length < 4 ? 1 : Math.max(1, Math.round((changes.at(-1)! - changes[0]!) / (changes.length - 1)));
    this.#perHalf = gap;
    // Where the first half ends, so that the level after a count of halves is known.
    this.wire(nodes, {}, PLAIN_PHYSICS);
    this.half();
    this.#isHighFirst = this.level[node] === 1;
    return gap;
  }

  /** Whether the processor's clock is high after so many halves, in the machine as meant. Needs `measureHalf`. */
  clockHighAfter(halves: number): boolean {
    return (((halves % 2) + 2) % 2 === 1) === this.#isHighFirst;
  }

  #findMaster(): void {
    let fastest = 0;
    this.plan.clocks.forEach((clock, k) => {
      if (clock.halfNs < this.plan.clocks[fastest]!.halfNs) fastest = k;
    });
    this.#master = fastest;
  }

  /** Wires the machine up, switches it on and holds it in reset. `images` gives bytes by name for parts with another image. */
  wire(nodes: Nodes, edit: Edit, physics: Physics, images?: ReadonlyMap<string, Uint8Array>): void {
    const { plan } = this;
    const { bench } = plan;
    const count = nodes.count + plan.innerCount;
    if (this.level.length < count) {
      const room = count + 64;
      this.level = new Uint8Array(room);
      this.soft = new Uint8Array(room);
      this.#high = new Uint8Array(room);
      this.#low = new Uint8Array(room);
      this.#softly = new Uint8Array(room);
      this.#guess = new Uint8Array(room);
      this.#pull = new Uint8Array(room);
      this.#fed = new Uint8Array(room);
      this.#clamp = new Int8Array(room);
      this.#drivable = new Uint8Array(room);
      this.#floatLevel = new Uint8Array(room);
      this.#readerStart = new Int32Array(room + 1);
    }
    for (const array of [
      this.level,
      this.soft,
      this.#high,
      this.#low,
      this.#softly,
      this.#guess,
      this.#pull,
      this.#fed,
      this.#drivable,
    ])
      array.fill(0);
    this.#clamp.fill(-1);
    this.#driven.fill(0);
    this.#held.fill(0);
    this.#links = [];
    this.#clamped = [];
    this.#softCount = 0;
    this.#wins = physics.wins;
    this.hadConflict = false;
    this.hadUnrest = false;
    this.hasUnfed = false;
    this.#fed.set(nodes.fed);
    this.probes = nodes.ofProbe;
    const base = nodes.count;
    plan.slots.forEach((slot, k) => {
      this.#slotNode[k] = slot.pin >= 0 ? nodes.ofPin[slot.pin]! : slot.inner >= 0 ? base + slot.inner : -1;
    });
    // Parts without supply.
    const unfed = new Uint8Array(bench.netlist.parts.length);
    plan.supplies.forEach((list, part) => {
      const open = list.filter(({ pin, level }) => nodes.fed[nodes.ofPin[pin]!] !== level);
      if (open.length === 0) return;
      const isHalf = open.length < list.length && open.every(({ level }) => level === 1);
      // What stands the wrong way round in its supply does nothing.
      const isReversed = open.some(({ pin, level }) => nodes.fed[nodes.ofPin[pin]!] === 3 - level);
      this.hasUnfed = true;
      if (physics.unfed === 'works' && isHalf && !isReversed) return;
      unfed[part] = physics.unfed === 'low' ? 2 : 1;
    });
    this.#dead.fill(0);
    this.#blank.fill(0);
    this.#lowOnly.fill(0);
    const wrong = new Map<number, Uint8Array>();
    const stuck = new Map<number, 0 | 1>();
    const unknown = new Set<number>();
    for (const fault of edit.devices ?? []) {
      if (fault.kind === 'dead') {
        unfed[fault.part] = physics.unfed === 'low' ? 2 : 1;
        this.hasUnfed = true;
      } else if (fault.kind === 'blank') wrong.set(fault.part, new Uint8Array(0));
      else if (fault.kind === 'image') {
        const image = images?.get(fault.image);
        if (image === undefined) unknown.add(fault.part);
        else wrong.set(fault.part, image);
      } else stuck.set(fault.pin, fault.level);
    }
    this.#restore();
    plan.parts.forEach((entry, k) => {
      const { part, netPart } = entry;
      const why = unfed[netPart] ?? 0;
      if (why !== 0) this.#dead[k] = 1;
      if (why === 2) this.#lowOnly[k] = 1;
      this.#learns[k] = entry.isRam ? 1 : 0;
      if (unknown.has(netPart) && entry.isMemory) {
        this.state.fill(0xff00ff, entry.state, entry.state + entry.words);
        this.#learns[k] = 1;
        this.#written = undefined;
      }
      const image = wrong.get(netPart);
      if (image !== undefined) {
        this.#written = undefined;
        if (entry.isMemory)
          for (let at = 0; at < entry.words; at++) {
            const byte = image[at] ?? 0xff;
            this.state[entry.state + at] = byte | ((~byte & 0xff) << 16);
          }
        else if (part.kind === 'formulas') this.#dead[k] = 1;
      }
      const { ins } = entry;
      ins.forEach((port, n) => {
        const to = this.#ports[k]![n]!;
        for (let bit = 0; bit < port.length; bit++) to[bit] = this.#slotNode[port[bit]!]!;
      });
    });
    // Pulls.
    if (this.#up.length < count) {
      this.#up = new Float64Array(count + 64);
      this.#down = new Float64Array(count + 64);
      this.#fill = new Int32Array(count + 64);
    }
    const up = this.#up;
    const down = this.#down;
    up.fill(0);
    down.fill(0);
    const pull = (a: number, b: number, ohms: number): void => {
      if (a === b) return;
      const [fa, fb] = [nodes.fed[a]!, nodes.fed[b]!];
      if (fa !== 0 && fb !== 0) return;
      if (fa === 0 && fb === 0) {
        this.#link(a, b);
        this.#link(b, a);
      } else if (fa !== 0) (fa === 1 ? up : down)[b]! += 1 / ohms;
      else (fb === 1 ? up : down)[a]! += 1 / ohms;
    };
    for (const { a, b, ohms } of plan.resistors) pull(nodes.ofPin[a]!, nodes.ofPin[b]!, ohms);
    for (const [a, b, ohms] of nodes.resistors) pull(a, b, ohms);
    // A dead chip may load its pins towards ground; against a pull up the outcome is anyone's guess.
    const loaded = new Set<number>();
    plan.parts.forEach((_, k) => {
      if (this.#lowOnly[k] === 1)
        for (const slot of [...this.#outs[k]!, ...plan.parts[k]!.ins.flat()])
          if (plan.slots[slot]!.pin >= 0) loaded.add(this.#slotNode[slot]!);
    });
    for (const entry of plan.pulls)
      if (unfed[entry.part] === 0) (entry.up ? up : down)[nodes.ofPin[entry.pin]!]! += entry.siemens;
    for (const node of loaded) this.#pull[node] = up[node]! > 0 ? CONTESTED : 2;
    for (let node = 0; node < nodes.count; node++) {
      if ((up[node] === 0 && down[node] === 0) || this.#pull[node] === CONTESTED) continue;
      this.#pull[node] = up[node]! >= down[node]! ? 1 : 2;
    }
    // Readers and what may drive.
    const starts = this.#readerStart;
    starts.fill(0);
    const each = (use: (node: number, reader: number) => void): void => {
      for (let k = 0; k < plan.parts.length; k++) {
        if (this.#dead[k] === 1) continue;
        const ports = this.#ports[k]!;
        // The processor looks at its data when its clock moves: they are taken before each edge.
        const from = plan.parts[k]!.drivesFrom;
        const commits = plan.parts[k]!.commits;
        for (let n = k === plan.processor ? 1 : 0; n < ports.length; n++) {
          const port = ports[n]!;
          for (let bit = 0; bit < port.length; bit++) {
            const drives = from[n]![bit]!;
            if (port[bit]! >= 0 && (drives || commits)) use(port[bit]!, k * 2 + (drives ? 1 : 0));
          }
        }
      }
    };
    each((node) => starts[node + 1]!++);
    for (let node = 0; node < count; node++) starts[node + 1]! += starts[node]!;
    if (this.#readers.length < starts[count]!) this.#readers = new Int32Array(starts[count]! + 64);
    const fill = this.#fill;
    for (let node = 0; node < count; node++) fill[node] = starts[node]!;
    each((node, part) => {
      this.#readers[fill[node]!++] = part;
    });
    this.#outs.forEach((outs, k) => {
      if (this.#dead[k] === 1) return;
      for (const slot of outs) if (this.#slotNode[slot]! >= 0) this.#drivable[this.#slotNode[slot]!] = 1;
    });
    for (const clock of [...plan.clocks, ...plan.hands]) this.#drivable[this.#slotNode[clock.slot]!] = 1;
    this.loose = [];
    const data = plan.processor < 0 || this.#dead[plan.processor] === 1 ? undefined : this.#ports[plan.processor]![0];
    const levels = physics.floats;
    this.#default = typeof levels === 'number' ? levels : 1;
    this.#looseIs = levels === 'any' ? FLOATS : LOOSE;
    for (let node = 0; node < count; node++) {
      this.#floatLevel[node] = typeof levels === 'number' ? levels : levels === 'any' ? 1 : (levels[node] ?? 1);
      const isRead = starts[node + 1]! > starts[node]! || data?.includes(node) === true;
      if (
        isRead &&
        this.#drivable[node] === 0 &&
        this.#pull[node] === 0 &&
        this.#fed[node] === 0 &&
        this.#links[node] === undefined
      )
        this.loose.push(node);
      this.level[node] = this.#floatLevel[node]!;
      this.#resolve(node);
    }
    // Power on.
    this.#held.fill(0);
    if (stuck.size > 0)
      for (const outs of this.#outs)
        for (const slot of outs) {
          const at = stuck.get(plan.slots[slot]!.pin);
          if (at === undefined) continue;
          this.#drive(slot, at === 1 ? 1 : 2);
          this.#held[slot] = 1;
          this.#drivable[this.#slotNode[slot]!] = 1;
        }
    this.#xFor.fill(0);
    for (const last of this.#lastOut) last.fill(0);
    this.#lastSoft.fill(0);
    this.#lastControl.fill(0);
    plan.clocks.forEach((clock, k) => {
      this.#time[k] = clock.halfNs;
      this.#clockLevel[k] = clock.start === 1 ? 1 : 0;
      this.#drive(clock.slot, clock.start === 1 ? 1 : 2);
    });
    for (const hand of plan.hands) this.#drive(hand.slot, hand.start === 1 ? 1 : 2);
    this.#wake.fill(0);
    for (let k = 0; k < plan.parts.length; k++) this.#wake[k >> 5]! |= 1 << (k & 31);
    this.#settle();
    for (let k = 0; k < plan.parts.length; k++) this.#gatherBefore(k);
    this.#touched.fill(0);
    this.step();
  }

  /** State as at power-up; of memories only what was written is put back. */
  #restore(): void {
    const { power, parts } = this.plan;
    const written = this.#written;
    if (written === undefined) this.state.set(power);
    else {
      for (const at of written) this.state[at] = power[at]!;
      for (const entry of parts) {
        if (entry.isMemory) {
          this.state.fill(0, entry.inWords, entry.outWords + 1);
          continue;
        }
        const end = entry.part.kind === 'model' ? entry.outWords + entry.outs.length : entry.state + entry.words;
        for (let at = entry.state; at < end; at++) this.state[at] = power[at]!;
      }
    }
    this.#written = [];
  }

  #link(from: number, to: number): void {
    const list = this.#links[from];
    if (list === undefined) this.#links[from] = [to];
    else list.push(to);
  }

  /** Lets every supervisor go. */
  releaseReset(): boolean {
    let any = false;
    this.plan.parts.forEach((entry, k) => {
      if (!entry.isSupervisor || entry.part.kind !== 'model' || this.#dead[k] === 1) return;
      any = true;
      if (entry.part.model.timeout?.(this.state, entry.state, this.#moment) === true)
        this.#wake[k >> 5]! |= 1 << (k & 31);
    });
    if (any) this.step();
    return any;
  }

  /** Lets the processor's clock swing once. */
  half(): void {
    if (this.#clamped.length > 0) this.release();
    const { clocks } = this.plan;
    if (clocks.length === 0) return;
    for (let n = 0; n < this.#perHalf; n++) {
      const until = this.#time[this.#master]!;
      for (let k = 0; k < clocks.length; k++) {
        if (k === this.#master) continue;
        while (this.#time[k]! <= until) {
          this.#swing(k);
          this.step();
        }
      }
      this.#swing(this.#master);
      this.step();
    }
  }

  #swing(k: number): void {
    const { processor, parts } = this.plan;
    if (processor >= 0 && parts[processor]!.part.kind === 'model')
      this.state[parts[processor]!.beforeWords] = this.#gather(this.#ports[processor]![0]!);
    const level = 1 - this.#clockLevel[k]!;
    this.#clockLevel[k] = level;
    this.#time[k]! += this.plan.clocks[k]!.halfNs;
    this.#drive(this.plan.clocks[k]!.slot, level === 1 ? 1 : 2);
  }

  /** Holds a node at what was observed, until the next half clock. Takes effect with `step`. */
  clamp(node: number, level: number): void {
    if (this.#clamp[node]! < 0) this.#clamped.push(node);
    this.#clamp[node] = level;
    this.#resolve(node);
  }

  /** Holds a node at a level until `release`, whatever was observed. */
  release(): void {
    for (const node of this.#clamped) {
      this.#clamp[node] = -1;
      this.#resolve(node);
    }
    this.#clamped.length = 0;
  }

  /** Takes over what a RAM drives for bytes that nobody wrote, where all its data nodes are known now. */
  learn(): void {
    const { parts } = this.plan;
    for (let k = 0; k < parts.length; k++) {
      const entry = parts[k]!;
      if (this.#learns[k] === 0 || this.#dead[k] === 1) continue;
      const out = this.state[entry.outWords]!;
      const x = out & (out >>> 16) & 0xff;
      if (x === 0) {
        this.#xFor[k] = 0;
        continue;
      }
      if (++this.#xFor[k]! < LEARN_AFTER) continue;
      const at = (this.state[entry.inWords]! & 0xffff) | ((this.state[entry.inWords + 1]! & 0x7fff) << 16);
      if (at >= entry.words) continue;
      let word = out;
      const outs = this.#outs[k]!;
      for (let bit = 0; bit < outs.length; bit++) {
        const node = this.#slotNode[outs[bit]!]!;
        if (((x >>> bit) & 1) === 0 || node < 0 || this.#clamp[node]! < 0) continue;
        word &= ~(this.#clamp[node] === 1 ? 0x10000 << bit : 1 << bit);
      }
      this.state[entry.state + at] = word;
      this.#written?.push(entry.state + at);
    }
  }

  /** Brings everything to rest. */
  step(): void {
    this.#settle();
    for (let round = 0; round < MOST_ROUNDS; round++) {
      if (!this.#commit()) return;
      this.#settle();
    }
    this.hadUnrest = true;
  }

  #settle(): void {
    const wake = this.#wake;
    let left = MOST_DRIVES;
    for (let w = 0; w < wake.length; w++) {
      while (wake[w] !== 0) {
        const bits = wake[w]!;
        const bit = bits & -bits;
        wake[w] = bits ^ bit;
        if (--left < 0) {
          wake.fill(0);
          this.hadUnrest = true;
          return;
        }
        this.#driveFrom(w * 32 + 31 - Math.clz32(bit));
        // A part before this one may have been woken.
        for (let v = 0; v < w; v++)
          if (wake[v] !== 0) {
            w = v;
            break;
          }
      }
    }
  }

  #gather(nodes: Int32Array): number {
    let word = 0;
    const { level } = this;
    for (let bit = 0; bit < nodes.length; bit++) {
      const node = nodes[bit]!;
      const value = node < 0 ? this.#default : level[node]!;
      word |= value === 1 ? 1 << bit : 0x10000 << bit;
    }
    return word;
  }

  #isSoft(nodes: Int32Array): boolean {
    for (const node of nodes) if (node >= 0 && (this.soft[node]! & 7) !== 0) return true;
    return false;
  }

  #driveFrom(k: number): void {
    const entry = this.plan.parts[k]!;
    const outs = this.#outs[k]!;
    if (this.#dead[k] === 1) {
      return;
    }
    const { part } = entry;
    if (part.kind === 'formulas') {
      const nodes = this.#ports[k]![0]!;
      const { now, drives } = entry;
      const { level } = this;
      for (let n = 0; n < nodes.length; n++) now[n] = nodes[n]! < 0 ? this.#default : level[nodes[n]!]!;
      entry.drive!(now, this.state, entry.state, drives);
      if (this.#softCount > 0 && this.#isSoft(nodes)) {
        const { drives2 } = entry;
        for (let n = 0; n < nodes.length; n++)
          if (nodes[n]! >= 0 && (this.soft[nodes[n]!]! & 7) !== 0) now[n] = 1 - now[n]!;
        entry.drive!(now, this.state, entry.state, drives2);
        for (let n = 0; n < outs.length; n++) {
          const value = drives[n]!;
          this.#drive(outs[n]!, value === drives2[n] ? value : value === 0 ? 3 : value + 4);
        }
        return;
      }
      for (let n = 0; n < outs.length; n++) this.#drive(outs[n]!, drives[n]!);
      return;
    }
    const s = this.state;
    const ports = this.#ports[k]!;
    let isSoft = false;
    if (entry.isMemory) {
      // A memory that is not selected, and was not, drives nothing whatever its address.
      const control = this.#gather(ports[2]!);
      const isSame = control === this.#lastControl[k] && this.#lastOut[k]![0] === 0;
      if (isSame && this.#lastSoft[k] === 0 && (this.#softCount === 0 || !this.#isSoft(ports[2]!))) return;
      this.#lastControl[k] = control;
    }
    for (let n = 0; n < ports.length; n++) {
      if (!part.model.drivesFrom[n]) continue;
      s[entry.inWords + n] = this.#gather(ports[n]!);
      if (entry.isMemory && this.#softCount > 0 && this.#isSoft(ports[n]!)) isSoft = true;
    }
    part.model.drive(s, entry.state, entry.inWords, entry.outWords);
    let at = 0;
    const last = this.#lastOut[k]!;
    const isSame = this.#lastSoft[k] === (isSoft ? 1 : 0);
    this.#lastSoft[k] = isSoft ? 1 : 0;
    for (let n = 0; n < entry.outs.length; n++) {
      const word = s[entry.outWords + n]!;
      const width = entry.outs[n]!.length;
      // Only what changed is looked at.
      let changed = isSame ? word ^ last[n]! : -1;
      last[n] = word;
      changed = (changed | (changed >>> 16)) & ((1 << width) - 1);
      for (; changed !== 0; changed &= changed - 1) {
        const bit = 31 - Math.clz32(changed & -changed);
        const value = ((word >>> bit) & 1) | (((word >>> (bit + 16)) & 1) << 1);
        this.#drive(outs[at + bit]!, isSoft && value !== 0 && value !== 3 ? value + 4 : value);
      }
      at += width;
    }
  }

  /** 0 nothing, 1 high, 2 low, 3 driven but not known, 5 and 6 high and low as a guess. */
  #drive(slot: number, value: number): void {
    const old = this.#driven[slot]!;
    if (old === value || this.#held[slot] === 1) return;
    this.#driven[slot] = value;
    const node = this.#slotNode[slot]!;
    if (node < 0) return;
    if (old !== 0) {
      if (old === 3) this.#guess[node]!--;
      else if ((old & 1) !== 0) this.#high[node]!--;
      else this.#low[node]!--;
      if (old > 4) this.#softly[node]!--;
    }
    if (value !== 0) {
      if (value === 3) this.#guess[node]!++;
      else if ((value & 1) !== 0) this.#high[node]!++;
      else this.#low[node]!++;
      if (value > 4) this.#softly[node]!++;
    }
    this.#resolve(node);
  }

  #resolve(node: number): void {
    const was = this.level[node]!;
    let now = was;
    let soft = 0;
    const fed = this.#fed[node]!;
    // Supply and ground joined leave nothing of either.
    if (fed !== 0) now = fed === 1 ? 1 : 0;
    else {
      const high = this.#high[node]!;
      const low = this.#low[node]!;
      if (high > 0 && low > 0) {
        now = this.#wins;
        soft = AGAINST;
        this.hadConflict = true;
      } else if (high + low > 0) {
        now = high > 0 ? 1 : 0;
        soft = this.#softly[node]! > 0 || this.#guess[node]! > 0 ? GUESS : 0;
      } else if (this.#guess[node]! > 0) soft = GUESS;
      else if (this.#pull[node] === CONTESTED) soft = GUESS;
      else if (this.#pull[node] !== 0) now = this.#pull[node] === 1 ? 1 : 0;
      else {
        soft = FLOATS;
        const links = this.#links[node];
        if (links !== undefined)
          for (const other of links)
            if (this.#high[other]! + this.#low[other]! > 0 || this.#pull[other] !== 0) {
              now = this.level[other]!;
              soft = 0;
            }
        if (soft !== 0 && this.#drivable[node] === 0) {
          now = this.#floatLevel[node]!;
          soft = this.#looseIs;
        }
      }
      if (this.#clamp[node]! >= 0) now = this.#clamp[node]!;
    }
    const wasSoft = this.soft[node]!;
    if (now === was && soft === wasSoft) return;
    if (((soft & 7) === 0) !== ((wasSoft & 7) === 0)) this.#softCount += (soft & 7) === 0 ? -1 : 1;
    this.level[node] = now;
    this.soft[node] = soft;
    const end = this.#readerStart[node + 1]!;
    for (let r = this.#readerStart[node]!; r < end; r++) {
      const reader = this.#readers[r]!;
      const word = reader >> 6;
      const bit = 1 << ((reader >> 1) & 31);
      if ((reader & 1) === 1) this.#wake[word]! |= bit;
      this.#touched[word]! |= bit & this.#committingMask[word]!;
    }
    const links = this.#links[node];
    if (links !== undefined && now !== was)
      for (const other of links) if (this.#high[other]! + this.#low[other]! === 0) this.#resolve(other);
  }

  /** A byte that may have been written and may not, or whose address is a guess, is not known any more. */
  #doubt(entry: TrialPart, ports: readonly Int32Array[]): void {
    const s = this.state;
    const control = s[entry.inWords + 2]!;
    // Not while /WE is surely high.
    const strobe = ports[2]![1];
    const isSure = strobe === undefined || strobe < 0 || (this.soft[strobe]! & 7) === 0;
    if (isSure && ((control >>> 1) & 1) === 1) return;
    const isSoft = this.#isSoft(ports[2]!);
    const softBits: number[] = [];
    for (const [n, base] of [
      [0, 0],
      [1, 16],
    ] as const)
      for (let bit = 0; bit < (ports[n]?.length ?? 0); bit++) {
        const node = ports[n]![bit]!;
        if (node >= 0 && (this.soft[node]! & 7) !== 0) softBits.push(base + bit);
      }
    if (!isSoft && softBits.length === 0) return;
    const at = (s[entry.inWords]! & 0xffff) | ((s[entry.inWords + 1]! & 0x7fff) << 16);
    const few = softBits.slice(0, 4);
    for (let subset = 0; subset < 1 << few.length; subset++) {
      let place = at;
      few.forEach((bit, k) => {
        if ((subset >>> k) & 1) place ^= 1 << bit;
      });
      if (place >= entry.words) continue;
      s[entry.state + place] = 0xff00ff;
      this.#written?.push(entry.state + place);
    }
  }

  #gatherBefore(k: number): void {
    const entry = this.plan.parts[k]!;
    const ports = this.#ports[k]!;
    if (entry.part.kind === 'formulas') {
      const nodes = ports[0]!;
      for (let n = 0; n < nodes.length; n++) entry.before[n] = nodes[n]! < 0 ? this.#default : this.level[nodes[n]!]!;
      return;
    }
    for (let n = 0; n < ports.length; n++) this.state[entry.beforeWords + n] = this.#gather(ports[n]!);
  }

  #commit(): boolean {
    const touched = this.#touched;
    let changed = false;
    for (let w = 0; w < touched.length; w++) {
      let bits = touched[w]!;
      touched[w] = 0;
      while (bits !== 0) {
        const bit = bits & -bits;
        bits ^= bit;
        const k = w * 32 + 31 - Math.clz32(bit);
        if (this.#dead[k] === 1) continue;
        if (this.#commitPart(this.plan.parts[k]!, k)) {
          changed = true;
          this.#wake[w]! |= bit;
        }
      }
    }
    return changed;
  }

  #commitPart(entry: TrialPart, k: number): boolean {
    const { part } = entry;
    const ports = this.#ports[k]!;
    if (part.kind === 'formulas') {
      const nodes = ports[0]!;
      const { now, before } = entry;
      for (let n = 0; n < nodes.length; n++) now[n] = nodes[n]! < 0 ? this.#default : this.level[nodes[n]!]!;
      const changed = entry.step!(before, now, this.state, entry.state);
      before.set(now);
      // What it has just taken may let a latch or an asynchronous input act again.
      if (changed) this.#touched[k >> 5]! |= 1 << (k & 31);
      return changed;
    }
    const s = this.state;
    // Nothing is written while /WE is surely high.
    if (entry.isRam && ports[2]!.length > 1) {
      const strobe = ports[2]![1]!;
      if (strobe >= 0 && this.level[strobe] === 1 && (this.soft[strobe]! & 7) === 0) return false;
    }
    let acts = false;
    for (let n = 0; n < ports.length; n++) {
      const word = this.#gather(ports[n]!);
      s[entry.inWords + n] = word;
      if (part.model.commitsFrom[n] && word !== s[entry.beforeWords + n]) acts = true;
    }
    const changed = acts && part.model.commit(s, entry.state, entry.beforeWords, entry.inWords, this.#moment);
    if (acts && entry.isRam && this.#softCount > 0) this.#doubt(entry, ports);
    if (changed && entry.isRam)
      this.#written?.push(entry.state + ((s[entry.inWords]! & 0xffff) | ((s[entry.inWords + 1]! & 0x7fff) << 16)));
    for (let n = 0; n < ports.length; n++) s[entry.beforeWords + n] = s[entry.inWords + n]!;
    if (changed) this.#touched[k >> 5]! |= 1 << (k & 31);
    return changed;
  }
}
