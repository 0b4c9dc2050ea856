// Who makes what: selects go to the decoders named for the bus, `logic` to the unit or device it asks for, else to a gate
// unit that is free, else to a programmable device with a pin to spare, else to several gates in a row.

import { type Formula, foldName, namesOf, parseFormula, printFormula } from '../../base/index.ts';
import type { LogicDecl } from '../../machine/index.ts';
import type { DevicePlan, MapRegion, Origin } from '../model.ts';
import type { Request } from './bus.ts';
import { type Context, instancesOf, netName, redirect, report, type Stretch, stretchOf } from './context.ts';
import { fillDecoder, fixedDecoders, reportUndecodable } from './decoders.ts';
import { addOutput, assignInputs, openProgrammables, outputPin, type Programmable } from './programmable.ts';
import { freeUnits, type GateUnit, matchUnit, tieSpareUnits, useUnit } from './units.ts';

interface Job extends Stretch {
  readonly net: string;
  readonly formula: Formula;
  readonly origin: Origin;
  readonly decl: LogicDecl | undefined;
  readonly decoders: readonly string[];
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
  assignSelects(shop, selects, map, plans);
  const jobs: Job[] = [];
  for (const decl of context.machine.logic) {
    const { formula } = parseFormula(decl.formula.name);
    if (formula === undefined) continue; // The reader has said what is wrong with it.
    jobs.push({
      net: decl.net,
      formula,
      decl,
      decoders: [],
      origin: { by: 'logic', span: decl.span, text: `logic ${decl.net}: ${decl.formula.name}` },
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

function assignSelects(shop: Shop, selects: readonly Request[], map: readonly MapRegion[], plans: DevicePlan[]): void {
  const { context, devices } = shop;
  const groups = new Map<string, Request[]>();
  for (const request of selects) {
    const named = request.decoders.flatMap((name) =>
      devices.filter((candidate) => foldName(candidate.instance.name) === foldName(name)),
    );
    // The first with an output left.
    const device = named.find((candidate) => outputPin(candidate, request.net) !== undefined) ?? named[0];
    if (device !== undefined) {
      const row = outputPin(device, request.net);
      if (row === undefined) {
        report(
          context,
          'netlist/device-outputs-short',
          'error',
          `${device.instance.name} has no output left for ${request.net}.`,
          request.origin.span,
          {
            help: 'Name a second decoder under `selects`, or a larger device.',
            about: [device.instance.name, request.net],
          },
        );
        continue;
      }
      addOutput(context, device, row, {
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
      });
      continue;
    }
    if (request.decoders.length === 0) {
      makeWithoutDecoder(context, request);
      continue;
    }
    const key = [request.decoders.join(' '), request.select!.regions[0]!.space, request.select!.when].join('|');
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [request]);
    else group.push(request);
  }
  const taken = new Set<string>();
  for (const group of groups.values()) {
    const space = group[0]!.select!.regions[0]!.space;
    const instances = group[0]!.decoders.flatMap((name) => instancesOf(context, name));
    if (instances.length === 0) continue; // The reader has reported the unknown part.
    let why = 'it is no decoder by its record, or its pins are wired by hand';
    const fitting = instances
      .flatMap((instance) => fixedDecoders(context, instance))
      .filter((decoder) => !taken.has(decoder.name))
      .find((decoder) => {
        const plan = fillDecoder(
          context,
          decoder,
          group,
          map.filter((region) => region.space === space),
        );
        if (typeof plan === 'string') {
          why = plan;
          return false;
        }
        plans.push(plan);
        taken.add(decoder.name);
        return true;
      });
    if (fitting === undefined) reportUndecodable(context, instances[0]!, group, why);
  }
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

function makeJob(shop: Shop, job: Job): void {
  const { context } = shop;
  const { decl } = job;
  const span = job.origin.span;
  const sequential =
    decl?.clock !== undefined || decl?.enable !== undefined || decl?.reset !== undefined || decl?.preset !== undefined;
  const inDevice = (device: Programmable, pin?: string): boolean => {
    const row = outputPin(device, job.net, pin);
    if (row === undefined) return false;
    addOutput(context, device, row, {
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
    });
    return true;
  };
  if (decl?.in !== undefined) {
    const wanted = foldName(decl.in.part.name);
    const device = shop.devices.find((candidate) => foldName(candidate.instance.name) === wanted);
    if (device !== undefined && inDevice(device, decl.in.pin?.name)) return;
    const units = shop.units.filter(
      (unit) =>
        foldName(unit.instance.name) === wanted &&
        (decl.in?.unit === undefined || foldName(unit.name) === foldName(decl.in.unit.name)),
    );
    if (!sequential && inUnits(context, units, job.net, job.formula, job)) return;
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
  const preferred = shop.devices.filter((device) =>
    job.decoders.some((name) => foldName(name) === foldName(device.instance.name)),
  );
  for (const device of preferred) if (inDevice(device)) return;
  if (!sequential && singleUnit(context, shop.units, job.net, job.formula, job)) return;
  for (const device of shop.devices) if (inDevice(device)) return;
  if (!sequential && inUnits(context, shop.units, job.net, job.formula, job)) return;
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

function singleUnit(context: Context, units: readonly GateUnit[], net: string, formula: Formula, job: Job): boolean {
  for (const exact of [true, false]) {
    for (const unit of units) {
      if (unit.used || (exact && unit.inputs.length !== namesOf(formula).length)) continue;
      const match = matchUnit(unit, formula);
      if (match === undefined) continue;
      useUnit(context, match, net, job.origin.text, job.origin.span);
      return true;
    }
  }
  return false;
}

/** Makes a formula of several units, inner results in nets of their own; uses nothing when it can't be done. */
function inUnits(context: Context, units: readonly GateUnit[], net: string, formula: Formula, job: Job): boolean {
  const uses: { unit: GateUnit; formula: Formula; net: string }[] = [];
  let inner = 0;
  const plan = (target: string, wanted: Formula): boolean => {
    for (const exact of [true, false]) {
      for (const unit of units) {
        if (
          unit.used ||
          uses.some((use) => use.unit === unit) ||
          (exact && unit.inputs.length !== namesOf(wanted).length)
        )
          continue;
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
  if (!plan(net, formula)) return false;
  for (const use of uses) {
    const match = matchUnit(use.unit, use.formula);
    if (match !== undefined) useUnit(context, match, use.net, job.origin.text, job.origin.span);
  }
  return true;
}
