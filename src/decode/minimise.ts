// Two-level minimising of one function with don't-cares: fewest terms first, then fewest literals. Exact by all primes and a
// covering problem whose rows are made only where a solution still leaves a point out, so no table of 2^22 points is ever
// built. Every result says whether it is proved to be minimal.

import {
  absorb,
  type Cover,
  type Cube,
  checkCover,
  complement,
  contains,
  covers,
  findOutside,
  intersection,
  cofactor,
  holdsAt,
  intersects,
  popCount,
  primesOf,
  UNIVERSE,
} from './cover.ts';
import { solveCovering } from './covering.ts';

export interface MinimiseInput {
  /** Number of variables, at most 30. */
  readonly variables: number;
  /** Where the function is 1, except where `dontCare` holds too. */
  readonly on: Cover;
  /** Where its value does not matter. */
  readonly dontCare?: Cover;
  /** Primes beyond which the result is found by expansion and not proved; default 4000. */
  readonly primeLimit?: number;
  /** Nodes of the covering search; default 20,000. */
  readonly nodeLimit?: number;
  /** Beyond this many terms a sum is of no use: neither fewest terms nor fewest literals are sought then. Default any. */
  readonly mostTerms?: number;
}

export interface Minimised {
  /** Fewest terms found, in the order of `compareCubes`. */
  readonly cover: Cover;
  /** True where no cover has fewer terms. */
  readonly isProved: boolean;
  /** Primes looked at. */
  readonly primes: number;
}

/** The function with as few terms as possible, and with that many terms as few literals as possible. */
export function minimise(input: MinimiseInput): Minimised {
  const { on, dontCare = [], variables, primeLimit = 4000, nodeLimit = 20_000 } = input;
  const { mostTerms = Number.POSITIVE_INFINITY } = input;
  checkCover(on, variables);
  checkCover(dontCare, variables);
  const care = on.filter((cube) => !covers(dontCare, cube));
  if (care.length === 0) return { cover: [], isProved: true, primes: 0 };
  const upper = absorb([...care, ...dontCare]);
  if (findOutside(upper) === undefined) return { cover: [UNIVERSE], isProved: true, primes: 1 };
  const primes = primesOf(upper, primeLimit);
  const task: Task = { variables, on: care, dontCare, nodeLimit, mostTerms };
  if (primes !== undefined) {
    const useful = primes.filter((prime) => care.some((cube) => intersects(prime, cube)));
    const { chosen, isProved } = choose(task, useful);
    return { cover: chosen, isProved, primes: useful.length };
  }
  const expanded = expandAll(task, upper);
  return { cover: expanded.cover, isProved: false, primes: expanded.primes };
}

interface Task {
  readonly variables: number;
  readonly on: Cover;
  readonly dontCare: Cover;
  readonly nodeLimit: number;
  readonly mostTerms: number;
}

/** More than the literals of any cover that is looked at: a term outweighs all literals. */
const TERM_COST = 4096;

/** The cheapest of `primes` that cover the function, which all of them together do. */
function choose(task: Task, primes: readonly Cube[]): { chosen: Cube[]; isProved: boolean } {
  const rows: number[][] = [];
  const few = coverLazily(
    task,
    primes,
    rows,
    primes.map(() => 1),
    task.mostTerms,
  );
  if (few.columns.length > task.mostTerms)
    return { chosen: few.columns.map((column) => primes[column]!), isProved: few.isProved };
  // With the number of terms known, the same rows and more decide about literals. A search that gives up loses nothing.
  const short = coverLazily(
    task,
    primes,
    rows,
    primes.map((prime) => TERM_COST + popCount(prime.care)),
  );
  const columns = short.columns.length <= few.columns.length ? short.columns : few.columns;
  return {
    chosen: columns.map((column) => primes[column]!),
    isProved: few.isProved || (short.isProved && columns === short.columns),
  };
}

function coverLazily(
  task: Task,
  primes: readonly Cube[],
  rows: number[][],
  costs: readonly number[],
  interest = Number.POSITIVE_INFINITY,
): { columns: readonly number[]; isProved: boolean } {
  let nodes = task.nodeLimit;
  let isProved = true;
  for (;;) {
    const solved = solveCovering({ rows, costs }, { nodes, interest });
    // Without proof on a part of the rows nothing is proved of the whole; above what is of interest any valid cover will do.
    if (!solved.isProved) {
      isProved = false;
      nodes = solved.isAboveInterest ? 0 : Math.min(nodes, 2000);
    }
    const chosen = solved.columns.map((column) => primes[column]!);
    const before = rows.length;
    addMissingRows(task, primes, chosen, rows);
    if (rows.length === before) return { columns: solved.columns, isProved };
  }
}

/** Rows sought in each cube of the function at a time. */
const ROWS_AT_ONCE = 24;

/** For points that `chosen` leaves out: each the primes that hold there, points of few primes sought. */
function addMissingRows(task: Task, primes: readonly Cube[], chosen: readonly Cube[], rows: number[][]): void {
  const covered = [...chosen, ...task.dontCare];
  const known = new Set(rows.map((row) => row.join(',')));
  for (const cube of task.on) {
    for (let round = 0; round < ROWS_AT_ONCE; round++) {
      const free = findOutside(cofactor(covered, cube));
      if (free === undefined) break;
      const point = settle(task, primes, (free & ~cube.care) | cube.value, covered);
      const row = primesAt(primes, point);
      const key = row.join(',');
      if (!known.has(key)) {
        known.add(key);
        rows.push(row);
      }
      // Points in all of these primes make no smaller row: look for the next elsewhere.
      covered.push(row.map((column) => primes[column]!).reduce(intersection));
    }
  }
}

function primesAt(primes: readonly Cube[], point: number): number[] {
  const row: number[] = [];
  for (let i = 0; i < primes.length; i++) if (((point ^ primes[i]!.value) & primes[i]!.care) === 0) row.push(i);
  return row;
}

/** Walks from a point that is left out to a neighbour that is left out too and lies in fewer primes, until there is none. */
function settle(task: Task, primes: readonly Cube[], start: number, covered: readonly Cube[]): number {
  let point = start;
  let size = primesAt(primes, point).length;
  for (let improved = true; improved && size > 1; ) {
    improved = false;
    for (let v = 0; v < task.variables; v++) {
      const next = point ^ (1 << v);
      if (!holdsAt(task.on, next) || holdsAt(covered, next)) continue;
      const count = primesAt(primes, next).length;
      if (count < size) {
        point = next;
        size = count;
        improved = true;
      }
    }
  }
  return point;
}

/**
 * For functions of very many primes: cubes grown to primes one by one, the best of them chosen, shrunk and grown again in
 * another order while that helps.
 */
function expandAll(task: Task, upper: Cover): { cover: Cover; primes: number } {
  const off = complement(upper);
  const isInside = (cube: Cube): boolean =>
    off === undefined ? covers(upper, cube) : !off.some((other) => intersects(other, cube));
  const pool: Cube[] = [];
  let best: Cube[] | undefined;
  let start: Cover = task.on;
  for (let round = 0; round < 4; round++) {
    for (const cube of start) {
      const grown = grow(cube, task.variables, round, isInside);
      if (!pool.some((other) => contains(other, grown))) pool.push(grown);
    }
    const { chosen } = choose(task, pool);
    if (best !== undefined && chosen.length >= best.length && round > 1) break;
    if (best === undefined || chosen.length < best.length) best = chosen;
    start = shrink(task, best);
  }
  return { cover: absorb(best ?? task.on), primes: pool.length };
}

/** Drops literals while the cube stays inside, beginning with another variable each round. */
function grow(cube: Cube, variables: number, round: number, isInside: (cube: Cube) => boolean): Cube {
  let grown = cube;
  for (let i = 0; i < variables; i++) {
    const v = round % 2 === 0 ? (i + round) % variables : (variables - 1 - i + round) % variables;
    const bit = 1 << v;
    if ((grown.care & bit) === 0) continue;
    const wider = { care: grown.care & ~bit, value: grown.value & ~bit };
    if (isInside(wider)) grown = wider;
  }
  return grown;
}

/** Each cube cut down to what only it covers, so that it can grow in another direction. */
function shrink(task: Task, cover: readonly Cube[]): Cube[] {
  const result = [...cover];
  for (let i = 0; i < result.length; i++) {
    const others = [...result.slice(0, i), ...result.slice(i + 1), ...task.dontCare];
    let cube = result[i]!;
    for (let v = 0; v < task.variables; v++) {
      const bit = 1 << v;
      if ((cube.care & bit) !== 0) continue;
      for (const value of [0, bit]) {
        const half = { care: cube.care | bit, value: cube.value | value };
        const other = { care: half.care, value: cube.value | (value ^ bit) };
        if (
          task.on.every(
            (one) =>
              !intersects(one, other) ||
              covers(others, { care: one.care | other.care, value: one.value | other.value }),
          )
        ) {
          cube = half;
          break;
        }
      }
    }
    result[i] = cube;
  }
  return result;
}
