// Looking over what is in, hole by hole, group by group: what should be seen in each hole, from the layout, against which the
// eye and the built state are compared.

import { colourName } from '../base/index.ts';
import { type HoleName, type Layout, layoutAt } from '../board/index.ts';
import { type Design, netlistAt } from '../netlist/index.ts';
import type { Built } from './built.ts';
import { createWireOrder, type Group, groupRank, partPlace } from './order.ts';
import type { BenchRules } from './short.ts';
import { StageWords } from './step-words.ts';

export interface CheckRow {
  readonly group: Group;
  readonly hole: HoleName;
  /** What sits there: a wire's end with its colour and net, or a part's lead. */
  readonly what: string;
  /** Where its other end is, for a wire. */
  readonly other: HoleName | undefined;
  /** Pins in the same strip. */
  readonly pins: readonly string[];
  /** What the journal says is there instead, or undefined where it agrees; `nothing` where nothing is. */
  readonly journal: string | undefined;
}

export interface CheckInput {
  readonly design: Design;
  readonly layout: Layout;
  readonly built: Built;
  readonly rules: BenchRules;
  readonly onRail: (hole: HoleName) => boolean;
  readonly stage: number;
  /** One group only; default all. */
  readonly group?: Group;
}

/** Rows to go through: what the stage itself put in, by group, then as the steps had it, both ends of each wire together. */
export function checkOver(input: CheckInput): CheckRow[] {
  const { design, layout, built, rules, onRail, stage } = input;
  const netlist = netlistAt(design, stage);
  const on = layoutAt(layout, stage);
  const words = new StageWords(netlist, on.parts, rules);
  const order = createWireOrder(design, netlist, onRail);
  const there = new Map<HoleName, string>();
  for (const part of built.parts.values())
    for (const [number, hole] of part.leads) there.set(hole, `${part.part}.${number}`);
  const wireText = (net: string, colour: string): string => `${colourName(colour)} wire, ${net}`;
  for (const wire of built.wires.values())
    for (const hole of [wire.from, wire.to]) there.set(hole, wireText(wire.net, wire.colour));
  const rows: (CheckRow & { readonly sort: readonly number[] })[] = [];
  const put = (
    group: Group,
    sort: readonly number[],
    hole: HoleName,
    what: string,
    key: string,
    other?: HoleName,
  ): void => {
    const found = there.get(hole);
    rows.push({
      group,
      hole,
      what,
      other,
      pins: words.end(hole).pins,
      journal: found === key ? undefined : (found ?? 'nothing'),
      sort: [groupRank(group), ...sort],
    });
  };
  on.parts.forEach((part, i) => {
    if (part.stage !== stage) return;
    const { group } = partPlace(netlist.parts.find((item) => item.name === part.part));
    part.leads.forEach((lead, k) => {
      const pin = words.pin(part.part, lead.number);
      put(group, [0, -1, i, k], lead.hole, `${pin}, pin ${lead.number} of ${part.part}`, `${part.part}.${lead.number}`);
    });
  });
  on.wires.forEach((wire, i) => {
    if (wire.stage !== stage) return;
    const place = order(wire);
    const text = wireText(wire.net, wire.colour);
    put(place.group, [place.first, wire.cutMm, i, 0], wire.from, text, text, wire.to);
    put(place.group, [place.first, wire.cutMm, i, 1], wire.to, text, text, wire.from);
  });
  rows.sort((a, b) => {
    for (let i = 0; i < a.sort.length; i++) if (a.sort[i] !== b.sort[i]) return a.sort[i]! - b.sort[i]!;
    return 0;
  });
  return rows.filter((row) => input.group === undefined || row.group === input.group).map(({ sort: _, ...row }) => row);
}
