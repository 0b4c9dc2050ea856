// What a processor gives to be held against files of single-step vectors: a list of differences for one vector, empty when
// all agrees. The registry is in index.ts; reading files is a host's work.

/** One case of a vector file as it was parsed: nothing of it is believed yet. */
export type VectorCase = Readonly<Record<string, unknown>>;

/** Options of a comparison. */
export interface VectorOptions {
  /** Compare the bus clock by clock too. Default false. */
  readonly cycles?: boolean;
}

/** Runs one vector; returns what differs, in words. */
export type VectorRunner = (vector: VectorCase, options: VectorOptions) => readonly string[];
