import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { shipped } from '../../tests/support/library.ts';
import type { Finding } from '../base/index.ts';
import { checkLibrary, compareTables, PARTS_CODES, readPart, readSecond } from './index.ts';

const FOLDER = 'docs/findings';
const codes = Object.keys(PARTS_CODES);

test('the table, the code and the pages name the same codes', () => {
  const used = new Set(
    readdirSync('src/parts')
      .filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts') && name !== 'codes.ts')
      .flatMap((name) => [...readFileSync(`src/parts/${name}`, 'utf8').matchAll(/'(parts\/[a-z-]+)'/g)])
      .map((match) => match[1]!),
  );
  expect([...used].sort()).toEqual([...codes].sort());
  expect(
    readdirSync(FOLDER)
      .filter((name) => name.startsWith('parts-'))
      .map((name) => name.replace('parts-', 'parts/').replace('.md', ''))
      .sort(),
  ).toEqual([...codes].sort());
});

/** Findings of a record, alone, in the library, and against a second table where the example has one. */
function findings(section: string): readonly Finding[] {
  const record = /```yaml part\n([\s\S]*?)```/.exec(section)![1]!;
  const second = /```text second\n([\s\S]*?)```/.exec(section)?.[1];
  const { value, findings: own } = readPart('part.yaml', record);
  const all = [...own];
  if (value !== undefined) all.push(...checkLibrary([{ file: 'part.yaml', record: value }], shipped().families));
  if (value !== undefined && second !== undefined) {
    const table = readSecond('part.txt', second);
    all.push(...table.findings);
    if (table.value !== undefined) all.push(...compareTables(value, table.value));
  }
  return all;
}

test.each(codes)('%s: the wrong example shows it, the right one shows nothing', (code) => {
  const page = readFileSync(`${FOLDER}/${code.replace('/', '-')}.md`, 'utf8');
  expect(page.startsWith(`# ${code}\n\nSeverity: `)).toBe(true);
  const [wrong, right] = page.split('## Right');
  const bad = findings(wrong!);
  const hit = bad.find((finding) => finding.code === code);
  expect(hit, bad.map((finding) => `${finding.code}: ${finding.message}`).join('\n')).toBeDefined();
  expect(page).toContain(`Severity: ${hit!.severity}. `);
  expect(findings(right!).map((finding) => `${finding.code}: ${finding.message}`)).toEqual([]);
});
