// The proof: what the file does, read back by explain, against what was asked, at every combination of levels. Registers
// count as inputs and their next state as outputs, so equality here is equality from any state on; clock, reset, preset,
// enables and the level after power-up are compared as well. Formulas are evaluated as they were written, by code that
// knows nothing of covers: 32 points per word, in blocks.

import { type Formula, foldName } from '../base/index.ts';
import type { Explained, ExplainedOutput, Literal, Term } from './explain.ts';
import type { Intention, NamedCover, Stated } from './request.ts';

/** A point at which file and intention differ. */
export interface Difference {
  readonly output: string;
  readonly pin: number;
  readonly what: 'level' | 'enable' | 'reset' | 'preset';
  /** Levels of everything that the two depend on. */
  readonly at: Readonly<Record<string, 0 | 1>>;
  readonly wanted: 0 | 1;
  readonly found: 0 | 1;
}

export interface Proof {
  /** True where the file does what was asked at every point. */
  readonly isEqual: boolean;
  /** Combinations of levels compared; 0 where the proof could not be made. */
  readonly points: number;
  /** What differs, as sentences: kinds of outputs, missing ones, clocks. */
  readonly mismatches: readonly string[];
  /** The first points that differ, at most a few of each output. */
  readonly differences: readonly Difference[];
}

/** What the file is held against. */
export interface ProofTask {
  readonly stated: Stated;
  readonly clock: string | undefined;
  /** Pin of every input and output that is in use. */
  readonly pins: ReadonlyMap<string, number>;
  readonly explained: Explained;
}

/** Variables beyond which not every point is visited. A 22V10 has 22 lines. */
const MOST_FREE = 24;
const MOST_DIFFERENCES = 8;
/** Points per block: 2^15, in words of 32. */
const BLOCK_BITS = 15;

/** Compares at every point. About 0.2 s for ten outputs of 22 inputs. */
export function proveDevice(task: ProofTask): Proof {
  const mismatches: string[] = [];
  const pairs = pairOutputs(task, mismatches);
  const names = new Map<number, string>();
  for (const [name, pin] of task.pins) names.set(pin, name);
  const order = orderOutputs(task, pairs, names);
  const free = new Map<string, number>();
  const note = (name: string): void => {
    const key = foldName(name);
    if (!order.computed.has(key) && !free.has(key)) free.set(key, free.size);
  };
  for (const name of order.names) note(name);
  if (free.size > MOST_FREE) {
    mismatches.push(`The functions depend on ${free.size} levels, too many to visit every combination.`);
    return { isEqual: false, points: 0, mismatches, differences: [] };
  }
  const differences = comparePoints(task, pairs, order, free, names);
  return {
    isEqual: mismatches.length === 0 && differences.length === 0,
    points: 2 ** free.size,
    mismatches,
    differences,
  };
}

interface Pair {
  readonly name: string;
  readonly key: string;
  readonly stated: Stated['outputs'][number];
  readonly found: ExplainedOutput;
}

function pairOutputs(task: ProofTask, mismatches: string[]): Pair[] {
  const { explained, stated } = task;
  const pairs: Pair[] = [];
  const pinOf = new Map([...task.pins].map(([name, pin]) => [foldName(name), pin]));
  const wantedPins = new Set<number>();
  for (const output of stated.outputs) {
    const { name } = output.wanted;
    const pin = pinOf.get(foldName(name));
    if (pin !== undefined) wantedPins.add(pin);
    const found = [...explained.outputs, ...explained.buried].find((one) => one.pin === pin);
    if (found === undefined) {
      mismatches.push(`${name}: the file has no output on ${pin === undefined ? 'any pin' : `pin ${pin}`} for it.`);
      continue;
    }
    const isRegistered = output.wanted.registered === true;
    if (found.registered !== isRegistered) {
      mismatches.push(`${name}: pin ${pin} is ${found.registered ? 'registered' : 'combinational'} in the file.`);
      continue;
    }
    const { powerUp } = output.wanted;
    if (powerUp !== undefined && found.powerUp !== powerUp)
      mismatches.push(`${name}: pin ${pin} is ${found.powerUp === 1 ? 'high' : 'low'} after power-up.`);
    pairs.push({ name, key: foldName(name), stated: output, found });
  }
  for (const output of explained.outputs)
    if (!wantedPins.has(output.pin)) mismatches.push(`Pin ${output.pin} drives in the file; nothing is wanted there.`);
  const clockPin = task.clock === undefined ? undefined : pinOf.get(foldName(task.clock));
  if (pairs.some((pair) => pair.found.registered) && explained.clockPin !== clockPin)
    mismatches.push(`The clock is pin ${explained.clockPin} in the file.`);
  return pairs;
}

interface Order {
  /** Pairs so that whoever is read comes first, as far as that goes. */
  readonly pairs: readonly Pair[];
  /** Outputs whose level is known once those before are: always driven, no register, in no loop. */
  readonly computed: ReadonlySet<string>;
  /** Every name read on either side, in a fixed order. */
  readonly names: readonly string[];
}

const labelOf = (names: ReadonlyMap<number, string>, pin: number): string => names.get(pin) ?? `pin ${pin}`;

function readsOf(pair: Pair, names: ReadonlyMap<number, string>): string[] {
  const reads: string[] = [];
  intentionNames(pair.stated.intention, reads);
  for (const formula of [pair.stated.dontCare, pair.stated.enable])
    if (formula !== undefined) formulaNames(formula, reads);
  const terms = [...pair.found.terms, ...(typeof pair.found.enable === 'boolean' ? [] : pair.found.enable)];
  for (const term of terms) for (const literal of term) reads.push(labelOf(names, literal.pin));
  return reads;
}

function intentionNames(intention: Intention, into: string[]): void {
  if (intention.kind === 'formula') formulaNames(intention.formula, into);
  else {
    // A cover may be over more variables than it looks at.
    const { variables, on, dontCare = [] } = intention.cover;
    let used = 0;
    for (const cube of [...on, ...dontCare]) used |= cube.care;
    into.push(...variables.filter((_, k) => ((used >>> k) & 1) === 1));
  }
}

function formulaNames(formula: Formula, into: string[]): void {
  if (formula.kind === 'name') into.push(formula.name);
  else if (formula.kind === 'not') formulaNames(formula.term, into);
  else if (formula.kind !== 'constant') for (const term of formula.terms) formulaNames(term, into);
}

function orderOutputs(task: ProofTask, pairs: readonly Pair[], names: ReadonlyMap<number, string>): Order {
  const reads = new Map(pairs.map((pair) => [pair.key, readsOf(pair, names)]));
  const computed = new Set<string>();
  const ordered: Pair[] = [];
  const isPlain = (pair: Pair): boolean => !pair.found.registered && pair.found.enable === true;
  const plain = new Set(pairs.filter(isPlain).map((pair) => pair.key));
  for (let isGrowing = true; isGrowing; ) {
    isGrowing = false;
    for (const pair of pairs) {
      if (computed.has(pair.key) || !plain.has(pair.key)) continue;
      if (reads.get(pair.key)!.some((name) => plain.has(foldName(name)) && !computed.has(foldName(name)))) continue;
      computed.add(pair.key);
      ordered.push(pair);
      isGrowing = true;
    }
  }
  for (const pair of pairs) if (!computed.has(pair.key)) ordered.push(pair);
  const all: string[] = [];
  for (const pair of ordered) all.push(...reads.get(pair.key)!);
  for (const formula of [task.stated.reset, task.stated.preset]) if (formula !== undefined) formulaNames(formula, all);
  for (const term of [...task.explained.reset, ...task.explained.preset])
    for (const literal of term) all.push(labelOf(names, literal.pin));
  for (const output of pairs)
    if (typeof output.found.enable !== 'boolean')
      for (const term of output.found.enable) for (const literal of term) all.push(labelOf(names, literal.pin));
  return { pairs: ordered, computed, names: all };
}

/** Columns of the first five variables within a word. */
const WITHIN_WORD = [0xaaaaaaaa, 0xcccccccc, 0xf0f0f0f0, 0xff00ff00, 0xffff0000] as const;

function comparePoints(
  task: ProofTask,
  pairs: readonly Pair[],
  order: Order,
  free: ReadonlyMap<string, number>,
  names: ReadonlyMap<number, string>,
): Difference[] {
  const bits = free.size;
  const words = bits <= 5 ? 1 : 1 << (Math.min(bits, BLOCK_BITS) - 5);
  const blocks = bits <= BLOCK_BITS ? 1 : 2 ** (bits - BLOCK_BITS);
  const lastMask = bits >= 5 ? 0xffffffff : 2 ** (2 ** bits) - 1;
  const columns = new Map<string, Uint32Array>();
  for (const [key, index] of free) columns.set(key, variableColumn(index, words));
  const space = createSpace(words, columns);
  const differences: Difference[] = [];
  const counts = new Map<string, number>();
  const compare = (
    pair: { name: string; pin: number },
    what: Difference['what'],
    block: number,
    sides: Sides,
  ): void => {
    const { wanted, found, except } = sides;
    const id = `${pair.name} ${what}`;
    for (let w = 0; w < words; w++) {
      let differs = (wanted[w]! ^ found[w]!) & ~(except?.[w] ?? 0) & lastMask;
      while (differs !== 0) {
        const count = counts.get(id) ?? 0;
        if (count >= MOST_DIFFERENCES) return;
        counts.set(id, count + 1);
        const bit = 31 - Math.clz32(differs & -differs);
        differs &= differs - 1;
        const point = block * words * 32 + w * 32 + bit;
        const at: Record<string, 0 | 1> = {};
        for (const [key, index] of free) at[key] = Math.floor(point / 2 ** index) % 2 === 1 ? 1 : 0;
        const level = (side: Uint32Array): 0 | 1 => (((side[w]! >>> bit) & 1) === 1 ? 1 : 0);
        differences.push({ output: pair.name, pin: pair.pin, what, at, wanted: level(wanted), found: level(found) });
      }
    }
  };
  const label = (pin: number): string => foldName(labelOf(names, pin));
  for (let block = 0; block < blocks; block++) {
    for (const [key, index] of free)
      if (index >= BLOCK_BITS) columns.get(key)!.fill((block >>> (index - BLOCK_BITS)) & 1 ? 0xffffffff : 0);
    for (const pair of order.pairs) {
      const found = space.terms(pair.found.terms, label);
      if (pair.found.activeLow) space.invert(found);
      const wanted = space.intention(pair.stated.intention);
      const except = space.freedom(pair.stated.intention, pair.stated.dontCare);
      compare({ name: pair.name, pin: pair.found.pin }, 'level', block, { wanted, found, except });
      space.release(wanted);
      if (except !== undefined) space.release(except);
      if (order.computed.has(pair.key)) {
        const kept = columns.get(pair.key);
        if (kept === undefined) columns.set(pair.key, found);
        else {
          kept.set(found);
          space.release(found);
        }
      } else space.release(found);
    }
    for (const pair of pairs) compareEnable(pair, block, space, label, compare);
    compareControls(task, pairs, block, space, label, compare);
  }
  return differences;
}

interface Sides {
  readonly wanted: Uint32Array;
  readonly found: Uint32Array;
  readonly except?: Uint32Array | undefined;
}

type Compare = (pair: { name: string; pin: number }, what: Difference['what'], block: number, sides: Sides) => void;

function compareEnable(
  pair: Pair,
  block: number,
  space: Space,
  label: (pin: number) => string,
  compare: Compare,
): void {
  const { enable } = pair.found;
  const wantedFormula = pair.stated.enable;
  if (enable === true && wantedFormula === undefined) return;
  // A common enable pin that no net is named for is tied to its level, which is a requirement stated elsewhere.
  if (wantedFormula === undefined && typeof enable !== 'boolean' && enable.length === 1 && enable[0]!.length === 1) {
    const only = enable[0]![0]!;
    if (pair.found.registered && only.level === 0 && label(only.pin) === `pin ${only.pin}`) return;
  }
  const wanted = wantedFormula === undefined ? space.constant(1) : space.formula(wantedFormula);
  const found = typeof enable === 'boolean' ? space.constant(enable ? 1 : 0) : space.terms(enable, label);
  compare({ name: pair.name, pin: pair.found.pin }, 'enable', block, { wanted, found });
  space.release(wanted);
  space.release(found);
}

function compareControls(
  task: ProofTask,
  pairs: readonly Pair[],
  block: number,
  space: Space,
  label: (pin: number) => string,
  compare: Compare,
): void {
  const { stated, explained } = task;
  const registered = pairs.find((pair) => pair.found.registered);
  if (registered === undefined) return;
  for (const [what, formula, terms] of [
    ['reset', stated.reset, explained.reset],
    ['preset', stated.preset, explained.preset],
  ] as const) {
    if (formula === undefined && terms.length === 0) continue;
    const wanted = formula === undefined ? space.constant(0) : space.formula(formula);
    const found = space.terms(terms, label);
    compare({ name: 'all registers', pin: registered.found.pin }, what, block, { wanted, found });
    space.release(wanted);
    space.release(found);
  }
}

function variableColumn(index: number, words: number): Uint32Array {
  const column = new Uint32Array(words);
  if (index < 5) return column.fill(WITHIN_WORD[index]!);
  if (index < BLOCK_BITS) for (let w = 0; w < words; w++) column[w] = (w >>> (index - 5)) & 1 ? 0xffffffff : 0;
  return column;
}

type Space = ReturnType<typeof createSpace>;

/** Evaluation over one block: every function returns a column that the caller releases. */
function createSpace(words: number, columns: ReadonlyMap<string, Uint32Array>) {
  const pool: Uint32Array[] = [];
  const take = (): Uint32Array => pool.pop() ?? new Uint32Array(words);
  const release = (column: Uint32Array): void => {
    pool.push(column);
  };
  const constant = (level: 0 | 1): Uint32Array => take().fill(level === 1 ? 0xffffffff : 0);
  const invert = (column: Uint32Array): void => {
    for (let w = 0; w < words; w++) column[w] = ~column[w]!;
  };
  const column = (key: string): Uint32Array => columns.get(key)!;
  const formula = (part: Formula): Uint32Array => {
    switch (part.kind) {
      case 'constant':
        return constant(part.value);
      case 'name': {
        const copy = take();
        copy.set(column(foldName(part.name)));
        return copy;
      }
      case 'not': {
        const inner = formula(part.term);
        invert(inner);
        return inner;
      }
      default: {
        const sum = formula(part.terms[0]!);
        for (const term of part.terms.slice(1)) {
          const other = formula(term);
          if (part.kind === 'and') for (let w = 0; w < words; w++) sum[w]! &= other[w]!;
          else if (part.kind === 'or') for (let w = 0; w < words; w++) sum[w]! |= other[w]!;
          else for (let w = 0; w < words; w++) sum[w]! ^= other[w]!;
          release(other);
        }
        return sum;
      }
    }
  };
  const addProduct = (sum: Uint32Array, literals: readonly { key: string; level: 0 | 1 }[]): void => {
    const term = constant(1);
    for (const { key, level } of literals) {
      const source = column(key);
      if (level === 1) for (let w = 0; w < words; w++) term[w]! &= source[w]!;
      else for (let w = 0; w < words; w++) term[w]! &= ~source[w]!;
    }
    for (let w = 0; w < words; w++) sum[w]! |= term[w]!;
    release(term);
  };
  const terms = (list: readonly Term[], label: (pin: number) => string): Uint32Array => {
    const sum = constant(0);
    for (const term of list)
      addProduct(
        sum,
        term.map((literal: Literal) => ({ key: label(literal.pin), level: literal.level })),
      );
    return sum;
  };
  const cover = (named: NamedCover, cubes: NamedCover['on']): Uint32Array => {
    const sum = constant(0);
    for (const cube of cubes)
      addProduct(
        sum,
        named.variables.flatMap((name, k) =>
          ((cube.care >>> k) & 1) === 1
            ? [{ key: foldName(name), level: ((cube.value >>> k) & 1) === 1 ? (1 as const) : (0 as const) }]
            : [],
        ),
      );
    return sum;
  };
  const intention = (wanted: Intention): Uint32Array => {
    const level = wanted.kind === 'formula' ? formula(wanted.formula) : cover(wanted.cover, wanted.cover.on);
    if (wanted.isInverted) invert(level);
    return level;
  };
  /** Where the level does not matter, or undefined for nowhere. */
  const freedom = (wanted: Intention, dontCare: Formula | undefined): Uint32Array | undefined => {
    const own = wanted.kind === 'cover' ? (wanted.cover.dontCare ?? []) : [];
    if (own.length === 0) return dontCare === undefined ? undefined : formula(dontCare);
    const sum = wanted.kind === 'cover' ? cover(wanted.cover, own) : constant(0);
    if (dontCare !== undefined) {
      const more = formula(dontCare);
      for (let w = 0; w < words; w++) sum[w]! |= more[w]!;
      release(more);
    }
    return sum;
  };
  return { constant, invert, formula, terms, intention, freedom, release };
}
