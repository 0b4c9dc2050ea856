// Wires, hole by hole and stage by stage: every stage keeps the wires that still belong, takes out those that don't, and
// adds what joins each net again. A wire's holes are kept for as long as it will stay.

import type { Finding } from '../base/index.ts';
import type { FeedPlan } from './feeds.ts';
import { noteBridge, openHolesOf, planTree } from './net-plan.ts';
import { solveTree } from './net-tree.ts';
import type { Grid } from './geometry.ts';
import type { RailPlan } from './rails.ts';
import type { NetStrips } from './satellites.ts';
import type { Space } from './space.ts';
import type { Timeline } from './timeline.ts';

/** A wire between two holes (ids of the grid) during the stages `from` until (not including) `until`. */
export interface WireDraft {
  readonly net: number;
  a: number;
  b: number;
  from: number;
  until: number;
  readonly link: boolean;
}

export interface WiringInput {
  readonly space: Space;
  readonly timeline: Timeline;
  readonly rails: RailPlan;
  readonly strips: NetStrips;
  /** Terminal strips that a net has besides its pins (entries of supplies without rails). */
  readonly anchors: ReadonlyMap<number, readonly number[]>;
  /** Free strips that nets took as junctions, noted so that they can be given back. */
  readonly bridges: Map<number, { readonly strip: number; readonly from: number }[]>;
  /** What the supply's current asks for beyond one feed and single links. */
  readonly feeds?: FeedPlan;
  /** Wires to use again wherever they fit, in order of preference. */
  readonly previous: readonly OldWire[];
}

/** A wire of before: a pair of holes, and the stage at which it went in. */
export interface OldWire {
  readonly net: number;
  readonly a: number;
  readonly b: number;
  readonly stage?: number;
}

export interface WiringOutput {
  readonly wires: readonly WireDraft[];
  readonly findings: readonly Finding[];
  readonly totals: Totals;
}

/** Wires every net at every stage. */
export function wireAll(input: WiringInput): WiringOutput {
  const { timeline, rails } = input;
  const findings: Finding[] = [];
  const wires: WireDraft[] = [];
  const previous = new Map<number, OldWire[]>();
  for (const wire of input.previous) {
    const list = previous.get(wire.net);
    if (list === undefined) previous.set(wire.net, [wire]);
    else list.push(wire);
  }
  // Supplies first: their wires take the outermost holes. Then the nets that have least to choose from.
  const order = timeline.nets
    .map((net) => net.index)
    .sort((a, b) => Number(rails.stripsOf.has(b)) - Number(rails.stripsOf.has(a)) || a - b);
  const totals: Totals = { length: 0, bound: 0 };
  for (const net of order) wireNet(input, net, previous.get(net) ?? [], wires, findings, totals);
  return { wires, findings, totals };
}

interface Part {
  readonly strips: number[];
  readonly hasRail: boolean;
}

/** The strips of a net as they are joined: all segments of its rails count as one through the links. */
class Joined {
  private readonly grid: Grid;
  private readonly up: Map<number, number> = new Map();
  private readonly rail: Set<number> = new Set();
  /** Parts without a rail, and all parts. */
  count = 0;

  constructor(grid: Grid) {
    this.grid = grid;
  }

  has(strip: number): boolean {
    return this.up.has(strip);
  }

  open(strip: number): void {
    if (this.up.has(strip)) return;
    this.up.set(strip, strip);
    if (this.grid.stripKind[strip] !== 0) this.rail.add(strip);
    this.count++;
  }

  find(strip: number): number {
    let at = strip;
    let above = this.up.get(at)!;
    while (above !== at) {
      at = above;
      above = this.up.get(at)!;
    }
    this.up.set(strip, at);
    return at;
  }

  join(a: number, b: number): void {
    this.open(a);
    this.open(b);
    const x = this.find(a);
    const y = this.find(b);
    if (x === y) return;
    this.up.set(x, y);
    if (this.rail.has(x)) this.rail.add(y);
    this.count--;
  }

  hasRail(strip: number): boolean {
    return this.rail.has(this.find(strip));
  }

  parts(): Part[] {
    const groups = new Map<number, number[]>();
    for (const strip of this.up.keys()) {
      const root = this.find(strip);
      const list = groups.get(root);
      if (list === undefined) groups.set(root, [strip]);
      else list.push(strip);
    }
    return [...groups].map(([root, strips]) => ({ strips, hasRail: this.rail.has(root) }));
  }
}

/** Wires one net at every stage; `previous` are pairs of holes to use again where they fit. */
export function wireNet(
  input: WiringInput,
  net: number,
  previous: readonly Omit<OldWire, 'net'>[],
  all: WireDraft[],
  findings: Finding[],
  totals: Totals,
): void {
  const { space, timeline, rails } = input;
  const { grid } = space;
  const end = timeline.stages + 1;
  const own = input.strips.of(net);
  const anchors = input.anchors.get(net) ?? [];
  const hasRails = rails.stripsOf.has(net);
  let alive: WireDraft[] = [];
  const retire = (wire: WireDraft, stage: number): void => {
    for (const hole of [wire.a, wire.b]) if (wire.until > stage) space.release(hole, stage, wire.until);
    wire.until = stage;
    alive.splice(alive.indexOf(wire), 1);
  };
  const runs = input.strips.runs(net).filter(({ strip }) => grid.stripKind[strip] === 0 && !anchors.includes(strip));
  /** The stage at which an end's strip goes to another net or is nobody's any more, or the end. */
  const lifeOf = (strip: number, stage: number): number => {
    for (let t = stage; t < end; t++) {
      const owner = space.ownerAt(strip, t);
      if (owner !== -1 && owner !== net) return t;
    }
    // When the last of the net's leads leaves a strip, a wire to it comes out.
    return runs.find((run) => run.strip === strip && run.from <= stage && stage < run.until)?.until ?? end;
  };
  const add = (a: number, b: number, stage: number, link = false): WireDraft => {
    const until = Math.min(lifeOf(grid.strip[a]!, stage), lifeOf(grid.strip[b]!, stage));
    const wire: WireDraft = { net, a, b, from: stage, until, link };
    if (!link) {
      space.take(a, stage, until);
      space.take(b, stage, until);
    }
    alive.push(wire);
    // Out and in again at once is no work at all.
    const before = link ? undefined : all.find((old) => old.until === stage && old.a === a && old.b === b);
    if (before !== undefined) {
      all.splice(all.indexOf(before), 1);
      wire.from = before.from;
    }
    all.push(wire);
    return wire;
  };
  const linked = new Set<number>();
  const reused = new Map<number, WireDraft>();
  const junctions = oldJunctions(input, net, previous);
  const planned = hasRails || previous.length > 0 || anchors.length > 0 ? [] : planTree(input, net, totals);
  for (let stage = timeline.nets[net]!.from; stage < end; stage++) {
    const terminals = new Set<number>(anchors);
    for (const entry of own) if (entry.from <= stage && stage < entry.until) terminals.add(entry.strip);
    alive = alive.filter((wire) => wire.until > stage);
    prune(input, net, alive, terminals, stage, retire);
    // What has come out may go in again.
    for (const [i, wire] of reused) if (!alive.includes(wire)) reused.delete(i);
    if (terminals.size === 0) continue;
    const joined = new Joined(grid);
    for (const strip of terminals) joined.open(strip);
    for (const wire of planned) {
      if (wire.stage !== stage) continue;
      for (const hole of [wire.a, wire.b]) space.release(hole, stage, wire.until);
      add(wire.a, wire.b, stage);
    }
    for (const wire of alive) joined.join(grid.strip[wire.a]!, grid.strip[wire.b]!);
    const later = own.some((entry) => entry.from > stage);
    // Those that were in by this stage first; one that came later may come sooner where nothing else joins its strips.
    for (let k = 0; k < previous.length * 2; k++) {
      const i = k % previous.length;
      if (k < previous.length === (previous[i]!.stage ?? 0) > stage) continue;
      if (joined.count < 2 && !hasRails) break;
      if (reused.has(i)) continue;
      const { a, b } = previous[i]!;
      const sa = grid.strip[a]!;
      const sb = grid.strip[b]!;
      // A junction of before comes again with the first two of its wires that have come.
      const junction = junctions.get(sa) ?? junctions.get(sb);
      if (junction !== undefined) {
        if (!junction.isIn && !comesNow(junction, grid, joined, stage)) continue;
        if (!junction.isIn) {
          junction.isIn = true;
          space.claim(junction.strip, net, stage, end);
          noteBridge(input, net, junction.strip, stage);
          joined.open(junction.strip);
        }
        if ((previous[i]!.stage ?? 0) > stage) continue;
      }
      const railA = hasRails && rails.netOf[sa] === net;
      const railB = hasRails && rails.netOf[sb] === net;
      if ((!joined.has(sa) && !railA) || (!joined.has(sb) && !railB) || (railA && railB)) continue;
      if (joined.has(sa) && joined.has(sb) && joined.find(sa) === joined.find(sb)) continue;
      if ((railA && joined.hasRail(sb)) || (railB && joined.hasRail(sa))) continue;
      if (!railA && !railB && joined.has(sa) && joined.has(sb) && joined.hasRail(sa) && joined.hasRail(sb)) continue;
      const until = Math.min(lifeOf(sa, stage), lifeOf(sb, stage));
      if (!space.isOpen(a, stage, until) || !space.isOpen(b, stage, until)) continue;
      reused.set(i, add(a, b, stage));
      joined.join(sa, sb);
    }
    if (hasRails) {
      for (const part of joined.parts().filter((p) => !p.hasRail)) {
        const pair = closestToRail(input, net, part.strips, stage, lifeOf);
        if (pair === undefined) {
          findings.push(noHole(input, net, part.strips, stage, 'no hole is left on a rail or in the strip'));
          continue;
        }
        add(pair[0], pair[1], stage);
      }
      // Every segment in use hangs together: the links on its way to the entry.
      const used = new Set<number>();
      for (const strip of terminals) if (rails.netOf[strip] === net) used.add(strip);
      for (const wire of alive) for (const hole of [wire.a, wire.b]) used.add(grid.strip[hole]!);
      for (const feed of input.feeds?.feeds ?? [])
        for (const hole of [feed.plus, feed.ground]) used.add(grid.strip[hole]!);
      for (const start of used) {
        if (rails.netOf[start] !== net) continue;
        let strip = start;
        for (;;) {
          const link = rails.links.get(strip);
          if (link === undefined || linked.has(strip)) break;
          linked.add(strip);
          add(link.from, link.to, stage, true);
          for (const more of input.feeds?.doubled.get(strip) ?? []) add(more.from, more.to, stage, true);
          strip = link.parent;
        }
      }
      continue;
    }
    if (joined.count > 1) {
      // With the lasting strips joined as planned the rest goes out again, and needs holes only until then.
      let window = stage;
      for (const strip of terminals) {
        const life = lifeOf(strip, stage);
        if (life < end) window = Math.max(window, life);
      }
      if (planned.length === 0 || window === stage) window = end;
      joinParts(input, net, alive, terminals, stage, later, window, lifeOf, add, findings, totals);
    }
  }
}

interface OldJunction {
  readonly strip: number;
  readonly wires: readonly Omit<OldWire, 'net'>[];
  isIn: boolean;
}

/** Strips that two or more wires of before meet in although no lead of the net stands there, where they are still free. */
function oldJunctions(
  input: WiringInput,
  net: number,
  previous: readonly Omit<OldWire, 'net'>[],
): ReadonlyMap<number, OldJunction> {
  const { space, strips, anchors, rails, timeline } = input;
  const { grid } = space;
  const own = new Set([...strips.of(net).map((entry) => entry.strip), ...(anchors.get(net) ?? [])]);
  const meets = new Map<number, Omit<OldWire, 'net'>[]>();
  for (const wire of previous)
    for (const hole of [wire.a, wire.b]) {
      const strip = grid.strip[hole]!;
      if (own.has(strip) || rails.netOf[strip] === net) continue;
      const list = meets.get(strip);
      if (list === undefined) meets.set(strip, [wire]);
      else list.push(wire);
    }
  const found = new Map<number, OldJunction>();
  for (const [strip, wires] of meets) {
    const from = Math.min(...wires.map((wire) => wire.stage ?? 1));
    if (wires.length > 1 && space.accepts(strip, -1, from, timeline.stages + 1))
      found.set(strip, { strip, wires, isIn: false });
  }
  return found;
}

/** Whether two wires of a junction have come whose other ends are there. */
function comesNow(junction: OldJunction, grid: Grid, joined: Joined, stage: number): boolean {
  const there = junction.wires.filter((wire) => {
    const [a, b] = [grid.strip[wire.a]!, grid.strip[wire.b]!];
    return (wire.stage ?? 0) <= stage && joined.has(a === junction.strip ? b : a);
  });
  return there.length > 1;
}

/** Joins the parts of a net without rails by the shortest tree that the holes allow, through free strips where they must. */
function joinParts(
  input: WiringInput,
  net: number,
  alive: readonly WireDraft[],
  terminals: Set<number>,
  stage: number,
  later: boolean,
  window: number,
  lifeOf: (strip: number, stage: number) => number,
  add: (a: number, b: number, stage: number) => void,
  findings: Finding[],
  totals: Totals,
): void {
  const { space, timeline } = input;
  const { grid } = space;
  const end = timeline.stages + 1;
  for (let bridges = 0; ; bridges++) {
    const strips = [...new Set([...terminals, ...alive.flatMap((wire) => [grid.strip[wire.a]!, grid.strip[wire.b]!])])];
    const index = new Map(strips.map((strip, i) => [strip, i]));
    const holes = strips.map((strip) => openHolesOf(input, [strip], stage, Math.min(window, lifeOf(strip, stage))));
    const kept = alive.map((wire): [number, number] => [
      index.get(grid.strip[wire.a]!)!,
      index.get(grid.strip[wire.b]!)!,
    ]);
    const result = solveTree(
      strips.map((strip, i) => ({
        x: grid.x[grid.stripHoles[grid.stripStart[strip]!]!]!,
        ys: holes[i]!.map((hole) => grid.y[hole]!),
      })),
      kept,
      later ? 1 : 0,
    );
    if (bridges === 0) totals.bound += result.bound;
    if (result.wires !== undefined) {
      totals.length += result.length;
      for (const wire of result.wires) add(holes[wire.a]![wire.holeA]!, holes[wire.b]![wire.holeB]!, stage);
      return;
    }
    const joined = new Joined(grid);
    for (const strip of terminals) joined.open(strip);
    for (const wire of alive) joined.join(grid.strip[wire.a]!, grid.strip[wire.b]!);
    const bridge = bridges < 12 ? findBridge(input, net, joined.parts(), stage) : undefined;
    if (bridge === undefined) {
      findings.push(noHole(input, net, strips, stage, 'its strips have no hole left for another wire'));
      return;
    }
    space.claim(bridge, net, stage, end);
    noteBridge(input, net, bridge, stage);
    terminals.add(bridge);
  }
}

/** Length of wires between strips, and the sum of the shortest trees in the same metric, pitches; rails not counted. */
export interface Totals {
  length: number;
  bound: number;
}

/** Takes out wires that lead nowhere: to a strip without a pin of the net and without another wire. */
function prune(
  input: WiringInput,
  net: number,
  alive: WireDraft[],
  terminals: ReadonlySet<number>,
  stage: number,
  retire: (wire: WireDraft, stage: number) => void,
): void {
  const { grid } = input.space;
  for (;;) {
    const degree = new Map<number, number>();
    for (const wire of alive) {
      for (const hole of [wire.a, wire.b]) {
        const strip = grid.strip[hole]!;
        degree.set(strip, (degree.get(strip) ?? 0) + 1);
      }
    }
    const loose = alive.find((wire) => {
      if (wire.link) return false;
      return [wire.a, wire.b].some((hole) => {
        const strip = grid.strip[hole]!;
        return degree.get(strip) === 1 && !terminals.has(strip) && input.rails.netOf[strip] !== net;
      });
    });
    if (loose === undefined) return;
    retire(loose, stage);
  }
}

function closestToRail(
  input: WiringInput,
  net: number,
  strips: readonly number[],
  stage: number,
  lifeOf: (strip: number, stage: number) => number,
): readonly [number, number] | undefined {
  const { space, rails } = input;
  const { x, y, strip } = space.grid;
  const railHoles = openHolesOf(input, rails.stripsOf.get(net)!, stage, input.timeline.stages + 1);
  let best = Number.POSITIVE_INFINITY;
  let pair: readonly [number, number] | undefined;
  for (const a of openHolesOf(input, strips, stage, stage + 1)) {
    const until = lifeOf(strip[a]!, stage);
    if (!space.isOpen(a, stage, until)) continue;
    for (const b of railHoles) {
      const d = Math.abs(x[a]! - x[b]!) + Math.abs(y[a]! - y[b]!);
      if (d < best) {
        best = d;
        pair = [a, b];
      }
    }
  }
  return pair;
}

/** A free strip that could serve as a junction, nearest to the parts that are short of holes. */
function findBridge(input: WiringInput, net: number, parts: readonly Part[], stage: number): number | undefined {
  const { space } = input;
  const { grid } = space;
  const end = input.timeline.stages + 1;
  const own = new Set(input.strips.of(net).map((entry) => entry.strip));
  const holes = parts.map((part) => openHolesOf(input, part.strips, stage, stage + 1));
  if (holes.some((list) => list.length === 0)) return undefined;
  let best = Number.POSITIVE_INFINITY;
  let found: number | undefined;
  for (let s = 0; s < grid.stripCount; s++) {
    if (grid.stripKind[s] !== 0 || own.has(s) || !space.accepts(s, -1, stage, end)) continue;
    const open = space.openHoles(s, stage, end);
    if (open < 3) continue;
    const hole = grid.stripHoles[grid.stripStart[s]! + 2]!;
    let sum = 0;
    for (const list of holes) {
      let d = Number.POSITIVE_INFINITY;
      for (const a of list)
        d = Math.min(d, Math.abs(grid.x[a]! - grid.x[hole]!) + Math.abs(grid.y[a]! - grid.y[hole]!));
      sum += d;
    }
    if (sum < best) {
      best = sum;
      found = s;
    }
  }
  return found;
}

function noHole(input: WiringInput, net: number, strips: readonly number[], stage: number, why: string): Finding {
  const { grid } = input.space;
  const name = input.timeline.nets[net]!.name;
  const places = strips.slice(0, 6).map((strip) => grid.stripName(strip));
  return {
    code: 'board/no-free-hole',
    severity: 'error',
    message: `${name} cannot be wired at stage ${stage}: ${why}.`,
    where: [],
    notes: [{ text: `Its strips: ${places.join(', ')}${strips.length > 6 ? ' …' : ''}.` }],
    help: 'Move a part to where its pins leave more holes open, or add a board.',
    about: [name],
    stage,
  };
}
