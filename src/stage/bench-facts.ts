// What the plans ask of the boards and the part records, gathered once from a design and a layout: strips, neighbours, how
// pins behave, what is one conductor inside a part, and the resistors.

import { foldName, parseValue } from '../base/index.ts';
import { createGrid, type HoleName, type Layout, layoutAt, type StripId } from '../board/index.ts';
import { type Design, netlistAt, type NetPart } from '../netlist/index.ts';
import type { BenchRules } from './short.ts';

/** One resistor inside a part, between two pin numbers. `ohms` undefined where its value can't be read. */
export interface ResistorElement {
  readonly a: number;
  readonly b: number;
  readonly ohms: number | undefined;
}

/** What else a part puts between nets that an ohmmeter may see. */
export type InTheWay = 'chip' | 'capacitor' | 'diode' | 'switch' | 'other';

export interface BenchFacts {
  readonly rules: BenchRules;
  /** True for a hole of a rail. */
  readonly onRail: (hole: HoleName) => boolean;
  /** Strips that have a hole next to one of this strip's, rails included, in a fixed order. */
  readonly neighbours: (strip: StripId) => readonly StripId[];
  readonly holesOf: (strip: StripId) => readonly HoleName[];
  /** A hole on a net as of a stage that no stage fills and no body covers, for an instrument's lead; undefined where none is. */
  readonly probeHole: (net: string, stage: number) => HoleName | undefined;
  readonly resistors: (part: string) => readonly ResistorElement[];
  readonly inTheWay: (part: string) => InTheWay | undefined;
}

function elementsOf(part: NetPart): ResistorElement[] {
  const { record } = part;
  const symbol: string | undefined = record.symbol;
  if (symbol !== 'resistor' && symbol !== 'network') return [];
  const ohms = part.value === undefined ? undefined : parseValue(part.value, 'resistance');
  const number = (name: string): number | undefined => record.pins.find((pin) => pin.name === name)?.number;
  const units = (record.units ?? []).flatMap((unit) => {
    const ends = Object.values(unit.pins).map(number);
    return ends.length === 2 && ends[0] !== undefined && ends[1] !== undefined
      ? [{ a: ends[0], b: ends[1], ohms }]
      : [];
  });
  if (units.length > 0) return units;
  return record.pins.length === 2 ? [{ a: record.pins[0]!.number, b: record.pins[1]!.number, ohms }] : [];
}

function inTheWayOf(part: NetPart): InTheWay | undefined {
  const symbol = part.record.symbol as string | undefined;
  const category: string = part.record.category;
  switch (symbol) {
    case 'resistor':
    case 'network':
    case 'header':
      return undefined;
    case 'capacitor':
    case 'electrolytic':
    case 'crystal':
      return 'capacitor';
    case 'diode':
    case 'led':
    case 'digit':
      return 'diode';
    case 'button':
    case 'switch':
      return 'switch';
    case undefined:
    case 'chip':
    case 'can':
    case 'transistor':
    case 'module':
      return category === 'connector' ? undefined : 'chip';
    default:
      return 'other';
  }
}

/** Gathers the facts. The result keeps no reference to anything that changes. */
export function benchFacts(design: Design, layout: Layout): BenchFacts {
  const grid = createGrid(layout.boards);
  const byName = new Map<string, NetPart>();
  const byType = new Map<string, NetPart>();
  for (const netlist of design.netlists)
    for (const part of netlist.parts) {
      byName.set(part.name, part);
      byType.set(foldName(part.type), part);
    }
  const strips = new Map<StripId, number>();
  for (let s = 0; s < grid.stripCount; s++) strips.set(grid.stripName(s), s);
  const holesOf = (strip: StripId): HoleName[] => {
    const s = strips.get(strip);
    if (s === undefined) return [];
    return Array.from(grid.stripHoles.subarray(grid.stripStart[s]!, grid.stripStart[s + 1]!), (hole) =>
      grid.name(hole),
    );
  };
  const around = new Map<StripId, readonly StripId[]>();
  const neighbours = (strip: StripId): readonly StripId[] => {
    const known = around.get(strip);
    if (known !== undefined) return known;
    const s = strips.get(strip);
    const found = new Set<number>();
    if (s !== undefined)
      for (const hole of grid.stripHoles.subarray(grid.stripStart[s]!, grid.stripStart[s + 1]!))
        for (const [dx, dy] of [
          [-1, 0],
          [1, 0],
          [0, -1],
          [0, 1],
        ] as const) {
          const next = grid.at(grid.x[hole]! + dx, grid.y[hole]! + dy);
          if (next >= 0 && grid.strip[next] !== s) found.add(grid.strip[next]!);
        }
    const list = [...found].sort((a, b) => a - b).map((id) => grid.stripName(id));
    around.set(strip, list);
    return list;
  };
  const rules: BenchRules = {
    stripOf: (hole) => {
      const id = grid.find(hole);
      return id < 0 ? undefined : grid.stripName(grid.strip[id]!);
    },
    pinKind: (type, pin) => byType.get(foldName(type))?.record.pins.find((row) => row.number === pin)?.kind,
    joined: (type) => byType.get(foldName(type))?.record.joined ?? [],
    covers: (leads) => {
      const at = leads.flatMap(([, hole]) => {
        const id = grid.find(hole);
        return id < 0 ? [] : [id];
      });
      // Between two leads of one column lies the body; parts in one row lie over nothing that others need.
      const columns = new Map<number, number[]>();
      for (const id of at) {
        const list = columns.get(grid.x[id]!);
        if (list === undefined) columns.set(grid.x[id]!, [grid.y[id]!]);
        else list.push(grid.y[id]!);
      }
      if (leads.length < 4 || ![...columns.values()].some((list) => list.length > 1)) return [];
      const rows = [...columns.values()].flat();
      const [top, bottom] = [Math.min(...rows), Math.max(...rows)];
      const found: HoleName[] = [];
      for (let x = Math.min(...columns.keys()); x <= Math.max(...columns.keys()); x++)
        for (let y = top + 1; y < bottom; y++) {
          const id = grid.at(x, y);
          if (id >= 0 && !at.includes(id)) found.push(grid.name(id));
        }
      return found;
    },
    entries: layout.entries,
  };
  const filled = new Set<HoleName>();
  for (const wire of layout.wires) filled.add(wire.from).add(wire.to);
  for (const part of layout.parts) {
    for (const lead of part.leads) filled.add(lead.hole);
    for (const hole of rules.covers?.(part.leads.map((lead) => [lead.number, lead.hole] as const)) ?? [])
      filled.add(hole);
  }
  const probeHole = (net: string, stage: number): HoleName | undefined => {
    const key = foldName(net);
    // What the layout keeps for the purpose; a landing of a pod comes before a hole of the net.
    const kept = (layout.probes ?? []).find(
      (probe) =>
        foldName(probe.net) === key && probe.stage <= stage && (probe.until === undefined || stage < probe.until),
    );
    if (kept !== undefined) return kept.hole;
    const netlist = netlistAt(design, stage);
    const pins = new Set(
      (netlist.nets.find((item) => foldName(item.name) === key)?.pins ?? []).map((id) => {
        const pin = netlist.pins[id]!;
        return `${netlist.parts[pin.part]!.name}\n${pin.number}`;
      }),
    );
    const on = layoutAt(layout, stage);
    const holes = [
      ...on.parts.flatMap((part) =>
        part.leads.filter((lead) => pins.has(`${part.part}\n${lead.number}`)).map((lead) => lead.hole),
      ),
      ...on.wires.filter((wire) => foldName(wire.net) === key).flatMap((wire) => [wire.from, wire.to]),
    ];
    for (const hole of holes) {
      const strip = rules.stripOf(hole);
      const free = strip === undefined ? undefined : holesOf(strip).find((name) => !filled.has(name));
      if (free !== undefined) return free;
    }
    return undefined;
  };
  return {
    rules,
    probeHole,
    onRail: (hole) => {
      const id = grid.find(hole);
      return id >= 0 && grid.stripKind[grid.strip[id]!] !== 0;
    },
    neighbours,
    holesOf,
    resistors: (part) => {
      const found = byName.get(part);
      return found === undefined ? [] : elementsOf(found);
    },
    inTheWay: (part) => {
      const found = byName.get(part);
      return found === undefined ? 'other' : inTheWayOf(found);
    },
  };
}
