// The state of a placement in flat arrays, made for hundreds of thousands of changes a second: where each slot stands, the
// box of free holes of each net end, and the weighted length of each net's tree grown stage by stage.
//
// Distance of two ends: columns apart plus the gap between their rows of free holes. Supply and ground are not in it (they
// go to the nearest rail), nor are two-lead parts, which are seated afterwards.

import type { Grid } from './geometry.ts';
import type { Slot, Variant } from './slots.ts';
import type { Timeline } from './timeline.ts';

/** What does not change while parts move. */
export interface Problem {
  readonly slots: readonly Slot[];
  readonly slotCount: number;
  readonly netCount: number;
  /** Timeline net of each net here. */
  readonly nets: Int32Array;
  readonly weight: Float64Array;
  /** Ends of net n: netStart[n] to netStart[n + 1] - 1, in order of the stage that brings them. */
  readonly netStart: Int32Array;
  readonly endSlot: Int32Array;
  readonly endStage: Int32Array;
  readonly endNet: Int32Array;
  readonly endPin: Int32Array;
  /** Ends of slot p: slotEnds[slotStart[p]] and so on; its nets likewise. */
  readonly slotStart: Int32Array;
  readonly slotEnds: Int32Array;
  readonly slotNetStart: Int32Array;
  readonly slotNets: Int32Array;
  /** First variant of a slot in the variant tables, and where the table of its ends begins. */
  readonly variants: readonly (readonly Variant[])[];
  readonly tableAt: readonly Int32Array[];
  readonly column: Int16Array;
  readonly low: Int16Array;
  readonly high: Int16Array;
  readonly halves: readonly Int32Array[];
  readonly length: readonly Int32Array[];
  readonly gap: number;
  readonly longest: number;
  /** How strongly a slot is drawn to the edge of the arrangement, cost per pitch; 0 for most. */
  readonly pull: Float64Array;
}

/** Builds the tables. `isRail` says which nets have rails of their own. */
export function createProblem(
  timeline: Timeline,
  slots: readonly Slot[],
  isRail: (net: number) => boolean,
  gap: number,
): Problem {
  const slotOf = new Map<number, number>();
  for (const slot of slots) for (const item of slot.items) slotOf.set(item.index, slot.index);
  const netStart: number[] = [0];
  const nets: number[] = [];
  const weight: number[] = [];
  const endSlot: number[] = [];
  const endStage: number[] = [];
  const endNet: number[] = [];
  const endPin: number[] = [];
  let longest = 0;
  // A resistor or the like between two signals is as good as wire: both nets are one tree here.
  const parent = timeline.nets.map((net) => net.index);
  const find = (n: number): number => {
    let at = n;
    while (parent[at] !== at) at = parent[at]!;
    return at;
  };
  for (const item of timeline.items) {
    const footprint = item.footprint;
    if (footprint.kind !== 'two-lead') continue;
    const [a, b] = footprint.numbers.map((number) => item.pinOf.get(number)!.nets[item.from]!);
    if (a! < 0 || b! < 0 || isRail(a!) || isRail(b!)) continue;
    parent[find(b!)] = find(a!);
  }
  const members = new Map<number, number[]>();
  for (const net of timeline.nets) {
    if (isRail(net.index)) continue;
    const root = find(net.index);
    const list = members.get(root);
    if (list === undefined) members.set(root, [net.index]);
    else list.push(net.index);
  }
  for (const group of members.values()) {
    const seen = new Map<string, { slot: number; pin: number; stage: number }>();
    for (const { item, pin } of group.flatMap((index) => timeline.nets[index]!.pins)) {
      const slot = slotOf.get(item);
      if (slot === undefined) continue;
      let stage = 0;
      while (stage < pin.nets.length && !group.includes(pin.nets[stage]!)) stage++;
      const key = `${slot}/${pin.number}`;
      const known = seen.get(key);
      if (known === undefined) seen.set(key, { slot, pin: pin.number, stage });
      else known.stage = Math.min(known.stage, stage);
    }
    if (seen.size < 2) continue;
    const ends = [...seen.values()].sort((a, b) => a.stage - b.stage || a.slot - b.slot || a.pin - b.pin);
    for (const end of ends) {
      endSlot.push(end.slot);
      endStage.push(end.stage);
      endPin.push(end.pin);
      endNet.push(nets.length);
    }
    longest = Math.max(longest, ends.length);
    nets.push(group[0]!);
    weight.push(Math.max(...group.map((index) => timeline.nets[index]!.net.netClass?.weight ?? 1)));
    netStart.push(endSlot.length);
  }
  const slotStart: number[] = [0];
  const slotEnds: number[] = [];
  const slotNetStart: number[] = [0];
  const slotNets: number[] = [];
  const tableAt: Int32Array[] = [];
  const column: number[] = [];
  const low: number[] = [];
  const high: number[] = [];
  const ofSlot: number[][] = slots.map(() => []);
  for (let q = 0; q < endSlot.length; q++) ofSlot[endSlot[q]!]!.push(q);
  for (const slot of slots) {
    const ends = ofSlot[slot.index]!;
    slotEnds.push(...ends);
    slotStart.push(slotEnds.length);
    const own = [...new Set(ends.map((q) => endNet[q]!))].sort((a, b) => a - b);
    slotNets.push(...own);
    slotNetStart.push(slotNets.length);
    tableAt.push(
      Int32Array.from(slot.variants, (variant) => {
        const at = column.length;
        for (const q of ends) {
          const pin = variant.pins.get(endPin[q]!)!;
          column.push(pin.column);
          low.push(pin.low);
          high.push(pin.high);
        }
        return at;
      }),
    );
  }
  return {
    slots,
    slotCount: slots.length,
    netCount: nets.length,
    nets: Int32Array.from(nets),
    weight: Float64Array.from(weight),
    netStart: Int32Array.from(netStart),
    endSlot: Int32Array.from(endSlot),
    endStage: Int32Array.from(endStage),
    endNet: Int32Array.from(endNet),
    endPin: Int32Array.from(endPin),
    slotStart: Int32Array.from(slotStart),
    slotEnds: Int32Array.from(slotEnds),
    slotNetStart: Int32Array.from(slotNetStart),
    slotNets: Int32Array.from(slotNets),
    variants: slots.map((slot) => slot.variants),
    tableAt,
    column: Int16Array.from(column),
    low: Int16Array.from(low),
    high: Int16Array.from(high),
    halves: slots.map((slot) => Int32Array.from(slot.variants, (variant) => variant.halves)),
    length: slots.map((slot) => Int32Array.from(slot.variants, (variant) => variant.length)),
    gap,
    longest,
    pull: Float64Array.from(slots, (slot) => (slot.items[0]!.part.record.symbol === 'header' ? 0.5 : 0)),
  };
}

/** A saved placement. */
export interface Saved {
  readonly board: Int32Array;
  readonly column: Int32Array;
  readonly variant: Int32Array;
}

const STRIDE = 64;
const FAR = 1e9;

/** Where the slots stand. Columns count from 0. The annealer writes its arrays; others use `put`, `remove`, `blockers`. */
export class Placement {
  readonly problem: Problem;
  readonly grid: Grid;
  /** Columns per board. */
  readonly columns: Int32Array;
  readonly board: Int32Array;
  readonly column: Int32Array;
  readonly variant: Int32Array;
  readonly fixed: Uint8Array;
  private readonly frozen: Uint8Array;
  /** Slot, -1 free, -2 barred; by board, half, column. */
  readonly occupied: Int16Array;
  readonly x: Int32Array;
  readonly low: Int32Array;
  readonly high: Int32Array;
  readonly cost: Float64Array;
  blocker = -1;
  private readonly kx: Int32Array;
  private readonly kl: Int32Array;
  private readonly kh: Int32Array;
  private readonly kd: Int32Array;

  constructor(problem: Problem, grid: Grid) {
    this.problem = problem;
    this.grid = grid;
    this.columns = Int32Array.from(grid.kinds, (kind) => kind.columns);
    this.board = new Int32Array(problem.slotCount).fill(-1);
    this.column = new Int32Array(problem.slotCount);
    this.variant = new Int32Array(problem.slotCount);
    this.fixed = new Uint8Array(problem.slotCount);
    this.frozen = new Uint8Array(problem.slotCount);
    this.occupied = new Int16Array(grid.boards.length * 2 * STRIDE).fill(-1);
    const ends = problem.endSlot.length;
    this.x = new Int32Array(ends);
    this.low = new Int32Array(ends);
    this.high = new Int32Array(ends);
    this.cost = new Float64Array(problem.netCount);
    this.kx = new Int32Array(problem.longest + 1);
    this.kl = new Int32Array(problem.longest + 1);
    this.kh = new Int32Array(problem.longest + 1);
    this.kd = new Int32Array(problem.longest + 1);
  }

  /** A slot that stands where no variant of it does: it has a place for the record, and its ends are the caller's to set. */
  freeze(slot: number, board: number, column: number): void {
    this.board[slot] = board;
    this.column[slot] = column;
    this.variant[slot] = 0;
    this.fixed[slot] = 1;
    this.frozen[slot] = 1;
  }

  private mark(slot: number, value: number): void {
    const v = this.variant[slot]!;
    const halves = this.problem.halves[slot]![v]!;
    const length = this.problem.length[slot]![v]!;
    for (let half = 0; half < 2; half++) {
      if (((halves >> half) & 1) === 0) continue;
      const column = this.column[slot]!;
      const base = (this.board[slot]! * 2 + half) * STRIDE;
      // A part that stands already may reach beyond the edge with what it keeps clear.
      const end = Math.min(column + length, this.columns[this.board[slot]!]!);
      for (let c = Math.max(0, column); c < end; c++) this.occupied[base + c] = value;
    }
  }

  /** Bars one column of a half board for every slot. */
  bar(board: number, half: number, column: number): void {
    this.occupied[(board * 2 + half) * STRIDE + column] = -2;
  }

  remove(slot: number): void {
    this.mark(slot, -1);
  }

  put(slot: number, variant: number, board: number, column: number): void {
    const { slotStart, slotEnds, tableAt } = this.problem;
    this.variant[slot] = variant;
    this.board[slot] = board;
    this.column[slot] = column;
    this.mark(slot, slot);
    const x = this.grid.boardX[board]! + column;
    const y = this.grid.boardY[board]!;
    let o = tableAt[slot]![variant]!;
    for (let j = slotStart[slot]!, end = slotStart[slot + 1]!; j < end; j++, o++) {
      const q = slotEnds[j]!;
      this.x[q] = x + this.problem.column[o]!;
      this.low[q] = y + this.problem.low[o]!;
      this.high[q] = y + this.problem.high[o]!;
    }
  }

  /** The end stands at another pin of its part from now on: in every way the part can stand, and where it stands. */
  setPin(end: number, pin: number): void {
    const { problem } = this;
    const slot = problem.endSlot[end]!;
    problem.endPin[end] = pin;
    const variants = problem.variants[slot]!;
    let k = problem.slotStart[slot]!;
    while (problem.slotEnds[k] !== end) k++;
    k -= problem.slotStart[slot]!;
    for (let v = 0; v < variants.length; v++) {
      const at = variants[v]!.pins.get(pin)!;
      const o = problem.tableAt[slot]![v]! + k;
      problem.column[o] = at.column;
      problem.low[o] = at.low;
      problem.high[o] = at.high;
    }
    const o = problem.tableAt[slot]![this.variant[slot]!]! + k;
    const board = this.board[slot]!;
    this.x[end] = this.grid.boardX[board]! + this.column[slot]! + problem.column[o]!;
    this.low[end] = this.grid.boardY[board]! + problem.low[o]!;
    this.high[end] = this.grid.boardY[board]! + problem.high[o]!;
  }

  /** 0 where the slot fits, 1 where one other slot is in the way (then `blocker`), 2 for several, 3 where it can't be. */
  blockers(slot: number, variant: number, board: number, column: number): number {
    const length = this.problem.length[slot]![variant]!;
    const gap = this.problem.gap;
    const columns = this.columns[board]!;
    if (column < 0 || column + length > columns) return 3;
    const from = Math.max(column - gap, 0);
    const to = Math.min(column + length + gap, columns);
    const halves = this.problem.halves[slot]![variant]!;
    let found = -1;
    for (let half = 0; half < 2; half++) {
      if (((halves >> half) & 1) === 0) continue;
      const base = (board * 2 + half) * STRIDE;
      for (let i = from; i < to; i++) {
        const other = this.occupied[base + i]!;
        if (other === -1 || other === slot || other === found) continue;
        if (other === -2) {
          // The free column beside a part may lie in a zone; the part itself may not.
          if (i >= column && i < column + length) return 3;
          continue;
        }
        if (found >= 0) return 2;
        found = other;
      }
    }
    this.blocker = found;
    return found < 0 ? 0 : 1;
  }

  /** Length of a net's tree, grown stage by stage: each stage's ends join the tree of the stages before. */
  netLength(net: number): number {
    const start = this.problem.netStart[net]!;
    const count = this.problem.netStart[net + 1]! - start;
    const { x, low, high, kx, kl, kh, kd } = this;
    if (count === 2) {
      let d = x[start]! - x[start + 1]!;
      if (d < 0) d = -d;
      if (low[start]! > high[start + 1]!) d += low[start]! - high[start + 1]!;
      else if (low[start + 1]! > high[start]!) d += low[start + 1]! - high[start]!;
      return d;
    }
    const stage = this.problem.endStage;
    for (let i = 0; i < count; i++) {
      kx[i] = x[start + i]!;
      kl[i] = low[start + i]!;
      kh[i] = high[start + i]!;
      kd[i] = FAR;
    }
    let total = 0;
    let done = 1;
    let group = 1;
    // [0, done) is in the tree, [done, group) is the rest of the present stage. A stage's first group starts with its
    // own ends only.
    let last = 0;
    while (group < count && stage[start + group] === stage[start]) group++;
    while (done < count) {
      const cx = kx[last]!;
      const cl = kl[last]!;
      const ch = kh[last]!;
      for (let i = done; i < count; i++) {
        let d = kx[i]! - cx;
        if (d < 0) d = -d;
        const l = kl[i]!;
        if (l > ch) d += l - ch;
        else {
          const h = kh[i]!;
          if (cl > h) d += cl - h;
        }
        if (d < kd[i]!) kd[i] = d;
      }
      if (done >= group) {
        const now = stage[start + done]!;
        group = done + 1;
        while (group < count && stage[start + group] === now) group++;
      }
      let best = done;
      for (let i = done + 1; i < group; i++) if (kd[i]! < kd[best]!) best = i;
      total += kd[best]!;
      if (best !== done) {
        const bx = kx[best]!;
        const bl = kl[best]!;
        const bh = kh[best]!;
        const bd = kd[best]!;
        kx[best] = kx[done]!;
        kl[best] = kl[done]!;
        kh[best] = kh[done]!;
        kd[best] = kd[done]!;
        kx[done] = bx;
        kl[done] = bl;
        kh[done] = bh;
        kd[done] = bd;
      }
      last = done;
      done++;
    }
    return total;
  }

  /** The cost of a slot's own place: headers are drawn to an edge. */
  slotCost(slot: number): number {
    return this.slotCostAt(slot, this.variant[slot]!, this.board[slot]!, this.column[slot]!);
  }

  slotCostAt(slot: number, variant: number, board: number, column: number): number {
    const pull = this.problem.pull[slot]!;
    if (pull === 0) return 0;
    const x = this.grid.boardX[board]! + column;
    const right = this.grid.width - x - this.problem.length[slot]![variant]!;
    const halves = this.problem.halves[slot]![variant]!;
    const y = this.grid.boardY[board]! + (halves === 1 ? 4 : halves === 2 ? 15 : 9.5);
    return pull * Math.max(0, Math.min(x, right, y - 4, this.grid.height - 5 - y));
  }

  /** Recomputes every net; the weighted total. */
  fullCost(): number {
    let total = 0;
    for (let n = 0; n < this.problem.netCount; n++) {
      this.cost[n] = this.netLength(n) * this.problem.weight[n]!;
      total += this.cost[n]!;
    }
    return total;
  }

  save(): Saved {
    return { board: this.board.slice(), column: this.column.slice(), variant: this.variant.slice() };
  }

  load(saved: Saved): void {
    for (let i = 0; i < this.occupied.length; i++) if (this.occupied[i]! >= 0) this.occupied[i] = -1;
    for (let p = 0; p < this.problem.slotCount; p++)
      if (this.frozen[p] !== 0) continue;
      else if (saved.board[p]! >= 0) this.put(p, saved.variant[p]!, saved.board[p]!, saved.column[p]!);
      else this.board[p] = -1;
  }
}

/**
 * Places every slot that has no place yet, the most strongly connected to those placed first, each at the free place with
 * the shortest connections. Returns the slots for which there was no room.
 */
export function construct(placement: Placement): number[] {
  const { problem, grid } = placement;
  const placed = new Uint8Array(problem.slotCount);
  const pull = new Float64Array(problem.slotCount);
  const bump = (slot: number): void => {
    for (let j = problem.slotNetStart[slot]!; j < problem.slotNetStart[slot + 1]!; j++) {
      const net = problem.slotNets[j]!;
      const start = problem.netStart[net]!;
      const end = problem.netStart[net + 1]!;
      for (let q = start; q < end; q++) pull[problem.endSlot[q]!]! += problem.weight[net]! / (end - start - 1);
    }
  };
  for (let p = 0; p < problem.slotCount; p++) {
    if (placement.board[p]! < 0) continue;
    placed[p] = 1;
    bump(p);
  }
  const homeless: number[] = [];
  const centreX = grid.width / 2;
  const centreY = grid.height / 2;
  for (;;) {
    let slot = -1;
    let most = -1;
    for (let p = 0; p < problem.slotCount; p++) {
      if (placed[p] !== 0) continue;
      const ends = problem.slotStart[p + 1]! - problem.slotStart[p]!;
      // Big parts first among the unconnected, or nothing long would find room at the end.
      const score = pull[p]! * 1000 + ends + (problem.length[p]![0] ?? 0) * 0.1;
      if (score > most) {
        most = score;
        slot = p;
      }
    }
    if (slot < 0) return homeless;
    placed[slot] = 1;
    let best = Number.POSITIVE_INFINITY;
    let at: readonly [number, number, number] | undefined;
    for (let b = 0; b < grid.boards.length; b++) {
      for (let v = 0; v < problem.variants[slot]!.length; v++) {
        const length = problem.length[slot]![v]!;
        for (let c = 0; c + length <= placement.columns[b]!; c++) {
          if (placement.blockers(slot, v, b, c) !== 0) continue;
          const x = grid.boardX[b]! + c;
          const y = grid.boardY[b]!;
          let cost = (Math.abs(x + length / 2 - centreX) + Math.abs(y + 9.5 - centreY)) * 0.05 + v * 0.01;
          let o = problem.tableAt[slot]![v]!;
          for (let j = problem.slotStart[slot]!; j < problem.slotStart[slot + 1]!; j++, o++) {
            const net = problem.endNet[problem.slotEnds[j]!]!;
            let nearest = FAR;
            for (let q = problem.netStart[net]!; q < problem.netStart[net + 1]!; q++) {
              const other = problem.endSlot[q]!;
              if (placed[other] === 0 || other === slot || placement.board[other]! < 0) continue;
              let d = Math.abs(x + problem.column[o]! - placement.x[q]!);
              const l = y + problem.low[o]!;
              const h = y + problem.high[o]!;
              if (l > placement.high[q]!) d += l - placement.high[q]!;
              else if (placement.low[q]! > h) d += placement.low[q]! - h;
              if (d < nearest) nearest = d;
            }
            if (nearest < FAR) cost += nearest * problem.weight[net]!;
          }
          if (cost < best) {
            best = cost;
            at = [v, b, c];
          }
        }
      }
    }
    if (at === undefined) {
      homeless.push(slot);
      continue;
    }
    placement.put(slot, at[0], at[1], at[2]);
    bump(slot);
  }
}
