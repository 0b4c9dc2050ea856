// Levels of a channel at rising times, by a finger that moves along its entries once.

import type { CaptureChannel } from '../model.ts';

export class LevelFinger {
  readonly #times: Float64Array;
  readonly #levels: Uint8Array;
  readonly #flip: number;
  #at = 0;

  constructor(channel: CaptureChannel, isInverted: boolean) {
    this.#times = channel.times;
    this.#levels = channel.levels;
    this.#flip = isInverted ? 1 : 0;
  }

  /** Level at `time`: 0, 1, or 2 where not known. Times may go back a little, not far. */
  at(time: number): number {
    const times = this.#times;
    let at = this.#at;
    while (at + 1 < times.length && times[at + 1]! <= time) at++;
    while (at > 0 && times[at]! > time) at--;
    this.#at = at;
    if (times.length === 0 || times[at]! > time) return 2;
    const level = this.#levels[at]!;
    return level === 2 ? 2 : level ^ this.#flip;
  }
}
