// The words of bring-up: a capture as read, channels told which net they show, and what was observed half clock by
// half clock. Readers make captures, alignment makes observations, diagnosis reads observations only.

export type { Capture, CaptureChannel } from '../format/capture/index.ts';

/** How a channel was told its net. */
export type MatchHow = 'hand' | 'lead' | 'name' | 'shape';

/** One channel told its net. */
export type ChannelMatch = {
  /** Place in `Capture.channels`. */
  readonly channel: number;
  /** Name of the net that it shows. */
  readonly net: string;
  /** True where the probe shows the opposite level. */
  readonly inverted: boolean;
  readonly how: MatchHow;
};

/** What was observed on one net: one entry for each half clock. */
export type ObservedNet = {
  readonly net: string;
  /** Level at the end of the half clock, 0 or 1 (0 where not known). */
  readonly level: Uint8Array;
  /** 1 where the level is known at all. */
  readonly known: Uint8Array;
  /** 1 where the samples agree well enough to count as firm evidence. */
  readonly strong: Uint8Array;
};

/** A capture laid on the half clocks of the machine's processor clock. */
export type Observed = {
  /** Number of half clocks. */
  readonly halves: number;
  /**
   * Half clock since the reset input was let go (its release seen in the capture) that entry 0 stands for, negative while
   * still in reset; null where the capture holds no reset (free-running trigger).
   */
  readonly sinceReset: number | null;
  /** True where entry 0 is the half clock after a rising edge (clock high). */
  readonly firstHigh: boolean;
  /** Time of each half clock's end, s. */
  readonly times: Float64Array;
  readonly nets: readonly ObservedNet[];
  /** What the half clocks were laid on. */
  readonly by: 'clock' | 'reset' | 'correlation';
  /** 0 to 1: how sure the alignment is of itself. */
  readonly sure: number;
  /** Entries before which the capture skipped a number of half clocks that is not known. */
  readonly gaps?: readonly number[];
};

/** What the simulator says that nets do, half clock by half clock, as `Observed` counts them. */
export type Predicted = {
  readonly halves: number;
  /** Half clock since the release of reset that entry 0 stands for; null where there is no reset to let go. */
  readonly sinceReset: number | null;
  /** True where entry 0 is a half clock with the clock high. */
  readonly firstHigh: boolean;
  /** s of a half clock. */
  readonly half: number;
  readonly nets: readonly {
    readonly net: string;
    /** Level at the end of each half clock: 0, 1, or 2 where not known or floating. */
    readonly level: Uint8Array;
  }[];
};
