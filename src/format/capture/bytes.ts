// Bytes as words and numbers. A field is a stretch of a buffer: no string is made of what is only a number or a level.

/** UTF-8 as text; bytes that are none are taken as Latin-1, which is what older instruments write. */
export function textOf(bytes: Uint8Array, start = 0, end = bytes.length): string {
  let text = '';
  for (let k = start; k < end; k++) {
    const byte = bytes[k]!;
    const more =
      byte >= 0xf0 && byte < 0xf8 ? 3 : byte >= 0xe0 && byte < 0xf0 ? 2 : byte >= 0xc2 && byte < 0xe0 ? 1 : 0;
    let point = more === 3 ? byte & 7 : more === 2 ? byte & 15 : byte & 31;
    let isGood = more > 0 && k + more < end;
    for (let n = 1; isGood && n <= more; n++) {
      const next = bytes[k + n]!;
      if ((next & 0xc0) !== 0x80) isGood = false;
      else point = (point << 6) | (next & 63);
    }
    if (isGood && point <= 0x10ffff && (point < 0xd800 || point > 0xdfff)) {
      text += String.fromCodePoint(point);
      k += more;
    } else text += String.fromCharCode(byte);
  }
  return text;
}

const POWERS = Float64Array.from({ length: 23 }, (_, k) => Number(`1e${k}`));

/** The decimal number in a stretch, NaN where it is none: sign, digits, `mark` (46 or 44) before decimals, exponent. */
export function numberIn(bytes: Uint8Array, start: number, end: number, mark: number): number {
  let k = start;
  let sign = 1;
  if (k < end && (bytes[k] === 45 || bytes[k] === 43)) sign = bytes[k++] === 45 ? -1 : 1;
  let value = 0;
  let digits = 0;
  let scale = 0;
  for (; k < end; k++) {
    const digit = bytes[k]! - 48;
    if (digit < 0 || digit > 9) break;
    if (value < 9e14) value = value * 10 + digit;
    else scale++;
    digits++;
  }
  if (k < end && bytes[k] === mark) {
    k++;
    for (; k < end; k++) {
      const digit = bytes[k]! - 48;
      if (digit < 0 || digit > 9) break;
      if (value < 9e14) {
        value = value * 10 + digit;
        scale--;
      }
      digits++;
    }
  }
  if (digits === 0) return Number.NaN;
  if (k < end && (bytes[k] === 101 || bytes[k] === 69)) {
    k++;
    let isMinus = false;
    if (k < end && (bytes[k] === 45 || bytes[k] === 43)) isMinus = bytes[k++] === 45;
    let exponent = 0;
    const first = k;
    for (; k < end; k++) {
      const digit = bytes[k]! - 48;
      if (digit < 0 || digit > 9) break;
      if (exponent < 1000) exponent = exponent * 10 + digit;
    }
    if (k === first) return Number.NaN;
    scale += isMinus ? -exponent : exponent;
  }
  if (k !== end) return Number.NaN;
  const scaled =
    scale === 0
      ? value
      : scale > 0
        ? scale <= 22
          ? value * POWERS[scale]!
          : value * 10 ** scale
        : scale >= -22
          ? value / POWERS[-scale]!
          : value * 10 ** scale;
  return sign * scaled;
}

/** Seconds of a unit's name, or undefined. */
export function secondsOf(unit: string): number | undefined {
  const text = unit.trim().replace(/μ|µ/g, 'u').toLowerCase();
  if (/^(?:s|sec|secs|seconds?)$/.test(text)) return 1;
  if (/^(?:ms|msec|milliseconds?)$/.test(text)) return 1e-3;
  if (/^(?:us|usec|microseconds?)$/.test(text)) return 1e-6;
  if (/^(?:ns|nsec|nanoseconds?)$/.test(text)) return 1e-9;
  if (/^(?:ps|psec|picoseconds?)$/.test(text)) return 1e-12;
  if (/^(?:fs|femtoseconds?)$/.test(text)) return 1e-15;
  return undefined;
}
