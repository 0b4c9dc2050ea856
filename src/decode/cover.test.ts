import { expect, test } from 'vitest';
import { createRng, evaluate, parseFormula, type Rng } from '../base/index.ts';
import { assignCheapest, FORBIDDEN } from './assign.ts';
import {
  absorb,
  type Cube,
  complement,
  contains,
  covers,
  findOutside,
  holdsAt,
  isTautology,
  popCount,
  primesOf,
  product,
} from './cover.ts';
import { solveCovering } from './covering.ts';
import { coverOf } from './formula-cover.ts';
import { minimise } from './minimise.ts';

function randomCover(rng: Rng, variables: number, most: number): Cube[] {
  return Array.from({ length: rng.below(most + 1) }, () => {
    const care = rng.below(2 ** variables) & rng.below(2 ** variables);
    return { care, value: rng.below(2 ** variables) & care };
  });
}
const table = (cover: readonly Cube[], variables: number): boolean[] =>
  Array.from({ length: 2 ** variables }, (_, p) => holdsAt(cover, p));

test('bits are counted in words of either sign', () => {
  for (const [word, count] of [
    [0, 0],
    [-1, 32],
    [0x80000000 | 0, 1],
    [0x55555555, 16],
  ] as const)
    expect(popCount(word)).toBe(count);
});

test('algebra on covers agrees with tables', () => {
  const rng = createRng(61);
  for (let round = 0; round < 400; round++) {
    const variables = 1 + rng.below(6);
    const a = randomCover(rng, variables, 8);
    const b = randomCover(rng, variables, 5);
    const [x, y] = [table(a, variables), table(b, variables)];
    expect(table(absorb(a), variables)).toEqual(x);
    expect(table(complement(a)!, variables)).toEqual(x.map((one) => !one));
    expect(table(product(a, b), variables)).toEqual(x.map((one, p) => one && y[p]!));
    expect(isTautology(a)).toBe(x.every(Boolean));
    const outside = findOutside(a);
    if (outside !== undefined) expect(x[outside & (2 ** variables - 1)]).toBe(false);
    for (const cube of b) expect(covers(a, cube)).toBe(x.every((one, p) => one || !holdsAt([cube], p)));
  }
});

test('primes are all the largest cubes, and only those', () => {
  const rng = createRng(62);
  for (let round = 0; round < 120; round++) {
    const variables = 1 + rng.below(5);
    const cover = randomCover(rng, variables, 7);
    const inside = table(cover, variables);
    const all: Cube[] = [];
    for (let care = 0; care < 2 ** variables; care++)
      for (let value = 0; value < 2 ** variables; value++) {
        if ((value & ~care) !== 0) continue;
        const cube = { care, value };
        if (inside.every((one, p) => one || !holdsAt([cube], p))) all.push(cube);
      }
    const largest = all.filter((a) => !all.some((b) => b !== a && contains(b, a)));
    const key = (cube: Cube): string => `${cube.care}/${cube.value}`;
    expect(primesOf(cover)!.map(key).sort()).toEqual(largest.map(key).sort());
  }
});

test('work beyond a limit is given up, not done', () => {
  const parity = Array.from({ length: 512 }, (_, value) => ({ care: 511, value })).filter(
    ({ value }) => popCount(value) % 2 === 1,
  );
  expect(complement(parity, 100)).toBeUndefined();
  expect(primesOf(parity, 100)).toBeUndefined();
  const { cover, isProved } = minimise({ variables: 9, on: parity, primeLimit: 100 });
  expect(cover).toHaveLength(256);
  expect(isProved).toBe(false);
  expect(
    coverOf(parseFormula('(a ^ b) & (c ^ d) & (e ^ f)').formula!, (name) => name.charCodeAt(0) - 97, 4),
  ).toBeUndefined();
});

test('without all primes a function is still covered exactly, if not proved', () => {
  const rng = createRng(63);
  for (let round = 0; round < 60; round++) {
    const variables = 4 + rng.below(4);
    const on = randomCover(rng, variables, 14);
    const dontCare = randomCover(rng, variables, 3);
    const best = minimise({ variables, on, dontCare });
    const grown = minimise({ variables, on, dontCare, primeLimit: 0 });
    for (let p = 0; p < 2 ** variables; p++)
      if (!holdsAt(dontCare, p)) expect(holdsAt(grown.cover, p)).toBe(holdsAt(on, p));
    expect(grown.cover.length).toBeGreaterThanOrEqual(best.cover.length);
    expect(grown.cover.length).toBeLessThanOrEqual(best.cover.length + 2);
  }
});

test('formulas become covers with the same values', () => {
  const names = ['a', 'b', 'c', 'd'];
  for (const text of [
    'a',
    '~a & b',
    'a ^ b ^ c ^ d',
    '~(a | b & ~(c ^ d))',
    '0',
    '1 ^ a',
    '(a ^ (b ^ (c ^ ~d))) & ~(a & b)',
  ]) {
    const { formula } = parseFormula(text);
    const cover = coverOf(formula!, (name) => names.indexOf(name))!;
    for (let p = 0; p < 16; p++)
      expect(holdsAt(cover, p)).toBe(evaluate(formula!, (name) => ((p >> names.indexOf(name)) & 1 ? 1 : 0)) === 1);
  }
});

test('covering is cheapest, by trying all choices', () => {
  const rng = createRng(64);
  for (let round = 0; round < 150; round++) {
    const count = 2 + rng.below(8);
    const costs = Array.from({ length: count }, () => 1 + rng.below(9));
    const rows = Array.from({ length: 1 + rng.below(9) }, () => {
      const row = costs.map((_, column) => column).filter(() => rng.below(3) === 0);
      return row.length > 0 ? row : [rng.below(count)];
    });
    let best = Number.POSITIVE_INFINITY;
    for (let choice = 0; choice < 2 ** count; choice++) {
      if (!rows.every((row) => row.some((column) => (choice >> column) & 1))) continue;
      best = Math.min(
        best,
        costs.reduce((sum, cost, column) => sum + ((choice >> column) & 1 ? cost : 0), 0),
      );
    }
    const solved = solveCovering({ rows, costs });
    expect([solved.cost, solved.isProved]).toEqual([best, true]);
    expect(rows.every((row) => row.some((column) => solved.columns.includes(column)))).toBe(true);
  }
});

test('assignment is cheapest, by trying all orders', () => {
  const rng = createRng(65);
  for (let round = 0; round < 150; round++) {
    const rows = 1 + rng.below(4);
    const columns = rows + rng.below(3);
    const costs = Array.from({ length: rows }, () =>
      Array.from({ length: columns }, () => (rng.below(4) === 0 ? FORBIDDEN : rng.below(20))),
    );
    let best = Number.POSITIVE_INFINITY;
    const place = (row: number, taken: number[], sum: number): void => {
      if (row === rows) best = Math.min(best, sum);
      else
        for (let c = 0; c < columns; c++) if (!taken.includes(c)) place(row + 1, [...taken, c], sum + costs[row]![c]!);
    };
    place(0, [], 0);
    const found = assignCheapest(costs);
    if (best === FORBIDDEN) expect(found).toBeUndefined();
    else expect(found!.reduce((sum, column, row) => sum + costs[row]![column]!, 0)).toBe(best);
    if (found !== undefined) expect(new Set(found).size).toBe(rows);
  }
});
