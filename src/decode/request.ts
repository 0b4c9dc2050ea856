// What a device is asked to do, as callers state it, and the same with its texts read and its names checked. An output's
// name in a formula is the level of its pin (of its register, where it has one).

import {
  bug,
  type Finding,
  type Formula,
  foldName,
  namesOf,
  nearestName,
  parseFormula,
  type Result,
  type Span,
} from '../base/index.ts';
import { DECODE_CODES, type DecodeCode } from './codes.ts';
import { type Cover, MOST_VARIABLES, supportOf } from './cover.ts';
import type { DeviceMode, DeviceName } from './devices.ts';

/** A function as a cover over named levels: bit k of a cube is `variables[k]`. */
export interface NamedCover {
  readonly variables: readonly string[];
  readonly on: Cover;
  readonly dontCare?: Cover;
}

export interface WantedInput {
  readonly name: string;
  /** Chosen where absent. */
  readonly pin?: number | undefined;
}

export interface WantedOutput {
  readonly name: string;
  /** Chosen where absent. */
  readonly pin?: number;
  /** When the pin is high, as text or tree; exactly one of `formula` and `cover`. */
  readonly formula?: string | Formula;
  readonly cover?: NamedCover;
  /** True: `formula` or `cover` says when the pin is LOW. Default false. The device's own polarity is chosen either way. */
  readonly activeLow?: boolean;
  /** True: the function is taken over at the rising edge of the clock. Default false. */
  readonly registered?: boolean;
  /** When the pin is driven; default always. */
  readonly enable?: string | Formula;
  /** Where the function's value does not matter; together with the cover's own. */
  readonly dontCare?: string | Formula;
  /** Level of the pin while `reset` holds (22V10); default 0. `preset` gives the opposite. Registered outputs only. */
  readonly resetLevel?: 0 | 1;
  /** Level wanted after power comes up, where it matters. Registered outputs only. */
  readonly powerUp?: 0 | 1;
  /** Where it is stated. */
  readonly span?: Span;
}

export interface DeviceRequest {
  readonly device: DeviceName;
  /** As in part records; goes into the file's heading only. */
  readonly grade?: string;
  /** Heading of the fuse file, such as the machine's name, the part's and the revision. */
  readonly title?: string;
  /**
   * Up to eight printable characters for the device's signature cells, by which a programmer knows what is in it; more are cut
   * off, others become dots. Default none: all cells 0.
   */
  readonly signature?: string;
  /** All inputs. Where absent, every name used by a formula that is no output. */
  readonly inputs?: readonly WantedInput[];
  readonly outputs: readonly WantedOutput[];
  /** The input that clocks the registers. */
  readonly clock?: string;
  /** Clears all registers at once while it holds (22V10); one product term. */
  readonly reset?: string | Formula;
  /** Sets all registers at the next clock edge while it holds (22V10); one product term. */
  readonly preset?: string | Formula;
  /** Tries only this mode of a 16V8 or 20V8. */
  readonly mode?: DeviceMode;
  /** What a signal costs on a pin, such as wire length in mm; used where pins are to be chosen. Default 0. */
  readonly pinCost?: (name: string, pin: number) => number;
  /** Points (levels by name) that the test vectors should visit, such as address boundaries. */
  readonly visit?: readonly Readonly<Record<string, 0 | 1>>[];
  /** Where the device stands, for findings without a nearer place. */
  readonly span?: Span;
}

/** A formula, or a cover where one was given, of the level of a pin; what proofs and vectors hold the fuses against. */
export type Intention =
  | { readonly kind: 'formula'; readonly formula: Formula; readonly isInverted: boolean }
  | { readonly kind: 'cover'; readonly cover: NamedCover; readonly isInverted: boolean };

/** Reports one finding of a request, at its place unless another is given. */
export type RequestReport = (code: DecodeCode, message: string, extra?: Partial<Finding>) => void;

/** Makes the function that reports findings of a request. */
export function requestReport(request: DeviceRequest, findings: Finding[]): RequestReport {
  return (code, message, extra) => {
    const where = request.span === undefined ? [] : [request.span];
    findings.push({ code, severity: DECODE_CODES[code].severity, message, where, notes: [], ...extra });
  };
}

/** Reads the texts of a request and checks its names. Undefined where something is wrong; the findings say what. */
export function readStated(request: DeviceRequest): Result<Stated | undefined> {
  const findings: Finding[] = [];
  const report = requestReport(request, findings);
  const parsed = parseAll(request, report);
  if (parsed === undefined) return { value: undefined, findings };
  const checked = checkNames(request, parsed, report);
  return { value: checked === undefined ? undefined : { ...parsed, ...checked }, findings };
}

/** An output of a request with its texts read. */
export interface StatedOutput {
  readonly wanted: WantedOutput;
  readonly intention: Intention;
  readonly dontCare: Formula | undefined;
  readonly enable: Formula | undefined;
}

/** A request with its texts read, nothing else changed. */
export interface Stated {
  readonly outputs: readonly StatedOutput[];
  /** Names of inputs, then outputs. */
  readonly inputs: readonly WantedInput[];
  readonly names: readonly string[];
  readonly reset: Formula | undefined;
  readonly preset: Formula | undefined;
}

type Parsed = Omit<Stated, 'inputs' | 'names'>;

function parseAll(request: DeviceRequest, report: RequestReport): Parsed | undefined {
  let isBroken = false;
  const parse = (source: string | Formula | undefined, about: string, span: Span | undefined): Formula | undefined => {
    if (source === undefined || typeof source !== 'string') return source;
    const { formula, problem } = parseFormula(source);
    if (formula !== undefined) return formula;
    isBroken = true;
    report('decode/bad-formula', `${about} is no formula: ${source.slice(0, 80)}`, {
      ...(span === undefined ? {} : { where: [span] }),
      notes: [{ text: problem?.message ?? '' }],
    });
    return undefined;
  };
  const outputs: StatedOutput[] = [];
  for (const wanted of request.outputs) {
    const isInverted = wanted.activeLow === true;
    const formula = parse(wanted.formula, `What ${wanted.name} is`, wanted.span);
    const dontCare = parse(wanted.dontCare, `Where ${wanted.name} is free`, wanted.span);
    const enable = parse(wanted.enable, `When ${wanted.name} is driven`, wanted.span);
    if (formula !== undefined)
      outputs.push({ wanted, intention: { kind: 'formula', formula, isInverted }, dontCare, enable });
    else if (wanted.cover !== undefined)
      outputs.push({ wanted, intention: { kind: 'cover', cover: wanted.cover, isInverted }, dontCare, enable });
    else if (wanted.formula === undefined) bug('an output with neither formula nor cover', { name: wanted.name });
  }
  const reset = parse(request.reset, 'The reset', request.span);
  const preset = parse(request.preset, 'The preset', request.span);
  return isBroken ? undefined : { outputs, reset, preset };
}

/** Names that a function looks at. */
function namesIn(intention: Intention): readonly string[] {
  if (intention.kind === 'formula') return namesOf(intention.formula);
  const { variables, on, dontCare = [] } = intention.cover;
  const used = supportOf(on) | supportOf(dontCare);
  return variables.filter((_, k) => ((used >>> k) & 1) === 1);
}

function inferInputs(request: DeviceRequest, parsed: Parsed): WantedInput[] {
  const outputs = new Set(request.outputs.map((output) => foldName(output.name)));
  const found = new Map<string, string>();
  const add = (names: readonly string[]): void => {
    for (const name of names) {
      const key = foldName(name);
      if (!outputs.has(key) && !found.has(key)) found.set(key, name);
    }
  };
  if (request.clock !== undefined) add([request.clock]);
  for (const output of parsed.outputs) {
    add(namesIn(output.intention));
    if (output.enable !== undefined) add(namesOf(output.enable));
    if (output.dontCare !== undefined) add(namesOf(output.dontCare));
  }
  if (parsed.reset !== undefined) add(namesOf(parsed.reset));
  if (parsed.preset !== undefined) add(namesOf(parsed.preset));
  return [...found.values()].map((name) => ({ name }));
}

function checkNames(
  request: DeviceRequest,
  parsed: Parsed,
  report: RequestReport,
): { inputs: readonly WantedInput[]; names: readonly string[] } | undefined {
  const inputs = request.inputs ?? inferInputs(request, parsed);
  const names = [...inputs.map((input) => input.name), ...request.outputs.map((output) => output.name)];
  if (names.length > MOST_VARIABLES) {
    report('decode/too-many-signals', `${names.length} signals are wanted of one ${request.device}.`, {
      help: 'Divide the logic among several devices.',
    });
    return undefined;
  }
  const variables = new Map<string, number>();
  let isBroken = false;
  for (const [index, name] of names.entries()) {
    if (variables.has(foldName(name))) {
      report('decode/duplicate-name', `${name} is named twice among inputs and outputs.`, { about: [name] });
      isBroken = true;
    } else variables.set(foldName(name), index);
  }
  const known = (used: readonly string[], about: string, span: Span | undefined): boolean => {
    let all = true;
    for (const name of used) {
      if (variables.has(foldName(name))) continue;
      all = false;
      const near = nearestName(name, names);
      report('decode/unknown-name', `${about} uses ${name}, which is neither an input nor an output here.`, {
        ...(span === undefined ? {} : { where: [span] }),
        ...(near === undefined ? {} : { help: `Is ${near} meant?` }),
        about: [name],
      });
    }
    return all;
  };
  for (const output of parsed.outputs) {
    const used = [...namesIn(output.intention), ...(output.dontCare === undefined ? [] : namesOf(output.dontCare))];
    if (output.enable !== undefined) used.push(...namesOf(output.enable));
    if (!known(used, output.wanted.name, output.wanted.span)) isBroken = true;
  }
  for (const [formula, about] of [
    [parsed.reset, 'The reset'],
    [parsed.preset, 'The preset'],
  ] as const)
    if (formula !== undefined && !known(namesOf(formula), about, request.span)) isBroken = true;
  if (request.clock !== undefined && !known([request.clock], 'The clock', request.span)) isBroken = true;
  const hasRegisters = request.outputs.some((output) => output.registered === true);
  if (hasRegisters && request.clock === undefined) {
    report('decode/no-clock', 'There are registered outputs, but no clock is named.', {
      help: 'Name the net that clocks them.',
    });
    isBroken = true;
  }
  return isBroken ? undefined : { inputs, names };
}

/** Whether some output's function or enable names an output. */
export function readsOutputs(stated: Stated): boolean {
  const outputs = new Set(stated.outputs.map((output) => foldName(output.wanted.name)));
  return stated.outputs.some((output) => {
    const used = [...namesIn(output.intention)];
    for (const formula of [output.dontCare, output.enable]) if (formula !== undefined) used.push(...namesOf(formula));
    return used.some((name) => outputs.has(foldName(name)));
  });
}
