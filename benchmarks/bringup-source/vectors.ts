// Single-step vectors through the Verilog processor: a line of numbers for each, and what it should print.

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SOURCES, VERILOG } from './chips.ts';

interface State {
  readonly [register: string]: number | readonly (readonly [number, number])[];
  readonly ram: readonly (readonly [number, number])[];
}

export interface Vector {
  readonly name: string;
  readonly initial: State;
  readonly final: State;
  readonly cycles: readonly unknown[];
  readonly ports?: readonly (readonly [number, number, string])[];
}

const hex = (value: number, digits: number): string => value.toString(16).padStart(digits, '0');
const of = (state: State, names: string, digits: number): string[] =>
  names.split(' ').map((name) => hex(state[name] as number, digits));

/**
 * Runs vectors and gives a line for each that comes out otherwise: registers (WZ and bits 3 and 5 of F too), memory, ports written
 * and the number of clocks are compared.
 */
export function failingVectors(vectors: readonly Vector[]): string[] {
  const folder = mkdtempSync(join(tmpdir(), 'proofboard-vectors-'));
  try {
    const program = join(folder, 'bench.vvp');
    const bench = join(VERILOG, 'z80-vectors.v');
    execFileSync('iverilog', ['-g2005', '-s', 'vectors', '-o', program, SOURCES[0]!, bench], { stdio: 'pipe' });
    const file = join(folder, 'vectors.txt');
    writeFileSync(file, `${vectors.map(inputLine).join('\n')}\n`);
    const done = spawnSync('vvp', ['-n', program, `+file=${file}`], { encoding: 'utf8', maxBuffer: 1 << 28 });
    const lines = done.stdout.trim().split('\n');
    return vectors.flatMap((vector, k) =>
      lines[k] === outputLine(vector) ? [] : [`${vector.name}: ${lines[k]} for ${outputLine(vector)}`],
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function inputLine({ initial, final, ports }: Vector): string {
  const port = ports?.find((one) => one[2] === 'r')?.[1] ?? 0;
  return [
    ...of(initial, 'a f b c d e h l i r', 2),
    ...of(initial, 'ix iy sp pc wz', 4),
    ...of(initial, 'q iff1 iff2 im', 2),
    ...of(initial, 'af_ bc_ de_ hl_', 4),
    hex(port, 2),
    hex(initial.ram.length, 2),
    ...initial.ram.flatMap(([at, byte]) => [hex(at, 4), hex(byte, 2)]),
    hex(final.ram.length, 2),
    ...final.ram.map(([at]) => hex(at, 4)),
  ].join(' ');
}

function outputLine({ final, cycles, ports }: Vector): string {
  const out = (ports ?? []).filter((one) => one[2] === 'w');
  return [
    ...of(final, 'a f b c d e h l i r', 2),
    ...of(final, 'ix iy sp pc wz', 4),
    ...of(final, 'iff1 iff2 im', 1),
    ...of(final, 'af_ bc_ de_ hl_', 4),
    String(cycles.length),
    String(out.length),
    hex(out[0]?.[0] ?? 0, 4),
    hex(out[0]?.[1] ?? 0, 2),
    ...final.ram.map(([, byte]) => hex(byte, 2)),
  ].join(' ');
}
