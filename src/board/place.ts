// How long to anneal, how often to start again, and which of the results to keep.

import { createRng } from '../base/index.ts';
import { anneal } from './anneal.ts';
import { exchangeDescent, type FreedomKind } from './exchange.ts';
import type { Exchange } from './model.ts';
import type { Placement, Saved } from './placement.ts';
import { spread } from './spread.ts';

export interface PlaceOptions {
  readonly seed: number;
  /** Moves in all, over all runs; by size unless given. */
  readonly moves: number | undefined;
  /** Freedoms that may be used once the parts stand. */
  readonly freedoms: readonly FreedomKind[];
  readonly shouldStop?: (() => boolean) | undefined;
  readonly onProgress?: ((progress: { share: number; cost: number; best: number }) => void) | undefined;
}

/** One start of the annealer. */
interface Run {
  readonly moves: number;
  readonly heat: number;
  /** From the order of the whole (spread.ts) instead of the construction part by part. */
  readonly isSpread: boolean;
}

/** Heats of the runs of larger machines: ordered blocks want less, tangles more. */
const HEATS = [0.5, 1, 0.25, 0.5];
/** The run from a spread start: its share of the moves, at most so many, and its heat, which must not melt the order. */
const SPREAD = { share: 0.15, most: 1_000_000, heat: 0.2 };

/**
 * The runs for a machine of `slots` parts. Small ones want many short starts (ten of 20,000 find the optimum of 4 to 6 chips
 * where one of 200,000 often does not); from 20 parts on the heats differ, since ordered machines melt at one at which others
 * still freeze: of planted machines of 24 chips about half the runs of a million moves end at the planted length. One short
 * run starts from the order of the whole, where nothing stands yet.
 */
export function planRuns(slots: number, moves: number | undefined, isFresh: boolean): Run[] {
  const usual = slots <= 7 ? 200_000 : slots <= 19 ? 720_000 : slots <= 40 ? 3_000_000 : 6_000_000;
  const all = moves ?? usual;
  const count =
    slots <= 7 ? 10 : slots <= 19 ? 6 : slots <= 40 ? Math.min(8, Math.max(4, Math.floor(all / 1_000_000))) : 2;
  const spreads = slots >= 20 && isFresh ? Math.min(SPREAD.most, Math.floor(all * SPREAD.share)) : 0;
  const runs = Array.from({ length: count }, (_, i) => ({
    moves: Math.floor((all - spreads) / count),
    heat: slots >= 20 ? HEATS[i % HEATS.length]! : 1,
    isSpread: false,
  }));
  return spreads === 0 ? runs : [...runs, { moves: spreads, heat: SPREAD.heat, isSpread: true }];
}

/** Anneals from the constructed placement as often as planned and leaves the best. */
export function place(
  placement: Placement,
  options: PlaceOptions,
): { readonly cost: number; readonly exchanges: readonly Exchange[] } {
  const start = placement.save();
  let best = Number.POSITIVE_INFINITY;
  let kept: Saved = start;
  let movable = 0;
  for (let p = 0; p < placement.problem.slotCount; p++)
    if (placement.fixed[p] === 0 && placement.board[p]! >= 0) movable++;
  if (movable === 0) return { cost: placement.fullCost(), exchanges: [] };
  const runs = planRuns(movable, options.moves, movable === placement.problem.slotCount);
  for (const [index, run] of runs.entries()) {
    if (index > 0 && options.shouldStop?.() === true) break;
    placement.load(start);
    if (run.isSpread && !spread(placement)) continue;
    const cost = anneal(placement, {
      moves: run.moves,
      heat: run.heat,
      rng: createRng(options.seed * 1009 + index),
      ...(options.shouldStop === undefined ? {} : { shouldStop: options.shouldStop }),
      onProgress: (share, now, least) =>
        options.onProgress?.({
          share: (index + share) / runs.length,
          cost: now,
          best: Math.min(best, least),
        }),
    });
    if (cost < best - 1e-7) {
      best = cost;
      kept = placement.save();
    }
  }
  placement.load(kept);
  const exchanges =
    options.freedoms.length === 0
      ? []
      : exchangeDescent(placement, options.freedoms, (slot) => placement.fixed[slot] !== 0);
  return { cost: placement.fullCost(), exchanges };
}
