// The IEEE 1364 simulator of the machine that tests run on, where one is installed: Icarus Verilog, as Debian packages it.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** Whether `iverilog` and `vvp` can be run. */
export { canCapture as hasIverilog } from '../../benchmarks/bringup-source/index.ts';

/** What a Verilog text prints. Throws what the compiler or the simulator says where one fails; killed after a minute. */
export function runVerilog(
  text: string,
  options: { readonly plus?: readonly string[]; readonly top?: string } = {},
): string {
  const folder = mkdtempSync(join(tmpdir(), 'proofboard-verilog-'));
  try {
    const source = join(folder, 'bench.v');
    const program = join(folder, 'bench.vvp');
    writeFileSync(source, text);
    const top = options.top === undefined ? [] : ['-s', options.top];
    execFileSync('iverilog', ['-g2005', ...top, '-o', program, source], { stdio: ['ignore', 'pipe', 'pipe'] });
    const done = spawnSync('vvp', ['-n', program, ...(options.plus ?? [])], {
      encoding: 'utf8',
      timeout: 60_000,
      maxBuffer: 1 << 28,
    });
    if (done.status !== 0) throw new Error(`vvp ended with ${done.status ?? done.signal}: ${done.stderr}`);
    return done.stdout;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
