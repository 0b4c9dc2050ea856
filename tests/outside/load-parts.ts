// Every part record, second pin table and family of data/parts, read from disk for tests.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Finding } from '../../src/base/index.ts';
import {
  type FamilyRecord,
  type PartRecord,
  readFamily,
  readPart,
  readSecond,
  type SecondTable,
} from '../../src/parts/index.ts';

export interface LoadedPart {
  readonly file: string;
  /** The file's name without folder and ending, by which the second table is found. */
  readonly stem: string;
  readonly text: string;
  readonly record: PartRecord | undefined;
  readonly findings: readonly Finding[];
}

const root = join('data', 'parts');
const list = (folder: string, ending: string): string[] =>
  readdirSync(folder, { withFileTypes: true })
    .flatMap((entry) => {
      const path = join(folder, entry.name);
      return entry.isDirectory() ? list(path, ending) : entry.name.endsWith(ending) ? [path] : [];
    })
    .sort();

/** All records; folders `families`, `second` and `schema` hold other things. */
export function loadParts(): LoadedPart[] {
  return list(root, '.yaml')
    .filter((file) => !/[\\/](?:families|second|schema)[\\/]/.test(file))
    .map((file) => {
      const text = readFileSync(file, 'utf8');
      const { value, findings } = readPart(file, text);
      return { file, stem: file.replace(/^.*[\\/]|\.yaml$/g, ''), text, record: value, findings };
    });
}

/** All second tables by stem. */
export function loadSeconds(): Map<string, { table: SecondTable | undefined; findings: readonly Finding[] }> {
  return new Map(
    list(join(root, 'second'), '.txt').map((file) => {
      const { value, findings } = readSecond(file, readFileSync(file, 'utf8'));
      return [file.replace(/^.*[\\/]|\.txt$/g, ''), { table: value, findings }];
    }),
  );
}

export function loadFamilies(): { file: string; family: FamilyRecord | undefined; findings: readonly Finding[] }[] {
  return list(join(root, 'families'), '.yaml').map((file) => {
    const { value, findings } = readFamily(file, readFileSync(file, 'utf8'));
    return { file, family: value, findings };
  });
}

/** Findings as lines: code, place, message. */
export function lines(text: string, findings: readonly Finding[]): string[] {
  return findings.map((finding) => {
    const span = finding.where[0];
    const line = span === undefined ? 0 : text.slice(0, span.start).split('\n').length;
    return `${span?.file ?? ''}:${line} ${finding.code}: ${finding.message}`;
  });
}
