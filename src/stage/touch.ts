// The meter plan: before the first power of a stage, few touches of an ohmmeter that prove every new wire and resistor and
// exclude every bridge that could physically be there, with the reading to expect where pull-ups or networks are in the way.
// One fault at a time is assumed. Reads the layout as of the stage; the boards are as the steps leave them, supply off.

import type { Finding, Result } from '../base/index.ts';
import { type HoleName, type Layout, layoutAt, type StripId } from '../board/index.ts';
import type { Netlist } from '../netlist/index.ts';
import type { BenchFacts, InTheWay } from './bench-facts.ts';
import type { BenchState } from './difference.ts';
import type { TouchPlan } from './touch-model.ts';
import { type Member, type Resistor, TouchPlanner, type WireEdge } from './touch-planner.ts';

export interface TouchInput {
  readonly layout: Layout;
  /** The stage about to be powered. */
  readonly stage: number;
  readonly facts: BenchFacts;
  /** For the names of pins and nets. */
  readonly netlist?: Netlist;
  /** What was on the boards when they were last checked; by default the machine as of the stage before. */
  readonly checked?: BenchState;
  /** False where no chip is in yet: readings through resistors then tell more, and fewer touches are needed. Default true. */
  readonly chipsIn?: boolean;
}

/** The strips in use and what is in them. */
class Boards {
  readonly members: Member[] = [];
  private readonly index = new Map<StripId, number>();
  private readonly facts: BenchFacts;

  constructor(facts: BenchFacts) {
    this.facts = facts;
  }
  find(strip: StripId): number | undefined {
    return this.index.get(strip);
  }
  at(hole: HoleName): number | undefined {
    const strip = this.facts.rules.stripOf(hole);
    if (strip === undefined) return undefined;
    let id = this.index.get(strip);
    if (id === undefined) {
      id = this.members.length;
      this.index.set(strip, id);
      this.members.push({ strip, pins: [], leadHoles: [], wireHoles: [], isNew: false });
    }
    return id;
  }
}

/** Plans the touches. A tenth of a second or so for a machine of 1,200 wires. */
export function planTouches(input: TouchInput): Result<TouchPlan> {
  const { layout, stage, facts } = input;
  const on = layoutAt(layout, stage);
  const before = layoutAt(layout, stage - 1);
  const key = (from: string, to: string): string => (from < to ? `${from} ${to}` : `${to} ${from}`);
  const leadKey = (part: string, hole: string): string => `${part} ${hole}`;
  const oldWires = new Set(
    input.checked === undefined
      ? before.wires.map((wire) => key(wire.from, wire.to))
      : [...input.checked.wires.values()].map((wire) => key(wire.from, wire.to)),
  );
  const oldLeads = new Set(
    input.checked === undefined
      ? before.parts.flatMap((part) => part.leads.map((lead) => leadKey(part.part, lead.hole)))
      : [...input.checked.parts.values()].flatMap((part) => part.leads.map(([, hole]) => leadKey(part.part, hole))),
  );

  const boards = new Boards(facts);
  const wires: WireEdge[] = [];
  const netOfStrip = new Map<number, string>();
  for (const wire of on.wires) {
    const a = boards.at(wire.from);
    const b = boards.at(wire.to);
    if (a === undefined || b === undefined) continue; // the plan of steps reports holes that aren't there
    const isNew = !oldWires.has(key(wire.from, wire.to));
    boards.members[a]!.wireHoles.push(wire.from);
    boards.members[b]!.wireHoles.push(wire.to);
    for (const end of [a, b]) {
      if (isNew) boards.members[end]!.isNew = true;
      if (!netOfStrip.has(end)) netOfStrip.set(end, wire.net);
    }
    wires.push({ id: wire.id, a, b, isNew, net: wire.net });
  }
  const names = new Map<string, { ref: string; net: string | undefined }>();
  for (const pin of input.netlist?.pins ?? [])
    names.set(`${input.netlist!.parts[pin.part]!.name}\n${pin.number}`, {
      ref: pin.ref,
      net: pin.net < 0 ? undefined : input.netlist!.nets[pin.net]!.name,
    });
  const links: { a: number; b: number }[] = [];
  const resistors: Resistor[] = [];
  const unread: string[] = [];
  const inTheWay = new Map<number, Set<InTheWay>>();
  for (const part of on.parts) {
    const at = new Map<number, number>();
    let isNew = false;
    for (const lead of part.leads) {
      const strip = boards.at(lead.hole);
      if (strip === undefined) continue;
      at.set(lead.number, strip);
      const member = boards.members[strip]!;
      const pin = names.get(`${part.part}\n${lead.number}`);
      member.pins.push(pin?.ref ?? `${part.part}.${lead.number}`);
      if (pin?.net !== undefined && !netOfStrip.has(strip)) netOfStrip.set(strip, pin.net);
      member.leadHoles.push(lead.hole);
      if (!oldLeads.has(leadKey(part.part, lead.hole))) {
        member.isNew = true;
        isNew = true;
      }
      const way = facts.inTheWay(part.part);
      if (way !== undefined) {
        const set = inTheWay.get(strip) ?? new Set();
        set.add(way);
        inTheWay.set(strip, set);
      }
    }
    for (const group of facts.rules.joined?.(part.type) ?? []) {
      const strips = group.flatMap((number) => at.get(number) ?? []);
      for (const other of strips.slice(1)) links.push({ a: strips[0]!, b: other });
    }
    for (const element of facts.resistors(part.part)) {
      const a = at.get(element.a);
      const b = at.get(element.b);
      if (a === undefined || b === undefined) continue;
      if (element.ohms === undefined || element.ohms <= 0) unread.push(part.part);
      else resistors.push({ part: part.part, a, b, ohms: element.ohms, isNew });
    }
  }
  for (const entry of layout.entries) {
    for (const [hole, net] of [
      [entry.plus, entry.supply],
      [entry.ground, 'GND'],
    ] as const) {
      const strip = boards.at(hole);
      if (strip === undefined) continue;
      boards.members[strip]!.wireHoles.push(hole);
      if (!netOfStrip.has(strip)) netOfStrip.set(strip, net);
    }
  }
  const plan = new TouchPlanner({
    members: boards.members,
    wires,
    links,
    resistors,
    inTheWay,
    netOfStrip,
    chipsIn: input.chipsIn ?? true,
  });
  const value = plan.plan((strip) => facts.neighbours(strip).flatMap((next) => boards.find(next) ?? []));
  const findings: Finding[] = [...new Set(unread)].map((part) => ({
    code: 'stage/touch-value-unknown',
    severity: 'warning',
    message: `The meter plan can't say what ${part} reads: its value isn't given as a resistance.`,
    where: [],
    notes: [{ text: 'It is left out of the plan, and readings of nets it joins may differ from what is said.' }],
    help: 'Give its value in the machine file, such as 10 kohm.',
    about: [part],
    stage,
  }));
  return { value, findings };
}
