// npm run gen: writes the files that are made from code (schemas, pages). With --check it only says which are out of date.

import { join } from 'node:path';
import { buildMissing, root } from './run.mjs';

buildMissing();
const { generate } = await import(join(root, 'dist', 'gen.mjs'));
process.exit(generate(root, process.argv.includes('--check')) ? 0 : 1);
