// `steps`, `done`, `undo`: what to do next, and the journal.

import {
  countSteps,
  type JournalEntry,
  markDone,
  mendsBy,
  type Step,
  undoLast,
  wrongEntries,
} from '../../stage/index.ts';
import type { Build } from '../build.ts';
import { counted } from '../table.ts';
import { type Effect, refuse, type VerbResult } from '../verb.ts';

/** Why nothing can be said of holes: nothing is laid yet, or what is laid can't be read. */
export function noLayout(build: Build): VerbResult {
  const { findings } = build.layout();
  if (findings.length > 0) return { value: null, findings, text: '', refused: true };
  return refuse(
    'steps/no-layout',
    'There is no layout yet, so there are no holes to name.',
    'Run `proofboard lay` first.',
  );
}

/** A step as the contract lists it: what it is made of, without what its record will state. */
export function stepValue(step: Step): object {
  const { facts: _facts, ...rest } = step;
  return rest;
}

export function stepsVerb(
  build: Build,
  options: { readonly stage: number; readonly fit?: 'as-laid' | 'jumpers' | 'fitted' },
): VerbResult {
  // Steps from what another journal says, or from an empty bench that isn't empty, would lead to the wrong holes.
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const plan = build.plan(options.stage, options.fit);
  if (plan === undefined) return noLayout(build);
  const findings = [
    ...build.ownDesign().findings,
    ...build.layout().findings,
    ...build.journal().findings,
    ...build.built().findings,
    ...plan.findings,
    ...build.stale(),
  ];
  const counts = countSteps(plan.value, build.built().value);
  const lines: string[] = [];
  let group = '';
  plan.value.steps.forEach((step, index) => {
    const head = `${step.stage} ${step.stageName}: ${step.group}`;
    if (head !== group) {
      group = head;
      const size = plan.value.groups.find((entry) => entry.ids.includes(step.id))?.count;
      lines.push('', `Stage ${head}${size === undefined ? '' : `, ${size} ${size === 1 ? 'step' : 'steps'}`}`);
    }
    lines.push(`  ${String(index + 1).padStart(4)}  ${step.id}  ${step.text}`);
    for (const note of step.notes) lines.push(`            ${note}`);
  });
  return {
    value: {
      steps: plan.value.steps.map(stepValue),
      groups: plan.value.groups,
      built: counts.built,
      left: counts.left,
      reached: plan.value.reached,
    },
    findings,
    text: `${counted(counts.left, 'step')} left; ${counted(counts.built.parts, 'part')} and ${counted(counts.built.wires, 'wire')} are in.${lines.join('\n')}`,
  };
}

/** The entries to append, the journal's opening before the first. */
export function appendEffects(build: Build, entries: readonly JournalEntry[], time: string): Effect[] {
  if (entries.length === 0) return [];
  const owner = { machine: build.project.machine().value.name, build: build.name };
  const opening: JournalEntry[] =
    build.journal().value.records.length === 0
      ? [{ act: 'open', time, machine: owner.machine, build: owner.build }]
      : [];
  return [{ kind: 'append', path: build.journalPath, entries: [...opening, ...entries], owner }];
}

/** A journal of another machine: nothing is appended to it. */
export function refusedJournal(build: Build): VerbResult | undefined {
  const journal = build.journal();
  if (!journal.value.refused) return undefined;
  return { value: null, findings: journal.findings, text: '', refused: true };
}

/** Marks steps done; `time` is the host's, ISO 8601 in UTC. */
export function doneVerb(
  build: Build,
  ids: readonly string[],
  options: { readonly stage: number; readonly time: string },
): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const plan = build.plan(options.stage);
  if (plan === undefined) return noLayout(build);
  const marked = markDone(plan.value, build.built().value, ids, options.time, (step) => build.basisOf(step));
  return {
    value: undefined,
    findings: [...build.journal().findings, ...marked.findings],
    text: '',
    effects: appendEffects(
      build,
      [...marked.value, ...mendsBy(build.journal().value.records, marked.value)],
      options.time,
    ),
    refused: marked.value.length === 0 && marked.findings.some((finding) => finding.severity === 'error'),
  };
}

/** A done step that turned out wrong: a fault in the journal, and the step to be done again. */
export function wrongVerb(
  build: Build,
  id: string,
  options: { readonly text: string; readonly time: string },
): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const wrong = wrongEntries(build.journal().value.records, id, options.time, options.text);
  if (wrong.value.length === 0) return { value: null, findings: wrong.findings, text: '', refused: true };
  return {
    value: undefined,
    findings: build.journal().findings,
    text: `Noted as a fault; the step is to be done again: ${wrong.value[1]!.text ?? id}`,
    effects: appendEffects(build, wrong.value, options.time),
  };
}

export function undoVerb(build: Build, options: { readonly time: string }): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const undone = undoLast(build.journal().value.records, options.time);
  if (undone.value === undefined) return { value: null, findings: undone.findings, text: '', refused: true };
  return {
    value: undefined,
    findings: build.journal().findings,
    text: `Taken back: ${undone.value.text ?? 'the last act'}`,
    effects: appendEffects(build, [undone.value], options.time),
  };
}

/** What is in and what is left, after the effects of `done` or `undo` are carried out. */
export function progressValue(build: Build, stage: number): { readonly value: object; readonly text: string } {
  const plan = build.plan(stage);
  if (plan === undefined) return { value: { built: countOnly(build), left: 0 }, text: '' };
  const counts = countSteps(plan.value, build.built().value);
  const next = plan.value.steps[0];
  return {
    value: { built: counts.built, left: counts.left },
    text: `${counted(counts.built.parts, 'part')} and ${counted(counts.built.wires, 'wire')} are in, ${counted(counts.left, 'step')} left.${next === undefined ? '' : `\nNext: ${next.id}  ${next.text}`}`,
  };
}

function countOnly(build: Build): object {
  const built = build.built().value;
  return {
    parts: built.parts.size,
    wires: built.wires.size,
    steps: built.records.filter((record) => record.act === 'done').length,
  };
}
