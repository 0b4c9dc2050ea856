// The placer proper: simulated annealing over a placement, with a mix of moves from a shift by a few columns to an exchange
// of whole regions. Temperatures, windows and the mix are those that did best in trials on machines of 12 to 90 chips;
// every number of moves gives the same result for the same seed.

import type { Rng } from '../base/index.ts';
import { RegionMoves } from './anneal-regions.ts';
import type { Placement, Saved } from './placement.ts';

/** Share of the run and temperature in weighted pitches; geometric in between. */
const SCHEDULE: readonly (readonly [number, number])[] = [
  [0, 120],
  [0.15, 70],
  [0.85, 12],
  [1, 3],
];
/** Relative shares of the moves. */
const MIX: readonly (readonly [MoveKind, number])[] = [
  ['shift', 0.2],
  ['attract', 0.15],
  ['swap', 0.08],
  ['turn', 0.12],
  ['push', 0.15],
  ['group', 0.05],
  ['segment', 0.015],
  ['mirror', 0.01],
  ['window', 0.08],
  ['cluster', 0.14],
  ['boards', 0.005],
  ['cycle', 0.04],
];
const LEAST_WINDOW_COLUMNS = 15;
const LEAST_WINDOW_BOARDS = 1.6;

type MoveKind =
  | 'shift'
  | 'attract'
  | 'swap'
  | 'turn'
  | 'push'
  | 'group'
  | 'segment'
  | 'mirror'
  | 'window'
  | 'cluster'
  | 'boards'
  | 'cycle';

export interface AnnealOptions {
  readonly moves: number;
  readonly rng: Rng;
  /** Factor on all temperatures; 1 for usual machines, 0.5 where well-ordered regions must not melt. Default 1. */
  readonly heat?: number;
  /** Another kind of move (exchange of pins), tried in that share of the moves; returns the change of cost it made. */
  readonly extra?: { readonly share: number; readonly attempt: (temperature: number) => number };
  readonly shouldStop?: () => boolean;
  readonly onProgress?: (share: number, cost: number, best: number) => void;
}

/** Anneals in place; the placement ends at the best state found. Returns its cost. Fixed slots stay. */
export function anneal(placement: Placement, options: AnnealOptions): number {
  return new Annealer(placement, options).run();
}

class Annealer extends RegionMoves {
  private readonly options: AnnealOptions;
  private readonly cumulative: Float64Array;

  constructor(placement: Placement, options: AnnealOptions) {
    super(placement, options.rng);
    this.options = options;
    const total = MIX.reduce((sum, [, share]) => sum + share, 0);
    let at = 0;
    this.cumulative = Float64Array.from(MIX, ([, share]) => {
      at += share / total;
      return at;
    });
  }

  run(): number {
    const { st, options, rng } = this;
    const { moves } = options;
    const heat = options.heat ?? 1;
    let cost = st.fullCost() + this.allSlotCost();
    let best = cost;
    let saved: Saved | undefined = st.save();
    if (this.movable.length === 0 || (this.movable.length === 1 && st.problem.netCount === 0)) return cost;
    const step = 500;
    let accepted = 0;
    let legal = 0;
    let temperature = 1;
    const extra = options.extra;
    for (let done = 0; done < moves; done += step) {
      const share = done / moves;
      temperature = temperatureAt(share) * heat;
      for (let s = 0; s < step && done + s < moves; s++) {
        if (extra !== undefined && rng.unit() < extra.share) {
          cost += extra.attempt(temperature);
        } else {
          if (!this.propose()) continue;
          legal++;
          const delta = this.evaluate();
          if (delta <= 0 || rng.unit() < Math.exp(-delta / temperature)) {
            accepted++;
            cost += delta;
            for (let i = 0; i < this.touchedCount; i++) st.cost[this.touched[i]!] = this.newCost[i]!;
          } else {
            this.undo();
            continue;
          }
        }
        if (cost < best - 1e-7) {
          best = cost;
          // Early bests are soon beaten; copying them would cost more than it brings.
          saved = share > 0.3 ? st.save() : undefined;
        }
      }
      if (legal > 1000) {
        const factor = accepted / legal > 0.44 ? 1.1 : 0.93;
        this.windowColumns = Math.min(st.grid.width, Math.max(LEAST_WINDOW_COLUMNS, this.windowColumns * factor));
        this.windowBoards = Math.min(this.rows, Math.max(LEAST_WINDOW_BOARDS, this.windowBoards * factor));
        accepted = 0;
        legal = 0;
      }
      if (done % 20000 === 0) {
        options.onProgress?.(share, cost, best);
        if (options.shouldStop?.() === true) break;
      }
    }
    if (saved !== undefined) st.load(saved);
    return st.fullCost() + this.allSlotCost();
  }

  private propose(): boolean {
    this.logged = 0;
    const { st, rng } = this;
    const u = rng.unit();
    const slot = this.movable[rng.below(this.movable.length)]!;
    let kind = 0;
    while (kind < MIX.length - 1 && u >= this.cumulative[kind]!) kind++;
    switch (MIX[kind]![0]) {
      case 'shift': {
        const board = st.board[slot]!;
        const x = st.grid.boardX[board]! + st.column[slot]! + this.around(this.windowColumns);
        const to = this.boardIn(this.rowOf[board]! + this.around(this.windowBoards), x);
        if (to < 0) return false;
        const variant = rng.unit() < 0.25 ? this.anyVariant(slot) : st.variant[slot]!;
        return this.moveTo(slot, variant, to, x - st.grid.boardX[to]!);
      }
      case 'attract':
        return this.attract(slot, false);
      case 'push': {
        if (rng.unit() < 0.5) return this.attract(slot, true);
        const board = st.board[slot]!;
        const variant = rng.unit() < 0.7 ? st.variant[slot]! : this.anyVariant(slot);
        const x = st.grid.boardX[board]! + st.column[slot]! + this.around(this.windowColumns);
        const to = this.boardIn(this.rowOf[board]! + this.around(this.windowBoards), x);
        return to >= 0 && this.pushInsert(slot, variant, to, x - st.grid.boardX[to]!);
      }
      case 'swap':
        return this.swap(slot);
      case 'turn': {
        const variant = this.anyVariant(slot);
        if (variant === st.variant[slot]) return false;
        const board = st.board[slot]!;
        if (st.blockers(slot, variant, board, st.column[slot]!) !== 0) return false;
        this.log(slot);
        st.remove(slot);
        st.put(slot, variant, board, st.column[slot]!);
        return true;
      }
      case 'group':
        return this.shiftGroup(slot);
      case 'segment':
        return this.swapSegments(slot);
      case 'mirror':
        return this.mirror(slot);
      case 'window':
        return this.swapWindows(slot);
      case 'cluster':
        return this.moveCluster(slot);
      case 'boards':
        return this.swapBoards(slot);
      case 'cycle':
        return this.cycleRows(slot);
    }
  }
}

/** The temperature at a share of the run. */
function temperatureAt(share: number): number {
  let i = 1;
  while (i < SCHEDULE.length - 1 && share > SCHEDULE[i]![0]) i++;
  const [f0, a] = SCHEDULE[i - 1]!;
  const [f1, b] = SCHEDULE[i]!;
  return a * (b / a) ** Math.min(1, Math.max(0, (share - f0) / (f1 - f0)));
}
