// What to say where a device does not take what is wanted: what is over in each mode, and which change would make it fit.
// Every change is tried before it is offered.

import type { Finding, Note } from '../base/index.ts';
import { DECODE_CODES } from './codes.ts';
import type { Cover } from './cover.ts';
import { DEVICES, type DeviceMode, type DeviceName, viewsOf } from './devices.ts';
import { type FitOptions, type Fitted, fitView, inMode, type Misfit } from './fit.ts';
import { type Goal, type Goals, readRequest } from './goals.ts';
import { type DeviceRequest, readsOutputs } from './request.ts';

/** A fit, or why there is none in each mode tried. */
export type FitOutcome =
  | { readonly fitted: Fitted }
  | {
      readonly misfits: readonly Misfit[] /** The ways of stating the functions that were tried. */;
      readonly ways: readonly Goals[];
    };

/**
 * The first fit: modes from the one with most terms down, each first with outputs that read no other output. Undefined where
 * the request itself is at fault; the findings say how.
 */
export function findFit(
  request: DeviceRequest,
  options: FitOptions = {},
): { outcome: FitOutcome | undefined; findings: readonly Finding[] } {
  const inlined = readRequest(request, { inline: true });
  const ways = inlined.value === undefined ? [] : [inlined.value];
  let { findings } = inlined;
  if (inlined.value === undefined || readsOutputs(inlined.value.stated)) {
    // Replacing names may be what makes a function too large: without it the outputs read each other.
    const plain = readRequest(request, { inline: false });
    if (plain.value !== undefined) ways.push(plain.value);
    if (inlined.value === undefined) findings = plain.findings;
  }
  return { outcome: ways.length === 0 ? undefined : fitGoals(request, ways, options), findings };
}

/** Tries the modes of a device that the request allows. Costs little: the functions are minimised already. */
function fitGoals(
  request: { readonly device: DeviceName; readonly mode?: DeviceMode },
  ways: readonly Goals[],
  options: FitOptions,
): FitOutcome {
  const misfits: Misfit[] = [];
  for (const view of viewsOf(request.device)) {
    if (request.mode !== undefined && view.mode !== request.mode) continue;
    for (const [index, goals] of ways.entries()) {
      const fit = fitView(goals, view, options);
      if (!('reasons' in fit)) return { fitted: fit };
      if (index === 0) misfits.push(fit);
    }
  }
  return { misfits, ways };
}

function fittedOf(outcome: FitOutcome | undefined): Fitted | undefined {
  return outcome !== undefined && 'fitted' in outcome ? outcome.fitted : undefined;
}

/** The finding for a device that does not take what is wanted. */
export function adviseMisfit(request: DeviceRequest, misfits: readonly Misfit[], ways: readonly Goals[]): Finding {
  const notes: Note[] = misfits.map((misfit) => {
    const where = inMode({ mode: misfit.mode, device: request.device });
    const text = misfit.reasons.slice(0, 6).join('; ');
    return { text: `${where.charAt(0).toUpperCase()}${where.slice(1)}: ${text}.` };
  });
  const remedies = [
    ...freePins(request, ways),
    ...otherLevel(request, ways),
    ...split(request, ways[0]!),
    ...larger(request, ways),
  ];
  return {
    code: 'decode/does-not-fit',
    severity: DECODE_CODES['decode/does-not-fit'].severity,
    message: `What is wanted does not fit into a ${request.device}.`,
    where: request.span === undefined ? [] : [request.span],
    notes,
    help:
      remedies.length > 0
        ? `${remedies.join(' ')}`
        : 'Divide the outputs among two devices, or decode fewer address lines in each.',
    about: ways[0]!.outputs.map((goal) => goal.name),
  };
}

function freePins(request: DeviceRequest, ways: readonly Goals[]): string[] {
  const { inputs, outputs } = ways[0]!;
  const asked = [...inputs, ...outputs].filter((signal) => signal.pin !== undefined);
  if (asked.length === 0) return [];
  const all = fittedOf(fitGoals(request, ways, { ...costOf(request), ignorePins: true }));
  if (all === undefined) return [];
  // One signal freed alone, if that is enough; the first such is named.
  for (const { name, pin: before } of asked) {
    const free = <T extends { readonly name: string; readonly pin?: number | undefined }>(signal: T): T =>
      signal.name === name ? { ...signal, pin: undefined } : signal;
    const freed = ways.map((goals) => ({ ...goals, inputs: goals.inputs.map(free), outputs: goals.outputs.map(free) }));
    const fitted = fittedOf(fitGoals(request, freed, costOf(request)));
    const pin = fitted?.pins[fitted.goals.names.indexOf(name)] ?? 0;
    if (fitted !== undefined && pin > 0)
      return [`It fits with ${name} on pin ${pin} instead of pin ${before} (${inMode(fitted.view)}).`];
  }
  const places = all.goals.outputs.map((goal) => `${goal.name} on pin ${all.pins[goal.variable]}`);
  return [`It fits if the pins are chosen freely (${inMode(all.view)}): ${places.join(', ')}.`];
}

/** A register whose level at reset or power-up forces the polarity with more terms. */
function otherLevel(request: DeviceRequest, ways: readonly Goals[]): string[] {
  const hasControl = request.reset !== undefined || request.preset !== undefined;
  for (const { name, registered, powerUp, resetLevel } of ways[0]!.outputs) {
    if (!registered || (!hasControl && powerUp === undefined)) continue;
    const other = (powerUp ?? resetLevel) === 1 ? 0 : 1;
    const change = (goal: Goal): Goal =>
      goal.name === name ? { ...goal, resetLevel: other, powerUp: powerUp === undefined ? undefined : other } : goal;
    const changed = ways.map((goals) => ({ ...goals, outputs: goals.outputs.map(change) }));
    if (fittedOf(fitGoals(request, changed, costOf(request))) !== undefined)
      return [`It fits if ${name} starts ${other === 1 ? 'high' : 'low'}: that polarity takes fewer terms.`];
  }
  return [];
}

function costOf(request: DeviceRequest): FitOptions {
  return request.pinCost === undefined ? {} : { pinCost: request.pinCost };
}

function larger(request: DeviceRequest, ways: readonly Goals[]): string[] {
  const device = DEVICES.slice(DEVICES.indexOf(request.device) + 1).find(
    (next) => fittedOf(fitGoals({ device: next }, ways, { ignorePins: true })) !== undefined,
  );
  if (device === undefined) return [];
  const hasRegisters = request.outputs.some((output) => output.registered === true);
  const note = hasRegisters && device === '22V10' ? ' Its registers power up by their polarity.' : '';
  return [`A ${device} takes all of it, with pins of its own.${note}`];
}

/** The output with most terms over, divided into two outputs of which one reads the other. */
function split(request: DeviceRequest, goals: Goals): string[] {
  const rooms = viewsOf(request.device).flatMap((view) => view.cells.map((cell) => cell.combinational?.count ?? 0));
  const most = Math.max(...rooms);
  const over = goals.outputs.filter((goal) => fewest(goal).sum.length > most);
  const [goal] = over;
  if (goal === undefined || over.length > 1) return [];
  const { sum, activeLow } = fewest(goal);
  const helper = `${goal.name}-part`;
  const room = viewsOf(request.device).some((view) => view.mode === 'cells') ? most : 7;
  const part = sum.slice(0, room);
  const rest: Cover = [...sum.slice(room), { care: 1 << goals.names.length, value: 1 << goals.names.length }];
  if (rest.length > room || goals.names.length >= 30) return [];
  const outputs = request.outputs.flatMap((output) => {
    if (output.name !== goal.name) return [output];
    const { formula: _f, cover: _c, dontCare: _d, ...kept } = output;
    const half = { variables: [...goals.names, helper], on: rest };
    return [
      { ...kept, cover: half, activeLow },
      { name: helper, cover: { variables: goals.names, on: part } },
    ];
  });
  const inputs = goals.inputs;
  const fitted = fittedOf(findFit({ ...request, inputs, outputs }, costOf(request)).outcome);
  if (fitted === undefined) return [];
  const pin = fitted.pins[fitted.goals.names.indexOf(helper)];
  return [
    `It fits with ${goal.name} divided in two: ${part.length} of its ${sum.length} terms in a helper output on pin ${pin}, read back by the other (${inMode(fitted.view)}); ${goal.name} then takes a second delay.`,
  ];
}

function fewest(goal: Goal): { sum: Cover; activeLow: boolean } {
  return goal.low.cover.length <= goal.high.cover.length
    ? { sum: goal.low.cover, activeLow: true }
    : { sum: goal.high.cover, activeLow: false };
}
