#!/usr/bin/env node
// The program. In a clone it first builds what is missing; an installed package comes built.

import { existsSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '..');
if (existsSync(join(root, 'src')) && existsSync(join(root, 'tools', 'run.mjs'))) {
  const { buildMissing } = await import(pathToFileURL(join(root, 'tools', 'run.mjs')).href);
  buildMissing();
}
// Whoever reads the output may stop reading, as `head` does; that is no failure.
process.stdout.on('error', (error) => {
  if (error.code !== 'EPIPE') throw error;
  process.exit();
});
const { main } = await import(pathToFileURL(join(root, 'dist', 'cli.mjs')).href);
process.exitCode = await main(process.argv.slice(2), root);
