// One build of a machine: its folder, layout, journal and plan. Everything here is derived; hosts do the writing.

import { type Finding, foldName, nearestName, type Result } from '../base/index.ts';
import {
  type Exchange,
  exchangePins,
  type HoleName,
  type Layout,
  type LayoutChoices,
  NO_CHOICES,
  proveLayout,
  readChoices,
  readLayout,
  stripOfHole,
} from '../board/index.ts';
import { check } from '../check/index.ts';
import type { Machine, PartDecl } from '../machine/index.ts';
import { type Design, elaborate, netlistAt } from '../netlist/index.ts';
import type { Library } from '../parts/index.ts';
import {
  type BenchFacts,
  benchFacts,
  type Built,
  builtState,
  EMPTY_BUILT,
  type Journal,
  type ProofState,
  planSteps,
  proofBasis,
  proofId,
  proofStates,
  readJournal,
  type Step,
  type StepPlan,
  type WantedImage,
} from '../stage/index.ts';
import { type Instead, readInstead } from '../stock/index.ts';
import { compileDevices, revisionAt } from './decode.ts';
import { applyWaivers } from './findings.ts';
import { imageFiles, imageOf, sumOf } from './images.ts';
import type { Project } from './project.ts';

export class Build {
  readonly project: Project;
  readonly name: string;
  readonly folder: string;

  constructor(project: Project, name: string) {
    this.project = project;
    this.name = name;
    this.folder = `builds/${name}`;
  }

  get layoutPath(): string {
    return `${this.folder}/layout.json`;
  }

  get journalPath(): string {
    return `${this.folder}/journal.jsonl`;
  }

  get choicesPath(): string {
    return `${this.folder}/boards.yaml`;
  }

  /** The builder's layout choices; none where there is no boards.yaml. */
  choices(): Result<LayoutChoices> {
    const text = this.project.text(this.choicesPath);
    return this.project.memo(`choices ${this.name}`, [text], () =>
      text === undefined ? { value: NO_CHOICES, findings: [] } : readChoices(this.choicesPath, text),
    );
  }

  /** The machine as this build makes it, with the types that its stock.yaml puts in the place of others. */
  machine(): Result<Machine> {
    const machine = this.project.machine().value;
    const path = `${this.folder}/stock.yaml`;
    const text = this.project.text(path);
    return this.project.memo(`machine ${this.name}`, [machine, text], () =>
      text === undefined ? { value: machine, findings: [] } : substitute(machine, readInstead(path, text)),
    );
  }

  /** The design of that machine, before the layout exchanges any pin; findings are those that the substitutes bring. */
  ownDesign(): Result<Design> {
    const machine = this.machine();
    const library = this.project.library().value;
    if (machine.value === this.project.machine().value)
      return { value: this.project.design().value, findings: machine.findings };
    return this.project.memo(`own design ${this.name}`, [machine, library], () => {
      const design = elaborate(machine.value, library);
      const key = (finding: Finding): string => `${finding.code} ${(finding.about ?? []).join(' ')}`;
      const before = new Set(this.project.findings().map(key));
      const all = applyWaivers(
        [...design.findings, ...check(design.value, machine.value, library)],
        machine.value.waivers,
      );
      return {
        value: design.value,
        findings: [...machine.findings, ...all.findings.filter((finding) => !before.has(key(finding)))],
      };
    });
  }

  /**
   * The design as this build makes it: pins that the layout exchanged (address lines of a RAM, elements of a latch, inputs of a
   * programmable device) are exchanged in the netlists and in the device plans.
   */
  design(): Design {
    const design = this.ownDesign().value;
    const exchanges = this.layout().value?.exchanges;
    return this.project.memo(`design ${this.name}`, [design, exchanges], () =>
      exchanges === undefined ? design : exchangeDesign(design, exchanges, this.project.library().value),
    );
  }

  /** The stored layout, or undefined where nothing has been laid yet. */
  layout(): Result<Layout | undefined> {
    const text = this.project.text(this.layoutPath);
    return this.project.memo(`layout ${this.name}`, [text], () =>
      text === undefined ? { value: undefined, findings: [] } : readLayout(this.layoutPath, text),
    );
  }

  /** What is wrong between the layout's holes and the netlist, at every stage. */
  proof(): readonly Finding[] {
    const layout = this.layout().value;
    const design = this.design();
    return this.project.memo(`proof ${this.name}`, [layout, design], () =>
      layout === undefined ? [] : proveLayout(layout, design.netlists),
    );
  }

  /** One finding where the stored layout no longer is the design, with a few of the differences. */
  stale(): readonly Finding[] {
    // A difference that stands at several stages is one difference.
    const differences = [...new Set(this.proof().map((finding) => finding.message))];
    if (differences.length === 0) return [];
    return [
      {
        code: 'layout/out-of-date',
        severity: 'error',
        message: `The layout in ${this.layoutPath} is not this design: ${differences.length} ${differences.length === 1 ? 'difference' : 'differences'}.`,
        where: [],
        notes: differences.slice(0, 3).map((text) => ({ text })),
        help: 'Run `lay`: what still fits stays where it is.',
      },
    ];
  }

  /** The programmable devices, compiled: every revision over the stages. */
  devices(): ReturnType<typeof compileDevices> {
    const design = this.design();
    const library = this.project.library().value;
    const machine = this.machine().value;
    const own = machine.parts.map((part) => (part.uses === undefined ? undefined : this.project.text(part.uses.name)));
    return this.project.memo(`devices ${this.name}`, [design, library, machine, ...own], () =>
      compileDevices(design, library, machine, (path) => this.project.text(path)),
    );
  }

  /** Where a device's fuse file lies, as a path in the project. */
  fusePath(file: string): string {
    return `${this.folder}/fuses/${file}`;
  }

  journal(): Result<Journal> {
    const text = this.project.text(this.journalPath) ?? '';
    const machine = this.project.machine().value.name;
    return this.project.memo(`journal ${this.name}`, [text, machine], () =>
      readJournal(this.journalPath, text, { machine, build: this.name }),
    );
  }

  built(): Result<Built> {
    const journal = this.journal().value;
    return this.project.memo(`built ${this.name}`, [journal], () => builtState(journal.records));
  }

  /** The plan up to and including a stage; undefined where there is no layout. */
  plan(stage: number, fit: 'as-laid' | 'jumpers' | 'fitted' = 'as-laid'): Result<StepPlan> | undefined {
    const layout = this.layout().value;
    if (layout === undefined) return undefined;
    const design = this.design();
    const built = this.built().value;
    const facts = this.facts()!;
    return this.project.memo(
      `plan ${this.name} ${stage} ${fit}`,
      [layout, design, built, ...this.#imageTexts()],
      () => {
        const stale = new Set(
          this.proofs()
            .filter((proof) => proof.status === 'stale')
            .map((proof) => proof.id),
        );
        return planSteps({
          design,
          layout,
          built,
          stage,
          rules: facts.rules,
          onRail: facts.onRail,
          probeHole: facts.probeHole,
          image: this.#image,
          fit,
          isStale: (proof) => stale.has(proof),
        });
      },
    );
  }

  /** The plan of all stages from an empty bench: every step there will be, done or not. */
  wholePlan(): Result<StepPlan> | undefined {
    const layout = this.layout().value;
    if (layout === undefined) return undefined;
    const design = this.design();
    const { rules, onRail, probeHole } = this.facts()!;
    return this.project.memo(`whole plan ${this.name}`, [layout, design, ...this.#imageTexts()], () =>
      planSteps({
        design,
        layout,
        built: EMPTY_BUILT,
        stage: design.stages.length,
        rules,
        onRail,
        probeHole,
        image: this.#image,
      }),
    );
  }

  /** What the plans ask of boards and records; undefined where there is no layout. */
  facts(): BenchFacts | undefined {
    const layout = this.layout().value;
    const design = this.design();
    return layout === undefined
      ? undefined
      : this.project.memo(`facts ${this.name}`, [layout, design], () => benchFacts(design, layout));
  }

  /** Every proof of the design and whether it still stands; none where there is no layout. */
  proofs(): readonly ProofState[] {
    const layout = this.layout().value;
    const facts = this.facts();
    if (layout === undefined || facts === undefined) return [];
    const design = this.design();
    const { records } = this.journal().value;
    return this.project.memo(`proofs ${this.name}`, [layout, design, records], () =>
      proofStates({ design, layout, records, stripOf: facts.rules.stripOf, onRail: facts.onRail }),
    );
  }

  /** What a measure step's proof rests on, to be recorded with it. */
  basisOf(step: Step): string | undefined {
    const design = this.design();
    const info = design.stages[step.stage - 1];
    if (info === undefined) return undefined;
    const proof = info.decl.prove.find((candidate) => proofId(info.name, candidate) === step.id);
    return proof === undefined ? undefined : proofBasis(design, step.stage, proof);
  }

  /** The texts of every file that some memory is programmed with: what a plan rests on beside layout and design. */
  #imageTexts(): readonly (string | undefined)[] {
    return imageFiles(this).map((file) => this.project.text(file));
  }

  /** What a part is to hold as of a stage: its fuse revision, or the file that the machine file names. */
  readonly #image = (part: string, stage: number): WantedImage | undefined => {
    const design = this.design();
    const revision = revisionAt(this.devices().revisions, part, stage);
    if (revision?.result !== undefined) {
      const { compiled } = revision.result;
      return {
        file: this.fusePath(revision.file),
        bytes: compiled.text.length,
        sum: compiled.checksum.toString(16).toUpperCase().padStart(4, '0'),
      };
    }
    const memory = netlistAt(design, stage).parts.find((item) => foldName(item.name) === foldName(part));
    const held = memory === undefined ? undefined : imageOf(this, memory, stage);
    if (held === undefined) return undefined;
    if (held.bytes === undefined) return { file: held.file };
    return {
      file: held.file,
      bytes: held.bytes.length,
      sum: sumOf(held.bytes).toString(16).toUpperCase().padStart(4, '0'),
    };
  };
}

/** The machine with other types in the place of some parts; an unknown part is a finding. */
function substitute(machine: Machine, instead: readonly Instead[]): Result<Machine> {
  if (instead.length === 0) return { value: machine, findings: [] };
  const findings: Finding[] = [];
  const byName = new Map<string, Instead>();
  const names = [...machine.parts, ...machine.stages.flatMap((stage) => stage.replaces)].map((part) => part.name);
  for (const item of instead) {
    if (names.some((name) => foldName(name) === foldName(item.part))) byName.set(foldName(item.part), item);
    else {
      const near = nearestName(item.part, names);
      findings.push({
        code: 'stock/unknown-part',
        severity: 'error',
        message: `The machine has no part ${item.part}${near === undefined ? '.' : `; did you mean ${near}?`}`,
        where: [item.span],
        notes: [],
        help: 'Name a part of the machine file under `instead`.',
        about: [item.part],
      });
    }
  }
  const put = (part: PartDecl): PartDecl => {
    const item = byName.get(foldName(part.name));
    if (item === undefined) return part;
    const { grade: _grade, family: _family, ...rest } = part;
    return {
      ...rest,
      type: item.type,
      typeSpan: item.span,
      ...(item.grade === undefined ? {} : { grade: { name: item.grade, span: item.span } }),
      ...(item.value === undefined ? {} : { value: { name: item.value, span: item.span } }),
    };
  };
  const stages = machine.stages.map((stage) => ({ ...stage, replaces: stage.replaces.map(put) }));
  return { value: { ...machine, parts: machine.parts.map(put), stages }, findings };
}

/** The design with a layout's exchanges made, device plans included. */
export function exchangeDesign(design: Design, exchanges: readonly Exchange[], library: Library): Design {
  const exchanged = exchangePins(design, exchanges);
  const devices = exchanged.devices.map((plan) => {
    const exchange = exchanges.find(
      (candidate) => foldName(candidate.part) === foldName(plan.part) && candidate.type === plan.type,
    );
    const record = library.find(plan.type)?.record;
    if (exchange === undefined || record === undefined) return plan;
    const to = new Map(exchange.pins);
    const moved = (pin: string): string => {
      const row = record.pins.find((candidate) => candidate.name === pin);
      const target = row === undefined ? undefined : to.get(row.number);
      return target === undefined ? pin : (record.pins.find((candidate) => candidate.number === target)?.name ?? pin);
    };
    return {
      ...plan,
      inputs: plan.inputs.map((input) => ({ ...input, pin: moved(input.pin) })),
      outputs: plan.outputs.map((output) => ({ ...output, pin: moved(output.pin) })),
    };
  });
  return { ...exchanged, devices };
}

/** The strip of a hole on a layout's boards; empty where there is no such hole. */
export function stripIn(layout: Layout, hole: HoleName): string {
  return stripOfHole(hole, (board) => layout.boards.find((placed) => placed.board === board)?.kind) ?? '';
}

/** The names of a project's builds, sorted. */
export function buildNames(project: Project): string[] {
  return [...new Set(project.paths().flatMap((path) => /^builds\/([^/]+)\//.exec(path)?.[1] ?? []))].sort();
}

/** The build that `name` means: the only one, or `first` where there is none yet; undefined where the choice is open or unknown. */
export function chooseBuild(project: Project, name: string | undefined): Build | undefined {
  const names = buildNames(project);
  if (name !== undefined) {
    if (!/^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u.test(name)) return undefined;
    return new Build(project, names.find((known) => foldName(known) === foldName(name)) ?? name);
  }
  if (names.length === 0) return new Build(project, 'first');
  return names.length === 1 ? new Build(project, names[0]!) : undefined;
}

/** Pins and nets of placed parts as of a stage, for `lay` and the book. */
export function partDetails(
  build: Build,
  stage: number,
): ReadonlyMap<
  string,
  {
    readonly value: string | null;
    readonly grade: string | null;
    readonly holds: string | null;
    readonly pinNames: ReadonlyMap<number, string>;
    readonly pinNets: ReadonlyMap<number, string>;
  }
> {
  const netlist = netlistAt(build.design(), stage);
  return new Map(
    netlist.parts.map((part) => {
      const pins = part.pins.map((id) => netlist.pins[id]!);
      return [
        foldName(part.name),
        {
          value: part.value ?? null,
          grade: part.grade ?? null,
          holds: part.holds ?? null,
          pinNames: new Map(pins.map((pin) => [pin.number, pin.ref.slice(part.name.length + 1)])),
          pinNets: new Map(pins.filter((pin) => pin.net >= 0).map((pin) => [pin.number, netlist.nets[pin.net]!.name])),
        },
      ] as const;
    }),
  );
}
