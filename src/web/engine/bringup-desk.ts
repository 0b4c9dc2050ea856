// Bring-up as the page asks for it: what to measure at a stage, the predicted waveforms, a capture laid beside them, the channels
// told, and the places that would explain it. No DOM; the worker around it reads files and does the talking.

import {
  Build,
  type Capture,
  type CaptureReading,
  captureSetting,
  channelsPath,
  diagnoseStage,
  Guide,
  measuringPoints,
  predictStage,
  predictedBus,
  printChannels,
  Project,
  readStageCapture,
  type Shipped,
  type StageDiagnosis,
  type ToldChannel,
  toldChannels,
} from '../../app/index.ts';
import type { Finding } from '../../base/index.ts';
import type {
  BringupChannel,
  BringupDiagnosis,
  BringupGuide,
  BringupPlan,
  BringupReading,
  BringupPlaceRow,
  RulerItem,
  Waves,
  WaveNet,
} from '../bringup-protocol.ts';

/** Half clocks shown of a prediction without a capture. */
const SHOWN_HALVES = 12_000;
/** Half clocks of a capture shown at most. */
const MOST_SHOWN = 60_000;

export class BringupDesk {
  readonly project: Project;
  readonly build: Build;
  #captures: { readonly name: string; readonly capture: Capture; readonly findings: readonly Finding[] }[] = [];
  #reading: CaptureReading | undefined;
  #found: StageDiagnosis | undefined;
  #guide: Guide | undefined;

  constructor(shipped: unknown, files: Readonly<Record<string, string>>, main: string, build: string) {
    this.project = new Project(shipped as Shipped, new Map(Object.entries(files)), main);
    this.build = new Build(this.project, build);
  }

  setText(path: string, text: string | undefined): void {
    this.project.setText(path, text);
  }

  /** What to measure at a stage, and what should be seen. */
  plan(stage: number): BringupPlan {
    const setting = captureSetting(this.build, stage);
    const points = measuringPoints(this.build, setting);
    const predicted =
      setting.clock === undefined
        ? undefined
        : predictStage(setting, [...new Set([...points.map(({ net }) => net), ...shownNets(setting)])], SHOWN_HALVES);
    const rows = points.map((point) => {
      const net = predicted?.nets.find((one) => one.net.toLowerCase() === point.net.toLowerCase());
      return { ...point, expect: net === undefined ? '' : expectation(net.level, setting.rateHz) };
    });
    return {
      stage,
      rows,
      isClocked: predicted !== undefined,
      waves: predicted === undefined ? undefined : predictedWaves(predicted, predictedBus(setting, predicted)),
      findings: setting.findings.filter(({ severity }) => severity === 'error').map(({ message }) => message),
    };
  }

  /** Takes a capture in; those before it are kept and count too. */
  add(name: string, capture: Capture | undefined, findings: readonly Finding[]): void {
    if (capture !== undefined) this.#captures.push({ name, capture, findings });
  }

  clear(): void {
    this.#captures = [];
    this.#reading = undefined;
    this.#found = undefined;
    this.#guide = undefined;
  }

  get captures(): readonly string[] {
    return this.#captures.map(({ name }) => name);
  }

  /** The last capture beside the prediction; undefined where there is none. */
  reading(stage: number): BringupReading | undefined {
    const last = this.#captures.at(-1);
    if (last === undefined) return undefined;
    const kept = toldChannels(this.build);
    const reading = readStageCapture(this.build, stage, last.capture, kept.value);
    this.#reading = reading;
    const { comparison, observed } = reading;
    const byChannel = new Map(reading.matches.map((match) => [match.channel, match]));
    const isTold = new Map(kept.value.map((entry) => [entry.channel.toLowerCase(), entry]));
    return {
      name: last.name,
      files: this.captures,
      seconds: last.capture.end - last.capture.start,
      channels: last.capture.channels.map((channel, k): BringupChannel => {
        const match = byChannel.get(k);
        const row = comparison?.nets.find((one) => one.net === match?.net);
        return {
          name: channel.name,
          net: match?.net,
          isLeftOut: isTold.get(channel.name.toLowerCase())?.net === null,
          inverted: match?.inverted ?? false,
          how: match?.how,
          agreement: row === undefined || row.compared === 0 ? undefined : row.agreement,
        };
      }),
      nets: reading.setting.nets,
      by: observed?.by,
      sure: observed?.sure ?? 0,
      waves: observed === undefined ? undefined : wavesOf(reading),
      first: firstWords(reading),
      strays: comparison?.strays.length ?? 0,
      missing: reading.bus?.missing ?? [],
      findings: [...last.findings, ...reading.findings].map(({ severity, message, help, notes }) => ({
        severity,
        message,
        help,
        notes: notes.map(({ text }) => text),
      })),
      problem: kept.problem,
    };
  }

  /** The text of the file that keeps the channels, with one told anew. */
  tell(entry: ToldChannel): { readonly path: string; readonly text: string } {
    const rest = toldChannels(this.build).value.filter(
      ({ channel }) => channel.toLowerCase() !== entry.channel.toLowerCase(),
    );
    const path = channelsPath(this.build);
    const text = printChannels([...rest, entry]);
    this.project.setText(path, text);
    return { path, text };
  }

  /** Runs every plausible slip against all captures. */
  diagnose(stage: number, progress: (share: number) => boolean): BringupDiagnosis | undefined {
    const kept = toldChannels(this.build);
    const observed = this.#captures.flatMap(
      ({ capture }, k) =>
        (k === this.#captures.length - 1 && this.#reading?.setting.stage === stage
          ? this.#reading
          : readStageCapture(this.build, stage, capture, kept.value)
        ).observed ?? [],
    );
    if (observed.length === 0) return undefined;
    const found = diagnoseStage(this.build, stage, observed, progress);
    if (found === undefined) return undefined;
    this.#found = found;
    this.#guide = undefined;
    const { diagnosis } = found;
    const row = this.#rows();
    return {
      verdict: diagnosis.verdict,
      correct: diagnosis.correct,
      hypotheses: diagnosis.hypotheses,
      groups: diagnosis.groups
        .filter(({ holdsCorrect, places }) => !holdsCorrect && places.length > 0)
        .slice(0, 8)
        .map((group) => ({
          likelihood: group.probability,
          places: group.places.slice(0, 12).map(({ place, probability, fault }) => row(place, fault.text, probability)),
          more: Math.max(0, group.places.length - 12),
        })),
    };
  }

  /** Rows of places with the number and id of the step that put each in. */
  #rows(): (place: PlaceLike, fault: string, likelihood: number) => BringupPlaceRow {
    const steps = new Map<string, { readonly id: string; readonly number: number }>();
    (this.build.wholePlan()?.value.steps ?? []).forEach((step, k) => {
      const key = step.wire ?? step.part;
      if (key !== undefined && (step.do === 'wire' || step.do === 'place') && !steps.has(key))
        steps.set(key, { id: step.id, number: k + 1 });
    });
    return (place, fault, likelihood) => {
      const step = steps.get(place.wire ?? place.part ?? '');
      return {
        text: place.text,
        fault,
        likelihood,
        holes: place.holes,
        wire: place.wire,
        part: place.part,
        pin: place.pin,
        step: step?.number,
        stepId: step?.id,
      };
    };
  }

  /** What to measure next; undefined where nothing was diagnosed. */
  guide(problem?: string): BringupGuide | undefined {
    if (this.#found === undefined) return undefined;
    this.#guide ??= new Guide(this.build, this.#found);
    const next = this.#guide.next();
    const row = this.#rows();
    return {
      question:
        next === undefined
          ? undefined
          : {
              kind: next.measurement.kind,
              text: next.text,
              net: 'net' in next.measurement ? next.measurement.net : undefined,
              holes: next.holes,
            },
      answers: this.#guide.answers,
      places: this.#guide
        .places()
        .filter(({ probability }, k) => k < 3 || probability > 0.004)
        .slice(0, 9)
        .map(({ place, probability, fault }) => row(place, fault, probability)),
      problem,
    };
  }

  /** Takes an answer: typed words, or the word on a button of the question. */
  answer(text: string, isButton: boolean): BringupGuide | undefined {
    const next = this.#guide?.next();
    if (this.#guide === undefined) return undefined;
    if (isButton && next?.measurement.kind === 'look') {
      this.#guide.take(
        next.measurement,
        { kind: 'look', wrong: text === 'wrong' },
        `${next.measurement.place.text}: ${text}`,
      );
      return this.guide();
    }
    const words =
      isButton && next !== undefined && 'net' in next.measurement ? `${next.measurement.net} ${text}` : text;
    return this.guide(this.#guide.say(words));
  }
}

type PlaceLike = {
  readonly text: string;
  readonly holes: readonly string[];
  readonly wire?: string;
  readonly part?: string;
  readonly pin?: string;
};

/** Nets worth a waveform: the processor's clock, reset, strobes and buses. */
function shownNets(setting: CaptureReading['setting']): string[] {
  const { processor, clock, reset } = setting;
  const signals = ['fetch', 'sync', 'read', 'write', 'rw', 'memory', 'io', 'e'].map((signal) =>
    processor?.signals.get(signal),
  );
  return [clock, reset?.net, ...signals, ...(processor?.address ?? []), ...(processor?.data ?? [])].filter(
    (net): net is string => net !== undefined,
  );
}

/** What a meter, a counter or an analyser shows of a net, in words. */
function expectation(level: Uint8Array, rateHz: number): string {
  let rises = 0;
  let high = 0;
  let known = 0;
  let last = 2;
  for (const value of level) {
    if (value === 2) {
      last = 2;
      continue;
    }
    known++;
    high += value;
    if (last === 0 && value === 1) rises++;
    last = value;
  }
  if (known === 0) return 'not known';
  if (known < level.length * 0.5) return 'driven now and then';
  if (high === 0) return 'low';
  if (high === known) return 'high';
  if (rises < 3) return high > known / 2 ? 'high, low at first' : 'low, high at first';
  const hertz = (rises / level.length) * 2 * rateHz;
  const text =
    hertz >= 1e6
      ? `${(hertz / 1e6).toPrecision(4)} MHz`
      : hertz >= 1e3
        ? `${(hertz / 1e3).toPrecision(4)} kHz`
        : `${hertz.toPrecision(3)} Hz`;
  return `${text}, high ${Math.round((100 * high) / known)} %`;
}

function order(nets: readonly WaveNet[]): Waves['rows'] {
  const rows: { label: string; nets: number[] }[] = [];
  const buses = new Map<string, { number: number; at: number }[]>();
  nets.forEach(({ net }, at) => {
    const match = /^(\D*?)(\d+)$/.exec(net);
    const key = match === null ? undefined : match[1]!;
    if (key === undefined || key === '') rows.push({ label: net, nets: [at] });
    else {
      const list = buses.get(key) ?? [];
      if (list.length === 0) {
        buses.set(key, list);
        rows.push({ label: key, nets: [] });
      }
      list.push({ number: Number(match![2]), at });
    }
  });
  for (const row of rows) {
    const list = buses.get(row.label);
    if (list === undefined || row.nets.length > 0) continue;
    list.sort((a, b) => b.number - a.number);
    row.nets = list.map(({ at }) => at);
    const [first, last] = [list[0]!.number, list.at(-1)!.number];
    row.label = list.length === 1 ? `${row.label}${first}` : `${row.label}${first}–${row.label}${last}`;
  }
  return rows;
}

function predictedWaves(
  predicted: {
    readonly halves: number;
    readonly sinceReset: number | null;
    readonly firstHigh: boolean;
    readonly half: number;
    readonly nets: readonly { readonly net: string; readonly level: Uint8Array }[];
  },
  ruler: readonly RulerItem[],
): Waves {
  const nets = predicted.nets.map(
    ({ net, level }): WaveNet => ({ net, predicted: level, captured: undefined, first: undefined }),
  );
  return {
    halves: predicted.halves,
    sinceReset: predicted.sinceReset,
    half: predicted.half,
    nets,
    rows: order(nets),
    predictedRuler: ruler,
    capturedRuler: [],
    first: undefined,
  };
}

function wavesOf(reading: CaptureReading): Waves {
  const { observed, predicted, comparison, bus } = reading;
  const halves = Math.min(observed!.halves, MOST_SHOWN);
  const offset = comparison?.offset ?? null;
  const nets = observed!.nets.map((seen): WaveNet => {
    const captured = seen.level.map((level, h) => (seen.known[h] === 1 ? level : 2)).slice(0, halves);
    const told = predicted?.nets.find((one) => one.net === seen.net)?.level;
    let own: Uint8Array | undefined;
    if (told !== undefined && offset !== null) {
      own = new Uint8Array(halves).fill(2);
      for (let h = Math.max(0, -offset); h < halves && h + offset < told.length; h++) own[h] = told[h + offset]!;
    }
    return {
      net: seen.net,
      predicted: own,
      captured,
      first: comparison?.nets.find((one) => one.net === seen.net)?.firstDifference ?? undefined,
    };
  });
  const shift = (items: readonly RulerItem[], by: number): RulerItem[] =>
    items.flatMap(({ from, to, text }) =>
      to + by > 0 && from + by < halves ? [{ from: from + by, to: to + by, text }] : [],
    );
  return {
    halves,
    sinceReset: observed!.sinceReset,
    half: 0.5 / reading.setting.rateHz,
    nets,
    rows: order(nets),
    predictedRuler:
      offset === null || reading.predictedBus === undefined
        ? []
        : shift(rulerOf(reading.predictedBus.instructions), -offset),
    capturedRuler: shift(rulerOf(bus?.instructions ?? []), 0),
    first: comparison?.firstDifference?.half,
  };
}

const rulerOf = (
  instructions: readonly { readonly from: number; readonly to: number; readonly text: string }[],
): RulerItem[] => instructions.map(({ from, to, text }) => ({ from, to, text }));

function firstWords(reading: CaptureReading): string | undefined {
  const first = reading.comparison?.firstDifference;
  if (first === undefined || first === null) return undefined;
  const nets = first.nets
    .slice(0, 3)
    .map(
      ({ net, captured }) =>
        `${net} is ${captured === 1 ? 'high' : 'low'} and should be ${captured === 1 ? 'low' : 'high'}`,
    );
  const more = first.nets.length > 3 ? `, and ${first.nets.length - 3} more` : '';
  const when = first.sinceReset === null ? '' : `, ${Math.max(0, Math.floor(first.sinceReset / 2))} clocks after reset`;
  return `${nets.join('; ')}${more}${when}.`;
}
