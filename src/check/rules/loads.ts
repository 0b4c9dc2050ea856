// Currents: what outputs, lamps and coils carry.

import { formatQuantity } from '../../base/index.ts';
import type { NetPart, NetPin, NetView } from '../../netlist/index.ts';
import { inputFigures, outputFigures } from '../../parts/index.ts';
import {
  type Diode,
  diodesOf,
  fact,
  isLampNet,
  joinedPairs,
  ohmsOf,
  pinsOf,
  railVolts,
  supplyFeeding,
} from '../electric.ts';
import { isProgrammable, pinNamed } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';

/** An overload is reported from here on; the margins say exactly how much is left. */
const CLEAR = 1.5;

/** mA that every output carries. */
const LIGHT = 0.1;

const ma = (value: number): string => formatQuantity(value / 1000, 'current', 2);

/** The greatest current, in mA, at which an output's level is given. */
function strength(context: RuleContext, pin: NetPin, level: 'low' | 'high'): number | undefined {
  const figures = outputFigures(context.view.part(pin), context.view.row(pin), context.library.families);
  const points = level === 'low' ? figures?.low : [...(figures?.high ?? []), ...(figures?.['high-below-supply'] ?? [])];
  if (points === undefined || points.length === 0) return undefined;
  return Math.max(...points.map((point) => Math.abs(point.at)));
}

/** What an input draws at a level, in mA; one whose figures are unknown counts nothing. */
function drawn(context: RuleContext, pin: NetPin, level: 'low' | 'high'): number {
  // What a Darlington's base draws follows the level that it gets: that is no overload until its figures say so.
  if (context.view.part(pin).record.category === 'driver') return 0;
  const figures = inputFigures(context.view.part(pin), context.view.row(pin), context.library.families);
  return Math.abs(figures?.[level] ?? 0) / 1000;
}

/** What resistors to rails draw of a driver that holds the net at `volts`, in mA: out of it at high, into it at low. */
function pullLoad(context: RuleContext, net: NetView, level: 'low' | 'high', volts: number): number {
  const rails = railVolts(context);
  let sum = 0;
  for (const link of net.links) {
    // A strap holds a net that nobody drives while it is in.
    const rail = link.part.temporary ? undefined : rails.get(link.to.net);
    const ohms = ohmsOf(link.part);
    if (rail === undefined || ohms === undefined || ohms <= 0) continue;
    sum += (Math.max(0, level === 'low' ? rail - volts : volts - rail) / ohms) * 1000;
  }
  return sum;
}

/** The points at which an output's level is given: volts and mA. */
function drivePoints(context: RuleContext, pin: NetPin, level: 'low' | 'high'): { volts: number; most: number }[] {
  const figures = outputFigures(context.view.part(pin), context.view.row(pin), context.library.families);
  const supply = supplyFeeding(context, context.view.part(pin))?.volts ?? context.design.supplies[0]?.volts ?? 5;
  const own = (level === 'low' ? figures?.low : figures?.high) ?? [];
  const below = level === 'low' ? [] : (figures?.['high-below-supply'] ?? []);
  return [
    ...own.map((point) => ({ volts: point.volts, most: Math.abs(point.at) })),
    ...below.map((point) => ({ volts: supply - point.volts, most: Math.abs(point.at) })),
  ];
}

export const exceedsDrive: Rule = {
  code: 'check/exceeds-drive',
  title: 'An output loaded with more than its levels are given for',
  run(context) {
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal' || net.inputs.length + net.bidirectional.length + net.links.length < 1) continue;
      // The resistors at a crystal are no load of a level.
      if (net.passive.some((pin) => context.view.part(pin).record.symbol === 'crystal')) continue;
      for (const level of ['low', 'high'] as const) {
        const drivers =
          level === 'low'
            ? [...net.outputs, ...net.threeState, ...net.openDrain, ...net.bidirectional]
            : [...net.outputs, ...net.threeState, ...net.bidirectional];
        if (drivers.length === 0) continue;
        let inputs = 0;
        for (const pin of net.inputs) inputs += drawn(context, pin, level);
        for (const pin of net.bidirectional) inputs += drawn(context, pin, level);
        // No output is so weak that a handful of CMOS inputs loads it.
        if (net.links.length === 0 && inputs < LIGHT) continue;
        for (const pin of drivers) {
          // What it drives is everything but itself.
          const own = pin.kind === 'bidirectional' ? drawn(context, pin, level) : 0;
          const points = drivePoints(context, pin, level).map((point) => ({
            ...point,
            load: inputs - own + pullLoad(context, net, level, point.volts),
          }));
          if (points.length === 0 || points.some((point) => point.load <= point.most * CLEAR)) continue;
          const best = points.reduce((a, b) => (b.most > a.most ? b : a));
          facts.push({
            about: [pin.ref],
            severity: 'warning',
            message: `${pin.ref} has to carry ${ma(best.load)} at ${level}, and its ${level} level is given for ${ma(best.most)}`,
            why: 'Above that the level may be anything, and what listens reads it wrong in the cold or in the heat.',
            help: 'Put a buffer between, take weaker pulls, or a family with inputs that draw less.',
            where: pinSpan(context, pin),
          });
          break;
        }
      }
    }
    return facts;
  },
};

interface Lit {
  readonly diode: Diode;
  readonly ma: number;
  /** The net at the far end of the resistor, and the resistor. */
  readonly far: number;
  readonly resistor: NetPart;
}

/** Lamps with a resistor of known value in series, and the current where both ends can be at opposite rails. */
function lit(context: RuleContext): Lit[] {
  const volts = railVolts(context);
  const top = Math.max(0, ...volts.values());
  return diodesOf(context).flatMap((diode): Lit[] => {
    for (const [pin, isAnode] of [
      [diode.anode, true],
      [diode.cathode, false],
    ] as const) {
      const net = context.view.nets[pin.net]!;
      if (!isLampNet(context, net)) continue;
      const link = net.links.find((candidate) => ohmsOf(candidate.part) !== undefined);
      const ohms = link === undefined ? undefined : ohmsOf(link.part);
      const forward = fact(diode.part, 'forward-volts');
      if (link === undefined || ohms === undefined || ohms <= 0 || forward === undefined) continue;
      const far = volts.get(link.to.net);
      const across = isAnode ? (far ?? top) : top - (far ?? 0);
      return [{ diode, ma: Math.max(0, (across - forward) / ohms) * 1000, far: link.to.net, resistor: link.part }];
    }
    return [];
  });
}

export const exceedsLedCurrent: Rule = {
  code: 'check/exceeds-led-current',
  title: 'A lamp with more current than it bears',
  run(context) {
    return lit(context).flatMap(({ diode, ma: current, resistor }): Fact[] => {
      const most = fact(diode.part, 'max-ma');
      if (most === undefined || current <= most) return [];
      return [
        {
          about: [diode.name],
          severity: 'error',
          message: `${diode.name} gets ${ma(current)} through ${resistor.name}, and bears ${ma(most)}`,
          why: 'It grows dim within hours, or goes out at once.',
          help: 'Take a larger resistor: 470 ohm gives about 6 mA at 5 V, 1 kohm about 3 mA, which is plenty.',
          where: diode.part.origin.span,
        },
      ];
    });
  },
};

export const ledOnSignal: Rule = {
  code: 'check/led-on-signal',
  title: 'A lamp that draws the level of a signal down',
  run(context) {
    return lit(context).flatMap(({ diode, ma: current, far }): Fact[] => {
      const net = context.view.nets[far]!;
      if (net.net.kind !== 'signal' || net.inputs.length + net.bidirectional.length === 0) return [];
      const level = isLampNet(context, context.view.nets[diode.anode.net]!) ? 'high' : 'low';
      const drivers = [...net.outputs, ...net.threeState, ...net.bidirectional];
      const weakest = drivers.flatMap((pin) => {
        const most = strength(context, pin, level);
        return most === undefined ? [] : [{ pin, most }];
      });
      const worst = weakest.sort((a, b) => a.most - b.most)[0];
      if (worst === undefined || current <= worst.most) return [];
      const listener = net.inputs[0] ?? net.bidirectional[0]!;
      return [
        {
          about: [diode.name],
          severity: 'warning',
          message: `${diode.name} draws ${ma(current)} from ${net.net.name}, and ${worst.pin.ref} gives its ${level} level for ${ma(worst.most)}`,
          why: `${listener.ref} listens to the same net, and may read the lowered level wrong.`,
          help: 'Drive the lamp from a buffer of its own, or take a larger resistor: modern lamps show well at 1 mA.',
          where: diode.part.origin.span,
        },
      ];
    });
  },
};

export const ledWithoutResistor: Rule = {
  code: 'check/no-led-resistor',
  title: 'A light-emitting diode with no resistor in series',
  run(context) {
    return diodesOf(context).flatMap((diode): Fact[] => {
      const limited = [diode.anode, diode.cathode].some((pin) => isLampNet(context, context.view.nets[pin.net]!));
      // Both leads in one net, or both on the same rail: nothing flows.
      if (limited || diode.anode.net === diode.cathode.net) return [];
      return [
        {
          about: [diode.name, ...(diode.name === diode.part.name ? [] : [diode.part.name])],
          severity: 'error',
          message: `${diode.name} has no resistor in series`,
          why: 'A diode takes all the current it can get: it burns out, or drags the signal and the output that drives it down.',
          help: `Write through: 470 ohm in the line of ${diode.part.name}, or put a resistor between it and what drives it.`,
          where: diode.part.origin.span,
        },
      ];
    });
  },
};

export const noFlybackDiode: Rule = {
  code: 'check/no-flyback-diode',
  title: 'A coil that is switched with no diode across it',
  run(context) {
    const facts: Fact[] = [];
    const volts = railVolts(context);
    for (const part of context.netlist.parts) {
      if (fact(part, 'coil-ohms') === undefined) continue;
      const [plus, minus] = [pinNamed(context, part, 'PLUS'), pinNamed(context, part, 'MINUS')];
      if (plus === undefined || minus === undefined || plus.net < 0 || minus.net < 0) continue;
      if (volts.has(plus.net) && volts.has(minus.net)) continue; // Never switched.
      const clamped = context.netlist.parts.some((other) => {
        if (other.record.symbol === 'diode')
          return pinNamed(context, other, 'K')?.net === plus.net && pinNamed(context, other, 'A')?.net === minus.net;
        // Darlington arrays have a diode from each output to COM.
        const com = other.record.category === 'driver' ? pinNamed(context, other, 'COM') : undefined;
        return (
          com !== undefined &&
          com.net === plus.net &&
          pinsOf(context, other).some((pin) => pin.kind === 'open-drain' && pin.net === minus.net)
        );
      });
      if (clamped) continue;
      facts.push({
        about: [part.name],
        severity: 'error',
        message: `The coil of ${part.name} has no diode across it`,
        why: 'When the current is switched off the coil drives its pin to a hundred volts and more, through whatever switched it.',
        help: `Put a diode across it, cathode at ${plus.ref}: a 1N4148 or 1N4001. At a ULN2803 join COM to the plus pole instead.`,
        where: part.origin.span,
      });
    }
    return facts;
  },
};

export const noBaseResistor: Rule = {
  code: 'check/no-base-resistor',
  title: 'A transistor whose base is driven with no resistor',
  run(context) {
    const facts: Fact[] = [];
    const rails = railVolts(context);
    for (const part of context.netlist.parts) {
      if (part.record.symbol !== 'transistor' || fact(part, 'vbe-on') === undefined) continue;
      const [base, emitter] = [pinNamed(context, part, 'B'), pinNamed(context, part, 'E')];
      if (base === undefined || emitter === undefined || base.net < 0 || !rails.has(emitter.net)) continue;
      const net = context.view.nets[base.net]!;
      const driver = [...net.outputs, ...net.threeState, ...net.bidirectional][0];
      const onRail = rails.has(base.net) && rails.get(base.net) !== rails.get(emitter.net);
      if (driver === undefined && !onRail) continue;
      facts.push({
        about: [part.name],
        severity: 'error',
        message: `The base of ${part.name} is driven by ${driver?.ref ?? net.net.name} with no resistor`,
        why: 'The base is a diode to the emitter: it holds the output near 0.7 V and takes all the current that the output can give.',
        help: 'Put 1 kohm to 4.7 kohm between the output and the base.',
        where: pinSpan(context, base),
      });
    }
    return facts;
  },
};

export const conflictingPulls: Rule = {
  code: 'check/conflicting-pulls',
  title: 'A net pulled high and low at the same time',
  run(context) {
    const facts: Fact[] = [];
    const volts = railVolts(context);
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal' || net.links.length < 2 || net.inputs.length + net.bidirectional.length === 0)
        continue;
      if (net.outputs.length > 0) continue;
      let up = 0;
      let down = 0;
      for (const link of net.links) {
        const rail = volts.get(link.to.net);
        const ohms = ohmsOf(link.part);
        if (rail === undefined || ohms === undefined || ohms <= 0) continue;
        if (rail > 0) up += 1 / ohms;
        else down += 1 / ohms;
      }
      const share = up / (up + down);
      // Within a tenth of a rail the level is still a level.
      if (up === 0 || down === 0 || share < 0.12 || share > 0.88) continue;
      facts.push({
        about: [net.net.name],
        severity: 'warning',
        message: `${net.net.name} is pulled high and low at once, to ${Math.round(share * 100)} % of the supply`,
        why: 'When nobody drives it the level is neither high nor low.',
        help: 'Take one of the pulls away, or make the one that is to win ten times stronger.',
        where: net.net.origin.span ?? net.links[0]!.part.origin.span,
      });
    }
    return facts;
  },
};

export const switchOnOutput: Rule = {
  code: 'check/switch-on-output',
  title: 'A button or switch that shorts an output to a rail',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      for (const [a, b] of joinedPairs(context, part)) {
        const [one, other] = [context.view.nets[a.net]!, context.view.nets[b.net]!];
        const [rail, signal] = one.net.kind !== 'signal' ? [one, other] : [other, one];
        if (rail.net.kind === 'signal' || signal.net.kind !== 'signal') continue;
        const driver = [...signal.outputs, ...signal.threeState].find((pin) => !isProgrammable(context.view.part(pin)));
        if (driver === undefined) continue;
        facts.push({
          about: [part.name, driver.ref],
          severity: 'error',
          message: `${part.name} shorts ${driver.ref} to ${rail.net.name} when it closes`,
          why: 'The output drives the other level against the contact, with its short-circuit current.',
          help: 'Use an output that only pulls low (open drain) with a pull-up, or bring the switch in through a gate.',
          where: part.origin.span,
        });
      }
    }
    return facts;
  },
};
