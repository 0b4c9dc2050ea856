// What arrives at each chip: the drop along rails, strips, wires and contacts, the setting of the supply that keeps every chip
// fed, and where further feeds would help. The wiring itself comes as plain data from whoever has the layout.

import type { Design, NetPart } from '../netlist/index.ts';
import type { MarginOptions } from './model.ts';
import {
  explainReadings,
  type FeedPlace,
  proposeFeeds,
  railProfile,
  type RailReading,
  railVolts,
  type RailWiring,
  type Suspect,
} from './rails.ts';
import { leastSupply } from './what-breaks-first.ts';

/** One chip on one supply, as wired. */
export interface FedChip {
  /** Its name in the wiring. */
  readonly chip: string;
  readonly part: NetPart;
  readonly supply: string;
  /** Holes of its supply pins and its ground pins, the first of each being where a meter is put. */
  readonly plus: readonly string[];
  readonly ground: readonly string[];
  /** mA; null where nobody prints it. */
  readonly typ: number | null;
  readonly max: number | null;
}

/** Two holes side by side where a supply could enter. */
export interface FeedHoles extends FeedPlace {
  readonly supply: string;
  readonly plusHole: string;
  readonly groundHole: string;
}

/** The supply wiring of a build as of a stage. Currents stand in `chips`; the wiring itself counts none. */
export interface SupplyWiring {
  readonly wiring: RailWiring;
  readonly chips: readonly FedChip[];
  /** Where the supplies enter: name of the feed, its supply, and the holes. */
  readonly entries: readonly {
    readonly feed: string;
    readonly supply: string;
    readonly plus: string;
    readonly ground: string;
  }[];
  readonly free: readonly FeedHoles[];
  /** The two holes of a wire, by its name. */
  readonly wires: ReadonlyMap<string, readonly [string, string]>;
  /** What was left out, in words. */
  readonly notes: readonly string[];
}

/** Part of the supply's volts that may be lost before more feeds are proposed: common practice, no source. */
export const DROP_SHARE = 0.03;

export interface ChipSupply {
  readonly part: string;
  readonly supply: string;
  readonly plusHole: string;
  readonly groundHole: string;
  /** V across its pins with the supply at its nominal volts: at typical and at greatest currents. Null where nothing arrives. */
  readonly typVolts: number | null;
  readonly volts: number | null;
  /** V of the plus pin and of the ground pin against the supply's own ground, at greatest currents. */
  readonly plusVolts: number | null;
  readonly groundVolts: number | null;
  /** V with the supply at its lowest. */
  readonly leastVolts: number | null;
  /** V that its maker asks for; null where not printed. */
  readonly needs: number | null;
  /** leastVolts less needs; null where either isn't known, or where currents are missing and it would be positive. */
  readonly margin: number | null;
}

export interface SupplyDrop {
  readonly supply: string;
  readonly volts: number;
  readonly leastVolts: number;
  readonly entries: readonly { readonly plus: string; readonly ground: string }[];
  /** mA at most, of what is known. */
  readonly mA: number;
  readonly chips: readonly ChipSupply[];
  /** The chip that gets least at nominal volts and greatest currents. */
  readonly lowest: ChipSupply | null;
  /** V at the entry below which some chip gets less than it needs. */
  readonly leastSetting: number | null;
  /** Further feeds that bring the lowest chip to `wanted`, and what it then gets; none where not needed or asked for. */
  readonly proposal: {
    readonly wanted: number;
    readonly feeds: readonly { readonly plus: string; readonly ground: string }[];
    readonly volts: number | null;
    readonly text: string;
  } | null;
  /** Parts whose current nobody prints: they count nothing, so the real drop is greater. */
  readonly unknown: readonly string[];
}

const round3 = (volts: number): number => Math.round(volts * 1e3) / 1e3;

/** The wiring with currents put in; `only` leaves the chips of one supply. */
export function withCurrents(supply: SupplyWiring, side: 'typ' | 'max'): RailWiring {
  const byName = new Map(supply.chips.map((item) => [item.chip, item]));
  const sign = new Map(supply.wiring.feeds.map((feed) => [feed.name, Math.sign(feed.volts) || 1]));
  const signOf = (name: string): number =>
    sign.get(supply.entries.find((entry) => entry.supply === name)?.feed ?? '') ?? 1;
  return {
    ...supply.wiring,
    chips: supply.wiring.chips.map((chip) => {
      const fed = byName.get(chip.name)!;
      const mA = (side === 'typ' ? (fed.typ ?? fed.max) : (fed.max ?? fed.typ)) ?? 0;
      return { ...chip, mA: mA * signOf(fed.supply) };
    }),
  };
}

/** Drop and proposals for every supply of a build. `wanted` asks for feeds that restore so many volts at the lowest chip. */
export function supplyDrops(
  design: Design,
  supply: SupplyWiring,
  options: MarginOptions & { readonly wantedVolts?: number },
): SupplyDrop[] {
  const greatest = withCurrents(supply, 'max');
  const atMost = new Map(railVolts(greatest).map((chip) => [chip.name, chip]));
  const typical = new Map(railVolts(withCurrents(supply, 'typ')).map((chip) => [chip.name, chip]));
  return design.supplies.flatMap((declared) => {
    const entries = supply.entries.filter((entry) => entry.supply === declared.name);
    const fed = supply.chips.filter((item) => item.supply === declared.name);
    if (entries.length === 0 || fed.length === 0) return [];
    const unknown = fed.filter((item) => item.max === null && item.typ === null).map((item) => item.part.name);
    const lost = Math.abs(declared.volts) * declared.tolerance * Math.sign(declared.volts);
    const chips = fed.map((item): ChipSupply => {
      const now = atMost.get(item.chip)!;
      const needs = leastSupply(item.part, options) ?? null;
      // Of a chip with several supplies nobody prints which of them its least volts are; only the logic supply is compared.
      const isMain = declared.name === design.supplies[0]?.name;
      const leastVolts = now.volts === null ? null : now.volts - lost;
      const margin = leastVolts === null || needs === null || !isMain ? null : leastVolts - needs;
      return {
        part: item.part.name,
        supply: item.supply,
        plusHole: item.plus[0] ?? '',
        groundHole: item.ground[0] ?? '',
        typVolts: typical.get(item.chip)?.volts ?? null,
        volts: now.volts,
        plusVolts: now.plus,
        groundVolts: now.ground,
        leastVolts,
        needs: isMain ? needs : null,
        margin: margin !== null && margin > 0 && unknown.length > 0 ? null : margin,
      };
    });
    const known = chips.filter((chip) => chip.volts !== null);
    const lowest =
      known.length === 0 ? null : known.reduce((a, b) => (Math.abs(b.volts!) < Math.abs(a.volts!) ? b : a));
    const settings = chips.flatMap((chip) =>
      chip.volts === null || chip.needs === null ? [] : [chip.needs + (declared.volts - chip.volts)],
    );
    return [
      {
        supply: declared.name,
        volts: declared.volts,
        leastVolts: declared.volts - lost,
        entries: entries.map(({ plus, ground }) => ({ plus, ground })),
        mA: fed.reduce((sum, item) => sum + (item.max ?? item.typ ?? 0), 0),
        chips,
        lowest,
        leastSetting: settings.length === 0 ? null : Math.max(...settings),
        proposal: proposalOf(supply, greatest, declared, lowest, options.wantedVolts),
        unknown,
      },
    ];
  });
}

function proposalOf(
  supply: SupplyWiring,
  wiring: RailWiring,
  declared: Design['supplies'][number],
  lowest: ChipSupply | null,
  asked: number | undefined,
): SupplyDrop['proposal'] {
  if (lowest === null) return null;
  const nominal = Math.abs(declared.volts);
  const wanted = asked ?? Math.max(nominal * (1 - DROP_SHARE), lowest.needs ?? 0);
  if (Math.abs(lowest.volts!) >= wanted) return null;
  const own = new Set(supply.chips.filter((item) => item.supply === declared.name).map((item) => item.chip));
  const feeds = new Set(supply.entries.filter((item) => item.supply === declared.name).map((item) => item.feed));
  // The other supplies draw through the same grounds; their feeds stay, and the chips of this one are looked at.
  const ordered = {
    ...wiring,
    feeds: [
      ...wiring.feeds.filter((feed) => feeds.has(feed.name)),
      ...wiring.feeds.filter((feed) => !feeds.has(feed.name)),
    ],
    chips: wiring.chips.filter((chip) => own.has(chip.name)),
  };
  const proposed = proposeFeeds(
    ordered,
    supply.free.filter((place) => place.supply === declared.name),
    wanted,
  );
  const holes = proposed.feeds.map((place) => ({ plus: place.plusHole, ground: place.groundHole }));
  const all = holes.map(({ plus, ground }) => `${plus} and ${ground}`);
  const list = all.length < 2 ? all.join('') : `${all.slice(0, -1).join('; ')}; and ${all.at(-1)}`;
  const reached = proposed.volts === null ? null : round3(proposed.volts);
  const count = ['no', 'one', 'two', 'three', 'four'][holes.length] ?? String(holes.length);
  const text =
    holes.length === 0
      ? `No further feed of ${declared.name} brings ${lowest.part} to ${round3(wanted)} V: look at its own wires and contacts.`
      : `${count === 'one' ? 'One further feed' : `${count[0]!.toUpperCase()}${count.slice(1)} further feeds`} of ${declared.name} at ${list} ${holes.length === 1 ? 'brings' : 'bring'} the lowest chip to ${reached} V${reached !== null && reached < wanted - 5e-4 ? `, not to the ${round3(wanted)} V wanted` : ''}.`;
  return { wanted, feeds: holes, volts: proposed.volts, text };
}

/** A wire end or contact that readings point at, in holes. */
export interface ContactSuspect {
  readonly wire: string | null;
  readonly part: string | null;
  readonly feed: string | null;
  readonly side: Suspect['side'];
  readonly holes: readonly string[];
  /** ohm beyond a good one; null for one that is open. */
  readonly ohm: number | null;
  readonly leftMv: number;
  readonly text: string;
}

/** V, over all readings together, within which ends count as not told apart from the best. */
const ALIKE = 0.006;
/** ohm too much from which a contact is called bad, and V that it must explain: a meter's last digits are no fault. */
const LEAST_OHM = 0.05;
const LEAST_GAIN = 0.02;
const MOST_SUSPECTS = 12;

/**
 * From readings (V, at chips by part name) to the contacts to look at, the likeliest first: those that explain them as well as the
 * best does. Empty where the readings fit good contacts already. Currents may be a half off either way (common practice, no source).
 */
export function badContacts(supply: SupplyWiring, readings: readonly RailReading[]): ContactSuspect[] {
  const { healthy, suspects } = explainReadings(withCurrents(supply, 'typ'), readings, { currentSpread: 0.5 });
  const best = suspects[0];
  // In V over all readings together, so that one chip among many still counts.
  const beyond = (worse: number, better: number): number =>
    Math.sqrt(readings.length * Math.max(0, worse ** 2 - better ** 2));
  if (best === undefined || best.ohm < LEAST_OHM || beyond(healthy, best.left) < LEAST_GAIN) return [];
  return suspects
    .filter((item) => item.ohm >= LEAST_OHM && beyond(item.left, best.left) < ALIKE)
    .slice(0, MOST_SUSPECTS)
    .map((item) => tellSuspect(supply, item));
}

function tellSuspect(supply: SupplyWiring, item: Suspect): ContactSuspect {
  const wire = supply.wires.get(item.name);
  const chip = supply.chips.find((fed) => fed.chip === item.name);
  const entry = supply.entries.find((each) => each.feed === item.name);
  const isOpen = !Number.isFinite(item.ohm);
  const much = isOpen ? 'as good as open' : `some ${item.ohm.toPrecision(2)} ohm too much`;
  const base = {
    side: item.side,
    ohm: isOpen ? null : item.ohm,
    leftMv: Math.round(item.left * 1e4) / 10,
    wire: wire === undefined ? null : item.name,
    part: chip?.part.name ?? null,
    feed: entry?.supply ?? null,
  };
  if (wire !== undefined)
    return { ...base, holes: wire, text: `The wire from ${wire[0]} to ${wire[1]}: one of its ends is ${much}.` };
  const side = item.side === 'ground' ? 'ground' : 'plus';
  if (chip !== undefined)
    return {
      ...base,
      holes: chip[side],
      text: `${chip.part.name}’s ${side === 'plus' ? 'supply' : 'ground'} pin in ${chip[side].join(' or ')}: its contact is ${much}.`,
    };
  const hole = entry?.[side] ?? '';
  return { ...base, holes: [hole], text: `Where ${base.feed} enters, ${hole}: the contact or its lead is ${much}.` };
}

/** V along every rail and strip as of a stage, at greatest currents: for the picture on the boards. */
export function dropAlong(supply: SupplyWiring): ReturnType<typeof railProfile> {
  return railProfile(withCurrents(supply, 'max'));
}
