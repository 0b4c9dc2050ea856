// The Verilog processor in 64 KiB of memory with levels at its inputs: what its pins drive, half clock by half clock.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SOURCES, VERILOG } from './chips.ts';
import { memoryText } from './images.ts';

/** Levels before an edge. */
export interface Requests {
  readonly reset: 0 | 1;
  readonly busrq: 0 | 1;
  readonly wait: 0 | 1;
  readonly int: 0 | 1;
  readonly nmi: 0 | 1;
}

/**
 * A line for each half clock, the first after the first rise: address and data in hexadecimal (z floating), /MREQ /IORQ /RD /WR, then
 * /M1 /RFSH /HALT /BUSACK.
 */
export function runRequests(memory: Uint8Array, levels: readonly Requests[]): string[] {
  const folder = mkdtempSync(join(tmpdir(), 'proofboard-requests-'));
  try {
    const program = join(folder, 'bench.vvp');
    const bench = join(VERILOG, 'z80-requests.v');
    execFileSync('iverilog', ['-g2005', '-s', 'requests', '-o', program, SOURCES[0]!, bench], { stdio: 'pipe' });
    writeFileSync(join(folder, 'memory.hex'), memoryText(memory));
    writeFileSync(
      join(folder, 'levels.txt'),
      `${levels.map(({ reset, busrq, wait, int, nmi }) => `${reset}${busrq}${wait}${int}${nmi}`).join('\n')}\n`,
    );
    const done = spawnSync(
      'vvp',
      ['-n', program, `+memory=${join(folder, 'memory.hex')}`, `+levels=${join(folder, 'levels.txt')}`],
      { encoding: 'utf8', maxBuffer: 1 << 28 },
    );
    return done.stdout.trim().split('\n');
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
