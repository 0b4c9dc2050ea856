// npm run build: bundles the program into dist/, then compiles the part records into dist/parts.json.

import { copyFileSync, mkdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { root, run } from './run.mjs';

/** The licence of the two type families goes with their files. */
function copyTypeLicences() {
  for (const cut of ['next', 'mono'])
    copyFileSync(
      join(root, 'node_modules', '@fontsource', `atkinson-hyperlegible-${cut}`, 'LICENSE'),
      join(root, 'dist', 'web', `atkinson-hyperlegible-${cut}-licence.txt`),
    );
}

/** The cuts that the record's PDF is set in. */
function copyPdfFonts() {
  const to = join(root, 'dist', 'fonts');
  mkdirSync(to, { recursive: true });
  for (const cut of ['next', 'mono'])
    for (const weight of [400, 700])
      copyFileSync(
        join(
          root,
          'node_modules',
          '@fontsource',
          `atkinson-hyperlegible-${cut}`,
          'files',
          `atkinson-hyperlegible-${cut}-latin-${weight}-normal.woff`,
        ),
        join(to, `${cut}-${weight}.woff`),
      );
}

rmSync(join(root, 'dist'), { recursive: true, force: true });
mkdirSync(join(root, 'dist'), { recursive: true });
const vite = join(root, 'node_modules', 'vite', 'bin', 'vite.js');
if (run(process.execPath, [vite, 'build'], { toStderr: true }) !== 0) process.exit(1);
if (run(process.execPath, [vite, 'build', '--config', 'vite.web.config.ts'], { toStderr: true }) !== 0) process.exit(1);
copyTypeLicences();
copyPdfFonts();
const { compileParts } = await import(join(root, 'dist', 'gen.mjs'));
const problems = compileParts(root);
if (problems.length > 0) {
  process.stderr.write(`${problems.join('\n')}\n`);
  process.exit(1);
}
writeFileSync(join(root, 'dist', 'stamp'), '');
