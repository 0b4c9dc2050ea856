// Programmable logic devices: which of their pins take which nets, so that the functions asked of them can be made. The
// fuses themselves are the decoder engine's work; here only pins are given out, the builder's own assignments first.

import { foldName, namesOf, parseFormula } from '../../base/index.ts';
import type { PartPinRow } from '../../parts/index.ts';
import type { DeviceOutput, DevicePlan, MapRegion } from '../model.ts';
import { fullBits, tellsApart } from './address.ts';
import { type Context, connect, findPins, type Instance, netName, report, statementsOf } from './context.ts';

export interface Programmable {
  readonly instance: Instance;
  readonly outputs: DeviceOutput[];
  /** Input nets in order of need. */
  readonly wanted: { net: string; text: string }[];
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
      return { instance, outputs: [], wanted: [], freeInputs: [...dedicated, ...shared], freeOutputs: outputs, stated };
    });
}

/** The output pin a net would get: the stated one, or the next free. */
export function outputPin(device: Programmable, net: string, pin?: string): PartPinRow | undefined {
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
): void {
  const drop = (list: PartPinRow[]): void => {
    const at = list.findIndex((free) => free.number === row.number);
    if (at >= 0) list.splice(at, 1);
  };
  drop(device.freeOutputs);
  drop(device.freeInputs);
  device.outputs.push({ ...output, pin: row.name });
  const { instance } = device;
  connect(context, {
    instance,
    row,
    net: netName(context, output.net),
    origin: output.origin,
    explicit: false,
    stage: Math.max(instance.stage, 1),
    until: instance.until,
  });
}

function want(device: Programmable, net: string, text: string): void {
  if (!device.wanted.some((wanted) => foldName(wanted.net) === foldName(net))) device.wanted.push({ net, text });
}

/** After all outputs are known: gives every input net a pin, looking at as few address bits as must be when pins are short. */
export function assignInputs(context: Context, device: Programmable): DevicePlan {
  const { instance } = device;
  const selects = device.outputs.flatMap((output) =>
    output.select === undefined ? [] : [{ output, select: output.select }],
  );
  const bits = new Map<string, { bits: number[]; regions: MapRegion[]; address: readonly string[] }>();
  for (const { select } of selects) {
    const space = select.regions[0]!.space;
    const entry = bits.get(space) ?? { bits: [], regions: [], address: select.address };
    entry.regions.push(...select.regions);
    bits.set(space, entry);
  }
  for (const entry of bits.values()) entry.bits = fullBits(entry.regions, entry.address.length);
  const gather = (): void => {
    device.wanted.length = 0;
    for (const entry of bits.values())
      for (const bit of [...entry.bits].sort((a, b) => b - a))
        want(device, entry.address[bit]!, 'address bit of a select');
    for (const output of device.outputs) {
      for (const formula of [
        output.formula,
        output.select?.when,
        output.enable,
        output.reset,
        output.preset,
        output.clock,
        ...(output.select?.regions.map((region) => region.decl.when?.name) ?? []),
      ]) {
        if (formula === undefined || formula === '') continue;
        for (const net of namesOf(parseFormula(formula).formula ?? { kind: 'constant', value: 0 }))
          want(device, net, `needed for ${output.net}`);
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
  for (let round = 0; round < 64 && unplaced().length > device.freeInputs.length; round++) {
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
  const missing = unplaced();
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
  const stretch = { stage: instance.stage, until: instance.until };
  for (const wanted of device.wanted) {
    if (own(wanted.net)) continue;
    const stated = device.stated.get(foldName(wanted.net));
    const row = stated ?? device.freeInputs.shift();
    if (row === undefined) continue;
    device.freeOutputs.splice(
      0,
      device.freeOutputs.length,
      ...device.freeOutputs.filter((free) => free.number !== row.number),
    );
    inputs.push({ pin: row.name, net: wanted.net });
    if (stated === undefined) {
      connect(context, {
        instance,
        row,
        net: netName(context, wanted.net),
        origin: { by: 'select', span: instance.decl.span, text: `input of ${instance.name}: ${wanted.text}` },
        explicit: false,
        ...stretch,
      });
    }
  }
  return { part: instance.name, type: instance.type.name, inputs, outputs: device.outputs };
}
