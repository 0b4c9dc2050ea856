// The machine file, from text to Machine: main file, included files and blocks are read, merged and spelled out; then names
// are looked up among the file's own declarations (resolve.ts). Types and pins are not known here: elaboration looks them up.

import { type Finding, foldName, type Result, type Span, sortFindings } from '../base/index.ts';
import { readYaml } from '../yaml/index.ts';
import { expandBlocks, mergeStages } from './blocks.ts';
import { report, rootOf, type Source, suggest } from './cursor.ts';
import {
  type Budget,
  createBudget,
  type Fragment,
  type InstanceDecl,
  type SectionReader,
  type StageDraft,
} from './fragment.ts';
import type { Defaults, Machine, NameRef, NetDecl, StageDecl } from './model.ts';
import { readBuses, readClasses, readInstances, readLogic, readMap, readNets, readTies } from './read-nets.ts';
import { given, readClocks, readDefaults, readHead, readParts, readSupplies } from './read-parts.ts';
import { readStages, readWaivers } from './read-stages.ts';
import { resolveMachine } from './resolve.ts';
import { BlockFileSchema, IncludedFileSchema, MachineFileSchema } from './schema.ts';

/** Where files come from: paths relative to the project with `/`; undefined where there is no such file. */
export interface MachineFiles {
  read(path: string): string | undefined;
}

export interface ReadOptions {
  /** Codes that a waiver may name; unknown ones are reported only where this is given. */
  readonly knownCodes?: readonly string[];
  /** Names of the blocks there are, for "did you mean". */
  readonly knownBlocks?: readonly string[];
}

/** The name of the main file by convention. */
export const MAIN_FILE = 'machine.yaml';
/** What stands before the path of a file that comes with the tool, not with the project. */
export const SHIPPED = 'shipped:';
const MOST_FILES = 200;

/**
 * Reads the machine whose main file is `main`. Never throws on any text; what cannot be read is left out, and findings say
 * so. Included files and blocks are asked for by path: `blocks/NAME.yaml`, then `shipped:blocks/NAME.yaml`.
 */
export function readMachine(main: string, files: MachineFiles, options: ReadOptions = {}): Result<Machine> {
  const findings: Finding[] = [];
  const budget = createBudget();
  const reader: Reader = { files, findings, budget, read: [], blocks: new Map(), sources: [], named: new Map() };
  const text = files.read(main);
  const nowhere: Span = { file: main, start: 0, end: 0 };
  const fragments: Fragment[] = [];
  if (text === undefined) report(findings, 'file-missing', `There is no file ${main}.`, nowhere);
  else readWithIncludes(reader, main, text, 'machine', fragments, [], undefined);
  const merged = merge(fragments, main, findings);
  const uses = merged.instances;
  const made = expandBlocks(uses, {
    budget,
    into: merged,
    find: (instance) => findBlock(reader, instance, options.knownBlocks ?? []),
  });
  const defaults = completeDefaults(merged);
  const machine: Machine = {
    format: merged.format,
    name: merged.name ?? 'Unnamed machine',
    ...given('about', merged.about),
    files: reader.read,
    supplies: merged.supplies,
    clocks: merged.clocks,
    defaults,
    parts: merged.parts,
    buses: merged.buses,
    map: merged.map,
    nets: merged.nets,
    ties: merged.ties,
    logic: merged.logic,
    classes: merged.classes,
    blocks: made,
    stages: merged.stages.map((stage) => completeStage(stage, defaults)),
    waivers: merged.waivers,
  };
  const all = [findings, ...reader.sources.map((source) => source.findings)].flat();
  const value = resolveMachine(machine, all, options.knownCodes, nowhere);
  return { value, findings: oncePerPlace(sortFindings(all), reader.named) };
}

interface Reader {
  readonly files: MachineFiles;
  readonly findings: Finding[];
  readonly budget: Budget;
  /** Paths read, in order. */
  readonly read: string[];
  /** Files that another names: where it does so. */
  readonly named: Map<string, Naming>;
  /** Each with the findings about its own text. */
  readonly sources: Source[];
  /** Blocks by folded name; undefined for one that is not there. */
  readonly blocks: Map<string, Fragment | undefined>;
}

const SECTIONS: readonly SectionReader[] = [
  readSupplies,
  readClocks,
  readDefaults,
  readParts,
  readBuses,
  readMap,
  readNets,
  readTies,
  readLogic,
  readClasses,
  readInstances,
  readStages,
  readWaivers,
];

const SCHEMAS = { machine: MachineFileSchema, included: IncludedFileSchema, block: BlockFileSchema } as const;

function emptyFragment(source: Source): Fragment {
  return {
    source,
    name: undefined,
    about: undefined,
    format: 1,
    includes: [],
    supplies: [],
    clocks: [],
    defaults: undefined,
    parts: [],
    buses: [],
    map: [],
    nets: [],
    ties: [],
    logic: [],
    classes: [],
    instances: [],
    joins: [],
    stages: [],
    waivers: [],
    layout: undefined,
  };
}

function readFragment(reader: Reader, file: string, text: string, kind: keyof typeof SCHEMAS): Fragment {
  const reading = readYaml(file, text, SCHEMAS[kind]);
  const source: Source = { file, text, reading, findings: [...reading.findings] };
  reader.read.push(file);
  reader.sources.push(source);
  const fragment = emptyFragment(source);
  const root = rootOf(source);
  readHead(root, fragment, kind === 'block' ? 'block' : 'machine');
  for (const section of SECTIONS) section(root, fragment, reader.budget);
  return fragment;
}

function readWithIncludes(
  reader: Reader,
  file: string,
  text: string,
  kind: 'machine' | 'included',
  into: Fragment[],
  chain: readonly string[],
  from: NameRef | undefined,
): void {
  const fragment = readFragment(reader, file, text, kind);
  if (from !== undefined) reader.named.set(file, { text: `${file} is included here.`, span: from.span, block: false });
  into.push(fragment);
  const inner = [...chain, file];
  for (const path of fragment.includes) {
    const { findings } = fragment.source;
    const clean = path.name.replace(/^(?:\.\/)+/, '');
    if (inner.includes(clean)) {
      report(findings, 'include-circular', `${clean} includes itself, by way of this line.`, path.span, {
        notes: [{ text: `The chain of files: ${[...inner, clean].join(', ')}.` }],
      });
    } else if (reader.read.includes(clean)) {
      report(findings, 'included-twice', `${clean} is included already; once is enough.`, path.span, {
        severity: 'warning',
      });
    } else if (reader.read.length >= MOST_FILES) {
      report(findings, 'too-many', `The machine has more than ${MOST_FILES} files.`, path.span);
    } else {
      const next = reader.files.read(clean);
      if (next === undefined) {
        report(findings, 'file-missing', `There is no file ${clean} in the project.`, path.span, {
          help: 'Paths start in the folder of the project.',
        });
      } else {
        readWithIncludes(reader, clean, next, 'included', into, inner, path);
      }
    }
  }
}

/** Where a file is named, for a note at each finding in it. */
interface Naming {
  readonly text: string;
  readonly span: Span;
  readonly block: boolean;
}

/**
 * Findings in a file that another names get a note of where that is. What is wrong in a block shows in each of its copies;
 * the first one is enough.
 */
function oncePerPlace(findings: readonly Finding[], named: ReadonlyMap<string, Naming>): Finding[] {
  const told = new Set<string>();
  return findings.flatMap((finding) => {
    const place = finding.where[0];
    const naming = place === undefined ? undefined : named.get(place.file);
    if (place === undefined || naming === undefined) return [finding];
    const key = `${place.file} ${place.start} ${finding.code}`;
    if (naming.block && told.has(key)) return [];
    told.add(key);
    return [{ ...finding, notes: [...finding.notes, { text: naming.text, span: naming.span }] }];
  });
}

function findBlock(reader: Reader, instance: InstanceDecl, known: readonly string[]): Fragment | undefined {
  const name = instance.use.name.trim();
  const key = foldName(name);
  if (reader.blocks.has(key)) {
    const block = reader.blocks.get(key);
    if (block === undefined) unknownBlock(reader, instance, known);
    return block;
  }
  reader.blocks.set(key, undefined);
  if (!/^[\p{L}\p{N}_][\p{L}\p{N}_-]{0,79}$/u.test(name)) {
    return report(
      reader.findings,
      'bad-name',
      `${JSON.stringify(name)} is no name of a block: letters, digits, - and _ are.`,
      instance.use.span,
    );
  }
  const own = `blocks/${name}.yaml`;
  const ownText = reader.files.read(own);
  const file = ownText === undefined ? SHIPPED + own : own;
  const text = ownText ?? reader.files.read(file);
  if (text === undefined) return unknownBlock(reader, instance, known);
  const block = readFragment(reader, file, text, 'block');
  const { findings } = block.source;
  reader.named.set(file, {
    text: `The block is used here, as ${instance.name}.`,
    span: instance.use.span,
    block: true,
  });
  checkBlock(block, findings);
  reader.blocks.set(key, block);
  return block;
}

function unknownBlock(reader: Reader, instance: InstanceDecl, known: readonly string[]): undefined {
  const more = suggest(instance.use.name, known, instance.use.span);
  return report(
    reader.findings,
    'unknown-block',
    `There is no block ${instance.use.name}${more.said}`,
    instance.use.span,
    {
      help: `A block of the project is a file blocks/${instance.use.name}.yaml.${known.length > 0 ? ` Blocks there are: ${known.join(', ')}.` : ''}`,
      ...given('fixes', more.fixes),
    },
  );
}

/** Findings that only show in a block as a whole. */
function checkBlock(block: Fragment, findings: Finding[]): void {
  unique(block.joins, 'connection', findings);
  unique(block.parts, 'part', findings);
  checkNetNames([block], findings);
  unique(
    block.stages.filter((stage) => stage.name !== ''),
    'stage',
    findings,
  );
}

/** The items whose name is new; for each other one a finding that shows both places. */
function unique<T extends { readonly name: string; readonly span: Span }>(
  list: readonly T[],
  what: string,
  findings: Finding[],
): T[] {
  const first = new Map<string, T>();
  const kept: T[] = [];
  for (const item of list) {
    const key = foldName(item.name);
    const before = first.get(key);
    if (before === undefined) {
      first.set(key, item);
      kept.push(item);
      continue;
    }
    // A range or a copied block repeats its own line; only another place is a double.
    if (before.span.file === item.span.file && before.span.start === item.span.start) continue;
    report(
      findings,
      'duplicate-name',
      before.name === item.name
        ? `There are two ${what}s named ${item.name}.`
        : `${item.name} and ${before.name} are the same name for two ${what}s; case makes no difference.`,
      item.span,
      {
        notes: [{ text: 'The first one stands here; it is used.', span: before.span }],
        help: 'Give one of them another name.',
        about: [item.name],
      },
    );
  }
  return kept;
}

/** Two spellings of one net in a file are a slip; the same net in two files may be meant, so it is only doubtful. */
function checkNetNames(fragments: readonly Fragment[], findings: Finding[]): void {
  const first = new Map<string, NetDecl>();
  const told = new Set<number>();
  for (const { nets } of fragments) {
    for (const net of nets) {
      const key = foldName(net.name);
      const before = first.get(key);
      if (before === undefined) first.set(key, net);
      if (before === undefined || told.has(net.span.start)) continue;
      const sameFile = before.span.file === net.span.file;
      // The items of one line, and long forms of one net, share a place.
      if (sameFile && before.span.start === net.span.start) continue;
      told.add(net.span.start);
      const notes = [{ text: 'It stands first here.', span: before.span }];
      if (sameFile)
        report(
          findings,
          'duplicate-name',
          `${net.name} and ${before.name} are the same net, declared twice.`,
          net.span,
          {
            notes,
            help: 'Put the pins of a net on one line, or give the other net another name.',
            about: [net.name],
          },
        );
      else
        report(
          findings,
          'net-in-two-files',
          `The net ${net.name} is declared in two files; they are joined.`,
          net.span,
          {
            severity: 'warning',
            notes,
            help: 'Where the nets are two, rename one. Where they are one, name it under `pins` of the parts in this file.',
            about: [net.name],
          },
        );
    }
    told.clear();
  }
}

function merge(fragments: readonly Fragment[], main: string, findings: Finding[]): Fragment {
  const text = '';
  const merged = emptyFragment(
    fragments[0]?.source ?? { file: main, text, reading: readYaml(main, text, MachineFileSchema), findings },
  );
  merged.name = fragments[0]?.name;
  merged.about = fragments[0]?.about;
  merged.format = fragments[0]?.format ?? 1;
  merged.supplies = unique(
    fragments.flatMap((one) => one.supplies),
    'supply',
    findings,
  );
  merged.clocks = unique(
    fragments.flatMap((one) => one.clocks),
    'clock',
    findings,
  );
  merged.parts = fragments.flatMap((one) => one.parts);
  merged.buses = unique(
    fragments.flatMap((one) => one.buses),
    'bus',
    findings,
  );
  merged.map = fragments.flatMap((one) => one.map);
  merged.nets = fragments.flatMap((one) => one.nets);
  checkNetNames(fragments, findings);
  merged.ties = fragments.flatMap((one) => one.ties);
  merged.logic = fragments.flatMap((one) => one.logic);
  merged.classes = unique(
    fragments.flatMap((one) => one.classes),
    'class',
    findings,
  );
  merged.instances = unique(
    fragments.flatMap((one) => one.instances),
    'block',
    findings,
  );
  merged.waivers = fragments.flatMap((one) => one.waivers);
  for (const one of fragments) {
    if (one.defaults === undefined) continue;
    if (merged.defaults !== undefined)
      report(findings, 'duplicate-name', 'There are two `defaults`.', one.defaults.span, {
        notes: [{ text: 'The first one stands here; it is used.', span: merged.defaults.span }],
      });
    else merged.defaults = one.defaults;
  }
  merged.stages = mergeAllStages(fragments, findings);
  return merged;
}

/** Stages of the first file that has each, in that order; the same name in another file adds to it. */
function mergeAllStages(fragments: readonly Fragment[], findings: Finding[]): StageDraft[] {
  const stages: StageDraft[] = [];
  const places = new Map<string, number>();
  for (const fragment of fragments) {
    const own = fragment.stages.filter((stage) => stage.name !== '');
    const kept = new Set<StageDraft>(unique(own, 'stage', findings));
    for (const stage of fragment.stages) {
      const key = foldName(stage.name);
      const at = stage.name === '' ? undefined : places.get(key);
      if (at !== undefined) stages[at] = mergeStages(stages[at]!, stage);
      else if (stage.name === '' || kept.has(stage)) {
        if (stage.name !== '') places.set(key, stages.length);
        stages.push(stage);
      }
    }
  }
  return stages;
}

function completeDefaults(merged: Fragment): Defaults {
  const { defaults } = merged;
  return {
    ...given('family', defaults?.family),
    pullOhm: defaults?.pullOhm ?? 10_000,
    bypassFarad: defaults?.bypassFarad ?? 100e-9,
    bulkFarad: defaults?.bulkFarad ?? 47e-6,
    ledOhm: defaults?.ledOhm ?? 330,
    ...given('supply', defaults?.supply),
    ...given('span', defaults?.span),
  };
}

function completeStage(stage: StageDraft, defaults: Defaults): StageDecl {
  return {
    ...stage,
    temporary: stage.temporary.map(({ through, ...strap }) => ({
      ...strap,
      ...(through === 'wire' ? {} : { throughOhm: through ?? defaults.pullOhm }),
    })),
  };
}
