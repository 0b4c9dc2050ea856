// From seats and wire drafts to the layout as it is kept: names of holes, ids, colours, styles, cut lengths.

import { contentId } from '../base/index.ts';
import { type Grid, PITCH_MM } from './geometry.ts';
import { type LaidPath, Lanes, type PathJob, type PathObstacle } from './paths.ts';
import type { Space } from './space.ts';
import type { PlacedPart, Wire, WireStyle } from './model.ts';
import type { Seat } from './seat.ts';
import type { Timeline } from './timeline.ts';
import type { WireDraft } from './wiring.ts';

/** mm of wire below the board at each end: 5/16 inch stripped (Virginia Tech, wiring guide of the Opel laboratory). */
export const INSERTION_MM = 8;
/** mm that an arched wire or a way of a lead takes beyond the distance, for rising and falling: common practice, no source. */
export const ARCH_MM = 10;

/** The cut length of a wire along `pitches` of path: path, both insertions, slack; rounded up to what one cuts. */
export function cutLength(pitches: number, style: WireStyle, slackMm: number, roundMm: number): number {
  const exact =
    pitches * PITCH_MM + 2 * INSERTION_MM + slackMm + (style === 'arched' || style === 'crimped' ? ARCH_MM : 0);
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

export interface FinishOptions {
  readonly slackMm: number;
  readonly roundMm: number;
}

/** The body of a seated part as wires see it. */
export function obstacleOf(seat: Seat): PathObstacle {
  return { body: seat.body, from: seat.item.from, until: seat.item.until, out: seat.item.part.comesOut };
}

/** Where levers of a seated part swing. */
export function leversOf(seat: Seat): PathObstacle[] {
  const { from, until } = seat.item;
  return seat.zones.flatMap(({ body, isLever }) => (isLever ? [{ body, from, until, out: true, high: true }] : []));
}

/** What the lanes need to know of a wire. Buses are numbered in `buses` as they come. */
export function jobOf(
  timeline: Timeline,
  grid: Grid,
  draft: WireDraft,
  buses: Map<string, number>,
  before: ReadonlyMap<string, Wire>,
  isWay = false,
): PathJob {
  const { bus, name } = timeline.nets[draft.net]!.net;
  if (bus !== undefined && !buses.has(bus.name)) buses.set(bus.name, buses.size);
  const old = before.get(wireId(name, grid.name(draft.a), grid.name(draft.b)));
  return {
    a: draft.a,
    b: draft.b,
    from: draft.from,
    until: draft.until,
    bus: bus === undefined ? -1 : buses.get(bus.name)!,
    bit: bus?.bit ?? 0,
    flying: isWay,
    before:
      old?.path === undefined ? undefined : { path: old.path, flat: old.style !== 'arched' && old.style !== 'crimped' },
  };
}

/** Terminal strips in which only leads of temporary parts stand: wires that lead to them are temporary too. */
export function temporaryStrips(grid: Grid, seats: Iterable<Seat>): ReadonlySet<number> {
  const temporary = new Set<number>();
  const lasting = new Set<number>();
  for (const seat of seats)
    for (const hole of seat.holes) (seat.item.part.temporary ? temporary : lasting).add(grid.strip[hole]!);
  return new Set([...temporary].filter((strip) => !lasting.has(strip) && grid.stripKind[strip] === 0));
}

/** One wire of the layout from its draft and its way. */
export function wireOf(
  timeline: Timeline,
  grid: Grid,
  draft: WireDraft,
  path: LaidPath,
  options: FinishOptions,
  temporary: ReadonlySet<number>,
  lead?: string,
): Wire {
  const net = timeline.nets[draft.net]!;
  const style: WireStyle =
    lead !== undefined ? 'crimped' : !path.flat ? 'arched' : draft.link && path.pitches <= 2 ? 'jumper' : 'flat';
  const from = grid.name(draft.a);
  const to = grid.name(draft.b);
  const [x, y] = path.corners[0]!;
  return {
    id: wireId(net.name, from, to),
    net: net.name,
    from,
    to,
    cutMm: cutLength(path.pitches, style, options.slackMm, options.roundMm),
    colour: colourOf(timeline, draft.net),
    style,
    stage: draft.from,
    until: draft.until > timeline.stages ? undefined : draft.until,
    temporary: temporary.has(grid.strip[draft.a]!) || temporary.has(grid.strip[draft.b]!),
    lead,
    path: x === grid.x[draft.a] && y === grid.y[draft.a] ? path.corners : [...path.corners].reverse(),
  };
}

/** Wires in order of net, stage and holes; the same wire taken out and put in again is two pieces of work. */
export function orderWires(wires: readonly Wire[]): Wire[] {
  const sorted = [...wires].sort(
    (a, b) => compare(a.net, b.net) || a.stage - b.stage || compare(a.from, b.from) || compare(a.to, b.to),
  );
  const seen = new Map<string, number>();
  return sorted.map((wire) => {
    const count = (seen.get(wire.id) ?? 0) + 1;
    seen.set(wire.id, count);
    return count === 1 ? wire : { ...wire, id: `${wire.id}-${count}` };
  });
}

/** The wires of a layout, each with the way it lies. */
export function wiresOfDrafts(
  space: Space,
  timeline: Timeline,
  drafts: readonly WireDraft[],
  options: FinishOptions & {
    readonly seats: readonly Seat[];
    readonly before: readonly Wire[];
    /** Wires that are ways of crimped leads, and the bodies of these. */
    readonly leads: ReadonlyMap<WireDraft, string>;
    readonly housings: readonly PathObstacle[];
  },
): Wire[] {
  const { grid } = space;
  const lasting = drafts.filter((draft) => draft.until > draft.from);
  const before = new Map(options.before.map((wire) => [wire.id, wire]));
  const buses = new Map<string, number>();
  const jobs = lasting.map((draft) => jobOf(timeline, grid, draft, buses, before, options.leads.has(draft)));
  const paths = new Lanes(space, [
    ...options.seats.map(obstacleOf),
    ...options.seats.flatMap(leversOf),
    ...options.housings,
  ]).layAll(jobs);
  const temporary = temporaryStrips(grid, options.seats);
  return orderWires(
    lasting.map((draft, i) => wireOf(timeline, grid, draft, paths[i]!, options, temporary, options.leads.get(draft))),
  );
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0;
}
