// What the Bring-up place and its worker say to each other: plain data, with levels as bytes so that they are handed over whole.

/** A stretch of the ruler: half clocks and an instruction. */
export interface RulerItem {
  readonly from: number;
  readonly to: number;
  readonly text: string;
}

/** Levels of one net, half clock by half clock: 0, 1, or 2 where not known. */
export interface WaveNet {
  readonly net: string;
  readonly predicted: Uint8Array | undefined;
  readonly captured: Uint8Array | undefined;
  /** First half clock that differs. */
  readonly first: number | undefined;
}

export interface Waves {
  readonly halves: number;
  /** Half clock since reset of entry 0; null where not known. */
  readonly sinceReset: number | null;
  /** s of a half clock, nominal. */
  readonly half: number;
  readonly nets: readonly WaveNet[];
  /** Rows as drawn: one net, or the lines of a bus, the highest first. */
  readonly rows: readonly { readonly label: string; readonly nets: readonly number[] }[];
  readonly predictedRuler: readonly RulerItem[];
  readonly capturedRuler: readonly RulerItem[];
  readonly first: number | undefined;
}

export interface BringupPlan {
  readonly stage: number;
  readonly rows: readonly {
    readonly net: string;
    readonly hole: string;
    /** `pod 1, 3`, where the stage has leads. */
    readonly lead: string;
    readonly expect: string;
  }[];
  readonly isClocked: boolean;
  readonly waves: Waves | undefined;
  readonly findings: readonly string[];
}

export interface BringupChannel {
  readonly name: string;
  readonly net: string | undefined;
  readonly isLeftOut: boolean;
  readonly inverted: boolean;
  readonly how: string | undefined;
  readonly agreement: number | undefined;
}

export interface BringupReading {
  readonly name: string;
  readonly files: readonly string[];
  readonly seconds: number;
  readonly channels: readonly BringupChannel[];
  readonly nets: readonly string[];
  readonly by: string | undefined;
  readonly sure: number;
  readonly waves: Waves | undefined;
  readonly first: string | undefined;
  readonly strays: number;
  readonly missing: readonly string[];
  readonly findings: readonly {
    readonly severity: string;
    readonly message: string;
    readonly help: string | undefined;
    readonly notes: readonly string[];
  }[];
  readonly problem: string | undefined;
}

export interface BringupPlaceRow {
  readonly text: string;
  readonly fault: string;
  readonly likelihood: number;
  readonly holes: readonly string[];
  readonly wire: string | undefined;
  readonly part: string | undefined;
  readonly pin: string | undefined;
  /** Number and id of the step that put it in. */
  readonly step: number | undefined;
  readonly stepId: string | undefined;
}

export interface BringupDiagnosis {
  readonly verdict: 'correct' | 'differs' | 'none-of-these';
  readonly correct: number;
  /** Slips that were run. */
  readonly hypotheses: number;
  readonly groups: readonly {
    readonly likelihood: number;
    readonly places: readonly BringupPlaceRow[];
    readonly more: number;
  }[];
}

/** A measurement that would tell most, as a question with its answers. */
export interface BringupQuestion {
  readonly kind: 'level' | 'frequency' | 'channel' | 'continuity' | 'look';
  readonly text: string;
  readonly net: string | undefined;
  readonly holes: readonly string[];
}

/** Where the search stands after what was measured. */
export interface BringupGuide {
  readonly question: BringupQuestion | undefined;
  readonly answers: readonly string[];
  readonly places: readonly BringupPlaceRow[];
  /** Why the last words could not be taken. */
  readonly problem: string | undefined;
}

export type ToBringup =
  | {
      readonly kind: 'open';
      readonly shipped: unknown;
      readonly files: Readonly<Record<string, string>>;
      readonly main: string;
      readonly build: string;
      /** One integer that grows when what is being tried is no longer wanted. */
      readonly turn: SharedArrayBuffer | undefined;
    }
  | { readonly kind: 'text'; readonly path: string; readonly text: string | undefined }
  | { readonly kind: 'plan'; readonly stage: number }
  | { readonly kind: 'file'; readonly stage: number; readonly file: Blob; readonly name: string }
  | {
      readonly kind: 'tell';
      readonly stage: number;
      readonly channel: string;
      readonly net: string | null;
      readonly inverted: boolean;
    }
  /** What was typed, or the button that was pressed for the question asked. */
  | { readonly kind: 'answer'; readonly text: string; readonly isButton: boolean }
  | { readonly kind: 'clear' };

export type FromBringup =
  | { readonly kind: 'plan'; readonly plan: BringupPlan }
  | { readonly kind: 'progress'; readonly words: string; readonly share: number }
  | { readonly kind: 'reading'; readonly reading: BringupReading | undefined; readonly refused: readonly string[] }
  | { readonly kind: 'diagnosis'; readonly diagnosis: BringupDiagnosis | undefined }
  | { readonly kind: 'guide'; readonly guide: BringupGuide | undefined }
  | { readonly kind: 'write'; readonly path: string; readonly text: string }
  | { readonly kind: 'failed'; readonly message: string };
