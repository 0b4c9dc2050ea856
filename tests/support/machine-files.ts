// Machine files as text in, machine and findings as lines out.

import { type Finding, lineStarts, positionAt } from '../../src/base/index.ts';
import { type Machine, type ReadOptions, readMachine } from '../../src/machine/index.ts';

/** What reading gave; `shown` has a line for each finding: place, code, the text it stands at, message. */
export interface Read {
  readonly value: Machine;
  readonly findings: readonly Finding[];
  readonly shown: readonly string[];
}

/** Reads files given as text: a single text is the main file. */
export function readFiles(input: string | Readonly<Record<string, string>>, options: ReadOptions = {}): Read {
  const files = typeof input === 'string' ? { 'machine.yaml': input } : input;
  const { value, findings } = readMachine('machine.yaml', { read: (path) => files[path] }, options);
  const shown = findings.map((finding) => {
    const { file, start, end } = finding.where[0]!;
    const text = files[file] ?? '';
    const at = positionAt(lineStarts(text), start);
    const place = file === 'machine.yaml' ? '' : `${file}:`;
    return `${place}${at.line}:${at.column} ${finding.code} [${text.slice(start, end)}] ${finding.message}`;
  });
  return { value, findings, shown };
}
