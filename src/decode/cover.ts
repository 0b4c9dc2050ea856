// Sums of products as sets of cubes, and the algebra on them: containment, tautology, complement, primes. Cubes are two
// masks, so that a range of addresses is a few cubes and never a table. Up to 30 variables; the devices have 22 inputs.

import { bug } from '../base/index.ts';

/** A product term: bit v of `care` says that variable v matters, bit v of `value` its level. `value` is within `care`. */
export interface Cube {
  readonly care: number;
  readonly value: number;
}

/** A sum of product terms; the empty one is false. */
export type Cover = readonly Cube[];

/** The term that is always true. */
export const UNIVERSE: Cube = { care: 0, value: 0 };

/** The most variables that a cover may have: masks are kept within positive 32-bit integers. */
export const MOST_VARIABLES = 30;

/** Number of ones. */
export function popCount(bits: number): number {
  let x = bits - ((bits >>> 1) & 0x55555555);
  x = (x & 0x33333333) + ((x >>> 2) & 0x33333333);
  return (((x + (x >>> 4)) & 0x0f0f0f0f) * 0x01010101) >>> 24;
}

/** Whether every point of `b` is in `a`. */
export function contains(a: Cube, b: Cube): boolean {
  return (a.care & ~b.care) === 0 && ((a.value ^ b.value) & a.care) === 0;
}

/** Whether the cubes have a point in common. */
export function intersects(a: Cube, b: Cube): boolean {
  return ((a.value ^ b.value) & a.care & b.care) === 0;
}

/** The points in both; only for cubes that intersect. */
export function intersection(a: Cube, b: Cube): Cube {
  return { care: a.care | b.care, value: a.value | b.value };
}

/** Whether the point `levels` (bit v is variable v) is in the cover. */
export function holdsAt(cover: Cover, levels: number): boolean {
  for (const cube of cover) if (((levels ^ cube.value) & cube.care) === 0) return true;
  return false;
}

/** The products of two covers. */
export function product(a: Cover, b: Cover): Cube[] {
  const result: Cube[] = [];
  for (const x of a) for (const y of b) if (intersects(x, y)) result.push(intersection(x, y));
  return absorb(result);
}

/** The cover within the cube `within`, as a cover over the other variables. */
export function cofactor(cover: Cover, within: Cube): Cube[] {
  const result: Cube[] = [];
  for (const cube of cover)
    if (intersects(cube, within)) result.push({ care: cube.care & ~within.care, value: cube.value & ~within.care });
  return result;
}

/** Variables that some cube cares for. */
export function supportOf(cover: Cover): number {
  let support = 0;
  for (const cube of cover) support |= cube.care;
  return support;
}

/** Orders by number of literals, then by masks: the order of every result here. */
export function compareCubes(a: Cube, b: Cube): number {
  return popCount(a.care) - popCount(b.care) || a.care - b.care || a.value - b.value;
}

/** The cover without cubes that lie in another cube of it, in order. */
export function absorb(cover: Cover): Cube[] {
  const sorted = [...cover].sort(compareCubes);
  const kept: Cube[] = [];
  for (const cube of sorted) if (!kept.some((other) => contains(other, cube))) kept.push(cube);
  return kept;
}

/** The variable that splits best: in both senses if there is one, else the most used; -1 for a cover of constants. */
function splitVariable(cover: Cover): { variable: number; isUnate: boolean } {
  let best = -1;
  let bestScore = -1;
  let isUnate = true;
  const support = supportOf(cover);
  for (let bits = support; bits !== 0; bits &= bits - 1) {
    const bit = bits & -bits;
    let high = 0;
    let low = 0;
    for (const cube of cover) {
      if ((cube.care & bit) === 0) continue;
      if ((cube.value & bit) !== 0) high++;
      else low++;
    }
    const isBinate = high > 0 && low > 0;
    if (isBinate) isUnate = false;
    const score = (isBinate ? 1_000_000 : 0) + high + low;
    if (score > bestScore) {
      bestScore = score;
      best = bit;
    }
  }
  return { variable: best, isUnate };
}

/** Whether the cover holds at every point. */
export function isTautology(cover: Cover): boolean {
  return findOutside(cover) === undefined;
}

/** Whether every point of `cube` is in the cover. */
export function covers(cover: Cover, cube: Cube): boolean {
  return findOutside(cofactor(cover, cube)) === undefined;
}

/** A point where the cover does not hold, as the levels of all variables (0 where it does not matter), or undefined. */
export function findOutside(cover: Cover): number | undefined {
  if (cover.length === 0) return 0;
  if (cover.some((cube) => cube.care === 0)) return undefined;
  // A variable used in one sense only: the cover fails somewhere exactly if it fails where that sense is not given.
  let high = 0;
  let low = 0;
  for (const cube of cover) {
    high |= cube.value;
    low |= cube.care & ~cube.value;
  }
  const unate = high ^ low;
  if (unate !== 0) {
    const rest = cover.filter((cube) => (cube.care & unate) === 0);
    const point = findOutside(rest);
    return point === undefined ? undefined : (point & ~unate) | (low & unate);
  }
  const { variable } = splitVariable(cover);
  const zero = findOutside(cofactor(cover, { care: variable, value: 0 }));
  if (zero !== undefined) return zero & ~variable;
  const one = findOutside(cofactor(cover, { care: variable, value: variable }));
  return one === undefined ? undefined : one | variable;
}

/** The points outside the cover, or undefined where that takes more than `limit` cubes. */
export function complement(cover: Cover, limit = 20_000): Cube[] | undefined {
  let made = 0;
  const recurse = (part: Cover): Cube[] | undefined => {
    if (part.length === 0) return [UNIVERSE];
    if (part.some((cube) => cube.care === 0)) return [];
    if (part.length === 1) return complementCube(part[0]!);
    const { variable } = splitVariable(part);
    const zero = recurse(cofactor(part, { care: variable, value: 0 }));
    if (zero === undefined) return undefined;
    const one = recurse(cofactor(part, { care: variable, value: variable }));
    if (one === undefined) return undefined;
    const result: Cube[] = [];
    const lifted = new Set<Cube>();
    for (const a of zero) {
      const twin = one.find((b) => b.care === a.care && b.value === a.value);
      if (twin !== undefined) {
        lifted.add(twin);
        result.push(a);
      } else result.push({ care: a.care | variable, value: a.value });
    }
    for (const b of one) if (!lifted.has(b)) result.push({ care: b.care | variable, value: b.value | variable });
    made += result.length;
    return made > limit * 4 || result.length > limit ? undefined : result;
  };
  const result = recurse(absorb(cover));
  return result === undefined ? undefined : absorb(result);
}

/** The complement of one cube, as disjoint cubes. */
function complementCube(cube: Cube): Cube[] {
  const result: Cube[] = [];
  let care = 0;
  for (let bits = cube.care; bits !== 0; bits &= bits - 1) {
    const bit = bits & -bits;
    result.push({ care: care | bit, value: (cube.value & care) | (~cube.value & bit) });
    care |= bit;
  }
  return result;
}

/**
 * All primes of the cover: its largest cubes. Undefined where there are more than `limit`, or the work grows beyond a
 * fixed multiple of it. By splitting: a prime free of the variable is a product of primes of both halves; a prime with it is
 * a prime of its half that the other half does not hold.
 */
export function primesOf(cover: Cover, limit = 4000): Cube[] | undefined {
  let work = 0;
  const most = limit * 500;
  const recurse = (part: Cover): Cube[] | undefined => {
    const own = absorb(part);
    if (own.length <= 1 || own[0]!.care === 0) return own.slice(0, own[0]?.care === 0 ? 1 : undefined);
    const { variable, isUnate } = splitVariable(own);
    if (isUnate) return own;
    const zero = recurse(cofactor(own, { care: variable, value: 0 }));
    if (zero === undefined) return undefined;
    const one = recurse(cofactor(own, { care: variable, value: variable }));
    if (one === undefined) return undefined;
    work += zero.length * one.length;
    if (work > most) return undefined;
    const free = product(zero, one);
    const result = [...free];
    for (const a of zero)
      if (!free.some((cube) => contains(cube, a))) result.push({ care: a.care | variable, value: a.value });
    for (const b of one)
      if (!free.some((cube) => contains(cube, b))) result.push({ care: b.care | variable, value: b.value | variable });
    work += free.length * (zero.length + one.length);
    return result.length > limit || work > most ? undefined : result;
  };
  return recurse(cover)?.sort(compareCubes);
}

/** Checks that a cover stays within `variables`; for covers that callers made. */
export function checkCover(cover: Cover, variables: number): void {
  const all = 2 ** variables - 1;
  for (const cube of cover)
    if ((cube.care & ~all) !== 0 || (cube.value & ~cube.care) !== 0)
      bug('a cube outside its variables', { ...cube, variables });
}
