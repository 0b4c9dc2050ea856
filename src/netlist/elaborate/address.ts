// Address regions as aligned power-of-two blocks: which address bits tell regions apart. Shared by every kind of decoder.

import type { MapRegion } from '../model.ts';

/** An aligned block: `base` is a multiple of `size`, a power of two. */
export interface Block {
  readonly base: number;
  readonly size: number;
}

/** The fewest aligned blocks that make up [at, at + bytes). Addresses stay below 2^32. */
export function blocksOf(at: number, bytes: number): Block[] {
  const blocks: Block[] = [];
  let start = at;
  let left = bytes;
  while (left > 0 && blocks.length < 64) {
    let size = 1;
    while (size * 2 <= left && start % (size * 2) === 0) size *= 2;
    blocks.push({ base: start, size });
    start += size;
    left -= size;
  }
  return blocks;
}

export function bitAt(address: number, bit: number): 0 | 1 {
  return Math.floor(address / 2 ** bit) % 2 === 1 ? 1 : 0;
}

/** Whether two blocks have an address in common when only `bits` are looked at. */
export function meetUnder(a: Block, b: Block, bits: readonly number[]): boolean {
  return bits.every((bit) => 2 ** bit < a.size || 2 ** bit < b.size || bitAt(a.base, bit) === bitAt(b.base, bit));
}

/** The address bits that a full decode of the regions looks at: those at or above the smallest block. */
export function fullBits(regions: readonly MapRegion[], width: number): number[] {
  let smallest = 2 ** width;
  for (const region of regions)
    for (const block of blocksOf(region.at, region.bytes)) smallest = Math.min(smallest, block.size);
  const bits: number[] = [];
  for (let bit = 0; bit < width; bit++) if (2 ** bit >= smallest) bits.push(bit);
  return bits;
}

/** Whether looking only at `bits` keeps the regions of different parts apart; regions that forbid mirrors need all their bits. */
export function tellsApart(regions: readonly MapRegion[], bits: readonly number[], width: number): boolean {
  for (let i = 0; i < regions.length; i++) {
    const one = regions[i]!;
    if (one.decl.mirrors === 'forbidden' && fullBits([one], width).some((bit) => !bits.includes(bit))) return false;
    for (let j = i + 1; j < regions.length; j++) {
      const other = regions[j]!;
      if (other.part === one.part) continue;
      const together =
        (one.until === undefined || other.stage < one.until) && (other.until === undefined || one.stage < other.until);
      if (!together || one.decl.when !== undefined || other.decl.when !== undefined) continue;
      const all = Array.from({ length: width }, (_, bit) => bit);
      for (const a of blocksOf(one.at, one.bytes)) {
        for (const b of blocksOf(other.at, other.bytes)) {
          // Regions that overlap in truth are reported elsewhere; here only mirrors count.
          if (meetUnder(a, b, bits) && !meetUnder(a, b, all)) return false;
        }
      }
    }
  }
  return true;
}
