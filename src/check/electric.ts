// What the electrical rules share: volts of rails, values of parts, diodes and how they are limited, clocks' rates. Each is
// worked out once per netlist.

import { foldName, parseValue } from '../base/index.ts';
import type { NetPart, NetPin, NetView } from '../netlist/index.ts';
import { gradeOf } from '../parts/index.ts';
import { pinNamed } from './levels/levels.ts';
import type { RuleContext } from './rule.ts';

function perNetlist<T>(compute: (context: RuleContext) => T): (context: RuleContext) => T {
  const known = new WeakMap<object, T>();
  return (context) => {
    const before = known.get(context.netlist);
    if (before !== undefined) return before;
    const value = compute(context);
    known.set(context.netlist, value);
    return value;
  };
}

/** Volts of each rail by net id: supplies and ground. */
export const railVolts = perNetlist((context): ReadonlyMap<number, number> => {
  const volts = new Map(context.design.supplies.map((supply) => [foldName(supply.name), supply.volts]));
  const rails = new Map<number, number>();
  for (const net of context.netlist.nets) {
    if (net.kind === 'ground') rails.set(net.id, 0);
    const value = net.kind === 'supply' ? volts.get(foldName(net.name)) : undefined;
    if (value !== undefined) rails.set(net.id, value);
  }
  return rails;
});

/** The supply that feeds a part, as the design lists it, by its first supply pin that is on a rail. */
export function supplyFeeding(
  context: RuleContext,
  part: NetPart,
): RuleContext['design']['supplies'][number] | undefined {
  for (const id of part.pins) {
    const pin = context.netlist.pins[id]!;
    if (pin.kind !== 'supply' || pin.net < 0) continue;
    const net = context.netlist.nets[pin.net]!;
    const supply = context.design.supplies.find((candidate) => foldName(candidate.name) === foldName(net.name));
    if (supply !== undefined) return supply;
  }
  return undefined;
}

/** The pins of a part. */
export function pinsOf(context: RuleContext, part: NetPart): NetPin[] {
  return part.pins.map((id) => context.netlist.pins[id]!);
}

const ohms = new WeakMap<NetPart, number | undefined>();

/** A part's resistance in ohm, where it is a resistor or network with a value. */
export function ohmsOf(part: NetPart): number | undefined {
  if (part.value === undefined) return undefined;
  if (!ohms.has(part)) ohms.set(part, parseValue(part.value, 'resistance'));
  return ohms.get(part);
}

/** A number among a record's facts. */
export function fact(part: NetPart, name: string): number | undefined {
  const value = part.record.facts?.[name];
  return typeof value === 'number' ? value : undefined;
}

export interface Diode {
  readonly part: NetPart;
  /** What to call it: the part, or its unit or segment. */
  readonly name: string;
  readonly anode: NetPin;
  readonly cathode: NetPin;
}

/** The light-emitting diodes of lamps, bars and digits, both of whose leads are connected. */
export const diodesOf = perNetlist((context): readonly Diode[] => {
  const diodes: Diode[] = [];
  const add = (part: NetPart, name: string, a: NetPin | undefined, k: NetPin | undefined): void => {
    if (a !== undefined && k !== undefined && a.net >= 0 && k.net >= 0)
      diodes.push({ part, name, anode: a, cathode: k });
  };
  for (const part of context.netlist.parts) {
    const { record } = part;
    if (record.symbol === 'led') {
      const units = (record.units ?? []).filter((unit) => unit.kind === 'led');
      if (units.length === 0) add(part, part.name, pinNamed(context, part, 'A'), pinNamed(context, part, 'K'));
      for (const unit of units)
        add(
          part,
          `${part.name}.${unit.name}`,
          pinNamed(context, part, unit.pins.A ?? ''),
          pinNamed(context, part, unit.pins.K ?? ''),
        );
    } else if (record.symbol === 'digit') {
      const pins = pinsOf(context, part);
      const common = pins.find((pin) => /^(?:COM|CC|CA)/i.test(pin.name) && pin.net >= 0);
      for (const pin of pins) {
        if (/^(?:COM|CC|CA)/i.test(pin.name)) continue;
        if (record.facts?.common === 'anode') add(part, pin.ref, common, pin);
        else if (record.facts?.common === 'cathode') add(part, pin.ref, pin, common);
      }
    }
  }
  return diodes;
});

/** Whether everything in the net but resistors is light-emitting diodes: then the resistor is in series with them. */
export function isLampNet(context: RuleContext, net: NetView): boolean {
  return (
    net.net.kind === 'signal' &&
    net.links.length > 0 &&
    net.pins.every((pin) => {
      const { symbol } = context.view.part(pin).record;
      return symbol === 'led' || symbol === 'digit' || symbol === 'resistor' || symbol === 'network';
    })
  );
}

/** The rates of nets that are clocks: declared, made by oscillators, or divided from them by parts whose records say so. */
export const clockRates = perNetlist((context): ReadonlyMap<number, number> => {
  const rates = new Map<number, number>();
  const byName = new Map(context.netlist.nets.map((net) => [foldName(net.name), net.id]));
  const declared = new Map(context.machine.parts.map((part) => [foldName(part.name), part.rateHz]));
  const rateOf = (part: NetPart): number | undefined => {
    const rate = declared.get(foldName(part.name));
    if (rate !== undefined) return rate;
    if (part.record.value?.dimension !== 'frequency')
      return part.record.symbol === 'crystal' ? fact(part, 'hertz') : undefined;
    return part.value === undefined ? undefined : parseValue(part.value, 'frequency');
  };
  const put = (net: number | undefined, rate: number | undefined): void => {
    if (net !== undefined && net >= 0 && rate !== undefined && !rates.has(net)) rates.set(net, rate);
  };
  for (const part of context.netlist.parts) {
    const { symbol } = part.record;
    if (symbol !== 'can' && symbol !== 'crystal') continue;
    for (const pin of pinsOf(context, part))
      if (symbol === 'crystal' || pin.kind === 'output') put(pin.net, rateOf(part));
  }
  for (const clock of context.design.clocks)
    put(clock.net === undefined ? undefined : byName.get(foldName(clock.net)), clock.rateHz);
  for (const part of context.netlist.parts) {
    const { bus } = part.record;
    const from = (names: readonly string[]): number | undefined => {
      for (const name of names) {
        const net = pinNamed(context, part, name)?.net ?? -1;
        const rate = net < 0 ? undefined : rates.get(net);
        if (rate !== undefined) return rate;
      }
      return undefined;
    };
    const divide = (
      source: number | undefined,
      by: number | undefined,
      pins: readonly (string | undefined)[],
    ): void => {
      if (source === undefined || by === undefined) return;
      for (const name of pins) if (name !== undefined) put(pinNamed(context, part, name)?.net, source / by);
    };
    divide(from(['X1', 'X2', 'EFI']), fact(part, 'crystal-divided-by'), ['CLK']);
    divide(from(['X1', 'X2', 'EFI']), fact(part, 'pclk-divided-by'), ['PCLK']);
    if (bus?.role === 'processor' && bus.signals?.clock !== undefined)
      divide(from([bus.signals.clock]), fact(part, 'clock-divided-by'), [
        bus.signals.e,
        bus.signals.q,
        bus.signals['clock-out'],
      ]);
  }
  return rates;
});

/** The grades of a record that are no logic families. */
export function speedGrades(part: NetPart): string[] {
  const families = new Set(part.record.families ?? []);
  return Object.keys(part.record.grades ?? {}).filter((grade) => !families.has(grade));
}

/** Least and greatest clock of a part; where its grade is not known, what holds for every grade. */
export function clockLimits(part: NetPart): { readonly min: number | undefined; readonly max: number | undefined } {
  const { record } = part;
  const grade = gradeOf(record, part.grade);
  if (grade !== undefined || speedGrades(part).length === 0)
    return { min: grade?.clock?.min ?? record.clock?.min, max: grade?.clock?.max ?? record.clock?.max };
  const grades = speedGrades(part).map((name) => record.grades![name]!.clock);
  const mins = grades.map((clock) => clock?.min ?? record.clock?.min);
  const maxs = grades.map((clock) => clock?.max ?? record.clock?.max);
  return {
    min: mins.some((value) => value === undefined) ? undefined : Math.min(...(mins as number[])),
    max: maxs.some((value) => value === undefined) ? undefined : Math.max(...(maxs as number[])),
  };
}

/** Pairs of pins that a switch, button, jumper or the like joins. */
export function joinedPairs(context: RuleContext, part: NetPart): (readonly [NetPin, NetPin])[] {
  const pairs: (readonly [NetPin, NetPin])[] = [];
  for (const join of part.record.behaviour?.joins ?? []) {
    const ends = join.pins.flatMap((name) => pinsOf(context, part).filter((pin) => pin.name === name && pin.net >= 0));
    const first = ends[0];
    const last = ends.find((pin) => first !== undefined && pin.name !== first.name);
    if (first !== undefined && last !== undefined) pairs.push([first, last]);
  }
  return pairs;
}

/** Volts for a reader: `4.75 V`. */
export function voltsText(volts: number): string {
  return `${Number(volts.toFixed(2))} V`;
}
