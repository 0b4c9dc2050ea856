// `check`: everything wrong or doubtful in the machine, whole and stage by stage.

import type { Project } from '../project.ts';
import { counted } from '../table.ts';
import type { VerbResult } from '../verb.ts';

export function checkVerb(project: Project, options: { readonly stage: number }): VerbResult {
  const design = project.design().value;
  const netlist = design.netlists[Math.min(options.stage, design.netlists.length - 1)]!;
  const implied = netlist.parts.filter((part) => part.implied !== undefined).length;
  const counts = {
    parts: netlist.parts.length - implied,
    implied,
    nets: netlist.nets.length,
    pins: netlist.pins.filter((pin) => pin.net >= 0).length,
    stages: design.stages.length,
  };
  const findings = project
    .findings()
    .filter((finding) => finding.stage === undefined || finding.stage <= options.stage);
  const waived = project.waived();
  const text = [
    `${design.name}: ${counted(counts.parts, 'part')} and ${counts.implied} implied, ${counted(counts.nets, 'net')}, ${counted(counts.pins, 'connected pin')}, ${counted(counts.stages, 'stage')}`,
    ...(waived.length === 0
      ? []
      : [
          `${waived.length} waived: ${[...new Set(waived.map((entry) => `${entry.finding.code} (${entry.waiver.reason})`))].join('; ')}`,
        ]),
  ].join('\n');
  return {
    value: {
      counts,
      waived: waived.map((entry) => ({
        code: entry.finding.code,
        message: entry.finding.message,
        reason: entry.waiver.reason,
      })),
    },
    findings,
    text,
  };
}
