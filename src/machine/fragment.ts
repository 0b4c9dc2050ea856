// A fragment: what one file (main, included or block) declares, item by item with its place, before files are merged, blocks
// copied and names looked up. Everything here is in the words of that file.

import type { Finding, Span } from '../base/index.ts';
import { type Cursor, report, type Source } from './cursor.ts';
import type {
  BusDecl,
  ClockDecl,
  LogicDecl,
  MapDecl,
  NameRef,
  NetClassDecl,
  NetDecl,
  PartDecl,
  StageDecl,
  StrapDecl,
  SupplyDecl,
  TieDecl,
  WaiverDecl,
} from './model.ts';

/** Defaults as far as a file gives them. */
export interface DefaultsDraft {
  readonly family?: NameRef;
  readonly pullOhm?: number;
  readonly bypassFarad?: number;
  readonly bulkFarad?: number;
  readonly ledOhm?: number;
  readonly supply?: NameRef;
  readonly span: Span;
}

/** A strap whose resistor may still be the default one. */
export type StrapDraft = Omit<StrapDecl, 'throughOhm'> & { readonly through: number | 'wire' | undefined };
export type StageDraft = Omit<StageDecl, 'temporary'> & { readonly temporary: readonly StrapDraft[] };

/** `NAME: { use: BLOCK, join: ..., stages: ..., copies: N }`. */
export interface InstanceDecl {
  readonly name: string;
  readonly use: NameRef;
  readonly join: readonly { readonly key: NameRef; readonly net: NameRef }[];
  readonly stages: readonly { readonly role: NameRef; readonly stage: NameRef }[];
  /** Within a block: stages of the outer block that bear the same name, taken where `stages` is silent. */
  readonly impliedStages?: InstanceDecl['stages'];
  /** True for further copies of an outer block: what is wrong has been said for the first. */
  readonly quiet?: boolean;
  /** Undefined for one unnumbered copy. */
  readonly copies: number | undefined;
  readonly first: number;
  readonly supply?: NameRef;
  readonly span: Span;
  readonly source: Source;
}

/** A named connection of a block. */
export interface JoinDecl {
  readonly name: string;
  readonly about: string;
  readonly default?: NameRef;
  readonly span: Span;
}

export interface Fragment {
  readonly source: Source;
  name: string | undefined;
  about: string | undefined;
  format: number;
  includes: NameRef[];
  supplies: SupplyDecl[];
  clocks: ClockDecl[];
  defaults: DefaultsDraft | undefined;
  parts: PartDecl[];
  buses: BusDecl[];
  map: MapDecl[];
  nets: NetDecl[];
  ties: TieDecl[];
  logic: LogicDecl[];
  classes: NetClassDecl[];
  instances: InstanceDecl[];
  joins: JoinDecl[];
  stages: StageDraft[];
  waivers: WaiverDecl[];
  layout: unknown;
}

/** A machine with more parts than this is refused: no breadboard holds them, and blocks of blocks grow fast. */
export const MOST_PARTS = 5000;
/** More stages than this are refused. */
export const MOST_STAGES = 500;
/** Pins, nets and terms that a machine may have once ranges and copies are spelled out. */
export const MOST_ITEMS = 200_000;

/** What a whole machine may still spend; shared by all its files. */
export interface Budget {
  parts: number;
  items: number;
  told: boolean;
}

export function createBudget(): Budget {
  return { parts: MOST_PARTS, items: MOST_ITEMS, told: false };
}

/** Takes `count` from the budget; false, with one finding for the whole machine, where it does not suffice. */
export function spend(
  budget: Budget,
  what: 'parts' | 'items',
  count: number,
  place: { readonly span: Span; readonly findings: Finding[] },
): boolean {
  if (budget[what] >= count) {
    budget[what] -= count;
    return true;
  }
  if (!budget.told) {
    budget.told = true;
    report(
      place.findings,
      'too-many',
      what === 'parts'
        ? `The machine has more than ${MOST_PARTS} parts from here on.`
        : `The machine has more than ${MOST_ITEMS} pins and nets from here on, ranges and copies spelled out.`,
      place.span,
      { help: 'What stands after this is left out. Look at the copies of blocks and at long ranges.' },
    );
  }
  return false;
}

/** A reader of one section: it takes the cursor of the file's root and adds to the fragment. */
export type SectionReader = (root: Cursor, fragment: Fragment, budget: Budget) => void;
