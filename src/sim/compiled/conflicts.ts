// Outputs that drive against each other, or against a rail, in the compiled kernel: found in the words of a machine at rest, each
// told once. A fight that stays the same is not looked at again, so that a machine with one still runs.

import type { Finding } from '../../base/index.ts';
import { conflictFinding, outputName } from '../findings.ts';
import { HIGH, LOW, valueAt, X } from '../values.ts';
import type { Bus, Driver, MachineLayout } from './layout.ts';
import type { Term } from './terms.ts';

/** What pins that are not where they belong drive, by net: value by place of the part and output. */
export type Strays = ReadonlyMap<number, ReadonlyMap<number, number>>;

export class Conflicts {
  readonly #layout: MachineLayout;
  readonly #s: Int32Array;
  readonly #terms: readonly (readonly Term[])[];
  readonly #strays: Strays;
  /** Outputs that are on a rail. */
  readonly #onRails: readonly { readonly driver: Driver; readonly lane: number; readonly net: number }[];
  /** Hashes of what drove a bus when it was found in conflict. */
  readonly #fights: readonly Set<number>[];
  readonly #named = new Set<string>();

  constructor(layout: MachineLayout, words: Int32Array, terms: readonly (readonly Term[])[], strays: Strays) {
    this.#layout = layout;
    this.#s = words;
    this.#terms = terms;
    this.#strays = strays;
    this.#onRails = layout.parts.flatMap(({ drivers }) =>
      drivers.flatMap((driver) =>
        driver.nets.flatMap((net, lane) => (net >= 0 && layout.circuit.fed[net] !== 0 ? [{ driver, lane, net }] : [])),
      ),
    );
    this.#fights = layout.buses.map(() => new Set());
  }

  /** Whether one output drives a net of the bus high and another one low. */
  isOpposed(bus: Bus): boolean {
    let high = 0;
    let low = 0;
    for (const { at, shift, mask } of this.#terms[bus.id]!) {
      const lanes = this.#s[at]! & mask;
      const word = shift >= 0 ? lanes << shift : lanes >>> -shift;
      high |= word & ~(word >>> 16);
      low |= (word >>> 16) & ~word;
    }
    if (this.#strays.size > 0)
      bus.nets.forEach((net, bit) => {
        for (const value of this.#strays.get(net)?.values() ?? []) {
          if (value === HIGH) high |= 1 << bit;
          if (value === LOW) low |= 1 << bit;
        }
      });
    return (high & low & 0xffff) !== 0;
  }

  /** Whether what drives a bus is like this for the first time: a conflict that stays is looked at once. */
  #isNewFight(bus: Bus): boolean {
    let hash = 0;
    for (const { at } of this.#terms[bus.id]!) hash = (Math.imul(hash, 31) + this.#s[at]!) | 0;
    for (const net of bus.nets)
      for (const [key, value] of this.#strays.get(net) ?? []) hash = (Math.imul(hash, 31) + key * 4 + value) | 0;
    const seen = this.#fights[bus.id]!;
    if (seen.has(hash)) return false;
    if (seen.size < 4096) seen.add(hash);
    return true;
  }

  /** Looks for them; `forced` are nets held from outside, `isJoined` buses that are resolved net by net. */
  find(forced: Uint8Array, isJoined: (bus: Bus) => boolean, now: number): Finding[] {
    const found: Finding[] = [];
    const add = (net: number, high: readonly string[], low: readonly string[]): void => {
      const finding = this.#conflict(net, high, low, now);
      if (finding !== undefined) found.push(finding);
    };
    for (const { driver, lane, net } of this.#onRails) {
      const fed = this.#layout.circuit.fed[net]!;
      const value = valueAt(this.#s[driver.at]!, lane);
      if (!(fed === HIGH && value === LOW) && !(fed === LOW && value === HIGH)) continue;
      const name = outputName(this.#layout.circuit, this.#layout.circuit.parts[driver.part]!, driver.outputs[lane]!);
      add(net, fed === HIGH ? ['the supply'] : [name], fed === HIGH ? [name] : ['ground']);
    }
    for (const net of this.#strays.keys()) {
      const fed = this.#layout.circuit.fed[net]!;
      if (fed !== HIGH && fed !== LOW) continue;
      const high = fed === HIGH ? ['the supply'] : [];
      const low = fed === LOW ? ['ground'] : [];
      this.#strayDrivers(net, high, low);
      if (high.length > 0 && low.length > 0) add(net, high, low);
    }
    for (const bus of this.#layout.buses) {
      if ((this.#s[bus.at]! & (this.#s[bus.at]! >>> 16) & 0xffff) === 0) continue;
      if (!isJoined(bus) && !this.isOpposed(bus)) continue;
      if (!this.#isNewFight(bus)) continue;
      bus.nets.forEach((net, bit) => {
        if (valueAt(this.#s[bus.at]!, bit) !== X || forced[net] !== 0) return;
        const high: string[] = [];
        const low: string[] = [];
        for (const driver of bus.drivers) {
          driver.nets.forEach((to, lane) => {
            if (to !== net || driver.part < 0) return;
            const value = valueAt(this.#s[driver.at]!, lane);
            const name = (): string =>
              outputName(this.#layout.circuit, this.#layout.circuit.parts[driver.part]!, driver.outputs[lane]!);
            if (value === HIGH) high.push(name());
            else if (value === LOW) low.push(name());
          });
        }
        this.#strayDrivers(net, high, low);
        if (high.length === 0 || low.length === 0) return;
        add(net, high, low);
      });
    }
    return found;
  }

  /** Adds the outputs that are on a net by a fault. */
  #strayDrivers(net: number, high: string[], low: string[]): void {
    for (const [key, value] of this.#strays.get(net) ?? []) {
      if (value !== HIGH && value !== LOW) continue;
      const part = this.#layout.circuit.parts[Math.floor(key / 4096)]!;
      (value === HIGH ? high : low).push(outputName(this.#layout.circuit, part, key % 4096));
    }
  }

  /** A conflict that comes again is looked at again; with `named`, also told again. */
  forget(named: boolean): void {
    if (named) this.#named.clear();
    for (const seen of this.#fights) seen.clear();
  }

  #conflict(net: number, high: readonly string[], low: readonly string[], now: number): Finding | undefined {
    const key = `${net} ${high.join()} ${low.join()}`;
    if (this.#named.has(key)) return undefined;
    this.#named.add(key);
    return conflictFinding(this.#layout.circuit.nets[net]!, high, low, now);
  }
}
