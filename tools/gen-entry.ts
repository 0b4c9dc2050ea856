// Compiles part records and writes generated files. Bundled into dist/gen.mjs; part of the tool's own making, not shipped code.

import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { machineJsonSchema } from '../src/machine/index.ts';
import { PartRecordSchema, readFamily, readPart } from '../src/parts/index.ts';
import { StockSchema } from '../src/stock/index.ts';
import { findingIndex } from './finding-index.ts';

function yamlFiles(folder: string): string[] {
  if (!existsSync(folder)) return [];
  return readdirSync(folder)
    .sort()
    .flatMap((name) => {
      const path = join(folder, name);
      if (statSync(path).isDirectory()) return yamlFiles(path);
      return name.endsWith('.yaml') ? [path] : [];
    });
}

/** Reads every record, family and block into dist/parts.json; returns what is wrong with them, as lines. */
export function compileParts(root: string): string[] {
  const problems: string[] = [];
  const parts: unknown[] = [];
  const families: unknown[] = [];
  for (const path of yamlFiles(join(root, 'data', 'parts'))) {
    const name = path.slice(root.length + 1).replaceAll('\\', '/');
    const text = readFileSync(path, 'utf8');
    const isFamily = name.startsWith('data/parts/families/');
    const reading = isFamily ? readFamily(name, text) : readPart(name, text);
    for (const finding of reading.findings) {
      if (finding.severity === 'error') problems.push(`${name}: ${finding.message} [${finding.code}]`);
    }
    if (reading.value !== undefined) (isFamily ? families : parts).push(reading.value);
  }
  const files: Record<string, string> = {};
  const blocks = join(root, 'data', 'blocks');
  for (const path of yamlFiles(blocks))
    files[`shipped:blocks/${path.slice(blocks.length + 1).replaceAll('\\', '/')}`] = readFileSync(path, 'utf8');
  writeFileSync(join(root, 'dist', 'parts.json'), JSON.stringify({ parts, families, files }));
  return problems;
}

/** Files made from code, by path. */
function generated(root: string): Map<string, string> {
  const json = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`;
  const findings = join(root, 'docs', 'findings');
  const pages = new Map(
    readdirSync(findings)
      .filter((name) => name.endsWith('.md') && name !== 'README.md')
      .map((name) => [name, readFileSync(join(findings, name), 'utf8')]),
  );
  return new Map([
    ['data/schema/machine.schema.json', json(machineJsonSchema())],
    ['data/schema/part.schema.json', json(PartRecordSchema)],
    ['data/schema/stock.schema.json', json(StockSchema)],
    ['docs/findings/README.md', findingIndex(pages)],
  ]);
}

/** Writes the generated files, or with `check` reports those that differ. True when all is well. */
export function generate(root: string, check: boolean): boolean {
  let fine = true;
  for (const [name, text] of generated(root)) {
    const path = join(root, name);
    const before = existsSync(path) ? readFileSync(path, 'utf8') : undefined;
    if (before === text) continue;
    if (check) {
      process.stdout.write(`${name} is out of date: run npm run gen\n`);
      fine = false;
    } else {
      mkdirSync(dirname(path), { recursive: true });
      writeFileSync(path, text);
      process.stdout.write(`wrote ${name}\n`);
    }
  }
  return fine;
}
