import { expect, test } from 'vitest';
import { createRng } from '../base/index.ts';
import { orderWithFewSetUps } from './prove-order.ts';

/** The least number of set-ups of any order, by trying all of them. */
function least(setUp: readonly string[], after: readonly (readonly number[])[]): number {
  let best = Number.POSITIVE_INFINITY;
  const go = (done: readonly number[], changes: number): void => {
    if (changes >= best) return;
    if (done.length === setUp.length) {
      best = changes;
      return;
    }
    setUp.forEach((what, k) => {
      if (done.includes(k) || !after[k]!.every((other) => done.includes(other))) return;
      go([...done, k], changes + (done.length === 0 || setUp[done.at(-1)!] !== what ? 1 : 0));
    });
  };
  go([], 0);
  return best;
}
const changes = (setUp: readonly string[], order: readonly number[]): number =>
  order.filter((k, i) => i === 0 || setUp[order[i - 1]!] !== setUp[k]).length;

test('up to seven jobs: every order keeps what must come first, and no order has fewer set-ups', () => {
  const rng = createRng(4);
  for (let run = 0; run < 400; run++) {
    const n = 1 + rng.below(7);
    const setUp = Array.from({ length: n }, () => 'abc'[rng.below(3)]!);
    const after = setUp.map((_, k) => Array.from({ length: k }, (_, j) => j).filter(() => rng.below(3) === 0));
    const order = orderWithFewSetUps(setUp, after);
    expect([...order].sort((a, b) => a - b)).toEqual(setUp.map((_, k) => k));
    order.forEach((k, i) => {
      for (const other of after[k]!) expect(order.indexOf(other)).toBeLessThan(i);
    });
    expect(changes(setUp, order)).toBe(least(setUp, after));
  }
});

test('sixty jobs are ordered soon and lawfully', () => {
  const rng = createRng(6);
  const setUp = Array.from({ length: 60 }, () => 'abcdef'[rng.below(6)]!);
  const after = setUp.map((_, k) => Array.from({ length: k }, (_, j) => j).filter(() => rng.below(30) === 0));
  const order = orderWithFewSetUps(setUp, after);
  expect(new Set(order).size).toBe(60);
  order.forEach((k, i) => {
    for (const other of after[k]!) expect(order.indexOf(other)).toBeLessThan(i);
  });
  expect(changes(setUp, order)).toBeLessThan(30);
});
