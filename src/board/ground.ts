// The ground on which a layout stands: grid, occupation, rails, what the builder bars and fixes, what stood before, entries
// and probe holes. Shared by laying out and by editing; decides no place of its own.

import type { Finding, Span } from '../base/index.ts';
import type { Design } from '../netlist/index.ts';
import type { LayoutChoices } from './choices.ts';
import { createGrid, findBoardKind, type Grid } from './geometry.ts';
import type { HoleName, Layout, PlacedBoard, PlacedPart } from './model.ts';
import { planRails, type RailChoices, type RailPlan } from './rails.ts';
import { NetStrips } from './satellites.ts';
import { refusal, type Seat, seatBent, seatRigid, sit } from './seat.ts';
import { Space } from './space.ts';
import type { Item, Timeline } from './timeline.ts';

export interface Ground {
  readonly timeline: Timeline;
  readonly boards: readonly PlacedBoard[];
  readonly grid: Grid;
  readonly space: Space;
  rails: RailPlan;
  /** By item index. */
  readonly seats: Map<number, Seat>;
  strips: NetStrips;
}

const NO_RAILS: RailPlan = { netOf: new Int32Array(0), stripsOf: new Map(), links: new Map(), entries: [] };

/**
 * Bare boards with the builder's bars and the rails planned. `early` seats what may lie over rails, which then do without the
 * holes under it; there are no rails yet when it is called.
 */
export function openGround(
  design: Design,
  timeline: Timeline,
  boards: readonly PlacedBoard[],
  choices: LayoutChoices,
  findings: Finding[],
  early: (ground: Ground) => void = () => undefined,
): Ground {
  const grid = createGrid(boards);
  const space = new Space(grid, timeline.stages);
  barHoles(space, choices, findings);
  const ground: Ground = {
    timeline,
    boards,
    grid,
    space,
    rails: NO_RAILS,
    seats: new Map(),
    strips: new NetStrips(),
  };
  early(ground);
  ground.rails = planRails(design, timeline, space, railChoices(grid, timeline, choices, findings));
  return ground;
}

/** Whether a seat has leads on two boards. */
export function isAcross({ grid }: Ground, seat: Seat): boolean {
  return seat.holes.some((hole) => grid.board[hole] !== grid.board[seat.holes[0]!]);
}

/** Seats a part; the caller has made sure that it may sit there. */
export function seatOn(ground: Ground, seat: Seat): void {
  sit(ground.space, seat);
  ground.seats.set(seat.item.index, seat);
  ground.strips.addSeat(ground.space, seat);
}

/** Bars the holes over which flat wires of an earlier layout lie, for as long as these were to stay. */
export function barUnderWires(ground: Ground, previous: Layout): void {
  const { grid, space, timeline } = ground;
  const ends = new Set(previous.wires.flatMap((wire) => [wire.from, wire.to]));
  for (const part of previous.parts) for (const lead of part.leads) ends.add(lead.hole);
  for (const wire of previous.wires) {
    if (
      wire.style === 'arched' ||
      wire.style === 'crimped' ||
      wire.path === undefined ||
      !timeline.netByName.has(wire.net)
    )
      continue;
    for (let i = 1; i < wire.path.length; i++) {
      const [x0, y0] = wire.path[i - 1]!;
      const [x1, y1] = wire.path[i]!;
      const steps = Math.round(Math.abs(x1 - x0) + Math.abs(y1 - y0));
      for (let k = 0; k <= steps; k++) {
        const x = x0 + (steps === 0 ? 0 : ((x1 - x0) * k) / steps);
        const y = y0 + (steps === 0 ? 0 : ((y1 - y0) * k) / steps);
        if (!Number.isInteger(x) || !Number.isInteger(y)) continue;
        const hole = grid.at(x, y);
        // Where something stood at another stage, it may stand again.
        if (hole >= 0 && !ends.has(grid.name(hole)))
          space.bar(hole, Math.max(1, wire.stage), Math.min(wire.until ?? timeline.stages + 1, timeline.stages + 1));
      }
    }
  }
}

/** Seats the parts whose places the builder fixed; only those across two boards where asked, and nothing is said then. */
export function seatFixed(
  ground: Ground,
  choices: LayoutChoices,
  findings: Finding[],
  which: 'across' | 'all' = 'all',
): void {
  const { space, timeline, grid } = ground;
  const byName = new Map<string, Item[]>();
  for (const item of timeline.items) {
    const list = byName.get(item.name.toLowerCase());
    if (list === undefined) byName.set(item.name.toLowerCase(), [item]);
    else list.push(item);
  }
  for (const place of choices.places) {
    const items = byName.get(place.part.toLowerCase());
    const where = place.span === undefined ? [] : [place.span];
    if (items === undefined) {
      if (which === 'across') continue;
      findings.push({
        code: 'board/unknown-part',
        severity: 'error',
        message: `A place is fixed for ${place.part}, and the machine has no such part.`,
        where,
        notes: [],
        help: 'Take the line out, or correct the name.',
        about: [place.part],
      });
      continue;
    }
    for (const item of items) {
      // Of several places that of the last stage that has come.
      const other = choices.places.find(
        (one) =>
          one.part.toLowerCase() === place.part.toLowerCase() &&
          (one.stage ?? 1) > (place.stage ?? 1) &&
          (one.stage ?? 1) <= item.from,
      );
      if (other !== undefined || (place.stage ?? 1) > item.from || ground.seats.has(item.index)) continue;
      const first = grid.find(place.at);
      const second = place.to === undefined ? -1 : grid.find(place.to);
      const seat =
        first < 0
          ? undefined
          : item.footprint.kind === 'rigid'
            ? seatRigid(space, item, first, place.rotation, true)
            : second < 0
              ? undefined
              : seatBent(space, item, first, second, true);
      if (which === 'across' && (seat === undefined || !isAcross(ground, seat))) continue;
      const why = seat === undefined ? 'some of its leads would find no hole' : describeRefusal(space, timeline, seat);
      if (which === 'across' && why !== undefined) continue;
      if (seat === undefined || why !== undefined) {
        findings.push({
          code: 'board/fixed-place-impossible',
          severity: 'error',
          message: `${item.name} cannot stand at ${place.at}: ${why}.`,
          where,
          notes: [{ text: 'It is placed elsewhere for now.' }],
          help: 'Choose another hole, turn the part, or free this place.',
          about: [item.name],
        });
        continue;
      }
      seatOn(ground, seat);
    }
  }
}

/** Where supplies enter that have no rails: a strip of their own. */
export function openAnchors(
  ground: Ground,
  design: Design,
  previous: Layout | undefined,
): {
  readonly anchors: ReadonlyMap<number, readonly number[]>;
  readonly entries: readonly { readonly supply: string; readonly plus: number; readonly ground: number }[];
} {
  const { space, timeline, grid, rails, strips } = ground;
  const end = timeline.stages + 1;
  const anchors = new Map<number, number[]>();
  /** The hole at which it entered before. */
  const old = (name: string, isGround: boolean): number => {
    const entry = previous?.entries.find((e) => isGround || e.supply === name);
    return entry === undefined ? -1 : grid.find(isGround ? entry.ground : entry.plus);
  };
  const entries = rails.entries.map((entry) => ({ ...entry }));
  for (const net of timeline.nets) {
    if (net.net.kind === 'signal' || rails.stripsOf.has(net.index)) continue;
    const strip = freeStrip(space, end, old(net.name, net.net.kind === 'ground'));
    if (strip === undefined) continue;
    space.claim(strip, net.index, 1, end);
    strips.add(net.index, strip, 1, end);
    anchors.set(net.index, [strip]);
    const hole = grid.stripHoles[grid.stripStart[strip]!]!;
    space.take(hole, 1, end);
    const supply = design.supplies.find((s) => s.name === net.name);
    if (supply !== undefined && !entries.some((entry) => entry.supply === supply.name))
      entries.push({ supply: supply.name, plus: hole, ground: -1 });
    else if (net.net.kind === 'ground') for (const entry of entries) if (entry.ground < 0) entry.ground = hole;
  }
  return { anchors, entries };
}

function barHoles(space: Space, choices: LayoutChoices, findings: Finding[]): void {
  const { grid, stages } = space;
  for (const { hole, span } of choices.forbidden) {
    const h = grid.find(hole);
    if (h >= 0) space.bar(h, 1, stages + 1);
    else findings.push(unknownHole(hole, span));
  }
  for (const zone of choices.keepClear) {
    const a = grid.find(zone.from);
    const b = grid.find(zone.to);
    if (a < 0 || b < 0) {
      findings.push(unknownHole(a < 0 ? zone.from : zone.to, zone.span));
      continue;
    }
    const [x0, x1] = [Math.min(grid.x[a]!, grid.x[b]!), Math.max(grid.x[a]!, grid.x[b]!)];
    const [y0, y1] = [Math.min(grid.y[a]!, grid.y[b]!), Math.max(grid.y[a]!, grid.y[b]!)];
    for (let h = 0; h < grid.holeCount; h++) {
      if (grid.x[h]! >= x0 && grid.x[h]! <= x1 && grid.y[h]! >= y0 && grid.y[h]! <= y1) space.bar(h, 1, stages + 1);
    }
  }
}

function unknownHole(hole: HoleName, span: Span | undefined): Finding {
  return {
    code: 'board/no-such-hole',
    severity: 'error',
    message: `There is no hole ${hole} on these boards.`,
    where: span === undefined ? [] : [span],
    notes: [],
    help: 'Holes are named board, column, row, such as 2:34e, or on a rail 2:t+31.',
    about: [hole],
  };
}

function railChoices(grid: Grid, timeline: Timeline, choices: LayoutChoices, findings: Finding[]): RailChoices {
  const rails: { strip: number; net: number }[] = [];
  for (const { hole, net, span } of choices.rails) {
    const h = grid.find(hole);
    const index = timeline.netByName.get(net);
    if (h < 0 || grid.stripKind[grid.strip[h]!] === 0) findings.push(unknownHole(hole, span));
    else if (index === undefined) {
      findings.push({
        code: 'board/unknown-net',
        severity: 'error',
        message: `The rail at ${hole} is to carry ${net}, and the machine has no such net.`,
        where: span === undefined ? [] : [span],
        notes: [],
        about: [net],
      });
    } else rails.push({ strip: grid.strip[h]!, net: index });
  }
  const entries: { supply: string; plus: number; ground: number }[] = [];
  for (const entry of choices.supplies) {
    const plus = grid.find(entry.plus);
    const ground = grid.find(entry.ground);
    if (plus < 0 || ground < 0) findings.push(unknownHole(plus < 0 ? entry.plus : entry.ground, entry.span));
    else entries.push({ supply: entry.supply, plus, ground });
  }
  return { rails, entries };
}

/** Why a part may not sit there, in words; undefined where it may. */
export function describeRefusal(space: Space, timeline: Timeline, seat: Seat): string | undefined {
  const why = refusal(space, seat);
  if (why === undefined) return undefined;
  const { grid } = space;
  if (why.why === 'body') return `it would stand on ${timeline.items[why.owner]?.name ?? 'another part'}`;
  if (why.why === 'no-hole') return 'some of its leads would find no hole';
  const hole = grid.name(why.hole);
  if (why.why === 'taken') return `${hole} is taken`;
  if (why.why === 'covered') return `${hole} is kept clear or lies under another part`;
  return `in ${hole} it would be joined to another net, or two of its own leads would be joined`;
}

/** Seats parts where they stood before, if that is still legal. Returns the names of those that stay. */
export function keepSeats(
  ground: Ground,
  previous: Layout,
  rigid: boolean,
  unmoved: ReadonlySet<string>,
  which: 'across' | 'all' = 'all',
): string[] {
  const { space, grid, timeline, seats } = ground;
  const before = new Map<string, PlacedPart[]>();
  for (const part of previous.parts) {
    const list = before.get(part.part);
    if (list === undefined) before.set(part.part, [part]);
    else list.push(part);
  }
  const kept: string[] = [];
  for (const item of timeline.items) {
    if (seats.has(item.index) || (item.footprint.kind === 'rigid') !== rigid) continue;
    // A capacitor goes with its chip.
    const served = item.part.implied?.serves.split('.')[0];
    if (!rigid && served !== undefined && timeline.items.some((other) => other.name === served) && !unmoved.has(served))
      continue;
    const old = before.get(item.name) ?? [];
    const place = old.find((part) => part.stage === item.from) ?? (item.movedFrom === undefined ? old[0] : undefined);
    if (place === undefined) continue;
    const holeOf = new Map(place.leads.map((lead) => [lead.number, grid.find(lead.hole)]));
    let seat: Seat | undefined;
    if (item.footprint.kind === 'rigid') {
      const first = holeOf.get(item.footprint.leads[0]!.number) ?? -1;
      if (first >= 0) seat = seatRigid(space, item, first, place.rotation, false);
    } else {
      const [a, b] = item.footprint.numbers;
      const first = holeOf.get(a) ?? -1;
      const second = holeOf.get(b) ?? -1;
      if (first >= 0 && second >= 0) seat = seatBent(space, item, first, second, false);
    }
    if (seat === undefined || seat.holes.length !== place.leads.length) continue;
    if (seat.holes.some((hole, i) => holeOf.get(seat.numbers[i]!) !== hole)) continue;
    if (which === 'across' && !isAcross(ground, seat)) continue;
    if (refusal(space, seat) !== undefined) continue;
    seatOn(ground, seat);
    kept.push(item.name);
  }
  return kept;
}

/** The finding for a part that fits nowhere. */
export function noRoom(item: Item, boards: readonly PlacedBoard[]): Finding {
  const known = boards.filter((board) => findBoardKind(board.kind) !== undefined).length;
  return {
    code: 'board/no-room',
    severity: 'error',
    message: `There is no room for ${item.name} (${item.part.type}) on ${known} ${known === 1 ? 'board' : 'boards'}.`,
    where: item.part.origin.span === undefined ? [] : [item.part.origin.span],
    notes: [{ text: 'Every place was tried; each is taken, kept clear, or would join two nets.' }],
    help: 'Add a board in boards.yaml, or free a fixed place or a kept-clear zone.',
    about: [item.name],
  };
}

/** A terminal strip at the edge that nothing uses. */
function freeStrip(space: Space, end: number, wanted: number): number | undefined {
  const { grid } = space;
  if (wanted >= 0) {
    const strip = grid.strip[wanted]!;
    if (grid.stripKind[strip] === 0 && space.accepts(strip, -1, 1, end) && space.openHoles(strip, 1, end) === 5)
      return strip;
  }
  for (let s = 0; s < grid.stripCount; s++) {
    if (grid.stripKind[s] === 0 && space.accepts(s, -1, 1, end) && space.openHoles(s, 1, end) === 5) return s;
  }
  return undefined;
}

/** Holes of the pins that an implied part serves: a chip's supply pin, or the pin named. */
export function servedHoles(ground: Ground, item: Item): number[] {
  const { grid, timeline, seats } = ground;
  const implied = item.part.implied;
  if (implied === undefined) return [];
  const dot = implied.serves.indexOf('.');
  const name = dot < 0 ? implied.serves : implied.serves.slice(0, dot);
  const holes: number[] = [];
  for (const other of timeline.items) {
    if (other === item || (other.name !== name && other.name !== implied.serves)) continue;
    if (other.from >= item.until || item.from >= other.until) continue;
    const seat = seats.get(other.index);
    if (seat === undefined) continue;
    const own = new Set(item.pins.map((pin) => pin.nets[item.from]!).filter((net) => net >= 0));
    const named = seat.numbers.flatMap((number, i) =>
      other.pinOf.get(number)!.ref === implied.serves ? [seat.holes[i]!] : [],
    );
    if (named.length > 0) return named;
    // The supply pin first, then ground.
    seat.numbers.forEach((number, i) => {
      const pin = other.pinOf.get(number)!;
      const net = pin.nets[Math.max(item.from, other.from)]!;
      if (net >= 0 && own.has(net) && (implied.kind !== 'bypass' || timeline.nets[net]!.net.kind === 'supply'))
        holes.push(seat.holes[i]!);
    });
    if (holes.length === 0) holes.push(seat.holes[0]!);
  }
  return holes.filter((hole) => hole >= 0 && grid.strip[hole]! >= 0);
}

/** The wire that the builder wants, if its net and holes are there. */
export function pinnedWire(
  grid: Grid,
  timeline: Timeline,
  wire: LayoutChoices['wires'][number],
  findings: Finding[],
): { net: number; a: number; b: number }[] {
  const net = timeline.netByName.get(wire.net);
  const a = grid.find(wire.from);
  const b = grid.find(wire.to);
  if (a < 0 || b < 0) {
    findings.push(unknownHole(a < 0 ? wire.from : wire.to, wire.span));
    return [];
  }
  if (net === undefined) {
    findings.push({
      code: 'board/unknown-net',
      severity: 'error',
      message: `A wire is pinned for ${wire.net}, and the machine has no such net.`,
      where: wire.span === undefined ? [] : [wire.span],
      notes: [],
      about: [wire.net],
    });
    return [];
  }
  return [{ net, a, b }];
}

/** The wires of a layout as pairs of holes, where net and holes still are. */
export function previousWires(
  grid: Grid,
  timeline: Timeline,
  previous: Layout | undefined,
): { net: number; a: number; b: number; stage: number }[] {
  return (previous?.wires ?? []).flatMap((wire) => {
    const net = timeline.netByName.get(wire.net);
    const a = grid.find(wire.from);
    const b = grid.find(wire.to);
    return net === undefined || a < 0 || b < 0 ? [] : [{ net, a, b, stage: wire.stage }];
  });
}
