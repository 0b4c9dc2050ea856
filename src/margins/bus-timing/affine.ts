// Times that grow with the clock's period: perPeriod x T + ns. Kept as such, so that the fastest clock follows by division and
// is not searched for.

export interface Affine {
  /** Clock periods. */
  readonly perPeriod: number;
  readonly ns: number;
}

export const ZERO: Affine = { perPeriod: 0, ns: 0 };
export const nanoseconds = (ns: number): Affine => ({ perPeriod: 0, ns });
export const periods = (perPeriod: number): Affine => ({ perPeriod, ns: 0 });

export function add(a: Affine, b: Affine): Affine {
  return { perPeriod: a.perPeriod + b.perPeriod, ns: a.ns + b.ns };
}

export function minus(a: Affine, b: Affine): Affine {
  return { perPeriod: a.perPeriod - b.perPeriod, ns: a.ns - b.ns };
}

export function times(a: Affine, factor: number): Affine {
  return { perPeriod: a.perPeriod * factor, ns: a.ns * factor };
}

/** ns at a period of `periodNs`. */
export function at(a: Affine, periodNs: number): number {
  return a.perPeriod * periodNs + a.ns;
}

/**
 * The shortest period from which on the time isn't negative: 0 where it never is, infinity where no period helps.
 */
export function shortestPeriod(margin: Affine): number {
  if (margin.perPeriod > 1e-12) return Math.max(0, -margin.ns / margin.perPeriod);
  return margin.ns >= -1e-9 ? 0 : Number.POSITIVE_INFINITY;
}
