// Editing a layout that stands: one part goes to another place, and only the wires that must change do. An editor holds the
// state of one layout, so that a drag costs milliseconds; the result of every move is proved like any other layout.

import type { Finding, Result } from '../base/index.ts';
import type { Design } from '../netlist/index.ts';
import type { LayoutChoices } from './choices.ts';
import { exchangePins } from './exchange.ts';
import { planFeeds } from './feeds.ts';
import { jobOf, leversOf, obstacleOf, orderWires, partsOfSeats, temporaryStrips, wireOf } from './finish.ts';
import type { Body, Rotation } from './footprint.ts';
import {
  describeRefusal,
  type Ground,
  keepSeats,
  openAnchors,
  openGround,
  pinnedWire,
  previousWires,
  seatFixed,
  seatOn,
  servedHoles,
} from './ground.ts';
import { alignHeaders, crimpedLeads, isHeader, type LeadDraft, leadNames, leadsOf } from './leads.ts';
import type { HoleName, Layout, Wire } from './model.ts';
import { type LaidPath, Lanes, type PathJob } from './paths.ts';
import { findProbeHole, housingOf, keepProbes, type Landing } from './probes.ts';
import { Prover } from './prover.ts';
import { findBentSeat, NetStrips, satelliteOrder } from './satellites.ts';
import { seatBent, seatRigid, unsit } from './seat.ts';
import { type Item, timelineOf } from './timeline.ts';
import { type OldWire, type WireDraft, type WiringInput, wireNet } from './wiring.ts';

/** A part to another place. */
export interface Move {
  readonly part: string;
  /** The hole of the first lead. */
  readonly at: HoleName;
  /** Two-lead parts: the hole of the second lead. */
  readonly to?: HoleName;
  readonly rotation?: Rotation;
  /** Where a stage moves the part: as it stands at this stage. */
  readonly stage?: number;
}

export interface MoveResult {
  readonly layout: Layout;
  /** False where the part could not go there; the layout is then as before. */
  readonly moved: boolean;
  /** Wires taken out and put in, by id. */
  readonly removed: readonly string[];
  readonly added: readonly string[];
}

/** A layout opened for editing. */
export interface LayoutEditor {
  /** The layout as it stands. */
  layout(): Layout;
  /** Moves a part. Wires whose two holes still serve stay. `prove: false` leaves the proof to a later call of `prove`. */
  move(move: Move, options?: { readonly prove?: boolean }): Result<MoveResult>;
  prove(): Finding[];
}

/** A body of no size. */
const NOWHERE: Body = { cx: -9, cy: -9, ux: 1, uy: 0, halfLength: 0, halfWidth: 0 };

interface Laid {
  readonly draft: WireDraft;
  readonly job: PathJob;
  readonly path: LaidPath;
  readonly wire: Wire;
}

/** Opens a layout. Parts or wires of it that no longer fit the design are reported and left out: run `lay` first. */
export function openEditor(machine: Design, choices: LayoutChoices, layout: Layout): Result<LayoutEditor> {
  const findings: Finding[] = [];
  const editor = new Editor(machine, choices, layout, findings);
  return { value: editor, findings };
}

/** One move on a layout, for callers that keep no editor. */
export function rewire(machine: Design, choices: LayoutChoices, layout: Layout, move: Move): Result<MoveResult> {
  const opened = openEditor(machine, choices, layout);
  const result = opened.value.move(move);
  return { value: result.value, findings: [...opened.findings, ...result.findings] };
}

class Editor implements LayoutEditor {
  private readonly design: Design;
  private readonly choices: LayoutChoices;
  private readonly start: Layout;
  private readonly ground: Ground;
  private readonly input: WiringInput;
  private readonly laid: Map<number, Laid[]> = new Map();
  private readonly lanes: Lanes;
  private readonly obstacleOfItem: Map<number, number> = new Map();
  private readonly buses: Map<string, number> = new Map();
  private probes: NonNullable<Layout['probes']>;
  private readonly landings: readonly Landing[];
  private readonly prover: Prover;

  constructor(machine: Design, choices: LayoutChoices, layout: Layout, findings: Finding[]) {
    this.start = layout;
    // A fixed place binds `lay`; the hand that drags may move what it fixed.
    this.choices = { ...choices, places: [] };
    this.design = exchangePins(machine, layout.exchanges ?? []);
    this.prover = new Prover(this.design.netlists);
    const timeline = timelineOf(this.design);
    this.ground = openGround(this.design, timeline, layout.boards, this.choices, findings, (bare) => {
      keepSeats(bare, layout, true, new Set(), 'across');
    });
    const { grid, space, rails } = this.ground;
    seatFixed(this.ground, this.choices, findings);
    const everyone = new Set(timeline.items.map((item) => item.name));
    keepSeats(this.ground, layout, true, everyone);
    const { anchors } = openAnchors(this.ground, this.design, layout);
    keepSeats(this.ground, layout, false, everyone);
    for (const item of timeline.items) {
      if (this.ground.seats.has(item.index)) continue;
      findings.push({
        code: 'board/layout-out-of-date',
        severity: 'error',
        message: `The layout has no sound place for ${item.name}.`,
        where: [],
        notes: [],
        help: 'Run `lay` first.',
        about: [item.name],
      });
    }
    const kept = keepProbes(this.ground, this.design, findings, layout);
    this.probes = kept.probes;
    this.landings = kept.landings;
    const ground = this.ground;
    this.input = {
      space,
      timeline,
      rails,
      get strips() {
        return ground.strips;
      },
      anchors,
      bridges: new Map(),
      feeds: planFeeds(ground, this.design, layout),
      previous: [],
    };
    const before = new Map(layout.wires.map((wire) => [wire.id, wire]));
    const pairs = new Map<number, OldWire[]>();
    for (const wire of [
      ...this.choices.wires.flatMap((wire) => pinnedWire(grid, timeline, wire, findings)),
      ...previousWires(grid, timeline, layout),
    ])
      push(pairs, wire.net, wire);
    const drafts: WireDraft[] = [];
    const order = timeline.nets
      .map((net) => net.index)
      .sort((a, b) => Number(rails.stripsOf.has(b)) - Number(rails.stripsOf.has(a)) || a - b);
    for (const net of order) wireNet(this.input, net, pairs.get(net) ?? [], drafts, findings, { length: 0, bound: 0 });
    alignHeaders(ground, drafts);
    this.lanes = new Lanes(space, []);
    for (const seat of ground.seats.values()) for (const lever of leversOf(seat)) this.lanes.addObstacle(lever);
    for (const landing of this.landings) this.lanes.addObstacle(housingOf(grid, landing));
    for (const [index, seat] of ground.seats) this.obstacleOfItem.set(index, this.lanes.addObstacle(obstacleOf(seat)));
    this.layDrafts(drafts, before);
    // While a hand drags, a long wire is sooner arched than searched for.
    this.lanes.patience = 2000;
  }

  private layDrafts(drafts: readonly WireDraft[], before: ReadonlyMap<string, Wire>): Laid[] {
    const { timeline, grid, seats } = this.ground;
    const lasting = drafts.filter((draft) => draft.until > draft.from);
    const names = leadNames(this.leads(lasting));
    const jobs = lasting.map((draft) => jobOf(timeline, grid, draft, this.buses, before, names.has(draft)));
    const paths = this.lanes.layAll(jobs);
    const temporary = temporaryStrips(grid, seats.values());
    return lasting.map((draft, i) => {
      const job = jobs[i]!;
      const path = paths[i]!;
      const laid = {
        draft,
        job,
        path,
        wire: wireOf(timeline, grid, draft, path, this.choices, temporary, names.get(draft)),
      };
      push(this.laid, draft.net, laid);
      return laid;
    });
  }

  private mayHaveLeads(): boolean {
    if (this.landings.length > 0) return true;
    for (const seat of this.ground.seats.values()) if (isHeader(seat)) return true;
    return false;
  }

  /** The crimped leads that the wires make, with those about to be laid. */
  private leads(more: readonly WireDraft[]): LeadDraft[] {
    if (!this.mayHaveLeads()) return [];
    const all = [...this.laid.values()].flatMap((list) => list.map(({ draft }) => draft));
    return leadsOf(this.ground, this.landings, [...all, ...more]);
  }

  layout(): Layout {
    const { grid, timeline, seats } = this.ground;
    const wires: Wire[] = [];
    const leads = this.leads([]);
    const names = leadNames(leads);
    let temporary: ReadonlySet<number> | undefined;
    for (const list of this.laid.values())
      for (const { wire, draft, path } of list) {
        const lead = names.get(draft);
        // A wire that has become a way of a lead, or is one no longer.
        if (lead !== wire.lead) temporary ??= temporaryStrips(grid, seats.values());
        wires.push(
          lead === wire.lead ? wire : wireOf(timeline, grid, draft, path, this.choices, temporary ?? new Set(), lead),
        );
      }
    const { leads: _, ...start } = this.start;
    return {
      ...start,
      parts: partsOfSeats(grid, timeline.stages, [...seats.values()]),
      wires: orderWires(wires),
      probes: this.probes,
      ...(leads.length === 0 ? {} : { leads: crimpedLeads(this.ground, leads) }),
    };
  }

  prove(): Finding[] {
    return this.prover.prove(this.layout());
  }

  move(move: Move, options: { readonly prove?: boolean } = {}): Result<MoveResult> {
    const { ground } = this;
    const { grid, space, timeline, seats, rails } = ground;
    const findings: Finding[] = [];
    const refuse = (message: string): Result<MoveResult> => ({
      value: { layout: this.layout(), moved: false, removed: [], added: [] },
      findings: [
        {
          code: 'board/move-impossible',
          severity: 'error',
          message,
          where: [],
          notes: [{ text: 'Everything is as it was.' }],
          help: 'Choose another hole, turn the part, or free this place.',
          about: [move.part],
        },
      ],
    });
    const named = timeline.items.filter((item) => item.name.toLowerCase() === move.part.toLowerCase());
    const last = named[named.length - 1];
    const at = (item: Item): number => seats.get(item.index)?.holes[0] ?? -1;
    // Of a part that moves between stages the piece of that stage, or all that stand where it stands last.
    const items = named.filter((item) =>
      move.stage === undefined ? at(item) === at(last!) : item.from <= move.stage && move.stage < item.until,
    );
    const first = grid.find(move.at);
    const second = move.to === undefined ? -1 : grid.find(move.to);
    if (items.length === 0) return refuse(`The machine has no part ${move.part}.`);
    if (first < 0 || (move.to !== undefined && second < 0))
      return refuse(`There is no hole ${first < 0 ? move.at : move.to}.`);

    // What hangs on the part goes with it where it shares its strips or serves it.
    const moving = new Set(items.map((item) => item.index));
    const followers: Item[] = [];
    for (const item of timeline.items) {
      if (moving.has(item.index) || item.footprint.kind !== 'two-lead') continue;
      const serves = item.part.implied?.serves.split('.')[0];
      if (serves !== undefined && items.some((other) => other.name === serves)) followers.push(item);
    }
    const oldSeats = [...items, ...followers].flatMap((item) => {
      const seat = seats.get(item.index);
      return seat === undefined ? [] : [seat];
    });
    // Nets to wire anew: all of the moved pins; of rails only what leads to the moved pins changes, the rest is used again.
    const nets = new Set<number>();
    for (const item of [...items, ...followers])
      for (const pin of item.pins) for (const net of pin.nets) if (net >= 0) nets.add(net);
    const removed = new Map<number, Laid[]>();
    const oldBridges = new Map<number, { strip: number; from: number }[]>();
    for (const net of nets) {
      const list = this.laid.get(net) ?? [];
      removed.set(net, list);
      this.laid.delete(net);
      for (const { draft } of list) this.free(draft);
      oldBridges.set(net, this.input.bridges.get(net) ?? []);
      this.giveBack(net);
    }
    for (const seat of oldSeats) {
      unsit(space, seat);
      seats.delete(seat.item.index);
    }
    const putBack = (): void => {
      for (const item of [...items, ...followers]) {
        const now = seats.get(item.index);
        if (now === undefined) continue;
        unsit(space, now);
        seats.delete(item.index);
      }
      for (const seat of oldSeats) seatOn(ground, seat);
      this.readStrips();
      for (const [net, list] of removed) {
        this.laid.set(net, list);
        for (const { draft } of list) this.take(draft);
      }
      for (const [net, list] of oldBridges) {
        for (const { strip, from } of list) space.claim(strip, net, from, timeline.stages + 1);
        this.input.bridges.set(net, list);
      }
    };
    for (const item of items) {
      const rotation = move.rotation ?? oldSeats.find((seat) => seat.item === item)?.rotation ?? 0;
      const seat =
        item.footprint.kind === 'rigid'
          ? seatRigid(space, item, first, rotation, true)
          : second < 0
            ? undefined
            : seatBent(space, item, first, second, true);
      const why = seat === undefined ? 'some of its leads would find no hole' : describeRefusal(space, timeline, seat);
      if (seat === undefined || why !== undefined) {
        putBack();
        return refuse(`${item.name} cannot stand at ${move.at}: ${why}.`);
      }
      seatOn(ground, seat);
    }
    this.readStrips();
    for (const item of satelliteOrder(followers)) {
      const seat = findBentSeat(space, timeline, rails, ground.strips, item, servedHoles(ground, item));
      if (seat === undefined) {
        putBack();
        return refuse(`There is no room for ${item.name} beside ${move.part} at ${move.at}.`);
      }
      seatOn(ground, seat);
    }
    const oldProbes = this.probes;
    const newProbes = this.moveProbes();
    const drafts: WireDraft[] = [];
    const trouble: Finding[] = [];
    const order = [...nets].sort((a, b) => Number(rails.stripsOf.has(b)) - Number(rails.stripsOf.has(a)) || a - b);
    for (const net of order) {
      const pairs = (removed.get(net) ?? [])
        .filter(({ draft }) => !draft.link)
        .map(({ draft }) => ({ a: draft.a, b: draft.b, stage: draft.from }));
      wireNet(this.input, net, pairs, drafts, trouble, { length: 0, bound: 0 });
    }
    if (trouble.length > 0) {
      for (const draft of drafts) this.free(draft);
      for (const net of nets) this.giveBack(net);
      this.swapProbes(newProbes, oldProbes);
      putBack();
      const result = refuse(`${move.part} cannot stand at ${move.at}: not all of its nets can be wired there.`);
      return { value: result.value, findings: [...result.findings, ...trouble] };
    }
    if (this.mayHaveLeads())
      alignHeaders(
        ground,
        [...[...this.laid.values()].flatMap((list) => list.map(({ draft }) => draft)), ...drafts],
        new Set(drafts),
      );
    // What came out as it was keeps its way; only the rest is laid anew.
    const before = new Map<string, Wire>();
    const asBefore = new Map<number, Laid>();
    for (const list of removed.values())
      for (const laid of list) asBefore.set(laid.draft.a * grid.holeCount + laid.draft.b, laid);
    const fresh: WireDraft[] = [];
    const kept = new Set<Laid>();
    for (const draft of drafts) {
      const same = asBefore.get(draft.a * grid.holeCount + draft.b);
      if (same !== undefined && !kept.has(same) && same.draft.from === draft.from && same.draft.until === draft.until) {
        kept.add(same);
        push(this.laid, draft.net, { ...same, draft });
      } else fresh.push(draft);
    }
    for (const list of removed.values()) {
      for (const laid of list) {
        if (kept.has(laid)) continue;
        this.lanes.remove(laid.path, laid.job);
        before.set(laid.wire.id, laid.wire);
      }
    }
    // Bodies: the old ones away, the new ones in the way of what lay there.
    const under: Set<number>[] = [];
    for (const item of [...items, ...followers]) {
      const old = this.obstacleOfItem.get(item.index);
      if (old !== undefined) this.lanes.removeObstacle(old);
      const seat = seats.get(item.index)!;
      under.push(this.lanes.nodesUnder(seat.body, seat.holes));
      this.obstacleOfItem.set(item.index, this.lanes.addObstacle(obstacleOf(seat)));
    }
    for (const draft of fresh) under.push(this.lanes.nodesUnder(NOWHERE, [draft.a, draft.b]));
    const inTheWay = new Set<number>();
    for (const nodes of under) for (const node of nodes) inTheWay.add(node);
    const displaced: WireDraft[] = [];
    for (const [net, list] of this.laid) {
      const stay = list.filter((laid) => !laid.path.flat || !Lanes.passes(laid.path, inTheWay));
      if (stay.length === list.length) continue;
      for (const laid of list) {
        if (stay.includes(laid)) continue;
        this.lanes.remove(laid.path, laid.job);
        before.set(laid.wire.id, laid.wire);
        displaced.push(laid.draft);
      }
      this.laid.set(net, stay);
    }
    this.layDrafts([...fresh, ...displaced], before);
    const old = new Set([...removed.values()].flat().map(({ wire }) => wire.id));
    const now = new Set([...nets].flatMap((net) => (this.laid.get(net) ?? []).map(({ wire }) => wire.id)));
    const layout = this.layout();
    if (options.prove !== false) findings.push(...this.prover.prove(layout));
    return {
      value: {
        layout,
        moved: true,
        removed: [...old].filter((id) => !now.has(id)).sort(),
        added: [...now].filter((id) => !old.has(id)).sort(),
      },
      findings,
    };
  }

  /** A net's junction strips are free again. */
  private giveBack(net: number): void {
    for (const { strip, from } of this.input.bridges.get(net) ?? [])
      this.ground.space.unclaim(strip, from, this.ground.timeline.stages + 1);
    this.input.bridges.delete(net);
  }

  /** Probes whose strip is no longer of their net get another hole. */
  private moveProbes(): NonNullable<Layout['probes']> {
    const { ground } = this;
    const { grid, space, timeline } = ground;
    const end = timeline.stages + 1;
    this.probes = this.probes.flatMap((probe) => {
      const hole = grid.find(probe.hole);
      const net = timeline.netByName.get(probe.net)!;
      const until = probe.until ?? end;
      if (space.ownerAt(grid.strip[hole]!, probe.stage) === net) return [probe];
      space.release(hole, probe.stage, until);
      const other = findProbeHole(ground, net, probe.stage, until);
      if (other === undefined) return [];
      space.take(other.hole, probe.stage, other.until);
      return [{ ...probe, hole: grid.name(other.hole), until: other.until === end ? undefined : other.until }];
    });
    return this.probes;
  }

  private swapProbes(now: NonNullable<Layout['probes']>, before: NonNullable<Layout['probes']>): void {
    const { grid, space, timeline } = this.ground;
    const end = timeline.stages + 1;
    for (const probe of now) space.release(grid.find(probe.hole), probe.stage, probe.until ?? end);
    for (const probe of before) space.take(grid.find(probe.hole), probe.stage, probe.until ?? end);
    this.probes = before;
  }

  private free(draft: WireDraft): void {
    if (draft.link || draft.until <= draft.from) return;
    this.ground.space.release(draft.a, draft.from, draft.until);
    this.ground.space.release(draft.b, draft.from, draft.until);
  }

  private take(draft: WireDraft): void {
    if (draft.link || draft.until <= draft.from) return;
    this.ground.space.take(draft.a, draft.from, draft.until);
    this.ground.space.take(draft.b, draft.from, draft.until);
  }

  /** The strips of every net from the seats as they are. */
  private readStrips(): void {
    const { ground } = this;
    const strips = new NetStrips();
    for (const [net, list] of this.input.anchors)
      for (const strip of list) strips.add(net, strip, 1, ground.timeline.stages + 1);
    for (const seat of ground.seats.values()) strips.addSeat(ground.space, seat);
    const { grid } = ground.space;
    for (const landing of this.landings)
      landing.nets.forEach((net, i) => {
        if (net >= 0) strips.add(net, grid.strip[landing.plug[i]!]!, landing.from, landing.until);
      });
    // Strips that are a net's for its probe only.
    for (const probe of this.probes) {
      const net = ground.timeline.netByName.get(probe.net)!;
      const strip = grid.strip[grid.find(probe.hole)]!;
      if (ground.space.ownerAt(strip, probe.stage) !== net) continue;
      if (grid.stripKind[strip] === 0 && !strips.of(net).some((entry) => entry.strip === strip))
        strips.add(net, strip, probe.stage, probe.until ?? ground.timeline.stages + 1);
    }
    ground.strips = strips;
  }
}

function push<T>(map: Map<number, T[]>, key: number, value: T): void {
  const list = map.get(key);
  if (list === undefined) map.set(key, [value]);
  else list.push(value);
}
