// The proof of extract.ts, made for the hand that drags: what does not change between two proofs is prepared once, and a stage
// is read with numbers only. A stage that is not in order is read again the plain way, which says what is wrong. Like the
// extraction it knows holes and board records, and nothing of placing and wiring.

import type { Finding } from '../base/index.ts';
import type { Netlist } from '../netlist/index.ts';
import { compareWithNetlist, extract } from './extract.ts';
import { stripOfHole } from './geometry.ts';
import type { HoleName, Layout } from './model.ts';

/** What a netlist wants: the group of each pin by part and number (pins of one conductor share a group), -1 for none. */
interface Wanted {
  readonly netlist: Netlist;
  readonly groups: ReadonlyMap<string, Int32Array>;
  readonly joined: ReadonlyMap<string, readonly (readonly number[])[]>;
  readonly groupCount: number;
  readonly pinCount: number;
}

interface Piece {
  readonly stage: number;
  readonly until: number;
}

interface PartPiece extends Piece {
  readonly part: string;
  readonly numbers: Int32Array;
  readonly holes: Int32Array;
}

interface WirePiece extends Piece {
  readonly a: number;
  readonly b: number;
}

/** Proves layouts of one design again and again. */
export class Prover {
  private readonly wanted: readonly Wanted[];
  private boards = '';
  /** Number of a hole, and of the strip of each hole number. */
  private holes: Map<HoleName, number> = new Map();
  private stripOf: number[] = [];
  private strips: Map<string, number> = new Map();

  constructor(netlists: readonly Netlist[]) {
    this.wanted = netlists.map(wantedOf);
  }

  /** Everything that is wrong with the layout at any stage; as `proveLayout`. */
  prove(layout: Layout): Finding[] {
    const boards = layout.boards.map((board) => `${board.board} ${board.kind}`).join('\n');
    if (boards !== this.boards) {
      this.boards = boards;
      this.holes = new Map();
      this.stripOf = [];
      this.strips = new Map();
    }
    const kinds = new Map(layout.boards.map((board) => [board.board, board.kind]));
    const number = (hole: HoleName): number => {
      const known = this.holes.get(hole);
      if (known !== undefined) return known;
      const name = stripOfHole(hole, (board) => kinds.get(board));
      const at = this.stripOf.length;
      this.holes.set(hole, at);
      if (name === undefined) this.stripOf.push(-1);
      else {
        const strip = this.strips.get(name) ?? this.strips.size;
        this.strips.set(name, strip);
        this.stripOf.push(strip);
      }
      return at;
    };
    const parts = layout.parts.map(
      (part): PartPiece => ({
        part: part.part,
        stage: part.stage,
        until: part.until ?? Number.POSITIVE_INFINITY,
        numbers: Int32Array.from(part.leads, (lead) => lead.number),
        holes: Int32Array.from(part.leads, (lead) => number(lead.hole)),
      }),
    );
    const wires = layout.wires.map(
      (wire): WirePiece => ({
        stage: wire.stage,
        until: wire.until ?? Number.POSITIVE_INFINITY,
        a: number(wire.from),
        b: number(wire.to),
      }),
    );
    return this.wanted.flatMap((wanted, stage) =>
      this.isInOrder(wanted, stage, parts, wires)
        ? []
        : compareWithNetlist(
            extract(layout, stage, (part) => wanted.joined.get(part) ?? []),
            wanted.netlist,
          ),
    );
  }

  private isInOrder(wanted: Wanted, stage: number, parts: readonly PartPiece[], wires: readonly WirePiece[]): boolean {
    const { stripOf } = this;
    const up = Int32Array.from({ length: this.strips.size }, (_, i) => i);
    const find = (strip: number): number => {
      let at = strip;
      while (up[at] !== at) {
        up[at] = up[up[at]!]!;
        at = up[at]!;
      }
      return at;
    };
    const used = new Uint8Array(stripOf.length);
    const stand = (hole: number): number => {
      if (used[hole] !== 0) return -1;
      used[hole] = 1;
      return stripOf[hole]!;
    };
    const holds = (piece: Piece): boolean => piece.stage <= stage && stage < piece.until;
    for (const wire of wires) {
      if (!holds(wire)) continue;
      const a = stand(wire.a);
      const b = stand(wire.b);
      if (a < 0 || b < 0) return false;
      up[find(a)] = find(b);
    }
    for (const part of parts) {
      if (!holds(part)) continue;
      const groups = wanted.joined.get(part.part);
      for (let i = 0; i < part.holes.length; i++) if (stand(part.holes[i]!) < 0) return false;
      for (const group of groups ?? []) {
        let first = -1;
        for (let i = 0; i < part.numbers.length; i++) {
          if (!group.includes(part.numbers[i]!)) continue;
          const strip = find(stripOf[part.holes[i]!]!);
          if (first >= 0) up[find(first)] = strip;
          else first = strip;
        }
      }
    }
    const rootOf = new Int32Array(wanted.groupCount).fill(-1);
    const groupOf = new Int32Array(this.strips.size).fill(-1);
    let pins = 0;
    for (const part of parts) {
      if (!holds(part)) continue;
      const groups = wanted.groups.get(part.part);
      if (groups === undefined) return false;
      for (let i = 0; i < part.holes.length; i++) {
        const group = groups[part.numbers[i]!] ?? -1;
        // A lead that the netlist does not know is for the plain reader to judge.
        if (group < 0) return false;
        const root = find(stripOf[part.holes[i]!]!);
        if (groupOf[root] === -1) groupOf[root] = group;
        if (rootOf[group] === -1) rootOf[group] = root;
        if (groupOf[root] !== group || rootOf[group] !== root) return false;
        pins++;
      }
    }
    return pins === wanted.pinCount;
  }
}

function wantedOf(netlist: Netlist): Wanted {
  // Nets, then pins without one; united where a part joins them inside.
  const up: number[] = netlist.nets.map((_, id) => id);
  const find = (group: number): number => {
    let at = group;
    while (up[at] !== at) at = up[at]!;
    return at;
  };
  const own = new Map<number, number>();
  for (const pin of netlist.pins) {
    if (pin.net >= 0) own.set(pin.id, pin.net);
    else {
      own.set(pin.id, up.length);
      up.push(up.length);
    }
  }
  const joined = new Map<string, readonly (readonly number[])[]>();
  for (const part of netlist.parts) {
    const lists = part.record.joined ?? [];
    if (lists.length === 0) continue;
    joined.set(part.name, lists);
    for (const list of lists) {
      const mates = part.pins.filter((id) => list.includes(netlist.pins[id]!.number));
      for (const mate of mates.slice(1)) up[find(own.get(mates[0]!)!)] = find(own.get(mate)!);
    }
  }
  const groups = new Map<string, Int32Array>();
  let pinCount = 0;
  for (const part of netlist.parts) {
    const most = Math.max(0, ...part.pins.map((id) => netlist.pins[id]!.number));
    const list = new Int32Array(most + 1).fill(-1);
    for (const id of part.pins) list[netlist.pins[id]!.number] = find(own.get(id)!);
    pinCount += part.pins.length;
    groups.set(part.name, list);
  }
  return { netlist, groups, joined, groupCount: up.length, pinCount };
}
