import fc from 'fast-check';
import { expect, test } from 'vitest';
import { LANE, type LaneField, type LaneWire, layLanes, type Point } from './lanes.ts';

const field: LaneField = {
  x: -6,
  y: -6,
  width: 92,
  height: 66,
  origin: [0, 0],
  bodies: [],
  leads: [],
  soft: [],
  rails: [],
};
const hole = (column: number, row: number): Point => [column * 2 * LANE, row * 2 * LANE];
const wire = (id: string, from: Point, to: Point, bundle = '', order = 0): LaneWire => ({
  id,
  from,
  to,
  bundle,
  order,
});
const lengthOf = (path: readonly Point[]): number =>
  path.slice(1).reduce((sum, [x, y], i) => sum + Math.abs(x - path[i]![0]) + Math.abs(y - path[i]![1]), 0);
const corners = (path: readonly Point[]): number => path.length - 2;

test('a wire in line is straight, one that is not has a single corner', () => {
  const { paths } = layLanes([wire('a', hole(1, 1), hole(20, 1)), wire('b', hole(3, 3), hole(18, 12))], field);
  expect(paths.get('a')).toEqual([hole(1, 1), hole(20, 1)]);
  expect(corners(paths.get('b')!)).toBe(1);
  expect(lengthOf(paths.get('b')!)).toBeCloseTo((15 + 9) * 2 * LANE, 6);
});

test('a wire goes round a body by its nearer end, without more corners than that takes', () => {
  const body = { x: 20, y: 10, width: 30, height: 10 };
  const { paths } = layLanes([wire('a', hole(9, 2), hole(9, 12))], { ...field, bodies: [body] });
  const path = paths.get('a')!;
  // Up to four corners round the left end of the body; the detour is twice the way to its edge and one lane.
  expect(corners(path)).toBeLessThanOrEqual(4);
  const aside = 9 * 2 * LANE - 20;
  expect(lengthOf(path)).toBeLessThanOrEqual(10 * 2 * LANE + 2 * (aside + 2 * LANE));
  expect(path.some(([x, y]) => x > 20 && x < 50 && y > 10 && y < 20)).toBe(false);
});

test('bits of a bundle lie side by side in the order of their bits', () => {
  const bits = Array.from({ length: 8 }, (_, k) => wire(`d${k}`, hole(2 + k, 2), hole(20 + k, 16), 'D', k));
  const { paths, shared } = layLanes(bits, field);
  expect(shared).toBe(0);
  const middles = bits.map(({ id }) => {
    const path = paths.get(id)!;
    expect(corners(path)).toBeLessThanOrEqual(2);
    const y = path.slice(1).reduce((best, point, i) => {
      const before = path[i]!;
      return before[1] === point[1] && Math.abs(before[0] - point[0]) > 20 ? point[1] : best;
    }, Number.NaN);
    return y;
  });
  const sorted = [...middles].sort((a, b) => a - b);
  expect(middles.every((y) => Number.isFinite(y))).toBe(true);
  expect(new Set(middles).size).toBe(8);
  expect([sorted, [...sorted].reverse()]).toContainEqual(middles);
  expect(sorted.at(-1)! - sorted[0]!).toBeLessThan(14 * LANE + 0.01);
});

test('a given path is kept, and others keep out of its lane', () => {
  const path: Point[] = [hole(1, 1), hole(10, 1), hole(10, 8)];
  const { paths, shared } = layLanes(
    [{ ...wire('given', path[0]!, path[2]!), path }, wire('other', hole(2, 0), hole(9, 2))],
    field,
  );
  expect(paths.get('given')).toEqual(path);
  expect(shared).toBe(0);
});

test('ends that are walled in are reached over the body, not left out', () => {
  const { paths } = layLanes([wire('a', hole(10, 5), hole(25, 5))], {
    ...field,
    bodies: [{ x: 20, y: 6, width: 12, height: 14 }],
  });
  expect(paths.get('a')![0]).toEqual(hole(10, 5));
  expect(paths.get('a')!.at(-1)).toEqual(hole(25, 5));
});

test('one wire alone is never much longer than the shortest way, found by breadth-first search', () => {
  const place = fc.tuple(fc.integer({ min: 0, max: 15 }), fc.integer({ min: 0, max: 10 }));
  const box = fc.tuple(
    fc.integer({ min: 0, max: 28 }),
    fc.integer({ min: 0, max: 20 }),
    fc.integer({ min: 2, max: 10 }),
  );
  fc.assert(
    fc.property(place, place, fc.array(box, { maxLength: 5 }), (a, b, boxes) => {
      fc.pre(a[0] !== b[0] || a[1] !== b[1]);
      const bodies = boxes.map(([x, y, w]) => ({ x: x * LANE, y: y * LANE, width: w * LANE, height: 3 * LANE }));
      const inside = (x: number, y: number): boolean =>
        boxes.some(([bx, by, w]) => x >= bx && x <= bx + w && y >= by && y <= by + 3);
      const [ax, ay, bx, by] = [a[0] * 2, a[1] * 2, b[0] * 2, b[1] * 2];
      const shortest = breadthFirst([ax, ay], [bx, by], inside);
      fc.pre(shortest !== undefined);
      const { paths } = layLanes([wire('w', hole(...a), hole(...b))], { ...field, bodies });
      const path = paths.get('w')!;
      // A corner costs as much as some lanes, so a little longer with fewer corners is right.
      expect(lengthOf(path) / LANE).toBeLessThanOrEqual(shortest! * 1.3 + 12);
    }),
    { seed: 11, numRuns: 150 },
  );
});

/** Lanes of the shortest way on the field's grid, round what is `inside`; undefined where there is none. */
function breadthFirst(
  from: readonly [number, number],
  to: readonly [number, number],
  inside: (x: number, y: number) => boolean,
): number | undefined {
  const seen = new Map<string, number>([[from.join(), 0]]);
  const queue: (readonly [number, number])[] = [from];
  for (let item = queue.shift(); item !== undefined; item = queue.shift()) {
    const [x, y] = item;
    const far = seen.get(item.join())!;
    if (x === to[0] && y === to[1]) return far;
    for (const [nx, ny] of [
      [x + 1, y],
      [x - 1, y],
      [x, y + 1],
      [x, y - 1],
    ] as const) {
      if (nx < -4 || nx > 67 || ny < -4 || ny > 46 || seen.has(`${nx},${ny}`)) continue;
      if (inside(nx, ny) && (nx !== to[0] || ny !== to[1])) continue;
      seen.set(`${nx},${ny}`, far + 1);
      queue.push([nx, ny]);
    }
  }
  return undefined;
}

test('nothing to lay gives nothing, and a wire from a hole to itself is a point', () => {
  expect(layLanes([], field).paths.size).toBe(0);
  expect(layLanes([wire('a', hole(1, 1), hole(1, 1))], field).paths.get('a')).toEqual([hole(1, 1), hole(1, 1)]);
});
