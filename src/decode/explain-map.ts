// The fuse maps as the reading side knows them: by rule, not by list, and entered apart from the tables that write files, so
// that a slip in one shows as a difference. Even pairs of columns carry the inputs of the left side in order, odd pairs the
// pins of the right side from the top down; which of those there are depends on the mode. Nothing of the writing side may
// be imported here.

/** What the reading side needs to know of a device in a mode. */
export interface ReadMap {
  /** Pin of the left side at even pairs, of the right side at odd pairs. */
  readonly left: readonly number[];
  readonly right: readonly number[];
  /** Output pins from the first rows to the last. */
  readonly outputs: readonly number[];
}

const count = (from: number, to: number): number[] =>
  Array.from({ length: Math.abs(to - from) + 1 }, (_, i) => (to < from ? from - i : from + i));

/** 16V8 and 20V8. The pins that lose their line are the middle two (simple), the outer two (complex), the two controls (registered). */
export function readMapV8(pins: 20 | 24, mode: 'simple' | 'complex' | 'registered'): ReadMap {
  const top = pins === 20 ? 19 : 22;
  const outputs = count(top, top - 7);
  const left = count(2, pins === 20 ? 9 : 11);
  const control = pins === 20 ? 11 : 13;
  // The 20V8 has one more input beside the outputs at either end: 23 and 14.
  const above = pins === 24 ? [23] : [];
  const below = pins === 24 ? [14] : [];
  if (mode === 'registered') return { left, right: [...above, ...outputs, ...below], outputs };
  const seen =
    mode === 'simple'
      ? outputs.filter((pin) => pin !== top - 3 && pin !== top - 4)
      : outputs.filter((pin) => pin !== top && pin !== top - 7);
  return { left, right: [1, ...above, ...seen, ...below, control], outputs };
}

/** 22V10: rows are reset, then for each output its enable and 8 to 16 terms, then preset. */
export function readMap22V10(): ReadMap {
  return { left: count(1, 11), right: count(23, 13), outputs: count(23, 14) };
}

/** Terms of the outputs of a 22V10 from pin 23 down: 8, 10, 12, 14, 16 and back. */
export function terms22V10(index: number): number {
  return 8 + 2 * Math.min(index, 9 - index);
}
