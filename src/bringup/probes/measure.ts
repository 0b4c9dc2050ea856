// What can be asked of the bench, what each hypothesis answers, and how much an answer is worth. A channel of an instrument, a level
// or rate at one net, continuity between two holes, a look at one place.

import { foldName, parseQuantity } from '../../base/index.ts';
import type { HoleName } from '../../board/index.ts';
import type { Place } from '../faults/index.ts';

export type Measurement =
  | { readonly kind: 'level'; readonly net: string }
  | { readonly kind: 'frequency'; readonly net: string }
  /** Hook this net up too and capture again. */
  | { readonly kind: 'channel'; readonly net: string }
  | { readonly kind: 'continuity'; readonly from: HoleName; readonly to: HoleName; readonly about: string }
  | { readonly kind: 'look'; readonly place: Place };

/** An answer as typed or clicked. */
export type Answer =
  | { readonly kind: 'level'; readonly level: 'low' | 'high' | 'changes' | 'floats' }
  | { readonly kind: 'frequency'; readonly hertz: number }
  | { readonly kind: 'continuity'; readonly joined: boolean }
  | { readonly kind: 'look'; readonly wrong: boolean };

/** Effort of each kind, in measurements of a level. */
export const COSTS: Readonly<Record<Measurement['kind'], number>> = {
  level: 1,
  frequency: 1,
  channel: 2,
  continuity: 1,
  look: 1,
};

export const keyOf = (measurement: Measurement): string =>
  measurement.kind === 'look'
    ? `look ${measurement.place.key}`
    : measurement.kind === 'continuity'
      ? `continuity ${[measurement.from, measurement.to].sort().join(' ')}`
      : `${measurement.kind} ${measurement.net}`;

/** A measurement in words. */
export function measurementText(measurement: Measurement): string {
  switch (measurement.kind) {
    case 'level':
      return `Is ${measurement.net} low, high or changing?`;
    case 'frequency':
      return `At what rate does ${measurement.net} change?`;
    case 'channel':
      return `Hook ${measurement.net} up to a channel and capture again.`;
    case 'continuity':
      return `Power off. Does the meter beep between ${measurement.from} and ${measurement.to} (${measurement.about})?`;
    default:
      return `Look at ${measurement.place.text}.`;
  }
}

/** Words for a level, as people type them. */
const LEVEL_WORDS: Readonly<Record<string, 'low' | 'high' | 'changes' | 'floats'>> = {
  low: 'low',
  '0': 'low',
  high: 'high',
  '1': 'high',
  changes: 'changes',
  changing: 'changes',
  toggles: 'changes',
  pulses: 'changes',
  floats: 'floats',
  floating: 'floats',
};

/**
 * Reads what was typed: `A7 stuck low`, `/RD high`, `A7 230 kHz`, `2:20a 2:34e open`, `CPU.A7 ROM.A7 joined`. Undefined for anything
 * else. `holeOf` gives the hole of a pin written `PART.PIN`, or of a hole itself.
 */
export function readAnswer(
  text: string,
  nets: readonly string[],
  holeOf: (text: string) => HoleName | undefined,
): { readonly measurement: Measurement; readonly answer: Answer } | undefined {
  const words = text
    .trim()
    .split(/[\s,=:]+(?![a-jtb\d])|\s+/)
    .filter((word) => word !== '' && !/^(?:is|stuck|at|to|and|stands?|always|between)$/i.test(word));
  const first = words[0];
  if (first === undefined) return undefined;
  const net = nets.find((name) => foldName(name) === foldName(first));
  const rest = words.slice(1).join(' ').toLowerCase();
  if (net !== undefined) {
    const level = LEVEL_WORDS[rest];
    if (level !== undefined) return { measurement: { kind: 'level', net }, answer: { kind: 'level', level } };
    const quantity = parseQuantity(
      rest
        .replace(/hz$/, 'Hz')
        .replace(/\bk(?=Hz)/i, 'k')
        .replace(/\bm(?=Hz)/i, 'M'),
    );
    if (quantity?.dimension === 'frequency')
      return { measurement: { kind: 'frequency', net }, answer: { kind: 'frequency', hertz: quantity.value } };
    return undefined;
  }
  const [a, b] = [holeOf(first), holeOf(words[1] ?? '')];
  if (a === undefined || b === undefined) return undefined;
  const state = words.slice(2).join(' ').toLowerCase();
  const joined = /^(?:joined|beeps?|closed|connected|yes)$/.test(state)
    ? true
    : /^(?:open|apart|no|silent|no beep)$/.test(state)
      ? false
      : undefined;
  return joined === undefined
    ? undefined
    : {
        measurement: { kind: 'continuity', from: a, to: b, about: `${first} and ${words[1]}` },
        answer: { kind: 'continuity', joined },
      };
}
