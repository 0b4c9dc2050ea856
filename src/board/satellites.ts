// Seats for two-lead parts: capacitors at supply pins, pull-ups between a net and a rail, resistors beside their LED. Each
// goes where its leads reach strips of their nets; where that can't be, into free strips close by, which are wired later.

import { type BentFootprint, bentOffsets } from './footprint.ts';
import type { RailPlan } from './rails.ts';
import { bodiesOf, refusal, type Seat, seatBent } from './seat.ts';
import type { Space } from './space.ts';
import type { Item, Timeline } from './timeline.ts';

/** Strips that carry a net, as parts are seated. */
export class NetStrips {
  private readonly lists: Map<number, { strip: number; from: number; until: number }[]> = new Map();

  add(net: number, strip: number, from: number, until: number): void {
    const list = this.lists.get(net);
    if (list === undefined) this.lists.set(net, [{ strip, from, until }]);
    else list.push({ strip, from, until });
  }

  of(net: number): readonly { readonly strip: number; readonly from: number; readonly until: number }[] {
    return this.lists.get(net) ?? [];
  }

  /** As `of`, stretches of one strip that follow each other or overlap made one; in order of strip and stage. */
  runs(net: number): { readonly strip: number; readonly from: number; readonly until: number }[] {
    const sorted = [...this.of(net)].sort((a, b) => a.strip - b.strip || a.from - b.from || a.until - b.until);
    const runs: { strip: number; from: number; until: number }[] = [];
    for (const entry of sorted) {
      const last = runs[runs.length - 1];
      if (last !== undefined && last.strip === entry.strip && entry.from <= last.until)
        last.until = Math.max(last.until, entry.until);
      else runs.push({ ...entry });
    }
    return runs;
  }

  /** Notes the strips of a seated part. */
  addSeat(space: Space, seat: Seat): void {
    const { item } = seat;
    seat.holes.forEach((hole, i) => {
      const nets = item.pinOf.get(seat.numbers[i]!)!.nets;
      let start = item.from;
      for (let t = item.from + 1; t <= item.until; t++) {
        if (t < item.until && nets[t] === nets[start]) continue;
        if (nets[start]! >= 0) this.add(nets[start]!, space.grid.strip[hole]!, start, t);
        start = t;
      }
    });
  }
}

/** The order in which two-lead parts are seated: capacitors at chips, then what hangs on chips, then bulk and the rest. */
export function satelliteOrder(items: readonly Item[]): Item[] {
  const rank = (item: Item): number => {
    const kind = item.part.implied?.kind;
    if (kind === 'bypass') return 0;
    if (kind === 'bulk') return 5;
    if (item.part.record.symbol === 'crystal') return 1;
    if (kind === 'pull' || kind === 'strap') return 3;
    return kind === 'series' ? 4 : 2;
  };
  return items
    .filter((item) => item.footprint.kind === 'two-lead')
    .sort((a, b) => rank(a) - rank(b) || a.index - b.index);
}

const NEAR = [8, 16, 40, 400];

/** The best legal seat of a two-lead part, or undefined where there is none on these boards. */
export function findBentSeat(
  space: Space,
  timeline: Timeline,
  rails: RailPlan,
  strips: NetStrips,
  item: Item,
  servedHoles: readonly number[],
): Seat | undefined {
  const { grid } = space;
  const footprint = item.footprint as BentFootprint;
  const offsets = bentOffsets(footprint);
  const nets = footprint.numbers.map((number) => item.pinOf.get(number)!.nets[item.from]!);
  const focuses = focusHoles(space, rails, strips, item, nets, servedHoles);
  const cache = [new Map<number, number>(), new Map<number, number>()];
  /** What it costs to have lead `end` in that strip: 0 on its own net, the wire that it needs elsewhere. */
  const stripCost = (end: number, strip: number): number => {
    const known = cache[end]!.get(strip);
    if (known !== undefined) return known;
    const net = nets[end]!;
    let cost = 0;
    const owner = space.ownerAt(strip, item.from);
    if (net < 0) cost = owner === -1 && grid.stripKind[strip] === 0 ? 1 : 1000;
    else if (owner === net) {
      if (grid.stripKind[strip] === 0) {
        const open = space.openHoles(strip, item.from, item.until);
        const alone = timeline.nets[net]!.pins.length <= 2 && rails.stripsOf.get(net) === undefined;
        // One hole stays for the net's wires, two where they pass on.
        cost = alone ? 0 : open >= 3 ? 0 : open === 2 ? 2 : 60;
      }
    } else if (owner === -1 && grid.stripKind[strip] === 0 && space.openHoles(strip, item.from, item.until) >= 2)
      cost = 3 + nearest(space, rails, strips, net, strip, item.from);
    else cost = 1000;
    cache[end]!.set(strip, cost);
    return cost;
  };
  let best: Seat | undefined;
  for (const reach of NEAR) {
    let least = Number.POSITIVE_INFINITY;
    for (const focus of focuses) {
      const fx = grid.x[focus]!;
      const fy = grid.y[focus]!;
      const y0 = Math.max(0, fy - reach);
      const y1 = Math.min(grid.height - 1, fy + reach);
      const x0 = Math.max(0, fx - reach);
      const x1 = Math.min(grid.width - 1, fx + reach);
      for (let y = y0; y <= y1; y++) {
        for (let x = x0; x <= x1; x++) {
          const a = grid.at(x, y);
          if (a < 0) continue;
          const first = stripCost(0, grid.strip[a]!) + 0.15 * (Math.abs(x - fx) + Math.abs(y - fy));
          if (first >= least) continue;
          if (!space.isOpen(a, item.from, item.until)) continue;
          for (let k = 0; k < offsets.length; k++) {
            const [dx, dy] = offsets[k]!;
            const b = grid.at(x + dx, y + dy);
            if (b < 0 || grid.strip[a] === grid.strip[b]) continue;
            const cost =
              first +
              stripCost(1, grid.strip[b]!) +
              0.15 * (Math.abs(x + dx - fx) + Math.abs(y + dy - fy)) +
              (dx === 0 || dy === 0 ? 0 : 3) +
              0.5 * (Math.abs(dx) + Math.abs(dy));
            if (cost >= least || cost >= 900) continue;
            const seat = seatBent(space, item, a, b);
            if (seat === undefined || refusal(space, seat) !== undefined) continue;
            const whole = cost + shadowCost(space, seat);
            if (whole >= least) continue;
            least = whole;
            best = seat;
          }
        }
      }
    }
    if (best !== undefined && (least < reach * 1.5 || reach === NEAR[NEAR.length - 1])) return best;
  }
  return best;
}

/** What it costs that the body lies over holes: little, unless a strip in use would keep too few. */
function shadowCost(space: Space, seat: Seat): number {
  const { grid } = space;
  const { from, until } = seat.item;
  let cost = 0;
  const lost = new Map<number, number>();
  for (const hole of new Set(bodiesOf(seat).flatMap((body) => space.coveredBy(body)))) {
    if (seat.holes.includes(hole) || !space.isOpen(hole, from, until)) continue;
    const strip = grid.strip[hole]!;
    cost += 0.3;
    if (!space.accepts(strip, -1, from, until)) lost.set(strip, (lost.get(strip) ?? 0) + 1);
  }
  for (const [strip, count] of lost) {
    const left = space.openHoles(strip, from, until) - count;
    cost += left >= 3 ? 0 : left === 2 ? 4 : 80;
  }
  return cost;
}

/** Distance from a strip to the nearest strip or rail that carries the net at that stage (10 where there is none yet). */
function nearest(space: Space, rails: RailPlan, strips: NetStrips, net: number, strip: number, stage: number): number {
  const { grid } = space;
  let best = Number.POSITIVE_INFINITY;
  const h = grid.stripHoles[grid.stripStart[strip]!]!;
  const consider = (other: number): void => {
    const low = grid.stripHoles[grid.stripStart[other]!]!;
    const high = grid.stripHoles[grid.stripStart[other + 1]! - 1]!;
    const dx = Math.max(0, grid.x[low]! - grid.x[h]!, grid.x[h]! - grid.x[high]!);
    const dy = Math.max(0, grid.y[low]! - grid.y[h]! - 4, grid.y[h]! - grid.y[high]!);
    best = Math.min(best, dx + dy);
  };
  for (const other of rails.stripsOf.get(net) ?? []) consider(other);
  for (const other of strips.of(net)) if (other.from <= stage && stage < other.until) consider(other.strip);
  return best === Number.POSITIVE_INFINITY ? 10 : best;
}

/** Holes about which to look: the served pins, the pins of the part's signal nets, else the supply's entry. */
function focusHoles(
  space: Space,
  rails: RailPlan,
  strips: NetStrips,
  item: Item,
  nets: readonly number[],
  servedHoles: readonly number[],
): number[] {
  const { grid } = space;
  if (servedHoles.length > 0) return [...servedHoles];
  const holes: number[] = [];
  for (const net of nets) {
    if (net < 0 || rails.stripsOf.has(net)) continue;
    for (const entry of strips.of(net)) {
      if (entry.from < item.until && item.from < entry.until)
        holes.push(grid.stripHoles[grid.stripStart[entry.strip]! + 2]!);
    }
  }
  if (holes.length > 0) return holes.slice(0, 12);
  for (const entry of rails.entries) {
    if (entry.plus >= 0) holes.push(entry.plus);
  }
  return holes.length > 0 ? holes : [Math.floor(grid.holeCount / 2)];
}
