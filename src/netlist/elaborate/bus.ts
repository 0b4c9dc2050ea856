// Connections derived from `buses`, `memory` and `ports`: address, data and strobes by the roles that records state, and the
// selects that have to be made. Nothing here overrides what a line of the machine file says of a pin.

import { foldName } from '../../base/index.ts';
import type { BusDecl, MapDecl } from '../../machine/index.ts';
import type { PartBusRole, PartPinRow } from '../../parts/index.ts';
import type { MapRegion, Origin } from '../model.ts';
import { type BusStyle, busStyle } from './bus-styles.ts';
import {
  type Context,
  connect,
  findPins,
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

/** A net that some device has to make from others. */
export interface Request extends Stretch {
  readonly net: string;
  /** Formula over nets, for `low`/`high` asserted as given. */
  readonly formula: string;
  readonly origin: Origin;
  /** The decoders that may make it, in order of preference; empty for any unit or device. */
  readonly decoders: readonly string[];
  /** What is selected, for selects. */
  readonly select?: {
    readonly part: string;
    readonly regions: readonly MapRegion[];
    readonly activeLow: boolean;
    readonly when: string;
    readonly address: readonly string[];
  };
}

export interface BusNets {
  readonly decl: BusDecl;
  readonly processor: Instance;
  /** Net names by bit. */
  readonly address: readonly string[];
  readonly data: readonly string[];
}

interface Bus extends BusNets {
  readonly stretch: Stretch;
  readonly role: PartBusRole;
  readonly style: BusStyle;
  readonly controller: Instance | undefined;
}

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
    }
  }
  return { requests, map, buses };
}

/** The net that a pin is in, or the derived one that it now gets. */
function netOfPin(
  context: Context,
  instance: Instance,
  row: PartPinRow,
  fallback: string,
  stretch: Stretch,
  origin: Origin,
): string {
  const stated = statementsOf(context, instance, row, stretch).find((statement) => statement.net !== undefined);
  if (stated?.net !== undefined) return stated.net;
  const net = netName(context, freeName(context, fallback, instance));
  connect(context, { instance, row, net, origin, explicit: false, ...stretch });
  return net;
}

/** `A0` for the first processor that wants it, `CPU2-A0` for a second one. */
function freeName(context: Context, name: string, instance: Instance): string {
  const key = foldName(name);
  const taken = context.statements.some(
    (statement) =>
      !statement.explicit &&
      statement.net !== undefined &&
      foldName(statement.net) === key &&
      statement.instance.name !== instance.name &&
      statement.instance.type.record.bus?.role === 'processor',
  );
  return taken ? `${instance.name}-${name}` : name;
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

/** The net of a signal of the bus controller or the processor, or undefined when neither has it. */
function signalNet(context: Context, bus: Bus, key: string): string | undefined {
  for (const instance of bus.controller === undefined ? [bus.processor] : [bus.controller, bus.processor]) {
    const pin = instance.type.record.bus?.signals?.[key];
    if (pin === undefined) continue;
    const row = recordPin(instance.type.record, pin);
    const origin: Origin = { by: 'bus', span: bus.decl.span, text: `bus ${bus.decl.name}: ${key} of ${instance.name}` };
    return netOfPin(context, instance, row, row.name, meet(bus.stretch, instance) ?? bus.stretch, origin);
  }
  return undefined;
}

/** Puts net names into a style's formula; undefined when a signal it needs isn't there. */
function fillFormula(context: Context, bus: Bus, formula: string): string | undefined {
  let missing = false;
  const filled = formula.replace(/\{([\w-]+)\}/g, (_, key: string) => {
    const net = signalNet(context, bus, key);
    if (net === undefined) missing = true;
    return net ?? key;
  });
  return missing ? undefined : filled;
}

/** The net of a line such as read or memory-write; a line that has to be made is requested once. */
function lineNet(context: Context, bus: Bus, key: string, requests: Request[]): string | undefined {
  const line = Object.hasOwn(bus.style.lines, key) ? bus.style.lines[key] : undefined;
  if (line === undefined) return undefined;
  if ('signal' in line) return signalNet(context, bus, line.signal);
  const net = netName(context, line.net);
  if (
    !requests.some((request) => foldName(request.net) === foldName(net)) &&
    !context.machine.logic.some((logic) => foldName(logic.net) === foldName(net))
  ) {
    const formula = fillFormula(context, bus, line.make);
    if (formula === undefined) return undefined;
    requests.push({
      net,
      formula,
      origin: {
        by: 'bus',
        span: bus.decl.span,
        text: `bus ${bus.decl.name}: ${key}, made because the processor has no such pin`,
      },
      decoders: bus.decl.selects.map((select) => select.name),
      ...bus.stretch,
    });
  }
  return net;
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
  const entries = context.machine.map.filter(
    (entry) =>
      foldName(entry.part.name) === foldName(member.name) &&
      (entry.bus === undefined || foldName(entry.bus.name) === foldName(bus.decl.name)),
  );
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
      join(recordPin(record, name), bus.address[bit]);
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
          text: `${member.name} holds an image, so its write pin is tied high; \`access: write\` under memory lets the processor write`,
        },
        explicit: false,
        ...stretch,
      });
      continue;
    }
    const prefix = space === 'memory' ? 'memory' : 'io';
    const net = lineNet(context, bus, `${prefix}-${key}`, requests) ?? lineNet(context, bus, key, requests);
    join(row, net);
  }
  const regions = entries.flatMap((entry) =>
    regionOf(context, entry, stretch, isPort ? (role.role === 'latch' ? 'write' : 'read') : undefined),
  );
  map.push(...regions);
  if (regions.length > 0) requestSelect(context, bus, member, role, stretch, regions, join, requests, isPort);
}

function joinInfrastructure(
  context: Context,
  bus: Bus,
  member: Instance,
  role: PartBusRole,
  join: (row: PartPinRow, net: string | undefined) => void,
  requests: Request[],
): void {
  const record = member.type.record;
  for (const [key, pin] of Object.entries(role.signals ?? {}).flatMap(([name, pins]) =>
    pinList(pins).map((pin) => [name, pin] as const),
  )) {
    const row = recordPin(record, pin);
    if (role.role === 'latch' && key === 'latch') join(row, lineNet(context, bus, 'ale', requests));
    if (role.role === 'latch' && key === 'enable') join(row, netName(context, 'GND'));
    if (role.role === 'transceiver' && key === 'enable') join(row, lineNet(context, bus, 'data-enable', requests));
    if (role.role === 'transceiver' && key === 'direction')
      join(row, lineNet(context, bus, 'data-direction', requests));
    if (role.role === 'bus-controller' && /^status/.test(key)) {
      const from = bus.processor.type.record.bus?.signals?.[key];
      if (from === undefined) continue;
      const origin: Origin = { by: 'bus', span: bus.decl.span, text: `bus ${bus.decl.name}: ${key}` };
      const source = recordPin(bus.processor.type.record, from);
      join(row, netOfPin(context, bus.processor, source, source.name, bus.stretch, origin));
    }
  }
}

function regionOf(context: Context, entry: MapDecl, stretch: Stretch, only: 'read' | 'write' | undefined): MapRegion[] {
  const common = meet(stretchOf(context, entry.lifetime), stretch);
  return common === undefined
    ? []
    : [
        {
          space: entry.space,
          part: entry.part.name,
          at: entry.at,
          bytes: entry.bytes,
          access: entry.access ?? only,
          decl: entry,
          ...common,
        },
      ];
}

function requestSelect(
  context: Context,
  bus: Bus,
  member: Instance,
  role: PartBusRole,
  stretch: Stretch,
  regions: readonly MapRegion[],
  join: (row: PartPinRow, net: string | undefined) => void,
  requests: Request[],
  isPort: boolean,
): void {
  const record = member.type.record;
  const space = regions[0]!.space;
  const when: string[] = [];
  const qualifier = space === 'memory' ? bus.style.memoryWhen : bus.style.portsWhen;
  if (qualifier === undefined) {
    report(
      context,
      'netlist/no-port-space',
      'error',
      `${bus.processor.type.name} has no ports, so ${member.name} can't be at one.`,
      regions[0]!.decl.span,
      {
        help: 'Put it under `memory`.',
        about: [member.name],
      },
    );
    return;
  }
  if (qualifier !== '') when.push(`(${fillFormula(context, bus, qualifier) ?? qualifier})`);
  // A port made of a latch or a buffer has no strobe pin of its own: the strobe goes into its select.
  if (isPort) {
    const key = role.role === 'latch' ? 'write' : 'read';
    const net =
      lineNet(context, bus, `${space === 'memory' ? 'memory' : 'io'}-${key}`, requests) ??
      lineNet(context, bus, key, requests);
    if (net !== undefined) when.push(`~${net}`);
  }
  // A port's select goes to the clock or latch pin of a latch, to the enables of a buffer.
  const pinNames = isPort
    ? role.role === 'latch'
      ? pinList(role.signals?.clock ?? role.signals?.latch)
      : pinList(role.signals?.enable)
    : (role.selects ?? []);
  if (isPort) {
    const always = role.role === 'latch' ? pinList(role.signals?.enable) : pinNames.slice(1);
    for (const name of always) join(recordPin(record, name), netName(context, 'GND'));
  }
  const free = pinNames
    .map((name) => recordPin(record, name))
    .find((row) => {
      const stated = statementsOf(context, member, row, stretch)[0];
      return stated === undefined || (stated.net !== undefined && !isRail(context, stated.net));
    });
  if (free === undefined) return;
  const stated = statementsOf(context, member, free, stretch)[0]?.net;
  const clockEdge = role.signals?.clock !== undefined && isPort;
  const activeLow = clockEdge || free.name.startsWith('/');
  const net = stated ?? netName(context, activeLow ? `/${member.name}` : `${member.name}-select`);
  const driven = stated !== undefined && isDriven(context, stated, member);
  if (driven) return;
  const origin: Origin = {
    by: 'select',
    span: regions[0]!.decl.span,
    text: `select of ${member.name}, from its place in the ${space === 'memory' ? 'memory map' : 'port map'}`,
  };
  if (stated === undefined) connect(context, { instance: member, row: free, net, origin, explicit: false, ...stretch });
  else join(free, net);
  const width = space === 'memory' ? bus.address.length : Math.min(bus.role['port-bits'] ?? 8, bus.address.length);
  const decoders = bus.decl.selects
    .filter((select) => select.for === undefined || select.for === space)
    .map((select) => select.name);
  requests.push({
    net,
    formula: '',
    origin,
    decoders,
    select: { part: member.name, regions, activeLow, when: when.join(' & '), address: bus.address.slice(0, width) },
    ...stretch,
  });
}

/** Whether an explicit statement puts an output of another part in the net. */
function isDriven(context: Context, net: string, but: Instance): boolean {
  const key = foldName(net);
  if (context.machine.logic.some((logic) => foldName(logic.net) === key)) return true;
  return context.statements.some(
    (statement) =>
      statement.net !== undefined &&
      foldName(statement.net) === key &&
      statement.instance !== but &&
      (statement.row.kind === 'output' || statement.row.kind === 'three-state' || statement.row.kind === 'open-drain'),
  );
}

export function isRail(context: Context, net: string): boolean {
  const key = foldName(net);
  return key === 'gnd' || context.machine.supplies.some((supply) => foldName(supply.name) === key);
}

/** The supply net that feeds a part. */
export function supplyOf(context: Context, instance: Instance): string {
  const named =
    instance.decl.supply?.name ?? context.machine.defaults.supply?.name ?? context.machine.supplies[0]?.name ?? 'main';
  return netName(context, named);
}

/** Whether a part has any pin of that name. */
export function hasPin(instance: Instance, name: string): boolean {
  return findPins(instance.type.record, name).length > 0;
}
