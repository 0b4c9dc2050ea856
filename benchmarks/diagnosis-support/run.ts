// One machine at one stage with one fault drawn by prior: captured by the independent source, read and aligned as a builder's file is,
// diagnosed, and held against the truth. Counted strictly: a group that also holds the machine as meant is no hit.

import { bringupInput } from '../../src/app/bringup-input.ts';
import { readStageCapture } from '../../src/app/capture.ts';
import { Build } from '../../src/app/index.ts';
import { createRng } from '../../src/base/index.ts';
import {
  type Bench,
  type Diagnosis,
  evaluate,
  type Fault,
  makeFaults,
  type Observed,
  type Prepared,
  prepare,
  rank,
  type ClassResult,
} from '../../src/bringup/index.ts';
import { writeIntelHex } from '../../src/format/intel-hex/index.ts';
import { imagesOf } from '../../src/app/images.ts';
import { readCapture } from '../../src/format/capture/index.ts';
import { readDemo } from '../support/demo.ts';
import {
  allFaults,
  drawFault,
  makeCapture,
  type MadeCapture,
  readProject,
  type SourceFault,
  type SourceMachine,
} from '../bringup-source/index.ts';

export interface Setting {
  readonly name: string;
  readonly stage: number;
  readonly build: Build;
  readonly machine: SourceMachine;
  readonly input: NonNullable<ReturnType<typeof bringupInput>>;
  readonly faults: readonly Fault[];
}

export const CHANNELS = [
  'cpu-clock',
  '/reset',
  '/RD',
  '/WR',
  'A0',
  'A1',
  'A2',
  'A3',
  'D0',
  'D1',
  'D2',
  'D3',
  'D4',
  'D5',
  'D6',
  'D7',
];

/** A demo machine at a stage, its memories with what they hold then. */
export function settingOf(name: string, stage: number): Setting {
  const build = new Build(readDemo(name), 'first');
  const input = bringupInput(build, stage);
  if (input === undefined) throw new Error(`${name} has no layout`);
  const files = readProject(`projects/${name}`);
  const texts: Record<string, string> = {};
  for (const [part, bytes] of imagesOf(build, stage).images)
    texts[part] = writeIntelHex({ blocks: [{ address: 0, bytes }] });
  const machine: SourceMachine = { ...files, images: texts };
  return {
    name,
    stage,
    build,
    machine,
    input,
    faults: makeFaults(input.bench, { otherImages: input.otherImages, leftIn: input.leftIn }),
  };
}

/** Keys of the places where a fault of the source is to be mended. */
export function placesOf(bench: Bench, fault: SourceFault): string[] {
  switch (fault.kind) {
    case 'wire-absent':
    case 'end-open':
    case 'end-aside':
    case 'rail-dead':
      return [`wire ${fault.wire}`];
    case 'ends-exchanged':
    case 'bus-reversed':
      return fault.wires.map((wire) => `wire ${wire}`);
    case 'strips-bridged': {
      const [a, b] = fault.holes.map((hole) => bench.stripNames[bench.strip(hole)]!);
      return [`strips ${a} ${b}`];
    }
    case 'leg-bent': {
      const pin = bench.pins.find(
        (one) => bench.netlist.parts[one.part]!.name === fault.part && one.number === fault.pin,
      );
      return [`leg ${pin?.ref ?? ''}`];
    }
    case 'tie-wrong-rail':
    case 'strap-left-in':
      return ['wire' in fault ? `wire ${fault.wire}` : `part ${fault.part}`];
    default:
      return [`part ${fault.part}`];
  }
}

export interface Row {
  readonly machine: string;
  readonly stage: number;
  readonly seed: number;
  readonly fault: string;
  readonly places: readonly string[];
  readonly visible: boolean;
  readonly withReset: boolean;
  readonly verdict: string;
  readonly correct: number;
  /** Rank of the group that holds a right place and not the machine as meant, from 0; -1 none. */
  readonly group: number;
  /** Rank of the right place among all places. */
  readonly place: number;
  readonly groupPlaces: number;
  /** Probability given to the first place. */
  readonly sure: number;
  readonly first: number;
  readonly differs: number;
  readonly goodNats: number;
  readonly bestNats: number;
  readonly truthNats: number;
  readonly cpuMs: number;
  readonly halves: number;
  readonly classes: number;
}

export interface Run {
  readonly made: MadeCapture;
  readonly observed: Observed | undefined;
  readonly fault: SourceFault | undefined;
}

/** Captures once. `fault` is drawn where it is `draw`. */
export function capture(
  setting: Setting,
  seed: number,
  which: 'draw' | 'none',
  options: {
    readonly clocks: number;
    readonly late?: boolean;
    readonly channels?: readonly string[];
    readonly fault?: SourceFault;
  },
): Run {
  const { machine, stage } = setting;
  const rng = createRng(seed);
  const fault =
    options.fault ??
    (which === 'none'
      ? undefined
      : drawFault(allFaults(machine.layout, stage, Object.keys(machine.otherImages ?? {})), rng));
  const channels = options.channels ?? CHANNELS;
  const made = makeCapture(machine, {
    stage,
    channels,
    seed,
    clocks: options.clocks,
    samplesPerClock: 6 + rng.below(15),
    lateHalves: options.late === true ? 4 + rng.below(500) : 'none',
    ...(fault === undefined ? {} : { fault }),
    ...(which === 'none' ? { alters: false as const } : {}),
  });
  const bytes = Uint8Array.from(made.captureText, (character) => character.charCodeAt(0) & 0xff);
  const read = readCapture(`capture.${made.format}`, bytes).value;
  const told = channels.map((net) => ({ channel: net, net }));
  const reading = read === undefined ? undefined : readStageCapture(setting.build, stage, read, told);
  return { made, observed: reading?.observed, fault };
}

export interface Outcome {
  readonly row: Row;
  readonly prepared: Prepared;
  readonly results: readonly ClassResult[];
  readonly diagnosis: Diagnosis;
}

/** Diagnoses a capture. */
export function diagnose(setting: Setting, seed: number, run: Run, observed: readonly Observed[]): Outcome {
  const { input, faults } = setting;
  const before = process.cpuUsage().user;
  const prepared = prepare({ bench: input.bench, plan: input.plan, faults, observed, images: input.images });
  const results = evaluate(prepared);
  const diagnosis = rank(prepared, [results]);
  const cpuMs = (process.cpuUsage().user - before) / 1000;
  const keys = run.fault === undefined ? [] : placesOf(input.bench, run.fault);
  const isRight = (place: { readonly key: string }): boolean => keys.includes(place.key);
  const group = diagnosis.groups.findIndex(
    ({ places, holdsCorrect }) => !holdsCorrect && places.some(({ place }) => isRight(place)),
  );
  const place = diagnosis.places.findIndex((one) => isRight(one.place));
  const truth = results
    .filter(({ at }) => prepared.classes[at]!.members.some((member) => faults[member]!.places.some(isRight)))
    .reduce((most, { nats }) => Math.max(most, nats), Number.NEGATIVE_INFINITY);
  return {
    prepared,
    results,
    diagnosis,
    row: {
      machine: setting.name,
      stage: setting.stage,
      seed,
      fault: JSON.stringify(run.fault ?? null),
      places: keys,
      visible: run.made.alters,
      withReset: observed[0]?.sinceReset !== null,
      verdict: diagnosis.verdict,
      correct: diagnosis.correct,
      group,
      place,
      groupPlaces: diagnosis.groups[0]?.places.length ?? 0,
      sure: diagnosis.places[0]?.probability ?? 0,
      first: run.made.first,
      differs: run.made.differs,
      goodNats: prepared.captures[0]!.good.nats,
      bestNats: Math.max(...results.map(({ nats }) => nats)),
      truthNats: truth,
      cpuMs,
      halves: diagnosis.halves,
      classes: prepared.classes.length,
    },
  };
}

/** Lower and upper 95 % bound of Wilson for `hits` of `n`. */
export function wilson(hits: number, n: number): readonly [number, number] {
  if (n === 0) return [0, 1];
  const z = 1.959964;
  const p = hits / n;
  const middle = (p + (z * z) / (2 * n)) / (1 + (z * z) / n);
  const half = (z / (1 + (z * z) / n)) * Math.sqrt((p * (1 - p)) / n + (z * z) / (4 * n * n));
  return [Math.max(0, middle - half), Math.min(1, middle + half)];
}

export const percent = (hits: number, n: number): string => {
  const [low, high] = wilson(hits, n);
  return `${((100 * hits) / Math.max(1, n)).toFixed(1)} % [${(100 * low).toFixed(1)}-${(100 * high).toFixed(1)}] (${hits} of ${n})`;
};
