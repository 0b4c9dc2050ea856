// Who makes what: selects go to the decoders named for the bus, `logic` to the unit or device it asks for, else to a gate
// unit that is free, else to a programmable device with a pin to spare, else to several gates in a row.

import { type Formula, foldName, namesOf, parseFormula, printFormula } from '../../base/index.ts';
import type { LogicDecl } from '../../machine/index.ts';
import type { DevicePlan, MapRegion, Origin } from '../model.ts';
import type { Request } from './bus-lines.ts';
import {
  type Context,
  instancesOf,
  meet,
  netName,
  overlap,
  redirect,
  report,
  type Stretch,
  stretchOf,
} from './context.ts';
import { decodedBits, fillDecoder, fixedDecoders, reportUndecodable } from './decoders.ts';
import { addOutput, assignInputs, openProgrammables, outputPin, type Programmable } from './programmable.ts';
import { freeUnits, type GateUnit, isFree, matchUnit, tieSpareUnits, useUnit } from './units.ts';

interface Job extends Stretch {
  readonly net: string;
  readonly formula: Formula;
  readonly origin: Origin;
  readonly decl: LogicDecl | undefined;
  readonly decoders: readonly string[];
  /** The stages for which it has to be made. */
  readonly during: Stretch;
}

interface Shop {
  readonly context: Context;
  readonly units: readonly GateUnit[];
  readonly devices: readonly Programmable[];
}

/** Makes everything that is asked for; returns the plans of decoders and programmable devices. */
export function makeLogic(context: Context, requests: readonly Request[], map: readonly MapRegion[]): DevicePlan[] {
  const devices = openProgrammables(context);
  const plans: DevicePlan[] = [];
  const selects = requests.filter((request) => request.select !== undefined);
  const shop: Shop = { context, units: freeUnits(context), devices };
  const jobs: Job[] = assignSelects(shop, selects, map, plans);
  for (const decl of context.machine.logic) {
    const { formula } = parseFormula(decl.formula.name);
    if (formula === undefined) continue; // The reader has said what is wrong with it.
    jobs.push({
      net: decl.net,
      formula,
      decl,
      decoders: [],
      origin: { by: 'logic', span: decl.span, text: `logic ${decl.net}: ${decl.formula.name}` },
      during: stretchOf(context, decl.lifetime),
      ...stretchOf(context, decl.lifetime),
    });
  }
  for (const request of requests) {
    if (request.select !== undefined) continue;
    const { formula } = parseFormula(request.formula);
    if (formula !== undefined)
      jobs.push({
        net: request.net,
        formula,
        decl: undefined,
        decoders: request.decoders,
        origin: request.origin,
        during: request.during,
        stage: request.stage,
        until: request.until,
      });
  }
  // What asks for a certain place goes first.
  for (const job of [
    ...jobs.filter((job) => job.decl?.in !== undefined),
    ...jobs.filter((job) => job.decl?.in === undefined),
  ])
    makeJob(shop, job);
  for (const device of devices) plans.push(assignInputs(context, device));
  tieSpareUnits(context);
  return plans;
}

/** Gives selects to decoders; returns what gates have to add where a decoder looks at the address alone. */
function assignSelects(shop: Shop, selects: readonly Request[], map: readonly MapRegion[], plans: DevicePlan[]): Job[] {
  const { context, devices } = shop;
  const groups = new Map<string, Request[]>();
  const { plain, jobs } = partStrobes(shop, selects);
  for (const request of plain) {
    const named = request.decoders.map((name) =>
      devices.filter(({ instance }) => foldName(instance.name) === foldName(name) && overlap(instance, request.during)),
    );
    // A device that is exchanged for another under its name is programmed anew: each one makes it while it is in.
    const fits = named
      .filter((list) => list.length > 0)
      .map((list) => ({
        list,
        fit: list.flatMap((device) => {
          const row = outputPin(device, request.net, request.during);
          return row === undefined ? [] : [{ device, row }];
        }),
      }));
    // The first with an output left.
    const programmable = fits.find(({ list, fit }) => fit.length === list.length) ?? fits[0];
    if (programmable !== undefined) {
      const { fit, list } = programmable;
      if (fit.length < list.length) {
        const { instance } = list[0]!;
        report(
          context,
          'netlist/device-outputs-short',
          'error',
          `${instance.name} has no output left for ${request.net}.`,
          request.origin.span,
          {
            help: 'Name a second decoder under `selects`, or a larger device.',
            about: [instance.name, request.net],
          },
        );
        continue;
      }
      for (const { device, row } of fit)
        addOutput(
          context,
          device,
          row,
          {
            net: request.net,
            formula: undefined,
            select: request.select,
            clock: undefined,
            enable: undefined,
            reset: undefined,
            preset: undefined,
            stage: request.stage,
            until: request.until,
            origin: request.origin,
          },
          request.during,
        );
      continue;
    }
    if (request.decoders.length === 0) {
      makeWithoutDecoder(context, request);
      continue;
    }
    const key = groupKey(request);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [request]);
    else group.push(request);
  }
  const taken = new Map<string, Stretch[]>();
  for (const group of groups.values()) {
    const space = group[0]!.select!.regions[0]!.space;
    const instances = group[0]!.decoders.flatMap((name) => instancesOf(context, name));
    if (instances.length === 0) continue; // The reader has reported the unknown part.
    let why = 'it is no decoder by its record, or its pins are wired by hand';
    const decoders = instances.flatMap((instance) => fixedDecoders(context, instance));
    const regionsIn = (stretch: Stretch): MapRegion[] =>
      map.filter((region) => region.space === space && overlap(region, stretch));
    // A decoder that makes more selects in other stages is wired alike now, so that little of it changes then.
    const larger = [...groups.values()].find(
      (other) =>
        other.length > group.length &&
        other[0]!.decoders.join(' ') === group[0]!.decoders.join(' ') &&
        other[0]!.select!.regions[0]!.space === space &&
        !overlap(other[0]!.during, group[0]!.during),
    );
    /** Makes the group in a decoder for as many of these stages as that is in; returns the stages left. */
    const fill = (during: Stretch): Stretch | undefined => {
      for (const decoder of decoders) {
        const common = meet(decoder.instance, during);
        const before = taken.get(decoder.name) ?? [];
        if (common === undefined || before.some((stretch) => overlap(stretch, common))) continue;
        const plan = fillDecoder(
          context,
          decoder,
          group,
          regionsIn(common),
          common,
          larger === undefined ? undefined : decodedBits(decoder, larger, regionsIn(larger[0]!.during)),
        );
        if (typeof plan === 'string') {
          why = plan;
          continue;
        }
        plans.push(plan);
        taken.set(decoder.name, [...before, common]);
        return later(during, decoder.instance);
      }
      reportUndecodable(context, instances[0]!, group, why);
      return undefined;
    };
    for (let left: Stretch | undefined = group[0]!.during; left !== undefined; ) left = fill(left);
  }
  return jobs;
}

/** Selects that one fixed decoder can make together: of one space, under one condition, at one time. */
function groupKey(request: Request): string {
  const { stage, until } = request.during;
  const { regions, when } = request.select!;
  return [request.decoders.join(' '), regions[0]!.space, when, stage, until].join('|');
}

/**
 * Where fixed decoders are too few for one to be enabled by each strobe, the strobe is taken out of the selects: the decoder
 * makes the address part, a gate joins the two.
 */
function partStrobes(shop: Shop, selects: readonly Request[]): { plain: Request[]; jobs: Job[] } {
  const { context, devices } = shop;
  const jobs: Job[] = [];
  const isShort = (request: Request): boolean => {
    const instances = request.decoders.flatMap((name) => instancesOf(context, name, request.during));
    if (instances.length === 0 || instances.some((one) => devices.some((device) => device.instance === one)))
      return false;
    const rivals = selects.filter(
      (other) => other.decoders.join(' ') === request.decoders.join(' ') && overlap(other.during, request.during),
    );
    const decoders = new Set(instances.flatMap((one) => fixedDecoders(context, one).map((decoder) => decoder.name)));
    return new Set(rivals.map(groupKey)).size > decoders.size;
  };
  const plain = selects.map((request): Request => {
    const { select, strobe } = request;
    if (select === undefined || strobe === undefined || !isShort(request)) return request;
    const net = netName(context, `/${request.net.replace(/^\//, '')}-address`);
    const { formula } = parseFormula(select.activeLow ? `${net} | ${strobe.net}` : `~${net} & ~${strobe.net}`);
    if (formula !== undefined)
      jobs.push({
        net: request.net,
        formula,
        decl: undefined,
        decoders: [],
        origin: request.origin,
        during: request.during,
        stage: request.stage,
        until: request.until,
      });
    return { ...request, net, select: { ...select, activeLow: true, when: strobe.rest } };
  });
  return { plain, jobs };
}

/** The stages of `during` after a part has gone. */
function later(during: Stretch, instance: Stretch): Stretch | undefined {
  if (instance.until === undefined || (during.until !== undefined && during.until <= instance.until)) return undefined;
  return { stage: instance.until, until: during.until };
}

/** A select whose condition is a single existing line needs no decoder; anything else without one is reported. */
function makeWithoutDecoder(context: Context, request: Request): void {
  const { select } = request;
  const whole = select!.regions.some((region) => region.at === 0 && region.bytes >= 2 ** select!.address.length);
  const single = /^\(?~([^\s&|^()]+)\)?$/.exec(select!.when);
  if (whole && select!.activeLow && (single !== null || select!.when === '')) {
    const source = single === null ? 'GND' : single[1]!;
    redirect(context, request.net, netName(context, source), `it fills the space, so ${source} selects it`);
    return;
  }
  report(
    context,
    'netlist/no-decoder',
    'error',
    `Nothing makes ${request.net}, the select of ${select!.part}.`,
    request.origin.span,
    {
      help: 'Name a decoder: `selects: PART` under the bus, a 74138 or a programmable device among the parts.',
      about: [select!.part, request.net],
    },
  );
}

/** Makes a net, anew where what makes it is taken out or exchanged. */
function makeJob(shop: Shop, job: Job): void {
  for (let left: Stretch | undefined = job.during; left !== undefined; ) {
    const maker = makePiece(shop, { ...job, during: left });
    // A net that loses its maker is found by the checks if anything still listens to it.
    if (maker === undefined) {
      if (left === job.during) reportUnmade(shop.context, job);
      return;
    }
    left = later(left, maker);
  }
}

/** Makes a net for stages that begin with those of `job.during`; returns the stages of what makes it. */
function makePiece(shop: Shop, job: Job): Stretch | undefined {
  const { context } = shop;
  const { decl } = job;
  const sequential =
    decl?.clock !== undefined || decl?.enable !== undefined || decl?.reset !== undefined || decl?.preset !== undefined;
  const devices = shop.devices.filter((device) => overlap(device.instance, job.during));
  const units = shop.units.filter((unit) => isFree(unit, job.during));
  const inDevice = (device: Programmable, pin?: string): Stretch | undefined => {
    const row = outputPin(device, job.net, job.during, pin);
    if (row === undefined) return undefined;
    addOutput(
      context,
      device,
      row,
      {
        net: job.net,
        formula: printFormula(job.formula),
        select: undefined,
        clock: decl?.clock?.name,
        enable: decl?.enable?.name,
        reset: decl?.reset?.name,
        preset: decl?.preset?.name,
        stage: job.stage,
        until: job.until,
        origin: job.origin,
      },
      job.during,
    );
    return device.instance;
  };
  if (decl?.in !== undefined) {
    const wanted = foldName(decl.in.part.name);
    const named = devices.filter((candidate) => foldName(candidate.instance.name) === wanted);
    const made = named[0] === undefined ? undefined : inDevice(named[0], decl.in.pin?.name);
    if (made !== undefined || sequential) return made;
    const own = units.filter(
      (unit) =>
        foldName(unit.instance.name) === wanted &&
        (decl.in?.unit === undefined || foldName(unit.name) === foldName(decl.in.unit.name)),
    );
    return inUnits(context, own, job.net, job.formula, job);
  }
  const preferred = devices.filter((device) =>
    job.decoders.some((name) => foldName(name) === foldName(device.instance.name)),
  );
  const first = (list: readonly Programmable[]): Stretch | undefined => {
    for (const device of list) {
      const made = inDevice(device);
      if (made !== undefined) return made;
    }
    return undefined;
  };
  return (
    first(preferred) ??
    (sequential ? undefined : singleUnit(context, units, job.net, job.formula, job)) ??
    first(devices) ??
    (sequential ? undefined : inUnits(context, units, job.net, job.formula, job))
  );
}

function reportUnmade(context: Context, job: Job): void {
  const { decl } = job;
  const span = job.origin.span;
  if (decl?.in !== undefined) {
    report(
      context,
      'netlist/logic-place-unfit',
      'error',
      `${job.net} can't be made in ${decl.in.part.name}${decl.in.unit === undefined ? '' : ` unit ${decl.in.unit.name}`}${decl.in.pin === undefined ? '' : ` pin ${decl.in.pin.name}`}.`,
      span,
      {
        help: 'The unit is in use or makes another function. Choose another one, or leave `in` out and let one be found.',
        about: [job.net],
      },
    );
    return;
  }
  const inputs = namesOf(job.formula).length;
  report(context, 'netlist/no-unit-free', 'error', `No gate or device pin is free to make ${job.net}.`, span, {
    notes: [{ text: `It is ${printFormula(job.formula)}, a function of ${inputs} net${inputs === 1 ? '' : 's'}.` }],
    help:
      inputs === 1
        ? 'Add an inverter package such as a 74HCT04 to the parts.'
        : 'Add a package of such gates, or a programmable device, to the parts.',
    about: [job.net],
  });
}

/** Makes a formula in one unit of those given; returns the stages of its part. */
function singleUnit(
  context: Context,
  units: readonly GateUnit[],
  net: string,
  formula: Formula,
  job: Job,
): Stretch | undefined {
  for (const exact of [true, false]) {
    for (const unit of units) {
      if (exact && unit.inputs.length !== namesOf(formula).length) continue;
      const match = matchUnit(unit, formula);
      if (match === undefined) continue;
      useUnit(context, match, net, job.during, job.origin.text, job.origin.span);
      return unit.instance;
    }
  }
  return undefined;
}

/**
 * Makes a formula of several units, inner results in nets of their own; uses nothing when it can't be done. Returns the
 * stages in which all of their parts are in.
 */
function inUnits(
  context: Context,
  units: readonly GateUnit[],
  net: string,
  formula: Formula,
  job: Job,
): Stretch | undefined {
  const uses: { unit: GateUnit; formula: Formula; net: string }[] = [];
  let inner = 0;
  const plan = (target: string, wanted: Formula): boolean => {
    for (const exact of [true, false]) {
      for (const unit of units) {
        if (uses.some((use) => use.unit === unit) || (exact && unit.inputs.length !== namesOf(wanted).length)) continue;
        if (matchUnit(unit, wanted) === undefined) continue;
        uses.push({ unit, formula: wanted, net: target });
        return true;
      }
    }
    const innerNet = (term: Formula): Formula | undefined => {
      if (term.kind === 'name') return term;
      const name = `${net}-${++inner}`;
      return plan(name, term) ? { kind: 'name', name, start: 0, end: 0 } : undefined;
    };
    if (wanted.kind === 'not') {
      const term = innerNet(wanted.term);
      return term !== undefined && wanted.term.kind !== 'name' && plan(target, { kind: 'not', term });
    }
    if (wanted.kind === 'name' || wanted.kind === 'constant') return false;
    const { terms } = wanted;
    if (terms.length > 2) {
      const front = innerNet({ kind: wanted.kind, terms: terms.slice(0, -1) });
      return front !== undefined && plan(target, { kind: wanted.kind, terms: [front, terms[terms.length - 1]!] });
    }
    if (terms.every((term) => term.kind === 'name')) return false;
    const simple: Formula[] = [];
    for (const term of terms) {
      const made = innerNet(term);
      if (made === undefined) return false;
      simple.push(made);
    }
    return plan(target, { kind: wanted.kind, terms: simple });
  };
  if (!plan(net, formula)) return undefined;
  for (const use of uses) {
    const match = matchUnit(use.unit, use.formula);
    if (match !== undefined) useUnit(context, match, use.net, job.during, job.origin.text, job.origin.span);
  }
  const whole: Stretch = { stage: 1, until: undefined };
  return uses.reduce((all, use) => meet(all, use.unit.instance) ?? all, whole);
}
