// The verb's engine: every rule over every stage.

import type { Finding } from '../base/index.ts';
import type { Machine } from '../machine/index.ts';
import { type Design, viewOf } from '../netlist/index.ts';
import type { Library } from '../parts/index.ts';
import { RULES } from './rules.ts';
import { type RuleContext, runRules } from './rule.ts';

/** Checks a design, whole and stage by stage. O(rules x stages x pins). */
export function check(design: Design, machine: Machine, library: Library): Finding[] {
  const last = design.stages.length;
  const contexts = design.netlists.slice(1).map(
    (netlist, k): RuleContext => ({
      design,
      machine,
      library,
      netlist,
      view: viewOf(netlist),
      stage: k + 1,
      whole: k + 1 === last,
    }),
  );
  return runRules(RULES, contexts);
}
