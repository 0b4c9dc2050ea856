// Clocks and serial lines: crystals, dividers, and what a receiver stands of a wrong bit rate. Plain arithmetic with the formulas'
// sources; nothing here looks at a machine.

/** Hz and parts of a divided clock. */
export function divided(hz: number, by: number): { readonly hz: number; readonly seconds: number } {
  return { hz: hz / by, seconds: by / hz };
}

/** Relative difference of what one gets to what one wants: 0.01 is one percent fast. */
export function rateError(actual: number, wanted: number): number {
  return actual / wanted - 1;
}

/** The whole divisor nearest to a bit rate, and what comes of it. `samples` is 16 for the 8250 class and the 6551. */
export function bitRate(
  hz: number,
  bitsPerSecond: number,
  samples = 16,
): { readonly divisor: number; readonly actual: number; readonly error: number } {
  const divisor = Math.max(1, Math.round(hz / (samples * bitsPerSecond)));
  const actual = hz / (samples * divisor);
  return { divisor, actual, error: rateError(actual, bitsPerSecond) };
}

/**
 * What a receiver that samples a bit `samples` times stands: its own clock against the sender's, slowest and fastest, as parts of
 * the receiver's rate. `bits` counts data and parity. It looks at the middle sample, `samples / 2`, and decides by the one after.
 * Formula: Rslow = (D+1)S / (S-1 + D S + SF), Rfast = (D+2)S / ((D+1)S + SM), from a maker's table of error tolerance (Microchip
 * online documents, USART, 24.3.3.2.3); the page garbles its layout and this form gives all of its values.
 */
export function receiverTolerance(bits: number, samples = 16): { readonly slow: number; readonly fast: number } {
  const first = samples / 2;
  const middle = first + 1;
  return {
    slow: ((bits + 1) * samples) / (samples - 1 + bits * samples + first),
    fast: ((bits + 2) * samples) / ((bits + 1) * samples + middle),
  };
}

/** The simple criterion: half a bit at the last sample, `span` bits after the start edge (9.5 for 8N1); part of the rate. */
export function halfBitTolerance(span: number): number {
  return 0.5 / span;
}

/** Whether both ends' errors together stay within what the receiver stands. */
export function serialFits(
  senderError: number,
  receiverError: number,
  bits: number,
  samples = 16,
): { readonly fits: boolean; readonly left: number } {
  const { slow, fast } = receiverTolerance(bits, samples);
  const ratio = (1 + senderError) / (1 + receiverError);
  const left = Math.min(ratio - slow, fast - ratio);
  return { fits: left >= 0, left };
}

/** The two equal load capacitors of a crystal: C = 2 (CL - Cstray), pF. Microcontroller makers' notes. */
export function crystalCapacitors(loadPf: number, strayPf: number): number {
  return 2 * (loadPf - strayPf);
}

/** Greatest series resistance of a crystal for the R65C102, ohm: 2e6 / (F CL)^2, MHz and pF (Rockwell, doc 29651N64 rev 6). */
export function crystalSeriesLimit(mhz: number, loadPf: number): number {
  return 2e6 / (mhz * loadPf) ** 2;
}

/** Hz at which a register may be fed back to itself through an array: 1 / (tsu + tco), ns. */
export function feedbackClock(setupNs: number, clockToOutputNs: number): number {
  return 1e9 / (setupNs + clockToOutputNs);
}

/** ns that a write pulse needs where the memory's outputs are still on: it must let go (tWHZ) before data are set up (tDW). */
export function writePulseWithOutputsOn(letGoNs: number, dataSetupNs: number, pulseNs: number): number {
  return Math.max(pulseNs, letGoNs + dataSetupNs);
}

/** ms of a supervisor's reset from its capacitor, by the maker's constant in s per F: TLC7705 2.1e4 (SLVS087M p.1). */
export function resetDelay(farad: number, secondsPerFarad: number): number {
  return farad * secondsPerFarad * 1e3;
}
