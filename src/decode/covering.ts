// Set covering: the cheapest columns so that every row has one. Exact by branch and bound within a budget of nodes, with
// the classic reductions (forced columns, dominated rows and columns) and disjoint rows as the lower bound. Deterministic.

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
}

/** Solves within `budget` nodes; where it runs out, the best found is returned, not proved. */
export function solveCovering(problem: CoveringProblem, budget = 20_000): CoveringResult {
  const search: Search = {
    costs: problem.costs,
    best: undefined,
    bestCost: Number.POSITIVE_INFINITY,
    nodes: 0,
    budget,
  };
  const greedy = coverGreedily(problem);
  search.best = greedy.columns;
  search.bestCost = greedy.cost;
  branch(search, problem.rows, new Set(), [], 0);
  return {
    columns: [...search.best].sort((a, b) => a - b),
    cost: search.bestCost,
    isProved: search.nodes <= search.budget,
  };
}

interface Search {
  readonly costs: readonly number[];
  best: readonly number[] | undefined;
  bestCost: number;
  nodes: number;
  readonly budget: number;
}

type Rows = readonly (readonly number[])[];

function coverGreedily(problem: CoveringProblem): { columns: number[]; cost: number } {
  const columns: number[] = [];
  let rows: Rows = problem.rows;
  let cost = 0;
  while (rows.length > 0) {
    const gain = new Map<number, number>();
    for (const row of rows) for (const column of row) gain.set(column, (gain.get(column) ?? 0) + 1);
    let best = -1;
    let bestScore = -1;
    for (const [column, count] of gain) {
      const score = count / problem.costs[column]!;
      if (score > bestScore || (score === bestScore && column < best)) {
        best = column;
        bestScore = score;
      }
    }
    columns.push(best);
    cost += problem.costs[best]!;
    rows = rows.filter((row) => !row.includes(best));
  }
  return { columns, cost };
}

function branch(
  search: Search,
  given: Rows,
  excluded: ReadonlySet<number>,
  chosen: readonly number[],
  spent: number,
): void {
  if (++search.nodes > search.budget) return;
  const reduced = reduce(search, given, excluded);
  if (reduced === undefined) return;
  const picked = [...chosen, ...reduced.forced];
  const cost = spent + reduced.forced.reduce((sum, column) => sum + search.costs[column]!, 0);
  if (cost >= search.bestCost) return;
  if (reduced.rows.length === 0) {
    search.best = picked;
    search.bestCost = cost;
    return;
  }
  if (cost + lowerBound(search, reduced.rows) >= search.bestCost) return;
  // The row with the fewest choices; among its columns those that serve most rows first.
  let row = reduced.rows[0]!;
  for (const other of reduced.rows) if (other.length < row.length) row = other;
  const serves = (column: number): number => reduced.rows.filter((other) => other.includes(column)).length;
  const order = row
    .map((column) => ({ column, score: serves(column) / search.costs[column]! }))
    .sort((a, b) => b.score - a.score || a.column - b.column);
  const without = new Set<number>();
  for (const { column } of order) {
    const rest = reduced.rows
      .filter((other) => !other.includes(column))
      .map((other) => other.filter((c) => !without.has(c)));
    branch(search, rest, without, [...picked, column], cost + search.costs[column]!);
    if (search.nodes > search.budget) return;
    without.add(column);
  }
}

/** Forced columns taken, dominated rows and columns dropped, until nothing changes; undefined where a row has no column left. */
function reduce(
  search: Search,
  given: Rows,
  excluded: ReadonlySet<number>,
): { rows: Rows; forced: number[] } | undefined {
  let rows: Rows = excluded.size === 0 ? given : given.map((row) => row.filter((column) => !excluded.has(column)));
  const forced: number[] = [];
  for (;;) {
    if (rows.some((row) => row.length === 0)) return undefined;
    const single = rows.find((row) => row.length === 1);
    if (single !== undefined) {
      const column = single[0]!;
      forced.push(column);
      rows = rows.filter((row) => !row.includes(column));
      continue;
    }
    const fewer = dropColumns(search, dropRows(rows));
    if (fewer === rows) return { rows, forced };
    const isSame = fewer.length === rows.length && fewer.every((row, index) => row.length === rows[index]!.length);
    rows = fewer;
    if (isSame) return { rows, forced };
  }
}

/** Rows without those that contain another row: whoever serves the smaller serves the larger. Order is kept. */
function dropRows(rows: Rows): Rows {
  const order = rows
    .map((row, index) => ({ row, index }))
    .sort((a, b) => a.row.length - b.row.length || a.index - b.index);
  const kept: { row: readonly number[]; index: number; set: Set<number> }[] = [];
  for (const { row, index } of order) {
    const set = new Set(row);
    if (!kept.some((other) => other.row.every((column) => set.has(column)))) kept.push({ row, index, set });
  }
  return kept.sort((a, b) => a.index - b.index).map(({ row }) => row);
}

/** Columns that serve no row that a column of no greater cost does not also serve are dropped. */
function dropColumns(search: Search, rows: Rows): Rows {
  const served = new Map<number, number[]>();
  for (const [index, row] of rows.entries())
    for (const column of row) {
      const list = served.get(column);
      if (list === undefined) served.set(column, [index]);
      else list.push(index);
    }
  // One column stands for all that serve exactly the same rows.
  const classes = new Map<string, number>();
  for (const [column, list] of served) {
    const key = list.join(',');
    const other = classes.get(key);
    if (other === undefined || isCheaper(search, column, other)) classes.set(key, column);
  }
  const candidates = [...classes.values()].sort(
    (a, b) => served.get(b)!.length - served.get(a)!.length || search.costs[a]! - search.costs[b]! || a - b,
  );
  const kept: { column: number; set: Set<number> }[] = [];
  for (const column of candidates) {
    const list = served.get(column)!;
    const cost = search.costs[column]!;
    const isDominated = kept.some(
      (other) =>
        search.costs[other.column]! <= cost && other.set.size >= list.length && list.every((row) => other.set.has(row)),
    );
    if (!isDominated) kept.push({ column, set: new Set(list) });
  }
  if (kept.length === served.size) return rows;
  const alive = new Set(kept.map(({ column }) => column));
  return rows.map((row) => row.filter((column) => alive.has(column)));
}

function isCheaper(search: Search, a: number, b: number): boolean {
  return search.costs[a]! < search.costs[b]! || (search.costs[a]! === search.costs[b]! && a < b);
}

/** Rows no two of which share a column each need a column of their own. */
function lowerBound(search: Search, rows: Rows): number {
  const order = rows
    .map((row, index) => ({ row, index }))
    .sort((a, b) => a.row.length - b.row.length || a.index - b.index);
  const used = new Set<number>();
  let bound = 0;
  for (const { row } of order) {
    if (row.some((column) => used.has(column))) continue;
    let least = Number.POSITIVE_INFINITY;
    for (const column of row) {
      used.add(column);
      least = Math.min(least, search.costs[column]!);
    }
    bound += least;
  }
  return bound;
}
