// What kind of net each is, for colour, weight in the layout, and reading: supply, clock, reset, address, data, strobe, select
// or plain signal. The machine file's classes override. Colours are the builder-facing defaults of the drawing guide, by IEC 60757 code.

import { foldName } from '../../base/index.ts';
import type { DevicePlan, NetClass } from '../model.ts';
import type { BusNets, Request } from './bus-lines.ts';
import { isRail } from './rails.ts';
import { type Context, findPins, instancesOf, report } from './context.ts';
import { knownNet } from './ties.ts';

const KIND: Readonly<Record<string, { colour: string; weight: number }>> = {
  supply: { colour: 'RD', weight: 1 },
  ground: { colour: 'BK', weight: 1 },
  clock: { colour: 'WH', weight: 4 },
  reset: { colour: 'GY', weight: 1 },
  address: { colour: 'BU', weight: 1 },
  data: { colour: 'OG', weight: 1 },
  strobe: { colour: 'VT', weight: 2 },
  select: { colour: 'GN', weight: 1.5 },
  signal: { colour: 'TQ', weight: 1 },
};

const COLOURS = new Set(['BK', 'BN', 'RD', 'OG', 'YE', 'GN', 'BU', 'VT', 'GY', 'WH', 'PK', 'TQ']);

/** The class of each net by folded name, and its bus and bit where it has one. */
export function classifyNets(
  context: Context,
  buses: readonly BusNets[],
  requests: readonly Request[],
  plans: readonly DevicePlan[],
): { classes: Map<string, NetClass>; bits: Map<string, { name: string; bit: number }> } {
  const kinds = new Map<string, string>();
  const bits = new Map<string, { name: string; bit: number }>();
  const put = (net: string | undefined, kind: string): void => {
    if (net !== undefined && !kinds.has(foldName(net))) kinds.set(foldName(net), kind);
  };
  for (const name of context.netNames.values())
    if (isRail(context, name)) put(name, foldName(name) === 'gnd' ? 'ground' : 'supply');
  const netOf = (instance: (typeof context.instances)[number], pin: string): (string | undefined)[] =>
    findPins(instance.type.record, pin).flatMap((row) =>
      (context.byPin.get(`${instance.index}.${row.number}`) ?? []).map((statement) => statement.net),
    );
  for (const clock of context.machine.clocks) {
    if (clock.from === undefined) continue;
    for (const instance of instancesOf(context, clock.from.part))
      for (const net of netOf(instance, clock.from.pin)) put(net, 'clock');
  }
  for (const instance of context.instances) {
    const signals = instance.type.record.bus?.signals ?? {};
    for (const [key, pin] of Object.entries(signals)) {
      if (/^(?:clock|phase|e$|q$)/.test(key)) for (const net of netOf(instance, pin)) put(net, 'clock');
      if (/^reset/.test(key)) for (const net of netOf(instance, pin)) put(net, 'reset');
    }
  }
  for (const [index, bus] of buses.entries()) {
    const prefix = index === 0 ? '' : `${bus.processor.name}-`;
    bus.address.forEach((net, bit) => {
      put(net, 'address');
      if (!bits.has(foldName(net))) bits.set(foldName(net), { name: `${prefix}A`, bit });
    });
    bus.data.forEach((net, bit) => {
      put(net, 'data');
      if (!bits.has(foldName(net))) bits.set(foldName(net), { name: `${prefix}D`, bit });
    });
  }
  for (const request of requests) put(request.net, request.select === undefined ? 'strobe' : 'select');
  for (const plan of plans)
    for (const output of plan.outputs) if (output.select !== undefined) put(output.net, 'select');
  const strobes =
    /^(?:read|write|memory|io|fetch|refresh|rw|sync|ale|data-|status|interrupt-ack|wait|ready|bus-|interrupt|nmi)/;
  for (const instance of context.instances) {
    const role = instance.type.record.bus;
    if (role?.role !== 'processor' && role?.role !== 'bus-controller') continue;
    for (const [key, pin] of Object.entries(role.signals ?? {}))
      if (strobes.test(key)) for (const net of netOf(instance, pin)) put(net, 'strobe');
  }
  const classes = new Map<string, NetClass>();
  for (const [key, name] of context.netNames) {
    const kind = kinds.get(key) ?? 'signal';
    const { colour, weight } = KIND[kind]!;
    classes.set(key, { name: kind, colour, weight, longestMm: undefined, probeHole: false });
    // LAMP7 to LAMP0 and the like are buses of their own.
    const numbered = /^(.*?\D)(\d{1,2})$/.exec(name);
    if (numbered !== null && !bits.has(key)) {
      const base = foldName(numbered[1]!);
      const siblings = [...context.netNames.keys()].some(
        (other) => other !== key && other.startsWith(base) && /^\d{1,2}$/.test(other.slice(base.length)),
      );
      if (siblings) bits.set(key, { name: numbered[1]!, bit: Number(numbered[2]) });
    }
  }
  for (const decl of context.machine.classes) {
    for (const ref of decl.nets) {
      const net = knownNet(context, ref);
      if (net === undefined) continue;
      // A pin that nothing was joined to has its net only now.
      const before = classes.get(foldName(net)) ?? { ...KIND.signal!, longestMm: undefined, probeHole: false };
      const colour = decl.colour?.name.toUpperCase();
      if (colour !== undefined && !COLOURS.has(colour)) {
        report(
          context,
          'netlist/unknown-colour',
          'error',
          `Wires of colour ${decl.colour?.name} are neither usual nor drawn.`,
          decl.colour?.span,
          { help: `Choose one of ${[...COLOURS].join(', ')}.` },
        );
      }
      classes.set(foldName(net), {
        name: decl.name,
        colour: colour !== undefined && COLOURS.has(colour) ? colour : before.colour,
        weight: decl.weight ?? before.weight,
        longestMm: decl.longestMm ?? before.longestMm,
        probeHole: decl.probeHole || before.probeHole,
      });
    }
  }
  return { classes, bits };
}
