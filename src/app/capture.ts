// A stage's machine as captures see it: nets, leads, clock and reset of its processor, what the simulator predicts, and which
// channel was told to show what. The host reads the file; everything after it is here.

import { type Finding, foldName, sortFindings } from '../base/index.ts';
import {
  alignCapture,
  type BusNets,
  type BusReading,
  type Capture,
  type ChannelMatch,
  type Comparison,
  compareTraces,
  findPlace,
  type Lead,
  matchByShape,
  matchChannels,
  type Observed,
  type Predicted,
  predictTrace,
  probeOf,
  readBus,
  type ToldChannel,
} from '../bringup/index.ts';
import { expandRange, pinsNamed } from '../parts/index.ts';
import { buildCircuit, type Circuit, resetNs, type SimContents } from '../sim/index.ts';
import { bringupInput } from './bringup-input.ts';
import type { Build } from './build.ts';
import { simInput } from './sim-input.ts';
import { imagesOf } from './images.ts';

/** The processor's nets by what they are for, as part records name it. */
export interface ProcessorNets {
  readonly part: string;
  readonly style: string;
  /** Highest bit first; undefined where the pin is on no net. */
  readonly address: readonly (string | undefined)[];
  readonly data: readonly (string | undefined)[];
  readonly signals: ReadonlyMap<string, string>;
}

/** What a capture at a stage is held against. */
export interface CaptureSetting {
  readonly stage: number;
  readonly nets: readonly string[];
  readonly leads: readonly Lead[];
  readonly clock: string | undefined;
  readonly rateHz: number;
  readonly reset: { readonly net: string; readonly active: 0 | 1 } | undefined;
  readonly processor: ProcessorNets | undefined;
  readonly circuit: Circuit;
  readonly contents: SimContents;
  /** ns after power-up at which reset is let go, about. */
  readonly resetNs: number;
  readonly findings: readonly Finding[];
}

/** The setting of a stage. Kept by the project until a file changes. */
export function captureSetting(build: Build, stage: number): CaptureSetting {
  const design = build.design();
  const layout = build.layout().value;
  return build.project.memo(`capture setting ${build.name} ${stage}`, [design, layout], () => {
    const { images, findings } = imagesOf(build, stage);
    const input = simInput(build, stage, { images });
    const made = buildCircuit(input.netlist, input.contents);
    const circuit = made.value;
    const index = input.netlist.parts.findIndex((part) => part.record.category === 'processor');
    const part = input.netlist.parts[index];
    const netOf = (pin: string | undefined): string | undefined => {
      const row = pin === undefined || part === undefined ? undefined : pinsNamed(part.record, pin)[0];
      const net = row === undefined ? undefined : circuit.netOfPin.get(index * 256 + row.number);
      return net === undefined || circuit.nets[net]!.startsWith('.') ? undefined : circuit.nets[net];
    };
    const bus = part?.record.bus;
    const given = bus?.signals ?? {};
    const signals = new Map<string, string>();
    for (const [signal, pin] of Object.entries(given)) {
      const net = netOf(pin);
      if (net !== undefined) signals.set(signal, net);
    }
    const linesOf = (text: string | undefined): (string | undefined)[] =>
      (text === undefined ? [] : text.split(/\s*,\s*/).flatMap((one) => expandRange(one) ?? [one])).map(netOf);
    const oscillator = circuit.sources.find((source) => source.rateHz !== undefined);
    const clock = signals.get('clock') ?? (oscillator === undefined ? undefined : circuit.nets[oscillator.net]);
    const rate =
      design.clocks.find(({ net }) => net !== undefined && clock !== undefined && foldName(net) === foldName(clock))
        ?.rateHz ?? oscillator?.rateHz;
    const reset = signals.get('reset');
    const leads = design.leads.filter(
      (lead) => lead.stage <= stage && (lead.until === undefined || stage < lead.until),
    );
    return {
      stage,
      nets: circuit.nets.filter((net) => !net.startsWith('.')),
      leads: leads.map(({ pod, channel, net }) => ({ pod, channel, net })),
      clock,
      rateHz: rate ?? 1e6,
      reset: reset === undefined ? undefined : { net: reset, active: (given.reset ?? '').startsWith('/') ? 0 : 1 },
      processor:
        part === undefined || bus === undefined
          ? undefined
          : {
              part: part.name,
              style: bus.style ?? '',
              address: linesOf(bus.address),
              data: linesOf(bus.data),
              signals,
            },
      circuit,
      contents: input.contents,
      resetNs: resetNs(input.netlist),
      findings: [...findings, ...input.findings, ...made.findings],
    };
  });
}

/** Half clocks predicted at most: the program's start and a good stretch of what follows. */
const MOST_HALVES = 200_000;

/**
 * What the nets of a stage do with one content of RAM, registers and flip-flops at power-up, by its seed; undefined where
 * nothing swings.
 */
export function runStage(
  setting: CaptureSetting,
  nets: readonly string[],
  halves: number,
  seed: number,
): Predicted | undefined {
  if (setting.clock === undefined) return undefined;
  return predictTrace(
    setting.circuit,
    { ...setting.contents, seed },
    {
      nets,
      clock: setting.clock,
      reset: setting.reset,
      halves: Math.min(MOST_HALVES, Math.max(4000, halves)),
      startNs: setting.resetNs - 1e6,
      half: 0.5 / setting.rateHz,
    },
  );
}

/** Contents at power-up that a prediction is made with: what differs between them is not known. */
const SEEDS = [1, 2, 3] as const;

/**
 * What the nets of a stage should do, whatever RAM, registers and flip-flops hold at power-up; undefined where nothing swings. Where
 * one line of a bus depends on it the whole bus does, for some lines agree by chance; where the address does, everything does.
 */
export function predictStage(setting: CaptureSetting, nets: readonly string[], halves: number): Predicted | undefined {
  const [one, ...others] = SEEDS.flatMap((seed) => runStage(setting, nets, halves, seed) ?? []);
  if (one === undefined) return undefined;
  const groups = new Map<string, number[]>();
  one.nets.forEach(({ net }, k) => {
    const key = foldName(/^(\D+)\d+$/.exec(net)?.[1] ?? net);
    groups.set(key, [...(groups.get(key) ?? []), k]);
  });
  const outside = new Set([setting.clock, setting.reset?.net].map((net) => foldName(net ?? '')));
  const address = new Set((setting.processor?.address ?? []).map((net) => foldName(net ?? '')));
  const levels = one.nets.map(({ level }) => level.slice());
  const openAt = (members: readonly number[], half: number): boolean =>
    members.some((k) => others.some((other) => other.nets[k]!.level[half] !== one.nets[k]!.level[half]));
  const isAddress = (members: readonly number[]): boolean => address.has(foldName(one.nets[members[0]!]!.net));
  const addressLines = [...groups.values()].filter(isAddress).flat();
  const inside = one.nets.flatMap(({ net }, k) => (outside.has(foldName(net)) ? [] : [k]));
  for (let half = 0; half < one.halves; half++) {
    if (openAt(addressLines, half)) {
      for (const k of inside) levels[k]![half] = 2;
      continue;
    }
    for (const members of groups.values()) if (openAt(members, half)) for (const k of members) levels[k]![half] = 2;
  }
  return { ...one, nets: one.nets.map(({ net }, k) => ({ net, level: levels[k]! })) };
}

/** The processor's bus over traces of nets. */
export function busNets(
  setting: CaptureSetting,
  nets: readonly { readonly net: string; readonly level: Uint8Array; readonly known?: Uint8Array }[],
): BusNets | undefined {
  const { processor } = setting;
  if (processor === undefined) return undefined;
  const byName = new Map(nets.map((net) => [foldName(net.net), net]));
  const get = (net: string | undefined) => (net === undefined ? undefined : byName.get(foldName(net)));
  const signals = new Map(
    [...processor.signals].flatMap(([signal, net]) => {
      const trace = get(net);
      return trace === undefined ? [] : [[signal, trace] as const];
    }),
  );
  return {
    style: processor.style,
    address: processor.address.map(get),
    data: processor.data.map(get),
    signals,
    names: processor.signals,
  };
}

/** A capture held against its stage. */
export interface CaptureReading {
  readonly setting: CaptureSetting;
  readonly matches: readonly ChannelMatch[];
  readonly observed: Observed | undefined;
  readonly predicted: Predicted | undefined;
  readonly comparison: Comparison | undefined;
  /** Cycles and instructions of the capture, and of the prediction. */
  readonly bus: BusReading | undefined;
  readonly predictedBus: BusReading | undefined;
  readonly findings: readonly Finding[];
}

/** Tells channels, aligns, compares, and reads the bus. */
export function readStageCapture(
  build: Build,
  stage: number,
  capture: Capture,
  told: readonly ToldChannel[],
): CaptureReading {
  const setting = captureSetting(build, stage);
  const findings: Finding[] = [...setting.findings];
  const matched = matchChannels(capture, { nets: setting.nets, leads: setting.leads, told });
  let matches = matched.value;
  const seconds = capture.end - capture.start;
  const halves = Math.ceil(Math.min(MOST_HALVES, 2 * seconds * setting.rateHz + 4000));
  const wanted = [
    ...new Set([
      ...setting.nets.filter((net) => isShown(setting, net, matches)),
      ...setting.leads.map(({ net }) => net),
    ]),
  ];
  const predicted = build.project.memo(`predicted ${build.name}`, [setting, wanted.join(' '), halves], () =>
    predictStage(setting, wanted, halves),
  );
  const align = (): ReturnType<typeof alignCapture> =>
    alignCapture(capture, matches, {
      clock: setting.clock,
      rateHz: setting.rateHz,
      reset: setting.reset,
      ...(predicted === undefined ? {} : { predicted }),
    });
  let aligned = align();
  if (aligned.value !== undefined && predicted !== undefined) {
    const shaped = matchByShape(capture, matches, aligned.value, predicted);
    findings.push(...shaped.findings);
    if (JSON.stringify(shaped.value) !== JSON.stringify(matches)) {
      matches = shaped.value;
      aligned = align();
    }
  }
  const isTold = new Set(matches.map((match) => capture.channels[match.channel]!.name));
  findings.push(
    ...matched.findings.filter(
      ({ about, code }) => code !== 'bringup/channel-unmatched' || !(about ?? []).some((name) => isTold.has(name)),
    ),
    ...aligned.findings,
  );
  const observed = aligned.value;
  const place = observed === undefined || predicted === undefined ? undefined : findPlace(observed, predicted);
  const comparison =
    observed === undefined || predicted === undefined
      ? undefined
      : compareTraces(observed, predicted, place, setting.clock);
  const bus = observed === undefined ? undefined : busNets(setting, observed.nets);
  const own = predicted === undefined ? undefined : busNets(setting, predicted.nets);
  return {
    setting,
    matches,
    observed,
    predicted,
    comparison,
    bus: bus === undefined ? undefined : readBus(bus, 0, observed!.halves),
    predictedBus: own === undefined ? undefined : readBus(own, 0, predicted!.halves),
    findings: sortFindings(findings),
  };
}

/** Nets worth predicting: those that are captured, and all of the processor's. */
function isShown(setting: CaptureSetting, net: string, matches: readonly ChannelMatch[]): boolean {
  const folded = foldName(net);
  if (matches.some((match) => foldName(match.net) === folded)) return true;
  const { processor } = setting;
  if (processor === undefined) return true;
  return [...processor.address, ...processor.data, ...processor.signals.values()].some(
    (one) => one !== undefined && foldName(one) === folded,
  );
}

/** One place to measure at. */
export interface MeasuringPoint {
  readonly net: string;
  /** A hole of its net for a lead or a probe; empty where nothing is laid. */
  readonly hole: string;
  /** `pod 1, 3`, or empty. */
  readonly lead: string;
}

/** Where to measure at a stage: its leads, or without any the processor's clock, reset, strobes and buses. */
export function measuringPoints(build: Build, setting: CaptureSetting): readonly MeasuringPoint[] {
  const bench = bringupInput(build, setting.stage)?.bench;
  const holeOf = (net: string): string => (bench === undefined ? '' : (probeOf(bench, net)?.hole ?? ''));
  if (setting.leads.length > 0)
    return setting.leads.map(({ pod, channel, net }) => ({ net, hole: holeOf(net), lead: `${pod}, ${channel}` }));
  const { processor } = setting;
  const wanted = [
    setting.clock,
    setting.reset?.net,
    ...['fetch', 'sync', 'read', 'write', 'rw'].map((signal) => processor?.signals.get(signal)),
    ...(processor?.address.slice(-4) ?? []),
    ...(processor?.data ?? []),
  ];
  return [...new Set(wanted)].flatMap((net) => (net === undefined ? [] : [{ net, hole: holeOf(net), lead: '' }]));
}

/** Instructions of a prediction. */
export function predictedBus(setting: CaptureSetting, predicted: Predicted): BusReading['instructions'] {
  const bus = busNets(setting, predicted.nets);
  return bus === undefined ? [] : readBus(bus, 0, predicted.halves).instructions;
}

/** Where a build keeps which channel shows which net. */
export function channelsPath(build: Build): string {
  return `${build.folder}/captures/channels.json`;
}

/** What was told before; a file that cannot be read tells nothing and is said. */
export function toldChannels(build: Build): {
  readonly value: readonly ToldChannel[];
  readonly problem: string | undefined;
} {
  const path = channelsPath(build);
  const text = build.project.text(path);
  if (text === undefined) return { value: [], problem: undefined };
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    return { value: [], problem: `${path} is no JSON; tell the channels again.` };
  }
  const list = (json as { readonly channels?: unknown } | null)?.channels;
  if (!Array.isArray(list)) return { value: [], problem: `${path} holds no channels; tell them again.` };
  const value = list.flatMap((entry: unknown): ToldChannel[] => {
    const { channel, net, inverted } = (entry ?? {}) as { channel?: unknown; net?: unknown; inverted?: unknown };
    if (typeof channel !== 'string' || !(typeof net === 'string' || net === null)) return [];
    return [{ channel, net, ...(inverted === true ? { inverted: true } : {}) }];
  });
  return {
    value,
    problem:
      value.length === list.length ? undefined : `${path} has entries that cannot be read; tell those channels again.`,
  };
}

/** The text that keeps them, in the order of channels' names. */
export function printChannels(told: readonly ToldChannel[]): string {
  const sorted = [...told].sort((a, b) => (a.channel < b.channel ? -1 : a.channel > b.channel ? 1 : 0));
  const lines = sorted.map((entry) => `    ${JSON.stringify(entry)}`);
  return `{\n  "format": "proofboard/channels/1",\n  "channels": [\n${lines.join(',\n')}\n  ]\n}\n`;
}
