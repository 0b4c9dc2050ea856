// The findings of the margins: what is negative, thin or unknown, with the place of the part it is about. Wording only; every
// figure is worked out elsewhere.

import { type Finding, foldName, formatQuantity } from '../base/index.ts';
import { type Design, netlistAt } from '../netlist/index.ts';
import type { TimingRow } from './bus-timing/row.ts';
import { MARGINS_CODES } from './codes.ts';
import type { SupplyDrop } from './drop.ts';
import type { LevelRow, NetLoading } from './loading.ts';
import type { Margins } from './margins.ts';
import type { ClockReport } from './serial.ts';
import type { SignalReport } from './signal-report.ts';

/** ns below which a time is called thin: common practice, no source. Read hold is left out: sheets that ask for 0 get 0. */
export const THIN_NS = 5;

const show = (ns: number): string => `${Math.round(ns * 10) / 10} ns`;

function finding(
  design: Design,
  stage: number,
  code: keyof typeof MARGINS_CODES & string,
  part: string | undefined,
  message: string,
  notes: readonly string[],
  help: string,
): Finding {
  const found =
    part === undefined
      ? undefined
      : netlistAt(design, stage).parts.find((item) => foldName(item.name) === foldName(part));
  return {
    code,
    severity: MARGINS_CODES[code]!.severity,
    message,
    where: found?.origin.span === undefined ? [] : [found.origin.span],
    notes: notes.map((text) => ({ text })),
    help,
    about: part === undefined ? [] : [part],
    stage,
  };
}

const train = (row: TimingRow): string =>
  row.path.map((step) => `${step.part} ${step.symbol} ${show(step.ns)}`).join(' + ');

/** Rows of one part together, the worst first: a machine is mended part by part. */
function byTarget(rows: readonly TimingRow[]): Map<string, TimingRow[]> {
  const groups = new Map<string, TimingRow[]>();
  for (const row of [...rows].sort((a, b) => (a.marginNs ?? 0) - (b.marginNs ?? 0)))
    groups.set(row.target, [...(groups.get(row.target) ?? []), row]);
  return groups;
}

/** Every finding of a machine's margins. */
export function findingsOf(
  design: Design,
  { stage, timing, loading, supply, supervisor, drops, signals, clocks }: Margins,
): Finding[] {
  const found: Finding[] = [];
  const told: Tell = (code, part, message, notes, help) =>
    void found.push(finding(design, stage, code, part, message, notes, help));

  const clock = timing.clockHz;
  const isUntimed = timing.processor !== null && timing.rows.length === 0;
  if (isUntimed)
    told(
      'margins/cycles-not-covered',
      timing.processor!,
      `There is no timing for ${timing.unknown.join(', ')}.`,
      ['Nothing is said of its margins, neither good nor bad.'],
      'Reckon it by hand from the sheets, or leave this as it is and know that it is open.',
    );
  if (clock !== null) {
    for (const [target, rows] of byTarget(timing.rows.filter((row) => row.marginNs !== null && row.marginNs < -1e-9))) {
      const worst = rows[0]!;
      const atAny = worst.maxClockHz === 0 ? ', at any clock' : ` at ${formatQuantity(clock, 'frequency')}`;
      told(
        'margins/negative',
        target,
        `${target} lacks ${show(-worst.marginNs!)} for ${worst.check} in a ${worst.cycle}${atAny}.`,
        rows
          .slice(0, 4)
          .map(
            (row) =>
              `${row.cycle}, ${row.check}: ${show(row.availableNs!)} there, ${show(row.requiredNs!)} needed (${train(row)})${row.tracks ? ', taking outputs of one chip to be slow together' : ''}.`,
          ),
        remedy(worst),
      );
    }
    for (const [target, rows] of byTarget(
      timing.rows.filter(
        (row) =>
          row.marginNs !== null &&
          row.marginNs >= -1e-9 &&
          row.marginNs < THIN_NS &&
          !row.isFixed &&
          row.check !== 'read hold',
      ),
    ))
      told(
        'margins/thin',
        target,
        `${target} has only ${show(rows[0]!.marginNs!)} left for ${rows[0]!.check} in a ${rows[0]!.cycle}.`,
        rows.slice(0, 4).map((row) => `${row.cycle}, ${row.check}: ${train(row)}.`),
        'It holds on paper. If errors come and go, look here first.',
      );
    if (timing.minClockHz !== null && clock < timing.minClockHz)
      told(
        'margins/clock-too-slow',
        timing.processor ?? undefined,
        `${formatQuantity(clock, 'frequency')} is below the ${formatQuantity(timing.minClockHz, 'frequency')} that ${timing.processor} needs.`,
        ['A dynamic part forgets what it holds when its clock is too slow.'],
        'Raise the clock, or take a part that may be stopped.',
      );
  }
  if (!isUntimed) {
    for (const text of timing.unknown) {
      const row = timing.rows.find((item) => item.missing.includes(text));
      told(
        'margins/unknown-arc',
        row?.target,
        `Not known: ${text}.`,
        ['What rests on it is left open and counts as no pass.'],
        'Put the figure with its source into the part record, or choose a grade whose figures are there.',
      );
    }
  }

  for (const [nets, row] of shortLevels(loading)) {
    const high = row.highMargin !== null && row.highMargin < -1e-9;
    const volts = (value: number | null): string => (value === null ? '?' : `${Math.round(value * 100) / 100} V`);
    told(
      'margins/level',
      partOf(row.input),
      high
        ? `${row.driver} promises ${volts(row.high)} at high and ${row.input} asks for ${volts(row.vih)}.`
        : `${row.driver} may stand at ${volts(row.low)} at low and ${row.input} takes ${volts(row.vil)} as the most.`,
      [
        'Reckoned at the worst end of the supply, under the load of the net.',
        ...(nets.length > 1 ? [`So on ${nets.length} nets: ${nets.join(', ')}.`] : []),
      ],
      high
        ? 'Add a pull-up, or put a gate of the HCT or AHCT family between them.'
        : 'Lighten the load, or take a stronger driver.',
    );
  }
  for (const net of loading) {
    for (const load of net.drivers) {
      if (net.levels.every((row) => row.driver !== load.driver)) continue;
      const over = (need: number | null, can: number | null): boolean =>
        need !== null && can !== null && need > can + 1e-9;
      const sink = over(load.sinkMa, load.canSinkMa);
      if (!sink && !over(load.sourceMa, load.canSourceMa)) continue;
      const need = Math.round((sink ? load.sinkMa! : load.sourceMa!) * 1000) / 1000;
      told(
        'margins/overload',
        partOf(load.driver),
        `${load.driver} has to ${sink ? 'sink' : 'source'} ${need} mA and promises its level up to ${sink ? load.canSinkMa : load.canSourceMa} mA.`,
        [`Net ${net.net}.`],
        'Put a driver between, or a larger resistor where a lamp hangs on the net.',
      );
    }
  }
  const levels = [...new Set(loading.flatMap((net) => net.levels.flatMap((row) => row.missing)))].sort();
  if (levels.length > 0)
    told(
      'margins/unknown-level',
      undefined,
      `${levels.length} ${levels.length === 1 ? 'figure' : 'figures'} of levels and loads ${levels.length === 1 ? 'is' : 'are'} not known.`,
      levels.slice(0, 12),
      'Margins that rest on them are left open.',
    );
  const now = supply.at(-1);
  if (now?.limit !== null && now !== undefined && now.max > now.limit)
    told(
      'margins/supply-limit',
      undefined,
      `The parts may draw ${Math.round(now.max)} mA and the supply gives ${now.limit} mA.`,
      now.unknown.length === 0 ? [] : [`Not counted, since not known: ${now.unknown.join(', ')}.`],
      'Take a stronger supply, or parts that draw less.',
    );
  for (const drop of drops ?? []) tellDrop(drop, told);
  if (signals !== null) tellSignals(signals, told);
  tellClocks(clocks, told);
  if (supervisor !== null && supervisor.margin < -1e-9)
    told(
      'margins/supervisor-low',
      supervisor.supervisor,
      `${supervisor.supervisor} may wait until ${supervisor.thresholdMin} V, and ${supervisor.part} is promised from ${supervisor.leastSupply} V.`,
      ['Between the two the machine may run while a part does not.'],
      'Take a supervisor with a higher threshold: 5 % parts for chips of 4.75 V, 10 % parts for those of 4.5 V.',
    );
  return found;
}

/** Estimates that call for something to be done, one finding of each kind. */
function tellSignals(signals: SignalReport, told: Tell): void {
  const volts = (value: number): string => `${Math.round(value * 10) / 10} V`;
  const ringing = signals.edges.filter((row) => row.advice !== null);
  if (ringing.length > 0)
    told(
      'margins/ringing',
      partOf(ringing[0]!.driver),
      `By estimate ${ringing[0]!.net} rings so far that ${ringing[0]!.acts[0]} may count an edge twice.`,
      [
        ...ringing
          .slice(0, 5)
          .map(
            (row) =>
              `${row.net}, ${row.mm} mm: ${volts(row.overshootVolts!)} over, ${volts(row.reboundVolts!)} back. ${row.advice}`,
          ),
        `An estimate: ${signals.formulas.ringing}.`,
      ],
      'Shorten the wire, lay a ground wire beside it, or put a small resistor at the driver. Look at it with an oscilloscope first.',
    );
  const chips = signals.chips.filter((row) => row.advice !== null);
  if (chips.length > 0)
    told(
      'margins/bypass',
      chips[0]!.part,
      chips.length === 1
        ? chips[0]!.advice!
        : `${chips.length} chips have their bypass capacitor too far away or none.`,
      [
        ...(chips.length === 1 ? [] : chips.slice(0, 8).map((row) => row.advice!)),
        `By estimate: ${signals.formulas.bypass}.`,
      ],
      'Put 100 nF between the supply and ground pins of each chip, with leads as short as they go.',
    );
  const { bulk } = signals;
  if (bulk.wantsUf !== null && bulk.hasUf < bulk.wantsUf)
    told(
      'margins/bulk',
      undefined,
      `The boards have ${Math.round(bulk.hasUf)} uF of bulk capacitors, and ${Math.round(bulk.wantsUf)} uF is usual for what the chips draw.`,
      ['100 uF for each ampere, and one for each pair of boards: common practice, no source.'],
      'Put electrolytic capacitors where the supply enters and at the far end of the rails. Mind their polarity.',
    );
}

/** Serial ports whose clock gives no usual rate, and crystals that see another load than theirs. */
function tellClocks(clocks: ClockReport, told: Tell): void {
  for (const port of clocks.serial)
    if (port.hz !== null && port.rates.every((rate) => rate.left < 0))
      told(
        'margins/serial-rate',
        port.part,
        `No usual bit rate comes out of ${formatQuantity(port.hz, 'frequency')} at ${port.pin}.`,
        port.rates
          .slice(0, 4)
          .map((rate) => `${rate.bitsPerSecond}: by ${rate.divisor} it is ${Math.round(rate.error * 1e3) / 10} % off.`),
        'Take a clock that is a multiple of 1.8432 MHz, as 3.6864 or 7.3728 MHz.',
      );
  for (const crystal of clocks.crystals) {
    const { wantsPf, seesPf, eachPf } = crystal;
    if (wantsPf === null || seesPf === null || Math.abs(seesPf / wantsPf - 1) <= 0.25) continue;
    told(
      'margins/crystal-load',
      crystal.part,
      `${crystal.part} sees ${Math.round(seesPf)} pF and is cut for ${wantsPf} pF.`,
      ['Both capacitors count in series, and the strips add 2 pF. With less it runs some parts in ten thousand fast.'],
      `Two of ${Math.round(eachPf!)} pF would be right; nothing but exact time minds.`,
    );
  }
}

type Tell = (
  code: keyof typeof MARGINS_CODES & string,
  part: string | undefined,
  message: string,
  notes: readonly string[],
  help: string,
) => void;

/** What the boards lose on the way, for one supply. */
function tellDrop(drop: SupplyDrop, told: Tell): void {
  const volts = (value: number): string => `${Math.round(value * 100) / 100} V`;
  const dry = drop.chips.filter((chip) => chip.volts === null);
  if (dry.length > 0)
    told(
      'margins/not-fed',
      dry[0]!.part,
      `${dry.map((chip) => chip.part).join(', ')} ${dry.length === 1 ? 'gets' : 'get'} nothing from ${drop.supply}, as wired.`,
      [
        `No way along rails and wires leads from ${drop.entries.map((entry) => entry.plus).join(', ')} to ${dry[0]!.plusHole}.`,
      ],
      'Bridge the rails on the way, and the breaks in their middle.',
    );
  const short = drop.chips
    .filter((chip) => chip.volts !== null && chip.needs !== null && chip.volts < chip.needs - 1e-9)
    .sort((a, b) => a.volts! - a.needs! - (b.volts! - b.needs!));
  const notes = [
    ...(drop.proposal === null ? [] : [drop.proposal.text]),
    ...(drop.unknown.length === 0 ? [] : [`Not counted, since not known: ${drop.unknown.join(', ')}.`]),
  ];
  if (short.length > 0)
    told(
      'margins/rail-drop',
      short[0]!.part,
      `${short[0]!.part} gets ${volts(short[0]!.volts!)} at its pins with ${volts(drop.volts)} at the entry, and is promised from ${volts(short[0]!.needs!)}.`,
      [
        ...(short.length > 1
          ? [
              `So do ${short
                .slice(1, 8)
                .map((chip) => `${chip.part} (${volts(chip.volts!)})`)
                .join(', ')}.`,
            ]
          : []),
        ...notes,
      ],
      'Bring the supply in at more places, or join the rails with more and shorter wires.',
    );
  else if (drop.leastSetting !== null && drop.leastSetting > drop.leastVolts + 5e-3)
    told(
      'margins/supply-setting',
      undefined,
      `Set ${drop.supply} to ${(Math.ceil(drop.leastSetting * 100 - 1e-6) / 100).toFixed(2)} V or more at the entry: at its lowest, ${volts(drop.leastVolts)}, some chip gets less than it is promised for.`,
      [
        `The boards lose up to ${Math.round((drop.volts - (drop.lowest?.volts ?? drop.volts)) * 1e3)} mV on the way to ${drop.lowest?.part ?? 'the last chip'}.`,
        ...notes,
      ],
      'Measure at the entry and at that chip’s own pins, under load.',
    );
}

const partOf = (pin: string): string => pin.slice(0, pin.indexOf('.'));

/** Levels that fall short, once for each pair of parts, with the nets on which they do; the worst row stands for all. */
function shortLevels(loading: readonly NetLoading[]): [readonly string[], LevelRow][] {
  const pairs = new Map<string, { nets: string[]; row: LevelRow; least: number }>();
  for (const net of loading)
    for (const row of net.levels) {
      const least = Math.min(row.lowMargin ?? 0, row.highMargin ?? 0);
      if (least >= -1e-9) continue;
      const key = `${partOf(row.driver)} ${partOf(row.input)}`;
      const pair = pairs.get(key);
      if (pair === undefined) pairs.set(key, { nets: [net.net], row, least });
      else {
        if (!pair.nets.includes(net.net)) pair.nets.push(net.net);
        if (least < pair.least) Object.assign(pair, { row, least });
      }
    }
  return [...pairs.values()].map(({ nets, row }) => [nets, row]);
}

function remedy(row: TimingRow): string {
  if (row.waitStates !== null && row.waitStates > 0)
    return `Slow the clock, take a faster part, or add ${row.waitStates} wait ${row.waitStates === 1 ? 'state' : 'states'}.`;
  if (row.maxClockHz === 0)
    return 'No clock mends this: the order of the signals does. Select by address alone and let the strobes come later, or take a part that asks for less.';
  return 'Slow the clock, or take a faster part on this path.';
}
