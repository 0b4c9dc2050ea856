// The plain kernel: every net a value, every part asked in order until nothing changes. Slow and literal on purpose; it is
// the judge of the compiled kernel and is kept for ever.
//
// One step: sources have changed; sweep until nets rest (`settle`); then all parts take their new state at once from the
// levels before and after (`commit`), and if any did, settle again, until no state changes. A loop of gates that does not
// rest within SWEEPS sweeps is asked again from unknown, which has one answer. State that does not rest within ROUNDS rounds is
// left, with a finding.

import { bug, createRng, type Finding } from '../../base/index.ts';
import { type Circuit, type CircuitPart, drivesFromOf, outputsOf } from '../circuit/circuit.ts';
import { resolveCluster } from '../circuit/resolve.ts';
import { conflictFinding, oscillationFinding, outputName } from '../findings.ts';
import type { Kernel, SimNews } from '../kernel.ts';
import type { SimContents } from '../model.ts';
import type { Expr, FormulaPart } from '../models/formulas.ts';
import type { Moment } from '../models/model.ts';
import { ROUNDS, SWEEPS } from './limits.ts';
import { and, HIGH, LOW, not, or, X, Z } from '../values.ts';

interface Slot {
  readonly part: CircuitPart;
  /** Driver slots of its outputs, in order (formulas) or port by port (models). */
  readonly drivers: number[];
  readonly state: number;
  readonly ins: number;
  readonly before: number;
  readonly outs: number;
}

export class PlainKernel implements Kernel {
  readonly circuit: Circuit;
  readonly findings: Finding[] = [];
  readonly news: SimNews[] = [];
  /** Value per net, Z where it floats. */
  readonly values: Uint8Array;
  /** Per part in circuit order, ns at which it wants `timeout`. */
  readonly due: Float64Array;
  now = 0;
  readonly #before: Uint8Array;
  readonly #forced: Uint8Array;
  readonly #sources: Uint8Array;
  readonly #drivers: Uint8Array;
  readonly #driversOf: number[][];
  readonly #readersOf: number[][];
  readonly #slots: Slot[] = [];
  readonly #s: Int32Array;
  readonly #dirty: Uint8Array;
  readonly #conflicts = new Set<string>();
  readonly #moment: Moment & { part: number };
  /** Parts whose state changed in the round before. */
  readonly #again: Uint8Array;
  #isDirty = true;

  /** `held` are nets that stand at a value from power-up on, whatever drives them. */
  constructor(
    circuit: Circuit,
    contents: SimContents,
    held: readonly { readonly net: number; readonly value: number }[] = [],
  ) {
    this.circuit = circuit;
    const nets = circuit.nets.length;
    this.values = new Uint8Array(nets);
    this.#before = new Uint8Array(nets);
    this.#forced = new Uint8Array(nets);
    this.#sources = new Uint8Array(nets);
    this.#driversOf = Array.from({ length: nets }, () => []);
    this.#readersOf = Array.from({ length: nets }, () => []);
    this.#dirty = new Uint8Array(circuit.parts.length).fill(1);
    this.#again = new Uint8Array(circuit.parts.length).fill(1);
    this.due = new Float64Array(circuit.parts.length).fill(Number.POSITIVE_INFINITY);
    let words = 0;
    let drivers = 0;
    circuit.parts.forEach((part, index) => {
      const take = (count: number): number => {
        words += count;
        return words - count;
      };
      const outs = part.kind === 'formulas' ? part.outputs : part.outs.flat();
      const slot: Slot = {
        part,
        drivers: outs.map((net) => {
          if (net >= 0) this.#driversOf[net]!.push(drivers);
          return drivers++;
        }),
        state: take(part.kind === 'formulas' ? part.formulas.states.length : part.model.words),
        ins: take(part.kind === 'formulas' ? 0 : part.ins.length),
        before: take(part.kind === 'formulas' ? 0 : part.ins.length),
        outs: take(part.kind === 'formulas' ? 0 : part.outs.length),
      };
      this.#slots.push(slot);
      for (const net of drivesFromOf(part)) this.#readersOf[net]!.push(index);
    });
    this.#s = new Int32Array(words);
    this.#drivers = new Uint8Array(drivers);
    const self = this;
    this.#moment = {
      part: 0,
      now: 0,
      after(ns) {
        self.due[this.part] = this.now + ns;
      },
      out(byte) {
        self.news.push({ part: this.part, byte, now: this.now });
      },
    };
    const rng = createRng(contents.seed ?? 1);
    this.#slots.forEach((slot, index) => {
      const { part } = slot;
      this.#moment.part = index;
      if (part.kind === 'model') part.model.power(this.#s, slot.state, () => rng.next32(), this.#moment);
      else
        part.formulas.states.forEach((_, k) => {
          const known = part.formulas.powerUp.get(k);
          const random = contents.flipFlops === 'random' ? (rng.next32() & 1) + 1 : X;
          this.#s[slot.state + k] = known === undefined ? random : known === 1 ? HIGH : LOW;
        });
    });
    for (const source of circuit.sources) this.#sources[source.net] = source.start;
    for (const { net, value } of held) if (circuit.fed[net] === Z) this.#forced[net] = value;
    for (let net = 0; net < nets; net++) this.#resolve(net);
    this.#settle();
    this.#before.set(this.values);
    this.step();
  }

  value(net: number): number {
    return this.values[net]!;
  }

  /** Sets what a source drives. */
  setSource(source: number, value: number): void {
    const net = this.circuit.sources[source]!.net;
    this.#sources[net] = value;
    this.#resolve(net);
  }

  /** Holds a net at a value from outside, whatever drives it; Z lets go. A rail stays what it is. */
  force(net: number, value: number): void {
    if (this.circuit.fed[net] !== Z) return;
    this.#forced[net] = value;
    this.#resolve(net);
  }

  /** Hands a byte to a part that takes bytes; false where it does not. */
  give(part: number, byte: number): boolean {
    const slot = this.#slots[part]!;
    if (slot.part.kind !== 'model') return false;
    this.#moment.part = part;
    this.#moment.now = this.now;
    const taken = slot.part.model.give?.(this.#s, slot.state, byte, this.#moment) ?? false;
    this.#dirty[part] = 1;
    this.#isDirty = true;
    return taken;
  }

  /** Calls `timeout` of the parts whose time has come by `now`. */
  timeouts(): void {
    this.#slots.forEach((slot, index) => {
      if (this.due[index]! > this.now || slot.part.kind !== 'model') return;
      this.due[index] = Number.POSITIVE_INFINITY;
      this.#moment.part = index;
      this.#moment.now = this.now;
      if (slot.part.model.timeout?.(this.#s, slot.state, this.#moment) === true) {
        this.#dirty[index] = 1;
        this.#isDirty = true;
      }
    });
  }

  /** Brings everything to rest after sources changed or timeouts were called. */
  step(): void {
    this.#settle();
    for (let round = 0; ; round++) {
      const changed = this.#commit();
      this.#before.set(this.values);
      if (changed.length === 0) break;
      if (round >= ROUNDS) {
        this.#oscillates(changed, 'state');
        break;
      }
      this.#settle();
    }
    this.#findConflicts();
  }

  /** The words of state of a part, for views and comparison. */
  stateOf(part: number): Int32Array {
    const slot = this.#slots[part]!;
    return this.#s.subarray(slot.state, slot.ins);
  }

  #settle(): void {
    for (let sweep = 0; this.#isDirty; sweep++) {
      if (sweep >= SWEEPS) {
        const parts: number[] = [];
        this.#dirty.forEach((is, index) => {
          if (is) parts.push(index);
        });
        this.#oscillates(parts, 'gates');
        this.#fromUnknown();
        return;
      }
      this.#isDirty = false;
      for (let index = 0; index < this.#slots.length; index++) {
        if (this.#dirty[index] === 0) continue;
        this.#dirty[index] = 0;
        this.#drive(index);
      }
    }
  }

  /**
   * Every output of every part unknown, then asked again: from there levels only become known, so that there is one result
   * and it does not depend on order.
   */
  #fromUnknown(): void {
    for (let index = 0; index < this.#slots.length; index++)
      for (const net of outputsOf(this.#slots[index]!.part)) this.#unknownDriver(index, net);
    this.#dirty.fill(1);
    this.#isDirty = true;
    for (let sweep = 0; this.#isDirty; sweep++) {
      if (sweep > this.#drivers.length * 2 + 2) bug('levels that go on becoming known', { sweep });
      this.#isDirty = false;
      for (let index = 0; index < this.#slots.length; index++) {
        if (this.#dirty[index] === 0) continue;
        this.#dirty[index] = 0;
        this.#drive(index);
      }
    }
  }

  #unknownDriver(index: number, net: number): void {
    const slot = this.#slots[index]!;
    const nets = slot.part.kind === 'formulas' ? slot.part.outputs : slot.part.outs.flat();
    nets.forEach((to, k) => {
      if (to === net) this.#set(slot.drivers[k]!, to, X);
    });
  }

  #oscillates(parts: readonly number[], what: 'gates' | 'state'): void {
    const finding = oscillationFinding(this.circuit, parts, what);
    if (!this.findings.some((old) => old.message === finding.message)) this.findings.push(finding);
  }

  #read(net: number): number {
    const value = net < 0 ? Z : this.values[net]!;
    return value === Z ? this.circuit.floating : value;
  }

  #readBefore(net: number): number {
    const value = net < 0 ? Z : this.#before[net]!;
    return value === Z ? this.circuit.floating : value;
  }

  #strong(net: number): number {
    // A rail stays what it is, whatever drives it; that shows as a conflict.
    if (this.circuit.fed[net] !== Z) return this.circuit.fed[net]!;
    let value = this.#sources[net]!;
    for (const driver of this.#driversOf[net]!) value |= this.#drivers[driver]!;
    return value;
  }

  #resolve(net: number): void {
    const cluster = this.circuit.clusterOf[net]!;
    if (cluster < 0) {
      const strong = this.#strong(net);
      this.#put(net, strong === Z ? this.circuit.pulls[net]! : strong);
    } else this.#resolveCluster(cluster);
  }

  #resolveCluster(index: number): void {
    const cluster = this.circuit.clusters[index]!;
    const strong = Uint8Array.from(cluster.nets, (net) => this.#forced[net]! || this.#strong(net));
    const closed = Uint8Array.from(cluster.switches, ({ condition }) => this.values[condition]!);
    const out = new Uint8Array(cluster.nets.length);
    resolveCluster(cluster, strong, closed, out);
    cluster.nets.forEach((net, k) => {
      this.#put(net, out[k]!);
    });
  }

  #put(net: number, wanted: number): void {
    const value = this.#forced[net]! || wanted;
    if (this.values[net] === value) return;
    this.values[net] = value;
    for (const index of this.#readersOf[net]!) {
      this.#dirty[index] = 1;
      this.#isDirty = true;
    }
    this.circuit.clusters.forEach((cluster, index) => {
      if (cluster.switches.some(({ condition }) => condition === net)) this.#resolveCluster(index);
    });
  }

  #set(driver: number, net: number, value: number): void {
    if (this.#drivers[driver] === value) return;
    this.#drivers[driver] = value;
    if (net >= 0) this.#resolve(net);
  }

  #drive(index: number): void {
    const slot = this.#slots[index]!;
    const { part } = slot;
    if (part.kind === 'formulas') {
      const input = (k: number): number => this.#read(part.inputs[k]!);
      const state = (k: number): number => this.#s[slot.state + k]!;
      // All outputs from the same levels: a part that reads itself is asked again in the next sweep.
      const values = part.formulas.outputs.map((output) => {
        const enabled = output.enable === undefined ? HIGH : evaluate(output.enable, input, state);
        const level = evaluate(output.value, input, state);
        return enabled === LOW || (output.openDrain && level === HIGH) ? Z : enabled === X ? X : level;
      });
      values.forEach((value, k) => {
        this.#set(slot.drivers[k]!, part.outputs[k]!, value);
      });
      return;
    }
    this.#gather(part.ins, slot.ins, false);
    part.model.drive(this.#s, slot.state, slot.ins, slot.outs);
    let driver = 0;
    part.outs.forEach((port, k) => {
      const word = this.#s[slot.outs + k]!;
      port.forEach((net, bit) => {
        this.#set(slot.drivers[driver++]!, net, ((word >>> bit) & 1) | (((word >>> (bit + 16)) & 1) << 1));
      });
    });
  }

  #gather(ports: readonly (readonly number[])[], to: number, isBefore: boolean): void {
    ports.forEach((port, k) => {
      let word = 0;
      port.forEach((net, bit) => {
        const value = isBefore ? this.#readBefore(net) : this.#read(net);
        word |= ((value & 1) << bit) | ((value >> 1) << (bit + 16));
      });
      this.#s[to + k] = word;
    });
  }

  /** New states from the levels before and now; the parts that changed. */
  #commit(): number[] {
    const changed: number[] = [];
    this.#moment.now = this.now;
    this.#slots.forEach((slot, index) => {
      const { part } = slot;
      this.#moment.part = index;
      let is = false;
      if (part.kind === 'model') {
        this.#gather(part.ins, slot.before, true);
        this.#gather(part.ins, slot.ins, false);
        is = part.model.commit(this.#s, slot.state, slot.before, slot.ins, this.#moment);
      } else if (part.formulas.states.length > 0) {
        // A clock that stays unknown makes no edge: only what changed, or has just taken a new state, is asked.
        if (this.#again[index] === 0 && part.inputs.every((net) => this.#readBefore(net) === this.#read(net))) return;
        this.#again[index] = 0;
        const next = stepFormulas(
          part.formulas,
          Array.from(this.#s.subarray(slot.state, slot.state + part.formulas.states.length)),
          (k) => this.#readBefore(part.inputs[k]!),
          (k) => this.#read(part.inputs[k]!),
        );
        next.forEach((value, k) => {
          if (this.#s[slot.state + k] === value) return;
          this.#s[slot.state + k] = value;
          is = true;
        });
      }
      if (!is) return;
      changed.push(index);
      this.#again[index] = 1;
      this.#dirty[index] = 1;
      this.#isDirty = true;
    });
    return changed;
  }

  #findConflicts(): void {
    this.#driversOf.forEach((drivers, net) => {
      const fed = this.circuit.fed[net]!;
      if ((fed === Z && this.values[net] !== X) || this.#forced[net] !== 0) return;
      const high: string[] = [];
      const low: string[] = [];
      const list = (value: number, name: string): void => {
        if (value === HIGH) high.push(name);
        else if (value === LOW) low.push(name);
      };
      list(fed, fed === HIGH ? 'the supply' : 'ground');
      for (const driver of drivers) list(this.#drivers[driver]!, this.#driverName(driver));
      if (high.length === 0 || low.length === 0) return;
      const key = `${net} ${high.join()} ${low.join()}`;
      if (this.#conflicts.has(key)) return;
      this.#conflicts.add(key);
      this.findings.push(conflictFinding(this.circuit.nets[net]!, high, low, this.now));
    });
  }

  #driverName(driver: number): string {
    const slot = this.#slots.find(({ drivers }) => drivers.includes(driver))!;
    return outputName(this.circuit, slot.part, slot.drivers.indexOf(driver));
  }
}

/** The value of a formula; inputs and state are never Z. */
export function evaluate(expr: Expr, input: (k: number) => number, state: (k: number) => number): number {
  switch (expr.op) {
    case 'constant':
      return expr.value === 1 ? HIGH : LOW;
    case 'input':
      return input(expr.index);
    case 'state':
      return state(expr.index);
    case 'not':
      return not(evaluate(expr.term, input, state));
    case 'and':
      return expr.terms.reduce((value, term) => and(value, evaluate(term, input, state)), HIGH);
    case 'or':
      return expr.terms.reduce((value, term) => or(value, evaluate(term, input, state)), LOW);
    case 'xor':
      return expr.terms.reduce((value, term) => {
        const other = evaluate(term, input, state);
        return value === X || other === X ? X : value === other ? LOW : HIGH;
      }, LOW);
  }
}

function choose(acts: number, to: number, from: number): number {
  return acts === HIGH ? to : acts === LOW || to === from ? from : X;
}

/** The state of a formula part after its inputs went from `before` to `now`: as plainPart in src/parts. */
export function stepFormulas(
  part: FormulaPart,
  state: readonly number[],
  before: (k: number) => number,
  now: (k: number) => number,
): number[] {
  const old = (k: number): number => state[k]!;
  const afterEdges = [...state];
  for (const entry of [...part.clocked].reverse()) {
    const was = evaluate(entry.of, before, old);
    const is = evaluate(entry.of, now, old);
    const from = entry.edge === 'rise' ? LOW : HIGH;
    const to = entry.edge === 'rise' ? HIGH : LOW;
    const edge = was === from && is === to ? HIGH : was === to || is === from ? LOW : X;
    const acts = and(edge, entry.when === undefined ? HIGH : evaluate(entry.when, before, old));
    for (const set of entry.set)
      afterEdges[set.state] = choose(acts, evaluate(set.value, before, old), afterEdges[set.state]!);
  }
  let settled = afterEdges;
  for (let pass = 0; pass <= part.states.length; pass++) {
    const next = [...settled];
    const at = (k: number): number => settled[k]!;
    for (const entry of [...part.latched].reverse())
      for (const set of entry.set)
        next[set.state] = choose(evaluate(entry.while, now, at), evaluate(set.value, now, at), next[set.state]!);
    for (const entry of [...part.asynchronous].reverse())
      for (const set of entry.set)
        next[set.state] = choose(evaluate(entry.when, now, at), evaluate(set.value, now, at), next[set.state]!);
    const same = next.every((value, k) => value === settled[k]);
    settled = next;
    if (same) return settled;
  }
  return settled;
}
