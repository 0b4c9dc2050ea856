// Findings: what every engine reports instead of throwing. One finding is one thing wrong or doubtful, with the place,
// the reason and the remedy. Pure data; renderers never change it.

/** A stretch of one file, UTF-16 offsets from 0, end excluded. */
export interface Span {
  readonly file: string;
  readonly start: number;
  readonly end: number;
}

/** error: can harm a part or cannot work, and cannot be waived. warning and note can be, with a reason. */
export type Severity = 'error' | 'warning' | 'note';

/** A remark beside the main message: why, or where the other half of a contradiction stands. */
export interface Note {
  readonly text: string;
  readonly span?: Span;
}

/** One replacement of a stretch of text. */
export interface TextEdit {
  readonly span: Span;
  readonly text: string;
}

/** A remedy that can be applied as it stands. `title` is an imperative sentence without a full stop. */
export interface Fix {
  readonly title: string;
  readonly edits: readonly TextEdit[];
}

export interface Finding {
  /** `engine/kebab-name`; a code is never reused for another meaning. */
  readonly code: string;
  readonly severity: Severity;
  /** What is wrong, one sentence. */
  readonly message: string;
  /** Primary place first. Empty only for what has no place in a file. */
  readonly where: readonly Span[];
  /** Why. */
  readonly notes: readonly Note[];
  /** What to do. */
  readonly help?: string;
  readonly fixes?: readonly Fix[];
  /** Names of what it is about (`CPU.A0`, a net, a part), by which a waiver or a view finds it. */
  readonly about?: readonly string[];
  /** The first stage (from 1) at which it shows, where it depends on the stage. */
  readonly stage?: number;
}

/** What every engine returns: as much value as it can, and what it found. */
export interface Result<T> {
  readonly value: T;
  readonly findings: readonly Finding[];
}

/** Compares by file, start, code, message: the order in which findings are shown. */
export function compareFindings(a: Finding, b: Finding): number {
  const x = a.where[0];
  const y = b.where[0];
  if (x === undefined || y === undefined) {
    if (x !== y) return x === undefined ? 1 : -1;
  } else {
    if (x.file !== y.file) return x.file < y.file ? -1 : 1;
    if (x.start !== y.start) return x.start - y.start;
  }
  if (a.code !== b.code) return a.code < b.code ? -1 : 1;
  if (a.message !== b.message) return a.message < b.message ? -1 : 1;
  return 0;
}

/** A sorted copy, with exact repetitions (same code, place and message) removed. */
export function sortFindings(findings: readonly Finding[]): Finding[] {
  const sorted = [...findings].sort(compareFindings);
  return sorted.filter((finding, index) => index === 0 || compareFindings(sorted[index - 1]!, finding) !== 0);
}

/** Whether any finding is of severity error. */
export function hasErrors(findings: readonly Finding[]): boolean {
  return findings.some((finding) => finding.severity === 'error');
}
