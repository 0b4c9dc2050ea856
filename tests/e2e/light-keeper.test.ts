// The light keeper, a Z80 with PIO, CTC, 6850, digits, keys, a one-shot and a display, run from its own boards with its own
// firmware: each stage shows what it is to prove. By the program as built, for it runs a machine's seconds in a few of ours.

import { spawnSync } from 'node:child_process';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');

interface Run {
  readonly value: {
    readonly from: string;
    readonly terminal: string;
    readonly proofs: readonly { readonly proof: string; readonly predicted: string; readonly pass: boolean | null }[];
  };
  readonly findings: readonly { readonly code: string; readonly message: string }[];
}

const run = (stage: number): Run => {
  const ran = spawnSync(
    process.execPath,
    [bin, 'run', 'projects/light-keeper', '--stage', `${stage}`, '--clocks', '400000', '--json'],
    { encoding: 'utf8' },
  );
  expect(ran.stderr).toBe('');
  return JSON.parse(ran.stdout) as Run;
};

test.each([
  [1, '/reset is low for 400.0 ms'],
  [2, 'baud-clock swings at 614400 Hz'],
  [5, 'the terminal says "LIGHT 1, ALL WELL'],
  [6, 'TICK COMES'],
  [7, 'the digits show "4711"'],
  [8, 'KEY #'],
  [9, '/lamp is low; shines is high'],
  [10, 'LIGHT 1 FL2 10S'],
])(
  'stage %i shows what it is to prove',
  (stage, predicted) => {
    const { value, findings } = run(stage);
    expect(value.from).toBe('boards');
    expect(findings.map(({ message }) => message)).toEqual([]);
    expect(value.proofs.map(({ pass }) => pass)).toEqual(value.proofs.map(() => true));
    expect(value.proofs.map((proof) => proof.predicted).join('; ')).toContain(predicted);
  },
  120_000,
);
