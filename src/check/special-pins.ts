// Pins whose silence has findings of their own: clocks and resets.

import type { NetPin } from '../netlist/index.ts';
import type { RuleContext } from './rule.ts';

function named(
  context: RuleContext,
  pick: (part: RuleContext['netlist']['parts'][number]) => readonly (string | undefined)[],
): NetPin[] {
  return context.netlist.parts.flatMap((part) => {
    const names = new Set(pick(part).filter((name) => name !== undefined));
    if (names.size === 0) return [];
    return part.pins
      .map((id) => context.netlist.pins[id]!)
      .filter((pin) => pin.kind === 'input' && names.has(pin.name));
  });
}

/** Inputs that need a clock before the part can do anything. */
export function clockPins(context: RuleContext): NetPin[] {
  return named(context, (part) => [
    // A clock generator has a choice of crystal and clock input.
    part.record.bus?.role === 'clock-generator' ? undefined : part.record.clock?.pin,
    part.record.bus?.role === 'processor' ? part.record.bus.signals?.clock : undefined,
  ]);
}

/** Reset inputs of processors and peripherals. */
export function resetPins(context: RuleContext): NetPin[] {
  return named(context, (part) => [part.record.bus?.signals?.reset]);
}
