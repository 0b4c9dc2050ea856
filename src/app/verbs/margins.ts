// `margins`: timing, loading, levels and supply of the machine as of a stage, with the delays of wire where a layout is there;
// from readings of a meter to the contact that is bad; the drawing of a cycle.

import { foldName, formatQuantity } from '../../base/index.ts';
import { badContacts, type Margins, type RailReading, type SupplyDrop } from '../../margins/index.ts';
import type { Build } from '../build.ts';
import { applyWaivers } from '../findings.ts';
import { type CycleAsk, cyclesOf, cycleSvg, type MarginsAsk, marginsOf, supplyWiring } from '../margins.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';
import { noLayout } from './steps.ts';

export function marginsVerb(build: Build, options: MarginsAsk): VerbResult {
  const { project } = build;
  const { value, findings } = marginsOf(build, options);
  const waivers = project.machine().value.waivers.filter((waiver) => waiver.code.name.startsWith('margins/'));
  const { findings: kept, waived } = applyWaivers(findings, waivers);
  const current = value.supply.at(-1);
  return {
    value: {
      stage: value.stage,
      processor: value.timing.processor,
      clockHz: value.timing.clockHz,
      maxClockHz: value.timing.maxClockHz,
      maxClockOfKnownHz: value.timing.maxClockOfKnownHz,
      minClockHz: value.timing.minClockHz,
      waitStates: value.timing.waitStates,
      critical: value.timing.critical,
      faster: value.timing.faster,
      timing: value.timing.rows,
      unknown: value.timing.unknown,
      assumptions: value.timing.assumptions,
      loading: value.loading,
      supply: value.supply,
      rails: value.drops?.map(railValue) ?? null,
      signals: value.signals,
      clocks: value.clocks,
      supervisor: value.supervisor,
      breaksFirst: value.breaksFirst,
      waived: waived.map((entry) => ({
        code: entry.finding.code,
        message: entry.finding.message,
        reason: entry.waiver.reason,
      })),
    },
    findings: kept,
    text: textOf(value, current),
  };
}

const ns = (value: number | null): string => (value === null ? '?' : value.toFixed(1));
const hertz = (value: number | null): string => (value === null ? 'not known' : formatQuantity(value, 'frequency', 4));

function textOf(value: Margins, current: Margins['supply'][number] | undefined): string {
  const { timing } = value;
  const lines: string[] = [];
  if (timing.processor === null) lines.push('No processor yet: no bus timing.');
  else if (timing.rows.length > 0) {
    lines.push(
      `${timing.processor} at ${hertz(timing.clockHz)}: up to ${hertz(timing.maxClockHz)}${timing.maxClockHz === null && timing.maxClockOfKnownHz !== null ? ` (${hertz(timing.maxClockOfKnownHz)} by what is known)` : ''}, down to ${timing.minClockHz === 0 ? 'a standstill' : hertz(timing.minClockHz)}`,
    );
    if (timing.critical !== null)
      lines.push(
        `The first to go: ${timing.critical.cycle} with ${timing.critical.target}, ${timing.critical.check}: ${timing.critical.path.map((step) => `${step.part} ${step.symbol} ${ns(step.ns)}`).join(' + ')}`,
      );
    if (timing.faster !== null)
      lines.push(
        `One faster part that helps most: ${timing.faster.part} as ${timing.faster.grade}, up to ${hertz(timing.faster.maxClockHz)}`,
      );
    lines.push(
      '',
      textTable([
        ['cycle', 'with', 'asked for', 'there', 'needed', 'left ns', 'up to'],
        ...[...timing.rows]
          .sort((a, b) => (a.marginNs ?? -1e9) - (b.marginNs ?? -1e9))
          .map((row) => [
            row.cycle,
            row.target,
            row.check,
            ns(row.availableNs),
            ns(row.requiredNs),
            ns(row.marginNs),
            row.marginNs === null
              ? row.missing.join('; ')
              : row.maxClockHz === null
                ? 'any clock'
                : row.maxClockHz === 0
                  ? 'no clock'
                  : hertz(row.maxClockHz),
          ]),
      ]),
      '',
      ...timing.assumptions,
    );
  }
  const levels = value.loading.filter((net) => net.worst !== null).sort((a, b) => a.worst! - b.worst!);
  if (levels.length > 0) {
    lines.push(
      '',
      'Levels, the least margins first:',
      textTable(
        levels.slice(0, 8).map((net) => {
          const row = net.levels.find((item) => item.highMargin === net.worst || item.lowMargin === net.worst)!;
          return [
            net.net,
            `${net.worst!.toFixed(2)} V`,
            `${row.driver} to ${row.input}`,
            row.highMargin === net.worst ? 'high' : 'low',
            net.pf.total === null ? '? pF' : `${Math.round(net.pf.total)} pF`,
          ];
        }),
        '  ',
      ),
    );
  }
  if (current !== undefined)
    lines.push(
      '',
      `Current: ${Math.round(current.typ)} mA typical, ${Math.round(current.max)} mA at most${current.limit === null ? '' : ` of ${current.limit} mA`}${current.unknown.length === 0 ? '' : `; not known: ${current.unknown.join(', ')}`}`,
    );
  for (const drop of value.drops ?? []) lines.push(...dropText(drop));
  lines.push(...clockText(value.clocks), ...signalText(value.signals));
  if (value.supervisor !== null)
    lines.push(
      `Supervisor: ${value.supervisor.supervisor} at ${value.supervisor.thresholdMin} V at the lowest, ${value.supervisor.part} from ${value.supervisor.leastSupply} V`,
    );
  return lines.join('\n');
}

const milli = (volts: number | null): number | null => (volts === null ? null : Math.round(volts * 1e3) / 1e3);

/** Volts to the mV: the figures behind them know no more. */
function railValue(drop: SupplyDrop): object {
  return {
    supply: drop.supply,
    volts: drop.volts,
    leastVolts: milli(drop.leastVolts),
    entries: drop.entries,
    mA: drop.mA,
    chips: drop.chips.map((chip) => ({
      ...chip,
      typVolts: milli(chip.typVolts),
      volts: milli(chip.volts),
      plusVolts: milli(chip.plusVolts),
      groundVolts: milli(chip.groundVolts),
      leastVolts: milli(chip.leastVolts),
      margin: milli(chip.margin),
    })),
    lowest: drop.lowest?.part ?? null,
    leastSetting: milli(drop.leastSetting),
    proposal: drop.proposal === null ? null : { ...drop.proposal, volts: milli(drop.proposal.volts) },
    unknown: drop.unknown,
  };
}

function clockText(clocks: Margins['clocks']): string[] {
  const lines = clocks.clocks.map((row) => {
    const duty =
      row.dutyMin === null || row.dutyMax === null
        ? 'nobody says how long it is high'
        : row.dutyMax - row.dutyMin < 1e-6
          ? `${Math.round(row.dutyMin * 100)} % high`
          : `${Math.round(row.dutyMin * 100)} to ${Math.round(row.dutyMax * 100)} % high`;
    return `  ${row.net}: ${hertz(row.hz)} from ${row.from}, ${duty}, to ${row.feeds.join(', ')}`;
  });
  for (const port of clocks.serial) {
    const fit = port.rates.filter((rate) => rate.left >= 0);
    lines.push(
      port.hz === null
        ? `  ${port.part}: ${port.from}`
        : `  ${port.part}: ${fit.length === 0 ? 'no usual bit rate' : fit.map((rate) => `${rate.bitsPerSecond}${Math.abs(rate.error) < 5e-5 ? '' : ` (${(rate.error * 100).toFixed(2)} %)`}`).join(', ')} from ${hertz(port.hz)} at ${port.pin}`,
    );
  }
  return lines.length === 0 ? [] : ['', 'Clocks and bit rates:', ...lines];
}

function signalText(signals: Margins['signals']): string[] {
  if (signals === null) return [];
  const edges = signals.edges.filter((row) => row.acts.length > 0 && row.reboundVolts !== null).slice(0, 5);
  const chips = signals.chips
    .filter((row) => row.bounceVolts !== null)
    .sort((a, b) => b.bounceVolts! - a.bounceVolts!)
    .slice(0, 3);
  const cross = signals.crosstalk.filter((row) => row.volts !== null).slice(0, 3);
  return [
    '',
    'Signals, estimated (no margin rests on it):',
    ...edges.map(
      (row) =>
        `  ${row.net}, ${row.mm} mm: ${row.overshootVolts!.toFixed(2)} V over, ${row.reboundVolts!.toFixed(2)} V back${row.leftVolts === null ? '' : `, ${row.leftVolts.toFixed(2)} V left to the threshold`}`,
    ),
    ...cross.map(
      (row) =>
        `  ${row.net} beside ${row.from
          .slice(0, 3)
          .map((item) => item.net)
          .join(', ')}: ${row.volts!.toFixed(2)} V of crosstalk`,
    ),
    ...chips.map(
      (row) => `  ${row.part}: ${row.outputs} outputs at once lift its ground by ${row.bounceVolts!.toFixed(2)} V`,
    ),
    ...Object.entries(signals.formulas).map(([name, formula]) => `  ${name}: ${formula}`),
  ];
}

const volts = (value: number | null): string => (value === null ? 'nothing' : `${value.toFixed(2)} V`);

function dropText(drop: SupplyDrop): string[] {
  if (drop.lowest === null) return ['', `${drop.supply}: nothing reaches any chip.`];
  const rows = [...drop.chips].sort((a, b) => Math.abs(a.volts ?? 0) - Math.abs(b.volts ?? 0)).slice(0, 5);
  return [
    '',
    `${drop.supply}, ${volts(drop.volts)} at ${drop.entries.map((entry) => `${entry.plus} and ${entry.ground}`).join(', ')}: the least at a chip is ${volts(drop.lowest.volts)} at ${drop.lowest.part}, ${Math.round(Math.abs(drop.volts - drop.lowest.volts!) * 1e3)} mV lost${drop.leastSetting === null ? '' : `; set it to ${(Math.ceil(drop.leastSetting * 100 - 1e-6) / 100).toFixed(2)} V or more`}`,
    textTable(
      rows.map((chip) => [
        chip.part,
        `${chip.plusHole} to ${chip.groundHole}`,
        volts(chip.volts),
        chip.needs === null ? '' : `from ${chip.needs} V`,
      ]),
      '  ',
    ),
    ...(drop.proposal === null ? [] : [drop.proposal.text]),
    ...(drop.unknown.length === 0 ? [] : [`Not counted, since not known: ${drop.unknown.join(', ')}.`]),
  ];
}

/** Draws one cycle into a file of the build, on the paper ground. */
export function cycleVerb(build: Build, options: CycleAsk): VerbResult {
  const { value } = marginsOf(build, { ...options, withoutAdvice: true });
  const cycles = cyclesOf(value);
  const chosen = cycles.find(({ cycle }) => foldName(cycle) === foldName(options.cycle));
  const target = chosen?.targets.find((name) => foldName(name) === foldName(options.target ?? ''));
  if (chosen === undefined || (options.target !== undefined && target === undefined))
    return refuse(
      'margins/no-cycle',
      chosen === undefined
        ? `There is no cycle ${options.cycle} at this stage.`
        : `${options.target} does not answer in ${chosen.cycle}.`,
      cycles.length === 0
        ? 'There is no bus timing at this stage.'
        : `There are: ${cycles.map(({ cycle, targets }) => `${cycle} (${targets.join(', ')})`).join('; ')}.`,
    );
  const svg = cycleSvg(
    build,
    { ground: 'paper', ...options, cycle: chosen.cycle, ...(target === undefined ? {} : { target }) },
    value,
  )!;
  const name = [chosen.cycle, ...(target === undefined ? [] : [target])].join(' ').toLowerCase();
  const path = `${build.folder}/margins/${name.replace(/[^a-z0-9]+/g, '-')}.svg`;
  const rows = value.timing.rows.filter(
    (row) => row.cycle === chosen.cycle && (target === undefined || row.target === target),
  );
  return {
    value: { files: [path], cycle: chosen.cycle, target: target ?? null, timing: rows },
    findings: [],
    text: `Wrote ${path}.`,
    effects: [{ kind: 'write', path, text: svg }],
  };
}

/**
 * From readings to the bad contact. `measured` holds words such as `ROM=4.61` (across its supply pins) or `ROM.VCC=4.70` (that pin
 * against the supply's ground).
 */
export function measuredVerb(
  build: Build,
  options: { readonly stage: number; readonly measured: readonly string[] },
): VerbResult {
  const supply = supplyWiring(build, options.stage);
  if (build.layout().value === undefined) return noLayout(build);
  if (supply === undefined)
    return refuse('margins/no-rails', 'No supply enters the boards, or the layout is not this design.', 'Run `lay`.');
  const readings: RailReading[] = [];
  for (const word of options.measured) {
    const match = /^([^.=]+?)(?:\.([^=]+))?=(-?\d+(?:\.\d+)?)\s*V?$/.exec(word);
    const fed = supply.chips.find((item) => foldName(item.part.name) === foldName(match?.[1] ?? ''));
    if (match === null || fed === undefined)
      return refuse(
        'margins/no-reading',
        match === null ? `${word} is no reading.` : `${match[1]} is no chip on a supply rail at this stage.`,
        'Give PART=VOLTS for a reading across its supply pins, PART.PIN=VOLTS for one pin against the supply’s ground.',
      );
    const pin = fed.part.record.pins.find((row) => foldName(row.name) === foldName(match[2] ?? ''));
    if (match[2] !== undefined && pin?.kind !== 'supply' && pin?.kind !== 'ground')
      return refuse('margins/no-reading', `${match[1]}.${match[2]} is neither a supply pin nor a ground pin.`);
    readings.push({
      chip: fed.chip,
      at: pin === undefined ? 'across' : pin.kind === 'ground' ? 'ground' : 'plus',
      volts: Number(match[3]),
    });
  }
  const suspects = badContacts(supply, readings);
  return {
    value: { stage: options.stage, readings, suspects },
    findings: [],
    text:
      suspects.length === 0
        ? 'The readings fit good contacts; if they are lower than they should be, the supply is, or the currents are other than printed.'
        : [
            suspects.length === 1
              ? 'One place explains the readings:'
              : 'These explain the readings equally well; measure across each of them, the largest drop is the one:',
            ...suspects.map((item) => `  - ${item.text} Unexplained then: ${item.leftMv} mV.`),
          ].join('\n'),
  };
}
