// The layout of a design: boards, places, holes, wires, for all stages at once. Pure: the same design, choices, previous
// layout, seed and moves give the same layout. Ends by proving its own result from the holes; a layout that is not the
// netlist is never returned without an error.

import type { Finding, Result, Span } from '../base/index.ts';
import type { Design } from '../netlist/index.ts';
import { estimateBoards, placeBoards, proposeBoards } from './arrange.ts';
import { type BoardChoice, type LayoutChoices, NO_CHOICES } from './choices.ts';
import { proveLayout } from './extract.ts';
import { partsOfSeats, wiresOfDrafts } from './finish.ts';
import { createGrid, findBoardKind, type Grid } from './geometry.ts';
import { composeExchanges, exchangePins } from './exchange.ts';
import type { Rotation } from './footprint.ts';
import type { Exchange, HoleName, Layout, PlacedBoard, PlacedPart } from './model.ts';
import { place } from './place.ts';
import { construct, createProblem, Placement } from './placement.ts';
import { planRails, type RailPlan } from './rails.ts';
import { findBentSeat, NetStrips, satelliteOrder } from './satellites.ts';
import { refusal, type Seat, seatBent, seatRigid, sit } from './seat.ts';
import { type Slot, slotsOf, variantAt } from './slots.ts';
import { Space } from './space.ts';
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
  const small = timeline.items.filter((item) => item.footprint.kind === 'two-lead').length;
  let boards: BoardChoice[] = chosen
    ? [...choices.boards]
    : previous !== undefined && previous.boards.length > 0
      ? boardsOf(previous)
      : proposeBoards(estimateBoards(slots, small, choices.kind), choices.kind);
  let best: Result<Layout> | undefined;
  for (let attempt = 0; ; attempt++) {
    const result = attemptLay(
      design,
      timeline,
      slots,
      placeBoards(boards),
      choices,
      previous,
      options,
      before,
      undefined,
    );
    if (best === undefined || errorsOf(result) < errorsOf(best)) best = result;
    const crowded = result.findings.some((finding) => finding.code === 'board/no-room');
    const full = result.findings.some((finding) => finding.code === 'board/no-free-hole');
    // More boards give room; that they give holes in strips that are full is less likely.
    if ((!crowded && !(full && attempt < 3)) || chosen || boards.length >= MOST_BOARDS || attempt >= 12) return best;
    const more = boards.length + 1 + Math.floor(attempt / 2);
    if (previous !== undefined && previous.boards.length > 0) {
      // What is built stays where it is: new boards go below.
      const row = Math.max(...boards.map((board) => board.row));
      boards = [...boards, { kind: choices.kind, column: 1, row: row + 1 }];
    } else boards = proposeBoards(Math.min(more, MOST_BOARDS), choices.kind);
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

function attemptLay(
  design: Design,
  timeline: Timeline,
  slots: readonly Slot[],
  boards: readonly PlacedBoard[],
  choices: LayoutChoices,
  previous: Layout | undefined,
  options: LayOptions,
  exchanges: readonly Exchange[],
  given: ReadonlyMap<number, { readonly hole: number; readonly rotation: Rotation }> | undefined,
): Result<Layout> {
  const findings: Finding[] = [];
  const grid = createGrid(boards);
  const space = new Space(grid, timeline.stages);
  const end = timeline.stages + 1;
  barHoles(space, choices, findings);
  const rails = planRails(design, timeline, space, railChoices(grid, timeline, choices, findings));
  const seats = new Map<number, Seat>();
  const strips = new NetStrips();
  const seatIt = (seat: Seat): void => {
    sit(space, seat);
    seats.set(seat.item.index, seat);
    strips.addSeat(space, seat);
  };

  const seatAt = (places: ReadonlyMap<number, { readonly hole: number; readonly rotation: Rotation }>): void => {
    for (const item of timeline.items) {
      const at = places.get(item.index);
      if (at === undefined || seats.has(item.index)) continue;
      const seat = at.hole < 0 ? undefined : seatRigid(space, item, at.hole, at.rotation);
      if (seat === undefined || refusal(space, seat) !== undefined) findings.push(noRoom(item, boards));
      else seatIt(seat);
    }
  };

  // What the builder fixed comes first, then what stood before.
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
      const why = seat === undefined ? 'some of its leads would find no hole' : describeRefusal(space, timeline, seat);
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
      seatIt(seat);
    }
  }
  const unmoved = new Set<string>();
  if (previous !== undefined) {
    const kept = keepSeats(space, grid, timeline, previous, seats, seatIt, true);
    for (const name of kept) unmoved.add(name);
    keepSeats(space, grid, timeline, previous, seats, seatIt, false, unmoved);
  }

  // Rigid parts.
  const isRail = (net: number): boolean => rails.stripsOf.has(net) || timeline.nets[net]!.net.kind !== 'signal';
  if (given === undefined) {
    const shaped = slots.map((slot) => withFixedVariant(slot, seats));
    const placement = new Placement(createProblem(timeline, shaped, isRail, 1), grid);
    barColumns(placement, space, seats, slots);
    for (const slot of shaped) {
      const seat = slot.items.map((item) => seats.get(item.index)).find((s) => s !== undefined);
      if (seat === undefined) continue;
      const first = seat.holes[0]!;
      placement.put(slot.index, 0, grid.board[first]!, grid.column[first]! - 1 - slot.variants[0]!.firstColumn);
      placement.fixed[slot.index] = 1;
    }
    const homeless = construct(placement);
    for (const slot of homeless) findings.push(noRoom(shaped[slot]!.items[0]!, boards));
    const places = new Map<number, { hole: number; rotation: Rotation }>();
    const read = (): void => {
      for (const slot of shaped) {
        if (placement.board[slot.index]! < 0) continue;
        const variant = slot.variants[placement.variant[slot.index]!]!;
        const column = placement.column[slot.index]! + variant.firstColumn + 1;
        const hole = grid.hole(placement.board[slot.index]!, column, variant.row);
        for (const item of slot.items) places.set(item.index, { hole, rotation: variant.rotation });
      }
    };
    if (homeless.length === 0) {
      const placed = place(placement, {
        seed: options.seed ?? 1,
        moves: options.moves,
        freedoms: choices.freedoms,
        shouldStop: options.shouldStop,
        onProgress: options.onProgress,
      });
      if (placed.exchanges.length > 0) {
        // The pins stand for others now: begin again with the design that says so, the places as found.
        read();
        const exchanged = exchangePins(design, placed.exchanges);
        const again = timelineOf(exchanged);
        const all = composeExchanges(exchanges, placed.exchanges);
        return attemptLay(exchanged, again, slotsOf(again.items), boards, choices, previous, options, all, places);
      }
    }
    read();
    seatAt(places);
  } else seatAt(given);

  // Supplies that have no rails enter at a strip of their own.
  const anchors = new Map<number, number[]>();
  const entries = rails.entries.map((entry) => ({ ...entry }));
  for (const net of timeline.nets) {
    if (net.net.kind === 'signal' || rails.stripsOf.has(net.index)) continue;
    const strip = freeStrip(space, end);
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

  // Two-lead parts.
  for (const item of satelliteOrder(timeline.items)) {
    if (seats.has(item.index)) continue;
    const served = servedHoles(grid, timeline, seats, item);
    const seat = findBentSeat(space, timeline, rails, strips, item, served);
    if (seat === undefined) findings.push(noRoom(item, boards));
    else seatIt(seat);
  }

  const probes = keepProbes(design, timeline, space, strips, rails, findings);
  const wired = wireAll({
    space,
    timeline,
    rails,
    strips,
    anchors,
    previous: [
      ...choices.wires.flatMap((wire) => pinnedWire(grid, timeline, wire, findings)),
      ...(previous?.wires ?? []).flatMap((wire) => {
        const net = timeline.netByName.get(wire.net);
        const a = grid.find(wire.from);
        const b = grid.find(wire.to);
        return net === undefined || a < 0 || b < 0 ? [] : [{ net, a, b }];
      }),
    ],
  });
  findings.push(...wired.findings);
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
    }),
    entries: entries.map((entry) => ({
      supply: entry.supply,
      plus: entry.plus < 0 ? '' : grid.name(entry.plus),
      ground: entry.ground < 0 ? '' : grid.name(entry.ground),
    })),
    probes,
    ...(exchanges.length === 0 ? {} : { exchanges }),
  };
  // Where something is known to be missing the proof would only repeat it pin by pin.
  if (!findings.some((finding) => finding.code === 'board/no-room' || finding.code === 'board/no-free-hole'))
    findings.push(...proveLayout(layout, design.netlists));
  return { value: layout, findings };
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

function railChoices(
  grid: Grid,
  timeline: Timeline,
  choices: LayoutChoices,
  findings: Finding[],
): Parameters<typeof planRails>[3] {
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

function describeRefusal(space: Space, timeline: Timeline, seat: Seat): string | undefined {
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
function keepSeats(
  space: Space,
  grid: Grid,
  timeline: Timeline,
  previous: Layout,
  seats: ReadonlyMap<number, Seat>,
  seatIt: (seat: Seat) => void,
  rigid: boolean,
  unmoved: ReadonlySet<string> = new Set(),
): string[] {
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
    const place = old.find((part) => part.stage === item.from) ?? old[0];
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
    if (refusal(space, seat) !== undefined) continue;
    seatIt(seat);
    kept.push(item.name);
  }
  return kept;
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
    for (const hole of [...seat.holes, ...space.coveredBy(seat.body)]) {
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

function noRoom(item: Item, boards: readonly PlacedBoard[]): Finding {
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
function freeStrip(space: Space, end: number): number | undefined {
  const { grid } = space;
  for (let s = 0; s < grid.stripCount; s++) {
    if (grid.stripKind[s] === 0 && space.accepts(s, -1, 1, end) && space.openHoles(s, 1, end) === 5) return s;
  }
  return undefined;
}

/** Holes of the pins that an implied part serves: a chip's supply pin, or the pin named. */
function servedHoles(grid: Grid, timeline: Timeline, seats: ReadonlyMap<number, Seat>, item: Item): number[] {
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

/** Keeps a hole for each instrument lead and for each net that asks for one. */
function keepProbes(
  design: Design,
  timeline: Timeline,
  space: Space,
  strips: NetStrips,
  rails: RailPlan,
  findings: Finding[],
): { net: string; hole: HoleName; stage: number; until: number | undefined }[] {
  const { grid } = space;
  const end = timeline.stages + 1;
  const probes: { net: string; hole: HoleName; stage: number; until: number | undefined }[] = [];
  const wanted: { net: number; from: number; until: number; asked: string }[] = [];
  for (const net of timeline.nets) {
    if (net.net.netClass?.probeHole === true)
      wanted.push({ net: net.index, from: net.from, until: end, asked: `${net.name} asks for a probe hole` });
  }
  for (const lead of design.leads) {
    const net = timeline.netByName.get(lead.net);
    if (net === undefined || wanted.some((w) => w.net === net && w.until === end)) continue;
    wanted.push({
      net,
      from: Math.max(1, lead.stage),
      until: lead.until ?? end,
      asked: `${lead.pod} hooks on to ${lead.net}`,
    });
  }
  for (const { net, from, until, asked } of wanted) {
    const candidates = rails.stripsOf.get(net) ?? [
      ...new Set(
        strips
          .of(net)
          .filter((entry) => entry.from <= from && from < entry.until)
          .map((entry) => entry.strip),
      ),
    ];
    let best = -1;
    let most = 1;
    for (const strip of candidates) {
      const open = space.openHoles(strip, from, until);
      if (open > most) {
        most = open;
        best = strip;
      }
    }
    if (best < 0) {
      findings.push({
        code: 'board/no-probe-hole',
        severity: 'warning',
        message: `No hole can be kept for a probe: ${asked}, and its strips are full.`,
        where: [],
        notes: [],
        help: 'Hook on to a pin of the part instead.',
        about: [timeline.nets[net]!.name],
      });
      continue;
    }
    // The hole farthest from the gutter is the easiest to reach.
    const list = Array.from(grid.stripHoles.subarray(grid.stripStart[best]!, grid.stripStart[best + 1]!)).filter(
      (hole) => space.isOpen(hole, from, until),
    );
    const upper = grid.row[list[0]!]! < 7;
    const hole = upper ? list[0]! : list[list.length - 1]!;
    space.take(hole, from, until);
    probes.push({
      net: timeline.nets[net]!.name,
      hole: grid.name(hole),
      stage: from,
      until: until === end ? undefined : until,
    });
  }
  return probes;
}

function pinnedWire(
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
