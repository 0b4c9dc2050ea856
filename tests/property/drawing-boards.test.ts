// What must hold for every drawing of boards, whatever the names: well-formed XML (read by saxes, not by us), every wire end
// drawn exactly in the hole it names, no lane used twice, the same bytes again.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  busDiagram,
  createScene,
  netLine,
  pinCard,
  renderBoards,
  renderSheet,
  stageLine,
  stepView,
} from '../../src/drawing/index.ts';
import { createFixture } from '../support/boards-fixture.ts';
import { createHarbour, harbourBuilt } from '../support/harbour.ts';
import { readXml } from '../support/xml.ts';

const { design, layout } = createHarbour();

/** mm of a hole, worked out here from the guide's figures alone: pitch 2.54, column 1 at 3.81, top rail at 3.17, boards every 60.96. */
function holeMm(name: string): [number, number] {
  const match = /^(\d+):(?:([tb][+-])(\d+)|(\d+)([a-j]))$/.exec(name)!;
  const rows: Record<string, number> = {
    't+': 0,
    't-': 2.54,
    j: 10.16,
    i: 12.7,
    h: 15.24,
    g: 17.78,
    f: 20.32,
    e: 27.94,
    d: 30.48,
    c: 33.02,
    b: 35.56,
    a: 38.1,
    'b+': 45.72,
    'b-': 48.26,
  };
  const column = Number(match[3] ?? match[4]);
  return [3.81 + 2.54 * (column - 1), (Number(match[1]) - 1) * 60.96 + 3.17 + rows[match[2] ?? match[5]!]!];
}

test('every wire end is drawn in the hole it names, and its path starts and ends there', () => {
  for (const stage of [1, 3, 4, 6]) {
    const scene = createScene({ design, layout, stage, built: harbourBuilt(30) });
    const scale = 5;
    const elements = readXml(renderBoards({ design, layout, stage, built: harbourBuilt(30), scale }));
    const discs = elements.filter((e) => e.name === 'circle' && e.attributes.class === 'end');
    expect(discs.length).toBe(2 * scene.wires.length);
    const seen = new Map<string, number>();
    for (const disc of discs) {
      const name = disc.attributes['data-hole']!;
      const [x, y] = holeMm(name);
      expect(Math.abs(Number(disc.attributes.cx) - x * scale)).toBeLessThan(0.011);
      expect(Math.abs(Number(disc.attributes.cy) - y * scale)).toBeLessThan(0.011);
      seen.set(name, (seen.get(name) ?? 0) + 1);
    }
    for (const { wire, path } of scene.wires) {
      expect(seen.has(wire.from) && seen.has(wire.to)).toBe(true);
      for (const [point, name] of [
        [path[0]!, wire.from],
        [path.at(-1)!, wire.to],
      ] as const) {
        const [x, y] = holeMm(name);
        expect(Math.hypot(point[0] - x, point[1] - y)).toBeLessThan(1e-6);
      }
    }
  }
});

test('every lead of every part present is drawn in its hole', () => {
  const scene = createScene({ design, layout, stage: 6 });
  for (const part of scene.parts) {
    const placed = layout.parts.find((p) => p.part === part.name)!;
    expect(part.leads.map((lead) => lead.number)).toEqual(placed.leads.map((lead) => lead.number));
    for (const [i, lead] of part.leads.entries()) {
      const [x, y] = holeMm(placed.leads[i]!.hole);
      expect(Math.hypot(lead.at.x - x, lead.at.y - y)).toBeLessThan(1e-6);
    }
  }
});

test('beside every pin stands its own name and its own net, and the corner is cut at pin 1', () => {
  const scale = 11;
  for (const stage of [3, 4, 6]) {
    const netlist = design.netlists[stage]!;
    const whole = { x: -2, y: -2, width: 170, height: 182 };
    const elements = readXml(renderBoards({ design, layout, stage, scale, crop: whole, coordinates: 'none' }));
    const texts = elements
      .filter((e) => e.name === 'text' && /^translate\(/.test(e.attributes.transform ?? ''))
      .map((e) => {
        const [x, y] = /^translate\((-?[\d.]+) (-?[\d.]+)\)/.exec(e.attributes.transform!)!.slice(1).map(Number);
        return { x: x! / scale, y: y! / scale, text: e.text, net: e.attributes['data-net'] };
      });
    let checked = 0;
    for (const part of netlist.parts) {
      const placed = layout.parts.find((p) => p.part === part.name)!;
      const rows = new Set(placed.leads.map((lead) => holeMm(lead.hole)[1]));
      const isChip = rows.size === 2 && placed.leads.length >= 8 && part.name !== 'DIGIT';
      if (!isChip) continue;
      const middle = [...rows].reduce((sum, y) => sum + y, 0) / 2;
      for (const lead of placed.leads) {
        const [x, y] = holeMm(lead.hole);
        const pin = part.pins.map((id) => netlist.pins[id]!).find((p) => p.number === lead.number)!;
        // The name inside: on the pin's column, between its lead and the middle of the body.
        const inside = texts.filter(
          (t) =>
            t.net === undefined && Math.abs(t.x - x) < 0.05 && Math.abs(t.y - y) < 4 && t.y > middle === y > middle,
        );
        expect([part.name, pin.number, inside.map((t) => t.text)]).toEqual([part.name, pin.number, [pin.name]]);
        // The net outside: left of the column, beyond the lead; whole or cut with an ellipsis.
        const net = netlist.nets[pin.net]?.name;
        const outside = texts.filter(
          (t) => t.net !== undefined && Math.abs(t.x - (x - 2.54 * 0.42)) < 0.05 && Math.abs(t.y - y) < 1.5,
        );
        expect(
          outside.every((t) => t.net === net && (t.text === net || net!.startsWith(t.text.replace(/…$/, '')))),
        ).toBe(true);
        if (net !== undefined && net.length < 5) expect(outside.length).toBe(1);
        checked++;
      }
      const group = elements.findIndex((e) => e.name === 'g' && e.attributes['data-part'] === part.name);
      const body = elements.slice(group).find((e) => e.attributes.class === 'body')!;
      const points = [...body.attributes.d!.matchAll(/(-?[\d.]+) (-?[\d.]+)/g)].map((m) => [
        Number(m[1]) / scale,
        Number(m[2]) / scale,
      ]);
      const [xs, ys] = [points.map((p) => p[0]!), points.map((p) => p[1]!)];
      const cut = [Math.min(...xs), Math.max(...xs)].flatMap((x) =>
        [Math.min(...ys), Math.max(...ys)]
          .filter((y) => !points.some((p) => Math.hypot(p[0]! - x, p[1]! - y) < 0.02))
          .map((y) => [x, y] as const),
      );
      expect([part.name, cut.length]).toEqual([part.name, 1]);
      const one = holeMm(
        placed.leads.find((lead) => lead.number === Math.min(...placed.leads.map((l) => l.number)))!.hole,
      );
      const distances = [Math.min(...xs), Math.max(...xs)].flatMap((x) =>
        [Math.min(...ys), Math.max(...ys)].map((y) => Math.hypot(x - one[0], y - one[1])),
      );
      expect(Math.hypot(cut[0]![0] - one[0], cut[0]![1] - one[1])).toBeCloseTo(Math.min(...distances), 6);
    }
    expect(checked).toBeGreaterThan(stage === 3 ? 50 : 120);
  }
});

test('no two wires lie in one lane, none crosses a body or the end of another', () => {
  const scene = createScene({ design, layout, stage: 6, built: harbourBuilt(1000) });
  expect(scene.lanes.shared).toBe(0);
  const used = new Map<string, string>();
  const ends = new Map<string, string>();
  const at = (x: number, y: number): string => `${Math.round(x / 1.27)}/${Math.round((y - 3.17) / 1.27)}`;
  const flat = scene.wires.filter((w) => !w.arch);
  for (const w of flat) for (const [x, y] of [w.path[0]!, w.path.at(-1)!]) ends.set(at(x - 3.81, y), w.wire.id);
  for (const w of flat) {
    for (let i = 0; i + 1 < w.path.length; i++) {
      const [ax, ay] = w.path[i]!;
      const [bx, by] = w.path[i + 1]!;
      expect(ax === bx || ay === by || Math.min(Math.abs(ax - bx), Math.abs(ay - by)) < 1e-6).toBe(true);
      const steps = Math.round((Math.abs(bx - ax) + Math.abs(by - ay)) / 1.27);
      for (let k = 0; k < steps; k++) {
        const [x0, y0] = [ax + ((bx - ax) * k) / steps, ay + ((by - ay) * k) / steps];
        const [x1, y1] = [ax + ((bx - ax) * (k + 1)) / steps, ay + ((by - ay) * (k + 1)) / steps];
        const edge = [at(x0 - 3.81, y0), at(x1 - 3.81, y1)].sort().join(' ');
        expect(used.has(edge)).toBe(false);
        used.set(edge, w.wire.id);
        if (k > 0) expect(ends.get(at(x0 - 3.81, y0)) ?? w.wire.id).toBe(w.wire.id);
      }
    }
  }
  expect(used.size).toBeGreaterThan(1000);
});

test('drawings are well-formed for hostile names, on both grounds, at every level of detail', () => {
  const hostile = fc.oneof(
    fc.constantFrom(
      '</svg>',
      '"><script>alert(1)</script>',
      '&amp;&#x0;',
      ']]>',
      '\u0000\u0008',
      '\ud800',
      '\'"`<>&',
      '—é中😀',
    ),
    fc.string({ unit: 'binary', maxLength: 24 }),
    fc.string({ unit: 'grapheme', maxLength: 24 }),
  );
  fc.assert(
    fc.property(
      fc.array(hostile, { minLength: 6, maxLength: 6 }),
      fc.constantFrom(2, 4.74, 10, 16),
      fc.constantFrom('paper' as const, 'slate' as const),
      (names, scale, ground) => {
        const [machine, part, type, pin, net, colour] = names as [string, string, string, string, string, string];
        const f = createFixture(machine, [net], [{ board: 1, kind: 'full', x: 0, y: 0 }]);
        f.chip('U', type, 'P1 P2 P3 P4 P5 P6 P7 P8', { rows: 'ef', board: 1, column: 10, stage: 1 });
        f.chip('W', type, 'P1 P2 P3 P4 P5 P6 P7 P8', { rows: 'ef', board: 1, column: 20, stage: 1 });
        f.net(net, ['U.P1', 'W.P2'], colour);
        f.wire(net, 'U.P1', 'W.P2', 1);
        const { design, layout } = f.done();
        const evil = JSON.parse(
          JSON.stringify({ design, layout }, (_, v) => (v === 'U' ? part : v === 'P1' ? pin : v)),
        );
        const svg = renderBoards({ ...evil, stage: 1, scale, ground, select: { net }, title: machine });
        const elements = readXml(svg);
        expect(elements[0]!.name).toBe('svg');
        expect(elements.filter((e) => e.name === 'script')).toEqual([]);
        const wire = elements.filter((e) => e.attributes['data-wire'] !== undefined);
        expect(wire.length).toBe(1);
        const view = { ...evil, stage: 1, ground } as Parameters<typeof renderSheet>[0];
        const scene = createScene(view);
        const all = [
          renderSheet({ ...view, scene, detail: { x: 20, y: 10, width: 40, height: 30 } }),
          netLine({ scene, net, ground }),
          pinCard({ scene, part, select: net, ground }),
          busDiagram({ netlist: evil.design.netlists[1], select: net, title: type, ground }),
          stepView({ ...view, scene, wire: evil.layout.wires[0].id }),
          stepView({ ...view, scene, part }),
          stageLine({
            machine,
            stages: [{ number: 1, name: net, state: type, proof: 'open', steps: [{ mark: 'planned', group: pin }] }],
            ground,
          }),
        ];
        for (const drawing of all) {
          const list = readXml(drawing);
          expect(list[0]!.name).toBe('svg');
          expect(list.some((e) => e.name === 'script' || e.name === 'foreignObject')).toBe(false);
          expect(list.some((e) => Object.keys(e.attributes).some((name) => /^on/i.test(name)))).toBe(false);
          expect(
            /NaN|undefined|Infinity/.test(drawing.replaceAll(/>[^<]*</g, '><').replaceAll(/"[^"]*&[^"]*"/g, '')),
          ).toBe(false);
        }
      },
    ),
    { seed: 7, numRuns: 120 },
  );
});

test('layouts that make no sense are drawn as far as they go, without throwing', () => {
  const wrong = {
    ...layout,
    boards: [...layout.boards, { board: 9, kind: 'unheard-of', x: 0, y: 182.88 }],
    parts: layout.parts.map((p, i) => (i % 3 === 0 ? { ...p, leads: [{ number: 1, hole: '77:1a' }] } : p)),
    wires: layout.wires.map((w, i) =>
      i % 4 === 0 ? { ...w, from: 'nowhere' } : i % 4 === 1 ? { ...w, to: w.from } : w,
    ),
  };
  expect(readXml(renderBoards({ design, layout: wrong, stage: 6 })).length).toBeGreaterThan(100);
  expect(readXml(renderBoards({ design, layout: { ...layout, boards: [] }, stage: 4 }))[0]!.name).toBe('svg');
});

test('the same view gives the same bytes', () => {
  const view = { design, layout, stage: 4, built: harbourBuilt(20), select: { net: '/RD' } };
  expect(renderBoards(view)).toBe(renderBoards(view));
  const again = createHarbour();
  expect(renderBoards({ ...view, design: again.design, layout: again.layout })).toBe(renderBoards(view));
});
