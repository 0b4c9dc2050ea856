// Further reckonings that makers' sheets and manuals do by hand: access times, displays, interrupts, refresh, slew. Plain
// arithmetic with the formulas' sources; nothing here looks at a machine.

import { UNIT_LOAD } from './levels.ts';

/**
 * ns that are left for a memory: periods of the clock, less what the processor takes at both ends. As in Motorola's and Intel's
 * access times: `clocks` T - address delay - data set-up (- the fall of E where the sheet counts it), `waits` periods more.
 */
export function accessTime(of: {
  readonly periodNs: number;
  readonly clocks: number;
  readonly waits?: number;
  /** What is lost: address delay, data set-up, edges; ns. */
  readonly lost: readonly number[];
}): number {
  return (of.clocks + (of.waits ?? 0)) * of.periodNs - of.lost.reduce((sum, ns) => sum + ns, 0);
}

/** Wait states, whole, with which an access time becomes enough; 0 where it is enough already. */
export function waitsFor(accessNs: number, neededNs: number, periodNs: number): number {
  return Math.max(0, Math.ceil((neededNs - accessNs) / periodNs - 1e-9));
}

/** mA of so many unit loads at high and low, the other way round from `unitLoads` (Motorola SN54/74LS373, p.5-521). */
export function ofUnitLoads(units: { readonly high: number; readonly low: number }): { highMa: number; lowMa: number } {
  return { highMa: units.high * UNIT_LOAD.highMa, lowMa: units.low * UNIT_LOAD.lowMa };
}

/** V per second of a step. Microchip TC1232, DS21370D, figure 4-3: 0.5 V in 300 us. */
export function slewRate(volts: number, seconds: number): number {
  return volts / seconds;
}

/** Seconds of a display's raster, from its character clock and registers as the Motorola MC6845 sheet reckons them. */
export interface DisplayTimes {
  readonly line: number;
  readonly row: number;
  readonly shown: number;
  readonly sync: number;
  readonly frame: number;
  readonly visible: number;
  readonly adjust: number;
}

/** The timing chain of a character display: registers count characters, scan lines and rows; the total has one more than Nht. */
export function displayTimes(of: {
  readonly characterSeconds: number;
  readonly horizontalTotal: number;
  readonly linesPerRow: number;
  readonly rowsTotal: number;
  readonly rowsShown: number;
  readonly charactersShown: number;
  readonly syncCharacters: number;
  readonly adjustLines: number;
}): DisplayTimes {
  const line = (of.horizontalTotal + 1) * of.characterSeconds;
  const row = of.linesPerRow * line;
  return {
    line,
    row,
    shown: of.charactersShown * of.characterSeconds,
    sync: of.syncCharacters * of.characterSeconds,
    frame: of.rowsTotal * row,
    visible: of.rowsShown * row,
    adjust: of.adjustLines * line,
  };
}

/** Clocks of an interrupt's service: the acknowledge and each instruction (Zilog UM008101-0601, DMA and SIO example). */
export function serviceClocks(clocks: readonly number[]): number {
  return clocks.reduce((sum, each) => sum + each, 0);
}

/** Part of the processor's time that so many services a second take (same example). */
export function timeTaken(clocksEach: number, perSecond: number, hz: number): number {
  return (clocksEach * perSecond) / hz;
}

/** Bytes a second of a line with so many bits on it for each byte: 8 where start and stop aren't counted. */
export function bytesPerSecond(bitsPerSecond: number, bitsEach = 8): number {
  return bitsPerSecond / bitsEach;
}

/** Seconds between the refreshes of dynamic memory: each row once in a period. */
export function refreshSpacing(rows: number, periodSeconds: number): number {
  return periodSeconds / rows;
}

/** ns of a whole cycle of a peripheral: set-up, strobe and rest after it (National PC16550D, RC and WC). */
export function cycleTime(partsNs: readonly number[]): number {
  return partsNs.reduce((sum, ns) => sum + ns, 0);
}
