// The skeletons: complete, and refused until they are filled in.

import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { readPart, readSecond } from '../../src/parts/index.ts';

test('a new part and a new check are whole and fail until filled', () => {
  const folder = mkdtempSync(join(tmpdir(), 'proofboard-new-'));
  try {
    for (const path of ['tools', 'src/check', 'data/parts/logic'])
      cpSync(path, join(folder, path), { recursive: true });
    const run = (...args: string[]): number | null =>
      spawnSync(process.execPath, [join(folder, 'tools/new.mjs'), ...args], { cwd: folder }).status;
    expect(run('part', 'logic', '74x999')).toBe(0);
    const record = readPart('new', readFileSync(join(folder, 'data/parts/logic/74x999.yaml'), 'utf8'));
    expect(record.findings.filter((finding) => finding.severity === 'error').length).toBeGreaterThan(0);
    const second = readSecond('new', readFileSync(join(folder, 'data/parts/second/74x999.txt'), 'utf8'));
    expect(second.findings.length).toBeGreaterThan(0);
    expect(run('part', 'logic', '74x999')).toBe(2);
    expect(run('part', 'nowhere', 'X')).toBe(2);
    expect(run('check', 'no-such-thing')).toBe(0);
    expect(readFileSync(join(folder, 'src/check/rules.ts'), 'utf8')).toContain(
      "import { noSuchThing } from './rules/no-such-thing.ts';",
    );
    expect(readFileSync(join(folder, 'docs/findings/check-no-such-thing.md'), 'utf8')).toContain('## Wrong');
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
});
