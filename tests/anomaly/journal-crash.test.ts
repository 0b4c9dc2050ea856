// Kills programs that append to one journal, several at once, at random moments, over and over: no record that was
// acknowledged may be lost, whatever half lines the killed ones left. PROOFBOARD_KILLS sets how many are killed.

import { type ChildProcess, spawn } from 'node:child_process';
import { appendFileSync, mkdtempSync, readFileSync, rmSync, statSync, truncateSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { build } from 'vite';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { readJournal } from '../../src/stage/index.ts';

const KILLS = Number(process.env.PROOFBOARD_KILLS ?? 200);
const AT_ONCE = 5;
const folder = mkdtempSync(join(tmpdir(), 'proofboard-journal-'));
const writer = join(folder, 'journal-writer.mjs');

beforeAll(async () => {
  await build({
    configFile: false,
    logLevel: 'silent',
    ssr: { noExternal: true },
    build: {
      ssr: resolve('tests/support/journal-writer.ts'),
      outDir: folder,
      emptyOutDir: false,
      rolldownOptions: { output: { entryFileNames: 'journal-writer.mjs' } },
    },
  });
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Running {
  readonly child: ChildProcess;
  readonly acknowledged: string[];
  readonly ended: Promise<void>;
  readonly started: Promise<void>;
}

function start(file: string, name: string): Running {
  const child = spawn(process.execPath, [writer, file, name], { stdio: ['ignore', 'pipe', 'inherit'] });
  const acknowledged: string[] = [];
  let rest = '';
  let begun = (): void => {};
  const started = new Promise<void>((done) => {
    begun = done;
  });
  child.stdout!.on('data', (chunk: Buffer) => {
    const lines = (rest + chunk.toString('latin1')).split('\n');
    rest = lines.pop()!;
    acknowledged.push(...lines);
    begun();
  });
  const ended = new Promise<void>((done) => {
    child.on('close', () => {
      begun();
      done();
    });
  });
  return { child, acknowledged, ended, started };
}

test(`${KILLS} writers killed at random moments lose no acknowledged record`, async () => {
  const rng = createRng(1);
  const file = join(folder, 'journal.jsonl');
  const acknowledged = new Set<string>();
  let killed = 0;
  let halves = 0;
  while (killed < KILLS) {
    const running = Array.from({ length: AT_ONCE }, (_, i) => start(file, `w${killed + i}`));
    await running[0]!.started;
    for (const one of running) {
      await new Promise((done) => setTimeout(done, rng.below(12)));
      expect(one.child.exitCode).toBeNull(); // it must be the kill that ends it
      one.child.kill('SIGKILL');
      killed++;
    }
    await Promise.all(running.map((one) => one.ended));
    for (const one of running) for (const id of one.acknowledged) acknowledged.add(id);
    // What a kill inside the disk would leave: now and then the last line, unacknowledged, is cut.
    const cut = rng.below(3);
    if (cut === 0) appendFileSync(file, '{"id":"0123456789","format":1,"ti');
    if (cut === 1) {
      appendFileSync(file, '{"id":"0123456789","format":1}\n');
      truncateSync(file, statSync(file).size - 1 - rng.below(20));
    }
    if (cut < 2) halves++;
    const { value } = readJournal(file, readFileSync(file, 'utf8'), { machine: 'Railway signal box', build: 'first' });
    expect(value.refused).toBe(false);
    const there = new Set(value.records.map((record) => record.id));
    const lost = [...acknowledged].filter((id) => !there.has(id));
    expect(lost).toEqual([]);
  }
  expect(acknowledged.size).toBeGreaterThan(KILLS);
  expect(halves).toBeGreaterThan(0);
});
