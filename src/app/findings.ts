// Findings as JSON (the contract scripts rely on) and as text for a terminal; and waivers. Pure; changes no finding but by
// setting waived ones aside.

import { type Finding, foldName, lineStarts, type Position, positionAt, type Span } from '../base/index.ts';
import type { WaiverDecl } from '../machine/index.ts';

/** A place in the JSON contract: lines and columns from 1, end after the last character. */
export interface JsonPlace {
  readonly file: string;
  readonly line: number;
  readonly column: number;
  readonly endLine: number;
  readonly endColumn: number;
}

export interface JsonFinding {
  readonly code: string;
  readonly severity: Finding['severity'];
  readonly message: string;
  readonly where: readonly JsonPlace[];
  readonly notes: readonly { readonly text: string; readonly where?: JsonPlace }[];
  readonly help?: string;
  readonly about?: readonly string[];
  readonly stage?: number;
}

/** Looks up positions in texts, computing the lines of each text once. */
export class Places {
  readonly #text: (file: string) => string | undefined;
  readonly #starts = new Map<string, readonly number[]>();

  constructor(text: (file: string) => string | undefined) {
    this.#text = text;
  }

  #position(file: string, offset: number): Position {
    let starts = this.#starts.get(file);
    if (starts === undefined) {
      starts = lineStarts(this.#text(file) ?? '');
      this.#starts.set(file, starts);
    }
    return positionAt(starts, offset);
  }

  place(span: Span): JsonPlace {
    const start = this.#position(span.file, span.start);
    const end = this.#position(span.file, Math.max(span.start, span.end));
    return { file: span.file, line: start.line, column: start.column, endLine: end.line, endColumn: end.column };
  }
}

export function findingToJson(finding: Finding, places: Places): JsonFinding {
  return {
    code: finding.code,
    severity: finding.severity,
    message: finding.message,
    where: finding.where.map((span) => places.place(span)),
    notes: finding.notes.map((note) =>
      note.span === undefined ? { text: note.text } : { text: note.text, where: places.place(note.span) },
    ),
    ...(finding.help === undefined ? {} : { help: finding.help }),
    ...(finding.about === undefined ? {} : { about: finding.about }),
    ...(finding.stage === undefined ? {} : { stage: finding.stage }),
  };
}

/** One finding as lines of text: severity, message and place; then why and what to do, indented. */
export function findingToText(finding: Finding, places: Places): string {
  const where = finding.where[0];
  const place = where === undefined ? '' : places.place(where);
  const at = place === '' ? '' : `${place.file}:${place.line}:${place.column}: `;
  const lines = [`${at}${finding.severity}: ${finding.message} [${finding.code}]`];
  for (const note of finding.notes) {
    const other = note.span === undefined ? '' : ` (${placeText(places.place(note.span))})`;
    lines.push(`    ${note.text}${other}`);
  }
  if (finding.help !== undefined) lines.push(`    To mend: ${finding.help}`);
  return lines.join('\n');
}

function placeText(place: JsonPlace): string {
  return `${place.file}:${place.line}:${place.column}`;
}

/** Counts by severity, as a sentence. */
export function countFindings(findings: readonly Finding[]): string {
  const count = (severity: Finding['severity'], one: string, many: string): string | undefined => {
    const n = findings.filter((finding) => finding.severity === severity).length;
    return n === 0 ? undefined : `${n} ${n === 1 ? one : many}`;
  };
  const parts = [
    count('error', 'error', 'errors'),
    count('warning', 'warning', 'warnings'),
    count('note', 'note', 'notes'),
  ].filter((part) => part !== undefined);
  return parts.length === 0 ? 'nothing found' : parts.join(', ');
}

export interface Waived {
  readonly finding: Finding;
  readonly waiver: WaiverDecl;
}

/** Sets aside what the machine file waives; errors stay, and a waiver that meets nothing or meets an error is itself a finding. */
export function applyWaivers(
  findings: readonly Finding[],
  waivers: readonly WaiverDecl[],
): { readonly findings: Finding[]; readonly waived: Waived[] } {
  const kept: Finding[] = [];
  const waived: Waived[] = [];
  const used = new Set<WaiverDecl>();
  const refused = new Set<WaiverDecl>();
  for (const finding of findings) {
    const about = new Set((finding.about ?? []).map(foldName));
    const waiver = waivers.find(
      (candidate) =>
        foldName(candidate.code.name) === foldName(finding.code) &&
        (candidate.places.length === 0 || candidate.places.some((place) => about.has(foldName(place.name)))),
    );
    if (waiver === undefined) kept.push(finding);
    else if (finding.severity === 'error') {
      kept.push(finding);
      refused.add(waiver);
    } else {
      used.add(waiver);
      waived.push({ finding, waiver });
    }
  }
  for (const waiver of waivers) {
    if (refused.has(waiver)) {
      kept.push({
        code: 'waiver/of-an-error',
        severity: 'warning',
        message: `${waiver.code.name} is an error here and can't be waived.`,
        where: [waiver.span],
        notes: [{ text: 'Errors can harm a part, or cannot work.' }],
        help: 'Mend what it reports.',
      });
    } else if (!used.has(waiver)) {
      kept.push({
        code: 'waiver/unused',
        severity: 'note',
        message: `This waiver of ${waiver.code.name} meets nothing any more.`,
        where: [waiver.span],
        notes: [],
        help: 'Remove it, so that a new finding of that kind shows.',
      });
    }
  }
  return { findings: kept, waived };
}
