// Formulas as covers: negations pushed to the names, products multiplied out, absorbed as they grow.

import type { Formula } from '../base/index.ts';
import { absorb, type Cover, type Cube, intersection, intersects, UNIVERSE } from './cover.ts';

/**
 * Where the formula holds, as a cover; `place` gives the variable of a name. Undefined where more than `limit` cubes would
 * be held at once.
 */
export function coverOf(formula: Formula, place: (name: string) => number, limit = 4000): Cube[] | undefined {
  const sum = (parts: readonly (Cover | undefined)[]): Cube[] | undefined => {
    const all: Cube[] = [];
    for (const part of parts) {
      if (part === undefined) return undefined;
      all.push(...part);
    }
    return all.length > limit ? undefined : absorb(all);
  };
  const times = (a: Cover | undefined, b: Cover | undefined): Cube[] | undefined => {
    if (a === undefined || b === undefined || a.length * b.length > limit * 50) return undefined;
    const result: Cube[] = [];
    for (const x of a) for (const y of b) if (intersects(x, y)) result.push(intersection(x, y));
    return result.length > limit ? undefined : absorb(result);
  };
  // Each part is wanted in both senses at most once, however deep exclusive ors are nested.
  const known = { true: new Map<Formula, Cube[] | undefined>(), false: new Map<Formula, Cube[] | undefined>() };
  const where = (part: Formula, wanted: boolean): Cube[] | undefined => {
    const memo = wanted ? known.true : known.false;
    if (!memo.has(part)) memo.set(part, find(part, wanted));
    return memo.get(part);
  };
  const find = (part: Formula, wanted: boolean): Cube[] | undefined => {
    switch (part.kind) {
      case 'constant':
        return (part.value === 1) === wanted ? [UNIVERSE] : [];
      case 'name': {
        const care = 1 << place(part.name);
        return [{ care, value: wanted ? care : 0 }];
      }
      case 'not':
        return where(part.term, !wanted);
      case 'xor': {
        let odd: Cube[] | undefined = [];
        let even: Cube[] | undefined = [UNIVERSE];
        for (const term of part.terms) {
          const high = where(term, true);
          const low = where(term, false);
          const nextOdd = sum([times(odd, low), times(even, high)]);
          even = sum([times(even, low), times(odd, high)]);
          odd = nextOdd;
        }
        return wanted ? odd : even;
      }
      default: {
        const isProduct = (part.kind === 'and') === wanted;
        const parts = part.terms.map((term) => where(term, wanted));
        return isProduct ? parts.reduce<Cube[] | undefined>(times, [UNIVERSE]) : sum(parts);
      }
    }
  };
  return where(formula, true);
}
