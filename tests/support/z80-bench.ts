// A Z80 with 64 KiB of memory and ports, clocked by hand: every half clock is kept, and each pin can be printed as a line of
// levels (`~` high, `_` low, `-` floating, `?` unknown), two characters a T-state.

import { Z80, z80BeginAt, z80Drive, type Z80Pins, z80PowerUp, z80Step } from '../../src/sim/index.ts';

/** Names of the inputs, for schedules of levels. */
export type Z80InputName = 'WAIT' | 'INT' | 'NMI' | 'BUSREQ' | 'RESET';
/** An input that is low (or unknown) from one half clock up to, not including, another; halves count from 0. */
export type LowSpell = readonly [input: Z80InputName, from: number, to: number, unknown?: 'unknown'];

const BITS = {
  WAIT: Z80.IN_WAIT,
  INT: Z80.IN_INT,
  NMI: Z80.IN_NMI,
  BUSREQ: Z80.IN_BUSREQ,
  RESET: Z80.IN_RESET,
} as const;

const PINS = {
  M1: Z80.PIN_M1,
  MREQ: Z80.PIN_MREQ,
  IORQ: Z80.PIN_IORQ,
  RD: Z80.PIN_RD,
  WR: Z80.PIN_WR,
  RFSH: Z80.PIN_RFSH,
  HALT: Z80.PIN_HALT,
  BUSACK: Z80.PIN_BUSACK,
} as const;
export type Z80PinName = keyof typeof PINS;

/** A bench: state, memory, and what was seen. */
export class Z80Bench {
  /** The slice stands away from 0, as it does in a machine. */
  readonly base = 7;
  state = new Int32Array(Z80.Z80_WORDS + 20);
  readonly memory = new Uint8Array(65536);
  readonly seen: Z80Pins[] = [];
  readonly outputs: (readonly [port: number, byte: number])[] = [];
  /** What is on the data bus when no memory answers: inputs, and interrupt vectors. */
  bus = 0xff;
  /** Unknown bits of whatever is read. */
  unknown = 0;

  constructor(program: readonly number[] = [], technology: 'NMOS' | 'CMOS' = 'NMOS') {
    this.memory.set(program);
    z80PowerUp(this.state, this.base, { technology });
    z80BeginAt(this.state, this.base, 0);
  }

  get(word: number): number {
    return this.state[this.base + word]!;
  }

  set(word: number, value: number): this {
    this.state[this.base + word] = value;
    return this;
  }

  pair(word: number): number {
    return this.get(word) * 256 + this.get(word + 1);
  }

  /** Runs so many half clocks, inputs high but for the spells. */
  halves(count: number, spells: readonly LowSpell[] = []): this {
    for (let k = 0; k < count; k++) {
      const at = this.seen.length;
      let levels: number = Z80.IN_IDLE;
      for (const [name, from, to, unknown] of spells) {
        if (at < from || at >= to) continue;
        levels = unknown ? levels | (BITS[name] << Z80.IN_UNKNOWN_SHIFT) : levels & ~BITS[name];
      }
      const before = z80Drive(this.state, this.base);
      const low = (pin: number): boolean => (before.control & pin) === 0 && !before.controlFloats && !before.unknown;
      const data = low(Z80.PIN_MREQ) && low(Z80.PIN_RD) ? this.memory[before.address]! : this.bus;
      z80Step(this.state, this.base, data, this.unknown, levels);
      const after = z80Drive(this.state, this.base);
      if (low(Z80.PIN_WR) && (after.control & Z80.PIN_WR) !== 0) {
        if (low(Z80.PIN_MREQ)) this.memory[before.address] = before.data;
        else this.outputs.push([before.address, before.data]);
      }
      this.seen.push(after);
    }
    return this;
  }

  clocks(count: number, spells: readonly LowSpell[] = []): this {
    return this.halves(count * 2, spells);
  }

  /** Runs until so many more instructions have begun; returns the clocks it took. */
  instructions(count: number, spells: readonly LowSpell[] = []): number {
    const until = this.get(Z80.INSTRUCTIONS) + count;
    const start = this.seen.length;
    while (this.get(Z80.INSTRUCTIONS) < until && this.seen.length - start < 400) this.halves(2, spells);
    return (this.seen.length - start) / 2;
  }

  /** One pin as a line of levels from a half clock on. */
  line(pin: Z80PinName, from = 0, to = this.seen.length): string {
    return this.seen
      .slice(from, to)
      .map((pins) => {
        if (pins.unknown) return '?';
        if (pins.controlFloats && ['MREQ', 'IORQ', 'RD', 'WR'].includes(pin)) return '-';
        return pins.control & PINS[pin] ? '~' : '_';
      })
      .join('');
  }

  /** The address bus, one hexadecimal number a half clock, `-` floating. */
  addresses(from = 0, to = this.seen.length): string[] {
    return this.seen.slice(from, to).map((pins) => (pins.addressFloats ? '-' : pins.address.toString(16)));
  }

  /** What the data pins drive, `-` where they do not. */
  driven(from = 0, to = this.seen.length): string {
    return this.seen
      .slice(from, to)
      .map((pins) => (pins.dataDriven ? pins.data.toString(16).padStart(2, '0') : '-'))
      .join(' ');
  }
}
