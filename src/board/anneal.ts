// The placer proper: simulated annealing over a placement, with a mix of moves from a shift by a few columns to an exchange
// of whole regions. Temperatures, windows and the mix are those that did best in trials on machines of 12 to 90 chips;
// every number of moves gives the same result for the same seed.

import type { Rng } from '../base/index.ts';
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
const STRIDE = 64;

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

class Annealer {
  private readonly st: Placement;
  private readonly options: AnnealOptions;
  private readonly rng: Rng;
  private readonly movable: Int32Array;
  private readonly cumulative: Float64Array;
  // Boards in rows and columns.
  private readonly rowOf: Int32Array;
  private readonly columnOf: Int32Array;
  private readonly rows: number;
  private readonly across: number;
  private readonly boardAt: Int32Array;
  private readonly columnAtX: Int32Array;
  private windowColumns: number;
  private windowBoards: number;
  // Change log of the present move.
  private readonly logSlot: Int32Array;
  private readonly logBoard: Int32Array;
  private readonly logColumn: Int32Array;
  private readonly logVariant: Int32Array;
  private logged = 0;
  // Nets touched.
  private readonly mark: Int32Array;
  private stamp = 0;
  private readonly touched: Int32Array;
  private touchedCount = 0;
  private readonly newCost: Float64Array;
  // Scratch.
  private readonly onBoard = new Int32Array(160);
  private onBoardCount = 0;
  private readonly newColumn = new Int32Array(160);
  private readonly moveSlot: Int32Array;
  private readonly moveBoard: Int32Array;
  private readonly moveColumn: Int32Array;
  private readonly moveVariant: Int32Array;
  private moveCount = 0;
  private readonly inCluster: Int32Array;
  private clusterStamp = 0;
  private readonly opposite: Int32Array[];

  constructor(placement: Placement, options: AnnealOptions) {
    this.st = placement;
    this.options = options;
    this.rng = options.rng;
    const { problem, grid } = placement;
    const movable: number[] = [];
    for (let p = 0; p < problem.slotCount; p++)
      if (placement.fixed[p] === 0 && placement.board[p]! >= 0) movable.push(p);
    this.movable = Int32Array.from(movable);
    const total = MIX.reduce((sum, [, share]) => sum + share, 0);
    let at = 0;
    this.cumulative = Float64Array.from(MIX, ([, share]) => {
      at += share / total;
      return at;
    });
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

  private allSlotCost(): number {
    let sum = 0;
    for (let p = 0; p < this.st.problem.slotCount; p++) if (this.st.board[p]! >= 0) sum += this.st.slotCost(p);
    return sum;
  }

  private log(slot: number): void {
    const { st, logged } = this;
    this.logSlot[logged] = slot;
    this.logBoard[logged] = st.board[slot]!;
    this.logColumn[logged] = st.column[slot]!;
    this.logVariant[logged] = st.variant[slot]!;
    this.logged++;
  }

  private undo(): void {
    const { st } = this;
    for (let i = 0; i < this.logged; i++) st.remove(this.logSlot[i]!);
    for (let i = this.logged - 1; i >= 0; i--)
      st.put(this.logSlot[i]!, this.logVariant[i]!, this.logBoard[i]!, this.logColumn[i]!);
  }

  private evaluate(): number {
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
  private boardIn(row: number, x: number): number {
    if (row < 0 || row >= this.rows) return -1;
    const at = x < 0 ? 0 : Math.min(x, this.st.grid.width);
    return this.boardAt[row * this.across + this.columnAtX[at]!]!;
  }

  private anyVariant(slot: number): number {
    return this.rng.below(this.st.problem.variants[slot]!.length);
  }

  private around(reach: number): number {
    return Math.round((this.rng.unit() * 2 - 1) * reach);
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

  private length(slot: number, variant = this.st.variant[slot]!): number {
    return this.st.problem.length[slot]![variant]!;
  }

  private clampColumn(board: number, length: number, column: number): number {
    const most = this.st.columns[board]! - length;
    return column > most ? most : Math.max(column, 0);
  }

  /** To a place: free, or where one part stands, which then takes the old place or is pushed aside. */
  private moveTo(slot: number, variant: number, board: number, wanted: number): boolean {
    const { st } = this;
    const gap = st.problem.gap;
    const length = this.length(slot, variant);
    const column = this.clampColumn(board, length, wanted);
    const blockers = st.blockers(slot, variant, board, column);
    if (blockers === 0) {
      if (board === st.board[slot] && column === st.column[slot] && variant === st.variant[slot]) return false;
      this.log(slot);
      st.remove(slot);
      st.put(slot, variant, board, column);
      return true;
    }
    if (blockers !== 1) return false;
    const other = st.blocker;
    if (st.fixed[other] !== 0) return false;
    this.log(slot);
    this.log(other);
    const [ob, oc, ov] = [st.board[slot]!, st.column[slot]!, st.variant[slot]!];
    const [qb, qc, qv] = [st.board[other]!, st.column[other]!, st.variant[other]!];
    st.remove(slot);
    st.remove(other);
    if (st.blockers(slot, variant, board, column) === 0) {
      st.put(slot, variant, board, column);
      const otherLength = this.length(other, qv);
      let first = oc;
      let second = oc + length - otherLength;
      if (this.rng.unit() < 0.5) [first, second] = [second, first];
      if (st.blockers(other, qv, ob, first) === 0) return this.done(other, qv, ob, first);
      if (st.blockers(other, qv, ob, second) === 0) return this.done(other, qv, ob, second);
      const right = column + length + gap;
      const left = column - gap - otherLength;
      if (st.blockers(other, qv, qb, right) === 0) return this.done(other, qv, qb, right);
      if (st.blockers(other, qv, qb, left) === 0) return this.done(other, qv, qb, left);
      st.remove(slot);
    }
    st.put(slot, ov, ob, oc);
    st.put(other, qv, qb, qc);
    this.logged = 0;
    return false;
  }

  private done(slot: number, variant: number, board: number, column: number): true {
    this.st.put(slot, variant, board, column);
    return true;
  }

  /** A pin goes straight above, below or beside a pin it is connected to. */
  private attract(slot: number, push: boolean): boolean {
    const { st, rng } = this;
    const { slotStart, slotEnds, netStart, endNet, endSlot, tableAt, column: table, gap } = st.problem;
    const ends = slotStart[slot + 1]! - slotStart[slot]!;
    if (ends === 0) return false;
    const k = rng.below(ends);
    const end = slotEnds[slotStart[slot]! + k]!;
    const net = endNet[end]!;
    const to = netStart[net]! + rng.below(netStart[net + 1]! - netStart[net]!);
    const other = endSlot[to]!;
    if (other === slot || st.board[other]! < 0) return false;
    const variant = rng.unit() < (push ? 0.7 : 0.5) ? st.variant[slot]! : this.anyVariant(slot);
    const dx = table[tableAt[slot]![variant]! + k]!;
    const otherBoard = st.board[other]!;
    let row = this.rowOf[otherBoard]!;
    const w = rng.unit();
    const near = push ? 0.35 : 0.3;
    if (w < near) row--;
    else if (w < near * 2) row++;
    let x = st.x[to]! - dx;
    const start = st.grid.boardX[otherBoard]! + st.column[other]!;
    if (w >= near * 2)
      x = rng.unit() < 0.5 ? start + this.length(other) + gap : start - gap - this.length(slot, variant);
    const board = row === this.rowOf[otherBoard] ? otherBoard : this.boardIn(row, st.x[to]!);
    if (board < 0) return false;
    const column = x - st.grid.boardX[board]!;
    return push ? this.pushInsert(slot, variant, board, column) : this.moveTo(slot, variant, board, column);
  }

  private swap(slot: number): boolean {
    const { st, rng } = this;
    const other = this.movable[rng.below(this.movable.length)]!;
    if (other === slot) return false;
    const [ob, oc, ov] = [st.board[slot]!, st.column[slot]!, st.variant[slot]!];
    const [qb, qc, qv] = [st.board[other]!, st.column[other]!, st.variant[other]!];
    const dx = Math.abs(st.grid.boardX[ob]! + oc - st.grid.boardX[qb]! - qc);
    if (dx > this.windowColumns * 1.5 || Math.abs(this.rowOf[ob]! - this.rowOf[qb]!) > this.windowBoards * 1.5)
      return false;
    this.log(slot);
    this.log(other);
    st.remove(slot);
    st.remove(other);
    const length = this.length(slot, ov);
    const otherLength = this.length(other, qv);
    let to = qc;
    let back = oc;
    if (ob === qb) {
      if (oc < qc) to = qc + otherLength - length;
      else back = oc + length - otherLength;
    } else if (rng.unit() < 0.5) {
      to = qc + ((otherLength - length) >> 1);
      back = oc + ((length - otherLength) >> 1);
    }
    to = this.clampColumn(qb, length, to);
    back = this.clampColumn(ob, otherLength, back);
    if (st.blockers(slot, ov, qb, to) === 0) {
      st.put(slot, ov, qb, to);
      if (st.blockers(other, qv, ob, back) === 0) return this.done(other, qv, ob, back);
      st.remove(slot);
    }
    st.put(slot, ov, ob, oc);
    st.put(other, qv, qb, qc);
    this.logged = 0;
    return false;
  }

  /** The slots on a board, from the left. */
  private listBoard(board: number): void {
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

  /** Into a row of parts, which are shoved along to make room. */
  private pushInsert(slot: number, variant: number, board: number, wanted: number): boolean {
    const { st, onBoard, newColumn } = this;
    const { gap, halves } = st.problem;
    const length = this.length(slot, variant);
    const column = this.clampColumn(board, length, wanted);
    this.log(slot);
    const [ob, oc, ov] = [st.board[slot]!, st.column[slot]!, st.variant[slot]!];
    st.remove(slot);
    this.listBoard(board);
    const columns = st.columns[board]!;
    const centre = 2 * column + length;
    const own = halves[slot]![variant]!;
    let sound = true;
    let front0 = (own & 1) !== 0 ? column + length + gap : -1;
    let front1 = (own & 2) !== 0 ? column + length + gap : -1;
    for (let i = 0; i < this.onBoardCount && sound; i++) {
      const q = onBoard[i]!;
      const qc = st.column[q]!;
      const ql = this.length(q);
      newColumn[i] = qc;
      if (2 * qc + ql < centre) continue;
      const h = halves[q]![st.variant[q]!]!;
      let need = qc;
      if ((h & 1) !== 0 && front0 > need) need = front0;
      if ((h & 2) !== 0 && front1 > need) need = front1;
      if (need !== qc && st.fixed[q] !== 0) sound = false;
      if (need + ql > columns) sound = false;
      newColumn[i] = need;
      const past = need + ql + gap;
      if ((h & 1) !== 0 && past > front0) front0 = past;
      if ((h & 2) !== 0 && past > front1) front1 = past;
    }
    front0 = (own & 1) !== 0 ? column - gap : 999;
    front1 = (own & 2) !== 0 ? column - gap : 999;
    for (let i = this.onBoardCount - 1; i >= 0 && sound; i--) {
      const q = onBoard[i]!;
      const qc = st.column[q]!;
      const ql = this.length(q);
      if (2 * qc + ql >= centre) continue;
      const h = halves[q]![st.variant[q]!]!;
      let past = qc + ql;
      if ((h & 1) !== 0 && front0 < past) past = front0;
      if ((h & 2) !== 0 && front1 < past) past = front1;
      const need = past - ql;
      if (need !== qc && st.fixed[q] !== 0) sound = false;
      if (need < 0) sound = false;
      newColumn[i] = need;
      const before = need - gap;
      if ((h & 1) !== 0 && before < front0) front0 = before;
      if ((h & 2) !== 0 && before < front1) front1 = before;
    }
    if (sound) {
      for (let i = 0; i < this.onBoardCount; i++) {
        const q = onBoard[i]!;
        if (newColumn[i] !== st.column[q]) {
          this.log(q);
          st.remove(q);
        } else onBoard[i] = -1;
      }
      // Barred columns are not seen by the arithmetic above.
      if (st.blockers(slot, variant, board, column) === 0) {
        st.put(slot, variant, board, column);
        let i = 0;
        for (; i < this.onBoardCount; i++) {
          const q = onBoard[i]!;
          if (q < 0) continue;
          if (st.blockers(q, st.variant[q]!, board, newColumn[i]!) !== 0) break;
          st.put(q, st.variant[q]!, board, newColumn[i]!);
        }
        if (i === this.onBoardCount) return true;
        st.remove(slot);
        for (let k = 0; k < i; k++) if (onBoard[k]! >= 0) st.remove(onBoard[k]!);
      }
      for (let k = this.logged - 1; k > 0; k--)
        st.put(this.logSlot[k]!, this.logVariant[k]!, this.logBoard[k]!, this.logColumn[k]!);
    }
    st.put(slot, ov, ob, oc);
    this.logged = 0;
    return false;
  }

  private add(slot: number, board: number, column: number, variant: number): void {
    const i = this.moveCount++;
    this.moveSlot[i] = slot;
    this.moveBoard[i] = board;
    this.moveColumn[i] = column;
    this.moveVariant[i] = variant;
  }

  /** All noted slots to their new places, or nothing. */
  private applyAll(): boolean {
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
  private collect(
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

  private shiftGroup(slot: number): boolean {
    const { st, rng } = this;
    let d = 1 + rng.below(6);
    if (rng.unit() < 0.5) d = -d;
    const x0 = st.column[slot]!;
    const x1 = x0 + this.length(slot) + rng.below(40);
    const rows = rng.below(3);
    const down = rng.unit() < 0.5 ? 1 : -1;
    const board = st.board[slot]!;
    this.moveCount = 0;
    for (let k = 0; k <= rows; k++) {
      const row = this.rowOf[board]! + k * down;
      if (row < 0 || row >= this.rows) break;
      const b = this.boardAt[row * this.across + this.columnOf[board]!]!;
      if (b >= 0) this.collect(b, x0, x1, (q, c) => [b, c + d, st.variant[q]!]);
    }
    return this.applyAll();
  }

  private swapSegments(slot: number): boolean {
    const { st, rng } = this;
    const board = st.board[slot]!;
    const row = this.rowOf[board]! + this.around(Math.max(1.4, this.windowBoards));
    const across = rng.unit() < 0.15 ? rng.below(this.across) : this.columnOf[board]!;
    if (row < 0 || row >= this.rows) return false;
    const other = this.boardAt[row * this.across + across]!;
    if (other < 0 || other === board) return false;
    const x0 = st.column[slot]!;
    const x1 = x0 + this.length(slot) + rng.below(30);
    this.moveCount = 0;
    this.collect(board, x0, x1, (q, c) => [other, c, st.variant[q]!]);
    this.collect(other, x0, x1, (q, c) => [board, c, st.variant[q]!]);
    return this.applyAll();
  }

  private mirror(slot: number): boolean {
    const { st, rng } = this;
    const board = st.board[slot]!;
    const whole = rng.unit() < 0.3;
    const x0 = whole ? 0 : st.column[slot]!;
    const x1 = whole ? st.columns[board]! : Math.min(st.columns[board]!, x0 + this.length(slot) + rng.below(30));
    this.moveCount = 0;
    let low = 99;
    let high = 0;
    this.collect(board, x0, x1, (q, c) => {
      low = Math.min(low, c);
      high = Math.max(high, c + this.length(q));
      return [board, c, this.opposite[q]![st.variant[q]!]!];
    });
    for (let i = 0; i < this.moveCount; i++)
      this.moveColumn[i] = low + high - this.moveColumn[i]! - this.length(this.moveSlot[i]!);
    return this.applyAll();
  }

  private swapWindows(slot: number): boolean {
    const { st, rng } = this;
    const board = st.board[slot]!;
    const row = this.rowOf[board]!;
    const across = this.columnOf[board]!;
    const rows = 1 + rng.below(Math.min(5, Math.max(3, this.rows - 1)));
    const x0 = st.column[slot]! - rng.below(4);
    const width = this.length(slot) + 3 + rng.below(35);
    const x1 = x0 + width;
    const dr = this.around(this.rows * 0.8);
    const dc = rng.unit() < 0.35 ? rng.below(this.across) - across : 0;
    const dx = rng.unit() < 0.4 ? 0 : this.around(50);
    const turnAll = rng.unit() < 0.25;
    if (dr === 0 && dc === 0 && Math.abs(dx) < width) return false;
    if (Math.abs(dr) < rows && dc === 0 && dr !== 0 && Math.abs(dx) < width) return false;
    if (across + dc < 0 || across + dc >= this.across) return false;
    this.moveCount = 0;
    for (let k = 0; k < rows; k++) {
      const from = row + k;
      const to = from + dr;
      if (from >= this.rows || to < 0 || to >= this.rows) return false;
      const a = this.boardAt[from * this.across + across]!;
      const b = this.boardAt[to * this.across + across + dc]!;
      const turnedRow = row + dr + rows - 1 - k;
      if (turnAll && (turnedRow < 0 || turnedRow >= this.rows)) return false;
      const target = turnAll ? this.boardAt[turnedRow * this.across + across + dc]! : b;
      if (a < 0 || b < 0 || target < 0) return false;
      this.collect(a, x0, x1, (q, c) =>
        turnAll
          ? [target, x0 + x1 - c - this.length(q) + dx, this.opposite[q]![st.variant[q]!]!]
          : [b, c + dx, st.variant[q]!],
      );
      this.collect(b, x0 + dx, x1 + dx, (q, c) => [a, c - dx, st.variant[q]!]);
    }
    if (this.moveCount > 40) return false;
    return this.applyAll();
  }

  /** Two to four connected parts together; what stands there takes their place. */
  private moveCluster(slot: number): boolean {
    const { st, rng, inCluster } = this;
    const { slotStart, slotEnds, endNet, netStart, endSlot, gap, halves } = st.problem;
    const board = st.board[slot]!;
    this.clusterStamp++;
    inCluster[slot] = this.clusterStamp;
    this.moveCount = 0;
    this.add(slot, 0, 0, 0);
    const size = 2 + rng.below(3);
    const x = st.grid.boardX[board]! + st.column[slot]!;
    for (let t = 0; t < 8 && this.moveCount < size; t++) {
      const z = this.moveSlot[rng.below(this.moveCount)]!;
      const ends = slotStart[z + 1]! - slotStart[z]!;
      if (ends === 0) continue;
      const net = endNet[slotEnds[slotStart[z]! + rng.below(ends)]!]!;
      const count = netStart[net + 1]! - netStart[net]!;
      if (count > 4) continue;
      const q = endSlot[netStart[net]! + rng.below(count)]!;
      if (inCluster[q] === this.clusterStamp || st.board[q]! < 0) continue;
      if (Math.abs(st.grid.boardX[st.board[q]!]! + st.column[q]! - x) > 45) continue;
      if (Math.abs(this.rowOf[st.board[q]!]! - this.rowOf[board]!) > 2) continue;
      inCluster[q] = this.clusterStamp;
      this.add(q, 0, 0, 0);
    }
    if (this.moveCount < 2) return false;
    const dr = this.around(Math.max(2, this.windowBoards));
    const dx = this.around(Math.max(20, this.windowColumns));
    if (dr === 0 && dx === 0) return false;
    const dc = rng.unit() < 0.1 ? rng.below(this.across) - this.columnOf[board]! : 0;
    const own = this.moveCount;
    for (let i = 0; i < own; i++) {
      const q = this.moveSlot[i]!;
      const to = this.shifted(st.board[q]!, dr, dc);
      if (to < 0) return false;
      this.moveBoard[i] = to;
      this.moveColumn[i] = st.column[q]! + dx;
      this.moveVariant[i] = st.variant[q]!;
      if (this.moveColumn[i]! < 0 || this.moveColumn[i]! + this.length(q) > st.columns[to]!) return false;
    }
    for (let i = 0; i < own; i++) {
      const to = this.moveBoard[i]!;
      const from = this.moveColumn[i]! - gap;
      const past = this.moveColumn[i]! + this.length(this.moveSlot[i]!) + gap;
      const h = halves[this.moveSlot[i]!]![this.moveVariant[i]!]!;
      this.listBoard(to);
      for (let j = 0; j < this.onBoardCount; j++) {
        const q = this.onBoard[j]!;
        if (inCluster[q] === this.clusterStamp) continue;
        if (st.column[q]! >= past || st.column[q]! + this.length(q) <= from) continue;
        if ((halves[q]![st.variant[q]!]! & h) === 0) continue;
        inCluster[q] = this.clusterStamp;
        const back = this.shifted(to, -dr, -dc);
        if (back < 0) return false;
        this.add(q, back, st.column[q]! - dx, st.variant[q]!);
      }
    }
    return this.applyAll();
  }

  private shifted(board: number, dr: number, dc: number): number {
    const row = this.rowOf[board]! + dr;
    const across = this.columnOf[board]! + dc;
    if (row < 0 || row >= this.rows || across < 0 || across >= this.across) return -1;
    return this.boardAt[row * this.across + across]!;
  }

  /** A stack of parts one board up or down, the last one round to the other end: undoes a step in otherwise good order. */
  private cycleRows(slot: number): boolean {
    const { st, rng } = this;
    const board = st.board[slot]!;
    const across = this.columnOf[board]!;
    const first = this.rowOf[board]!;
    const last = rng.below(this.rows);
    if (last === first) return false;
    const [top, bottom] = first < last ? [first, last] : [last, first];
    const by = rng.unit() < 0.5 ? 1 : -1;
    const length = this.length(slot);
    const x0 = st.column[slot]! - (rng.unit() < 0.3 ? rng.below(length + 1) : 0);
    const x1 = st.column[slot]! + length + (rng.unit() < 0.5 ? 0 : rng.below(3 * length + 1));
    this.moveCount = 0;
    for (let row = top; row <= bottom; row++) {
      const to = row + by > bottom ? top : row + by < top ? bottom : row + by;
      const from = this.boardAt[row * this.across + across]!;
      const target = this.boardAt[to * this.across + across]!;
      if (from < 0 || target < 0) return false;
      this.collect(from, x0, x1, (q, c) => [target, c, st.variant[q]!]);
    }
    return this.applyAll();
  }

  private swapBoards(slot: number): boolean {
    const { st, rng } = this;
    const board = st.board[slot]!;
    const other = this.boardAt[rng.below(this.boardAt.length)]!;
    if (other < 0 || other === board) return false;
    this.moveCount = 0;
    this.collect(board, 0, 99, (q, c) => [other, c, st.variant[q]!]);
    this.collect(other, 0, 99, (q, c) => [board, c, st.variant[q]!]);
    return this.applyAll();
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
