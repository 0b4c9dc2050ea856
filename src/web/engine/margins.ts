// What Margins shows: the same margins as the verb's, in words and rounded for a page; drawings of cycles and of the rails.

import { cyclesOf, cycleSvg, marginsOf, measuredVerb, railSvg } from '../../app/index.ts';
import { formatQuantity } from '../../base/index.ts';
import type { Asks, MarginsAnswer, TimingUi } from '../protocol.ts';
import type { Bench } from './bench.ts';

type Whole = ReturnType<typeof marginsOf>;

/** The margins of a stage at a clock, kept until the machine, the layout or the question changes. */
function whole(bench: Bench, stage: number, clockHz: number | undefined): Whole {
  const { build } = bench;
  const key = [build.design(), build.layout().value, stage, clockHz];
  return bench.project.memo(`margins ui ${build.name}${clockHz === undefined ? '' : ' at a clock'}`, key, () =>
    marginsOf(build, {
      stage,
      ...(clockHz === undefined ? {} : { clockHz, withoutAdvice: true }),
    }),
  );
}

const hertz = (hz: number | null): string => (hz === null ? 'not known' : formatQuantity(hz, 'frequency', 4));
const tenth = (value: number): number => Math.round(value * 10) / 10;
const hundredth = (value: number | null): number | null => (value === null ? null : Math.round(value * 100) / 100);
const milli = (volts: number): string => `${Math.round(volts * 1e3)} mV`;

function rowsOf(value: Whole['value']): TimingUi[] {
  return value.timing.rows
    .map((row) => ({
      cycle: row.cycle,
      target: row.target,
      check: row.check,
      availableNs: row.availableNs === null ? null : tenth(row.availableNs),
      requiredNs: row.requiredNs === null ? null : tenth(row.requiredNs),
      marginNs: row.marginNs === null ? null : tenth(row.marginNs),
      maxHz: row.maxClockHz,
      isFixed: row.isFixed,
      tracks: row.tracks,
      path:
        row.marginNs === null
          ? row.missing.join('; ')
          : row.path.map((step) => `${step.part} ${step.symbol} ${tenth(step.ns)}`).join(' + '),
    }))
    .sort((a, b) => order(a) - order(b) || (a.marginNs ?? 0) - (b.marginNs ?? 0));
}

/** What no clock mends first, then by the clock at which it gives out, then what holds at any clock, then the unknown. */
function order(row: TimingUi): number {
  if (row.marginNs === null) return 1e15;
  if (row.maxHz === 0) return -1;
  return row.maxHz ?? 1e14;
}

/** Everything but the drawings. */
export function margins(bench: Bench, ask: Asks['margins'][0]): MarginsAnswer {
  const { value, findings } = whole(bench, ask.stage, undefined);
  const { timing } = value;
  const stageName = (number: number): string =>
    bench.build.design().stages.find((info) => info.number === number)?.name ?? '';
  return {
    stage: ask.stage,
    processor: timing.processor,
    clockHz: timing.clockHz,
    maxHz: timing.maxClockHz,
    knownHz: timing.maxClockOfKnownHz,
    minHz: timing.minClockHz,
    waitStates: timing.waitStates,
    critical:
      timing.critical === null
        ? undefined
        : `${timing.critical.cycle} with ${timing.critical.target}, ${timing.critical.check}`,
    faster:
      timing.faster === null
        ? undefined
        : `${timing.faster.part} as ${timing.faster.grade} would move the limit to ${hertz(timing.faster.maxClockHz)}`,
    assumptions: timing.assumptions,
    cycles: cyclesOf(value),
    rows: rowsOf(value),
    breaks: {
      clock: dedupe(value.breaksFirst.clock.map((item) => ({ at: item.at, what: item.what, symptom: item.symptom }))),
      supply: value.breaksFirst.supply,
      slower: value.breaksFirst.slower,
    },
    nets: value.loading.map((net) => {
      const worst = net.levels.find((row) => row.highMargin === net.worst || row.lowMargin === net.worst);
      return {
        net: net.net,
        pf: net.pf.total === null ? null : tenth(net.pf.total),
        boardsPf: tenth(net.pf.boards),
        worst: net.worst === null ? null : Math.round(net.worst * 100) / 100,
        worstAt:
          worst === undefined
            ? ''
            : `${worst.driver} into ${worst.input}, ${worst.highMargin === net.worst ? 'high' : 'low'}`,
        unknown: net.unknown,
        drivers: net.drivers.map((driver) => ({
          driver: driver.driver,
          sinkMa: driver.sinkMa,
          canSinkMa: driver.canSinkMa,
          sourceMa: driver.sourceMa,
          canSourceMa: driver.canSourceMa,
          units: driver.loadUnits === null ? null : tenth(Math.max(driver.loadUnits.low, driver.loadUnits.high)),
          testLoadPf: driver.testLoadPf,
          addedNs: driver.addedNs === null ? null : tenth(driver.addedNs),
        })),
      };
    }),
    supply: value.supply.map((item) => ({
      stage: item.stage,
      name: stageName(item.stage),
      typ: Math.round(item.typ),
      max: Math.round(item.max),
      limit: item.limit,
      unknown: item.unknown,
    })),
    parts: (value.supply.at(-1)?.parts ?? []).map((part) => ({
      part: part.part,
      typ: part.typ,
      max: part.max,
      source: part.source,
    })),
    drops: (value.drops ?? []).map((drop) => ({
      supply: drop.supply,
      text:
        drop.lowest === null
          ? `${drop.supply}: nothing reaches any chip.`
          : `${drop.supply}, ${drop.volts.toFixed(2)} V at ${drop.entries.map((entry) => `${entry.plus} and ${entry.ground}`).join(', ')}: ${drop.lowest.part} gets least, ${drop.lowest.volts!.toFixed(2)} V; ${milli(Math.abs(drop.volts - drop.lowest.volts!))} are lost on the way.`,
      setting:
        drop.leastSetting === null
          ? undefined
          : `Set it to ${(Math.ceil(drop.leastSetting * 100 - 1e-6) / 100).toFixed(2)} V or more at the entry, so that every chip gets what its maker asks for.`,
      proposal: drop.proposal?.text,
      unknown: drop.unknown,
      lostMv: drop.lowest === null ? null : Math.round(Math.abs(drop.volts - drop.lowest.volts!) * 1e3),
      lowest: drop.lowest?.part,
      chips: [...drop.chips]
        .sort((a, b) => Math.abs(a.volts ?? 0) - Math.abs(b.volts ?? 0))
        .map((chip) => ({
          part: chip.part,
          plus: chip.plusHole,
          ground: chip.groundHole,
          typVolts: chip.typVolts,
          volts: chip.volts,
          needs: chip.needs,
        })),
    })),
    hasRails: value.drops !== null,
    clocks: value.clocks.clocks.map((row) => ({
      net: row.net,
      rate: hertz(row.hz),
      from: row.from,
      duty:
        row.dutyMin === null || row.dutyMax === null
          ? 'not known'
          : row.dutyMax - row.dutyMin < 1e-6
            ? `${Math.round(row.dutyMin * 100)} %`
            : `${Math.round(row.dutyMin * 100)} to ${Math.round(row.dutyMax * 100)} %`,
      feeds: row.feeds.join(', '),
    })),
    serial: value.clocks.serial.map((port) => ({
      part: port.part,
      clock: port.hz === null ? port.from : `${hertz(port.hz)} at ${port.pin}, from ${port.from}`,
      rates: port.rates.map((rate) => ({
        bits: rate.bitsPerSecond,
        divisor: rate.divisor,
        percent: Math.round(rate.error * 1e4) / 100,
        leftPercent: Math.round(rate.left * 1e3) / 10,
      })),
    })),
    crystals: value.clocks.crystals.map((crystal) => ({
      part: crystal.part,
      wantsPf: crystal.wantsPf,
      seesPf: crystal.seesPf === null ? null : tenth(crystal.seesPf),
      eachPf: crystal.eachPf,
    })),
    signals:
      value.signals === null
        ? undefined
        : {
            edges: value.signals.edges.map((row) => ({
              net: row.net,
              acts: row.acts.join(', '),
              mm: row.mm,
              criticalMm: row.criticalMm === null ? null : Math.round(row.criticalMm),
              over: hundredth(row.overshootVolts),
              back: hundredth(row.reboundVolts),
              left: hundredth(row.leftVolts),
              advice: row.advice ?? undefined,
              missing: row.missing.join('; '),
            })),
            crosstalk: value.signals.crosstalk.map((row) => ({
              net: row.net,
              from: row.from
                .slice(0, 4)
                .map((item) => `${item.net} ${item.mm} mm`)
                .join(', '),
              volts: hundredth(row.volts),
              margin: hundredth(row.marginVolts),
            })),
            chips: value.signals.chips.map((row) => ({
              part: row.part,
              outputs: row.outputs,
              bounce: hundredth(row.bounceVolts),
              bypass: row.bypass ?? undefined,
              mm: row.mm,
              advice: row.advice ?? undefined,
            })),
            bulk: `${Math.round(value.signals.bulk.hasUf)} uF of bulk${value.signals.bulk.wantsUf === null ? '' : `; ${Math.round(value.signals.bulk.wantsUf)} uF is usual for what the chips draw`}.`,
            formulas: Object.entries(value.signals.formulas),
          },
    findings: findings.map((finding) => bench.finding(finding)),
  };
}

/** Breaks that name the same thing, once, at its lowest. */
function dedupe<T extends { readonly what: string }>(list: readonly T[]): T[] {
  const seen = new Set<string>();
  return list.filter(({ what }) => !seen.has(what) && seen.add(what) !== undefined);
}

/** The rows at another clock. */
export function clockAt(bench: Bench, ask: Asks['clockAt'][0]): readonly TimingUi[] {
  return rowsOf(whole(bench, ask.stage, ask.clockHz).value);
}

/** A cycle with its slack, in the page's colours. */
export function cycle(bench: Bench, ask: Asks['cycle'][0]): Asks['cycle'][1] {
  const { value } = whole(bench, ask.stage, ask.clockHz);
  return cycleSvg(
    bench.build,
    {
      stage: ask.stage,
      cycle: ask.cycle,
      width: ask.width,
      most: ask.most,
      ...(ask.target === undefined ? {} : { target: ask.target }),
      ...(ask.clockHz === undefined ? {} : { clockHz: ask.clockHz }),
    },
    value,
  );
}

/** The boards with what is lost along their rails. */
export function railPicture(bench: Bench, ask: Asks['railPicture'][0]): Asks['railPicture'][1] {
  return railSvg(bench.build, ask, bench.scene(ask.stage));
}

/** From what the meter shows to the contact that is bad. */
export function suspects(bench: Bench, ask: Asks['suspects'][0]): string {
  const words = ask.text.split(/[\s,;]+/).filter((word) => word !== '');
  if (words.length === 0) return '';
  const result = measuredVerb(bench.build, { stage: ask.stage, measured: words });
  const [finding] = result.findings;
  return finding === undefined ? result.text : [finding.message, finding.help ?? ''].join(' ').trim();
}
