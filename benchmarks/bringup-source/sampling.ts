// From changes on channels to the text of a capture: free sampling with the spoils of real instruments, told in `Spoiled`.

import type { Rng } from '../../src/base/index.ts';

/** Changes of one channel: ns and level, ascending. */
export interface Changes {
  readonly ns: readonly number[];
  readonly level: readonly (0 | 1)[];
}

export interface Spoiled {
  readonly samplesPerClock: number;
  readonly lateStart: boolean;
  /** ns on the machine's time axis of the first and last sample. */
  readonly fromNs: number;
  readonly toNs: number;
  /** ns by which each channel lags. */
  readonly delays: readonly number[];
  readonly lost: number;
  readonly glitches: number;
  readonly hole: { readonly fromNs: number; readonly samples: number } | undefined;
}

export interface SamplingOptions {
  readonly names: readonly string[];
  readonly channels: readonly Changes[];
  /** Index of the clock's channel, which does not lag, or -1. */
  readonly clock: number;
  readonly periodNs: number;
  readonly resetNs: number;
  readonly endNs: number;
  readonly rng: Rng;
  readonly format: 'vcd' | 'csv';
  /** Default: drawn between 5 and 20. */
  readonly samplesPerClock?: number;
  /** Half clocks after the reset at which it begins, or `none`. Default: drawn, one capture in five. */
  readonly lateHalves?: number | 'none';
  /** No lost samples, glitches, holes or jitter. */
  readonly clean?: boolean;
}

/** A normal deviate. */
function normal(rng: Rng): number {
  return Math.sqrt(-2 * Math.log(1 - rng.unit())) * Math.cos(2 * Math.PI * rng.unit());
}

export function sample(options: SamplingOptions): { readonly text: string; readonly spoiled: Spoiled } {
  const { rng, periodNs, names, channels } = options;
  const samplesPerClock = options.samplesPerClock ?? 5 + rng.unit() * 15;
  const isLate = options.lateHalves === undefined ? rng.unit() < 0.2 : options.lateHalves !== 'none';
  const late = typeof options.lateHalves === 'number' ? options.lateHalves : 4 + rng.below(499);
  const step = periodNs / samplesPerClock;
  const lead = (4 + rng.unit() * 6) * periodNs;
  const fromNs = isLate ? options.resetNs + (late * periodNs) / 2 + rng.unit() * step : options.resetNs - lead;
  const toNs = options.endNs - periodNs;
  const delays = channels.map((_, k) => (k === options.clock ? 0 : (0.02 + 0.11 * rng.unit()) * periodNs));
  const count = Math.max(2, Math.floor((toNs - fromNs) / step));
  const withHole = options.clean !== true && rng.unit() < 0.1;
  const holeAt = withHole ? rng.below(count) : -1;
  const holeLength = withHole ? 20 + rng.below(300) : 0;
  const at = channels.map(() => 0);
  const times: number[] = [];
  const words: Uint8Array[] = [];
  let lost = 0;
  let glitches = 0;
  for (let k = 0; k < count; k++) {
    const ns = fromNs + k * step + (options.clean === true ? 0 : normal(rng) * 0.15 * step);
    const word = Uint8Array.from(channels, (channel, c) => {
      const when = ns - delays[c]!;
      let place = at[c]!;
      while (place > 0 && channel.ns[place]! > when) place--;
      while (place + 1 < channel.ns.length && channel.ns[place + 1]! <= when) place++;
      at[c] = place;
      let level: number = channel.level[place] ?? 0;
      if (options.clean !== true && rng.unit() < 2e-4) {
        level ^= 1;
        glitches++;
      }
      return level;
    });
    const isInHole = k >= holeAt && k < holeAt + holeLength && withHole;
    const isLost = options.clean !== true && rng.unit() < 1e-4;
    if (isLost) lost++;
    if (isInHole || isLost) continue;
    // The file bears the time the instrument believes in.
    times.push(k * step);
    words.push(word);
  }
  return {
    text: options.format === 'csv' ? csv(names, times, words) : vcd(names, times, words),
    spoiled: {
      samplesPerClock,
      lateStart: isLate,
      fromNs,
      toNs,
      delays,
      lost,
      glitches,
      hole: withHole ? { fromNs: fromNs + holeAt * step, samples: holeLength } : undefined,
    },
  };
}

function csv(names: readonly string[], times: readonly number[], words: readonly Uint8Array[]): string {
  const rows = [
    ['Time [s]', ...names.map((name) => (/[",]/.test(name) ? `"${name.replaceAll('"', '""')}"` : name))].join(','),
  ];
  times.forEach((ns, k) => {
    rows.push(`${(ns * 1e-9).toFixed(11)},${words[k]!.join(',')}`);
  });
  return `${rows.join('\n')}\n`;
}

/** IEEE 1364 clause 18, changes only, in ps. */
function vcd(names: readonly string[], times: readonly number[], words: readonly Uint8Array[]): string {
  const code = (k: number): string => String.fromCharCode(33 + k);
  const rows = [
    '$timescale 1 ps $end',
    '$scope module capture $end',
    ...names.map((name, k) => `$var wire 1 ${code(k)} ${name.replace(/\s+/g, '_')} $end`),
    '$upscope $end',
    '$enddefinitions $end',
  ];
  const last = new Int8Array(names.length).fill(-1);
  times.forEach((ns, k) => {
    const changed: string[] = [];
    words[k]!.forEach((level, c) => {
      if (level === last[c]) return;
      last[c] = level;
      changed.push(`${level}${code(c)}`);
    });
    if (changed.length > 0) rows.push(`#${Math.round(ns * 1000)}`, ...changed);
  });
  rows.push(`#${Math.round(((times.at(-1) ?? 0) + 1) * 1000)}`);
  return `${rows.join('\n')}\n`;
}
