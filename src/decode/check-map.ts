// Holds a device against the address plan itself: at every address and every combination of the other nets, who is selected?
// Ranges are compared as numbers here, not as cubes, and the device is what explain read from its file. Differences are
// addresses.

import { type Finding, type Formula, foldName, formatHex, namesOf, parseFormula, type Result } from '../base/index.ts';
import {
  type AddressPlan,
  type AddressRange,
  type AddressSpace,
  blocksOf,
  planReport,
  type SelectIntent,
} from './address-plan.ts';
import type { Explained, Term } from './explain.ts';

/** Addresses at which a select is not what the plan says, under at least one combination of the other nets. */
export interface MapDifference {
  readonly space: 'memory' | 'ports';
  readonly net: string;
  readonly part: string;
  readonly from: number;
  /** Last address, included. */
  readonly to: number;
  /** `missing`: not selected where it is mapped; `extra`: selected where it may not be. */
  readonly kind: 'missing' | 'extra';
  /** Levels of the other nets at the first of them. */
  readonly at: Readonly<Record<string, 0 | 1>>;
}

export interface MapCheck {
  readonly isEqual: boolean;
  /** Combinations of address and other nets that were compared. */
  readonly points: number;
  readonly differences: readonly MapDifference[];
}

/** Nets beside the address beyond which not every combination is visited. */
const MOST_CONDITIONS = 18;
/** Steps of address times words of 32 combinations that are visited for each select. */
const MOST_WORK = 2 ** 23;
/** Stretches told as findings, and stretches kept. */
const MOST_DIFFERENCES = 16;
const MOST_KEPT = 1000;

/**
 * Compares the selects of `explained` with the plan; `pins` are the pins of nets. A select may be active where nothing is
 * mapped only if mirrors are allowed and no other select is active there.
 */
export function checkMap(
  plan: AddressPlan,
  explained: Explained,
  pins: ReadonlyMap<string, number>,
): Result<MapCheck | undefined> {
  const findings: Finding[] = [];
  const report = planReport(plan, findings);
  const pinOf = new Map([...pins].map(([name, pin]) => [foldName(name), pin]));
  const shown = new Map([...pins.keys()].map((name) => [foldName(name), name]));
  const differences: MapDifference[] = [];
  let points = 0;
  for (const space of plan.spaces) {
    const selects = plan.selects.filter((select) => select.ranges.some((range) => range.space === space.name));
    if (selects.length === 0) continue;
    const table = prepare(plan, space, explained, pinOf);
    if (typeof table === 'string') {
      report('decode/map-not-checked', table, plan);
      return { value: undefined, findings };
    }
    points += compareSpace(plan, space, table, differences);
  }
  for (const difference of differences.slice(0, MOST_DIFFERENCES)) {
    const { from, to, part, net, kind } = difference;
    const stretch = from === to ? `At ${formatHex(from)}` : `From ${formatHex(from)} to ${formatHex(to)}`;
    const what =
      kind === 'missing'
        ? `${part} is mapped but ${net} does not select it`
        : `${net} selects ${part}, which is not mapped there`;
    const others = Object.entries(difference.at).map(
      ([name, level]) => `${shown.get(name) ?? name} ${level === 1 ? 'high' : 'low'}`,
    );
    report('decode/map-differs', `${stretch} ${what}.`, selectOf(plan, net), {
      notes: others.length > 0 ? [{ text: `With ${others.join(', ')}.` }] : [],
      about: [net, part],
    });
  }
  return { value: { isEqual: differences.length === 0, points, differences }, findings };
}

function selectOf(plan: AddressPlan, net: string): SelectIntent {
  return plan.selects.find((select) => select.net === net)!;
}

/** A product term as address bits and the words of condition combinations in which the rest holds. */
interface PreparedTerm {
  readonly care: number;
  readonly value: number;
  readonly words: Uint32Array;
}

/** Columns of the first five names within a word. */
const WITHIN_WORD = [0xaaaaaaaa, 0xcccccccc, 0xf0f0f0f0, 0xff00ff00, 0xffff0000] as const;

/** A range with its conditions as words: all of them, and those without access and strobe. */
interface PreparedRange {
  readonly range: AddressRange;
  readonly words: Uint32Array;
  readonly where: Uint32Array;
  readonly blocks: readonly { readonly at: number; readonly bytes: number }[];
}

interface Prepared {
  readonly conditions: readonly string[];
  readonly wordCount: number;
  /** Valid bits of each word. */
  readonly mask: number;
  /** Lowest line that anything looks at. */
  readonly step: number;
  /** Bits of the address that the decoder gets. */
  readonly given: number;
  readonly outputs: readonly {
    readonly select: SelectIntent;
    readonly terms: readonly PreparedTerm[];
    /** Whether the sum is active when false. */
    readonly isInverted: boolean;
    readonly ranges: readonly PreparedRange[];
  }[];
  readonly cycle: Uint32Array;
  readonly never: Uint32Array;
}

function prepare(
  plan: AddressPlan,
  space: AddressSpace,
  explained: Explained,
  pinOf: ReadonlyMap<string, number>,
): Prepared | string {
  const tree = (source: string | Formula | undefined): Formula | undefined =>
    typeof source === 'string' ? parseFormula(source).formula : source;
  const lineAt = new Map<number, number>();
  for (const [bit, line] of space.lines.entries()) {
    const pin = pinOf.get(foldName(line));
    if (pin !== undefined) lineAt.set(pin, bit);
  }
  const isLine = new Set(space.lines.map(foldName));
  const nameAt = new Map([...pinOf].map(([name, pin]) => [pin, name]));
  const names: string[] = [];
  const note = (name: string): void => {
    const key = foldName(name);
    if (!isLine.has(key) && !names.includes(key)) names.push(key);
  };
  const mapped = plan.selects.filter((select) => pinOf.has(foldName(select.net)));
  const formulas = [...plan.spaces.map((one) => one.cycle), space.read, space.write, plan.never];
  for (const select of plan.selects) formulas.push(select.strobe, ...select.ranges.map((range) => range.when));
  for (const source of formulas)
    for (const name of tree(source) === undefined ? [] : namesOf(tree(source)!)) note(name);
  const found = mapped.map((select) => explained.outputs.find((one) => one.pin === pinOf.get(foldName(select.net))));
  for (const output of found)
    for (const term of output?.terms ?? [])
      for (const { pin } of term) if (!lineAt.has(pin)) note(nameAt.get(pin) ?? `pin ${pin}`);
  if (names.length > MOST_CONDITIONS)
    return `The selects depend on ${names.length} nets beside the address, too many to visit all.`;
  const combinations = 2 ** names.length;
  const wordCount = Math.ceil(combinations / 32);
  const constant = (holds: boolean): Uint32Array => new Uint32Array(wordCount).fill(holds ? 0xffffffff : 0);
  const columns = new Map(
    names.map((name, k) => {
      const column = new Uint32Array(wordCount);
      for (let w = 0; w < wordCount; w++) column[w] = k < 5 ? WITHIN_WORD[k]! : (w >>> (k - 5)) & 1 ? 0xffffffff : 0;
      return [name, column] as const;
    }),
  );
  const words = (part: Formula): Uint32Array => {
    if (part.kind === 'constant') return constant(part.value === 1);
    if (part.kind === 'name') return columns.get(foldName(part.name))!;
    if (part.kind === 'not') return words(part.term).map((word) => ~word);
    const [head, ...tail] = part.terms.map(words);
    return tail.reduce(
      (sum, other) =>
        sum.map((word, w) =>
          part.kind === 'and' ? word & other[w]! : part.kind === 'or' ? word | other[w]! : word ^ other[w]!,
        ),
      head!,
    );
  };
  const formulaWords = (source: string | Formula | undefined, otherwise: boolean): Uint32Array => {
    const formula = tree(source);
    return formula === undefined ? constant(otherwise) : words(formula);
  };
  // Where the cycle of another space holds as well, the address belongs to neither.
  const cycle = formulaWords(space.cycle, true);
  for (const other of plan.spaces) {
    if (other === space || other.cycle === undefined) continue;
    const theirs = formulaWords(other.cycle, true);
    for (let w = 0; w < wordCount; w++) cycle[w]! &= ~theirs[w]!;
  }
  const both = (a: Uint32Array, b: Uint32Array): Uint32Array => a.map((word, k) => word & b[k]!);
  let step = space.lines.length;
  const outputs = mapped.map((select, index) => {
    const output = found[index];
    const terms = (output?.terms ?? []).map((term: Term): PreparedTerm => {
      let care = 0;
      let value = 0;
      for (const { pin, level } of term) {
        const bit = lineAt.get(pin);
        if (bit === undefined) continue;
        care |= 1 << bit;
        if (level === 1) value |= 1 << bit;
        step = Math.min(step, bit);
      }
      const rest = term.filter((literal) => !lineAt.has(literal.pin));
      const held = constant(true);
      for (const { pin, level } of rest) {
        const column = columns.get(foldName(nameAt.get(pin) ?? `pin ${pin}`))!;
        for (let w = 0; w < wordCount; w++) held[w]! &= level === 1 ? column[w]! : ~column[w]!;
      }
      return { care, value, words: held };
    });
    const strobe = formulaWords(select.strobe, true);
    const ranges = select.ranges
      .filter((range) => range.space === space.name)
      .map((range) => {
        const gate = range.access === undefined ? undefined : range.access === 'read' ? space.read : space.write;
        const access = formulaWords(gate, true);
        const where = formulaWords(range.when, true);
        for (const edge of [range.at, range.at + range.bytes]) while (edge % 2 ** step !== 0) step--;
        const blocks = blocksOf(range.at, range.bytes);
        return { range, words: both(both(both(where, cycle), access), strobe), where: both(where, cycle), blocks };
      });
    return { select, terms, isInverted: output === undefined ? false : output.activeLow !== select.activeLow, ranges };
  });
  if (2 ** (space.lines.length - step) * wordCount > MOST_WORK)
    return `The ${space.name} map has too many combinations to visit each.`;
  const mask = combinations >= 32 ? 0xffffffff : 2 ** combinations - 1;
  const given = givenBits(space);
  return { conditions: names, wordCount, mask, step, given, outputs, cycle, never: formulaWords(plan.never, false) };
}

function givenBits(space: AddressSpace): number {
  const given = new Set((space.given ?? space.lines).map(foldName));
  return space.lines.reduce((mask, line, bit) => (given.has(foldName(line)) ? mask | (1 << bit) : mask), 0);
}

/** Whether the decoder takes `address` for one of the range, by the lines it gets. */
function looksLike({ blocks }: PreparedRange, address: number, given: number): boolean {
  return blocks.some((block) => ((address ^ block.at) & given & ~(block.bytes - 1)) === 0);
}

function compareSpace(plan: AddressPlan, space: AddressSpace, table: Prepared, differences: MapDifference[]): number {
  const { wordCount, outputs, mask } = table;
  const stride = 2 ** table.step;
  const size = 2 ** space.lines.length;
  const open = new Map<string, MapDifference>();
  const mappedHere = new Uint32Array(wordCount);
  const actives = outputs.map(() => new Uint32Array(wordCount));
  const wanteds = outputs.map(() => new Uint32Array(wordCount));
  const record = (
    select: SelectIntent,
    kind: MapDifference['kind'],
    address: number,
    word: number,
    bits: number,
  ): void => {
    const key = `${select.net} ${kind}`;
    const before = open.get(key);
    const to = address + stride - 1;
    if (before !== undefined && before.to === to) return; // told already, for other levels of the rest
    if (before !== undefined && before.to === address - 1) {
      const next = { ...before, to };
      differences[differences.indexOf(before)] = next;
      open.set(key, next);
      return;
    }
    if (differences.length >= MOST_KEPT) return;
    const combination = word * 32 + (31 - Math.clz32(bits & -bits));
    const at: Record<string, 0 | 1> = {};
    for (const [k, name] of table.conditions.entries()) at[name] = (combination >>> k) & 1 ? 1 : 0;
    const next: MapDifference = { space: space.name, net: select.net, part: select.part, from: address, to, kind, at };
    differences.push(next);
    open.set(key, next);
  };
  for (let address = 0; address < size; address += stride) {
    mappedHere.fill(0);
    for (const [index, { terms, isInverted, ranges }] of outputs.entries()) {
      const active = actives[index]!.fill(0);
      const wanted = wanteds[index]!.fill(0);
      for (const term of terms)
        if (((address ^ term.value) & term.care) === 0)
          for (let w = 0; w < wordCount; w++) active[w]! |= term.words[w]!;
      if (isInverted) for (let w = 0; w < wordCount; w++) active[w] = ~active[w]!;
      for (const { range, words, where } of ranges)
        if (address >= range.at && address < range.at + range.bytes)
          for (let w = 0; w < wordCount; w++) {
            wanted[w]! |= words[w]!;
            mappedHere[w]! |= where[w]!;
          }
    }
    for (const [index, { select, ranges }] of outputs.entries()) {
      const mayMirror = ranges.some(({ range }) => (range.mirrors ?? plan.mirrors) === 'allowed');
      for (let w = 0; w < wordCount; w++) {
        // Only this space's cycles: whatever else the select does is compared there, or is no address at all.
        const care = table.cycle[w]! & ~table.never[w]! & mask;
        // In cycles of another space its part's strobes keep quiet, whatever an address-only select does.
        if (select.isAddressOnly === true && ranges.length === 0) continue;
        const missing = wanteds[index]![w]! & ~actives[index]![w]! & care;
        let extra = actives[index]![w]! & ~wanteds[index]![w]! & care;
        if (extra !== 0 && mayMirror) {
          let others = 0;
          for (const [k, other] of actives.entries()) if (outputs[k]!.select.part !== select.part) others |= other[w]!;
          extra &= mappedHere[w]! | others;
        }
        // Unasked mirrors are right where the lines that are given cannot tell, unless another part is mapped there.
        if (extra !== 0)
          for (const one of ranges) if (looksLike(one, address, table.given)) extra &= ~one.words[w]! | mappedHere[w]!;
        if (missing !== 0) record(select, 'missing', address, w, missing);
        if (extra !== 0) record(select, 'extra', address, w, extra);
      }
    }
  }
  return (size / stride) * 2 ** table.conditions.length * outputs.length;
}
