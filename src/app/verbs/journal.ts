// The words of the journal: `note`, `fault`, `photo`, `mended`, `failed` (a proof that was not as expected), `renamed` (the
// machine or the build bears another name now) and `journal` (every record).

import { foldName } from '../../base/index.ts';
import { faultList, type JournalEntry, journalCsv, readJournal, wordEntry } from '../../stage/index.ts';
import type { Build } from '../build.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';
import { appendEffects, noLayout, refusedJournal } from './steps.ts';

/** Words for the journal: a note, or a fault that was found. */
export function wordVerb(
  build: Build,
  act: 'note' | 'fault' | 'photo',
  text: string,
  options: {
    readonly stage?: string;
    readonly about?: readonly string[];
    readonly file?: string;
    readonly time: string;
  },
): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  if (text.trim() === '') return refuse('note/no-text', 'There is no text to note.');
  const journal = build.journal();
  const stage =
    options.stage === undefined
      ? undefined
      : build.project
          .design()
          .value.stages.find(
            (info) => foldName(info.name) === foldName(options.stage!) || String(info.number) === options.stage,
          )?.name;
  const entry = wordEntry(act, options.time, {
    text,
    ...(stage === undefined ? {} : { stage }),
    ...(options.about === undefined ? {} : { about: options.about }),
    ...(options.file === undefined ? {} : { file: options.file }),
  });
  return {
    value: { recorded: true },
    findings: [...journal.findings, ...entry.findings],
    text: act === 'note' ? 'Noted.' : act === 'photo' ? 'Photo kept.' : 'Fault noted.',
    effects: appendEffects(build, [entry.value], options.time),
  };
}

/** The mending of a fault: of the record `fault`, or of the last one still open. */
export function mendedVerb(
  build: Build,
  text: string,
  options: { readonly fault?: string; readonly time: string },
): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const journal = build.journal();
  const faults = faultList(journal.value.records);
  const open = faults.filter((entry) => entry.mended === undefined);
  const meant =
    options.fault === undefined
      ? open.at(-1)
      : faults.find((entry) => foldName(entry.record.id) === foldName(options.fault!.trim()));
  if (meant === undefined)
    return refuse(
      'mended/no-fault',
      options.fault === undefined ? 'The journal holds no open fault.' : `The journal holds no fault ${options.fault}.`,
      open.length === 0
        ? 'Note the fault first: `proofboard fault TEXT`.'
        : `Open: ${open.map((entry) => `${entry.record.id} (${entry.record.text ?? ''})`).join(', ')}.`,
    );
  if (meant.mended !== undefined)
    return refuse('mended/already', `That fault is mended already, since ${meant.mended.time}.`);
  const entry = wordEntry('mend', options.time, {
    text: text.trim() === '' ? 'mended' : text,
    mends: meant.record.id,
    ...(meant.record.stage === undefined ? {} : { stage: meant.record.stage }),
    ...(meant.record.about === undefined ? {} : { about: meant.record.about }),
  });
  return {
    value: { recorded: true, mends: meant.record.id },
    findings: [...journal.findings, ...entry.findings],
    text: `Mended: ${meant.record.text ?? ''}`,
    effects: appendEffects(build, [entry.value], options.time),
  };
}

/** What a proof really showed, where it was not as expected; `done` records one that was. */
export function failedVerb(
  build: Build,
  id: string,
  options: { readonly found: string; readonly stage: number; readonly time: string },
): VerbResult {
  const refused = refusedJournal(build);
  if (refused !== undefined) return refused;
  const plan = build.plan(options.stage);
  if (plan === undefined) return noLayout(build);
  const wanted = id.trim().toLowerCase();
  const step = plan.value.steps.find((candidate) => candidate.id === wanted && candidate.do === 'measure');
  const state = build.proofs().find((candidate) => candidate.id.toLowerCase() === wanted);
  if (step === undefined && state === undefined)
    return refuse(
      'failed/unknown',
      `There is no measuring step or proof ${id}.`,
      'List them with `proofboard steps` or `proofboard proofs`.',
    );
  const stage = step?.stageName ?? build.design().stages[state!.stage - 1]!.name;
  const entry: JournalEntry = {
    act: 'measure',
    time: options.time,
    stage,
    step: step?.id ?? state!.id,
    do: 'measure',
    text: step?.text ?? `Expect ${state!.expect}.`,
    measured: {
      what: step?.id ?? state!.id,
      expected: step?.expect ?? state!.expect,
      found: options.found.trim() === '' ? 'not as expected' : options.found.trim(),
      pass: false,
    },
  };
  return {
    value: { recorded: true, what: entry.measured!.what },
    findings: build.journal().findings,
    text: 'Noted: it was not as expected. The proof does not stand.',
    effects: appendEffects(build, [entry], options.time),
  };
}

/** Says that a machine or a build bears another name now, so that its journal goes on. */
export function renamedVerb(
  build: Build,
  options: { readonly machine?: string; readonly wasBuild?: string; readonly time: string },
): VerbResult {
  const owner = { machine: build.project.machine().value.name, build: build.name };
  const was = { wasMachine: options.machine ?? owner.machine, wasBuild: options.wasBuild ?? owner.build };
  if (was.wasMachine === owner.machine && was.wasBuild === owner.build)
    return refuse(
      'renamed/same',
      'The old names are the names of now.',
      'Give the old name of the machine with --machine, the old name of the build with --was-build.',
    );
  const entry: JournalEntry = { act: 'renamed', time: options.time, ...owner, ...was };
  const text = build.project.text(build.journalPath) ?? '';
  // Only where those were the names: a journal of a third machine stays refused.
  const before = readJournal(build.journalPath, text, { machine: was.wasMachine, build: was.wasBuild });
  if (before.value.refused || before.value.records.length === 0)
    return refuse(
      'renamed/not-theirs',
      `The journal is not that of "${was.wasMachine}", build "${was.wasBuild}".`,
      before.findings[0]?.message,
    );
  return {
    value: { recorded: true, ...owner, ...was },
    findings: before.findings,
    text: `The journal of "${was.wasMachine}", build "${was.wasBuild}" goes on as that of "${owner.machine}", build "${owner.build}".`,
    effects: [{ kind: 'append', path: build.journalPath, entries: [entry], owner }],
  };
}

/** The journal: every record, and as CSV for other programs. */
export function journalVerb(build: Build): VerbResult & { readonly csv: string } {
  const journal = build.journal();
  const { records } = journal.value;
  return {
    value: { records, aside: journal.value.aside, refused: journal.value.refused },
    findings: journal.findings,
    text: textTable(records.map((record) => [record.time, record.stage ?? '', record.act, record.text ?? ''])),
    csv: journalCsv(records),
  };
}
