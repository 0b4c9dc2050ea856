// Steps: what is to be done to turn what is on the boards into the machine as of a stage, stage by stage, in the order of an
// expert. Each stage is a difference of its own, so straps go in and come out when their stages say so. Reads the layout and
// the built state; changes neither.

import { contentId, type Finding, type Result } from '../base/index.ts';
import { type HoleName, type Layout, layoutAt, type PlacedPart, type StripId, type Wire } from '../board/index.ts';
import { type Design, type LeadHook, type Netlist, netlistAt, type StageInfo } from '../netlist/index.ts';
import { type Built, leadKey } from './built.ts';
import { type BenchState, difference, type StatePart, type StateWire } from './difference.ts';
import type { Fact, PartInFact, WireInFact } from './facts.ts';
import { createWireOrder, type Group, groupRank, partPlace } from './order.ts';
import { proofId, proofText } from './proof-id.ts';
import { reachedStage } from './reached.ts';
import type { BenchRules } from './short.ts';
import type { Step, StepEnd, StepGroup, StepLead, StepPlan } from './step-model.ts';

/** What a device is to hold. */
export interface WantedImage {
  readonly file: string;
  readonly bytes?: number;
  readonly sum?: string;
}

export interface StepInput {
  readonly design: Design;
  readonly layout: Layout;
  readonly built: Built;
  /** Up to and including this stage. */
  readonly stage: number;
  readonly rules: BenchRules;
  /** True for a hole of a rail; by default a hole named rail first, as `2:t+31`. */
  readonly onRail?: (hole: HoleName) => boolean;
  /** What a part is to hold as of a stage; by default the file named in the machine file, without size and sum. */
  readonly image?: (part: string, stage: number) => WantedImage | undefined;
  /** A hole kept free on a net as of a stage, for an instrument's lead. */
  readonly probeHole?: (net: string, stage: number) => HoleName | undefined;
  /** True for a proof that was passed but no longer stands; by default none. */
  readonly isStale?: (proof: string) => boolean;
}

const COLOUR: Readonly<Record<string, string>> = {
  BK: 'black',
  BN: 'brown',
  RD: 'red',
  OG: 'orange',
  YE: 'yellow',
  GN: 'green',
  BU: 'blue',
  VT: 'violet',
  GY: 'grey',
  WH: 'white',
  PK: 'pink',
  TQ: 'turquoise',
};

/** The plain word for an IEC 60757 colour code, or the code where it is a combination. */
export function colourWord(code: string): string {
  return COLOUR[code.toUpperCase()] ?? code;
}

const isRailName = (hole: HoleName): boolean => /^\d+:[tb][+-]/.test(hole);
const mm = (length: number): string => `${Math.round(length * 10) / 10} mm`;

/** What a device is to hold as of a stage by the machine file alone. */
function namedImage(design: Design, part: string, stage: number): WantedImage | undefined {
  let file = netlistAt(design, stage).parts.find((item) => item.name === part)?.holds;
  for (const info of design.stages) {
    if (info.number > stage) break;
    for (const program of info.decl.programs) if (program.part.name === part) file = program.with.name;
  }
  return file === undefined ? undefined : { file };
}

const statePart = (part: PlacedPart, value: string | undefined): StatePart => ({
  part: part.part,
  type: part.type,
  value,
  rotation: part.rotation,
  leads: part.leads.map((lead) => [lead.number, lead.hole] as const),
});
const stateWire = (wire: Wire): StateWire => ({
  wire: wire.id,
  from: wire.from,
  to: wire.to,
  cutMm: wire.cutMm,
  colour: wire.colour,
  style: wire.style,
  lead: wire.lead,
});

const KEEP = 'to go in again elsewhere';

/** A step before it is put in order. */
interface Draft {
  readonly step: Step;
  readonly first: number;
  readonly length: number;
}

/** Everything the words of one stage's steps need. */
class StageWords {
  private readonly at: Map<StripId, string[]> = new Map();
  private readonly pinNames = new Map<string, string>();
  private readonly rules: BenchRules;
  readonly values = new Map<string, string>();

  constructor(netlist: Netlist, parts: readonly PlacedPart[], rules: BenchRules) {
    this.rules = rules;
    for (const pin of netlist.pins) this.pinNames.set(`${netlist.parts[pin.part]!.name}\n${pin.number}`, pin.ref);
    for (const part of netlist.parts) if (part.value !== undefined) this.values.set(part.name, part.value);
    for (const part of parts)
      for (const lead of part.leads) {
        const strip = rules.stripOf(lead.hole);
        if (strip === undefined) continue;
        const there = this.at.get(strip);
        if (there === undefined) this.at.set(strip, [this.pin(part.part, lead.number)]);
        else there.push(this.pin(part.part, lead.number));
      }
  }

  pin(part: string, number: number): string {
    return this.pinNames.get(`${part}\n${number}`) ?? `${part}.${number}`;
  }

  end(hole: HoleName): StepEnd {
    const strip = this.rules.stripOf(hole);
    return { hole, strip, pins: strip === undefined ? [] : (this.at.get(strip) ?? []) };
  }

  leads(part: StatePart): StepLead[] {
    return part.leads.map(([number, hole]) => ({
      number,
      pin: this.pin(part.part, number),
      hole,
      strip: this.rules.stripOf(hole),
    }));
  }
}

const endText = (end: StepEnd): string =>
  end.pins.length === 0 ? end.hole : `${end.hole} (${end.pins.slice(0, 2).join(', ')})`;

/** Plans the steps up to a stage. Deterministic; about 10 ms for a machine of 1,500 wires. */
export function planSteps(input: StepInput): Result<StepPlan> {
  const { design, layout, built } = input;
  const findings: Finding[] = [];
  const image = input.image ?? ((part, stage) => namedImage(design, part, stage));
  const reached = reachedStage(design, layout, built);
  const last = Math.min(Math.max(0, input.stage), design.stages.length);
  const planner = new Planner({ ...input, image }, reached, findings);
  const from = Math.max(1, reached);
  for (let stage = from; stage <= Math.max(last, reached); stage++) planner.planStage(stage, stage === from);
  // An earlier stage asked for: what later stages want is left out, but rework of what stands always shows.
  const steps = planner.steps.filter((step) => step.stage <= last || step.group === 'rework');
  const groups = new Map<string, { stage: number; group: Group; ids: string[] }>();
  for (const step of steps) {
    const key = `${step.stage} ${step.group}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { stage: step.stage, group: step.group, ids: [step.id] });
    else group.ids.push(step.id);
  }
  const counted: StepGroup[] = [...groups.values()].map((group) => ({ ...group, count: group.ids.length }));
  return { value: { steps, groups: counted, reached, aside: planner.aside }, findings };
}

type Filled = StepInput & { readonly image: (part: string, stage: number) => WantedImage | undefined };

class Planner {
  readonly steps: Step[] = [];
  aside = 0;
  private readonly input: Filled;
  private readonly reached: number;
  private readonly findings: Finding[];
  private state: BenchState;
  private readonly hooks = new Map<string, { readonly net: string; readonly hole: string | undefined }>();
  /** What each device holds as the plan goes on, and the device in each part's place. */
  private readonly holds = new Map<string, WantedImage>();
  private readonly device = new Map<string, string>();
  private readonly made = new Set<string>();
  private readonly labels: Map<string, string>;
  /** Parts that have stood on the boards before. */
  private readonly everIn = new Set<string>();
  private readonly used = new Map<string, number>();
  private readonly badHoles = new Set<string>();
  private readonly onRail: (hole: HoleName) => boolean;

  constructor(input: Filled, reached: number, findings: Finding[]) {
    this.input = input;
    this.reached = reached;
    this.findings = findings;
    this.onRail = input.onRail ?? isRailName;
    const { built } = input;
    this.labels = new Map(built.labels);
    this.state = {
      parts: new Map([...built.parts.values()].map((part) => [part.part, part])),
      wires: new Map([...built.wires.values()].map((wire) => [wire.wire, wire])),
    };
    for (const [key, lead] of built.leads) this.hooks.set(key, lead);
    for (const device of built.devices.values())
      this.holds.set(device.device, {
        file: device.file,
        ...(device.bytes !== undefined ? { bytes: device.bytes } : {}),
        ...(device.sum !== undefined ? { sum: device.sum } : {}),
      });
    for (const part of built.parts.values()) this.device.set(part.part, part.device);
    for (const lead of built.leadsMade) this.made.add(lead);
    for (const record of built.records)
      for (const fact of record.facts ?? [])
        if (fact.fact === 'part-in') {
          this.everIn.add(fact.part);
          this.device.set(fact.part, fact.device ?? fact.part);
        }
  }

  /** Steps of one stage: the difference to the machine as of it. `isFirst`: the stage the build stands in, rework included. */
  planStage(stage: number, isFirst: boolean): void {
    const { design, layout, rules } = this.input;
    const info = design.stages[stage - 1];
    if (info === undefined) return;
    const netlist = netlistAt(design, stage);
    const on = layoutAt(layout, stage);
    const words = new StageWords(netlist, on.parts, rules);
    const target: BenchState = {
      parts: new Map(on.parts.map((part) => [part.part, statePart(part, words.values.get(part.part))])),
      wires: new Map(on.wires.map((wire) => [wire.id, stateWire(wire)])),
    };
    this.checkHoles(target);
    // Straps and parts whose time is over come out as planned; anything else that goes is rework, and its pieces serve again.
    const leaving = new Set<string>();
    for (const wire of layout.wires) if (wire.until !== undefined && wire.until <= stage) leaving.add(wire.id);
    const leavingParts = new Set<string>();
    for (const part of layout.parts) if (part.until !== undefined && part.until <= stage) leavingParts.add(part.part);
    const first: Draft[] = [];
    const later: Draft[] = [];
    this.detach(stage, info, first);
    const outs: string[] = [];
    const programs = this.program(stage, info, target, words, first, later, outs);
    const plan = difference(this.state, target, rules, {
      reuse: (wire) => isFirst && !leaving.has(wire.wire),
      spares: isFirst ? [...this.input.built.spares.values()] : [],
    });
    this.aside += plan.aside;
    const netOf = new Map(on.wires.map((wire) => [wire.id, wire]));
    const order = createWireOrder(design, netlist, this.onRail);
    const railsNeed: string[] = [];
    const rails = this.railsCheck(
      stage,
      info,
      on.wires.some((wire) => wire.stage === stage && order(wire).group === 'rails'),
      railsNeed,
    );
    if (rails !== undefined) later.push({ step: rails, first: 0, length: 0 });
    for (const act of plan.acts) {
      switch (act.act) {
        case 'wire-out': {
          const planned = leaving.has(act.wire.wire);
          const step = this.wireOut(act.wire, stage, info, planned ? 'take out' : 'rework', words, act.keep);
          outs.push(step.id);
          first.push(draft(step));
          break;
        }
        case 'part-out': {
          const planned = leavingParts.has(act.part.part) && !target.parts.has(act.part.part);
          const step = this.partOut(
            act.part,
            stage,
            info,
            planned ? 'take out' : 'rework',
            words,
            act.keep ? KEEP : undefined,
          );
          outs.push(step.id);
          first.push(draft(step));
          break;
        }
        case 'part-move': {
          const step = this.partIn(act.part, stage, info, 'rework', words, [...outs], {
            do: act.turned ? 'turn' : 'move',
            was: act.was,
          });
          outs.push(step.id);
          first.push(draft(step));
          break;
        }
        case 'wire-move': {
          const wire = netOf.get(act.wire.wire)!;
          const step = this.wireIn(wire, stage, info, 'rework', words, [...outs], {
            do: act.trimmed ? 'trim' : 'move',
            was: act.was,
          });
          outs.push(step.id);
          first.push(draft(step));
          break;
        }
        case 'part-in': {
          const placed = on.parts.find((part) => part.part === act.part.part)!;
          const record = netlist.parts.find((part) => part.name === act.part.part);
          const place = partPlace(record);
          const again = this.everIn.has(act.part.part) && record?.comesOut === true;
          const own = act.again || again ? stage : placed.stage;
          const ownInfo = design.stages[own - 1] ?? info;
          const needs = [...outs, ...(programs.get(act.part.part) ?? [])];
          if (rails !== undefined && place.group === 'parts') needs.push(rails.id);
          const step = this.partIn(act.part, own, ownInfo, place.group, words, needs, {
            do: again ? 'refit' : 'place',
          });
          if (place.group === 'rails') railsNeed.push(step.id);
          later.push({ step, first: place.first, length: -1 });
          break;
        }
        case 'wire-in': {
          const wire = netOf.get(act.wire.wire)!;
          const place = order(wire);
          const own = act.piece === undefined ? wire.stage : stage;
          const ownInfo = design.stages[own - 1] ?? info;
          if (wire.lead !== undefined) this.makeLead(wire.lead, own, ownInfo, on.wires, later);
          const step = this.wireIn(wire, own, ownInfo, place.group, words, outs, {
            do: 'wire',
            ...(act.piece !== undefined ? { piece: act.piece } : {}),
          });
          if (place.group === 'rails') railsNeed.push(step.id);
          later.push({ step, first: place.first, length: wire.cutMm });
          break;
        }
      }
    }
    this.state = target;
    this.attach(stage, info, words, later);
    this.measures(stage, info, isFirst, target, later, [...first, ...later]);
    later.sort(
      (a, b) =>
        a.step.stage - b.step.stage ||
        groupRank(a.step.group) - groupRank(b.step.group) ||
        a.first - b.first ||
        a.length - b.length ||
        (a.step.text < b.step.text ? -1 : a.step.text > b.step.text ? 1 : 0),
    );
    for (const item of [...first, ...later]) this.steps.push(item.step);
  }

  private checkHoles(target: BenchState): void {
    const check = (hole: HoleName, item: string): void => {
      if (this.input.rules.stripOf(hole) !== undefined || this.badHoles.has(hole)) return;
      this.badHoles.add(hole);
      this.findings.push({
        code: 'stage/no-such-hole',
        severity: 'error',
        message: `${item} goes to ${hole}, but the boards have no such hole`,
        where: [],
        notes: [{ text: 'The layout was made for other boards than the build now has, or was edited by hand.' }],
        help: 'Lay the machine out again, or correct the place in layout.json.',
        about: [item],
      });
    };
    for (const part of target.parts.values()) for (const [, hole] of part.leads) check(hole, part.part);
    for (const wire of target.wires.values()) for (const hole of [wire.from, wire.to]) check(hole, `wire ${wire.wire}`);
  }

  /** A step with its id from content. The same act a second time in one plan (a device out and in twice) gets its own id. */
  private make(
    content: string,
    stage: number,
    info: StageInfo,
    fields: Omit<Step, 'id' | 'stage' | 'stageName' | 'notes' | 'needs'> & {
      readonly notes?: readonly string[];
      readonly needs?: readonly string[];
    },
  ): Step {
    const times = (this.used.get(content) ?? 0) + 1;
    this.used.set(content, times);
    return {
      id: contentId(times === 1 ? content : `${content}|${times}`),
      stage,
      stageName: info.name,
      notes: [],
      needs: [],
      ...fields,
    };
  }

  private wireOut(
    wire: StateWire,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    keep: boolean,
  ): Step {
    const net =
      this.input.built.wires.get(wire.wire)?.net ?? this.input.layout.wires.find((w) => w.id === wire.wire)?.net;
    const notes = keep ? ['Keep the piece at hand: it goes in again elsewhere.'] : [];
    const step = this.make(`take-out|wire|${wire.wire}`, stage, info, {
      do: 'take-out',
      group,
      wire: wire.wire,
      ...(net !== undefined ? { net } : {}),
      from: words.end(wire.from),
      to: words.end(wire.to),
      cutMm: wire.cutMm,
      colour: wire.colour,
      text: `Take out the ${colourWord(wire.colour)} wire ${net === undefined ? '' : `${net} `}between ${wire.from} and ${wire.to}.`,
      notes,
      facts: [{ fact: 'wire-out', wire: wire.wire, ...(keep ? { kept: true } : {}) }],
    });
    return step;
  }

  private partOut(
    part: StatePart,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    why: string | undefined,
  ): Step {
    return this.make(
      `take-out|part|${part.part}|${part.leads.map((lead) => lead[1]).join(' ')}|${why ?? ''}`,
      stage,
      info,
      {
        do: 'take-out',
        group,
        part: part.part,
        type: part.type,
        leads: words.leads(part),
        text: `Take out ${part.part} (${part.type})${why === undefined ? '' : `, ${why}`}.`,
        facts: [{ fact: 'part-out', part: part.part }],
      },
    );
  }

  private partIn(
    part: StatePart,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    needs: readonly string[],
    how: { readonly do: 'place' | 'refit' | 'move' | 'turn'; readonly was?: StatePart },
  ): Step {
    const device = this.device.get(part.part) ?? part.part;
    const fact: PartInFact = {
      fact: 'part-in',
      part: part.part,
      type: part.type,
      ...(part.value !== undefined ? { value: part.value } : {}),
      rotation: part.rotation,
      leads: part.leads,
      ...(device !== part.part ? { device } : {}),
    };
    const leads = words.leads(part);
    const named = `${part.part} (${part.type}${part.value === undefined ? '' : `, ${part.value}`})`;
    const one = part.leads[0];
    const end = part.leads.at(-1);
    const where =
      part.leads.length === 2
        ? `between ${part.leads[0]![1]} and ${part.leads[1]![1]}`
        : one === undefined
          ? ''
          : `with pin ${one[0]} in ${one[1]} and pin ${end![0]} in ${end![1]}`;
    const verb = { place: 'Put in', refit: 'Put back', move: 'Move', turn: 'Turn' }[how.do];
    const ends =
      part.leads.length === 2 ? { from: words.end(part.leads[0]![1]), to: words.end(part.leads[1]![1]) } : {};
    this.everIn.add(part.part);
    return this.make(
      `${how.do}|${part.part}|${part.type}|${part.rotation}|${part.leads.map((lead) => lead.join(' ')).join(',')}|${this.holds.get(device)?.file ?? ''}`,
      stage,
      info,
      {
        do: how.do,
        group,
        part: part.part,
        type: part.type,
        ...(part.value !== undefined ? { value: part.value } : {}),
        ...ends,
        leads,
        rotation: part.rotation,
        ...(device !== part.part ? { device } : {}),
        ...(how.was !== undefined ? { was: how.was.leads.map(([, hole]) => hole) } : {}),
        take: named,
        text: `${verb} ${named} ${where}.`.replace(/ +\./, '.'),
        facts: [fact],
        needs,
      },
    );
  }

  private wireIn(
    wire: Wire,
    stage: number,
    info: StageInfo,
    group: Group,
    words: StageWords,
    needs: readonly string[],
    how: { readonly do: 'wire' | 'move' | 'trim'; readonly was?: StateWire; readonly piece?: StateWire },
  ): Step {
    const from = words.end(wire.from);
    const to = words.end(wire.to);
    const fact: WireInFact = {
      fact: 'wire-in',
      wire: wire.id,
      net: wire.net,
      from: wire.from,
      to: wire.to,
      cutMm: wire.cutMm,
      colour: wire.colour,
      style: wire.style,
      ...(wire.lead !== undefined ? { lead: wire.lead } : {}),
      ...(how.was !== undefined ? { was: how.was.wire } : {}),
      ...(how.piece !== undefined ? { piece: how.piece.wire } : {}),
    };
    const colour = colourWord(wire.colour);
    const piece = how.piece ?? how.was;
    const longer = piece !== undefined && piece.cutMm > wire.cutMm + 0.5;
    const take =
      piece === undefined
        ? wire.lead !== undefined
          ? `the ${colour} way of lead ${wire.lead}`
          : `${/^[aeiou]/.test(colour) ? 'an' : 'a'} ${colour} wire (${wire.colour}), cut ${mm(wire.cutMm)}`
        : `the ${colour} wire ${how.was === undefined ? 'taken from' : 'between'} ${piece.from} and ${piece.to}${longer ? `, trimmed to ${mm(wire.cutMm)}` : ''}`;
    return this.make(`${how.do}|${wire.id}|${piece?.wire ?? ''}`, stage, info, {
      do: how.do,
      group,
      wire: wire.id,
      net: wire.net,
      from,
      to,
      cutMm: wire.cutMm,
      colour: wire.colour,
      style: wire.style,
      ...(wire.lead !== undefined ? { lead: wire.lead } : {}),
      ...(how.was !== undefined ? { was: [how.was.from, how.was.to] } : {}),
      ...(how.piece !== undefined ? { reuses: true } : {}),
      take,
      text: `${wire.net}: take ${take}; from ${endText(from)} to ${endText(to)}.`,
      facts: [fact],
      needs,
    });
  }

  private makeLead(lead: string, stage: number, info: StageInfo, wires: readonly Wire[], later: Draft[]): void {
    if (this.made.has(lead)) return;
    this.made.add(lead);
    const ways = wires.filter((wire) => wire.lead === lead);
    const step = this.make(`make-lead|${lead}|${ways.map((way) => `${way.id} ${way.cutMm}`).join(',')}`, stage, info, {
      do: 'make-lead',
      group: 'leads',
      lead,
      text: `Make lead ${lead}: ${ways.length} ${ways.length === 1 ? 'way' : 'ways'}, ${ways
        .map((way) => `${way.net} ${colourWord(way.colour)} ${mm(way.cutMm)}`)
        .join(', ')}; crimp, label both ends.`,
      facts: [{ fact: 'lead-made', lead }],
    });
    later.push({ step, first: -1, length: 0 });
  }

  private activeHooks(stage: number): LeadHook[] {
    return this.input.design.leads.filter(
      (hook) => hook.stage <= stage && (hook.until === undefined || stage < hook.until),
    );
  }

  private detach(stage: number, info: StageInfo, first: Draft[]): void {
    const active = new Map(this.activeHooks(stage).map((hook) => [leadKey(hook.pod, hook.channel), hook.net]));
    for (const [key, lead] of [...this.hooks]) {
      if (active.get(key) === lead.net) continue;
      this.hooks.delete(key);
      const at = key.lastIndexOf(':');
      const pod = key.slice(0, at);
      const channel = Number(key.slice(at + 1));
      const hole = lead.hole;
      first.push(
        draft(
          this.make(`detach|${key}|${lead.net}`, stage, info, {
            do: 'detach',
            group: 'take out',
            lead: pod,
            channel,
            net: lead.net,
            text: `Take ${pod}, channel ${channel} (from 0), off ${lead.net}${hole === undefined ? '' : ` at ${hole}`}.`,
            facts: [{ fact: 'lead-off', pod, channel }],
          }),
        ),
      );
    }
  }

  private attach(stage: number, info: StageInfo, words: StageWords, later: Draft[]): void {
    for (const hook of this.activeHooks(stage)) {
      const key = leadKey(hook.pod, hook.channel);
      if (this.hooks.has(key)) continue;
      const hole = this.input.probeHole?.(hook.net, stage);
      this.hooks.set(key, { net: hook.net, hole });
      const own = this.input.design.stages[hook.stage - 1] ?? info;
      const fact: Fact = {
        fact: 'lead-on',
        pod: hook.pod,
        channel: hook.channel,
        net: hook.net,
        ...(hole !== undefined ? { hole } : {}),
      };
      const step = this.make(`attach|${key}|${hook.net}`, own.number, own, {
        do: 'attach',
        group: 'leads',
        lead: hook.pod,
        channel: hook.channel,
        net: hook.net,
        ...(hole !== undefined ? { to: words.end(hole) } : {}),
        text: `Hang ${hook.pod}, channel ${hook.channel} (from 0), on ${hook.net}${hole === undefined ? '' : ` at ${hole}`}.`,
        facts: [fact],
      });
      later.push({ step, first: 1 + hook.channel, length: 0 });
    }
  }

  /** Devices that don't hold what they should: out if in, programmed, labelled, and in again. Ids that placing then needs. */
  private program(
    stage: number,
    info: StageInfo,
    target: BenchState,
    words: StageWords,
    first: Draft[],
    later: Draft[],
    outs: string[],
  ): Map<string, string[]> {
    const needs = new Map<string, string[]>();
    const netlist = netlistAt(this.input.design, stage);
    for (const part of target.parts.values()) {
      const wanted = this.input.image(part.part, stage);
      if (wanted === undefined) continue;
      const device = this.device.get(part.part) ?? part.part;
      const held = this.holds.get(device);
      const record = netlist.parts.find((item) => item.name === part.part);
      const isIn = this.state.parts.has(part.part);
      const own =
        isIn || this.everIn.has(part.part)
          ? stage
          : (this.input.layout.parts.find((item) => item.part === part.part)?.stage ?? stage);
      const ownInfo = this.input.design.stages[own - 1] ?? info;
      const before: string[] = [];
      let image = held ?? wanted;
      if (held === undefined || !sameImage(held, wanted)) {
        image = wanted;
        this.holds.set(device, wanted);
        const goesOut = isIn && record?.comesOut === true;
        if (goesOut) {
          const there = this.state.parts.get(part.part)!;
          const out = this.partOut(there, stage, info, 'take out', words, `to be programmed with ${wanted.file}`);
          first.push(draft(out));
          before.push(out.id);
          outs.push(out.id);
          // Out of its place it is not part of the difference, which then puts it back, here or where it now belongs.
          const parts = new Map(this.state.parts);
          parts.delete(part.part);
          this.state = { parts, wires: this.state.wires };
          this.everIn.add(part.part);
        }
        const program = this.programStep(device, part.type, wanted, own, ownInfo, {
          part: part.part,
          inPlace: isIn && !goesOut,
          needs: [...before],
        });
        later.push({ step: program, first: later.length, length: 0 });
        before.push(program.id);
        needs.set(part.part, [program.id]);
      }
      const text = `${device} ${image.file}${image.sum === undefined ? '' : ` ${image.sum}`}`;
      if (this.labels.get(device) === text) continue;
      this.labels.set(device, text);
      const label = this.make(`label|${device}|${text}`, own, ownInfo, {
        do: 'label',
        group: 'programming',
        part: part.part,
        device,
        text: `Label ${device} "${text}".`,
        facts: [{ fact: 'label', device, text }],
        needs: before.slice(-1),
      });
      later.push({ step: label, first: later.length, length: 0 });
    }
    return needs;
  }

  private programStep(
    device: string,
    type: string,
    wanted: WantedImage,
    stage: number,
    info: StageInfo,
    how: { readonly part: string; readonly inPlace: boolean; readonly needs: readonly string[] },
  ): Step {
    const size = wanted.bytes === undefined ? {} : { bytes: wanted.bytes };
    const sum = wanted.sum === undefined ? {} : { sum: wanted.sum };
    const details = [
      ...(wanted.bytes !== undefined ? [`, ${wanted.bytes} bytes`] : []),
      ...(wanted.sum !== undefined ? [`, sum ${wanted.sum}`] : []),
    ];
    return this.make(`program|${device}|${wanted.file}|${wanted.sum ?? ''}`, stage, info, {
      do: 'program',
      group: 'programming',
      part: how.part,
      type,
      device,
      file: wanted.file,
      ...size,
      ...sum,
      text: `Program ${device} (${type}) with ${wanted.file}${details.join('')}, and verify it.`,
      notes: how.inPlace ? ['It stays in its place: follow its own instructions for programming in circuit.'] : [],
      facts: [{ fact: 'image', device, file: wanted.file, ...size, ...sum }],
      needs: how.needs,
    });
  }

  /** Voltage and polarity at the rails of a stage, while no chip is in that could be harmed. */
  private railsCheck(stage: number, info: StageInfo, hasRails: boolean, needs: readonly string[]): Step | undefined {
    const { built } = this.input;
    if (!hasRails || [...this.state.parts.values()].some((part) => part.leads.length > 2)) return undefined;
    const step = this.make(`measure|rails|${info.name}`, stage, info, {
      do: 'measure',
      group: 'rails check',
      expect: 'the set voltage at every rail segment, plus on the rails marked plus',
      text: 'Supply on, no chip in: measure every rail segment for voltage and polarity. Supply off again.',
      notes: ['Set the current limit first. A segment that reads nothing isn’t bridged at its break.'],
      facts: [],
      needs,
    });
    return built.measured.get(step.id)?.pass === true ? undefined : step;
  }

  private measures(
    stage: number,
    info: StageInfo,
    isFirst: boolean,
    target: BenchState,
    later: Draft[],
    drafts: readonly Draft[],
  ): void {
    const { built } = this.input;
    const physical = drafts.filter((item) => item.step.facts.length > 0);
    const needs = physical.map((item) => item.step.id);
    const check = this.make(`measure|check|${info.name}|${benchPrint(target)}`, stage, info, {
      do: 'measure',
      group: 'meter check',
      expect: 'every reading of the meter plan',
      text: `Supply off: go through the meter plan of stage ${stage} before power goes on.`,
      facts: [],
      needs,
    });
    if (built.measured.get(check.id)?.pass !== true && target.wires.size > 0)
      later.push({ step: check, first: 0, length: 0 });
    // Of earlier stages only what was never proved or no longer stands.
    const stages = isFirst ? this.input.design.stages.slice(0, stage) : [info];
    for (const each of stages)
      for (const [index, proof] of each.decl.prove.entries()) {
        const id = proofId(each.name, proof);
        if (built.measured.get(id)?.pass === true && this.input.isStale?.(id) !== true) continue;
        const text = proofText(proof);
        later.push({
          step: {
            id,
            do: 'measure',
            stage: each.number,
            stageName: each.name,
            group: 'proofs',
            expect: text.expect,
            text: `${text.given === '' ? '' : `Given ${text.given}: `}expect ${text.expect}.`,
            notes: each.number < this.reached ? ['The build has gone on since this stage.'] : [],
            facts: [],
            needs,
          },
          first: index,
          length: 0,
        });
      }
  }
}

/** A fingerprint of everything that lies on the boards. */
export function benchPrint(state: BenchState): string {
  const lines = [
    ...[...state.parts.values()].map(
      (part) => `${part.part} ${part.type} ${part.leads.map((l) => l.join(' ')).join(',')}`,
    ),
    ...[...state.wires.values()].map((wire) => [wire.from, wire.to].sort().join(' ')),
  ];
  return contentId(lines.sort().join('\n'), 10);
}

function sameImage(a: WantedImage, b: WantedImage): boolean {
  if (a.sum !== undefined && b.sum !== undefined) return a.sum.toLowerCase() === b.sum.toLowerCase();
  return a.file === b.file;
}

function draft(step: Step): Draft {
  return { step, first: 0, length: 0 };
}
