// Where in the files a pin's finding belongs: the line that connected it, else the line of its part.

import type { Span } from '../base/index.ts';
import type { NetPart, NetPin } from '../netlist/index.ts';
import type { PartTie } from '../parts/index.ts';
import type { RuleContext } from './rule.ts';

export function pinSpan(context: RuleContext, pin: NetPin): Span | undefined {
  return pin.origin?.span ?? context.netlist.parts[pin.part]!.origin.span;
}

/** The tie that a part's record asks for at a pin, where the tie is to a level or another pin. */
export function tieOf(part: NetPart, pin: NetPin): PartTie | undefined {
  return part.record.ties?.find((tie) => tie.to !== 'open' && tie.pins.includes(pin.name));
}
