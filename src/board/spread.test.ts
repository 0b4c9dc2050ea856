import { expect, test } from 'vitest';
import { plantedMachine } from '../../benchmarks/machines/grouped.ts';
import { designOf, randomDesign } from '../../benchmarks/machines/random-design.ts';
import { createRng } from '../base/index.ts';
import { anneal } from './anneal.ts';
import { placeBoards } from './arrange.ts';
import { createGrid } from './geometry.ts';
import { createProblem, Placement } from './placement.ts';
import { slotsOf } from './slots.ts';
import { spread } from './spread.ts';
import { timelineOf } from './timeline.ts';

function bare(design: ReturnType<typeof designOf>, across: number, down: number): Placement {
  const boards = placeBoards(
    Array.from({ length: across * down }, (_, i) => ({
      kind: 'full',
      column: (i % across) + 1,
      row: Math.floor(i / across) + 1,
    })),
  );
  const timeline = timelineOf(design);
  const isRail = (net: number): boolean => timeline.nets[net]!.net.kind !== 'signal';
  return new Placement(createProblem(timeline, slotsOf(timeline.items), isRail, 1), createGrid(boards));
}

test('the order of planted machines is found from their connections alone', () => {
  for (const [rows, per, across] of [
    [4, 3, 2],
    [5, 4, 3],
  ] as const) {
    const { machine, length } = plantedMachine(rows, per, across);
    const placement = bare(designOf(machine), across, rows + 2);
    expect(spread(placement)).toBe(true);
    expect(placement.fullCost() / length).toBeLessThan(1.12);
    expect(anneal(placement, { moves: 100_000, heat: 0.2, rng: createRng(1) }) / length).toBeLessThan(1.06);
  }
});

test('every part has a place of its own, or none is claimed', () => {
  for (let seed = 1; seed <= 6; seed++) {
    const placement = bare(randomDesign(seed, { chips: 6 + seed, stages: 2, odd: true }), 1, 3 + (seed % 3));
    if (!spread(placement)) continue;
    for (let slot = 0; slot < placement.problem.slotCount; slot++) {
      const at = [placement.variant[slot]!, placement.board[slot]!, placement.column[slot]!] as const;
      placement.remove(slot);
      expect(placement.blockers(slot, ...at)).toBe(0);
      placement.put(slot, ...at);
    }
  }
});
