// Reading words of input in models: which levels are surely high or low, edges, and what an access at a bus is. Unknown levels count
// as neither, so that a part does nothing on a strobe that may be none.

/** Bits that are surely high. */
export function highs(word: number): number {
  return word & ~(word >>> 16) & 0xffff;
}

/** Bits that are surely low. */
export function lows(word: number): number {
  return (word >>> 16) & ~word & 0xffff;
}

/** Bits that rose: surely low before, surely high now. */
export function rises(before: number, now: number): number {
  return lows(before) & highs(now);
}

/** Bits that fell. */
export function falls(before: number, now: number): number {
  return highs(before) & lows(now);
}

/** A word that drives `bits` pins with a number. */
export function driven(number: number, bits: number): number {
  const mask = (1 << bits) - 1;
  return (number & mask) | ((~number & mask) << 16);
}

/** A word that drives those pins of `mask` with a number and leaves the others open. */
export function drivenWhere(number: number, mask: number): number {
  return (number & mask) | ((~number & mask) << 16);
}

/** Sets a word of state; true when it was another one. */
export function put(s: Int32Array, at: number, value: number): boolean {
  if (s[at] === value) return false;
  s[at] = value;
  return true;
}
