// Every code of the rules, of elaboration and of waivers has a page whose wrong example shows it and whose right example
// shows neither it nor any error; tables, the strings in the code and the pages name the same codes.

import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { WAIVER_CODES } from '../../src/app/index.ts';
import { RULES } from '../../src/check/index.ts';
import { NETLIST_CODES } from '../../src/netlist/index.ts';
import { findingIndex } from '../../tools/finding-index.ts';
import { lines, projectOf } from '../support/library.ts';

const FOLDER = 'docs/findings';
const pageOf = (code: string): string => `${code.replace('/', '-')}.md`;

const TABLES: Readonly<Record<string, { readonly codes: readonly string[]; readonly sources: readonly string[] }>> = {
  check: { codes: RULES.map((rule) => rule.code), sources: ['src/check'] },
  netlist: { codes: Object.keys(NETLIST_CODES), sources: ['src/netlist'] },
  waiver: { codes: Object.keys(WAIVER_CODES), sources: ['src/app'] },
};

function sources(folder: string): string[] {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) return sources(path);
    return path.endsWith('.ts') && !path.endsWith('.test.ts') && name !== 'codes.ts' ? [path] : [];
  });
}

describe.each(Object.entries(TABLES))('%s', (engine, { codes, sources: folders }) => {
  test('the table, the code and the pages name the same codes', () => {
    expect(new Set(codes).size).toBe(codes.length);
    const sorted = [...codes].sort();
    const used = new Set(
      folders
        .flatMap(sources)
        .flatMap((path) =>
          [...readFileSync(path, 'utf8').matchAll(new RegExp(`'(${engine}/[a-z0-9-]+)'`, 'g'))].map(
            (match) => match[1]!,
          ),
        ),
    );
    expect([...used].sort()).toEqual(sorted);
    const pages = readdirSync(FOLDER).filter((name) => name.startsWith(`${engine}-`));
    expect(pages.sort()).toEqual(sorted.map(pageOf).sort());
  });

  test.each(codes)('%s: the wrong example shows it, the right one does not', (code) => {
    const page = readFileSync(join(FOLDER, pageOf(code)), 'utf8');
    const shape =
      /^# (\S+)\n\nSeverity: (error|warning|note)\. \S[\s\S]*\n## Why\n\S[\s\S]*\n## What to do\n\S[\s\S]*\n## Wrong\n```yaml machine\n([\s\S]*?)```\n\n## Right\n```yaml machine\n([\s\S]*?)```\n$/.exec(
        page,
      );
    expect(shape, 'the page has the form of the others').not.toBeNull();
    const [, title, severity, wrong, right] = shape!;
    expect(title).toBe(code);
    const found = projectOf(wrong!).findings();
    const hit = found.filter((finding) => finding.code === code);
    expect(
      hit.map((finding) => finding.severity),
      lines(found).join('\n'),
    ).toContain(severity);
    for (const finding of hit) {
      expect(finding.help ?? '', 'a remedy').not.toBe('');
      expect(finding.where.length, 'a place').toBeGreaterThan(0);
    }
    // An example of one thing shows no other error, but for those that it names and, of elaboration, what follows from it.
    const others = found.filter(
      (finding) =>
        finding.severity === 'error' &&
        finding.code !== code &&
        !wrong!.includes(finding.code) &&
        !(engine === 'netlist' && finding.code.startsWith('check/')),
    );
    expect(lines(others)).toEqual([]);
    const well = projectOf(right!).findings();
    expect(lines(well.filter((finding) => finding.code === code || finding.severity === 'error'))).toEqual([]);
  });
});

test('the index lists every page of these engines as it stands', () => {
  const pages = new Map(
    readdirSync(FOLDER)
      .filter((name) => name !== 'README.md')
      .map((name) => [name, readFileSync(join(FOLDER, name), 'utf8')]),
  );
  const rows = (index: string): string[] =>
    index.split('\n').filter((line) => Object.keys(TABLES).some((engine) => line.startsWith(`| [${engine}/`)));
  const made = rows(findingIndex(pages));
  expect(made.length).toBeGreaterThan(30);
  expect(rows(readFileSync(join(FOLDER, 'README.md'), 'utf8')), 'run npm run gen').toEqual(made);
});
