// What the builder chooses of the layout: boards.yaml as plain data. Reading and writing the file is choices-file.ts.

import type { Span } from '../base/index.ts';
import type { HoleName } from './model.ts';

export interface FixedPlace {
  readonly part: string;
  /** The hole of the first lead. */
  readonly at: HoleName;
  /** Two-lead parts: the hole of the second lead. */
  readonly to: HoleName | undefined;
  readonly rotation: 0 | 90 | 180 | 270;
  /** The stage from which on, for a part that a stage moves; from the first unless said. */
  readonly stage?: number;
  readonly span: Span | undefined;
}

export interface BoardChoice {
  readonly kind: string;
  /** Place in the arrangement, from 1. */
  readonly column: number;
  readonly row: number;
}

export interface LayoutChoices {
  /** The boards in order of their numbers; undefined where the tool chooses. */
  readonly boards: readonly BoardChoice[] | undefined;
  /** The kind of board where the tool chooses how many. */
  readonly kind: string;
  readonly places: readonly FixedPlace[];
  /** Rectangles between two holes that stay free of parts and wires. */
  readonly keepClear: readonly { readonly from: HoleName; readonly to: HoleName; readonly span: Span | undefined }[];
  readonly forbidden: readonly { readonly hole: HoleName; readonly span: Span | undefined }[];
  readonly supplies: readonly {
    readonly supply: string;
    readonly plus: HoleName;
    readonly ground: HoleName;
    readonly span: Span | undefined;
  }[];
  /** Rails that carry another net than usual: any hole of the rail segment, and the net. */
  readonly rails: readonly { readonly hole: HoleName; readonly net: string; readonly span: Span | undefined }[];
  readonly wires: readonly {
    readonly net: string;
    readonly from: HoleName;
    readonly to: HoleName;
    readonly span: Span | undefined;
  }[];
  /** Freedoms of records that the layout may use, by what has to follow them. */
  readonly freedoms: readonly ('nothing' | 'image' | 'fuses')[];
  /** mm added to every wire, and the step to which lengths are rounded up. */
  readonly slackMm: number;
  readonly roundMm: number;
}

/** Nothing chosen. */
export const NO_CHOICES: LayoutChoices = {
  boards: undefined,
  kind: 'full',
  places: [],
  keepClear: [],
  forbidden: [],
  supplies: [],
  rails: [],
  wires: [],
  freedoms: [],
  slackMm: 2,
  roundMm: 5,
};
