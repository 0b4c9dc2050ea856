// What to say where a device does not take what is wanted: what is over in each mode, and which change would make it fit.
// Every change is tried before it is offered.

import type { Finding, Note } from '../base/index.ts';
import { DECODE_CODES } from './codes.ts';
import type { Cover } from './cover.ts';
import { DEVICES, type DeviceName, viewsOf } from './devices.ts';
import { type FitOptions, type Fitted, fitView, inMode, type Misfit } from './fit.ts';
import { type Goal, type Goals, readRequest } from './goals.ts';
import { type DeviceRequest, readsOutputs } from './request.ts';

/** A fit, or why there is none in each mode tried. */
export type FitOutcome = { readonly fitted: Fitted } | { readonly misfits: readonly Misfit[]; readonly goals: Goals };

/**
 * The first fit: modes from the one with most terms down, each first with outputs that read no other output. Undefined where
 * the request itself is at fault; the findings say how.
 */
export function findFit(
  request: DeviceRequest,
  options: FitOptions = {},
): { outcome: FitOutcome | undefined; findings: readonly Finding[] } {
  const inlined = readRequest(request, { inline: true });
  if (inlined.value === undefined) {
    // Replacing names may be what makes a function too large: without it the outputs read each other.
    const plain = readRequest(request, { inline: false });
    if (plain.value === undefined) return { outcome: undefined, findings: plain.findings };
    return { outcome: fitGoals(request, [plain.value], options), findings: plain.findings };
  }
  if (!readsOutputs(inlined.value.stated))
    return { outcome: fitGoals(request, [inlined.value], options), findings: inlined.findings };
  const plain = readRequest(request, { inline: false });
  const both = plain.value === undefined ? [inlined.value] : [inlined.value, plain.value];
  return { outcome: fitGoals(request, both, options), findings: inlined.findings };
}

function fitGoals(request: DeviceRequest, ways: readonly Goals[], options: FitOptions): FitOutcome {
  const misfits: Misfit[] = [];
  for (const view of viewsOf(request.device)) {
    if (request.mode !== undefined && view.mode !== request.mode) continue;
    for (const [index, goals] of ways.entries()) {
      const fit = fitView(goals, view, options);
      if (!('reasons' in fit)) return { fitted: fit };
      if (index === 0) misfits.push(fit);
    }
  }
  return { misfits, goals: ways[0]! };
}

/** The finding for a device that does not take what is wanted. */
export function adviseMisfit(request: DeviceRequest, misfits: readonly Misfit[], goals: Goals): Finding {
  const notes: Note[] = misfits.map((misfit) => {
    const where = inMode({ mode: misfit.mode, device: request.device });
    const text = misfit.reasons.slice(0, 6).join('; ');
    return { text: `${where.charAt(0).toUpperCase()}${where.slice(1)}: ${text}.` };
  });
  const remedies = [...freePins(request), ...split(request, goals), ...larger(request)];
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
    about: goals.outputs.map((goal) => goal.name),
  };
}

function freePins(request: DeviceRequest): string[] {
  const asked = [...(request.inputs ?? []), ...request.outputs].filter((signal) => signal.pin !== undefined);
  if (asked.length === 0) return [];
  const all = findFit(request, { ...costOf(request), ignorePins: true }).outcome;
  if (all === undefined || !('fitted' in all)) return [];
  // One signal freed alone, if that is enough; the first such is named.
  for (const signal of asked) {
    const without = {
      ...request,
      ...(request.inputs === undefined
        ? {}
        : { inputs: request.inputs.map((one) => (one === signal ? { name: one.name } : one)) }),
      outputs: request.outputs.map((one) => {
        if (one !== signal) return one;
        const { pin: _, ...rest } = one;
        return rest;
      }),
    };
    const { outcome } = findFit(without, costOf(request));
    if (outcome === undefined || !('fitted' in outcome)) continue;
    const { fitted } = outcome;
    const pin = fitted.pins[fitted.goals.names.indexOf(signal.name)]!;
    if (pin > 0)
      return [`It fits with ${signal.name} on pin ${pin} instead of pin ${signal.pin} (${inMode(fitted.view)}).`];
  }
  const { fitted } = all;
  const places = fitted.goals.outputs.map((goal) => `${goal.name} on pin ${fitted.pins[goal.variable]}`);
  return [`It fits if the pins are chosen freely (${inMode(fitted.view)}): ${places.join(', ')}.`];
}

function costOf(request: DeviceRequest): FitOptions {
  return request.pinCost === undefined ? {} : { pinCost: request.pinCost };
}

function larger(request: DeviceRequest): string[] {
  const next = DEVICES.slice(DEVICES.indexOf(request.device) + 1);
  for (const device of next) {
    if (!fitsWithoutPins(request, device)) continue;
    const note = request.outputs.some((output) => output.registered === true)
      ? ' Its registers power up by their polarity.'
      : '';
    return [`A ${device} takes all of it, with pins of its own.${note}`];
  }
  return [];
}

function fitsWithoutPins(request: DeviceRequest, device: DeviceName): boolean {
  const { mode: _, ...rest } = request;
  const { outcome } = findFit({ ...rest, device }, { ignorePins: true });
  return outcome !== undefined && 'fitted' in outcome;
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
  const { outcome } = findFit({ ...request, inputs, outputs }, costOf(request));
  if (outcome === undefined || !('fitted' in outcome)) return [];
  const pin = outcome.fitted.pins[outcome.fitted.goals.names.indexOf(helper)];
  return [
    `It fits with ${goal.name} divided in two: ${part.length} of its ${sum.length} terms in a helper output on pin ${pin}, read back by the other (${inMode(outcome.fitted.view)}); ${goal.name} then takes a second delay.`,
  ];
}

function fewest(goal: Goal): { sum: Cover; activeLow: boolean } {
  return goal.low.cover.length <= goal.high.cover.length
    ? { sum: goal.low.cover, activeLow: true }
    : { sum: goal.high.cover, activeLow: false };
}
