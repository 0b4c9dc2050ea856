import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { STAGE_CODES } from './codes.ts';

test('codes, their pages and the code that reports them are in step', () => {
  const codes = Object.keys(STAGE_CODES).sort();
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith('stage-'));
  expect(pages.map((name) => name.replace('stage-', 'stage/').replace(/\.md$/, '')).sort()).toEqual(codes);
  for (const page of pages) {
    const text = readFileSync(`docs/findings/${page}`, 'utf8');
    expect(text).toContain(`# ${page.replace('stage-', 'stage/').replace(/\.md$/, '')}\n`);
    for (const head of ['Severity: ', '## Why', '## What to do', '## Example']) expect(text).toContain(head);
  }
  const used = new Set<string>();
  for (const name of readdirSync('src/stage')) {
    if (name.endsWith('.test.ts') || name === 'codes.ts') continue;
    for (const match of readFileSync(`src/stage/${name}`, 'utf8').matchAll(/'(stage\/[a-z-]+)'/g)) used.add(match[1]!);
  }
  expect([...used].sort()).toEqual(codes);
});
