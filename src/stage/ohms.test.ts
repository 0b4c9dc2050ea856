import { expect, test } from 'vitest';
import { createRng } from '../base/index.ts';
import { coverWithFew } from './cover.ts';
import { createOhmNetwork } from './ohms.ts';

test('series, parallel, and the bridge of Wheatstone (balanced: the middle resistor carries nothing)', () => {
  const series = createOhmNetwork(3, [
    { a: 0, b: 1, ohms: 100 },
    { a: 1, b: 2, ohms: 220 },
  ]);
  expect(series.between(0, 2)).toBeCloseTo(320, 9);
  expect(series.without(0, 2, 1)).toBe(Number.POSITIVE_INFINITY);
  expect(series.bridged(0, 2, 0, 1)).toBeCloseTo(220, 9);
  const parallel = createOhmNetwork(2, [
    { a: 0, b: 1, ohms: 100 },
    { a: 0, b: 1, ohms: 100 },
  ]);
  expect(parallel.between(0, 1)).toBeCloseTo(50, 9);
  expect(parallel.without(0, 1, 0)).toBeCloseTo(100, 9);
  expect(parallel.bridged(0, 1, 0, 1)).toBe(0);
  const bridge = createOhmNetwork(4, [
    { a: 0, b: 1, ohms: 10 },
    { a: 0, b: 2, ohms: 20 },
    { a: 1, b: 3, ohms: 30 },
    { a: 2, b: 3, ohms: 60 },
    { a: 1, b: 2, ohms: 47 },
  ]);
  expect(bridge.between(0, 3)).toBeCloseTo((40 * 80) / 120, 9);
  expect(bridge.without(0, 3, 4)).toBeCloseTo((40 * 80) / 120, 9);
  expect(createOhmNetwork(5, []).between(0, 4)).toBe(Number.POSITIVE_INFINITY);
});

test('a cube of equal resistors: 5/6 across the body diagonal, 3/4 and 7/12 on a face and an edge', () => {
  // A textbook example: twelve equal resistors along the edges of a cube.
  const edges = [];
  for (let i = 0; i < 8; i++)
    for (const bit of [1, 2, 4]) if ((i & bit) === 0) edges.push({ a: i, b: i | bit, ohms: 1 });
  const cube = createOhmNetwork(8, edges);
  expect(cube.between(0, 7)).toBeCloseTo(5 / 6, 9);
  expect(cube.between(0, 3)).toBeCloseTo(3 / 4, 9);
  expect(cube.between(0, 1)).toBeCloseTo(7 / 12, 9);
});

test('closed forms for a bridge and a missing resistor equal the network worked out anew', () => {
  const rng = createRng(9);
  for (let run = 0; run < 300; run++) {
    const n = 3 + rng.below(5);
    const edges = Array.from({ length: n + rng.below(6) }, () => ({
      a: rng.below(n),
      b: rng.below(n),
      ohms: 10 + rng.below(1000),
    })).filter((edge) => edge.a !== edge.b);
    const network = createOhmNetwork(n, edges);
    const [a, b, x, y] = [rng.below(n), rng.below(n), rng.below(n), rng.below(n)] as const;
    const near = (value: number, wanted: number): void => {
      if (Number.isFinite(wanted)) expect(Math.abs(value - wanted)).toBeLessThan(1e-6 * (1 + wanted));
      else expect(value).toBe(wanted);
    };
    if (a !== b && x !== y) {
      const map = (node: number): number => (node === y ? x : node);
      const merged = createOhmNetwork(
        n,
        edges.map((edge) => ({ ...edge, a: map(edge.a), b: map(edge.b) })).filter((edge) => edge.a !== edge.b),
      );
      near(network.bridged(a, b, x, y), merged.between(map(a), map(b)));
    }
    if (edges.length > 0 && a !== b) {
      const gone = rng.below(edges.length);
      near(
        network.without(a, b, gone),
        createOhmNetwork(
          n,
          edges.filter((_, i) => i !== gone),
        ).between(a, b),
      );
    }
  }
});

test('a cover covers all that can be covered, and is near the least there is', () => {
  const rng = createRng(2);
  let ours = 0;
  let best = 0;
  for (let run = 0; run < 200; run++) {
    const elements = 4 + rng.below(5);
    const sets = Array.from({ length: 4 + rng.below(6) }, () =>
      Array.from({ length: elements }, (_, i) => i).filter(() => rng.below(3) === 0),
    );
    const can = new Set(sets.flat());
    const chosen = coverWithFew(sets, elements);
    expect(new Set(chosen.flatMap((i) => sets[i]!))).toEqual(can);
    let least = sets.length;
    for (let mask = 0; mask < 1 << sets.length; mask++) {
      const picked = sets.filter((_, i) => (mask >> i) & 1);
      if (picked.length < least && new Set(picked.flat()).size === can.size) least = picked.length;
    }
    ours += chosen.length;
    best += least;
  }
  expect(ours / best).toBeLessThan(1.03);
});
