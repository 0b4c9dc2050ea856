// Faults drawn by prior from what stands on the boards of a stage. Shares by kind as a study of one machine of 22 packages set them
// after 76 public reports; within a kind all alike, but exchanges weigh less with distance.

import type { Rng } from '../../src/base/index.ts';
import {
  type End,
  type Hole,
  holeText,
  type LayoutFile,
  readBench,
  readHole,
  type SourceFault,
  standing,
  stripName,
  type WireEntry,
} from './boards.ts';
import { chipOf, outputsOf } from './chips.ts';

const SHARES: Readonly<Record<SourceFault['kind'], number>> = {
  'wire-absent': 0.2,
  'end-open': 0.06,
  'end-aside': 0.06,
  'ends-exchanged': 0.07,
  'bus-reversed': 0.02,
  'strips-bridged': 0.03,
  'chip-aside': 0.02,
  'chip-turned': 0.06,
  'leg-bent': 0.03,
  'rail-dead': 0.08,
  'pull-up-missing': 0.08,
  'tie-wrong-rail': 0.03,
  'output-stuck': 0.08,
  'part-dead': 0.04,
  'device-blank': 0.06,
  'device-other-image': 0.04,
  'strap-left-in': 0.02,
};

type Weighted = readonly [SourceFault, number];
const isRail = (hole: Hole): boolean => hole.row.length === 2;
const ENDS: readonly End[] = ['from', 'to'];

/** All faults of a stage, by kind, with their weights within it. */
export function allFaults(
  layout: LayoutFile,
  stage: number,
  otherImages: readonly string[] = [],
): ReadonlyMap<SourceFault['kind'], readonly Weighted[]> {
  const { parts, wires } = standing(layout, stage);
  const found = new Map<SourceFault['kind'], Weighted[]>();
  const add = (fault: SourceFault, weight = 1): void => {
    found.set(fault.kind, [...(found.get(fault.kind) ?? []), [fault, weight]]);
  };
  const used = new Set([
    ...parts.flatMap((part) => part.leads.map(({ hole }) => hole)),
    ...wires.flatMap((wire) => [wire.from, wire.to]),
  ]);
  const strip = (hole: Hole): string | undefined => stripName(layout, hole);
  const otherRail = (hole: Hole): Hole => ({ ...hole, row: `${hole.row[0]}${hole.row[1] === '+' ? '-' : '+'}` });

  for (const wire of wires) {
    const holes = { from: readHole(wire.from), to: readHole(wire.to) };
    if (isRail(holes.from) && isRail(holes.to)) add({ kind: 'rail-dead', wire: wire.id });
    else add({ kind: 'wire-absent', wire: wire.id });
    for (const end of ENDS) {
      add({ kind: 'end-open', wire: wire.id, end });
      const hole = holes[end];
      if (isRail(hole)) {
        const other = otherRail(hole);
        if (strip(other) !== undefined) add({ kind: 'tie-wrong-rail', wire: wire.id, end, hole: holeText(other) });
        continue;
      }
      for (const by of [-1, 1]) {
        const aside = { ...hole, column: hole.column + by };
        if (strip(aside) === undefined || strip(aside) === strip(holes[end === 'from' ? 'to' : 'from'])) continue;
        add({ kind: 'end-aside', wire: wire.id, end, hole: holeText(aside) }, used.has(holeText(aside)) ? 0.3 : 1);
      }
    }
  }

  // Ends in the same row of holes, up to three columns apart, of different nets: at the other end as well they are neighbours.
  const ends = wires.flatMap((wire) => ENDS.map((end) => ({ wire, end, hole: readHole(wire[end]) })));
  const half = (hole: Hole): string => `${hole.board} ${hole.row <= 'e' ? 'lower' : 'upper'}`;
  ends.forEach((a, i) => {
    for (const b of ends.slice(i + 1)) {
      if (isRail(a.hole) || isRail(b.hole) || a.wire.id === b.wire.id || a.wire.net === b.wire.net) continue;
      const distance = Math.abs(a.hole.column - b.hole.column);
      if (half(a.hole) !== half(b.hole) || distance < 1 || distance > 3) continue;
      add(
        { kind: 'ends-exchanged', wires: [a.wire.id, b.wire.id], ends: [a.end, b.end] },
        distance === 1 ? 1 : distance === 2 ? 0.3 : 0.1,
      );
    }
  });

  // Bundles: wires of one bus whose ends lie side by side on both boards.
  const bundles = new Map<string, { wire: WireEntry; end: End; column: number }[]>();
  for (const wire of wires) {
    const name = /^(.*?)\d+$/.exec(wire.net)?.[1];
    const [from, to] = [readHole(wire.from), readHole(wire.to)];
    if (name === undefined || isRail(from) || isRail(to)) continue;
    const key = `${name} ${half(from)} ${half(to)}`;
    bundles.set(key, [...(bundles.get(key) ?? []), { wire, end: 'to', column: to.column }]);
  }
  for (const list of bundles.values()) {
    const sorted = [...list].sort((a, b) => a.column - b.column);
    if (sorted.length < 4 || sorted.at(-1)!.column - sorted[0]!.column > sorted.length + 3) continue;
    if (new Set(sorted.map(({ column }) => column)).size < sorted.length) continue;
    add({ kind: 'bus-reversed', wires: sorted.map(({ wire }) => wire.id), ends: sorted.map(({ end }) => end) });
  }

  // Strips with something in both, side by side and not joined already.
  const bench = readBench(layout, stage);
  for (const part of parts)
    for (const lead of part.leads) {
      const hole = readHole(lead.hole);
      if (isRail(hole)) continue;
      const aside = { ...hole, column: hole.column + 1 };
      if (strip(aside) === undefined) continue;
      const [a, b] = [bench.nodeAtHole(lead.hole), bench.nodeAtHole(holeText(aside))];
      if (a === undefined || b === undefined || a === b) continue;
      if (bench.nodes[a]!.fed !== 'none' && bench.nodes[b]!.fed !== 'none') continue;
      add({ kind: 'strips-bridged', holes: [lead.hole, holeText(aside)] });
    }

  for (const part of parts) {
    const chip = chipOf(part.type);
    const name = part.part;
    if (/^resistor(?:-upright|-network-\d+)?$/.test(part.type)) {
      add({ kind: 'pull-up-missing', part: name });
      for (const lead of part.leads) {
        const hole = readHole(lead.hole);
        if (isRail(hole))
          add({ kind: 'tie-wrong-rail', part: name, pin: lead.number, hole: holeText(otherRail(hole)) });
      }
    }
    if (chip === undefined) continue;
    if (chip.special !== 'serial') add({ kind: 'part-dead', part: name });
    for (const lead of part.leads) add({ kind: 'leg-bent', part: name, pin: lead.number });
    for (const pin of outputsOf(chip))
      for (const level of [0, 1] as const)
        if (part.leads.some(({ number }) => number === pin)) add({ kind: 'output-stuck', part: name, pin, level });
    if (chip.holds !== undefined) add({ kind: 'device-blank', part: name });
    if (chip.holds === 'rom') for (const image of otherImages) add({ kind: 'device-other-image', part: name, image });
    if (part.leads.length < 8) continue;
    add({ kind: 'chip-turned', part: name });
    for (const by of [-1, 1] as const)
      if (
        part.leads.every(({ hole }) => strip({ ...readHole(hole), column: readHole(hole).column + by }) !== undefined)
      )
        add({ kind: 'chip-aside', part: name, by });
  }
  const isPast = (item: { readonly stage: number; readonly until?: number | null }): boolean =>
    item.until !== undefined && item.until !== null && item.stage < stage && item.until <= stage;
  for (const part of layout.parts.filter(isPast)) add({ kind: 'strap-left-in', part: part.part });
  for (const wire of layout.wires.filter(isPast)) add({ kind: 'strap-left-in', wire: wire.id });
  return found;
}

/** Draws one fault: its kind by share among those there are, then by weight. */
export function drawFault(faults: ReadonlyMap<SourceFault['kind'], readonly Weighted[]>, rng: Rng): SourceFault {
  const pick = <T>(list: readonly (readonly [T, number])[]): T => {
    let at = rng.unit() * list.reduce((sum, [, weight]) => sum + weight, 0);
    for (const [one, weight] of list) {
      at -= weight;
      if (at < 0) return one;
    }
    return list.at(-1)![0];
  };
  return pick(pick([...faults].map(([kind, list]) => [list, SHARES[kind]] as const)));
}
