// Value change dumps (IEEE 1364-2005, clause 18), read as they come in, byte by byte: four-state and extended dumps with
// vectors, real values as volts. Nothing but the changes is kept.

import { textOf } from './bytes.ts';
import type { Capture, CaptureOptions } from './model.ts';
import { type Budget, ChannelStore } from './store.ts';
import type { Tally } from './tally.ts';

const LONGEST_WORD = 65_536;
const MOST_CHANNELS = 4096;
const HELP_FORM = 'Export the capture again; a dump has the form of IEEE 1364, clause 18.';

interface Signal {
  /** Channels of its bits, the highest first. */
  readonly bits: readonly ChannelStore[];
  readonly isReal: boolean;
}

/** Reads one dump: `push` as often as bytes come, then `end`. */
export class VcdReader {
  readonly #tally: Tally;
  readonly #budget: Budget;
  readonly #low: number;
  readonly #high: number;
  readonly #channels: ChannelStore[] = [];
  readonly #signals: Signal[] = [];
  /** Signals by short identifier code, -1 for none, and by long one. */
  readonly #short = new Int32Array(96 * 96).fill(-1);
  readonly #long = new Map<number, number>();
  readonly #word = new Uint8Array(LONGEST_WORD);
  #length = 0;
  #line = 1;
  #wordLine = 1;
  /** The section that is open, such as `$var`, and its words so far. */
  #section = '';
  #words: string[] = [];
  /** The vector or real value that its identifier is awaited for. */
  #value: Uint8Array | undefined;
  #waits = 0;
  #port: number[] = [];
  readonly #scopes: string[] = [];
  #times = 1;
  #divisor = 1;
  #hasScale = false;
  #hasDefinitions = false;
  #time = 0;
  #start = 0;
  #hasTime = false;
  #samplePeriod: number | null = null;
  #isTooLong = false;
  #isFull = false;

  constructor(tally: Tally, options: CaptureOptions) {
    this.#tally = tally;
    this.#budget = { left: options.mostEntries ?? 32_000_000 };
    this.#low = options.lowVolts ?? 0.8;
    this.#high = options.highVolts ?? 2;
  }

  push(chunk: Uint8Array): void {
    const word = this.#word;
    let length = this.#length;
    for (let k = 0; k < chunk.length; k++) {
      const byte = chunk[k]!;
      if (byte > 32) {
        if (length === 0) this.#wordLine = this.#line;
        if (length < LONGEST_WORD) word[length++] = byte;
        else this.#isTooLong = true;
        continue;
      }
      if (length > 0) {
        this.#length = length;
        this.#take();
        length = 0;
      }
      if (byte === 10) this.#line++;
    }
    this.#length = length;
  }

  /** The capture, or undefined where nothing of use came. */
  end(): Capture | undefined {
    const isCut = this.#length === 1;
    if (this.#length > 0) this.#take();
    if (isCut || this.#section !== '' || this.#waits > 0 || !this.#hasDefinitions)
      this.#tally.add(
        'capture/truncated',
        this.#line,
        this.#hasDefinitions
          ? 'the dump ends in the middle of a word or section.'
          : 'the dump ends before its definitions do ($enddefinitions).',
        'What was read up to there is used. Export it again if the end matters.',
      );
    if (this.#channels.length === 0) {
      this.#tally.add('capture/no-channels', 0, 'no signal is declared ($var).', HELP_FORM);
      return undefined;
    }
    if (!this.#hasTime && this.#hasDefinitions)
      this.#tally.add('capture/no-time', 0, 'there is no time (#) in the dump.', HELP_FORM);
    if (!this.#hasTime) return undefined;
    return {
      start: this.#start,
      end: this.#time,
      samplePeriod: this.#samplePeriod,
      channels: this.#channels.map((channel) => channel.finish(this.#start)),
    };
  }

  #take(): void {
    const word = this.#word;
    const length = this.#length;
    this.#length = 0;
    if (this.#isTooLong) {
      this.#isTooLong = false;
      this.#bad('a word of more than 65,536 characters');
      this.#waits = 0;
      this.#value = undefined;
      return;
    }
    if (this.#waits > 0) {
      this.#identifier(word, length);
      return;
    }
    const first = word[0]!;
    if (this.#section !== '') {
      // The third word of a declaration is an identifier code, which may begin with a dollar as well.
      if (first === 36 && !(this.#section === '$var' && this.#words.length === 2)) {
        const text = textOf(word, 0, length);
        if (text === '$end') this.#close();
        // A section that was never closed ends where the next begins; in a comment everything is text.
        else if (
          this.#section !== '$comment' &&
          /^\$(?:var|scope|upscope|enddefinitions|timescale|dumpvars)$/.test(text)
        ) {
          this.#close();
          this.#open(text);
        }
        return;
      }
      if (this.#words.length < 64) this.#words.push(textOf(word, 0, Math.min(length, 256)));
      return;
    }
    if (first === 36) {
      this.#open(textOf(word, 0, Math.min(length, 64)));
      return;
    }
    if (first === 35) {
      this.#setTime(word, length);
      return;
    }
    if (!this.#hasDefinitions) {
      this.#bad(`"${textOf(word, 0, Math.min(length, 24))}" before the definitions end`);
      return;
    }
    // 0 1 x X z Z: a scalar with its identifier at once.
    if (first === 48 || first === 49) {
      this.#scalar(word, length, first - 48);
      return;
    }
    if (first === 120 || first === 88 || first === 122 || first === 90) {
      this.#scalar(word, length, 2);
      return;
    }
    if (first === 98 || first === 66 || first === 114 || first === 82) {
      this.#value = word.slice(0, length);
      this.#waits = 1;
      return;
    }
    // Extended dumps: p, state, and two strengths before the identifier (18.4.3.1).
    if (first === 112) {
      this.#value = word.slice(0, length);
      this.#waits = 3;
      return;
    }
    this.#bad(`"${textOf(word, 0, Math.min(length, 24))}"`);
  }

  #bad(what: string): void {
    this.#tally.add('capture/bad-token', this.#wordLine, `${what} is no part of a dump.`, HELP_FORM);
  }

  #open(text: string): void {
    if (text === '$end') return;
    // The values inside of a dump section are read like all others.
    if (/^\$dump(?:vars|all|on|off|ports|portsall|portson|portsoff)$/.test(text)) return;
    this.#section = text;
    this.#words = [];
  }

  #close(): void {
    const section = this.#section;
    const words = this.#words;
    this.#section = '';
    if (section === '$timescale') {
      const match = /^(\d+)(s|ms|us|ns|ps|fs)$/.exec(words.join(''));
      if (match === null)
        this.#tally.add(
          'capture/time-unit',
          this.#wordLine,
          `the time scale "${words.join(' ').slice(0, 32)}" cannot be read; 1 ns is taken.`,
          'The scale is 1, 10 or 100 and a unit: $timescale 1 ns $end.',
        );
      this.#times = match === null ? 1 : Number(match[1]);
      this.#divisor = 10 ** (match === null ? 9 : { s: 0, ms: 3, us: 6, ns: 9, ps: 12, fs: 15 }[match[2] as 's']);
      this.#hasScale = true;
    } else if (section === '$scope') {
      if (this.#scopes.length < 64) this.#scopes.push(words[1] ?? '');
    } else if (section === '$upscope') this.#scopes.pop();
    else if (section === '$var') this.#declare(words);
    else if (section === '$enddefinitions') {
      this.#hasDefinitions = true;
      if (!this.#hasScale) {
        this.#tally.add(
          'capture/time-unit',
          this.#wordLine,
          'there is no time scale; 1 ns is taken.',
          'A line $timescale 1 ns $end before the signals says what a unit of time is.',
        );
        this.#divisor = 1e9;
      }
    } else if (section === '$comment') {
      const rate = /\bat\s+([\d.]+)\s*([kMG]?)(?:Hz|S\/s|Sa\/s)/i.exec(words.join(' '));
      const hertz = rate === null ? 0 : Number(rate[1]) * ({ k: 1e3, m: 1e6, g: 1e9 }[rate[2]!.toLowerCase()] ?? 1);
      if (hertz > 0 && Number.isFinite(hertz)) this.#samplePeriod = 1 / hertz;
    }
  }

  #declare(words: readonly string[]): void {
    const [type, size, code, reference] = words;
    const width = Number(size);
    const isReal = type === 'real' || type === 'realtime';
    const key = code === undefined ? -1 : keyOf(code);
    if (reference === undefined || !(width >= 1) || !Number.isInteger(width) || key < 0) {
      this.#bad(`the declaration $var ${words.join(' ').slice(0, 48)}`);
      return;
    }
    if (this.#find(key) >= 0) return; // Another name of one signal.
    const range = /\[(-?\d+)(?::(-?\d+))?\]$/.exec(words.slice(3).join(''));
    const base = words
      .slice(3)
      .join('')
      .replace(/\[[^\]]*\]$/, '');
    const count = isReal ? 1 : width;
    if (this.#channels.length + count > MOST_CHANNELS) {
      this.#tally.add(
        'capture/too-large',
        this.#wordLine,
        `more than ${MOST_CHANNELS} channels; ${reference} and what follows are left out.`,
        'Export only the signals that were probed.',
      );
      return;
    }
    const high = range === null ? count - 1 : Number(range[1]);
    const down = range?.[2] === undefined || Number(range[2]) <= high;
    const bits = Array.from({ length: count }, (_, k) => {
      const name =
        count === 1
          ? `${base}${range === null || isReal ? '' : `[${high}]`}`
          : `${base}[${down ? high - k : high + k}]`;
      return new ChannelStore(name, this.#budget);
    });
    this.#channels.push(...bits);
    const signal = this.#signals.push({ bits, isReal }) - 1;
    if (key < this.#short.length) this.#short[key] = signal;
    else this.#long.set(key, signal);
  }

  #find(key: number): number {
    return key < this.#short.length ? this.#short[key]! : (this.#long.get(key) ?? -1);
  }

  #setTime(word: Uint8Array, length: number): void {
    let value = 0;
    for (let k = 1; k < length; k++) {
      const digit = word[k]! - 48;
      if (digit < 0 || digit > 9 || value > 9e14) {
        this.#bad(`the time ${textOf(word, 0, Math.min(length, 24))}`);
        return;
      }
      value = value * 10 + digit;
    }
    if (length === 1) {
      this.#bad('a # without a time');
      return;
    }
    const time = (value * this.#times) / this.#divisor;
    if (!this.#hasTime) {
      this.#hasTime = true;
      this.#start = time;
      this.#time = time;
    } else if (time < this.#time)
      this.#tally.add(
        'capture/time-goes-back',
        this.#wordLine,
        `time ${value} comes after a later one; its changes count at the later time.`,
        'Times of a dump never go back. Export it again.',
      );
    else if (!this.#isFull) this.#time = time;
  }

  #signalOf(word: Uint8Array, from: number, length: number): Signal | undefined {
    let key = 0;
    for (let k = from; k < length; k++) key = key * 95 + (word[k]! - 32);
    const found = length - from > 8 || length === from ? -1 : this.#find(key);
    if (found >= 0) return this.#signals[found];
    this.#tally.add(
      'capture/bad-token',
      this.#wordLine,
      `"${textOf(word, 0, Math.min(length, 24))}" names no declared signal.`,
      HELP_FORM,
      'undeclared',
    );
    return undefined;
  }

  #put(channel: ChannelStore, level: number): void {
    if (!this.#hasTime) {
      this.#hasTime = true;
      this.#start = 0;
      this.#time = 0;
    }
    if (!this.#isFull && !channel.push(this.#time, level, this.#start)) {
      this.#isFull = true;
      this.#tally.add(
        'capture/too-large',
        this.#wordLine,
        `more changes than are kept; the capture ends here, at ${this.#time} s.`,
        'Record less, or fewer channels; a few thousand clocks are enough for a stage.',
      );
    }
  }

  #scalar(word: Uint8Array, length: number, level: number): void {
    const signal = this.#signalOf(word, 1, length);
    const channel = signal?.bits.at(-1);
    if (channel === undefined) return;
    this.#put(channel, level);
    // A scalar value of a vector: the bits above it are filled (18.2.2).
    for (let k = 0; k < signal!.bits.length - 1; k++) this.#put(signal!.bits[k]!, level === 1 ? 0 : level);
  }

  #identifier(word: Uint8Array, length: number): void {
    if (--this.#waits > 0) {
      if (this.#port.length < 4) this.#port.push(word[0]!);
      return;
    }
    this.#port = [];
    const value = this.#value!;
    this.#value = undefined;
    const signal = this.#signalOf(word, 0, length);
    if (signal === undefined) return;
    const kind = value[0]! | 32;
    if (kind === 114) {
      const volts = Number(textOf(value, 1));
      const channel = signal.bits[0]!;
      if (!Number.isFinite(volts)) {
        this.#tally.add(
          'capture/bad-value',
          this.#wordLine,
          `"${textOf(value, 0, Math.min(value.length, 24))}" is no number.`,
          HELP_FORM,
        );
        return;
      }
      const level = volts <= this.#low ? 0 : volts >= this.#high ? 1 : channel.last;
      this.#put(channel, level === 3 ? 2 : level);
      return;
    }
    const digits = value.length - 1;
    if (digits > signal.bits.length && kind === 98) {
      const isFill = (() => {
        for (let k = 1; k < value.length - signal.bits.length; k++) if (value[k] !== 48) return false;
        return true;
      })();
      if (!isFill)
        this.#tally.add(
          'capture/wrong-width',
          this.#wordLine,
          `a value of ${digits} bits for a signal of ${signal.bits.length}; its last bits are taken.`,
          HELP_FORM,
        );
    }
    const top = kind === 112 ? portLevel(value[1] ?? 120) : bitLevel(value[1] ?? 120);
    for (let k = 0; k < signal.bits.length; k++) {
      const at = value.length - signal.bits.length + k;
      const level = at < 1 ? (top === 1 ? 0 : top) : kind === 112 ? portLevel(value[at]!) : bitLevel(value[at]!);
      if (level === 3) {
        this.#tally.add(
          'capture/bad-value',
          this.#wordLine,
          `"${textOf(value, 0, Math.min(value.length, 24))}" holds something else than 0, 1, x and z.`,
          HELP_FORM,
        );
        return;
      }
      this.#put(signal.bits[k]!, level);
    }
  }
}

/** Key of an identifier code; -1 where it has more than 8 characters or others than printable ones. */
function keyOf(code: string): number {
  if (code.length === 0 || code.length > 8) return -1;
  let key = 0;
  for (let k = 0; k < code.length; k++) {
    const value = code.charCodeAt(k) - 32;
    if (value < 1 || value > 94) return -1;
    key = key * 95 + value;
  }
  return key;
}

function bitLevel(byte: number): number {
  if (byte === 48 || byte === 49) return byte - 48;
  return byte === 120 || byte === 88 || byte === 122 || byte === 90 ? 2 : 3;
}

/** States of a port in an extended dump: d, l, 0 and L are low, u, h, 1 and H high, the others not known (18.4.3.1). */
function portLevel(byte: number): number {
  const letter = String.fromCharCode(byte);
  if ('DdLl0'.includes(letter)) return 0;
  if ('UuHh1'.includes(letter)) return 1;
  return 'NnXxZzTtABabCcFf?'.includes(letter) ? 2 : 3;
}
