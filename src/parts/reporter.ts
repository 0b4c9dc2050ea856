// Findings about a part record, placed by the path of the value they are about. Wording helpers shared by the checks.

import { type Finding, nearestName, type Severity, type Span } from '../base/index.ts';
import type { Path, SchemaReading } from '../yaml/index.ts';

/** Where in the record a finding stands: a path, and a stretch of the text there. */
export interface PlaceInRecord {
  readonly path: Path;
  /** The key at the end of the path is meant, not its value. */
  readonly key?: boolean;
  readonly start?: number;
  readonly end?: number;
}

/** Collects findings of one file. */
export interface Reporter {
  readonly findings: Finding[];
  say(code: string, place: PlaceInRecord, message: string, extra?: { help?: string; severity?: Severity }): void;
  /** That a name is unknown, with the known one it resembles. */
  unknown(code: string, place: PlaceInRecord, what: string, name: string, known: readonly string[]): void;
}

export function createReporter(text: string, reading: SchemaReading): Reporter {
  const findings: Finding[] = [];
  const spanOf = (place: PlaceInRecord): Span => {
    const span = place.key === true ? reading.keySpanOf(place.path) : reading.spanOf(place.path);
    if (place.start === undefined || place.end === undefined) return span;
    // A value written on one line, plain or in quotes without escapes, maps offset by offset.
    const written = text.slice(span.start, span.end);
    if (/[\n\\]|''/.test(written)) return span;
    const from = span.start + (/^["']/.test(written) ? 1 : 0);
    return { ...span, start: Math.min(from + place.start, span.end), end: Math.min(from + place.end, span.end) };
  };
  const say: Reporter['say'] = (code, place, message, extra = {}) => {
    findings.push({
      code,
      severity: extra.severity ?? 'error',
      message,
      where: [spanOf(place)],
      notes: [],
      ...(extra.help === undefined ? {} : { help: extra.help }),
    });
  };
  return {
    findings,
    say,
    unknown: (code, place, what, name, known) => {
      const near = nearestName(name, known);
      const list = known.length > 24 ? `${known.slice(0, 24).join(', ')} …` : known.join(', ');
      say(code, place, `There is no ${what} ${name}${near === undefined ? '.' : `; did you mean ${near}?`}`, {
        help: known.length === 0 ? `No ${what} is known here.` : `Known here: ${list}.`,
      });
    },
  };
}
