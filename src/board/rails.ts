// Rails: which net each carries, where the supply enters, and the tree of links that joins a net's segments (over breaks,
// from top to bottom, from board to board). The holes of all links are kept free from the start; a stage makes the links it
// needs.

import type { Design } from '../netlist/index.ts';
import type { Grid } from './geometry.ts';
import type { Space } from './space.ts';
import type { Timeline } from './timeline.ts';

/** A link that joins a segment to the rest of its net's backbone. */
export interface RailLink {
  readonly strip: number;
  readonly parent: number;
  /** Hole on `strip` and hole on `parent`. */
  readonly from: number;
  readonly to: number;
}

export interface RailPlan {
  /** Net of each rail strip; -1 for rails that carry nothing and for terminal strips. */
  readonly netOf: Int32Array;
  /** Rail strips by net. */
  readonly stripsOf: ReadonlyMap<number, readonly number[]>;
  /** The link towards the entry, by strip. The strip of the entry has none. */
  readonly links: ReadonlyMap<number, RailLink>;
  /** Holes kept for supply leads. */
  readonly entries: readonly { readonly supply: string; readonly plus: number; readonly ground: number }[];
}

/** What the builder says of supplies and rails; holes already looked up. */
export interface RailChoices {
  readonly entries: readonly { readonly supply: string; readonly plus: number; readonly ground: number }[];
  /** Net of a rail strip where it is not the usual one. */
  readonly rails: readonly { readonly strip: number; readonly net: number }[];
}

/** The supply that gets the rails: the one with most pins; and the ground net. -1 where there is none. */
export function mainNets(design: Design, timeline: Timeline): { plus: number; ground: number } {
  let plus = -1;
  let ground = -1;
  let most = 0;
  for (const net of timeline.nets) {
    if (net.net.kind === 'ground') {
      if (ground < 0 || net.pins.length > timeline.nets[ground]!.pins.length) ground = net.index;
    } else if (net.net.kind === 'supply' && net.pins.length > most) {
      most = net.pins.length;
      plus = net.index;
    }
  }
  if (plus < 0) {
    for (const supply of design.supplies) plus = timeline.netByName.get(supply.name) ?? plus;
  }
  return { plus, ground };
}

/** Plans the rails and keeps the holes that entries and links need. */
export function planRails(design: Design, timeline: Timeline, space: Space, choices: RailChoices): RailPlan {
  const { grid, stages } = space;
  const main = mainNets(design, timeline);
  const netOf = new Int32Array(grid.stripCount).fill(-1);
  for (let s = 0; s < grid.stripCount; s++) {
    if (grid.stripKind[s] === 1) netOf[s] = main.plus;
    else if (grid.stripKind[s] === 2) netOf[s] = main.ground;
  }
  for (const { strip, net } of choices.rails) netOf[strip] = net;
  const stripsOf = new Map<number, number[]>();
  for (let s = 0; s < grid.stripCount; s++) {
    const net = netOf[s]!;
    if (net < 0) continue;
    const list = stripsOf.get(net);
    if (list === undefined) stripsOf.set(net, [s]);
    else list.push(s);
  }
  for (const [net, strips] of stripsOf) for (const s of strips) space.claim(s, net, 1, stages + 1);
  const keep = (hole: number): number => {
    if (hole >= 0) space.take(hole, 1, stages + 1);
    return hole;
  };
  const entries: { supply: string; plus: number; ground: number }[] = [];
  const firstOpen = (net: number): number => {
    for (const s of stripsOf.get(net) ?? []) {
      for (let i = grid.stripStart[s]!; i < grid.stripStart[s + 1]!; i++) {
        const hole = grid.stripHoles[i]!;
        if (space.isOpen(hole, 1, stages + 1)) return hole;
      }
    }
    return -1;
  };
  // The builder's holes first, so that no other entry takes them.
  for (const entry of choices.entries)
    entries.push({ supply: entry.supply, plus: keep(entry.plus), ground: keep(entry.ground) });
  for (const supply of design.supplies) {
    if (entries.some((entry) => entry.supply === supply.name)) continue;
    const net = timeline.netByName.get(supply.name);
    if (net === undefined || !stripsOf.has(net)) continue;
    entries.push({
      supply: supply.name,
      plus: keep(firstOpen(net)),
      ground: main.ground < 0 ? -1 : keep(firstOpen(main.ground)),
    });
  }
  const links = new Map<number, RailLink>();
  for (const [net, strips] of stripsOf) {
    const entry = entries
      .flatMap((e) => [e.plus, e.ground])
      .find((hole) => hole >= 0 && netOf[grid.strip[hole]!] === net);
    const root = entry === undefined ? strips[0]! : grid.strip[entry]!;
    for (const link of backbone(grid, space, strips, root)) {
      keep(link.from);
      keep(link.to);
      links.set(link.strip, link);
    }
  }
  return { netOf, stripsOf, links, entries };
}

/** The shortest tree over rail segments from `root`; each link at the outermost of its equally short places. */
function backbone(grid: Grid, space: Space, strips: readonly number[], root: number): RailLink[] {
  const { stripStart, stripHoles, x, y } = grid;
  const first = (s: number): number => stripHoles[stripStart[s]!]!;
  const last = (s: number): number => stripHoles[stripStart[s + 1]! - 1]!;
  const distance = (a: number, b: number): number => {
    const dx = Math.max(0, x[first(a)]! - x[last(b)]!, x[first(b)]! - x[last(a)]!);
    return dx + Math.abs(y[first(a)]! - y[first(b)]!);
  };
  const taken = new Set<number>();
  const open = (s: number): number[] => {
    const list: number[] = [];
    for (let i = stripStart[s]!; i < stripStart[s + 1]!; i++) {
      const hole = stripHoles[i]!;
      if (!taken.has(hole) && space.isOpen(hole, 1, space.stages + 1)) list.push(hole);
    }
    return list;
  };
  const best = new Map<number, { from: number; d: number }>();
  for (const s of strips) if (s !== root) best.set(s, { from: root, d: distance(root, s) });
  const links: RailLink[] = [];
  while (best.size > 0) {
    let strip = -1;
    let d = Number.POSITIVE_INFINITY;
    for (const [s, entry] of best) {
      if (entry.d < d) {
        d = entry.d;
        strip = s;
      }
    }
    const parent = best.get(strip)!.from;
    best.delete(strip);
    let link: RailLink | undefined;
    let shortest = Number.POSITIVE_INFINITY;
    const middle = grid.boardX[grid.board[first(strip)]!]! + 31;
    for (const a of open(strip)) {
      for (const b of open(parent)) {
        const length = Math.abs(x[a]! - x[b]!) + Math.abs(y[a]! - y[b]!) - Math.abs(x[a]! - middle) * 0.001;
        if (length < shortest) {
          shortest = length;
          link = { strip, parent, from: a, to: b };
        }
      }
    }
    if (link === undefined) continue; // a rail with no open hole at all is reached by nothing
    taken.add(link.from);
    taken.add(link.to);
    links.push(link);
    for (const [s, entry] of best) {
      const to = distance(strip, s);
      if (to < entry.d) best.set(s, { from: strip, d: to });
    }
  }
  return links;
}
