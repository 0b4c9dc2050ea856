// Boards, holes and wires read on their own from layout.json, and faults as edits of them. Part of the capture source that shares
// nothing with the diagnosis: neither its extraction nor its faults are used here.

export interface LayoutFile {
  readonly boards: readonly { readonly board: number; readonly kind: string }[];
  readonly entries: readonly { readonly plus: string; readonly ground: string }[];
  readonly parts: readonly PartEntry[];
  readonly wires: readonly WireEntry[];
  readonly probes?: readonly {
    readonly net: string;
    readonly hole: string;
    readonly stage: number;
    readonly until?: number;
  }[];
}

export interface PartEntry {
  readonly part: string;
  readonly type: string;
  readonly leads: readonly { readonly number: number; readonly hole: string }[];
  readonly stage: number;
  readonly until?: number | null;
}

export interface WireEntry {
  readonly id: string;
  readonly net: string;
  readonly from: string;
  readonly to: string;
  readonly stage: number;
  readonly until?: number | null;
  readonly lead?: string | null;
}

export type End = 'from' | 'to';

/** A slip of the hand or a bad part, told by what stands on the boards. */
export type SourceFault =
  | { readonly kind: 'wire-absent'; readonly wire: string }
  | { readonly kind: 'end-open'; readonly wire: string; readonly end: End }
  | { readonly kind: 'end-aside'; readonly wire: string; readonly end: End; readonly hole: string }
  | { readonly kind: 'ends-exchanged'; readonly wires: readonly [string, string]; readonly ends: readonly [End, End] }
  /** The ends that stand side by side, in the opposite order. */
  | { readonly kind: 'bus-reversed'; readonly wires: readonly string[]; readonly ends: readonly End[] }
  | { readonly kind: 'strips-bridged'; readonly holes: readonly [string, string] }
  | { readonly kind: 'chip-aside'; readonly part: string; readonly by: 1 | -1 }
  | { readonly kind: 'chip-turned'; readonly part: string }
  | { readonly kind: 'leg-bent'; readonly part: string; readonly pin: number }
  /** The wire that joins two rails is missing. */
  | { readonly kind: 'rail-dead'; readonly wire: string }
  /** A resistor is missing. */
  | { readonly kind: 'pull-up-missing'; readonly part: string }
  /** A wire end or a resistor's lead in the other rail. */
  | { readonly kind: 'tie-wrong-rail'; readonly wire: string; readonly end: End; readonly hole: string }
  | { readonly kind: 'tie-wrong-rail'; readonly part: string; readonly pin: number; readonly hole: string }
  | { readonly kind: 'output-stuck'; readonly part: string; readonly pin: number; readonly level: 0 | 1 }
  | { readonly kind: 'part-dead'; readonly part: string }
  | { readonly kind: 'device-blank'; readonly part: string }
  | { readonly kind: 'device-other-image'; readonly part: string; readonly image: string }
  /** Something of an earlier stage is still in: a part or a wire. */
  | { readonly kind: 'strap-left-in'; readonly part: string }
  | { readonly kind: 'strap-left-in'; readonly wire: string };

/** A hole taken apart: a strip hole has a column and a row letter, a rail hole a side and a sign. */
export interface Hole {
  readonly board: number;
  readonly column: number;
  readonly row: string;
}

const HOLE = /^(\d+):(?:([tb][+-])(\d+)|(\d+)([a-j]))$/;

export function readHole(text: string): Hole {
  const found = HOLE.exec(text);
  if (found === null) throw new Error(`no hole: ${text}`);
  return { board: Number(found[1]), column: Number(found[3] ?? found[4]), row: found[2] ?? found[5]! };
}

export function holeText({ board, column, row }: Hole): string {
  return row.length === 2 ? `${board}:${row}${column}` : `${board}:${column}${row}`;
}

/** Columns, and the rails' first and last column and break. A full board: 63 columns, rails from 3 to 61 broken at 32. */
const KINDS: Readonly<Record<string, { columns: number; rail?: readonly [number, number]; breakAt?: number }>> = {
  full: { columns: 63, rail: [3, 61], breakAt: 32 },
  half: { columns: 30, rail: [2, 30] },
  mini: { columns: 17 },
  terminal: { columns: 63 },
  bus: { columns: 0, rail: [3, 61], breakAt: 32 },
};

export interface Pin {
  readonly part: string;
  readonly pin: number;
}

/** One conductor. */
export interface Node {
  readonly pins: readonly Pin[];
  /** What feeds it: nothing, the supply, ground, or both. */
  readonly fed: 'none' | 'plus' | 'ground' | 'both';
}

/** The boards of a stage, with a fault: nodes, and which node a hole is on. */
export interface Bench {
  readonly parts: readonly PartEntry[];
  readonly nodes: readonly Node[];
  /** Index of the node at a pin, or undefined where the leg is nowhere. */
  nodeOf(part: string, pin: number): number | undefined;
  nodeAtHole(hole: string): number | undefined;
}

/** Legs that are one conductor inside a part: the pairs of a four-legged button. */
const INSIDE: Readonly<Record<string, readonly (readonly [number, number])[]>> = {
  'push-button': [
    [1, 2],
    [3, 4],
  ],
};

const holds = (item: { readonly stage: number; readonly until?: number | null }, stage: number): boolean =>
  item.stage <= stage && (item.until === undefined || item.until === null || stage < item.until);

/** The wires and parts of a stage. */
export function standing(layout: LayoutFile, stage: number): { parts: PartEntry[]; wires: WireEntry[] } {
  return {
    parts: layout.parts.filter((part) => holds(part, stage)),
    wires: layout.wires.filter((wire) => holds(wire, stage)),
  };
}

/** Name of the conductor a hole belongs to, or undefined where the board has no such hole. */
export function stripName(layout: LayoutFile, hole: Hole): string | undefined {
  const kind = KINDS[layout.boards.find(({ board }) => board === hole.board)?.kind ?? ''];
  if (kind === undefined) return undefined;
  if (hole.row.length === 2) {
    if (kind.rail === undefined || hole.column < kind.rail[0] || hole.column > kind.rail[1]) return undefined;
    const half = kind.breakAt === undefined ? 0 : hole.column < kind.breakAt ? 1 : 2;
    return `${hole.board} ${hole.row} ${half}`;
  }
  if (hole.column < 1 || hole.column > kind.columns) return undefined;
  return `${hole.board} ${hole.column} ${hole.row <= 'e' ? 'lower' : 'upper'}`;
}

/** Reads what is joined to what at a stage, with the fault done to holes, wires and legs. */
export function readBench(layout: LayoutFile, stage: number, fault?: SourceFault): Bench {
  let { parts, wires } = standing(layout, stage);
  const bridges: [string, string][] = [];
  const wire = (id: string): WireEntry => {
    const found = layout.wires.find((one) => one.id === id);
    if (found === undefined) throw new Error(`no wire ${id}`);
    return found;
  };
  const moveEnd = (id: string, end: End, hole: string): void => {
    wires = wires.map((one) => (one.id === id ? { ...one, [end]: hole } : one));
  };
  const moveLegs = (name: string, hole: (number: number, was: string) => string): void => {
    parts = parts.map((part) =>
      part.part === name
        ? { ...part, leads: part.leads.map((lead) => ({ ...lead, hole: hole(lead.number, lead.hole) })) }
        : part,
    );
  };
  switch (fault?.kind) {
    case 'wire-absent':
    case 'rail-dead':
      wires = wires.filter(({ id }) => id !== fault.wire);
      break;
    case 'end-open':
      moveEnd(fault.wire, fault.end, '');
      break;
    case 'end-aside':
      moveEnd(fault.wire, fault.end, fault.hole);
      break;
    case 'tie-wrong-rail':
      if ('wire' in fault) moveEnd(fault.wire, fault.end, fault.hole);
      else moveLegs(fault.part, (number, was) => (number === fault.pin ? fault.hole : was));
      break;
    case 'ends-exchanged': {
      const [a, b] = fault.wires;
      const [x, y] = [wire(a)[fault.ends[0]], wire(b)[fault.ends[1]]];
      moveEnd(a, fault.ends[0], y);
      moveEnd(b, fault.ends[1], x);
      break;
    }
    case 'bus-reversed': {
      const stood = fault.wires.map((id, k) => wire(id)[fault.ends[k]!]);
      fault.wires.forEach((id, k) => {
        moveEnd(id, fault.ends[k]!, stood[stood.length - 1 - k]!);
      });
      break;
    }
    case 'strips-bridged':
      bridges.push([fault.holes[0], fault.holes[1]]);
      break;
    case 'chip-aside':
      moveLegs(fault.part, (_, was) => {
        const hole = readHole(was);
        return holeText({ ...hole, column: hole.column + fault.by });
      });
      break;
    case 'chip-turned': {
      const leads = parts.find(({ part }) => part === fault.part)?.leads ?? [];
      const top = Math.max(...leads.map(({ number }) => number));
      moveLegs(fault.part, (number) => {
        const other = number > top / 2 ? number - top / 2 : number + top / 2;
        return leads.find((lead) => lead.number === other)?.hole ?? '';
      });
      break;
    }
    case 'leg-bent':
      moveLegs(fault.part, (number, was) => (number === fault.pin ? '' : was));
      break;
    case 'pull-up-missing':
      parts = parts.filter(({ part }) => part !== fault.part);
      break;
    case 'strap-left-in':
      if ('part' in fault) parts = [...parts, ...layout.parts.filter(({ part }) => part === fault.part)];
      else wires = [...wires, wire(fault.wire)];
      break;
    default:
  }

  const parent = new Map<string, string>();
  const root = (key: string): string => {
    let at = key;
    while (parent.get(at) !== undefined && parent.get(at) !== at) at = parent.get(at)!;
    parent.set(key, at);
    return at;
  };
  const strip = (hole: string): string | undefined => (hole === '' ? undefined : stripName(layout, readHole(hole)));
  const join = (a: string | undefined, b: string | undefined): void => {
    if (a !== undefined && b !== undefined) parent.set(root(a), root(b));
  };
  for (const one of wires) join(strip(one.from), strip(one.to));
  for (const [a, b] of bridges) join(strip(a), strip(b));
  for (const part of parts)
    for (const [a, b] of INSIDE[part.type] ?? []) {
      const at = (number: number): string | undefined =>
        strip(part.leads.find((lead) => lead.number === number)?.hole ?? '');
      join(at(a), at(b));
    }
  const plus = new Set(layout.entries.map((entry) => root(strip(entry.plus)!)));
  const ground = new Set(layout.entries.map((entry) => root(strip(entry.ground)!)));
  const indexOf = new Map<string, number>();
  const nodes: { pins: Pin[]; fed: Node['fed'] }[] = [];
  const node = (key: string): number => {
    const top = root(key);
    let index = indexOf.get(top);
    if (index === undefined) {
      index = nodes.length;
      indexOf.set(top, index);
      const isPlus = plus.has(top);
      const isGround = ground.has(top);
      nodes.push({ pins: [], fed: isPlus && isGround ? 'both' : isPlus ? 'plus' : isGround ? 'ground' : 'none' });
    }
    return index;
  };
  const ofPin = new Map<string, number>();
  for (const part of parts)
    for (const lead of part.leads) {
      const at = strip(lead.hole);
      if (at === undefined) continue;
      const index = node(at);
      nodes[index]!.pins.push({ part: part.part, pin: lead.number });
      ofPin.set(`${part.part} ${lead.number}`, index);
    }
  return {
    parts,
    nodes,
    nodeOf: (part, pin) => ofPin.get(`${part} ${pin}`),
    nodeAtHole: (hole) => {
      const at = strip(hole);
      return at === undefined ? undefined : indexOf.get(root(at));
    },
  };
}
