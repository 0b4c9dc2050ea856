// A request as fitting wants it: every formula a cover over one list of variables (inputs first, then outputs), minimised in
// both polarities.

import { bug, type Finding, type Formula, foldName, type Result, type Span, substituteFormula } from '../base/index.ts';
import { type Cover, type Cube, complement } from './cover.ts';
import { coverOf } from './formula-cover.ts';
import { type Minimised, minimise } from './minimise.ts';
import {
  type DeviceRequest,
  type Intention,
  type RequestReport,
  readStated,
  requestReport,
  type Stated,
  type StatedOutput,
  type WantedInput,
} from './request.ts';

/** One output as fitting sees it. Covers are over the goal list's variables and speak of the pin's level. */
export interface Goal {
  readonly name: string;
  readonly variable: number;
  readonly pin: number | undefined;
  readonly registered: boolean;
  readonly intention: Intention;
  readonly dontCare: Formula | undefined;
  readonly enableIntention: Formula | undefined;
  /** Fewest terms for the level high and for the level low. */
  readonly high: Minimised;
  readonly low: Minimised;
  /** Always, never, or one product term. */
  readonly enable: boolean | Cube;
  readonly resetLevel: 0 | 1;
  readonly powerUp: 0 | 1 | undefined;
  readonly span: Span | undefined;
}

export interface Goals {
  /** Names of the variables: inputs, then outputs. */
  readonly names: readonly string[];
  readonly inputs: readonly WantedInput[];
  readonly outputs: readonly Goal[];
  /** Variable of the clock. */
  readonly clock: number | undefined;
  readonly reset: Cube | undefined;
  readonly preset: Cube | undefined;
  readonly resetIntention: Formula | undefined;
  readonly presetIntention: Formula | undefined;
  /** Variables that functions use. */
  readonly used: number;
  /** The request as it was read, before any name was replaced: what proofs compare with. */
  readonly stated: Stated;
}

/** The most terms that any output has (22V10, pins 18 and 19), and nodes of a search that take some tenths of a second. */
const EFFORT = { mostTerms: 16, nodeLimit: 3000 };
/** Cubes beyond which a function is given up. */
const MOST_CUBES = 4000;

/**
 * Reads the formulas of a request. With `inline`, an output's name in another's formula is replaced by that output's own
 * formula wherever that ends (one pass through the array, no feedback line); else it is read back from the pin.
 * Undefined where a function cannot be had at all; the findings say why.
 */
export function readRequest(request: DeviceRequest, options: { readonly inline: boolean }): Result<Goals | undefined> {
  const { value: stated, findings: found } = readStated(request);
  const findings: Finding[] = [...found];
  if (stated === undefined) return { value: undefined, findings };
  const report = requestReport(request, findings);
  const { inputs, names } = stated;
  const variables = new Map(names.map((name, variable) => [foldName(name), variable]));
  const outputs = options.inline ? inlineOutputs(stated) : stated.outputs;
  let isBroken = false;
  const goals: Goal[] = [];
  for (const output of outputs) {
    const goal = makeGoal(output, variables, names.length, report);
    if (goal !== undefined) goals.push(goal);
  }
  const one = (formula: Formula | undefined, about: string): Cube | undefined => {
    if (formula === undefined) return undefined;
    const cube = singleTerm(formula, variables, names.length);
    if (cube === false) return undefined; // never in force is as good as none
    if (cube === undefined) {
      report('decode/control-too-complex', `${about} takes more than one product term, and a 22V10 has one for it.`, {
        help: 'Make the condition an output of its own and use that, or reset fewer things.',
      });
      isBroken = true;
      return undefined;
    }
    return cube;
  };
  const reset = one(stated.reset, 'The reset');
  const preset = one(stated.preset, 'The preset');
  if (goals.length < outputs.length || isBroken) return { value: undefined, findings };
  let used = (reset?.care ?? 0) | (preset?.care ?? 0);
  for (const goal of goals) {
    // Either polarity may be chosen; both have the same essential variables, up to don't-cares.
    for (const cube of [...goal.high.cover, ...goal.low.cover]) used |= cube.care;
    if (typeof goal.enable === 'object') used |= goal.enable.care;
  }
  const value: Goals = {
    names,
    inputs,
    outputs: goals,
    clock: request.clock === undefined ? undefined : variables.get(foldName(request.clock)),
    reset,
    preset,
    resetIntention: stated.reset,
    presetIntention: stated.preset,
    used,
    stated,
  };
  return { value, findings };
}

/**
 * Replaces names of combinational, always driven outputs by their formulas, except where that would never end, or where the
 * output is free somewhere: there its pin may differ from its formula.
 */
function inlineOutputs(stated: Stated): StatedOutput[] {
  const outputs = stated.outputs.map((output) => ({ ...output }));
  const plain = new Map<string, { -readonly [K in keyof StatedOutput]: StatedOutput[K] }>();
  for (const output of outputs)
    if (
      output.wanted.registered !== true &&
      output.enable === undefined &&
      output.dontCare === undefined &&
      output.intention.kind === 'formula'
    )
      plain.set(foldName(output.wanted.name), output);
  const state = new Map<string, 'open' | 'done' | 'looped'>();
  const expand = (key: string): Formula | undefined => {
    const output = plain.get(key);
    if (output === undefined || output.intention.kind !== 'formula') return undefined;
    const seen = state.get(key);
    if (seen === 'open') {
      state.set(key, 'looped');
      return undefined;
    }
    if (seen === undefined) {
      state.set(key, 'open');
      const formula = substituteFormula(output.intention.formula, (name) => expand(foldName(name)));
      if (state.get(key) === 'looped') plain.delete(key);
      else {
        state.set(key, 'done');
        output.intention = { ...output.intention, formula };
      }
    }
    const { formula, isInverted } = output.intention;
    return plain.has(key) && state.get(key) === 'done'
      ? isInverted
        ? { kind: 'not', term: formula }
        : formula
      : undefined;
  };
  for (const key of [...plain.keys()]) expand(key);
  for (const output of outputs)
    if (output.intention.kind === 'formula' && !plain.has(foldName(output.wanted.name)))
      output.intention = {
        ...output.intention,
        formula: substituteFormula(output.intention.formula, (name) => expand(foldName(name))),
      };
  return outputs;
}

function makeGoal(
  output: StatedOutput,
  variables: ReadonlyMap<string, number>,
  count: number,
  report: RequestReport,
): Goal | undefined {
  const { wanted, intention } = output;
  const extra = { ...(wanted.span === undefined ? {} : { where: [wanted.span] }), about: [wanted.name] };
  const complex = (): undefined => {
    report('decode/too-complex', `${wanted.name} takes more than ${MOST_CUBES} products before minimising.`, {
      ...extra,
      help: 'Divide it into several outputs that read each other.',
    });
    return undefined;
  };
  const place = (name: string): number =>
    variables.get(foldName(name)) ?? bug('a name without a variable', { name, output: wanted.name });
  const free = output.dontCare === undefined ? [] : coverOf(output.dontCare, place, MOST_CUBES);
  if (free === undefined) return complex();
  let on: Cover | undefined;
  const dontCare = [...free];
  if (intention.kind === 'formula') on = coverOf(intention.formula, place, MOST_CUBES);
  else {
    on = intention.cover.on.map((cube) => spread(cube, intention.cover.variables, place));
    for (const cube of intention.cover.dontCare ?? []) dontCare.push(spread(cube, intention.cover.variables, place));
  }
  if (on === undefined) return complex();
  const off = complement([...on, ...dontCare], MOST_CUBES);
  if (off === undefined) return complex();
  const [asStated, inverse] = minimiseBoth(count, on, off, dontCare, wanted.registered === true);
  let enable: boolean | Cube = true;
  if (output.enable !== undefined) {
    const term = singleTerm(output.enable, variables, count);
    if (term === undefined) {
      report('decode/control-too-complex', `The enable of ${wanted.name} takes more than one product term.`, {
        ...extra,
        notes: [{ text: 'Each output has one product term for its enable.' }],
        help: 'Make the condition an output of its own and use that as the enable.',
      });
      return undefined;
    }
    if (term === false) {
      report('decode/never-driven', `${wanted.name} is never driven: its enable never holds.`, {
        ...extra,
        help: 'Correct the enable, or take the output out.',
      });
      return undefined;
    }
    enable = term.care === 0 ? true : term;
  }
  const isInverted = intention.isInverted;
  return {
    name: wanted.name,
    variable: place(wanted.name),
    pin: wanted.pin,
    registered: wanted.registered === true,
    intention,
    dontCare: output.dontCare,
    enableIntention: output.enable,
    high: isInverted ? inverse : asStated,
    low: isInverted ? asStated : inverse,
    enable,
    resetLevel: wanted.resetLevel ?? 0,
    powerUp: wanted.powerUp,
    span: wanted.span,
  };
}

/**
 * The function and its inverse, the one of fewer cubes first. A combinational output may take either polarity, so the other
 * is of interest only where it is shorter still; a register's may be prescribed by its reset.
 */
function minimiseBoth(
  variables: number,
  on: Cover,
  off: Cover,
  dontCare: Cover,
  needsBoth: boolean,
): [Minimised, Minimised] {
  const isOnFirst = on.length <= off.length;
  const first = minimise({ variables, on: isOnFirst ? on : off, dontCare, ...EFFORT });
  const mostTerms = needsBoth ? EFFORT.mostTerms : Math.min(EFFORT.mostTerms, first.cover.length);
  const second = minimise({ variables, on: isOnFirst ? off : on, dontCare, ...EFFORT, mostTerms });
  return isOnFirst ? [first, second] : [second, first];
}

/** A cube over a cover's own variables as one over the goal list's. */
function spread(cube: Cube, names: readonly string[], place: (name: string) => number): Cube {
  let care = 0;
  let value = 0;
  for (const [k, name] of names.entries()) {
    if (((cube.care >> k) & 1) === 0) continue;
    const bit = 1 << place(name);
    care |= bit;
    if (((cube.value >> k) & 1) === 1) value |= bit;
  }
  return { care, value };
}

/** The formula as one product term; false where it never holds; undefined where it takes several. */
function singleTerm(formula: Formula, variables: ReadonlyMap<string, number>, count: number): Cube | false | undefined {
  const on = coverOf(
    formula,
    (name) => variables.get(foldName(name)) ?? bug('a name without a variable', { name }),
    MOST_CUBES,
  );
  if (on === undefined) return undefined;
  const { cover } = minimise({ variables: count, on });
  return cover.length === 0 ? false : cover.length === 1 ? cover[0] : undefined;
}
