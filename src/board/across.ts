// Chips and modules that stand better across two boards than on one: their rows in the terminal fields of boards joined one
// below the other. They are seated before the rest is placed, which then arranges itself round them.

import { type Ground, isAcross } from './ground.ts';
import type { Placement } from './placement.ts';
import { bodiesOf, refusal, type Seat, seatRigid } from './seat.ts';
import type { Slot } from './slots.ts';

/** Holes that a pin should keep open; with so many a part stays on one board. */
const ENOUGH = 2;

/** The fewest open holes that a pin with a net keeps in the best way to stand on one board; -1 where there is none. */
function bestOnOneBoard(slot: Slot): number {
  let best = -1;
  for (const variant of slot.variants) {
    let least = 5;
    for (const [number, pin] of variant.pins)
      if (slot.items.some((item) => item.pinOf.get(number)!.nets.some((net) => net >= 0)))
        least = Math.min(least, pin.free);
    best = Math.max(best, least);
  }
  return best;
}

/** The fewest holes that a pin with a net keeps in this seat, leads and body of the part itself counted. */
function openAt(ground: Ground, seat: Seat): number {
  const { grid, space } = ground;
  const lost = new Set([...seat.holes, ...bodiesOf(seat).flatMap((body) => space.coveredBy(body))]);
  let least = 5;
  seat.holes.forEach((hole, i) => {
    if (!seat.item.pinOf.get(seat.numbers[i]!)!.nets.some((net) => net >= 0)) return;
    const strip = grid.strip[hole]!;
    let open = 0;
    for (let h = grid.stripStart[strip]!; h < grid.stripStart[strip + 1]!; h++) {
      const other = grid.stripHoles[h]!;
      if (!lost.has(other) && space.isOpen(other, seat.item.from, seat.item.until)) open++;
    }
    least = Math.min(least, open);
  });
  return least;
}

/** Seats across two boards what finds too few holes, or no place, on one; `seatIt` puts a part down. */
export function seatAcross(ground: Ground, slots: readonly Slot[], seatIt: (seat: Seat) => void): void {
  const { grid, space, seats } = ground;
  for (const slot of slots) {
    if (slot.items.some((item) => seats.has(item.index))) continue;
    const onOne = bestOnOneBoard(slot);
    if (onOne >= ENOUGH) continue;
    let best: readonly Seat[] | undefined;
    let most = Number.NEGATIVE_INFINITY;
    for (let hole = 0; hole < grid.holeCount; hole++) {
      if (grid.stripKind[grid.strip[hole]!] !== 0) continue;
      for (const rotation of [0, 180] as const) {
        const first = seatRigid(space, slot.items[0]!, hole, rotation);
        if (first === undefined || !isAcross(ground, first)) continue;
        if (first.holes.some((other) => grid.stripKind[grid.strip[other]!] !== 0)) continue;
        const open = openAt(ground, first);
        const away = Math.abs(grid.x[hole]! - grid.width / 2) + Math.abs(grid.y[hole]! - grid.height / 2);
        const score = open * 1000 - away;
        if (open <= onOne || score <= most) continue;
        const all = slot.items.flatMap((item) => seatRigid(space, item, hole, rotation) ?? []);
        if (all.length < slot.items.length || all.some((seat) => refusal(space, seat) !== undefined)) continue;
        most = score;
        best = all;
      }
    }
    for (const seat of best ?? []) seatIt(seat);
  }
}

/** Tells the placer of a part across two boards: it keeps others off, and its pins draw their nets to where they are. */
export function freezeAcross(ground: Ground, placement: Placement, slot: Slot, seat: Seat): void {
  const { grid, space } = ground;
  const { problem } = placement;
  for (const hole of new Set([...seat.holes, ...space.coveredBy(seat.body)]))
    if (grid.stripKind[grid.strip[hole]!] === 0)
      placement.bar(grid.board[hole]!, grid.row[hole]! < 7 ? 0 : 1, grid.column[hole]! - 1);
  const first = seat.holes[0]!;
  placement.freeze(slot.index, grid.board[first]!, grid.column[first]! - 1);
  for (let j = problem.slotStart[slot.index]!; j < problem.slotStart[slot.index + 1]!; j++) {
    const end = problem.slotEnds[j]!;
    const hole = seat.holes[seat.numbers.indexOf(problem.endPin[end]!)] ?? first;
    const strip = grid.strip[hole]!;
    const ys = Array.from(grid.stripHoles.subarray(grid.stripStart[strip]!, grid.stripStart[strip + 1]!))
      .filter((other) => other !== hole && space.isOpen(other, seat.item.from, seat.item.until))
      .map((other) => grid.y[other]!);
    if (ys.length === 0) ys.push(grid.y[hole]!);
    placement.x[end] = grid.x[hole]!;
    placement.low[end] = Math.min(...ys);
    placement.high[end] = Math.max(...ys);
  }
}
