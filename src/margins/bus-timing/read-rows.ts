// Reads: access to the processor, set-up and hold at the part, turnaround, and how long data stay.

import type { NetPart, NetPin } from '../../netlist/index.ts';
import { expandPins, pinsNamed } from '../../parts/index.ts';
import { anyOf, earliest, latest, worst } from './candidates.ts';
import { edgeGap } from './clock-model.ts';
import type { Launch } from './cycle.ts';
import type { BusCycleCheck, DataSide, WayBack } from './cycle-check.ts';
import { recoveryRows } from './pause-rows.ts';
import type { Candidate, Requirement } from './row.ts';
import { type Arrival, arcNs, arcsIn, loadStep, type Step } from './trace.ts';

/** All requirements of a read with one part. */
export function readRows(check: BusCycleCheck, target: NetPart): Requirement[] {
  const { processor } = check.context;
  const { capture } = check.cycle;
  if (capture === undefined) return [];
  const side = check.dataSide(target);
  const drivers = side.pins.filter(({ pin }) => pin.kind !== 'input');
  if (side.pins.length === 0)
    return [check.open(target, 'data', `a way of data from ${target.name} to ${processor.name}`)];
  if (drivers.length === 0) return [];
  const dataNames = new Set(side.pins.map(({ pin }) => pin.name));
  const moved = check.moved(target, dataNames);
  const arcs = arcsIn(check.context, target);
  const toData = arcs.filter(
    ({ arc, to }) =>
      (arc.kind === 'access' || arc.kind === 'enable' || arc.kind === 'delay') &&
      drivers.some(({ pin }) => to.pins.has(pin.name)) &&
      arcNs(arc, 'max') !== null,
  );
  const setup = check.find(capture.setup);
  const setupNs = setup === undefined ? null : arcNs(setup, 'min');
  const isLost = capture.lostWith === undefined || check.find([capture.lostWith]) !== undefined;
  const lost: Step[] = [];
  const notLost: string[] = [];
  for (const symbol of isLost ? (capture.lost ?? []) : []) {
    const arc = check.find([symbol]);
    const ns = arc === undefined ? null : arcNs(arc, 'max');
    if (arc === undefined || ns === null) notLost.push(`${symbol} of ${processor.name}`);
    else lost.push(check.cpuStep(arc, ns));
  }
  const back = wayBack(check, drivers);
  const groups = new Map<string, Candidate[]>();
  const open: Requirement[] = [];
  if (!moved.some(({ begin }) => begin.length > 0))
    return [check.open(target, 'access', `nothing of ${processor.name} is seen to reach ${target.name} in this cycle`)];
  for (const { pin, begin } of moved) {
    if (begin.length === 0 || toData.some(({ from }) => from.pins.has(pin.name))) continue;
    const isBound = arcs.some(
      ({ arc, from, to }) =>
        arc.kind === 'setup' &&
        from.pins.has(pin.name) &&
        moved.some((other) => other.begin.length > 0 && to.pins.has(other.pin.name)),
    );
    if (!isBound && matters(target, pin))
      open.push(check.open(target, 'access', `access of ${target.name} from ${pin.name}`));
  }
  const reading = (arrival: Arrival, step: Step, way: WayBack): Candidate => {
    const launch = check.launchDelay(arrival.launch, 'max');
    const span = edgeGap(check.edge(arrival.launch.at), check.edge(capture.at), check.context.clock);
    const missing = [
      ...arrival.missing,
      ...way.missing,
      ...notLost,
      ...(launch.missing === undefined ? [] : [launch.missing]),
      ...(setupNs === null ? [`${capture.setup.join(' or ')} of ${processor.name}`] : []),
      ...(span === null ? ['how long the clock is high'] : []),
    ];
    const from = `${processor.name} ${arrival.launch.signal}`;
    const to = `${processor.name} data`;
    if (missing.length > 0) return { from, to, missing, reckonings: [] };
    const steps = [
      ...(launch.step === undefined ? [] : [launch.step]),
      ...arrival.steps,
      step,
      ...way.steps,
      check.cpuStep(setup!, setupNs!),
      ...lost,
    ];
    const gains = check.gains(arrival.launch.at, capture.at);
    return {
      from,
      to,
      missing,
      reckonings: [
        {
          gains,
          start: check.edge(arrival.launch.at),
          available: span!,
          steps,
          ...(way.bit === undefined ? {} : { bit: way.bit }),
        },
      ],
    };
  };
  for (const { arc, from } of toData) {
    const begin = latest(moved.filter(({ pin }) => from.pins.has(pin.name)).flatMap((item) => item.begin));
    if (begin.length === 0) continue;
    const candidates = groups.get(arc.symbol) ?? [];
    groups.set(arc.symbol, candidates);
    for (const arrival of begin)
      candidates.push(reading(arrival, check.partStep(target, arc, arcNs(arc, 'max')!), back));
  }
  // A transceiver on the way has to be switched on and round in time as well.
  for (const through of new Set(drivers.flatMap((item) => item.through ?? []))) {
    const nets = new Set(drivers.filter((item) => item.through === through).map((item) => item.cpuNet));
    const outputs = new Set(
      check
        .pinsOf(through)
        .filter((pin) => nets.has(pin.net))
        .map((pin) => pin.name),
    );
    for (const pin of check.pinsOf(through)) {
      if (pin.kind !== 'input') continue;
      const begin = latest(check.tracer.arrivals(pin.net, 'begin'));
      if (begin.length === 0) continue;
      const found = arcsIn(check.context, through).filter(
        ({ arc, from, to }) =>
          (arc.kind === 'enable' || arc.kind === 'delay') &&
          arcNs(arc, 'max') !== null &&
          from.pins.has(pin.name) &&
          [...to.pins].some((name) => outputs.has(name)),
      );
      if (found.length === 0) {
        open.push(check.open(target, `${through.name} on`, `delay of ${through.name} from ${pin.name} to data`));
        continue;
      }
      const slowest = found.reduce((a, b) => (arcNs(b.arc, 'max')! > arcNs(a.arc, 'max')! ? b : a)).arc;
      const step = check.partStep(through, slowest, arcNs(slowest, 'max')!);
      const key = `${through.name} ${slowest.symbol}`;
      groups.set(key, [
        ...(groups.get(key) ?? []),
        ...begin.map((arrival) => reading(arrival, step, { steps: [], missing: back.missing })),
      ]);
    }
  }
  const rows = [...groups].map(([symbol, candidates]) => check.make(target, symbol, candidates, 'access'));
  rows.push(
    ...check.siblings(
      target,
      target.record.category === 'memory' ? ['access'] : ['access', 'setup', 'hold', 'width'],
      moved,
      dataNames,
    ),
    ...open,
  );
  rows.push(...check.rules(target, moved, strobeOf(check, target)));
  rows.push(...check.strobes(target, moved, new Map()));
  rows.push(...recoveryRows(check, target, moved));
  rows.push(...turnaround(check, target, moved, drivers));
  rows.push(...readHold(check, target, moved, drivers));
  return rows;
}

/** What reads a part: its read strobe, its E, or in an acknowledge the pin that acknowledges. */
function strobeOf(check: BusCycleCheck, target: NetPart): string | undefined {
  const bus = target.record.bus;
  if (check.cycle.space === 'vector') return bus?.signals?.['interrupt-acknowledge'];
  return bus?.style === 'e-clock' ? bus.signals?.e : bus?.signals?.read;
}

/** Pins whose access somebody has to know: addresses, selects and the read strobe of what is read. */
function matters(target: NetPart, pin: NetPin): boolean {
  const bus = target.record.bus;
  if (bus === undefined) return true;
  const named = (text: string | undefined): boolean =>
    text !== undefined &&
    expandPins(target.record, text).some((name) => pinsNamed(target.record, name).some((row) => row.name === pin.name));
  return (
    named(bus.address) ||
    (bus.selects ?? []).some((name) => named(name)) ||
    named(bus.signals?.read) ||
    named(bus.signals?.e) ||
    named(bus.signals?.['interrupt-acknowledge']) ||
    named(bus.signals?.enable) ||
    named(bus.signals?.['output-enable'])
  );
}

/** From the part's data pins to the processor: the load of the data lines and a transceiver between. */
function wayBack(check: BusCycleCheck, drivers: DataSide['pins']): WayBack {
  const { netlist, loadDelay } = check.context;
  let worst: (WayBack & { ns: number }) | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (const { pin, through, cpuNet } of drivers) {
    const load = loadDelay(pin.net, pin);
    const steps: Step[] = load > 0 ? [loadStep(netlist.nets[pin.net]!.name, load)] : [];
    const missing: string[] = [];
    let ns = load;
    if (through !== undefined) {
      const pins = check.pinsOf(through);
      const input = pins.find((item) => item.net === pin.net)!;
      const output = pins.find((item) => item.net === cpuNet)!;
      const arc = arcsIn(check.context, through).find(
        (item) => item.arc.kind === 'delay' && item.from.pins.has(input.name) && item.to.pins.has(output.name),
      );
      const delay = arc === undefined ? null : arcNs(arc.arc, 'max');
      if (arc === undefined || delay === null)
        missing.push(`delay of ${through.name} from ${input.name} to ${output.name}`);
      else {
        ns += delay;
        steps.push(check.partStep(through, arc.arc, delay));
      }
      const far = loadDelay(cpuNet, output);
      if (far > 0) {
        ns += far;
        steps.push(loadStep(netlist.nets[cpuNet]!.name, far));
      }
    }
    least = Math.min(least, ns);
    if (worst === undefined || missing.length > worst.missing.length || ns > worst.ns)
      worst = { ns, steps, missing, bit: netlist.nets[cpuNet]!.name };
  }
  if (worst === undefined) return { steps: [], missing: [] };
  const { steps, missing, bit } = worst;
  return worst.ns > least + 0.05 && bit !== undefined ? { steps, missing, bit } : { steps, missing };
}

/** After a read the part has to be off the lines before anything else drives them. */
function turnaround(
  check: BusCycleCheck,
  target: NetPart,
  moved: readonly { readonly pin: NetPin; readonly end: readonly Arrival[] }[],
  drivers: DataSide['pins'],
): Requirement[] {
  const { processor, clock } = check.context;
  // A hold with a greatest is how long the part may still drive: makers of E-clocked parts print it so.
  const disables = arcsIn(check.context, target).filter(
    ({ arc, to }) =>
      (arc.kind === 'disable' || (arc.kind === 'hold' && arcNs(arc, 'max') !== null)) &&
      drivers.some(({ pin }) => to.pins.has(pin.name)),
  );
  const perPin: Candidate[] = [];
  for (const { pin, end } of moved) {
    const covering = disables.filter(({ arc, from }) => from.pins.has(pin.name) && arcNs(arc, 'max') !== null);
    if (covering.length === 0 || end.length === 0) continue;
    const slowest = covering.reduce((a, b) => (arcNs(b.arc, 'max')! > arcNs(a.arc, 'max')! ? b : a)).arc;
    const definite = end.filter(({ edge }) => edge !== 'valid');
    const each = (definite.length > 0 ? definite : end).map((late): Candidate => {
      const launch = check.launchDelay(late.launch, 'max');
      const span = edgeGap(check.edge(late.launch.at), check.edge(check.cycle.nextDrive), clock);
      const missing = [
        ...late.missing,
        ...(launch.missing === undefined ? [] : [launch.missing]),
        ...(span === null ? ['how long the clock is high'] : []),
      ];
      const steps = [
        ...(launch.step === undefined ? [] : [launch.step]),
        ...late.steps,
        check.partStep(target, slowest, arcNs(slowest, 'max')!),
      ];
      return {
        from: `${processor.name} ${late.launch.signal}`,
        to: 'next on the data lines',
        missing,
        reckonings: missing.length > 0 ? [] : [{ available: span!, steps, start: check.edge(late.launch.at) }],
      };
    });
    perPin.push(definite.length > 0 ? anyOf(each) : (each.find(({ missing }) => missing.length > 0) ?? worst(each)));
  }
  if (perPin.length === 0)
    return [check.open(target, 'turnaround', `time in which ${target.name} lets the data lines go`, 'turnaround')];
  // Any one of its enables going away is enough.
  return [check.make(target, 'turnaround', [anyOf(perPin)], 'turnaround')];
}

/** Data must stay until the processor has taken them: from the first thing that goes away. */
function readHold(
  check: BusCycleCheck,
  target: NetPart,
  moved: readonly { readonly pin: NetPin; readonly end: readonly Arrival[] }[],
  drivers: DataSide['pins'],
): Requirement[] {
  const { capture, readHold } = check.cycle;
  if (readHold === undefined || capture === undefined) return [];
  const arc = check.find(readHold.symbols);
  const ns = arc === undefined ? null : arcNs(arc, 'min');
  if (arc === undefined || ns === null)
    return [
      check.open(
        target,
        'read hold',
        `${readHold.symbols.join(' or ')} of ${check.context.processor.name}`,
        'read hold',
      ),
    ];
  const launch: Launch = check.cycle.end.find((item) => item.signal === readHold.after) ?? {
    signal: 'clock',
    edge: capture.at.phase,
    at: capture.at,
    symbols: [],
  };
  const late: Arrival = { launch, edge: launch.edge, steps: [], max: 0, min: 0, missing: [] };
  const keeping = arcsIn(check.context, target).filter(
    ({ arc: item, to }) =>
      (item.kind === 'disable' || item.kind === 'hold') && drivers.some(({ pin }) => to.pins.has(pin.name)),
  );
  const candidates = keeping.flatMap(({ arc: item, from }) =>
    earliest(moved.filter(({ pin }) => from.pins.has(pin.name)).flatMap(({ end }) => end)).map((early) =>
      check.between(
        late,
        { ...early, min: early.min + Math.max(0, arcNs(item, 'min') ?? 0) },
        [check.cpuStep(arc, ns)],
        `${check.context.processor.name} data`,
      ),
    ),
  );
  return candidates.length === 0 ? [] : [check.make(target, 'read hold', candidates, 'read hold')];
}
