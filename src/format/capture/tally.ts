// Collects what is wrong in a file of millions of lines: one finding for each kind, with its first line and a count.

import type { Finding } from '../../base/index.ts';
import { CAPTURE_CODES, type CaptureCode } from './codes.ts';

interface Entry {
  readonly code: CaptureCode;
  readonly message: string;
  readonly help: string;
  readonly line: number;
  count: number;
  last: number;
}

export class Tally {
  readonly #file: string;
  readonly #entries = new Map<string, Entry>();

  constructor(file: string) {
    this.#file = file;
  }

  /** Notes one thing; `key` tells kinds of one code apart (a channel's name). `line` from 1, 0 for the file as a whole. */
  add(code: CaptureCode, line: number, message: string, help: string, key = ''): void {
    const id = `${code} ${key}`;
    const known = this.#entries.get(id);
    if (known === undefined) this.#entries.set(id, { code, message, help, line, count: 1, last: line });
    else {
      known.count++;
      known.last = line;
    }
  }

  has(code: CaptureCode): boolean {
    for (const entry of this.#entries.values()) if (entry.code === code) return true;
    return false;
  }

  /** The findings, in the order in which each kind was met first. The lines stand in the words: the text is not kept. */
  findings(): Finding[] {
    return [...this.#entries.values()].map(({ code, message, help, line, count, last }) => ({
      code,
      severity: CAPTURE_CODES[code].severity,
      message: line > 0 ? `${this.#file}, line ${line}: ${message}` : `${this.#file}: ${message}`,
      where: [],
      notes: count > 1 ? [{ text: `${count - 1} more of the kind, the last in line ${last}.` }] : [],
      help,
    }));
  }
}
