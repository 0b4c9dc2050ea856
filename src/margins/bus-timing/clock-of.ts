// The clock of a machine's processor: what it is (stated, or from the record of what makes it) and what the processor asks of it.

import { foldName } from '../../base/index.ts';
import type { Design, Netlist, NetPart } from '../../netlist/index.ts';
import { gradeOf, influences, pinsNamed } from '../../parts/index.ts';
import { nsPerUnit, sourceOf } from '../model.ts';
import { ratesOf } from '../rates.ts';
import { type Affine, minus, nanoseconds, periods } from './affine.ts';
import { arcsOf } from './arcs.ts';
import { type ClockModel, dutyClock } from './clock-model.ts';
import type { ProcessorTiming } from './cycle.ts';
import { formulaOf, printedFormula } from './printed-formula.ts';
import type { BusContext, processorArcs } from './launches.ts';
import type { Requirement } from './row.ts';
import { arcNs } from './trace.ts';

/** The clock that reaches a processor: stated by the machine, else from the record of whatever drives it. */
export function clockOf(
  design: Design,
  netlist: Netlist,
  processor: NetPart,
  timing: ProcessorTiming,
  find: ReturnType<typeof processorArcs>,
  stage: number,
  gradeOfPart: (part: NetPart) => string | undefined,
): { model: ClockModel; hz: number | undefined } {
  const pinName = processor.record.bus?.signals?.clock;
  const names = pinName === undefined ? [] : pinsNamed(processor.record, pinName).map((row) => row.name);
  const pin = processor.pins.map((id) => netlist.pins[id]!).find((item) => names.includes(item.name));
  const net = pin === undefined || pin.net < 0 ? undefined : netlist.nets[pin.net];
  const clock =
    net === undefined
      ? undefined
      : (design.clocks.find((item) => item.net !== undefined && foldName(item.net) === foldName(net.name)) ??
        design.clocks[0]);
  const source = net?.pins.map((id) => netlist.pins[id]!).find((item) => item !== pin && item.kind === 'output');
  const maker = source === undefined ? undefined : netlist.parts[source.part];
  const fact = (name: string): number | undefined => {
    const value = maker?.record.facts?.[name];
    return typeof value === 'number' ? value : undefined;
  };
  const edgeNs = fact('rise-max-ns') ?? 0;
  if (timing.clockSignal === 'e') {
    // Made inside: the high part follows the period, less than half of it by what is printed at the shortest one.
    const period = find(timing.period)?.min;
    const high = find(timing.high)?.min;
    const low = find(timing.low)?.min;
    const short = (part: number | undefined): Affine | null =>
      period === undefined || part === undefined ? null : { perPeriod: 0.5, ns: part - period / 2 };
    const least = short(low);
    return {
      model: {
        highMin: short(high),
        highMax: least === null ? null : minus(periods(1), least),
        edgeNs: 0,
        says: 'E as printed at its shortest period, the rest in halves',
      },
      hz: clock?.rateHz,
    };
  }
  const generated = maker === undefined ? undefined : generatorClock(maker, edgeNs);
  if (generated !== undefined) return { model: generated, hz: clock?.rateHz };
  if (clock?.duty !== undefined)
    return {
      model: dutyClock(clock.duty, clock.duty, edgeNs, `${Math.round(clock.duty * 100)} % high, as the machine says`),
      hz: clock.rateHz,
    };
  const gated = net === undefined ? undefined : gatedClock(design, stage, netlist, net, gradeOfPart);
  if (gated !== undefined) return { model: gated, hz: clock?.rateHz };
  const least = fact('duty-min-percent');
  const most = fact('duty-max-percent');
  if (least !== undefined && most !== undefined)
    return {
      model: dutyClock(least / 100, most / 100, edgeNs, `${least} to ${most} % high, as ${maker!.name} promises`),
      hz: clock?.rateHz,
    };
  return {
    model: { highMin: null, highMax: null, edgeNs, says: 'nobody says how long the clock is high' },
    hz: clock?.rateHz,
  };
}

/** A clock generator that prints how long its output is high and low at any period. */
function generatorClock(maker: NetPart, edgeNs: number): ClockModel | undefined {
  const arcs = arcsOf({ record: maker.record, family: maker.family, grade: maker.grade });
  const value = (symbol: string): Affine | undefined => {
    const formula = formulaOf(arcs.find(({ arc }) => arc.symbol === symbol)?.arc.conditions);
    return formula === undefined
      ? undefined
      : printedFormula(formula, (name) => (name === 'TCLCL' || name === 'tCLCL' ? periods(1) : undefined));
  };
  const high = value('TCHCL') ?? value('tCHCL');
  const low = value('TCLCH') ?? value('tCLCH');
  if (high === undefined || low === undefined) return undefined;
  return {
    highMin: high,
    highMax: minus(periods(1), low),
    edgeNs,
    says: `high and low as ${maker.name} prints them`,
  };
}

/** Requirements of the clock itself: period, high and low part, and the slowest clock. */
export function clockRequirements(context: BusContext, find: ReturnType<typeof processorArcs>): Requirement[] {
  const { processor, timing, clock } = context;
  const make = (check: string, symbols: readonly string[], available: Affine | null): Requirement => {
    const arc = find(symbols);
    const ns = arc === undefined ? null : arcNs(arc, 'min');
    const missing = [
      ...(arc === undefined || ns === null ? [`${symbols.join(' or ')} of ${processor.name}`] : []),
      ...(available === null ? ['how long the clock is high'] : []),
    ];
    return {
      cycle: 'clock',
      kind: 'clock',
      target: processor.name,
      check,
      candidates: [
        {
          from: 'clock',
          to: processor.name,
          missing,
          reckonings:
            missing.length > 0
              ? []
              : [
                  {
                    available: available!,
                    steps: [
                      {
                        part: processor.name,
                        symbol: arc!.symbol,
                        value: nanoseconds(ns!),
                        source: sourceOf(processor.record, arc!.source).text,
                      },
                    ],
                  },
                ],
        },
      ],
    };
  };
  const rows = [make('clock period', timing.period, periods(1))];
  if (timing.clockSignal === 'e') return rows;
  const edge = nanoseconds(clock.edgeNs);
  rows.push(make('clock high', timing.high, clock.highMin === null ? null : minus(clock.highMin, edge)));
  rows.push(
    make('clock low', timing.low, clock.highMax === null ? null : minus(minus(periods(1), clock.highMax), edge)),
  );
  return rows;
}

/** Hz below which a dynamic part forgets, of the machine's clock; null where nobody says. */
export function slowestClock(
  context: BusContext,
  find: ReturnType<typeof processorArcs>,
  divide: number,
): number | null {
  const { processor, timing, clock } = context;
  const stated = [gradeOf(processor.record, context.gradeOf(processor))?.clock?.min, processor.record.clock?.min].find(
    (hz) => hz !== undefined,
  );
  const limits: number[] = stated === undefined ? [] : [stated];
  const longest = (symbols: readonly string[], share: number | undefined): void => {
    const arc = find(symbols);
    const factor = arc === undefined ? undefined : nsPerUnit(arc);
    if (arc?.max === undefined || factor === undefined || share === undefined || share <= 0) return;
    limits.push((1e9 * share * divide) / (arc.max * factor));
  };
  longest(timing.period, 1);
  if (timing.clockSignal !== 'e') {
    longest(timing.high, clock.highMax?.perPeriod);
    longest(timing.low, clock.highMin === null ? undefined : 1 - clock.highMin.perPeriod);
  }
  return limits.length === 0 ? null : Math.max(...limits);
}

/** A clock that comes through gates: its duty as its source promises, less what rises and falls may differ by on the way. */
function gatedClock(
  design: Design,
  stage: number,
  netlist: Netlist,
  net: Netlist['nets'][number],
  gradeOfPart: (part: NetPart) => string | undefined,
): ClockModel | undefined {
  const rate = ratesOf(design, stage).get(net.id);
  if (rate === undefined || rate.dutyMin === null || rate.dutyMax === null) return undefined;
  const through: string[] = [];
  let skew = 0;
  let at = net;
  for (let k = 0; k < 6; k++) {
    const output = at.pins.map((id) => netlist.pins[id]!).find((pin) => pin.kind === 'output');
    const part = output === undefined ? undefined : netlist.parts[output.part]!;
    if (output === undefined || part === undefined || part.record.category !== 'logic') break;
    const input = part.pins
      .map((id) => netlist.pins[id]!)
      .find(
        (pin) =>
          pin.kind === 'input' &&
          pin.net >= 0 &&
          ratesOf(design, stage).get(pin.net)?.hz === rate.hz &&
          feeds(part, pin.name, output.name),
      );
    if (input === undefined) return undefined;
    const arcs = arcsOf({ record: part.record, family: part.family, grade: gradeOfPart(part) }).filter(
      ({ arc, from, to }) => arc.kind === 'delay' && from.pins.has(input.name) && to.pins.has(output.name),
    );
    const most = Math.max(...arcs.flatMap(({ arc }) => arcNs(arc, 'max') ?? []));
    if (!Number.isFinite(most)) return undefined;
    const least = Math.min(...arcs.map(({ arc }) => arcNs(arc, 'min') ?? 0));
    skew += most - least;
    through.push(part.name);
    at = netlist.nets[input.net]!;
  }
  if (through.length === 0) return undefined;
  return {
    highMin: { perPeriod: rate.dutyMin, ns: -skew },
    highMax: { perPeriod: rate.dutyMax, ns: skew },
    edgeNs: 0,
    says: `${Math.round(rate.dutyMin * 100)} to ${Math.round(rate.dutyMax * 100)} % high at its source, less up to ${Math.round(skew)} ns in ${through.join(' and ')}`,
  };
}

/** Whether an input of a part acts on an output, by the part's own behaviour. */
function feeds(part: NetPart, input: string, output: string): boolean {
  return influences(part.record)?.get(output)?.direct.has(input) === true;
}
