// What stands on the boards has room: bodies and bare leads of small parts keep off each other and off every other lead and
// wire end; probe holes stay free; crimped leads lie in their housings; what a part joins inside gets no wire. Geometry is
// worked out here once more, from holes and records alone.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { randomDesign } from '../../benchmarks/machines/random-design.ts';
import { Build, Project } from '../../src/app/index.ts';
import { type Layout, lay, layoutAt, NO_CHOICES, placeOfHole, stripOfHole } from '../../src/board/index.ts';
import type { Design, NetPart } from '../../src/netlist/index.ts';
import { shipped } from '../support/library.ts';

interface Point {
  readonly x: number;
  readonly y: number;
}
interface Thing {
  readonly part: string;
  readonly from: Point;
  readonly to: Point;
  /** Corners of the body, in order. */
  readonly body: readonly Point[];
}

const PITCH = 2.54;

function thingsOf(layout: Layout, design: Design, stage: number): Thing[] {
  const records = new Map<string, NetPart>(design.netlists[stage]!.parts.map((part) => [part.name, part]));
  const at = (hole: string): Point => placeOfHole(hole, layout.boards)!;
  return layoutAt(layout, stage).parts.flatMap((part) => {
    const pack = records.get(part.part)?.record.package;
    if (part.leads.length !== 2 || pack?.kind !== 'two-lead') return [];
    const [from, to] = [at(part.leads[0]!.hole), at(part.leads[1]!.hole)];
    const length = Math.hypot(to.x - from.x, to.y - from.y);
    const u = { x: (to.x - from.x) / length, y: (to.y - from.y) / length };
    const [along, across] = [(pack.body?.length ?? 6) / PITCH / 2, (pack.body?.width ?? 2) / PITCH / 2];
    const c = { x: (from.x + to.x) / 2, y: (from.y + to.y) / 2 };
    const corner = (a: number, b: number): Point => ({ x: c.x + a * u.x - b * u.y, y: c.y + a * u.y + b * u.x });
    const body = [corner(along, across), corner(along, -across), corner(-along, -across), corner(-along, across)];
    return [{ part: part.part, from, to, body }];
  });
}

function distanceTo(p: Point, a: Point, b: Point): number {
  const [dx, dy] = [b.x - a.x, b.y - a.y];
  const t = Math.max(0, Math.min(1, ((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy)));
  return Math.hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

/** Least distance of two stretches, 0 where they cross. */
function apart(a: Point, b: Point, c: Point, d: Point): number {
  const side = (p: Point, q: Point, r: Point): number =>
    Math.sign((q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x));
  if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) return 0;
  return Math.min(distanceTo(a, c, d), distanceTo(b, c, d), distanceTo(c, a, b), distanceTo(d, a, b));
}

const edges = (body: readonly Point[]): [Point, Point][] => body.map((p, i) => [p, body[(i + 1) % body.length]!]);

/** Inside by more than the 0.3 mm that drawing tolerance allows. */
function isInside(p: Point, body: readonly Point[]): boolean {
  const signs = edges(body).map(([a, b]) => Math.sign((b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x)));
  const within = signs.every((sign) => sign > 0) || signs.every((sign) => sign < 0);
  return within && edges(body).every(([a, b]) => distanceTo(p, a, b) > 0.12);
}

function check(layout: Layout, design: Design): { things: number } {
  let things = 0;
  const wrong: string[] = [];
  for (let stage = 1; stage < design.netlists.length; stage++) {
    const all = thingsOf(layout, design, stage);
    const now = layoutAt(layout, stage);
    things += all.length;
    const ends = [
      ...now.parts.flatMap((part) => part.leads.map((lead) => ({ of: part.part, hole: lead.hole }))),
      ...now.wires.flatMap((wire) => [wire.from, wire.to].map((hole) => ({ of: `wire ${wire.id}`, hole }))),
    ].map(({ of, hole }) => ({ of, hole, at: placeOfHole(hole, layout.boards)! as Point }));
    all.forEach((a, i) => {
      for (const b of all.slice(i + 1)) {
        if (apart(a.from, a.to, b.from, b.to) < 0.4) wrong.push(`${stage}: leads of ${a.part} and ${b.part}`);
        if (a.body.some((corner) => isInside(corner, b.body)) || b.body.some((corner) => isInside(corner, a.body)))
          wrong.push(`${stage}: ${a.part} and ${b.part} overlap`);
        for (const [p, q] of edges(a.body)) {
          if (apart(p, q, b.from, b.to) === 0) wrong.push(`${stage}: ${a.part} lies on the leads of ${b.part}`);
        }
      }
      for (const end of ends)
        if (end.of !== a.part && distanceTo(end.at, a.from, a.to) < 0.2)
          wrong.push(`${stage}: ${end.of} in ${end.hole} under the leads of ${a.part}`);
    });
    for (const probe of layout.probes ?? [])
      if (probe.stage <= stage && (probe.until === undefined || stage < probe.until))
        for (const end of ends)
          if (end.hole === probe.hole) wrong.push(`${stage}: ${end.of} in the probe hole ${probe.hole}`);
    // Wires that join what a part joins.
    const strip = (hole: string): string => stripOfHole(hole, (n) => layout.boards.find((b) => b.board === n)?.kind)!;
    for (const part of now.parts) {
      const record = design.netlists[stage]!.parts.find((one) => one.name === part.part)?.record;
      for (const group of record?.joined ?? []) {
        const strips = part.leads.filter((lead) => group.includes(lead.number)).map((lead) => strip(lead.hole));
        for (const wire of now.wires)
          if (strips.includes(strip(wire.from)) && strips.includes(strip(wire.to)))
            wrong.push(`${stage}: wire ${wire.id} joins legs of ${part.part}`);
      }
    }
  }
  for (const lead of layout.leads ?? []) {
    expect(lead.ways.length).toBeGreaterThan(1);
    const places = lead.housing.flatMap((hole) => placeOfHole(hole, layout.boards) ?? []);
    for (let i = 1; i < places.length; i++)
      expect([places[i]!.x - places[i - 1]!.x, places[i]!.y]).toEqual([1, places[0]!.y]);
    for (const way of lead.ways) {
      const wire = layout.wires.find((one) => one.id === way.wire);
      expect(wire).toMatchObject({ lead: lead.lead, net: way.net, style: 'crimped' });
      expect([wire!.from, wire!.to]).toContain(lead.housing[way.way - 1]);
    }
    expect(layout.wires.filter((wire) => wire.lead === lead.lead).length).toBe(lead.ways.length);
  }
  expect(wrong).toEqual([]);
  return { things };
}

describe.each(readdirSync('projects'))('%s', (name) => {
  test('the layout that ships has room for everything, and a hole for every probe', () => {
    const files = new Map(
      ['machine.yaml', 'builds/first/layout.json'].map((path) => [
        path,
        readFileSync(join('projects', name, path), 'utf8'),
      ]),
    );
    const build = new Build(new Project(shipped(), files), 'first');
    const layout = build.layout().value!;
    const design = build.design();
    expect(check(layout, design).things).toBeGreaterThan(20);
    const last = design.netlists[design.netlists.length - 1]!;
    const kept = (net: string, stage: number): boolean =>
      (layout.probes ?? []).some(
        (probe) => probe.net === net && probe.stage <= stage && (probe.until === undefined || stage < probe.until),
      );
    for (const net of last.nets) if (net.netClass?.probeHole === true) expect(kept(net.name, last.stage)).toBe(true);
    for (const hook of design.leads)
      for (let stage = hook.stage; stage < (hook.until ?? last.stage + 1); stage++)
        expect({ hook: hook.net, stage, kept: kept(hook.net, stage) }).toEqual({ hook: hook.net, stage, kept: true });
    expect((layout.leads ?? []).filter((lead) => lead.kind === 'pod').length).toBe(2);
  });
});

test('so have random machines', () => {
  for (let seed = 1; seed <= 12; seed++) {
    const design = randomDesign(seed, { chips: 2 + (seed % 8), stages: 1 + (seed % 4), changes: true, odd: true });
    const { value, findings } = lay(design, NO_CHOICES, undefined, { seed, moves: 2000 });
    expect(findings).toEqual([]);
    check(value, design);
  }
});
