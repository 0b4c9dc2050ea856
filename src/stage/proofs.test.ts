import { expect, test } from 'vitest';
import { designOf, layOut, rulesOf, stripOf } from '../../tests/support/bench.ts';
import { Desk } from '../../tests/support/desk.ts';
import { ref, SPAN, small, term } from '../../tests/support/small.ts';
import type { Layout } from '../board/index.ts';
import { netlistAt } from '../netlist/index.ts';
import { coneOf } from './cone.ts';
import { proofBasis, proofStates, proveAgain } from './proofs.ts';

const prove = (key: string, value = '', given: readonly ReturnType<typeof term>[] = []) => ({
  given,
  expect: [term(key, value)],
  span: SPAN,
});
const design = designOf(small, {
  supply: { prove: [prove('supply', '4.75 V to 5.25 V')] },
  logic: { prove: [prove('A0', 'high'), prove('/sel', 'low', [term('clock', 'stopped')])] },
  memory: { programs: [{ part: ref('ROM'), with: ref('b.hex') }], prove: [prove('self-test passes')] },
});
const layout = layOut(small, 5);
const rules = rulesOf(small);
const onRail = (hole: string): boolean => /:[tb][+-]/.test(hole);
const statesOf = (desk: Desk, changed: Layout = layout) =>
  proofStates({ design, layout: changed, records: desk.records(), stripOf, onRail });
const short = (desk: Desk, changed: Layout = layout): string =>
  statesOf(desk, changed)
    .map((state) => `${state.expect.split(':')[0]!.split(' ')[0]} ${state.status}`)
    .join(', ');
/** Everything done up to and including the proofs of a stage. */
const builtTo = (stage: number, changed: Layout = layout): Desk => {
  const desk = new Desk({ design, layout: changed, rules });
  const { steps } = desk.plan(stage);
  desk.done(steps.map((step) => step.id));
  return desk;
};

test('the cone of a net holds what can influence it and nothing else', () => {
  const netlist = netlistAt(design, 2);
  // A0 comes from G1 pin 3, G1 reads D0 (from the ROM, with a strap) and floating inputs; the ROM reads A0, A1 and /sel is its output.
  const a0 = coneOf(netlist, ['a0']);
  expect([...a0.nets].sort()).toEqual(['A0', 'A1', 'D0', 'GND', 'main']);
  expect([...a0.parts].sort()).toEqual(['G1', 'ROM', 'RS']);
  expect(a0.whole).toBe(false);
  expect([...coneOf(netlist, ['supply']).nets].sort()).toEqual(['GND', 'main']);
  expect(coneOf(netlist, ['supply']).parts.size).toBe(0);
  expect(coneOf(netlist, ['self-test passes']).whole).toBe(true);
  expect([...coneOf(netlist, ['G1.P3']).nets]).toContain('A0');
  expect([...coneOf(netlistAt(design, 1), ['A0']).parts]).toEqual(['G1']);
});

test('proofs stand while only later stages go on, and those whose straps or images went are superseded', () => {
  expect(short(new Desk({ design, layout, rules }))).toBe('supply open, A0 open, /sel open, self-test open');
  expect(short(builtTo(1))).toBe('supply stands, A0 open, /sel open, self-test open');
  expect(short(builtTo(2))).toBe('supply stands, A0 stands, /sel stands, self-test open');
  const all = builtTo(3);
  expect(short(all)).toBe('supply stands, A0 superseded, /sel superseded, self-test stands');
  const texts = statesOf(all)[1]!.reasons.map((reason) => reason.text);
  expect(texts).toContain('RS was taken out');
  expect(texts).toContain('ROM was programmed with b.hex');
});

test('a moved wire voids the proofs that depend on it, with the reason, and no others', () => {
  const wire = layout.wires.find((item) => item.net === '/sel')!;
  const free = [...'abcdefghij']
    .map((letter) => wire.from.replace(/[a-j]$/, letter))
    .find(
      (hole) =>
        stripOf(hole) === stripOf(wire.from) &&
        ![
          ...layout.wires.flatMap((item) => [item.from, item.to]),
          ...layout.parts.flatMap((part) => part.leads.map((lead) => lead.hole)),
        ].includes(hole),
    )!;
  const changed: Layout = {
    ...layout,
    wires: layout.wires.map((item) => (item === wire ? { ...item, from: free, id: 'moved' } : item)),
  };
  const desk = builtTo(3);
  const records = desk.records();
  const moved = new Desk({ design, layout: changed, rules });
  moved.text = desk.text;
  moved.time(1000);
  moved.done(
    moved
      .plan()
      .steps.slice(0, 1)
      .map((step) => step.id),
  );
  expect(moved.records().length).toBe(records.length + 1);
  // /sel was wired in stage 3, so the proofs of stage 2 never had it; the self-test did.
  const [, , , selfTest] = statesOf(moved, changed);
  expect(selfTest!.status).toBe('stale');
  expect(selfTest!.reasons.map((reason) => reason.text)).toContain(
    `the /sel wire from ${wire.from} to ${wire.to} was taken out or moved`,
  );
  expect(statesOf(moved, changed)[0]!.status).toBe('stands');
  expect(proveAgain(statesOf(moved, changed)).order.map((state) => state.expect)).toEqual(['self-test passes']);
});

test('a failed measurement is failed; a change of the design in the cone is stale by its basis', () => {
  const desk = builtTo(1);
  const [supply] = statesOf(desk);
  desk.append({
    act: 'measure',
    time: desk.time(),
    stage: 'supply',
    measured: { what: supply!.id, expected: supply!.expect, found: '3.1 V', pass: false },
  });
  expect(statesOf(desk)[0]!.status).toBe('failed');
  const proof = design.stages[1]!.decl.prove[0]!;
  const basis = proofBasis(design, 2, proof);
  const other = designOf(
    { ...small, nets: new Map([...small.nets].map(([net, pins]) => [net, net === 'A0' ? pins.slice(0, 1) : pins])) },
    { logic: { prove: design.stages[1]!.decl.prove } },
  );
  expect(proofBasis(other, 2, proof)).not.toBe(basis);
  expect(proofBasis(design, 2, proof)).toBe(basis);
  const again = new Desk({ design, layout, rules });
  again.done(
    again.plan(2).steps.map((step) => step.id),
    again.plan(2),
    (step) => (step.expect?.startsWith('A0') === true ? 'another basis' : undefined),
  );
  expect(statesOf(again)[1]!.reasons.map((reason) => reason.kind)).toEqual(['design']);
});

test('what is to be proved again comes smaller cones first, with few changes of set-up', () => {
  const states = statesOf(new Desk({ design, layout, rules }));
  const { order, setUps } = proveAgain(states);
  expect(order.map((state) => state.expect.split(' ')[0])).toEqual(['supply:', 'A0:', '/sel:', 'self-test']);
  expect(setUps).toBe(3);
  // Against every order: none that keeps smaller cones first has fewer set-ups.
  const orders = (list: readonly (typeof states)[number][]): (typeof states)[number][][] =>
    list.length === 0
      ? [[]]
      : list.flatMap((item) => orders(list.filter((other) => other !== item)).map((rest) => [item, ...rest]));
  const rank = (order: readonly (typeof states)[number][]): number =>
    order.filter((state, i) => i === 0 || order[i - 1]!.given !== state.given).length;
  const legal = orders(states).filter((list) => list[0]!.expect.startsWith('supply') && list.at(-1)!.cone.whole);
  expect(Math.min(...legal.map(rank))).toBe(setUps);
});
