// From the elaborated design to what one programmable device is asked to do as of a stage: its selects with the regions that
// exist then, its other functions, and the pins that the netlist has given out.

import { type Finding, foldName, namesOf, parseFormula, type Result } from '../base/index.ts';
import { type Design, type DeviceOutput, type DevicePlan, type MapRegion, netlistAt } from '../netlist/index.ts';
import type { AddressPlan, AddressSpace, SelectIntent } from './address-plan.ts';
import { DECODE_CODES } from './codes.ts';
import type { PlanDevice } from './compile-plan.ts';
import { findDevice } from './devices.ts';
import type { WantedInput, WantedOutput } from './request.ts';

/** A device's task in the two forms that `compilePlan` takes. */
export interface DeviceTask {
  readonly plan: AddressPlan;
  readonly device: PlanDevice;
}

/** The task of `device` as of `stage`; undefined where it is no programmable device, is not there yet, or has nothing to do. */
export function deviceTask(design: Design, device: DevicePlan, stage: number): Result<DeviceTask | undefined> {
  const findings: Finding[] = [];
  const name = findDevice(device.type);
  const netlist = netlistAt(design, stage);
  const part = netlist.parts.find((one) => foldName(one.name) === foldName(device.part));
  const exists = (one: { readonly stage: number; readonly until: number | undefined }): boolean =>
    one.stage <= stage && (one.until === undefined || stage < one.until);
  const outputs = device.outputs.filter(exists);
  if (name === undefined || part === undefined || outputs.length === 0) return { value: undefined, findings };
  const numbers = new Map(part.pins.map((id) => [netlist.pins[id]!.name, netlist.pins[id]!.number]));
  const pinOf = (pin: string): { pin?: number } => {
    const number = numbers.get(pin);
    return number === undefined ? {} : { pin: number };
  };
  const inputs = device.inputs.map(({ pin, net }): WantedInput => ({ name: net, ...pinOf(pin) }));
  const plan: AddressPlan = {
    ...planOf(outputs, {
      exists,
      pinOf: (output) => pinOf(output.pin),
      given: inputs.map((input) => input.name),
    }),
    ...(part.origin.span === undefined ? {} : { span: part.origin.span }),
  };
  const controls = commonControls(outputs, device.part, findings);
  const task: PlanDevice = {
    device: name,
    title: `${design.name}: ${part.name} as of stage ${stage}`,
    ...(part.grade === undefined ? {} : { grade: part.grade }),
    ...(part.origin.span === undefined ? {} : { span: part.origin.span }),
    inputs,
    outputs: outputs.filter((output) => output.select === undefined).map((output) => wantedOutput(output, pinOf)),
    ...controls,
  };
  return { value: { plan, device: task }, findings };
}

/** The address plan that the selects among these outputs make; with `given` the decoder gets only those lines. */
export function planOf(
  outputs: readonly DeviceOutput[],
  {
    exists,
    pinOf,
    given,
  }: {
    readonly exists: (region: MapRegion) => boolean;
    readonly pinOf: (output: DeviceOutput) => { pin?: number };
    readonly given?: readonly string[];
  },
): AddressPlan {
  const isGiven = given === undefined ? undefined : new Set(given.map(foldName));
  const spaces = new Map<string, { lines: readonly string[]; cycles: Set<string>; read?: string; write?: string }>();
  const selects: SelectIntent[] = [];
  for (const output of outputs) {
    if (output.select === undefined) continue;
    const regions = output.select.regions.filter(exists);
    for (const region of regions) {
      const space = spaces.get(region.space) ?? { lines: output.select.address, cycles: new Set() };
      space.cycles.add(output.select.cycle ?? output.select.when);
      if (region.gate !== undefined && region.access !== undefined) space[region.access] = region.gate;
      spaces.set(region.space, space);
    }
    selects.push({
      part: output.select.part,
      net: output.net,
      activeLow: output.select.activeLow,
      ...pinOf(output),
      ...(output.select.when === '' ? {} : { strobe: output.select.when }),
      // Without any condition too: where spaces have strobes of their own, those say which is meant.
      ...(output.select.cycle === undefined && output.select.when !== '' ? {} : { isAddressOnly: true as const }),
      ...(output.origin.span === undefined ? {} : { span: output.origin.span }),
      ranges: regions.map((region) => ({
        space: region.space,
        at: region.at,
        bytes: region.bytes,
        span: region.decl.span,
        ...(region.access === undefined ? {} : { access: region.access }),
        ...(region.decl.when === undefined ? {} : { when: region.decl.when.name }),
        ...(region.decl.mirrors === undefined ? {} : { mirrors: region.decl.mirrors }),
      })),
    });
  }
  return {
    spaces: [...spaces].map(([space, { lines, cycles, read, write }]): AddressSpace => {
      // A space's cycle is whenever any of its selects may be active; one that always may leaves nothing to say.
      const cycle = cycles.has('') ? {} : { cycle: [...cycles].map((one) => `(${one})`).join(' | ') };
      return {
        name: space as AddressSpace['name'],
        lines,
        ...(isGiven === undefined ? {} : { given: lines.filter((line) => isGiven.has(foldName(line))) }),
        ...cycle,
        ...(read === undefined ? {} : { read }),
        ...(write === undefined ? {} : { write }),
      };
    }),
    selects,
  };
}

function wantedOutput(output: DeviceOutput, pinOf: (pin: string) => { pin?: number }): WantedOutput {
  return {
    name: output.net,
    ...pinOf(output.pin),
    formula: output.formula ?? '0',
    registered: output.clock !== undefined,
    ...(output.enable === undefined ? {} : { enable: output.enable }),
    ...(output.origin.span === undefined ? {} : { span: output.origin.span }),
  };
}

/** Clock, reset and preset, of which a device has one each. */
function commonControls(
  outputs: readonly DeviceOutput[],
  part: string,
  findings: Finding[],
): { clock?: string; reset?: string; preset?: string } {
  const registered = outputs.filter((output) => output.clock !== undefined);
  const result: { clock?: string; reset?: string; preset?: string } = {};
  for (const key of ['clock', 'reset', 'preset'] as const) {
    const first = registered[0]?.[key];
    const other = registered.find((output) => output[key]?.trim() !== first?.trim());
    if (other !== undefined)
      findings.push({
        code: 'decode/controls-differ',
        severity: DECODE_CODES['decode/controls-differ'].severity,
        message: `${registered[0]!.net} and ${other.net} want different ${key}s, and ${part} has one for all its registers.`,
        where: other.origin.span === undefined ? [] : [other.origin.span],
        notes: [],
        help: `Give both the same ${key}, or put one in another device.`,
        about: [part, other.net],
      });
    if (first !== undefined) result[key] = first;
  }
  if (result.clock !== undefined) {
    const { formula } = parseFormula(result.clock);
    if (formula?.kind === 'name') result.clock = formula.name;
    else if (formula !== undefined && namesOf(formula).length > 0) {
      findings.push({
        code: 'decode/clock-is-formula',
        severity: DECODE_CODES['decode/clock-is-formula'].severity,
        message: `The clock of ${registered[0]!.net} is a formula; the registers of ${part} are clocked by the rising edge of one pin.`,
        where: registered[0]!.origin.span === undefined ? [] : [registered[0]!.origin.span],
        notes: [],
        help: 'Make the formula a net of its own and clock by that.',
        about: [part, registered[0]!.net],
      });
    }
  }
  return result;
}
