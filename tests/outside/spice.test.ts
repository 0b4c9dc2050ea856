// Rail drops and an edge against an independent circuit simulator (a SPICE engine): the same network written as its cards.

import { readFileSync } from 'node:fs';
import { Simulation } from 'eecircuit-engine';
import { beforeAll, expect, test } from 'vitest';
import { Build, supplyWiring } from '../../src/app/index.ts';
import { createRng } from '../../src/base/index.ts';
import { railVolts, type RailWiring, ringing, solveNetwork, withCurrents } from '../../src/margins/index.ts';
import { projectOf } from '../support/library.ts';

let engine: Simulation;
beforeAll(async () => {
  engine = new Simulation();
  await engine.start();
}, 60_000);

/** Values of a variable, all points. */
async function run(cards: readonly string[], variable: string): Promise<readonly number[]> {
  engine.setNetList(['margins', ...cards, '.end'].join('\n'));
  const result = await engine.runSim();
  return result.data.find((item) => item.name === variable)!.values as number[];
}

test('random networks of forty nodes: every voltage', async () => {
  const rng = createRng(11);
  for (let round = 0; round < 3; round++) {
    const nodes = 40;
    const conductors = [];
    for (let k = 1; k < nodes; k++) conductors.push({ a: rng.below(k), b: k, ohm: 0.005 + rng.unit() * 0.5 });
    for (let k = 0; k < 25; k++) {
      const a = rng.below(nodes);
      const b = rng.below(nodes);
      if (a !== b) conductors.push({ a, b, ohm: 0.01 + rng.unit() });
    }
    const drawn = new Map([7, 13, 21, 33].map((node) => [node, rng.unit() * 0.3] as const));
    const volts = solveNetwork({ nodes, conductors, held: new Map([[0, 5]]), drawn });
    const cards = [
      'v0 n0 0 5',
      ...conductors.map(({ a, b, ohm }, k) => `r${k} n${a} n${b} ${ohm}`),
      ...[...drawn].map(([node, amps]) => `i${node} n${node} 0 ${amps}`),
      '.op',
    ];
    engine.setNetList(['margins', ...cards, '.end'].join('\n'));
    const result = await engine.runSim();
    for (let node = 0; node < nodes; node++) {
      const value = result.data.find((item) => item.name === `v(n${node})`)!.values[0] as number;
      expect(volts[node]!, `node ${node}`).toBeCloseTo(value, 6);
    }
  }
}, 60_000);

test('two boards, a jumper each way, chips on both', async () => {
  const wiring: RailWiring = {
    rails: ['a+', 'a-', 'b+', 'b-'].map((name) => ({ name, kind: name.endsWith('+') ? 'plus' : 'ground' })),
    feeds: [{ name: 'supply', plus: { rail: 'a+', inch: 0 }, ground: { rail: 'a-', inch: 0 }, volts: 5, mm: 200 }],
    jumpers: [
      { name: 'up', from: { rail: 'a+', inch: 6 }, to: { rail: 'b+', inch: 6 }, mm: 80 },
      { name: 'down', from: { rail: 'a-', inch: 6 }, to: { rail: 'b-', inch: 6 }, mm: 80 },
    ],
    chips: [
      { name: 'U1', plus: { rail: 'a+', inch: 3 }, ground: { rail: 'a-', inch: 3 }, mm: 20, mA: 150 },
      { name: 'U2', plus: { rail: 'b+', inch: 1 }, ground: { rail: 'b-', inch: 1 }, mm: 20, mA: 90 },
    ],
  };
  const [one, two] = railVolts(wiring);
  // Feed: wire 200 mm and two contacts less one. Chip: wire 20 mm, two contacts and the pin's own. Jumper: 80 mm, two contacts.
  const side = (sign: string): string[] => [
    `rf${sign} s${sign} a0${sign} ${0.053 * 0.2 + 0.009}`,
    `r1${sign} a0${sign} a3${sign} ${3 * 0.011}`,
    `r2${sign} a3${sign} a6${sign} ${3 * 0.011}`,
    `rj${sign} a6${sign} b6${sign} ${0.053 * 0.08 + 0.018}`,
    `r3${sign} b6${sign} b1${sign} ${5 * 0.011}`,
    `rc${sign} a3${sign} u1${sign} ${0.053 * 0.02 + 0.027}`,
    `rd${sign} b1${sign} u2${sign} ${0.053 * 0.02 + 0.027}`,
  ];
  const cards = ['vs sp 0 5', 'vg sm 0 0', ...side('p'), ...side('m'), 'i1 u1p u1m 0.15', 'i2 u2p u2m 0.09', '.op'];
  const at = async (node: string): Promise<number> => (await run(cards, `v(${node})`))[0]!;
  expect(one!.volts!).toBeCloseTo((await at('u1p')) - (await at('u1m')), 6);
  expect(two!.volts!).toBeCloseTo((await at('u2p')) - (await at('u2m')), 6);
}, 60_000);

test('the rails of a whole build, its cards written from the layout file by other code', async () => {
  // Every strip and rail segment as its holes in a row, every supply and ground wire, every chip with its pins in contacts.
  const file = readFileSync('projects/tide-clerk/builds/first/layout.json', 'utf8');
  const layout = JSON.parse(file) as {
    wires: { net: string; from: string; to: string; cutMm: number }[];
    parts: { part: string; leads: { number: number; hole: string }[] }[];
    entries: { plus: string; ground: string }[];
  };
  const build = new Build(
    projectOf(readFileSync('projects/tide-clerk/machine.yaml', 'utf8'), {
      'firmware/tide.hex': readFileSync('projects/tide-clerk/firmware/tide.hex', 'utf8'),
      'builds/first/layout.json': file,
    }),
    'first',
  );
  const stage = build.design().stages.length;
  const supply = supplyWiring(build, stage)!;
  const rows = railVolts(withCurrents(supply, 'max'));
  const node = (hole: string): string => `h${hole.replace(':', '_').replace('+', 'p').replace('-', 'm')}`;
  /** Where a hole is: the conductor it is on, and inches along it. Full-size boards with rails broken after column 31. */
  const along = (hole: string): [string, number] => {
    const rail = /^(\d+:[tb][+-])(\d+)$/.exec(hole);
    if (rail !== null) return [`${rail[1]} ${Number(rail[2]) > 32 ? 'right' : 'left'}`, Number(rail[2]) / 10];
    const [, column, row] = /^(\d+:\d+)([a-j])$/.exec(hole)!;
    return [`${column} ${row! > 'e' ? 'upper' : 'lower'}`, 'abcdefghij'.indexOf(row!) / 10];
  };
  const wires = layout.wires.filter((wire) => ['gnd', 'main'].includes(wire.net.toLowerCase()));
  const holes = new Set(wires.flatMap((wire) => [wire.from, wire.to]));
  for (const entry of layout.entries) for (const hole of [entry.plus, entry.ground]) holes.add(hole);
  const cards: string[] = [];
  const r = (a: string, b: string, ohm: number): void => void cards.push(`r${cards.length} ${a} ${b} ${ohm}`);
  const netlist = build.design().netlists[stage]!;
  for (const item of supply.chips) {
    const leads = layout.parts.find((part) => part.part === item.part.name)!.leads;
    for (const id of item.part.pins) {
      const pin = netlist.pins[id]!;
      const side = pin.kind === 'ground' ? 'm' : pin.kind === 'supply' ? 'p' : '';
      if (side === '' || pin.net < 0 || netlist.nets[pin.net]!.kind === 'signal') continue;
      const { hole } = leads.find((lead) => lead.number === pin.number)!;
      holes.add(hole);
      r(`u${item.part.id}${side}`, node(hole), 0.009);
    }
    cards.push(`i${item.part.id} u${item.part.id}p u${item.part.id}m ${(item.max ?? 0) / 1e3}`);
  }
  const rails = new Map<string, string[]>();
  for (const hole of holes) rails.set(along(hole)[0], [...(rails.get(along(hole)[0]) ?? []), hole]);
  for (const list of rails.values()) {
    list.sort((a, b) => along(a)[1] - along(b)[1]);
    for (let k = 1; k < list.length; k++)
      r(node(list[k - 1]!), node(list[k]!), 0.011 * (along(list[k]!)[1] - along(list[k - 1]!)[1]));
  }
  for (const wire of wires) r(node(wire.from), node(wire.to), 0.018 + 0.053 * (wire.cutMm / 1e3));
  r('sp', node(layout.entries[0]!.plus), 0.009);
  r('0', node(layout.entries[0]!.ground), 0.009);
  engine.setNetList(['margins', 'vs sp 0 5', ...cards, '.op', '.end'].join('\n'));
  const result = await engine.runSim();
  const at = (name: string): number =>
    result.data.find((item) => item.name.toLowerCase() === `v(${name})`)!.values[0] as number;
  expect(rows.length).toBeGreaterThan(6);
  for (const [k, item] of supply.chips.entries())
    expect(rows[k]!.volts!, item.part.name).toBeCloseTo(at(`u${item.part.id}p`) - at(`u${item.part.id}m`), 6);
}, 60_000);

test('an edge through a wire into a pin: overshoot and frequency of the ringing', async () => {
  // 100 nH (some 9 cm of wire), 50 pF, 20 ohm; a step that is fast beside the ringing.
  const cards = [
    'vin in 0 pulse(0 5 0 0.05n 0.05n 400n 800n)',
    'r1 in a 20',
    'l1 a b 100n',
    'c1 b 0 50p',
    '.tran 0.02n 80n',
  ];
  const volts = await run(cards, 'v(b)');
  const time = await run(cards, 'time');
  const estimate = ringing(100, 50, 20);
  const peak = Math.max(...volts);
  expect(peak / 5 - 1).toBeCloseTo(estimate.overshoot, 2);
  // Half a period of the damped ringing until the first peak.
  const atPeak = time[volts.indexOf(peak)]!;
  const damped = estimate.hz * Math.sqrt(1 - estimate.damping ** 2);
  expect(atPeak * 2 * damped).toBeCloseTo(1, 1);
}, 60_000);
