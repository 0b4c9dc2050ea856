// The supply wiring of a build, read from the holes and wires of its layout: what the analysis of rails asks for. Every strip and
// rail segment that carries a supply or ground is a conductor, every wire between two of them a jumper, every chip seated in it.

import { foldName } from '../base/index.ts';
import { createGrid, isRailRow, type Layout, layoutAt, parseHole, ROWS } from '../board/index.ts';
import {
  currentOf,
  type FedChip,
  type FeedHoles,
  lampsOf,
  type RailChip,
  type RailPlace,
  type SupplyWiring,
} from '../margins/index.ts';
import { type Design, type NetPart, netlistAt } from '../netlist/index.ts';
import { stripIn } from './build.ts';

const INCH_PER_HOLE = 0.1;

/** Where a hole is on its strip or rail segment; undefined where there is no such hole. */
function placeOf(layout: Layout, hole: string): RailPlace | undefined {
  const address = parseHole(hole);
  const strip = stripIn(layout, hole);
  if (address === undefined || strip === '') return undefined;
  return { rail: strip, inch: (isRailRow(address.row) ? address.column : address.row) * INCH_PER_HOLE };
}

/** Reads the wiring as of a stage; undefined where no supply enters the boards. */
export function supplyWiringOf(design: Design, layout: Layout, stage: number): SupplyWiring | undefined {
  const netlist = netlistAt(design, stage);
  const { parts, wires } = layoutAt(layout, stage);
  const kindOf = new Map(netlist.nets.map((net) => [foldName(net.name), net.kind]));
  const rails = new Map<string, { name: string; kind: 'plus' | 'ground' }>();
  const notes: string[] = [];
  const place = (hole: string, kind: 'plus' | 'ground'): RailPlace | undefined => {
    const found = placeOf(layout, hole);
    if (found !== undefined && !rails.has(found.rail)) rails.set(found.rail, { name: found.rail, kind });
    return found;
  };

  const firstGround = layout.entries.find((entry) => entry.ground !== '')?.ground ?? '';
  const entries: { feed: string; supply: string; plus: string; ground: string }[] = [];
  const feeds = layout.entries.flatMap((entry, k) => {
    const declared = design.supplies.find((supply) => foldName(supply.name) === foldName(entry.supply));
    const groundHole = entry.ground === '' ? firstGround : entry.ground;
    const plus = place(entry.plus, 'plus');
    const ground = place(groundHole, 'ground');
    if (declared === undefined || plus === undefined || ground === undefined) return [];
    if (entry.ground === '')
      notes.push(`The ground of ${declared.name} is taken to enter at ${groundHole}, beside that of the first supply.`);
    const feed = k === 0 ? 'supply' : `supply ${k + 1}`;
    entries.push({ feed, supply: declared.name, plus: entry.plus, ground: groundHole });
    // The volts are those at the entry: how long the leads to it are nobody says.
    return [{ name: feed, plus, ground, volts: declared.volts, mm: 0 }];
  });
  if (feeds.length === 0) return undefined;

  const holes = new Map<string, readonly [string, string]>();
  const jumpers = wires.flatMap((wire) => {
    const kind = kindOf.get(foldName(wire.net));
    if (kind !== 'supply' && kind !== 'ground') return [];
    const side = kind === 'supply' ? 'plus' : 'ground';
    const from = place(wire.from, side);
    const to = place(wire.to, side);
    if (from === undefined || to === undefined) return [];
    holes.set(wire.id, [wire.from, wire.to]);
    return [{ name: wire.id, from, to, mm: wire.cutMm }];
  });

  const lamps = new Map<string, number>();
  for (const { driver, mA } of lampLoads(design, stage)) lamps.set(driver, (lamps.get(driver) ?? 0) + mA);
  const leadsOf = new Map(parts.map((part) => [part.part, part.leads]));
  const chips: FedChip[] = [];
  const seats: RailChip[] = [];
  for (const part of netlist.parts) {
    const leads = leadsOf.get(part.name);
    const current = currentOf(part);
    if (leads === undefined || current === undefined || isPassedOver(part)) continue;
    const holeOf = new Map(leads.map((lead) => [lead.number, lead.hole]));
    const at = (test: (pin: { kind: string; net: number }) => boolean): string[] =>
      part.pins.flatMap((id) => {
        const pin = netlist.pins[id]!;
        const hole = holeOf.get(pin.number);
        return hole !== undefined && pin.net >= 0 && test(pin) ? [hole] : [];
      });
    const grounds = at((pin) => netlist.nets[pin.net]!.kind === 'ground' && pin.kind === 'ground');
    const supplies = design.supplies.filter((supply) =>
      part.pins.some((id) => isFed(netlist.pins[id]!, netlist.nets, supply.name)),
    );
    for (const [k, supply] of supplies.entries()) {
      const pins = at((pin) => isFed(pin, netlist.nets, supply.name));
      const [plus, ...morePlus] = pins.flatMap((hole) => place(hole, 'plus') ?? []);
      const [ground, ...moreGround] = grounds.flatMap((hole) => place(hole, 'ground') ?? []);
      if (plus === undefined || ground === undefined) continue;
      const chip = supplies.length === 1 ? part.name : `${part.name} on ${supply.name}`;
      if (k > 0) notes.push(`What ${part.name} draws from ${supply.name} is not printed apart and counts nothing.`);
      const lit = k === 0 ? (lamps.get(foldName(part.name)) ?? 0) : 0;
      const plain = (mA: number | null): number | null => (k > 0 ? 0 : mA === null ? null : mA + lit);
      chips.push({
        chip,
        part,
        supply: supply.name,
        plus: pins,
        ground: grounds,
        typ: plain(current.typ),
        max: plain(current.max),
      });
      seats.push({
        name: chip,
        plus,
        ground,
        mm: 0,
        mA: 0,
        isSeated: true,
        also: { plus: morePlus, ground: moreGround },
      });
    }
  }
  return {
    wiring: { rails: [...rails.values()], jumpers, feeds, chips: seats },
    chips,
    entries,
    free: freeFeeds(layout, stage, rails, entries, kindsOfRails(design, layout, stage)),
    wires: holes,
    notes,
  };
}

const isPassedOver = (part: NetPart): boolean =>
  part.record.category === 'supply' || part.record.category === 'connector';

function isFed(
  pin: { readonly kind: string; readonly net: number },
  nets: readonly { readonly name: string; readonly kind: string }[],
  supply: string,
): boolean {
  const net = nets[pin.net];
  return pin.kind === 'supply' && net !== undefined && net.kind === 'supply' && foldName(net.name) === foldName(supply);
}

/** mA of lamps by the part that lights them: it has to come through that part's supply pins. */
function lampLoads(design: Design, stage: number): { driver: string; mA: number }[] {
  const netlist = netlistAt(design, stage);
  const found: { driver: string; mA: number }[] = [];
  for (const lamp of lampsOf(design, stage)) {
    if (lamp.mA === null || lamp.driver === undefined) continue;
    const driver = netlist.parts.find((part) => part.name === lamp.driver);
    if (driver !== undefined) found.push({ driver: foldName(driver.name), mA: lamp.mA });
  }
  return found;
}

/** The net of each rail segment, by strip: from the wires that end in it and the entries. */
function kindsOfRails(design: Design, layout: Layout, stage: number): ReadonlyMap<string, string> {
  const nets = new Map<string, string>();
  for (const entry of layout.entries) {
    nets.set(stripIn(layout, entry.plus), foldName(entry.supply));
    if (entry.ground !== '') nets.set(stripIn(layout, entry.ground), 'gnd');
  }
  const kinds = new Map(netlistAt(design, stage).nets.map((net) => [foldName(net.name), net.kind]));
  for (const wire of layoutAt(layout, stage).wires)
    for (const hole of [wire.from, wire.to])
      nets.set(stripIn(layout, hole), kinds.get(foldName(wire.net)) === 'ground' ? 'gnd' : foldName(wire.net));
  return nets;
}

/** Pairs of free holes, at both ends and in the middle of every pair of rails that carry a supply and ground side by side. */
function freeFeeds(
  layout: Layout,
  stage: number,
  rails: ReadonlyMap<string, unknown>,
  entries: readonly { readonly supply: string }[],
  nets: ReadonlyMap<string, string>,
): FeedHoles[] {
  const taken = new Set<string>();
  const now = layoutAt(layout, stage);
  for (const wire of now.wires) for (const hole of [wire.from, wire.to]) taken.add(hole);
  for (const part of now.parts) for (const lead of part.leads) taken.add(lead.hole);
  for (const entry of layout.entries) for (const hole of [entry.plus, entry.ground]) taken.add(hole);
  const grid = createGrid(layout.boards);
  const found: FeedHoles[] = [];
  for (const board of layout.boards)
    for (const side of ['t', 'b'] as const) {
      const [plusRow, minusRow] = [`${side}+`, `${side}-`].map((name) => ROWS.findIndex((row) => row.name === name));
      const bySegment = new Map<string, FeedHoles[]>();
      for (let column = 1; column <= 63; column++) {
        const [plus, minus] = [
          grid.hole(grid.boards.indexOf(board), column, plusRow!),
          grid.hole(grid.boards.indexOf(board), column, minusRow!),
        ];
        if (plus < 0 || minus < 0) continue;
        const [plusHole, groundHole] = [grid.name(plus), grid.name(minus)];
        if (taken.has(plusHole) || taken.has(groundHole)) continue;
        const [a, b] = [placeOf(layout, plusHole), placeOf(layout, groundHole)];
        if (a === undefined || b === undefined || !rails.has(a.rail) || !rails.has(b.rail)) continue;
        const supply = entries.find((entry) => foldName(entry.supply) === nets.get(a.rail))?.supply;
        if (supply === undefined || nets.get(b.rail) !== 'gnd') continue;
        const list = bySegment.get(a.rail) ?? [];
        bySegment.set(a.rail, list);
        list.push({ supply, plus: a, ground: b, plusHole, groundHole });
      }
      for (const list of bySegment.values())
        found.push(...new Set([list[0]!, list[list.length >> 1]!, list[list.length - 1]!]));
    }
  return found;
}
