// One part, or a few, on a bench: every pin held from outside or let go, levels read back. Over the simulator's own doors.

import { buildCircuit, Session, type SimContents, type SimLevel, type SimNetlist } from '../../src/sim/index.ts';
import { type PartText, simNetlist } from './sim.ts';

export type Levels = Readonly<Record<string, SimLevel>>;

export class ChipBench {
  readonly session: Session;
  readonly netlist: SimNetlist;
  readonly #nets = new Map<string, number>();

  /** Pins are named `PART.PIN`, or by their net; with one part `U` its pins go by their names alone. */
  constructor(
    parts: Readonly<Record<string, string | PartText>> | string,
    nets: Readonly<Record<string, string>> = {},
    contents: SimContents = {},
    kernel: 'plain' | 'compiled' = 'plain',
  ) {
    this.netlist = simNetlist(typeof parts === 'string' ? { U: parts } : parts, nets);
    const { value: circuit } = buildCircuit(this.netlist, contents);
    this.session = new Session(circuit, contents, { kernel });
    for (const [key, net] of circuit.netOfPin) {
      const name = circuit.pinNames.get(key)!;
      this.#nets.set(name, net);
      if (name.startsWith('U.')) this.#nets.set(name.slice(2), net);
    }
    circuit.nets.forEach((name, net) => {
      this.#nets.set(name, net);
    });
  }

  net(pin: string): number {
    const net = this.#nets.get(pin);
    if (net === undefined) throw new Error(`no pin ${pin}`);
    return net;
  }

  /** Holds pins, all at once. */
  set(levels: Levels): this {
    for (const [pin, level] of Object.entries(levels))
      this.session.kernel.force(this.net(pin), level === 1 ? 1 : level === 0 ? 2 : level === 'X' ? 3 : 0);
    this.session.settle();
    return this;
  }

  get(pin: string): SimLevel {
    return this.session.level(this.net(pin));
  }

  /** Levels of several pins as a line: `1`, `0`, `Z`, `X`. */
  line(...pins: readonly string[]): string {
    return pins.map((pin) => String(this.get(pin))).join('');
  }

  /** Holds `D7` to `D0` (or pins of another name), or lets them go. */
  bus(value: number | 'Z', name = 'D', bits = 8): this {
    return this.set(
      Object.fromEntries(
        Array.from({ length: bits }, (_, k) => [`${name}${k}`, value === 'Z' ? 'Z' : ((value >> k) & 1) === 1 ? 1 : 0]),
      ),
    );
  }

  /** The number at `D7` to `D0`; -1 where a line floats or is not known. */
  value(name = 'D', bits = 8): number {
    let sum = 0;
    for (let k = 0; k < bits; k++) {
      const level = this.get(`${name}${k}`);
      if (typeof level === 'string') return -1;
      sum += level * 2 ** k;
    }
    return sum;
  }

  /** So many whole clocks at a pin that rests low, one microsecond each. */
  clocks(pin: string, count: number): this {
    for (let k = 0; k < count; k++) {
      this.set({ [pin]: 1 });
      this.session.runTo(this.session.now + 500);
      this.set({ [pin]: 0 });
      this.session.runTo(this.session.now + 500);
    }
    return this;
  }

  /** Lets time go by, ns. */
  wait(ns: number): this {
    this.session.runTo(this.session.now + ns);
    return this;
  }
}
