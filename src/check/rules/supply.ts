// Supply pins, bypass capacitors, ties that a part requires.

import { foldName } from '../../base/index.ts';
import type { NetPart, NetPin } from '../../netlist/index.ts';
import type { PartTie } from '../../parts/index.ts';
import { pinSpan, tieOf } from '../places.ts';
import type { Fact, Rule, RuleContext } from '../rule.ts';

export const noSupply: Rule = {
  code: 'check/no-supply',
  title: 'A supply or ground pin that is not connected',
  run(context) {
    const facts: Fact[] = [];
    for (const pin of context.netlist.pins) {
      if (pin.kind !== 'supply' && pin.kind !== 'ground') continue;
      const part = context.view.part(pin);
      if (part.record.category === 'connector') continue;
      const kind = pin.net < 0 ? undefined : context.netlist.nets[pin.net]!.kind;
      if (kind === pin.kind) continue;
      if (kind === 'supply' && pin.kind === 'ground') {
        facts.push({
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} is a ground pin and is in supply net ${context.netlist.nets[pin.net]!.name}`,
          why: 'The supply is reversed or shorted through the part, which destroys it.',
          help: 'Put it in GND.',
          where: pinSpan(context, pin),
        });
        continue;
      }
      if (kind === 'ground') {
        facts.push({
          about: [pin.ref],
          severity: 'error',
          message: `${pin.ref} is a supply pin and is in GND`,
          why: 'The part gets no supply, and feeds itself through its inputs.',
          help: "Leave it out of GND; the part's supply is joined by itself.",
          where: pinSpan(context, pin),
        });
        continue;
      }
      // A supply pin in a signal net may be fed through a switch or a regulator.
      if (kind === 'signal' && context.view.nets[pin.net]!.pins.length > 1) continue;
      facts.push({
        about: [pin.ref],
        severity: 'error',
        message: `${pin.ref} is not connected to ${pin.kind === 'ground' ? 'ground' : 'a supply'}`,
        why: 'A chip without its supply is fed through its inputs: it half works, and puzzles for an evening.',
        help: 'Take the `open` or the other net away; supply pins are joined by themselves.',
        where: pinSpan(context, pin),
      });
    }
    return facts;
  },
};

export const noBypass: Rule = {
  code: 'check/no-bypass',
  title: 'A chip without a bypass capacitor',
  run(context) {
    const facts: Fact[] = [];
    const served = new Set(
      context.netlist.parts.flatMap((part) =>
        part.implied?.kind === 'bypass' ? [part.implied.serves.toLowerCase()] : [],
      ),
    );
    // Capacitors that the builder named, by the pair of nets they lie between.
    const free = new Map<string, number>();
    for (const part of context.netlist.parts) {
      if (part.record.symbol !== 'capacitor' || part.implied !== undefined) continue;
      const key = part.pins
        .map((id) => context.netlist.pins[id]!.net)
        .sort((a, b) => a - b)
        .join(' ');
      free.set(key, (free.get(key) ?? 0) + 1);
    }
    for (const part of context.netlist.parts) {
      const { record } = part;
      if (record.bypass === 'none' || ['connector', 'discrete', 'switch'].includes(record.category)) continue;
      const pins = part.pins.map((id) => context.netlist.pins[id]!);
      const plus = pins.find((pin) => pin.kind === 'supply' && pin.net >= 0);
      const ground = pins.find((pin) => pin.kind === 'ground' && pin.net >= 0);
      if (plus === undefined || ground === undefined || served.has(part.name.toLowerCase())) continue;
      const key = [plus.net, ground.net].sort((a, b) => a - b).join(' ');
      const left = free.get(key) ?? 0;
      if (left > 0) {
        free.set(key, left - 1);
        continue;
      }
      facts.push({
        about: [part.name],
        severity: 'warning',
        message: `${part.name} has no bypass capacitor`,
        why: "Each switching output draws a pulse of current that the rails of a board, tens of nanohenries away, can't give: registers clear and processors stop.",
        help: 'Let `defaults: { bypass: 100 nF }` add one at each chip, or name one of your own between its supply and GND.',
        where: part.origin.span,
      });
    }
    return facts;
  },
};

export const requiredTieMissing: Rule = {
  code: 'check/no-required-tie',
  title: 'A pin that its maker wants tied, left open by the machine file',
  run(context) {
    const facts: Fact[] = [];
    for (const part of context.netlist.parts) {
      if (part.record.ties === undefined) continue;
      for (const id of part.pins) {
        const pin = context.netlist.pins[id]!;
        if (!pin.open) continue;
        const tie = tieOf(part, pin);
        const row = context.view.row(pin);
        if (tie === undefined || row.pull !== undefined) continue;
        const floats = pin.kind === 'input' && row['may-float'] === undefined;
        facts.push({
          about: [pin.ref],
          severity: floats ? 'error' : 'warning',
          message: `${pin.ref} is left open, and the maker wants it tied ${tie.to === 'high' || tie.to === 'low' ? tie.to : `to ${tie.to}`}`,
          why: tie.why,
          help: `Take \`${pin.name}: open\` away, and the tie is made.`,
          where: pinSpan(context, pin),
          ...tieFix(context, part, pin, tie),
        });
      }
    }
    return facts;
  },
};

/** Where one `open` stands for this pin alone and a wire does it: the rail in its place. */
function tieFix(context: RuleContext, part: NetPart, pin: NetPin, tie: PartTie): Pick<Fact, 'fixes'> {
  const decl = context.machine.parts.find((candidate) => foldName(candidate.name) === foldName(part.name));
  const names = [pin.name, ...(context.view.row(pin).aliases ?? [])].map(foldName);
  const binding = decl?.pins.find((each) => each.net === undefined && names.includes(foldName(each.pin)));
  const shared = decl?.pins.filter((each) => each.netSpan.start === binding?.netSpan.start).length ?? 0;
  const supply = part.pins
    .map((id) => context.netlist.pins[id]!)
    .find((each) => each.kind === 'supply' && each.net >= 0);
  const rail =
    tie.to === 'low'
      ? 'GND'
      : tie.to === 'high' && supply !== undefined
        ? context.netlist.nets[supply.net]!.name
        : undefined;
  if (binding === undefined || shared !== 1 || rail === undefined || tie.through !== undefined) return {};
  return { fixes: [{ title: `Tie ${pin.ref} to ${rail}`, edits: [{ span: binding.netSpan, text: rail }] }] };
}
