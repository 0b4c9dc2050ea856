// The one shape of a part that no formula can say: pure functions over words of state, input and output. Every kernel calls
// the same functions; a model knows no nets and no kernel.

/** What a part may ask of the kernel while it changes its state. */
export interface Moment {
  /** ns since power-up. */
  now: number;
  /** Calls `timeout` of the part after so many ns, in place of what was asked before; Infinity: no more. */
  after(ns: number): void;
  /** A byte leaves at a serial line, or other news for the host; the kernel knows the part. */
  out(byte: number): void;
}

/**
 * A part's behaviour. All data lie in one Int32Array `s`: state from `b`, input words from `i` (and as they were before
 * from `p`), output words from `o`. Words are dual-rail (values.ts), inputs never Z.
 */
export interface PartModel {
  /** Pins of each input word, lowest bit first, at most 16. */
  readonly ins: readonly (readonly string[])[];
  /** Pins of each output word. A pin that also is in `ins` is bidirectional. */
  readonly outs: readonly (readonly string[])[];
  /** Words of state. */
  readonly words: number;
  /** Whether `drive` looks at an input word, per word. */
  readonly drivesFrom: readonly boolean[];
  /** Whether a change of an input word makes `commit` necessary. */
  readonly commitsFrom: readonly boolean[];
  /**
   * Pins whose change alone makes `commit` do anything, unless `armed` says otherwise: a hint for speed. Without it every pin of
   * the words in `commitsFrom` does.
   */
  readonly commitsOn?: readonly string[];
  /** Whether, with inputs as in `i`, a change of the other pins makes `commit` do something. Left out: never. */
  armed?(s: Int32Array, b: number, i: number): boolean;
  /** Writes the state at power-up. `random` gives 32 bits. */
  power(s: Int32Array, b: number, random: () => number, moment: Moment): void;
  /** What the pins drive now. */
  drive(s: Int32Array, b: number, i: number, o: number): void;
  /** The state after the inputs went from `p` to `i`; true when what the pins drive may have changed with it. */
  commit(s: Int32Array, b: number, p: number, i: number, moment: Moment): boolean;
  /** The time asked for has come; true when the state changed. */
  timeout?(s: Int32Array, b: number, moment: Moment): boolean;
  /** A byte arrives from the host (at a serial line); false when there is no room. */
  give?(s: Int32Array, b: number, byte: number, moment: Moment): boolean;
}
