// `probes`: which nets to hook up before measuring, what a proof on these channels covers, and, with answers typed, where to look and
// what to measure next.

import type { Finding } from '../../base/index.ts';
import {
  chooseChannels,
  coverageOf,
  type GuidedSession,
  makeDictionary,
  probeNets,
  probeOf,
  readAnswer,
} from '../../bringup/index.ts';
import type { Build } from '../build.ts';
import { expandRange } from '../../parts/index.ts';
import { guidedSession, prepareStage } from '../guided.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';

export interface ProbesOptions {
  readonly stage: number;
  /** How many channels there are. Default 16. */
  readonly channels?: number;
  /** Nets that are hooked up already: their coverage is told. */
  readonly have?: readonly string[];
  /** What was measured: `A7 stuck low`, `/RD 230 kHz`, `CPU.A7 ROM.A7 open`. */
  readonly answers?: readonly string[];
  readonly progress?: (share: number) => boolean;
}

/** Half clocks of the program that a choice of channels rests on. */
const HALVES = 2400;
const MOST_SHOWN = 12;

export function probesVerb(build: Build, options: ProbesOptions): VerbResult {
  const prepared = prepareStage(build, options.stage, []);
  if (prepared === undefined)
    return refuse('app/no-layout', 'Nothing is laid out yet, so no hole can be named.', 'Run `lay` first.');
  return options.answers === undefined || options.answers.length === 0
    ? channelsOf(prepared, options)
    : searchBy(build, guidedSession(build, prepared), prepared, options);
}

type Prepared = NonNullable<ReturnType<typeof prepareStage>>;

function channelsOf(prepared: Prepared, options: ProbesOptions): VerbResult {
  const { bench, plan, faults, images } = prepared.input;
  const where = probeNets(bench, (net) => probeOf(bench, net)?.strip);
  const dictionary = makeDictionary(
    plan,
    prepared.classes,
    prepared.classes.map((_, at) => at),
    where,
    {
      halves: HALVES,
      edgesPerHalf: prepared.edgesPerHalf,
      ...(images === undefined ? {} : { images }),
      ...(options.progress === undefined
        ? {}
        : { progress: (done: number, total: number) => options.progress!(done / Math.max(1, total)) }),
    },
  );
  const nameAt = (pin: number): string[] => {
    const name = bench.netlist.nets[bench.pins[pin]?.net ?? -1]?.name;
    return name === undefined ? [] : [name];
  };
  // Clock and reset: without them nothing is laid on half clocks. Then what the processor reads: every other fault shows there
  // first, and what it read is known to the search.
  const processor = bench.netlist.parts.find(({ record }) => record.category === 'processor');
  const bus = processor?.record.bus;
  const pinsOf = (names: readonly string[]): string[] =>
    names.flatMap((name) =>
      bench.pins.flatMap((pin, k) =>
        processor !== undefined && pin.part === processor.id && pin.ref === `${processor.name}.${name}`
          ? nameAt(k)
          : [],
      ),
    );
  const strobes = ['read', 'write'].flatMap((signal) => bus?.signals?.[signal] ?? []);
  const data = bus?.data === undefined ? [] : (expandRange(bus.data) ?? []);
  const base = [...nameAt(plan.clockPin), ...nameAt(plan.resetPin), ...pinsOf(strobes)];
  const first = (options.channels ?? 16) >= base.length + data.length ? [...base, ...pinsOf(data)] : base;
  const chosen = chooseChannels(dictionary, prepared.classes, options.channels ?? 16, first);
  const nets = options.have ?? chosen.map(({ net }) => net);
  const coverage = coverageOf(dictionary, prepared.classes, faults, nets);
  const share = (value: number): string => `${(100 * value).toFixed(0)} %`;
  return {
    value: {
      stage: options.stage,
      channels: chosen.map(({ net, bits, shows }) => ({ net, hole: probeOf(bench, net)?.hole ?? null, bits, shows })),
      coverage: {
        nets,
        share: coverage.share,
        slips: coverage.total,
        shown: coverage.shown,
        untested: coverage.untested.map(({ place, prior, slips }) => ({
          place: place.text,
          holes: place.holes,
          prior,
          slips: slips.length,
        })),
        more: coverage.moreChannels.slice(0, MOST_SHOWN),
      },
    },
    findings: [],
    text: [
      `Hook up, in this order (stage ${options.stage}):`,
      textTable(
        [
          ['net', 'hole', 'slips that show, so far'],
          ...chosen.map(({ net, shows }) => [net, probeOf(bench, net)?.hole ?? '', share(shows)]),
        ],
        '  ',
      ),
      '',
      `A capture of these that agrees is right in the part exercised: it excludes ${share(coverage.share)} of what is likely to be wrong (${coverage.shown} of ${coverage.total} slips).`,
      ...(coverage.untested.length === 0
        ? []
        : [
            'Not exercised, likeliest first:',
            ...coverage.untested.slice(0, MOST_SHOWN).map(({ place }) => `  ${place.text}`),
            ...(coverage.untested.length > MOST_SHOWN ? [`  and ${coverage.untested.length - MOST_SHOWN} more`] : []),
          ]),
    ].join('\n'),
  };
}

function searchBy(build: Build, session: GuidedSession, prepared: Prepared, options: ProbesOptions): VerbResult {
  const { bench } = prepared.input;
  const holeOf = (text: string): string | undefined =>
    bench.pins.find((pin) => pin.hole === text || pin.ref.toLowerCase() === text.toLowerCase())?.hole ??
    (bench.strip(text) >= 0 ? text : undefined);
  const findings: Finding[] = [];
  for (const text of options.answers ?? []) {
    const read = readAnswer(text, session.nets, holeOf);
    if (read === undefined) {
      findings.push({
        code: 'cli/bad-answer',
        severity: 'error',
        message: `"${text}" is no measurement that can be used.`,
        where: [],
        notes: [],
        help: 'Write a net and what it shows (A7 low, A7 high, A7 changes, A7 230 kHz), or two holes or pins and joined or open.',
      });
      continue;
    }
    session.answer(read.measurement, read.answer);
  }
  if (findings.length > 0) return { value: null, findings, text: '', refused: true };
  const places = session.places().slice(0, MOST_SHOWN);
  const next = session.next(3);
  return {
    value: {
      stage: options.stage,
      build: build.name,
      places: places.map(({ place, probability }) => ({
        place: place.text,
        key: place.key,
        holes: place.holes,
        probability,
      })),
      next: next.map(({ measurement, text, bits }) => ({ ...measurement, text, bits })),
    },
    findings: [],
    text: [
      'Where to look, likeliest first:',
      textTable(
        places.map(({ place, probability }) => [`${(100 * probability).toFixed(0)} %`, place.text]),
        '  ',
      ),
      '',
      'Measure next:',
      ...next.map(({ text }) => `  ${text}`),
    ].join('\n'),
  };
}
