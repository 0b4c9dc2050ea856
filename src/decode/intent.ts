// From an address plan to functions: ranges become cubes over the address lines, conditions their covers, and what the map
// leaves free becomes don't-cares. A gap that one select has spread into is no longer free for the next, so two parts never
// answer at one address because of it.

import { type Finding, type Formula, foldName, formatHex, namesOf, parseFormula, type Result } from '../base/index.ts';
import {
  type AddressPlan,
  type AddressRange,
  type AddressSpace,
  blocksOf,
  type GroupIntent,
  type PlanReport,
  planReport,
  type SelectIntent,
} from './address-plan.ts';
import { absorb, type Cover, type Cube, complement, intersects, MOST_VARIABLES, product, UNIVERSE } from './cover.ts';
import { coverOf } from './formula-cover.ts';
import { minimise } from './minimise.ts';
import type { WantedOutput } from './request.ts';

/** A plan turned into functions over one list of variables. */
export interface PlanFunctions {
  /** Address lines that matter, then the other nets. */
  readonly variables: readonly string[];
  /** When each select is active, mirrors included, in the order of the plan. */
  readonly selects: readonly { readonly select: SelectIntent; readonly active: Cover; readonly declared: Cover }[];
  /** Outputs for a device: selects, then groups. */
  readonly outputs: readonly WantedOutput[];
  /** The same as the plan states them, every freedom still open: what a file that somebody else made is held against. */
  readonly stated: readonly WantedOutput[];
  /** Levels that test vectors should visit: each boundary of each range, from both sides. */
  readonly visit: readonly Readonly<Record<string, 0 | 1>>[];
}

/** Works out the functions. Undefined where the plan cannot be read; a plan with overlaps still gives functions. */
export function planFunctions(plan: AddressPlan): Result<PlanFunctions | undefined> {
  const findings: Finding[] = [];
  const report = planReport(plan, findings);
  const reading = readPlan(plan, report);
  if (reading === undefined) return { value: undefined, findings };
  checkDoubleAnswers(plan, reading, report);
  const never = reading.cover(plan.never);
  const active = spreadMirrors(plan, reading, never);
  if (active === undefined) {
    report('decode/too-complex', 'The map takes too many products to work with.', plan);
    return { value: undefined, findings };
  }
  const none = plan.selects.map((): Cover => []);
  const free = plan.selects.map((_, index) => freedomOf(plan, reading, index, new Map()) ?? []);
  const value: PlanFunctions = {
    variables: reading.variables,
    selects: plan.selects.map((select, index) => ({
      select,
      active: active[index]!,
      declared: reading.declared[index]!,
    })),
    outputs: planOutputs(plan, reading, { active, free: none, never }),
    stated: planOutputs(plan, reading, { active: reading.declared, free, never }),
    visit: boundaryPoints(plan, reading),
  };
  return { value, findings };
}

/** Outputs that are active where `active` says, or may be where `free` does; covers by select, in order. */
function planOutputs(
  plan: AddressPlan,
  reading: PlanReading,
  covers: { readonly active: readonly Cover[]; readonly free: readonly Cover[]; readonly never: Cover },
): WantedOutput[] {
  const output = (one: SelectIntent | GroupIntent, on: Cover, free: Cover): WantedOutput => ({
    name: one.net,
    activeLow: one.activeLow,
    cover: { variables: reading.variables, on, dontCare: [...free, ...covers.never] },
    ...(one.pin === undefined ? {} : { pin: one.pin }),
    ...(one.span === undefined ? {} : { span: one.span }),
  });
  const groups = (plan.groups ?? []).map((group) => {
    const parts = new Set(group.parts.map(foldName));
    const and = group.and === undefined ? [UNIVERSE] : reading.cover(group.and);
    const sum = (list: readonly Cover[]): Cube[] =>
      absorb(plan.selects.flatMap((select, index) => (parts.has(foldName(select.part)) ? list[index]! : [])));
    return output(group, product(sum(covers.active), and), product(sum(covers.free), and));
  });
  return [
    ...plan.selects.map((select, index) => output(select, covers.active[index]!, covers.free[index]!)),
    ...groups,
  ];
}

interface PlanReading {
  readonly variables: readonly string[];
  /** Where each select is declared to be active. */
  readonly declared: readonly Cover[];
  /** Of each select, each range as address and `when` alone. */
  readonly ranges: readonly (readonly Cover[])[];
  readonly cover: (formula: string | Formula | undefined) => Cover;
  readonly space: (
    name: string,
  ) => { readonly space: AddressSpace; readonly first: number; readonly cycle: Cover } | undefined;
  readonly lowest: ReadonlyMap<string, number>;
}

function readPlan(plan: AddressPlan, report: PlanReport): PlanReading | undefined {
  const formulas = new Map<string, Formula>();
  let isBroken = false;
  const parse = (source: string | Formula | undefined, what: string, place: { span?: SelectIntent['span'] }): void => {
    if (typeof source !== 'string' || formulas.has(source)) return;
    const { formula, problem } = parseFormula(source);
    if (formula !== undefined) formulas.set(source, formula);
    else {
      isBroken = true;
      report('decode/bad-formula', `${what} is no formula: ${source.slice(0, 80)}`, placeOf(place), {
        notes: [{ text: problem?.message ?? '' }],
      });
    }
  };
  for (const space of plan.spaces) {
    parse(space.cycle, `The cycle of ${space.name}`, plan);
    parse(space.read, `What a read of ${space.name} is`, plan);
    parse(space.write, `What a write of ${space.name} is`, plan);
  }
  for (const select of plan.selects) {
    parse(select.strobe, `The strobe of ${select.part}`, select);
    for (const range of select.ranges) parse(range.when, `When ${select.part} answers`, range);
  }
  for (const group of plan.groups ?? []) parse(group.and, `The condition of ${group.net}`, group);
  parse(plan.never, 'What never occurs', plan);
  for (const select of plan.selects)
    for (const range of select.ranges) if (!checkRange(plan, select, range, report)) isBroken = true;
  if (isBroken) return undefined;
  if (!checkConditions(plan, formulas, report)) return undefined;

  const tree = (source: string | Formula): Formula => (typeof source === 'string' ? formulas.get(source)! : source);
  // Address lines below every boundary cannot matter.
  const lowest = new Map<string, number>();
  for (const space of plan.spaces) {
    let line = space.lines.length;
    for (const select of plan.selects)
      for (const range of select.ranges)
        if (range.space === space.name)
          for (const edge of [range.at, range.at + range.bytes]) line = Math.min(line, zerosBelow(edge));
    lowest.set(space.name, line);
  }
  const places = new Map<string, number>();
  const variables: string[] = [];
  const add = (name: string): void => {
    if (places.has(foldName(name))) return;
    places.set(foldName(name), variables.length);
    variables.push(name);
  };
  for (const space of plan.spaces)
    for (const line of givenLines(space)) if (space.lines.indexOf(line) >= lowest.get(space.name)!) add(line);
  const sources = [
    plan.never,
    ...plan.spaces.flatMap((space) => [space.cycle, space.read, space.write]),
    ...plan.selects.flatMap((select) => [select.strobe, ...select.ranges.map((range) => range.when)]),
    ...(plan.groups ?? []).map((group) => group.and),
  ];
  for (const source of sources) if (source !== undefined) for (const name of namesOf(tree(source))) add(name);
  if (variables.length > MOST_VARIABLES) {
    report('decode/too-many-signals', `The map depends on ${variables.length} nets.`, plan, {
      help: 'Let one decoder look at the high address lines only and another at the rest.',
    });
    return undefined;
  }
  const place = (name: string): number => places.get(foldName(name))!;
  const cover = (source: string | Formula | undefined): Cover => {
    if (source === undefined) return [];
    return coverOf(tree(source), place) ?? [];
  };
  const orAlways = (source: string | Formula | undefined): Cover => (source === undefined ? [UNIVERSE] : cover(source));
  const spaces = new Map(
    plan.spaces.map((space) => [
      space.name as string,
      { space, first: lowest.get(space.name)!, cycle: orAlways(space.cycle) },
    ]),
  );
  const ranges = plan.selects.map((select) =>
    select.ranges.map((range) => {
      const { space } = spaces.get(range.space)!;
      return product(addressCubes(range, space, place), orAlways(range.when));
    }),
  );
  const declared = plan.selects.map((select, index) => {
    const parts = select.ranges.flatMap((range, k) => {
      const { space, cycle } = spaces.get(range.space)!;
      const access =
        range.access === undefined ? [UNIVERSE] : orAlways(range.access === 'read' ? space.read : space.write);
      return product(product(ranges[index]![k]!, select.isAddressOnly === true ? [UNIVERSE] : cycle), access);
    });
    return product(absorb(parts), orAlways(select.strobe));
  });
  return {
    variables,
    declared,
    ranges,
    cover: (source) => (source === undefined ? [] : cover(source)),
    space: (name) => spaces.get(name),
    lowest,
  };
}

/** Conditions may not look at address lines: ranges do that, and the map is drawn from ranges. */
function checkConditions(plan: AddressPlan, formulas: ReadonlyMap<string, Formula>, report: PlanReport): boolean {
  const lines = new Set(plan.spaces.flatMap((space) => space.lines.map(foldName)));
  let isGood = true;
  const check = (source: string | Formula | undefined, about: string, place: { span?: SelectIntent['span'] }): void => {
    if (source === undefined) return;
    const line = namesOf(typeof source === 'string' ? formulas.get(source)! : source).find((name) =>
      lines.has(foldName(name)),
    );
    if (line === undefined) return;
    isGood = false;
    report('decode/condition-on-address', `${about} looks at the address line ${line}.`, placeOf(place), {
      help: 'State the addresses as ranges.',
    });
  };
  for (const space of plan.spaces)
    for (const source of [space.cycle, space.read, space.write]) check(source, `A condition of ${space.name}`, plan);
  for (const select of plan.selects) {
    check(select.strobe, `The strobe of ${select.part}`, select);
    for (const range of select.ranges) check(range.when, `The condition of ${select.part}`, range);
  }
  check(plan.never, 'What never occurs', plan);
  return isGood;
}

function placeOf(place: { span?: SelectIntent['span'] }): { span?: NonNullable<SelectIntent['span']> } {
  return place.span === undefined ? {} : { span: place.span };
}

function zerosBelow(value: number): number {
  if (value === 0) return 53;
  let zeros = 0;
  while (value % 2 ** (zeros + 1) === 0) zeros++;
  return zeros;
}

function checkRange(plan: AddressPlan, select: SelectIntent, range: AddressRange, report: PlanReport): boolean {
  const space = plan.spaces.find((one) => one.name === range.space);
  const name = `${select.part} at ${formatHex(range.at)}`;
  if (space === undefined) {
    report('decode/range-outside', `${name}: there is no space for ${range.space} here.`, range, {
      about: [select.part],
    });
    return false;
  }
  const size = 2 ** space.lines.length;
  if (
    !Number.isInteger(range.at) ||
    !Number.isInteger(range.bytes) ||
    range.bytes < 1 ||
    range.at < 0 ||
    range.at + range.bytes > size
  ) {
    report(
      'decode/range-outside',
      `${name} with ${range.bytes} bytes does not lie within 0 to ${formatHex(size - 1)}.`,
      range,
      {
        about: [select.part],
      },
    );
    return false;
  }
  if ((range.mirrors ?? plan.mirrors) === 'forbidden') {
    const line = missingLine(range, space);
    if (line !== undefined) {
      report(
        'decode/range-too-fine',
        `${name} may answer nowhere else, which needs ${line}, and the decoder does not get it.`,
        range,
        {
          help: `Give the decoder ${line}, or allow mirrors.`,
          about: [select.part],
        },
      );
      return false;
    }
  }
  const isPower = 2 ** Math.round(Math.log2(range.bytes)) === range.bytes;
  if (isPower && range.at % range.bytes !== 0)
    report('decode/unaligned-range', `${name} does not begin at a multiple of its size.`, range, {
      notes: [
        {
          text: `The part's own address 0 appears at ${formatHex(Math.ceil(range.at / range.bytes) * range.bytes)}, in the middle of the range.`,
        },
      ],
      about: [select.part],
    });
  return true;
}

/** The lines that the decoder gets, as the space names them, bit 0 first. */
function givenLines(space: AddressSpace): string[] {
  if (space.given === undefined) return [...space.lines];
  const given = new Set(space.given.map(foldName));
  return space.lines.filter((line) => given.has(foldName(line)));
}

/** The highest line that the range depends on and the decoder does not get. */
function missingLine(range: AddressRange, space: AddressSpace): string | undefined {
  const given = new Set(givenLines(space));
  const least = Math.min(...[range.at, range.at + range.bytes].map(zerosBelow));
  const needed = space.lines.filter((line, bit) => bit >= least && !given.has(line));
  return range.bytes === 2 ** space.lines.length ? undefined : needed.at(-1);
}

function addressCubes(range: AddressRange, space: AddressSpace, place: (name: string) => number): Cube[] {
  const given = new Set(givenLines(space));
  return blocksOf(range.at, range.bytes).map((block) => {
    let care = 0;
    let value = 0;
    for (const [bit, line] of space.lines.entries()) {
      if (2 ** bit < block.bytes || !given.has(line)) continue;
      const mask = 1 << place(line);
      care |= mask;
      if (Math.floor(block.at / 2 ** bit) % 2 === 1) value |= mask;
    }
    return { care, value };
  });
}

/** Two parts that answer at one address under conditions that can hold together. */
function checkDoubleAnswers(plan: AddressPlan, reading: PlanReading, report: PlanReport): void {
  for (const [i, a] of plan.selects.entries())
    for (const [j, b] of plan.selects.entries()) {
      if (j <= i || foldName(a.part) === foldName(b.part)) continue;
      for (const [m, first] of a.ranges.entries())
        for (const [n, second] of b.ranges.entries()) {
          if (first.space !== second.space) continue;
          if (first.access !== undefined && second.access !== undefined && first.access !== second.access) continue;
          const from = Math.max(first.at, second.at);
          const to = Math.min(first.at + first.bytes, second.at + second.bytes) - 1;
          const [x, y] = [reading.ranges[i]![m]!, reading.ranges[j]![n]!];
          if (!x.some((cube) => y.some((other) => intersects(cube, other)))) continue;
          if (from > to) {
            const here = `${formatHex(first.at)} and ${b.part} at ${formatHex(second.at)}`;
            report('decode/not-told-apart', `${a.part} at ${here} look alike to the decoder.`, second, {
              notes: [
                {
                  text: `It gets ${givenLines(reading.space(first.space)!.space).reverse().join(', ') || 'no address line'}.`,
                },
              ],
              help: 'Give it a line in which the two addresses differ.',
              about: [a.part, b.part],
            });
            continue;
          }
          const stretch = from === to ? formatHex(from) : `${formatHex(from)} to ${formatHex(to)}`;
          report('decode/double-answer', `${a.part} and ${b.part} both answer at ${stretch}.`, second, {
            notes: [
              { text: `${a.part} is mapped here as well.`, ...(first.span === undefined ? {} : { span: first.span }) },
            ],
            help: 'Move one, or give each a condition that excludes the other.',
            about: [a.part, b.part],
          });
        }
    }
}

function mirrorSpaces(plan: AddressPlan, select: SelectIntent): Set<string> {
  const ranges = select.ranges.filter((range) => (range.mirrors ?? plan.mirrors) === 'allowed');
  return new Set(ranges.map((range) => range.space));
}

/** Where a select may be active though nothing is mapped, and nobody has spread yet; undefined where that is too much. */
function freedomOf(
  plan: AddressPlan,
  reading: PlanReading,
  index: number,
  taken: ReadonlyMap<string, readonly Cube[]>,
): Cube[] | undefined {
  const select = plan.selects[index]!;
  let free: Cube[] = [];
  for (const name of mirrorSpaces(plan, select)) {
    const { cycle } = reading.space(name)!;
    const mapped = plan.selects.flatMap((other, k) =>
      other.ranges.flatMap((range, m) => (range.space === name ? reading.ranges[k]![m]! : [])),
    );
    const gaps = complement([...mapped, ...(taken.get(name) ?? [])], 4000);
    if (gaps === undefined) return undefined;
    const strobe = select.strobe === undefined ? [UNIVERSE] : reading.cover(select.strobe);
    const within = select.isAddressOnly === true ? [UNIVERSE] : cycle;
    free = absorb([...free, ...product(product(gaps, within), strobe)]);
  }
  return free;
}

/** When each select is active once those that may have spread into the gaps. */
function spreadMirrors(plan: AddressPlan, reading: PlanReading, never: Cover): Cover[] | undefined {
  const result: Cover[] = [];
  const variables = reading.variables.length;
  const taken = new Map<string, Cube[]>();
  for (const [index, select] of plan.selects.entries()) {
    const declared = reading.declared[index]!;
    const free = freedomOf(plan, reading, index, taken);
    if (free === undefined) return undefined;
    if (free.length === 0) {
      result.push(declared);
      continue;
    }
    const active = chooseSpread(variables, declared, [...free, ...never]);
    if (active === undefined) return undefined;
    result.push(active);
    for (const name of mirrorSpaces(plan, select)) {
      const before = taken.get(name) ?? [];
      taken.set(name, absorb([...before, ...product(active, reading.space(name)!.cycle)]));
    }
  }
  return result;
}

/** The spread that takes fewest terms in either polarity. */
function chooseSpread(variables: number, declared: Cover, free: Cover): Cover | undefined {
  const off = complement([...declared, ...free], 4000);
  if (off === undefined) return undefined;
  const high = minimise({ variables, on: declared, dontCare: free }).cover;
  const low = minimise({ variables, on: off, dontCare: free }).cover;
  return low.length < high.length ? complement(low, 4000) : high;
}

function boundaryPoints(plan: AddressPlan, reading: PlanReading): Record<string, 0 | 1>[] {
  const points: Record<string, 0 | 1>[] = [];
  for (const select of plan.selects)
    for (const range of select.ranges) {
      const { space, cycle } = reading.space(range.space)!;
      const access = range.access === 'write' ? space.write : space.read;
      const conditions = [cycle, reading.cover(range.when), reading.cover(select.strobe), reading.cover(access)];
      const levels: Record<string, 0 | 1> = {};
      // Conditions later in the list give way to earlier ones.
      for (const cover of conditions) {
        const cube = cover[0];
        if (cube === undefined) continue;
        for (const [k, name] of reading.variables.entries())
          if (((cube.care >>> k) & 1) === 1) levels[name] ??= ((cube.value >>> k) & 1) === 1 ? 1 : 0;
      }
      const last = 2 ** space.lines.length - 1;
      const step = 2 ** reading.lowest.get(space.name)!;
      for (const address of [range.at - step, range.at, range.at + range.bytes - step, range.at + range.bytes]) {
        if (address < 0 || address > last) continue;
        const point = { ...levels };
        for (const [bit, line] of space.lines.entries()) point[line] = Math.floor(address / 2 ** bit) % 2 === 1 ? 1 : 0;
        points.push(point);
      }
    }
  return points;
}
