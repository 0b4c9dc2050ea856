import { expect, test } from 'vitest';
import type { Layout } from '../board/index.ts';
import { layoutAt } from '../board/index.ts';
import { designOf, layOut, randomMachine, rulesOf } from '../../tests/support/bench.ts';
import { Desk } from '../../tests/support/desk.ts';
import { base, design } from '../../tests/support/small.ts';
import { act, emptyBoards, findShort, joined, netOf } from '../../tests/support/replay.ts';
import { checkOver } from './check-over.ts';
import { cuttingList, leadsToMake } from './cutting.ts';
import { GROUPS } from './order.ts';
import { countSteps, markDone, undoLast, wordEntry } from './progress.ts';
import { proofId } from './proof-id.ts';
import type { Step, StepPlan } from './step-model.ts';
import { planSteps } from './steps.ts';

test('the plan of an empty bench, in the order of an expert', () => {
  const plan = new Desk(base).plan();
  expect(plan.groups.map((g) => `${g.stage} ${g.group} ${g.count}`)).toEqual([
    '1 rails 10',
    '1 rails check 1',
    '1 parts 1',
    '1 supply 2',
    '1 meter check 1',
    '1 proofs 1',
    '2 programming 2',
    '2 parts 1',
    '2 supply 2',
    '2 straps 1',
    '2 address 2',
    '2 data 1',
    '2 leads 2',
    '2 meter check 1',
    '3 take out 3',
    '3 programming 2',
    '3 parts 2',
    '3 supply 2',
    '3 address 2',
    '3 data 1',
    '3 signals 1',
    '3 meter check 1',
    '3 proofs 1',
  ]);
  expect(new Set(plan.steps.map((step) => step.id)).size).toBe(plan.steps.length);
  expect(plan.steps.filter((step) => step.group === 'rails').map((step) => step.cutMm)).toEqual(
    plan.steps
      .filter((step) => step.group === 'rails')
      .map((step) => step.cutMm)
      .sort((a, b) => a! - b!),
  );
  const rom = plan.steps
    .filter((step) => step.part === 'ROM')
    .map((step) => `${step.stage} ${step.do} ${step.file ?? ''}`.trim());
  expect(rom).toEqual(['2 program a.hex', '2 label', '2 place', '3 take-out', '3 program b.hex', '3 label', '3 refit']);
  const wire = plan.steps.find((step) => step.net === 'A0')!;
  expect(wire.from!.pins.concat(wire.to!.pins).sort()).toEqual(['G1.P3', 'ROM.P1']);
  expect(wire.text).toMatch(/^A0: take a blue wire \(BU\), cut [\d.]+ mm; from \d:\d+[a-j] \((G1.P3|ROM.P1)\) to /);
  expect(wire.from!.strip).toMatch(/^\d:\d+[af]$/);
});

test('groups follow one another in their order within each stage', () => {
  const machine = randomMachine(4, 10);
  const plan = new Desk({ design: designOf(machine), layout: layOut(machine, 1), rules: rulesOf(machine) }).plan();
  const ranks = plan.steps.map((step) => step.stage * 100 + GROUPS.indexOf(step.group));
  expect(ranks).toEqual([...ranks].sort((a, b) => a - b));
  for (const group of ['address', 'data'])
    for (const stage of [1, 2, 3]) {
      const bits = plan.steps
        .filter((step) => step.stage === stage && step.group === group)
        .map((step) => Number(step.net!.slice(1)) * 1000 + step.cutMm!);
      expect(bits).toEqual([...bits].sort((a, b) => a - b));
    }
});

test('done marks steps, the rest keep their ids, and at the end nothing is left', () => {
  const desk = new Desk(base);
  const all = desk.plan().steps.map((step) => step.id);
  for (let i = 0; i < all.length; i++) {
    const plan = desk.plan();
    expect(plan.steps.map((step) => step.id)).toEqual(all.slice(i));
    expect(desk.done([all[i]!], plan)).toEqual([]);
  }
  expect(desk.plan().steps).toEqual([]);
  const built = desk.built();
  expect(countSteps(desk.plan(), built)).toEqual({
    built: { parts: 3, wires: base.layout.wires.length, steps: all.length },
    left: 0,
    byStage: [],
  });
  expect(built.devices.get('ROM')!.file).toBe('b.hex');
  expect(built.leads.size).toBe(1);
  // Backwards again: each undo brings back exactly the step it takes back.
  for (let i = all.length - 1; i >= 0; i--) {
    desk.undo();
    expect(desk.plan().steps.map((step) => step.id)).toEqual(all.slice(i));
  }
  expect(undoLast(desk.records(), desk.time()).findings.map((f) => f.code)).toEqual(['stage/nothing-to-undo']);
});

test('every state on the way of a fresh build is free of shorts, and each stage ends as its netlist', () => {
  for (const seed of [1, 2, 3]) {
    const machine = randomMachine(seed, 9);
    const layout = layOut(machine, seed + 50);
    const plan = new Desk({ design: designOf(machine), layout, rules: rulesOf(machine) }).plan();
    const boards = emptyBoards();
    for (const step of plan.steps) {
      act(boards, step.facts);
      expect(findShort(boards, [machine])).toBeUndefined();
      if (step.group !== 'meter check') continue;
      const nets = netOf(machine);
      const on = new Set(layoutAt(layout, step.stage).parts.map((part) => part.part));
      for (const group of joined(boards))
        expect(new Set(group.map((pin) => nets.get(pin) ?? pin)).size).toBeLessThan(2);
      const wanted = new Map<string, string[]>();
      for (const [pin, net] of nets)
        if (!/^\w/.test(pin) || on.has(pin.split('.')[0]!)) wanted.set(net, [...(wanted.get(net) ?? []), pin].sort());
      const found = joined(boards).filter((group) => group.some((pin) => nets.has(pin)));
      expect(
        found
          .map((group) => group.filter((pin) => nets.has(pin)).join())
          .filter(Boolean)
          .sort(),
      ).toEqual([...wanted.values()].map((pins) => pins.join()).sort());
    }
  }
});

test('unknown and repeated ids, early steps, and no such hole are told', () => {
  const desk = new Desk(base);
  const { steps } = desk.plan();
  const near = steps[0]!.id.slice(1);
  const said = markDone(desk.plan(), desk.built(), [near, 'nonsense!'], desk.time());
  expect(said.value).toEqual([]);
  expect(said.findings.map((f) => f.code)).toEqual(['stage/unknown-step', 'stage/unknown-step']);
  expect(said.findings[0]!.notes[0]!.text).toContain(`Did you mean ${steps[0]!.id}?`);
  expect(desk.done([steps[1]!.id, steps[1]!.id.toUpperCase()])).toEqual(['stage/already-done']);
  expect(desk.done([steps[1]!.id])).toEqual(['stage/already-done']);
  const check = desk.plan().steps.find((step) => step.group === 'meter check')!;
  expect(desk.done([check.id])).toEqual(['stage/done-early']);
  // A memory put in while the strap of the stage before is still in.
  const other = new Desk(base);
  other.done(other.plan(2).steps.map((step) => step.id));
  const place = other.plan().steps.find((step) => step.part === 'RAM')!;
  expect(other.done([place.id])).toEqual(['stage/done-early']);
  const bad: Layout = { ...base.layout, wires: [{ ...base.layout.wires[0]!, from: '9:99z' }] };
  expect(planSteps({ ...base, layout: bad, built: desk.built(), stage: 1 }).findings.map((f) => f.code)).toEqual([
    'stage/no-such-hole',
  ]);
});

test('a note is cut at its limit, and an undo of a note leaves the boards alone', () => {
  const long = wordEntry('note', '2026-03-01T00:00:00Z', { text: 'x'.repeat(30_000) });
  expect(long.value.text!.length).toBe(20_000);
  expect(long.findings.map((f) => f.code)).toEqual(['stage/text-too-long']);
  const desk = new Desk(base);
  desk.done([desk.plan().steps[0]!.id]);
  desk.append(wordEntry('note', desk.time(), { text: 'rain' }).value);
  desk.undo();
  expect(desk.built().wires.size).toBe(1);
  desk.undo();
  expect(desk.built().wires.size).toBe(0);
});

test('a passed proof is left out, and comes back when it no longer stands', () => {
  const desk = new Desk(base);
  const id = proofId('supply', design.stages[0]!.decl.prove[0]!);
  const has = (plan: StepPlan): boolean => plan.steps.some((step) => step.id === id);
  expect(has(desk.plan())).toBe(true);
  desk.done([id]);
  expect(has(desk.plan())).toBe(false);
  expect(has(desk.plan(99, { isStale: () => true }))).toBe(true);
});

test('an earlier stage asked for shows no step of a later one, and takes nothing apart', () => {
  const desk = new Desk(base);
  desk.done(desk.plan().steps.map((step) => step.id));
  expect(desk.plan(1).steps).toEqual([]);
  expect(desk.plan(0).steps).toEqual([]);
  expect(new Desk(base).plan(1).steps.every((step) => step.stage === 1)).toBe(true);
});

test('an image with another sum is programmed anew; the same sum under another name is not', () => {
  const desk = new Desk({
    ...base,
    image: (part) => (part === 'ROM' ? { file: 'b.hex', bytes: 8192, sum: 'AB12' } : undefined),
  });
  desk.done(desk.plan().steps.map((step) => step.id));
  const rom = (sum: string, file: string): string[] =>
    desk
      .plan(99, { image: (part) => (part === 'ROM' ? { file, sum } : undefined) })
      .steps.filter((step) => step.part === 'ROM')
      .map((step) => step.do);
  expect(rom('ab12', 'c.hex')).toEqual([]);
  expect(rom('CD34', 'b.hex')).toEqual(['take-out', 'program', 'label', 'refit']);
});

test('the cutting list counts what is cut and nothing else', () => {
  const { steps } = new Desk(base).plan();
  const list = cuttingList(steps);
  const wires = steps.filter((step) => step.do === 'wire');
  expect(list.count).toBe(wires.length);
  expect(list.totalMm).toBeCloseTo(
    wires.reduce((sum, step) => sum + step.cutMm!, 0),
    6,
  );
  expect(list.colours.reduce((sum, row) => sum + row.count, 0)).toBe(list.count);
  expect(list.rows.every((row) => row.count === row.steps.length)).toBe(true);
});

test('crimped leads are made before their ways go in', () => {
  const layout: Layout = {
    ...base.layout,
    wires: base.layout.wires.map((wire) =>
      /^A[01]/.test(wire.net) && wire.stage === 2 ? { ...wire, lead: 'W1', style: 'crimped' as const } : wire,
    ),
  };
  const { steps } = new Desk({ ...base, layout }).plan();
  const at = (test: (step: Step) => boolean): number => steps.findIndex(test);
  expect(at((s) => s.do === 'make-lead')).toBeLessThan(at((s) => s.lead === 'W1' && s.do === 'wire'));
  expect(leadsToMake(steps)).toMatchObject([{ lead: 'W1', ways: [{ net: 'A0' }, { net: 'A1' }] }]);
});

test('a first pass with jumpers, then fitted wires one by one, without a net ever being open longer than one wire', () => {
  const desk = new Desk({ ...base, fit: 'jumpers' });
  const first = desk.plan();
  expect(cuttingList(first.steps).count).toBe(0);
  expect(first.steps.find((step) => step.net === 'A0')!.take).toMatch(/^a blue jumper \(BU\) of [\d.]+ mm or more$/);
  desk.done(first.steps.map((step) => step.id));
  expect(desk.plan().steps).toEqual([]);
  expect(desk.plan(99, { fit: 'as-laid' }).steps).toEqual([]);
  const wires = desk.built().wires.size;
  const fitted = desk.plan(99, { fit: 'fitted' });
  expect(fitted.steps.filter((step) => step.group === 'fitting').map((step) => step.do)).toEqual(
    Array.from({ length: wires }, () => ['take-out', 'wire']).flat(),
  );
  expect(cuttingList(fitted.steps).count).toBe(wires);
  for (const step of fitted.steps.filter((item) => item.group === 'fitting')) {
    desk.done([step.id], desk.plan(99, { fit: 'fitted' }));
    expect(desk.built().wires.size).toBeGreaterThanOrEqual(wires - 1);
  }
  expect([...desk.built().wires.values()].every((wire) => wire.style === 'flat')).toBe(true);
  expect(desk.plan(99, { fit: 'fitted' }).steps).toEqual([]);
});

test('looking over a stage lists every hole it fills, and what the journal has otherwise', () => {
  const desk = new Desk(base);
  desk.done(desk.plan(2).steps.map((step) => step.id));
  const input = { ...base, built: desk.built(), onRail: (hole: string) => /:[tb]/.test(hole), stage: 2 };
  const rows = checkOver(input);
  const on = layoutAt(base.layout, 2);
  const own = on.parts.filter((part) => part.stage === 2).flatMap((part) => part.leads).length;
  expect(rows.length).toBe(own + 2 * on.wires.filter((wire) => wire.stage === 2).length);
  expect(rows.every((row) => row.journal === undefined)).toBe(true);
  expect(rows.filter((row) => row.group === 'address').every((row) => row.what.startsWith('blue wire, A'))).toBe(true);
  expect(checkOver({ ...input, group: 'straps' }).map((row) => row.what)).toEqual([
    'RS.P1, pin 1 of RS',
    'RS.P2, pin 2 of RS',
  ]);
  const other = new Map(desk.built().wires);
  const [id, wire] = [...other].find(([, item]) => item.net === 'A1')!;
  other.set(id, { ...wire, to: '9:1a' });
  expect(
    checkOver({ ...input, built: { ...desk.built(), wires: other } }).filter((row) => row.journal !== undefined),
  ).toMatchObject([{ hole: wire.to, journal: 'nothing' }]);
});

test('a part that a stage moves, and one that it replaces, change in that stage', () => {
  const g1 = base.layout.parts.find((item) => item.part === 'G1')!;
  const shift = (hole: string): string => hole.replace(/:(\d+)/, (_, column: string) => `:${Number(column) + 30}`);
  const layout: Layout = {
    ...base.layout,
    parts: [
      ...base.layout.parts.filter((item) => item !== g1),
      { ...g1, until: 3 },
      { ...g1, stage: 3, leads: g1.leads.map((lead) => ({ ...lead, hole: shift(lead.hole) })) },
      { part: 'X', type: 'old', rotation: 0, leads: [{ number: 1, hole: '3:60a' }], stage: 1, until: 2, fixed: false },
      {
        part: 'X',
        type: 'new',
        rotation: 0,
        leads: [{ number: 1, hole: '3:60a' }],
        stage: 2,
        until: undefined,
        fixed: false,
      },
    ],
  };
  const { steps } = new Desk({ ...base, layout }).plan();
  expect(steps.filter((step) => step.part === 'G1').map((step) => `${step.stage} ${step.do}`)).toEqual([
    '1 place',
    '3 move',
  ]);
  expect(steps.filter((step) => step.part === 'X').map((step) => `${step.stage} ${step.do} ${step.type}`)).toEqual([
    '1 place old',
    '2 take-out old',
    '2 place new',
  ]);
});
