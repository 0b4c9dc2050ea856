// npm run vectors -- --processor P --file F [--cycles]: runs a file of single-step vectors against a processor model. The last
// line is `N passed, N failed`.

import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { buildMissing, root } from './run.mjs';

buildMissing();
const { vectors } = await import(pathToFileURL(join(root, 'dist', 'processor-tools.mjs')).href);
process.exitCode = vectors(process.argv.slice(2), {
  out: (line) => process.stdout.write(`${line}\n`),
  err: (line) => process.stderr.write(`${line}\n`),
});
