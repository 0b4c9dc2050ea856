// The layout of a design: boards, places, holes, wires, for all stages at once. Pure: the same design, choices, previous
// layout, seed and moves give the same layout. Ends by proving its own result from the holes; a layout that is not the
// netlist is never returned without an error.

import type { Finding, Result } from '../base/index.ts';
import type { Design } from '../netlist/index.ts';
import { freezeAcross, seatAcross } from './across.ts';
import { estimateBoards, placeBoards, proposeBoards } from './arrange.ts';
import { type BoardChoice, type LayoutChoices, NO_CHOICES } from './choices.ts';
import { proveLayout } from './extract.ts';
import { type FeedPlan, planFeeds } from './feeds.ts';
import { partsOfSeats, wiresOfDrafts } from './finish.ts';
import { composeExchanges, exchangePins } from './exchange.ts';
import type { Rotation } from './footprint.ts';
import type { Exchange, Layout, PlacedBoard } from './model.ts';
import { alignHeaders, crimpedLeads, leadNames, leadsOf } from './leads.ts';
import { place } from './place.ts';
import { housingOf, keepProbes } from './probes.ts';
import {
  keepSeats,
  barUnderWires,
  type Ground,
  isAcross,
  noRoom,
  openAnchors,
  openGround,
  pinnedWire,
  previousWires,
  seatFixed,
  seatOn,
  servedHoles,
} from './ground.ts';
import { construct, createProblem, Placement } from './placement.ts';
import type { RailPlan } from './rails.ts';
import { findBentSeat, satelliteOrder } from './satellites.ts';
import { bodiesOf, refusal, type Seat, seatBent, seatRigid } from './seat.ts';
import { type Slot, slotsOf, variantAt } from './slots.ts';
import type { Space } from './space.ts';
import { type Item, type Timeline, timelineOf } from './timeline.ts';
import { wireAll } from './wiring.ts';

export interface LayOptions {
  /** Any integer; another seed gives another layout. Default 1. */
  readonly seed?: number;
  /** Moves that the placer tries; default by size. */
  readonly moves?: number;
  /** Asked now and then; the best so far is kept when it says true. */
  readonly shouldStop?: () => boolean;
  /** Told now and then: share done (0 to 1), present and best cost. */
  readonly onProgress?: (progress: { readonly share: number; readonly cost: number; readonly best: number }) => void;
}

/** More boards than this are not proposed. */
const MOST_BOARDS = 60;

/** Places and wires a design. What of `previous` still fits stays where it is. */
export function lay(
  machine: Design,
  choices: LayoutChoices = NO_CHOICES,
  previous: Layout | undefined = undefined,
  options: LayOptions = {},
): Result<Layout> {
  // What was exchanged before stays exchanged.
  const before = previous?.exchanges ?? [];
  const design = exchangePins(machine, before);
  const timeline = timelineOf(design);
  const slots = slotsOf(timeline.items);
  const chosen = choices.boards !== undefined;
  // What fits on no board of the usual kind needs two without rails between their fields.
  const kind = slots.some((slot) => slot.variants.length === 0) ? 'single' : choices.kind;
  const small = timeline.items.filter((item) => item.footprint.kind === 'two-lead').length;
  let boards: BoardChoice[] = chosen
    ? [...choices.boards]
    : previous !== undefined && previous.boards.length > 0
      ? boardsOf(previous)
      : proposeBoards(estimateBoards(slots, small, kind), kind);
  let best: Result<Layout> | undefined;
  for (let attempt = 0; ; attempt++) {
    const task: Task = {
      machine,
      design,
      timeline,
      slots,
      boards: placeBoards(boards),
      choices,
      previous,
      options,
      exchanges: before,
      given: undefined,
      spareWires: previous !== undefined,
    };
    let result = attemptLay(task);
    // New leads and wire ends keep out from under wires that lie, unless there is no other way.
    if (task.spareWires && errorsOf(result) > 0) {
      const freer = attemptLay({ ...task, spareWires: false });
      if (errorsOf(freer) < errorsOf(result)) result = freer;
    }
    if (best === undefined || errorsOf(result) < errorsOf(best)) best = result;
    const crowded = result.findings.some((finding) => finding.code === 'board/no-room');
    const full = result.findings.some((finding) => finding.code === 'board/no-free-hole');
    // More boards give room; that they give holes in strips that are full is less likely.
    if ((!crowded && !(full && attempt < 3)) || chosen || boards.length >= MOST_BOARDS || attempt >= 12) return best;
    const more = boards.length + 1 + Math.floor(attempt / 2);
    if (previous !== undefined && previous.boards.length > 0) {
      // What is built stays where it is: new boards go below.
      const row = Math.max(...boards.map((board) => board.row));
      boards = [...boards, { kind, column: 1, row: row + 1 }];
    } else boards = proposeBoards(Math.min(more, MOST_BOARDS), kind);
  }
}

function errorsOf(result: Result<Layout>): number {
  return result.findings.filter((finding) => finding.severity === 'error').length;
}

/** The arrangement of an earlier layout as choices; board places are taken as they were. */
function boardsOf(layout: Layout): BoardChoice[] {
  const xs = [...new Set(layout.boards.map((board) => board.x))].sort((a, b) => a - b);
  const ys = [...new Set(layout.boards.map((board) => board.y))].sort((a, b) => a - b);
  return [...layout.boards]
    .sort((a, b) => a.board - b.board)
    .map((board) => ({ kind: board.kind, column: xs.indexOf(board.x) + 1, row: ys.indexOf(board.y) + 1 }));
}

/** Where a rigid part's first lead stands: index of the board, column, row (index into ROWS). */
interface Address {
  readonly board: number;
  readonly column: number;
  readonly row: number;
  readonly rotation: Rotation;
}

/** Boards may be left out only where nobody has named a hole of theirs. */
function mayTrim(choices: LayoutChoices, previous: Layout | undefined): boolean {
  const named = [choices.places, choices.keepClear, choices.forbidden, choices.supplies, choices.rails, choices.wires];
  return choices.boards === undefined && previous === undefined && named.every((list) => list.length === 0);
}

/** The arrangement without the rows and columns of boards on which no part stands; undefined where there are none. */
function trimBoards(
  boards: readonly PlacedBoard[],
  places: ReadonlyMap<number, Address>,
): { readonly boards: readonly PlacedBoard[]; readonly places: ReadonlyMap<number, Address> } | undefined {
  const used = new Set([...places.values()].map((place) => place.board));
  const xs = [...new Set([...used].map((b) => boards[b]!.x))].sort((a, b) => a - b);
  const ys = [...new Set([...used].map((b) => boards[b]!.y))].sort((a, b) => a - b);
  const kept = boards.map((_, b) => b).filter((b) => xs.includes(boards[b]!.x) && ys.includes(boards[b]!.y));
  if (kept.length === boards.length || kept.length === 0) return undefined;
  const choices = kept.map((b) => ({
    kind: boards[b]!.kind,
    column: xs.indexOf(boards[b]!.x) + 1,
    row: ys.indexOf(boards[b]!.y) + 1,
  }));
  const moved = new Map<number, Address>();
  for (const [item, place] of places) moved.set(item, { ...place, board: kept.indexOf(place.board) });
  return { boards: placeBoards(choices), places: moved };
}

/** One attempt on given boards. */
interface Task {
  /** As the machine file has it, and with the exchanges made. */
  readonly machine: Design;
  readonly design: Design;
  readonly timeline: Timeline;
  readonly slots: readonly Slot[];
  readonly boards: readonly PlacedBoard[];
  readonly choices: LayoutChoices;
  readonly previous: Layout | undefined;
  readonly options: LayOptions;
  readonly exchanges: readonly Exchange[];
  /** Places already found, by item. */
  readonly given: ReadonlyMap<number, Address> | undefined;
  /** Whether holes under flat wires of the layout before are left alone. */
  readonly spareWires: boolean;
}

function attemptLay(task: Task): Result<Layout> {
  const { machine, design, timeline, slots, boards, choices, previous, options, exchanges, given } = task;
  const findings: Finding[] = [];
  const ground = openGround(design, timeline, boards, choices, findings, (bare) => {
    seatFixed(bare, choices, findings, 'across');
    if (previous !== undefined) keepSeats(bare, previous, true, new Set(), 'across');
    seatAcross(bare, slots, (seat) => seatOn(bare, seat));
  });
  if (task.spareWires && previous !== undefined) barUnderWires(ground, previous);
  const { grid, space, rails, seats, strips } = ground;
  const seatIt = (seat: Seat): void => seatOn(ground, seat);

  const seatAt = (places: ReadonlyMap<number, Address>): void => {
    for (const item of timeline.items) {
      const at = places.get(item.index);
      if (at === undefined || seats.has(item.index)) continue;
      const hole = grid.hole(at.board, at.column, at.row);
      const seat = hole < 0 ? undefined : seatRigid(space, item, hole, at.rotation);
      if (seat === undefined || refusal(space, seat) !== undefined) findings.push(noRoom(item, boards));
      else seatIt(seat);
    }
  };

  // What the builder fixed comes first, then what stood before.
  seatFixed(ground, choices, findings);
  const unmoved = new Set<string>();
  if (previous !== undefined) {
    for (const name of keepSeats(ground, previous, true, unmoved)) unmoved.add(name);
    keepSeats(ground, previous, false, unmoved);
  }

  const across = [...seats.values()].some((seat) => isAcross(ground, seat));

  // Rigid parts.
  const isRail = (net: number): boolean => rails.stripsOf.has(net) || timeline.nets[net]!.net.kind !== 'signal';
  if (given === undefined) {
    const shaped = slots.map((slot) => withFixedVariant(slot, seats));
    const placement = new Placement(createProblem(timeline, shaped, isRail, 1), grid);
    barColumns(placement, space, seats, slots);
    for (const slot of shaped) {
      const seat = slot.items.map((item) => seats.get(item.index)).find((s) => s !== undefined);
      if (seat === undefined) continue;
      if (isAcross(ground, seat)) {
        freezeAcross(ground, placement, slot, seat);
        continue;
      }
      const first = seat.holes[0]!;
      placement.put(slot.index, 0, grid.board[first]!, grid.column[first]! - 1 - slot.variants[0]!.firstColumn);
      placement.fixed[slot.index] = 1;
    }
    const homeless = construct(placement);
    for (const slot of homeless) findings.push(noRoom(shaped[slot]!.items[0]!, boards));
    let all = exchanges;
    if (homeless.length === 0) {
      const placed = place(placement, {
        seed: options.seed ?? 1,
        moves: options.moves,
        freedoms: choices.freedoms,
        shouldStop: options.shouldStop,
        onProgress: options.onProgress,
      });
      all = composeExchanges(exchanges, placed.exchanges);
    }
    stayPut(placement, shaped);
    const places = new Map<number, Address>();
    for (const slot of shaped) {
      const board = placement.board[slot.index]!;
      if (board < 0 || slot.items.some((item) => seats.has(item.index))) continue;
      const variant = slot.variants[placement.variant[slot.index]!]!;
      const column = placement.column[slot.index]! + variant.firstColumn + 1;
      for (const item of slot.items)
        places.set(item.index, { board, column, row: variant.row, rotation: variant.rotation });
    }
    // Pins that stand for others now, boards that are not needed: begin again with the places as found.
    const changed = all !== exchanges && all.length > 0 && JSON.stringify(all) !== JSON.stringify(exchanges);
    const exchanged = changed ? exchangePins(machine, all) : design;
    const again = changed ? timelineOf(exchanged) : timeline;
    const next: Task = {
      ...task,
      design: exchanged,
      timeline: again,
      slots: slotsOf(again.items),
      exchanges: all,
    };
    const trimmed =
      homeless.length === 0 && !across && mayTrim(choices, previous) ? trimBoards(boards, places) : undefined;
    if (trimmed !== undefined) {
      const result = attemptLay({ ...next, boards: trimmed.boards, given: trimmed.places });
      if (errorsOf(result) === 0) return result;
    }
    if (changed) return attemptLay({ ...next, given: places });
    seatAt(places);
  } else seatAt(given);

  const { anchors, entries } = openAnchors(ground, design, previous);

  // Two-lead parts.
  for (const item of satelliteOrder(timeline.items)) {
    if (seats.has(item.index)) continue;
    const still = seatOfBefore(ground, item);
    if (still !== undefined) {
      seatIt(still);
      continue;
    }
    const served = servedHoles(ground, item);
    const seat = findBentSeat(space, timeline, rails, strips, item, served);
    if (seat === undefined) findings.push(noRoom(item, boards));
    else seatIt(seat);
  }

  const { probes, landings } = keepProbes(ground, design, findings, previous);
  const feeds = planFeeds(ground, design, previous);
  const wired = wireAll({
    space,
    timeline,
    rails,
    strips,
    anchors,
    bridges: new Map(),
    feeds,
    previous: [
      ...choices.wires.flatMap((wire) => pinnedWire(grid, timeline, wire, findings)),
      ...previousWires(grid, timeline, previous),
    ],
  });
  findings.push(...wired.findings);
  alignHeaders(ground, wired.wires);
  const leads = leadsOf(ground, landings, wired.wires);
  const parts = partsOfSeats(grid, timeline.stages, [...seats.values()]);
  const layout: Layout = {
    format: 1,
    machine: design.name,
    seed: options.seed ?? 1,
    boards,
    parts,
    wires: wiresOfDrafts(space, timeline, wired.wires, {
      slackMm: choices.slackMm,
      roundMm: choices.roundMm,
      seats: [...seats.values()],
      before: previous?.wires ?? [],
      leads: leadNames(leads),
      housings: landings.map((landing) => housingOf(grid, landing)),
    }),
    entries: entriesOf(ground, entries, feeds),
    probes,
    ...(leads.length === 0 ? {} : { leads: crimpedLeads(ground, leads) }),
    ...(exchanges.length === 0 ? {} : { exchanges }),
  };
  // Where something is known to be missing the proof would only repeat it pin by pin.
  if (!findings.some((finding) => finding.code === 'board/no-room' || finding.code === 'board/no-free-hole'))
    findings.push(...proveLayout(layout, design.netlists));
  return { value: layout, findings };
}

/** Weighted pitches that a move has to save for each connected pin of the part: its wires come out and go in again. */
const MOVE_PER_PIN = 4;

/** A part that may move stays where it was unless the other place saves enough. The last that is done with a placement. */
function stayPut(placement: Placement, slots: readonly Slot[]): void {
  const slotOf = new Map(slots.flatMap((slot) => slot.items.map((item) => [item.index, slot])));
  for (const slot of slots) {
    const before = slotOf.get(slot.items[0]!.movedFrom ?? -1);
    if (before === undefined || placement.board[before.index]! < 0 || placement.fixed[slot.index] !== 0) continue;
    const { board, column, variant, problem } = placement;
    const there = [variant[slot.index]!, board[slot.index]!, column[slot.index]!] as const;
    const same = slot.variants.findIndex((one) => {
      const old = before.variants[variant[before.index]!]!;
      return one.rotation === old.rotation && one.row === old.row;
    });
    if (same < 0) continue;
    const moved = placement.fullCost();
    placement.put(slot.index, same, board[before.index]!, column[before.index]!);
    const pins = problem.slotStart[slot.index + 1]! - problem.slotStart[slot.index]!;
    if (placement.fullCost() > moved + pins * MOVE_PER_PIN) placement.put(slot.index, ...there);
  }
}

/** The seat of what serves a part that might have moved and has not. */
function seatOfBefore(ground: Ground, item: Item): Seat | undefined {
  const { seats, timeline, space } = ground;
  const before = item.movedFrom === undefined ? undefined : seats.get(item.movedFrom);
  const served = item.part.implied?.serves.split('.')[0];
  if (before === undefined || served === undefined) return undefined;
  const owner = timeline.items.find((other) => other.name === served && other.from === item.from);
  const old = owner?.movedFrom === undefined ? undefined : seats.get(owner.movedFrom);
  const now = owner === undefined ? undefined : seats.get(owner.index);
  if (old === undefined || now === undefined || old.holes.some((hole, i) => hole !== now.holes[i])) return undefined;
  const seat = seatBent(space, item, before.holes[0]!, before.holes[1]!);
  return seat === undefined || refusal(space, seat) !== undefined ? undefined : seat;
}

/** Entries by name of hole; those that the current asks for beyond the first follow it, under the same supply. */
function entriesOf(ground: Ground, entries: RailPlan['entries'], { feeds }: FeedPlan): Layout['entries'] {
  const name = (hole: number): string => (hole < 0 ? '' : ground.grid.name(hole));
  const fed = ground.rails.entries.find((one) => one.plus >= 0 && one.ground >= 0)?.supply;
  return entries.flatMap(({ supply, plus, ground: minus }) => [
    { supply, plus: name(plus), ground: name(minus) },
    ...(supply === fed ? feeds : []).map((feed) => ({ supply, plus: name(feed.plus), ground: name(feed.ground) })),
  ]);
}

/** A slot whose part already stands has that one variant only. */
function withFixedVariant(slot: Slot, seats: ReadonlyMap<number, Seat>): Slot {
  const seat = slot.items.map((item) => seats.get(item.index)).find((s) => s !== undefined);
  if (seat === undefined) return slot;
  const variant = variantAt(slot.items, seat.rotation, seat.firstRow);
  return variant === undefined ? slot : { ...slot, variants: [variant] };
}

/** Keeps rigid parts off columns in which small parts already stand or the builder wants nothing. */
function barColumns(
  placement: Placement,
  space: Space,
  seats: ReadonlyMap<number, Seat>,
  slots: readonly Slot[],
): void {
  const { grid } = space;
  const rigid = new Set(slots.flatMap((slot) => slot.items.map((item) => item.index)));
  for (const [index, seat] of seats) {
    if (rigid.has(index)) continue;
    for (const hole of [...seat.holes, ...bodiesOf(seat).flatMap((body) => space.coveredBy(body))]) {
      if (grid.stripKind[grid.strip[hole]!] === 0)
        placement.bar(grid.board[hole]!, grid.row[hole]! < 7 ? 0 : 1, grid.column[hole]! - 1);
    }
  }
  for (let strip = 0; strip < grid.stripCount; strip++) {
    if (grid.stripKind[strip] !== 0) continue;
    for (let i = grid.stripStart[strip]!; i < grid.stripStart[strip + 1]!; i++) {
      const hole = grid.stripHoles[i]!;
      if (!space.isBarred(hole)) continue;
      placement.bar(grid.board[hole]!, grid.row[hole]! < 7 ? 0 : 1, grid.column[hole]! - 1);
    }
  }
}
