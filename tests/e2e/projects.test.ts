// Every machine of projects/ is laid out and planned: holes and wires give the netlist at every stage (proved once more here,
// from outside), and the steps of the whole build lead to the parts and wires of each stage. Few moves: not a good layout, a
// true one.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { lay, layoutAt, NO_CHOICES, proveLayout } from '../../src/board/index.ts';
import { benchFacts, EMPTY_BUILT, planSteps } from '../../src/stage/index.ts';
import { lines, projectOf } from '../support/library.ts';

describe.each(readdirSync('projects'))('%s', (name) => {
  test('is laid as its netlists say, and planned to the last wire', () => {
    const { value: design } = projectOf(readFileSync(join('projects', name, 'machine.yaml'), 'utf8')).design();
    const { value: layout, findings } = lay(design, NO_CHOICES, undefined, { seed: 1, moves: 500 });
    expect(lines(findings.filter((finding) => finding.severity === 'error'))).toEqual([]);
    expect(lines(proveLayout(layout, design.netlists))).toEqual([]);

    const { rules, onRail } = benchFacts(design, layout);
    const plan = planSteps({ design, layout, built: EMPTY_BUILT, stage: 99, rules, onRail });
    expect(lines(plan.findings)).toEqual([]);
    const { steps } = plan.value;
    const parts = new Set<string>();
    // By their holes: a wire whose net is another one from a stage on stays where it is.
    const wires = new Set<string>();
    const pair = (from: string, to: string): string => [from, to].sort().join(' ');
    for (const [i, step] of steps.entries()) {
      for (const fact of step.facts) {
        if (fact.fact === 'part-in') parts.add(fact.part);
        if (fact.fact === 'part-out') parts.delete(fact.part);
        if (fact.fact === 'wire-in') wires.add(pair(fact.from, fact.to));
        if (fact.fact === 'wire-out') wires.delete(pair(step.from!.hole, step.to!.hole));
      }
      if (steps[i + 1]?.stage === step.stage) continue;
      const on = layoutAt(layout, step.stage);
      expect([...parts].sort(), `parts of stage ${step.stage}`).toEqual(on.parts.map((part) => part.part).sort());
      expect([...wires].sort(), `wires of stage ${step.stage}`).toEqual(
        on.wires.map((wire) => pair(wire.from, wire.to)).sort(),
      );
    }
  });
});
