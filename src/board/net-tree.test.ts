import { expect, test } from 'vitest';
import { createRng } from '../base/index.ts';
import { solveTree, type TreeStrip } from './net-tree.ts';

/** Every tree and every choice of holes, for a few strips. */
function exhaustive(strips: readonly TreeStrip[]): number {
  const k = strips.length;
  let best = Number.POSITIVE_INFINITY;
  const pairs: [number, number][] = [];
  for (let i = 0; i < k; i++) for (let j = i + 1; j < k; j++) pairs.push([i, j]);
  const used = strips.map(() => new Set<number>());
  const up = strips.map((_, i) => i);
  const find = (i: number): number => (up[i] === i ? i : find(up[i]!));
  const choose = (from: number, left: number, length: number): void => {
    if (length >= best) return;
    if (left === 0) {
      best = length;
      return;
    }
    for (let p = from; p < pairs.length; p++) {
      const [a, b] = pairs[p]!;
      const x = find(a);
      const y = find(b);
      if (x === y) continue;
      up[x] = y;
      for (let ha = 0; ha < strips[a]!.ys.length; ha++) {
        if (used[a]!.has(ha)) continue;
        used[a]!.add(ha);
        for (let hb = 0; hb < strips[b]!.ys.length; hb++) {
          if (used[b]!.has(hb)) continue;
          used[b]!.add(hb);
          const d = Math.abs(strips[a]!.x - strips[b]!.x) + Math.abs(strips[a]!.ys[ha]! - strips[b]!.ys[hb]!);
          choose(p + 1, left - 1, length + d);
          used[b]!.delete(hb);
        }
        used[a]!.delete(ha);
      }
      up[x] = x;
    }
  };
  choose(0, k - 1, 0);
  return best;
}

test('small nets: as short as the shortest of all trees and hole choices', () => {
  const rng = createRng(3);
  let solvable = 0;
  for (let round = 0; round < 60; round++) {
    const strips = Array.from({ length: 2 + rng.below(4) }, () => {
      const y = 24 * rng.below(2) + (rng.below(2) === 0 ? 4 : 11);
      const count = 1 + rng.below(3);
      const first = rng.below(5 - count);
      return { x: rng.below(30), ys: Array.from({ length: count }, (_, i) => y + first + i) };
    });
    const best = exhaustive(strips);
    const result = solveTree(strips, []);
    if (best === Number.POSITIVE_INFINITY) expect(result.wires).toBeUndefined();
    else {
      solvable++;
      expect({ round, length: result.length }).toEqual({ round, length: best });
      expect(result.bound).toBeLessThanOrEqual(best);
    }
  }
  expect(solvable).toBeGreaterThan(40);
});
