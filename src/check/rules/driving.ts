// Who drives what: floating inputs, open-drain nets without a pull, fighting outputs, outputs on rails.

import type { NetPin } from '../../netlist/index.ts';
import { pinSpan, tieOf } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';
import { clockPins, resetPins } from '../special-pins.ts';

/** Whether anything gives a net a level: a driver, a pull, or the world outside. */
export function hasLevel(context: RuleContext, pin: NetPin): boolean {
  if (pin.net < 0) return false;
  const net = context.view.nets[pin.net]!;
  if (net.net.kind !== 'signal') return true;
  if (net.outputs.length + net.threeState.length + net.bidirectional.length > 0) return true;
  if (net.openDrain.length > 0) return true; // Where it lacks a pull, `no-pull-up` says so.
  if (context.view.pulled(net) !== undefined || context.view.outside(net)) return true;
  // A resistor from a net that is driven, or pulled while a contact may ground it, passes the level on.
  return net.links.some((link) => {
    const other = context.view.nets[link.to.net]!;
    if (other.outputs.length + other.threeState.length + other.bidirectional.length > 0) return true;
    return other.net.kind === 'signal' && (context.view.pulled(other) !== undefined || context.view.outside(other));
  });
}

export const floatingInput: Rule = {
  code: 'check/floating-input',
  title: 'An input that nothing gives a level',
  run(context) {
    const facts: Fact[] = [];
    const special = new Set([...clockPins(context), ...resetPins(context)].map((pin) => pin.id));
    for (const pin of context.netlist.pins) {
      if (pin.kind !== 'input' || special.has(pin.id) || hasLevel(context, pin)) continue;
      const row = context.view.row(pin);
      if (row.pull !== undefined || row['may-float'] !== undefined) continue;
      const part = context.view.part(pin);
      if (pin.open && pin.origin?.by !== 'pins') continue; // The record itself leaves it open.
      if (pin.open && tieOf(part, pin) !== undefined) continue; // `no-required-tie` says it better.
      const inUnit = (part.record.units ?? []).find((unit) => Object.values(unit.pins).includes(pin.name));
      if (inUnit !== undefined && pin.net < 0) continue; // `unused-unit-input` says it better.
      facts.push({
        about: [pin.ref],
        severity: context.whole ? 'error' : 'warning',
        message:
          pin.net < 0
            ? `${pin.ref} is connected to nothing`
            : `${pin.ref} is in net ${context.netlist.nets[pin.net]!.name}, which nothing drives`,
        why: 'An open input takes any level, changes when a hand comes near, and in CMOS parts may draw current through both output transistors.',
        help: 'Connect it, tie it high or low through a resistor under `ties`, or add what drives it to this stage.',
        where: pinSpan(context, pin),
      });
    }
    return facts;
  },
};

export const unusedUnitInput: Rule = {
  code: 'check/unused-unit-input',
  title: 'An input of a gate or flip-flop that is left open',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      const { units } = part.record;
      if (units === undefined || part.pins.every((id) => context.netlist.pins[id]!.net >= 0)) continue;
      const byName = new Map(part.pins.map((id) => [context.netlist.pins[id]!.name, context.netlist.pins[id]!]));
      for (const unit of units) {
        const pins = Object.values(unit.pins).flatMap((name) => byName.get(name) ?? []);
        for (const pin of pins) {
          if (pin.kind !== 'input' || pin.net >= 0) continue;
          const row = context.view.row(pin);
          if (row.pull !== undefined || row['may-float'] !== undefined) continue;
          const used = pins.some((other) => other.net >= 0);
          facts.push({
            about: [pin.ref],
            severity: 'warning',
            message: `${pin.ref}, an input of unit ${unit.name}, ${used ? 'is left open' : 'is left open with its whole unit'}`,
            why: used
              ? 'The unit works with whatever level the open input happens to take.'
              : 'An open CMOS input drifts to the middle and makes the unused unit draw current and oscillate.',
            help: 'Tie it high or low under `ties`.',
            where: pinSpan(context, pin),
          });
        }
      }
    }
    return facts;
  },
};

export const noPullUp: Rule = {
  code: 'check/no-pull-up',
  title: 'A net that only open-drain outputs drive, with nothing to pull it up',
  run(context) {
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal' || net.openDrain.length === 0) continue;
      if (net.outputs.length + net.threeState.length + net.bidirectional.length > 0) continue;
      if (net.inputs.length === 0 && !context.whole) continue;
      if (net.pins.length < 2) continue;
      if (context.view.pulled(net) === 'high' || context.view.outside(net)) continue;
      // Outputs that sink a load (a lamp, a relay) need no pull: the load is one.
      if (net.inputs.length === 0 && net.passive.length > 0) continue;
      facts.push({
        about: [net.net.name],
        severity: 'error',
        message: `${net.net.name} has no pull-up`,
        why: `${net.openDrain.map((pin) => pin.ref).join(', ')} can only pull it low; when released the net floats.`,
        help: `Write under ties: { high: [${net.openDrain[0]!.ref}], through: 10 kohm }.`,
        where: net.net.origin.span ?? pinSpan(context, net.openDrain[0]!),
      });
    }
    return facts;
  },
};

export const conflictingDrivers: Rule = {
  code: 'check/conflicting-drivers',
  title: 'Two outputs that always drive, on one net',
  run(context) {
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      if (net.net.kind !== 'signal' || net.outputs.length === 0) continue;
      const rivals = [...net.outputs, ...net.threeState, ...net.openDrain];
      if (rivals.length < 2) continue;
      const [first, second] = rivals as [NetPin, NetPin];
      if (first.part === second.part && rivals.length === 2 && first.name === second.name) continue;
      const open = net.outputs.length === 1 && net.threeState.length === 0;
      facts.push({
        about: [net.net.name],
        severity: 'error',
        message: `${rivals.map((pin) => pin.ref).join(' and ')} drive ${net.net.name} against each other`,
        why: open
          ? 'An open-drain output pulls low against an output that drives high: both carry the short-circuit current.'
          : 'Whenever they differ, both carry the short-circuit current and the level is neither high nor low. Chips get hot and die of it.',
        help: 'Put one of them in another net, or use a part whose output can be let go.',
        where: pinSpan(context, second),
        notes: [{ text: `${first.ref} is joined here.`, ...spanNote(pinSpan(context, first)) }],
      });
    }
    return facts;
  },
};

function spanNote(span: Fact['where']): { span?: NonNullable<Fact['where']> } {
  return span === undefined ? {} : { span };
}

export const outputOnRail: Rule = {
  code: 'check/output-on-rail',
  title: 'A pin that can drive, tied to a supply or to ground by a wire',
  run(context) {
    const facts: Fact[] = [];
    for (const net of context.view.nets) {
      if (net.net.kind === 'signal') continue;
      for (const pin of [...net.outputs, ...net.threeState, ...net.bidirectional, ...net.openDrain]) {
        if (pin.kind === 'open-drain' && net.net.kind === 'ground') continue;
        facts.push({
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} can drive and is tied to ${net.net.name} by a wire`,
          why: 'When it drives the other level it is short-circuited by the supply.',
          help: 'Tie it through a resistor: say `through: 10 kohm`.',
          where: pinSpan(context, pin),
        });
      }
    }
    return facts;
  },
};
