// Active low into active high: selects, strobes, interrupts and resets joined to a pin that wants the other level. What a net
// means is taken from the pin that drives it, where that pin has a meaning, and from the net's name only for gates.

import { foldName } from '../../base/index.ts';
import type { NetPart, NetPin, NetView } from '../../netlist/index.ts';
import { joinedPairs } from '../electric.ts';
import { pinNames } from '../levels/drivers.ts';
import { isActiveLow, isProgrammable } from '../levels/levels.ts';
import { pinSpan } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';

type Kind = 'select' | 'strobe' | 'interrupt' | 'reset';

interface Meaning {
  readonly low: boolean;
  readonly kind: Kind;
  /** What says so. */
  readonly by: string;
}

const STROBES =
  /^(?:read|write|memory|io|fetch|refresh|memory-read|memory-write|io-read|io-write|interrupt-acknowledge|select|enable)$/;

/** Keys of a part's signals by pin name. */
const signalKeys = new WeakMap<object, ReadonlyMap<string, string>>();

function keyOf(part: NetPart, pin: NetPin): string | undefined {
  const { bus } = part.record;
  if (bus?.signals === undefined) return undefined;
  let keys = signalKeys.get(bus);
  if (keys === undefined) {
    const made = new Map<string, string>();
    for (const [key, text] of Object.entries(bus.signals))
      for (const name of pinNames(text)) if (!made.has(foldName(name))) made.set(foldName(name), key);
    keys = made;
    signalKeys.set(bus, keys);
  }
  return keys.get(foldName(pin.name));
}

function isDecoder(part: NetPart): boolean {
  return part.record.bus?.role === 'decoder' || (part.record.units ?? []).some((unit) => /decoder/.test(unit.kind));
}

function driverMeaning(context: RuleContext, net: NetView, pin: NetPin): Meaning | undefined {
  const part = context.view.part(pin);
  const { record } = part;
  if (isProgrammable(part)) {
    const output = context.design.devices
      .find((plan) => foldName(plan.part) === foldName(part.name))
      ?.outputs.find(
        (candidate) =>
          foldName(candidate.pin) === foldName(pin.name) &&
          candidate.stage <= context.stage &&
          (candidate.until === undefined || context.stage < candidate.until),
      );
    if (output?.select !== undefined) return { low: output.select.activeLow, kind: 'select', by: pin.ref };
    return output === undefined ? undefined : madeMeaning(context, net);
  }
  if (isDecoder(part)) return { low: isActiveLow(pin.name), kind: 'select', by: pin.ref };
  if (record.category === 'supervisor' && /^\/?(?:RST|RESET)/i.test(pin.name))
    return { low: isActiveLow(pin.name), kind: 'reset', by: pin.ref };
  const key = keyOf(part, pin);
  if (key !== undefined && /^reset/.test(key)) return { low: isActiveLow(pin.name), kind: 'reset', by: pin.ref };
  if (key !== undefined && /^(?:interrupt|fast-interrupt)$/.test(key))
    return { low: isActiveLow(pin.name), kind: 'interrupt', by: pin.ref };
  if (key !== undefined && STROBES.test(key) && key !== 'enable')
    return { low: isActiveLow(pin.name), kind: 'strobe', by: pin.ref };
  return record.category === 'logic' && pin.kind === 'output' ? madeMeaning(context, net) : undefined;
}

/** What a net made of gates is by its name, and by the words of the line that makes it. */
function madeMeaning(context: RuleContext, net: NetView): Meaning | undefined {
  const name = net.net.name;
  const kind: Kind = /re?se?t|(?:^|\/)res$/i.test(name) ? 'reset' : 'strobe';
  if (isActiveLow(name)) return { low: true, kind, by: `the name ${name}` };
  const words = context.machine.logic.find((logic) => foldName(logic.net) === foldName(name))?.formula.name ?? '';
  if (/^\s*high when\b/i.test(words)) return { low: false, kind, by: `its line under logic` };
  return /^\s*low when\b/i.test(words) ? { low: true, kind, by: `its line under logic` } : undefined;
}

/** What asserts a net, where everything that drives it agrees. */
function meaningOf(context: RuleContext, net: NetView): Meaning | undefined {
  const drivers = [...net.outputs, ...net.threeState, ...net.openDrain].concat(
    net.bidirectional.filter((pin) => isProgrammable(context.view.part(pin))),
  );
  const meanings = drivers.map((pin) => driverMeaning(context, net, pin));
  const first = meanings[0];
  if (first !== undefined && meanings.every((meaning) => meaning?.low === first.low)) return first;
  if (drivers.length > 0) return undefined;
  // A button that pulls a net low against a pull-up asserts it low.
  const button = net.passive.find((pin) => context.view.part(pin).record.symbol === 'button');
  if (button === undefined || context.view.pulled(net) === undefined) return undefined;
  const part = context.view.part(button);
  const pair = joinedPairs(context, part).find(([a, b]) => a.net === net.net.id || b.net === net.net.id);
  const far =
    pair === undefined ? undefined : context.netlist.nets[pair[0].net === net.net.id ? pair[1].net : pair[0].net];
  if (far === undefined || far.kind === 'signal') return undefined;
  return { low: far.kind === 'ground', kind: 'reset', by: part.name };
}

/** What a pin listens for. */
function wanted(part: NetPart, pin: NetPin): Kind | undefined {
  const { bus, category } = part.record;
  if (bus === undefined || isDecoder(part) || isProgrammable(part) || pin.kind !== 'input') return undefined;
  if (bus.selects?.includes(pin.name) === true) return 'select';
  const key = keyOf(part, pin);
  if (key === undefined) return undefined;
  if (key === 'reset' || key === 'clear') return 'reset';
  if (/^(?:interrupt|fast-interrupt|nmi)$/.test(key)) return 'interrupt';
  if (key === 'enable' && category === 'logic') return 'strobe';
  return STROBES.test(key) ? 'strobe' : undefined;
}

function mismatches(context: RuleContext, resets: boolean): Fact[] {
  const facts: Fact[] = [];
  const meanings = new Map<number, Meaning | undefined>();
  for (const part of context.netlist.parts) {
    if (part.record.bus === undefined) continue;
    for (const id of part.pins) {
      const pin = context.netlist.pins[id]!;
      if (pin.net < 0) continue;
      const kind = wanted(part, pin);
      if (kind === undefined || (kind === 'reset') !== resets) continue;
      const net = context.view.nets[pin.net]!;
      if (net.net.kind !== 'signal') continue;
      if (!meanings.has(pin.net)) meanings.set(pin.net, meaningOf(context, net));
      const meaning = meanings.get(pin.net);
      if (meaning === undefined || meaning.low === isActiveLow(pin.name)) continue;
      // A memory is often kept from being selected while reset is on: that is the other level on purpose.
      if (!resets && meaning.kind === 'reset') continue;
      const [is, wants] = meaning.low ? ['low', 'high'] : ['high', 'low'];
      facts.push({
        about: [pin.ref],
        severity: 'error',
        message: `${pin.ref} acts on ${wants}, and ${net.net.name} is active ${is}, as ${meaning.by} says`,
        why: resets
          ? 'The part is held in reset while the machine runs, and let go while it is reset.'
          : 'The part answers exactly when it must not.',
        help: `Put an inverter between: logic: { ${net.net.name.replace(/^\//, '')}${meaning.low ? '' : '-low'}: ~${net.net.name} }, and join that net to ${pin.ref}.`,
        where: pinSpan(context, pin),
      });
    }
  }
  return facts;
}

export const conflictingPolarity: Rule = {
  code: 'check/conflicting-polarity',
  title: 'A select, strobe or interrupt joined to a pin that wants the other level',
  run: (context) => mismatches(context, false),
};

export const conflictingReset: Rule = {
  code: 'check/conflicting-reset',
  title: 'A reset joined to a pin that wants the other level',
  run: (context) => mismatches(context, true),
};
