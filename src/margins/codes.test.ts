import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { MARGINS_CODES } from './codes.ts';

test('codes, their pages and the code that reports them are in step', () => {
  const codes = Object.keys(MARGINS_CODES).sort();
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith('margins-'));
  expect(pages.map((name) => name.replace('margins-', 'margins/').replace(/\.md$/, '')).sort()).toEqual(codes);
  for (const [code, { severity, title }] of Object.entries(MARGINS_CODES)) {
    const text = readFileSync(`docs/findings/${code.replace('/', '-')}.md`, 'utf8');
    expect(text.startsWith(`# ${code}\n\nSeverity: ${severity}. ${title}.\n`), code).toBe(true);
    for (const head of ['## Why\n', '## What to do\n', '## Example\n']) expect(text).toContain(head);
  }
  const text = readFileSync('src/margins/findings.ts', 'utf8');
  const used = new Set([...text.matchAll(/'(margins\/[a-z-]+)'/g)].map((match) => match[1]!));
  expect([...used].sort()).toEqual(codes);
});
