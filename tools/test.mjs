// npm test: installs what is missing, then lint, types, and every suite; ends with `N passed, N failed[, N skipped]`.

import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { buildMissing, installMissing, root, run } from './run.mjs';

installMissing();
const bin = (name) => join(root, 'node_modules', '.bin', name);
let passed = 0;
let failed = 0;
let skipped = 0;
const gate = (name, ok) => {
  process.stdout.write(`${ok ? 'pass' : 'FAIL'}  ${name}\n`);
  if (ok) passed++;
  else failed++;
};
gate('lint and format', run(bin('biome'), ['check', '--error-on-warnings']) === 0);
gate('types', run(bin('tsc'), ['-b']) === 0);
buildMissing();
if (existsSync(join(root, 'tools', 'gen.mjs')))
  gate('generated files are up to date', run(process.execPath, ['tools/gen.mjs', '--check']) === 0);
const folder = mkdtempSync(join(tmpdir(), 'proofboard-test-'));
const report = join(folder, 'report.json');
const code = run(
  bin('vitest'),
  [
    'run',
    '--reporter=default',
    '--silent=passed-only',
    '--reporter=json',
    `--outputFile.json=${report}`,
    ...process.argv.slice(2),
  ],
  { env: { NO_COLOR: '1', FORCE_COLOR: '0' } },
);
if (existsSync(report)) {
  const json = JSON.parse(readFileSync(report, 'utf8'));
  passed += json.numPassedTests;
  failed += json.numFailedTests;
  skipped += json.numPendingTests + (json.numTodoTests ?? 0);
  // A suite that fails to load has no tests to count.
  const broken = json.testResults.filter(
    (suite) => suite.status === 'failed' && suite.assertionResults.length === 0,
  ).length;
  failed += broken;
}
if (code !== 0 && failed === 0) failed++;
rmSync(folder, { recursive: true, force: true });
process.stdout.write(`\n${passed} passed, ${failed} failed${skipped > 0 ? `, ${skipped} skipped` : ''}\n`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
