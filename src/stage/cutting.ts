// The cutting list: how many pieces of each colour and length a plan takes, and the leads to crimp. Pieces that are used again
// aren't on it.

import type { Step } from './step-model.ts';

export interface CutRow {
  readonly colour: string;
  readonly cutMm: number;
  readonly count: number;
  /** Steps that take one. */
  readonly steps: readonly string[];
}

export interface CuttingList {
  /** By colour code, then length. */
  readonly rows: readonly CutRow[];
  readonly colours: readonly { readonly colour: string; readonly count: number; readonly totalMm: number }[];
  readonly totalMm: number;
  readonly count: number;
}

/** Rounds away the dust of adding tenths of millimetres. */
const tidy = (mm: number): number => Math.round(mm * 1000) / 1000;

/** The pieces to cut for new wires among `steps`; jumpers, trimmed and moved pieces, and those taken up again, need none. */
export function cuttingList(steps: readonly Step[]): CuttingList {
  const rows = new Map<string, { colour: string; cutMm: number; steps: string[] }>();
  for (const step of steps) {
    if (
      step.do !== 'wire' ||
      step.style === 'jumper' ||
      step.reuses === true ||
      step.cutMm === undefined ||
      step.colour === undefined
    )
      continue;
    const key = `${step.colour} ${step.cutMm}`;
    const row = rows.get(key);
    if (row === undefined) rows.set(key, { colour: step.colour, cutMm: step.cutMm, steps: [step.id] });
    else row.steps.push(step.id);
  }
  const list = [...rows.values()]
    .sort((a, b) => (a.colour < b.colour ? -1 : a.colour > b.colour ? 1 : a.cutMm - b.cutMm))
    .map((row) => ({ ...row, count: row.steps.length }));
  const colours = new Map<string, { count: number; totalMm: number }>();
  for (const row of list) {
    const sum = colours.get(row.colour) ?? { count: 0, totalMm: 0 };
    sum.count += row.count;
    sum.totalMm += row.count * row.cutMm;
    colours.set(row.colour, sum);
  }
  return {
    rows: list,
    colours: [...colours].map(([colour, sum]) => ({ colour, count: sum.count, totalMm: tidy(sum.totalMm) })),
    totalMm: tidy(list.reduce((sum, row) => sum + row.count * row.cutMm, 0)),
    count: list.reduce((sum, row) => sum + row.count, 0),
  };
}

export interface LeadToMake {
  readonly lead: string;
  readonly step: string;
  readonly ways: readonly {
    readonly wire: string;
    readonly net: string;
    readonly colour: string;
    readonly cutMm: number;
  }[];
}

/** Crimped leads that the steps ask for, each with its ways in the order of the steps. */
export function leadsToMake(steps: readonly Step[]): LeadToMake[] {
  return steps
    .filter((step) => step.do === 'make-lead')
    .map((step) => ({
      lead: step.lead!,
      step: step.id,
      ways: steps
        .filter((way) => way.do === 'wire' && way.lead === step.lead)
        .map((way) => ({ wire: way.wire!, net: way.net!, colour: way.colour!, cutMm: way.cutMm! })),
    }));
}
