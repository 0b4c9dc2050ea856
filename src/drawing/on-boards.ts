// From a build's journal to what the drawing calls built and leaving: the journal says what is in which hole, the layout what
// should be. Where they differ, both are drawn: the new place as planned, the old one as to be taken out.

import type { Layout, PlacedPart, Wire, WireStyle } from '../board/index.ts';
import type { Built as JournalState } from '../stage/index.ts';
import type { SceneInput } from './scene.ts';

const STYLES: readonly WireStyle[] = ['flat', 'arched', 'crimped', 'jumper'];

/** The part of a scene's input that the journal decides. */
export function onBoards(
  journal: Pick<JournalState, 'parts' | 'wires'>,
  layout: Layout,
): Required<Pick<SceneInput, 'built' | 'leaving' | 'leavingParts'>> {
  const isThere = (placed: PlacedPart): boolean => {
    const part = journal.parts.get(placed.part);
    if (part === undefined || part.type !== placed.type) return false;
    const holes = new Map(part.leads);
    return holes.size === placed.leads.length && placed.leads.every((lead) => holes.get(lead.number) === lead.hole);
  };
  const placed = new Set(layout.parts.filter(isThere).map((part) => part.part));
  const leavingParts = [...journal.parts.values()]
    .filter((part) => !placed.has(part.part))
    .map((part): PlacedPart => {
      const leads = part.leads.map(([number, hole]) => ({ number, hole }));
      return {
        part: part.part,
        type: part.type,
        rotation: part.rotation,
        leads,
        stage: 1,
        until: undefined,
        fixed: false,
      };
    });
  const ids = new Map(layout.wires.map((wire) => [wire.id, wire]));
  const same = (wire: { readonly wire: string; readonly from: string; readonly to: string }): boolean => {
    const now = ids.get(wire.wire);
    return now !== undefined && [now.from, now.to].sort().join() === [wire.from, wire.to].sort().join();
  };
  const wires = [...journal.wires.values()];
  const leaving = wires
    .filter((wire) => !same(wire))
    .map(
      (wire): Wire => ({
        id: wire.wire,
        net: wire.net,
        from: wire.from,
        to: wire.to,
        cutMm: wire.cutMm,
        colour: wire.colour,
        style: STYLES.find((style) => style === wire.style) ?? 'flat',
        stage: 1,
        until: undefined,
        temporary: false,
        lead: wire.lead,
        path: undefined,
      }),
    );
  return {
    built: { parts: isThere, wires: new Set(wires.filter(same).map((wire) => wire.wire)) },
    leaving,
    leavingParts,
  };
}
