import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { JESD3_CODES } from '../format/jesd3/index.ts';
import { DECODE_CODES } from './index.ts';

test.each([
  ['decode', 'src/decode', DECODE_CODES],
  ['jesd3', 'src/format/jesd3', JESD3_CODES],
] as const)('%s: codes, their pages and the code that reports them are in step', (engine, folder, table) => {
  const codes = Object.keys(table).sort();
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith(`${engine}-`));
  expect(pages.map((name) => name.replace(`${engine}-`, `${engine}/`).replace(/\.md$/, '')).sort()).toEqual(codes);
  for (const [code, { severity, title }] of Object.entries(table)) {
    const text = readFileSync(`docs/findings/${code.replace('/', '-')}.md`, 'utf8');
    expect(text.startsWith(`# ${code}\n\nSeverity: ${severity}. ${title}.\n`), code).toBe(true);
    for (const head of ['## Why\n', '## What to do\n', '## Example\n']) expect(text).toContain(head);
  }
  const used = new Set<string>();
  for (const name of readdirSync(folder)) {
    if (name.endsWith('.test.ts') || name === 'codes.ts') continue;
    const text = readFileSync(`${folder}/${name}`, 'utf8');
    for (const match of text.matchAll(new RegExp(`'(${engine}/[a-z-]+)'`, 'g'))) used.add(match[1]!);
  }
  expect([...used].sort()).toEqual(codes);
});
