// Seating one part: from a place to the holes of its leads, whether that is legal, and putting it there or taking it away.

import {
  type Body,
  bodyOfBent,
  bodyOfBox,
  directionOf,
  lineOfBent,
  reachOf,
  type Rotation,
  turned,
  zonesOf,
} from './footprint.ts';
import type { Refusal, Space } from './space.ts';
import type { Item } from './timeline.ts';

/** Where a part stands: the hole of each lead, in the order of its footprint's leads. */
export interface Seat {
  readonly item: Item;
  readonly rotation: Rotation;
  readonly numbers: readonly number[];
  readonly holes: readonly number[];
  readonly body: Body;
  /** The bare leads of a bent part, from hole to hole: nothing conducting may come near them. */
  readonly line: Body | undefined;
  /** Beyond its ends, where nothing tall may stand; over those of a lever no wire may arch. */
  readonly zones: readonly { readonly body: Body; readonly isLever: boolean }[];
  /** Index into ROWS of the first lead. */
  readonly firstRow: number;
  readonly fixed: boolean;
}

/** The code under which a strip belongs to a pin without net. */
export function loneCode(item: Item, number: number): number {
  const group = item.joined.get(number);
  return -2 - (item.index * 512 + (group === undefined ? number : 256 + group));
}

/** The seat of a rigid part whose first lead stands in `hole`; undefined where a lead finds no hole. */
export function seatRigid(space: Space, item: Item, hole: number, rotation: Rotation, fixed = false): Seat | undefined {
  const footprint = item.footprint;
  if (footprint.kind !== 'rigid') return undefined;
  const { grid } = space;
  const at = turned(footprint, rotation);
  const x = grid.x[hole]!;
  const y = grid.y[hole]!;
  const holes: number[] = [];
  const numbers: number[] = [];
  for (const lead of at.leads) {
    const h = grid.at(x + lead.dx, y + lead.dy);
    if (h < 0) return undefined;
    holes.push(h);
    numbers.push(lead.number);
  }
  return {
    item,
    rotation,
    numbers,
    holes,
    body: bodyOfBox(at.body, x, y),
    line: undefined,
    zones: zonesOf(at.body, reachOf(item.part.record, item.part.comesOut), rotation).map(({ box, isLever }) => ({
      body: bodyOfBox(box, x, y),
      isLever,
    })),
    firstRow: grid.row[hole]!,
    fixed,
  };
}

/** The seat of a two-lead part. */
export function seatBent(space: Space, item: Item, first: number, second: number, fixed = false): Seat | undefined {
  const footprint = item.footprint;
  if (footprint.kind !== 'two-lead' || first === second) return undefined;
  const { x, y } = space.grid;
  return {
    item,
    rotation: directionOf(x[second]! - x[first]!, y[second]! - y[first]!),
    numbers: footprint.numbers,
    holes: [first, second],
    body: bodyOfBent(footprint, x[first]!, y[first]!, x[second]!, y[second]!),
    line: lineOfBent(x[first]!, y[first]!, x[second]!, y[second]!),
    zones: [],
    firstRow: space.grid.row[first]!,
    fixed,
  };
}

/** Why the part may not sit there, or undefined where it may. */
export function refusal(space: Space, seat: Seat): Refusal | undefined {
  const { item } = seat;
  const { grid } = space;
  for (let i = 0; i < seat.holes.length; i++) {
    const hole = seat.holes[i]!;
    const number = seat.numbers[i]!;
    if (space.isUsed(hole, item.from, item.until)) return { why: 'taken', hole };
    if (!space.isOpen(hole, item.from, item.until)) return { why: 'covered', hole };
    const strip = grid.strip[hole]!;
    const pin = item.pinOf.get(number)!;
    if (!space.acceptsPin(strip, pin.nets, loneCode(item, number), item.from, item.until))
      return { why: 'strip', hole };
    for (let k = 0; k < i; k++) {
      const other = seat.holes[k]!;
      if (other === hole) return { why: 'taken', hole };
      if (grid.strip[other] === strip && !alike(item, seat.numbers[k]!, number)) return { why: 'strip', hole };
    }
  }
  const own = new Set(seat.holes);
  for (const body of bodiesOf(seat)) {
    const owner = space.bodyInTheWay(body, item.from, item.until);
    if (owner !== undefined) return { why: 'body', owner };
    for (const hole of space.coveredBy(body)) {
      if (!own.has(hole) && space.isUsed(hole, item.from, item.until)) return { why: 'taken', hole };
    }
  }
  if (isTall(seat)) {
    const inZone = space.zoneInTheWay(seat.body, item.from, item.until);
    if (inZone !== undefined) return { why: 'body', owner: inZone };
  }
  return undefined;
}

/** mm above the board from which on a small part is in the way of a lever or a tool: common practice, no source. */
const TALL_MM = 8;

function isTall(seat: Seat): boolean {
  return seat.item.footprint.kind === 'two-lead' && (seat.item.part.record.package.body?.height ?? 0) > TALL_MM;
}

/** All that a part takes of the room above the boards. */
export function bodiesOf(seat: Seat): readonly Body[] {
  return seat.line === undefined ? [seat.body] : [seat.body, seat.line];
}

/** Whether two leads of one part may share a strip: on one net at every stage, or one conductor inside. */
function alike(item: Item, a: number, b: number): boolean {
  const group = item.joined.get(a);
  if (group !== undefined && group === item.joined.get(b)) return true;
  const x = item.pinOf.get(a)!.nets;
  const y = item.pinOf.get(b)!.nets;
  for (let t = item.from; t < item.until; t++) if (x[t]! < 0 || x[t] !== y[t]) return false;
  return true;
}

export function sit(space: Space, seat: Seat): void {
  const { item } = seat;
  // The body first: the part's own leads stand under it without harm.
  for (const body of bodiesOf(seat)) space.addBody(body, item.from, item.until, item.index);
  for (const { body } of seat.zones) space.addZone(body, item.from, item.until, item.index);
  seat.holes.forEach((hole, i) => {
    space.take(hole, item.from, item.until);
    const strip = space.grid.strip[hole]!;
    const number = seat.numbers[i]!;
    // A leg that needs no wire may stand in the strip of the one of its conductor that has the net.
    const mate = seat.holes.findIndex(
      (other, k) => k !== i && space.grid.strip[other] === strip && hasNet(item, seat.numbers[k]!),
    );
    const named = !hasNet(item, number) && mate >= 0 ? seat.numbers[mate]! : number;
    space.claimPin(strip, item.pinOf.get(named)!.nets, loneCode(item, named), item.from, item.until);
  });
}

function hasNet(item: Item, number: number): boolean {
  return item.pinOf.get(number)!.nets.some((net) => net >= 0);
}

export function unsit(space: Space, seat: Seat): void {
  const { item } = seat;
  space.removeBody(item.index);
  for (const hole of seat.holes) {
    space.release(hole, item.from, item.until);
    space.unclaim(space.grid.strip[hole]!, item.from, item.until);
  }
}
