// Clocks and edges: rates outside a part's limits, crystals without their capacitors, edges too slow or too many.

import { foldName, formatQuantity } from '../../base/index.ts';
import type { NetPart, NetPin, NetView } from '../../netlist/index.ts';
import { clockLimits, clockRates, pinsOf } from '../electric.ts';
import { behaviourOf, pinNamed } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';

const hertz = (value: number): string => formatQuantity(value, 'frequency');

/** Parts whose clock pin is at a known rate. */
function clocked(context: RuleContext): { part: NetPart; pin: NetPin; rate: number }[] {
  return context.netlist.parts.flatMap((part) => {
    const name = part.record.clock?.pin ?? part.record.bus?.signals?.clock;
    const pin = name === undefined ? undefined : pinNamed(context, part, name);
    const rate = pin === undefined || pin.net < 0 ? undefined : clockRates(context).get(pin.net);
    return pin === undefined || rate === undefined ? [] : [{ part, pin, rate }];
  });
}

const gradeText = (part: NetPart): string => (part.grade === undefined ? part.type : `${part.type}, ${part.grade}`);

export const exceedsClock: Rule = {
  code: 'check/exceeds-clock',
  title: 'A part clocked faster than its maker allows',
  run(context) {
    return clocked(context).flatMap(({ part, pin, rate }): Fact[] => {
      const { max } = clockLimits(part);
      if (max === undefined || rate <= max * 1.0005) return [];
      return [
        {
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} gets ${hertz(rate)}, and ${gradeText(part)} takes ${hertz(max)} at most`,
          why: 'It may run on a cool day and with this one chip.',
          help: 'Take a slower oscillator, or a faster grade.',
          where: pinSpan(context, pin),
        },
      ];
    });
  },
};

export const belowMinimumClock: Rule = {
  code: 'check/below-minimum-clock',
  title: 'A dynamic part clocked more slowly than it remembers',
  run(context) {
    return clocked(context).flatMap(({ part, pin, rate }): Fact[] => {
      const { min } = clockLimits(part);
      if (min === undefined || rate >= min * 0.9995) return [];
      return [
        {
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} gets ${hertz(rate)}, and ${gradeText(part)} needs ${hertz(min)} at least`,
          why: 'Its registers are charges on tiny capacitors: below this rate they leak away, and the part forgets while it runs.',
          help: 'Clock it faster, or take the CMOS grade, which may be stopped. Single steps need one too.',
          where: pinSpan(context, pin),
        },
      ];
    });
  },
};

export const conflictingRate: Rule = {
  code: 'check/conflicting-rate',
  title: 'A clock declared at another rate than its oscillator has',
  wholeOnly: true,
  run(context) {
    return context.machine.clocks.flatMap((clock): Fact[] => {
      const from = clock.from;
      if (from === undefined) return [];
      const part = context.machine.parts.find((candidate) => foldName(candidate.name) === foldName(from.part));
      if (part?.rateHz === undefined || Math.abs(part.rateHz - clock.rateHz) <= clock.rateHz * 0.002) return [];
      const record = context.netlist.parts.find(
        (candidate) => foldName(candidate.name) === foldName(part.name),
      )?.record;
      if (record?.symbol !== 'can') return [];
      return [
        {
          about: [clock.name, part.name],
          severity: 'warning',
          message: `Clock ${clock.name} is declared at ${hertz(clock.rateHz)}, and ${part.name} makes ${hertz(part.rateHz)}`,
          why: 'Margins and predicted traces are worked out for the declared rate.',
          help: 'Write the same rate in both places.',
          where: clock.span,
          notes: [{ text: 'The oscillator.', span: part.span }],
        },
      ];
    });
  },
};

export const noLoadCapacitors: Rule = {
  code: 'check/no-load-capacitors',
  title: 'A crystal without capacitors from its leads to ground',
  run(context) {
    const grounded = new Set<number>();
    for (const part of context.netlist.parts) {
      if (part.record.symbol !== 'capacitor') continue;
      const [a, b] = pinsOf(context, part);
      if (a === undefined || b === undefined || a.net < 0 || b.net < 0) continue;
      if (context.netlist.nets[a.net]!.kind === 'ground') grounded.add(b.net);
      if (context.netlist.nets[b.net]!.kind === 'ground') grounded.add(a.net);
    }
    return context.netlist.parts.flatMap((part): Fact[] => {
      if (part.record.symbol !== 'crystal') return [];
      const bare = pinsOf(context, part).filter((pin) => pin.net >= 0 && !grounded.has(pin.net));
      if (bare.length === 0) return [];
      return [
        {
          about: [part.name],
          severity: 'warning',
          message: `${part.name} has no capacitor to ground at ${bare.map((pin) => pin.ref).join(' and ')}`,
          why: 'The crystal runs off its rate, on an overtone, or starts only sometimes. Where the chip has the capacitors inside, waive this.',
          help: 'Put a capacitor from each lead to GND: 18 pF to 22 pF for usual crystals.',
          where: part.origin.span,
        },
      ];
    });
  },
};

/** Inputs of a net that act on a rising edge by their part's behaviour. */
function risingClocks(context: RuleContext, net: NetView): NetPin[] {
  return net.inputs.filter((pin) => {
    const part = context.view.part(pin);
    return behaviourOf(part.record)?.clocked.some(
      (entry) => entry.edge === 'rise' && entry.of.kind === 'name' && foldName(entry.of.name) === foldName(pin.name),
    );
  });
}

export const openDrainClock: Rule = {
  code: 'check/open-drain-clock',
  title: 'A clock input that acts on a rise which only a resistor makes',
  run(context) {
    return context.view.nets.flatMap((net): Fact[] => {
      if (net.net.kind !== 'signal' || net.openDrain.length === 0) return [];
      if (net.outputs.length + net.threeState.length + net.bidirectional.length > 0) return [];
      return risingClocks(context, net)
        .filter((pin) => context.view.row(pin).schmitt !== true)
        .map((pin) => ({
          about: [pin.ref],
          severity: 'warning' as const,
          message: `${pin.ref} acts on the rise of ${net.net.name}, which only a pull-up makes`,
          why: `Strips and wires of some tens of picofarads make the rise slow; noise on the way up counts as further edges.`,
          help: 'Put a Schmitt gate (74HCT14) between, or drive it from an output that drives both ways.',
          where: pinSpan(context, pin),
        }));
    });
  },
};

export const slowEdge: Rule = {
  code: 'check/slow-edge',
  title: 'A slow edge from a resistor and a capacitor into an input that wants a quick one',
  run(context) {
    const slow = new Set<number>();
    for (const part of context.netlist.parts) {
      const { symbol } = part.record;
      if ((symbol !== 'capacitor' && symbol !== 'electrolytic') || part.implied !== undefined) continue;
      for (const pin of pinsOf(context, part)) if (pin.net >= 0) slow.add(pin.net);
    }
    return [...slow].flatMap((id): Fact[] => {
      const net = context.view.nets[id]!;
      if (net.net.kind !== 'signal' || net.links.length === 0) return [];
      if (net.outputs.length + net.threeState.length + net.bidirectional.length > 0) return [];
      return net.inputs.flatMap((pin): Fact[] => {
        const row = context.view.row(pin);
        const { bus } = context.view.part(pin).record;
        const sharp = row.edge === true || bus?.signals?.reset === pin.name;
        if (!sharp || row.schmitt === true) return [];
        return [
          {
            about: [pin.ref],
            severity: 'warning',
            message: `${pin.ref} gets the slow edge of a resistor and a capacitor`,
            why: 'On the way through the middle the input sees many edges, or none that is quick enough. A slow reset lets part of the machine start before the rest.',
            help: 'Put a Schmitt gate (74HCT14) between, or take a supervisor for a reset.',
            where: pinSpan(context, pin),
          },
        ];
      });
    });
  },
};

export const noDebounce: Rule = {
  code: 'check/no-debounce',
  title: 'A button or switch straight on an input that counts edges',
  run(context) {
    return context.view.nets.flatMap((net): Fact[] => {
      if (net.net.kind !== 'signal') return [];
      const hand = net.passive.find((pin) => {
        const { symbol } = context.view.part(pin).record;
        return symbol === 'button' || symbol === 'switch';
      });
      if (hand === undefined) return [];
      if (net.outputs.length + net.threeState.length + net.bidirectional.length + net.openDrain.length > 0) return [];
      return net.inputs.flatMap((pin): Fact[] => {
        if (context.view.row(pin).edge !== true || context.view.part(pin).record.category === 'supervisor') return [];
        return [
          {
            about: [pin.ref],
            severity: 'warning',
            message: `${pin.ref} counts every bounce of ${context.view.part(hand).name}`,
            why: 'A contact closes and opens several times within some milliseconds: one push steps two or three times.',
            help: 'Put two cross-coupled gates, a supervisor with a button input, or a resistor, a capacitor and a Schmitt gate between.',
            where: pinSpan(context, pin),
          },
        ];
      });
    });
  },
};
