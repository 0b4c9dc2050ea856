// The demo machine through the planner: real part records, real layout, real boards. The steps of a whole build lead through
// every stage's layout exactly, and the meter plan accounts for every new wire and resistor of each stage.

import { existsSync, readFileSync } from 'node:fs';
import { beforeAll, describe, expect, test } from 'vitest';
import { type Layout, lay, layoutAt, stripOfHole } from '../../src/board/index.ts';
import { readMachine } from '../../src/machine/index.ts';
import { type Design, elaborate } from '../../src/netlist/index.ts';
import { createLibrary } from '../../src/parts/index.ts';
import {
  type BenchFacts,
  benchFacts,
  cuttingList,
  EMPTY_BUILT,
  planSteps,
  planTouches,
} from '../../src/stage/index.ts';
import { loadFamilies, loadParts } from '../outside/load-parts.ts';

const FILE = 'projects/tide-clerk/machine.yaml';

describe.skipIf(!existsSync(FILE))('the tide clerk', () => {
  let design: Design;
  let layout: Layout;
  let facts: BenchFacts;
  beforeAll(() => {
    const library = createLibrary(
      loadParts().flatMap((part) => part.record ?? []),
      loadFamilies().flatMap((family) => family.family ?? []),
    );
    const read = (path: string): string | undefined => (existsSync(path) ? readFileSync(path, 'utf8') : undefined);
    design = elaborate(readMachine(FILE, { read }).value, library).value;
    layout = lay(design, undefined, undefined, { seed: 1, moves: 5000 }).value;
    facts = benchFacts(design, layout);
  });

  test('steps lead through the layout of every stage', () => {
    const { value: plan, findings } = planSteps({
      design,
      layout,
      built: EMPTY_BUILT,
      stage: 99,
      rules: facts.rules,
      onRail: facts.onRail,
      probeHole: facts.probeHole,
    });
    expect(findings).toEqual([]);
    expect(new Set(plan.steps.map((step) => step.id)).size).toBe(plan.steps.length);
    const parts = new Map<string, string>();
    const wires = new Map<string, string>();
    for (const [i, step] of plan.steps.entries()) {
      for (const fact of step.facts) {
        if (fact.fact === 'part-in') parts.set(fact.part, JSON.stringify(fact.leads));
        if (fact.fact === 'part-out') parts.delete(fact.part);
        if (fact.fact === 'wire-in') wires.set(fact.wire, `${fact.from} ${fact.to}`);
        if (fact.fact === 'wire-out') wires.delete(fact.wire);
      }
      if (plan.steps[i + 1]?.stage === step.stage) continue;
      const on = layoutAt(layout, step.stage);
      expect([...wires].sort()).toEqual(on.wires.map((wire) => [wire.id, `${wire.from} ${wire.to}`]).sort());
      expect([...parts].sort()).toEqual(
        on.parts.map((part) => [part.part, JSON.stringify(part.leads.map((lead) => [lead.number, lead.hole]))]).sort(),
      );
    }
    // A lead is made before any of its ways goes in.
    const made = new Set<string>();
    for (const step of plan.steps) {
      if (step.do === 'make-lead') made.add(step.lead!);
      if (step.do === 'wire' && step.lead !== undefined) expect(made.has(step.lead)).toBe(true);
    }
    expect(made.size).toBeGreaterThan(2);
    const hung = plan.steps.filter((step) => step.do === 'attach');
    expect(hung.length).toBe(design.leads.length);
    for (const step of hung) {
      // Every lead gets a hole that is free for as long as it hangs, in a strip of its net.
      const hook = design.leads.find((one) => one.pod === step.lead && one.channel === step.channel)!;
      const to = step.to!;
      for (let stage = hook.stage; stage < (hook.until ?? design.netlists.length); stage++) {
        const on = layoutAt(layout, stage);
        const ends = on.wires.flatMap((wire) => [
          { hole: wire.from, net: wire.net },
          { hole: wire.to, net: wire.net },
        ]);
        expect(ends.some((end) => end.hole === to.hole)).toBe(false);
        expect(on.parts.some((part) => part.leads.some((lead) => lead.hole === to.hole))).toBe(false);
        const inStrip = ends.filter((end) => stripOfHole(end.hole, () => 'full') === to.strip);
        expect(to.pins.length + inStrip.length).toBeGreaterThan(0);
        for (const end of inStrip) expect(end.net).toBe(hook.net);
      }
    }
    for (const step of plan.steps)
      if (step.do === 'wire') {
        expect(step.from!.strip).toBeDefined();
        expect(step.to!.strip).toBeDefined();
      }
    const cut = layout.wires.filter((wire) => wire.style !== 'jumper');
    expect(cuttingList(plan.steps).count).toBe(cut.length);
    const rom = plan.steps.filter((step) => step.part === 'ROM').map((step) => step.do);
    expect(rom).toEqual(['program', 'label', 'place', 'take-out', 'program', 'label', 'refit']);
  });

  test('the meter plan of each stage proves all new wires and resistors that a meter can', () => {
    let old = new Set<string>();
    for (const info of design.stages) {
      const on = layoutAt(layout, info.number);
      const { value: plan, findings } = planTouches({
        layout,
        stage: info.number,
        facts,
        netlist: design.netlists[info.number]!,
      });
      expect(findings).toEqual([]);
      const proved = new Set([
        ...plan.touches.flatMap((touch) => touch.proves.wires),
        ...plan.byEye.flatMap((item) => item.wires),
      ]);
      expect([...proved].sort()).toEqual(
        on.wires
          .map((wire) => wire.id)
          .filter((id) => !old.has(id))
          .sort(),
      );
      // A bridge of two new neighbours is told by one touch at most, so there are fewer touches than things to tell.
      expect(plan.touches.length).toBeLessThanOrEqual(plan.counts.wires + plan.counts.resistors + plan.counts.pairs);
      expect(new Set(plan.touches.map((touch) => touch.id)).size).toBe(plan.touches.length);
      for (const touch of plan.touches)
        for (const end of [touch.from, touch.to]) expect(facts.rules.stripOf(end.hole)).toBe(end.strip);
      old = new Set(on.wires.map((wire) => wire.id));
    }
  });
});
