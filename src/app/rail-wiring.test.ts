import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { projectOf } from '../../tests/support/library.ts';
import { type ChipVolts, railVolts, withCurrents } from '../margins/index.ts';
import { Build, cardVerb, marginsVerb, measuredVerb, meterRows, meterWords, supplyWiring } from './index.ts';

const builds = new Map<string, Build>();
/** One of the shipped builds, made once. */
const build = (name: string): Build => {
  const known = builds.get(name) ?? opened(name);
  builds.set(name, known);
  return known;
};
const opened = (name: string): Build =>
  new Build(
    projectOf(readFileSync(`projects/${name}/machine.yaml`, 'utf8'), {
      'builds/first/layout.json': readFileSync(`projects/${name}/builds/first/layout.json`, 'utf8'),
      ...(name === 'tide-clerk'
        ? { 'firmware/tide.hex': readFileSync('projects/tide-clerk/firmware/tide.hex', 'utf8') }
        : {}),
    }),
    'first',
  );
interface Rails {
  readonly rails:
    | readonly {
        supply: string;
        chips: readonly { part: string; volts: number | null; plusHole: string }[];
        lowest: string | null;
        leastSetting: number | null;
        proposal: { feeds: readonly { plus: string; ground: string }[]; volts: number; text: string } | null;
      }[]
    | null;
}

test('every chip of every shipped build is fed, and its voltage is known', () => {
  for (const name of ['tide-clerk', 'signal-box', 'weir-keeper', 'carillon']) {
    const one = build(name);
    const stage = one.design().stages.length;
    const { rails } = marginsVerb(one, { stage, withoutAdvice: true }).value as Rails;
    const netlist = one.design().netlists[stage]!;
    const fed = new Set(rails!.flatMap((drop) => drop.chips.map((chip) => chip.part)));
    for (const part of netlist.parts)
      if (
        part.record.pins.some((pin) => pin.kind === 'supply') &&
        !['supply', 'connector'].includes(part.record.category) &&
        part.pins.some((id) => {
          const { kind, net } = netlist.pins[id]!;
          return kind === 'supply' && net >= 0 && netlist.nets[net]!.kind === 'supply';
        })
      )
        expect(fed.has(part.name), `${name} ${part.name}`).toBe(true);
    for (const drop of rails!)
      for (const chip of drop.chips) expect(chip.volts, `${name} ${chip.part} at ${chip.plusHole}`).not.toBeNull();
  }
});

test('without a layout nothing is said of rails, and readings are refused', () => {
  const project = projectOf(readFileSync('projects/tide-clerk/machine.yaml', 'utf8'));
  const bare = new Build(project, 'first');
  expect((marginsVerb(bare, { stage: 6, withoutAdvice: true }).value as Rails).rails).toBeNull();
  expect(measuredVerb(bare, { stage: 6, measured: ['CPU=4.9'] }).refused).toBe(true);
});

test('feeds are proposed at holes that are free, and they do what they say', () => {
  // The machine without the feeds that its layout has by now.
  const text = JSON.parse(readFileSync('projects/signal-box/builds/first/layout.json', 'utf8')) as {
    entries: object[];
  };
  const one = new Build(
    projectOf(readFileSync('projects/signal-box/machine.yaml', 'utf8'), {
      'builds/first/layout.json': JSON.stringify({ ...text, entries: text.entries.slice(0, 1) }),
    }),
    'first',
  );
  const stage = one.design().stages.length;
  const before = marginsVerb(one, { stage, withoutAdvice: true, wantedVolts: 4.85 }).value as Rails;
  const { proposal } = before.rails![0]!;
  expect(proposal!.feeds.length).toBeGreaterThan(0);
  expect(proposal!.volts).toBeGreaterThanOrEqual(4.85);
  expect(proposal!.text).toContain(`${proposal!.feeds[0]!.plus} and ${proposal!.feeds[0]!.ground}`);
  const layout = JSON.parse(readFileSync('projects/signal-box/builds/first/layout.json', 'utf8')) as {
    wires: { from: string; to: string }[];
    parts: { leads: { hole: string }[] }[];
    entries: object[];
  };
  const taken = new Set([
    ...layout.wires.flatMap((wire) => [wire.from, wire.to]),
    ...layout.parts.flatMap((part) => part.leads.map((lead) => lead.hole)),
  ]);
  for (const feed of proposal!.feeds) {
    expect(taken.has(feed.plus)).toBe(false);
    expect(taken.has(feed.ground)).toBe(false);
  }
  // The same holes as entries of the layout give the same voltage.
  const fed = {
    ...layout,
    entries: [...layout.entries.slice(0, 1), ...proposal!.feeds.map((feed) => ({ supply: 'main', ...feed }))],
  };
  const other = new Build(
    projectOf(readFileSync('projects/signal-box/machine.yaml', 'utf8'), {
      'builds/first/layout.json': JSON.stringify(fed),
    }),
    'first',
  );
  const after = (marginsVerb(other, { stage, withoutAdvice: true }).value as Rails).rails![0]!;
  expect(Math.min(...after.chips.map((chip) => chip.volts!))).toBeCloseTo(proposal!.volts, 2);
});

/** Readings of every supply and ground pin, as a person would write them down. */
function readings(one: Build, stage: number, volts: readonly ChipVolts[]): string[] {
  const supply = supplyWiring(one, stage)!;
  return volts.flatMap((chip) => {
    const { part } = supply.chips.find((item) => item.chip === chip.name)!;
    const pin = (kind: string): string => part.record.pins.find((row) => row.kind === kind)!.name;
    return [
      `${part.name}.${pin('supply')}=${chip.plus!.toFixed(3)}`,
      `${part.name}.${pin('ground')}=${chip.ground!.toFixed(3)}`,
    ];
  });
}

test.each(['signal-box', 'carillon'])(
  '%s: a bad contact anywhere in the supply is found from the meter',
  (name) => {
    const one = build(name);
    const stage = one.design().stages.length;
    const supply = supplyWiring(one, stage)!;
    // The machine draws a third less than printed; nobody at the bench knows.
    const real = withCurrents(supply, 'typ');
    const typical = { ...real, chips: real.chips.map((chip) => ({ ...chip, mA: chip.mA * 0.67 })) };
    const healthy = railVolts(typical);
    const missed: string[] = [];
    let tried = 0;
    let alone = 0;
    for (const jumper of typical.jumpers) {
      const sick = railVolts(typical, { name: jumper.name, side: 'jumper', ohm: 1.5 });
      // Only those that a meter would see at all.
      if (!sick.some((chip, k) => Math.abs(chip.volts! - healthy[k]!.volts!) > 0.04)) continue;
      tried++;
      const measured = readings(one, stage, sick);
      const { suspects } = measuredVerb(one, { stage, measured }).value as { suspects: { wire: string | null }[] };
      if (!suspects.some((item) => item.wire === jumper.name)) missed.push(jumper.name);
      if (suspects.length <= 3) alone++;
    }
    expect(tried).toBeGreaterThan(8);
    expect(missed).toEqual([]);
    expect(alone / tried).toBeGreaterThan(0.5);
  },
  30_000,
);

test('readings that fit good contacts accuse nobody, and readings of pins tell the side', () => {
  const one = build('signal-box');
  const stage = one.design().stages.length;
  const typical = withCurrents(supplyWiring(one, stage)!, 'typ');
  const good = railVolts(typical).map((chip) => `${chip.name}=${chip.volts!.toFixed(3)}`);
  expect((measuredVerb(one, { stage, measured: good }).value as { suspects: unknown[] }).suspects).toEqual([]);
  const sick = railVolts(typical, { name: 'supply', side: 'ground', ohm: 0.8 });
  const { suspects } = measuredVerb(one, { stage, measured: readings(one, stage, sick) }).value as {
    suspects: { feed: string | null; side: string; holes: string[]; ohm: number }[];
  };
  expect(suspects.find((item) => item.feed === 'main')).toMatchObject({ side: 'ground', holes: ['1:t-3'] });
  // What can't be told apart lies on the same side of the supply.
  const ground = new Set(
    one
      .design()
      .netlists[stage]!.nets.filter((net) => net.kind === 'ground')
      .map((net) => net.name),
  );
  const layout = one.layout().value!;
  for (const item of suspects)
    for (const hole of item.holes)
      expect(
        hole.includes('-') || layout.wires.some((wire) => ground.has(wire.net) && [wire.from, wire.to].includes(hole)),
        hole,
      ).toBe(true);
});

test('a reading that names no chip, or no volts, is refused', () => {
  const one = build('signal-box');
  for (const word of ['NOBODY=4.9', 'CPU=high', 'CPU.A8=4.9'])
    expect(measuredVerb(one, { stage: 9, measured: [word] }).refused, word).toBe(true);
});

test('the power-on card says what the meter shows at each chip, the lowest first', () => {
  const one = build('signal-box');
  const stage = one.design().stages.length;
  const rows = meterRows(one, stage);
  expect(rows.length).toBeGreaterThan(10);
  expect(rows.every((row) => row.volts < 5 && row.leastVolts <= row.volts)).toBe(true);
  expect(rows.map((row) => row.volts)).toEqual(rows.map((row) => row.volts).sort((a, b) => a - b));
  expect((cardVerb(one, { stage }).value as { meter: unknown }).meter).toEqual(rows);
  expect(cardVerb(one, { stage }).text).toContain(`${rows[0]!.plus} to ${rows[0]!.ground}`);
  expect(meterWords(rows)).toContain(rows[0]!.plus);
  expect(meterWords([])).toBeUndefined();
});
