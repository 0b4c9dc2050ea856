// The rails of breadboards as a network of resistance: segments, contacts, jumpers, feeds and what each chip draws. Gives the
// voltage at every chip's pins, what the meter should read, feeds that would help, and from readings the contact that is bad.

import { type Conductor, solveNetwork } from './linear.ts';

/**
 * ohm, measured on new boards with four wires (a supplier's forum, "What is the maximum current for a solderless breadboard?"):
 * rail 11 mohm per inch, contact about 9 mohm; wire of AWG 22 at 20 C 53 mohm per metre (ASTM B258 sizes).
 */
export const RAIL_OHM = { perInch: 0.011, contact: 0.009, wirePerMetre: 0.053 } as const;

/** A place on a rail: inches from its left end. */
export interface RailPlace {
  readonly rail: string;
  readonly inch: number;
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
  /** Where the supply enters. */
  readonly feeds: readonly {
    readonly name: string;
    readonly plus: RailPlace;
    readonly ground: RailPlace;
    readonly volts: number;
    /** mm of wire from the supply to the board, one way. */
    readonly mm: number;
  }[];
  readonly chips: readonly {
    readonly name: string;
    readonly plus: RailPlace;
    readonly ground: RailPlace;
    /** mm of wire from rail to pin, one way; it ends in a contact on both sides. */
    readonly mm: number;
    readonly mA: number;
  }[];
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

/** Voltages at every chip. The supply's own ground is 0 V. */
export function railVolts(wiring: RailWiring, worse?: Worse): ChipVolts[] {
  const places = new Map<string, number[]>();
  const at = (place: RailPlace): void => {
    const list = places.get(place.rail) ?? [];
    if (!list.includes(place.inch)) list.push(place.inch);
    places.set(place.rail, list);
  };
  for (const item of [...wiring.feeds, ...wiring.chips]) {
    at(item.plus);
    at(item.ground);
  }
  for (const jumper of wiring.jumpers) {
    at(jumper.from);
    at(jumper.to);
  }
  const nodes = new Map<string, number>();
  const nodeOf = (key: string): number => {
    const known = nodes.get(key);
    if (known !== undefined) return known;
    nodes.set(key, nodes.size);
    return nodes.size - 1;
  };
  const placeNode = (place: RailPlace): number => nodeOf(`${place.rail}@${place.inch}`);
  const conductors: Conductor[] = [];
  for (const [rail, inches] of places) {
    inches.sort((a, b) => a - b);
    for (let k = 1; k < inches.length; k++)
      conductors.push({
        a: placeNode({ rail, inch: inches[k - 1]! }),
        b: placeNode({ rail, inch: inches[k]! }),
        ohm: (inches[k]! - inches[k - 1]!) * RAIL_OHM.perInch,
      });
  }
  const extra = (name: string, side: Worse['side']): number =>
    worse !== undefined && worse.name === name && worse.side === side ? worse.ohm : 0;
  for (const jumper of wiring.jumpers)
    conductors.push({
      a: placeNode(jumper.from),
      b: placeNode(jumper.to),
      ohm: wireOhm(jumper.mm) + extra(jumper.name, 'jumper'),
    });
  const held = new Map<number, number>();
  for (const feed of wiring.feeds)
    for (const side of ['plus', 'ground'] as const) {
      const node = nodeOf(`feed ${feed.name} ${side}`);
      held.set(node, side === 'plus' ? feed.volts : 0);
      // One contact only: the other end is at the supply.
      conductors.push({
        a: node,
        b: placeNode(feed[side]),
        ohm: wireOhm(feed.mm) - RAIL_OHM.contact + extra(feed.name, side),
      });
    }
  const drawn = new Map<number, number>();
  for (const chip of wiring.chips)
    for (const side of ['plus', 'ground'] as const) {
      const node = nodeOf(`chip ${chip.name} ${side}`);
      // Two wire contacts and the one that holds the chip's pin.
      conductors.push({
        a: node,
        b: placeNode(chip[side]),
        ohm: wireOhm(chip.mm) + RAIL_OHM.contact + extra(chip.name, side),
      });
      drawn.set(node, ((side === 'plus' ? 1 : -1) * chip.mA) / 1e3);
    }
  const volts = solveNetwork({ nodes: nodes.size, conductors, held, drawn });
  return wiring.chips.map((chip) => {
    const plus = volts[nodeOf(`chip ${chip.name} plus`)] ?? null;
    const ground = volts[nodeOf(`chip ${chip.name} ground`)] ?? null;
    return { name: chip.name, plus, ground, volts: plus === null || ground === null ? null : plus - ground };
  });
}

/** The chip that gets least; null where one gets nothing at all. */
export function lowestVolts(volts: readonly ChipVolts[]): ChipVolts | null {
  if (volts.length === 0 || volts.some((chip) => chip.volts === null)) return null;
  return volts.reduce((a, b) => (b.volts! < a.volts! ? b : a));
}

/**
 * Further feeds that bring the lowest chip to `wanted` V, chosen one after the other from `places`, each time the one that helps
 * most. Stops after `most`, or when nothing helps.
 */
export function proposeFeeds(
  wiring: RailWiring,
  places: readonly { readonly plus: RailPlace; readonly ground: RailPlace }[],
  wanted: number,
  most = 4,
): {
  readonly feeds: readonly { readonly plus: RailPlace; readonly ground: RailPlace }[];
  readonly volts: number | null;
} {
  const chosen: { readonly plus: RailPlace; readonly ground: RailPlace }[] = [];
  const model = wiring.feeds[0];
  const with_ = (more: typeof chosen): number =>
    model === undefined
      ? Number.NEGATIVE_INFINITY
      : (lowestVolts(
          railVolts({
            ...wiring,
            feeds: [...wiring.feeds, ...more.map((place, k) => ({ ...model, ...place, name: `feed ${k + 2}` }))],
          }),
        )?.volts ?? Number.NEGATIVE_INFINITY);
  let now = with_(chosen);
  while (now < wanted && chosen.length < most) {
    let best: { place: (typeof chosen)[number]; volts: number } | undefined;
    for (const place of places) {
      const volts = with_([...chosen, place]);
      if (volts > (best?.volts ?? now) + 1e-6) best = { place, volts };
    }
    if (best === undefined) break;
    chosen.push(best.place);
    now = best.volts;
  }
  return { feeds: chosen, volts: Number.isFinite(now) ? now : null };
}

export interface Suspect {
  readonly name: string;
  readonly side: Worse['side'];
  /** ohm that the contact has beyond a good one, as the readings tell. */
  readonly ohm: number;
  /** V, root of the mean square of what then is left unexplained. */
  readonly left: number;
}

/**
 * From voltages measured at chips to the contact that explains them best: each wire end is tried with more and more resistance.
 * Sorted by what is left unexplained; the first that leaves little is the one to look at.
 */
export function suspectContacts(wiring: RailWiring, measured: ReadonlyMap<string, number>): Suspect[] {
  const left = (worse: Worse | undefined): number => {
    const volts = railVolts(wiring, worse);
    let sum = 0;
    for (const [name, value] of measured) {
      const chip = volts.find((item) => item.name === name);
      sum += ((chip?.volts ?? 0) - value) ** 2;
    }
    return Math.sqrt(sum / Math.max(1, measured.size));
  };
  const ends: { name: string; side: Worse['side'] }[] = [
    ...wiring.jumpers.map((jumper) => ({ name: jumper.name, side: 'jumper' as const })),
    ...[...wiring.feeds, ...wiring.chips].flatMap((item) =>
      (['plus', 'ground'] as const).map((side) => ({ name: item.name, side })),
    ),
  ];
  return ends
    .map((end) => {
      // Coarse by thirds of a decade, then by halving around the best.
      let best = { ohm: 0, left: left(undefined) };
      const tryOhm = (ohm: number): void => {
        const value = left({ ...end, ohm });
        if (value < best.left) best = { ohm, left: value };
      };
      for (let k = -6; k <= 6; k++) tryOhm(10 ** (k / 3));
      for (let factor = 1.5; factor > 1.005 && best.ohm > 0; factor = Math.sqrt(factor)) {
        const middle = best.ohm;
        tryOhm(middle * factor);
        tryOhm(middle / factor);
      }
      return { ...end, ...best };
    })
    .sort((a, b) => a.left - b.left || (a.name < b.name ? -1 : 1));
}
