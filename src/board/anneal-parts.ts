// Moves of one part or two: to a free place, beside what it is connected to, in exchange for another, or into a row whose parts
// make room. Each returns false, and nothing is changed, where it cannot be made.

import { MoveState } from './anneal-state.ts';

/** Moves of single parts. */
export class PartMoves extends MoveState {
  /** To a place: free, or where one part stands, which then takes the old place or is pushed aside. */
  protected moveTo(slot: number, variant: number, board: number, wanted: number): boolean {
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

  /** A pin goes straight above, below or beside a pin it is connected to. */
  protected attract(slot: number, push: boolean): boolean {
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

  protected swap(slot: number): boolean {
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

  /** Into a row of parts, which are shoved along to make room. */
  protected pushInsert(slot: number, variant: number, board: number, wanted: number): boolean {
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
}
