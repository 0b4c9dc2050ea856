// How good a layout is, in the measures that benchmarks state: the placer's cost, and the length of wires against the sum of
// shortest trees. Read from the layout, not from the run that made it.

import type { Design } from '../netlist/index.ts';
import { freezeAcross } from './across.ts';
import type { LayoutChoices } from './choices.ts';
import { exchangePins } from './exchange.ts';
import { isAcross, keepSeats, openAnchors, openGround } from './ground.ts';
import { type Layout, layoutAt } from './model.ts';
import { solveTree } from './net-tree.ts';
import { createProblem, Placement } from './placement.ts';
import { slotsOf, variantAt } from './slots.ts';
import { timelineOf } from './timeline.ts';

/** The placer's cost of a layout: length of each net's tree, grown stage by stage, times the weight of its class; pitches. */
export function placementCost(machine: Design, choices: LayoutChoices, layout: Layout): number {
  const design = exchangePins(machine, layout.exchanges ?? []);
  const timeline = timelineOf(design);
  const ground = openGround(design, timeline, layout.boards, choices, [], (bare) => {
    keepSeats(bare, layout, true, new Set(), 'across');
  });
  keepSeats(ground, layout, true, new Set());
  const { grid, seats, rails } = ground;
  const slots = slotsOf(timeline.items).map((slot) => {
    const seat = seats.get(slot.items[0]!.index);
    const variant = seat === undefined ? undefined : variantAt(slot.items, seat.rotation, seat.firstRow);
    return variant === undefined ? slot : { ...slot, variants: [variant] };
  });
  const isRail = (net: number): boolean => rails.stripsOf.has(net) || timeline.nets[net]!.net.kind !== 'signal';
  const placement = new Placement(createProblem(timeline, slots, isRail, 1), grid);
  for (const slot of slots) {
    const seat = seats.get(slot.items[0]!.index);
    if (seat === undefined) continue;
    if (isAcross(ground, seat)) {
      freezeAcross(ground, placement, slot, seat);
      continue;
    }
    const hole = seat.holes[0]!;
    placement.put(slot.index, 0, grid.board[hole]!, grid.column[hole]! - 1 - slot.variants[0]!.firstColumn);
  }
  return placement.fullCost();
}

/**
 * As of the last stage, in pitches from hole to hole: the wires of signals, and the sum of their shortest trees if each
 * strip had holes enough of those that leads and bodies leave open.
 */
export function wiringTotals(
  machine: Design,
  choices: LayoutChoices,
  layout: Layout,
): { readonly length: number; readonly bound: number } {
  const design = exchangePins(machine, layout.exchanges ?? []);
  const timeline = timelineOf(design);
  const ground = openGround(design, timeline, layout.boards, choices, [], (bare) => {
    keepSeats(bare, layout, true, new Set(), 'across');
  });
  const everyone = new Set(timeline.items.map((item) => item.name));
  keepSeats(ground, layout, true, everyone);
  openAnchors(ground, design, layout);
  keepSeats(ground, layout, false, everyone);
  const { grid, space, rails, strips } = ground;
  const last = timeline.stages;
  const counted = new Set<string>();
  let bound = 0;
  for (const net of timeline.nets) {
    if (rails.stripsOf.has(net.index)) continue;
    counted.add(net.name);
    const own = new Set(
      strips
        .of(net.index)
        .filter((entry) => entry.from <= last && last < entry.until)
        .map((entry) => entry.strip),
    );
    bound += solveTree(
      [...own].map((strip) => {
        const holes = Array.from(grid.stripHoles.subarray(grid.stripStart[strip]!, grid.stripStart[strip + 1]!));
        const open = holes.filter((hole) => space.isOpen(hole, last, last + 1));
        return { x: grid.x[holes[0]!]!, ys: (open.length > 0 ? open : holes).map((hole) => grid.y[hole]!) };
      }),
      [],
      0,
      0,
    ).bound;
  }
  let length = 0;
  for (const wire of layoutAt(layout, last).wires) {
    if (!counted.has(wire.net)) continue;
    const a = grid.find(wire.from);
    const b = grid.find(wire.to);
    length += Math.abs(grid.x[a]! - grid.x[b]!) + Math.abs(grid.y[a]! - grid.y[b]!);
  }
  return { length, bound };
}
