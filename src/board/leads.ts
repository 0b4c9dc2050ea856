// Crimped leads: wires whose ends stand side by side in the holes of one housing. There are those of an instrument's landing
// and those from a header's strips to the boards. Made from wires that are there; joins nothing that was not joined.

import type { Ground } from './ground.ts';
import type { CrimpedLead } from './model.ts';
import type { Landing } from './probes.ts';
import type { Seat } from './seat.ts';
import { wireId } from './finish.ts';
import type { WireDraft } from './wiring.ts';

/** A lead before its wires have ids. */
export interface LeadDraft {
  readonly lead: string;
  readonly kind: CrimpedLead['kind'];
  readonly from: number;
  readonly until: number;
  /** Holes of the housing from the left; -1 where there is no hole of the boards. */
  readonly housing: readonly number[];
  /** By position, from 0: the wire, or undefined where the way stays empty. */
  readonly ways: readonly (WireDraft | undefined)[];
}

/** A header of three pins and more in one row whose leads can be housed; others are wired pin by pin. */
export function isHeader(seat: Seat): boolean {
  const { footprint, part } = seat.item;
  return (
    footprint.kind === 'rigid' &&
    part.record.symbol === 'header' &&
    footprint.leads.length > 2 &&
    footprint.leads.every((lead) => lead.dy === 0) &&
    seat.rotation % 180 === 0
  );
}

/** The wires of a header that go in with it, with the header's strip they end in. */
function headerEnds(ground: Ground, seat: Seat, drafts: readonly WireDraft[]): Map<number, WireDraft[]> {
  const { grid } = ground;
  const strips = new Set(seat.holes.map((hole) => grid.strip[hole]!));
  const ends = new Map<number, WireDraft[]>();
  for (const draft of drafts) {
    if (draft.link || draft.until <= draft.from || draft.from !== seat.item.from) continue;
    const [a, b] = [grid.strip[draft.a]!, grid.strip[draft.b]!];
    // A wire between two pins of the header is none of its lead.
    if (strips.has(a) === strips.has(b)) continue;
    const strip = strips.has(a) ? a : b;
    const list = ends.get(strip);
    if (list === undefined) ends.set(strip, [draft]);
    else list.push(draft);
  }
  return ends;
}

/**
 * Brings one wire of each strip of a header into one row, where one housing holds them: the row beside the header in which
 * most of them find room. Wires change holes within their strip only; of `movable` only, where that is given.
 */
export function alignHeaders(
  ground: Ground,
  drafts: readonly WireDraft[],
  movable: ReadonlySet<WireDraft> | undefined = undefined,
): void {
  const { grid, space } = ground;
  for (const seat of ground.seats.values()) {
    if (!isHeader(seat)) continue;
    const ends = headerEnds(ground, seat, drafts);
    if (ends.size < 2) continue;
    const holeIn = (strip: number, row: number): number => {
      for (let h = grid.stripStart[strip]!; h < grid.stripStart[strip + 1]!; h++)
        if (grid.row[grid.stripHoles[h]!] === row) return grid.stripHoles[h]!;
      return -1;
    };
    /** The wire that can have that row in its strip, and what has to give way to it. */
    const candidate = (strip: number, row: number): { draft: WireDraft; other: WireDraft | undefined } | undefined => {
      const hole = holeIn(strip, row);
      if (hole < 0) return undefined;
      const list = ends.get(strip)!;
      const there = list.find((draft) => draft.a === hole || draft.b === hole);
      if (there !== undefined) return { draft: there, other: undefined };
      const free = list.find(
        (draft) => (movable === undefined || movable.has(draft)) && space.isOpen(hole, draft.from, draft.until),
      );
      if (free !== undefined) return { draft: free, other: undefined };
      return undefined;
    };
    const rows = new Set(Array.from({ length: 5 }, (_, i) => (grid.row[seat.holes[0]!]! < 7 ? 2 : 7) + i));
    let best = -1;
    let most = 1;
    for (const row of rows) {
      if (row === seat.firstRow) continue;
      let count = 0;
      let still = 0;
      for (const strip of ends.keys()) {
        const found = candidate(strip, row);
        if (found === undefined) continue;
        count++;
        const hole = holeIn(strip, row);
        if (found.draft.a === hole || found.draft.b === hole) still++;
      }
      // Of equal rows the one in which most stand already.
      const score = count + still / 100;
      if (count > 1 && score > most) {
        most = score;
        best = row;
      }
    }
    if (best < 0) continue;
    for (const strip of ends.keys()) {
      const found = candidate(strip, best);
      if (found === undefined) continue;
      const { draft } = found;
      const hole = holeIn(strip, best);
      if (draft.a === hole || draft.b === hole) continue;
      const old = grid.strip[draft.a] === strip ? draft.a : draft.b;
      space.release(old, draft.from, draft.until);
      space.take(hole, draft.from, draft.until);
      if (draft.a === old) draft.a = hole;
      else draft.b = hole;
    }
  }
}

/** The crimped leads that these wires make. */
export function leadsOf(ground: Ground, landings: readonly Landing[], drafts: readonly WireDraft[]): LeadDraft[] {
  const { grid } = ground;
  const leads: LeadDraft[] = [];
  const lasting = drafts.filter((draft) => draft.until > draft.from);
  for (const landing of landings) {
    const ways = landing.way.map((hole, i) =>
      landing.nets[i]! < 0
        ? undefined
        : lasting.find((draft) => (draft.a === hole || draft.b === hole) && draft.from < landing.until),
    );
    if (ways.every((way) => way === undefined)) continue;
    leads.push({
      lead: landing.lead,
      kind: 'pod',
      from: landing.from,
      until: landing.until,
      housing: landing.way,
      ways,
    });
  }
  const seats = [...ground.seats.values()].sort((a, b) => a.item.index - b.item.index);
  for (const seat of seats) {
    if (!isHeader(seat)) continue;
    const ends = headerEnds(ground, seat, lasting);
    const rowOf = (strip: number, draft: WireDraft): number =>
      grid.row[grid.strip[draft.a] === strip ? draft.a : draft.b]!;
    const count = new Map<number, number>();
    for (const [strip, list] of ends)
      for (const draft of list) count.set(rowOf(strip, draft), (count.get(rowOf(strip, draft)) ?? 0) + 1);
    const row = [...count].sort((a, b) => b[1] - a[1] || a[0] - b[0])[0];
    if (row === undefined || row[1] < 2) continue;
    const columns = seat.holes.map((hole) => grid.column[hole]!);
    const [left, right] = [Math.min(...columns), Math.max(...columns)];
    const board = grid.board[seat.holes[0]!]!;
    const housing: number[] = [];
    const ways: (WireDraft | undefined)[] = [];
    for (let column = left; column <= right; column++) {
      const hole = grid.hole(board, column, row[0]);
      housing.push(hole);
      const strip = hole < 0 ? -1 : grid.strip[hole]!;
      ways.push(ends.get(strip)?.find((draft) => draft.a === hole || draft.b === hole));
    }
    leads.push({ lead: seat.item.name, kind: 'header', from: seat.item.from, until: seat.item.until, housing, ways });
  }
  return leads;
}

/** The lead of each wire that is a way of one. */
export function leadNames(leads: readonly LeadDraft[]): ReadonlyMap<WireDraft, string> {
  const names = new Map<WireDraft, string>();
  for (const { lead, ways } of leads) for (const way of ways) if (way !== undefined) names.set(way, lead);
  return names;
}

/** Leads as the layout keeps them. */
export function crimpedLeads(ground: Ground, leads: readonly LeadDraft[]): CrimpedLead[] {
  const { grid, timeline } = ground;
  return leads.map((lead) => {
    const key = lead.ways.findIndex((way, i) => way === undefined && lead.housing[i]! >= 0);
    return {
      lead: lead.lead,
      kind: lead.kind,
      stage: lead.from,
      until: lead.until > timeline.stages ? undefined : lead.until,
      housing: lead.housing.map((hole) => (hole < 0 ? '' : grid.name(hole))),
      key: key < 0 ? undefined : key + 1,
      ways: lead.ways.flatMap((way, i) =>
        way === undefined
          ? []
          : [
              {
                way: i + 1,
                net: timeline.nets[way.net]!.name,
                wire: wireId(timeline.nets[way.net]!.name, grid.name(way.a), grid.name(way.b)),
              },
            ],
      ),
    };
  });
}
