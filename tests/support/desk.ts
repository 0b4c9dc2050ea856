// A bench in memory for tests: a journal as text, and the plan against it.

import {
  appendText,
  type Built,
  builtState,
  type JournalEntry,
  type JournalRecord,
  markDone,
  planSteps,
  readJournal,
  type Step,
  type StepInput,
  type StepPlan,
  undoLast,
} from '../../src/stage/index.ts';

export const OWNER = { machine: 'Weir keeper', build: 'first' };

export class Desk {
  text = '';
  private clock = 0;
  private readonly input: Omit<StepInput, 'built' | 'stage'>;

  constructor(input: Omit<StepInput, 'built' | 'stage'>) {
    this.input = input;
    this.append({ act: 'open', time: this.time(), machine: OWNER.machine, build: OWNER.build });
  }
  /** A second later each time, from the first of March. */
  time(skipSeconds = 0): string {
    this.clock += 1 + skipSeconds;
    return new Date(Date.UTC(2026, 2, 1) + this.clock * 1000).toISOString();
  }
  append(entry: JournalEntry): void {
    this.text += appendText(this.text, entry, OWNER);
  }
  records(): readonly JournalRecord[] {
    return readJournal('journal.jsonl', this.text, OWNER).value.records;
  }
  built(): Built {
    const { value, findings } = builtState(this.records());
    if (findings.length > 0) throw new Error(findings.map((finding) => finding.message).join('\n'));
    return value;
  }
  plan(stage = 99, change: Partial<StepInput> = {}): StepPlan {
    return planSteps({ ...this.input, built: this.built(), stage, ...change }).value;
  }
  /** Marks steps done; codes of the findings. */
  done(ids: readonly string[], plan = this.plan(), basisOf?: (step: Step) => string | undefined): string[] {
    const { value, findings } = markDone(plan, this.built(), ids, this.time(), basisOf);
    for (const entry of value) this.append(entry);
    return findings.map((finding) => finding.code);
  }
  undo(): void {
    this.append(undoLast(this.records(), this.time()).value!);
  }
}
