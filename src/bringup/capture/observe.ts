// Levels at the end of each half clock, by the vote of the last samples in it, and how far they can be believed.

import type { CaptureChannel, ObservedNet } from '../model.ts';
import type { Grid } from './grid.ts';
import { LevelFinger } from './levels.ts';

/** Share of a half clock, from its start, that settles and has no vote; and how near to its end a sample may lie. */
const SETTLE = 0.3;
const GUARD = 0.18;

/** Observes one channel on the grid. */
export function observeChannel(channel: CaptureChannel, isInverted: boolean, net: string, grid: Grid): ObservedNet {
  const { edges } = grid;
  const halves = edges.length - 1;
  const level = new Uint8Array(halves);
  const known = new Uint8Array(halves);
  const strong = new Uint8Array(halves);
  const finger = new LevelFinger(channel, isInverted);
  for (let h = 0; h < halves; h++) {
    const from = edges[h]!;
    const to = edges[h + 1]!;
    const span = to - from;
    // A file of changes has no samples; it is asked at three points that lie apart.
    const step = grid.sample > 0 ? grid.sample : span / 8;
    const begin = from + SETTLE * span;
    let last = to - GUARD * step;
    let count: number;
    if (grid.origin !== null) {
      // The samples themselves, each asked for a little after its moment.
      const end = Math.floor((last - grid.origin) / step);
      const first = Math.ceil((begin - grid.origin) / step);
      count = Math.min(3, end - first + 1);
      last = grid.origin + (end + 0.25) * step;
    } else {
      // What a moment shows may have been sampled up to one sample before it.
      const first = grid.sample > 0 ? begin + step : begin;
      count = last < first ? 0 : Math.min(3, Math.floor((last - first) / step) + 1);
    }
    if (count <= 0) {
      const at = to - 0.05 * step;
      const only = at >= from + 0.25 * span ? finger.at(at) : 2;
      if (only !== 2) {
        level[h] = only;
        known[h] = 1;
      }
      continue;
    }
    const a = finger.at(last);
    const b = count > 1 ? finger.at(last - step) : a;
    const c = count > 2 ? finger.at(last - 2 * step) : 2;
    if (count === 1) {
      if (a !== 2) {
        level[h] = a;
        known[h] = 1;
      }
    } else if (count === 2) {
      if (a !== 2) level[h] = a;
      if (a !== 2 && a === b) {
        known[h] = 1;
        strong[h] = 1;
      }
    } else {
      const ones = (a === 1 ? 1 : 0) + (b === 1 ? 1 : 0) + (c === 1 ? 1 : 0);
      const zeros = (a === 0 ? 1 : 0) + (b === 0 ? 1 : 0) + (c === 0 ? 1 : 0);
      if (ones >= 2 || zeros >= 2) {
        level[h] = ones >= 2 ? 1 : 0;
        known[h] = 1;
        strong[h] = 1;
      }
    }
  }
  return { net, level, known, strong };
}
