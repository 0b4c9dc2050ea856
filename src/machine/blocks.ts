// Blocks: each use of one becomes parts, nets and stages of the machine, under names that start with the use's own. A block
// is read once; copies only change names. Spans stay in the block's file; findings made here name the place of use too.

import { foldName, parseFormula, type Formula } from '../base/index.ts';
import { report, suggest } from './cursor.ts';
import { type Budget, type Fragment, type InstanceDecl, type StageDraft, spend } from './fragment.ts';
import type { BlockInstance, Lifetime, LogicDecl, NameRef, PinRef, ProofTerm } from './model.ts';
import { EXPECT_WORDS } from './proof-words.ts';
import { checkName, given } from './read-parts.ts';
import { expandRange } from './words.ts';

/** The name by which a block speaks of the supply that feeds it. */
export const BLOCK_SUPPLY = 'SUPPLY';
const DEEPEST_BLOCKS = 16;

/** What a block needs to know of the machine around it. */
export interface BlockContext {
  readonly budget: Budget;
  /** The machine's own declarations, to which the uses add. Its `stages` are those of the machine, merged. */
  readonly into: Fragment;
  /** Blocks by name; undefined where there is none (reported by the host of this function). */
  readonly find: (instance: InstanceDecl) => Fragment | undefined;
}

interface Waiting {
  readonly instance: InstanceDecl;
  /** Blocks within which this use stands, outermost first. */
  readonly chain: readonly string[];
}

/** Expands every use of a block, blocks within blocks too. Returns the copies made, in order. */
export function expandBlocks(uses: readonly InstanceDecl[], context: BlockContext): BlockInstance[] {
  const made: BlockInstance[] = [];
  const index = indexStages(context.into.stages);
  const queue: Waiting[] = uses.map((instance) => ({ instance, chain: [] }));
  while (queue.length > 0) {
    const waiting = queue.shift()!;
    const { instance } = waiting;
    const { findings } = instance.source;
    const key = foldName(instance.use.name);
    if (waiting.chain.includes(key) || waiting.chain.length >= DEEPEST_BLOCKS) {
      report(
        findings,
        'block-circular',
        waiting.chain.includes(key)
          ? `The block ${instance.use.name} is used within itself.`
          : `Blocks are used within blocks more than ${DEEPEST_BLOCKS} deep.`,
        instance.use.span,
        { notes: [{ text: `The chain of blocks: ${[...waiting.chain, key].join(', ')}.` }] },
      );
      continue;
    }
    const block = context.find(instance);
    if (block === undefined) continue;
    if (instance.quiet !== true) checkJoins(instance, block);
    const chain = [...waiting.chain, key];
    const count = instance.copies ?? 1;
    for (let k = 0; k < count; k++) {
      const number = instance.first + k;
      const name = instance.copies === undefined ? instance.name : `${instance.name}${number}`;
      const size = 1 + block.parts.length;
      const place = { span: instance.span, findings };
      if (!spend(context.budget, 'parts', size, place)) return made;
      if (!spend(context.budget, 'items', sizeOf(block), place)) return made;
      const inner = expandCopy(
        instance,
        block,
        name,
        number,
        { ...context, index },
        k === 0 && instance.quiet !== true,
      );
      made.push(inner.made);
      for (const next of inner.instances) queue.push({ instance: next, chain });
    }
  }
  return made;
}

/** The number of items that a copy adds, at least 1 so that empty blocks cost something too. */
function sizeOf(block: Fragment): number {
  let size = 1 + block.map.length + block.logic.length + block.classes.length + block.clocks.length;
  for (const part of block.parts) size += 1 + part.pins.length;
  for (const net of block.nets) size += 1 + net.pins.length;
  for (const tie of block.ties) size += 1 + tie.pins.length;
  for (const stage of block.stages) size += 1 + stage.adds.length + stage.prove.length + stage.temporary.length;
  return size + block.instances.length;
}

function checkJoins(instance: InstanceDecl, block: Fragment): void {
  const { findings } = instance.source;
  const known = new Set(block.joins.map((join) => foldName(join.name)));
  const names = block.joins.map((join) => join.name);
  let searches = 100;
  for (const { key } of instance.join) {
    if (known.has(foldName(key.name))) continue;
    const more = suggest(key.name, searches-- > 0 ? names : [], key.span);
    report(
      findings,
      'unknown-join',
      `The block ${instance.use.name} has no connection ${key.name}${more.said}`,
      key.span,
      {
        help: names.length === 0 ? 'It has no connections.' : `Its connections: ${names.slice(0, 20).join(', ')}.`,
        ...given('fixes', more.fixes),
      },
    );
  }
  const joined = new Set(instance.join.map(({ key }) => foldName(key.name)));
  const missing = block.joins.filter((join) => join.default === undefined && !joined.has(foldName(join.name)));
  if (missing.length > 0)
    report(
      findings,
      'join-missing',
      `${instance.name} leaves ${missing.length === 1 ? 'a connection' : 'connections'} of the block ${instance.use.name} open: ${missing.map((join) => join.name).join(', ')}.`,
      instance.span,
      {
        notes: missing.slice(0, 20).map((join) => ({ text: `${join.name}: ${join.about}`, span: join.span })),
        help: `Add to join: { ${missing.map((join) => `${join.name}: NET`).join(', ')} }.`,
      },
    );
}

/** How one copy names things. */
interface Renamer {
  readonly part: (name: string) => string;
  readonly net: (name: string) => string;
  readonly lifetime: (life: Lifetime) => Lifetime;
}

/** The name of a net within a copy; a leading slash stays in front. */
function innerNet(copy: string, net: string): string {
  return net.startsWith('/') ? `/${copy}-${net.slice(1)}` : `${copy}-${net}`;
}

function expandCopy(
  instance: InstanceDecl,
  block: Fragment,
  copy: string,
  number: number,
  context: BlockContext & { readonly index: StageIndex },
  first: boolean,
): { made: BlockInstance; instances: InstanceDecl[] } {
  const { into, index } = context;
  const { findings } = instance.source;
  const supply = instance.supply?.name ?? into.defaults?.supply?.name ?? into.supplies[0]?.name ?? 'main';
  const joins = new Map<string, string>();
  const told = new Map(instance.join.map((one) => [foldName(one.key.name), one]));
  for (const join of block.joins) {
    const said = told.get(foldName(join.name));
    const net = said?.net ?? join.default;
    if (net === undefined) continue;
    const outer = net.name.replaceAll('#', String(number));
    if (said !== undefined && outer.includes('.')) {
      if (first)
        report(findings, 'bad-name', `A connection joins a net, and ${outer} is a pin.`, net.span, {
          help: 'Give the pin a net, under `nets` or the `pins` of its part, and name that.',
        });
      continue;
    }
    if (said !== undefined && first && !checkName(instance.source, outer, 'net', net.span)) continue;
    joins.set(foldName(join.name), foldName(outer) === foldName(BLOCK_SUPPLY) ? supply : outer);
  }
  const global = new Set(['gnd', ...into.supplies.map((one) => foldName(one.name))]);
  const part = (name: string): string => `${copy}-${name}`;
  const net = (name: string): string => {
    const dot = name.indexOf('.');
    if (dot > 0) return part(name);
    const key = foldName(name);
    const joined = joins.get(key);
    if (joined !== undefined) return joined;
    if (key === foldName(BLOCK_SUPPLY)) return supply;
    return global.has(key) ? name : innerNet(copy, name);
  };

  const stages = new Map<string, string>();
  for (const role of block.stages) {
    const stage = stageOf(role.name, instance, copy, index, into.stages);
    if (stage !== undefined) stages.set(foldName(role.name), stage);
    else if (first && into.stages.length > 0 && role.name !== '')
      report(
        findings,
        'block-stage-unplaced',
        `${instance.name} does not say in which stage "${role.name}" of the block ${instance.use.name} happens.`,
        instance.span,
        {
          notes: [{ text: 'The stage of the block stands here.', span: role.span }],
          help: `Add stages: { ${role.name}: STAGE }, or add ${instance.name} in a stage.`,
        },
      );
  }
  for (const { role, stage } of first ? instance.stages : []) {
    if (!index.places.has(foldName(stage.name))) {
      const names = into.stages.map((one) => one.name);
      const more = suggest(stage.name, names, stage.span);
      report(findings, 'unknown-stage', `There is no stage ${stage.name}${more.said}`, stage.span, {
        help: `Stages: ${names.slice(0, 12).join(', ')}.`,
        ...given('fixes', more.fixes),
      });
    }
    if (block.stages.some((stage) => foldName(stage.name) === foldName(role.name))) continue;
    const more = suggest(
      role.name,
      block.stages.map((stage) => stage.name),
      role.span,
    );
    report(
      findings,
      'unknown-stage',
      `The block ${instance.use.name} has no stage ${role.name}${more.said}`,
      role.span,
      {
        ...given('fixes', more.fixes),
      },
    );
  }
  const stageRef = (ref: NameRef | undefined): NameRef | undefined => {
    const stage = ref === undefined ? undefined : stages.get(foldName(ref.name));
    return stage === undefined ? undefined : { name: stage, span: ref!.span };
  };
  const rename: Renamer = {
    part,
    net,
    lifetime: (life) => ({
      ...given('from', stageRef(life.from)),
      ...given('until', stageRef(life.until)),
    }),
  };
  const partRef = (ref: NameRef): NameRef => ({ name: part(ref.name), span: ref.span });
  const netRef = (ref: NameRef): NameRef => ({ name: net(ref.name), span: ref.span });
  const pinRef = (pin: PinRef): PinRef => ({ ...pin, part: part(pin.part) });
  const supplyRef = (ref: NameRef | undefined): NameRef | undefined => {
    if (ref !== undefined && foldName(ref.name) !== foldName(BLOCK_SUPPLY)) return ref;
    return instance.supply ?? (ref === undefined ? undefined : { name: supply, span: ref.span });
  };

  const parts: string[] = [];
  for (const decl of block.parts) {
    parts.push(part(decl.name));
    const { supply: own, ...rest } = decl;
    into.parts.push({
      ...rest,
      name: part(decl.name),
      ...given('supply', supplyRef(own)),
      pins: decl.pins.map((pin) => ({ ...pin, net: pin.net === undefined ? undefined : net(pin.net) })),
      block: copy,
    });
  }
  for (const clock of block.clocks) {
    into.clocks.push({
      ...clock,
      name: part(clock.name),
      ...given('from', clock.from === undefined ? undefined : pinRef(clock.from)),
    });
  }
  const ownBuses = new Set(block.buses.map((bus) => foldName(bus.name)));
  for (const bus of block.buses) {
    into.buses.push({
      ...bus,
      name: part(bus.name),
      processor: partRef(bus.processor),
      members: bus.members.map(partRef),
      selects: bus.selects.map((select) => ({ ...select, name: part(select.name) })),
      masters: bus.masters.map((master) => ({ part: partRef(master.part), when: renameText(master.when, net)! })),
      lifetime: rename.lifetime(bus.lifetime),
    });
  }
  for (const entry of block.map) {
    into.map.push({
      ...entry,
      part: partRef(entry.part),
      ...given('when', renameText(entry.when, net)),
      ...given(
        'bus',
        entry.bus !== undefined && ownBuses.has(foldName(entry.bus.name)) ? partRef(entry.bus) : entry.bus,
      ),
      lifetime: rename.lifetime(entry.lifetime),
    });
  }
  for (const decl of block.nets) {
    into.nets.push({
      ...decl,
      name: net(decl.name),
      pins: decl.pins.map(pinRef),
      lifetime: rename.lifetime(decl.lifetime),
    });
  }
  for (const tie of block.ties) {
    const { supply: own, ...rest } = tie;
    into.ties.push({
      ...rest,
      pins: tie.pins.map((pin) => ('part' in pin ? pinRef(pin) : netRef(pin))),
      ...given('supply', supplyRef(own)),
      lifetime: rename.lifetime(tie.lifetime),
    });
  }
  for (const decl of block.logic) into.logic.push(renameLogic(decl, rename));
  for (const decl of block.classes) {
    into.classes.push({ ...decl, name: part(decl.name), nets: decl.nets.map(netRef) });
  }
  for (const role of block.stages) {
    const name = stages.get(foldName(role.name));
    const target = name === undefined ? undefined : index.places.get(foldName(name));
    if (target === undefined) continue;
    const renamed = renameStage(role, rename, stageRef);
    into.stages[target] = mergeStages(into.stages[target]!, renamed);
    noteAdds(index, into.stages[target].name, renamed.adds);
  }
  const instances = block.instances.map((inner): InstanceDecl => {
    const explicit = inner.stages.flatMap(({ role, stage }) => {
      const outer = stageRef(stage);
      return outer === undefined ? [] : [{ role, stage: outer }];
    });
    // A stage of the inner block that bears the name of one of this block's stages happens there.
    const same = block.stages
      .filter((role) => !inner.stages.some((one) => foldName(one.role.name) === foldName(role.name)))
      .flatMap((role) => {
        const outer = stages.get(foldName(role.name));
        return outer === undefined
          ? []
          : [{ role: { name: role.name, span: role.span }, stage: { name: outer, span: role.span } }];
      });
    return {
      ...inner,
      name: part(inner.name),
      join: inner.join.map(({ key, net: outer }) => ({ key, net: netRef(outer) })),
      stages: explicit,
      impliedStages: same,
      quiet: !first,
      ...given('supply', supplyRef(inner.supply)),
    };
  });
  return {
    made: {
      name: copy,
      block: block.name ?? instance.use.name,
      use: instance.name,
      parts,
      inner: block.instances.map((inner) => part(inner.name)),
      joins: block.joins.flatMap(({ name }) => {
        const outer = joins.get(foldName(name));
        return outer === undefined ? [] : [{ join: name, net: outer }];
      }),
      layout: block.layout,
      span: instance.span,
    },
    instances,
  };
}

/** Where the machine's stages and the names that they add are found; kept up as copies add to stages. */
interface StageIndex {
  /** Folded name of a stage to its place. */
  readonly places: Map<string, number>;
  /** Folded name of a part or block to the first stage that adds it. */
  readonly adding: Map<string, string>;
}

function indexStages(stages: readonly StageDraft[]): StageIndex {
  const index: StageIndex = { places: new Map(), adding: new Map() };
  stages.forEach((stage, place) => {
    if (stage.name !== '' && !index.places.has(foldName(stage.name))) index.places.set(foldName(stage.name), place);
    noteAdds(index, stage.name, stage.adds);
  });
  return index;
}

function noteAdds(index: StageIndex, stage: string, adds: readonly NameRef[]): void {
  for (const ref of adds) {
    const key = foldName(ref.name);
    if (!index.adding.has(key)) index.adding.set(key, stage);
  }
}

/** The stage of the machine in which a block's stage happens. */
function stageOf(
  role: string,
  instance: InstanceDecl,
  copy: string,
  index: StageIndex,
  stages: readonly StageDraft[],
): string | undefined {
  const said = instance.stages.find((one) => foldName(one.role.name) === foldName(role));
  if (said !== undefined) return said.stage.name;
  const implied = instance.impliedStages?.find((one) => foldName(one.role.name) === foldName(role));
  if (implied !== undefined) return implied.stage.name;
  const same = index.places.get(foldName(role));
  if (same !== undefined) return stages[same]!.name;
  return index.adding.get(foldName(copy)) ?? index.adding.get(foldName(instance.name));
}

/** Two stages of one name as one; the first one's name and place stay. */
export function mergeStages(a: StageDraft, b: StageDraft): StageDraft {
  return {
    name: a.name,
    adds: [...a.adds, ...b.adds],
    removes: [...a.removes, ...b.removes],
    replaces: [...a.replaces, ...b.replaces],
    moves: [...a.moves, ...b.moves],
    temporary: [...a.temporary, ...b.temporary],
    leads: [...a.leads, ...b.leads],
    programs: [...a.programs, ...b.programs],
    notes: [...a.notes, ...b.notes],
    prove: [...a.prove, ...b.prove],
    span: a.span,
  };
}

function renameLogic(decl: LogicDecl, rename: Renamer): LogicDecl {
  return {
    ...decl,
    net: rename.net(decl.net),
    formula: renameText(decl.formula, rename.net)!,
    ...given(
      'in',
      decl.in === undefined
        ? undefined
        : { ...decl.in, part: { name: rename.part(decl.in.part.name), span: decl.in.part.span } },
    ),
    ...given(
      'clock',
      decl.clock === undefined ? undefined : { name: rename.net(decl.clock.name), span: decl.clock.span },
    ),
    ...given('enable', renameText(decl.enable, rename.net)),
    ...given('reset', renameText(decl.reset, rename.net)),
    ...given('preset', renameText(decl.preset, rename.net)),
    lifetime: rename.lifetime(decl.lifetime),
  };
}

/** A formula's text with its nets renamed; all else stays as written. */
function renameText(formula: NameRef | undefined, net: (name: string) => string): NameRef | undefined {
  if (formula === undefined) return undefined;
  const parsed = parseFormula(formula.name).formula;
  if (parsed === undefined) return formula;
  const places: { name: string; start: number; end: number }[] = [];
  const walk = (part: Formula): void => {
    if (part.kind === 'name') places.push(part);
    else if (part.kind === 'not') walk(part.term);
    else if (part.kind !== 'constant') part.terms.forEach(walk);
  };
  walk(parsed);
  places.sort((a, b) => b.start - a.start);
  let text = formula.name;
  for (const place of places) text = text.slice(0, place.start) + net(place.name) + text.slice(place.end);
  return { name: text, span: formula.span };
}

function renameStage(
  stage: StageDraft,
  rename: Renamer,
  stageRef: (ref: NameRef | undefined) => NameRef | undefined,
): StageDraft {
  const partRef = (ref: NameRef): NameRef => ({ name: rename.part(ref.name), span: ref.span });
  const netRef = (ref: NameRef): NameRef => ({ name: rename.net(ref.name), span: ref.span });
  return {
    ...stage,
    adds: stage.adds.map(partRef),
    removes: stage.removes.map(partRef),
    replaces: stage.replaces.map((part) => ({
      ...part,
      name: rename.part(part.name),
      pins: part.pins.map((pin) => ({ ...pin, net: pin.net === undefined ? undefined : rename.net(pin.net) })),
    })),
    moves: stage.moves.map(partRef),
    temporary: stage.temporary.map(({ until, ...strap }) => ({
      ...strap,
      nets: strap.nets.map(netRef),
      ...given('until', stageRef(until)),
    })),
    leads: stage.leads.map(({ until, ...lead }) => ({
      ...lead,
      nets: lead.nets.map(netRef),
      ...given('until', stageRef(until)),
    })),
    programs: stage.programs.map((item) => ({ part: partRef(item.part), with: item.with })),
    prove: stage.prove.map((proof) => ({
      given: proof.given.flatMap((term) => renameGiven(term, rename)),
      expect: proof.expect.flatMap((term) => renameExpect(term, rename)),
      span: proof.span,
    })),
  };
}

function renameGiven(term: ProofTerm, rename: Renamer): ProofTerm[] {
  if (term.key === 'press') {
    return [{ ...term, value: term.value.replace(/^\s*(\S+)/, (_, name: string) => rename.part(name)) }];
  }
  if (term.key !== 'hold') return [term];
  const match = /^\s*(\S+)\s+at\s+(\S+)\s*$/.exec(term.value);
  if (match === null) return [term];
  return renameRange(match[1]!, match[2]!, rename).map(({ name, value }) => ({
    ...term,
    value: `${name} at ${value}`,
  }));
}

function renameExpect(term: ProofTerm, rename: Renamer): ProofTerm[] {
  if ((EXPECT_WORDS as readonly string[]).includes(term.key)) return [term];
  return renameRange(term.key, term.value, rename).map(({ name, value }) => ({ ...term, key: name, value }));
}

/** A net or range renamed: one name where the result is a range again, else bit by bit with its bit of a number. */
function renameRange(text: string, value: string, rename: Renamer): { name: string; value: string }[] {
  const bits = expandRange(text).map(rename.net);
  if (bits.length === 1) return [{ name: bits[0]!, value }];
  const whole = `${bits[0]!}-${bits.at(-1)!}`;
  const again = expandRange(whole);
  if (again.length === bits.length && again.every((name, index) => name === bits[index]))
    return [{ name: whole, value }];
  const number = /^(?:0x[0-9a-f]+|\d+)$/i.test(value.trim()) ? Number(value.trim()) : undefined;
  return bits.map((name, index) => ({
    name,
    value: number === undefined ? value : String(Math.floor(number / 2 ** (bits.length - 1 - index)) % 2),
  }));
}
