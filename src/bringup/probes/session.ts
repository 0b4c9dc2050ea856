// The guided search: what is held for likely, the one measurement that is worth most next, and what an answer changes. Answers of a
// meter, a probe or an eye; a new capture starts a new session from more captures.

import { type Bench, type Edit, type Nodes, nodesOf, type Place, probeOf } from '../faults/index.ts';
import type { HoleName } from '../../board/index.ts';
import type { ClassResult, Prepared } from '../diagnose/index.ts';
import { posterior } from '../diagnose/index.ts';
import { type Dictionary, LEVELS, makeDictionary, probeNets } from './dictionary.ts';
import { type Answer, COSTS, keyOf, type Measurement, measurementText } from './measure.ts';

/** A place with the slips that are mended there together. */
interface Item {
  readonly at: number;
  readonly places: readonly Place[];
  weight: number;
}

export interface Suggestion {
  readonly measurement: Measurement;
  readonly text: string;
  /** Bits expected, and bits for each unit of effort. */
  readonly bits: number;
  readonly worth: number;
}

export interface LikelyPlace {
  readonly place: Place;
  readonly probability: number;
}

/** How far an answer is believed. */
const BELIEF = 0.97;
/** A place that is at least so likely is looked at before anything else is measured. */
const LOOK_AT = 0.4;
const MOST_ITEMS = 500;
const MOST_CLASSES = 220;
/** A kind of measurement that gave less than this share of what it promised is trusted less from then on. */
const DISAPPOINTS = 0.15;
const TRUST_LESS = 0.6;

export class GuidedSession {
  readonly #bench: Bench;
  readonly #items: Item[];
  readonly #dictionary: Dictionary;
  readonly #nodes = new Map<number, Nodes>();
  readonly #edits: (at: number) => Edit;
  readonly #asked = new Set<string>();
  readonly #trust = new Map<Measurement['kind'], number>();
  /** Half clock of the machine, ns, for rates. */
  readonly #halfNs: number;
  readonly #pairs: readonly (readonly [number, number])[];

  /** `mostClasses`: hypotheses kept, the likeliest; each costs a run of the machine. */
  constructor(prepared: Prepared, results: readonly ClassResult[], options: { readonly mostClasses?: number } = {}) {
    const { bench, plan, faults, images } = prepared.input;
    this.#bench = bench;
    this.#edits = (at) => prepared.classes[at]!.edit;
    const weights = posterior(prepared, results);
    const items = new Map<string, Item>();
    results.forEach(({ at }, k) => {
      const one = prepared.classes[at]!;
      for (const member of one.members) {
        const fault = faults[member]!;
        const key = `${at} ${fault.places.map((place) => place.key).join()}`;
        const item = items.get(key);
        const share = weights[k]! * (fault.prior / Math.max(one.prior, 1e-300));
        if (item === undefined) items.set(key, { at, places: fault.places, weight: share });
        else item.weight += share;
      }
    });
    const sorted = [...items.values()]
      .sort((a, b) => b.weight - a.weight)
      .slice(0, Math.max(MOST_ITEMS, 4 * (options.mostClasses ?? 0)));
    const classes = [...new Set(sorted.map(({ at }) => at))].slice(0, options.mostClasses ?? MOST_CLASSES);
    const kept = new Set(classes);
    this.#items = sorted.filter(({ at }) => kept.has(at));
    normalise(this.#items);
    const where = probeNets(bench, (net) => probeOf(bench, net)?.strip);
    this.#dictionary = makeDictionary(plan, prepared.classes, classes, where, {
      halves: 2400,
      edgesPerHalf: prepared.edgesPerHalf,
      ...(images === undefined ? {} : { images }),
    });
    const clock = plan.clocks.reduce((fastest, { halfNs }) => Math.min(fastest, halfNs), Number.POSITIVE_INFINITY);
    this.#halfNs = clock * prepared.edgesPerHalf;
    this.#pairs = this.#continuityPairs();
  }

  get nets(): readonly string[] {
    return this.#dictionary.nets;
  }

  /** Places, likeliest first. */
  places(): LikelyPlace[] {
    const found = new Map<string, { place: Place; probability: number }>();
    for (const { places, weight } of this.#items)
      for (const place of places) {
        const old = found.get(place.key);
        if (old === undefined) found.set(place.key, { place, probability: weight });
        else old.probability += weight;
      }
    return [...found.values()].sort((a, b) => b.probability - a.probability || (a.place.key < b.place.key ? -1 : 1));
  }

  /** The measurements worth most, best first. */
  next(count = 1): Suggestion[] {
    const list: Suggestion[] = [];
    const places = this.places().slice(0, 12);
    const offer = (measurement: Measurement): void => {
      if (this.#asked.has(keyOf(measurement))) return;
      const bits = this.#bits(measurement) * (this.#trust.get(measurement.kind) ?? 1);
      list.push({ measurement, text: measurementText(measurement), bits, worth: bits / COSTS[measurement.kind] });
    };
    for (const { place } of places) offer({ kind: 'look', place });
    for (const net of this.#dictionary.nets) {
      offer({ kind: 'level', net });
      offer({ kind: 'frequency', net });
    }
    for (const [a, b] of this.#pairs) {
      const [p, q] = [this.#bench.pins[a]!, this.#bench.pins[b]!];
      offer({ kind: 'continuity', from: p.hole, to: q.hole, about: `${p.ref} and ${q.ref}` });
    }
    list.sort((x, y) => y.worth - x.worth || (keyOf(x.measurement) < keyOf(y.measurement) ? -1 : 1));
    const sure = places.find(({ place }) => !this.#asked.has(`look ${place.key}`));
    if (sure !== undefined && sure.probability >= LOOK_AT) {
      const at = list.findIndex(
        ({ measurement }) => measurement.kind === 'look' && measurement.place.key === sure.place.key,
      );
      if (at > 0) list.unshift(...list.splice(at, 1));
    }
    return list.slice(0, count);
  }

  /** Takes an answer; it counts as evidence, and the same question is not asked again. */
  answer(measurement: Measurement, answer: Answer): void {
    const promised = this.#bits(measurement);
    const before = entropy(this.#items);
    this.#asked.add(keyOf(measurement));
    for (const item of this.#items) item.weight *= this.#likelihood(item, measurement, answer);
    normalise(this.#items);
    const gained = before - entropy(this.#items);
    if (promised > 0.05 && gained < promised * DISAPPOINTS && measurement.kind !== 'look')
      this.#trust.set(measurement.kind, (this.#trust.get(measurement.kind) ?? 1) * TRUST_LESS);
  }

  #likelihood(item: Item, measurement: Measurement, answer: Answer): number {
    if (measurement.kind === 'look' && answer.kind === 'look') {
      const isThere = item.places.some(({ key }) => key === measurement.place.key);
      return isThere === answer.wrong ? 1 : 0.02;
    }
    if (measurement.kind === 'continuity' && answer.kind === 'continuity') {
      const isJoined = this.#joined(item.at, measurement.from, measurement.to);
      return isJoined === undefined ? 0.5 : isJoined === answer.joined ? BELIEF : 1 - BELIEF;
    }
    if (measurement.kind === 'level' && answer.kind === 'level')
      return this.#levels(item.at, measurement.net)[LEVELS.indexOf(answer.level)]!;
    if (measurement.kind === 'frequency' && answer.kind === 'frequency') {
      // Edges in a thousand half clocks.
      const edges = answer.hertz * 2 * this.#halfNs * 1e-9 * 1000;
      return this.#rates(item.at, measurement.net).get(rateBin(edges)) ?? (1 - BELIEF) / 4;
    }
    return 1;
  }

  /** Share of each level, by class. */
  #levels(at: number, net: string): number[] {
    const n = this.#dictionary.nets.indexOf(net);
    const out = [0.01, 0.01, 0.01, 0.01];
    const shows = this.#dictionary.shows.get(at) ?? [];
    if (n < 0 || shows.length === 0) return [0.25, 0.25, 0.25, 0.25];
    for (const showing of shows) {
      const level = showing.level[n]!;
      // What floats is seen as anything.
      if (level === 3) for (const k of [0, 1, 2, 3]) out[k]! += (k === 3 ? 0.3 : k === 2 ? 0.2 : 0.25) / shows.length;
      else out[level]! += 1 / shows.length;
    }
    const sum = out.reduce((a, b) => a + b, 0);
    return out.map((value) => value / sum);
  }

  #rates(at: number, net: string): Map<number, number> {
    const n = this.#dictionary.nets.indexOf(net);
    const shows = this.#dictionary.shows.get(at) ?? [];
    const out = new Map<number, number>();
    for (const showing of shows) {
      if (showing.level[n] === 3) {
        out.set(0, (out.get(0) ?? 0) + 0.6 / shows.length);
        continue;
      }
      const bin = rateBin(showing.edges[n] ?? 0);
      for (const [near, share] of [
        [bin, 0.9],
        [bin - 1, 0.04],
        [bin + 1, 0.04],
      ] as const)
        out.set(near, (out.get(near) ?? 0) + share / shows.length);
    }
    return out;
  }

  #nodesOf(at: number): Nodes {
    let nodes = this.#nodes.get(at);
    if (nodes === undefined) {
      nodes = nodesOf(this.#bench, [], this.#edits(at));
      this.#nodes.set(at, nodes);
    }
    return nodes;
  }

  /** Whether a meter beeps between two holes, by the pins whose legs stand there; undefined where no leg does. */
  #joined(at: number, from: HoleName, to: HoleName): boolean | undefined {
    const nodes = this.#nodesOf(at);
    const pinAt = (hole: HoleName): number => this.#bench.pins.findIndex((pin) => pin.hole === hole);
    const [a, b] = [pinAt(from), pinAt(to)];
    if (a >= 0 && b >= 0) return nodes.ofPin[a] === nodes.ofPin[b];
    const strips = [this.#bench.strip(from), this.#bench.strip(to)];
    if (strips.some((strip) => strip < 0)) return undefined;
    const { ofProbe } = nodesOf(this.#bench, strips, this.#edits(at));
    return ofProbe[0] === ofProbe[1];
  }

  /** Pins that hypotheses part or join: along each net from its first pin, and across nets that some hypothesis joins. */
  #continuityPairs(): (readonly [number, number])[] {
    const { pins } = this.#bench;
    const good = nodesOf(this.#bench, [], {});
    const byNode = new Map<number, number[]>();
    pins.forEach((_, k) => {
      byNode.set(good.ofPin[k]!, [...(byNode.get(good.ofPin[k]!) ?? []), k]);
    });
    const pairs = new Map<string, readonly [number, number]>();
    const add = (a: number, b: number): void => {
      if (pairs.size < 1500) pairs.set(`${Math.min(a, b)} ${Math.max(a, b)}`, [a, b]);
    };
    for (const { at } of this.#items) {
      const nodes = this.#nodesOf(at);
      const firstOf = new Map<number, number>();
      for (const list of byNode.values()) {
        const first = list[0]!;
        const isSplit = list.some((pin) => nodes.ofPin[pin] !== nodes.ofPin[first]);
        if (isSplit) for (const pin of list.slice(1)) add(first, pin);
        const other = firstOf.get(nodes.ofPin[first]!);
        if (other !== undefined) add(other, first);
        firstOf.set(nodes.ofPin[first]!, first);
      }
    }
    return [...pairs.values()];
  }

  /** Bits an answer is expected to give. */
  #bits(measurement: Measurement): number {
    const total = new Map<number, number>();
    let conditional = 0;
    const take = (weight: number, shares: Iterable<readonly [number, number]>): void => {
      for (const [outcome, share] of shares) {
        if (share <= 0) continue;
        total.set(outcome, (total.get(outcome) ?? 0) + weight * share);
        conditional -= weight * share * Math.log2(share);
      }
    };
    if (measurement.kind === 'continuity') {
      const [a, b] = [measurement.from, measurement.to].map((hole) =>
        this.#bench.pins.findIndex((pin) => pin.hole === hole),
      );
      for (const { at, weight } of this.#items) {
        const { ofPin } = this.#nodesOf(at);
        take(
          weight,
          ofPin[a!] === ofPin[b!]
            ? [
                [1, BELIEF],
                [0, 1 - BELIEF],
              ]
            : [
                [0, BELIEF],
                [1, 1 - BELIEF],
              ],
        );
      }
    } else {
      const known = new Map<number, readonly (readonly [number, number])[]>();
      for (const { at, weight, places } of this.#items) {
        if (measurement.kind === 'look') {
          const isThere = places.some(({ key }) => key === measurement.place.key);
          take(
            weight,
            isThere
              ? [
                  [1, 0.98],
                  [0, 0.02],
                ]
              : [
                  [0, 0.98],
                  [1, 0.02],
                ],
          );
          continue;
        }
        let shares = known.get(at);
        if (shares === undefined) {
          shares =
            measurement.kind === 'frequency'
              ? [...this.#rates(at, measurement.net)]
              : this.#levels(at, measurement.net).map((share, k) => [k, share] as const);
          known.set(at, shares);
        }
        take(weight, shares);
      }
    }
    let all = 0;
    for (const share of total.values()) if (share > 0) all -= share * Math.log2(share);
    return Math.max(0, all - conditional);
  }
}

/** Rates alike within a fifth are one. */
function rateBin(edges: number): number {
  return edges < 0.5 ? 0 : 100 + Math.round(Math.log2(edges) * 3);
}

function normalise(items: Item[]): void {
  const sum = items.reduce((total, { weight }) => total + weight, 0);
  for (const item of items) item.weight = sum > 0 ? item.weight / sum : 1 / items.length;
}

function entropy(items: readonly Item[]): number {
  let bits = 0;
  for (const { weight } of items) if (weight > 0) bits -= weight * Math.log2(weight);
  return bits;
}
