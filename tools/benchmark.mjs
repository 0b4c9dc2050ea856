// npm run benchmark [NAME...]: runs benchmarks/NAME.ts, all of them by default. Each prints its own lines; nothing is judged.

import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { build } from 'vite';
import { root } from './run.mjs';

const folder = join(root, 'benchmarks');
const all = readdirSync(folder)
  .filter((name) => name.endsWith('.ts'))
  .map((name) => name.slice(0, -3));
const wanted = process.argv.slice(2);
const unknown = wanted.filter((name) => !all.includes(name));
if (unknown.length > 0) {
  process.stderr.write(`No benchmark ${unknown.join(', ')}; there are ${all.join(', ')}.\n`);
  process.exit(2);
}
const outDir = join(root, '.tsbuild', 'benchmarks');
for (const name of wanted.length > 0 ? wanted : all) {
  await build({
    root,
    configFile: false,
    logLevel: 'warn',
    build: { ssr: join(folder, `${name}.ts`), outDir, emptyOutDir: false, target: 'node20', minify: false },
  });
  await import(pathToFileURL(join(outDir, `${name}.js`)).href);
}
