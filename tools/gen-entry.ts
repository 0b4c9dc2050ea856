// Compiles part records and writes generated files. Bundled into dist/gen.mjs; part of the tool's own making, not shipped code.

import { existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { makeLightFirmware, makeTideFirmware } from '../src/firmware/demos/index.ts';
import { makeZ80SelfTest } from '../src/firmware/z80/index.ts';
import { writeIntelHex } from '../src/format/intel-hex/index.ts';
import { BoardsFileSchema } from '../src/board/index.ts';
import { machineJsonSchema } from '../src/machine/index.ts';
import {
  checkLibrary,
  type FamilyRecord,
  type PartRecord,
  PartRecordSchema,
  printFiguresPage,
  readFamily,
  readPart,
  readSecond,
} from '../src/parts/index.ts';
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

interface LoadedData {
  readonly parts: { readonly file: string; readonly record: PartRecord }[];
  readonly families: FamilyRecord[];
  /** What is wrong with the data, as lines. */
  readonly problems: string[];
}

/** Reads every record and family of data/parts. */
function loadData(root: string): LoadedData {
  const data: LoadedData = { parts: [], families: [], problems: [] };
  for (const path of yamlFiles(join(root, 'data', 'parts'))) {
    const file = path.slice(root.length + 1).replaceAll('\\', '/');
    const text = readFileSync(path, 'utf8');
    const isFamily = file.startsWith('data/parts/families/');
    const reading = isFamily ? readFamily(file, text) : readPart(file, text);
    for (const finding of reading.findings) {
      if (finding.severity === 'error') data.problems.push(`${file}: ${finding.message} [${finding.code}]`);
    }
    if (reading.value === undefined) continue;
    if (isFamily) data.families.push(reading.value as FamilyRecord);
    else data.parts.push({ file, record: reading.value as PartRecord });
  }
  for (const finding of checkLibrary(data.parts, data.families))
    data.problems.push(`${finding.where[0]?.file ?? ''}: ${finding.message} [${finding.code}]`);
  return data;
}

/** Reads every record, family and block into dist/parts.json; returns what is wrong with them, as lines. */
export function compileParts(root: string): string[] {
  const { parts, families, problems } = loadData(root);
  const files: Record<string, string> = {};
  const blocks = join(root, 'data', 'blocks');
  for (const path of yamlFiles(blocks))
    files[`shipped:blocks/${path.slice(blocks.length + 1).replaceAll('\\', '/')}`] = readFileSync(path, 'utf8');
  writeFileSync(
    join(root, 'dist', 'parts.json'),
    JSON.stringify({ parts: parts.map((part) => part.record), families, files }),
  );
  return problems;
}

/** The page of all figures with their sources, from the records and their second tables. */
function figuresPage(root: string): string {
  const second = join(root, 'data', 'parts', 'second');
  return printFiguresPage(
    loadData(root).parts.map(({ file, record }) => {
      const path = join(
        second,
        `${file
          .split('/')
          .pop()!
          .replace(/\.yaml$/, '')}.txt`,
      );
      const table = existsSync(path) ? readSecond(path, readFileSync(path, 'utf8')).value : undefined;
      return { record, ...(table === undefined ? {} : { second: table }) };
    }),
  ).text;
}

/** Firmware of the demonstration projects, as Intel HEX. */
function firmware(): [string, string][] {
  const image = (bytes: Uint8Array): string => writeIntelHex({ blocks: [{ address: 0, bytes }] });
  const tide = 'projects/tide-clerk/firmware';
  const test = makeZ80SelfTest({ romSize: 0x8000, ram: { address: 0x8000, size: 0x8000 } });
  return [
    [`${tide}/tide.hex`, image(makeTideFirmware().bytes)],
    [`${tide}/self-test.hex`, image(test.bytes)],
    ['projects/light-keeper/firmware/light.hex', image(makeLightFirmware().bytes)],
    ['projects/light-keeper/firmware/self-test.hex', image(test.bytes)],
  ];
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
    ['docs/parts.md', figuresPage(root)],
    ['data/schema/machine.schema.json', json(machineJsonSchema())],
    ['data/schema/part.schema.json', json(PartRecordSchema)],
    ['data/schema/stock.schema.json', json(StockSchema)],
    ['data/schema/boards.schema.json', json(BoardsFileSchema)],
    ['docs/findings/README.md', findingIndex(pages)],
    ...firmware(),
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
