// The independent source of captures: boards read on their own, chips and a Z80 in Verilog of their own, physics drawn by seed, an
// IEEE 1364 simulator, free sampling. What it shares with the diagnosis is layout.json, images and fuse files, and nothing else
// (the seeded numbers of src/base aside).

import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createRng } from '../../src/base/index.ts';
import { type BenchOptions, benchText, type Physics } from './bench.ts';
import {
  type LayoutFile,
  type PartEntry,
  readBench,
  readHole,
  type SourceFault,
  standing,
  stripName,
} from './boards.ts';
import { chipOf, SOURCES } from './chips.ts';
import { memoryText, readHex } from './images.ts';
import { type Changes, type Spoiled, sample } from './sampling.ts';

/** Files of a machine at a stage, as texts. */
export interface SourceMachine {
  readonly layout: LayoutFile;
  /** Intel HEX of each ROM part. */
  readonly images: Readonly<Record<string, string>>;
  /** Fuse file of each logic device. */
  readonly fuses: Readonly<Record<string, string>>;
  /** Images that a part could hold by mistake, by a name. */
  readonly otherImages?: Readonly<Record<string, string>>;
  readonly clockHz: number;
}

export interface CaptureOptions {
  readonly stage: number;
  readonly fault?: SourceFault;
  /** Nets to hook up: names, with the hole of the probe where it is not to be chosen. */
  readonly channels: readonly (string | { readonly net: string; readonly hole: string })[];
  readonly seed: number;
  /** Clocks after reset. */
  readonly clocks: number;
  /** Default: drawn. */
  readonly format?: 'vcd' | 'csv';
  readonly samplesPerClock?: number;
  readonly lateHalves?: number | 'none';
  readonly clean?: boolean;
  /** False leaves out the comparison with good power-ups, which takes twelve runs once for each set of channels and clocks. */
  readonly alters?: false;
}

export interface MadeCapture {
  readonly captureText: string;
  readonly format: 'vcd' | 'csv';
  readonly truth: {
    readonly fault: SourceFault | undefined;
    readonly physics: Physics;
    readonly spoiled: Spoiled;
    readonly clockHz: number;
    /** ns of half a clock period of this machine. */
    readonly halfNs: number;
    readonly holes: readonly (string | undefined)[];
    /** Levels at the end of each half clock after the reset, a digit per channel, as they were. */
    readonly halves: readonly string[];
    /** What the terminal received, as bytes. */
    readonly serial: readonly number[];
  };
  /** Something on the channels differs, within the capture, from what all good power-ups agree on. */
  readonly alters: boolean;
  /** How many half clocks differ, and the first of them (counted from the reset), or -1. */
  readonly differs: number;
  readonly first: number;
}

/** Whether the source can work here. */
export function canCapture(): boolean {
  const found = spawnSync('iverilog', ['-V'], { encoding: 'utf8' });
  return found.error === undefined && /Icarus Verilog/.test(found.stdout);
}

/** Legs of the Z80 that bear the names nets usually have. */
const LEGS: Readonly<Record<string, number>> = {
  'cpu-clock': 6,
  '/reset': 26,
  '/INT': 16,
  '/NMI': 17,
  '/HALT': 18,
  '/MREQ': 19,
  '/IORQ': 20,
  '/RD': 21,
  '/WR': 22,
  '/WAIT': 24,
  '/BUSREQ': 25,
  '/M1': 27,
  '/RFSH': 28,
  ...Object.fromEntries(Array.from({ length: 11 }, (_, k) => [`A${k}`, 30 + k])),
  ...Object.fromEntries(Array.from({ length: 5 }, (_, k) => [`A${11 + k}`, 1 + k])),
  ...Object.fromEntries([14, 15, 12, 8, 7, 9, 10, 13].map((pin, k) => [`D${k}`, pin])),
};

/** Where a probe for a net goes: the hole kept for it, else a hole beside the processor's leg, else where a wire of the net ends. */
export function probeHole(layout: LayoutFile, stage: number, net: string): string | undefined {
  const kept = (layout.probes ?? []).find(
    (probe) => probe.net === net && probe.stage <= stage && (probe.until === undefined || stage < probe.until),
  );
  if (kept !== undefined) return kept.hole;
  const { parts, wires } = standing(layout, stage);
  const ends = wires.filter((wire) => wire.net === net).flatMap((wire) => [wire.from, wire.to]);
  const leg = parts.find((part) => part.type === 'Z80')?.leads.find((lead) => lead.number === LEGS[net])?.hole;
  const strip = (hole: string): string | undefined => stripName(layout, readHole(hole));
  if (leg !== undefined && ends.some((end) => strip(end) === strip(leg))) return leg;
  return ends[0] ?? leg;
}

interface Run {
  readonly changes: readonly Changes[];
  readonly halves: readonly string[];
  readonly serial: readonly number[];
  readonly physics: Physics;
  readonly halfNs: number;
  readonly resetNs: number;
  readonly endNs: number;
}

function run(
  machine: SourceMachine,
  stage: number,
  fault: SourceFault | undefined,
  holes: readonly (string | undefined)[],
  clocks: number,
  seed: number,
  corner?: BenchOptions['corner'],
): Run {
  const rng = createRng(seed);
  const bench = readBench(machine.layout, stage, fault);
  const folder = mkdtempSync(join(tmpdir(), 'proofboard-capture-'));
  try {
    const images = new Map<string, string>();
    const size = (part: PartEntry): number => (/64$/.test(part.type) ? 8192 : 32768);
    for (const part of bench.parts) {
      if (chipOf(part.type)?.holds !== 'rom') continue;
      const hex =
        fault?.kind === 'device-other-image' && fault.part === part.part
          ? machine.otherImages?.[fault.image]
          : machine.images[part.part];
      if (hex === undefined) continue;
      const file = join(folder, `image${images.size}.hex`);
      writeFileSync(file, memoryText(readHex(hex, size(part))));
      images.set(part.part, file);
    }
    const made = benchText(bench, {
      clockHz: machine.clockHz,
      resetClocks: 16 + rng.below(24),
      clocks,
      channels: holes.map((hole) => (hole === undefined ? -1 : (bench.nodeAtHole(hole) ?? -1))),
      images,
      fuses: new Map(Object.entries(machine.fuses)),
      rng,
      // 9600 baud at the rate the machine really has, its half period being whole ns.
      bitNs: Math.round((machine.clockHz / 9600) * 2 * Math.round(0.5e9 / machine.clockHz)),
      ...(fault === undefined ? {} : { fault }),
      ...(corner === undefined ? {} : { corner }),
    });
    const source = join(folder, 'bench.v');
    const program = join(folder, 'bench.vvp');
    writeFileSync(source, made.text);
    execFileSync('iverilog', ['-g2005', '-s', 'bench', '-o', program, ...SOURCES, source], {
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    const done = spawnSync('vvp', ['-n', program], { encoding: 'utf8', timeout: 600_000, maxBuffer: 1 << 29 });
    if (done.status !== 0) throw new Error(`vvp ended with ${done.status ?? done.signal}: ${done.stderr}`);
    const endNs = made.resetNs + clocks * 2 * made.halfNs;
    return { ...read(done.stdout, holes.length, made.halfNs, made.resetNs, endNs), ...made, endNs };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Changes by channel, and the levels just before each edge of the clock after the reset. */
function read(
  text: string,
  channels: number,
  halfNs: number,
  resetNs: number,
  endNs: number,
): Pick<Run, 'changes' | 'halves' | 'serial'> {
  const changes = Array.from({ length: channels }, () => ({ ns: [] as number[], level: [] as (0 | 1)[] }));
  const halves: string[] = [];
  const serial: number[] = [];
  const first = Math.floor(resetNs / halfNs) + 1;
  let edge = first;
  const last = new Int8Array(channels).fill(-1);
  let now = '0'.repeat(channels);
  const until = (ns: number): void => {
    for (; edge * halfNs <= ns; edge++) halves.push(now);
  };
  for (const line of text.split('\n')) {
    if (line.startsWith('serial ')) {
      serial.push(Number.parseInt(line.slice(7), 16));
      continue;
    }
    const found = /^(\d+) ([0-9a-f]+)$/.exec(line);
    if (found === null) continue;
    const ns = Number(found[1]);
    // Levels at the edge itself are those before it: what changes there belongs to the next half clock.
    until(ns);
    const digits = found[2]!;
    let row = '';
    for (let c = 0; c < channels; c++) {
      const nibble = Number.parseInt(digits[digits.length - 1 - (c >> 2)] ?? '0', 16);
      const level = ((nibble >> (c & 3)) & 1) as 0 | 1;
      row += level;
      if (last[c] === level) continue;
      last[c] = level;
      const list = changes[c]!;
      if (list.ns.at(-1) === ns) {
        list.ns.pop();
        list.level.pop();
      }
      list.ns.push(ns);
      list.level.push(level);
    }
    now = row;
  }
  until(endNs - 1);
  for (const list of changes)
    if (list.ns.length === 0) {
      list.ns.push(0);
      list.level.push(0);
    }
  return { changes, halves, serial };
}

/** ns before and after an edge of the clock in which a change leaves the level there to chance. */
const NEAR = [60, 30] as const;

/** The levels at the ends of half clocks, `?` where a little more or less delay would have given another. */
function surely({ halves, changes, halfNs, resetNs }: Run): string[] {
  const first = Math.floor(resetNs / halfNs) + 1;
  const rows = halves.map((row) => [...row]);
  changes.forEach(({ ns }, channel) => {
    for (const at of ns) {
      const edge = Math.round(at / halfNs);
      const off = at - edge * halfNs;
      const row = rows[edge - first];
      if (row !== undefined && off !== 0 && off > -NEAR[0] && off < NEAR[1]) row[channel] = '?';
    }
  });
  return rows.map((row) => row.join(''));
}

/** Good power-ups compared with: the corners of what is drawn, and some in between. More of them leave less that is chance. */
const CORNERS: readonly BenchOptions['corner'][] = (['hold', '0', '1'] as const).flatMap((undriven) =>
  (['fast', 'slow', 'any'] as const).map((speed) => ({ undriven, speed })),
);
const GOOD = [...CORNERS, undefined, undefined, undefined];
const good = new Map<string, readonly string[]>();

/** Levels that every good power-up agrees on, a digit per channel and half clock; `-` where they don't. */
function agreed(
  machine: SourceMachine,
  stage: number,
  holes: readonly (string | undefined)[],
  clocks: number,
): readonly string[] {
  const key = JSON.stringify([machine.layout, machine.images, machine.fuses, machine.clockHz, stage, holes, clocks]);
  const known = good.get(key);
  if (known !== undefined) return known;
  const runs = GOOD.map((corner, k) => surely(run(machine, stage, undefined, holes, clocks, 900_001 + k, corner)));
  const length = Math.min(...runs.map((halves) => halves.length));
  const made = Array.from({ length }, (_, h) =>
    [...runs[0]![h]!]
      .map((level, c) => (level !== '?' && runs.every((halves) => halves[h]![c] === level) ? level : '-'))
      .join(''),
  );
  good.set(key, made);
  return made;
}

/** Makes one capture. Deterministic by its arguments. */
export function makeCapture(machine: SourceMachine, options: CaptureOptions): MadeCapture {
  const { stage, clocks, fault } = options;
  const names = options.channels.map((one) => (typeof one === 'string' ? one : one.net));
  const holes = options.channels.map((one) =>
    typeof one === 'string' ? probeHole(machine.layout, stage, one) : one.hole,
  );
  const made = run(machine, stage, fault, holes, clocks, options.seed);
  const rng = createRng(options.seed + 500_000_000);
  const format = options.format ?? (rng.below(2) === 0 ? 'vcd' : 'csv');
  const { text, spoiled } = sample({
    names,
    channels: made.changes,
    clock: names.indexOf('cpu-clock'),
    periodNs: made.halfNs * 2,
    resetNs: made.resetNs,
    endNs: made.endNs,
    rng,
    format,
    ...(options.samplesPerClock === undefined ? {} : { samplesPerClock: options.samplesPerClock }),
    ...(options.lateHalves === undefined ? {} : { lateHalves: options.lateHalves }),
    ...(options.clean === undefined ? {} : { clean: options.clean }),
  });
  const wanted = options.alters === false ? [] : agreed(machine, stage, holes, clocks);
  const begin = Math.max(0, Math.ceil((spoiled.fromNs - made.resetNs) / made.halfNs));
  let differs = 0;
  let first = -1;
  for (let h = begin; h < Math.min(wanted.length, made.halves.length); h++) {
    const [now, want] = [made.halves[h]!, wanted[h]!];
    if (now === want) continue;
    let is = false;
    for (let c = 0; c < now.length; c++) if (want[c] !== '-' && want[c] !== now[c]) is = true;
    if (!is) continue;
    differs++;
    if (first < 0) first = h;
  }
  return {
    captureText: text,
    format,
    truth: {
      fault,
      physics: made.physics,
      spoiled,
      clockHz: 0.5e9 / made.halfNs,
      halfNs: made.halfNs,
      holes,
      halves: made.halves,
      serial: made.serial,
    },
    alters: differs > 0,
    differs,
    first,
  };
}
