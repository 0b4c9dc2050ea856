// Random changes of a layout, as builders make them: ends moved inside a strip, nets wired another way, chips exchanged,
// wires dropped or recoloured, parts dropped. Every result is legal: one thing in a hole.

import type { Rng } from '../../src/base/index.ts';
import type { HoleName, Layout, PlacedPart, Wire } from '../../src/board/index.ts';
import { pick, stripOf } from './bench.ts';

const idOf = (net: string, a: string, b: string): string => `${net}:${[a, b].sort().join('-')}`;

function holesTaken(layout: Layout): Set<HoleName> {
  const taken = new Set<HoleName>();
  for (const part of layout.parts) for (const lead of part.leads) taken.add(lead.hole);
  for (const wire of layout.wires) taken.add(wire.from).add(wire.to);
  return taken;
}

const sameStrip = (hole: HoleName): HoleName[] => {
  const plain = /^(\d+):(\d+)([a-j])$/.exec(hole);
  if (plain !== null)
    return [...(plain[3]! <= 'e' ? 'abcde' : 'fghij')].map((letter) => `${plain[1]}:${plain[2]}${letter}`);
  const rail = /^(\d+):([tb][+-])(\d+)$/.exec(hole)!;
  const low = Number(rail[3]) < 32 ? 3 : 33;
  return Array.from({ length: 29 }, (_, i) => `${rail[1]}:${rail[2]}${low + i}`).filter(
    (name) => stripOf(name) !== undefined,
  );
};

/** One random edit; the layout itself where the edit finds nothing to do. */
export function editOnce(layout: Layout, rng: Rng): Layout {
  const taken = holesTaken(layout);
  const wires = [...layout.wires];
  const parts = [...layout.parts];
  const reWire = (wire: Wire, from: HoleName, to: HoleName): Wire => ({
    ...wire,
    from,
    to,
    id: idOf(wire.net, from, to),
    cutMm: rng.below(3) === 0 ? wire.cutMm : 10 + 2.5 * rng.below(12),
  });
  switch (rng.below(7)) {
    case 0: {
      if (wires.length === 0) return layout;
      const i = rng.below(wires.length);
      const wire = wires[i]!;
      const free = sameStrip(wire.from).filter((hole) => !taken.has(hole));
      if (free.length === 0) return layout;
      wires[i] = reWire(wire, pick(rng, free), wire.to);
      break;
    }
    case 1: {
      // Two wires of a net that meet in a strip: a-b, b-c becomes a-c, c-b.
      const net = pick(rng, wires)?.net;
      const own = wires.filter((wire) => wire.net === net);
      for (const x of own)
        for (const y of own) {
          if (x === y || stripOf(x.to) !== stripOf(y.from)) continue;
          const near = sameStrip(y.to).filter((hole) => !taken.has(hole));
          if (near.length === 0) continue;
          wires[wires.indexOf(x)] = reWire(x, x.from, near[0]!);
          return { ...layout, wires };
        }
      return layout;
    }
    case 2: {
      if (wires.length > 0) wires.splice(rng.below(wires.length), 1);
      break;
    }
    case 3: {
      if (wires.length === 0) return layout;
      const i = rng.below(wires.length);
      wires[i] = { ...wires[i]!, colour: pick(rng, ['BU', 'OG', 'VT', 'GN']) };
      break;
    }
    case 4: {
      // Two chips of one size change places, wires and all.
      const chips = parts.filter((part) => part.leads.length > 2);
      if (chips.length < 2) return layout;
      const a = pick(rng, chips);
      const b = pick(
        rng,
        chips.filter((part) => part.leads.length === a.leads.length),
      );
      if (a === b) return layout;
      const other = new Map<HoleName, HoleName>();
      for (let i = 0; i < a.leads.length; i++) {
        const x = sameStrip(a.leads[i]!.hole);
        const y = sameStrip(b.leads[i]!.hole);
        // The lead's hole goes to the lead's hole, so the row it stands in is the same: rows counted from the gutter.
        const fix = (list: HoleName[], hole: HoleName): HoleName[] => [hole, ...list.filter((name) => name !== hole)];
        const u = fix(x, a.leads[i]!.hole);
        const v = fix(y, b.leads[i]!.hole);
        u.forEach((hole, k) => {
          other.set(hole, v[k]!);
          other.set(v[k]!, hole);
        });
      }
      const map = (hole: HoleName): HoleName => other.get(hole) ?? hole;
      const swap = (part: PlacedPart, like: PlacedPart): PlacedPart => ({
        ...part,
        rotation: like.rotation,
        leads: part.leads.map((lead, i) => ({ number: lead.number, hole: like.leads[i]!.hole })),
      });
      const moved = parts.map((part) =>
        part === a
          ? swap(a, b)
          : part === b
            ? swap(b, a)
            : { ...part, leads: part.leads.map((lead) => ({ ...lead, hole: map(lead.hole) })) },
      );
      return {
        ...layout,
        parts: moved,
        wires: wires.map((wire) => {
          const from = map(wire.from);
          const to = map(wire.to);
          return from === wire.from && to === wire.to ? wire : reWire(wire, from, to);
        }),
      };
    }
    case 5: {
      // Two wires exchange an end inside one strip.
      const x = pick(rng, wires);
      const y = wires.find((wire) => wire !== x && stripOf(wire.from) === stripOf(x.from));
      if (y === undefined) return layout;
      wires[wires.indexOf(x)] = { ...reWire(x, y.from, x.to), cutMm: x.cutMm };
      wires[wires.indexOf(y)] = { ...reWire(y, x.from, y.to), cutMm: y.cutMm };
      break;
    }
    default: {
      if (rng.below(3) > 0 || parts.length < 3) return layout;
      const gone = pick(rng, parts);
      const strips = new Set(gone.leads.map((lead) => stripOf(lead.hole)));
      return {
        ...layout,
        parts: parts.filter((part) => part !== gone),
        wires: wires.filter((wire) => !strips.has(stripOf(wire.from)) && !strips.has(stripOf(wire.to))),
      };
    }
  }
  return { ...layout, parts, wires };
}
