// What a step is: one act at the bench, with all that is needed to do it and the facts that its record will state.

import type { HoleName, StripId, WireStyle } from '../board/index.ts';
import type { Fact } from './facts.ts';
import type { Group } from './order.ts';

export type StepKind =
  | 'place'
  | 'wire'
  | 'take-out'
  | 'trim'
  | 'move'
  | 'turn'
  | 'attach'
  | 'detach'
  | 'program'
  | 'refit'
  | 'make-lead'
  | 'label'
  | 'measure';

export interface StepEnd {
  readonly hole: HoleName;
  /** Undefined where the boards have no such hole: a finding says so. */
  readonly strip: StripId | undefined;
  /** Pins in the same strip as of the step's stage: `CPU.A0`. Empty at a rail. */
  readonly pins: readonly string[];
}

export interface StepLead {
  readonly number: number;
  readonly pin: string;
  readonly hole: HoleName;
  readonly strip: StripId | undefined;
}

/** One step. Fields that don't apply are absent. */
export interface Step {
  /** From content: what is done to what, where. */
  readonly id: string;
  readonly do: StepKind;
  /** Number of the stage, from 1, and its name. */
  readonly stage: number;
  readonly stageName: string;
  readonly group: Group;
  readonly part?: string;
  readonly type?: string;
  readonly value?: string;
  /** Wire id. */
  readonly wire?: string;
  readonly net?: string;
  /** A wire's ends, the first two leads of a two-lead part, or where an instrument's lead goes (`to`). */
  readonly from?: StepEnd;
  readonly to?: StepEnd;
  /** Every lead of a part, where it goes or is. */
  readonly leads?: readonly StepLead[];
  readonly rotation?: number;
  readonly cutMm?: number;
  /** IEC 60757 code. */
  readonly colour?: string;
  readonly style?: WireStyle;
  /** A crimped lead, or an instrument's pod. */
  readonly lead?: string;
  readonly channel?: number;
  /** The physical piece and what goes into it. */
  readonly device?: string;
  readonly file?: string;
  readonly bytes?: number;
  readonly sum?: string;
  /** move, trim: where the piece is now. */
  readonly was?: readonly HoleName[];
  /** wire: the piece was taken out earlier in the rework, so none is cut. */
  readonly reuses?: boolean;
  /** measure: what must be seen. */
  readonly expect?: string;
  /** What to pick up: "a red wire, cut 42 mm". */
  readonly take?: string;
  /** The whole step in one sentence. */
  readonly text: string;
  readonly notes: readonly string[];
  /** What its record states once done. */
  readonly facts: readonly Fact[];
  /**
   * Ids of steps without which this one can't or shouldn't be done. That all of a stage's taking out and moving comes before
   * its putting in goes without saying.
   */
  readonly needs: readonly string[];
}

export interface StepGroup {
  readonly stage: number;
  readonly group: Group;
  readonly count: number;
  readonly ids: readonly string[];
}

export interface StepPlan {
  readonly steps: readonly Step[];
  readonly groups: readonly StepGroup[];
  /** The stage that the build has reached, from the journal; 0 on an empty bench. */
  readonly reached: number;
  /** Rework: pieces laid aside on the way because they couldn't be moved directly (acts above the least there can be). */
  readonly aside: number;
}
