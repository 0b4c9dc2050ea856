// The minimiser against code not written here: exact covering by the MILP solver HiGHS over primes found by brute force, and
// a general-purpose two-level minimiser from the npm registry (espresso-iisojs, after Brayton, Hachtel, McMullen and
// Sangiovanni-Vincentelli, "Logic Minimization Algorithms for VLSI Synthesis", 1984).

import { espresso } from 'espresso-iisojs';
import highsLoader from 'highs';
import { beforeAll, expect, test } from 'vitest';
import { createRng, type Rng } from '../../src/base/index.ts';
import { type Cube, minimise } from '../../src/decode/index.ts';

let highs: Awaited<ReturnType<typeof highsLoader>>;
beforeAll(async () => {
  highs = await highsLoader();
});

const holds = (cover: readonly Cube[], point: number): boolean => cover.some((c) => ((point ^ c.value) & c.care) === 0);

/** Fewest terms by brute force: every cube that is an implicant and cannot be widened, then an exact covering. */
function fewestTerms(variables: number, on: readonly Cube[], dontCare: readonly Cube[]): number {
  const size = 2 ** variables;
  const state = Array.from({ length: size }, (_, p) => (holds(dontCare, p) ? 2 : holds(on, p) ? 1 : 0));
  const rows = state.flatMap((s, p) => (s === 1 ? [p] : []));
  if (rows.length === 0) return 0;
  const implicants: Cube[] = [];
  for (let care = 0; care < size; care++)
    for (let value = care; ; value = (value - 1) & care) {
      let inside = true;
      const free = size - 1 - care;
      for (let rest = free; inside; rest = (rest - 1) & free) {
        if (state[value | rest] === 0) inside = false;
        if (rest === 0) break;
      }
      if (inside) implicants.push({ care, value });
      if (value === 0) break;
    }
  const primes = implicants.filter(
    (a) =>
      !implicants.some((b) => b.care !== a.care && (b.care & ~a.care) === 0 && ((a.value ^ b.value) & b.care) === 0),
  );
  const lines = rows.map((p, i) => {
    const names = primes.flatMap((c, k) => (((p ^ c.value) & c.care) === 0 ? [`p${k}`] : []));
    return ` r${i}: ${names.join(' + ')} >= 1`;
  });
  const all = primes.map((_, k) => `p${k}`);
  const text = `Minimize\n o: ${all.join(' + ')}\nSubject To\n${lines.join('\n')}\nBinary\n ${all.join(' ')}\nEnd\n`;
  return Math.round(highs.solve(text).ObjectiveValue);
}

function randomCover(rng: Rng, variables: number, cubes: number): Cube[] {
  return Array.from({ length: cubes }, () => {
    const care = rng.below(2 ** variables) | rng.below(2 ** variables);
    return { care, value: rng.below(2 ** variables) & care };
  });
}

function expectSame(variables: number, on: readonly Cube[], dontCare: readonly Cube[], cover: readonly Cube[]): void {
  for (let p = 0; p < 2 ** variables; p++)
    if (!holds(dontCare, p)) expect(holds(cover, p), `point ${p}`).toBe(holds(on, p));
}

test('fewest terms as the exact solver finds them, on random functions', () => {
  const rng = createRng(11);
  for (let round = 0; round < 150; round++) {
    const variables = 3 + rng.below(4);
    const on = randomCover(rng, variables, 1 + rng.below(14));
    const dontCare = randomCover(rng, variables, rng.below(5));
    const { cover, isProved } = minimise({ variables, on, dontCare });
    expect(isProved).toBe(true);
    expect(cover.length, `round ${round}`).toBe(fewestTerms(variables, on, dontCare));
    expectSame(variables, on, dontCare, cover);
  }
});

test('never more terms than the general-purpose minimiser, up to 22 inputs', () => {
  const rng = createRng(12);
  const toLiterals = (cover: readonly Cube[], variables: number): number[][] =>
    cover.map(({ care, value }) =>
      Array.from({ length: variables }, (_, v) => v)
        .filter((v) => (care >> v) & 1)
        .map((v) => v * 2 + ((value >> v) & 1)),
    );
  for (let round = 0; round < 120; round++) {
    const variables = 6 + rng.below(17);
    const on = randomCover(rng, variables, 2 + rng.below(20));
    const dontCare = randomCover(rng, variables, rng.below(6));
    const { cover } = minimise({ variables, on, dontCare });
    const other = espresso(toLiterals(on, variables), toLiterals(dontCare, variables));
    expect(cover.length, `round ${round}`).toBeLessThanOrEqual(other.length);
    if (variables <= 12) expectSame(variables, on, dontCare, cover);
  }
});
