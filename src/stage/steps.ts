// Steps: what is to be done to turn what is on the boards into the machine as of a stage, stage by stage, in the order of an
// expert. Each stage is a difference of its own, so straps go in and come out when their stages say so. Reads the layout and
// the built state; changes neither.

import type { Finding, Result } from '../base/index.ts';
import { type Design, netlistAt } from '../netlist/index.ts';
import type { Group } from './order.ts';
import { Planner, type StepInput } from './planner.ts';
import { reachedStage } from './reached.ts';
import type { WantedImage } from './step-maker.ts';
import type { StepGroup, StepPlan } from './step-model.ts';

/** What a device is to hold as of a stage by the machine file alone. */
function namedImage(design: Design, part: string, stage: number): WantedImage | undefined {
  let file = netlistAt(design, stage).parts.find((item) => item.name === part)?.holds;
  for (const info of design.stages) {
    if (info.number > stage) break;
    for (const program of info.decl.programs) if (program.part.name === part) file = program.with.name;
  }
  return file === undefined ? undefined : { file };
}

/** Plans the steps up to a stage. Deterministic; tens of milliseconds for a machine of 1,200 wires. */
export function planSteps(input: StepInput): Result<StepPlan> {
  const { design, layout, built } = input;
  const findings: Finding[] = [];
  const image = input.image ?? ((part, stage) => namedImage(design, part, stage));
  const reached = reachedStage(design, layout, built);
  const last = Math.min(Math.max(0, input.stage), design.stages.length);
  const planner = new Planner({ ...input, image }, reached, findings);
  const from = Math.max(1, reached);
  for (let stage = from; stage <= Math.max(last, reached); stage++) planner.planStage(stage, stage === from);
  // An earlier stage asked for: what later stages want is left out, but rework of what stands always shows.
  const steps = planner.steps.filter((step) => step.stage <= last || step.group === 'rework');
  const groups = new Map<string, { stage: number; group: Group; ids: string[] }>();
  for (const step of steps) {
    const key = `${step.stage} ${step.group}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { stage: step.stage, group: step.group, ids: [step.id] });
    else group.ids.push(step.id);
  }
  const counted: StepGroup[] = [...groups.values()].map((group) => ({ ...group, count: group.ids.length }));
  return { value: { steps, groups: counted, reached, aside: planner.aside }, findings };
}
