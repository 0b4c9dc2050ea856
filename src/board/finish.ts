// From seats and wire drafts to the layout as it is kept: names of holes, ids, colours, styles, cut lengths.

import { contentId } from '../base/index.ts';
import { type Grid, PITCH_MM } from './geometry.ts';
import type { PlacedPart, Wire, WireStyle } from './model.ts';
import type { Seat } from './seat.ts';
import type { Timeline } from './timeline.ts';
import type { WireDraft } from './wiring.ts';

/** mm of wire below the board at each end: 5/16 inch stripped (Virginia Tech, wiring guide of the Opel laboratory). */
export const INSERTION_MM = 8;
/** mm that an arched wire takes beyond the distance, for rising and falling: common practice, no source. */
export const ARCH_MM = 10;

/** The cut length of a wire along `pitches` of path: path, both insertions, slack; rounded up to what one cuts. */
export function cutLength(pitches: number, style: WireStyle, slackMm: number, roundMm: number): number {
  const exact = pitches * PITCH_MM + 2 * INSERTION_MM + slackMm + (style === 'arched' ? ARCH_MM : 0);
  return Math.ceil(exact / roundMm - 1e-9) * roundMm;
}

/** IEC 60757 colours of nets whose class gives none: red for supplies, black for ground, green for the rest. */
export function colourOf(timeline: Timeline, net: number): string {
  const { netClass, kind } = timeline.nets[net]!.net;
  if (netClass !== undefined) return netClass.colour;
  return kind === 'supply' ? 'RD' : kind === 'ground' ? 'BK' : 'GN';
}

/** Placed parts in order of name and stage. */
export function partsOfSeats(grid: Grid, stages: number, seats: readonly Seat[]): PlacedPart[] {
  return seats
    .map((seat) => ({
      part: seat.item.name,
      type: seat.item.part.type,
      rotation: seat.rotation,
      leads: seat.holes.map((hole, i) => ({ number: seat.numbers[i]!, hole: grid.name(hole) })),
      stage: seat.item.from,
      until: seat.item.until > stages ? undefined : seat.item.until,
      fixed: seat.fixed,
    }))
    .sort((a, b) => (a.part < b.part ? -1 : a.part > b.part ? 1 : a.stage - b.stage));
}

/** The id of a wire: from its net and its two holes, whichever is named first. */
export function wireId(net: string, from: string, to: string): string {
  return contentId(from < to ? `wire ${net} ${from} ${to}` : `wire ${net} ${to} ${from}`);
}

/** Wires in order of net, stage and holes. */
export function wiresOfDrafts(
  grid: Grid,
  timeline: Timeline,
  drafts: readonly WireDraft[],
  options: { readonly slackMm: number; readonly roundMm: number },
): Wire[] {
  const wires = drafts
    .filter((draft) => draft.until > draft.from)
    .map((draft) => {
      const net = timeline.nets[draft.net]!;
      const dx = Math.abs(grid.x[draft.a]! - grid.x[draft.b]!);
      const dy = Math.abs(grid.y[draft.a]! - grid.y[draft.b]!);
      const style: WireStyle = draft.link && dx + dy <= 2 ? 'jumper' : dx === 0 || dy === 0 ? 'flat' : 'arched';
      const from = grid.name(draft.a);
      const to = grid.name(draft.b);
      return {
        id: wireId(net.name, from, to),
        net: net.name,
        from,
        to,
        cutMm: cutLength(dx + dy, style, options.slackMm, options.roundMm),
        colour: colourOf(timeline, draft.net),
        style,
        stage: draft.from,
        until: draft.until > timeline.stages ? undefined : draft.until,
        temporary: false,
        lead: undefined,
        path: undefined,
      };
    });
  wires.sort((a, b) => compare(a.net, b.net) || a.stage - b.stage || compare(a.from, b.from) || compare(a.to, b.to));
  // The same wire taken out and put in again is two pieces of work.
  const seen = new Map<string, number>();
  return wires.map((wire) => {
    const count = (seen.get(wire.id) ?? 0) + 1;
    seen.set(wire.id, count);
    return count === 1 ? wire : { ...wire, id: `${wire.id}-${count}` };
  });
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
