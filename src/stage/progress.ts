// Done, undo and the other acts of the bench as journal entries. Pure: the host gives the time and appends what is returned.

import { type Finding, nearestName, type Result } from '../base/index.ts';
import { type Built, cameWithStep, effectiveRecords } from './built.ts';
import type { JournalEntry, JournalRecord } from './journal.ts';
import type { Step, StepPlan } from './step-model.ts';

/** The longest text of a note, fault or photo's caption, in UTF-16 units. */
export const LONGEST_TEXT = 20_000;

const finding = (
  code: string,
  severity: Finding['severity'],
  message: string,
  rest: Partial<Finding> = {},
): Finding => ({
  code,
  severity,
  message,
  where: [],
  notes: [],
  ...rest,
});

const GOES_IN: ReadonlySet<string> = new Set(['place', 'refit', 'wire', 'move', 'trim', 'turn']);
const COMES_OUT: ReadonlySet<string> = new Set(['take out', 'rework']);

/** Steps of the same stage that the plan has before this one. */
function before(plan: StepPlan, step: Step): Step[] {
  const at = plan.steps.indexOf(step);
  return plan.steps.slice(0, at).filter((other) => other.stage === step.stage);
}

/** The entry that marks `step` done at `time`. */
function entryOf(step: Step, time: string, basis: string | undefined): JournalEntry {
  return {
    act: 'done',
    time,
    stage: step.stageName,
    step: step.id,
    do: step.do,
    text: step.text,
    ...(step.do === 'measure'
      ? {
          measured: {
            what: step.id,
            expected: step.expect ?? '',
            found: 'as expected',
            pass: true,
            ...(basis !== undefined ? { basis } : {}),
          },
        }
      : {}),
    ...(step.facts.length > 0 ? { facts: step.facts } : {}),
  };
}

/**
 * Entries that mark the steps `ids` done, in that order. Unknown ids are findings and mark nothing; a step whose needs aren't
 * done yet, nor marked earlier in the same call, is marked and noted. Ids are compared without regard to case.
 */
export function markDone(
  plan: StepPlan,
  built: Built,
  ids: readonly string[],
  time: string,
  basisOf: (step: Step) => string | undefined = () => undefined,
): Result<readonly JournalEntry[]> {
  const findings: Finding[] = [];
  const entries: JournalEntry[] = [];
  const byId = new Map(plan.steps.map((step) => [step.id, step]));
  const doneBefore = new Map<string, JournalRecord>();
  for (const record of built.records) if (record.step !== undefined) doneBefore.set(record.step, record);
  const now = new Set<string>();
  for (const given of ids) {
    const id = given.trim().toLowerCase();
    const step = byId.get(id);
    if (step === undefined) {
      const before = doneBefore.get(id);
      if (before !== undefined) {
        findings.push(
          finding('stage/already-done', 'note', `Step ${id} is done already, since ${before.time}.`, {
            notes: [{ text: before.text ?? '' }],
            about: [id],
          }),
        );
        continue;
      }
      const near = nearestName(id, byId.keys());
      findings.push(
        finding('stage/unknown-step', 'error', `There is no step "${given}".`, {
          notes: [
            {
              text:
                near === undefined
                  ? 'Ids come from what a step does: when the layout or the design changes, so do they.'
                  : `Did you mean ${near}? ${byId.get(near)!.text}`,
            },
          ],
          help: 'List the steps again for their ids.',
          about: [given],
        }),
      );
      continue;
    }
    if (now.has(id)) {
      findings.push(
        finding('stage/already-done', 'note', `Step ${id} is named twice; it counts once.`, { about: [id] }),
      );
      continue;
    }
    now.add(id);
    const missing = [
      ...step.needs.filter((need) => byId.has(need)),
      // What goes in waits for all that comes out or moves before it, or two sources may meet.
      ...(GOES_IN.has(step.do)
        ? before(plan, step)
            .filter((other) => COMES_OUT.has(other.group))
            .map((other) => other.id)
        : []),
    ].filter((need) => !now.has(need));
    if (missing.length > 0) {
      const first = byId.get(missing[0]!)!;
      findings.push(
        finding(
          'stage/done-early',
          'warning',
          `Step ${id} is marked done before ${missing.length === 1 ? 'a step' : `${missing.length} steps`} it needs.`,
          {
            notes: [{ text: `Among them ${first.id}: ${first.text}` }],
            help: 'If those are done too, mark them; if not, do them before power goes on.',
            about: [id, ...missing.slice(0, 8)],
            stage: step.stage,
          },
        ),
      );
    }
    entries.push(entryOf(step, time, basisOf(step)));
  }
  return { value: entries, findings };
}

/** The record that `undo` would take back: the last act that still counts, the opening of the journal excepted. */
export function lastAct(records: readonly JournalRecord[]): JournalRecord | undefined {
  return effectiveRecords(records)
    .filter((record) => record.act !== 'open' && record.act !== 'renamed' && !cameWithStep(record))
    .at(-1);
}

/** The entry that takes back the last act, or undefined with a finding when there is none. */
export function undoLast(records: readonly JournalRecord[], time: string): Result<JournalEntry | undefined> {
  const last = lastAct(records);
  if (last === undefined)
    return {
      value: undefined,
      findings: [finding('stage/nothing-to-undo', 'error', 'The journal holds no act to take back.')],
    };
  return {
    value: {
      act: 'undo',
      time,
      undoes: last.id,
      ...(last.stage !== undefined ? { stage: last.stage } : {}),
      ...(last.text !== undefined ? { text: last.text } : {}),
    },
    findings: [],
  };
}

/** A note, photo, fault or mending in words. Too long a text is a finding, and cut. */
export function wordEntry(
  act: 'note' | 'photo' | 'fault' | 'mend',
  time: string,
  fields: {
    readonly text: string;
    readonly stage?: string;
    readonly file?: string;
    readonly about?: readonly string[];
    readonly mends?: string;
  },
): Result<JournalEntry> {
  const long = fields.text.length > LONGEST_TEXT;
  return {
    value: { act, time, ...fields, text: long ? fields.text.slice(0, LONGEST_TEXT) : fields.text },
    findings: long
      ? [
          finding(
            'stage/text-too-long',
            'warning',
            `The text is ${fields.text.length} characters long; ${LONGEST_TEXT} are kept.`,
            {
              help: 'Keep longer texts in a file of their own and name it in the note.',
            },
          ),
        ]
      : [],
  };
}

/** What is in and what is left, for `done`, `undo` and the stage line. */
export interface Counts {
  readonly built: { readonly parts: number; readonly wires: number; readonly steps: number };
  readonly left: number;
  readonly byStage: readonly { readonly stage: number; readonly left: number }[];
}

/** Counts of a plan. `built.steps` is the number of records of done steps that still count. */
export function countSteps(plan: StepPlan, built: Built): Counts {
  const byStage = new Map<number, number>();
  for (const step of plan.steps) byStage.set(step.stage, (byStage.get(step.stage) ?? 0) + 1);
  return {
    built: {
      parts: built.parts.size,
      wires: built.wires.size,
      steps: built.records.filter((record) => record.act === 'done').length,
    },
    left: plan.steps.length,
    byStage: [...byStage].sort((a, b) => a[0] - b[0]).map(([stage, left]) => ({ stage, left })),
  };
}
