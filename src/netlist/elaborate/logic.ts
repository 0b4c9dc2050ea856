// Who makes what: selects go to the decoders named for the bus, `logic` to the unit or device it asks for, else to a gate
// unit that is free, else to a programmable device with a pin to spare, else to several gates in a row.

import { type Formula, foldName, namesOf, parseFormula, printFormula } from '../../base/index.ts';
import type { DevicePlan, MapRegion } from '../model.ts';
import { assignSelects, type Job, later } from './assign-selects.ts';
import type { Request } from './bus-lines.ts';
import { type Context, meet, overlap, report, type Stretch, stretchOf } from './context.ts';
import {
  addOutput,
  assignInputs,
  hasInputsFor,
  openProgrammables,
  outputPin,
  type Programmable,
} from './programmable.ts';
import { freeUnits, type GateUnit, isFree, matchUnit, tieSpareUnits, useUnit } from './units.ts';

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
  const jobs: Job[] = assignSelects(context, devices, selects, map, plans);
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
        ...(request.clock === undefined ? {} : { clock: request.clock }),
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
    (decl?.clock ?? job.clock) !== undefined ||
    decl?.enable !== undefined ||
    decl?.reset !== undefined ||
    decl?.preset !== undefined;
  const devices = shop.devices.filter((device) => overlap(device.instance, job.during));
  const units = shop.units.filter((unit) => isFree(unit, job.during));
  const output = {
    net: job.net,
    formula: printFormula(job.formula),
    select: undefined,
    clock: decl?.clock?.name ?? job.clock,
    enable: decl?.enable?.name,
    reset: decl?.reset?.name,
    preset: decl?.preset?.name,
    stage: job.stage,
    until: job.until,
    origin: job.origin,
  };
  const inDevice = (device: Programmable, pin?: string, hasToFit = false): Stretch | undefined => {
    const row = outputPin(device, job.net, job.during, pin);
    if (row === undefined) return undefined;
    if (hasToFit && !hasInputsFor(context, device, row, output, job.during)) return undefined;
    addOutput(context, device, row, output, job.during);
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
    // Where there are several, one with pins for what it would have to look at.
    for (const hasToFit of list.length > 1 ? [true, false] : [false])
      for (const device of list) {
        const made = inDevice(device, undefined, hasToFit);
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

/** How many gates may stand in a row. */
const DEEPEST = 6;

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
  /** One way after the other; what a way that fails has used is given back. */
  const first = (...ways: (() => boolean)[]): boolean => {
    for (const way of ways) {
      const [used, made] = [uses.length, inner];
      if (way()) return true;
      uses.length = used;
      inner = made;
    }
    return false;
  };
  const single = (target: string, wanted: Formula): boolean => {
    for (const exact of [true, false]) {
      for (const unit of units) {
        if (uses.some((use) => use.unit === unit) || (exact && unit.inputs.length !== namesOf(wanted).length)) continue;
        if (matchUnit(unit, wanted) === undefined) continue;
        uses.push({ unit, formula: wanted, net: target });
        return true;
      }
    }
    return false;
  };
  const innerNet = (term: Formula, depth: number): Formula | undefined => {
    if (term.kind === 'name') return term;
    const name = `${net}-${++inner}`;
    return plan(name, term, depth + 1) ? { kind: 'name', name, start: 0, end: 0 } : undefined;
  };
  /** The formula with its terms made in nets of their own. */
  const simplified = (wanted: Formula, depth: number): Formula | undefined => {
    if (wanted.kind === 'name' || wanted.kind === 'constant' || wanted.kind === 'not') return undefined;
    if (wanted.terms.every((term) => term.kind === 'name')) return undefined;
    const terms: Formula[] = [];
    for (const term of wanted.terms) {
      const made = innerNet(term, depth);
      if (made === undefined) return undefined;
      terms.push(made);
    }
    return { kind: wanted.kind, terms };
  };
  const plan = (target: string, wanted: Formula, depth: number): boolean => {
    if (single(target, wanted)) return true;
    if (depth > DEEPEST || wanted.kind === 'name' || wanted.kind === 'constant') return false;
    if (wanted.kind === 'not') {
      const { term } = wanted;
      return first(
        () => {
          const simple = simplified(term, depth);
          return simple !== undefined && single(target, { kind: 'not', term: simple });
        },
        () => {
          const made = term.kind === 'name' ? undefined : innerNet(term, depth);
          return made !== undefined && plan(target, { kind: 'not', term: made }, depth + 1);
        },
      );
    }
    const { kind, terms } = wanted;
    return first(
      () => {
        if (terms.length <= 2) return false;
        const front = innerNet({ kind, terms: terms.slice(0, -1) }, depth);
        return front !== undefined && plan(target, { kind, terms: [front, terms[terms.length - 1]!] }, depth + 1);
      },
      () => {
        const simple = simplified(wanted, depth);
        return simple !== undefined && plan(target, simple, depth + 1);
      },
      () => {
        // The other polarity and an inverter.
        const made = innerNet({ kind: 'not', term: wanted }, DEEPEST);
        return made !== undefined && single(target, { kind: 'not', term: made });
      },
    );
  };
  if (!plan(net, formula, 0)) return undefined;
  for (const use of uses) {
    const match = matchUnit(use.unit, use.formula);
    if (match !== undefined) useUnit(context, match, use.net, job.during, job.origin.text, job.origin.span);
  }
  const whole: Stretch = { stage: 1, until: undefined };
  return uses.reduce((all, use) => meet(all, use.unit.instance) ?? all, whole);
}
