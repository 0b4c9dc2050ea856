// What checking over finds: a step that was marked done and isn't right. The fault goes into the journal, the step's record
// is taken back so that the plan asks for it again, and doing it again mends the fault.

import { type Finding, foldName } from '../base/index.ts';
import { effectiveRecords } from './built.ts';
import type { JournalEntry, JournalRecord } from './journal.ts';
import { faultList } from './log.ts';

/** How a fault names the step that it is about. */
const aboutStep = (step: string): string => `step ${step}`;

/**
 * Entries that say of a done step that it isn't right: the fault, then the taking back. A step that isn't done by the journal
 * is a finding and gives no entry. `text` says what was seen, where there is more to say.
 */
export function wrongEntries(
  records: readonly JournalRecord[],
  step: string,
  time: string,
  text = '',
): { readonly value: readonly JournalEntry[]; readonly findings: readonly Finding[] } {
  const wanted = foldName(step.trim());
  const done = effectiveRecords(records).findLast(
    (record) => record.act === 'done' && record.step !== undefined && foldName(record.step) === wanted,
  );
  if (done?.step === undefined)
    return {
      value: [],
      findings: [
        {
          code: 'stage/not-done',
          severity: 'error',
          message: `Step ${step.trim()} isn’t marked done, so nothing of it can be wrong yet.`,
          where: [],
          notes: [],
          help: 'Only what the journal says is done can be taken back.',
        },
      ],
    };
  const things = (done.facts ?? []).flatMap((fact) => [
    ...('wire' in fact && typeof fact.wire === 'string' ? [fact.wire] : []),
    ...('part' in fact && typeof fact.part === 'string' ? [fact.part] : []),
  ]);
  const inStage = done.stage === undefined ? {} : { stage: done.stage };
  const said = text.trim() === '' ? 'not as the step says' : text.trim();
  return {
    value: [
      {
        act: 'fault',
        time,
        ...inStage,
        text: `Checked over, ${said}: ${done.text ?? done.step}`,
        about: [aboutStep(done.step), ...new Set(things)],
      },
      {
        act: 'undo',
        time,
        ...inStage,
        undoes: done.id,
        ...(done.text === undefined ? {} : { text: done.text }),
      },
    ],
    findings: [],
  };
}

/** The mendings that come with steps done again: one for each open fault that was about one of them. */
export function mendsBy(records: readonly JournalRecord[], entries: readonly JournalEntry[]): readonly JournalEntry[] {
  const open = faultList(records).filter((fault) => fault.mended === undefined);
  if (open.length === 0) return [];
  return entries.flatMap((entry) => {
    if (entry.act !== 'done' || entry.step === undefined) return [];
    const name = aboutStep(entry.step);
    return open
      .filter((fault) => fault.record.about?.includes(name) === true)
      .map(
        (fault): JournalEntry => ({
          act: 'mend',
          time: entry.time,
          ...(entry.stage === undefined ? {} : { stage: entry.stage }),
          text: entry.text ?? 'done again',
          step: entry.step!,
          mends: fault.record.id,
        }),
      );
  });
}
