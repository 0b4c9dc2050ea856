import { expect, test } from 'vitest';
import { ENTRIES, layOut, randomMachine, rulesOf, stripOf } from '../../tests/support/bench.ts';
import { createRng } from '../base/index.ts';
import { difference, type StatePart, type StateWire } from './difference.ts';
import { type BenchRules, createShortCheck } from './short.ts';

const rules: BenchRules = { stripOf, pinKind: (_, pin) => (pin === 1 ? 'output' : 'input'), entries: ENTRIES };
const wire = (id: string, from: string, to: string, cutMm: number, colour = 'BU'): StateWire => ({
  wire: id,
  from,
  to,
  cutMm,
  colour,
  style: 'flat',
  lead: undefined,
});
const state = (wires: readonly StateWire[], parts: readonly StatePart[] = []) => ({
  wires: new Map(wires.map((item) => [item.wire, item])),
  parts: new Map(parts.map((item) => [item.part, item])),
});
const part = (name: string, leads: readonly (readonly [number, string])[], type = 'gate'): StatePart => ({
  part: name,
  type,
  value: undefined,
  rotation: 0,
  leads,
});

/** Handlings saved by the best pairing there is: two for a piece of the same length, one for a longer one. By trying all. */
function bestSaving(removed: readonly StateWire[], added: readonly StateWire[]): number {
  const [first, ...rest] = added;
  if (first === undefined) return 0;
  let best = bestSaving(removed, rest);
  removed.forEach((piece, i) => {
    if (piece.colour !== first.colour || piece.cutMm < first.cutMm) return;
    const saved = piece.cutMm === first.cutMm ? 2 : 1;
    best = Math.max(best, saved + bestSaving([...removed.slice(0, i), ...removed.slice(i + 1)], rest));
  });
  return best;
}

test('no pairing of removed and new wires saves more handling than the one chosen', () => {
  const rng = createRng(5);
  for (let run = 0; run < 1500; run++) {
    const make = (side: string, n: number): StateWire[] =>
      Array.from({ length: n }, (_, i) =>
        wire(
          `${side}${i}`,
          `1:${i + 1}${side}`,
          `2:${i + 1}${side}`,
          10 * (1 + rng.below(5)),
          rng.below(3) === 0 ? 'RD' : 'BU',
        ),
      );
    const removed = make('a', rng.below(6));
    const added = make('b', rng.below(6));
    const { acts } = difference(state(removed), state(added), rules);
    let saved = 0;
    for (const act of acts) if (act.act === 'wire-move') saved += act.trimmed ? 1 : 2;
    expect(saved).toBe(bestSaving(removed, added));
  }
});

test('wires in the same holes stay, either way round; another colour or lead does not', () => {
  const one = wire('x', '1:1a', '1:9a', 20);
  const none = (target: StateWire): number => difference(state([one]), state([target]), rules).acts.length;
  expect(none(one)).toBe(0);
  expect(none({ ...one, wire: 'y', from: '1:9a', to: '1:1a', cutMm: 25 })).toBe(0);
  expect(none({ ...one, colour: 'RD' })).toBe(2);
  expect(none({ ...one, lead: 'W1' })).toBe(2);
});

test('two chips that change places: one is laid aside, since neither place is free', () => {
  const a = (hole: string): (readonly [number, string])[] => [
    [1, `1:${hole}e`],
    [2, `1:${hole}f`],
  ];
  const { acts, least, aside } = difference(
    state([], [part('P', a('5')), part('Q', a('9'))]),
    state([], [part('P', a('9')), part('Q', a('5'))]),
    rules,
  );
  expect(acts.map((act) => act.act)).toEqual(['part-out', 'part-move', 'part-in']);
  expect([least, aside]).toEqual([2, 1]);
});

test('a turned chip is one act; another type in the same holes is two', () => {
  const leads: (readonly [number, string])[] = [
    [1, '1:5e'],
    [2, '1:5f'],
  ];
  const turned = difference(
    state([], [part('P', leads)]),
    state(
      [],
      [
        {
          ...part('P', [
            [2, '1:5e'],
            [1, '1:5f'],
          ]),
          rotation: 180,
        },
      ],
    ),
    rules,
  );
  expect(turned.acts).toMatchObject([{ act: 'part-move', turned: true }]);
  const other = difference(state([], [part('P', leads)]), state([], [part('P', leads, 'other')]), rules);
  expect(other.acts.map((act) => act.act)).toEqual(['part-out', 'part-in']);
});

test('a piece at hand from an interrupted rework is used again', () => {
  const target = wire('n', '1:1a', '1:9a', 20);
  const { acts, least } = difference(state([]), state([target]), rules, { spares: [wire('old', '3:1a', '3:9a', 20)] });
  expect(acts).toMatchObject([{ act: 'wire-in', piece: { wire: 'old' } }]);
  expect(least).toBe(1);
});

test('a short is two sources joined that neither the old machine nor the new one joins', () => {
  const parts = new Map([
    [
      'P',
      {
        type: 'gate',
        leads: [
          [1, '1:5e'],
          [2, '1:6e'],
        ] as const,
      },
    ],
    [
      'Q',
      {
        type: 'gate',
        leads: [
          [1, '1:20e'],
          [2, '1:21e'],
        ] as const,
      },
    ],
  ]);
  const none = { parts, wires: new Map<string, StateWire>() };
  const bench = (...wires: StateWire[]) => ({ parts, wires: new Map(wires.map((item) => [item.wire, item])) });
  const outputs = wire('w', '1:5a', '1:20a', 20);
  const ground = wire('g', '1:5b', '1:t-5', 20);
  const segment = wire('s', '1:t-29', '1:t-4', 20);
  const check = createShortCheck(none, none, rules);
  expect(check(bench(wire('i', '1:5a', '1:21a', 20)))).toBeUndefined(); // an output to an input
  expect(check(bench(outputs))).toEqual(['P\n1', 'Q\n1']);
  expect(check(bench(ground, segment))?.includes('-main')).toBe(true);
  // The old machine had the outputs joined: nothing new is wrong.
  expect(createShortCheck(bench(outputs), none, rules)(bench(outputs))).toBeUndefined();
  // Joined to the ground before and to each other after isn't joined all together in either.
  expect(createShortCheck(bench(ground), bench(outputs), rules)(bench(ground, outputs))).toBeDefined();
  expect(
    createShortCheck(none, none, { ...rules, pinKind: () => undefined })(bench(wire('i', '1:5a', '1:21a', 20))),
  ).toBeDefined();
});

test('after every act of a whole new layout the full check of the state finds no short', () => {
  for (let seed = 1; seed <= 6; seed++) {
    const machine = randomMachine(seed, 8);
    const stateOf = (layout: ReturnType<typeof layOut>) =>
      state(
        layout.wires.map((item) => wire(item.id, item.from, item.to, item.cutMm, item.colour)),
        layout.parts.map((item) =>
          part(
            item.part,
            item.leads.map((lead) => [lead.number, lead.hole] as const),
            item.type,
          ),
        ),
      );
    const built = stateOf(layOut(machine, seed));
    const target = stateOf(layOut(machine, seed + 100));
    const check = createShortCheck(built, target, rulesOf(machine));
    const now = { parts: new Map(built.parts), wires: new Map(built.wires) };
    const { acts, aside } = difference(built, target, rulesOf(machine));
    expect(acts.length).toBeGreaterThan(40);
    for (const act of acts) {
      if (act.act === 'wire-out') now.wires.delete(act.wire.wire);
      if (act.act === 'part-out') now.parts.delete(act.part.part);
      if (act.act === 'wire-move') now.wires.delete(act.was.wire);
      if (act.act === 'part-move' || act.act === 'part-in') now.parts.set(act.part.part, act.part);
      if (act.act === 'wire-move' || act.act === 'wire-in') now.wires.set(act.wire.wire, act.wire);
      expect(check(now)).toBeUndefined();
    }
    expect([...now.wires.keys()].sort()).toEqual([...target.wires.keys()].sort());
    expect(aside).toBeLessThan(acts.length / 5);
  }
});

test('a chip waits for wires under its body, and a wire for the chip over its hole', () => {
  const wide = (column: number): (readonly [number, string])[] => [
    [1, `1:${column}c`],
    [2, `1:${column + 1}c`],
    [3, `1:${column + 1}g`],
    [4, `1:${column}g`],
  ];
  const covers: BenchRules['covers'] = (leads) =>
    leads.length < 4
      ? []
      : leads.slice(0, 2).flatMap(([, hole]) => ['d', 'e', 'f'].map((row) => hole.replace('c', row)));
  const under = wire('u', '1:20d', '1:40a', 30);
  const moved = wire('m', '1:30a', '1:40a', 30);
  const there = { ...rules, covers, pinKind: () => 'input' as const };
  const plan = difference(state([under], [part('P', wide(5))]), state([moved], [part('P', wide(20))]), there);
  expect(plan.acts.map((act) => act.act)).toEqual(['wire-move', 'part-move']);
  const back = difference(state([moved], [part('P', wide(20))]), state([under], [part('P', wide(5))]), there);
  expect(back.acts.map((act) => act.act)).toEqual(['part-move', 'wire-move']);
  // Each in the other's way: the wire is laid aside.
  const both = difference(
    state([wire('u', '1:20d', '1:40a', 30)], [part('P', wide(5))]),
    state([wire('v', '1:5d', '1:40a', 30)], [part('P', wide(20))]),
    there,
  );
  expect(both.acts.map((act) => act.act)).toEqual(['wire-out', 'part-move', 'wire-in']);
  expect(both.aside).toBe(1);
});
