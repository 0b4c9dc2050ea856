// Limits that both kernels share, so that they judge alike what does not come to rest.

/** Sweeps after which a loop counts as one that does not come to rest. */
export const SWEEPS = 64;
/** Rounds of commits within one step. */
export const ROUNDS = 64;
