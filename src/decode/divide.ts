// What one device does not take, divided among several of its kind: each output goes where it fits beside those that are there,
// the ones with most names first; an output that another device reads becomes an input of that one. Every share was fitted.

import { type Formula, foldName, namesOf, parseFormula } from '../base/index.ts';
import { findFit } from './advise.ts';
import { supportOf } from './cover.ts';
import type { DeviceRequest, WantedInput, WantedOutput } from './request.ts';

/** Devices beyond which nobody would go on dividing. */
const MOST_DEVICES = 4;

/** The shares, each a request for a device of its own with pins to be chosen; undefined where that does not help either. */
export function divideOutputs(request: DeviceRequest): readonly DeviceRequest[] | undefined {
  const used = new Map(request.outputs.map((output) => [output, namesRead(output)]));
  const order = [...request.outputs].sort((a, b) => used.get(b)!.length - used.get(a)!.length);
  const shares: WantedOutput[][] = [];
  const requestOf = (outputs: readonly WantedOutput[]): DeviceRequest => share(request, outputs, used);
  for (const output of order) {
    // Where most of its names are looked at already.
    const near = shares
      .map((outputs, index) => ({
        index,
        common: used.get(output)!.filter((name) => outputs.some((other) => used.get(other)!.includes(name))).length,
      }))
      .sort((a, b) => b.common - a.common || a.index - b.index);
    const found = near.find(({ index }) => isFitting(requestOf([...shares[index]!, output])));
    if (found !== undefined) shares[found.index]!.push(output);
    else if (shares.length < MOST_DEVICES && isFitting(requestOf([output]))) shares.push([output]);
    else return undefined;
  }
  // As they were stated, within each share and from share to share.
  const at = (output: WantedOutput): number => request.outputs.indexOf(output);
  for (const outputs of shares) outputs.sort((a, b) => at(a) - at(b));
  return shares.sort((a, b) => at(a[0]!) - at(b[0]!)).map(requestOf);
}

function isFitting(request: DeviceRequest): boolean {
  const { outcome } = findFit(request);
  return outcome !== undefined && 'fitted' in outcome;
}

/** The request for some of the outputs alone, on pins of the device's choice. */
function share(
  request: DeviceRequest,
  outputs: readonly WantedOutput[],
  used: ReadonlyMap<WantedOutput, readonly string[]>,
): DeviceRequest {
  const { inputs: _, outputs: __, clock, reset, preset, visit: ___, ...rest } = request;
  const hasRegisters = outputs.some((output) => output.registered === true);
  const own = new Set(outputs.map((output) => foldName(output.name)));
  const names = new Map<string, WantedInput>();
  const note = (name: string): void => {
    if (!own.has(foldName(name))) names.set(foldName(name), { name });
  };
  for (const output of outputs) for (const name of used.get(output)!) note(name);
  if (hasRegisters) {
    if (clock !== undefined) note(clock);
    for (const control of [reset, preset]) for (const name of namesIn(control)) note(name);
  }
  return {
    ...rest,
    inputs: [...names.values()],
    outputs: outputs.map(({ pin: _pin, ...output }) => output),
    ...(hasRegisters && clock !== undefined ? { clock } : {}),
    ...(hasRegisters && reset !== undefined ? { reset } : {}),
    ...(hasRegisters && preset !== undefined ? { preset } : {}),
  };
}

function namesRead(output: WantedOutput): string[] {
  const names = [...namesIn(output.formula), ...namesIn(output.enable), ...namesIn(output.dontCare)];
  if (output.cover !== undefined) {
    const support = supportOf(output.cover.on);
    names.push(...output.cover.variables.filter((_, k) => ((support >>> k) & 1) === 1));
  }
  return [...new Set(names)];
}

function namesIn(source: string | Formula | undefined): readonly string[] {
  const formula = typeof source === 'string' ? parseFormula(source).formula : source;
  return formula === undefined ? [] : namesOf(formula);
}
