// What a capture of a correct machine proves, and which nets to hook up for most: a slip is shown when what is seen on some channel
// cannot be what the machine as meant shows, however floating nets stand.

import type { Fault, Place } from '../faults/index.ts';
import type { FaultClassOfNets } from '../diagnose/index.ts';
import type { Dictionary, Showing } from './dictionary.ts';

/** Whether a net shows a difference: firm traces that are not alike. */
const differs = (good: Showing, one: Showing, net: number): boolean =>
  good.print[net] !== one.print[net] && one.level[net] !== 3;

/** Classes that would have shown on these nets (indexes into the dictionary), in every way floats may stand. */
export function shownBy(dictionary: Dictionary, good: number, nets: readonly number[]): Set<number> {
  const shown = new Set<number>();
  const right = dictionary.shows.get(good)?.[0];
  if (right === undefined) return shown;
  for (const [at, shows] of dictionary.shows)
    if (at !== good && shows.every((one) => nets.some((net) => differs(right, one, net)))) shown.add(at);
  return shown;
}

export interface Coverage {
  /** Share of what may be wrong, by prior, that a passed proof excludes. */
  readonly share: number;
  readonly shown: number;
  readonly total: number;
  /** Places of which some slip would not have shown, with the prior left there; worst first. */
  readonly untested: readonly { readonly place: Place; readonly prior: number; readonly slips: readonly string[] }[];
  /** Channels that would show more, best first, with the share they add. */
  readonly moreChannels: readonly { readonly net: string; readonly adds: number }[];
}

/** What was exercised by channels `nets` (names), and what was not. */
export function coverageOf(
  dictionary: Dictionary,
  classes: readonly FaultClassOfNets[],
  faults: readonly Fault[],
  nets: readonly string[],
): Coverage {
  const good = classes.findIndex(({ isCorrect }) => isCorrect);
  const indexes = nets.map((net) => dictionary.nets.indexOf(net)).filter((k) => k >= 0);
  const shown = shownBy(dictionary, good, indexes);
  let total = 0;
  let share = 0;
  let slips = 0;
  let slipsShown = 0;
  const untested = new Map<string, { place: Place; prior: number; slips: string[] }>();
  classes.forEach((one, at) => {
    total += one.prior;
    slips += one.members.length;
    if (shown.has(at)) {
      share += one.prior;
      slipsShown += one.members.length;
      return;
    }
    for (const member of one.members) {
      const fault = faults[member]!;
      for (const place of fault.places) {
        const entry = untested.get(place.key) ?? { place, prior: 0, slips: [] };
        entry.prior += fault.prior;
        entry.slips.push(fault.text);
        untested.set(place.key, entry);
      }
    }
  });
  const moreChannels = dictionary.nets
    .flatMap((net, k) => {
      if (indexes.includes(k)) return [];
      let adds = 0;
      for (const at of shownBy(dictionary, good, [...indexes, k])) if (!shown.has(at)) adds += classes[at]!.prior;
      return adds > 0 ? [{ net, adds: adds / total }] : [];
    })
    .sort((a, b) => b.adds - a.adds || (a.net < b.net ? -1 : 1));
  return {
    share: total > 0 ? share / total : 0,
    shown: slipsShown,
    total: slips,
    untested: [...untested.values()].sort((a, b) => b.prior - a.prior || (a.place.key < b.place.key ? -1 : 1)),
    moreChannels,
  };
}

export interface ChannelChoice {
  readonly net: string;
  /** Bits about what is wrong, by prior, after this and those before it. */
  readonly bits: number;
  /** Share of what may be wrong that shows, after this and those before it. */
  readonly shows: number;
}

/**
 * The nets to hook up first: each splits what is left best, by what it shows of every class. `first` are taken in any case (clock and
 * reset: without them nothing can be laid on half clocks).
 */
export function chooseChannels(
  dictionary: Dictionary,
  classes: readonly FaultClassOfNets[],
  count: number,
  first: readonly string[],
): ChannelChoice[] {
  const good = classes.findIndex(({ isCorrect }) => isCorrect);
  const known = classes.map((_, at) => at).filter((at) => dictionary.shows.has(at));
  const sum = known.reduce((all, at) => all + classes[at]!.prior, 0);
  const right = dictionary.shows.get(good)?.[0];
  /** Which classes are alike so far. */
  let cells = new Map<number, number>(known.map((at) => [at, 0]));
  const chosen: ChannelChoice[] = [];
  const taken: number[] = [];
  const splitBy = (net: number): { cells: Map<number, number>; bits: number } => {
    const names = new Map<string, number>();
    const weights = new Map<number, number>();
    const next = new Map<number, number>();
    for (const at of known) {
      const shows = dictionary.shows.get(at)!;
      const key = `${cells.get(at)} ${shows.map((one) => (one.level[net] === 3 ? 'f' : one.print[net])).join()}`;
      const cell = names.get(key) ?? names.size;
      names.set(key, cell);
      next.set(at, cell);
      weights.set(cell, (weights.get(cell) ?? 0) + (classes[at]!.prior + (at === good ? sum : 0)) / (2 * sum));
    }
    let bits = 0;
    for (const weight of weights.values()) if (weight > 0) bits -= weight * Math.log2(weight);
    return { cells: next, bits };
  };
  const take = (net: number): void => {
    const split = splitBy(net);
    cells = split.cells;
    taken.push(net);
    let shows = 0;
    if (right !== undefined) for (const at of shownBy(dictionary, good, taken)) shows += classes[at]!.prior / sum;
    chosen.push({ net: dictionary.nets[net]!, bits: split.bits, shows });
  };
  for (const net of first) {
    const at = dictionary.nets.indexOf(net);
    if (at >= 0 && chosen.length < count) take(at);
  }
  while (chosen.length < count) {
    let best = -1;
    let bits = -1;
    dictionary.nets.forEach((_, net) => {
      if (taken.includes(net)) return;
      const split = splitBy(net);
      if (split.bits <= bits + 1e-9) return;
      bits = split.bits;
      best = net;
    });
    if (best < 0) break;
    take(best);
  }
  return chosen;
}
