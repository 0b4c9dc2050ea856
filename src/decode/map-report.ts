// The map that results: for every stretch of addresses who answers, under which condition, as mapped or as a mirror, where
// nobody does and where two do. By splitting on address lines, never by listing addresses; as data for tables and drawings.

import { type Formula, foldName, namesOf, parseFormula, printFormula } from '../base/index.ts';
import type { AddressPlan, AddressSpace, SelectIntent } from './address-plan.ts';
import { absorb, type Cover, covers, cofactor, complement, type Cube, product, supportOf, UNIVERSE } from './cover.ts';
import type { ExplainedOutput } from './explain.ts';
import { coverOf } from './formula-cover.ts';
import type { PlanFunctions } from './intent.ts';
import { minimise } from './minimise.ts';

/** One part that answers on a stretch. */
export interface MapAnswer {
  readonly part: string;
  readonly net: string;
  /** The condition beside the address and the cycle, as a formula; undefined where there is none. */
  readonly when: string | undefined;
  readonly is: 'mapped' | 'mirror';
  /** Reads or writes only, where the map says so. */
  readonly access: 'read' | 'write' | undefined;
}

/** Addresses that are all answered alike. */
export interface MapSegment {
  readonly from: number;
  /** The last address, included. */
  readonly to: number;
  readonly state: 'mapped' | 'mirror' | 'gap' | 'double';
  readonly answers: readonly MapAnswer[];
}

export interface MapReport {
  readonly spaces: readonly {
    readonly name: 'memory' | 'ports';
    /** Number of addresses. */
    readonly size: number;
    /** Ascending, without holes. */
    readonly segments: readonly MapSegment[];
    /** Addresses after which the map begins anew, since nothing looks at the lines above; `size` where it does not. */
    readonly period: number;
    /** Parts that may answer in gaps as well, should that save terms: the freedom that is left. */
    readonly mayMirror: readonly string[];
    /** True where so many mirrors alternate that the list was cut off; what is missing lies after the last segment. */
    readonly isCut: boolean;
  }[];
}

const MOST_SEGMENTS = 4096;

/**
 * The map of a plan's functions, or, with `outputs`, of what a device really does (its explained outputs with their nets,
 * and the net of each pin).
 */
export function mapReport(
  plan: AddressPlan,
  functions: PlanFunctions,
  device?: {
    readonly outputs: readonly (ExplainedOutput & { readonly net: string })[];
    readonly netOf: (pin: number) => string | undefined;
    /** Selects that no device makes, to be taken as the plan says; default none. */
    readonly isDeclared?: (select: SelectIntent) => boolean;
  },
): MapReport {
  const variables = [...functions.variables];
  const actives = functions.selects.map(({ select, active, declared }) => {
    if (device === undefined) return active;
    if (device.isDeclared?.(select) === true) return declared;
    const output = device.outputs.find((one) => foldName(one.net) === foldName(select.net));
    return output === undefined ? [] : activeOf(output, select.activeLow, device.netOf, variables);
  });
  const spaces = plan.spaces.map((space) => {
    const walk = walkSpace(plan, space, functions, actives, variables);
    const mayMirror = plan.selects
      .filter(({ ranges }) =>
        ranges.some((range) => range.space === space.name && (range.mirrors ?? plan.mirrors) === 'allowed'),
      )
      .map((select) => select.part);
    return { name: space.name, size: 2 ** space.lines.length, ...walk, mayMirror };
  });
  return { spaces };
}

/** When an output is at its active level, over `variables`, to which unknown pins are added. */
function activeOf(
  output: ExplainedOutput,
  isActiveLow: boolean,
  netOf: (pin: number) => string | undefined,
  variables: string[],
): Cover {
  const place = (name: string): number => {
    const at = variables.findIndex((one) => foldName(one) === foldName(name));
    return at >= 0 ? at : variables.push(name) - 1;
  };
  const sum = output.terms.map((term): Cube => {
    let care = 0;
    let value = 0;
    for (const { pin, level } of term) {
      const bit = 1 << place(netOf(pin) ?? `pin ${pin}`);
      care |= bit;
      if (level === 1) value |= bit;
    }
    return { care, value };
  });
  return output.activeLow === isActiveLow ? sum : (complement(sum) ?? []);
}

function walkSpace(
  plan: AddressPlan,
  space: AddressSpace,
  functions: PlanFunctions,
  actives: readonly Cover[],
  variables: readonly string[],
): { segments: MapSegment[]; period: number; isCut: boolean } {
  const place = (name: string): number => variables.findIndex((one) => foldName(one) === foldName(name));
  const { cycle, outside } = cycleOf(plan, space, place);
  const kinds = { read: kindOf(space.write, variables), write: kindOf(space.read, variables) };
  const lines = space.lines.map(place);
  const all = lines.reduce((mask, variable) => (variable < 0 ? mask : mask | (1 << variable)), 0);
  const selects = functions.selects.map(({ select }) => select);
  const edges = [
    ...new Set(
      selects.flatMap((select) =>
        select.ranges
          .filter((range) => range.space === space.name)
          .flatMap((range) => [range.at, range.at + range.bytes]),
      ),
    ),
  ].sort((a, b) => a - b);
  const segments: MapSegment[] = [];
  let isCut = false;
  const walk = (bit: number, base: number, live: readonly Cover[]): void => {
    if (isCut) return;
    const even = live.map((active) => evenOut(active, all));
    if (even.every((active) => (supportOf(active) & all) === 0) || bit < 0) {
      const end = base + 2 ** (bit + 1);
      // The decoder may do more than tell ranges apart, or less: cut where ranges begin and end as well.
      const cuts = [base, ...edges.filter((edge) => edge > base && edge < end), end];
      for (const [k, from] of cuts.slice(0, -1).entries()) {
        const to = cuts[k + 1]! - 1;
        append(segments, { from, to, ...answersOf(from, space, even, selects, outside, variables, kinds) });
      }
      if (segments.length > MOST_SEGMENTS) {
        segments.length = MOST_SEGMENTS;
        isCut = true;
      }
      return;
    }
    const variable = lines[bit]!;
    for (const level of [0, 1] as const) {
      const within = { care: 1 << variable, value: level === 1 ? 1 << variable : 0 };
      const next = variable < 0 ? even : even.map((active) => cofactor(active, within));
      walk(bit - 1, base + level * 2 ** bit, next);
    }
  };
  // In cycles of another space the strobes of a part keep quiet, whatever its address-only select does.
  const within = actives.map((active, index) =>
    selects[index]!.isAddressOnly === true && !selects[index]!.ranges.some((range) => range.space === space.name)
      ? []
      : product(active, cycle),
  );
  walk(space.lines.length - 1, 0, within);
  // The lines from the highest down that nothing looks at, as long as everything that is mapped lies below.
  let bit = space.lines.length;
  let above = 0;
  while (bit > 0) {
    const more = lines[bit - 1]! < 0 ? above : above | (1 << lines[bit - 1]!);
    if ((edges.at(-1) ?? 0) > 2 ** (bit - 1)) break;
    if (!within.every((active) => (supportOf(evenOut(active, more)) & more) === 0)) break;
    above = more;
    bit--;
  }
  return { segments, period: 2 ** bit, isCut };
}

/** The cover without the variables of `mask` where it holds whatever their levels; else as it is. */
function evenOut(cover: Cover, mask: number): Cover {
  if ((supportOf(cover) & mask) === 0) return cover;
  const wide = absorb(cover.map((cube) => ({ care: cube.care & ~mask, value: cube.value & ~mask })));
  return wide.every((cube) => covers(cover, cube)) ? wide : cover;
}

/** When an address belongs to this space and to no other; and everything else, where a condition may be anything. */
function cycleOf(
  plan: AddressPlan,
  space: AddressSpace,
  place: (name: string) => number,
): { cycle: Cover; outside: Cover } {
  const coverFor = (source: AddressSpace['cycle']): Cover | undefined => {
    const formula = typeof source === 'string' ? parseFormula(source).formula : source;
    return formula === undefined ? undefined : coverOf(formula, place);
  };
  const outside: Cube[] = [...(complement(coverFor(space.cycle) ?? [UNIVERSE]) ?? [])];
  for (const other of plan.spaces)
    if (other !== space && other.cycle !== undefined) outside.push(...(coverFor(other.cycle) ?? []));
  outside.push(...(coverFor(plan.never) ?? []));
  return { cycle: complement(outside) ?? [UNIVERSE], outside };
}

/** When a cycle is of this kind, as far as the device can tell; never, where nothing is said of it. */
function kindOf(source: AddressSpace['read'], variables: readonly string[]): Cover {
  const formula = typeof source === 'string' ? parseFormula(source).formula : source;
  if (formula === undefined) return [];
  const place = (name: string): number => variables.findIndex((one) => foldName(one) === foldName(name));
  return namesOf(formula).every((name) => place(name) >= 0) ? (coverOf(formula, place) ?? []) : [];
}

function append(segments: MapSegment[], next: MapSegment): void {
  const last = segments.at(-1);
  const key = (segment: MapSegment): string =>
    `${segment.state} ${segment.answers.map((one) => `${one.net} ${one.is} ${one.access ?? ''} ${one.when ?? ''}`).join(';')}`;
  if (last !== undefined && key(last) === key(next)) segments[segments.length - 1] = { ...last, to: next.to };
  else segments.push(next);
}

/** Who answers at an address. `idle`: the cycles in which a part that is only read, or only written, keeps quiet. */
function answersOf(
  at: number,
  space: AddressSpace,
  live: readonly Cover[],
  selects: readonly SelectIntent[],
  outside: Cover,
  variables: readonly string[],
  idle: Readonly<Record<'read' | 'write', Cover>>,
): { state: MapSegment['state']; answers: MapAnswer[] } {
  const answers: MapAnswer[] = [];
  const active: { part: string; cover: Cover; access: MapAnswer['access'] }[] = [];
  for (const [index, cover] of live.entries()) {
    if (cover.length === 0) continue;
    const { part, net, ranges } = selects[index]!;
    const here = ranges.filter((range) => range.space === space.name && range.at <= at && at < range.at + range.bytes);
    const access =
      here.length > 0 && here.every((range) => range.access === here[0]!.access) ? here[0]!.access : undefined;
    active.push({ part: foldName(part), cover, access });
    const is = here.length > 0 ? 'mapped' : 'mirror';
    answers.push({ part, net, when: conditionText(cover, outside, variables), is, access });
  }
  const isDouble = active.some((a, i) =>
    active.some((b, k) => {
      if (k <= i || a.part === b.part) return false;
      // One that is only read and one that is only written share an address in peace.
      if (a.access !== undefined && b.access !== undefined && a.access !== b.access) return false;
      const peace = [a, b].flatMap((one) => (one.access === undefined ? [] : idle[one.access]));
      return product(a.cover, b.cover).some((cube) => !covers(peace, cube));
    }),
  );
  if (isDouble) return { state: 'double', answers };
  if (answers.length === 0) return { state: 'gap', answers };
  return { state: answers.some((one) => one.is === 'mapped') ? 'mapped' : 'mirror', answers };
}

/** What a condition comes to once the cycle is on, as short as it goes. */
function conditionText(active: Cover, outside: Cover, variables: readonly string[]): string | undefined {
  const rest = minimise({ variables: variables.length, on: active, dontCare: outside }).cover;
  if (rest.some((cube) => cube.care === 0)) return undefined;
  const terms = rest.map((cube): Formula => {
    const literals: Formula[] = [];
    for (const [k, name] of variables.entries()) {
      if (((cube.care >>> k) & 1) === 0) continue;
      const leaf: Formula = { kind: 'name', name, start: 0, end: 0 };
      literals.push(((cube.value >>> k) & 1) === 1 ? leaf : { kind: 'not', term: leaf });
    }
    return literals.length === 1 ? literals[0]! : { kind: 'and', terms: literals };
  });
  if (terms.length === 0) return undefined;
  return printFormula(terms.length === 1 ? terms[0]! : { kind: 'or', terms });
}
