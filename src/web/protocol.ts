// What the page and its workers say to each other: plain data only. The worker holds the project; the page asks and draws.

import type { Finding, Fix, Severity } from '../base/index.ts';
import type { Rect, StageSteps } from '../drawing/index.ts';

export interface UiPlace {
  readonly file: string;
  /** UTF-16 offsets. */
  readonly start: number;
  readonly end: number;
  /** From 1. */
  readonly line: number;
}

export interface UiFinding {
  /** Stays the same while the finding is about the same thing. */
  readonly id: string;
  readonly code: string;
  readonly severity: Severity;
  readonly message: string;
  readonly where: readonly UiPlace[];
  readonly notes: readonly { readonly text: string; readonly where?: UiPlace }[];
  readonly help?: string;
  readonly fixes: readonly Fix[];
  readonly about: readonly string[];
  readonly stage?: number;
}

export interface UiWaived {
  readonly finding: UiFinding;
  readonly reason: string;
}

/** What typing waits for: findings only. */
export interface FindingsNews {
  readonly kind: 'findings';
  readonly version: number;
  readonly findings: readonly UiFinding[];
  readonly waived: readonly UiWaived[];
}

/** The frame's data. */
export interface ModelNews {
  readonly kind: 'model';
  readonly version: number;
  readonly hasMachine: boolean;
  readonly name: string;
  readonly about: string;
  readonly build: string;
  readonly builds: readonly string[];
  readonly stages: readonly StageSteps[];
  readonly fronts: { readonly designed: string; readonly wired: string; readonly proved: string };
  readonly reached: number;
  readonly hasLayout: boolean;
  readonly parts: number;
  /** The last act that can be taken back, in words. */
  readonly lastAct: { readonly id: string; readonly text: string } | undefined;
}

/** One thing selected, everywhere at once. */
export interface Selection {
  readonly net?: string;
  readonly part?: string;
  /** PART.NUMBER */
  readonly pin?: string;
  readonly wire?: string;
  readonly hole?: string;
}

export interface BoardsAsk {
  readonly stage: number;
  readonly scale: number;
  /** mm; all boards where absent. */
  readonly crop?: Rect;
}
export interface BoardsAnswer {
  readonly svg: string;
  readonly crop: Rect;
  readonly scale: number;
  readonly boards: readonly BoardInfo[];
}
export interface BoardInfo {
  readonly board: number;
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  readonly firstX: number;
  readonly firstY: number;
  readonly columns: number;
  readonly rows: readonly { readonly row: string; readonly y: number; readonly columns: readonly number[] }[];
}

export interface StationData {
  readonly part: string | undefined;
  readonly number: number | undefined;
  readonly pin: string;
  readonly more: number;
  readonly holes: readonly string[];
  readonly rail: boolean;
  readonly drives: boolean;
  /** The wire that leads here from the station before. */
  readonly wire:
    | {
        readonly id: string;
        readonly colour: string;
        readonly cutMm: number;
        readonly state: 'built' | 'planned' | 'out';
        readonly step: number | undefined;
        readonly next: boolean;
      }
    | undefined;
}
export interface NetAnswer {
  readonly name: string;
  readonly kind: string;
  readonly words: string;
  readonly svg: string;
  readonly stations: readonly StationData[];
  readonly origin: { readonly text: string; readonly where: UiPlace | undefined } | undefined;
  /** The first stage that has it, where the chosen one doesn't yet. */
  readonly comes: number | undefined;
}

export interface PinRow {
  readonly number: number;
  readonly name: string;
  readonly net: string;
  readonly hole: string;
  readonly kind: string;
}
export interface PartAnswer {
  readonly name: string;
  readonly type: string;
  readonly title: string;
  readonly value: string;
  readonly stage: number;
  readonly state: string;
  readonly fixed: boolean;
  readonly rotation: number;
  readonly firstHole: string;
  readonly leads: readonly string[];
  readonly pins: readonly PinRow[];
  readonly card: string;
  readonly cautions: readonly string[];
  readonly where: UiPlace | undefined;
}

export interface BuyAnswer {
  readonly text: string;
  readonly substitutes: readonly string[];
}
/** The power-on card of a stage. */
export interface CardAnswer {
  readonly cautions: readonly string[];
  readonly limit: string;
  readonly expected: string;
  readonly supplies: readonly string[];
  readonly ifNot: readonly { readonly seen: string; readonly remedy: string }[];
}

/** One touch of the meter plan. */
export interface TouchRow {
  readonly id: string;
  readonly text: string;
  readonly expect: string;
  readonly notes: readonly string[];
  /** The last reading that still counts. */
  readonly found: string;
  readonly status: 'open' | 'right' | 'wrong';
}

export interface ChangeRow {
  readonly group: string;
  readonly marks: readonly { readonly colour: string; readonly state: 'built' | 'planned' | 'out' }[];
  readonly text: string;
  readonly cut: string;
}
export interface StageAnswer {
  readonly rows: readonly ChangeRow[];
  readonly boards: string;
  readonly wires: { readonly built: number; readonly planned: number; readonly out: number; readonly mm: number };
  readonly note: string;
  readonly stale: string | undefined;
}

export interface UiStep {
  readonly id: string;
  readonly do: string;
  readonly stage: number;
  readonly stageName: string;
  readonly group: string;
  readonly text: string;
  readonly take: string;
  readonly notes: readonly string[];
  readonly part: string;
  readonly type: string;
  readonly wire: string;
  readonly net: string;
  readonly colour: string;
  readonly cutMm: number | undefined;
  readonly from: { readonly hole: string; readonly pins: readonly string[] } | undefined;
  readonly to: { readonly hole: string; readonly pins: readonly string[] } | undefined;
  readonly leads: readonly { readonly number: number; readonly pin: string; readonly hole: string }[];
  readonly was: readonly string[];
  readonly expect: string;
  readonly file: string;
}
export interface PlanAnswer {
  readonly steps: readonly UiStep[];
  readonly reached: number;
  /** Steps of the chosen stage that are done, and that there are in all. */
  readonly done: number;
  readonly total: number;
  /** Steps done before, newest first, for checking over again. */
  readonly before: readonly UiStep[];
  readonly problem: string | undefined;
  readonly power: boolean;
}
export interface StepAnswer {
  readonly from: string;
  readonly to: string;
  readonly whole: string;
}

export interface FindEntry {
  readonly kind: 'part' | 'pin' | 'net' | 'wire' | 'hole' | 'finding' | 'place';
  readonly text: string;
  readonly more: string;
  readonly select: Selection;
  readonly finding?: string;
}

export interface LoomAnswer {
  readonly title: string;
  readonly note: string;
  readonly columns: readonly { readonly name: string; readonly state: 'built' | 'planned' | 'later' }[];
  readonly rows: readonly {
    readonly net: string;
    readonly gap: boolean;
    readonly colour: string;
    /** Pin number in each column, or undefined. */
    readonly pins: readonly (string | undefined)[];
    readonly built: boolean;
  }[];
}

export interface CompletionData {
  readonly label: string;
  readonly detail: string;
  readonly kind: 'key' | 'part' | 'pin' | 'net' | 'type' | 'value';
}

export interface ShoppingRow {
  readonly type: string;
  readonly grade: string | null;
  readonly value: string | null;
  readonly parts: readonly string[];
  readonly stage: number;
  readonly needed: number;
  readonly have: number;
  readonly coming: number;
  readonly buy: number;
  readonly substitutes: readonly { readonly type: string; readonly grade: string | null; readonly inStock: boolean }[];
}

export interface ReworkAnswer {
  readonly part: string;
  readonly text: string;
  readonly fits: boolean;
  readonly out: number;
  readonly in: number;
  readonly metres: number;
  readonly layout: string | undefined;
  readonly choices: string | undefined;
}

/** A stretch of addresses that is answered alike. */
export interface AddressBlockData {
  readonly from: number;
  /** Included. */
  readonly to: number;
  readonly state: 'mapped' | 'mirror' | 'gap' | 'double' | 'again';
  readonly answers: readonly {
    readonly part: string;
    readonly net: string;
    readonly when: string;
    readonly is: 'mapped' | 'mirror';
    readonly access: string;
  }[];
}
/** An entry of the maps in the machine file. */
export interface AddressEntry {
  /** Its place in the machine's list, by which edits name it. */
  readonly index: number;
  readonly part: string;
  readonly type: string;
  readonly holds: string;
  readonly at: number;
  readonly bytes: number;
  readonly access: string;
  readonly when: string;
  readonly mirrors: string;
  readonly stage: number;
  readonly stageName: string;
  readonly state: 'built' | 'planned' | 'later' | 'gone';
  readonly place: UiPlace;
}
export interface AddressSpaceData {
  readonly name: 'memory' | 'ports';
  readonly size: number;
  /** Of an address in hexadecimal. */
  readonly digits: number;
  /** Address lines, bit 0 first. */
  readonly lines: readonly string[];
  /** The first stage in which anything is mapped. */
  readonly from: number | undefined;
  readonly blocks: readonly AddressBlockData[];
  readonly entries: readonly AddressEntry[];
  readonly vectors: readonly { readonly name: string; readonly at: number; readonly bytes: number }[];
  readonly mayMirror: readonly string[];
}
/** A programmable device as its file was read back. */
export interface AddressDevice {
  readonly part: string;
  readonly device: string;
  readonly mode: string;
  readonly revision: number;
  readonly stage: number;
  readonly until: number | undefined;
  readonly file: string;
  readonly isOwn: boolean;
  readonly isProved: boolean;
  readonly fuses: number;
  readonly sum: string;
  readonly signature: string;
  /** Combinations of levels that were compared. */
  readonly points: number;
  /** The file; empty where the builder brings one. */
  readonly text: string;
  /** The same selects of decoders and gates, in a sentence; empty where that is not worked out. */
  readonly discrete: string;
  readonly columns: readonly { readonly pin: number; readonly net: string; readonly used: boolean }[];
  readonly rows: readonly {
    readonly pin: number;
    readonly net: string;
    readonly registered: boolean;
    readonly activeLow: boolean;
    readonly equation: string;
    readonly enable: string;
    /** Of each term the level at each column. */
    readonly terms: readonly (readonly (0 | 1 | undefined)[])[];
    readonly proved: boolean;
    readonly passes: number;
    readonly room: number;
  }[];
  readonly pins: readonly { readonly pin: number; readonly net: string; readonly use: string }[];
  readonly vectors: readonly { readonly number: number; readonly conditions: string }[];
  readonly failures: readonly { readonly vector: number; readonly pin: number; readonly text: string }[];
  readonly differences: readonly {
    readonly space: string;
    readonly from: number;
    readonly to: number;
    readonly text: string;
    readonly at: string;
  }[];
}
export interface AddressAnswer {
  readonly spaces: readonly AddressSpaceData[];
  readonly devices: readonly AddressDevice[];
  readonly fixed: readonly {
    readonly part: string;
    readonly type: string;
    readonly inputs: readonly { readonly pin: string; readonly net: string }[];
    readonly outputs: readonly { readonly pin: string; readonly net: string; readonly part: string }[];
  }[];
  readonly findings: readonly UiFinding[];
  /** Members of a bus without an address. */
  readonly unmapped: readonly string[];
}
/** An edit of the maps; addresses in hexadecimal and sizes as they are written. */
export interface MapEditAsk {
  readonly stage: number;
  readonly do: 'move' | 'say' | 'remove' | 'add';
  readonly index?: number;
  readonly at?: string;
  readonly size?: string;
  readonly key?: 'mirrors' | 'access';
  readonly word?: string;
  readonly space?: 'memory' | 'ports';
  readonly part?: string;
}

/** What the page asks of the engine worker, by name: question and answer. */
export interface Asks {
  boards: [BoardsAsk, BoardsAnswer | undefined];
  overlay: [BoardsAsk & { readonly select: Selection }, string];
  detail: [
    {
      readonly stage: number;
      readonly width: number;
      readonly height: number;
      readonly scale: number;
      readonly centre: readonly [number, number] | undefined;
      readonly select: Selection;
    },
    { readonly svg: string; readonly crop: Rect } | undefined,
  ];
  /** Places under suspicion on the boards: wires, and the holes of the one in question, marked. */
  doubted: [
    {
      readonly stage: number;
      readonly width: number;
      readonly height: number;
      readonly wires: readonly string[];
      readonly holes: readonly string[];
      readonly text: string;
      readonly part: string | undefined;
      /** Holes at which something is to be measured next. */
      readonly probes: readonly string[];
    },
    string | undefined,
  ];
  holeAt: [{ readonly x: number; readonly y: number }, string | undefined];
  placeOf: [{ readonly stage: number; readonly select: Selection }, readonly [number, number] | undefined];
  address: [{ readonly stage: number }, AddressAnswer];
  mapEdit: [MapEditAsk, { readonly file: string; readonly text: string } | string];
  net: [{ readonly stage: number; readonly net: string }, NetAnswer | undefined];
  part: [{ readonly stage: number; readonly part: string; readonly net: string | undefined }, PartAnswer | undefined];
  stage: [{ readonly stage: number }, StageAnswer | undefined];
  bus: [{ readonly stage: number; readonly net: string | undefined }, string];
  plan: [{ readonly stage: number }, PlanAnswer];
  step: [
    { readonly stage: number; readonly step: string; readonly width: number; readonly height: number },
    StepAnswer,
  ];
  index: [undefined, readonly FindEntry[]];
  loom: [
    { readonly file: string; readonly offset: number; readonly stage: number; readonly net?: string },
    LoomAnswer | undefined,
  ];
  complete: [
    { readonly file: string; readonly offset: number; readonly text: string },
    { readonly from: number; readonly items: readonly CompletionData[] } | undefined,
  ];
  definition: [{ readonly word: string }, UiPlace | undefined];
  references: [{ readonly word: string }, readonly UiPlace[]];
  rename: [{ readonly word: string; readonly to: string }, { readonly edits: Finding['fixes'] } | string];
  waive: [
    { readonly finding: string; readonly reason: string },
    { readonly file: string; readonly text: string } | string,
  ];
  choose: [{ readonly edit: unknown }, { readonly file: string; readonly text: string } | string];
  rework: [
    {
      readonly part: string;
      readonly hole: string;
      /** Of the second lead, for parts of two. */
      readonly second: string | undefined;
      readonly rotation: number;
      readonly stage: number;
    },
    ReworkAnswer,
  ];
  buy: [{ readonly stage: number; readonly part: string }, BuyAnswer | undefined];
  card: [{ readonly stage: number }, CardAnswer | undefined];
  touches: [{ readonly stage: number }, readonly TouchRow[]];
  where: [{ readonly now: string }, readonly string[]];
  shopping: [{ readonly stage: number }, readonly ShoppingRow[]];
  book: [{ readonly stage: number }, string];
  stageSvg: [{ readonly stage: number; readonly ground: 'paper' | 'slate' }, string];
  table: [
    { readonly which: 'wires' | 'parts' | 'steps' | 'cut'; readonly stage: number },
    readonly (readonly string[])[],
  ];
  journal: [undefined, readonly JournalLine[]];
  labels: [{ readonly stage: number }, string];
  ghost: [{ readonly stage: number; readonly part: string }, GhostAnswer | undefined];
  hole: [{ readonly stage: number; readonly hole: string }, HoleAnswer | undefined];
  entries: [EntriesAsk, EntriesAnswer];
  whatChanged: [{ readonly stage: number }, string];
  margins: [{ readonly stage: number }, MarginsAnswer];
  clockAt: [{ readonly stage: number; readonly clockHz: number }, readonly TimingUi[]];
  cycle: [
    {
      readonly stage: number;
      readonly cycle: string;
      readonly target: string | undefined;
      readonly clockHz: number | undefined;
      readonly width: number;
      readonly most: number;
    },
    string | undefined,
  ];
  railPicture: [
    { readonly stage: number; readonly width: number },
    { readonly svg: string; readonly widestMv: number } | undefined,
  ];
  suspects: [{ readonly stage: number; readonly text: string }, string];
}

/** One requirement of the bus, in ns rounded to tenths. */
export interface TimingUi {
  readonly cycle: string;
  readonly target: string;
  readonly check: string;
  readonly availableNs: number | null;
  readonly requiredNs: number | null;
  readonly marginNs: number | null;
  /** As in the margins: null where unknown, and where every clock will do; 0 where none helps. */
  readonly maxHz: number | null;
  readonly isFixed: boolean;
  readonly tracks: boolean;
  /** The delays in a row, or what is missing. */
  readonly path: string;
}
export interface BreakUi {
  readonly at: number;
  readonly what: string;
  readonly symptom: string;
}
export interface MarginsAnswer {
  readonly stage: number;
  readonly processor: string | null;
  readonly clockHz: number | null;
  readonly maxHz: number | null;
  readonly knownHz: number | null;
  readonly minHz: number | null;
  readonly waitStates: number | null;
  readonly critical: string | undefined;
  readonly faster: string | undefined;
  readonly assumptions: readonly string[];
  readonly cycles: readonly { readonly cycle: string; readonly targets: readonly string[] }[];
  readonly rows: readonly TimingUi[];
  readonly breaks: {
    readonly clock: readonly BreakUi[];
    readonly supply: readonly BreakUi[];
    readonly slower: readonly BreakUi[];
  };
  readonly nets: readonly NetMarginUi[];
  readonly supply: readonly {
    readonly stage: number;
    readonly name: string;
    readonly typ: number;
    readonly max: number;
    readonly limit: number | null;
    readonly unknown: readonly string[];
  }[];
  readonly parts: readonly {
    readonly part: string;
    readonly typ: number | null;
    readonly max: number | null;
    readonly source: string;
  }[];
  readonly drops: readonly DropUi[];
  /** False without a layout. */
  readonly hasRails: boolean;
  readonly clocks: readonly {
    readonly net: string;
    readonly rate: string;
    readonly from: string;
    readonly duty: string;
    readonly feeds: string;
  }[];
  readonly serial: readonly {
    readonly part: string;
    readonly clock: string;
    readonly rates: readonly {
      readonly bits: number;
      readonly divisor: number;
      readonly percent: number;
      readonly leftPercent: number;
    }[];
  }[];
  readonly crystals: readonly {
    readonly part: string;
    readonly wantsPf: number | null;
    readonly seesPf: number | null;
    readonly eachPf: number | null;
  }[];
  /** Estimates; undefined without a layout. */
  readonly signals: SignalsUi | undefined;
  readonly findings: readonly UiFinding[];
}
export interface SignalsUi {
  readonly edges: readonly {
    readonly net: string;
    readonly acts: string;
    readonly mm: number;
    readonly criticalMm: number | null;
    readonly over: number | null;
    readonly back: number | null;
    readonly left: number | null;
    readonly advice: string | undefined;
    readonly missing: string;
  }[];
  readonly crosstalk: readonly {
    readonly net: string;
    readonly from: string;
    readonly volts: number | null;
    readonly margin: number | null;
  }[];
  readonly chips: readonly {
    readonly part: string;
    readonly outputs: number;
    readonly bounce: number | null;
    readonly bypass: string | undefined;
    readonly mm: number | null;
    readonly advice: string | undefined;
  }[];
  readonly bulk: string;
  readonly formulas: readonly (readonly [string, string])[];
}
export interface NetMarginUi {
  readonly net: string;
  readonly pf: number | null;
  readonly boardsPf: number;
  readonly worst: number | null;
  readonly worstAt: string;
  readonly unknown: readonly string[];
  readonly drivers: readonly {
    readonly driver: string;
    readonly sinkMa: number | null;
    readonly canSinkMa: number | null;
    readonly sourceMa: number | null;
    readonly canSourceMa: number | null;
    readonly units: number | null;
    readonly testLoadPf: number | null;
    readonly addedNs: number | null;
  }[];
}
export interface DropUi {
  readonly supply: string;
  readonly text: string;
  readonly setting: string | undefined;
  readonly proposal: string | undefined;
  readonly unknown: readonly string[];
  readonly lostMv: number | null;
  readonly lowest: string | undefined;
  readonly chips: readonly {
    readonly part: string;
    readonly plus: string;
    readonly ground: string;
    readonly typVolts: number | null;
    readonly volts: number | null;
    readonly needs: number | null;
  }[];
}
export interface GhostAnswer {
  readonly body: Rect;
  readonly rotation: number;
  readonly firstHole: string;
  readonly leads: readonly {
    readonly x: number;
    readonly y: number;
    /** The nearest other pin of its net, where the net is a signal. */
    readonly to: readonly [number, number] | undefined;
  }[];
}
export interface HoleAnswer {
  readonly hole: string;
  readonly net: string | undefined;
  readonly holds: string;
  readonly free: readonly string[];
  readonly forbidden: boolean;
}
export interface JournalLine {
  readonly id: string;
  readonly time: string;
  readonly act: string;
  readonly stage: string;
  readonly text: string;
  readonly file: string | undefined;
}
export type AskName = keyof Asks;

/** What is to go into the journal; the server adds the time. */
export type EntriesAsk =
  | { readonly do: 'done'; readonly ids: readonly string[]; readonly stage: number }
  | { readonly do: 'measured'; readonly step: string; readonly found: string; readonly pass: boolean }
  | { readonly do: 'reading'; readonly stage: number; readonly touch: string; readonly ohms: number }
  | { readonly do: 'undo'; readonly records: readonly string[] }
  | { readonly do: 'wrong'; readonly step: string }
  | { readonly do: 'power'; readonly on: boolean; readonly stage: number }
  | {
      readonly do: 'word';
      readonly act: 'note' | 'photo' | 'fault';
      readonly text: string;
      readonly stage: number;
      readonly file?: string;
    };
export interface EntriesAnswer {
  readonly build: string;
  readonly machine: string;
  readonly entries: readonly object[];
  readonly problems: readonly string[];
  /** How many of the entries open the journal, and are not the act itself. */
  readonly opening: number;
}

export type ToEngine =
  | {
      readonly kind: 'open';
      readonly shipped: unknown;
      readonly main: string;
      readonly build: string | undefined;
      readonly files: Readonly<Record<string, string>>;
      /** True for an engine that only answers and sends no news. */
      readonly isQuiet?: boolean;
    }
  | { readonly kind: 'text'; readonly path: string; readonly text: string | undefined }
  | { readonly kind: 'build'; readonly build: string }
  | { readonly kind: 'ask'; readonly id: number; readonly name: AskName; readonly question: unknown };
export type FromEngine =
  | FindingsNews
  | ModelNews
  | { readonly kind: 'answer'; readonly id: number; readonly answer: unknown }
  | { readonly kind: 'failed'; readonly id: number | undefined; readonly message: string };
