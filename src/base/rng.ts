// Seeded random numbers (sfc32: three 32-bit words of state and a counter, by C. Doty-Humphrey, PractRand). The only
// source of randomness in the core; the same seed gives the same sequence on every machine.

/** A generator; `next32` is an unsigned 32-bit integer, `below(n)` an integer in 0..n-1, `unit` in [0, 1). */
export interface Rng {
  next32(): number;
  below(n: number): number;
  unit(): number;
}

/** A generator for `seed`, any integer. */
export function createRng(seed: number): Rng {
  let a = seed | 0;
  let b = Math.floor(seed / 4294967296) | 0;
  let c = 0x9e3779b9 | 0;
  let d = 1;
  const next32 = (): number => {
    const t = (((a + b) | 0) + d) | 0;
    d = (d + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = ((c << 21) | (c >>> 11)) + t;
    c |= 0;
    return t >>> 0;
  };
  for (let i = 0; i < 15; i++) next32();
  return {
    next32,
    below: (n) => Math.floor((next32() / 4294967296) * n),
    unit: () => next32() / 4294967296,
  };
}
