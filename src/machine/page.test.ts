import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { lineStarts, positionAt } from '../base/index.ts';
import { machineJsonSchema, readMachine } from './index.ts';

const page = readFileSync('docs/machine-file.md', 'utf8');

interface Example {
  readonly heading: string;
  readonly files: Readonly<Record<string, string>>;
  readonly says: string;
}

/**
 * A fence `yaml` is a machine file; fences `yaml PATH` of the same section stand beside it; a fence `text` right after it
 * states what is found.
 */
function examples(): Example[] {
  const found: Example[] = [];
  for (const section of page.split(/^## /m).slice(1)) {
    const heading = section.slice(0, section.indexOf('\n'));
    const fences = [...section.matchAll(/^```(\w+)(?: (\S+))?\n([\s\S]*?)^```$/gm)].map((match) => ({
      info: match[1],
      path: match[2],
      body: match[3]!,
    }));
    const beside = Object.fromEntries(fences.flatMap(({ path, body }) => (path === undefined ? [] : [[path, body]])));
    fences.forEach(({ info, path, body }, index) => {
      if (info !== 'yaml' || path !== undefined) return;
      const next = fences[index + 1];
      found.push({
        heading: `${heading} (${index + 1})`,
        files: { ...beside, 'machine.yaml': body },
        says: next?.info === 'text' ? next.body : '',
      });
    });
  }
  return found;
}

test('the page has its examples', () => {
  expect(examples().length).toBeGreaterThan(14);
});

test.each(examples())('$heading', ({ files, says }) => {
  const { findings } = readMachine('machine.yaml', { read: (path) => files[path] });
  const shown = findings.map(({ where, code, message }) => {
    const at = positionAt(lineStarts(files[where[0]!.file]!), where[0]!.start);
    return `${at.line}:${at.column} ${code} ${message}\n`;
  });
  expect(shown.join('')).toBe(says);
});

test('the page names every key of the schema', () => {
  const keys = new Set<string>();
  const walk = (schema: unknown): void => {
    if (typeof schema !== 'object' || schema === null) return;
    for (const key of Object.keys((schema as { properties?: object }).properties ?? {})) keys.add(key);
    Object.values(schema).forEach(walk);
  };
  walk(machineJsonSchema());
  expect(keys.size).toBeGreaterThan(70);
  expect([...keys].filter((key) => !page.includes(`\`${key}\``))).toEqual([]);
  const shown = examples()
    .flatMap(({ files }) => Object.values(files))
    .join('\n');
  expect([...keys].filter((key) => !new RegExp(`(?:^|[\\s{])${key}:`, 'm').test(shown))).toEqual([]);
});

test('the tables of proofs name every word there is', async () => {
  const { EXPECT_WORDS, GIVEN_WORDS } = await import('./proof-words.ts');
  for (const word of [...GIVEN_WORDS, ...EXPECT_WORDS]) expect(page).toMatch(new RegExp(`\\| \`${word}[\`:]`));
});
