// The journal as a person reads it: where was I, what is broken, how long did it take, and the whole of it for a spreadsheet.

import { foldName } from '../base/index.ts';
import { type Built, effectiveRecords } from './built.ts';
import type { JournalRecord } from './journal.ts';
import type { Step, StepPlan } from './step-model.ts';

/** A pause longer than this isn't counted as work: the builder had gone. Minutes; common practice, no source. */
export const LONGEST_PAUSE_MIN = 15;

/** Milliseconds of a journal time, by the calendar of ISO 8601 in UTC; needs no clock. */
export function timeMs(time: string): number {
  const match = /^(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)(?:\.(\d+))?Z$/.exec(time);
  if (match === null) return Number.NaN;
  const [year, month, day, hour, minute, second] = match.slice(1, 7).map(Number) as [
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  return Date.UTC(year, month - 1, day, hour, minute, second) + Number(`0.${match[7] ?? '0'}`) * 1000;
}

export interface StageMinutes {
  readonly stage: string;
  readonly minutes: number;
  readonly acts: number;
}

/**
 * Working minutes by stage, in the order in which stages were begun: the time from each act back to the act before it, where
 * that is no longer than a pause, counts for the stage of the later act. Acts that were taken back took their time too.
 */
export function minutesByStage(records: readonly JournalRecord[]): StageMinutes[] {
  const stages = new Map<string, { ms: number; acts: number }>();
  let before: number | undefined;
  let stage = '';
  for (const record of records) {
    const at = timeMs(record.time);
    if (record.stage !== undefined) stage = record.stage;
    if (Number.isFinite(at)) {
      const sum = stages.get(stage) ?? { ms: 0, acts: 0 };
      const gap = before === undefined ? 0 : at - before;
      // A clock that was set back, or another writer's line a little out of order, takes no time.
      if (gap > 0 && gap <= LONGEST_PAUSE_MIN * 60_000) sum.ms += gap;
      sum.acts++;
      stages.set(stage, sum);
      before = Math.max(before ?? at, at);
    }
  }
  return [...stages]
    .filter(([name]) => name !== '')
    .map(([name, sum]) => ({ stage: name, minutes: Math.round(sum.ms / 6000) / 10, acts: sum.acts }));
}

/** A fault that was found, and its mending where it was mended. */
export interface FaultEntry {
  readonly record: JournalRecord;
  readonly mended: JournalRecord | undefined;
}

/** Faults in the order found. */
export function faultList(records: readonly JournalRecord[]): FaultEntry[] {
  const counted = effectiveRecords(records);
  const mends = new Map<string, JournalRecord>();
  for (const record of counted)
    if (record.act === 'mend' && record.mends !== undefined) mends.set(record.mends, record);
  return counted.filter((record) => record.act === 'fault').map((record) => ({ record, mended: mends.get(record.id) }));
}

export interface WhereWasI {
  /** The last act that counts, and how long ago, in days. */
  readonly last: JournalRecord | undefined;
  readonly daysAgo: number | undefined;
  /** Is the supply on, by the journal? Undefined where it never says. */
  readonly powerOn: boolean | undefined;
  readonly stage: string | undefined;
  readonly stepsLeftInStage: number;
  readonly next: Step | undefined;
  /** The last steps done, newest first. */
  readonly recent: readonly JournalRecord[];
  readonly openFaults: readonly JournalRecord[];
  /** Notes and photos of the stage, newest first. */
  readonly notes: readonly JournalRecord[];
  readonly failed: readonly JournalRecord[];
  /** Devices that are programmed but stand nowhere: out for programming, in a drawer. */
  readonly devicesOut: readonly string[];
  /** Sentences that say it all. */
  readonly text: readonly string[];
}

/** Where the builder was, after an evening or after months. `now` is the host's time. */
export function whereWasI(records: readonly JournalRecord[], built: Built, plan: StepPlan, now: string): WhereWasI {
  const counted = built.records.filter((record) => record.act !== 'open' && record.act !== 'renamed');
  const last = counted.at(-1);
  const daysAgo =
    last === undefined ? undefined : Math.max(0, Math.floor((timeMs(now) - timeMs(last.time)) / 86_400_000));
  const next = plan.steps[0];
  const stage = next?.stageName ?? counted.findLast((record) => record.stage !== undefined)?.stage;
  const left = next === undefined ? 0 : plan.steps.filter((step) => step.stage === next.stage).length;
  const openFaults = faultList(records)
    .filter((fault) => fault.mended === undefined)
    .map((fault) => fault.record);
  const standing = new Set([...built.parts.values()].map((part) => foldName(part.device)));
  const devicesOut = [...built.devices.keys()].filter((device) => !standing.has(foldName(device)));
  const failed = [...built.measured.values()]
    .filter((measured) => !measured.pass)
    .flatMap((measured) => counted.find((record) => record.id === measured.record) ?? []);
  const powerOn = counted.findLast((record) => record.act === 'power')?.on;
  const newest = (list: readonly JournalRecord[], most: number): JournalRecord[] => list.slice(-most).reverse();
  const text = [
    last === undefined
      ? 'Nothing is done yet.'
      : `The last act, ${daysAgo === 0 ? 'today' : daysAgo === 1 ? 'a day ago' : `${daysAgo} days ago`}: ${last.text ?? last.act}`,
    ...(powerOn === true ? ['By the journal the supply is on: switch it off before you touch a wire.'] : []),
    ...(next === undefined
      ? ['Every step is done.']
      : [`Stage ${next.stage}, ${next.stageName}: ${left} ${left === 1 ? 'step' : 'steps'} left. Next: ${next.text}`]),
    ...openFaults.map((record) => `Not mended: ${record.text ?? record.id}`),
    ...failed.map((record) => `Failed when last measured: ${record.text ?? record.measured!.expected}`),
    ...(devicesOut.length > 0 ? [`Out of its place: ${devicesOut.join(', ')}.`] : []),
  ];
  return {
    last,
    daysAgo,
    powerOn,
    stage,
    stepsLeftInStage: left,
    next,
    recent: newest(
      counted.filter((record) => record.act === 'done'),
      5,
    ),
    openFaults,
    notes: newest(
      counted.filter((record) => (record.act === 'note' || record.act === 'photo') && record.stage === stage),
      5,
    ),
    failed,
    devicesOut,
    text,
  };
}

const COLUMNS = ['time', 'stage', 'act', 'do', 'text', 'file', 'expected', 'found', 'pass', 'counts', 'id'] as const;

/** A field as RFC 4180 has it; one that a spreadsheet would take for a formula gets an apostrophe before it. */
function csvField(value: string): string {
  const safe = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** The whole journal as CSV (RFC 4180), one row a record; `counts` is no where the record was taken back. */
export function journalCsv(records: readonly JournalRecord[]): string {
  const counted = new Set(effectiveRecords(records).map((record) => record.id));
  const rows = records.map((record) =>
    [
      record.time,
      record.stage ?? '',
      record.act,
      record.do ?? '',
      record.text ?? '',
      record.file ?? '',
      record.measured?.expected ?? '',
      record.measured?.found ?? '',
      record.measured === undefined ? '' : record.measured.pass ? 'yes' : 'no',
      record.act === 'undo' ? '' : counted.has(record.id) ? 'yes' : 'no',
      record.id,
    ]
      .map(csvField)
      .join(','),
  );
  return `${[COLUMNS.join(','), ...rows].join('\r\n')}\r\n`;
}
