// The machine as the builder wrote it: includes merged, blocks and copies expanded, ranges spelled out, every item with the
// place it came from. Names are not yet looked up in the part library; that is elaboration's work.

import type { Span } from '../base/index.ts';

/** A name used somewhere, with its place. */
export interface NameRef {
  readonly name: string;
  readonly span: Span;
}

/** A pin named as PART.PIN (or PART.PIN@NUMBER where the part has several of that name). */
export interface PinRef {
  readonly part: string;
  readonly pin: string;
  /** The number after @, where given. */
  readonly number?: number;
  readonly span: Span;
}

/** The stretch of stages in which an item holds: names of the first stage with it and the first without it. */
export interface Lifetime {
  readonly from?: NameRef;
  readonly until?: NameRef;
}

export interface SupplyDecl {
  readonly name: string;
  readonly volts: number;
  /** Fraction, such as 0.05. */
  readonly tolerance?: number;
  readonly limitAmps?: number;
  readonly span: Span;
}

export interface ClockDecl {
  readonly name: string;
  /** The pin it comes from. */
  readonly from?: PinRef;
  readonly rateHz: number;
  /** Fraction of the period high. */
  readonly duty?: number;
  readonly span: Span;
}

export interface Defaults {
  readonly family?: NameRef;
  readonly pullOhm: number;
  readonly bypassFarad: number;
  readonly bulkFarad: number;
  readonly ledOhm: number;
  /** The supply of parts that name none. */
  readonly supply?: NameRef;
  readonly span?: Span;
}

/** `pins: { XIN: cpu-clock, INTR: open }`. */
export interface PinBinding {
  readonly pin: string;
  readonly number?: number;
  readonly pinSpan: Span;
  /** A net's name; undefined where the pin is left open on purpose. */
  readonly net: string | undefined;
  readonly netSpan: Span;
}

export interface PartDecl {
  readonly name: string;
  /** Empty where the file gives none that can be read; a finding says so already. */
  readonly type: string;
  readonly typeSpan: Span;
  readonly grade?: NameRef;
  /** As written: `10 kohm`, `100 nF`. */
  readonly value?: NameRef;
  readonly rateHz?: number;
  readonly family?: NameRef;
  /** The supply that feeds it; the default supply unless said. */
  readonly supply?: NameRef;
  readonly colour?: NameRef;
  /** Resistors to add in series with each diode of the part. */
  readonly throughOhm?: number;
  /** The image or fuse file it holds, as a path in the project. */
  readonly holds?: NameRef;
  /** True where the builder takes it out to program it. */
  readonly comesOut: boolean;
  /** `uses: file.jed`: a logic device's own fuse file. */
  readonly uses?: NameRef;
  readonly pins: readonly PinBinding[];
  /** The block instance it belongs to. */
  readonly block?: string;
  readonly note?: string;
  /** The name's place. */
  readonly span: Span;
}

export interface BusDecl {
  readonly name: string;
  readonly processor: NameRef;
  readonly members: readonly NameRef[];
  /** Parts that decode, in the order given; which of memory and ports each serves where said. */
  readonly selects: readonly (NameRef & { readonly for?: 'memory' | 'ports' })[];
  /** Further parts that may drive the bus, each with the condition (levels formula) under which it does. */
  readonly masters: readonly { readonly part: NameRef; readonly when: NameRef }[];
  readonly span: Span;
  readonly lifetime: Lifetime;
}

export interface MapDecl {
  readonly space: 'memory' | 'ports';
  readonly part: NameRef;
  readonly bytes: number;
  readonly at: number;
  /** Condition (levels formula) under which it answers, for overlays. */
  readonly when?: NameRef;
  /** Where in the part the region starts, for parts mapped in several pieces. */
  readonly offset?: number;
  readonly access?: 'read' | 'write';
  readonly mirrors?: 'allowed' | 'forbidden';
  /** Wait states wanted for each access there, 1 to 7. */
  readonly wait?: number;
  readonly bus?: NameRef;
  readonly span: Span;
  readonly lifetime: Lifetime;
}

/**
 * Pins on a net. Several items may bear one name (in any case): a net's long forms, ranges, included files and blocks each
 * make one, and each holds in its own stages.
 */
export interface NetDecl {
  readonly name: string;
  readonly pins: readonly PinRef[];
  readonly span: Span;
  readonly lifetime: Lifetime;
}

export interface TieDecl {
  readonly to: 'high' | 'low';
  readonly pins: readonly (PinRef | NameRef)[];
  /** Resistance; undefined for a wire. */
  readonly throughOhm?: number;
  readonly supply?: NameRef;
  readonly span: Span;
  readonly lifetime: Lifetime;
}

export interface LogicDecl {
  /** The net it drives. */
  readonly net: string;
  /** As written: `high when low(/reset)`, `~(a & b)`. */
  readonly formula: NameRef;
  /** `in: G2 unit 3` or `in: SEL pin 14`. */
  readonly in?: { readonly part: NameRef; readonly unit?: NameRef; readonly pin?: NameRef };
  readonly clock?: NameRef;
  readonly enable?: NameRef;
  readonly reset?: NameRef;
  readonly preset?: NameRef;
  readonly span: Span;
  readonly lifetime: Lifetime;
}

export interface NetClassDecl {
  readonly name: string;
  /** Nets by name; a name with a dot is a pin and stands for the net at it. The same in straps, leads and proofs. */
  readonly nets: readonly NameRef[];
  /** IEC 60757 code. */
  readonly colour?: NameRef;
  readonly longestMm?: number;
  readonly probeHole: boolean;
  readonly weight?: number;
  readonly span: Span;
}

/** A strap: nets held at a level through a resistor (or a wire) until a later stage takes it out. */
export interface StrapDecl {
  readonly nets: readonly NameRef[];
  /** Bit k of the value is the level of the k-th net from the right as written. */
  readonly value: number;
  readonly throughOhm?: number;
  readonly until?: NameRef;
  readonly span: Span;
}

export interface LeadDecl {
  /** The instrument's pod or probe. */
  readonly pod: string;
  readonly nets: readonly NameRef[];
  readonly until?: NameRef;
  readonly span: Span;
}

/** One `key: value` of a proof, as text with its place; what it means is the simulator's business. */
export interface ProofTerm {
  readonly key: string;
  readonly keySpan: Span;
  readonly value: string;
  readonly valueSpan: Span;
}

export interface ProofDecl {
  readonly given: readonly ProofTerm[];
  readonly expect: readonly ProofTerm[];
  readonly span: Span;
}

export interface StageDecl {
  readonly name: string;
  readonly adds: readonly NameRef[];
  readonly removes: readonly NameRef[];
  /** A part that is exchanged for another type from this stage on, under the same name. */
  readonly replaces: readonly PartDecl[];
  readonly moves: readonly NameRef[];
  readonly temporary: readonly StrapDecl[];
  readonly leads: readonly LeadDecl[];
  readonly programs: readonly { readonly part: NameRef; readonly with: NameRef }[];
  readonly notes: readonly { readonly text: string; readonly photo?: string; readonly span: Span }[];
  readonly prove: readonly ProofDecl[];
  readonly span: Span;
}

export interface WaiverDecl {
  readonly code: NameRef;
  readonly places: readonly NameRef[];
  readonly reason: string;
  readonly span: Span;
}

/** One copy of a block: which parts it made, where it is joined, and the block's own hints for the layout. */
export interface BlockInstance {
  /** The copy's name, with its number where there are several: `LAMPS2`. */
  readonly name: string;
  readonly block: string;
  /** The name of the use in the machine file: `LAMPS`. */
  readonly use: string;
  readonly parts: readonly string[];
  /** Uses of further blocks within this one, by their names in the machine. */
  readonly inner: readonly string[];
  readonly joins: readonly { readonly join: string; readonly net: string }[];
  /** `layout` of the block's file as plain data, not looked at here; undefined where there is none. */
  readonly layout: unknown;
  readonly span: Span;
}

export interface Machine {
  readonly format: number;
  readonly name: string;
  readonly about?: string;
  /** The main file, then what it includes, in the order read. */
  readonly files: readonly string[];
  readonly supplies: readonly SupplyDecl[];
  readonly clocks: readonly ClockDecl[];
  readonly defaults: Defaults;
  readonly parts: readonly PartDecl[];
  readonly buses: readonly BusDecl[];
  readonly map: readonly MapDecl[];
  readonly nets: readonly NetDecl[];
  readonly ties: readonly TieDecl[];
  readonly logic: readonly LogicDecl[];
  readonly classes: readonly NetClassDecl[];
  readonly blocks: readonly BlockInstance[];
  readonly stages: readonly StageDecl[];
  readonly waivers: readonly WaiverDecl[];
}
