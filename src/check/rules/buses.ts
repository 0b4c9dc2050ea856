// Buses: lines missing, used twice, crossed or turned round; strobes of the wrong kind; addresses that nobody latched.

import { foldName } from '../../base/index.ts';
import type { NetPart, NetPin } from '../../netlist/index.ts';
import { clockRates } from '../electric.ts';
import { pinNames } from '../levels/drivers.ts';
import { pinNamed } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';
import { listed } from '../rule.ts';

interface BusPart {
  readonly part: NetPart;
  /** Lowest bit first; undefined where the part has no such pin. */
  readonly address: readonly NetPin[];
  readonly data: readonly NetPin[];
}

const known = new WeakMap<object, readonly BusPart[]>();

/** Memories and peripherals with their address and data pins. */
function busParts(context: RuleContext): readonly BusPart[] {
  const before = known.get(context.netlist);
  if (before !== undefined) return before;
  const parts = context.netlist.parts.flatMap((part): BusPart[] => {
    const { bus } = part.record;
    if (bus?.role !== 'memory' && bus?.role !== 'peripheral') return [];
    const pins = (text: string | undefined): NetPin[] =>
      pinNames(text)
        .reverse()
        .flatMap((name) => {
          const pin = pinNamed(context, part, name);
          return pin === undefined ? [] : [pin];
        });
    return [{ part, address: pins(bus.address), data: pins(bus.data) }];
  });
  known.set(context.netlist, parts);
  return parts;
}

const isSignal = (context: RuleContext, pin: NetPin): boolean =>
  pin.net >= 0 && context.netlist.nets[pin.net]!.kind === 'signal';

function doubled(context: RuleContext, pick: (bus: BusPart) => readonly NetPin[], what: string): Fact[] {
  return busParts(context).flatMap((bus): Fact[] => {
    const first = new Map<number, NetPin>();
    const facts: Fact[] = [];
    for (const pin of pick(bus)) {
      if (!isSignal(context, pin)) continue;
      const other = first.get(pin.net);
      if (other === undefined) first.set(pin.net, pin);
      else
        facts.push({
          about: [pin.ref, other.ref],
          severity: 'error',
          message: `${other.ref} and ${pin.ref} are both in ${context.netlist.nets[pin.net]!.name}`,
          why:
            what === 'address'
              ? 'The two address bits are always equal, so half of the part can never be reached, and something else is missing its line.'
              : 'The two data bits fight each other on a read and are one bit on a write.',
          help: `Give each ${what} pin its own line.`,
          where: pinSpan(context, pin),
        });
    }
    return facts;
  });
}

export const duplicateAddressLine: Rule = {
  code: 'check/duplicate-address-line',
  title: 'Two address pins of a part in one net',
  run: (context) => doubled(context, (bus) => bus.address, 'address'),
};

export const duplicateDataLine: Rule = {
  code: 'check/duplicate-data-line',
  title: 'Two data pins of a part in one net',
  run: (context) => doubled(context, (bus) => bus.data, 'data'),
};

export const noDataLine: Rule = {
  code: 'check/no-data-line',
  title: 'A data pin of a part on the bus that is joined to nothing',
  run(context) {
    return busParts(context).flatMap(({ part, data }): Fact[] => {
      const joined = data.filter((pin) => isSignal(context, pin) && context.view.nets[pin.net]!.pins.length > 1);
      const missing = data.filter((pin) => !joined.includes(pin));
      if (joined.length === 0 || missing.length === 0) return [];
      return [
        {
          about: missing.map((pin) => pin.ref),
          severity: 'warning',
          message: `${listed(missing.map((pin) => pin.ref))} ${missing.length === 1 ? 'is' : 'are'} joined to nothing, and the other data pins are on the bus`,
          why: 'Whatever is read or written lacks these bits.',
          help: 'Join them, or waive this where the bits are not wanted.',
          where: part.origin.span,
        },
      ];
    });
  },
};

export const noAddressLine: Rule = {
  code: 'check/no-address-line',
  title: 'An address pin that stays at one level within the region of its part',
  run(context) {
    return busParts(context).flatMap(({ part, address }): Fact[] => {
      const regions = context.design.map.filter(
        (region) =>
          foldName(region.part) === foldName(part.name) &&
          region.stage <= context.stage &&
          (region.until === undefined || context.stage < region.until),
      );
      const bytes = Math.max(0, ...regions.map((region) => region.bytes));
      const still = address.filter((pin, bit) => {
        if (2 ** bit >= bytes) return false;
        if (!isSignal(context, pin)) return true;
        const net = context.view.nets[pin.net]!;
        return (
          net.outputs.length + net.threeState.length + net.bidirectional.length === 0 && !context.view.outside(net)
        );
      });
      if (still.length === 0) return [];
      return [
        {
          about: still.map((pin) => pin.ref),
          severity: 'warning',
          message: `${listed(still.map((pin) => pin.ref))} ${still.length === 1 ? 'does' : 'do'} not follow the address, and ${part.name} is mapped over ${bytes} bytes`,
          why: 'The same cells answer at several addresses of the region, and the rest of the part is never reached.',
          help: 'Join the pin to its address line, or shorten the region.',
          where: regions[0]?.decl.span ?? part.origin.span,
        },
      ];
    });
  },
};

interface Crossing {
  /** The pins whose bits differ from where they belong. */
  readonly pins: readonly NetPin[];
  readonly reversed: boolean;
  readonly bus: string;
}

/** How pins in bit order lie on the bits of one bus, or undefined where they are in order or on no bus. */
function crossing(
  context: RuleContext,
  pins: readonly (NetPin | undefined)[],
  places?: readonly (number | undefined)[],
): Crossing | undefined {
  const at = pins.flatMap((pin, bit) => {
    const bus = pin === undefined || pin.net < 0 ? undefined : context.netlist.nets[pin.net]!.bus;
    const place = places === undefined ? bit : places[bit];
    return pin === undefined || bus === undefined || place === undefined
      ? []
      : [{ pin, place, bit: bus.bit, bus: bus.name }];
  });
  const name = at[0]?.bus;
  const same = at.filter((entry) => entry.bus === name);
  if (name === undefined || same.length < 2) return undefined;
  const offsets = new Map<number, number>();
  for (const entry of same) offsets.set(entry.bit - entry.place, (offsets.get(entry.bit - entry.place) ?? 0) + 1);
  if (offsets.size === 1) return undefined;
  const sums = new Set(same.map((entry) => entry.bit + entry.place));
  const usual = [...offsets].sort((a, b) => b[1] - a[1] || Math.abs(a[0]) - Math.abs(b[0]))[0]![0];
  return {
    pins: same.filter((entry) => entry.bit - entry.place !== usual).map((entry) => entry.pin),
    reversed: sums.size === 1 && same.length > 2,
    bus: name,
  };
}

/** What may be done with the order of some pins by the record: nothing, anything, or anything if the image follows. */
function freedom(part: NetPart, pins: readonly NetPin[]): 'none' | 'free' | 'image' {
  const names = new Set(pins.map((pin) => pin.name));
  for (const freedom of part.record.freedoms ?? []) {
    const single = new Set(freedom.exchange.flatMap((tuple) => (tuple.length === 1 ? [tuple[0]!] : [])));
    if (![...names].every((name) => single.has(name))) continue;
    if (freedom.follows === 'image') return 'image';
    if (freedom.follows === undefined || freedom.follows === 'nothing') return 'free';
  }
  return 'none';
}

interface Order {
  readonly part: NetPart;
  readonly found: Crossing;
  readonly what: string;
  readonly follows: 'none' | 'image';
}

function orders(context: RuleContext): Order[] {
  const list: Order[] = [];
  for (const { part, address, data } of busParts(context)) {
    for (const [pins, what] of [
      [data, 'data'],
      [address, 'address'],
    ] as const) {
      const found = crossing(context, pins);
      if (found === undefined) continue;
      const may = freedom(part, found.pins);
      if (may !== 'free') list.push({ part, found, what, follows: may });
    }
  }
  for (const part of context.netlist.parts) {
    const { bus } = part.record;
    if (bus?.role !== 'latch' && bus?.role !== 'buffer' && bus?.role !== 'transceiver') continue;
    const inputs = (bus.inputs ?? []).map((name) => pinNamed(context, part, name));
    const outputs = (bus.outputs ?? []).map((name) => pinNamed(context, part, name));
    const places = inputs.map((pin) =>
      pin === undefined || pin.net < 0 ? undefined : context.netlist.nets[pin.net]!.bus,
    );
    const first = places.find((place) => place !== undefined)?.name;
    // One bus on each side: what goes in as bit k comes out as bit k.
    const found = crossing(
      context,
      outputs,
      places.map((place) => (place?.name === first ? place?.bit : undefined)),
    );
    if (found !== undefined) list.push({ part, found, what: 'its', follows: 'none' });
  }
  return list;
}

export const reversedBus: Rule = {
  code: 'check/reversed-bus',
  title: 'A bus joined back to front',
  run(context) {
    return orders(context)
      .filter((order) => order.found.reversed)
      .map(({ part, found, what, follows }): Fact => {
        const pin = found.pins[0]!;
        return {
          about: [part.name, pin.ref],
          severity: 'warning',
          message: `${part.name} has ${what === 'its' ? 'the bits' : `its ${what} lines`} of ${found.bus} back to front`,
          why: 'Bit 7 goes where bit 0 belongs and so on: 0x01 reads as 0x80. Some makers and some diagrams count from the other end.',
          help:
            follows === 'image'
              ? 'Turn one of the two ranges round. If it is meant, the image must be turned round too, and this waived.'
              : 'Turn one of the two ranges round: `D7-D0` against `D7-D0`.',
          where: pinSpan(context, pin),
        };
      });
  },
};

export const conflictingBitOrder: Rule = {
  code: 'check/conflicting-bit-order',
  title: 'Bits of a bus exchanged',
  run(context) {
    return orders(context)
      .filter((order) => !order.found.reversed)
      .map(({ part, found, follows }): Fact => {
        const names = found.pins.map((pin) => `${pin.ref} (${context.netlist.nets[pin.net]!.name})`);
        return {
          about: [part.name, ...found.pins.map((pin) => pin.ref)],
          severity: 'warning',
          message: `${part.name} has bits of ${found.bus} out of order: ${listed(names.slice(0, 8))}`,
          why: 'Two exchanged lines leave most bytes looking right, and some wrong.',
          help:
            follows === 'image'
              ? 'Put each on its own bit. If it is meant, the image must be permuted likewise, and this waived.'
              : 'Put each on its own bit, or waive this where the order is meant.',
          where: pinSpan(context, found.pins[0]!),
        };
      });
  },
};

const STROBED = new Set(['z80', '8085', '8088', '8086']);

export const foreignStrobe: Rule = {
  code: 'check/foreign-strobe',
  title: 'A peripheral joined to strobes of another style of bus',
  run(context) {
    const processors = context.netlist.parts.filter((part) => part.record.bus?.role === 'processor');
    const keysIn = (net: number): { key: string; processor: NetPart }[] =>
      processors.flatMap((processor) =>
        Object.entries(processor.record.bus?.signals ?? {}).flatMap(([key, text]) =>
          pinNames(text).some((name) => pinNamed(context, processor, name)?.net === net) ? [{ key, processor }] : [],
        ),
      );
    return busParts(context).flatMap(({ part }): Fact[] => {
      const { bus } = part.record;
      if (bus?.role !== 'peripheral') return [];
      const facts: Fact[] = [];
      const say = (pin: NetPin, message: string, why: string): void => {
        facts.push({
          about: [pin.ref],
          severity: 'error',
          message,
          why,
          help: 'Make it a member of the bus, and the strobe it needs is made and checked; or make it under `logic`.',
          where: pinSpan(context, pin),
        });
      };
      const at = (key: string): NetPin | undefined => {
        const name = pinNames(bus.signals?.[key])[0];
        const pin = name === undefined ? undefined : pinNamed(context, part, name);
        return pin !== undefined && isSignal(context, pin) ? pin : undefined;
      };
      const e = at('e');
      if (e !== undefined) {
        const found = keysIn(e.net).find(({ key }) => /^(?:read|write|memory|io)$/.test(key));
        const strobed = processors.some((processor) => STROBED.has(processor.record.bus?.style ?? ''));
        if (found !== undefined)
          say(
            e,
            `${e.ref} wants an E clock, and ${context.netlist.nets[e.net]!.name} is the ${found.key} strobe of ${found.processor.name}`,
            'E must be high while data are valid in reads and in writes, and falls before they go away.',
          );
        else if (strobed && clockRates(context).has(e.net))
          say(
            e,
            `${e.ref} wants an E clock, and ${context.netlist.nets[e.net]!.name} runs free of the processor's strobes`,
            'A transfer would have to fall into step with the clock by chance.',
          );
      }
      for (const key of ['read', 'write']) {
        const pin = at(key);
        const found = pin === undefined ? undefined : keysIn(pin.net).find((entry) => entry.key === 'rw');
        if (pin !== undefined && found !== undefined)
          say(
            pin,
            `${pin.ref} wants a ${key} strobe, and ${context.netlist.nets[pin.net]!.name} is R/W of ${found.processor.name}`,
            'R/W rests at one level through the whole cycle, while the address still changes: cells are written that were not meant.',
          );
      }
      return facts;
    });
  },
};

export const unlatchedAddress: Rule = {
  code: 'check/unlatched-address',
  title: 'An address pin on a line that carries data half of the time',
  run(context) {
    const shared = new Set<number>();
    for (const part of context.netlist.parts) {
      const { bus } = part.record;
      if (bus?.role !== 'processor') continue;
      const data = new Set(pinNames(bus.data).map(foldName));
      for (const name of pinNames(bus.address))
        if (data.has(foldName(name))) {
          const net = pinNamed(context, part, name)?.net ?? -1;
          if (net >= 0) shared.add(net);
        }
    }
    if (shared.size === 0) return [];
    return busParts(context).flatMap(({ part, address }): Fact[] => {
      const direct = address.filter((pin) => shared.has(pin.net));
      if (direct.length === 0) return [];
      return [
        {
          about: [part.name, ...direct.map((pin) => pin.ref)],
          severity: 'error',
          message: `${listed(direct.map((pin) => pin.ref))} ${direct.length === 1 ? 'is' : 'are'} on lines that carry address and data in turn`,
          why: 'The address is gone when the data come: it has to be kept in a latch by ALE.',
          help: 'Add a 74573 or 74373 to the parts and to the members of the bus; the latched lines are then derived.',
          where: pinSpan(context, direct[0]!),
        },
      ];
    });
  },
};

export const conflictingMode: Rule = {
  code: 'check/conflicting-mode',
  title: 'A processor strapped for the other of its two modes',
  run(context) {
    const controller = context.netlist.parts.find((part) => part.record.bus?.role === 'bus-controller');
    return context.netlist.parts.flatMap((part): Fact[] => {
      const name = part.record.bus?.role === 'processor' ? part.record.bus.signals?.minmax : undefined;
      const pin = name === undefined ? undefined : pinNamed(context, part, name);
      if (pin === undefined || pin.net < 0) return [];
      const { kind } = context.netlist.nets[pin.net]!;
      if (kind === 'signal') return [];
      const minimum = kind === 'supply';
      if (minimum === (controller === undefined)) return [];
      return [
        {
          about: [pin.ref],
          severity: 'error',
          message: minimum
            ? `${pin.ref} is high, which is minimum mode, and ${controller!.name} waits for the status lines of maximum mode`
            : `${pin.ref} is low, which is maximum mode, and no bus controller makes the strobes`,
          why: 'Pins 24 to 31 have another meaning in each mode.',
          help: minimum
            ? `Tie ${pin.ref} low, or take ${controller!.name} out.`
            : `Tie ${pin.ref} high, or add an 8288 to the members of the bus.`,
          where: pinSpan(context, pin),
        },
      ];
    });
  },
};
