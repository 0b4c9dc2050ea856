// npm run vectors and npm run flat-image: files in, verdicts out. Bundled into dist/processor-tools.mjs; a tool for those
// who work on the simulator, no part of the program's own commands.

import { readFileSync } from 'node:fs';
import { basename } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { fitImage, readImage } from '../src/format/image/index.ts';
import { PROCESSORS, type ProcessorTools, type VectorCase } from '../src/sim/index.ts';

/** Where a command writes. */
export interface ToolOutput {
  out(line: string): void;
  err(line: string): void;
}

class UsageError extends Error {}

/** Options of the form `--name value` and `--name`; anything else is an error. */
function readOptions(
  args: readonly string[],
  valued: readonly string[],
  plain: readonly string[],
): Map<string, string> {
  const options = new Map<string, string>();
  for (let k = 0; k < args.length; k++) {
    const [name, inline] = args[k]!.split('=', 2) as [string, string?];
    if (plain.includes(name) && inline === undefined) options.set(name, '');
    else if (valued.includes(name)) {
      const value = inline ?? args[++k];
      if (value === undefined) throw new UsageError(`${name} wants a value.`);
      options.set(name, value);
    } else throw new UsageError(`There is no option ${args[k]}.`);
  }
  return options;
}

function need(options: Map<string, string>, name: string): string {
  const value = options.get(name);
  if (value === undefined) throw new UsageError(`${name} is missing.`);
  return value;
}

function processorOf(options: Map<string, string>): ProcessorTools {
  const name = need(options, '--processor').toLowerCase();
  const processor = Object.hasOwn(PROCESSORS, name) ? PROCESSORS[name] : undefined;
  if (processor === undefined)
    throw new UsageError(`There is no model of ${name}; there is ${Object.keys(PROCESSORS).join(', ')}.`);
  return processor;
}

/** A number in decimal, or in hexadecimal with 0x, $ or h. */
function numberOf(text: string, name: string, most: number): number {
  const hex = /^(?:0[xX]|\$)([0-9A-Fa-f]+)$/.exec(text)?.[1] ?? /^([0-9][0-9A-Fa-f]*)[hH]$/.exec(text)?.[1];
  const value =
    hex === undefined
      ? /^[0-9_]+$/.test(text)
        ? Number(text.replaceAll('_', ''))
        : Number.NaN
      : Number.parseInt(hex, 16);
  if (!Number.isSafeInteger(value) || value > most)
    throw new UsageError(`${name} wants a number up to ${most}, not ${text}.`);
  return value;
}

function guarded(output: ToolOutput, usage: string, work: () => number): number {
  try {
    return work();
  } catch (error) {
    if (error instanceof UsageError) output.err(`${error.message}\n${usage}`);
    else if (error instanceof Error && 'code' in error) output.err(error.message);
    else throw error;
    return 2;
  }
}

const MOST_TOLD = 20;

/** Runs a file of single-step vectors: 0 when all agree, 1 when not, 2 when it cannot be run. */
export function vectors(args: readonly string[], output: ToolOutput): number {
  return guarded(output, 'vectors --processor P --file F [--cycles]', () => {
    const options = readOptions(args, ['--processor', '--file'], ['--cycles']);
    const processor = processorOf(options);
    const file = need(options, '--file');
    const bytes = readFileSync(file);
    let set: unknown;
    try {
      set = JSON.parse((bytes[0] === 0x1f && bytes[1] === 0x8b ? gunzipSync(bytes) : bytes).toString('utf8'));
    } catch (error) {
      throw new UsageError(`${file} is neither JSON nor JSON in gzip: ${(error as Error).message}`);
    }
    const groups: [string, unknown][] = Array.isArray(set) ? [['', set]] : Object.entries(set ?? {});
    let passed = 0;
    let failed = 0;
    for (const [opcode, cases] of groups) {
      if (!Array.isArray(cases)) throw new UsageError(`${file}: ${opcode} holds no list of vectors.`);
      for (const vector of cases as readonly VectorCase[]) {
        const differences =
          typeof vector === 'object' && vector !== null
            ? processor.runVector(vector, { cycles: options.has('--cycles') })
            : ['not a vector'];
        if (differences.length === 0) passed++;
        else {
          failed++;
          if (failed <= MOST_TOLD)
            output.out(`${opcode} ${String(vector?.['name'] ?? '')}: ${differences.slice(0, 4).join('; ')}`);
        }
      }
    }
    if (failed > MOST_TOLD) output.out(`${failed - MOST_TOLD} more failures are not listed.`);
    output.out(`${passed} passed, ${failed} failed`);
    return failed === 0 && passed > 0 ? 0 : 1;
  });
}

const hex = (address: number): string => `0x${address.toString(16).toUpperCase().padStart(4, '0')}`;

/** Runs an image in flat memory until the program counter stays: 0 when it does, 1 when the clocks run out, 2 on misuse. */
export function flatImage(args: readonly string[], output: ToolOutput): number {
  return guarded(output, 'flat-image --processor P --file F --load ADDR --start ADDR [--clocks N]', () => {
    const options = readOptions(args, ['--processor', '--file', '--load', '--start', '--clocks'], []);
    const processor = processorOf(options);
    const file = need(options, '--file');
    const load = numberOf(need(options, '--load'), '--load', 0xffff);
    const start = numberOf(need(options, '--start'), '--start', 0xffff);
    const clocks = numberOf(options.get('--clocks') ?? '100000000000', '--clocks', Number.MAX_SAFE_INTEGER);
    // Bare bytes begin at --load; records have addresses of their own, and --load is not used for them.
    const image = readImage(readFileSync(file), basename(file), load);
    const memory = fitImage(image.value, { address: 0, size: 0x10000, fill: 0 }, basename(file));
    const findings = [...image.findings, ...memory.findings];
    for (const finding of findings) output.err(`${finding.severity}: ${finding.message} [${finding.code}]`);
    if (findings.some((finding) => finding.severity === 'error')) return 2;
    const run = processor.runFlat(memory.value, start, clocks);
    output.out(`${run.stopped ? 'stopped' : 'still running'} at ${hex(run.at)} after ${run.clocks} clocks`);
    return run.stopped ? 0 : 1;
  });
}
