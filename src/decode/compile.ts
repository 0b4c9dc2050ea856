// From what is wanted to a proved fuse file: fit, write, read the written text back, run its vectors, prove it equal. Nothing
// leaves here that was not read back.

import { type Finding, foldName, type Result } from '../base/index.ts';
import { readJesd3 } from '../format/jesd3/index.ts';
import { adviseMisfit, type FitOutcome, findFit } from './advise.ts';
import { DECODE_CODES, type DecodeCode } from './codes.ts';
import { popCount } from './cover.ts';
import type { DeviceMode, DeviceName } from './devices.ts';
import { divideOutputs } from './divide.ts';
import { type Explained, type ExplainedOutput, explainFuses } from './explain.ts';
import type { Fitted, PinTie } from './fit.ts';
import { makeVectors } from './make-vectors.ts';
import { type Difference, type Proof, proveDevice } from './prove.ts';
import { type DeviceRequest, readStated } from './request.ts';
import { runVectors, type VectorOptions } from './vectors.ts';
import { makeFuses, writeFuseFile } from './write.ts';

/** What a pin of the compiled device is for. */
export interface PinUse {
  readonly pin: number;
  readonly use: 'input' | 'output' | 'clock' | 'enable' | 'tied' | 'spare' | 'ground' | 'supply';
  /** The signal on it, or undefined. */
  readonly name: string | undefined;
  /** The level it must be tied to, for `tied`. */
  readonly level?: 0 | 1;
}

/** An output as explained from the written file, with what it is for and how full its cell is. */
export interface CompiledOutput extends ExplainedOutput {
  readonly net: string;
  readonly room: number;
  /** True where no sum of products with fewer terms does the same in this polarity. */
  readonly isProvedMinimal: boolean;
  /** Passes through the array from an input to this pin: 1, or more where it reads another combinational output. */
  readonly passes: number;
}

export interface Compiled {
  readonly device: DeviceName;
  readonly mode: DeviceMode;
  /** The fuse file, ASCII. */
  readonly text: string;
  readonly fuses: Uint8Array;
  /** The fuse checksum, by which a programmed device is known. */
  readonly checksum: number;
  /** Every pin, in order. */
  readonly pins: readonly PinUse[];
  readonly outputs: readonly CompiledOutput[];
  readonly ties: readonly PinTie[];
  /** Inputs that turned out not to matter and have no pin. */
  readonly unusedInputs: readonly string[];
  readonly vectors: { readonly count: number; readonly sought: number; readonly unreached: number };
  readonly proof: Proof;
  readonly explained: Explained;
}

/** Compiles, or says why not. Where the result is undefined no file may be used. */
export function compileDevice(request: DeviceRequest): Result<Compiled | undefined> {
  const options = request.pinCost === undefined ? {} : { pinCost: request.pinCost };
  const { outcome, findings } = findFit(request, options);
  if (outcome === undefined) return { value: undefined, findings };
  if (!('fitted' in outcome)) return { value: undefined, findings: [...findings, misfit(request, outcome)] };
  const { fitted } = outcome;
  const fuses = makeFuses(fitted, request.signature);
  const made = makeVectors(fitted, request.visit);
  const text = writeFuseFile(fitted, fuses, headingOf(request, fitted), made.vectors);
  const back = readBack(text, request, fitted);
  const all = [...findings, ...back.findings];
  if (back.value === undefined) return { value: undefined, findings: all };
  const { explained, proof, checksum } = back.value;
  const unusedInputs = fitted.goals.inputs
    .filter((_, variable) => fitted.pins[variable] === 0)
    .map((input) => input.name);
  const note = (code: DecodeCode, message: string, about: readonly string[]): void => {
    const where = request.span === undefined ? [] : [request.span];
    all.push({ code, severity: DECODE_CODES[code].severity, message, where, notes: [], about });
  };
  for (const name of unusedInputs)
    note('decode/unused-input', `${name} does not matter to any output and gets no pin.`, [name]);
  for (const tie of fitted.ties) all.push(tieFinding(tie, request));
  const unproved = fitted.outputs.filter((output) => !output.isProvedMinimal).map((output) => output.goal.name);
  if (unproved.length > 0)
    note(
      'decode/not-proved-minimal',
      `Whether fewer terms would do is not proved for ${unproved.join(', ')}.`,
      unproved,
    );
  const value: Compiled = {
    device: request.device,
    mode: fitted.view.mode,
    text,
    fuses,
    checksum,
    pins: pinUses(fitted),
    outputs: compiledOutputs(fitted, explained),
    ties: fitted.ties,
    unusedInputs,
    vectors: { count: made.vectors.length, sought: made.sought, unreached: made.unreached },
    proof,
    explained,
  };
  return { value, findings: all };
}

/** Outputs beyond which no division is tried. */
const MOST_DIVIDED = 32;

/** What is over, what would make it fit, and how it would be divided among several devices. */
function misfit(request: DeviceRequest, outcome: Exclude<FitOutcome, { fitted: Fitted }>): Finding {
  const advice = adviseMisfit(request, outcome.misfits, outcome.ways);
  const count = request.outputs.length;
  const shares = count > 1 && count <= MOST_DIVIDED ? divideOutputs(request) : undefined;
  if (shares === undefined || shares.length < 2) return advice;
  const which = ['first', 'second', 'third', 'fourth'];
  const text = `It fits into ${shares.length} of them: ${shares
    .map((one, k) => `${one.outputs.map((output) => output.name).join(', ')} in the ${which[k]}`)
    .join('; ')}.`;
  return { ...advice, help: `${advice.help ?? ''} ${text}`.trim() };
}

function tieFinding(tie: PinTie, request: DeviceRequest): Finding {
  return {
    code: 'decode/pin-tied',
    severity: DECODE_CODES['decode/pin-tied'].severity,
    message: `Pin ${tie.pin} must be tied ${tie.level === 1 ? 'high' : 'low'}: ${tie.why}.`,
    where: request.span === undefined ? [] : [request.span],
    notes: [],
    help: 'Tie it; left open it may take any level.',
    about: [`pin ${tie.pin}`],
  };
}

/** Reads the written text as if someone else had made it, runs its vectors and proves it. */
function readBack(
  text: string,
  request: DeviceRequest,
  fitted: Fitted,
): Result<{ explained: Explained; proof: Proof; checksum: number } | undefined> {
  const bytes = Uint8Array.from(text, (character) => character.charCodeAt(0));
  const file = readJesd3(bytes, 'written file');
  const explained = explainFuses(file.value.fuses, request.device);
  const findings: Finding[] = [];
  const fail = (message: string, notes: readonly string[]): Result<undefined> => {
    findings.push({
      code: 'decode/proof-failed',
      severity: DECODE_CODES['decode/proof-failed'].severity,
      message,
      where: request.span === undefined ? [] : [request.span],
      notes: notes.map((note) => ({ text: note })),
      help: 'This is a mistake of the program, not of the design. No file is written; please report it.',
    });
    return { value: undefined, findings };
  };
  const troubles = [...file.findings, ...explained.findings.filter((finding) => finding.severity !== 'note')];
  if (explained.value === undefined)
    return fail(
      'The written file cannot be read back.',
      troubles.map((one) => one.message),
    );
  if (file.findings.length > 0)
    return fail(
      'The written file is not clean.',
      troubles.map((one) => one.message),
    );
  for (const finding of explained.findings)
    findings.push(request.span === undefined ? finding : { ...finding, where: [request.span] });
  const pins = pinMap(fitted);
  const run = runVectors(explained.value, file.value.vectors);
  if (run.value.failures.length > 0)
    return fail(
      'The vectors fail on the fuses just written.',
      run.value.failures.slice(0, 5).map((one) => one.message),
    );
  const clock = request.clock;
  const proof = proveDevice({ stated: fitted.goals.stated, clock, pins, explained: explained.value });
  if (!proof.isEqual)
    return fail('The written file does not do what was asked.', [
      ...proof.mismatches.slice(0, 5),
      ...proof.differences.slice(0, 5).map((one) => differenceText(one, pins.keys())),
    ]);
  return { value: { explained: explained.value, proof, checksum: file.value.fuseSum.computed }, findings };
}

/** One difference as a sentence; `names` are the signals as they are written, case included. */
export function differenceText(difference: Difference, names: Iterable<string> = []): string {
  const shown = new Map([...names].map((name) => [foldName(name), name]));
  const at = Object.entries(difference.at)
    .map(([name, level]) => `${shown.get(name) ?? name} ${level === 1 ? 'high' : 'low'}`)
    .join(', ');
  const { what, wanted, found, pin, output } = difference;
  const level = (value: 0 | 1): string =>
    what === 'level' ? (value === 1 ? 'high' : 'low') : value === 1 ? `in force (${what})` : `not in force (${what})`;
  return `${output} on pin ${pin} should be ${level(wanted)} and is ${level(found)} with ${at || 'anything'}.`;
}

/** Pin of every signal that has one. */
function pinMap(fitted: Fitted): Map<string, number> {
  const pins = new Map<string, number>();
  for (const [variable, name] of fitted.goals.names.entries())
    if (fitted.pins[variable]! > 0) pins.set(name, fitted.pins[variable]!);
  return pins;
}

function headingOf(request: DeviceRequest, fitted: Fitted): string {
  const lines = [
    request.title ?? 'Logic device',
    `Device ${request.device}${request.grade === undefined ? '' : ` ${request.grade}`}`,
  ];
  if (fitted.view.mode !== 'cells') lines.push(`Mode ${fitted.view.mode}`);
  for (const use of pinUses(fitted)) if (use.name !== undefined) lines.push(`Pin ${use.pin} ${use.use} ${use.name}`);
  return lines.join('\n');
}

function pinUses(fitted: Fitted): PinUse[] {
  const { view, goals } = fitted;
  return Array.from({ length: view.pinCount }, (_, index): PinUse => {
    const pin = index + 1;
    const variable = fitted.pins.indexOf(pin);
    const name = variable < 0 ? undefined : goals.names[variable];
    if (pin === view.groundPin) return { pin, use: 'ground', name };
    if (pin === view.supplyPin) return { pin, use: 'supply', name };
    const tie = fitted.ties.find((one) => one.pin === pin);
    if (tie !== undefined) return { pin, use: 'tied', name: undefined, level: tie.level };
    if (variable < 0) return { pin, use: 'spare', name };
    if (variable >= goals.inputs.length) return { pin, use: 'output', name };
    if (variable === goals.clock) return { pin, use: 'clock', name };
    return { pin, use: pin === view.enablePin ? 'enable' : 'input', name };
  });
}

function compiledOutputs(fitted: Fitted, explained: Explained): CompiledOutput[] {
  const passes = countPasses(fitted);
  const result: CompiledOutput[] = [];
  for (const output of fitted.outputs) {
    const found = [...explained.outputs, ...explained.buried].find((one) => one.pin === output.cell.pin);
    if (found === undefined) continue;
    result.push({
      ...found,
      net: output.goal.name,
      room: output.room,
      isProvedMinimal: output.isProvedMinimal,
      passes: passes.get(output.goal.variable) ?? 1,
    });
  }
  return result.sort((a, b) => b.pin - a.pin);
}

/** Array passes of each output; a loop counts once around. */
function countPasses(fitted: Fitted): Map<number, number> {
  const combinational = fitted.outputs.filter((output) => !output.goal.registered);
  const passes = new Map(fitted.outputs.map((output) => [output.goal.variable, 1]));
  for (let round = 0; round < combinational.length; round++)
    for (const { goal, sum } of fitted.outputs) {
      const read = sum.reduce((mask, cube) => mask | cube.care, typeof goal.enable === 'object' ? goal.enable.care : 0);
      let most = 1;
      for (const other of combinational)
        if (other.goal !== goal && popCount(read & (1 << other.goal.variable)) === 1)
          most = Math.max(most, 1 + passes.get(other.goal.variable)!);
      passes.set(goal.variable, Math.min(most, combinational.length + 1));
    }
  return passes;
}

/** The proof for a fuse file that somebody else made. Every input and output of the request needs its pin. */
export function proveFile(
  request: DeviceRequest,
  bytes: Uint8Array,
  file: string,
  options: Pick<VectorOptions, 'describe'> = {},
): Result<Proof | undefined> {
  const read = readJesd3(bytes, file);
  const findings: Finding[] = [...read.findings];
  const span = { file, start: 0, end: 0 };
  const explained = explainFuses(read.value.fuses, request.device, span);
  findings.push(...explained.findings);
  if (explained.value === undefined) return { value: undefined, findings };
  const wanted = readStated(request);
  findings.push(...wanted.findings);
  if (wanted.value === undefined) return { value: undefined, findings };
  const stated = wanted.value;
  const pins = new Map<string, number>();
  for (const signal of [...stated.inputs, ...request.outputs])
    if (signal.pin !== undefined) pins.set(signal.name, signal.pin);
  const proof = proveDevice({ stated, clock: request.clock, pins, explained: explained.value });
  const report = (message: string, about: readonly string[]): void => {
    findings.push({
      code: 'decode/file-differs',
      severity: DECODE_CODES['decode/file-differs'].severity,
      message,
      where: [request.span ?? span],
      notes: [],
      about,
    });
  };
  for (const mismatch of proof.mismatches) report(mismatch, []);
  const outputs = new Set(proof.differences.map((difference) => difference.output));
  for (const output of outputs) {
    const first = proof.differences.find((difference) => difference.output === output)!;
    report(differenceText(first, pins.keys()), [output]);
  }
  for (const output of explained.value.outputs) {
    const enable = output.registered && typeof output.enable !== 'boolean' ? output.enable[0]?.[0] : undefined;
    if (request.device === '22V10' || enable === undefined || [...pins.values()].includes(enable.pin)) continue;
    findings.push(tieFinding({ pin: enable.pin, level: 0, why: 'it enables the registered outputs' }, request));
    break;
  }
  const run = runVectors(explained.value, read.value.vectors, {
    ...(read.value.defaultTest === undefined ? {} : { defaultTest: read.value.defaultTest }),
    ...(read.value.pinOrder === undefined ? {} : { pinOrder: read.value.pinOrder }),
    nameOf: (pin) => [...pins].find(([, at]) => at === pin)?.[0],
    ...options,
  });
  findings.push(...run.findings);
  return { value: proof, findings };
}
