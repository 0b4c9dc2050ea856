// Where a capture begins in the machine's run. With reset in it: counted from the release, a half clock or two to and fro tried.
// Without: the machine as meant is run from reset, and the place where most of what was observed is found again is taken.

import type { Packed } from './packed.ts';
import { scoreTrial, type Start } from './score.ts';
import type { Trial } from './trial.ts';

const IN_RESET = 24;
/** Half clocks after the release that the first fetch takes. */
const FIRST_FETCH = 14;
/** Half clocks from reset that a free-running capture is looked for in. */
const MOST_OFFSET = 40_000;
const WORD = 20;
/** Nats by which another count from the release must fit better. */
const CLEARLY = 6;

/** `wire` wires the trial afresh. */
export function findStart(trial: Trial, packed: Packed, wire: () => void, _probes: readonly number[]): Start {
  const parity = (inReset: number, skip: number): boolean =>
    trial.clockHighAfter(inReset + skip + 1) === packed.firstHigh;
  if (packed.sinceReset !== null) {
    // The first fetch alone decides: its strobes come alike in nearly every faulty machine, what follows does not.
    const limit = Math.min(packed.halves, Math.max(0, -packed.sinceReset) + FIRST_FETCH);
    let best: { start: Start; nats: number } | undefined;
    for (const shift of [0, 1, -1, 2, -2]) {
      const skip = packed.sinceReset + shift;
      // The release lies where the clock's phase then fits.
      const inReset = [IN_RESET, IN_RESET + 1].find((count) => parity(count, skip)) ?? IN_RESET;
      const start = { inReset, skip };
      wire();
      const { nats } = scoreTrial(trial, packed, start, { limit });
      if (best === undefined || nats > best.nats + CLEARLY) best = { start, nats };
    }
    return best!.start;
  }
  return findOffset(trial, packed, wire);
}

function findOffset(trial: Trial, packed: Packed, wire: () => void): Start {
  // Runs of firm words, by their hash, and where they begin in the capture.
  const count = packed.nets.length;
  const mask = count >= 31 ? 0x7fffffff : (1 << count) - 1;
  const places = new Map<number, number[]>();
  const stride = Math.max(1, Math.floor(packed.halves / 400));
  for (let at = 0; at + WORD < packed.halves; at += stride) {
    let hash = 0x811c9dc5;
    for (let k = 0; k < WORD; k++) hash = Math.imul(hash ^ (packed.level[at + k]! & mask), 0x01000193);
    places.set(hash, [...(places.get(hash) ?? []), at]);
  }
  wire();
  for (let n = 0; n <= IN_RESET; n++) trial.half();
  trial.releaseReset();
  const most = MOST_OFFSET + packed.halves;
  const words = new Int32Array(most);
  for (let k = 1; k < most; k++) {
    trial.half();
    let word = 0;
    for (let bit = 0; bit < count; bit++) word |= trial.level[trial.probes[bit]!]! << bit;
    words[k] = word;
  }
  const votes = new Map<number, number>();
  for (let k = 0; k + WORD < most; k++) {
    let hash = 0x811c9dc5;
    for (let n = 0; n < WORD; n++) hash = Math.imul(hash ^ (words[k + n]! & mask), 0x01000193);
    const found = places.get(hash);
    if (found === undefined || found.length > 8) continue;
    for (const at of found) if (k >= at) votes.set(k - at, (votes.get(k - at) ?? 0) + 1);
  }
  const leaders = [...votes].sort((a, b) => b[1] - a[1] || a[0] - b[0]).slice(0, 4);
  let best: { start: Start; nats: number } | undefined;
  for (const [skip] of leaders.length > 0 ? leaders : [[0, 0] as const]) {
    const start = { inReset: IN_RESET, skip };
    wire();
    const { nats } = scoreTrial(trial, packed, start, { limit: 512 });
    if (best === undefined || nats > best.nats) best = { start, nats };
  }
  return best!.start;
}
