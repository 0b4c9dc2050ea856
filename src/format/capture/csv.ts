// Tables (CSV and its kin), read as they come in: the first lines tell the form, then every row is taken apart where it lies,
// without a string for each field. A row is a sample or a change; levels, volts with a hysteresis, or buses as numbers.

import { numberIn, secondsOf, textOf } from './bytes.ts';
import { BLANKS, type Column, clockSeconds, formOf, type TableForm } from './csv-form.ts';
import type { Capture, CaptureOptions } from './model.ts';
import { ChannelStore } from './store.ts';
import type { Tally } from './tally.ts';

const LONGEST_LINE = 65_536;
const MOST_CHANNELS = 4096;
/** Bytes or lines that are looked at before the form is settled. */
const LOOK_BYTES = 131_072;
const LOOK_LINES = 400;

interface Role {
  readonly column: Column;
  readonly channels: ChannelStore[];
  least: number;
  most: number;
}

/** Reads one table: `push` as often as bytes come, then `end`. */
export class CsvReader {
  readonly #tally: Tally;
  readonly #options: CaptureOptions;
  readonly #budget: { left: number };
  readonly #low: number;
  readonly #high: number;
  /** Bytes of a line that is not whole yet; before the form is settled, of all lines so far. */
  #carry = new Uint8Array(4096);
  #kept = 0;
  #line = 1;
  #skips = false;
  #inQuotes = false;
  #form: TableForm | undefined;
  #roles: Role[] = [];
  #byName = new Map<string, ChannelStore>();
  #looked = 0;
  #time = 0;
  #start = 0;
  #rows = 0;
  #isFull = false;
  #hopeless = false;
  /** Steps between rows: the first ones, to know samples from changes. */
  readonly #steps: number[] = [];
  #still = 0;
  #evenSum = 0;
  #evenCount = 0;
  #period = 0;
  #quote = false;

  constructor(tally: Tally, options: CaptureOptions) {
    this.#tally = tally;
    this.#options = options;
    this.#budget = { left: options.mostEntries ?? 32_000_000 };
    this.#low = options.lowVolts ?? 0.8;
    this.#high = options.highVolts ?? 2;
  }

  push(chunk: Uint8Array): void {
    if (this.#hopeless || this.#isFull) return;
    if (this.#form === undefined) {
      this.#keep(chunk, 0, chunk.length);
      for (let k = 0; k < chunk.length; k++) if (chunk[k] === 10) this.#looked++;
      if (this.#kept >= LOOK_BYTES || this.#looked >= LOOK_LINES) this.#settle(false);
      return;
    }
    this.#lines(chunk, 0);
  }

  end(): Capture | undefined {
    if (this.#form === undefined && !this.#hopeless) this.#settle(true);
    if (this.#form === undefined) return undefined;
    if (this.#kept > 0 && !this.#skips) {
      const row = this.#carry.subarray(0, this.#kept);
      this.#kept = 0;
      this.#row(row, 0, row.length, true);
    }
    const names = [...this.#roles.flatMap((role) => role.channels), ...this.#byName.values()];
    const channels = [...new Set(names)];
    if (channels.length === 0 || this.#rows === 0) {
      this.#tally.add(
        'capture/no-channels',
        0,
        channels.length === 0 ? 'no column holds levels or volts.' : 'no row of data could be read.',
        'A table needs a column for each channel, 0 and 1 or volts, and a heading that names them.',
      );
      return undefined;
    }
    for (const { column, least, most } of this.#roles)
      if (column.kind === 'volts' && !(least <= this.#low && most >= this.#high))
        this.#tally.add(
          'capture/no-swing',
          0,
          `${column.name} lies between ${least.toPrecision(3)} V and ${most.toPrecision(3)} V and never passes both ${this.#low} V and ${this.#high} V.`,
          'If it should swing, look at the probe, its attenuation and the unit of the column.',
          column.name,
        );
    const period = this.#samplePeriod();
    return {
      start: this.#start,
      end: this.#time,
      samplePeriod: period,
      channels: channels.map((channel) => channel.finish(this.#start)),
    };
  }

  #samplePeriod(): number | null {
    if (!this.#hasTimes()) return this.#period;
    this.#learnPeriod();
    if (this.#period <= 0) return null;
    // Printed times are rounded; the mean of many steps is not.
    return this.#evenCount > 100 ? this.#evenSum / this.#evenCount : this.#period;
  }

  #hasTimes(): boolean {
    return this.#roles.some(({ column }) => column.kind === 'time');
  }

  /** From the first steps: even ones are samples; rows that change nothing are samples too. */
  #learnPeriod(): void {
    if (this.#period !== 0 || this.#steps.length < 3) return;
    const sorted = [...this.#steps].sort((a, b) => a - b);
    const middle = sorted[sorted.length >> 1]!;
    const even = sorted.filter((step) => Math.abs(step - middle) <= middle * 0.02).length;
    const isEven = even > sorted.length * 0.9;
    const isStill = this.#still > this.#rows * 0.1 && sorted[sorted.length - 1]! < middle * 1000;
    // A table of changes stays one, whatever comes later.
    this.#period = middle > 0 && (isEven || isStill) ? middle : -1;
  }

  #keep(bytes: Uint8Array, start: number, end: number): void {
    const need = this.#kept + end - start;
    if (need > this.#carry.length) {
      const larger = new Uint8Array(Math.max(need, this.#carry.length * 2));
      larger.set(this.#carry.subarray(0, this.#kept));
      this.#carry = larger;
    }
    this.#carry.set(bytes.subarray(start, end), this.#kept);
    this.#kept = need;
  }

  /** Finds the form from what was kept, then reads that. */
  #settle(isAll: boolean): void {
    const bytes = this.#carry.slice(0, this.#kept);
    this.#kept = 0;
    const lines = textOf(
      bytes,
      bytes[0] === 0xef && bytes[1] === 0xbb ? 3 : 0,
      Math.min(bytes.length, LOOK_BYTES),
    ).split(/\r\n|\n|\r/);
    // The last line may be cut.
    if (!isAll && lines.length > 1) lines.pop();
    const form = formOf(lines.slice(0, LOOK_LINES), this.#options.timeUnit);
    if (form === undefined) {
      this.#hopeless = true;
      this.#tally.add(
        'capture/not-a-capture',
        0,
        'no rows of levels or numbers are found in it, and it is no dump either.',
        'Export the capture as a value change dump (VCD) or as a table (CSV).',
      );
      return;
    }
    this.#form = form;
    const period = this.#options.samplePeriod ?? form.period;
    if (!form.columns.some(({ kind }) => kind === 'time')) {
      if (period === undefined) {
        this.#hopeless = true;
        this.#form = undefined;
        this.#tally.add(
          'capture/no-time',
          form.firstLine,
          'the table has neither a column of times nor a line that states the sample rate.',
          'Export it with times, put a line "Sample rate: 24 MHz" above, or say the time between samples.',
        );
        return;
      }
      this.#period = period;
    }
    if (form.isUnitGuessed)
      this.#tally.add(
        'capture/time-unit',
        form.firstLine,
        'the heading of the times names no unit; seconds are taken.',
        'Write the unit into the heading, as in "Time [ns]", or say it with the capture.',
      );
    for (const name of form.notVolts)
      this.#tally.add(
        'capture/not-volts',
        form.firstLine,
        `${name} holds numbers that are neither 0 and 1 nor volts; it is left out.`,
        'Name the unit in the heading, as in "CH1 (mV)", or the width of a bus, as in "D[7:0]".',
        name,
      );
    let count = 0;
    this.#roles = form.columns.map((column): Role => {
      const names =
        column.kind === 'bus' ? column.bits : column.kind === 'level' || column.kind === 'volts' ? [column.name] : [];
      count += names.length;
      const channels = count > MOST_CHANNELS ? [] : names.map((name) => new ChannelStore(name, this.#budget));
      return { column, channels, least: Number.POSITIVE_INFINITY, most: Number.NEGATIVE_INFINITY };
    });
    if (count > MOST_CHANNELS)
      this.#tally.add(
        'capture/too-large',
        form.firstLine,
        `more than ${MOST_CHANNELS} channels; the others are left out.`,
        'Export only the channels that were probed.',
      );
    this.#lines(bytes, 0);
  }

  #lines(bytes: Uint8Array, from: number): void {
    let start = from;
    let inQuotes = this.#inQuotes;
    const usesQuotes = this.#form!.separator !== BLANKS;
    for (let k = from; k < bytes.length; k++) {
      const byte = bytes[k]!;
      if (byte === 34 && usesQuotes) inQuotes = !inQuotes;
      if (byte !== 10 && byte !== 13) continue;
      if (inQuotes && !this.#skips && this.#kept + k - start < LONGEST_LINE) {
        if (byte === 10) this.#quote = true;
        continue;
      }
      inQuotes = false;
      if (this.#skips) {
        this.#skips = false;
        this.#kept = 0;
      } else if (this.#kept > 0) {
        this.#keep(bytes, start, k);
        const length = this.#kept;
        this.#kept = 0;
        this.#row(this.#carry, 0, length, false);
      } else if (k > start) this.#row(bytes, start, k, false);
      if (byte === 10) this.#line++;
      // A lone carriage return ends a line; before a line feed it is part of that end.
      else if (k + 1 < bytes.length && bytes[k + 1] !== 10) this.#line++;
      if (this.#quote) {
        this.#quote = false;
        this.#line++;
      }
      start = k + 1;
      if (this.#isFull) return;
    }
    this.#inQuotes = inQuotes;
    if (this.#skips) return;
    if (this.#kept + bytes.length - start > LONGEST_LINE) {
      this.#tally.add(
        'capture/bad-row',
        this.#line,
        'the line has more than 65,536 characters and is left out.',
        'Export it again.',
        'long',
      );
      this.#skips = true;
      this.#inQuotes = false;
      this.#kept = 0;
    } else if (bytes.length > start) this.#keep(bytes, start, bytes.length);
  }

  /** One line, ends excluded. */
  #row(bytes: Uint8Array, start: number, end: number, isLast: boolean): void {
    const form = this.#form!;
    if (this.#line < form.firstLine) return;
    const { separator } = form;
    const roles = this.#roles;
    const first = bytes[start]!;
    if (first === 35 || first === 37 || first === 33 || (first === 47 && bytes[start + 1] === 47)) return;
    if (first === 59 && separator !== 59) return;
    // Where the fields lie.
    const at = this.#at;
    let count = 0;
    let k = start;
    if (separator === BLANKS) {
      while (k < end) {
        while (k < end && (bytes[k] === 32 || bytes[k] === 9)) k++;
        if (k >= end) break;
        const from = k;
        while (k < end && bytes[k] !== 32 && bytes[k] !== 9) k++;
        if (count < at.length / 2) {
          at[2 * count] = from;
          at[2 * count + 1] = k;
        }
        count++;
      }
    } else {
      for (;;) {
        while (k < end && (bytes[k] === 32 || (bytes[k] === 9 && separator !== 9))) k++;
        let from = k;
        let to = k;
        if (k < end && bytes[k] === 34) {
          from = ++k;
          while (k < end && (bytes[k] !== 34 || bytes[k + 1] === 34)) k += bytes[k] === 34 ? 2 : 1;
          to = Math.min(k, end);
          while (k < end && bytes[k] !== separator) k++;
        } else {
          while (k < end && bytes[k] !== separator) k++;
          to = k;
        }
        while (to > from && (bytes[to - 1] === 32 || bytes[to - 1] === 13)) to--;
        if (count < at.length / 2) {
          at[2 * count] = from;
          at[2 * count + 1] = to;
        }
        count++;
        if (k >= end) break;
        k++;
      }
    }
    if (count === 1 && at[0] === at[1]) return;
    const wanted = roles.length;
    // One empty field more is a separator at the end.
    const isWider = count > wanted && !(count === wanted + 1 && at[2 * wanted] === at[2 * wanted + 1]);
    if (count < wanted || isWider) {
      if (isLast && count < wanted)
        this.#tally.add(
          'capture/truncated',
          this.#line,
          'the last row is cut short and is left out.',
          'What was read up to there is used. Export it again if the end matters.',
        );
      else
        this.#tally.add(
          'capture/bad-row',
          this.#line,
          `a row of ${count} fields among rows of ${wanted}; it is left out.`,
          'Export it again, or take the line out.',
        );
      return;
    }
    let time = this.#rows * this.#period + form.begin;
    for (let c = 0; c < wanted; c++) {
      const { column } = roles[c]!;
      if (column.kind === 'time') time = this.#timeIn(bytes, at[2 * c]!, at[2 * c + 1]!, column);
      else if (column.kind === 'index' && this.#period > 0) {
        const index = numberIn(bytes, at[2 * c]!, at[2 * c + 1]!, form.mark);
        if (!Number.isNaN(index)) time = index * this.#period + form.begin;
      }
    }
    if (Number.isNaN(time)) {
      this.#tally.add(
        'capture/bad-value',
        this.#line,
        'the time is no number; the row is left out.',
        'Export it again, or take the line out.',
        ' time',
      );
      return;
    }
    if (this.#rows === 0) {
      this.#start = time;
      this.#time = time;
    } else if (time < this.#time) {
      this.#tally.add(
        'capture/time-goes-back',
        this.#line,
        `the time ${time} s comes after ${this.#time} s; the row is left out.`,
        'Times of a capture never go back. Export one recording alone.',
      );
      return;
    } else this.#step(time);
    this.#time = time;
    this.#rows++;
    const before = this.#budget.left;
    for (let c = 0; c < wanted; c++) {
      const role = roles[c]!;
      const from = at[2 * c]!;
      const to = at[2 * c + 1]!;
      switch (role.column.kind) {
        case 'level':
          this.#put(role.channels[0], this.#levelIn(bytes, from, to, role.column.name));
          break;
        case 'volts':
          this.#volts(role, bytes, from, to);
          break;
        case 'bus':
          this.#bus(role, bytes, from, to);
          break;
        case 'channel':
          this.#change(bytes, from, to, at);
          break;
      }
    }
    if (this.#budget.left === before) this.#still++;
  }

  readonly #at = new Int32Array(2 * 8192);

  /** Takes note of a step in time; a long one between samples is a hole, and levels are not known in it. */
  #step(time: number): void {
    const step = time - this.#time;
    if (this.#steps.length < 2000) {
      if (step > 0) this.#steps.push(step);
      if (this.#steps.length === 2000 && this.#hasTimes()) this.#learnPeriod();
    }
    if (this.#period > 0 && step > 0.5 * this.#period && step < 1.5 * this.#period) {
      this.#evenSum += step;
      this.#evenCount++;
    }
    if (this.#period <= 0 || step < 3.5 * this.#period || this.#steps.length < 100) return;
    this.#tally.add(
      'capture/hole',
      this.#line,
      `no samples for ${step.toPrecision(3)} s; levels are taken as not known there.`,
      'Nothing has to be done, unless the hole lies where it matters.',
    );
    for (const role of this.#roles)
      for (const channel of role.channels) channel.push(this.#time + this.#period, 2, this.#start);
  }

  #timeIn(bytes: Uint8Array, from: number, to: number, column: Column): number {
    const { mark } = this.#form!;
    const value = numberIn(bytes, from, to, mark);
    if (!Number.isNaN(value)) return value * column.scale;
    // With a unit of its own, or as a time of day.
    let unit = to;
    while (unit > from && (bytes[unit - 1]! > 57 || bytes[unit - 1]! < 43)) unit--;
    const seconds = unit === to || to - unit > 16 ? undefined : secondsOf(textOf(bytes, unit, to));
    if (seconds !== undefined) return numberIn(bytes, from, unit, mark) * seconds;
    return to - from > 40 ? Number.NaN : clockSeconds(bytes, from, to);
  }

  #put(channel: ChannelStore | undefined, level: number): void {
    if (channel === undefined || channel.push(this.#time, level, this.#start)) return;
    if (this.#isFull) return;
    this.#isFull = true;
    this.#tally.add(
      'capture/too-large',
      this.#line,
      `more changes than are kept; the capture ends here, at ${this.#time} s.`,
      'Record less, or fewer channels; a few thousand clocks are enough for a stage.',
    );
  }

  #levelIn(bytes: Uint8Array, from: number, to: number, name: string): number {
    const first = bytes[from]!;
    if (to - from === 1) {
      if (first === 48 || first === 49) return first - 48;
      const letter = first | 32;
      if (letter === 104) return 1;
      if (letter === 108) return 0;
      if (letter === 120 || letter === 122) return 2;
    }
    if (from === to) return 2;
    const text = to - from > 24 ? '' : textOf(bytes, from, to).toLowerCase();
    if (/^(?:low|false|off|[-+]?0(?:[.,]0*)?)$/.test(text)) return 0;
    if (/^(?:high|true|on|\+?1(?:[.,]0*)?)$/.test(text)) return 1;
    this.#tally.add(
      'capture/bad-value',
      this.#line,
      `"${textOf(bytes, from, Math.min(to, from + 24))}" of ${name} is no level; it is taken as not known.`,
      'Levels are 0 and 1, L and H, or volts with their unit in the heading.',
      name,
    );
    return 2;
  }

  #volts(role: Role, bytes: Uint8Array, from: number, to: number): void {
    const channel = role.channels[0];
    if (channel === undefined) return;
    const value = numberIn(bytes, from, to, this.#form!.mark) * role.column.scale;
    if (Number.isNaN(value)) {
      this.#put(channel, from === to ? 2 : this.#levelIn(bytes, from, to, role.column.name));
      return;
    }
    if (value < role.least) role.least = value;
    if (value > role.most) role.most = value;
    const level = value <= this.#low ? 0 : value >= this.#high ? 1 : channel.last;
    this.#put(channel, level === 3 ? 2 : level);
  }

  #bus(role: Role, bytes: Uint8Array, from: number, to: number): void {
    const { channels, column } = role;
    const width = channels.length;
    let start = from;
    let end = to;
    let isHex = column.isHex;
    if (bytes[start] === 48 && (bytes[start + 1]! | 32) === 120) {
      start += 2;
      isHex = true;
    } else if (bytes[start] === 36) {
      start++;
      isHex = true;
    } else if (end > start && (bytes[end - 1]! | 32) === 104) {
      end--;
      isHex = true;
    }
    // In the base's digits from the right, so that 64 bits are whole.
    if (isHex) {
      let isGood = end > start;
      let isTooWide = false;
      for (let k = start; k < end && isGood; k++) {
        const digit = hexDigit(bytes[k]!);
        const shift = 4 * (end - 1 - k);
        if (digit < 0) isGood = false;
        else if (shift >= width ? digit !== 0 : digit >> Math.min(4, width - shift) !== 0) isTooWide = true;
      }
      if (isGood) {
        if (isTooWide) this.#wide(role, bytes, from, to);
        for (let bit = 0; bit < width; bit++) {
          const k = end - 1 - (bit >> 2);
          this.#put(channels[width - 1 - bit], k < start ? 0 : (hexDigit(bytes[k]!) >> (bit & 3)) & 1);
        }
        return;
      }
    } else {
      const value = numberIn(bytes, from, to, 46);
      if (value >= 0 && Number.isInteger(value)) {
        if (value >= 2 ** width) this.#wide(role, bytes, from, to);
        for (let bit = 0; bit < width; bit++) this.#put(channels[width - 1 - bit], Math.floor(value / 2 ** bit) % 2);
        return;
      }
    }
    this.#tally.add(
      'capture/bad-value',
      this.#line,
      `"${textOf(bytes, from, Math.min(to, from + 24))}" of ${column.name} is no number; its bits are taken as not known.`,
      'A bus holds decimal numbers, or hexadecimal ones as 0x3F.',
      column.name,
    );
    for (const channel of channels) this.#put(channel, 2);
  }

  #wide(role: Role, bytes: Uint8Array, from: number, to: number): void {
    this.#tally.add(
      'capture/wrong-width',
      this.#line,
      `"${textOf(bytes, from, Math.min(to, from + 24))}" is too large for the ${role.channels.length} bits of ${role.column.name}; its last bits are taken.`,
      'Name the whole width in the heading, as in "A[15:0]".',
      role.column.name,
    );
  }

  /** A row that tells one channel's change. */
  #change(bytes: Uint8Array, from: number, to: number, at: Int32Array): void {
    const value = this.#roles.findIndex(({ column }) => column.kind === 'value');
    const name = textOf(bytes, from, Math.min(to, from + 120));
    let channel = this.#byName.get(name);
    if (channel === undefined) {
      if (this.#byName.size >= MOST_CHANNELS) {
        this.#tally.add(
          'capture/too-large',
          this.#line,
          `more than ${MOST_CHANNELS} channels; the others are left out.`,
          'Export only the channels that were probed.',
          'channels',
        );
        return;
      }
      channel = new ChannelStore(name, this.#budget);
      this.#byName.set(name, channel);
    }
    this.#put(channel, this.#levelIn(bytes, at[2 * value]!, at[2 * value + 1]!, name));
  }
}

function hexDigit(byte: number): number {
  if (byte >= 48 && byte <= 57) return byte - 48;
  const letter = byte | 32;
  return letter >= 97 && letter <= 102 ? letter - 87 : -1;
}
