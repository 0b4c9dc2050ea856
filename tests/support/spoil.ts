// Captures made from what the simulator says, spoiled as instruments and boards spoil them: sampled at a rate that has nothing to
// do with the clock, every channel late by its own delay, jitter, lost samples, glitches, holes, a start after reset. Seeded.

import { createRng } from '../../src/base/index.ts';
import type { Capture, Predicted } from '../../src/bringup/index.ts';

export interface Spoil {
  readonly seed: number;
  /** Samples a clock. Default 10. */
  readonly rate?: number;
  /** Standard deviation of the moment of a sample, in samples. Default 0.15. */
  readonly jitter?: number;
  /** Share of samples lost. Default 1e-4. */
  readonly lost?: number;
  /** Chance of a wrong bit, per channel and sample. Default 2e-4. */
  readonly glitches?: number;
  /** First half clock of the prediction that is sampled. Default 0. */
  readonly from?: number;
  /** Half clocks sampled. Default all. */
  readonly halves?: number;
  /** Samples missing in one hole. Default none. */
  readonly hole?: number;
  /** True where the instrument counts samples only and so does not see its holes and losses. */
  readonly isCounted?: boolean;
  /** Hz of the clock as it really is, against `half` of the prediction. Default the same. */
  readonly clockScale?: number;
  /** Largest delay of a channel in clocks. Default 0.13, the least 0.02; the clock has none. */
  readonly delay?: number;
  /** What a net shows that nothing drives; its last level unless said. */
  readonly floating?: 0 | 1;
}

/** What a capture of these nets would hold. Names of channels are `names`, or the nets'. */
export function spoiled(
  predicted: Predicted,
  nets: readonly string[],
  clock: string,
  spoil: Spoil,
  names: readonly string[] = nets,
): Capture {
  const rng = createRng(spoil.seed);
  const normal = (): number => Math.sqrt(-2 * Math.log(rng.unit() + 1e-12)) * Math.cos(2 * Math.PI * rng.unit());
  const rate = spoil.rate ?? 10;
  const period = 2 * predicted.half * (spoil.clockScale ?? 1);
  const step = period / rate;
  const from = spoil.from ?? 0;
  const halves = Math.min(spoil.halves ?? predicted.halves, predicted.halves - from);
  const traces = nets.map((net) => predicted.nets.find((one) => one.net.toLowerCase() === net.toLowerCase())!.level);
  const delays = nets.map((net) => (net === clock ? 0 : 0.02 + rng.unit() * ((spoil.delay ?? 0.13) - 0.02)));
  const count = Math.floor((halves / 2 - 1) * rate);
  const phase = rng.unit() * step;
  const holeAt = spoil.hole === undefined ? -1 : Math.floor(count * (0.3 + 0.5 * rng.unit()));
  const times: number[][] = nets.map(() => []);
  const levels: number[][] = nets.map(() => []);
  const last = new Uint8Array(nets.length).fill(9);
  let taken = 0;
  let end = 0;
  // A net that nothing drives keeps its level for want of a way to lose it; from the start on it reads by chance.
  const floats = nets.map(() => rng.below(2));
  for (let k = 0; k < count; k++) {
    if (k === holeAt) {
      if (spoil.isCounted !== true)
        nets.forEach((_, c) => {
          times[c]!.push(end + step);
          levels[c]!.push(2);
          last[c] = 2;
        });
      k += spoil.hole!;
    }
    if (rng.unit() < (spoil.lost ?? 1e-4)) continue;
    const stamp = spoil.isCounted === true ? taken * step : k * step;
    taken++;
    const moment = phase + k * step + normal() * (spoil.jitter ?? 0.15) * step;
    end = stamp;
    for (let c = 0; c < nets.length; c++) {
      const half = Math.max(0, Math.floor((moment / period - delays[c]!) * 2));
      const level = traces[c]![Math.min(from + half, predicted.halves - 1)]!;
      if (level !== 2) floats[c] = level;
      let seen = level === 2 && spoil.floating !== undefined ? spoil.floating : floats[c]!;
      if (rng.unit() < (spoil.glitches ?? 2e-4)) seen = 1 - seen;
      if (seen === last[c]) continue;
      last[c] = seen;
      times[c]!.push(stamp);
      levels[c]!.push(seen);
    }
  }
  return {
    start: 0,
    end,
    samplePeriod: step,
    channels: nets.map((_, c) => ({
      name: names[c]!,
      times: Float64Array.from(times[c]!),
      levels: Uint8Array.from(levels[c]!),
    })),
  };
}
