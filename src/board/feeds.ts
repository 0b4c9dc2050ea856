// How often the builder's supply has to be led to the boards, and how many wires a bridge between rails needs, from the
// greatest current that the records print. Chooses holes; the rails' tree of links is rails.ts.

import type { Design, NetPart } from '../netlist/index.ts';
import type { Ground } from './ground.ts';
import type { Layout } from './model.ts';
import type { RailLink } from './rails.ts';

/**
 * mA that one contact of a board passes at most: boards are rated 1 A at 5 V (encyclopaedia entry on breadboards, design
 * section); half of that is used, so that a tired contact does not get hot (common practice, no source).
 */
export const FEED_MA = 500;
/** mA of a part whose current nobody printed, and of one lamp: common practice, no source. */
const UNKNOWN_MA = 30;
const LAMP_MA = 10;

/** mA that a part draws at most: the figure of its grade, its family or its record; typical where no greatest is printed. */
export function milliampsOf(part: NetPart): number {
  // One resistor, one lamp.
  if (part.implied?.kind === 'series') return LAMP_MA;
  const { record } = part;
  if (record.category === 'supply' || record.category === 'connector') return 0;
  if (!record.pins.some((pin) => pin.kind === 'supply')) return 0;
  const grades = record.grades as Readonly<Record<string, { readonly current?: Current }>> | undefined;
  const figure =
    grades?.[part.grade ?? '']?.current ??
    grades?.[part.family ?? '']?.current ??
    (record as { readonly current?: Current }).current;
  return figure?.max ?? figure?.typ ?? UNKNOWN_MA;
}

interface Current {
  readonly typ?: number | undefined;
  readonly max?: number | undefined;
}

/** The stage at which most is drawn, and mA in all. */
export function worstCurrent(design: Design): { readonly stage: number; readonly milliamps: number } {
  let worst = { stage: 0, milliamps: 0 };
  design.netlists.forEach((netlist, stage) => {
    const milliamps = netlist.parts.reduce((sum, part) => sum + milliampsOf(part), 0);
    if (milliamps > worst.milliamps) worst = { stage, milliamps };
  });
  return worst;
}

export interface FeedPlan {
  /** Further holes for the leads of the supply that has the rails. */
  readonly feeds: readonly { readonly plus: number; readonly ground: number }[];
  /** Further wires of a link, by the strip that it joins to the rest. */
  readonly doubled: ReadonlyMap<number, readonly RailLink[]>;
}

/**
 * Feeds: as many as the greatest current needs at `FEED_MA` each, the first where the builder says, each further one on the
 * rail where it relieves the fullest link most. Current is taken to come from the nearest feed along the links. A link that
 * would still carry more gets further wires. Feeds of `previous` stay.
 */
export function planFeeds(ground: Ground, design: Design, previous?: Layout): FeedPlan {
  const { rails, grid, space, timeline } = ground;
  const worst = worstCurrent(design);
  const doubled = new Map<number, RailLink[]>();
  const feeds: { plus: number; ground: number }[] = [];
  const entry = rails.entries.find((one) => one.plus >= 0 && one.ground >= 0);
  if (entry === undefined || worst.milliamps <= FEED_MA) return { feeds, doubled };
  const plusNet = rails.netOf[grid.strip[entry.plus]!]!;
  const groundNet = rails.netOf[grid.strip[entry.ground]!]!;
  const drawn = {
    plus: currentByStrip(ground, design, worst.stage, plusNet),
    ground: currentByStrip(ground, design, worst.stage, groundNet),
  };
  const plusRoots = [grid.strip[entry.plus]!];
  const groundRoots = [grid.strip[entry.ground]!];
  const open = (strip: number): number => {
    for (let h = grid.stripStart[strip]!; h < grid.stripStart[strip + 1]!; h++)
      if (space.isOpen(grid.stripHoles[h]!, 1, timeline.stages + 1)) return grid.stripHoles[h]!;
    return -1;
  };
  const feed = (plus: number, minus: number): void => {
    plusRoots.push(grid.strip[plus]!);
    groundRoots.push(grid.strip[minus]!);
    for (const hole of [plus, minus]) space.take(hole, 1, timeline.stages + 1);
    feeds.push({ plus, ground: minus });
  };
  for (const old of (previous?.entries ?? []).filter((one) => one.supply === entry.supply).slice(1)) {
    const [plus, minus] = [grid.find(old.plus), grid.find(old.ground)];
    if (plus < 0 || minus < 0 || rails.netOf[grid.strip[plus]!] !== plusNet) continue;
    if (rails.netOf[grid.strip[minus]!] !== groundNet || feeds.length + 1 >= worst.milliamps / FEED_MA) continue;
    if ([plus, minus].every((hole) => space.isOpen(hole, 1, timeline.stages + 1))) feed(plus, minus);
  }
  while (feeds.length + 1 < worst.milliamps / FEED_MA) {
    let best: { plus: number; ground: number } | undefined;
    let least = Number.POSITIVE_INFINITY;
    for (const plus of rails.stripsOf.get(plusNet) ?? []) {
      if (plusRoots.includes(plus) || open(plus) < 0) continue;
      const mate = (rails.stripsOf.get(groundNet) ?? []).find((strip) => isBeside(ground, plus, strip));
      if (mate === undefined || open(mate) < 0) continue;
      const flow = flowOf(ground, plusNet, [...plusRoots, plus], drawn.plus);
      if (flow.most < least - 1e-6) {
        least = flow.most;
        best = { plus, ground: mate };
      }
    }
    if (best === undefined) break;
    feed(open(best.plus), open(best.ground));
  }
  for (const [net, roots, current] of [
    [plusNet, plusRoots, drawn.plus],
    [groundNet, groundRoots, drawn.ground],
  ] as const)
    for (const [strip, milliamps] of flowOf(ground, net, roots, current).links) {
      const link = rails.links.get(strip)!;
      for (let wires = Math.ceil(milliamps / FEED_MA); wires > 1; wires--) {
        const more = secondWire(ground, link);
        if (more === undefined) break;
        for (const hole of [more.from, more.to]) space.take(hole, 1, timeline.stages + 1);
        const list = doubled.get(strip);
        if (list === undefined) doubled.set(strip, [more]);
        else list.push(more);
      }
    }
  return { feeds, doubled };
}

/** Two rails of one pair and one side of a break. */
function isBeside({ grid }: Ground, a: number, b: number): boolean {
  const [p, q] = [grid.stripHoles[grid.stripStart[a]!]!, grid.stripHoles[grid.stripStart[b]!]!];
  return Math.abs(grid.y[p]! - grid.y[q]!) === 1 && grid.x[p] === grid.x[q];
}

/** mA by rail segment: what each part draws comes from the segment nearest to its pins of that net. */
function currentByStrip(ground: Ground, design: Design, stage: number, net: number): Map<number, number> {
  const { grid, rails, seats, timeline } = ground;
  const drawn = new Map<number, number>();
  const parts = new Map(design.netlists[stage]!.parts.map((part) => [part.name, part]));
  for (const item of timeline.items) {
    if (stage < item.from || stage >= item.until) continue;
    const part = parts.get(item.name);
    const seat = seats.get(item.index);
    const milliamps = part === undefined ? 0 : milliampsOf(part);
    if (milliamps === 0 || seat === undefined) continue;
    const at = seat.holes.find((_, i) => item.pinOf.get(seat.numbers[i]!)!.nets[stage] === net) ?? seat.holes[0]!;
    let best = -1;
    let least = Number.POSITIVE_INFINITY;
    for (const strip of rails.stripsOf.get(net) ?? []) {
      const first = grid.stripHoles[grid.stripStart[strip]!]!;
      const last = grid.stripHoles[grid.stripStart[strip + 1]! - 1]!;
      const d =
        Math.max(0, grid.x[first]! - grid.x[at]!, grid.x[at]! - grid.x[last]!) + Math.abs(grid.y[first]! - grid.y[at]!);
      if (d < least) {
        least = d;
        best = strip;
      }
    }
    if (best >= 0) drawn.set(best, (drawn.get(best) ?? 0) + milliamps);
  }
  return drawn;
}

/** mA on each link and the most that any link or feed carries, when every segment draws from the feed nearest along the links. */
function flowOf(
  ground: Ground,
  net: number,
  roots: readonly number[],
  drawn: ReadonlyMap<number, number>,
): { readonly most: number; readonly links: ReadonlyMap<number, number> } {
  const { rails, grid } = ground;
  const next = new Map<number, { strip: number; link: number; length: number }[]>();
  const add = (a: number, b: number, link: number, length: number): void => {
    const list = next.get(a);
    if (list === undefined) next.set(a, [{ strip: b, link, length }]);
    else list.push({ strip: b, link, length });
  };
  for (const strip of rails.stripsOf.get(net) ?? []) {
    const link = rails.links.get(strip);
    if (link === undefined) continue;
    const length = Math.abs(grid.x[link.from]! - grid.x[link.to]!) + Math.abs(grid.y[link.from]! - grid.y[link.to]!);
    add(strip, link.parent, strip, length + 1);
    add(link.parent, strip, strip, length + 1);
  }
  const reached = new Map<number, { from: number; link: number; d: number }>();
  const queue = roots.map((strip) => ({ strip, from: -1, link: -1, d: 0 }));
  const order: number[] = [];
  while (queue.length > 0) {
    let first = 0;
    for (let i = 1; i < queue.length; i++) if (queue[i]!.d < queue[first]!.d) first = i;
    const [at] = queue.splice(first, 1);
    if (reached.has(at!.strip)) continue;
    reached.set(at!.strip, at!);
    order.push(at!.strip);
    for (const { strip, link, length } of next.get(at!.strip) ?? [])
      if (!reached.has(strip)) queue.push({ strip, from: at!.strip, link, d: at!.d + length });
  }
  const through = new Map<number, number>(drawn);
  const links = new Map<number, number>();
  let most = 0;
  for (const strip of order.reverse()) {
    const { from, link } = reached.get(strip)!;
    const milliamps = through.get(strip) ?? 0;
    if (milliamps > most) most = milliamps;
    if (from < 0) continue;
    links.set(link, milliamps);
    through.set(from, (through.get(from) ?? 0) + milliamps);
  }
  return { most, links };
}

/** The shortest further wire between the two rails of a link. */
function secondWire(ground: Ground, link: RailLink): RailLink | undefined {
  const { grid, space, timeline } = ground;
  const holes = (strip: number): number[] =>
    Array.from(grid.stripHoles.subarray(grid.stripStart[strip]!, grid.stripStart[strip + 1]!)).filter((hole) =>
      space.isOpen(hole, 1, timeline.stages + 1),
    );
  let best: RailLink | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const from of holes(link.strip))
    for (const to of holes(link.parent)) {
      const away = Math.abs(grid.x[from]! - grid.x[link.from]!);
      const d = Math.abs(grid.x[from]! - grid.x[to]!) + Math.abs(grid.y[from]! - grid.y[to]!) + away * 0.01;
      if (d < least) {
        least = d;
        best = { strip: link.strip, parent: link.parent, from, to };
      }
    }
  return best;
}
