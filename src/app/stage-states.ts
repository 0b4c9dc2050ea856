// The state of every stage for the stage line: one mark per step of the whole build, and how the stage's proof stands. From
// the plan of an empty bench (all steps there will ever be) held against what the journal says and what is still to do.

import type { StageSteps, StepMark } from '../drawing/index.ts';
import { effectiveRecords, type Step } from '../stage/index.ts';
import type { Build } from './build.ts';

/** The stages of a build, in order; without a layout every stage is undesigned, and its steps are not known. */
export function stageStates(build: Build): readonly StageSteps[] {
  const { project } = build;
  const design = build.design();
  const layout = build.layout().value;
  const built = build.built().value;
  const findings = project.findings();
  return project.memo(`stage states ${build.name}`, [design, layout, built, findings], () => {
    const last = design.stages.length;
    const bites = (severity: string, stage: number): number =>
      findings.filter((finding) => finding.severity === severity && (finding.stage ?? 1) === stage).length;
    const about = (stage: number) => ({ faults: bites('error', stage), doubts: bites('warning', stage) });
    if (layout === undefined)
      return design.stages.map((stage) => ({
        number: stage.number,
        name: stage.name,
        state: 'no layout yet',
        steps: Array.from({ length: 12 }, () => ({ mark: 'none' as const, group: '' })),
        proof: 'open' as const,
        ...about(stage.number),
      }));
    const whole = build.wholePlan()?.value.steps ?? [];
    const now = build.plan(last)?.value.steps ?? [];
    const done = new Set(effectiveRecords(built.records).flatMap((record) => record.step ?? []));
    const left = new Set(now.map((step) => step.id));
    const known = new Set(whole.map((step) => step.id));
    const isOut = (step: Step): boolean => step.do === 'take-out' || step.do === 'detach';
    return design.stages.map((stage): StageSteps => {
      const ideal = whole.filter((step) => step.stage === stage.number);
      const extra = now.filter((step) => step.stage === stage.number && !known.has(step.id));
      const markOf = (step: Step): StepMark =>
        left.has(step.id) ? (isOut(step) ? 'out' : 'planned') : isOut(step) ? 'gone' : 'built';
      const steps = [
        ...extra.map((step) => ({ mark: markOf(step), group: step.group as string })),
        ...ideal.map((step) => ({ mark: markOf(step), group: step.group as string })),
      ];
      const proofs = build.proofs().filter((proof) => proof.stage === stage.number);
      const failed = proofs.some((proof) => proof.status === 'failed');
      const passed =
        proofs.length > 0
          ? proofs.every((proof) => proof.status !== 'open' && proof.status !== 'failed')
          : steps.length > 0 && steps.every(({ mark }) => mark === 'built' || mark === 'gone');
      const isStale = proofs.some((proof) => proof.status === 'stale');
      const work = [...extra, ...ideal.filter((step) => left.has(step.id))].filter((step) => step.group !== 'proofs');
      const proof = failed ? 'failed' : passed ? (work.length > 0 || isStale ? 'changed' : 'proved') : 'open';
      const inCount = steps.filter(({ mark }) => mark === 'built' || mark === 'gone').length;
      const begun = ideal.some((step) => done.has(step.id));
      const state =
        proof === 'failed'
          ? 'a proof failed'
          : proof === 'proved'
            ? 'proved'
            : proof === 'changed'
              ? work.length > 0
                ? `changed since it was proved, ${work.length} to do`
                : 'changed since it was proved'
              : steps.length > 0 && inCount === steps.length
                ? 'wired, not yet proved'
                : begun
                  ? `${inCount} of ${steps.length} steps in`
                  : 'designed';
      return { number: stage.number, name: stage.name, state, steps, proof, ...about(stage.number) };
    });
  });
}
