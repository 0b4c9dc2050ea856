import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { YAML_CODES } from '../yaml/index.ts';
import { MACHINE_CODES, readMachine } from './index.ts';

const FOLDER = 'docs/findings';
const ENGINES = { machine: MACHINE_CODES, yaml: YAML_CODES } as const;
const pages = readdirSync(FOLDER).filter((name) => /^(?:machine|yaml)-/.test(name));
/** `machine-bad-pin.md` is the page of `machine/bad-pin`. */
const codeOf = (page: string): string => page.slice(0, -'.md'.length).replace('-', '/');
const sources = readdirSync('src/machine')
  .filter((name) => name.endsWith('.ts') && !name.endsWith('.test.ts'))
  .map((name) => readFileSync(`src/machine/${name}`, 'utf8'));

/** The files of one kind of example on a page: fences `yaml KIND` (the main file) and `yaml KIND PATH`. */
function example(page: string, kind: string): Record<string, string> {
  const files: Record<string, string> = {};
  for (const [, info, path, body] of page.matchAll(/^```yaml (\w+)(?: (\S+))?\n([\s\S]*?)^```$/gm))
    if (info === kind) files[path ?? 'machine.yaml'] = body!;
  return files;
}

test('every code has a page and every page a code', () => {
  const codes = Object.values(ENGINES).flatMap((engine) => Object.keys(engine));
  expect(pages.map(codeOf).sort()).toEqual(codes.sort());
});

test('codes of the YAML reader are those that it reports', () => {
  const text = readFileSync('src/yaml/read.ts', 'utf8');
  const used = new Set([...text.matchAll(/'(yaml\/[a-z-]+)'/g)].map((match) => match[1]!));
  expect([...used].sort()).toEqual(Object.keys(YAML_CODES).sort());
});

test('codes are those that the reader reports, no more and no fewer', () => {
  const used = new Set<string>();
  for (const text of sources)
    for (const [, code] of text.matchAll(/\breport\(\s*[\w.]+,\s*'([a-z-]+)'/g)) used.add(`machine/${code}`);
  expect([...used].sort()).toEqual(Object.keys(MACHINE_CODES).sort());
});

test.each(pages)('%s: the invalid example shows the finding, the valid one none', (name) => {
  const page = readFileSync(`${FOLDER}/${name}`, 'utf8');
  const code = codeOf(name);
  expect(page.startsWith(`# ${code}\n\nSeverity: `)).toBe(true);
  const run = (files: Record<string, string>) =>
    readMachine('machine.yaml', { read: (path) => files[path] }, { knownCodes: Object.keys(MACHINE_CODES) }).findings;
  // A file of four million characters is no example for a page.
  if (code === 'yaml/too-large') return;
  const bad = run(example(page, 'invalid'));
  const found = bad.find((finding) => finding.code === code);
  expect(found, JSON.stringify(bad.map((finding) => finding.code))).toBeDefined();
  expect(page).toContain(`Severity: ${found!.severity}.`);
  // An example of one thing shows nothing else.
  expect([...new Set(bad.map((finding) => finding.code))]).toEqual([code]);
  const good = example(page, 'valid');
  expect(Object.keys(good)).toContain('machine.yaml');
  expect(run(good).map((finding) => `${finding.code}: ${finding.message}`)).toEqual([]);
});
