// Moves of many parts at once: groups shifted, rows, windows and boards exchanged, stretches turned round. Each returns false,
// and nothing is changed, where it cannot be made.

import { PartMoves } from './anneal-parts.ts';

/** Moves of whole regions. */
export class RegionMoves extends PartMoves {
  protected shiftGroup(slot: number): boolean {
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

  protected swapSegments(slot: number): boolean {
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

  protected mirror(slot: number): boolean {
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

  protected swapWindows(slot: number): boolean {
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
  protected moveCluster(slot: number): boolean {
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

  /** A stack of parts one board up or down, the last one round to the other end: undoes a step in otherwise good order. */
  protected cycleRows(slot: number): boolean {
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

  protected swapBoards(slot: number): boolean {
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
