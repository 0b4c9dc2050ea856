// Traces of many nets packed into words, to compare thousands of half clocks at thousands of offsets.

/** Levels of up to 32 nets a word, half clock by half clock. */
export interface Packed {
  readonly words: number;
  readonly halves: number;
  /** `half * words + word`. */
  readonly level: Int32Array;
  readonly known: Int32Array;
}

/** Packs nets; `known` of a net may be missing, then its level 2 is what is not known. */
export function pack(
  nets: readonly { readonly level: Uint8Array; readonly known?: Uint8Array }[],
  halves: number,
): Packed {
  const words = Math.max(1, Math.ceil(nets.length / 32));
  const level = new Int32Array(halves * words);
  const known = new Int32Array(halves * words);
  nets.forEach((net, k) => {
    const bit = 1 << (k & 31);
    const word = k >> 5;
    for (let h = 0; h < halves; h++) {
      const value = net.level[h]!;
      if (net.known === undefined ? value > 1 : net.known[h] !== 1) continue;
      known[h * words + word]! |= bit;
      if (value === 1) level[h * words + word]! |= bit;
    }
  });
  return { words, halves, level, known };
}

export function countBits(value: number): number {
  let v = value - ((value >>> 1) & 0x55555555);
  v = (v & 0x33333333) + ((v >>> 2) & 0x33333333);
  return (((v + (v >>> 4)) & 0x0f0f0f0f) * 0x01010101) >>> 24;
}

/** Bits that differ and that can be compared between half clock `a` of one and `b` of the other, from `from` to `to`. */
export interface Agreement {
  readonly compared: number;
  readonly differing: number;
  /** First half clock of `a` that differs, or -1. */
  readonly first: number;
}

/**
 * Compares `a` from half clock `from` up to `to` with `b`, whose entry `h + offset` belongs to entry h. Stops once more than `most`
 * bits differ.
 */
export function compareAt(
  a: Packed,
  b: Packed,
  offset: number,
  from: number,
  to: number,
  most = Number.POSITIVE_INFINITY,
): Agreement {
  let compared = 0;
  let differing = 0;
  let first = -1;
  const begin = Math.max(from, -offset, 0);
  const end = Math.min(to, a.halves, b.halves - offset);
  const { words } = a;
  for (let h = begin; h < end; h++) {
    for (let w = 0; w < words; w++) {
      const i = h * words + w;
      const j = (h + offset) * words + w;
      const both = a.known[i]! & b.known[j]!;
      if (both === 0) continue;
      compared += countBits(both);
      const off = (a.level[i]! ^ b.level[j]!) & both;
      if (off === 0) continue;
      differing += countBits(off);
      if (first < 0) first = h;
    }
    if (differing > most) break;
  }
  return { compared, differing, first };
}
