// What every verb gives its host: the value and findings of the contract, and a text for a person.

import type { Finding } from '../base/index.ts';
import type { JournalEntry, JournalOwner } from '../stage/index.ts';

/** What a verb wants done to the project's files; the host does it, and only then is the verb done. */
export type Effect =
  | { readonly kind: 'write'; readonly path: string; readonly text: string }
  | {
      readonly kind: 'append';
      readonly path: string;
      readonly entries: readonly JournalEntry[];
      readonly owner: JournalOwner;
    };

export interface VerbResult {
  readonly value: unknown;
  readonly findings: readonly Finding[];
  /** What a person reads; without the findings, which the host prints. */
  readonly text: string;
  readonly effects?: readonly Effect[];
  /** Files of bytes to write, as paths from where the program runs. */
  readonly bytes?: readonly { readonly path: string; readonly bytes: Uint8Array }[];
  /** True when the request itself could not be carried out (exit code 2). */
  readonly refused?: boolean;
}

/** A refusal: what was asked can't be done, and why. */
export function refuse(code: string, message: string, help?: string): VerbResult {
  return {
    value: null,
    findings: [{ code, severity: 'error', message, where: [], notes: [], ...(help === undefined ? {} : { help }) }],
    text: '',
    refused: true,
  };
}
