import { expect, test } from 'vitest';
import { readFiles } from '../../tests/support/machine-files.ts';
import type { Machine } from './index.ts';

const LAMP = `block: lamp
joins:
  in: lights it
  D1-D0: { about: two bits, default: X7-X6 }
  power: { about: what feeds it, default: SUPPLY }
parts:
  LED: { type: led, pins: { A: inner, K: GND, EN: power, "Q1": D1, /OE: /own, T: relay } }
  R: { type: resistor, supply: SUPPLY }
nets: { inner: [R.1], in: [R.2] }
ties: [{ high: [R.3, /own], through: 1 kohm }]
memory: [{ LED: 1 at 0x10, when: in & ~inner, from: lit }]
logic: { /own: { formula: low when in & ~D0, in: R unit 2, clock: tick, until: dark } }
classes: { slow: { nets: [inner, LED.A, D1-D0] } }
stages:
  - stage: lit
    adds: [LED]
    temporary: [{ hold: [inner, in], at: 2, until: dark }]
    leads: { pod: [inner, R.1], until: dark }
    prove: { given: { press: LED for 1 s, hold: D1-D0 at 2 }, expect: { D1-D0: 1, inner: high, LED.A: low } }
  - stage: dark
    adds: R
    programs: { R: x }
    removes: LED
`;
const STAGES = 'stages: [{ stage: first }, { stage: lit }, { stage: end }]\n';
const HEAD = 'machine: m\nsupplies: { main: { volts: 5 V }, relay: { volts: 12 V } }\n';

/** Names of a machine, without places. */
function plain(machine: Machine): unknown {
  return JSON.parse(
    JSON.stringify(machine, (key, value: unknown) => (/span$/i.test(key) || key === 'layout' ? undefined : value)),
  );
}

test('a block becomes parts and nets under the name of its use', () => {
  const main = `${HEAD}blocks: { A: { use: lamp, join: { in: go# }, copies: 2, first: 0, stages: { dark: end } } }\n${STAGES}`;
  const { value, shown } = readFiles({ 'machine.yaml': main, 'blocks/lamp.yaml': LAMP });
  expect(shown).toEqual([]);
  const copy = (n: number) => ({
    parts: [
      {
        name: `A${n}-LED`,
        type: 'led',
        comesOut: false,
        block: `A${n}`,
        pins: [
          { pin: 'A', net: `A${n}-inner` },
          { pin: 'K', net: 'GND' },
          { pin: 'EN', net: 'main' },
          { pin: 'Q1', net: 'X7' },
          { pin: '/OE', net: `/A${n}-own` },
          { pin: 'T', net: 'relay' },
        ],
      },
      { name: `A${n}-R`, type: 'resistor', supply: { name: 'main' }, comesOut: false, block: `A${n}`, pins: [] },
    ],
    nets: [
      { name: `A${n}-inner`, pins: [{ part: `A${n}-R`, pin: '1' }], lifetime: {} },
      { name: `go${n}`, pins: [{ part: `A${n}-R`, pin: '2' }], lifetime: {} },
    ],
    ties: [
      { to: 'high', pins: [{ part: `A${n}-R`, pin: '3' }, { name: `/A${n}-own` }], throughOhm: 1000, lifetime: {} },
    ],
    map: [
      {
        space: 'memory',
        part: { name: `A${n}-LED` },
        at: 16,
        bytes: 1,
        when: { name: `go${n} & ~A${n}-inner` },
        lifetime: { from: { name: 'lit' } },
      },
    ],
    logic: [
      {
        net: `/A${n}-own`,
        formula: { name: `low when go${n} & ~X6` },
        in: { part: { name: `A${n}-R` }, unit: { name: '2' } },
        clock: { name: `A${n}-tick` },
        lifetime: { until: { name: 'end' } },
      },
    ],
    classes: [
      {
        name: `A${n}-slow`,
        nets: [{ name: `A${n}-inner` }, { name: `A${n}-LED.A` }, { name: 'X7' }, { name: 'X6' }],
        probeHole: false,
      },
    ],
  });
  const machine = plain(value) as Record<string, unknown[]>;
  for (const key of ['parts', 'nets', 'ties', 'map', 'logic', 'classes'] as const)
    expect(machine[key], key).toEqual([...copy(0)[key], ...copy(1)[key]]);
  const lit = value.stages[1]!;
  expect(lit.adds.map((ref) => ref.name)).toEqual(['A0-LED', 'A1-LED']);
  expect(lit.temporary.map((strap) => [strap.nets.map((net) => net.name), strap.value, strap.until?.name])).toEqual([
    [['A0-inner', 'go0'], 2, 'end'],
    [['A1-inner', 'go1'], 2, 'end'],
  ]);
  expect(lit.leads[1]).toMatchObject({
    pod: 'pod',
    nets: [{ name: 'A1-inner' }, { name: 'A1-R.1' }],
    until: { name: 'end' },
  });
  expect(lit.prove[0]!.given.map((term) => [term.key, term.value])).toEqual([
    ['press', 'A0-LED for 1 s'],
    ['hold', 'X7-X6 at 2'],
  ]);
  expect(lit.prove[1]!.expect.map((term) => [term.key, term.value])).toEqual([
    ['X7-X6', '1'],
    ['A1-inner', 'high'],
    ['A1-LED.A', 'low'],
  ]);
  const end = value.stages[2]!;
  expect(end.adds.map((ref) => ref.name)).toEqual(['A0-R', 'A1-R']);
  expect(end.removes.map((ref) => ref.name)).toEqual(['A0-LED', 'A1-LED']);
  expect(end.programs.map((item) => item.part.name)).toEqual(['A0-R', 'A1-R']);
  expect(value.blocks.map((block) => [block.name, block.use, block.block, block.joins])).toEqual(
    [0, 1].map((n) => [
      `A${n}`,
      'A',
      'lamp',
      [
        { join: 'in', net: `go${n}` },
        { join: 'D1', net: 'X7' },
        { join: 'D0', net: 'X6' },
        { join: 'power', net: 'main' },
      ],
    ]),
  );
});

test('a range whose bits are joined apart is spelled out in proofs', () => {
  const main = `${HEAD}blocks: { A: { use: lamp, join: { in: go, D1: p, D0: q }, stages: { dark: end } } }\n${STAGES}`;
  const { value, shown } = readFiles({ 'machine.yaml': main, 'blocks/lamp.yaml': LAMP });
  expect(shown).toEqual([]);
  const proof = value.stages[1]!.prove[0]!;
  expect(proof.given.map((term) => term.value)).toEqual(['A-LED for 1 s', 'p at 1', 'q at 0']);
  expect(proof.expect.slice(0, 2).map((term) => [term.key, term.value])).toEqual([
    ['p', '0'],
    ['q', '1'],
  ]);
});

test('`supply` of a use feeds its parts and is what SUPPLY means', () => {
  const main = `${HEAD}blocks: { A: { use: lamp, join: { in: go }, supply: relay, stages: { dark: end } } }\n${STAGES}`;
  const { value, shown } = readFiles({ 'machine.yaml': main, 'blocks/lamp.yaml': LAMP });
  expect(shown).toEqual([]);
  expect(value.parts.map((part) => part.supply?.name)).toEqual(['relay', 'relay']);
  expect(value.parts[0]!.pins[2]!.net).toBe('relay');
  expect(value.ties[0]!.supply?.name).toBe('relay');
});

test('adding a block adds what its own stages do not place', () => {
  const block =
    'block: b\nparts: { X: { type: led }, Y: { type: led }, Z: { type: led } }\nstages: [{ stage: s, adds: X }]\n';
  const main = (stages: string) => `${HEAD}blocks: { A: { use: b, copies: 2 } }\nstages: ${stages}\n`;
  const adds = (stages: string): unknown => {
    const { value, shown } = readFiles({ 'machine.yaml': main(stages), 'blocks/b.yaml': block });
    expect(shown).toEqual([]);
    return value.stages.map((stage) => stage.adds.map((ref) => ref.name).join(' '));
  };
  expect(adds('[{ stage: one, adds: A }]')).toEqual(['A1-Y A1-Z A2-Y A2-Z A1-X A2-X']);
  expect(adds('[{ stage: one, adds: A1 }, { stage: two, adds: [A2] }]')).toEqual(['A1-Y A1-Z A1-X', 'A2-Y A2-Z A2-X']);
  expect(adds('[{ stage: s }, { stage: two, adds: [A1-Y, A] }]')).toEqual(['A1-X A2-X', 'A1-Y A1-Z A2-Y A2-Z']);
});

test('blocks within blocks: names nest, stages pass through, nets are joined through both', () => {
  const files = {
    'machine.yaml': `${HEAD}blocks: { OUT: { use: outer, join: { go: start }, stages: { s: end } } }\n${STAGES}`,
    'blocks/outer.yaml':
      'block: outer\njoins: { go: starts it }\nblocks: { IN: { use: inner, join: { a: go, b: mid, c: GND }, copies: 2 } }\nparts: { U: { type: led, pins: { A: mid } } }\nstages: [{ stage: s, adds: [U, IN] }]\n',
    'blocks/inner.yaml':
      'block: inner\njoins: { a: x, b: x, c: x }\nparts: { P: { type: led, pins: { A: a, B: b, C: c, D: d } } }\nstages: [{ stage: s, prove: { expect: { d: low } } }]\n',
  };
  const { value, shown } = readFiles(files);
  expect(shown).toEqual([]);
  expect(value.parts.map((part) => `${part.name} ${part.pins.map((pin) => pin.net).join(' ')}`)).toEqual([
    'OUT-U OUT-mid',
    'OUT-IN1-P start OUT-mid GND OUT-IN1-d',
    'OUT-IN2-P start OUT-mid GND OUT-IN2-d',
  ]);
  expect(value.stages[2]!.adds.map((ref) => ref.name)).toEqual(['OUT-U', 'OUT-IN1-P', 'OUT-IN2-P']);
  expect(value.stages[2]!.prove.map((proof) => proof.expect[0]!.key)).toEqual(['OUT-IN1-d', 'OUT-IN2-d']);
});

test("the project's block comes before the shipped one of the same name", () => {
  const shipped = { 'shipped:blocks/b.yaml': 'block: b\nparts: { S: { type: led } }\n' };
  const main = `${HEAD}blocks: { A: { use: b } }\n`;
  const names = (files: Record<string, string>) => readFiles({ 'machine.yaml': main, ...files }).value.parts[0]!.name;
  expect(names(shipped)).toBe('A-S');
  expect(names({ ...shipped, 'blocks/b.yaml': 'block: b\nparts: { P: { type: led } }\n' })).toBe('A-P');
});

test('what is wrong inside a block stands in its file, with a note of the use; once for all copies', () => {
  const block = 'block: b\nparts: { X: { typ: led } }\nnets: { n: [Y.1] }\n';
  const main = `${HEAD}blocks: { A: { use: b, copies: 3 }, B: { use: b } }\n`;
  const { findings, shown } = readFiles({ 'machine.yaml': main, 'blocks/b.yaml': block });
  expect(shown).toEqual([
    'blocks/b.yaml:2:13 yaml/missing-key [{] type is missing here.',
    'blocks/b.yaml:2:15 yaml/unknown-key [typ] There is no typ here; did you mean type?',
    'blocks/b.yaml:3:13 machine/unknown-part [Y] The block b has no part Y; did you mean X?',
  ]);
  expect(main.slice(findings[0]!.notes.at(-1)!.span!.start).startsWith('b, copies')).toBe(true);
});

test('what is wrong with a use stands at the use', () => {
  const block = 'block: b\njoins: { in: x, out: x }\nparts: { X: { type: led } }\nstages: [{ stage: s, adds: X }]\n';
  const show = (use: string, rest = '') =>
    readFiles(
      {
        'machine.yaml': `machine: m\nsupplies: { main: { volts: 5 V } }\n${rest}blocks: { A: ${use} }\n`,
        'blocks/b.yaml': block,
      },
      { knownBlocks: ['b'] },
    ).shown;
  expect(show('{ use: b, join: { in: p, out: q } }')).toEqual([]);
  expect(show('{ use: b, join: { in: p, oot: q } }')).toEqual([
    '3:11 machine/join-missing [A] A leaves a connection of the block b open: out.',
    '3:39 machine/unknown-join [oot] The block b has no connection oot; did you mean out?',
  ]);
  expect(show('{ use: bb, join: { in: p, out: q } }')).toEqual([
    '3:21 machine/unknown-block [bb] There is no block bb; did you mean b?',
  ]);
  expect(show('{ use: ../b, join: { in: p } }')[0]).toMatch(/^3:21 machine\/bad-name \[..\/b\] /);
  expect(show('{ use: b, join: { in: CPU.A0, out: q } }')[0]).toMatch(/machine\/bad-name \[CPU.A0\]/);
  expect(show('{ use: b, join: { in: p, out: q }, copies: 300 }')[0]).toMatch(/yaml\/out-of-range \[300\]/);
  expect(show('{ use: b, join: { in: p, out: q } }', 'stages: [{ stage: t }]\n')).toEqual([
    '4:11 machine/block-stage-unplaced [A] A does not say in which stage "s" of the block b happens.',
  ]);
  expect(show('{ use: b, join: { in: p, out: q }, stages: { s: u } }', 'stages: [{ stage: t }]\n')).toEqual([
    '4:11 machine/part-in-no-stage [A] No stage puts in A-X of the block b.',
    '4:62 machine/unknown-stage [u] There is no stage u; did you mean t?',
  ]);
  expect(show('{ use: b, join: { in: p, out: q }, stages: { s: t, r: t } }', 'stages: [{ stage: t }]\n')).toEqual([
    '4:65 machine/unknown-stage [r] The block b has no stage r; did you mean s?',
  ]);
  expect(show('{ use: b, join: { in: p, out: q } }', 'parts: { A: { type: led } }\n')[0]).toMatch(
    /^3:10 machine\/duplicate-name \[A\] A is both a part and a use of a block/,
  );
  expect(show('{ use: b, join: { in: p, out: q } }', 'parts: { A-X: { type: led } }\n')[0]).toMatch(
    /machine\/duplicate-name \[.*\] There are two parts named A-X/,
  );
});
