// Who makes the selects: a programmable device named for the bus, else the fixed decoders named for it, alone or sharing the
// regions between them, else nobody, where a line that is there already selects.

import { type Formula, foldName, parseFormula } from '../../base/index.ts';
import type { LogicDecl } from '../../machine/index.ts';
import type { DevicePlan, MapRegion, Origin } from '../model.ts';
import type { Request } from './bus-lines.ts';
import { type Context, instancesOf, meet, netName, overlap, redirect, report, type Stretch } from './context.ts';
import {
  bitsFor,
  type FixedDecoder,
  fillDecoder,
  fixedDecoders,
  regionCondition,
  reportUndecodable,
} from './decoders.ts';
import { addOutput, hasInputsFor, outputPin, type Programmable } from './programmable.ts';

/** A net to be made by a unit or a device. */
export interface Job extends Stretch {
  readonly net: string;
  readonly formula: Formula;
  readonly origin: Origin;
  readonly decl: LogicDecl | undefined;
  readonly decoders: readonly string[];
  /** The clock of a register that is not stated under `logic`. */
  readonly clock?: string;
  /** The stages for which it has to be made. */
  readonly during: Stretch;
}

/** The stages of `during` after a part has gone, or undefined. */
export function later(during: Stretch, instance: Stretch): Stretch | undefined {
  if (instance.until === undefined || (during.until !== undefined && during.until <= instance.until)) return undefined;
  return { stage: instance.until, until: during.until };
}

/** Gives selects to decoders; returns what gates have to add where a decoder looks at the address alone. */
export function assignSelects(
  context: Context,
  devices: readonly Programmable[],
  selects: readonly Request[],
  map: readonly MapRegion[],
  plans: DevicePlan[],
): Job[] {
  const jobs: Job[] = [];
  const families = new Map<string, Request[]>();
  for (const request of selects) {
    if (inProgrammable(context, devices, request)) continue;
    if (request.decoders.length === 0) {
      makeWithoutDecoder(context, request);
      continue;
    }
    const key = request.decoders.join(' ');
    const family = families.get(key);
    if (family === undefined) families.set(key, [request]);
    else family.push(request);
  }
  for (const family of families.values()) {
    const instances = family[0]!.decoders.flatMap((name) => instancesOf(context, name));
    if (instances.length === 0) continue; // The reader has reported the unknown part.
    const slots = slotsOf(instances.flatMap((instance) => fixedDecoders(context, instance)));
    const whole = planGroups(family, slots, map);
    const parted = whole.failures.length === 0 ? undefined : partStrobes(context, family);
    const plain = parted === undefined ? undefined : planGroups(parted.plain, slots, map);
    const isBetter = plain !== undefined && plain.failures.length === 0;
    const chosen = isBetter ? plain : whole;
    if (isBetter) jobs.push(...parted!.jobs);
    for (const { group, why } of chosen.failures) reportUndecodable(context, instances[0]!, group, why);
    for (const share of chosen.shares) plans.push(...fillShare(context, share, map));
  }
  return jobs;
}

/** Gives a select to the programmable device that is named for it. False where none is. */
function inProgrammable(context: Context, devices: readonly Programmable[], request: Request): boolean {
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
  const output = {
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
  };
  // The first with an output left, and pins for what it would have to look at.
  const whole = fits.filter(({ list, fit }) => fit.length === list.length);
  const programmable =
    whole.find(({ fit }) =>
      fit.every(({ device, row }) => hasInputsFor(context, device, row, output, request.during)),
    ) ??
    whole[0] ??
    fits[0];
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
      return true;
    }
    for (const { device, row } of fit) addOutput(context, device, row, output, request.during);
    return true;
  }
  return false;
}

/** A decoder over the stages; of one that is exchanged there are several, one after the other. */
interface Slot {
  readonly name: string;
  readonly decoders: readonly FixedDecoder[];
}

function slotsOf(decoders: readonly FixedDecoder[]): Slot[] {
  const slots = new Map<string, FixedDecoder[]>();
  for (const decoder of decoders) {
    const list = slots.get(decoder.name);
    if (list === undefined) slots.set(decoder.name, [decoder]);
    else list.push(decoder);
  }
  return [...slots].map(([name, list]) => ({ name, decoders: list }));
}

/** Selects that one decoder makes, and the address bits that it should look at if it can. */
interface Share {
  readonly slot: Slot;
  readonly requests: readonly Request[];
  readonly during: Stretch;
  readonly prefer: readonly number[] | undefined;
}

interface Planned {
  readonly shares: readonly Share[];
  readonly failures: readonly { readonly group: readonly Request[]; readonly why: string }[];
}

/** How many ways to share regions between decoders are looked at. */
const MOST_TRIALS = 100;

/** Plans which decoder makes which selects: each group in one, or shared by several, large regions first. */
function planGroups(family: readonly Request[], slots: readonly Slot[], map: readonly MapRegion[]): Planned {
  const groups = new Map<string, Request[]>();
  for (const request of family) {
    const key = groupKey(request);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [request]);
    else group.push(request);
  }
  const shares: Share[] = [];
  const failures: { group: readonly Request[]; why: string }[] = [];
  for (const group of groups.values()) {
    const { during } = group[0]!;
    const space = group[0]!.select!.regions[0]!.space;
    // A decoder that makes more selects in other stages is wired alike now, so that little of it changes then.
    const larger = [...groups.values()].find(
      (other) =>
        other.length > group.length &&
        other[0]!.select!.regions[0]!.space === space &&
        !overlap(other[0]!.during, during),
    );
    let trials = 0;
    let why = 'it is no decoder by its record, or its pins are wired by hand';
    const share = (requests: readonly Request[], free: readonly Slot[]): Share[] | undefined => {
      for (let count = requests.length; count > 0; count--) {
        for (const slot of free) {
          const decoder = slot.decoders.find((candidate) => overlap(candidate.instance, during));
          if (decoder === undefined || ++trials > MOST_TRIALS) continue;
          const prefer =
            larger === undefined ? undefined : bitsFor(decoder, larger, regionsIn(map, space, larger[0]!.during));
          const wanted = typeof prefer === 'string' ? undefined : prefer;
          const bits = bitsFor(decoder, requests.slice(0, count), regionsIn(map, space, during), wanted);
          if (typeof bits === 'string') {
            if (count === requests.length && requests.length === group.length) why = bits;
            continue;
          }
          const one: Share = { slot, requests: requests.slice(0, count), during, prefer: wanted };
          if (count === requests.length) return [one];
          const rest = share(
            requests.slice(count),
            free.filter((other) => other !== slot),
          );
          if (rest !== undefined) return [one, ...rest];
        }
      }
      return undefined;
    };
    const bytes = (request: Request): number => Math.max(...request.select!.regions.map((region) => region.bytes));
    const free = slots.filter((slot) => !shares.some((other) => other.slot === slot && overlap(other.during, during)));
    const found =
      share(group, free) ??
      share(
        [...group].sort((a, b) => bytes(b) - bytes(a)),
        free,
      );
    if (found === undefined) failures.push({ group, why });
    else shares.push(...found);
  }
  return { shares, failures };
}

function regionsIn(map: readonly MapRegion[], space: string, stretch: Stretch): MapRegion[] {
  return map.filter((region) => region.space === space && overlap(region, stretch));
}

/** Wires a share, in each decoder that stands in its slot one after the other. */
function fillShare(context: Context, share: Share, map: readonly MapRegion[]): DevicePlan[] {
  const { requests, during, prefer, slot } = share;
  const space = requests[0]!.select!.regions[0]!.space;
  return slot.decoders.flatMap((decoder) => {
    const common = meet(decoder.instance, during);
    if (common === undefined) return [];
    const plan = fillDecoder(context, decoder, requests, regionsIn(map, space, common), common, prefer);
    if (typeof plan !== 'string') return [plan];
    reportUndecodable(context, decoder.instance, requests, plan);
    return [];
  });
}

/** Selects that one fixed decoder can make together: of one space, under one condition, at one time. */
function groupKey(request: Request): string {
  const { stage, until } = request.during;
  const { regions, when } = request.select!;
  return [regions[0]!.space, when, regionCondition(regions), stage, until].join('|');
}

/**
 * Takes the strobes out of the selects, for where fixed decoders are too few for one to be enabled by each: the decoder makes
 * the address part, a gate joins the two. A select that is active high is turned by a gate.
 */
function partStrobes(context: Context, family: readonly Request[]): { plain: Request[]; jobs: Job[] } {
  const jobs: Job[] = [];
  const plain = family.map((request): Request => {
    const { select, strobe } = request;
    if (select === undefined || (strobe === undefined && select.activeLow)) return request;
    const net = netName(context, `/${request.net.replace(/^\//, '')}-address`);
    const text = strobe === undefined ? net : `${net} | ${strobe.net}`;
    const { formula } = parseFormula(select.activeLow ? text : `~(${text})`);
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
    return { ...request, net, select: { ...select, activeLow: true, when: strobe?.rest ?? select.when } };
  });
  return { plain, jobs };
}

/** A select whose condition is a single existing line needs no decoder; anything else without one is reported. */
function makeWithoutDecoder(context: Context, request: Request): void {
  const { select } = request;
  const whole = select!.regions.some((region) => region.at === 0 && region.bytes >= 2 ** select!.address.length);
  const single = /^\(?~([^\s&|^()]+)\)?$/.exec(select!.when);
  const isPlain = regionCondition(select!.regions) === '';
  if (whole && isPlain && select!.activeLow && (single !== null || select!.when === '')) {
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
