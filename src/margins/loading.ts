// Loading of every net as of a stage: the worst high and low of each driver against each input's threshold, the current it
// has to sink and source, lamps, and the capacitance against the load at which its delays are specified.

import { foldName, parseValue } from '../base/index.ts';
import {
  type Design,
  type Net,
  type Netlist,
  type NetPart,
  type NetPin,
  type NetView,
  netlistAt,
  viewOf,
} from '../netlist/index.ts';
import { inputFigures, type OutputFigures, outputFigures } from '../parts/index.ts';
import { type Band, drive, highLevel, highThresholdAt, lowLevel, lowThreshold, unitLoads } from './levels.ts';
import type { MarginOptions } from './model.ts';

/**
 * pF that the boards add. Strip: measured between neighbouring strips of five holes, a supplier's forum measurement ("The real
 * impact of breadboard capacitance"). Wire: two neighbours at 2.54 mm, pi e0 l / acosh(D/2r) each for AWG 22, bare. Lead: common
 * practice, no source.
 */
export const STRAY = { stripPf: 2, wirePfPerMm: 2 * 0.0136, leadPf: 10 } as const;

/** A lamp that a net feeds through a resistor. */
export interface LampLoad {
  readonly part: string;
  /** The part whose output lights it, where there is one. */
  readonly driver?: string;
  readonly throughOhm: number;
  /** mA at the nominal supply with the driver's level at the rail: the most it can be. Null where the forward volts are unknown. */
  readonly mA: number | null;
  /** Lit when the net is high or when it is low. */
  readonly litAt: 'high' | 'low';
}

/** One driver against one input. */
export interface LevelRow {
  readonly driver: string;
  readonly input: string;
  /** V, the driver's least high and greatest low under the net's load. */
  readonly high: number | null;
  readonly low: number | null;
  readonly vih: number | null;
  readonly vil: number | null;
  readonly highMargin: number | null;
  readonly lowMargin: number | null;
  /** What is missing where a margin is null. */
  readonly missing: readonly string[];
}

export interface DriverLoad {
  readonly driver: string;
  /** mA that it must sink at low and source at high; null where an input's current is unknown. */
  readonly sinkMa: number | null;
  readonly sourceMa: number | null;
  /** mA that it promises. Source is null too for open outputs that only sink. */
  readonly canSinkMa: number | null;
  readonly canSourceMa: number | null;
  readonly loadUnits: { readonly low: number; readonly high: number } | null;
  /** pF at which its delays are specified, and ns that the load beyond it adds (an estimate, 0.69 R C). */
  readonly testLoadPf: number | null;
  readonly addedNs: number | null;
}

export interface NetLoading {
  readonly net: string;
  readonly drivers: readonly DriverLoad[];
  readonly levels: readonly LevelRow[];
  readonly lamps: readonly LampLoad[];
  /** pF seen by a driver: pins, strips, wire, leads; null where a pin's is unknown. `pins` counts what is known. */
  readonly pf: { readonly pins: number; readonly boards: number; readonly total: number | null };
  /** The least of the known margins, V. */
  readonly worst: number | null;
  readonly unknown: readonly string[];
}

/** Of each programmable device with a plan, by part name folded, the pins that its functions drive. */
type Plans = ReadonlyMap<string, ReadonlySet<string>>;

function plansOf(design: Design): Plans {
  return new Map(
    design.devices.map((plan) => [foldName(plan.part), new Set(plan.outputs.map((output) => output.pin))] as const),
  );
}

const canDrive = (pin: NetPin): boolean =>
  pin.kind === 'output' || pin.kind === 'three-state' || pin.kind === 'bidirectional' || pin.kind === 'open-drain';

/** A programmable device drives where its functions say, and reads elsewhere. */
function drives(netlist: Netlist, pin: NetPin, plans: Plans): boolean {
  return canDrive(pin) && plans.get(foldName(netlist.parts[pin.part]!.name))?.has(pin.name) !== false;
}

function listens(netlist: Netlist, pin: NetPin, plans: Plans): boolean {
  if (pin.kind === 'input') return true;
  return pin.kind === 'bidirectional' && plans.get(foldName(netlist.parts[pin.part]!.name))?.has(pin.name) !== true;
}

/** The volts of the supply whose net this is, or of the first supply. */
export function bandOf(design: Design, net?: string): Band {
  const supply =
    (net === undefined ? undefined : design.supplies.find((item) => foldName(item.name) === foldName(net))) ??
    design.supplies[0];
  const volts = supply?.volts ?? 5;
  const tolerance = supply?.tolerance ?? 0.05;
  return { min: volts * (1 - tolerance), max: volts * (1 + tolerance) };
}

function ohmsOf(part: NetPart): number | undefined {
  return part.value === undefined ? undefined : parseValue(part.value, 'resistance');
}

/** What hangs on a net through resistors. */
interface Hanging {
  readonly ups: readonly number[];
  readonly downs: readonly number[];
  readonly lamps: readonly LampLoad[];
  /** Inputs and drivers behind a series resistor. */
  readonly behind: readonly { readonly net: Net; readonly ohm: number }[];
  readonly unknown: readonly string[];
}

function hanging(netlist: Netlist, view: NetView, nominal: number): Hanging {
  const found = {
    ups: [] as number[],
    downs: [] as number[],
    lamps: [] as LampLoad[],
    behind: [] as { net: Net; ohm: number }[],
    unknown: [] as string[],
  };
  for (const link of view.links) {
    const ohm = ohmsOf(link.part);
    if (ohm === undefined || ohm <= 0) {
      found.unknown.push(`value of ${link.part.name}`);
      continue;
    }
    const far = netlist.nets[link.to.net]!;
    if (far.kind === 'supply') found.ups.push(ohm);
    else if (far.kind === 'ground') found.downs.push(ohm);
    else {
      const lamp = lampOn(netlist, far, ohm, nominal);
      if (lamp !== undefined) found.lamps.push(lamp);
      else found.behind.push({ net: far, ohm });
    }
  }
  return found;
}

/** The lamp (a diode made for light) between a net and a rail. */
function lampOn(netlist: Netlist, net: Net, ohm: number, nominal: number): LampLoad | undefined {
  for (const id of net.pins) {
    const pin = netlist.pins[id]!;
    const part = netlist.parts[pin.part]!;
    if (part.record.symbol !== 'led') continue;
    const anode = /^A\d*$/.test(pin.name);
    const unit = part.record.units?.find((item) => Object.values(item.pins).includes(pin.name));
    const otherName =
      unit === undefined
        ? part.record.pins.find((row) => row.name !== pin.name)?.name
        : Object.values(unit.pins).find((name) => name !== pin.name);
    const other = part.pins.map((pinId) => netlist.pins[pinId]!).find((item) => item.name === otherName);
    const rail = other === undefined || other.net < 0 ? undefined : netlist.nets[other.net]!.kind;
    const litAt = anode && rail === 'ground' ? 'high' : !anode && rail === 'supply' ? 'low' : undefined;
    if (litAt === undefined) continue;
    const forward = part.record.facts?.['forward-volts'];
    const mA = typeof forward === 'number' ? (Math.max(0, nominal - forward) / ohm) * 1e3 : null;
    return { part: pin.ref, throughOhm: ohm, mA, litAt };
  }
  return undefined;
}

/** Ohms that an output shows beside its rails, from its own drive points: the greater of the low and the high side. */
export function outputOhms(figures: OutputFigures | undefined): number | null {
  const sides = [...(figures?.low ?? []), ...(figures?.['high-below-supply'] ?? [])]
    .filter((point) => Math.abs(point.at) >= 1)
    .map((point) => (point.volts / Math.abs(point.at)) * 1e3);
  return sides.length === 0 ? null : Math.max(...sides);
}

/** Times R C that `addedDelay` counts. */
export const LOAD_FACTOR = 1.2;

/**
 * ns that `pf` beyond the specified load adds. Where the maker prints ns per pF (`perPf`) that stands. Else an estimate: 1.2 R C
 * with R from the drive points, the factor that covers what the MM74HC541 sheet prints for 50 and 150 pF. Less than the specified
 * load quickens nothing.
 */
export function addedDelay(figures: OutputFigures | undefined, pf: number, perPf?: number): number | null {
  const test = figures?.['test-load'];
  if (test === undefined) return null;
  const excess = Math.max(0, pf - test);
  if (perPf !== undefined) return perPf * excess;
  const ohms = outputOhms(figures);
  return ohms === null ? null : LOAD_FACTOR * ohms * excess * 1e-3;
}

/** pF of everything on a net, for a driver that is not counted itself. */
function capacitance(
  netlist: Netlist,
  net: Net,
  options: MarginOptions,
  plans: Plans,
): { pins: number; boards: number; unknown: string[] } {
  const view = viewOf(netlist);
  let pins = 0;
  const unknown: string[] = [];
  const drivers = net.pins.filter((id) => drives(netlist, netlist.pins[id]!, plans));
  const sole = drivers.length === 1 ? drivers[0] : undefined;
  for (const id of net.pins) {
    const pin = netlist.pins[id]!;
    const reads = listens(netlist, pin, plans);
    const writes = drives(netlist, pin, plans);
    // A sole output drives all but itself.
    if (!(reads || writes) || (id === sole && !reads)) continue;
    const part = view.part(pin);
    const row = view.row(pin);
    const into = reads ? inputFigures(part, row, options.families)?.capacitance : undefined;
    const out = writes ? outputFigures(part, row, options.families)?.capacitance : undefined;
    if (into === undefined && out === undefined) unknown.push(`capacitance of ${pin.ref}`);
    else pins += Math.max(into ?? 0, out ?? 0);
  }
  const wiring = options.wiring?.get(foldName(net.name));
  const boards =
    wiring === undefined
      ? 0
      : wiring.strips * STRAY.stripPf + wiring.mm * STRAY.wirePfPerMm + wiring.leads * STRAY.leadPf;
  return { pins, boards, unknown };
}

/** Every lamp that a net feeds as of a stage, without the rest of the loading. */
export function lampsOf(design: Design, stage: number): LampLoad[] {
  const netlist = netlistAt(design, stage);
  const band = bandOf(design, netlist.nets.find((item) => item.kind === 'supply')?.name);
  return viewOf(netlist).nets.flatMap((net) => {
    if (net.net.kind !== 'signal' || net.links.length === 0) return [];
    const driver = net.pins.find(canDrive);
    return hanging(netlist, net, (band.min + band.max) / 2).lamps.map((lamp) =>
      driver === undefined ? lamp : { ...lamp, driver: netlist.parts[driver.part]!.name },
    );
  });
}

/** Loading and levels of every signal net that something drives, as of a stage. */
export function loadingOf(design: Design, stage: number, options: MarginOptions): NetLoading[] {
  const netlist = netlistAt(design, stage);
  const view = viewOf(netlist);
  const plans = plansOf(design);
  return view.nets.flatMap((net) => {
    if (net.net.kind !== 'signal') return [];
    const found = netLoading(design, netlist, net, options, plans);
    return found === undefined ? [] : [found];
  });
}

function netLoading(
  design: Design,
  netlist: Netlist,
  net: NetView,
  options: MarginOptions,
  plans: Plans,
): NetLoading | undefined {
  const view = viewOf(netlist);
  const drivers = net.pins.filter((pin) => drives(netlist, pin, plans));
  if (drivers.length === 0) return undefined;
  const supply = netlist.nets.find((item) => item.kind === 'supply');
  const band = bandOf(design, supply?.name);
  const nominal = (band.min + band.max) / 2;
  const hung = hanging(netlist, net, nominal);
  const isReader = (pin: NetPin): boolean => listens(netlist, pin, plans);
  const listeners: { pin: NetPin; ohm: number }[] = net.pins.filter(isReader).map((pin) => ({ pin, ohm: 0 }));
  for (const { net: far, ohm } of hung.behind)
    for (const id of far.pins) {
      const pin = netlist.pins[id]!;
      if (isReader(pin)) listeners.push({ pin, ohm });
    }
  const unknown = new Set<string>(hung.unknown);
  const inputOf = (pin: NetPin) => inputFigures(view.part(pin), view.row(pin), options.families);
  const outputOf = (pin: NetPin) => outputFigures(view.part(pin), view.row(pin), options.families);
  const inside = net.pins.flatMap((pin) => {
    if (view.row(pin).pull !== 'up') return [];
    const kohm = view.part(pin).record.facts?.['pull-up-kohm'];
    return typeof kohm === 'number' ? [kohm * 1e3] : [];
  });
  const ups = [...hung.ups, ...inside];
  const conductance = ups.reduce((sum, ohm) => sum + 1 / ohm, 0);
  const loads: DriverLoad[] = [];
  const levels: LevelRow[] = [];
  const caps = capacitance(netlist, net.net, options, plans);
  for (const text of caps.unknown) unknown.add(text);

  for (const driver of drivers) {
    const figures = outputOf(driver);
    const others = listeners.filter(({ pin }) => pin !== driver);
    let low: number | null = ups.reduce((sum, ohm) => sum + (band.max / ohm) * 1e3, 0);
    let high: number | null = hung.downs.reduce((sum, ohm) => sum + (band.max / ohm) * 1e3, 0);
    let bleed: number | null = 0;
    let unitsKnown = true;
    for (const lamp of hung.lamps) {
      if (lamp.mA === null) unknown.add(`forward volts of ${lamp.part}`);
      else if (lamp.litAt === 'high') high += lamp.mA;
      else low += lamp.mA;
    }
    let inputLow = 0;
    let inputHigh = 0;
    for (const { pin } of others) {
      const input = inputOf(pin);
      // A pin that can drive too leaks as an output does where no input current is printed.
      const leak = canDrive(pin) ? outputOf(pin)?.leakage : undefined;
      const drawsLow = input?.low ?? leak;
      const drawsHigh = input?.high ?? leak;
      if (drawsLow === undefined || drawsHigh === undefined) {
        unknown.add(`input current of ${pin.ref}`);
        unitsKnown = false;
      } else {
        inputLow += Math.abs(drawsLow) / 1e3;
        inputHigh += Math.abs(drawsHigh) / 1e3;
      }
    }
    for (const pin of drivers) {
      if (pin === driver || isReader(pin)) continue;
      const leak = outputOf(pin)?.leakage;
      if (leak !== undefined) {
        inputLow += leak / 1e3;
        inputHigh += leak / 1e3;
      }
    }
    if (unitsKnown) {
      low += inputLow;
      high += inputHigh;
      bleed = inputHigh;
    } else {
      low = null;
      high = null;
      bleed = null;
    }
    const can = drive(figures);
    const excess =
      caps.pins +
      caps.boards -
      (drivers.length === 1 && !isReader(driver) ? 0 : ownCapacitance(driver, figures, inputOf(driver)?.capacitance));
    loads.push({
      driver: driver.ref,
      sinkMa: low,
      sourceMa: driver.kind === 'open-drain' ? 0 : high,
      canSinkMa: can.low,
      canSourceMa: driver.kind === 'open-drain' ? null : can.high,
      loadUnits: unitsKnown ? unitLoads({ low: inputLow, high: inputHigh }) : null,
      testLoadPf: figures?.['test-load'] ?? null,
      addedNs: caps.unknown.length > 0 ? null : addedDelay(figures, excess, numberFact(view.part(driver), 'ns-per-pf')),
    });
    for (const { pin, ohm } of others)
      levels.push(levelRow(driver, pin, ohm, { figures, input: inputOf(pin), low, high, bleed, conductance, band }));
  }
  const known = levels.flatMap((row) => [row.highMargin, row.lowMargin].filter((value) => value !== null));
  for (const row of levels) for (const text of row.missing) unknown.add(text);
  return {
    net: net.net.name,
    drivers: loads,
    levels,
    lamps: hung.lamps,
    pf: { pins: caps.pins, boards: caps.boards, total: caps.unknown.length > 0 ? null : caps.pins + caps.boards },
    worst: known.length === 0 ? null : Math.min(...known),
    unknown: [...unknown].sort(),
  };
}

function numberFact(part: NetPart, name: string): number | undefined {
  const fact = part.record.facts?.[name];
  return typeof fact === 'number' ? fact : undefined;
}

function ownCapacitance(pin: NetPin, figures: OutputFigures | undefined, input: number | undefined): number {
  return Math.max(figures?.capacitance ?? 0, pin.kind === 'bidirectional' ? (input ?? 0) : 0);
}

interface LevelTerms {
  readonly figures: OutputFigures | undefined;
  readonly input: ReturnType<typeof inputFigures>;
  readonly low: number | null;
  readonly high: number | null;
  /** mA drawn by inputs at high, which a pull-up has to bring where the driver lets go. */
  readonly bleed: number | null;
  /** 1/ohm of all pull-ups together. */
  readonly conductance: number;
  readonly band: Band;
}

/** One driver against one input, at both ends of the supply's band; the worse end stands. */
function levelRow(driver: NetPin, pin: NetPin, ohm: number, terms: LevelTerms): LevelRow {
  const { figures, input, low, high, bleed, conductance, band } = terms;
  const missing: string[] = [];
  const sunk = low === null ? null : lowLevel(figures, low);
  const vol = sunk === null ? null : sunk.volts + (ohm * Math.abs(input?.low ?? 0)) / 1e6;
  if (low === null) missing.push(`load of ${driver.ref} at low`);
  else if (vol === null) missing.push(`low level of ${driver.ref} at ${round(low)} mA`);
  const ends = [band.min, band.max].map((volts) => {
    const vih = highThresholdAt(input, volts);
    const vil = lowThreshold(input, volts);
    const promised =
      driver.kind === 'open-drain' || high === null ? null : (highLevel(figures, high, volts)?.volts ?? null);
    // A pull-up carries on where the driver lets go: up to the supply less what the inputs draw through it.
    const pulled = conductance > 0 && bleed !== null ? volts - bleed / 1e3 / conductance : null;
    const level = promised === null ? pulled : pulled === null ? promised : Math.max(promised, pulled);
    const voh = level === null ? null : level - (ohm * Math.abs(input?.high ?? 0)) / 1e6;
    return {
      vih,
      vil,
      voh,
      highMargin: voh === null || vih === null ? null : voh - vih,
      lowMargin: vol === null || vil === null ? null : vil - vol,
    };
  });
  const worse = ends.reduce((a, b) => ((b.highMargin ?? 0) < (a.highMargin ?? 0) ? b : a));
  const lower = ends.reduce((a, b) => ((b.lowMargin ?? 0) < (a.lowMargin ?? 0) ? b : a));
  if (worse.voh === null) missing.push(`high level of ${driver.ref}${high === null ? '' : ` at ${round(high)} mA`}`);
  if (worse.vih === null) missing.push(`high threshold of ${pin.ref}`);
  if (lower.vil === null) missing.push(`low threshold of ${pin.ref}`);
  return {
    driver: driver.ref,
    input: pin.ref,
    high: worse.voh,
    low: vol,
    vih: worse.vih,
    vil: lower.vil,
    highMargin: worse.highMargin,
    lowMargin: lower.lowMargin,
    missing,
  };
}

const round = (value: number): number => Math.round(value * 100) / 100;
