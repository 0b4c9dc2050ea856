// Journals that say impossible things, and layouts that are broken: nothing throws or hangs, what can be said is said, and the
// plan still leads to the layout.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import {
  builtState,
  checkOver,
  countSteps,
  cuttingList,
  type Fact,
  type JournalRecord,
  journalCsv,
  markDone,
  minutesByStage,
  planSteps,
  planTouches,
  proofStates,
  proveAgain,
  undoLast,
  whereWasI,
} from '../../src/stage/index.ts';
import { stripOf } from '../support/bench.ts';
import { base, design } from '../support/small.ts';

const hole = fc.oneof(
  fc.constantFrom(
    '1:1a',
    '1:5e',
    '2:5f',
    '1:t+3',
    '1:t-61',
    '3:63j',
    '1:t+8',
    '9:99z',
    '',
    'nowhere',
    '1:0a',
    '__proto__',
  ),
  fc
    .tuple(fc.integer({ min: 0, max: 4 }), fc.integer({ min: 0, max: 70 }), fc.constantFrom(...'abcdefghijk'))
    .map(([b, c, r]) => `${b}:${c}${r}`),
);
const name = fc.oneof(
  fc.constantFrom('G1', 'ROM', 'RAM', 'RS', 'constructor', '__proto__', 'toString', 'pod 1', 'A0', 'GND', 'main'),
  fc.string({ maxLength: 6 }),
);
const wireId = fc.oneof(fc.constantFrom(...base.layout.wires.slice(0, 8).map((wire) => wire.id), 'w1', 'w2'), name);
const fact: fc.Arbitrary<Fact> = fc.oneof(
  fc.record({
    fact: fc.constant('part-in' as const),
    part: name,
    type: name,
    rotation: fc.constantFrom(0 as const, 90 as const, 180 as const, 270 as const),
    leads: fc.array(fc.tuple(fc.integer({ min: 0, max: 9 }), hole), { maxLength: 9 }),
  }),
  fc.record({ fact: fc.constant('part-out' as const), part: name }),
  fc.record({
    fact: fc.constant('wire-in' as const),
    wire: wireId,
    net: name,
    from: hole,
    to: hole,
    cutMm: fc.integer({ min: 0, max: 300 }),
    colour: fc.constantFrom('BU', 'RD', 'XX', ''),
    style: fc.constantFrom('flat', 'jumper', 'odd'),
  }),
  fc.record({ fact: fc.constant('wire-out' as const), wire: wireId, kept: fc.constant(true as const) }),
  fc.record({ fact: fc.constant('image' as const), device: name, file: name }),
  fc.record({ fact: fc.constant('lead-on' as const), pod: name, channel: fc.nat(9), net: name }),
  fc.record({ fact: fc.constant('lead-off' as const), pod: name, channel: fc.nat(9) }),
  fc.record({ fact: fc.constant('label' as const), device: name, text: name }),
  fc.record({ fact: fc.constant('lead-made' as const), lead: name }),
);
const record = fc.record({
  act: fc.constantFrom(
    'open' as const,
    'done' as const,
    'undo' as const,
    'note' as const,
    'fault' as const,
    'mend' as const,
    'power' as const,
  ),
  time: fc.constantFrom('2026-03-01T00:00:00Z', '2026-03-02T00:00:00Z', '2025-01-01T00:00:00Z'),
  stage: fc.constantFrom('supply', 'logic', 'memory', 'gone'),
  undoes: fc.nat(20).map((n) => `r${n}`),
  mends: fc.nat(20).map((n) => `r${n}`),
  facts: fc.array(fact, { maxLength: 3 }),
});
const onRail = (at: string): boolean => /:[tb][+-]/.test(at);
const facts = {
  rules: base.rules,
  onRail,
  neighbours: (strip: string) => [strip, 'nowhere'],
  holesOf: () => [],
  probeHole: () => undefined,
  resistors: () => [{ a: 1, b: 2, ohms: 0 }],
  inTheWay: () => undefined,
};

test('impossible journals: no throw, and the plan still leads to the layout', () => {
  fc.assert(
    fc.property(fc.array(record, { maxLength: 12 }), fc.integer({ min: -1, max: 5 }), (list, stage) => {
      const records: JournalRecord[] = list.map((item, i) => ({ ...item, id: `r${i}`, line: i + 1 }));
      const { value: built } = builtState(records);
      builtState(records, 'r3');
      const plan = planSteps({ ...base, built, stage }).value;
      markDone(plan, built, ['x', ...plan.steps.map((step) => step.id)], '2026-03-03T00:00:00Z');
      undoLast(records, '2026-03-03T00:00:00Z');
      countSteps(plan, built);
      cuttingList(plan.steps);
      journalCsv(records);
      minutesByStage(records);
      whereWasI(records, built, plan, '2026-03-03T00:00:00Z');
      checkOver({ ...base, built, onRail, stage: 2 });
      proveAgain(proofStates({ design, layout: base.layout, records, stripOf, onRail }));
      planTouches({ layout: base.layout, stage: 2, facts, checked: { parts: built.parts, wires: built.wires } });
      // All steps of the whole plan, folded on what was there, end at the last stage's layout.
      const all = planSteps({ ...base, built, stage: 3 }).value.steps;
      const end = builtState([
        ...records,
        ...all.map(
          (step, i): JournalRecord => ({
            id: `s${i}`,
            line: i,
            act: 'done',
            time: '2026-03-03T00:00:00Z',
            facts: step.facts,
          }),
        ),
      ]).value;
      expect(new Set([...end.wires.values()].map((wire) => [wire.from, wire.to].sort().join(' ')))).toEqual(
        new Set(base.layout.wires.map((wire) => [wire.from, wire.to].sort().join(' '))),
      );
      expect([...end.parts.keys()].sort()).toEqual(['G1', 'RAM', 'ROM']);
    }),
    { numRuns: 250, seed: 8 },
  );
});

test('broken layouts: no throw', () => {
  const broken = fc.record({
    wires: fc.array(
      fc.record({
        id: wireId,
        net: name,
        from: hole,
        to: hole,
        cutMm: fc.constantFrom(0, 10, -1, Number.NaN),
        colour: fc.constantFrom('BU', ''),
        style: fc.constantFrom('flat' as const, 'crimped' as const),
        stage: fc.integer({ min: 0, max: 9 }),
        until: fc.option(fc.integer({ min: 0, max: 9 }), { nil: undefined }),
        temporary: fc.boolean(),
        lead: fc.option(name, { nil: undefined }),
        path: fc.constant(undefined),
      }),
      { maxLength: 8 },
    ),
    parts: fc.array(
      fc.record({
        part: name,
        type: name,
        rotation: fc.constant(0 as const),
        leads: fc.array(fc.record({ number: fc.nat(9), hole }), { maxLength: 5 }),
        stage: fc.integer({ min: 0, max: 9 }),
        until: fc.constant(undefined),
        fixed: fc.boolean(),
      }),
      { maxLength: 5 },
    ),
  });
  fc.assert(
    fc.property(broken, fc.integer({ min: 0, max: 3 }), (change, stage) => {
      const layout = { ...base.layout, ...change };
      const { value: built } = builtState([]);
      planSteps({ ...base, layout, built, stage });
      planTouches({ layout, stage, facts });
    }),
    { numRuns: 400, seed: 9 },
  );
});
