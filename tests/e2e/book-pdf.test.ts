// The record as a PDF file, read back by another program's reader: every wire, hole and step is on paper, labels are at true
// scale, photos are in it, and the same record gives the same bytes.

import { execFileSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { extractText, getDocumentProxy } from 'unpdf';
import { afterAll, beforeAll, expect, test } from 'vitest';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
let home: string;
let project: string;

const run = (...args: string[]): string => execFileSync(process.execPath, [bin, ...args], { encoding: 'utf8' });
beforeAll(() => {
  home = mkdtempSync(join(tmpdir(), 'proofboard-pdf-'));
  project = join(home, 'demo');
  cpSync('projects/tide-clerk', project, { recursive: true });
  run('parts', 'Z80', '--json'); // builds what is missing, once
}, 240_000);
afterAll(() => rmSync(home, { recursive: true, force: true }));

/** A PNG of one grey pixel (PNG specification, third edition): signature, IHDR, IDAT, IEND. */
const PIXEL = Buffer.from(
  'iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR42mNoAAAAggCByxOyYQAAAABJRU5ErkJggg==',
  'base64',
);

test('what stands in the layout, the plan and the journal stands in the PDF', async () => {
  writeFileSync(join(home, 'bench.png'), PIXEL);
  run('photo', join(home, 'bench.png'), '--text', 'the boards before the first wire', '--project', project);
  run('note', 'rain on the roof', '--project', project);
  const value = JSON.parse(run('book', project, '--json')).value as { files: string[] };
  expect(value.files).toContain('builds/first/book/book.pdf');
  const file = readFileSync(join(project, 'builds/first/book/book.pdf'));
  expect(file.subarray(0, 8).toString('latin1')).toBe('%PDF-1.7');

  const pdf = await getDocumentProxy(new Uint8Array(file));
  const { text } = await extractText(pdf, { mergePages: true });
  const said = text.replace(/\s+/g, ' ');
  const laid = JSON.parse(readFileSync(join(project, 'builds/first/layout.json'), 'utf8')) as {
    wires: { id: string; until?: number }[];
  };
  // What a later stage takes out is in no list of the finished machine; it stands among the steps.
  const stay = laid.wires.filter((wire) => wire.until === undefined);
  expect(stay.length).toBeGreaterThan(150);
  for (const wire of stay) expect(said.includes(wire.id), wire.id).toBe(true);
  const steps = JSON.parse(run('steps', project, '--json')).value.steps as { id: string }[];
  expect(steps.length).toBeGreaterThan(200);
  for (const step of steps) expect(said.includes(step.id), step.id).toBe(true);
  for (const words of ['Before the power', 'Wire list', 'Cut sheet', 'Chip labels at true scale', 'rain on the roof'])
    expect(said.includes(words), words).toBe(true);
  expect(file.toString('latin1')).toContain('/Subtype /Image');

  // Upright A4 for words, in points (ISO 216: 210 mm by 297 mm).
  const [, , width, height] = (await pdf.getPage(1)).view as [number, number, number, number];
  expect(width).toBeCloseTo((210 / 25.4) * 72, 1);
  expect(height).toBeCloseTo((297 / 25.4) * 72, 1);
  const outline = (await pdf.getOutline()).map((item: { title: string }) => item.title);
  expect(outline).toEqual([
    'Before the power',
    'Boards',
    'Findings',
    'Parts',
    'Who answers where',
    'Steps',
    'Wire list',
    'Cut sheet',
    'Journal',
    'Chip labels at true scale',
  ]);

  run('book', project, '--out', join(home, 'again'));
  expect(readFileSync(join(home, 'again', 'book.pdf')).equals(file)).toBe(true);
}, 120_000);
