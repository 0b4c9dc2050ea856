// Set covering: the cheapest columns so that every row has one. Exact by branch and bound within a budget of nodes, with
// the classic reductions (forced columns, dominated rows and columns) and disjoint rows as the lower bound. Deterministic.

import { popCount } from './cover.ts';

/** What is to be covered: for each row the columns that would do, each ascending and none empty. */
export interface CoveringProblem {
  readonly rows: readonly (readonly number[])[];
  /** Cost of each column, positive integers. */
  readonly costs: readonly number[];
}

export interface CoveringResult {
  /** Chosen columns, ascending. */
  readonly columns: readonly number[];
  readonly cost: number;
  /** True where nothing cheaper exists. */
  readonly isProved: boolean;
  /** True where even the first lower bound lies above the interest. */
  readonly isAboveInterest: boolean;
}

/** How far to go. */
export interface CoveringLimits {
  /** Nodes; where they run out, the best found is returned, not proved. Default 20,000. */
  readonly nodes?: number;
  /** Where the first lower bound lies above this cost, the greedy answer is returned, not proved. Default never. */
  readonly interest?: number;
}

/** Solves within its limits. */
export function solveCovering(problem: CoveringProblem, limits: CoveringLimits = {}): CoveringResult {
  const { nodes: budget = 20_000, interest = Number.POSITIVE_INFINITY } = limits;
  const { costs } = problem;
  const words = (costs.length + 31) >> 5;
  const rows = problem.rows.map((columns) => {
    const row = new Int32Array(words);
    for (const column of columns) row[column >> 5]! |= 1 << (column & 31);
    return row;
  });
  const greedy = coverGreedily(problem);
  const search: Search = {
    costs,
    words,
    best: greedy.columns,
    bestCost: greedy.cost,
    nodes: 0,
    budget,
    interest,
    isAboveInterest: false,
  };
  branch(search, rows, [], 0);
  return {
    columns: [...search.best].sort((a, b) => a - b),
    cost: search.bestCost,
    isProved: search.nodes <= search.budget,
    isAboveInterest: search.isAboveInterest,
  };
}

/** A set of columns, or of rows: bit k of word k div 32. */
type Bits = Int32Array;

interface Search {
  readonly costs: readonly number[];
  /** Words of a set of columns. */
  readonly words: number;
  best: readonly number[];
  bestCost: number;
  nodes: number;
  readonly budget: number;
  readonly interest: number;
  isAboveInterest: boolean;
}

function coverGreedily(problem: CoveringProblem): { columns: number[]; cost: number } {
  const gain = new Int32Array(problem.costs.length);
  const serves: number[][] = problem.costs.map(() => []);
  for (const [index, row] of problem.rows.entries())
    for (const column of row) {
      gain[column]!++;
      serves[column]!.push(index);
    }
  const isServed = new Uint8Array(problem.rows.length);
  const columns: number[] = [];
  let cost = 0;
  for (let left = problem.rows.length; left > 0; ) {
    let best = 0;
    for (let column = 1; column < gain.length; column++)
      if (gain[column]! * problem.costs[best]! > gain[best]! * problem.costs[column]!) best = column;
    columns.push(best);
    cost += problem.costs[best]!;
    for (const index of serves[best]!) {
      if (isServed[index] === 1) continue;
      isServed[index] = 1;
      left--;
      for (const column of problem.rows[index]!) gain[column]!--;
    }
  }
  return { columns, cost };
}

function sizeOf(bits: Bits): number {
  let size = 0;
  for (let w = 0; w < bits.length; w++) if (bits[w] !== 0) size += popCount(bits[w]!);
  return size;
}

function isSubset(a: Bits, b: Bits): boolean {
  for (let w = 0; w < a.length; w++) if ((a[w]! & ~b[w]!) !== 0) return false;
  return true;
}

function has(bits: Bits, index: number): boolean {
  return ((bits[index >> 5]! >>> (index & 31)) & 1) === 1;
}

function members(bits: Bits): number[] {
  const list: number[] = [];
  for (let w = 0; w < bits.length; w++)
    for (let word = bits[w]!; word !== 0; word &= word - 1) list.push(w * 32 + 31 - Math.clz32(word & -word));
  return list;
}

/** `rows` belong to this call and may be changed. */
function branch(search: Search, rows: Bits[], chosen: readonly number[], spent: number): void {
  if (++search.nodes > search.budget) return;
  const forced: number[] = [];
  const left = reduce(search, rows, forced);
  if (left === undefined) return;
  const picked = [...chosen, ...forced];
  const cost = forced.reduce((sum, column) => sum + search.costs[column]!, spent);
  if (cost >= search.bestCost) return;
  if (left.length === 0) {
    search.best = picked;
    search.bestCost = cost;
    return;
  }
  const bound = cost + lowerBound(search, left);
  if (bound >= search.bestCost) return;
  if (search.nodes === 1 && bound > search.interest) {
    search.nodes = search.budget + 1;
    search.isAboveInterest = true;
    return;
  }
  // The row with the fewest choices; among its columns those that serve most rows first.
  let row = left[0]!;
  let least = sizeOf(row);
  for (const other of left) {
    const size = sizeOf(other);
    if (size < least) {
      row = other;
      least = size;
    }
  }
  const order = members(row)
    .map((column) => ({ column, score: left.filter((other) => has(other, column)).length / search.costs[column]! }))
    .sort((a, b) => b.score - a.score || a.column - b.column);
  const without = new Int32Array(search.words).fill(-1);
  for (const { column } of order) {
    const rest: Bits[] = [];
    for (const other of left) if (!has(other, column)) rest.push(other.map((word, w) => word & without[w]!));
    branch(search, rest, [...picked, column], cost + search.costs[column]!);
    if (search.nodes > search.budget) return;
    without[column >> 5]! &= ~(1 << (column & 31));
  }
}

/** Forced columns taken, dominated rows and columns dropped, until nothing changes; undefined where a row has no column left. */
function reduce(search: Search, given: Bits[], forced: number[]): Bits[] | undefined {
  let rows = given;
  for (;;) {
    const sizes = rows.map(sizeOf);
    if (sizes.includes(0)) return undefined;
    const single = sizes.indexOf(1);
    if (single >= 0) {
      const [column] = members(rows[single]!);
      forced.push(column!);
      rows = rows.filter((row) => !has(row, column!));
      continue;
    }
    const fewer = dropRows(rows, sizes);
    const isChanged = dropColumns(search, fewer);
    if (!isChanged) return fewer;
    rows = fewer;
  }
}

/** Rows without those that contain another row: whoever serves the smaller serves the larger. Order is kept. */
function dropRows(rows: readonly Bits[], sizes: readonly number[]): Bits[] {
  const order = rows.map((_, index) => index).sort((a, b) => sizes[a]! - sizes[b]! || a - b);
  const kept: number[] = [];
  for (const index of order) if (!kept.some((other) => isSubset(rows[other]!, rows[index]!))) kept.push(index);
  return kept.sort((a, b) => a - b).map((index) => rows[index]!);
}

/** Takes columns out of the rows that serve nothing a column of no greater cost does not serve too. True where any went. */
function dropColumns(search: Search, rows: readonly Bits[]): boolean {
  const words = (rows.length + 31) >> 5;
  const served = new Map<number, Bits>();
  for (const [index, row] of rows.entries())
    for (const column of members(row)) {
      let set = served.get(column);
      if (set === undefined) {
        set = new Int32Array(words);
        served.set(column, set);
      }
      set[index >> 5]! |= 1 << (index & 31);
    }
  const columns = [...served].map(([column, set]) => ({ column, set, size: sizeOf(set), cost: search.costs[column]! }));
  columns.sort((a, b) => b.size - a.size || a.cost - b.cost || a.column - b.column);
  const kept: typeof columns = [];
  const gone = new Int32Array(search.words);
  let isChanged = false;
  for (const candidate of columns) {
    if (kept.some((other) => other.cost <= candidate.cost && isSubset(candidate.set, other.set))) {
      gone[candidate.column >> 5]! |= 1 << (candidate.column & 31);
      isChanged = true;
    } else kept.push(candidate);
  }
  if (isChanged) for (const row of rows) for (let w = 0; w < row.length; w++) row[w]! &= ~gone[w]!;
  return isChanged;
}

/** Rows no two of which share a column each need a column of their own. */
function lowerBound(search: Search, rows: readonly Bits[]): number {
  const order = rows
    .map((row, index) => ({ row, index, size: sizeOf(row) }))
    .sort((a, b) => a.size - b.size || a.index - b.index);
  const used = new Int32Array(search.words);
  let bound = 0;
  for (const { row } of order) {
    let isFree = true;
    for (let w = 0; w < row.length && isFree; w++) if ((row[w]! & used[w]!) !== 0) isFree = false;
    if (!isFree) continue;
    let least = Number.POSITIVE_INFINITY;
    for (const column of members(row)) least = Math.min(least, search.costs[column]!);
    for (let w = 0; w < row.length; w++) used[w]! |= row[w]!;
    bound += least;
  }
  return bound;
}
