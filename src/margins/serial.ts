// Clocks and serial ports of a machine: where each rate comes from and what its duty is, what a crystal sees of capacitance, and
// which usual bit rates come out right for every part that makes one, against what a receiver stands.

import { foldName, parseValue } from '../base/index.ts';
import { type Design, type Netlist, netlistAt, type NetPart, type NetPin } from '../netlist/index.ts';
import { expandPins, pinsNamed } from '../parts/index.ts';
import { rateError, serialFits } from './clocks.ts';
import { STRAY } from './loading.ts';
import { type Rate, ratesOf } from './rates.ts';

/** A net that is some part's clock. */
export interface ClockRow extends Rate {
  readonly net: string;
  readonly feeds: readonly string[];
}

export interface CrystalRow {
  readonly part: string;
  readonly hz: number | null;
  /** pF that it wants across it, and pF that it sees: both capacitors in series, and what two strips add. Null where unknown. */
  readonly wantsPf: number | null;
  readonly seesPf: number | null;
  /** pF for each of two equal capacitors that would give it what it wants. */
  readonly eachPf: number | null;
}

/** A bit rate that a port can make. */
export interface SerialRate {
  readonly bitsPerSecond: number;
  readonly divisor: number;
  readonly actual: number;
  /** Part of the rate: 0.01 is one percent fast. */
  readonly error: number;
  /** Part of the rate that is left of what a receiver stands, in either direction; negative where frames break. */
  readonly left: number;
}

export interface SerialRow {
  readonly part: string;
  readonly pin: string;
  /** Null where no clock is seen to reach it. */
  readonly hz: number | null;
  readonly from: string;
  readonly rates: readonly SerialRate[];
}

export interface ClockReport {
  readonly clocks: readonly ClockRow[];
  readonly crystals: readonly CrystalRow[];
  readonly serial: readonly SerialRow[];
}

/** Rates that terminals and adapters offer: common practice, no source. */
export const USUAL_RATES = [300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200] as const;

/** What the other end may be off by: crystals and adapters keep within this (common practice, no source). */
export const OTHER_END = 0.005;

/** Pins that a part's clock comes in at, by its own record. */
function clockPins(part: NetPart): string[] {
  const { record } = part;
  const names = [
    record.clock?.pin,
    record.bus?.signals?.clock,
    typeof record.facts?.['serial-clock'] === 'string' ? (record.facts['serial-clock'] as string) : undefined,
  ];
  return names.flatMap((name) =>
    name === undefined
      ? []
      : expandPins(record, name).flatMap((each) => pinsNamed(record, each).map((row) => row.name)),
  );
}

export function clockReport(design: Design, stage: number): ClockReport {
  const netlist = netlistAt(design, stage);
  const rates = ratesOf(design, stage);
  const clocks: ClockRow[] = [];
  for (const [id, rate] of rates) {
    const feeds = netlist.nets[id]!.pins.map((pin) => netlist.pins[pin]!)
      .filter((pin) => clockPins(netlist.parts[pin.part]!).includes(pin.name))
      .map((pin) => pin.ref);
    if (feeds.length > 0) clocks.push({ net: netlist.nets[id]!.name, ...rate, feeds });
  }
  return {
    clocks,
    crystals: netlist.parts.filter((part) => part.record.symbol === 'crystal').map((part) => crystalRow(netlist, part)),
    serial: netlist.parts.flatMap((part) => serialRow(netlist, part, rates) ?? []),
  };
}

function crystalRow(netlist: Netlist, part: NetPart): CrystalRow {
  const hertz = part.record.facts?.hertz;
  const hz =
    part.value === undefined
      ? typeof hertz === 'number'
        ? hertz
        : null
      : (parseValue(part.value, 'frequency') ?? null);
  const load = part.record.facts?.['load-pf'];
  const wantsPf = typeof load === 'number' ? load : null;
  const sides = part.pins.map((id) => {
    const net = netlist.pins[id]!.net;
    if (net < 0) return null;
    let pf = 0;
    for (const pinId of netlist.nets[net]!.pins) {
      const other = netlist.parts[netlist.pins[pinId]!.part]!;
      if (other.record.symbol !== 'capacitor') continue;
      const grounded = other.pins.some((each) => {
        const far = netlist.pins[each]!.net;
        return far !== net && far >= 0 && netlist.nets[far]!.kind === 'ground';
      });
      const farad = other.value === undefined ? undefined : parseValue(other.value, 'capacitance');
      if (grounded && farad === undefined) return null;
      if (grounded) pf += farad! * 1e12;
    }
    return pf === 0 ? null : pf;
  });
  const [a, b] = sides;
  // Each lead stands in a strip; neighbouring strips face each other once.
  const seesPf = a == null || b == null ? null : (a * b) / (a + b) + STRAY.stripPf;
  return {
    part: part.name,
    hz,
    wantsPf,
    seesPf,
    eachPf: wantsPf === null ? null : 2 * (wantsPf - STRAY.stripPf),
  };
}

/** The divisors that a port offers: from its record, each or as a range. */
function divisorsOf(
  part: NetPart,
): { readonly list: readonly number[] } | { readonly from: number; readonly to: number } | undefined {
  const text = part.record.facts?.['serial-divisors'];
  if (typeof text !== 'string') return undefined;
  const range = /^(\d+) to (\d+) times (\d+)$/.exec(text);
  if (range !== null) return { from: Number(range[1]) * Number(range[3]), to: Number(range[2]) * Number(range[3]) };
  return { list: text.split(/\s+/).map(Number) };
}

/** Which of the usual rates a clock gives through a port's divisors. Those more than a tenth off are left out. */
export function serialRates(
  hz: number,
  divisors: NonNullable<ReturnType<typeof divisorsOf>>,
  samples = 16,
): SerialRate[] {
  return USUAL_RATES.flatMap((wanted) => {
    let divisor: number;
    if ('list' in divisors)
      divisor = divisors.list.reduce((a, b) =>
        Math.abs(rateError(hz / b, wanted)) < Math.abs(rateError(hz / a, wanted)) ? b : a,
      );
    else divisor = Math.min(divisors.to, Math.max(divisors.from, Math.round(hz / (samples * wanted)) * samples));
    const actual = hz / divisor;
    const error = rateError(actual, wanted);
    if (Math.abs(error) > 0.1) return [];
    const left = Math.min(
      ...[-OTHER_END, OTHER_END].flatMap((other) => [
        serialFits(error, other, 8, samples).left,
        serialFits(other, error, 8, samples).left,
      ]),
    );
    return [{ bitsPerSecond: wanted, divisor, actual, error, left }];
  });
}

function serialRow(netlist: Netlist, part: NetPart, rates: ReadonlyMap<number, Rate>): SerialRow | undefined {
  const divisors = divisorsOf(part);
  const text = part.record.facts?.['serial-clock'];
  if (divisors === undefined || typeof text !== 'string') return undefined;
  const names = expandPins(part.record, text).flatMap((name) => pinsNamed(part.record, name).map((row) => row.name));
  const pins = part.pins
    .map((id): NetPin => netlist.pins[id]!)
    .filter((pin) => names.includes(pin.name) && pin.net >= 0);
  const pin = pins.find((item) => rates.has(item.net)) ?? pins[0];
  const rate = pin === undefined ? undefined : rates.get(pin.net);
  return {
    part: part.name,
    pin: pin?.ref ?? `${part.name}.${names[0] ?? foldName(text)}`,
    hz: rate?.hz ?? null,
    from: rate?.from ?? 'no clock is seen to reach it',
    rates: rate === undefined ? [] : serialRates(rate.hz, divisors),
  };
}
