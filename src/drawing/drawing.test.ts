import { expect, test } from 'vitest';
import { createHarbour, harbourBuilt } from '../../tests/support/harbour.ts';
import { createWeir } from '../../tests/support/weir.ts';
import { readXml } from '../../tests/support/xml.ts';
import { bitRange } from './bus-diagram.ts';
import { createNetTree } from './net-tree.ts';
import { netLine } from './net-line.ts';
import { onBoards } from './on-boards.ts';
import { compactValue } from './parts-drawing.ts';
import { pinCard } from './pin-card.ts';
import { createPlaces, nearestHole } from './places.ts';
import { createScene } from './scene.ts';
import { frontsOf, type StageSteps, stageTicks } from './stage-line.ts';
import { pinsAt, stepView } from './step-view.ts';
import { escapeXml, fitMono, fitSans, num } from './text.ts';

const { design, layout } = createHarbour();

test('bits of a bus are written as runs', () => {
  expect(bitRange('A', [0, 1, 2, 3])).toBe('A3-A0');
  expect(bitRange('A', [15, 3, 4, 5, 6, 7])).toBe('A15, A7-A3');
  expect(bitRange('D', [1, 0])).toBe('D1, D0');
  expect(bitRange('harbour', [7, 6, 5, 4, 3, 2, 1, 0])).toBe('harbour 7-0');
});

test('values are shortened only where they are plain quantities', () => {
  expect(compactValue('10 kohm')).toBe('10k');
  expect(compactValue('100 nF')).toBe('100n');
  expect(compactValue('4.7 uF')).toBe('4.7µ');
  expect(compactValue('680 ohm')).toBe('680');
  expect(compactValue('see note')).toBe('see note');
});

test('text is cut to its room and escaped; numbers are short', () => {
  expect(fitMono('ABCDEFGH', 10, 6.32 * 4)).toBe('ABC…');
  expect(fitMono('ABCD', 10, 6.32 * 4)).toBe('ABCD');
  expect(fitMono('ABCD', 10, 5)).toBe('');
  expect(fitSans('a long sentence', 10, 30).endsWith('…')).toBe(true);
  expect(escapeXml('<a b="c">&\'\u0001')).toBe('&lt;a b=&quot;c&quot;&gt;&amp;&#39;\ufffd');
  expect([num(1.005), num(-0.001), num(3)]).toEqual(['1', '0', '3']);
});

test('states follow from stage and journal', () => {
  const built = harbourBuilt(10);
  const scene = createScene({ design, layout, stage: 4, built });
  const part = (name: string) => scene.parts.find((p) => p.name === name)?.state;
  expect([part('CPU'), part('RAM'), part('UART')]).toEqual(['built', 'planned', 'later']);
  const straps = scene.wires.filter((w) => w.wire.temporary);
  expect(straps.map((w) => w.state)).toEqual(Array(8).fill('out'));
  expect(createScene({ design, layout, stage: 3, built: 'all' }).wires.every((w) => w.state === 'built')).toBe(true);
  // What stage 4 has put in is no business of stage 3.
  const earlier = createScene({ design, layout, stage: 3, built: harbourBuilt(1000) });
  expect(earlier.wires.filter((w) => w.state === 'out' || w.wire.stage > 3)).toEqual([]);
  expect(earlier.parts.find((p) => p.name === 'ROM')?.state).toBe('later');
  // Straps that were never put in are not to be taken out.
  expect(createScene({ design, layout, stage: 4 }).wires.some((w) => w.wire.temporary)).toBe(false);
});

test('a net as a line holds every wire of the net once, and what is not wired stands apart', () => {
  const scene = createScene({ design, layout, stage: 4 });
  const tree = createNetTree(scene, '/RD');
  const wires = layout.wires.filter((w) => w.net === '/RD' && w.stage <= 4).map((w) => w.id);
  expect([...tree.links.map((l) => l.wire.wire.id), ...tree.extra.map((w) => w.wire.id)].sort()).toEqual(wires.sort());
  expect(tree.rows).toBe(1);
  const drivers = tree.stations
    .filter((s) => s.drives)
    .flatMap((s) => s.pins.map((p) => `${p.part.name}.${p.lead.name}`));
  expect(drivers).toEqual(['CPU./RD']);
  const places = tree.stations.map((s) => `${s.column}/${s.row}`);
  expect(new Set(places).size).toBe(places.length);
  const bare = createNetTree(createScene({ design, layout: { ...layout, wires: [] }, stage: 4 }), '/RD');
  expect([bare.stations.length, bare.links.length, bare.rows]).toEqual([4, 0, 4]);
});

test('branches and rings of a net are all placed', () => {
  const { layout: base, design: weir } = createWeir();
  const wire = (id: string, from: string, to: string) => ({
    ...base.wires[0]!,
    id,
    net: 'n',
    from,
    to,
    stage: 1,
    until: undefined,
  });
  const ends = ['1:10j', '1:12j', '1:14j', '1:16j', '1:18j', '1:20j'];
  const wires = [
    wire('a', ends[0]!, ends[1]!),
    wire('b', '1:12i', ends[2]!),
    wire('c', '1:12h', ends[3]!),
    wire('d', '1:14i', ends[4]!),
    wire('e', '1:18i', ends[5]!),
    wire('ring', '1:20i', '1:10i'),
  ];
  const scene = createScene({ design: weir, layout: { ...base, parts: [], wires }, stage: 1 });
  const tree = createNetTree(scene, 'n');
  expect(tree.stations.length).toBe(6);
  expect(tree.links.length + tree.extra.length).toBe(6);
  expect(tree.extra.length).toBe(1);
  expect(new Set(tree.stations.map((s) => `${s.column}/${s.row}`)).size).toBe(6);
  expect(tree.stations.every((s) => s.column >= 0 && s.row >= 0)).toBe(true);
  readXml(netLine({ scene, net: 'n' }));
});

test('the pin card lists every pin once with its net, and says where the chip is', () => {
  const scene = createScene({ design, layout, stage: 4, built: harbourBuilt(1000) });
  const elements = readXml(pinCard({ scene, part: 'CPU' }));
  const pins = elements.filter((e) => e.attributes['data-pin'] !== undefined);
  expect(pins.map((e) => Number(e.attributes['data-pin']))).toEqual(Array.from({ length: 40 }, (_, i) => i + 1));
  const netlist = design.netlists[4]!;
  for (const pin of netlist.pins.filter((p) => netlist.parts[p.part]!.name === 'CPU')) {
    const shown = pins.find((e) => e.attributes['data-pin'] === String(pin.number))!;
    expect(shown.attributes['data-net']).toBe(netlist.nets[pin.net]?.name ?? '');
  }
  expect(pinCard({ scene, part: 'CPU' })).toContain('pin 1 in 2:14c');
  expect(pinCard({ scene, part: 'nothing' })).toContain('not on the boards');
});

test('an exchange of pins shows in the nets beside them', () => {
  // The layout exchanged RAM's A0 and A1 (pins 10 and 9): wires follow, the netlist given may not.
  const [a0, a1] = ['1:47b', '1:46b'];
  const ram = layout.parts.find((p) => p.part === 'RAM')!;
  const column = (pin: number) => ram.leads.find((lead) => lead.number === pin)!.hole.replace(/c$/, '');
  const swap = (hole: string): string =>
    hole.startsWith(column(10))
      ? hole.replace(column(10), column(9))
      : hole.startsWith(column(9))
        ? hole.replace(column(9), column(10))
        : hole;
  expect([a0.slice(0, -1), a1.slice(0, -1)]).toEqual([column(10), column(9)]);
  const wires = layout.wires.map((w) => ({ ...w, from: swap(w.from), to: swap(w.to) }));
  const exchanged = {
    ...layout,
    wires,
    exchanges: [{ part: 'RAM', type: '62256', pins: [[9, 10] as const, [10, 9] as const] }],
  };
  const scene = createScene({ design, layout: exchanged, stage: 4 });
  const nets = scene.parts.find((p) => p.name === 'RAM')!.leads.filter((l) => l.number === 9 || l.number === 10);
  expect(nets.map((l) => [l.number, l.net])).toEqual([
    [9, 'A0'],
    [10, 'A1'],
  ]);
});

test('a journal that differs from the layout shows both places', () => {
  const wire = layout.wires.find((w) => w.net === '/RD')!;
  const cpu = layout.parts.find((p) => p.part === 'CPU')!;
  const moved = cpu.leads.map(
    (lead) => [lead.number, lead.hole.replace(/:(\d+)/, (_, c) => `:${Number(c) + 1}`)] as const,
  );
  const journal = {
    parts: new Map([
      [
        'CPU',
        {
          part: 'CPU',
          type: 'Z80',
          value: undefined,
          rotation: 0 as const,
          leads: moved,
          device: '',
          stage: undefined,
        },
      ],
    ]),
    wires: new Map([
      [wire.id, { ...entry(wire), to: '2:60a' }],
      ['old', { ...entry(wire), wire: 'old' }],
    ]),
  };
  const view = onBoards(journal, layout);
  const scene = createScene({ design, layout, stage: 4, ...view });
  expect(
    scene.parts
      .filter((p) => p.name === 'CPU')
      .map((p) => p.state)
      .sort(),
  ).toEqual(['out', 'planned']);
  expect(
    scene.wires
      .filter((w) => w.state === 'out')
      .map((w) => w.wire.id)
      .sort(),
  ).toEqual([wire.id, 'old'].sort());
  expect(scene.wires.filter((w) => w.state === 'built')).toEqual([]);
});

function entry(wire: (typeof layout.wires)[number]) {
  const { net, from, to, cutMm, colour, style } = wire;
  return { wire: wire.id, net, from, to, cutMm, colour, style, lead: undefined, stage: undefined };
}

test('the step view names the pins at both ends and lights only their strips', () => {
  const wire = layout.wires.find((w) => w.net === '/RD' && w.to.startsWith('3:'))!;
  const scene = createScene({ design, layout, stage: 4, built: harbourBuilt(30) });
  expect(pinsAt(scene, wire.from)[0]).toBe('CPU./RD');
  expect(pinsAt(scene, wire.to)[0]).toBe('GLU.2B');
  expect(pinsAt(scene, '2:t+31')).toEqual([]);
  const svg = stepView({ design, layout, stage: 4, built: harbourBuilt(30), scene, wire: wire.id });
  const elements = readXml(svg);
  const aims = elements.filter((e) => e.attributes.class === 'pb-aim').map((e) => e.attributes['data-hole']);
  expect(aims).toEqual([wire.from, wire.to]);
  expect(elements.filter((e) => e.attributes.class === 'pb-strip on').length).toBe(2);
  expect(readXml(stepView({ design, layout, stage: 4, part: 'RAM' })).length).toBeGreaterThan(50);
  expect(stepView({ design, layout, stage: 4, wire: 'none' })).toContain('Nothing of that name');
});

test('fronts of the stage line: into a stage that is begun, to one that is whole', () => {
  const stage = (number: number, marks: string, proof: StageSteps['proof']): StageSteps => ({
    number,
    name: `s${number}`,
    state: '',
    proof,
    steps: [...marks].map((m) => ({ mark: m === 'b' ? 'built' : m === 'p' ? 'planned' : 'none', group: 'g' })),
  });
  const stages = [stage(1, 'bbb', 'proved'), stage(2, 'bpp', 'open'), stage(3, 'ppn', 'open')];
  expect(frontsOf(stages)).toEqual({ designed: 'designed into 3', wired: 'wired into 2', proved: 'proved to 1' });
  expect(frontsOf([])).toEqual({
    designed: 'designed nothing yet',
    wired: 'wired nothing yet',
    proved: 'proved nothing yet',
  });
  const whole = [stage(1, 'bbb', 'proved')];
  expect(frontsOf(whole)).toEqual({ designed: 'designed to 1', wired: 'wired to 1', proved: 'proved to 1' });
  // One graduation per step, and none for what isn't designed.
  expect(stageTicks(stages[2]!).svg.match(/V15/g)?.length).toBe(2);
});

test('the hole under a place on the drawing is found, and none between boards', () => {
  const places = createPlaces(layout);
  for (const name of ['1:1a', '2:34e', '3:63j', '1:t+3', '2:b-61']) {
    const at = places.hole(name)!;
    expect(nearestHole(places, at.x + 0.9, at.y - 0.9)).toBe(name);
  }
  expect(nearestHole(places, 50, 57)).toBeUndefined();
  expect(nearestHole(places, -9, 20)).toBeUndefined();
  expect(places.hole('1:t+8')).toBeUndefined(); // between groups of five
  expect(places.hole('1:64a')).toBeUndefined();
  expect(places.hole('4:1a')).toBeUndefined();
});
