// Answers a model's questions about what its part is wired to: two-lead resistors and capacitors straight between nets.

import { parseValue } from '../../base/index.ts';
import { pinsNamed } from '../../parts/index.ts';
import type { SimNetlist } from '../model.ts';
import type { Surroundings } from '../models/surroundings.ts';
import { HIGH } from '../values.ts';
import type { Pins } from './pins.ts';

interface Passive {
  readonly kind: 'ohms' | 'farads';
  readonly a: number;
  readonly b: number;
  readonly value: number;
}

/** Finds what surrounds parts of one netlist. */
export function surroundingsIn(netlist: SimNetlist, pins: Pins): (part: number) => Surroundings {
  const passives = netlist.parts.flatMap((part, index): Passive[] => {
    if (part.record.pins.length !== 2 || part.value === undefined) return [];
    const ohms = part.record.symbol === 'resistor' ? parseValue(part.value, 'resistance') : undefined;
    const isCapacitor = part.record.symbol === 'capacitor' || part.record.symbol === 'electrolytic';
    const farads = isCapacitor ? parseValue(part.value, 'capacitance') : undefined;
    if (ohms === undefined && farads === undefined) return [];
    const [a, b] = part.record.pins.map((pin) => pins.netOf(index, pin.number)) as [number, number];
    return [{ kind: ohms === undefined ? 'farads' : 'ohms', a, b, value: (ohms ?? farads)! }];
  });
  const isRail = (net: number, rail: 0 | 1): boolean =>
    net >= 0 && pins.fed[net] !== 0 && (pins.fed[net] === HIGH) === (rail === 1);
  return (part) => {
    const { record } = netlist.parts[part]!;
    const netOf = (pin: string): number => pins.netOf(part, pinsNamed(record, pin)[0]?.number ?? -1);
    const between = (kind: Passive['kind'], from: string, to: string | 0 | 1): number[] => {
      const net = netOf(from);
      const other = typeof to === 'string' ? netOf(to) : -1;
      const fits = (at: number): boolean => (typeof to === 'string' ? at === other : isRail(at, to));
      if (net < 0) return [];
      return passives
        .filter((one) => one.kind === kind && ((one.a === net && fits(one.b)) || (one.b === net && fits(one.a))))
        .map(({ value }) => value);
    };
    return {
      railOf: (pin) => (isRail(netOf(pin), 1) ? 1 : isRail(netOf(pin), 0) ? 0 : undefined),
      areJoined: (a, b) => netOf(a) >= 0 && netOf(a) === netOf(b),
      ohms: (from, to) => {
        const list = between('ohms', from, to);
        return list.length === 0 ? undefined : 1 / list.reduce((sum, ohms) => sum + 1 / ohms, 0);
      },
      farads: (from, to) => {
        const list = between('farads', from, to);
        return list.length === 0 ? undefined : list.reduce((sum, farads) => sum + farads, 0);
      },
    };
  };
}
