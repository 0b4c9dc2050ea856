// The parts that the placer moves, each with the ways it can stand on a board: rotation, rows, columns covered, and which
// holes of each pin's strip stay free. Pure tables; boards and costs come in elsewhere.

import { reachOf, type Rotation, ROTATIONS, turned, zonesOf } from './footprint.ts';
import { ROWS } from './geometry.ts';
import type { Item } from './timeline.ts';

/** One way a part can stand. Columns count from the leftmost that the part or its body covers. */
export interface Variant {
  readonly rotation: Rotation;
  /** Index into ROWS of the first lead, and its column. */
  readonly row: number;
  readonly firstColumn: number;
  /** Columns covered. */
  readonly length: number;
  /** 1 upper half, 2 lower half, 3 both. */
  readonly halves: number;
  /** By pin number: column, and the least and greatest y (pitches from the top rail) of free holes in its strip. */
  readonly pins: ReadonlyMap<
    number,
    { readonly column: number; readonly low: number; readonly high: number; readonly free: number }
  >;
}

/** A place that one part takes; a part that replaces another of the same shape takes the same place. */
export interface Slot {
  readonly index: number;
  readonly items: readonly Item[];
  readonly variants: readonly Variant[];
}

const ROW_AT = new Map(ROWS.map((row, index) => [row.y, index]));
/** Rows in which a part with a single row of leads may stand: next to the gutter or at the outer edge of a strip. */
const SINGLE_ROWS = [6, 7, 2, 11];
/** By how much a body may reach into a column before that counts as covered, pitches. */
const REACH = 0.12;

/** The slots of all rigid parts, in order of the items. */
export function slotsOf(items: readonly Item[]): Slot[] {
  const byShape = new Map<string, Item[]>();
  const order: Item[][] = [];
  for (const item of items) {
    if (item.footprint.kind !== 'rigid') continue;
    const key = `${item.name}\n${JSON.stringify(item.footprint)}`;
    const list = byShape.get(key);
    const clash = list?.some((other) => other.from < item.until && item.from < other.until) ?? true;
    // A part that moves looks for a place of its own.
    if (list !== undefined && !clash && item.movedFrom === undefined) list.push(item);
    else {
      const fresh = [item];
      byShape.set(key, fresh);
      order.push(fresh);
    }
  }
  return order.map((list, index) => ({ index, items: list, variants: variantsOf(list) }));
}

function variantsOf(items: readonly Item[]): Variant[] {
  const footprint = items[0]!.footprint;
  if (footprint.kind !== 'rigid') return [];
  const single = footprint.leads.every((lead) => lead.dy === 0);
  const rows = single ? SINGLE_ROWS : ROWS.map((_, index) => index).slice(2, 12);
  const found: { variant: Variant; least: number }[] = [];
  for (const rotation of ROTATIONS) {
    if (single && rotation % 180 !== 0 && footprint.leads.length > 1) continue;
    for (const row of rows) {
      const variant = variantAt(items, rotation, row);
      if (variant === undefined) continue;
      let least = 5;
      for (const [number, pin] of variant.pins)
        if (items.some((item) => item.pinOf.get(number)!.nets.some((net) => net >= 0)))
          least = Math.min(least, pin.free);
      found.push({ variant, least });
    }
  }
  // A pin with one open hole can only end a chain, and with none cannot be wired: such stances only where there is no other.
  const enough = Math.min(2, Math.max(0, ...found.map((entry) => entry.least)));
  return found.filter((entry) => entry.least >= enough).map((entry) => entry.variant);
}

/** The part turned so, with its first lead in `row` (an index into ROWS); undefined where that is not legal on any board. */
export function variantAt(items: readonly Item[], rotation: Rotation, row: number): Variant | undefined {
  const footprint = items[0]!.footprint;
  if (footprint.kind !== 'rigid') return undefined;
  const shape = turned(footprint, rotation);
  const y0 = ROWS[row]!.y;
  const strips = new Map<string, number[]>();
  let halves = 0;
  for (const lead of shape.leads) {
    const r = ROW_AT.get(y0 + lead.dy);
    if (r === undefined || r < 2 || r > 11) return undefined;
    halves |= r < 7 ? 1 : 2;
    const key = `${lead.dx}/${r < 7 ? 'u' : 'l'}`;
    const mates = strips.get(key) ?? [];
    if (mates.some((mate) => !items.every((item) => mayShare(item, mate, lead.number)))) return undefined;
    strips.set(key, [...mates, lead.number]);
  }
  const box = shape.body;
  if (y0 + box.y0 < 9.5 && y0 + box.y1 > 9.5) halves = 3;
  // What it keeps clear beyond its ends counts as covered; the free column between parts is a part of a grip.
  const zones = items.flatMap((item) => zonesOf(box, reachOf(item.part.record, item.part.comesOut), rotation));
  const x0 = Math.min(box.x0, ...zones.map((zone) => zone.box.x0 + 1));
  const x1 = Math.max(box.x1, ...zones.map((zone) => zone.box.x1 - 1));
  const left = Math.min(...shape.leads.map((lead) => lead.dx), Math.floor(x0 + 0.5 + REACH));
  const right = Math.max(...shape.leads.map((lead) => lead.dx), Math.ceil(x1 - 0.5 - REACH));
  const pins = new Map<number, { column: number; low: number; high: number; free: number }>();
  for (const lead of shape.leads) {
    const own = ROW_AT.get(y0 + lead.dy)!;
    let low = 99;
    let high = -1;
    let free = 0;
    for (let r = own < 7 ? 2 : 7; r < (own < 7 ? 7 : 12); r++) {
      const dy = ROWS[r]!.y - y0;
      if (shape.leads.some((other) => other.dx === lead.dx && other.dy === dy)) continue;
      const under = dy > box.y0 + 0.05 && dy < box.y1 - 0.05 && lead.dx > box.x0 + 0.05 && lead.dx < box.x1 - 0.05;
      if (under) continue;
      free++;
      low = Math.min(low, ROWS[r]!.y);
      high = Math.max(high, ROWS[r]!.y);
    }
    if (free === 0) {
      low = y0 + lead.dy;
      high = low;
    }
    pins.set(lead.number, { column: lead.dx - left, low, high, free });
  }
  return { rotation, row, firstColumn: -left, length: right - left + 1, halves, pins };
}

function mayShare(item: Item, a: number, b: number): boolean {
  const group = item.joined.get(a);
  if (group !== undefined && group === item.joined.get(b)) return true;
  const x = item.pinOf.get(a)!.nets;
  const y = item.pinOf.get(b)!.nets;
  for (let t = item.from; t < item.until; t++) if (x[t]! < 0 || x[t] !== y[t]) return false;
  return true;
}
