// Programmable logic devices: which of their pins take which nets, so that the functions asked of them can be made. The
// fuses themselves are the decoder engine's work; here only pins are given out, the builder's own assignments first.

import { foldName, namesOf, parseFormula } from '../../base/index.ts';
import type { PartPinRow } from '../../parts/index.ts';
import type { DeviceOutput, DevicePlan, MapRegion } from '../model.ts';
import { fullBits, tellsApart } from './address.ts';
import {
  type Context,
  connect,
  findPins,
  type Instance,
  meet,
  merged,
  netName,
  overlap,
  report,
  setKind,
  type Stretch,
  statementsOf,
} from './context.ts';

export interface Programmable {
  readonly instance: Instance;
  readonly outputs: DeviceOutput[];
  /** For each output, the stages for which it is wired. */
  readonly during: Map<DeviceOutput, Stretch>;
  /** Input nets in order of need, each with the stages in which an output looks at it. */
  readonly wanted: { net: string; text: string; during: Stretch[] }[];
  readonly freeInputs: PartPinRow[];
  readonly freeOutputs: PartPinRow[];
  /** Pins that the machine file puts in a net, by folded net name. */
  readonly stated: Map<string, PartPinRow>;
}

/** All programmable devices of the machine, with the pins that are still free. */
export function openProgrammables(context: Context): Programmable[] {
  return context.instances
    .filter(
      (instance) => instance.type.record.category === 'logic-device' && instance.type.record.bus?.role === 'decoder',
    )
    .map((instance) => {
      const record = instance.type.record;
      const stated = new Map<string, PartPinRow>();
      const touched = new Set<number>();
      for (const row of record.pins) {
        const statement = statementsOf(context, instance, row).find((candidate) => candidate.explicit);
        if (statement === undefined) continue;
        touched.add(row.number);
        if (statement.net !== undefined) stated.set(foldName(statement.net), row);
      }
      const rows = (names: readonly string[] | undefined): PartPinRow[] =>
        (names ?? []).flatMap((name) => findPins(record, name).slice(0, 1)).filter((row) => !touched.has(row.number));
      const outputs = rows(record.bus?.outputs);
      // A pin that can be both is kept as an output while there are others.
      const inputs = rows(record.bus?.inputs);
      const dedicated = inputs.filter((row) => !outputs.some((output) => output.number === row.number));
      const shared = inputs.filter((row) => outputs.some((output) => output.number === row.number)).reverse();
      return {
        instance,
        outputs: [],
        during: new Map(),
        wanted: [],
        freeInputs: [...dedicated, ...shared],
        freeOutputs: outputs,
        stated,
      };
    });
}

/** The output pin a net would get: the one it has in other stages, the stated one, or the next free. */
export function outputPin(device: Programmable, net: string, during: Stretch, pin?: string): PartPinRow | undefined {
  const before = device.outputs.filter((output) => foldName(output.net) === foldName(net));
  if (before.length > 0) {
    const clash = before.some((output) => overlap(device.during.get(output)!, during));
    const row = findPins(device.instance.type.record, before[0]!.pin)[0];
    const asked = pin === undefined || row?.name === pin || String(row?.number) === pin;
    if (!clash && asked) return row;
  }
  if (pin !== undefined) {
    const row =
      findPins(device.instance.type.record, pin)[0] ??
      device.instance.type.record.pins.find((candidate) => String(candidate.number) === pin);
    return row !== undefined && device.freeOutputs.some((free) => free.number === row.number) ? row : undefined;
  }
  return device.stated.get(foldName(net)) ?? device.freeOutputs[0];
}

/** Gives an output its pin. */
export function addOutput(
  context: Context,
  device: Programmable,
  row: PartPinRow,
  output: Omit<DeviceOutput, 'pin'>,
  during: Stretch,
): void {
  const drop = (list: PartPinRow[]): void => {
    const at = list.findIndex((free) => free.number === row.number);
    if (at >= 0) list.splice(at, 1);
  };
  drop(device.freeOutputs);
  drop(device.freeInputs);
  const { instance } = device;
  const stretch = meet(instance, during);
  const asked = meet(instance, output);
  if (stretch === undefined || asked === undefined) return;
  const made: DeviceOutput = { ...output, ...asked, pin: row.name };
  device.outputs.push(made);
  device.during.set(made, during);
  connect(context, {
    instance,
    row,
    net: netName(context, output.net),
    origin: output.origin,
    explicit: false,
    ...stretch,
  });
  const canLetGo = output.enable !== undefined || output.clock !== undefined;
  setKind(context, instance, row, stretch, canLetGo ? 'three-state' : 'output');
}

function want(device: Programmable, net: string, text: string, during: Stretch): void {
  const known = device.wanted.find((wanted) => foldName(wanted.net) === foldName(net));
  if (known === undefined) device.wanted.push({ net, text, during: [during] });
  else known.during.push(during);
}

/**
 * Notes the nets that the device's outputs look at, as few address bits as must be where pins are short; returns those that
 * still want a pin, with `free` pins to be had.
 */
function gatherInputs(context: Context, device: Programmable, free: number): string[] {
  const selects = device.outputs.flatMap((output) =>
    output.select === undefined ? [] : [{ output, select: output.select }],
  );
  const bits = new Map<
    string,
    { bits: number[]; regions: MapRegion[]; address: readonly string[]; during: Stretch[] }
  >();
  for (const { output, select } of selects) {
    const space = select.regions[0]!.space;
    const entry = bits.get(space) ?? { bits: [], regions: [], address: select.address, during: [] };
    entry.regions.push(...select.regions);
    entry.during.push(device.during.get(output)!);
    bits.set(space, entry);
  }
  for (const entry of bits.values()) entry.bits = fullBits(entry.regions, entry.address.length);
  const gather = (): void => {
    device.wanted.length = 0;
    for (const entry of bits.values())
      for (const bit of [...entry.bits].sort((a, b) => b - a))
        for (const during of entry.during) want(device, entry.address[bit]!, 'address bit of a select', during);
    for (const output of device.outputs) {
      for (const formula of [
        output.formula,
        output.select?.when,
        output.enable,
        output.reset,
        output.preset,
        output.clock,
        ...(output.select?.regions.flatMap((region) => [region.decl.when?.name, region.gate]) ?? []),
      ]) {
        if (formula === undefined || formula === '') continue;
        for (const net of namesOf(parseFormula(formula).formula ?? { kind: 'constant', value: 0 }))
          want(device, net, `needed for ${output.net}`, device.during.get(output)!);
      }
    }
  };
  // A net that this very device makes is fed back inside it.
  const own = (net: string): boolean => device.outputs.some((output) => foldName(output.net) === foldName(net));
  const unplaced = (): string[] =>
    device.wanted.map((wanted) => wanted.net).filter((net) => !own(net) && !device.stated.has(foldName(net)));
  gather();
  const all = [...bits.values()];
  const every = (entry: { regions: MapRegion[]; address: readonly string[] }): MapRegion[] => {
    const space = entry.regions[0]!.space;
    const others = context.machine.map
      .filter((decl) => decl.space === space && !entry.regions.some((region) => region.decl === decl))
      .map(
        (decl): MapRegion => ({
          space,
          part: decl.part.name,
          at: decl.at,
          bytes: decl.bytes,
          access: decl.access,
          decl,
          stage: 1,
          until: undefined,
        }),
      );
    return [...entry.regions, ...others];
  };
  for (let round = 0; round < 64 && unplaced().length > free; round++) {
    const entry = all.find((candidate) =>
      candidate.bits.some((bit) =>
        tellsApart(
          every(candidate),
          candidate.bits.filter((other) => other !== bit),
          candidate.address.length,
        ),
      ),
    );
    if (entry === undefined) break;
    const drop = entry.bits.find((bit) =>
      tellsApart(
        every(entry),
        entry.bits.filter((other) => other !== bit),
        entry.address.length,
      ),
    );
    entry.bits = entry.bits.filter((bit) => bit !== drop);
    gather();
  }
  return unplaced();
}

/**
 * The pins that registers of the device need, where it has any and the machine file has not given these pins away: the one that
 * clocks them, with the net, and the one that has to be low for them to drive.
 */
function registerPins(
  context: Context,
  device: Programmable,
): {
  readonly clock: { readonly row: PartPinRow; readonly net: string } | undefined;
  readonly enable: PartPinRow | undefined;
} {
  const registered = device.outputs.find((output) => output.clock !== undefined);
  if (registered === undefined) return { clock: undefined, enable: undefined };
  const { record } = device.instance.type;
  const pinOf = (key: string): PartPinRow | undefined => {
    const name = record.bus?.signals?.[key];
    const row = name === undefined ? undefined : findPins(record, name)[0];
    return device.freeInputs.find((one) => one === row);
  };
  const { formula } = parseFormula(registered.clock!);
  const net = formula?.kind === 'name' ? netName(context, formula.name) : undefined;
  const row = pinOf('clock');
  const isStated = net !== undefined && device.stated.has(foldName(net));
  return {
    clock: row === undefined || net === undefined || isStated ? undefined : { row, net },
    enable: pinOf('output-enable'),
  };
}

/** Whether the device would have pins for all its inputs with this output more, at this pin. */
export function hasInputsFor(
  context: Context,
  device: Programmable,
  row: PartPinRow,
  output: Omit<DeviceOutput, 'pin'>,
  during: Stretch,
): boolean {
  const trial: DeviceOutput = { ...output, pin: row.name };
  device.outputs.push(trial);
  device.during.set(trial, during);
  const { clock, enable } = registerPins(context, device);
  const free = device.freeInputs.filter((one) => one !== row && one !== clock?.row && one !== enable).length;
  const missing = gatherInputs(context, device, free).filter((net) => net !== clock?.net);
  device.outputs.pop();
  device.during.delete(trial);
  return missing.length <= free;
}

/** After all outputs are known: gives every input net a pin. */
export function assignInputs(context: Context, device: Programmable): DevicePlan {
  const { instance } = device;
  const own = (net: string): boolean => device.outputs.some((output) => foldName(output.net) === foldName(net));
  const { clock, enable } = registerPins(context, device);
  const take = (row: PartPinRow | undefined): void => {
    if (row !== undefined) device.freeInputs.splice(device.freeInputs.indexOf(row), 1);
  };
  take(clock?.row);
  take(enable);
  if (enable !== undefined)
    connect(context, {
      instance,
      row: enable,
      net: netName(context, 'GND'),
      origin: {
        by: 'required-tie',
        span: instance.decl.span,
        text: `the registers of ${instance.name} drive while ${enable.name} is low`,
      },
      explicit: false,
      stage: instance.stage,
      until: instance.until,
    });
  const isClock = (net: string): boolean => clock !== undefined && foldName(net) === foldName(clock.net);
  const missing = gatherInputs(context, device, device.freeInputs.length).filter((net) => !isClock(net));
  if (missing.length > device.freeInputs.length) {
    report(
      context,
      'netlist/device-inputs-short',
      'error',
      `${instance.name} needs ${missing.length} inputs and has ${device.freeInputs.length} pins left for them.`,
      instance.decl.span,
      {
        notes: [{ text: `It would need ${missing.join(', ')}.` }],
        help: 'Use a larger device, decode the ports in another one, or make some of the logic of gates.',
        about: [instance.name],
      },
    );
  }
  const inputs: { pin: string; net: string }[] = [];
  for (const wanted of device.wanted) {
    if (own(wanted.net)) continue;
    const stated = device.stated.get(foldName(wanted.net));
    const row = stated ?? (isClock(wanted.net) ? clock!.row : device.freeInputs.shift());
    if (row === undefined) continue;
    device.freeOutputs.splice(
      0,
      device.freeOutputs.length,
      ...device.freeOutputs.filter((free) => free.number !== row.number),
    );
    inputs.push({ pin: row.name, net: wanted.net });
    for (const during of merged(wanted.during)) {
      const stretch = meet(instance, during);
      if (stretch === undefined) continue;
      if (stated === undefined)
        connect(context, {
          instance,
          row,
          net: netName(context, wanted.net),
          origin: { by: 'select', span: instance.decl.span, text: `input of ${instance.name}: ${wanted.text}` },
          explicit: false,
          ...stretch,
        });
      setKind(context, instance, row, stretch, 'input');
    }
  }
  return { part: instance.name, type: instance.type.name, inputs, outputs: device.outputs };
}
