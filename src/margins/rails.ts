// The rails of breadboards as a network of resistance: segments, strips, contacts, jumpers, feeds and what each chip draws. Gives
// the voltage at every chip's pins, what the meter should read, feeds that would help, and from readings the contact that is bad.

import { type Conductor, prepareNetwork, type Solver } from './linear.ts';

/**
 * ohm, measured on new boards with four wires (a supplier's forum, "What is the maximum current for a solderless breadboard?"):
 * rail 11 mohm per inch, contact about 9 mohm; wire of AWG 22 at 20 C 53 mohm per metre (ASTM B258 sizes). Strips of five are
 * taken to be like rails (common practice, no source).
 */
export const RAIL_OHM = { perInch: 0.011, contact: 0.009, wirePerMetre: 0.053 } as const;

/** A place on a rail or strip: inches from its left or upper end. */
export interface RailPlace {
  readonly rail: string;
  readonly inch: number;
}

/** Where a supply enters. */
export interface RailFeed {
  readonly name: string;
  readonly plus: RailPlace;
  readonly ground: RailPlace;
  readonly volts: number;
  /** mm of wire from the supply to the board, one way. */
  readonly mm: number;
}

export interface RailChip {
  readonly name: string;
  readonly plus: RailPlace;
  readonly ground: RailPlace;
  /** mm of wire from rail to pin, one way; it ends in a contact on both sides. Of no account where the chip is seated. */
  readonly mm: number;
  /** Drawn at plus and given back at ground; negative for a negative supply. */
  readonly mA: number;
  /** True where the pins stand in the places themselves, each in one contact, and the wires are jumpers. */
  readonly isSeated?: boolean;
  /** Further pins of the same kind, each with its place. */
  readonly also?: { readonly plus: readonly RailPlace[]; readonly ground: readonly RailPlace[] };
}

export interface RailWiring {
  /** Whole conductors: a rail that is broken in the middle is two. */
  readonly rails: readonly { readonly name: string; readonly kind: 'plus' | 'ground' }[];
  /** Wires between rails, both ends in contacts. */
  readonly jumpers: readonly {
    readonly name: string;
    readonly from: RailPlace;
    readonly to: RailPlace;
    readonly mm: number;
  }[];
  readonly feeds: readonly RailFeed[];
  readonly chips: readonly RailChip[];
}

export interface ChipVolts {
  readonly name: string;
  /** V between its supply pins; null where no feed reaches it. */
  readonly volts: number | null;
  /** V of each pin against the supply's ground, as a meter shows them. */
  readonly plus: number | null;
  readonly ground: number | null;
}

/** ohm of a wire with a contact at both ends. */
const wireOhm = (mm: number): number => 2 * RAIL_OHM.contact + (mm / 1000) * RAIL_OHM.wirePerMetre;

/** `worse` adds ohms to a named jumper, feed or chip, for the search for a bad contact; `plus` or `ground` side. */
export interface Worse {
  readonly name: string;
  readonly side: 'plus' | 'ground' | 'jumper';
  readonly ohm: number;
}

interface RailModel {
  readonly solver: Solver;
  /** Each contact that may go bad with its conductor. */
  readonly ends: readonly { readonly name: string; readonly side: Worse['side']; readonly conductor: Conductor }[];
  readonly node: (chip: string, side: 'plus' | 'ground') => number;
  readonly placeNode: (place: RailPlace) => number | undefined;
  /** Some node that a supply holds. */
  readonly held: number;
}

function modelOf(wiring: RailWiring, worse?: Worse, more: readonly FeedPlace[] = []): RailModel {
  const places = new Map<string, Set<number>>();
  const at = (place: RailPlace): void => {
    const list = places.get(place.rail);
    if (list === undefined) places.set(place.rail, new Set([place.inch]));
    else list.add(place.inch);
  };
  const chipPlaces = (chip: RailChip, side: 'plus' | 'ground'): readonly RailPlace[] => [
    chip[side],
    ...(chip.also?.[side] ?? []),
  ];
  for (const feed of wiring.feeds) {
    at(feed.plus);
    at(feed.ground);
  }
  for (const chip of wiring.chips)
    for (const side of ['plus', 'ground'] as const) for (const place of chipPlaces(chip, side)) at(place);
  for (const jumper of wiring.jumpers) {
    at(jumper.from);
    at(jumper.to);
  }
  for (const place of more) {
    at(place.plus);
    at(place.ground);
  }
  const nodes = new Map<string, number>();
  const nodeOf = (key: string): number => {
    const known = nodes.get(key);
    if (known !== undefined) return known;
    nodes.set(key, nodes.size);
    return nodes.size - 1;
  };
  const keyOf = (place: RailPlace): string => `${place.rail}@${place.inch}`;
  const placeNode = (place: RailPlace): number => nodeOf(keyOf(place));
  const conductors: Conductor[] = [];
  const ends: { name: string; side: Worse['side']; conductor: Conductor }[] = [];
  for (const [rail, set] of places) {
    const inches = [...set].sort((a, b) => a - b);
    for (let k = 1; k < inches.length; k++)
      conductors.push({
        a: placeNode({ rail, inch: inches[k - 1]! }),
        b: placeNode({ rail, inch: inches[k]! }),
        ohm: (inches[k]! - inches[k - 1]!) * RAIL_OHM.perInch,
      });
  }
  const end = (name: string, side: Worse['side'], a: number, b: number, ohm: number): void => {
    const extra = worse !== undefined && worse.name === name && worse.side === side ? worse.ohm : 0;
    const conductor = { a, b, ohm: ohm + extra };
    conductors.push(conductor);
    ends.push({ name, side, conductor });
  };
  for (const jumper of wiring.jumpers)
    end(jumper.name, 'jumper', placeNode(jumper.from), placeNode(jumper.to), wireOhm(jumper.mm));
  const held = new Map<number, number>();
  for (const feed of wiring.feeds)
    for (const side of ['plus', 'ground'] as const) {
      const node = nodeOf(`feed ${feed.name} ${side}`);
      held.set(node, side === 'plus' ? feed.volts : 0);
      // One contact only: the other end is at the supply.
      end(feed.name, side, node, placeNode(feed[side]), wireOhm(feed.mm) - RAIL_OHM.contact);
    }
  const drawn = new Map<number, number>();
  for (const chip of wiring.chips)
    for (const side of ['plus', 'ground'] as const) {
      const node = nodeOf(`chip ${chip.name} ${side}`);
      // A seated pin has its own contact; else there are a wire with two and the pin's.
      const ohm = chip.isSeated === true ? RAIL_OHM.contact : wireOhm(chip.mm) + RAIL_OHM.contact;
      for (const place of chipPlaces(chip, side)) end(chip.name, side, node, placeNode(place), ohm);
      drawn.set(node, ((side === 'plus' ? 1 : -1) * chip.mA) / 1e3);
    }
  return {
    solver: prepareNetwork({ nodes: nodes.size, conductors, held, drawn }),
    ends,
    node: (chip, side) => nodeOf(`chip ${chip} ${side}`),
    placeNode: (place) => nodes.get(keyOf(place)),
    held: [...held.keys()][0] ?? -1,
  };
}

function chipVolts(wiring: RailWiring, model: RailModel, volts: readonly (number | null)[]): ChipVolts[] {
  return wiring.chips.map((chip) => {
    const plus = volts[model.node(chip.name, 'plus')] ?? null;
    const ground = volts[model.node(chip.name, 'ground')] ?? null;
    return { name: chip.name, plus, ground, volts: plus === null || ground === null ? null : plus - ground };
  });
}

/** Voltages at every chip. The supply's own ground is 0 V; the grounds of several supplies are taken to be joined there. */
export function railVolts(wiring: RailWiring, worse?: Worse): ChipVolts[] {
  const model = modelOf(wiring, worse);
  return chipVolts(wiring, model, model.solver.volts());
}

/** V along each rail and strip against the supply's ground, at every place where something stands; null where no feed reaches. */
export function railProfile(
  wiring: RailWiring,
): ReadonlyMap<string, readonly { inch: number; volts: number | null }[]> {
  const model = modelOf(wiring);
  const volts = model.solver.volts();
  const found = new Map<string, { inch: number; volts: number | null }[]>();
  const seen = new Set<string>();
  const add = (place: RailPlace): void => {
    const key = `${place.rail}@${place.inch}`;
    if (seen.has(key)) return;
    seen.add(key);
    const node = model.placeNode(place);
    const list = found.get(place.rail) ?? [];
    found.set(place.rail, list);
    list.push({ inch: place.inch, volts: node === undefined ? null : (volts[node] ?? null) });
  };
  for (const feed of wiring.feeds) for (const side of ['plus', 'ground'] as const) add(feed[side]);
  for (const jumper of wiring.jumpers) for (const side of ['from', 'to'] as const) add(jumper[side]);
  for (const chip of wiring.chips)
    for (const side of ['plus', 'ground'] as const)
      for (const place of [chip[side], ...(chip.also?.[side] ?? [])]) add(place);
  for (const list of found.values()) list.sort((a, b) => a.inch - b.inch);
  return found;
}

/** The chip that gets least; null where one gets nothing at all. Volts count by size, so a negative supply is treated alike. */
export function lowestVolts(volts: readonly ChipVolts[]): ChipVolts | null {
  if (volts.length === 0 || volts.some((chip) => chip.volts === null)) return null;
  return volts.reduce((a, b) => (Math.abs(b.volts!) < Math.abs(a.volts!) ? b : a));
}

/** Two places side by side where a supply could enter. */
export interface FeedPlace {
  readonly plus: RailPlace;
  readonly ground: RailPlace;
}

/**
 * Further feeds that bring the lowest chip to `wanted` V, chosen one after the other from `places`, each time the one that helps
 * most. Stops after `most`, or when nothing helps. They are like the first feed.
 */
export function proposeFeeds<Place extends FeedPlace>(
  wiring: RailWiring,
  places: readonly Place[],
  wanted: number,
  most = 4,
): { readonly feeds: readonly Place[]; readonly volts: number | null } {
  const chosen: Place[] = [];
  const like = wiring.feeds[0];
  if (like === undefined) return { feeds: [], volts: null };
  const lowest = (rows: readonly ChipVolts[]): number => {
    const volts = lowestVolts(rows)?.volts;
    return volts === undefined || volts === null ? Number.NEGATIVE_INFINITY : Math.abs(volts);
  };
  const feedsWith = (more: readonly Place[]): RailFeed[] => [
    ...wiring.feeds,
    ...more.map((place, k) => ({ ...like, plus: place.plus, ground: place.ground, name: `feed ${k + 2}` })),
  ];
  const conductance = 1 / (wireOhm(like.mm) - RAIL_OHM.contact);
  let now = Number.NEGATIVE_INFINITY;
  while (chosen.length <= most) {
    const model = modelOf({ ...wiring, feeds: feedsWith(chosen) }, undefined, places);
    const volts = model.solver.volts();
    now = lowest(chipVolts(wiring, model, volts));
    if (now >= wanted || chosen.length === most) break;
    let best: { place: Place; volts: number } | undefined;
    for (const place of places) {
      // One conductor more on each side, from the solution that is there: plus and ground don't feel each other, since the
      // chips' currents are given. Where a rail isn't fed yet the whole network is solved.
      const with_ = [...volts];
      let isKnown = true;
      for (const [side, held] of [
        ['plus', like.volts],
        ['ground', 0],
      ] as const) {
        const node = model.placeNode(place[side])!;
        const at = volts[node] ?? null;
        if (at === null) {
          isKnown = false;
          break;
        }
        const response = model.solver.response(node, model.held, 1);
        const amps = ((held - at) * conductance) / (1 + conductance * response[node]!);
        for (let k = 0; k < with_.length; k++) if (with_[k] != null) with_[k] = with_[k]! + amps * response[k]!;
      }
      const value =
        isKnown && Number.isFinite(now)
          ? lowest(chipVolts(wiring, model, with_))
          : lowest(railVolts({ ...wiring, feeds: feedsWith([...chosen, place]) }));
      if (value > (best?.volts ?? now) + 1e-6) best = { place, volts: value };
    }
    if (best === undefined) break;
    chosen.push(best.place);
  }
  return { feeds: chosen, volts: Number.isFinite(now) ? now : null };
}

export interface Suspect {
  readonly name: string;
  readonly side: Worse['side'];
  /** ohm that the contact has beyond a good one, as the readings tell; infinite for one that is open. */
  readonly ohm: number;
  /** V, root of the mean square of what then is left unexplained. */
  readonly left: number;
}

/** A reading of a meter: across a chip's supply pins, or of one of them against the supply's ground. */
export interface RailReading {
  readonly chip: string;
  readonly at: 'across' | 'plus' | 'ground';
  readonly volts: number;
}

/** How far the currents may be from what is printed, as a part of it, and V of a reading's own uncertainty. */
export interface SuspectOptions {
  /** 0, where the currents are known, unless said. */
  readonly currentSpread?: number;
  /** 5 mV unless said: the last digit of a hand-held meter and the touch of its tips (common practice, no source). */
  readonly readingSpread?: number;
}

/**
 * From readings to the contact that explains them best: for each wire end the resistance that fits best, exact for the network,
 * and with it a common factor for all currents where they aren't known. Sorted by what is left unexplained; the first that leaves
 * little is the one to look at. Several with the same rest are ends that the readings can't tell apart.
 */
export function suspectContacts(
  wiring: RailWiring,
  measured: ReadonlyMap<string, number>,
  options: SuspectOptions = {},
): Suspect[] {
  const readings = [...measured].map(([chip, volts]) => ({ chip, at: 'across' as const, volts }));
  return [...explainReadings(wiring, readings, options).suspects];
}

/** The same for readings at single pins as well; `healthy` is what good contacts leave unexplained, V. */
export function explainReadings(
  wiring: RailWiring,
  readings: readonly RailReading[],
  options: SuspectOptions = {},
): { readonly healthy: number; readonly suspects: readonly Suspect[] } {
  const model = modelOf(wiring);
  const chips = new Set(wiring.chips.map((chip) => chip.name));
  const idle = model.solver.volts(0);
  const full = model.solver.volts();
  const used = readings.filter((item) => {
    if (!chips.has(item.chip)) return false;
    return model.solver.reaches(model.node(item.chip, item.at === 'ground' ? 'ground' : 'plus'));
  });
  const seen = (volts: ArrayLike<number | null>, item: RailReading): number => {
    const side = (name: 'plus' | 'ground'): number => volts[model.node(item.chip, name)] ?? 0;
    return item.at === 'across' ? side('plus') - side('ground') : side(item.at);
  };
  // Reading = idle + s (full - idle) + alpha Z. Where the currents are known s is 1.
  const spread = options.currentSpread ?? 0;
  const stiff = spread > 0 ? ((options.readingSpread ?? 0.005) / spread) ** 2 : Number.POSITIVE_INFINITY;
  const base = used.map((item) => item.volts - seen(full, item));
  const slope = used.map((item) => seen(full, item) - seen(idle, item));
  const dot = (a: readonly number[], b: readonly number[]): number => a.reduce((sum, x, k) => sum + x * b[k]!, 0);
  const rest = (ds: number, alpha: number, z: readonly number[]): number => {
    const sum = base.reduce((total, value, k) => total + (value - ds * slope[k]! - alpha * z[k]!) ** 2, 0);
    return Math.sqrt((sum + (ds === 0 ? 0 : stiff * ds * ds)) / Math.max(1, used.length));
  };
  const ss = Number.isFinite(stiff) ? dot(slope, slope) + stiff : Number.POSITIVE_INFINITY;
  const healthy = rest(Number.isFinite(ss) ? dot(base, slope) / ss : 0, 0, base);
  const suspects = model.ends
    .map(({ name, side, conductor }): Suspect => {
      const { a, b, ohm } = conductor;
      const response = model.solver.response(a, b, 1);
      const z = used.map((item) => seen(response, item));
      const [own, across] = [response[a]! - response[b]!, (full[a] ?? 0) - (full[b] ?? 0)];
      // More resistance is a counter-current: from 0 to the one that takes the whole current away, and no further.
      const share = Math.max(0, 1 - own / ohm);
      const open = across / ohm / (share < 1e-9 ? 1e-12 : share);
      const zz = dot(z, z);
      const bestFit = (): [number, number] => {
        if (zz < 1e-18) return [Number.isFinite(ss) ? dot(base, slope) / ss : 0, 0];
        if (!Number.isFinite(ss)) return [0, dot(base, z) / zz];
        const sz = dot(slope, z);
        const det = ss * zz - sz * sz;
        if (det < 1e-15 * ss * zz) return [dot(base, slope) / ss, 0];
        return [(dot(base, slope) * zz - dot(base, z) * sz) / det, (dot(base, z) * ss - dot(base, slope) * sz) / det];
      };
      let [ds, alpha] = bestFit();
      const limited = open >= 0 ? Math.min(Math.max(0, alpha), open) : Math.max(Math.min(0, alpha), open);
      if (limited !== alpha) {
        alpha = limited;
        const freed = base.map((value, k) => value - alpha * z[k]!);
        ds = Number.isFinite(ss) ? dot(freed, slope) / ss : 0;
      }
      // alpha = dg across' / (1 - dg own) with dg the conductance that is lost, at the currents as fitted.
      const there = across * (1 + ds);
      const lost = Math.abs(there + alpha * own) < 1e-12 ? 0 : alpha / (there + alpha * own);
      const left = 1 / ohm - lost;
      return {
        name,
        side,
        ohm: left <= 1e-6 ? Number.POSITIVE_INFINITY : Math.max(0, 1 / left - ohm),
        left: rest(ds, alpha, z),
      };
    })
    .sort((a, b) => a.left - b.left || (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
  return { healthy, suspects };
}
