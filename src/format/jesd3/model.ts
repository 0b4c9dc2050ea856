// A fuse file as JESD3 describes it, read or about to be written. Plain data, independent of any device: what the fuses
// mean is the business of the folder decode.

import type { Span } from '../../base/index.ts';

/** One test vector: a condition per pin, in pin order or in the order of the file's P field. */
export interface FuseVector {
  /** As numbered in the file, from 1. */
  readonly number: number;
  /** One symbol per pin: 0 1 drive, L H Z test, C K clock, X not tested, N not tested or supply, F float, P B preload. */
  readonly conditions: string;
  /** Where it stands, for files that were read. */
  readonly span?: Span;
}

/** What a file states as a sum, and what its content adds up to. */
export interface Checksum {
  /** As stated, 0 to 0xFFFF; undefined where the file states none. */
  readonly stated: number | undefined;
  readonly computed: number;
}

/** The content of a fuse file. Fuse state 1 is a cell left erased, 0 a connection made. */
export interface FuseFile {
  /** The text before the first `*`, trimmed. */
  readonly designSpecification: string;
  /** Fuses by number; those that the file does not list have the default state. */
  readonly fuses: Uint8Array;
  /** 1 for each fuse that some L or K field lists. */
  readonly listed: Uint8Array;
  /** QF, or undefined where the file has none (then `fuses` reaches as far as the lists do). */
  readonly fuseCount: number | undefined;
  /** QP and QV. */
  readonly pinCount: number | undefined;
  readonly vectorLimit: number | undefined;
  /** F; undefined where absent. */
  readonly defaultFuse: 0 | 1 | undefined;
  /** G: true asks the programmer to protect the device against being read. */
  readonly security: boolean;
  /** X: the level of inputs whose condition is X. */
  readonly defaultTest: 0 | 1 | undefined;
  /** P: the pin of each condition of the vectors; undefined means 1, 2, 3, ... */
  readonly pinOrder: readonly number[] | undefined;
  readonly vectors: readonly FuseVector[];
  /** N fields, trimmed. */
  readonly notes: readonly string[];
  readonly fuseSum: Checksum;
  readonly transmissionSum: Checksum;
}

/** The largest file that is read at all, in bytes. A file for the largest device here is about 8 kB. */
export const LARGEST_FILE = 4 * 1024 * 1024;
/** The largest number of fuses that is believed. */
export const MOST_FUSES = 1_000_000;

/**
 * The fuse checksum: fuse k is bit k mod 8 of word k div 8, the words are added, 16 bits are kept. (Manuals print "modulus
 * 65535"; files made by programmers' software keep 16 bits, which is modulo 65536.)
 */
export function fuseChecksum(fuses: Uint8Array): number {
  let sum = 0;
  for (let fuse = 0; fuse < fuses.length; fuse++) if (fuses[fuse] === 1) sum += 1 << (fuse & 7);
  return sum % 65536;
}
