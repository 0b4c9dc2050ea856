// The planner: goes through the stages, takes each one's difference from what is on the boards, and puts its steps in order,
// with devices programmed before they are placed, leads hung and taken off, and what is to be measured at the end.

import { contentId, type Finding } from '../base/index.ts';
import { type HoleName, type Layout, layoutAt, type PlacedPart, type Wire } from '../board/index.ts';
import { type Design, type LeadHook, netlistAt, type StageInfo } from '../netlist/index.ts';
import { type Built, leadKey } from './built.ts';
import { type BenchState, difference, type StatePart, type StateWire } from './difference.ts';
import type { Fact } from './facts.ts';
import { createWireOrder, type Group, groupRank, partPlace } from './order.ts';
import { proofId, proofText } from './proof-id.ts';
import type { BenchRules } from './short.ts';
import { StepMaker, type WantedImage } from './step-maker.ts';
import type { Step } from './step-model.ts';
import { StageWords } from './step-words.ts';

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
  /**
   * as-laid (default): new wires are cut and formed, and a loose jumper in the right holes stands for its wire. jumpers: a
   * first pass with loose jumpers, nothing cut. fitted: besides, jumpers are exchanged for the wires of the layout.
   */
  readonly fit?: 'as-laid' | 'jumpers' | 'fitted';
  /** True for a proof that was passed but no longer stands; by default none. */
  readonly isStale?: (proof: string) => boolean;
}

const isRailName = (hole: HoleName): boolean => /^\d+:[tb][+-]/.test(hole);

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

/** More than any lead has ways and any pod channels: keeps those of one together in the order of steps. */
const ONE_LEAD = 1000;

/** A step before it is put in order. */
interface Draft {
  readonly step: Step;
  readonly first: number;
  readonly length: number;
}

/** An input with every option that has a default filled in. */
export type Filled = StepInput & { readonly image: (part: string, stage: number) => WantedImage | undefined };

export class Planner {
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
  private readonly maker: StepMaker;
  private readonly badHoles = new Set<string>();
  private readonly onRail: (hole: HoleName) => boolean;

  constructor(input: Filled, reached: number, findings: Finding[]) {
    this.input = input;
    this.reached = reached;
    this.findings = findings;
    this.onRail = input.onRail ?? isRailName;
    const { built } = input;
    this.labels = new Map(built.labels);
    const nets = new Map(input.layout.wires.map((wire) => [wire.id, wire.net]));
    this.maker = new StepMaker({
      netOf: (wire) => built.wires.get(wire)?.net ?? nets.get(wire),
      deviceOf: (part) => this.device.get(part) ?? part,
      fileIn: (device) => this.holds.get(device)?.file,
    });
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
    const programs = this.program(stage, info, target, words, first, later);
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
          const step = this.maker.wireOut(act.wire, stage, info, planned ? 'take out' : 'rework', words, act.keep);
          first.push(draft(step));
          break;
        }
        case 'part-out': {
          const planned = leavingParts.has(act.part.part);
          const step = this.maker.partOut(
            act.part,
            stage,
            info,
            planned ? 'take out' : 'rework',
            words,
            act.keep ? KEEP : undefined,
          );
          first.push(draft(step));
          break;
        }
        case 'part-move': {
          const step = this.maker.partIn(act.part, stage, info, 'rework', words, [], {
            do: act.turned ? 'turn' : 'move',
            was: act.was,
          });
          first.push(draft(step));
          break;
        }
        case 'wire-move': {
          const wire = netOf.get(act.wire.wire)!;
          const step = this.maker.wireIn(wire, stage, info, 'rework', words, [], {
            do: act.trimmed ? 'trim' : 'move',
            was: act.was,
          });
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
          const needs = [...(programs.get(act.part.part) ?? [])];
          if (rails !== undefined && place.group === 'parts') needs.push(rails.id);
          const step = this.maker.partIn(act.part, own, ownInfo, place.group, words, needs, {
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
          if (wire.lead !== undefined && !this.made.has(wire.lead)) {
            this.made.add(wire.lead);
            const ways = this.input.layout.wires.filter((way) => way.lead === wire.lead);
            const housing = this.input.layout.leads?.find((lead) => lead.lead === wire.lead);
            later.push({
              step: this.maker.makeLead(wire.lead, own, ownInfo, ways, housing),
              first: this.leadPlace(wire) - (this.leadPlace(wire) % ONE_LEAD),
              length: 0,
            });
          }
          const step = this.maker.wireIn(wire, own, ownInfo, place.group, words, [], {
            do: 'wire',
            jumper: this.input.fit === 'jumpers' && act.piece === undefined && wire.lead === undefined,
            ...(act.piece !== undefined ? { piece: act.piece } : {}),
          });
          if (place.group === 'rails') railsNeed.push(step.id);
          later.push({
            step,
            first: wire.lead === undefined ? place.first : this.leadPlace(wire),
            length: wire.cutMm,
          });
          break;
        }
      }
    }
    if (isFirst && this.input.fit === 'fitted') this.exchangeJumpers(stage, info, on.wires, order, words, later);
    this.state = target;
    for (const part of target.parts.keys()) this.everIn.add(part);
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
    if (first.length > 0) {
      const [start] = first;
      first[0] = {
        ...start!,
        step: { ...start!.step, notes: ['Supply off before anything comes out.', ...start!.step.notes] },
      };
    }
    for (const item of [...first, ...later]) this.steps.push(item.step);
  }

  /** Jumpers of a first pass, each taken out and its fitted wire put in, one after the other. */
  private exchangeJumpers(
    stage: number,
    info: StageInfo,
    wires: readonly Wire[],
    order: (wire: Wire) => { readonly group: Group; readonly first: number },
    words: StageWords,
    later: Draft[],
  ): void {
    const jumpers = new Map<string, StateWire>();
    for (const wire of this.state.wires.values())
      if (wire.style === 'jumper' && wire.lead === undefined) jumpers.set([wire.from, wire.to].sort().join(' '), wire);
    const fitted = wires
      .filter((wire) => wire.style !== 'jumper' && wire.lead === undefined)
      .flatMap((wire) => {
        const jumper = jumpers.get([wire.from, wire.to].sort().join(' '));
        return jumper === undefined || jumper.colour !== wire.colour ? [] : [{ wire, jumper, place: order(wire) }];
      })
      .sort(
        (a, b) =>
          groupRank(a.place.group) - groupRank(b.place.group) ||
          a.place.first - b.place.first ||
          a.wire.cutMm - b.wire.cutMm,
      );
    fitted.forEach(({ wire, jumper }, i) => {
      const out = this.maker.wireOut(jumper, stage, info, 'fitting', words, false);
      later.push({ step: out, first: i, length: 0 });
      const put = this.maker.wireIn(wire, stage, info, 'fitting', words, [out.id], { do: 'wire' });
      later.push({ step: put, first: i, length: 1 });
    });
  }

  private checkHoles(target: BenchState): void {
    const check = (hole: HoleName, item: string): void => {
      if (this.input.rules.stripOf(hole) !== undefined || this.badHoles.has(hole)) return;
      this.badHoles.add(hole);
      this.findings.push({
        code: 'stage/no-such-hole',
        severity: 'error',
        message: `No board has hole ${hole}, where ${item} goes.`,
        where: [],
        notes: [{ text: 'The layout was made for other boards than the build now has, or was edited by hand.' }],
        help: 'Lay the machine out again, or correct the place in layout.json.',
        about: [item],
      });
    };
    for (const part of target.parts.values()) for (const [, hole] of part.leads) check(hole, part.part);
    for (const wire of target.wires.values()) for (const hole of [wire.from, wire.to]) check(hole, `wire ${wire.wire}`);
  }

  /** Leads one after the other, each with its ways in order. */
  private leadPlace(wire: Wire): number {
    const leads = this.input.layout.leads ?? [];
    const at = leads.findIndex((lead) => lead.lead === wire.lead);
    return (at + 1) * ONE_LEAD + (leads[at]?.ways.find((way) => way.wire === wire.id)?.way ?? ONE_LEAD - 1);
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
          this.maker.make(`detach|${key}|${lead.net}`, stage, info, {
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
    const pods = [...new Set(this.input.design.leads.map((hook) => hook.pod))];
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
      const step = this.maker.make(`attach|${key}|${hook.net}`, own.number, own, {
        do: 'attach',
        group: 'leads',
        lead: hook.pod,
        channel: hook.channel,
        net: hook.net,
        ...(hole !== undefined ? { to: words.end(hole) } : {}),
        text: `Hang ${hook.pod}, channel ${hook.channel} (from 0), on ${hook.net}${hole === undefined ? '' : ` at ${hole}`}.`,
        facts: [fact],
      });
      // Pod by pod, once the leads are in.
      const pod = pods.indexOf(hook.pod);
      later.push({ step, first: (pod + 1) * ONE_LEAD * ONE_LEAD + hook.channel, length: 0 });
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
          const out = this.maker.partOut(there, stage, info, 'take out', words, `to be programmed with ${wanted.file}`);
          first.push(draft(out));
          before.push(out.id);
          // Out of its place it is not part of the difference, which then puts it back, here or where it now belongs.
          const parts = new Map(this.state.parts);
          parts.delete(part.part);
          this.state = { parts, wires: this.state.wires };
          this.everIn.add(part.part);
        }
        const program = this.maker.program(device, part.type, wanted, own, ownInfo, {
          part: part.part,
          inPlace: isIn && !goesOut,
          needs: [...before],
        });
        later.push({ step: program, first: later.length, length: 0 });
        before.push(program.id);
        needs.set(part.part, [program.id]);
      }
      // A label has room for the file's own name, not for its folders.
      const text = `${device} ${image.file.slice(image.file.lastIndexOf('/') + 1)}${image.sum === undefined ? '' : ` ${image.sum}`}`;
      if (this.labels.get(device) === text) continue;
      this.labels.set(device, text);
      const label = this.maker.make(`label|${device}|${text}`, own, ownInfo, {
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

  /** Voltage and polarity at the rails of a stage, while no chip is in that could be harmed. */
  private railsCheck(stage: number, info: StageInfo, hasRails: boolean, needs: readonly string[]): Step | undefined {
    const { built } = this.input;
    if (!hasRails || [...this.state.parts.values()].some((part) => part.leads.length > 2)) return undefined;
    const step = this.maker.make(`measure|rails|${info.name}`, stage, info, {
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
    const check = this.maker.make(`measure|check|${info.name}|${benchPrint(target)}`, stage, info, {
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
            text: `${text.given === '' ? 'E' : `Given ${plain(text.given)}, e`}xpect ${plain(text.expect)}.`,
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

/** `supply: 4.2 V` as one would say it. */
const plain = (terms: string): string => terms.replaceAll(': ', ' ');

function draft(step: Step): Draft {
  return { step, first: 0, length: 0 };
}
