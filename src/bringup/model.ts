// The words of bring-up: a capture as read, channels told which net they show, and what was observed half clock by
// half clock. Readers make captures, alignment makes observations, diagnosis reads observations only.

/** One recorded channel: level changes in time. */
export type CaptureChannel = {
  /** The name in the file, as written. */
  readonly name: string;
  /** Times of the entries, s from the capture's own zero, never descending. */
  readonly times: Float64Array;
  /** Level from the entry's time on: 0, 1, or 2 where the file says unknown or high impedance. Same length as `times`. */
  readonly levels: Uint8Array;
};

/** A capture as read from a file. */
export type Capture = {
  /** First and last instant covered, s. */
  readonly start: number;
  readonly end: number;
  /** Time between samples where the file holds samples, s; null for a file of changes. */
  readonly samplePeriod: number | null;
  readonly channels: readonly CaptureChannel[];
};

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
};
