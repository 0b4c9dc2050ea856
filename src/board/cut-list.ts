// What has to be cut before a build, or for one stage of it: wires by colour and length, with totals.

import type { Layout, Wire } from './model.ts';

/** One kind of piece. */
export interface CutRow {
  readonly colour: string;
  readonly style: Wire['style'];
  readonly cutMm: number;
  readonly count: number;
}

export interface CutList {
  /** By colour, style and length. */
  readonly rows: readonly CutRow[];
  /** Metres per colour, in order of colour, and in all. */
  readonly byColour: readonly { readonly colour: string; readonly count: number; readonly mm: number }[];
  readonly count: number;
  readonly mm: number;
  /** Ends to strip. */
  readonly ends: number;
}

/** The pieces that the stages from `from` to `to` (both included) put in; all stages unless said. */
export function cutListOf(layout: Layout, from = 1, to = Number.POSITIVE_INFINITY): CutList {
  const counts = new Map<string, { colour: string; style: Wire['style']; cutMm: number; count: number }>();
  const colours = new Map<string, { colour: string; count: number; mm: number }>();
  let count = 0;
  let mm = 0;
  let ends = 0;
  for (const wire of layout.wires) {
    if (wire.stage < from || wire.stage > to) continue;
    const key = `${wire.colour} ${wire.style} ${wire.cutMm}`;
    const row = counts.get(key);
    if (row === undefined) counts.set(key, { colour: wire.colour, style: wire.style, cutMm: wire.cutMm, count: 1 });
    else row.count++;
    const colour = colours.get(wire.colour);
    if (colour === undefined) colours.set(wire.colour, { colour: wire.colour, count: 1, mm: wire.cutMm });
    else {
      colour.count++;
      colour.mm += wire.cutMm;
    }
    count++;
    mm += wire.cutMm;
    ends += 2;
  }
  const by = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
  return {
    rows: [...counts.values()].sort((a, b) => by(a.colour, b.colour) || by(a.style, b.style) || a.cutMm - b.cutMm),
    byColour: [...colours.values()].sort((a, b) => by(a.colour, b.colour)),
    count,
    mm,
    ends,
  };
}
