// `diagnose`: captures of a stage, told to its nets, laid on its clock and held against what the machine should do; then every
// plausible slip is run against them. The host reads the files.

import { type Finding, sortFindings } from '../../base/index.ts';
import {
  type Capture,
  evaluatePairs,
  type Fault,
  type Group,
  hexWith,
  type Place,
  type ToldChannel,
} from '../../bringup/index.ts';
import type { Build } from '../build.ts';
import { type CaptureReading, channelsPath, printChannels, readStageCapture, toldChannels } from '../capture.ts';
import { diagnoseStage } from '../diagnose.ts';
import { guidedSession } from '../guided.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';

/** One file as the host read it. */
export interface CaptureFile {
  readonly name: string;
  readonly capture: Capture | undefined;
  readonly findings: readonly Finding[];
}

export interface DiagnoseOptions {
  readonly stage: number;
  readonly files: readonly CaptureFile[];
  /** `CH3=/RD`, `CH3=~/RD` for a channel that shows the opposite, `CH3=` to leave it out. Kept with the build. */
  readonly channels?: readonly string[];
  readonly progress?: (share: number) => boolean;
}

/** A channel as told on the command line, or a sentence that says what is wrong with it. */
export function toldFrom(text: string): ToldChannel | string {
  const at = text.indexOf('=');
  if (at < 1) return `"${text}" tells no channel; the form is CHANNEL=NET.`;
  const net = text.slice(at + 1).trim();
  const channel = text.slice(0, at).trim();
  if (net === '') return { channel, net: null };
  return net.startsWith('~') ? { channel, net: net.slice(1), inverted: true } : { channel, net };
}

/** Runs `diagnose`. */
export function diagnoseVerb(build: Build, options: DiagnoseOptions): VerbResult {
  const read = options.files.flatMap(({ findings }) => findings);
  const kept = toldChannels(build);
  const told = new Map(kept.value.map((entry) => [entry.channel.toLowerCase(), entry]));
  for (const text of options.channels ?? []) {
    const entry = toldFrom(text);
    if (typeof entry === 'string') return refuse('cli/bad-channel', entry, 'For example --channel CH3=/RD.');
    told.set(entry.channel.toLowerCase(), entry);
  }
  const findings: Finding[] = [...read];
  if (kept.problem !== undefined)
    findings.push({
      code: 'app/channels-unreadable',
      severity: 'warning',
      message: kept.problem,
      where: [],
      notes: [{ text: 'Which channel shows which net is kept with the build; without it names and leads decide.' }],
      help: 'Tell the channels again with --channel, or mend the file.',
    });
  const captures = options.files.flatMap(({ name, capture }) => (capture === undefined ? [] : [{ name, capture }]));
  if (captures.length < options.files.length)
    return { value: null, findings: sortFindings(findings), text: '', refused: true };
  const readings = captures.map(({ capture }) => readStageCapture(build, options.stage, capture, [...told.values()]));
  for (const reading of readings) findings.push(...reading.findings);
  const observed = readings.flatMap((reading) => reading.observed ?? []);
  if (observed.length < readings.length)
    return { value: null, findings: sortFindings(findings), text: '', refused: true };
  const found = diagnoseStage(build, options.stage, observed, options.progress);
  if (found === undefined)
    return refuse('app/no-layout', 'Nothing is laid out yet, so no hole can be named.', 'Run `lay` first.');
  const { diagnosis } = found;
  const { verdict } = diagnosis;
  const info = build.design().stages[options.stage - 1];
  const stageWords = `stage ${options.stage}${info === undefined ? '' : ` (${info.name})`}`;
  if (verdict !== 'correct')
    findings.push({
      code: 'app/capture-differs',
      severity: 'error',
      message:
        verdict === 'differs'
          ? `The capture is not what ${stageWords} should show.`
          : `The capture is not what ${stageWords} should show, and no single slip explains it.`,
      where: [],
      notes: firstWords(readings),
      help:
        verdict === 'differs'
          ? 'Switch off, and look at the places named first.'
          : 'Look at supply and clock first, then at two slips at once; another capture with other channels tells more.',
      stage: options.stage,
    });
  const effects =
    (options.channels ?? []).length === 0
      ? []
      : [{ kind: 'write' as const, path: channelsPath(build), text: printChannels([...told.values()]) }];
  const { prepared, results } = found;
  const [next] = verdict === 'correct' ? [] : guidedSession(build, prepared, results).next(1);
  // What the machine as meant explains no better than they do.
  const untested = diagnosis.groups.find(({ holdsCorrect }) => holdsCorrect)?.places ?? [];
  const slipsOf = (at: number): string => prepared.input.faults[prepared.classes[at]!.members[0]!]!.text;
  const pairs =
    verdict !== 'none-of-these'
      ? []
      : evaluatePairs(prepared, results)
          .slice(0, 5)
          .map(({ a, b, failures }) => ({ slips: [slipsOf(a), slipsOf(b)], failures }));
  const hypotheses = diagnosis.groups.filter(({ holdsCorrect, places }) => !holdsCorrect && places.length > 0);
  return {
    value: {
      stage: options.stage,
      verdict,
      correct: round(diagnosis.correct),
      hypotheses: hypotheses.map((group) => ({
        places: group.places.map(({ place, probability }) => ({
          ...placeValue(place),
          likelihood: round(probability),
        })),
        faults: group.faults.slice(0, 50).map(faultValue),
        likelihood: round(group.probability),
      })),
      nextProbe: next === undefined ? null : { ...next.measurement, text: next.text, bits: round(next.bits) },
      untested: untested.map(({ place }) => placeValue(place)),
      ...(pairs.length === 0 ? {} : { pairs }),
      captures: readings.map((reading, k) => captureValue(captures[k]!.name, captures[k]!.capture, reading)),
    },
    findings: sortFindings(findings),
    text: [
      textOf(stageWords, verdict, diagnosis.correct, hypotheses, readings, captures),
      ...(next === undefined ? [] : ['', `Measure next: ${next.text}`]),
      ...(pairs.length === 0
        ? []
        : ['Two slips at once that come nearest:', ...pairs.map(({ slips }) => `  ${slips.join(' And: ')}`)]),
    ].join('\n'),
    effects,
  };
}

const round = (value: number): number => Number(value.toFixed(4));

function placeValue(place: Place) {
  const [hole] = place.holes;
  return {
    part: place.part ?? null,
    pin: place.pin ?? null,
    wire: place.wire ?? null,
    hole: hole ?? null,
    holes: place.holes,
    text: place.text,
  };
}

function faultValue(fault: Fault) {
  const some = (list: readonly (string | undefined)[]): string[] => [
    ...new Set(list.filter((one): one is string => one !== undefined)),
  ];
  return {
    kind: fault.kind,
    parts: some(fault.places.map(({ part }) => part)),
    wires: some(fault.places.map(({ wire }) => wire)),
    holes: some(fault.places.flatMap(({ holes }) => holes)),
    text: fault.text,
  };
}

function captureValue(name: string, capture: Capture, reading: CaptureReading) {
  const { observed, comparison, bus, matches } = reading;
  return {
    file: name,
    seconds: capture.end - capture.start,
    channels: matches.map(({ channel, net, inverted, how }) => {
      const row = comparison?.nets.find((one) => one.net === net);
      return {
        channel: capture.channels[channel]!.name,
        net,
        inverted,
        how,
        agreement: row === undefined || row.compared === 0 ? null : round(row.agreement),
      };
    }),
    alignedBy: observed?.by ?? null,
    sure: observed === undefined ? null : round(observed.sure),
    halfClocks: observed?.halves ?? null,
    sinceReset: observed?.sinceReset ?? null,
    firstDifference: comparison?.firstDifference ?? null,
    cycles: bus?.cycles.length ?? 0,
    instructions: bus?.instructions.length ?? 0,
    missing: bus?.missing ?? [],
  };
}

/** Where predicted and captured part, in words. */
function firstWords(readings: readonly CaptureReading[]): { readonly text: string }[] {
  return readings.flatMap(({ comparison }) => {
    const first = comparison?.firstDifference;
    if (first === undefined || first === null) return [];
    const nets = first.nets
      .slice(0, 4)
      .map(
        ({ net, predicted, captured }) =>
          `${net} ${captured === 1 ? 'high' : 'low'} and not ${predicted === 1 ? 'high' : 'low'}`,
      );
    const when =
      first.sinceReset === null
        ? `at ${first.time.toExponential(4)} s`
        : `${Math.floor(first.sinceReset / 2)} clocks after reset`;
    return [
      {
        text: `They part ${when}: ${nets.join(', ')}${first.nets.length > 4 ? ` and ${first.nets.length - 4} more` : ''}.`,
      },
    ];
  });
}

function textOf(
  stageWords: string,
  verdict: string,
  correct: number,
  hypotheses: readonly Group[],
  readings: readonly CaptureReading[],
  captures: readonly { readonly name: string; readonly capture: Capture }[],
): string {
  const percent = (share: number): string => `${(100 * share).toFixed(share < 0.1 ? 1 : 0)} %`;
  const lines: string[] = [];
  readings.forEach((reading, k) => {
    const { observed, matches, bus } = reading;
    const { name, capture } = captures[k]!;
    const by =
      observed?.by === 'clock'
        ? 'by its clock'
        : observed?.by === 'reset'
          ? 'by the nominal rate, from reset on'
          : 'by what changes';
    lines.push(
      `${name}: ${matches.length} of ${capture.channels.length} channels told, ${observed?.halves ?? 0} half clocks, laid ${by}, ${percent(observed?.sure ?? 0)} sure.`,
    );
    const first = reading.comparison?.firstDifference;
    if (first !== undefined && first !== null && bus !== undefined) {
      const before = bus.instructions.filter(({ from }) => from <= first.half).slice(-4);
      if (before.length > 0)
        lines.push(
          `Instructions up to there: ${before.map(({ address, text }) => `${address === undefined ? '?' : hexWith(address, 0xffff, 16)} ${text}`).join('; ')}.`,
        );
    }
    for (const sentence of bus?.missing ?? []) lines.push(sentence);
  });
  lines.push(
    verdict === 'correct'
      ? `The part of ${stageWords} that was exercised is right, ${percent(correct)} sure.`
      : verdict === 'differs'
        ? `${stageWords[0]!.toUpperCase()}${stageWords.slice(1)} is not as it should be. Places to look at, the likeliest first:`
        : `${stageWords[0]!.toUpperCase()}${stageWords.slice(1)} is not as it should be, and no single slip explains the capture. The nearest:`,
  );
  if (verdict !== 'correct')
    lines.push(
      textTable(
        hypotheses
          .slice(0, 5)
          .flatMap((group, k) =>
            group.places
              .slice(0, 8)
              .map(({ place, probability, fault }) => [String(k + 1), percent(probability), place.text, fault.text]),
          ),
      ),
    );
  return lines.join('\n');
}
