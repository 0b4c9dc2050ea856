// The table is the rule: every import edge between the folders of src must be listed here, and the core may not use a
// clock, randomness or anything else of the machine it runs on.

import { readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join, relative, resolve } from 'node:path';
import { expect, test } from 'vitest';

const MAY: Readonly<Record<string, readonly string[]>> = {
  base: [],
  yaml: ['base', 'pkg:yaml', 'pkg:typebox'],
  format: ['base'],
  parts: ['base', 'yaml', 'pkg:typebox'],
  machine: ['base', 'yaml', 'pkg:typebox'],
  netlist: ['base', 'parts', 'machine'],
  check: ['base', 'parts', 'machine', 'netlist'],
  margins: ['base', 'parts', 'netlist'],
  decode: ['base', 'parts', 'netlist', 'format'],
  board: ['base', 'parts', 'netlist', 'yaml', 'pkg:typebox'],
  stage: ['base', 'parts', 'netlist', 'board'],
  stock: ['base', 'yaml', 'parts', 'netlist', 'pkg:typebox'],
  sim: ['base', 'parts', 'netlist', 'format'],
  firmware: ['base', 'format'],
  bringup: ['base', 'parts', 'netlist', 'board', 'sim', 'format'],
  drawing: ['base', 'parts', 'netlist', 'board', 'stage', 'decode', 'margins', 'sim', 'bringup', 'pkg:saxes'],
  book: ['base', 'parts', 'netlist', 'board', 'stage', 'drawing', 'decode', 'margins'],
  app: [
    'base',
    'yaml',
    'format',
    'parts',
    'machine',
    'netlist',
    'check',
    'margins',
    'decode',
    'board',
    'stage',
    'stock',
    'sim',
    'firmware',
    'bringup',
    'drawing',
    'book',
  ],
  cli: ['app', 'base', 'server', 'node', 'pkg:commander', 'pkg:pdfkit'],
  server: ['app', 'base', 'node', 'pkg:fastify', 'pkg:selfsigned', 'pkg:ws'],
  web: [
    'app',
    'drawing',
    'base',
    'pkg:preact',
    'pkg:@preact/signals',
    'pkg:@codemirror/autocomplete',
    'pkg:@codemirror/commands',
    'pkg:@codemirror/lang-yaml',
    'pkg:@codemirror/language',
    'pkg:@codemirror/lint',
    'pkg:@codemirror/search',
    'pkg:@codemirror/state',
    'pkg:@codemirror/view',
    'pkg:@fontsource/atkinson-hyperlegible-mono',
    'pkg:@fontsource/atkinson-hyperlegible-next',
    'pkg:@lezer/highlight',
    'pkg:@xterm/xterm',
    'pkg:uqr',
  ],
};
const HOSTS = new Set(['cli', 'server', 'web']);
/** Things of the host machine that the compiler lets the core reach all the same. */
const IMPURE = /\b(?:Date\s*\.\s*now|new Date\b|Math\s*\.\s*random|performance\s*\.|globalThis\b|eval\s*\()/;

const root = resolve('src');
const walk = (folder: string): string[] =>
  readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    if (statSync(path).isDirectory()) return walk(path);
    return /\.tsx?$/.test(name) && !/\.d\.ts$/.test(name) && !/\.test\.tsx?$/.test(name) ? [path] : [];
  });
const layerOf = (path: string): string => relative(root, path).split(/[\\/]/)[0]!;

const files = walk(root);

test('imports follow the layer table and enter a folder by its index only', () => {
  const bad: string[] = [];
  for (const file of files) {
    const from = layerOf(file);
    const allowed = MAY[from];
    if (allowed === undefined) {
      bad.push(`${relative(root, file)} is in no layer of the table`);
      continue;
    }
    for (const match of readFileSync(file, 'utf8').matchAll(/(?:\bfrom|\bimport)\s*\(?\s*['"]([^'"\s]+)['"]/g)) {
      const target = match[1]!;
      let to: string;
      if (target.startsWith('.')) {
        const path = resolve(dirname(file), target);
        to = layerOf(path);
        if (to !== from && !/[\\/]index\.tsx?$/.test(path))
          bad.push(`${relative(root, file)} enters ${to} past its index: ${target}`);
      } else if (target.startsWith('node:')) to = 'node';
      else to = `pkg:${target.startsWith('@') ? target.split('/').slice(0, 2).join('/') : target.split('/')[0]}`;
      if (to !== from && !allowed.includes(to)) bad.push(`${relative(root, file)} -> ${target}`);
    }
  }
  expect(files.length).toBeGreaterThan(15); // a walker that finds nothing must not pass
  expect(bad).toEqual([]);
});

test('the core has no clock, no randomness and no globals of its host', () => {
  const bad = files
    .filter((file) => !HOSTS.has(layerOf(file)))
    .filter((file) => IMPURE.test(readFileSync(file, 'utf8').replace(/\/\/.*$|\/\*[\s\S]*?\*\//gm, '')))
    .map((file) => relative(root, file));
  expect(bad).toEqual([]);
});
