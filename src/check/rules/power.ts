// Supplies: parts outside their range, more current than there is, supervisors that trip too early, rails fed twice or short.

import { foldName, formatQuantity } from '../../base/index.ts';
import type { NetPart } from '../../netlist/index.ts';
import { gradeOf } from '../../parts/index.ts';
import { fact, joinedPairs, pinsOf, railVolts, supplyFeeding, voltsText } from '../electric.ts';
import { pinNamed } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';
import { listed } from '../rule.ts';

/** Volts between two figures that are meant to be the same. */
const SLACK = 0.0005;

function supplyRange(context: RuleContext, part: NetPart): { min: number; max: number } | undefined {
  return (
    gradeOf(part.record, part.grade)?.supply ??
    gradeOf(part.record, part.family)?.supply ??
    part.record.supply ??
    (part.family === undefined ? undefined : context.library.families.get(part.family)?.supply)
  );
}

export const outsideSupplyRange: Rule = {
  code: 'check/outside-supply-range',
  title: 'A part whose supply is outside its range',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      const supply = supplyFeeding(context, part);
      const range = supply === undefined ? undefined : supplyRange(context, part);
      if (supply === undefined || range === undefined) continue;
      const [low, high] = [supply.volts * (1 - supply.tolerance), supply.volts * (1 + supply.tolerance)];
      const nominal = supply.volts < range.min - SLACK || supply.volts > range.max + SLACK;
      if (!nominal && low >= range.min - SLACK && high <= range.max + SLACK) continue;
      facts.push({
        about: [part.name],
        severity: nominal ? 'error' : 'warning',
        message: nominal
          ? `${part.name} (${part.type}) is for ${voltsText(range.min)} to ${voltsText(range.max)}, and ${supply.name} is ${voltsText(supply.volts)}`
          : `${part.name} (${part.type}) is for ${voltsText(range.min)} to ${voltsText(range.max)}, and ${supply.name} may be ${voltsText(low)} to ${voltsText(high)}`,
        why:
          supply.volts > range.max + SLACK
            ? 'Above its range a part is damaged, at once or slowly.'
            : 'Below its range no figure of the data sheet holds: levels, delays, whether it works at all.',
        help: 'Feed it from another supply, choose a type or grade for this one, or state a closer tolerance if yours is better.',
        where: part.origin.span,
      });
    }
    return facts;
  },
};

export const exceedsSupplyLimit: Rule = {
  code: 'check/exceeds-supply-limit',
  title: 'Parts that may draw more than their supply gives',
  run(context) {
    const sums = new Map<string, { amps: number; parts: { name: string; amps: number }[] }>();
    for (const part of context.netlist.parts) {
      const supply = supplyFeeding(context, part);
      const current =
        gradeOf(part.record, part.grade)?.current ?? gradeOf(part.record, part.family)?.current ?? part.record.current;
      if (supply === undefined || current?.max === undefined) continue;
      const sum = sums.get(supply.name) ?? { amps: 0, parts: [] };
      sum.amps += current.max / 1000;
      sum.parts.push({ name: part.name, amps: current.max / 1000 });
      sums.set(supply.name, sum);
    }
    return context.design.supplies.flatMap((supply): Fact[] => {
      const sum = sums.get(supply.name);
      if (sum === undefined || supply.limitAmps === undefined || sum.amps <= supply.limitAmps) return [];
      const most = [...sum.parts].sort((a, b) => b.amps - a.amps).slice(0, 4);
      const declared = context.machine.supplies.find((candidate) => foldName(candidate.name) === foldName(supply.name));
      return [
        {
          about: [supply.name],
          severity: 'warning',
          message: `Parts on ${supply.name} may draw ${formatQuantity(sum.amps, 'current', 3)}, and it gives ${formatQuantity(supply.limitAmps, 'current', 3)}`,
          why: `The sum of the greatest currents that the records know; most of it ${listed(most.map((part) => `${part.name} (${formatQuantity(part.amps, 'current', 2)})`))}. Lamps and pulls come on top.`,
          help: 'Take a stronger supply, CMOS grades of the parts that draw most, or state the limit that yours has.',
          where: declared?.span,
        },
      ];
    });
  },
};

export const thresholdAboveSupply: Rule = {
  code: 'check/threshold-above-supply',
  title: 'A supervisor that may hold reset while the supply is within its tolerance',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      if (part.record.category !== 'supervisor') continue;
      const supply = supplyFeeding(context, part);
      if (supply === undefined) continue;
      const wide = pinNamed(context, part, 'TOL')?.net ?? -1;
      const ten = wide >= 0 && (railVolts(context).get(wide) ?? 0) > 0;
      const threshold = ten ? fact(part, 'threshold-10-max') : fact(part, 'threshold-max');
      const low = supply.volts * (1 - supply.tolerance);
      if (threshold === undefined || threshold <= low + SLACK) continue;
      facts.push({
        about: [part.name],
        severity: threshold > supply.volts ? 'error' : 'warning',
        message: `${part.name} (${part.type}) may hold reset below ${voltsText(threshold)}, and ${supply.name} may be as low as ${voltsText(low)}`,
        why: 'The machine may never start, or start again and again as the load pulls the supply down.',
        help: 'Choose the type with the next lower threshold, or state the closer tolerance that your supply has.',
        where: part.origin.span,
      });
    }
    return facts;
  },
};

/** Pins at which a part gives a supply of its own. */
function sourcePins(context: RuleContext, part: NetPart) {
  const { record } = part;
  return pinsOf(context, part).filter((pin) => {
    if (pin.net < 0 || pin.kind === 'ground') return false;
    if (record.category === 'supply')
      return fact(part, 'out-volts') === undefined
        ? /^(?:VBUS|PLUS|\+)$/i.test(pin.name)
        : /^(?:OUT|VOUT)$/i.test(pin.name);
    return (
      record.category === 'connector' && fact(part, 'volts') !== undefined && pin.kind === 'passive' && isPlus(pin.name)
    );
  });
}

function isPlus(name: string): boolean {
  return /^(?:VCC|VDD|5V|\+5V|3V3|VBUS|PLUS|\+)$/i.test(name);
}

export const conflictingSupplies: Rule = {
  code: 'check/conflicting-supplies',
  title: 'Two sources that feed one rail',
  run(context) {
    const byNet = new Map<number, { part: NetPart; span: Fact['where']; ref: string }[]>();
    for (const part of context.netlist.parts)
      for (const pin of sourcePins(context, part)) {
        const list = byNet.get(pin.net) ?? [];
        if (!list.some((source) => source.part === part))
          list.push({ part, span: pinSpan(context, pin), ref: pin.ref });
        byNet.set(pin.net, list);
      }
    return [...byNet].flatMap(([net, sources]): Fact[] => {
      if (sources.length < 2) return [];
      const name = context.netlist.nets[net]!.name;
      return [
        {
          about: [name, ...sources.map((source) => source.part.name)],
          severity: 'error',
          message: `${listed(sources.map((source) => source.ref))} feed ${name} together`,
          why: 'The one with the higher voltage drives current backwards into the other, whether that is on or off.',
          help: 'Join one of them, or put a Schottky diode into each.',
          where: sources[1]!.span,
        },
      ];
    });
  },
};

export const backFeed: Rule = {
  code: 'check/back-feed',
  title: 'A connector that joins a rail to the supply of another machine',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      if (part.record.category !== 'connector') continue;
      for (const pin of sourcePins(context, part)) {
        if (!railVolts(context).has(pin.net)) continue;
        const name = context.netlist.nets[pin.net]!.name;
        facts.push({
          about: [pin.ref],
          severity: 'warning',
          message: `${pin.ref} joins ${name} to the supply of whatever is plugged in`,
          why: 'Two supplies feed each other: the computer at the other end is fed by this machine, or feeds it while its own supply is off.',
          help: `Leave it open: pins: { ${pin.name}: open }. Where it is meant to feed the machine and nothing else does, waive this with that reason.`,
          where: pinSpan(context, pin),
        });
      }
    }
    return facts;
  },
};

export const exceedsInputLevel: Rule = {
  code: 'check/exceeds-input-level',
  title: 'An input driven or pulled above its own supply',
  run(context) {
    const facts: Fact[] = [];
    if (context.design.supplies.length < 2) return facts;
    const volts = railVolts(context);
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal') continue;
      const highs: { from: string; volts: number }[] = [];
      for (const pin of [...net.outputs, ...net.threeState, ...net.bidirectional]) {
        const supply = supplyFeeding(context, context.view.part(pin));
        if (supply !== undefined) highs.push({ from: pin.ref, volts: supply.volts });
      }
      if (highs.length === 0)
        for (const link of net.links) {
          const rail = volts.get(link.to.net);
          // A resistor of some tens of kilohms keeps the current through the clamp harmless.
          if (rail !== undefined && net.openDrain.length > 0) highs.push({ from: link.part.name, volts: rail });
        }
      const most = highs.reduce((a, b) => (b.volts > a.volts ? b : a), { from: '', volts: 0 });
      for (const pin of [...net.inputs, ...net.bidirectional]) {
        const part = context.view.part(pin);
        const supply = supplyFeeding(context, part);
        if (supply === undefined || part.record.category === 'driver' || most.volts <= supply.volts + 0.5) continue;
        facts.push({
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} is at a part fed with ${voltsText(supply.volts)}, and ${most.from} takes it to ${voltsText(most.volts)}`,
          why: 'Current flows through the input into the rail of the lower supply, and destroys the input or lifts the rail.',
          help: 'Put a level shifter between, or divide the level with two resistors.',
          where: pinSpan(context, pin),
        });
      }
    }
    return facts;
  },
};

export const reversedPolarity: Rule = {
  code: 'check/reversed-polarity',
  title: 'A polarised part the wrong way round between two rails',
  run(context) {
    const facts: Fact[] = [];
    const volts = railVolts(context);
    for (const part of context.netlist.parts) {
      const { symbol } = part.record;
      if (symbol !== 'electrolytic' && symbol !== 'diode') continue;
      const plus = pinNamed(context, part, symbol === 'diode' ? 'K' : 'PLUS');
      const minus = pinNamed(context, part, symbol === 'diode' ? 'A' : 'MINUS');
      const [high, low] = [plus, minus].map((pin) => (pin === undefined ? undefined : volts.get(pin.net)));
      if (high === undefined || low === undefined || high >= low) continue;
      facts.push({
        about: [part.name],
        severity: 'error',
        message:
          symbol === 'diode'
            ? `${part.name} conducts from ${voltsText(low)} to ${voltsText(high)}: it shorts the supply`
            : `${part.name} has its minus lead at ${voltsText(low)} and its plus lead at ${voltsText(high)}`,
        why:
          symbol === 'diode'
            ? 'Nothing limits the current.'
            : 'An electrolytic capacitor turned round heats up and bursts.',
        help: 'Exchange its two leads.',
        where: part.origin.span,
      });
    }
    return facts;
  },
};

export const shortedSupply: Rule = {
  code: 'check/shorted-supply',
  title: 'A switch, fuse or jumper straight between two rails',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      const own = pinsOf(context, part);
      const pairs =
        part.record.symbol === 'fuse' && own.length === 2 ? [[own[0]!, own[1]!] as const] : joinedPairs(context, part);
      for (const [a, b] of pairs) {
        if (a.net === b.net || a.net < 0 || b.net < 0) continue;
        const [one, other] = [context.netlist.nets[a.net]!, context.netlist.nets[b.net]!];
        if (one.kind === 'signal' || other.kind === 'signal') continue;
        facts.push({
          about: [part.name],
          severity: 'error',
          message: `${part.name} joins ${one.name} to ${other.name} when it closes`,
          why: 'The whole current of the supply flows through the contact and the strips.',
          help: 'Put a resistor between: a switch pulls a net low against a pull-up, or high against a pull-down.',
          where: part.origin.span,
        });
        break;
      }
    }
    return facts;
  },
};

export const exceedsRating: Rule = {
  code: 'check/exceeds-rating',
  title: 'A capacitor at more than its rated voltage',
  run(context) {
    const facts: Fact[] = [];
    const volts = railVolts(context);
    for (const part of context.netlist.parts) {
      const { symbol } = part.record;
      const rated = fact(part, 'volts-max');
      if ((symbol !== 'capacitor' && symbol !== 'electrolytic') || rated === undefined) continue;
      const ends = pinsOf(context, part).map((pin) => volts.get(pin.net));
      if (ends.length !== 2 || ends[0] === undefined || ends[1] === undefined) continue;
      const across = Math.abs(ends[0] - ends[1]);
      if (across <= rated) continue;
      facts.push({
        about: [part.name],
        severity: 'error',
        message: `${part.name} stands ${voltsText(rated)} and is put across ${voltsText(across)}`,
        why: 'It breaks down; an electrolytic one bursts.',
        help: 'Take a capacitor rated well above the supply.',
        where: part.origin.span,
      });
    }
    return facts;
  },
};
