// Clock and reset: what nothing works without.

import { pinSpan } from '../places.ts';
import type { Fact, Rule } from '../rule.ts';
import { clockPins, resetPins } from '../special-pins.ts';
import { hasLevel } from './driving.ts';

export const noClock: Rule = {
  code: 'check/no-clock',
  title: 'A clock input that nothing drives',
  run(context) {
    return clockPins(context)
      .filter((pin) => {
        if (pin.net < 0) return true;
        const net = context.view.nets[pin.net]!;
        if (net.net.kind !== 'signal') return true;
        return (
          net.outputs.length + net.threeState.length + net.bidirectional.length + net.openDrain.length === 0 &&
          !context.view.outside(net)
        );
      })
      .map(
        (pin): Fact => ({
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} has no clock`,
          why: 'Without a clock the part does nothing, and its outputs stay wherever they were at power-up.',
          help: 'Connect it to the oscillator or divider that gives its clock, and add that to this stage or an earlier one.',
          where: pinSpan(context, pin),
        }),
      );
  },
};

export const noReset: Rule = {
  code: 'check/no-reset',
  title: 'A reset input that nothing drives',
  run(context) {
    return resetPins(context)
      .filter((pin) => {
        if (pin.net < 0) return true;
        const net = context.view.nets[pin.net]!;
        // A pull alone never resets; an open-drain supervisor with a pull does.
        if (net.net.kind !== 'signal') return isProcessor(context, pin.part);
        const drivers = net.outputs.length + net.threeState.length + net.bidirectional.length + net.openDrain.length;
        return (
          drivers === 0 &&
          !context.view.outside(net) &&
          !(net.passive.length > 0 && hasLevel(context, pin) && hasSwitch(context, net.net.id))
        );
      })
      .map(
        (pin): Fact => ({
          about: [pin.ref],
          severity: 'error',
          message:
            pin.net >= 0 && context.netlist.nets[pin.net]!.kind !== 'signal'
              ? `${pin.ref} is tied to ${context.netlist.nets[pin.net]!.name}, so it is never reset`
              : `${pin.ref} is driven by nothing that resets it`,
          why: 'A processor that is not held in reset while the supply rises starts anywhere.',
          help: "Connect it to a supervisor or to the machine's reset net. A part that wants the other level needs an inverter: say so under `logic`.",
          where: pinSpan(context, pin),
        }),
      );
  },
};

function isProcessor(context: Parameters<Rule['run']>[0], part: number): boolean {
  return context.netlist.parts[part]!.record.bus?.role === 'processor';
}

function hasSwitch(context: Parameters<Rule['run']>[0], net: number): boolean {
  return context.view.nets[net]!.passive.some((pin) => {
    const symbol = context.view.part(pin).record.symbol;
    return symbol === 'button' || symbol === 'switch';
  });
}
