import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { SIM_CODES } from './codes.ts';

const walk = (folder: string): string[] =>
  readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    return statSync(path).isDirectory() ? walk(path) : [path];
  });

test('codes, their pages and the code that reports them are in step', () => {
  const codes = Object.keys(SIM_CODES).sort();
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith('sim-'));
  expect(pages.map((name) => name.replace('sim-', 'sim/').replace(/\.md$/, '')).sort()).toEqual(codes);
  for (const [code, { severity }] of Object.entries(SIM_CODES)) {
    const text = readFileSync(`docs/findings/${code.replace('/', '-')}.md`, 'utf8');
    expect(text.startsWith(`# ${code}\n\nSeverity: ${severity}.\n`), code).toBe(true);
    for (const head of ['## Why\n', '## What to do\n', '## Example\n']) expect(text).toContain(head);
  }
  const used = new Set<string>();
  for (const path of walk('src/sim')) {
    if (!path.endsWith('.ts') || path.endsWith('.test.ts') || path.endsWith('codes.ts')) continue;
    for (const match of readFileSync(path, 'utf8').matchAll(/'(sim\/[a-z-]+)'/g)) used.add(match[1]!);
  }
  expect([...used].sort()).toEqual(codes);
});
