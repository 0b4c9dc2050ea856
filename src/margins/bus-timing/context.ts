// What every reckoning of a bus starts from: the processor of a stage with its cycles, clock, controller and loads.

import { foldName } from '../../base/index.ts';
import { type Design, type Netlist, netlistAt, type NetPart, type NetPin } from '../../netlist/index.ts';
import type { NetLoading } from '../loading.ts';
import { clockOf } from './clock-of.ts';
import type { ArcFinder, ProcessorTiming } from './cycle.ts';
import { EIGHTY_EIGHT_MAXIMUM, EIGHTY_EIGHT_TIMING } from './eighty-eight.ts';
import { type BusContext, processorArcs } from './launches.ts';
import { SIXTY_EIGHT_O_NINE_TIMING } from './sixty-eight-o-nine.ts';
import { SIXTY_FIVE_TIMING } from './sixty-five.ts';
import type { TimingOptions } from './timing.ts';
import type { TraceContext } from './trace.ts';
import { Z80_TIMING } from './z80.ts';

const STYLES: readonly ProcessorTiming[] = [
  Z80_TIMING,
  SIXTY_FIVE_TIMING,
  SIXTY_EIGHT_O_NINE_TIMING,
  EIGHTY_EIGHT_TIMING,
];

export type FoundContext =
  | { readonly processor: NetPart; readonly context: undefined; readonly missing: string }
  | {
      readonly processor: NetPart;
      readonly context: BusContext;
      readonly find: ArcFinder;
      /** Hz of the machine's own clock, where it has one. */
      readonly hz: number | undefined;
    };

/** The bus of a stage; undefined without a processor, and with what is missing where its cycles are not worked out. */
export function busContext(design: Design, stage: number, options: TimingOptions): FoundContext | undefined {
  const netlist = netlistAt(design, stage);
  const processor = netlist.parts.find((part) => part.record.category === 'processor');
  if (processor === undefined) return undefined;
  const isMaximum = isMaximumMode(netlist, processor);
  const controller = isMaximum ? netlist.parts.find((part) => part.record.bus?.role === 'bus-controller') : undefined;
  const timing = isMaximum
    ? controller === undefined
      ? undefined
      : EIGHTY_EIGHT_MAXIMUM
    : STYLES.find((item) => item.style === processor.record.bus?.style);
  if (timing === undefined)
    return {
      processor,
      context: undefined,
      missing: isMaximum
        ? `the bus cycles of ${processor.name} in maximum mode without a bus controller`
        : `the bus cycles of ${processor.name} (${processor.type})`,
    };
  const gradeName = (part: NetPart): string | undefined => options.grades?.get(foldName(part.name)) ?? part.grade;
  const delays = loadDelays(netlist, options.loading ?? []);
  const traceContext: TraceContext = {
    design,
    stage,
    netlist,
    processor,
    controller,
    loadDelay: (net, driver) => delays.get(`${net} ${driver.id}`) ?? 0,
    gradeOf: gradeName,
    passes: (part, pin) => options.passes?.get(foldName(`${part}.${pin}`)) ?? 1,
  };
  const find = processorArcs(traceContext);
  const { model, hz } = clockOf(design, netlist, processor, timing, find, stage, gradeName);
  const context: BusContext = { ...traceContext, timing, clock: model, waits: options.waits ?? 0 };
  return { processor, context, find, hz };
}

function isMaximumMode(netlist: Netlist, processor: NetPart): boolean {
  const name = processor.record.bus?.signals?.minmax;
  const pin = processor.pins.map((id) => netlist.pins[id]!).find((item) => item.name === name);
  return pin !== undefined && pin.net >= 0 && netlist.nets[pin.net]!.kind === 'ground';
}

/** ns by net and driver that loading adds. */
function loadDelays(netlist: Netlist, loading: readonly NetLoading[]): Map<string, number> {
  const nets = new Map(netlist.nets.map((net) => [net.name, net]));
  const delays = new Map<string, number>();
  for (const item of loading) {
    const net = nets.get(item.net);
    for (const driver of item.drivers) {
      if (net === undefined || driver.addedNs === null || driver.addedNs <= 0) continue;
      const pin = net.pins.map((id): NetPin => netlist.pins[id]!).find((candidate) => candidate.ref === driver.driver);
      if (pin !== undefined) delays.set(`${net.id} ${pin.id}`, driver.addedNs);
    }
  }
  return delays;
}
