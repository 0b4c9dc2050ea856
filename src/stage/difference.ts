// The least work from what is on the boards to what shall be there: which wires and parts stay, which piece becomes which,
// and in which order, so that no state on the way is a short. Handling (pieces taken out, put in, cut) is the least there
// is for the pairing rules below; the number of acts is at most that least plus one for each piece that must be laid aside
// because holes or safety forbid moving it directly.

import type { HoleName } from '../board/index.ts';
import { foldName } from '../base/index.ts';
import { type Bench, type BenchPart, type BenchRules, type BenchWire, ShortWatch } from './short.ts';

export interface StatePart extends BenchPart {
  readonly part: string;
  readonly value: string | undefined;
  readonly rotation: 0 | 90 | 180 | 270;
}

export interface StateWire extends BenchWire {
  readonly wire: string;
  readonly cutMm: number;
  readonly colour: string;
  readonly style: string;
  readonly lead: string | undefined;
}

export interface BenchState {
  readonly parts: ReadonlyMap<string, StatePart>;
  readonly wires: ReadonlyMap<string, StateWire>;
}

/** One act of the difference, in order. */
export type Act =
  | { readonly act: 'wire-out'; readonly wire: StateWire; readonly keep: boolean }
  | { readonly act: 'part-out'; readonly part: StatePart; readonly keep: boolean }
  | { readonly act: 'part-move'; readonly part: StatePart; readonly was: StatePart; readonly turned: boolean }
  | { readonly act: 'wire-move'; readonly wire: StateWire; readonly was: StateWire; readonly trimmed: boolean }
  | { readonly act: 'part-in'; readonly part: StatePart; readonly again: boolean }
  | { readonly act: 'wire-in'; readonly wire: StateWire; readonly piece: StateWire | undefined };

export interface Difference {
  /** Wires out, parts out, moves, then parts in, then wires in; the last two in the order of the target's maps. */
  readonly acts: readonly Act[];
  /** Acts there would be if every moved piece could go directly. */
  readonly least: number;
  /** Pieces laid aside on the way: acts.length - least. */
  readonly aside: number;
}

/** Lengths that count as the same piece, in mm: what forming and pushing in take up. */
export const SAME_LENGTH_MM = 0.5;

const wireKey = (wire: BenchWire): string =>
  wire.from < wire.to ? `${wire.from} ${wire.to}` : `${wire.to} ${wire.from}`;
/** What must agree for one wire to stand in for another; ways of a crimped lead belong to their lead. */
const pieceKey = (wire: StateWire): string => `${foldName(wire.colour)} ${wire.style}`;
const staysAs = (built: StateWire, target: StateWire): boolean =>
  foldName(built.colour) === foldName(target.colour) && built.lead === target.lead;

const holeSet = (part: BenchPart): string =>
  part.leads
    .map(([, hole]) => hole)
    .sort()
    .join(' ');
const leadList = (part: BenchPart): string =>
  part.leads
    .map(([number, hole]) => `${number} ${hole}`)
    .sort()
    .join(' ');
const samePiece = (a: StatePart, b: StatePart): boolean =>
  foldName(a.type) === foldName(b.type) && (a.value ?? '') === (b.value ?? '');

/**
 * Pairs removed wires with new ones of the same colour and style: first pieces of the same length, which only move, then longer
 * ones, which are trimmed. Taking same lengths first is never worse (a move saves two handlings, a trim one), and going through
 * new wires from the longest, giving each the shortest that is long enough, pairs as many as can be paired.
 */
function pairPieces(removed: readonly StateWire[], added: readonly StateWire[]): Map<string, StateWire> {
  const pairs = new Map<string, StateWire>();
  const pool = new Map<string, StateWire[]>();
  for (const wire of removed) {
    if (wire.lead !== undefined) continue;
    const list = pool.get(pieceKey(wire));
    if (list === undefined) pool.set(pieceKey(wire), [wire]);
    else list.push(wire);
  }
  for (const list of pool.values()) list.sort((a, b) => a.cutMm - b.cutMm || (a.wire < b.wire ? -1 : 1));
  const wanted = added
    .filter((wire) => wire.lead === undefined && pool.has(pieceKey(wire)))
    .sort((a, b) => a.cutMm - b.cutMm || (a.wire < b.wire ? -1 : 1));
  // Intervals of one width over points: from the shortest up, each takes the shortest in reach, which pairs the most.
  for (const wire of wanted) {
    const list = pool.get(pieceKey(wire))!;
    const at = list.findIndex((piece) => Math.abs(piece.cutMm - wire.cutMm) <= SAME_LENGTH_MM);
    if (at >= 0) pairs.set(wire.wire, list.splice(at, 1)[0]!);
  }
  for (const wire of wanted.reverse()) {
    if (pairs.has(wire.wire)) continue;
    const list = pool.get(pieceKey(wire))!;
    const at = list.findIndex((piece) => piece.cutMm > wire.cutMm);
    if (at >= 0) pairs.set(wire.wire, list.splice(at, 1)[0]!);
  }
  return pairs;
}

export interface DifferenceOptions {
  /** Whether the piece of a removed wire may serve again; default yes. */
  readonly reuse?: (wire: StateWire) => boolean;
  /** Pieces at hand from an earlier act of the same rework. */
  readonly spares?: readonly StateWire[];
}

/** The acts from `built` to `target`. Deterministic. */
export function difference(
  built: BenchState,
  target: BenchState,
  rules: BenchRules,
  options: DifferenceOptions = {},
): Difference {
  const { reuse = () => true } = options;
  const spares = (options.spares ?? []).filter((wire) => !built.wires.has(wire.wire));
  const acts: Act[] = [];
  const targetByHoles = new Map<string, StateWire>();
  for (const wire of target.wires.values()) targetByHoles.set(wireKey(wire), wire);
  const removed: StateWire[] = [];
  const stays = new Set<string>();
  for (const wire of built.wires.values()) {
    const same = targetByHoles.get(wireKey(wire));
    if (same !== undefined && staysAs(wire, same)) stays.add(same.wire);
    else removed.push(wire);
  }
  const added = [...target.wires.values()].filter((wire) => !stays.has(wire.wire));
  // An id that comes back in other holes would stand for two wires at once on the way, so that piece is not used again.
  const pairs = pairPieces(
    [...removed.filter((wire) => reuse(wire) && !target.wires.has(wire.wire)), ...spares],
    added,
  );
  const isSpare = new Set(spares.map((wire) => wire.wire));
  const fromBoards = [...pairs.values()].filter((piece) => !isSpare.has(piece.wire)).length;
  const again = new Set([...pairs.values()].map((piece) => piece.wire));

  const moved: { part: StatePart; was: StatePart }[] = [];
  const partsOut: StatePart[] = [];
  for (const was of built.parts.values()) {
    const part = target.parts.get(was.part);
    if (part === undefined || !samePiece(part, was)) partsOut.push(was);
    else if (leadList(part) !== leadList(was) || part.rotation !== was.rotation) moved.push({ part, was });
  }
  const partsIn = [...target.parts.values()].filter((part) => {
    const was = built.parts.get(part.part);
    return was === undefined || !samePiece(part, was);
  });
  const least = removed.length - fromBoards + partsOut.length + moved.length + partsIn.length + added.length;

  // What is on the boards as the acts go on.
  const parts = new Map<string, StatePart>(built.parts);
  const wires = new Map<string, StateWire>(built.wires);
  const holes = new Map<HoleName, string>();
  const covered = new Map<HoleName, string>();
  for (const part of parts.values()) {
    for (const [, hole] of part.leads) holes.set(hole, `part ${part.part}`);
    for (const hole of rules.covers?.(part.leads) ?? []) covered.set(hole, `part ${part.part}`);
  }
  for (const wire of wires.values()) {
    holes.set(wire.from, `wire ${wire.wire}`);
    holes.set(wire.to, `wire ${wire.wire}`);
  }
  const watch = new ShortWatch(asBench(built), asBench(target), rules);
  const wireOut = (wire: StateWire): void => {
    wires.delete(wire.wire);
    watch.removeWire(wire.wire, wire);
    holes.delete(wire.from);
    holes.delete(wire.to);
  };
  const partOut = (part: StatePart): void => {
    parts.delete(part.part);
    watch.removePart(part.part, part);
    for (const [, hole] of part.leads) holes.delete(hole);
    for (const hole of rules.covers?.(part.leads) ?? []) covered.delete(hole);
  };
  const wireIn = (wire: StateWire): void => {
    wires.set(wire.wire, wire);
    watch.addWire(wire.wire, wire);
    holes.set(wire.from, `wire ${wire.wire}`);
    holes.set(wire.to, `wire ${wire.wire}`);
  };
  const partIn = (part: StatePart): void => {
    parts.set(part.part, part);
    watch.addPart(part.part, part);
    for (const [, hole] of part.leads) holes.set(hole, `part ${part.part}`);
    for (const hole of rules.covers?.(part.leads) ?? []) covered.set(hole, `part ${part.part}`);
  };

  for (const wire of removed)
    if (!again.has(wire.wire)) {
      wireOut(wire);
      acts.push({ act: 'wire-out', wire, keep: false });
    }
  for (const part of partsOut) {
    partOut(part);
    acts.push({ act: 'part-out', part, keep: false });
  }

  // Moves one by one, where holes are free and nothing is joined that neither machine joins; when none can go, one piece
  // that is in the way is laid aside, and goes in with the new ones.
  const laid = new Map<string, StateWire>();
  const laidParts = new Set<string>();
  let pendingParts = moved;
  let pendingWires: { wire: StateWire; was: StateWire }[] = [];
  for (const wire of added) {
    const was = pairs.get(wire.wire);
    if (was === undefined) continue;
    if (isSpare.has(was.wire)) laid.set(wire.wire, was);
    else pendingWires.push({ wire, was });
  }
  if (pendingParts.length + pendingWires.length > 0) {
    const blockers = new Map<string, number>();
    const isFree = (list: readonly HoleName[], self: string): boolean => {
      let free = true;
      for (const hole of list) {
        for (const there of [holes.get(hole), covered.get(hole)]) {
          if (there === undefined || there === self) continue;
          free = false;
          blockers.set(there, (blockers.get(there) ?? 0) + 1);
        }
      }
      return free;
    };
    while (pendingParts.length + pendingWires.length > 0) {
      blockers.clear();
      let went = false;
      const laterParts: typeof pendingParts = [];
      for (const item of pendingParts) {
        let ok = isFree(
          [...item.part.leads.map(([, hole]) => hole), ...(rules.covers?.(item.part.leads) ?? [])],
          `part ${item.was.part}`,
        );
        if (ok) {
          partOut(item.was);
          partIn(item.part);
          ok = watch.clashAt(item.part.leads.map(([, hole]) => hole)) === undefined;
          if (!ok) {
            partOut(item.part);
            partIn(item.was);
          }
        }
        if (ok) {
          acts.push({ act: 'part-move', ...item, turned: holeSet(item.part) === holeSet(item.was) });
          went = true;
        } else laterParts.push(item);
      }
      pendingParts = laterParts;
      const laterWires: typeof pendingWires = [];
      // Wires wait until the chips stand, unless nothing else can go.
      if (!went || pendingParts.length === 0)
        for (const item of pendingWires) {
          let ok = isFree([item.wire.from, item.wire.to], `wire ${item.was.wire}`);
          if (ok) {
            wireOut(item.was);
            wireIn(item.wire);
            ok = watch.clashAt([item.wire.from]) === undefined;
            if (!ok) {
              wireOut(item.wire);
              wireIn(item.was);
            }
          }
          if (ok) {
            acts.push({ act: 'wire-move', ...item, trimmed: item.was.cutMm - item.wire.cutMm > SAME_LENGTH_MM });
            went = true;
          } else laterWires.push(item);
        }
      else laterWires.push(...pendingWires);
      pendingWires = laterWires;
      if (went) continue;
      // Lay aside the wire, else the part, that stands in the way of most.
      const weight = (key: string): number => blockers.get(key) ?? 0;
      const wire = pendingWires.reduce<(typeof pendingWires)[number] | undefined>(
        (best, item) =>
          best === undefined || weight(`wire ${item.was.wire}`) > weight(`wire ${best.was.wire}`) ? item : best,
        undefined,
      );
      const part = pendingParts.reduce<(typeof pendingParts)[number] | undefined>(
        (best, item) =>
          best === undefined || weight(`part ${item.was.part}`) > weight(`part ${best.was.part}`) ? item : best,
        undefined,
      );
      if (
        part === undefined ||
        (wire !== undefined && weight(`wire ${wire.was.wire}`) >= weight(`part ${part.was.part}`))
      ) {
        const item = wire!;
        wireOut(item.was);
        laid.set(item.wire.wire, item.was);
        pendingWires = pendingWires.filter((other) => other !== item);
        acts.push({ act: 'wire-out', wire: item.was, keep: true });
      } else {
        partOut(part.was);
        laidParts.add(part.part.part);
        pendingParts = pendingParts.filter((other) => other !== part);
        acts.push({ act: 'part-out', part: part.was, keep: true });
      }
    }
  }

  for (const part of target.parts.values())
    if (laidParts.has(part.part) || partsIn.includes(part)) {
      acts.push({ act: 'part-in', part, again: laidParts.has(part.part) });
    }
  for (const wire of added)
    if (!pairs.has(wire.wire) || laid.has(wire.wire)) acts.push({ act: 'wire-in', wire, piece: laid.get(wire.wire) });
  return { acts, least, aside: acts.length - least };
}

function asBench(state: BenchState): Bench {
  return { parts: state.parts, wires: state.wires };
}
