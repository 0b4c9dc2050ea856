// Where readers put level changes: blocks of numbers per channel, joined once at the end, so that a large file costs little more
// than what is kept of it.

import type { CaptureChannel } from './model.ts';

/** Entries that may still be kept, over all channels. */
export interface Budget {
  left: number;
}

const LARGEST_BLOCK = 65_536;

export class ChannelStore {
  readonly name: string;
  /** Level of the last entry; 3 before the first. */
  last = 3;
  readonly #budget: Budget;
  readonly #times: Float64Array[] = [];
  readonly #levels: Uint8Array[] = [];
  #block: Float64Array = new Float64Array(0);
  #levelBlock: Uint8Array = new Uint8Array(0);
  #used = 0;
  #count = 0;
  #lastTime = Number.NEGATIVE_INFINITY;

  constructor(name: string, budget: Budget) {
    this.name = name;
    this.#budget = budget;
  }

  /** Level from `time` on; times never descend. `start` is the capture's first instant. False where there is no room left. */
  push(time: number, level: number, start: number): boolean {
    if (level === this.last) return true;
    if (this.#count === 0 && time > start) {
      if (level === 2) return true;
      if (!this.#put(start, 2)) return false;
    }
    // The last word about one instant counts.
    if (time === this.#lastTime) {
      this.#levelBlock[this.#used - 1] = level;
      this.last = level;
      return true;
    }
    return this.#put(time, level);
  }

  #put(time: number, level: number): boolean {
    if (this.#budget.left <= 0) return false;
    this.#budget.left--;
    if (this.#used === this.#block.length) {
      const size = Math.min(LARGEST_BLOCK, Math.max(64, this.#block.length * 2));
      this.#block = new Float64Array(size);
      this.#levelBlock = new Uint8Array(size);
      this.#times.push(this.#block);
      this.#levels.push(this.#levelBlock);
      this.#used = 0;
    }
    this.#block[this.#used] = time;
    this.#levelBlock[this.#used++] = level;
    this.#count++;
    this.#lastTime = time;
    this.last = level;
    return true;
  }

  /** The channel; a channel without an entry is unknown from `start` on. Empties the store. */
  finish(start: number): CaptureChannel {
    if (this.#count === 0) return { name: this.name, times: Float64Array.of(start), levels: Uint8Array.of(2) };
    const times = new Float64Array(this.#count);
    const levels = new Uint8Array(this.#count);
    let at = 0;
    for (let k = 0; k < this.#times.length; k++) {
      const length = Math.min(this.#times[k]!.length, this.#count - at);
      times.set(this.#times[k]!.subarray(0, length), at);
      levels.set(this.#levels[k]!.subarray(0, length), at);
      at += length;
    }
    this.#times.length = 0;
    this.#levels.length = 0;
    this.#count = 0;
    return { name: this.name, times, levels };
  }
}
