// How far a build has come.

import type { Layout } from '../board/index.ts';
import type { Design } from '../netlist/index.ts';
import type { Built } from './built.ts';

/** The furthest stage that the build has reached: by the stages of its records, else by what stands on the boards. */
export function reachedStage(design: Design, layout: Layout, built: Built): number {
  let reached = 0;
  let unknown = false;
  for (const name of built.stages) {
    const info = design.stages.find((stage) => stage.name === name);
    if (info === undefined) unknown = true;
    else reached = Math.max(reached, info.number);
  }
  if (unknown || (reached === 0 && built.parts.size + built.wires.size > 0)) {
    for (const part of layout.parts) if (built.parts.has(part.part)) reached = Math.max(reached, part.stage);
    for (const wire of layout.wires) if (built.wires.has(wire.id)) reached = Math.max(reached, wire.stage);
    reached = Math.max(reached, 1);
  }
  return reached;
}
