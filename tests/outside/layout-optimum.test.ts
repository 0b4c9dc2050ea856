// Wiring of small nets against the optimum found by HiGHS (an exact mixed-integer solver, npm package `highs`), and small
// placements against full enumeration.

import loadHighs from 'highs';
import { expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { lay, NO_CHOICES, parseHole, ROWS, solveTree, type TreeStrip } from '../../src/board/index.ts';
import { chipRecord, type DraftPart, designOf } from '../../benchmarks/machines/random-design.ts';

/** The net as a program in LP format: one binary per wire (strip, hole, strip, hole), connected by a flow from strip 0. */
function programOf(strips: readonly TreeStrip[]): string {
  const k = strips.length;
  const terms: string[] = [];
  const binaries: string[] = [];
  const atHole = new Map<string, string[]>();
  const ofPair = new Map<string, string[]>();
  const put = (map: Map<string, string[]>, key: string, name: string): void => {
    const list = map.get(key);
    if (list === undefined) map.set(key, [name]);
    else list.push(name);
  };
  for (let i = 0; i < k; i++)
    for (let j = i + 1; j < k; j++)
      for (let a = 0; a < strips[i]!.ys.length; a++)
        for (let b = 0; b < strips[j]!.ys.length; b++) {
          const name = `x_${i}_${a}_${j}_${b}`;
          const d = Math.abs(strips[i]!.x - strips[j]!.x) + Math.abs(strips[i]!.ys[a]! - strips[j]!.ys[b]!);
          terms.push(`${d} ${name}`);
          binaries.push(name);
          put(atHole, `${i}_${a}`, name);
          put(atHole, `${j}_${b}`, name);
          put(ofPair, `${i}_${j}`, name);
        }
  const rows: string[] = [];
  for (const names of atHole.values()) rows.push(`${names.join(' + ')} <= 1`);
  rows.push(`${binaries.join(' + ')} = ${k - 1}`);
  for (const [pair, names] of ofPair) {
    const [i, j] = pair.split('_');
    for (const flow of [`f_${i}_${j}`, `f_${j}_${i}`])
      rows.push(`${flow} ${names.map((name) => `- ${k - 1} ${name}`).join(' ')} <= 0`);
  }
  for (let i = 1; i < k; i++) {
    const inward: string[] = [];
    const outward: string[] = [];
    for (let j = 0; j < k; j++) {
      if (j === i) continue;
      inward.push(`f_${j}_${i}`);
      outward.push(`f_${i}_${j}`);
    }
    rows.push(`${inward.join(' + ')} - ${outward.join(' - ')} = 1`);
  }
  return [
    'Minimize',
    ` obj: ${terms.join(' + ')}`,
    'Subject To',
    ...rows.map((row, i) => ` r${i}: ${row}`),
    'Binary',
    ` ${binaries.join(' ')}`,
    'End',
  ].join('\n');
}

test('nets of 3 to 7 strips, some with a single open hole, are as short as the exact solver makes them', async () => {
  const highs = await loadHighs();
  const rng = createRng(11);
  let compared = 0;
  let apart = 0;
  for (let round = 0; round < 24; round++) {
    const strips = Array.from({ length: 3 + rng.below(5) }, () => {
      const y = 24 * rng.below(3) + (rng.below(2) === 0 ? 4 : 11);
      const count = 1 + rng.below(4);
      const first = rng.below(6 - count);
      return { x: rng.below(40), ys: Array.from({ length: count }, (_, i) => y + first + i) };
    });
    const result = solveTree(strips, []);
    const solution = highs.solve(programOf(strips));
    if (solution.Status !== 'Optimal') {
      expect(result.wires).toBeUndefined();
      continue;
    }
    compared++;
    if (result.length > result.bound + 1e-6) apart++;
    expect({ round, length: result.length }).toEqual({ round, length: Math.round(solution.ObjectiveValue) });
  }
  expect(compared).toBeGreaterThan(15);
  expect(apart).toBeGreaterThan(0); // some of them must be harder than a plain shortest tree
});

const D8 = chipRecord('D8', 8, { kind: 'dip', width: 300 });

/** Rows of open holes in the strip of a DIP's pin: four on its own side. */
function openRows(row: number): readonly [number, number] {
  return row < 7 ? [ROWS[2]!.y, ROWS[5]!.y] : [ROWS[8]!.y, ROWS[11]!.y];
}

function distance(x1: number, upper1: boolean, x2: number, upper2: boolean): number {
  const [low1, high1] = openRows(upper1 ? 6 : 7);
  const [low2, high2] = openRows(upper2 ? 6 : 7);
  return Math.abs(x1 - x2) + Math.max(0, low1 - high2, low2 - high1);
}

/** Column offset and half of a pin of an 8-pin DIP, as it stands or turned. */
function pinAt(pin: number, turned: boolean): readonly [number, boolean] {
  const column = pin <= 4 ? pin - 1 : 8 - pin;
  const upper = pin > 4;
  return turned ? [3 - column, !upper] : [column, upper];
}

test('four chips on half a board stand as well as the best of all ways to place them', () => {
  for (let seed = 1; seed <= 4; seed++) {
    const rng = createRng(seed);
    const nets: [number, number, number, number][] = [];
    const used = new Set<string>();
    while (nets.length < 9) {
      const [a, b] = [rng.below(4), rng.below(4)];
      const [p, q] = [1 + rng.below(8), 1 + rng.below(8)];
      if (a === b || used.has(`${a}.${p}`) || used.has(`${b}.${q}`)) continue;
      used.add(`${a}.${p}`);
      used.add(`${b}.${q}`);
      nets.push([a, p, b, q]);
    }
    const parts: DraftPart[] = [0, 1, 2, 3].map((i) => ({ name: `U${i}`, record: D8, stage: 1, nets: new Map() }));
    nets.forEach(([a, p, b, q], n) => {
      parts[a]!.nets.set(p, `n${n}`);
      parts[b]!.nets.set(q, `n${n}`);
    });
    // Full enumeration, cut off where the nets placed so far are as long as the best. One column stays between parts.
    let best = Number.POSITIVE_INFINITY;
    const at: { x: number; turned: boolean }[] = [];
    const lengthOf = (index: number): number => {
      let sum = 0;
      for (const [a, p, b, q] of nets) {
        if (Math.max(a, b) !== index) continue;
        const [dx1, up1] = pinAt(p, at[a]!.turned);
        const [dx2, up2] = pinAt(q, at[b]!.turned);
        sum += distance(at[a]!.x + dx1, up1, at[b]!.x + dx2, up2);
      }
      return sum;
    };
    const choose = (index: number, length: number): void => {
      if (length >= best) return;
      if (index === 4) {
        best = length;
        return;
      }
      for (let x = 0; x <= 26; x++) {
        if (at.slice(0, index).some((other) => Math.abs(other.x - x) < 5)) continue;
        for (const turned of [false, true]) {
          at[index] = { x, turned };
          choose(index + 1, length + lengthOf(index));
        }
      }
    };
    choose(0, 0);
    const boards = [{ kind: 'half', column: 1, row: 1 }];
    const { value, findings } = lay(
      designOf({ name: 'four', stages: 1, parts }),
      { ...NO_CHOICES, boards },
      undefined,
      {
        seed,
      },
    );
    expect(findings).toEqual([]);
    let length = 0;
    for (const [a, p, b, q] of nets) {
      const hole = (part: number, pin: number): { column: number; row: number } =>
        parseHole(
          value.parts.find((placed) => placed.part === `U${part}`)!.leads.find((lead) => lead.number === pin)!.hole,
        )!;
      const one = hole(a, p);
      const two = hole(b, q);
      length += distance(one.column, one.row < 7, two.column, two.row < 7);
    }
    expect({ seed, length }).toEqual({ seed, length: best });
  }
});
