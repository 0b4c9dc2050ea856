import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { parse } from 'yaml';
import { figuresOf, printFiguresPage, SURENESS, surenessOf } from './figures-page.ts';
import { readPart } from './read.ts';
import type { PartRecord } from './record.ts';
import { readSecond } from './second.ts';

const record = {
  part: 'TIDE-1',
  title: 'float switch with | in its title',
  category: 'supervisor',
  package: { kind: 'dip', pins: 8, width: 300, body: { length: 9.8, width: 6.4 }, source: 'body' },
  pins: [{ number: 1, name: 'A', kind: 'input' }],
  supply: { min: 4.5, max: 5.5, source: 'sheet' },
  outputs: { default: { low: [{ volts: 0.4, at: 4 }], capacitance: 5, source: 'sheet' } },
  arcs: [{ symbol: 'tPD', kind: 'delay', max: 20, source: 'from memory' }],
  grades: { slow: { clock: { max: 1000 } } },
  facts: { 'threshold-min': 4.25, 'push-button': true },
  sources: {
    pins: 'Harbour sheet 7',
    sheet: 'Harbour sheet 7, page 2',
    body: 'from memory: about',
    facts: 'from memory',
    'facts.push-button': 'Harbour sheet 7, page 1; its time from memory',
  },
} as unknown as PartRecord;

test('each figure has the source of the nearest block that names one', () => {
  expect(figuresOf(record).map(({ what, value, sureness }) => `${what} ${value} ${sureness}`)).toEqual([
    'package body length 9.8 memory',
    'package body width 6.4 memory',
    'supply min 4.5 read',
    'supply max 5.5 read',
    'outputs default low 1 volts 0.4 read',
    'outputs default low 1 at 4 read',
    'outputs default capacitance 5 read',
    'arcs tPD max 20 memory',
    'grades slow clock max 1000 none',
    'facts threshold-min 4.25 memory',
    'facts push-button true partly',
  ]);
});

test('sources are taken at their word', () => {
  expect(surenessOf('TI SDLS057, page 3')).toBe('read');
  expect(surenessOf('From memory')).toBe('memory');
  expect(surenessOf('from memory, then checked pin by pin against TI SCLS266N')).toBe('read');
  expect(surenessOf('sheet 3; limits from memory')).toBe('partly');
  expect(surenessOf('no document: a plain header')).toBe('practice');
  expect(surenessOf(undefined)).toBe('none');
});

test('the page counts and escapes', () => {
  const page = printFiguresPage([{ record }]);
  expect(page.figures).toBe(11);
  expect(page.bySureness).toEqual({ read: 5, partly: 1, practice: 0, memory: 4, none: 1 });
  expect(page.byReadings).toEqual([0, 1, 0]);
  expect(page.text).toContain('| TIDE-1 | float switch with \\| in its title | 1 | 11 | 6 |');
  expect(page.text).toContain(
    '1 parts, 11 figures: 5 read, 1 partly from memory, 0 common practice, no document, 4 from',
  );
  expect(printFiguresPage([{ record }]).text).toBe(page.text);
});

/** Another way to the same counts: over the plain YAML, from the leaves up, by path. */
function countAgain(text: string): { all: number; memory: number } {
  const file = parse(text) as Record<string, unknown>;
  const sources = (file['sources'] ?? {}) as Record<string, string>;
  const paths: { path: string[]; leaf: unknown }[] = [];
  const list = (value: unknown, path: string[]): void => {
    if (typeof value === 'object' && value !== null)
      for (const key of Object.keys(value)) list((value as Record<string, unknown>)[key], [...path, key]);
    else paths.push({ path, leaf: value });
  };
  list(file, []);
  const byPath = new Map(paths.map(({ path, leaf }) => [path.join('\n'), leaf]));
  let all = 0;
  let memory = 0;
  for (const { path, leaf } of paths) {
    const [block, second] = path;
    const fact = block === 'facts';
    const body = block === 'package' && (second === 'body' || second === 'span');
    const figure =
      fact || body || ['supply', 'current', 'clock', 'inputs', 'outputs', 'arcs', 'grades'].includes(block!);
    if (!figure || (!fact && typeof leaf !== 'number')) continue;
    all++;
    let words: string | undefined;
    if (fact) words = sources[`facts.${second}`] ?? sources['facts'];
    else
      for (let up = path.length - 1; up > 0 && words === undefined; up--) {
        const source = byPath.get([...path.slice(0, up), 'source'].join('\n')) as string | undefined;
        if (source !== undefined) words = sources[source] ?? source;
      }
    if (words?.toLowerCase().startsWith('from memory') === true && !/checked .*against/.test(words)) memory++;
  }
  return { all, memory };
}

test('the counts over the library are those of a count of its own', () => {
  const parts = [];
  let all = 0;
  let memory = 0;
  for (const folder of readdirSync('data/parts')) {
    if (folder === 'second' || folder === 'families' || folder === 'schema') continue;
    for (const name of readdirSync(`data/parts/${folder}`).filter((file) => file.endsWith('.yaml'))) {
      const file = `data/parts/${folder}/${name}`;
      const text = readFileSync(file, 'utf8');
      const { value } = readPart(file, text);
      if (value === undefined) throw new Error(`${file} does not read`);
      const table = `data/parts/second/${name.replace('.yaml', '.txt')}`;
      const second = readSecond(table, readFileSync(table, 'utf8')).value;
      parts.push(second === undefined ? { record: value } : { record: value, second });
      const again = countAgain(text);
      expect({ file, figures: figuresOf(value).length }).toEqual({ file, figures: again.all });
      all += again.all;
      memory += again.memory;
    }
  }
  const page = printFiguresPage(parts);
  expect(page.figures).toBe(all);
  expect(page.bySureness.memory).toBe(memory);
  expect(SURENESS.reduce((sum, sureness) => sum + page.bySureness[sureness], 0)).toBe(all);
  expect(page.byReadings.reduce((sum, count) => sum + count, 0)).toBe(parts.length);
  expect(page.text).toContain(`${parts.length} parts, ${all} figures: `);
  expect(page.text).toContain(`, ${memory} from memory, `);
});
