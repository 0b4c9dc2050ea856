// What a bus asks for between and beside the transfers themselves: the rest that a peripheral wants between two strobes, the
// set-up of a wait or ready input, and in writes that a transceiver is switched round in time.

import type { NetPart, NetPin } from '../../netlist/index.ts';
import { nsPerUnit } from '../model.ts';
import { latest } from './candidates.ts';
import { edgeGap } from './clock-model.ts';
import type { BusCycleCheck } from './cycle-check.ts';
import type { Launch } from './cycle.ts';
import type { Candidate, Requirement } from './row.ts';
import { type Arrival, arcNs, arcsIn, signalPins } from './trace.ts';

type Moved = readonly {
  readonly pin: NetPin;
  readonly begin: readonly Arrival[];
  readonly end: readonly Arrival[];
}[];

/**
 * Recovery: from a strobe's end to its next beginning, when the processor comes back as soon as it can: in the next cycle of its
 * kind, or after a fetch where every such transfer is an instruction of its own.
 */
export function recoveryRows(check: BusCycleCheck, target: NetPart, moved: Moved): Requirement[] {
  const { cycle } = check;
  const rows: Requirement[] = [];
  for (const { arc, from, to } of arcsIn(check.context, target)) {
    if (arc.kind !== 'recovery' || from.edge === undefined || to.edge === undefined) continue;
    const strobes = moved.filter(({ pin }) => from.pins.has(pin.name) && to.pins.has(pin.name));
    if (strobes.length === 0) continue;
    const ns = arcNs(arc, 'min');
    if (ns === null) {
      const given = nsPerUnit(arc) === undefined ? `, which is given in ${arc.unit}` : '';
      rows.push(check.open(target, arc.symbol, `${arc.symbol} of ${target.name} in ns${given}`));
      continue;
    }
    const later = (launch: Launch): Launch => ({
      ...launch,
      at: { n: launch.at.n + cycle.length + (cycle.apart ?? 0), phase: launch.at.phase },
    });
    const candidates: Candidate[] = [];
    for (const { pin, begin, end } of strobes)
      for (const late of end.filter(({ edge }) => edge === from.edge))
        for (const early of begin.filter(({ edge }) => edge === to.edge))
          candidates.push(
            check.between(
              late,
              { ...early, launch: later(early.launch) },
              [check.partStep(target, arc, ns)],
              `${target.name}.${pin.name} again`,
            ),
          );
    if (candidates.length > 0) rows.push(check.make(target, arc.symbol, candidates));
  }
  return rows;
}

/**
 * The set-up of the wait or ready input at the edge that looks at it: only where something moves it in this cycle. A clock
 * generator that takes the request in at its own input is asked for that input's set-up.
 */
export function waitRows(check: BusCycleCheck): Requirement[] {
  const { wait } = check.cycle;
  if (wait === undefined) return [];
  const { processor, netlist } = check.context;
  const names = new Set(signalPins(processor, wait.signal));
  const own = check.pinsOf(processor).find((pin) => names.has(pin.name) && pin.net >= 0);
  if (own === undefined) return [];
  const generator = netlist.parts.find(
    (part) =>
      part.record.bus?.role === 'clock-generator' &&
      check.pinsOf(part).some((pin) => pin.net === own.net && pin.kind === 'output'),
  );
  const asked = generator ?? processor;
  const inputs = new Set(generator === undefined ? [own.name] : signalPins(generator, 'ready-in'));
  const rows: Requirement[] = [];
  for (const pin of check.pinsOf(asked)) {
    if (!inputs.has(pin.name) || pin.net < 0) continue;
    const arrivals = latest(check.tracer.arrivals(pin.net, 'begin'));
    if (arrivals.length === 0) continue;
    const arc = arcsIn(check.context, asked).find(
      (item) =>
        item.arc.kind === 'setup' &&
        item.from.pins.has(pin.name) &&
        arcNs(item.arc, 'min') !== null &&
        item.to.edge !== undefined,
    );
    if (arc === undefined) {
      rows.push(check.open(asked, 'wait set-up', `set-up of ${pin.name} of ${asked.name}`));
      continue;
    }
    const edge = generator === undefined ? wait.at : (wait.atGenerator ?? wait.at);
    const candidates = arrivals.map((arrival): Candidate => {
      const launch = check.launchDelay(arrival.launch, 'max');
      // Waits that are there already do not move the edge that asks for more.
      const span = edgeGap(arrival.launch.at, edge, check.context.clock);
      const missing = [
        ...arrival.missing,
        ...(launch.missing === undefined ? [] : [launch.missing]),
        ...(span === null ? ['how long the clock is high'] : []),
      ];
      return {
        from: `${processor.name} ${arrival.launch.signal}`,
        to: `${asked.name}.${pin.name}`,
        missing,
        reckonings:
          missing.length > 0
            ? []
            : [
                {
                  available: span!,
                  start: arrival.launch.at,
                  steps: [
                    ...(launch.step === undefined ? [] : [launch.step]),
                    ...arrival.steps,
                    check.partStep(asked, arc.arc, arcNs(arc.arc, 'min')!),
                  ],
                },
              ],
      };
    });
    rows.push(check.make(asked, 'wait set-up', candidates));
  }
  return rows;
}

/** In a write a transceiver on the way has to be switched on and round before the part's own set-up begins. */
export function switchRows(
  check: BusCycleCheck,
  target: NetPart,
  moved: Moved,
  listeners: readonly { readonly pin: NetPin; readonly through: NetPart | undefined }[],
): Requirement[] {
  const rows: Requirement[] = [];
  for (const through of new Set(listeners.flatMap((item) => item.through ?? []))) {
    const own = listeners.filter((item) => item.through === through).map((item) => item.pin);
    const nets = new Set(own.map((pin) => pin.net));
    const outputs = new Set(
      check
        .pinsOf(through)
        .filter((pin) => nets.has(pin.net))
        .map((pin) => pin.name),
    );
    const setups = arcsIn(check.context, target).filter(
      ({ arc, from, to }) =>
        arc.kind === 'setup' &&
        to.edge !== undefined &&
        arcNs(arc, 'min') !== null &&
        own.some((pin) => from.pins.has(pin.name)),
    );
    const candidates: Candidate[] = [];
    for (const input of check.pinsOf(through)) {
      if (input.kind !== 'input' || input.net < 0) continue;
      const begin = latest(check.tracer.arrivals(input.net, 'begin'));
      if (begin.length === 0) continue;
      const found = arcsIn(check.context, through).filter(
        ({ arc, from, to }) =>
          (arc.kind === 'enable' || arc.kind === 'delay') &&
          arcNs(arc, 'max') !== null &&
          from.pins.has(input.name) &&
          [...to.pins].some((name) => outputs.has(name)),
      );
      if (found.length === 0) {
        rows.push(check.open(target, `${through.name} on`, `delay of ${through.name} from ${input.name} to data`));
        continue;
      }
      const slowest = found.reduce((a, b) => (arcNs(b.arc, 'max')! > arcNs(a.arc, 'max')! ? b : a)).arc;
      const on = check.partStep(through, slowest, arcNs(slowest, 'max')!);
      for (const { arc, to } of setups)
        for (const { pin, end } of moved)
          for (const early of to.pins.has(pin.name) ? end.filter(({ edge }) => edge === to.edge) : [])
            for (const arrival of begin)
              candidates.push(
                check.between(
                  { ...arrival, steps: [...arrival.steps, on], max: arrival.max + arcNs(slowest, 'max')! },
                  early,
                  [check.partStep(target, arc, arcNs(arc, 'min')!)],
                  `${target.name}.${pin.name}`,
                ),
              );
    }
    if (candidates.length > 0) rows.push(check.make(target, `${through.name} on`, candidates));
  }
  return rows;
}
