// Figures as words, the same in every view of Margins.

/** `5.60 MHz`. */
export function megahertz(hz: number | null): string {
  if (hz === null) return 'not known';
  if (hz >= 1e6) return `${(hz / 1e6).toFixed(hz >= 99.95e6 ? 0 : 2)} MHz`;
  return hz >= 1e3 ? `${(hz / 1e3).toFixed(1)} kHz` : `${Math.round(hz)} Hz`;
}

/** A figure, or that nobody printed it. */
export function figure(value: number | null, unit = ''): string {
  return value === null ? '?' : `${value}${unit}`;
}
