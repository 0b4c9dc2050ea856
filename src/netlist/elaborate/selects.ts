// Selects that the maps ask for: which pin takes one, and under which condition. Who makes it is another matter.

import { foldName, namesOf, parseFormula } from '../../base/index.ts';
import type { MapDecl } from '../../machine/index.ts';
import type { PartBusRole, PartPinRow, PartRecord } from '../../parts/index.ts';
import type { MapRegion, Origin } from '../model.ts';
import { type Bus, fillFormula, lineNet, type Request } from './bus-lines.ts';
import {
  type Context,
  connect,
  type Instance,
  instancesOf,
  meet,
  netName,
  overlap,
  pinList,
  recordPin,
  report,
  type Stretch,
  statementsOf,
  stretchOf,
} from './context.ts';
import { hasEarlySelects } from './early-selects.ts';
import { isRail } from './rails.ts';

/** The region of an entry of the maps during these stages, or none. */
export function regionOf(
  context: Context,
  entry: MapDecl,
  stretch: Stretch,
  only: 'read' | 'write' | undefined,
  gate?: string,
): MapRegion[] {
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
          ...(gate === undefined ? {} : { gate }),
          decl: entry,
          ...common,
        },
      ];
}

/**
 * Asks for the select of a member, from its regions, and joins it to the pin that takes it. `isPort`: a latch or buffer without
 * strobe pins; `isEarly`: the select follows the address alone.
 */
export function requestSelect(
  context: Context,
  bus: Bus,
  member: Instance,
  role: PartBusRole,
  stretch: Stretch,
  regions: readonly MapRegion[],
  join: (row: PartPinRow, net: string | undefined) => void,
  requests: Request[],
  { isPort, isEarly }: { readonly isPort: boolean; readonly isEarly: boolean },
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
  const filled = (formula: string): string => {
    const text = fillFormula(context, bus, formula) ?? formula;
    return formula === bus.style.portsWhenStrobed || text === '' ? text : `(${text})`;
  };
  const cycle = filled(qualifier);
  if (cycle !== '' && !isEarly) when.push(cycle);
  // While another master has the bus the address lines carry its memory address: no port answers but that master's own.
  if (space === 'ports')
    for (const master of bus.decl.masters)
      if (foldName(master.part.name) !== foldName(member.name) && isThere(context, master.part.name, stretch))
        when.push(`~(${master.when.name})`);
  const decoders = bus.decl.selects
    .filter((select) => select.for === undefined || select.for === space)
    .map((select) => select.name);
  // A port's select goes to the clock or latch pin of a latch, to the enables of a buffer.
  const pinNames = isPort
    ? role.role === 'latch'
      ? pinList(role.signals?.clock ?? role.signals?.latch)
      : pinList(role.signals?.enable)
    : (role.selects ?? []);
  // A port made of a latch or a buffer has no strobe pin of its own: the strobe goes into its select.
  let strobe: Request['strobe'];
  let isAlone = false;
  if (isPort) {
    const key = role.role === 'latch' ? 'write' : 'read';
    const fixed = !isProgrammable(context, decoders, stretch);
    // Behind a decoder of fixed function that others ask for address-only selects, this one is to be alike.
    const alone = `${space === 'memory' ? 'memory' : 'io'}-${key}-alone`;
    isAlone = fixed && hasEarlySelects(context, bus, space, stretch);
    const net =
      (isAlone ? lineNet(context, bus, alone, requests) : undefined) ??
      lineNet(context, bus, `${space === 'memory' ? 'memory' : 'io'}-${key}`, requests) ??
      lineNet(context, bus, key, requests);
    const second = role.role === 'buffer' ? pinNames.slice(1).filter((name) => isForAll(record, name)) : [];
    if (role.role === 'latch')
      for (const name of pinList(role.signals?.enable)) join(recordPin(record, name), netName(context, 'GND'));
    if (isAlone && when[0] === cycle) when.shift();
    if (net !== undefined && second[0] !== undefined && fixed) {
      // A decoder of fixed function makes the plain select; the buffer's second enable takes the strobe.
      join(recordPin(record, second[0]), net);
      for (const name of second.slice(1)) join(recordPin(record, name), netName(context, 'GND'));
    } else {
      for (const name of second) join(recordPin(record, name), netName(context, 'GND'));
      if (net !== undefined) {
        strobe = { net, rest: when.join(' & ') };
        const short = space === 'memory' ? undefined : bus.style.portsWhenStrobed;
        if (short !== undefined && when[0] === cycle) when[0] = filled(short);
        when.push(`~${net}`);
      }
    }
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
  const driven = stated !== undefined && isDriven(context, stated, member, stretch);
  if (driven) return;
  const origin: Origin = {
    by: 'select',
    span: regions[0]!.decl.span,
    text: `select of ${member.name}, from its place in the ${space === 'memory' ? 'memory map' : 'port map'}`,
  };
  if (stated === undefined) connect(context, { instance: member, row: free, net, origin, explicit: false, ...stretch });
  else join(free, net);
  // Enables that are each for some of the outputs all take the select.
  if (isPort && role.role === 'buffer')
    for (const name of pinNames) {
      const row = recordPin(record, name);
      if (row !== free && !isForAll(record, name)) join(row, net);
    }
  const width = space === 'memory' ? bus.address.length : Math.min(bus.role['port-bits'] ?? 8, bus.address.length);
  requests.push({
    net,
    formula: '',
    origin,
    decoders,
    during: stretchOf(context, bus.decl.lifetime),
    ...(strobe === undefined ? {} : { strobe }),
    select: {
      part: member.name,
      regions,
      activeLow,
      when: when.join(' & '),
      ...(cycle !== '' && (isEarly || isAlone) ? { cycle } : {}),
      address: bus.address.slice(0, width),
    },
    ...stretch,
  });
}

/** Whether a part of that name is in at any of these stages. */
function isThere(context: Context, name: string, stretch: Stretch): boolean {
  return instancesOf(context, name, stretch).length > 0;
}

/** Whether an enable gates every output of a buffer, by the record's behaviour; others gate some of them each. */
function isForAll(record: PartRecord, enable: string): boolean {
  return Object.values(record.behaviour?.outputs ?? {}).every((output) => {
    const { formula } = typeof output === 'string' ? {} : parseFormula(output.enable ?? '1');
    return formula !== undefined && namesOf(formula).some((name) => foldName(name) === foldName(enable));
  });
}

/** Whether any of the decoders is a programmable device, which can look at a strobe beside the address. */
function isProgrammable(context: Context, decoders: readonly string[], stretch: Stretch): boolean {
  return decoders.some((name) =>
    instancesOf(context, name, stretch).some((instance) => instance.type.record.category === 'logic-device'),
  );
}

/** Whether an explicit statement puts an output of another part in the net. */
function isDriven(context: Context, net: string, but: Instance, stretch: Stretch): boolean {
  const key = foldName(net);
  if (
    context.machine.logic.some(
      (logic) => foldName(logic.net) === key && overlap(stretchOf(context, logic.lifetime), stretch),
    )
  )
    return true;
  return context.statements.some(
    (statement) =>
      statement.net !== undefined &&
      overlap(statement, stretch) &&
      foldName(statement.net) === key &&
      statement.instance !== but &&
      (statement.row.kind === 'output' || statement.row.kind === 'three-state' || statement.row.kind === 'open-drain'),
  );
}
