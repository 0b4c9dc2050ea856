// npm run flat-image -- --processor P --file F --load ADDR --start ADDR [--clocks N]: runs an image in 64 KiB of flat memory
// until the program counter stays, and says where and when.

import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { buildMissing, root } from './run.mjs';

buildMissing();
const { flatImage } = await import(pathToFileURL(join(root, 'dist', 'processor-tools.mjs')).href);
process.exitCode = flatImage(process.argv.slice(2), {
  out: (line) => process.stdout.write(`${line}\n`),
  err: (line) => process.stderr.write(`${line}\n`),
});
