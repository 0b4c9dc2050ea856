// The netlist as of one stage, and the design as a whole. Flat arrays with integer ids: an id is the index in its array and
// holds within one netlist only; across stages things are the same when their names are. Everything knows its origin.

import type { Span } from '../base/index.ts';
import type { MapDecl, StageDecl } from '../machine/index.ts';
import type { PartRecord, PinKind } from '../parts/index.ts';

/** Which statement made something. `text` is a sentence a builder understands. */
export interface Origin {
  readonly by:
    | 'net'
    | 'pins'
    | 'bus'
    | 'select'
    | 'tie'
    | 'required-tie'
    | 'logic'
    | 'spare-unit'
    | 'supply'
    | 'bypass'
    | 'bulk'
    | 'pull'
    | 'series'
    | 'strap'
    | 'part'
    | 'clock';
  readonly span?: Span;
  readonly text: string;
}

/** A part that no line of the machine file names but that the design needs, and what it serves. */
export interface Implied {
  readonly kind: 'bypass' | 'bulk' | 'pull' | 'series' | 'strap';
  /** The part or pin that it serves. */
  readonly serves: string;
}

export interface NetPart {
  readonly id: number;
  readonly name: string;
  /** The type with its family: `74HCT138`. */
  readonly type: string;
  readonly record: PartRecord;
  readonly family: string | undefined;
  readonly grade: string | undefined;
  /** As written, such as `10 kohm`; the frequency of an oscillator or crystal. */
  readonly value: string | undefined;
  readonly holds: string | undefined;
  readonly comesOut: boolean;
  readonly implied: Implied | undefined;
  /** The stage that puts it in (from 1), and the one that takes it out again, or undefined. */
  readonly stage: number;
  readonly until: number | undefined;
  /** True for straps and their resistors. */
  readonly temporary: boolean;
  readonly origin: Origin;
  /** Pin ids, in the order of the record. */
  readonly pins: readonly number[];
}

export interface NetPin {
  readonly id: number;
  readonly part: number;
  readonly number: number;
  readonly name: string;
  /** `CPU.A0`, or `CPU.GND@20` where the name repeats. */
  readonly ref: string;
  readonly kind: PinKind;
  /** Net id, or -1. */
  readonly net: number;
  /** True where the machine file or the record leaves it open on purpose. */
  readonly open: boolean;
  /** What connected it (or left it open). */
  readonly origin: Origin | undefined;
}

export interface Net {
  readonly id: number;
  readonly name: string;
  readonly kind: 'signal' | 'supply' | 'ground';
  /** True when no line of the machine file names it. */
  readonly derived: boolean;
  readonly origin: Origin;
  /** Pin ids in order of part and pin. */
  readonly pins: readonly number[];
  /** The bus and bit, for nets of a bus: { bus: 'A', bit: 7 }. */
  readonly bus: { readonly name: string; readonly bit: number } | undefined;
  readonly netClass: NetClass | undefined;
}

/** What layout and drawing want to know of a net. Derived for buses, strobes, clocks, selects, reset; the machine file overrides. */
export interface NetClass {
  readonly name: string;
  /** IEC 60757 code. */
  readonly colour: string;
  /** 1 is usual; clocks 4, strobes 2. */
  readonly weight: number;
  readonly longestMm: number | undefined;
  readonly probeHole: boolean;
}

export interface Netlist {
  /** Stages up to and including this one; 0 is the empty bench. */
  readonly stage: number;
  readonly parts: readonly NetPart[];
  readonly pins: readonly NetPin[];
  readonly nets: readonly Net[];
}

/** An output of a decoder or programmable device, and the function it has to make. */
export interface DeviceOutput {
  /** The device's pin, as its record names it. */
  readonly pin: string;
  readonly net: string;
  /** A formula over net names for what the net's level is; undefined for a select, which follows from its regions. */
  readonly formula: string | undefined;
  readonly select:
    | {
        readonly part: string;
        readonly regions: readonly MapRegion[];
        readonly activeLow: boolean;
        /** Formula over nets that must be true beside the address; empty for none. */
        readonly when: string;
        /**
         * When an address of its space is meant, where the select does not look at that: it follows the address alone, and the
         * strobes that its part gets say the space.
         */
        readonly cycle?: string;
        /** Address nets by bit. */
        readonly address: readonly string[];
      }
    | undefined;
  /** Clock, enable, reset and preset of registered or three-state outputs, as formulas over nets. */
  readonly clock: string | undefined;
  readonly enable: string | undefined;
  readonly reset: string | undefined;
  readonly preset: string | undefined;
  readonly stage: number;
  readonly until: number | undefined;
  readonly origin: Origin;
}

/** What a decoder or programmable device is there for: its pins by net, and its outputs' functions. */
export interface DevicePlan {
  readonly part: string;
  readonly type: string;
  readonly inputs: readonly { readonly pin: string; readonly net: string }[];
  readonly outputs: readonly DeviceOutput[];
}

/** A region of an address space as of a stage. */
export interface MapRegion {
  readonly space: 'memory' | 'ports';
  readonly part: string;
  readonly at: number;
  readonly bytes: number;
  /** Only reads or only writes reach it: as stated, or because the part can do no other. */
  readonly access: 'read' | 'write' | undefined;
  /** Formula of the strobe that its select has to look at, so that a part with both strobes answers to the one kind of cycle. */
  readonly gate?: string;
  readonly decl: MapDecl;
  readonly stage: number;
  readonly until: number | undefined;
}

/** Hooks of an instrument's lead on a net during some stages. */
export interface LeadHook {
  readonly pod: string;
  /** Position in the pod, from 0. */
  readonly channel: number;
  readonly net: string;
  readonly stage: number;
  readonly until: number | undefined;
  readonly span: Span;
}

export interface StageInfo {
  /** From 1. */
  readonly number: number;
  readonly name: string;
  readonly decl: StageDecl;
}

/** The elaborated machine: a netlist for each stage, and what the analyses need beside it. */
export interface Design {
  readonly name: string;
  readonly stages: readonly StageInfo[];
  /** netlists[n] is the machine as of stage n; netlists[0] is empty. */
  readonly netlists: readonly Netlist[];
  readonly map: readonly MapRegion[];
  readonly devices: readonly DevicePlan[];
  readonly leads: readonly LeadHook[];
  readonly supplies: readonly {
    readonly name: string;
    readonly volts: number;
    readonly tolerance: number;
    readonly limitAmps: number | undefined;
  }[];
  readonly clocks: readonly {
    readonly name: string;
    readonly net: string | undefined;
    readonly rateHz: number;
    readonly duty: number | undefined;
  }[];
}

/** The netlist as of `stage`, clamped to those there are. */
export function netlistAt(design: Design, stage: number): Netlist {
  const clamped = Math.max(0, Math.min(stage, design.netlists.length - 1));
  return design.netlists[clamped]!;
}
