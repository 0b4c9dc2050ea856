// What a move of the annealer works with: where boards lie to each other, what the move has changed so that it can be taken
// back, and what the change costs. The moves themselves are in anneal-parts.ts and anneal-regions.ts.

import type { Rng } from '../base/index.ts';
import type { Placement } from './placement.ts';

/** Columns of half a board in the table of occupation. */
const STRIDE = 64;

/** The state of a run, shared by all moves. */
export class MoveState {
  protected readonly st: Placement;
  protected readonly rng: Rng;
  protected readonly movable: Int32Array;
  // Boards in rows and columns.
  protected readonly rowOf: Int32Array;
  protected readonly columnOf: Int32Array;
  protected readonly rows: number;
  protected readonly across: number;
  protected readonly boardAt: Int32Array;
  protected readonly columnAtX: Int32Array;
  protected windowColumns: number;
  protected windowBoards: number;
  // Change log of the present move.
  protected readonly logSlot: Int32Array;
  protected readonly logBoard: Int32Array;
  protected readonly logColumn: Int32Array;
  protected readonly logVariant: Int32Array;
  protected logged = 0;
  // Nets touched.
  protected readonly mark: Int32Array;
  protected stamp = 0;
  protected readonly touched: Int32Array;
  protected touchedCount = 0;
  protected readonly newCost: Float64Array;
  // Scratch.
  protected readonly onBoard = new Int32Array(160);
  protected onBoardCount = 0;
  protected readonly newColumn = new Int32Array(160);
  protected readonly moveSlot: Int32Array;
  protected readonly moveBoard: Int32Array;
  protected readonly moveColumn: Int32Array;
  protected readonly moveVariant: Int32Array;
  protected moveCount = 0;
  protected readonly inCluster: Int32Array;
  protected clusterStamp = 0;
  protected readonly opposite: Int32Array[];

  constructor(placement: Placement, rng: Rng) {
    this.st = placement;
    this.rng = rng;
    const { problem, grid } = placement;
    const movable: number[] = [];
    for (let p = 0; p < problem.slotCount; p++)
      if (placement.fixed[p] === 0 && placement.board[p]! >= 0) movable.push(p);
    this.movable = Int32Array.from(movable);
    const usable = grid.boards.map((_, b) => b).filter((b) => placement.columns[b]! > 0);
    const ys = [...new Set(usable.map((b) => grid.boardY[b]!))].sort((a, b) => a - b);
    const xs = [...new Set(usable.map((b) => grid.boardX[b]!))].sort((a, b) => a - b);
    this.rows = ys.length;
    this.across = xs.length;
    this.rowOf = new Int32Array(grid.boards.length).fill(-1);
    this.columnOf = new Int32Array(grid.boards.length).fill(-1);
    this.boardAt = new Int32Array(Math.max(1, this.rows * this.across)).fill(-1);
    for (const b of usable) {
      this.rowOf[b] = ys.indexOf(grid.boardY[b]!);
      this.columnOf[b] = xs.indexOf(grid.boardX[b]!);
      this.boardAt[this.rowOf[b]! * this.across + this.columnOf[b]!] = b;
    }
    this.columnAtX = new Int32Array(grid.width + 1);
    for (let x = 0; x <= grid.width; x++) {
      let column = 0;
      for (let i = 0; i < xs.length; i++) if (xs[i]! <= x) column = i;
      this.columnAtX[x] = column;
    }
    this.windowColumns = grid.width;
    this.windowBoards = Math.max(this.rows, 1);
    const n = problem.slotCount + 4;
    this.logSlot = new Int32Array(n * 2);
    this.logBoard = new Int32Array(n * 2);
    this.logColumn = new Int32Array(n * 2);
    this.logVariant = new Int32Array(n * 2);
    this.mark = new Int32Array(problem.netCount);
    this.touched = new Int32Array(problem.netCount);
    this.newCost = new Float64Array(problem.netCount);
    this.moveSlot = new Int32Array(n * 4);
    this.moveBoard = new Int32Array(n * 4);
    this.moveColumn = new Int32Array(n * 4);
    this.moveVariant = new Int32Array(n * 4);
    this.inCluster = new Int32Array(n);
    // The variant that stands where a turn of the whole board by half a turn would put it.
    this.opposite = problem.variants.map((variants) =>
      Int32Array.from(variants, (variant, v) => {
        const found = variants.findIndex(
          (other) =>
            other.rotation === (variant.rotation + 180) % 360 &&
            other.length === variant.length &&
            other.row === 13 - variant.row,
        );
        return found < 0 ? v : found;
      }),
    );
  }

  protected allSlotCost(): number {
    let sum = 0;
    for (let p = 0; p < this.st.problem.slotCount; p++) if (this.st.board[p]! >= 0) sum += this.st.slotCost(p);
    return sum;
  }

  protected log(slot: number): void {
    const { st, logged } = this;
    this.logSlot[logged] = slot;
    this.logBoard[logged] = st.board[slot]!;
    this.logColumn[logged] = st.column[slot]!;
    this.logVariant[logged] = st.variant[slot]!;
    this.logged++;
  }

  protected undo(): void {
    const { st } = this;
    for (let i = 0; i < this.logged; i++) st.remove(this.logSlot[i]!);
    for (let i = this.logged - 1; i >= 0; i--)
      st.put(this.logSlot[i]!, this.logVariant[i]!, this.logBoard[i]!, this.logColumn[i]!);
  }

  protected evaluate(): number {
    const { st, mark, touched, newCost } = this;
    const { slotNetStart, slotNets, weight } = st.problem;
    this.stamp++;
    let count = 0;
    let delta = 0;
    for (let i = 0; i < this.logged; i++) {
      const p = this.logSlot[i]!;
      for (let j = slotNetStart[p]!, end = slotNetStart[p + 1]!; j < end; j++) {
        const n = slotNets[j]!;
        if (mark[n] === this.stamp) continue;
        mark[n] = this.stamp;
        touched[count] = n;
        const cost = st.netLength(n) * weight[n]!;
        newCost[count++] = cost;
        delta += cost - st.cost[n]!;
      }
      if (st.problem.pull[p] !== 0) {
        delta += st.slotCost(p) - st.slotCostAt(p, this.logVariant[i]!, this.logBoard[i]!, this.logColumn[i]!);
      }
    }
    this.touchedCount = count;
    return delta;
  }

  /** The board in a row of boards that has column x, or -1. */
  protected boardIn(row: number, x: number): number {
    if (row < 0 || row >= this.rows) return -1;
    const at = x < 0 ? 0 : Math.min(x, this.st.grid.width);
    return this.boardAt[row * this.across + this.columnAtX[at]!]!;
  }

  protected anyVariant(slot: number): number {
    return this.rng.below(this.st.problem.variants[slot]!.length);
  }

  protected around(reach: number): number {
    return Math.round((this.rng.unit() * 2 - 1) * reach);
  }

  protected length(slot: number, variant = this.st.variant[slot]!): number {
    return this.st.problem.length[slot]![variant]!;
  }

  protected clampColumn(board: number, length: number, column: number): number {
    const most = this.st.columns[board]! - length;
    return column > most ? most : Math.max(column, 0);
  }

  protected done(slot: number, variant: number, board: number, column: number): true {
    this.st.put(slot, variant, board, column);
    return true;
  }

  /** The slots on a board, from the left. */
  protected listBoard(board: number): void {
    const { st, onBoard } = this;
    const columns = st.columns[board]!;
    const base = board * 2 * STRIDE;
    let last0 = -1;
    let last1 = -1;
    let count = 0;
    for (let i = 0; i < columns; i++) {
      const p0 = st.occupied[base + i]!;
      const p1 = st.occupied[base + STRIDE + i]!;
      if (p0 >= 0 && p0 !== last0) onBoard[count++] = p0;
      if (p1 >= 0 && p1 !== last1 && p1 !== p0) onBoard[count++] = p1;
      if (p0 >= 0) last0 = p0;
      if (p1 >= 0) last1 = p1;
    }
    this.onBoardCount = count;
  }

  protected add(slot: number, board: number, column: number, variant: number): void {
    const i = this.moveCount++;
    this.moveSlot[i] = slot;
    this.moveBoard[i] = board;
    this.moveColumn[i] = column;
    this.moveVariant[i] = variant;
  }

  /** All noted slots to their new places, or nothing. */
  protected applyAll(): boolean {
    const { st } = this;
    if (this.moveCount === 0 || this.moveCount > 60) return false;
    for (let i = 0; i < this.moveCount; i++) if (st.fixed[this.moveSlot[i]!] !== 0) return false;
    for (let i = 0; i < this.moveCount; i++) {
      this.log(this.moveSlot[i]!);
      st.remove(this.moveSlot[i]!);
    }
    for (let i = 0; i < this.moveCount; i++) {
      const slot = this.moveSlot[i]!;
      if (st.blockers(slot, this.moveVariant[i]!, this.moveBoard[i]!, this.moveColumn[i]!) !== 0) {
        for (let j = 0; j < i; j++) st.remove(this.moveSlot[j]!);
        for (let j = 0; j < this.moveCount; j++)
          st.put(this.logSlot[j]!, this.logVariant[j]!, this.logBoard[j]!, this.logColumn[j]!);
        this.logged = 0;
        return false;
      }
      st.put(slot, this.moveVariant[i]!, this.moveBoard[i]!, this.moveColumn[i]!);
    }
    return true;
  }

  /** Notes the slots of a board whose middle lies in [x0, x1) for a move. */
  protected collect(
    board: number,
    x0: number,
    x1: number,
    to: (slot: number, column: number) => readonly [number, number, number],
  ): void {
    this.listBoard(board);
    const { st } = this;
    for (let i = 0; i < this.onBoardCount; i++) {
      const q = this.onBoard[i]!;
      const middle = st.column[q]! + this.length(q) / 2;
      if (middle < x0 || middle >= x1) continue;
      const [b, c, v] = to(q, st.column[q]!);
      this.add(q, b, c, v);
    }
  }

  protected shifted(board: number, dr: number, dc: number): number {
    const row = this.rowOf[board]! + dr;
    const across = this.columnOf[board]! + dc;
    if (row < 0 || row >= this.rows || across < 0 || across >= this.across) return -1;
    return this.boardAt[row * this.across + across]!;
  }
}
