// What a bus offers to those on it: the nets of its signals, and the lines that have to be made because neither the
// processor nor a bus controller has such a pin.

import { foldName } from '../../base/index.ts';
import type { BusDecl } from '../../machine/index.ts';
import type { PartBusRole, PartPinRow } from '../../parts/index.ts';
import type { MapRegion, Origin } from '../model.ts';
import type { BusStyle } from './bus-styles.ts';
import {
  type Context,
  connect,
  type Instance,
  meet,
  netName,
  overlap,
  pinList,
  recordPin,
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
  /** The stages for which the line that asks for it holds: those of its bus. What makes it is wired for all of them. */
  readonly during: Stretch;
  /** The decoders that may make it, in order of preference; empty for any unit or device. */
  readonly decoders: readonly string[];
  /** The net whose rising edge takes the formula over; a register is wanted then. */
  readonly clock?: string;
  /** The strobe that is part of the select of a port without a strobe pin, and the rest of `when`. */
  readonly strobe?: { readonly net: string; readonly rest: string };
  /** What is selected, for selects. */
  readonly select?: {
    readonly part: string;
    readonly regions: readonly MapRegion[];
    readonly activeLow: boolean;
    readonly when: string;
    /** See `DeviceOutput`. */
    readonly cycle?: string;
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

export interface Bus extends BusNets {
  readonly stretch: Stretch;
  readonly role: PartBusRole;
  readonly style: BusStyle;
  readonly controller: Instance | undefined;
}

/** The net that a pin is in, or the derived one that it now gets. */
export function netOfPin(
  context: Context,
  instance: Instance,
  row: PartPinRow,
  fallback: string,
  stretch: Stretch,
  origin: Origin,
): string {
  const stated = statementsOf(context, instance, row, stretch).find((statement) => statement.net !== undefined);
  if (stated?.net !== undefined) return stated.net;
  const net = netName(context, freeName(context, fallback, instance, stretch));
  connect(context, { instance, row, net, origin, explicit: false, ...stretch });
  return net;
}

/** `A0` for the first processor that wants it in these stages, `CPU2-A0` for a second one. */
function freeName(context: Context, name: string, instance: Instance, stretch: Stretch): string {
  const key = foldName(name);
  const taken = context.statements.some(
    (statement) =>
      !statement.explicit &&
      overlap(statement, stretch) &&
      statement.net !== undefined &&
      foldName(statement.net) === key &&
      statement.instance.name !== instance.name &&
      statement.instance.type.record.bus?.role === 'processor',
  );
  return taken ? `${instance.name}-${name}` : name;
}

/**
 * The net of a signal of the bus controller or the processor, or undefined when neither has it. `index` is its place where
 * the signal is a list of pins.
 */
export function signalNet(
  context: Context,
  bus: Bus,
  key: string,
  from: readonly Instance[] = bus.controller === undefined ? [bus.processor] : [bus.controller, bus.processor],
  index = 0,
): string | undefined {
  for (const instance of from) {
    const pin = pinList(instance.type.record.bus?.signals?.[key])[index];
    if (pin === undefined) continue;
    const row = recordPin(instance.type.record, pin);
    const origin: Origin = { by: 'bus', span: bus.decl.span, text: `bus ${bus.decl.name}: ${key} of ${instance.name}` };
    // The name by which the signal is listed: a pin that means another thing in another mode has that as an alias.
    return netOfPin(context, instance, row, pin, meet(bus.stretch, instance) ?? bus.stretch, origin);
  }
  return undefined;
}

/** Puts net names into a style's formula; undefined when a signal it needs isn't there. */
export function fillFormula(context: Context, bus: Bus, formula: string): string | undefined {
  let missing = false;
  const filled = formula.replace(/\{([\w-]+)\}/g, (_, key: string) => {
    const net = signalNet(context, bus, key);
    if (net === undefined) missing = true;
    return net ?? key;
  });
  return missing ? undefined : filled;
}

/** The net of a line such as read or memory-write; a line that has to be made is requested once. */
export function lineNet(context: Context, bus: Bus, key: string, requests: Request[]): string | undefined {
  const line = Object.hasOwn(bus.style.lines, key) ? bus.style.lines[key] : undefined;
  if (line === undefined) return undefined;
  if ('signal' in line) return signalNet(context, bus, line.signal);
  const net = netName(context, line.net);
  if (
    !requests.some((request) => foldName(request.net) === foldName(net) && overlap(request.during, bus.stretch)) &&
    !context.machine.logic.some(
      (logic) => foldName(logic.net) === foldName(net) && overlap(stretchOf(context, logic.lifetime), bus.stretch),
    )
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
      during: stretchOf(context, bus.decl.lifetime),
      ...bus.stretch,
    });
  }
  return net;
}
