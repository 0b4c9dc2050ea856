// A capture file of either form, read in pieces: the first bytes tell a dump from a table. Never more of the file than the piece
// at hand is kept, but for the changes of levels.

import type { Result } from '../../base/index.ts';
import { CsvReader } from './csv.ts';
import type { Capture, CaptureOptions } from './model.ts';
import { Tally } from './tally.ts';
import { VcdReader } from './vcd.ts';

const HELP = 'Export the capture as a value change dump (VCD) or as a table (CSV), not packed, in UTF-8 or ASCII.';

/** Reads one capture: `push` for every piece of the file, in order, then `end` once. Bad input gives findings and never throws. */
export class CaptureReader {
  readonly #tally: Tally;
  readonly #options: CaptureOptions;
  #reader: CsvReader | VcdReader | undefined;
  #head: number[] = [];
  #isRefused = false;
  /** Bytes so far, for progress. */
  bytes = 0;

  /** `file` names the capture in findings. */
  constructor(file: string, options: CaptureOptions = {}) {
    this.#tally = new Tally(file);
    this.#options = options;
  }

  push(chunk: Uint8Array): void {
    this.bytes += chunk.length;
    if (this.#isRefused || chunk.length === 0) return;
    if (this.#reader !== undefined) {
      this.#reader.push(chunk);
      return;
    }
    // A few bytes may come first; the first word decides.
    const head = [...this.#head, ...chunk.subarray(0, 512)];
    this.#head = head;
    if (head.length < 8) return;
    this.#head = [];
    this.#begin(Uint8Array.from(head));
    if (chunk.length > 512) this.#more(chunk.subarray(512));
  }

  #more(chunk: Uint8Array): void {
    this.#reader?.push(chunk);
  }

  /** What was read, undefined where nothing could be, and what was found. */
  end(): Result<Capture | undefined> {
    if (this.#reader === undefined && !this.#isRefused) {
      if (this.#head.length > 0) this.#begin(Uint8Array.from(this.#head));
      else this.#tally.add('capture/not-a-capture', 0, 'the file is empty.', HELP);
    }
    const value = this.#isRefused ? undefined : this.#reader?.end();
    return { value, findings: this.#tally.findings() };
  }

  #begin(bytes: Uint8Array): void {
    const [a, b] = [bytes[0]!, bytes[1] ?? 0];
    const packed = (a === 0x1f && b === 0x8b) || (a === 0x50 && b === 0x4b) || (a === 0x42 && b === 0x5a);
    const wide = (a === 0xff && b === 0xfe) || (a === 0xfe && b === 0xff);
    if (packed || wide || bytes.subarray(0, 512).includes(0)) {
      this.#isRefused = true;
      const why = packed
        ? 'the file is packed.'
        : wide
          ? 'the file is in UTF-16.'
          : 'the file holds bytes that are no text.';
      this.#tally.add('capture/not-a-capture', 0, why, HELP);
      return;
    }
    let k = a === 0xef && b === 0xbb ? 3 : 0;
    while (k < bytes.length && bytes[k]! <= 32) k++;
    this.#reader =
      bytes[k] === 36 ? new VcdReader(this.#tally, this.#options) : new CsvReader(this.#tally, this.#options);
    this.#reader.push(this.#reader instanceof VcdReader ? bytes.subarray(k) : bytes);
  }
}

/** A capture that is whole in memory. */
export function readCapture(
  file: string,
  bytes: Uint8Array,
  options: CaptureOptions = {},
): Result<Capture | undefined> {
  const reader = new CaptureReader(file, options);
  reader.push(bytes);
  return reader.end();
}
