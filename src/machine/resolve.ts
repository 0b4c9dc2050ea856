// Names looked up among the machine's own declarations: parts, stages, supplies and buses that are named must be there, and
// each part comes and goes once at a time. Works on the merged machine; blocks have become parts by now.

import { type Finding, foldName, type Span } from '../base/index.ts';
import { report, suggest } from './cursor.ts';
import type { BlockInstance, Lifetime, Machine, NameRef, PartDecl, PinRef, StageDecl } from './model.ts';
import { checkConnections } from './connections.ts';
import { readExpect, readGiven } from './proof-words.ts';
import { given } from './read-parts.ts';

/** The name of the only stage of a machine that declares none. */
export const ONLY_STAGE = 'all';

interface Index {
  readonly machine: Machine;
  readonly findings: Finding[];
  /** Folded name to the name as declared. */
  readonly parts: ReadonlyMap<string, PartDecl>;
  /** Copies by folded name of the copy, and all copies of a use by the use's. */
  readonly blocks: ReadonlyMap<string, readonly BlockInstance[]>;
  readonly stages: ReadonlyMap<string, number>;
  /** How many more names may be searched for a near one; a file full of strange names gets no more after that. */
  readonly searches: { left: number };
}

/** `suggest`, as long as there are searches left. */
function near(index: Index, ref: NameRef, known: readonly string[]): ReturnType<typeof suggest> {
  if (index.searches.left-- <= 0) return { said: '.' };
  return suggest(ref.name, known, ref.span);
}

/** Checks `machine`, adds findings, and returns it with its stages and parts put right as far as they can be. */
export function resolveMachine(
  machine: Machine,
  findings: Finding[],
  knownCodes: readonly string[] | undefined,
  nowhere: Span,
): Machine {
  const parts = uniqueParts(machine, findings);
  const stages = new Map<string, number>();
  machine.stages.forEach((stage, index) => {
    if (stage.name !== '' && !stages.has(foldName(stage.name))) stages.set(foldName(stage.name), index);
  });
  const blocks = new Map<string, BlockInstance[]>();
  for (const block of machine.blocks) {
    for (const name of new Set([foldName(block.name), foldName(block.use)])) {
      const list = blocks.get(name);
      if (list === undefined) blocks.set(name, [block]);
      else list.push(block);
    }
  }
  const index: Index = { machine, findings, parts, blocks, stages, searches: { left: 200 } };
  checkNames(index);
  checkLifetimes(index);
  const supplies = machine.supplies.length > 0 ? machine.supplies : assumedSupply(machine, findings, nowhere);
  const kept = { ...machine, supplies, parts: [...parts.values()] };
  checkSupplies({ ...index, machine: kept });
  const staged = { ...kept, stages: machine.stages.length === 0 ? onlyStage(kept) : resolveStages(index) };
  checkConnections(kept, stages, findings);
  checkProofs({ ...index, machine: staged });
  checkPlacement(staged, index);
  checkWaivers(staged, findings, knownCodes);
  return staged;
}

function uniqueParts(machine: Machine, findings: Finding[]): Map<string, PartDecl> {
  const parts = new Map<string, PartDecl>();
  const uses = new Map<string, BlockInstance>();
  for (const block of machine.blocks) uses.set(foldName(block.use), block).set(foldName(block.name), block);
  for (const part of machine.parts) {
    const key = foldName(part.name);
    const before = parts.get(key);
    const use = uses.get(key);
    if (before === undefined) parts.set(key, part);
    if (before !== undefined) {
      report(
        findings,
        'duplicate-name',
        before.name === part.name
          ? `There are two parts named ${part.name}.`
          : `${part.name} and ${before.name} are the same name for two parts; case makes no difference.`,
        part.span,
        {
          notes: [
            { text: 'The first one stands here; it is used.', span: before.span },
            ...[before, part].flatMap(({ block }) => {
              const made = block === undefined ? undefined : uses.get(foldName(block));
              return made === undefined ? [] : [{ text: `One of them comes with ${made.name}.`, span: made.span }];
            }),
          ],
          help: 'Give one of them another name.',
          about: [part.name],
        },
      );
    } else if (use !== undefined) {
      report(findings, 'duplicate-name', `${part.name} is both a part and a use of a block.`, part.span, {
        notes: [{ text: 'The block is used here.', span: use.span }],
        help: 'Give one of them another name.',
        about: [part.name],
      });
    }
  }
  return parts;
}

function assumedSupply(machine: Machine, findings: Finding[], span: Span): Machine['supplies'] {
  const place = machine.parts[0]?.span ?? span;
  if (machine.parts.length > 0)
    report(findings, 'no-supply', 'No supply is declared; 5 V within 5 %, named main, is assumed.', place, {
      severity: 'warning',
      help: 'Write supplies: { main: { volts: 5 V, tolerance: 5 %, limit: 1 A } }.',
    });
  return [{ name: 'main', volts: 5, tolerance: 0.05, span: place }];
}

/** Without stages the whole machine is one. */
function onlyStage(machine: Machine): StageDecl[] {
  if (machine.parts.length === 0) return [];
  return [
    {
      name: ONLY_STAGE,
      adds: machine.parts.map((part) => ({ name: part.name, span: part.span })),
      removes: [],
      replaces: [],
      moves: [],
      temporary: [],
      leads: [],
      programs: [],
      notes: [],
      prove: [],
      span: machine.parts[0]!.span,
    },
  ];
}

/** Names in a row, the first dozen of them. */
function list(names: readonly string[]): string {
  if (names.length === 0) return 'none';
  return names.slice(0, 12).join(', ') + (names.length > 12 ? ', and others' : '');
}

/** The copy of a block in whose file `ref` stands, if any: there the part has another, shorter name. */
function copyAround(index: Index, ref: NameRef): BlockInstance | undefined {
  let around: BlockInstance | undefined;
  for (const block of index.machine.blocks) {
    if (block.span.file === ref.span.file || block.name.length <= (around?.name.length ?? 0)) continue;
    if (foldName(ref.name).startsWith(`${foldName(block.name)}-`)) around = block;
  }
  return around;
}

function unknownPart(index: Index, ref: NameRef, blocksToo = false): void {
  const around = copyAround(index, ref);
  if (around !== undefined) {
    const strip = around.name.length + 1;
    const inner = { name: ref.name.slice(strip), span: ref.span };
    const more = near(
      index,
      inner,
      around.parts.map((name) => name.slice(strip)),
    );
    report(
      index.findings,
      'unknown-part',
      `The block ${around.block} has no part ${inner.name}${more.said}`,
      ref.span,
      {
        ...given('fixes', more.fixes),
        about: [ref.name],
      },
    );
    return;
  }
  const known = [...index.parts.values()].map((part) => part.name);
  if (blocksToo) known.push(...index.machine.blocks.map((block) => block.use));
  const more = near(index, ref, known);
  const isBlock = index.blocks.has(foldName(ref.name));
  report(
    index.findings,
    'unknown-part',
    isBlock ? `${ref.name} is a block; one of its parts is wanted here.` : `There is no part ${ref.name}${more.said}`,
    ref.span,
    {
      ...(isBlock
        ? { help: `Its parts: ${list(index.blocks.get(foldName(ref.name))?.[0]?.parts ?? [])}.` }
        : { help: 'Parts are declared under `parts`.', ...given('fixes', more.fixes) }),
      about: [ref.name],
    },
  );
}

function wantPart(index: Index, ref: NameRef | undefined): void {
  if (ref !== undefined && !index.parts.has(foldName(ref.name))) unknownPart(index, ref);
}

/** The part of a pin: the fix replaces only the part's name. */
function wantPinPart(index: Index, pin: PinRef): void {
  if (index.parts.has(foldName(pin.part))) return;
  const { span } = pin;
  // In a block's file the part is written without the name of the copy.
  const copy = copyAround(index, { name: pin.part, span });
  const length = pin.part.length - (copy === undefined ? 0 : copy.name.length + 1);
  unknownPart(index, { name: pin.part, span: { ...span, end: Math.min(span.end, span.start + length) } });
}

/** Nets named as PART.PIN. */
function wantNets(index: Index, refs: readonly NameRef[]): void {
  for (const ref of refs) {
    const dot = ref.name.indexOf('.');
    if (dot > 0) wantPinPart(index, { part: ref.name.slice(0, dot), pin: '', span: ref.span });
  }
}

function checkNames(index: Index): void {
  const { machine } = index;
  const buses = new Set(machine.buses.map((bus) => foldName(bus.name)));
  for (const clock of machine.clocks) if (clock.from !== undefined) wantPinPart(index, clock.from);
  for (const bus of machine.buses) {
    wantPart(index, bus.processor);
    for (const ref of [...bus.members, ...bus.selects]) wantPart(index, ref);
    for (const { part } of bus.masters) wantPart(index, part);
  }
  for (const entry of machine.map) {
    wantPart(index, entry.part);
    if (entry.bus !== undefined && !buses.has(foldName(entry.bus.name))) {
      const more = near(
        index,
        entry.bus,
        machine.buses.map((bus) => bus.name),
      );
      report(index.findings, 'unknown-bus', `There is no bus ${entry.bus.name}${more.said}`, entry.bus.span, {
        ...given('fixes', more.fixes),
      });
    }
  }
  for (const net of machine.nets) for (const pin of net.pins) wantPinPart(index, pin);
  for (const tie of machine.ties) for (const pin of tie.pins) if ('part' in pin) wantPinPart(index, pin);
  for (const logic of machine.logic) wantPart(index, logic.in?.part);
  for (const one of machine.classes) wantNets(index, one.nets);
  for (const stage of machine.stages) {
    for (const { part } of stage.programs) wantPart(index, part);
    for (const part of stage.replaces) wantPart(index, part);
    for (const strap of stage.temporary) wantNets(index, strap.nets);
    for (const lead of stage.leads) wantNets(index, lead.nets);
  }
}

function unknownStage(index: Index, ref: NameRef): void {
  const more = near(
    index,
    ref,
    index.machine.stages.map((stage) => stage.name),
  );
  report(index.findings, 'unknown-stage', `There is no stage ${ref.name}${more.said}`, ref.span, {
    help: `Stages: ${list(index.machine.stages.map((stage) => stage.name))}.`,
    ...given('fixes', more.fixes),
  });
}

function checkLifetimes(index: Index): void {
  const { machine, stages } = index;
  const told = new Set<string>();
  const want = (ref: NameRef | undefined): number | undefined => {
    if (ref === undefined) return undefined;
    const at = stages.get(foldName(ref.name));
    const key = `${ref.span.file} ${ref.span.start}`;
    if (at === undefined && !told.has(key)) {
      told.add(key);
      unknownStage(index, ref);
    }
    return at;
  };
  const lives: Lifetime[] = [machine.buses, machine.map, machine.nets, machine.ties, machine.logic].flatMap((list) =>
    list.map((item) => item.lifetime),
  );
  const early = (until: NameRef, message: string, note: { text: string; span: Span }): void => {
    const key = `${until.span.file} ${until.span.start} early`;
    if (told.has(key)) return;
    told.add(key);
    report(index.findings, 'bad-lifetime', message, until.span, {
      notes: [note],
      help: '`from` names the first stage with it, `until` the first one without it.',
    });
  };
  for (const life of lives) {
    const from = want(life.from);
    const until = want(life.until);
    if (life.until === undefined || until === undefined) continue;
    if (from !== undefined && life.from !== undefined && until <= from)
      early(life.until, `The stage ${life.until.name} does not come after ${life.from.name}: this holds in no stage.`, {
        text: 'From here.',
        span: life.from.span,
      });
    else if (life.from === undefined && until === 0)
      early(life.until, `${life.until.name} is the first stage: this holds in no stage.`, {
        text: 'The stage stands here.',
        span: machine.stages[0]!.span,
      });
  }
  machine.stages.forEach((stage, number) => {
    for (const item of [...stage.temporary, ...stage.leads]) {
      const until = want(item.until);
      if (item.until !== undefined && until !== undefined && until <= number)
        early(item.until, `The stage ${item.until.name} does not come after ${stage.name}, where this is put in.`, {
          text: 'The stage stands here.',
          span: stage.span,
        });
    }
  });
}

function checkSupplies(index: Index): void {
  const { machine } = index;
  const known = new Set(machine.supplies.map((one) => foldName(one.name)));
  const want = (ref: NameRef | undefined): void => {
    if (ref === undefined || known.has(foldName(ref.name))) return;
    const more = near(
      index,
      ref,
      machine.supplies.map((one) => one.name),
    );
    report(index.findings, 'unknown-supply', `There is no supply ${ref.name}${more.said}`, ref.span, {
      help: `Supplies: ${list(machine.supplies.map((one) => one.name))}.`,
      ...given('fixes', more.fixes),
    });
  };
  want(machine.defaults.supply);
  for (const part of machine.parts) want(part.supply);
  for (const tie of machine.ties) want(tie.supply);
  for (const stage of machine.stages) for (const part of stage.replaces) want(part.supply);
}

/** Stages with the names of blocks replaced by their parts. */
function resolveStages(index: Index): StageDecl[] {
  const { machine } = index;
  // A part that a line names itself does not come with its block.
  const own = new Set<string>();
  for (const stage of machine.stages) {
    for (const ref of stage.adds) if (index.parts.has(foldName(ref.name))) own.add(foldName(ref.name));
  }
  const expand = (refs: readonly NameRef[], adding: boolean): NameRef[] =>
    refs.flatMap((ref) => {
      const part = index.parts.get(foldName(ref.name));
      if (part !== undefined) return [{ name: part.name, span: ref.span }];
      const blocks = index.blocks.get(foldName(ref.name));
      if (blocks === undefined) {
        unknownPart(index, ref, true);
        return [];
      }
      return blocks
        .flatMap((block) => partsWithin(index, block))
        .filter((name) => !adding || !own.has(foldName(name)))
        .map((name) => ({ name, span: ref.span }));
    });
  return machine.stages.map((stage) => ({
    ...stage,
    adds: expand(stage.adds, true),
    removes: expand(stage.removes, false),
    moves: expand(stage.moves, false),
  }));
}

/** The parts of a copy and of the blocks within it. */
function partsWithin(index: Index, block: BlockInstance): string[] {
  return [
    ...block.parts,
    ...block.inner.flatMap((name) =>
      (index.blocks.get(foldName(name)) ?? []).flatMap((inner) => partsWithin(index, inner)),
    ),
  ];
}

/** Parts come and go once at a time, and what happens to one happens while it is there. */
function checkPlacement(machine: Machine, index: Index): void {
  const { findings } = index;
  const present = new Map<string, NameRef & { readonly stage: string }>();
  const ever = new Set<string>();
  const first = new Map<string, BlockInstance>();
  for (const block of machine.blocks) if (!first.has(block.use)) first.set(block.use, block);
  const useOf = new Map(machine.blocks.map((block) => [block.name, first.get(block.use)!]));
  const inStage = (stage: StageDecl): string => (stage.name === '' ? 'this stage' : stage.name);
  for (const stage of machine.stages) {
    // Takes out before it puts in: a stage may exchange one part for another in the same place.
    const gone = (ref: NameRef, does: string): void => {
      const key = foldName(ref.name);
      if (!index.parts.has(key) || present.has(key)) return;
      report(
        findings,
        'part-not-there',
        `${inStage(stage)} ${does} ${ref.name}, which ${ever.has(key) ? 'has been taken out again' : 'no stage before it puts in'}.`,
        ref.span,
        { help: 'Put it in first, under `adds` of a stage.', about: [ref.name] },
      );
    };
    for (const ref of stage.removes) gone(ref, 'removes');
    for (const ref of stage.removes) present.delete(foldName(ref.name));
    for (const ref of stage.moves) gone(ref, 'moves');
    for (const part of stage.replaces) gone(part, 'replaces');
    for (const ref of stage.adds) {
      const key = foldName(ref.name);
      const before = present.get(key);
      if (before !== undefined) {
        report(findings, 'part-added-twice', `${ref.name} is in already, since ${before.stage}.`, ref.span, {
          notes: [{ text: 'It is put in here.', span: before.span }],
          help: 'Take one of the two out of `adds`, or let a stage between them remove it.',
          about: [ref.name],
        });
        continue;
      }
      present.set(key, { ...ref, stage: inStage(stage) });
      ever.add(key);
    }
    for (const { part } of stage.programs) gone(part, 'programs');
  }
  const missing = machine.parts.filter((part) => !ever.has(foldName(part.name)));
  // A block's parts are told of together, at its use: there the remedy is.
  const byUse = new Map<BlockInstance, PartDecl[]>();
  for (const part of missing) {
    const use = useOf.get(part.block ?? '');
    if (use === undefined) continue;
    const parts = byUse.get(use);
    if (parts === undefined) byUse.set(use, [part]);
    else parts.push(part);
  }
  const told = new Set(
    findings.filter(({ code }) => code === 'machine/block-stage-unplaced').map(({ where }) => where[0]),
  );
  for (const [use, parts] of byUse) {
    if (told.has(use.span)) continue;
    const names = parts.map((part) => part.name);
    report(findings, 'part-in-no-stage', `No stage puts in ${list(names)} of the block ${use.block}.`, use.span, {
      severity: 'warning',
      help: `Name ${use.use} under \`adds\` of the stage that puts it in.`,
      about: names,
    });
  }
  for (const part of missing) {
    if (useOf.has(part.block ?? '')) continue;
    report(findings, 'part-in-no-stage', `${part.name} is put in by no stage.`, part.span, {
      severity: 'warning',
      help: 'Name it under `adds` of the stage that puts it in.',
      about: [part.name],
    });
  }
}

function checkProofs(index: Index): void {
  const supplies = new Set(index.machine.supplies.map((one) => foldName(one.name)));
  const clocks = new Set(index.machine.clocks.map((one) => foldName(one.name)));
  for (const stage of index.machine.stages) {
    for (const proof of stage.prove) {
      for (const [terms, read] of [
        [proof.given, readGiven],
        [proof.expect, readExpect],
      ] as const) {
        for (const term of terms) {
          const names = read(term.key, term.value);
          if (typeof names === 'string') continue;
          if (names.part !== undefined) wantPart(index, { name: names.part, span: term.valueSpan });
          if (names.net?.includes('.') === true)
            wantNets(index, [{ name: names.net, span: term.key === names.net ? term.keySpan : term.valueSpan }]);
          if (names.supply !== undefined && !supplies.has(foldName(names.supply)))
            report(index.findings, 'unknown-supply', `There is no supply ${names.supply}.`, term.valueSpan, {
              help: `Supplies: ${list(index.machine.supplies.map((one) => one.name))}.`,
            });
          if (names.clock !== undefined && !clocks.has(foldName(names.clock)))
            report(index.findings, 'unknown-clock', `There is no clock ${names.clock}.`, term.valueSpan, {
              help: 'Clocks are declared under `clocks`.',
            });
        }
      }
    }
  }
}

function checkWaivers(machine: Machine, findings: Finding[], knownCodes: readonly string[] | undefined): void {
  if (knownCodes === undefined) return;
  const known = new Set(knownCodes);
  for (const { code } of machine.waivers) {
    if (known.has(code.name)) continue;
    const more = suggest(code.name, knownCodes, code.span);
    report(findings, 'unknown-code', `No finding has the code ${code.name}${more.said}`, code.span, {
      severity: 'warning',
      ...given('fixes', more.fixes),
    });
  }
}
