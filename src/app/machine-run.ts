// A machine of a stage that is switched on and looked at while it runs: by clocks, machine cycles and instructions; its hands,
// lamps, digits, terminal, registers, memory and the levels at pins. Plain data out, for the workbench and the command line. No
// clock of the host: whoever drives it says how far.

import { type Finding, foldName } from '../base/index.ts';
import {
  buildCircuit,
  type Circuit,
  digitsText,
  disassembleZ80,
  displays,
  isLit,
  levelOf,
  memoryByte,
  type ProofFacts,
  resetNs,
  Session,
  type SimLevel,
  type SimNetlist,
  Z80,
  Z80_ACTION,
  Z80_PHASES,
} from '../sim/index.ts';
import type { Build } from './build.ts';
import { imagesOf, proofFacts } from './images.ts';
import { simInput } from './sim-input.ts';

export type RunStep = 'clock' | 'cycle' | 'instruction';

/** Something a hand can do: press a button or key while held, or set a switch. */
export interface RunHand {
  readonly name: string;
  readonly holds: 'while pressed' | 'until set back';
}

export interface RunPin {
  /** PART.NUMBER */
  readonly pin: string;
  readonly name: string;
  readonly net: string;
  readonly level: SimLevel;
}

export interface RunRegister {
  readonly name: string;
  readonly value: string;
}

/** What the machine shows now. */
export interface RunView {
  readonly ns: number;
  readonly clocks: number;
  readonly lamps: readonly { readonly name: string; readonly light: number }[];
  readonly digits: string;
  readonly displays: readonly { readonly part: string; readonly lines: readonly string[] }[];
  readonly processor:
    | {
        readonly registers: readonly RunRegister[];
        /** The instruction in hand; its address and words. */
        readonly at: number;
        readonly instruction: string;
        readonly instructions: number;
        /** Why it goes on no longer, or nothing. */
        readonly lost: string;
      }
    | undefined;
  readonly findings: readonly string[];
}

const LOST_WORDS: Readonly<Record<number, string>> = {
  [Z80.LOST_POWER_UP]: 'It waits for its first reset.',
  [Z80.LOST_OPCODE]: 'It read an instruction with unknown bits.',
  [Z80.LOST_DATA]: 'It read data with unknown bits.',
  [Z80.LOST_WAIT]: '/WAIT was not known when it was looked at.',
  [Z80.LOST_BUSREQ]: '/BUSREQ was not known when it was looked at.',
  [Z80.LOST_INT]: '/INT was not known when it was looked at.',
  [Z80.LOST_NMI]: '/NMI was not known.',
  [Z80.LOST_RESET]: '/RESET was not known.',
  [Z80.LOST_SHORT_RESET]: '/RESET was too short: three clocks at least.',
};

const hex = (value: number, digits: number): string => value.toString(16).toUpperCase().padStart(digits, '0');

export class MachineRun {
  readonly from: 'boards' | 'netlist';
  readonly netlist: SimNetlist;
  readonly circuit: Circuit;
  readonly session: Session;
  /** What was found while it was put together. */
  readonly findings: readonly Finding[];
  readonly hands: readonly RunHand[];
  readonly hasTerminal: boolean;
  /** Hz of the fastest clock; 0 without one. */
  readonly rateHz: number;
  readonly #facts: ProofFacts;
  readonly #clock: number;
  /** Place of a Z80 in the circuit, or -1. */
  readonly #z80: number;
  readonly #light: Float64Array;
  #looks = 0;
  #read = 0;

  constructor(build: Build, stage: number, options: { readonly from?: 'netlist'; readonly seed?: number } = {}) {
    const images = imagesOf(build, stage);
    const input = simInput(build, stage, { images: images.images, ...options });
    const made = buildCircuit(input.netlist, input.contents);
    this.netlist = input.netlist;
    this.circuit = made.value;
    this.from = input.from;
    this.findings = [...images.findings, ...input.findings, ...made.findings];
    this.session = new Session(made.value, input.contents, { quiet: true });
    this.hasTerminal = this.session.terminals().length > 0;
    this.hands = this.session.hands().map((name) => ({
      name,
      holds: this.#isMomentary(name) ? 'while pressed' : 'until set back',
    }));
    const rates = made.value.sources.map((source) => source.rateHz ?? 0);
    this.rateHz = Math.max(0, ...rates);
    this.#clock = this.rateHz === 0 ? -1 : rates.indexOf(this.rateHz);
    this.#facts = proofFacts(build.design(), stage);
    this.#z80 = made.value.parts.findIndex(
      (part) => foldName(this.netlist.parts[part.part]?.record.behaviour?.model ?? '') === 'z80',
    );
    this.#light = new Float64Array(made.value.lamps.length);
  }

  #isMomentary(hand: string): boolean {
    const part = this.netlist.parts.find(({ name }) => foldName(hand).startsWith(`${foldName(name)}.`));
    return /button|keypad/.test(part?.type ?? '');
  }

  get ns(): number {
    return this.session.now;
  }

  /** ns of one clock; a millisecond where the machine has none. */
  get clockNs(): number {
    return this.rateHz === 0 ? 1e6 : 1e9 / this.rateHz;
  }

  /** Runs to just before the supervisors let go of reset. */
  toReset(): void {
    this.session.runTo(Math.max(this.session.now, resetNs(this.netlist) - 1.01e6));
  }

  /** Goes on clock by clock until the processor is out of reset and begins; for 2 ms at most. */
  untilReset(): void {
    if (this.#z80 < 0) return;
    const end = this.session.now + 2e6;
    const state = this.#state();
    while (this.session.now < end && (state[Z80.LOST] !== 0 || state[Z80.RESET_EDGES] !== 0))
      this.runFor(this.clockNs / 2);
  }

  runFor(ns: number): void {
    this.session.runTo(this.session.now + ns);
  }

  /** One step; false where the machine stands still or has nothing of the kind. */
  step(what: RunStep): boolean {
    const { session } = this;
    if (this.#clock < 0) return false;
    const edges = (): number => session.edgesOf(this.#clock);
    const half = (): void => {
      const start = edges();
      for (let k = 0; k < 4 && edges() === start; k++) session.runTo(session.now + this.clockNs / 2);
    };
    if (what === 'clock' || this.#z80 < 0) {
      if (what !== 'clock') return false;
      half();
      half();
      return true;
    }
    const state = this.#state();
    if (what === 'instruction') {
      const count = state[Z80.INSTRUCTIONS];
      for (let k = 0; k < 4000 && state[Z80.INSTRUCTIONS] === count; k++) half();
      return state[Z80.INSTRUCTIONS] !== count;
    }
    const begins = (): boolean => {
      const action = Z80_PHASES[state[Z80.PHASE]!]! >> 16;
      return action === Z80_ACTION.begin || action === Z80_ACTION.beginInternal;
    };
    for (let k = 0; k < 4000; k++) {
      half();
      if (begins()) return true;
    }
    return false;
  }

  #state(): Int32Array {
    return this.session.kernel.stateOf(this.#z80);
  }

  /** Notes which lamps are lit, for `view`: digits that are lit in turn need many looks. */
  look(): void {
    this.#looks++;
    this.circuit.lamps.forEach((lamp, place) => {
      if (isLit(this.session, lamp)) this.#light[place]!++;
    });
  }

  /** What the machine shows: lamps over the looks since the last view. */
  view(): RunView {
    if (this.#looks === 0) this.look();
    const light = [...this.#light].map((count) => count / this.#looks);
    this.#light.fill(0);
    this.#looks = 0;
    return {
      ns: this.session.now,
      clocks: this.#clock < 0 ? 0 : Math.floor(this.session.edgesOf(this.#clock) / 2),
      lamps: this.circuit.lamps.map((lamp, place) => ({ name: lamp.name, light: light[place]! })),
      digits: digitsText(this.session, this.netlist, light),
      displays: displays(this.session, this.netlist),
      processor: this.#processor(),
      findings: this.session.findings.map(({ message }) => message),
    };
  }

  #processor(): RunView['processor'] {
    if (this.#z80 < 0) return undefined;
    const s = this.#state();
    const pair = (at: number): string => hex((s[at]! << 8) | s[at + 1]!, 4);
    const at = s[Z80.INSTRUCTION_AT]! & 0xffff;
    const bytes = Array.from({ length: 4 }, (_, k) => this.byteAt((at + k) & 0xffff));
    const known = bytes.slice(0, bytes.findIndex((byte) => typeof byte !== 'number') >>> 0) as number[];
    return {
      registers: [
        { name: 'PC', value: hex(s[Z80.PC]!, 4) },
        { name: 'SP', value: pair(Z80.SPH) },
        { name: 'AF', value: pair(Z80.A) },
        { name: 'BC', value: pair(Z80.B) },
        { name: 'DE', value: pair(Z80.D) },
        { name: 'HL', value: pair(Z80.H) },
        { name: 'IX', value: pair(Z80.IXH) },
        { name: 'IY', value: pair(Z80.IYH) },
        { name: "AF'", value: pair(Z80.ALTERNATE + 6) },
        { name: "BC'", value: pair(Z80.ALTERNATE) },
        { name: "DE'", value: pair(Z80.ALTERNATE + 2) },
        { name: "HL'", value: pair(Z80.ALTERNATE + 4) },
        { name: 'I', value: hex(s[Z80.I]!, 2) },
        { name: 'R', value: hex(s[Z80.R]!, 2) },
        { name: 'IM', value: String(s[Z80.IM]) },
        { name: 'IFF', value: `${s[Z80.IFF1]}${s[Z80.IFF2]}` },
      ],
      at,
      instruction: known.length === 0 ? '' : disassembleZ80(known, 0, at).text,
      instructions: s[Z80.INSTRUCTIONS]! >>> 0,
      lost: LOST_WORDS[s[Z80.LOST]!] ?? '',
    };
  }

  /** What the processor would read at an address through the wiring. */
  byteAt(address: number): number | 'unknown' | undefined {
    return memoryByte(this.session, this.netlist, address, this.#facts);
  }

  /** Bytes from an address on: two digits, `??` for unknown, `--` where there is no memory. */
  memory(from: number, count: number): string[] {
    return Array.from({ length: count }, (_, k) => {
      const byte = this.byteAt((from + k) & 0xffff);
      return byte === undefined ? '--' : byte === 'unknown' ? '??' : hex(byte, 2);
    });
  }

  /** Levels at the pins of a net, or of a part, as a probe would find them; in the order of parts and pins. */
  pins(of: { readonly net?: string; readonly part?: string }): RunPin[] {
    const net = of.net === undefined ? undefined : this.session.net(of.net);
    return this.netlist.parts.flatMap((part, index) => {
      if (of.part !== undefined && foldName(part.name) !== foldName(of.part)) return [];
      return part.record.pins.flatMap((pin): RunPin[] => {
        const at = this.circuit.netOfPin.get(index * 256 + pin.number);
        if (at === undefined || (of.part === undefined && at !== net)) return [];
        return [
          {
            pin: `${part.name}.${pin.number}`,
            name: pin.name,
            net: this.circuit.nets[at]!,
            level: levelOf(this.session.kernel.value(at)),
          },
        ];
      });
    });
  }

  /** Presses, sets or lets go. */
  hand(name: string, isOn: boolean): boolean {
    return this.session.hand(name, isOn);
  }

  /** Bytes into the terminals. */
  send(bytes: readonly number[]): void {
    this.session.send(bytes);
  }

  /** What arrived at the terminals since it was last asked. */
  received(): string {
    const text = this.session.terminalText();
    const fresh = text.slice(this.#read);
    this.#read = text.length;
    return fresh;
  }
}
