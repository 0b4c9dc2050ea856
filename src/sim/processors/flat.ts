// What a processor gives to run an image in flat memory until it stays where it is.

/** How far a run in flat memory came. */
export interface FlatRun {
  /** True when the program counter stays: a jump to itself, or a halt that nothing will end. */
  readonly stopped: boolean;
  /** Address of the instruction at which it stays, or of the one in hand when the clocks ran out. */
  readonly at: number;
  /** Clocks until that instruction's first fetch began. */
  readonly clocks: number;
}

/** Runs 64 KiB of memory, which is changed, from an address for at most so many clocks. */
export type FlatRunner = (memory: Uint8Array, start: number, maximumClocks: number) => FlatRun;
