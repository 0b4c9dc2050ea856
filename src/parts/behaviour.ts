// Behaviour as data, spelled out: repeats and ranges expanded, formulas read. What the record's `behaviour` block means is
// defined in docs/part-records.md; this file turns it into formulas and says what cannot be read, and evaluates nothing.

import { type Formula, foldName, parseFormula } from '../base/index.ts';
import { expandRange, expandTimes } from './pin-names.ts';
import type { PartBehaviour } from './record.ts';

/** One state variable and what it becomes. */
export interface Assignment {
  readonly state: string;
  readonly value: Formula;
}

/** What one output pin drives; driven always where there is no `enable`. */
export interface OutputRule {
  readonly pin: string;
  readonly value: Formula;
  readonly enable: Formula | undefined;
}

/** A behaviour with nothing left to expand. Lists keep the record's order: earlier entries win. */
export interface Behaviour {
  readonly state: readonly string[];
  readonly asynchronous: readonly { readonly when: Formula; readonly set: readonly Assignment[] }[];
  readonly clocked: readonly {
    readonly edge: 'rise' | 'fall';
    readonly of: Formula;
    readonly when: Formula | undefined;
    readonly set: readonly Assignment[];
  }[];
  readonly latched: readonly { readonly while: Formula; readonly set: readonly Assignment[] }[];
  readonly outputs: readonly OutputRule[];
  readonly joins: readonly { readonly pins: readonly string[]; readonly when: Formula | undefined }[];
  readonly model: string | undefined;
}

/** Something in a behaviour block that cannot be read. */
export interface BehaviourProblem {
  /** Path from the `behaviour` key. */
  readonly path: readonly (string | number)[];
  /** Whether the key at the path's end is meant rather than its value. */
  readonly key?: boolean;
  readonly message: string;
  /** Stretch of the value at the path, where known. */
  readonly start?: number;
  readonly end?: number;
}

/** A formula of the block as it was read: for checks of the names in it. */
export interface FormulaUse {
  readonly path: readonly (string | number)[];
  readonly formula: Formula;
  /** Whether `#` was replaced in it, so that offsets into the text no longer hold. */
  readonly repeated: boolean;
}

export interface BehaviourReading {
  readonly behaviour: Behaviour;
  readonly formulas: readonly FormulaUse[];
  /** Every output pin and state variable set, with its place. */
  readonly targets: readonly {
    readonly path: readonly (string | number)[];
    readonly name: string;
    readonly state: boolean;
  }[];
  readonly problems: readonly BehaviourProblem[];
}

type Path = readonly (string | number)[];

/** Spells out a behaviour block. Entries that cannot be read are left out and told of in `problems`. */
export function readBehaviour(block: PartBehaviour): BehaviourReading {
  const problems: BehaviourProblem[] = [];
  const formulas: FormulaUse[] = [];
  const targets: { path: Path; name: string; state: boolean }[] = [];

  const formula = (text: string, path: Path, value: string | undefined, outside = false): Formula | undefined => {
    const { formula: read, problem } = parseFormula(value === undefined ? text : text.replaceAll('#', value));
    const repeated = value !== undefined && text.includes('#');
    if (read === undefined) {
      const place = repeated || problem === undefined ? {} : { start: problem.start, end: problem.end };
      problems.push({ path, message: problem?.message ?? 'This is not a formula.', ...place });
      return undefined;
    }
    // Joins speak of what a hand does (`pressed`), not only of levels.
    if (!outside) formulas.push({ path, formula: read, repeated });
    return read;
  };
  /** The values that `#` takes, or one undefined where nothing is repeated. */
  const times = (repeat: string | undefined, path: Path): readonly (string | undefined)[] => {
    if (repeat === undefined) return [undefined];
    const values = expandTimes(repeat);
    if (values !== undefined) return values;
    problems.push({ path: [...path, 'repeat'], message: 'A range such as 1-8 or A-H is wanted here.' });
    return [];
  };
  const named = (text: string, value: string | undefined): string =>
    value === undefined ? text : text.replaceAll('#', value);
  const assignments = (set: Readonly<Record<string, string>>, path: Path, value: string | undefined): Assignment[] =>
    Object.entries(set).flatMap(([key, text]) => {
      const place = [...path, 'set', key];
      const state = named(key, value);
      targets.push({ path: place, name: state, state: true });
      const read = formula(text, place, value);
      return read === undefined ? [] : [{ state, value: read }];
    });

  const state = (block.state ?? []).flatMap((entry) => expandRange(entry) ?? [entry]);
  const folded = state.map(foldName);
  state.forEach((name, index) => {
    if (folded.indexOf(foldName(name)) !== index)
      problems.push({ path: ['state'], message: `${name} stands twice among the state variables.` });
  });

  const asynchronous = (block.asynchronous ?? []).flatMap((entry, index) => {
    const path = ['asynchronous', index];
    return times(entry.repeat, path).flatMap((value) => {
      const when = formula(entry.when, [...path, 'when'], value);
      const set = assignments(entry.set, path, value);
      return when === undefined ? [] : [{ when, set }];
    });
  });
  const clocked = (block.clocked ?? []).flatMap((entry, index) => {
    const path = ['clocked', index];
    return times(entry.repeat, path).flatMap((value) => {
      const of = formula(entry.of, [...path, 'of'], value);
      const when = entry.when === undefined ? undefined : formula(entry.when, [...path, 'when'], value);
      const set = assignments(entry.set, path, value);
      return of === undefined ? [] : [{ edge: entry.edge, of, when, set }];
    });
  });
  const latched = (block.latched ?? []).flatMap((entry, index) => {
    const path = ['latched', index];
    return times(entry.repeat, path).flatMap((value) => {
      const open = formula(entry.while, [...path, 'while'], value);
      const set = assignments(entry.set, path, value);
      return open === undefined ? [] : [{ while: open, set }];
    });
  });
  const outputs = Object.entries(block.outputs ?? {}).flatMap(([key, entry]) => {
    const path = ['outputs', key];
    const whole = typeof entry === 'string' ? { value: entry } : entry;
    const valuePath = typeof entry === 'string' ? path : [...path, 'value'];
    return times(whole.repeat, path).flatMap((value): OutputRule[] => {
      const pin = named(key, value);
      targets.push({ path, name: pin, state: false });
      const drives = formula(whole.value, valuePath, value);
      const enable = whole.enable === undefined ? undefined : formula(whole.enable, [...path, 'enable'], value);
      return drives === undefined ? [] : [{ pin, value: drives, enable }];
    });
  });
  const joins = (block.joins ?? []).map((entry, index) => ({
    pins: entry.pins,
    when: entry.when === undefined ? undefined : formula(entry.when, ['joins', index, 'when'], undefined, true),
  }));
  return {
    behaviour: { state, asynchronous, clocked, latched, outputs, joins, model: block.model },
    formulas,
    targets,
    problems,
  };
}

/**
 * The block with its repeats written out and its ranges of state spelled: what other folders read, so that none has to know
 * of `repeat`. Entries that cannot be read stay as they are.
 */
export function expandBehaviour(block: PartBehaviour): PartBehaviour {
  const repeated = <T extends { repeat?: string }>(entries: readonly T[] | undefined): T[] | undefined =>
    entries?.flatMap((entry) => {
      const { repeat, ...rest } = entry;
      const values = repeat === undefined ? undefined : expandTimes(repeat);
      return values === undefined ? [entry] : values.map((value) => replaceAll(rest, value) as T);
    });
  const outputs = Object.entries(block.outputs ?? {}).flatMap(([key, entry]): [string, typeof entry][] => {
    if (typeof entry === 'string' || entry.repeat === undefined) return [[key, entry]];
    const values = expandTimes(entry.repeat);
    if (values === undefined) return [[key, entry]];
    return values.map((value) => {
      const name = key.replaceAll('#', value);
      const drives = entry.value.replaceAll('#', value);
      if (entry.enable === undefined) return [name, drives];
      return [name, { value: drives, enable: entry.enable.replaceAll('#', value) }];
    });
  });
  const { asynchronous, clocked, latched, state, outputs: given, ...rest } = block;
  const whole = {
    ...rest,
    state: state?.flatMap((entry) => expandRange(entry) ?? [entry]),
    asynchronous: repeated(asynchronous),
    clocked: repeated(clocked),
    latched: repeated(latched),
    outputs: given === undefined ? undefined : Object.fromEntries(outputs),
  };
  return Object.fromEntries(Object.entries(whole).filter(([, value]) => value !== undefined)) as PartBehaviour;
}

/** A plain value with `#` replaced in every text and key. */
function replaceAll(value: unknown, by: string): unknown {
  if (typeof value === 'string') return value.replaceAll('#', by);
  if (Array.isArray(value)) return value.map((entry) => replaceAll(entry, by));
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(
    Object.entries(value).map(([key, inner]) => [key.replaceAll('#', by), replaceAll(inner, by)]),
  );
}
