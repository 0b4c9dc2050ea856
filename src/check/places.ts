// Where in the files a pin's finding belongs: the line that connected it, else the line of its part.

import type { Span } from '../base/index.ts';
import type { NetPin } from '../netlist/index.ts';
import type { RuleContext } from './rule.ts';

export function pinSpan(context: RuleContext, pin: NetPin): Span | undefined {
  return pin.origin?.span ?? context.netlist.parts[pin.part]!.origin.span;
}
