// A capture as read from a file: level changes of named channels in time. Alignment and diagnosis know nothing of formats.

/** One recorded channel: level changes in time. */
export type CaptureChannel = {
  /** The name in the file, as written. */
  readonly name: string;
  /** Times of the entries, s from the capture's own zero, never descending. */
  readonly times: Float64Array;
  /** Level from the entry's time on: 0, 1, or 2 where the file says unknown or high impedance, or has a hole. Same length as `times`. */
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

/** How a file is to be read, where it doesn't say so itself. */
export interface CaptureOptions {
  /** Volts below which an analogue channel is low and above which it is high; between them it keeps its level. Default 0.8 and 2.0. */
  readonly lowVolts?: number;
  readonly highVolts?: number;
  /** s between samples, for a CSV file without times and without a rate. */
  readonly samplePeriod?: number;
  /** Seconds of one unit of the time column, for a CSV file whose heading doesn't tell. */
  readonly timeUnit?: number;
  /** Entries kept at most over all channels. Default 32 million, about 300 MB. */
  readonly mostEntries?: number;
}
