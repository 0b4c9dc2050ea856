// Answers what the page asks, from the project that the worker holds. No DOM and no clock: the worker file around it does
// the talking, and tests call it as it is.

import {
  buildNames,
  type ChoiceEdit,
  editChoices,
  netlistAt,
  printLayout,
  rewire,
  type Shipped,
  stageStates,
} from '../../app/index.ts';
import { compareNatural } from '../../base/index.ts';
import { frontsOf } from '../../drawing/index.ts';
import type { AskName, Asks, FindEntry, FindingsNews, ModelNews, ReworkAnswer } from '../protocol.ts';
import { address, mapEdit } from './address.ts';
import { Bench } from './bench.ts';
import * as boards from './boards.ts';
import { loom } from './loom.ts';
import * as margins from './margins.ts';
import * as panels from './panels.ts';
import * as plan from './plan.ts';
import * as record from './record.ts';
import * as text from './text.ts';

export interface OpenMessage {
  readonly shipped: unknown;
  readonly main: string;
  readonly build: string | undefined;
  readonly files: Readonly<Record<string, string>>;
}

export class Engine {
  readonly bench: Bench;

  constructor(open: OpenMessage) {
    this.bench = new Bench(open.shipped as Shipped, new Map(Object.entries(open.files)), open.main, open.build);
  }

  /** What typing waits for. */
  findings(): FindingsNews {
    const { bench } = this;
    const hasMachine = bench.project.text(bench.project.main) !== undefined;
    return {
      kind: 'findings',
      version: bench.version,
      findings: hasMachine ? bench.findings() : [],
      waived: hasMachine
        ? bench.project
            .waived()
            .map((entry) => ({ finding: bench.finding(entry.finding), reason: entry.waiver.reason }))
        : [],
    };
  }

  /** The frame's data. */
  model(): ModelNews {
    const { bench } = this;
    const { project, build } = bench;
    const hasMachine = project.text(project.main) !== undefined;
    const stages = hasMachine ? stageStates(build) : [];
    const design = build.design();
    return {
      kind: 'model',
      version: bench.version,
      hasMachine,
      name: design.name,
      about: project.machine().value.about ?? '',
      build: build.name,
      builds: buildNames(project),
      stages,
      fronts: frontsOf(stages),
      reached: build.plan(bench.lastStage())?.value.reached ?? 0,
      hasLayout: build.layout().value !== undefined,
      parts: design.netlists.at(-1)?.parts.length ?? 0,
      lastAct: plan.lastActOf(bench),
    };
  }

  ask<N extends AskName>(name: N, question: Asks[N][0]): Asks[N][1] {
    const handler = this.#handlers[name] as (question: Asks[N][0]) => Asks[N][1];
    return handler(question);
  }

  readonly #handlers: { readonly [N in AskName]: (question: Asks[N][0]) => Asks[N][1] } = {
    boards: (q) => boards.boards(this.bench, q),
    overlay: (q) => boards.overlay(this.bench, q),
    detail: (q) => boards.detail(this.bench, q),
    doubted: (q) => boards.doubted(this.bench, q),
    holeAt: (q) => boards.holeAt(this.bench, q),
    placeOf: (q) => boards.placeOf(this.bench, q),
    address: (q) => address(this.bench, q),
    mapEdit: (q) => mapEdit(this.bench, q),
    net: (q) => panels.net(this.bench, q),
    part: (q) => panels.part(this.bench, q),
    stage: (q) => panels.stage(this.bench, q),
    bus: (q) => panels.bus(this.bench, q),
    plan: (q) => plan.plan(this.bench, q),
    step: (q) => plan.step(this.bench, q),
    index: () => this.#index(),
    loom: (q) => loom(this.bench, q),
    complete: (q) => text.complete(this.bench, q),
    definition: (q) => text.definition(this.bench, q.word),
    references: (q) => text.references(this.bench, q.word),
    rename: (q) => {
      const renamed = text.rename(this.bench, q.word, q.to);
      return typeof renamed === 'string' ? renamed : { edits: [{ title: `Rename ${q.word}`, edits: renamed.edits }] };
    },
    waive: (q) => text.waive(this.bench, q.finding, q.reason),
    choose: (q) => this.#choose(q.edit as ChoiceEdit),
    rework: (q) => this.#rework(q),
    buy: (q) => panels.buy(this.bench, q),
    card: (q) => plan.card(this.bench, q),
    touches: (q) => plan.touches(this.bench, q),
    where: (q) => plan.where(this.bench, q),
    shopping: (q) => panels.shopping(this.bench, q),
    book: () => record.book(this.bench),
    stageSvg: (q) => record.stageSvg(this.bench, q),
    table: (q) => record.table(this.bench, q),
    journal: () => plan.journal(this.bench),
    labels: (q) => record.labels(this.bench, q),
    ghost: (q) => boards.ghost(this.bench, q),
    hole: (q) => boards.hole(this.bench, q),
    entries: (q) => plan.entries(this.bench, q),
    whatChanged: (q) => this.#whatChanged(q.stage),
    margins: (q) => margins.margins(this.bench, q),
    clockAt: (q) => margins.clockAt(this.bench, q),
    cycle: (q) => margins.cycle(this.bench, q),
    railPicture: (q) => margins.railPicture(this.bench, q),
    suspects: (q) => margins.suspects(this.bench, q),
  };

  #choose(edit: ChoiceEdit): { file: string; text: string } | string {
    const file = this.bench.build.choicesPath;
    const before = this.bench.project.text(file) ?? '';
    const edits = editChoices(file, before, edit);
    if (edits === undefined) return `${file} is written in a form that this can't change: edit it by hand.`;
    return { file, text: text.applyEdits(file, before, edits) };
  }

  /** What a part in another place would take: the layout with its place fixed, and the wires that differ. */
  #rework(q: Asks['rework'][0]): ReworkAnswer {
    const { project, build } = this.bench;
    const before = build.layout().value;
    const choice = this.#choose({
      do: 'fix',
      part: q.part,
      at: q.hole,
      rotation: q.rotation as 0 | 90 | 180 | 270,
      ...(q.second === undefined ? {} : { to: q.second }),
    });
    const none = { part: q.part, out: 0, in: 0, metres: 0, layout: undefined, choices: undefined, fits: false };
    if (before === undefined) return { ...none, text: 'Nothing is laid out yet.' };
    if (typeof choice === 'string') return { ...none, text: choice };
    const part = before.parts.find((item) => item.part === q.part);
    const second = part?.leads.length === 2 ? q.second : undefined;
    const opened = rewire(project.design().value, build.choices().value, before, {
      part: q.part,
      at: q.hole,
      ...(second === undefined ? {} : { to: second }),
      rotation: q.rotation as 0 | 90 | 180 | 270,
    });
    const wrong = opened.findings.find((finding) => finding.severity === 'error');
    if (!opened.value.moved || wrong !== undefined)
      return { ...none, text: wrong?.message ?? opened.findings[0]?.message ?? `${q.part} does not fit there.` };
    const after = opened.value.layout;
    const old = new Set(before.wires.map((wire) => wire.id));
    const now = new Set(after.wires.map((wire) => wire.id));
    const coming = after.wires.filter((wire) => !old.has(wire.id));
    const going = before.wires.filter((wire) => !now.has(wire.id));
    const built = build.built().value;
    const undone = going.filter((wire) => built.wires.has(wire.id)).length;
    const metres = coming.reduce((sum, wire) => sum + wire.cutMm, 0) / 1000;
    const total = (list: typeof before.wires): number => list.reduce((sum, wire) => sum + wire.cutMm, 0) / 1000;
    const difference = total(after.wires) - total(before.wires);
    const placed = after.parts.find((part) => part.part === q.part);
    const longer = `${Math.abs(difference).toFixed(2)} m ${difference < 0 ? 'shorter' : 'longer'}`;
    return {
      part: q.part,
      fits: true,
      out: going.length,
      in: coming.length,
      metres,
      layout: printLayout(after),
      choices: choice.text,
      text: `${q.part} with its first pin in ${placed?.leads[0]?.hole ?? q.hole}: ${coming.length} wires lie otherwise, ${longer} in all; ${undone === 0 ? 'nothing on the boards has to come out' : `${undone} wires on the boards have to come out`}.`,
    };
  }

  #whatChanged(stage: number): string {
    return (this.bench.build.plan(stage)?.value.steps ?? [])
      .filter((step) => step.group === 'rework' || step.group === 'take out')
      .map((step) => step.text)
      .join('\n');
  }

  #index(): readonly FindEntry[] {
    const { bench } = this;
    const design = bench.build.design();
    const netlist = netlistAt(design, bench.lastStage());
    const layout = bench.build.layout().value;
    const placed = new Map(layout?.parts.map((part) => [part.part, part]));
    const entries: FindEntry[] = [];
    for (const part of [...netlist.parts].sort((a, b) => compareNatural(a.name, b.name))) {
      const at = placed.get(part.name)?.leads[0]?.hole ?? '';
      entries.push({
        kind: 'part',
        text: part.name,
        more: [part.type, part.value ?? '', at].filter((word) => word !== '').join(', '),
        select: { part: part.name },
      });
    }
    for (const net of [...netlist.nets].sort((a, b) => compareNatural(a.name, b.name)))
      entries.push({
        kind: 'net',
        text: net.name,
        more: `${net.pins.length} pins${net.netClass === undefined ? '' : `, ${net.netClass.name}`}`,
        select: { net: net.name },
      });
    for (const part of netlist.parts) {
      if (part.pins.length < 3) continue;
      for (const id of part.pins) {
        const pin = netlist.pins[id]!;
        const net = netlist.nets[pin.net];
        const hole = placed.get(part.name)?.leads.find((lead) => lead.number === pin.number)?.hole ?? '';
        entries.push({
          kind: 'pin',
          text: `${part.name} ${pin.number} ${pin.name}`,
          more: [net?.name ?? (pin.open ? 'open' : 'on no net'), hole].filter((word) => word !== '').join(', '),
          select: {
            pin: `${part.name}.${pin.number}`,
            part: part.name,
            ...(net === undefined ? {} : { net: net.name }),
          },
        });
      }
    }
    for (const wire of layout?.wires ?? [])
      entries.push({
        kind: 'wire',
        text: `${wire.from} to ${wire.to}`,
        more: `${wire.net}, ${wire.colour} ${wire.cutMm} mm`,
        select: { wire: wire.id, net: wire.net },
      });
    for (const finding of this.findings().findings)
      entries.push({ kind: 'finding', text: finding.message, more: finding.code, select: {}, finding: finding.id });
    return entries;
  }
}
