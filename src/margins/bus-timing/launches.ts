// When a processor's signals leave: the arcs behind the symbols of its cycles, and the gaps its maker promises.

import type { NetPart } from '../../netlist/index.ts';
import type { TimingArc } from '../../parts/index.ts';
import { nsPerUnit } from '../model.ts';
import { type Affine, at, nanoseconds } from './affine.ts';
import { type ClockModel, clockSymbols } from './clock-model.ts';
import type { ArcFinder, Launch, ProcessorTiming } from './cycle.ts';
import { formulaOf, printedFormula } from './printed-formula.ts';
import { arcNs, arcsIn, type TraceContext } from './trace.ts';

export interface BusContext extends TraceContext {
  readonly timing: ProcessorTiming;
  readonly clock: ClockModel;
  readonly waits: number;
}

/** Finds an arc of the processor (or of another chip) by symbol, within its grade. */
export function processorArcs(context: TraceContext, part: NetPart | undefined = context.processor): ArcFinder {
  const bySymbol = new Map<string, TimingArc>();
  for (const { arc } of part === undefined ? [] : arcsIn(context, part))
    if (!bySymbol.has(arc.symbol)) bySymbol.set(arc.symbol, arc);
  return (symbols) => {
    for (const symbol of symbols) {
      const found = bySymbol.get(symbol);
      if (found !== undefined) return found;
    }
    return undefined;
  };
}

/** A promise in an arc: its printed formula with the machine's clock, else its least figure. */
export function promised(arc: TimingArc, clock: ClockModel): Affine | undefined {
  const formula = formulaOf(arc.conditions);
  if (formula !== undefined) {
    const value = printedFormula(formula, clockSymbols(clock));
    if (value !== undefined) return value;
  }
  const factor = nsPerUnit(arc);
  return arc.min === undefined || factor === undefined ? undefined : nanoseconds(arc.min * factor);
}

/** ns from an edge of the clock to what is launched at it: at least, and at most (null where not printed). */
export function launchNs(
  context: BusContext,
  launch: Launch,
  periodNs: number,
): { readonly min: number; readonly max: number | null } {
  const isOther = launch.via === 'controller';
  const find = processorArcs(context, isOther ? context.controller : context.processor);
  if (launch.besides !== undefined) {
    const value = launch.besides(find, context.clock);
    return value === undefined ? { min: 0, max: null } : { min: at(value, periodNs), max: at(value, periodNs) };
  }
  if (launch.symbols.length === 0) return { min: 0, max: 0 };
  const arc = find(launch.symbols);
  return arc === undefined ? { min: 0, max: null } : { min: arcNs(arc, 'min') ?? 0, max: arcNs(arc, 'max') };
}
