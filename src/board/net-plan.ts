// The wires of one net for all stages at once, before the first is laid: the strips that stay form one tree that grows with the
// stages, strips that go again hang on it, and a free strip joins in where strips are short of holes.

import { type StagedResult, solveStagedTree, type TreeStrip } from './net-tree.ts';
import type { Totals, WiringInput } from './wiring.ts';

/** A wire before its stage has come. */
export interface PlannedWire {
  readonly a: number;
  readonly b: number;
  readonly stage: number;
  readonly until: number;
}

/** A wire for each strip that does not stay, to the nearest of those that are there and stay; what finds none is left out. */
function joinPassing(
  input: WiringInput,
  net: number,
  stageOf: ReadonlyMap<number, number>,
): { readonly wires: readonly PlannedWire[]; readonly isWhole: boolean } {
  const { space } = input;
  const { grid } = space;
  const end = input.timeline.stages + 1;
  const wires: PlannedWire[] = [];
  let isWhole = true;
  for (const { strip, from, until } of input.strips.runs(net)) {
    if (until === end) continue;
    if (![...stageOf.values()].some((stage) => stage <= from)) continue;
    let best: { a: number; b: number } | undefined;
    let least = Number.POSITIVE_INFINITY;
    for (const a of openHolesOf(input, [strip], from, until)) {
      for (const [host, stage] of stageOf) {
        if (stage > from) continue;
        const open = openHolesOf(input, [host], from, until);
        for (const b of open) {
          // Rather a little farther than where few holes are left.
          const d = Math.abs(grid.x[a]! - grid.x[b]!) + Math.abs(grid.y[a]! - grid.y[b]!) + (open.length < 3 ? 6 : 0);
          if (d >= least) continue;
          least = d;
          best = { a, b };
        }
      }
    }
    if (best === undefined) {
      isWhole = false;
      continue;
    }
    for (const hole of [best.a, best.b]) space.take(hole, from, until);
    wires.push({ ...best, stage: from, until });
  }
  return { wires, isWhole };
}

/**
 * The wires between the strips that a net keeps to the end, for all stages at once: what comes early leaves the holes that
 * later strips need. Strips that go again (of straps and of instruments' plugs) are joined first, each by one wire, since at
 * their stage there may be no other strip. The holes of all these wires are taken for as long as they will be in. Empty where
 * no tree is found that way; then each stage sees for itself.
 */
export function planTree(input: WiringInput, net: number, totals: Totals): readonly PlannedWire[] {
  const { space, timeline } = input;
  const end = timeline.stages + 1;
  const stageOf = new Map<number, number>();
  for (const run of input.strips.runs(net)) if (run.until === end) stageOf.set(run.strip, run.from);
  if (stageOf.size < 2) return [];
  const free = (wires: readonly PlannedWire[]): void => {
    for (const wire of wires) for (const hole of [wire.a, wire.b]) space.release(hole, wire.stage, wire.until);
  };
  const done = (tree: LastingTree, passing: readonly PlannedWire[]): readonly PlannedWire[] => {
    if (tree.junction !== undefined) {
      const strip = space.grid.strip[tree.junction.holes[0]!]!;
      space.claim(strip, net, tree.junction.from, end);
      noteBridge(input, net, strip, tree.junction.from);
    }
    totals.length += tree.length;
    totals.bound += tree.bound;
    return [...tree.wires, ...passing];
  };
  // What stays has the choice of holes, if what goes again finds some all the same; else that comes first.
  const best = lastingTree(input, net, stageOf);
  if (best !== undefined) {
    for (const wire of best.wires) for (const hole of [wire.a, wire.b]) space.take(hole, wire.stage, end);
    const after = joinPassing(input, net, stageOf);
    if (after.isWhole) return done(best, after.wires);
    free([...best.wires, ...after.wires]);
  }
  const before = joinPassing(input, net, stageOf);
  const tree = lastingTree(input, net, stageOf);
  if (tree === undefined) {
    free(before.wires);
    return [];
  }
  for (const wire of tree.wires) for (const hole of [wire.a, wire.b]) space.take(hole, wire.stage, end);
  return done(tree, before.wires);
}

interface LastingTree {
  readonly wires: readonly PlannedWire[];
  readonly junction: { readonly holes: readonly number[]; readonly from: number } | undefined;
  readonly length: number;
  readonly bound: number;
}

/** The tree over the strips that stay, with a junction where that saves enough; takes no hole yet. */
function lastingTree(input: WiringInput, net: number, stageOf: ReadonlyMap<number, number>): LastingTree | undefined {
  const { grid } = input.space;
  const end = input.timeline.stages + 1;
  const strips = [...stageOf.keys()];
  // A strip that is the net's at some stage is none that it could take as a junction.
  const own = new Set(input.strips.of(net).map((entry) => entry.strip));
  const stages = strips.map((strip) => stageOf.get(strip)!);
  // A strip that is alone at first has its first wire when the next one comes.
  const [first, second] = [...new Set(stages)].sort((a, b) => a - b);
  const isAlone = stages.filter((stage) => stage === first).length === 1;
  const opening = (i: number): number => (stages[i] === first && isAlone ? (second ?? first!) : stages[i]!);
  const holes = strips.map((strip, i) => openHolesOf(input, [strip], opening(i), end));
  if (holes.some((list) => list.length === 0)) return undefined;
  const treeStrip = (list: readonly number[]): TreeStrip => ({
    x: grid.x[list[0]!]!,
    ys: list.map((hole) => grid.y[hole]!),
  });
  const tree = holes.map(treeStrip);
  const plain = solveStagedTree(tree, stages);
  const wiresOf = (
    result: StagedResult,
    lists: readonly (readonly number[])[],
    from: readonly number[],
  ): PlannedWire[] =>
    (result.wires ?? []).map((wire) => ({
      a: lists[wire.a]![wire.holeA]!,
      b: lists[wire.b]![wire.holeB]!,
      stage: Math.max(from[wire.a]!, from[wire.b]!),
      until: end,
    }));
  let best: LastingTree | undefined =
    plain.wires === undefined
      ? undefined
      : { wires: wiresOf(plain, holes, stages), junction: undefined, length: plain.length, bound: plain.bound };
  if (best !== undefined && best.length <= plain.staged + WORTH_A_STRIP) return best;
  // Strips that are short of holes make for detours: a free strip in their midst, or one that takes the wires in the place of
  // a strip with a single hole left, may be worth a wire more.
  let least = best === undefined ? Number.POSITIVE_INFINITY : best.length - WORTH_A_STRIP;
  const midst = isAlone ? (second ?? first!) : first!;
  for (const strip of freeStripsNear(input, own, middleOf(tree), TRIED, midst)) {
    const open = openHolesOf(input, [strip], midst, end);
    const tried = solveStagedTree([...tree, treeStrip(open)], [...stages, midst], 2);
    if (tried.wires === undefined || tried.length >= least) continue;
    least = tried.length;
    const wires = wiresOf(tried, [...holes, open], [...stages, midst]);
    best = { ...throughJunction(wires, open), length: tried.length, bound: plain.bound };
  }
  for (let i = 0; i < strips.length; i++) {
    if (holes[i]!.length !== 1) continue;
    const from = opening(i);
    const single = holes[i]![0]!;
    const away = (hole: number): number =>
      Math.abs(grid.x[hole]! - grid.x[single]!) + Math.abs(grid.y[hole]! - grid.y[single]!);
    for (const strip of freeStripsNear(input, own, { x: grid.x[single]!, y: grid.y[single]! }, TRIED_BESIDE, from)) {
      const [link, ...rest] = openHolesOf(input, [strip], from, end).sort((a, b) => away(a) - away(b) || a - b);
      const lists = holes.map((list, k) => (k === i ? rest : list));
      const tried = solveStagedTree(lists.map(treeStrip), stages, 2);
      const length = tried.length + away(link!);
      if (tried.wires === undefined || length >= least) continue;
      least = length;
      const wires = [...wiresOf(tried, lists, stages), { a: single, b: link!, stage: from, until: end }];
      best = { ...throughJunction(wires, [link!, ...rest]), length, bound: plain.bound };
    }
  }
  return best;
}

/** A junction is there with its second wire; the first, which led nowhere until then, waits for it. */
function throughJunction(
  wires: readonly PlannedWire[],
  holes: readonly number[],
): Pick<LastingTree, 'wires' | 'junction'> {
  const own = new Set(holes);
  const isOf = (wire: PlannedWire): boolean => own.has(wire.a) || own.has(wire.b);
  const second = wires
    .filter(isOf)
    .map((wire) => wire.stage)
    .sort((a, b) => a - b)[1];
  // With one wire it is no junction at all.
  if (second === undefined) return { wires: wires.filter((wire) => !isOf(wire)), junction: undefined };
  return {
    wires: wires.map((wire) => (isOf(wire) ? { ...wire, stage: Math.max(wire.stage, second) } : wire)),
    junction: { holes, from: second },
  };
}

function middleOf(strips: readonly TreeStrip[]): { readonly x: number; readonly y: number } {
  const middle = (values: readonly number[]): number => [...values].sort((a, b) => a - b)[values.length >> 1]!;
  return { x: middle(strips.map((strip) => strip.x)), y: middle(strips.map((strip) => strip.ys[0]!)) };
}

/** Notes a free strip that a net takes as a junction. */
export function noteBridge(input: WiringInput, net: number, strip: number, from: number): void {
  const noted = input.bridges.get(net);
  if (noted === undefined) input.bridges.set(net, [{ strip, from }]);
  else noted.push({ strip, from });
}

/** Pitches that a junction has to save. */
const WORTH_A_STRIP = 8;
/** Free strips that are tried as a junction: in the midst of a net, and beside a strip with a single hole left. */
const TRIED = 8;
const TRIED_BESIDE = 3;
/** Pitches within which a junction is looked for. */
const FARTHEST = 60;

/** The free strips nearest to a place that might serve as a junction, `most` of them. */
function freeStripsNear(
  input: WiringInput,
  own: ReadonlySet<number>,
  { x, y }: { readonly x: number; readonly y: number },
  most: number,
  from: number,
): number[] {
  const { space } = input;
  const { grid } = space;
  const end = input.timeline.stages + 1;
  const near: { strip: number; d: number }[] = [];
  for (let s = 0; s < grid.stripCount; s++) {
    if (grid.stripKind[s] !== 0 || own.has(s)) continue;
    const hole = grid.stripHoles[grid.stripStart[s]! + 2]!;
    const d = Math.abs(grid.x[hole]! - x) + Math.abs(grid.y[hole]! - y);
    if (d > FARTHEST || (near.length === most && d >= near[most - 1]!.d)) continue;
    if (!space.accepts(s, -1, from, end) || space.openHoles(s, from, end) < 3) continue;
    near.push({ strip: s, d });
    near.sort((a, b) => a.d - b.d || a.strip - b.strip);
    near.length = Math.min(near.length, most);
  }
  return near.map((entry) => entry.strip);
}

/** The holes of strips that are open from one stage until another. */
export function openHolesOf(input: WiringInput, strips: readonly number[], from: number, until: number): number[] {
  const { space } = input;
  const { stripStart, stripHoles } = space.grid;
  const holes: number[] = [];
  for (const strip of strips) {
    for (let i = stripStart[strip]!; i < stripStart[strip + 1]!; i++) {
      const hole = stripHoles[i]!;
      if (space.isOpen(hole, from, until)) holes.push(hole);
    }
  }
  return holes;
}
