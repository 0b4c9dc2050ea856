// A net as its wires make it: strips as stations, wires as what joins them, laid out as a line with branches. From the layout,
// not from the netlist: what isn't wired stands apart.

import type { Scene, SceneLead, ScenePart, SceneWire } from './scene.ts';

/** A strip of the net, with the pins in it. */
export interface Station {
  readonly key: string;
  readonly pins: readonly { readonly part: ScenePart; readonly lead: SceneLead }[];
  /** Holes of wire ends in this strip, in the order of the wires. */
  readonly holes: readonly string[];
  readonly rail: boolean;
  readonly drives: boolean;
  /** Place in the drawing: column from 0 along the line, row from 0 (branches below). */
  readonly column: number;
  readonly row: number;
}

export interface NetTree {
  readonly stations: readonly Station[];
  readonly links: readonly { readonly wire: SceneWire; readonly from: Station; readonly to: Station }[];
  /** Wires that close a ring; the line doesn't show where they go. */
  readonly extra: readonly SceneWire[];
  readonly columns: number;
  readonly rows: number;
}

const DRIVING: ReadonlySet<string> = new Set(['output', 'three-state', 'bidirectional', 'open-drain', 'supply-out']);

/** The pin's kind by the part's record; empty where it isn't known. */
export function kindOfLead(part: ScenePart, lead: SceneLead): string {
  return part.known?.record.pins.find((pin) => pin.number === lead.number)?.kind ?? '';
}

/** The stations and links of a net as of the scene's stage. */
export function createNetTree(scene: Scene, net: string): NetTree {
  interface Node {
    key: string;
    pins: { part: ScenePart; lead: SceneLead }[];
    holes: string[];
    rail: boolean;
    links: { wire: SceneWire; to: Node }[];
    column: number;
    row: number;
  }
  const nodes = new Map<string, Node>();
  const node = (key: string, rail: boolean): Node => {
    const known = nodes.get(key);
    if (known !== undefined) return known;
    const made: Node = { key, pins: [], holes: [], rail, links: [], column: -1, row: -1 };
    nodes.set(key, made);
    return made;
  };
  for (const part of scene.parts) {
    if (part.state === 'later') continue;
    for (const lead of part.leads) {
      if (lead.net === net) node(lead.strip.key, lead.strip.rail).pins.push({ part, lead });
    }
  }
  const wires = scene.wires.filter((w) => w.wire.net === net);
  for (const wire of wires) {
    const [a, b] = [wire.from, wire.to].map((hole) => {
      const strip = scene.places.strip(hole);
      return node(strip.key, strip.rail);
    }) as [Node, Node];
    a.holes.push(wire.wire.from);
    b.holes.push(wire.wire.to);
    a.links.push({ wire, to: b });
    if (a !== b) b.links.push({ wire, to: a });
  }

  const kinds = (n: Node): string[] => n.pins.map(({ part, lead }) => kindOfLead(part, lead));
  const outputs = [...nodes.values()].filter((n) => kinds(n).includes('output'));
  const drives = (n: Node): boolean =>
    outputs.length > 0 ? outputs.includes(n) : kinds(n).some((kind) => DRIVING.has(kind));
  const seen = new Set<Node>();
  const used = new Set<SceneWire>();
  const links: { wire: SceneWire; from: Node; to: Node }[] = [];

  /** The longest way out of `start` over nodes not yet placed, as a list of links. */
  const longest = (start: Node, banned: ReadonlySet<Node>): { wire: SceneWire; to: Node }[] => {
    let best: { wire: SceneWire; to: Node }[] = [];
    const stack: { at: Node; way: { wire: SceneWire; to: Node }[] }[] = [{ at: start, way: [] }];
    const visited = new Set<Node>([start]);
    for (let item = stack.pop(); item !== undefined; item = stack.pop()) {
      if (item.way.length > best.length) best = item.way;
      for (const link of item.at.links) {
        if (visited.has(link.to) || banned.has(link.to)) continue;
        visited.add(link.to);
        stack.push({ at: link.to, way: [...item.way, link] });
      }
    }
    return best;
  };
  const rowEnds: number[] = [];
  const freeRow = (from: number, first: number): number => {
    let row = first;
    while ((rowEnds[row] ?? -1) >= from) row++;
    return row;
  };
  const lay = (start: Node, column: number, row: number): void => {
    const line = [start];
    let at = start;
    start.column = column;
    start.row = row;
    seen.add(start);
    for (const step of longest(start, seen)) {
      step.to.column = at.column + 1;
      step.to.row = row;
      seen.add(step.to);
      used.add(step.wire);
      links.push({ wire: step.wire, from: at, to: step.to });
      at = step.to;
      line.push(at);
    }
    rowEnds[row] = Math.max(rowEnds[row] ?? -1, at.column);
    // Branches from the right end backwards, so that the short ones near the end stay close to their line.
    for (const n of line.toReversed()) {
      for (const link of n.links) {
        if (seen.has(link.to)) continue;
        const below = freeRow(n.column, row + 1);
        used.add(link.wire);
        links.push({ wire: link.wire, from: n, to: link.to });
        rowEnds[below] = Math.max(rowEnds[below] ?? -1, n.column);
        lay(link.to, n.column + 1, below);
      }
    }
  };
  const order = [...nodes.values()];
  while (seen.size < order.length) {
    const rest = order.filter((n) => !seen.has(n));
    // The far end from any node, as the start of the longest line.
    const wired = rest.find((n) => n.links.length > 0) ?? rest[0]!;
    const far = longest(wired, seen).at(-1)?.to ?? wired;
    lay(far, 0, rowEnds.length);
  }
  const stations = new Map<Node, Station>(
    order.map((n) => [
      n,
      { key: n.key, pins: n.pins, holes: n.holes, rail: n.rail, drives: drives(n), column: n.column, row: n.row },
    ]),
  );
  return {
    stations: order.map((n) => stations.get(n)!),
    links: links.map((link) => ({ wire: link.wire, from: stations.get(link.from)!, to: stations.get(link.to)! })),
    extra: wires.filter((w) => !used.has(w)),
    columns: Math.max(0, ...order.map((n) => n.column)) + (order.length > 0 ? 1 : 0),
    rows: rowEnds.length,
  };
}
