// What a layout must keep to, looked at from outside: the builder's choices, one lead to a hole, ways of wires over holes
// and under chips, how many wires lie in a lane, cut lengths, several kinds of boards, requests that cannot be met.

import { expect, test } from 'vitest';
import {
  type Layout,
  type LayoutChoices,
  lay,
  NO_CHOICES,
  parseHole,
  placeOfHole,
  proveLayout,
  type Wire,
} from '../../src/board/index.ts';
import { groupedMachine } from '../../benchmarks/machines/grouped.ts';
import { designOf, RECORDS, randomDesign, randomMachine } from '../../benchmarks/machines/random-design.ts';

const texts = (findings: readonly { code: string; message: string }[]): string[] =>
  findings.map((finding) => `${finding.code} ${finding.message}`);
const together = (
  a: { stage: number; until: number | undefined },
  b: { stage: number; until: number | undefined },
): boolean => a.stage < (b.until ?? 1e9) && b.stage < (a.until ?? 1e9);

/** Every grid point of half a pitch on a wire's way, ends included. */
function pointsOf(wire: Wire): [number, number][] {
  const points: [number, number][] = [];
  const path = wire.path!;
  for (let i = 1; i < path.length; i++) {
    const [x0, y0] = path[i - 1]!;
    const [x1, y1] = path[i]!;
    if (x0 !== x1 && y0 !== y1) expect(wire).toBe('laid at right angles');
    const steps = Math.round((Math.abs(x1 - x0) + Math.abs(y1 - y0)) * 2);
    for (let k = i === 1 ? 0 : 1; k <= steps; k++)
      points.push([x0 + ((x1 - x0) * k) / steps, y0 + ((y1 - y0) * k) / steps]);
  }
  return points;
}

function checkWays(layout: Layout): { flat: number; all: number } {
  const at = (hole: string): readonly [number, number] => {
    const place = placeOfHole(hole, layout.boards)!;
    return [place.x, place.y];
  };
  const used: { x: number; y: number; stage: number; until: number | undefined }[] = [];
  for (const part of layout.parts)
    for (const lead of part.leads) {
      const [x, y] = at(lead.hole);
      used.push({ x, y, stage: part.stage, until: part.until });
    }
  for (const wire of layout.wires)
    for (const hole of [wire.from, wire.to]) {
      const [x, y] = at(hole);
      used.push({ x, y, stage: wire.stage, until: wire.until });
    }
  const usedAt = new Map<string, typeof used>();
  for (const hole of used) {
    const key = `${hole.x}/${hole.y}`;
    usedAt.set(key, [...(usedAt.get(key) ?? []), hole]);
  }
  // Bodies of chips with two rows: the gutter between their end columns.
  const chips = layout.parts
    .filter((part) => part.leads.length >= 14 && /^D\d+$/.test(part.type))
    .map((part) => {
      const places = part.leads.map((lead) => at(lead.hole));
      const xs = places.map((place) => place[0]);
      const ys = places.map((place) => place[1]);
      return {
        part,
        x0: Math.min(...xs),
        x1: Math.max(...xs),
        y0: Math.min(...ys),
        y1: Math.max(...ys),
      };
    });
  const lanes = new Map<string, number>();
  let flat = 0;
  for (const wire of layout.wires) {
    const path = wire.path!;
    expect(path[0]).toEqual(at(wire.from));
    expect(path[path.length - 1]).toEqual(at(wire.to));
    const points = pointsOf(wire);
    const mm = ((points.length - 1) / 2) * 2.54;
    // Path and both insertions at least; not more than an arch and one step of rounding beyond.
    expect(wire.cutMm).toBeGreaterThanOrEqual(mm + 16);
    expect(wire.cutMm).toBeLessThanOrEqual(mm + 16 + 2 + 10 + 5);
    expect(wire.cutMm % 5).toBe(0);
    if (wire.style === 'arched') continue;
    flat++;
    for (const [x, y] of points.slice(1, -1)) {
      const covered = (usedAt.get(`${x}/${y}`) ?? []).filter((hole) => together(hole, wire));
      if (covered.length > 0) expect({ wire: wire.id, x, y, covered }).toEqual({ wire: wire.id, x, y, covered: [] });
      for (const chip of chips) {
        const over = x >= chip.x0 && x <= chip.x1 && y >= chip.y0 + 0.5 && y <= chip.y1 - 0.5;
        if (over && together(chip.part, wire)) expect(`${wire.id} lies over ${chip.part.part}`).toBe('');
      }
    }
    for (let i = 1; i < points.length; i++) {
      const [a, b] = [points[i - 1]!, points[i]!].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
      const key = `${a!.join('/')} ${b!.join('/')}`;
      lanes.set(key, (lanes.get(key) ?? 0) + 1);
    }
  }
  expect(Math.max(0, ...lanes.values())).toBeLessThanOrEqual(2);
  return { flat, all: layout.wires.length };
}

test('wires lie in lanes, over no used hole and under no chip, at most two in a lane; most lie flat', () => {
  let flat = 0;
  let all = 0;
  for (const seed of [1, 2, 3, 4]) {
    const { value, findings } = lay(
      randomDesign(seed, { chips: 8, stages: 4, changes: true, odd: seed % 2 === 0 }),
      NO_CHOICES,
      undefined,
      { seed, moves: 4000 },
    );
    expect(texts(findings)).toEqual([]);
    const ways = checkWays(value);
    flat += ways.flat;
    all += ways.all;
  }
  const grouped = lay(designOf(groupedMachine(14)), NO_CHOICES, undefined, { seed: 1, moves: 20000 });
  const ways = checkWays(grouped.value);
  expect(ways.flat / ways.all).toBeGreaterThan(0.9);
  expect(flat / all).toBeGreaterThan(0.8);
});

test('fixed places, forbidden holes, kept-clear zones, entries and pinned wires are kept to', () => {
  const design = designOf(groupedMachine(8));
  const choices: LayoutChoices = {
    ...NO_CHOICES,
    boards: [1, 2, 3, 4].map((row) => ({ kind: 'full', column: 1, row })),
    places: [
      { part: 'g0CPU', at: '2:22d', to: undefined, rotation: 0, span: undefined },
      { part: 'g0ROM', at: '3:40h', to: undefined, rotation: 180, span: undefined },
    ],
    keepClear: [{ from: '4:1j', to: '4:63a', span: undefined }],
    forbidden: ['1:t+3', '1:5e', '2:b-9'].map((hole) => ({ hole, span: undefined })),
    supplies: [{ supply: 'main', plus: '3:t+61', ground: '3:t-61', span: undefined }],
  };
  const { value, findings } = lay(design, choices, undefined, { seed: 3, moves: 20000 });
  expect(texts(findings)).toEqual([]);
  const place = (part: string): string => value.parts.find((p) => p.part === part)!.leads[0]!.hole;
  expect([place('g0CPU'), place('g0ROM')]).toEqual(['2:22d', '3:40h']);
  expect(value.parts.find((p) => p.part === 'g0ROM')).toMatchObject({ rotation: 180, fixed: true });
  expect(value.entries).toEqual([{ supply: 'main', plus: '3:t+61', ground: '3:t-61' }]);
  const holes = [
    ...value.parts.flatMap((part) => part.leads.map((lead) => lead.hole)),
    ...value.wires.flatMap((wire) => [wire.from, wire.to]),
  ];
  for (const hole of holes) {
    expect(['1:t+3', '1:5e', '2:b-9', '3:t+61', '3:t-61']).not.toContain(hole);
    const address = parseHole(hole)!;
    expect(address.board === 4 && address.row >= 2 && address.row <= 11).toBe(false);
  }
});

test('a pinned wire runs as pinned, in either direction', () => {
  const design = randomDesign(3, { chips: 5, stages: 2 });
  const first = lay(design, NO_CHOICES, undefined, { seed: 1, moves: 2000 }).value;
  const wire = first.wires.find((w) => w.net.startsWith('n') && w.stage === 1)!;
  const places = first.parts
    .filter((part) => part.leads.length > 2)
    .map((part) => ({
      part: part.part,
      at: part.leads[0]!.hole,
      to: undefined,
      rotation: part.rotation,
      span: undefined,
    }));
  const again = lay(
    design,
    {
      ...NO_CHOICES,
      boards: first.boards.map((_, i) => ({ kind: 'full', column: 1, row: i + 1 })),
      places,
      wires: [{ net: wire.net, from: wire.to, to: wire.from, span: undefined }],
    },
    undefined,
    { seed: 1, moves: 2000 },
  );
  expect(texts(again.findings)).toEqual([]);
  expect(again.value.wires.some((w) => w.id === wire.id)).toBe(true);
});

test('half boards, minis beside a bus strip, and boards of several kinds', () => {
  const cases: readonly (readonly [string, LayoutChoices['boards']])[] = [
    ['half', [1, 2, 3, 4, 5, 6].map((row) => ({ kind: 'half', column: ((row - 1) % 2) + 1, row: Math.ceil(row / 2) }))],
    [
      'mixed',
      [
        { kind: 'full', column: 1, row: 1 },
        { kind: 'half', column: 2, row: 1 },
        { kind: 'bus', column: 1, row: 2 },
        { kind: 'terminal', column: 1, row: 3 },
        { kind: 'mini', column: 2, row: 3 },
      ],
    ],
    ['no rails', [1, 2, 3].map((row) => ({ kind: 'terminal', column: 1, row }))],
  ];
  for (const [name, boards] of cases) {
    for (const seed of [1, 2, 3]) {
      const design = randomDesign(seed, { chips: 3, stages: 3, changes: true });
      const { value, findings } = lay(design, { ...NO_CHOICES, boards }, undefined, { seed, moves: 2000 });
      expect({ name, seed, findings: texts(findings) }).toEqual({ name, seed, findings: [] });
      expect(value.boards.length).toBe(boards!.length);
    }
  }
});

test('what cannot be is said, and the rest is laid out', () => {
  const design = randomDesign(5, { chips: 9, stages: 2 });
  const one = lay(design, { ...NO_CHOICES, boards: [{ kind: 'full', column: 1, row: 1 }] }, undefined, { moves: 2000 });
  expect(one.findings.some((finding) => finding.code === 'board/no-room')).toBe(true);
  expect(one.findings.every((finding) => (finding.help ?? '') !== '')).toBe(true);
  expect(one.value.parts.length).toBeGreaterThan(2);
  const clash = lay(
    design,
    {
      ...NO_CHOICES,
      places: [
        { part: 'U1', at: '1:5d', to: undefined, rotation: 0, span: undefined },
        { part: 'U2', at: '1:9e', to: undefined, rotation: 0, span: undefined },
        { part: 'U3', at: '1:63e', to: undefined, rotation: 0, span: undefined },
        { part: 'NOBODY', at: '1:30e', to: undefined, rotation: 0, span: undefined },
      ],
    },
    undefined,
    { moves: 2000 },
  );
  expect(texts(clash.findings.filter((f) => f.code !== 'board/unknown-part'))).toEqual([
    expect.stringContaining('U2 cannot stand at 1:9e'),
    expect.stringContaining('U3 cannot stand at 1:63e'),
  ]);
  expect(clash.findings.some((f) => f.code === 'board/unknown-part')).toBe(true);
  expect(texts(proveLayout(clash.value, design.netlists))).toEqual([]);
});

test('a second supply without rails of its own enters at a strip and is wired', () => {
  const machine = randomMachine(7, { chips: 4, stages: 2 });
  machine.supplies = ['main', 'plus12'];
  machine.parts.push(
    {
      name: 'DRV',
      record: RECORDS.dip16,
      stage: 1,
      nets: new Map([
        [16, 'plus12'],
        [8, 'GND'],
        [1, 'n0'],
      ]),
    },
    {
      name: 'DRV2',
      record: RECORDS.dip16,
      stage: 2,
      nets: new Map([
        [16, 'plus12'],
        [8, 'GND'],
        [2, 'n1'],
      ]),
    },
  );
  const { value, findings } = lay(designOf(machine), NO_CHOICES, undefined, { moves: 2000 });
  expect(texts(findings)).toEqual([]);
  const entry = value.entries.find((e) => e.supply === 'plus12')!;
  expect(parseHole(entry.plus)).toBeDefined();
  expect(value.wires.some((wire) => wire.net === 'plus12')).toBe(true);
});
