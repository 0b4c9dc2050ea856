// What of the waveforms is seen: which half clocks, and where they lie on the canvas. Plain numbers, changed by keys and pointer.

/** Left of the waves are the names, above them the ruler. */
export const NAMES = 132;
export const RULER = 58;
export const FOOT = 22;

export interface WaveView {
  /** First half clock at the left edge; a fraction while panning. */
  readonly from: number;
  /** px of a half clock. */
  readonly scale: number;
}

export const LEAST_SCALE = 0.02;
export const MOST_SCALE = 80;

/** Kept within the trace, so that there is always something to see. */
export function clampView(view: WaveView, halves: number, width: number): WaveView {
  const room = Math.max(40, width - NAMES);
  const scale = Math.min(MOST_SCALE, Math.max(Math.max(LEAST_SCALE, room / Math.max(1, halves) / 1.02), view.scale));
  const shown = room / scale;
  const from = Math.min(Math.max(0, halves - shown * 0.98), Math.max(0, view.from));
  return { from, scale };
}

/** The view with another scale, `at` px from the left edge of the canvas staying where it is. */
export function zoomAt(view: WaveView, factor: number, at: number): WaveView {
  const half = view.from + (at - NAMES) / view.scale;
  const scale = Math.min(MOST_SCALE, Math.max(LEAST_SCALE, view.scale * factor));
  return { from: half - (at - NAMES) / scale, scale };
}

/** Shows a half clock a third from the left. */
export function showHalf(view: WaveView, half: number, width: number): WaveView {
  return { ...view, from: half - (width - NAMES) / view.scale / 3 };
}

export const halfAt = (view: WaveView, x: number): number => Math.floor(view.from + (x - NAMES) / view.scale);
export const xOf = (view: WaveView, half: number): number => NAMES + (half - view.from) * view.scale;
