// What a kernel offers to a session; the plain and the compiled kernel both do.

import type { Finding } from '../base/index.ts';
import type { Circuit } from './circuit/circuit.ts';

/** News from a part to the host: a byte, or an edge at a terminal. */
export interface SimNews {
  /** Place of the part in the circuit. */
  readonly part: number;
  readonly byte: number;
  /** ns since power-up. */
  readonly now: number;
}

export interface Kernel {
  readonly circuit: Circuit;
  readonly findings: Finding[];
  /** The host takes them out. */
  readonly news: SimNews[];
  /** Per part in circuit order, ns at which its time has come; Infinity for never. */
  readonly due: Float64Array;
  /** ns since power-up. */
  now: number;
  /** Value of a net (values.ts), Z where it floats. */
  value(net: number): number;
  setSource(source: number, value: number): void;
  /** Holds a net at a value from outside, whatever drives it; Z lets go. */
  force(net: number, value: number): void;
  /** Hands a byte to a part; false where it takes none. */
  give(part: number, byte: number): boolean;
  timeouts(): void;
  /** Brings everything to rest. */
  step(): void;
  /**
   * Swings one source so many times, half a period apart, from `now` on; `now` is then the time of the last edge. Watched nets are
   * recorded. Stops early, after the step in hand, where a part asks for a time before the last edge. Gives the edges made.
   */
  swing?(source: number, edges: number, halfNs: number, watch: Watch): number;
  /** Gives the changes of watched nets in records that `log` took, for the nets watched last. */
  readRecords?(
    records: Int32Array,
    words: number,
    base: number,
    halfNs: number,
    to: { readonly last: Uint8Array; record(now: number, index: number, value: number): void },
  ): void;
  /** Words of state of a part. */
  stateOf(part: number): Int32Array;
}

/** Changes of watched nets. */
export interface Watch {
  readonly nets: readonly number[];
  /** Last value recorded, per watched net. */
  readonly last: Uint8Array;
  record(now: number, index: number, value: number): void;
  /**
   * Takes the records of a swing as they are, in place of `record`: edge and bus, then levels, again and again; `base` is the time
   * before the first edge. They are overwritten after the call; the kernel that made them reads them.
   */
  log?(records: Int32Array, base: number, halfNs: number): void;
}
