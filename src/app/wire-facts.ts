// What a layout tells of wires for the estimates of signals: the longest way of each net, nets that run beside each other, how far
// a chip's bypass capacitor is and how long its ground wire.

import { foldName } from '../base/index.ts';
import { createGrid, type Layout, layoutAt, PITCH_MM, type Wire } from '../board/index.ts';
import type { WireFacts } from '../margins/index.ts';
import { type Design, netlistAt, type Netlist } from '../netlist/index.ts';
import { stripIn } from './build.ts';

/** Pitches within which two wires count as neighbours. */
const NEAR = 1;

export function wireFactsOf(design: Design, layout: Layout, stage: number): WireFacts {
  const netlist = netlistAt(design, stage);
  const { wires, parts } = layoutAt(layout, stage);
  const signals = new Set(netlist.nets.filter((net) => net.kind === 'signal').map((net) => foldName(net.name)));
  const ofSignals = wires.filter((wire) => signals.has(foldName(wire.net)));
  const leads = new Map(parts.map((part) => [part.part, new Map(part.leads.map((lead) => [lead.number, lead.hole]))]));
  return {
    longest: longestWays(layout, ofSignals),
    couples: couplesOf(ofSignals),
    ...aroundChips(netlist, layout, wires, leads),
  };
}

/** The longest way between any two strips of each net, along its wires. */
function longestWays(layout: Layout, wires: readonly Wire[]): ReadonlyMap<string, number> {
  const near = new Map<string, Map<string, { to: string; mm: number }[]>>();
  for (const wire of wires) {
    const key = foldName(wire.net);
    const strips = near.get(key) ?? new Map<string, { to: string; mm: number }[]>();
    near.set(key, strips);
    const [a, b] = [stripIn(layout, wire.from), stripIn(layout, wire.to)];
    strips.set(a, [...(strips.get(a) ?? []), { to: b, mm: wire.cutMm }]);
    strips.set(b, [...(strips.get(b) ?? []), { to: a, mm: wire.cutMm }]);
  }
  const found = new Map<string, number>();
  for (const [net, strips] of near) {
    const far = (from: string): { strip: string; mm: number } => {
      const seen = new Map([[from, 0]]);
      const queue = [from];
      let best = { strip: from, mm: 0 };
      for (const strip of queue)
        for (const { to, mm } of strips.get(strip) ?? []) {
          if (seen.has(to)) continue;
          const way = seen.get(strip)! + mm;
          seen.set(to, way);
          queue.push(to);
          if (way > best.mm) best = { strip: to, mm: way };
        }
      return best;
    };
    let most = 0;
    for (const strip of strips.keys()) most = Math.max(most, strips.size > 24 ? 0 : far(strip).mm);
    found.set(net, most > 0 ? most : far(far([...strips.keys()][0]!).strip).mm);
  }
  return found;
}

/** Stretches of two nets in lanes beside each other, summed by pair. */
function couplesOf(wires: readonly Wire[]): WireFacts['couples'] {
  interface Run {
    readonly net: string;
    readonly at: number;
    readonly from: number;
    readonly to: number;
  }
  const runs: Record<'across' | 'down', Run[]> = { across: [], down: [] };
  for (const wire of wires) {
    const path = wire.path ?? [];
    for (let k = 1; k < path.length; k++) {
      const [x0, y0] = path[k - 1]!;
      const [x1, y1] = path[k]!;
      const net = foldName(wire.net);
      if (y0 === y1) runs.across.push({ net, at: y0, from: Math.min(x0, x1), to: Math.max(x0, x1) });
      else if (x0 === x1) runs.down.push({ net, at: x0, from: Math.min(y0, y1), to: Math.max(y0, y1) });
    }
  }
  const pairs = new Map<string, { a: string; b: string; mm: number; distanceMm: number }>();
  for (const list of Object.values(runs)) {
    list.sort((p, q) => p.at - q.at);
    for (let i = 0; i < list.length; i++)
      for (let j = i + 1; j < list.length && list[j]!.at - list[i]!.at <= NEAR; j++) {
        const [p, q] = [list[i]!, list[j]!];
        const common = Math.min(p.to, q.to) - Math.max(p.from, q.from);
        if (p.net === q.net || common <= 0) continue;
        const [a, b] = p.net < q.net ? [p.net, q.net] : [q.net, p.net];
        // Two in one lane lie on each other: as near as insulation lets them.
        const distanceMm = Math.max(0.5, q.at - p.at) * PITCH_MM;
        const before = pairs.get(`${a}\n${b}`);
        if (before === undefined) pairs.set(`${a}\n${b}`, { a, b, mm: common * PITCH_MM, distanceMm });
        else {
          before.mm += common * PITCH_MM;
          before.distanceMm = Math.min(before.distanceMm, distanceMm);
        }
      }
  }
  return [...pairs.values()];
}

function aroundChips(
  netlist: Netlist,
  layout: Layout,
  wires: readonly Wire[],
  leads: ReadonlyMap<string, ReadonlyMap<number, string>>,
): Pick<WireFacts, 'bypass' | 'groundMm'> {
  const grid = createGrid(layout.boards);
  const place = (hole: string | undefined): { x: number; y: number } | undefined => {
    const id = hole === undefined ? -1 : grid.find(hole);
    return id < 0 ? undefined : { x: grid.x[id]! * PITCH_MM, y: grid.y[id]! * PITCH_MM };
  };
  const holesOf = (part: Netlist['parts'][number], kind: 'supply' | 'ground', byNet: boolean): string[] =>
    part.pins.flatMap((id) => {
      const pin = netlist.pins[id]!;
      const hole = leads.get(part.name)?.get(pin.number);
      const net = pin.net < 0 ? undefined : netlist.nets[pin.net]!.kind;
      return hole !== undefined && net === kind && (byNet || pin.kind === kind) ? [hole] : [];
    });
  const capacitors = netlist.parts
    .filter((part) => part.record.symbol === 'capacitor' || part.record.symbol === 'electrolytic')
    .flatMap((part) => {
      const [plus] = holesOf(part, 'supply', true);
      const [ground] = holesOf(part, 'ground', true);
      const at = place(plus);
      return at === undefined || ground === undefined ? [] : [{ name: part.name, at }];
    });
  const groundWires = new Map<string, number>();
  const grounds = new Set(netlist.nets.filter((net) => net.kind === 'ground').map((net) => foldName(net.name)));
  for (const wire of wires) {
    if (!grounds.has(foldName(wire.net))) continue;
    for (const hole of [wire.from, wire.to]) {
      const strip = stripIn(layout, hole);
      groundWires.set(strip, Math.min(groundWires.get(strip) ?? Number.POSITIVE_INFINITY, wire.cutMm));
    }
  }
  const bypass = new Map<string, { capacitor: string; mm: number }>();
  const groundMm = new Map<string, number>();
  for (const part of netlist.parts) {
    const pin = holesOf(part, 'supply', false).map(place)[0];
    if (pin === undefined || part.record.symbol === 'capacitor') continue;
    for (const { name, at } of capacitors) {
      const mm = Math.hypot(at.x - pin.x, at.y - pin.y);
      const before = bypass.get(foldName(part.name));
      if (before === undefined || mm < before.mm) bypass.set(foldName(part.name), { capacitor: name, mm });
    }
    const ground = holesOf(part, 'ground', false).map((hole) => groundWires.get(stripIn(layout, hole)));
    const mm = Math.min(...ground.filter((item) => item !== undefined));
    if (Number.isFinite(mm)) groundMm.set(foldName(part.name), mm);
  }
  return { bypass, groundMm };
}
