// Connections derived from `buses`, `memory` and `ports`: address, data and strobes by the roles that records state, and the
// selects that have to be made. Nothing here overrides what a line of the machine file says of a pin.

import { foldName } from '../../base/index.ts';
import type { BusDecl, MapDecl } from '../../machine/index.ts';
import type { PartBusRole, PartPinRow } from '../../parts/index.ts';
import type { MapRegion, Origin } from '../model.ts';
import { type Bus, type BusNets, lineNet, netOfPin, type Request, signalNet } from './bus-lines.ts';
import { busStyle } from './bus-styles.ts';
import {
  type Context,
  connect,
  type Instance,
  instancesOf,
  meet,
  netName,
  pinList,
  recordPin,
  report,
  type Stretch,
  statementsOf,
  stretchOf,
} from './context.ts';
import { supplyOf } from './rails.ts';
import { earlyStrobes, entriesOf } from './early-selects.ts';
import { regionOf, requestSelect } from './selects.ts';
import { makeWaits } from './waits.ts';

/** Derives all buses; returns the nets that are still to be made, the regions of the map, and the bus nets. */
export function deriveBuses(context: Context): { requests: Request[]; map: MapRegion[]; buses: BusNets[] } {
  const requests: Request[] = [];
  const map: MapRegion[] = [];
  const buses: BusNets[] = [];
  for (const decl of context.machine.buses) {
    const stretch = stretchOf(context, decl.lifetime);
    const processors = instancesOf(context, decl.processor.name, stretch);
    for (const processor of processors) {
      const common = meet(stretch, processor);
      if (common === undefined) continue;
      const bus = openBus(context, decl, processor, common);
      if (bus === undefined) continue;
      buses.push(bus);
      for (const ref of decl.members) {
        for (const member of instancesOf(context, ref.name, common)) {
          const both = meet(common, member);
          if (both !== undefined) joinMember(context, bus, member, both, ref.span, requests, map);
        }
      }
      makeWaits(context, bus, requests);
    }
  }
  return { requests, map, buses };
}

function openBus(context: Context, decl: BusDecl, processor: Instance, stretch: Stretch): Bus | undefined {
  const record = processor.type.record;
  const role = record.bus;
  if (role === undefined || role.role !== 'processor') {
    report(
      context,
      'netlist/not-a-processor',
      'error',
      `${processor.name} (${processor.type.name}) is not described as a processor, so no bus can be derived from it.`,
      decl.processor.span,
      {
        help: 'Name the processor here, or connect this bus by `nets`.',
        about: [processor.name],
      },
    );
    return undefined;
  }
  const members = decl.members.flatMap((ref) => instancesOf(context, ref.name, stretch));
  const controller = members.find((member) => member.type.record.bus?.role === 'bus-controller');
  const style = busStyle(role, controller !== undefined);
  if (style === undefined) {
    report(
      context,
      'netlist/bus-style-unknown',
      'warning',
      `Buses in the style of ${processor.type.name} are not derived yet.`,
      decl.processor.span,
      {
        help: 'Connect its bus by `nets`; checks and layout work all the same.',
        about: [processor.name],
      },
    );
    return undefined;
  }
  const origin: Origin = { by: 'bus', span: decl.span, text: `bus ${decl.name}, processor ${processor.name}` };
  const mapped = (instance: Instance): boolean =>
    context.machine.map.some((entry) => foldName(entry.part.name) === foldName(instance.name));
  const latches = members.filter((member) => member.type.record.bus?.role === 'latch' && !mapped(member));
  const transceivers = members.filter((member) => member.type.record.bus?.role === 'transceiver');

  const addressPins = pinList(role.address)
    .reverse()
    .map((name) => recordPin(record, name));
  const dataPins = pinList(role.data)
    .reverse()
    .map((name) => recordPin(record, name));
  const shared = new Set(dataPins.map((row) => row.number));
  const multiplexed = (row: PartPinRow): boolean => shared.has(row.number) || /\/S\d/.test(row.name);
  const groups: number[][] = [];
  for (let bit = 0; bit < addressPins.length; bit += 8)
    groups.push(Array.from({ length: Math.min(8, addressPins.length - bit) }, (_, k) => bit + k));
  const needed = groups.filter((bits) => bits.some((bit) => multiplexed(addressPins[bit]!)));
  const latched = latches.length > needed.length ? groups : needed;
  const latchOf = new Map<number, { latch: Instance; position: number }>();
  latched.forEach((bits, k) => {
    const latch = latches[k];
    if (latch === undefined) return;
    // A group starts at its first multiplexed bit: A19/S6 to A16/S3 take the latch's first elements.
    const wanted = latched === needed ? bits.filter((bit) => multiplexed(addressPins[bit]!)) : bits;
    wanted.forEach((bit, position) => {
      latchOf.set(bit, { latch, position });
    });
  });
  const address = addressPins.map((row, bit) => {
    const through = latchOf.get(bit);
    if (through === undefined) return netOfPin(context, processor, row, row.name, stretch, origin);
    const raw = netOfPin(context, processor, row, multiplexed(row) ? row.name : `${row.name}-raw`, stretch, origin);
    const { latch, position } = through;
    const input = (latch.type.record.bus?.inputs ?? [])[position];
    const output = (latch.type.record.bus?.outputs ?? [])[position];
    const both = meet(stretch, latch);
    const latchOrigin: Origin = {
      by: 'bus',
      span: decl.span,
      text: `bus ${decl.name}: ${latch.name} latches address bit ${bit}`,
    };
    if (input === undefined || output === undefined || both === undefined) return raw;
    connect(context, {
      instance: latch,
      row: recordPin(latch.type.record, input),
      net: raw,
      origin: latchOrigin,
      explicit: false,
      ...both,
    });
    return netOfPin(context, latch, recordPin(latch.type.record, output), `A${bit}`, both, latchOrigin);
  });
  tieSpareElements(context, decl, latches, stretch);
  const data = dataPins.map((row, bit) => {
    const raw = netOfPin(context, processor, row, row.name, stretch, origin);
    const transceiver = transceivers[Math.floor(bit / 8)];
    const both = transceiver === undefined ? undefined : meet(stretch, transceiver);
    if (transceiver === undefined || both === undefined) return raw;
    const near = (transceiver.type.record.bus?.inputs ?? [])[bit % 8];
    const far = (transceiver.type.record.bus?.outputs ?? [])[bit % 8];
    if (near === undefined || far === undefined) return raw;
    const through: Origin = {
      by: 'bus',
      span: decl.span,
      text: `bus ${decl.name}: ${transceiver.name} carries data bit ${bit}`,
    };
    connect(context, {
      instance: transceiver,
      row: recordPin(transceiver.type.record, near),
      net: raw,
      origin: through,
      explicit: false,
      ...both,
    });
    return netOfPin(context, transceiver, recordPin(transceiver.type.record, far), `D${bit}`, both, through);
  });
  return { decl, processor, stretch, role, style, controller, address, data };
}

function joinMember(
  context: Context,
  bus: Bus,
  member: Instance,
  stretch: Stretch,
  span: { file: string; start: number; end: number },
  requests: Request[],
  map: MapRegion[],
): void {
  const record = member.type.record;
  const role = record.bus;
  if (role === undefined) {
    report(
      context,
      'netlist/no-bus-role',
      'error',
      `${member.name} (${member.type.name}) has no place on a bus by its record.`,
      span,
      {
        help: 'Connect it by `nets` or `pins`, and take it out of the members.',
        about: [member.name],
      },
    );
    return;
  }
  const origin: Origin = { by: 'bus', span: bus.decl.span, text: `bus ${bus.decl.name}, member ${member.name}` };
  const join = (row: PartPinRow, net: string | undefined): void => {
    if (net !== undefined) connect(context, { instance: member, row, net, origin, explicit: false, ...stretch });
  };
  const entries = entriesOf(context, bus, member, stretch);
  const isPort = role.role === 'latch' || role.role === 'buffer';
  if (
    role.role === 'bus-controller' ||
    role.role === 'clock-generator' ||
    role.role === 'transceiver' ||
    (role.role === 'latch' && entries.length === 0)
  ) {
    joinInfrastructure(context, bus, member, role, join, requests);
    return;
  }
  if (role.role !== 'memory' && role.role !== 'peripheral' && !isPort) return;
  if (entries.length === 0) {
    report(
      context,
      'netlist/member-not-mapped',
      'error',
      `${member.name} is on bus ${bus.decl.name} but has no address.`,
      span,
      {
        help: `Give it one under \`memory\` or \`ports\`, such as { ${member.name}: 16 at 0x10 }.`,
        about: [member.name],
      },
    );
  }
  pinList(role.address)
    .reverse()
    .forEach((name, bit) => {
      const row = recordPin(record, name);
      const line = bus.address[bit];
      if (line !== undefined || bus.address.length === 0) join(row, line);
      else
        connect(context, {
          instance: member,
          row,
          net: netName(context, 'GND'),
          origin: {
            by: 'required-tie',
            span: member.decl.span,
            text: `${member.name} has more address pins than ${bus.processor.name} has lines: ${row.name} is tied low`,
          },
          explicit: false,
          ...stretch,
        });
    });
  const dataPins =
    role.role === 'buffer'
      ? (role.outputs ?? [])
      : role.role === 'latch'
        ? (role.inputs ?? [])
        : pinList(role.data).reverse();
  dataPins.forEach((name, bit) => {
    join(recordPin(record, name), bus.data[bit]);
  });
  const space = entries[0]?.space ?? 'memory';
  const prefix = space === 'memory' ? 'memory' : 'io';
  const strobes = earlyStrobes(context, bus, member, stretch, entries);
  const isEarly = strobes !== undefined;
  if (strobes !== undefined) context.early.push({ part: member.name, span: member.decl.span, strobes });
  const readOnly =
    role.role === 'memory' && member.decl.holds !== undefined && !entries.some((entry) => entry.access === 'write');
  for (const [key, pin] of isPort ? [] : Object.entries(role.signals ?? {})) {
    const row = recordPin(record, pin);
    if (key === 'write' && readOnly) {
      connect(context, {
        instance: member,
        row,
        net: supplyOf(context, member),
        origin: {
          by: 'required-tie',
          span: member.decl.span,
          text: `${member.name} holds an image, so its write pin is tied high; joined to the write strobe under \`nets\`, it can be written`,
        },
        explicit: false,
        ...stretch,
      });
      continue;
    }
    const net =
      (isEarly ? lineNet(context, bus, `${prefix}-${key}-alone`, requests) : undefined) ??
      lineNet(context, bus, `${prefix}-${key}`, requests) ??
      lineNet(context, bus, key, requests);
    join(row, net);
  }
  // A part with both strobes answers to one kind of cycle only where its select looks at that strobe.
  const gateOf = (access: MapDecl['access']): string | undefined => {
    if (isPort || access === undefined || (access === 'read' && (readOnly || isReadable(role)))) return undefined;
    const net = lineNet(context, bus, `${prefix}-${access}`, requests) ?? lineNet(context, bus, access, requests);
    return net === undefined ? undefined : `~${net}`;
  };
  const regions = entries.flatMap((entry) =>
    regionOf(
      context,
      entry,
      stretch,
      isPort ? (role.role === 'latch' ? 'write' : 'read') : readOnly || isReadable(role) ? 'read' : undefined,
      gateOf(entry.access),
    ),
  );
  map.push(...regions);
  if (regions.length > 0)
    requestSelect(context, bus, member, role, stretch, regions, join, requests, { isPort, isEarly });
}

/** Whether a part can be read only: it has a pin for the read strobe and none for any other. */
function isReadable(role: PartBusRole): boolean {
  const signals = Object.keys(role.signals ?? {});
  return signals.includes('read') && !signals.includes('write');
}

/** Elements of address latches that no address line needs: inputs low, outputs open. */
function tieSpareElements(context: Context, decl: BusDecl, latches: readonly Instance[], stretch: Stretch): void {
  for (const latch of latches) {
    const both = meet(stretch, latch);
    const { inputs = [], outputs = [] } = latch.type.record.bus ?? {};
    if (both === undefined) continue;
    const origin: Origin = {
      by: 'spare-unit',
      span: decl.span,
      text: `an element of ${latch.name} that bus ${decl.name} does not need`,
    };
    inputs.forEach((name, k) => {
      const row = recordPin(latch.type.record, name);
      const output = outputs[k] === undefined ? undefined : recordPin(latch.type.record, outputs[k]);
      const used = [row, ...(output === undefined ? [] : [output])].some(
        (pin) => statementsOf(context, latch, pin, both).length > 0,
      );
      if (used) return;
      connect(context, { instance: latch, row, net: netName(context, 'GND'), origin, explicit: false, ...both });
      if (output !== undefined)
        connect(context, { instance: latch, row: output, net: undefined, origin, explicit: false, ...both });
    });
  }
}

/** Parts between the processor and the rest: latches, transceivers, bus controller, clock generator. */
function joinInfrastructure(
  context: Context,
  bus: Bus,
  member: Instance,
  role: PartBusRole,
  join: (row: PartPinRow, net: string | undefined) => void,
  requests: Request[],
): void {
  const record = member.type.record;
  const own = [bus.processor];
  const netFor = (key: string, index: number): string | undefined => {
    switch (role.role) {
      case 'latch':
        if (key === 'latch') return lineNet(context, bus, 'ale', requests);
        return key === 'enable' ? netName(context, 'GND') : undefined;
      case 'transceiver':
        if (key === 'enable') return lineNet(context, bus, 'data-enable', requests);
        return key === 'direction' ? lineNet(context, bus, 'data-direction', requests) : undefined;
      case 'bus-controller':
        return key === 'status' || key === 'clock' ? signalNet(context, bus, key, own, index) : undefined;
      case 'clock-generator':
        return ['clock', 'reset', 'ready'].includes(key) ? signalNet(context, bus, key, own, index) : undefined;
      default:
        return undefined;
    }
  };
  for (const [key, pins] of Object.entries(role.signals ?? {}))
    pinList(pins).forEach((pin, index) => {
      join(recordPin(record, pin), netFor(key, index));
    });
}
