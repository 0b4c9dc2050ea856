// The same selects from decoders of one of eight and two of four and gates, to compare with a programmed device: chips,
// delay, current. Each select is a sum of products; products are told apart by decoders in up to a few levels, sums are made
// by gates. What is built is evaluated again and compared with the functions before it is returned.

import { bug, type Finding, type Formula, foldName, type Result } from '../base/index.ts';
import { DECODE_CODES } from './codes.ts';
import { type Cover, type Cube, covers, supportOf } from './cover.ts';
import { coverOf } from './formula-cover.ts';
import type { PlanFunctions } from './intent.ts';

/** The parts that are used: 74x138, 74x139 (half), and units of 74x04, 74x08, 74x32. */
export type DiscreteType = '138' | '139' | '04' | '08' | '32';

/** Figures of a package; undefined is unknown and stays so in sums. */
export interface DiscreteFigures {
  /** Slowest way from any input to any output, ns. */
  readonly delayNs: number | undefined;
  /** Supply current of the whole package, mA. */
  readonly currentMa: number | undefined;
}

/** One unit in use. Constant inputs are the nets `high` and `low`. */
export interface DiscreteUnit {
  readonly type: DiscreteType;
  /** 138: A, B, C, G1, /G2A, /G2B; 139: A, B, /G; gates: their inputs. */
  readonly inputs: readonly string[];
  /** 138: /Y0 to /Y7; 139: /Y0 to /Y3; undefined for one that is not used. */
  readonly outputs: readonly (string | undefined)[];
}

export interface DiscreteDesign {
  readonly units: readonly DiscreteUnit[];
  readonly packages: readonly { readonly type: DiscreteType; readonly count: number; readonly spareUnits: number }[];
  readonly chips: number;
  /** Slowest way to any select; undefined where a figure on it is unknown. */
  readonly delayNs: number | undefined;
  readonly currentMa: number | undefined;
}

const UNITS_PER_PACKAGE: Readonly<Record<DiscreteType, number>> = { '138': 1, '139': 2, '04': 6, '08': 4, '32': 4 };

/** Builds all selects of a plan; undefined, with a finding, where more than three levels of decoders would be needed. */
export function discreteSelects(
  functions: PlanFunctions,
  figures: Readonly<Record<DiscreteType, DiscreteFigures>>,
): Result<DiscreteDesign | undefined> {
  const products = functions.selects.flatMap(({ active }, select) => active.map((cube): Product => ({ select, cube })));
  let best: Build | undefined;
  for (const order of [false, true]) {
    const build = createBuild(functions.variables, order);
    if (!makeAll(build, functions, products)) continue;
    if (best === undefined || chipsOf(build.units) < chipsOf(best.units)) best = build;
  }
  if (best === undefined) {
    const finding: Finding = {
      code: 'decode/no-discrete-form',
      severity: DECODE_CODES['decode/no-discrete-form'].severity,
      message: 'These selects take more levels of decoders and gates than are worked out.',
      where: [],
      notes: [],
    };
    return { value: undefined, findings: [finding] };
  }
  checkBuild(best, functions);
  return { value: summarise(best, functions, figures), findings: [] };
}

interface Product {
  readonly select: number;
  readonly cube: Cube;
}

interface Build {
  readonly variables: readonly string[];
  readonly units: DiscreteUnit[];
  /** Nets by what makes them, so that nothing is made twice. */
  readonly made: Map<string, string>;
  /** Whether decoders look at the lowest lines first, not the highest. */
  readonly isLowFirst: boolean;
}

const HIGH = 'high';
const LOW = 'low';
const DEEPEST = 3;

function createBuild(variables: readonly string[], isLowFirst: boolean): Build {
  return { variables, units: [], made: new Map(), isLowFirst };
}

function gate(build: Build, type: '04' | '08' | '32', inputs: readonly string[]): string {
  const key = `${type} ${[...inputs].sort().join(' ')}`;
  const known = build.made.get(key);
  if (known !== undefined) return known;
  const output = `n${build.made.size + 1}`;
  build.made.set(key, output);
  build.units.push({ type, inputs, outputs: [output] });
  return output;
}

/** All nets into one by two-input gates, as a tree. */
function merge(build: Build, type: '08' | '32', nets: readonly string[]): string {
  let row = [...nets];
  while (row.length > 1) {
    const next: string[] = [];
    for (let k = 0; k < row.length; k += 2)
      next.push(k + 1 < row.length ? gate(build, type, [row[k]!, row[k + 1]!]) : row[k]!);
    row = next;
  }
  return row[0]!;
}

function makeAll(build: Build, functions: PlanFunctions, products: readonly Product[]): boolean {
  const nets = new Map<Product, string>();
  // Products that share no literal (memory and ports) go to decoders of their own.
  for (const group of groupsOf(products)) if (!tellApart(build, group, [], nets, 0)) return false;
  for (const [index, { select, active }] of functions.selects.entries()) {
    if (active.length === 0) continue;
    const own = products.filter((product) => product.select === index).map((product) => nets.get(product)!);
    const low = merge(build, '08', own);
    const net = select.activeLow ? low : gate(build, '04', [low]);
    build.made.set(`select ${index}`, net);
  }
  return true;
}

function groupsOf(products: readonly Product[]): Product[][] {
  const groups: Product[][] = [];
  for (const product of products) {
    const home = groups.find((group) => {
      const { care } = commonOf([...group, product]);
      return care !== 0;
    });
    if (home === undefined) groups.push([product]);
    else home.push(product);
  }
  return groups;
}

/** Literals that all products have. */
function commonOf(products: readonly Product[]): Cube {
  let care = -1;
  const value = products[0]!.cube.value;
  for (const { cube } of products) care &= cube.care & ~(cube.value ^ value);
  return { care, value: value & care };
}

/** Gives each product an active-low net. `enables` are active-low nets that hold for all of them. */
function tellApart(
  build: Build,
  products: readonly Product[],
  enables: readonly string[],
  nets: Map<Product, string>,
  depth: number,
): boolean {
  if (depth > DEEPEST) return false;
  const common = commonOf(products);
  const rest = products.map(({ cube }) => cube.care & ~common.care);
  const differing = supportOf(products.map(({ cube }, k) => ({ care: rest[k]!, value: cube.value & rest[k]! })));
  const lows = [...enables, ...literalNets(build, common, 0)];
  const highs = literalNets(build, common, 1);
  if (differing === 0) {
    const low = merge(build, '32', [...lows, ...highs.map((net) => gate(build, '04', [net]))]);
    for (const product of products) nets.set(product, low);
    return true;
  }
  const lines = chooseLines(build, differing);
  const isHalf = lines.length <= 2 && lows.length + highs.length <= 1 && highs.length === 0;
  const outputs = new Array<string | undefined>(isHalf ? 4 : 8).fill(undefined);
  const name = `d${build.units.length + 1}`;
  const mask = lines.reduce((sum, line) => sum | (1 << line), 0);
  // Each product takes the outputs whose line levels it allows; where more is to be told apart, one level deeper.
  const shares = new Map<number, Product[]>();
  for (const product of products)
    for (let code = 0; code < 2 ** lines.length; code++) {
      const isAllowed = lines.every((line, k) => {
        const bit = 1 << line;
        return (product.cube.care & bit) === 0 || ((product.cube.value & bit) !== 0) === (((code >> k) & 1) === 1);
      });
      if (!isAllowed) continue;
      outputs[code] = `${name}y${code}`;
      const list = shares.get(code);
      if (list === undefined) shares.set(code, [product]);
      else list.push(product);
    }
  const inputNets = lines.map((line) => build.variables[line]!);
  if (isHalf) {
    while (inputNets.length < 2) inputNets.push(LOW);
    build.units.push({ type: '139', inputs: [...inputNets, lows[0] ?? LOW], outputs });
  } else {
    while (inputNets.length < 3) inputNets.push(LOW);
    const g1 = highs.length === 0 ? HIGH : merge(build, '08', highs);
    const [first = LOW, ...others] = lows;
    const second = others.length === 0 ? LOW : merge(build, '32', others);
    build.units.push({ type: '138', inputs: [...inputNets, g1, first, second], outputs });
  }
  const parts = new Map<Product, string[]>();
  for (const [code, list] of shares) {
    const done = list.filter(({ cube }) => (cube.care & differing & ~mask) === 0);
    for (const product of done) parts.set(product, [...(parts.get(product) ?? []), outputs[code]!]);
    const open = list.filter((product) => !done.includes(product));
    if (open.length === 0) continue;
    const inner = open.map(({ select, cube }): Product => {
      const care = cube.care & differing & ~mask;
      return { select, cube: { care, value: cube.value & care } };
    });
    const innerNets = new Map<Product, string>();
    for (const group of groupsOf(inner))
      if (!tellApart(build, group, [outputs[code]!], innerNets, depth + 1)) return false;
    for (const [k, product] of open.entries())
      parts.set(product, [...(parts.get(product) ?? []), innerNets.get(inner[k]!)!]);
  }
  for (const product of products) nets.set(product, merge(build, '08', parts.get(product)!));
  return true;
}

/** Nets of the literals of one level. */
function literalNets(build: Build, cube: Cube, level: 0 | 1): string[] {
  return build.variables.filter((_, k) => ((cube.care >>> k) & 1) === 1 && ((cube.value >>> k) & 1) === level);
}

/** Up to three variables that tell products apart, lowest first. */
function chooseLines(build: Build, differing: number): number[] {
  const lines: number[] = [];
  for (let bits = differing; bits !== 0; bits &= bits - 1) lines.push(31 - Math.clz32(bits & -bits));
  return build.isLowFirst ? lines.slice(0, 3) : lines.slice(-3);
}

function chipsOf(units: readonly DiscreteUnit[]): number {
  return packagesOf(units).reduce((sum, one) => sum + one.count, 0);
}

function packagesOf(units: readonly DiscreteUnit[]): DiscreteDesign['packages'] {
  return (['138', '139', '04', '08', '32'] as const).flatMap((type) => {
    const used = units.filter((unit) => unit.type === type).length;
    const count = Math.ceil(used / UNITS_PER_PACKAGE[type]);
    return used === 0 ? [] : [{ type, count, spareUnits: count * UNITS_PER_PACKAGE[type] - used }];
  });
}

/** Formulas of every net that is made. */
function formulasOf(build: Build): Map<string, Formula> {
  const formulas = new Map<string, Formula>([
    [HIGH, { kind: 'constant', value: 1 }],
    [LOW, { kind: 'constant', value: 0 }],
  ]);
  const leaf = (net: string): Formula => formulas.get(net) ?? { kind: 'name', name: net, start: 0, end: 0 };
  const not = (term: Formula): Formula => ({ kind: 'not', term });
  const and = (terms: Formula[]): Formula => ({ kind: 'and', terms });
  for (const { type, inputs, outputs } of inOrder(build.units)) {
    const nets = inputs.map(leaf);
    if (type === '04') formulas.set(outputs[0]!, not(nets[0]!));
    else if (type === '08') formulas.set(outputs[0]!, and(nets));
    else if (type === '32') formulas.set(outputs[0]!, { kind: 'or', terms: nets });
    else {
      const width = type === '138' ? 3 : 2;
      const enables = type === '138' ? [nets[3]!, not(nets[4]!), not(nets[5]!)] : [not(nets[2]!)];
      for (const [code, net] of outputs.entries()) {
        if (net === undefined) continue;
        const lines = nets.slice(0, width).map((line, k) => (((code >> k) & 1) === 1 ? line : not(line)));
        formulas.set(net, not(and([...enables, ...lines])));
      }
    }
  }
  return formulas;
}

/** Units so that whatever drives an input comes first. */
function inOrder(units: readonly DiscreteUnit[]): DiscreteUnit[] {
  const driven = new Set(units.flatMap((unit) => unit.outputs));
  const known = new Set<string>();
  const order: DiscreteUnit[] = [];
  let left = [...units];
  while (left.length > 0) {
    const ready = left.filter((unit) => unit.inputs.every((net) => !driven.has(net) || known.has(net)));
    if (ready.length === 0) bug('gates in a loop', { units: left.length });
    for (const unit of ready) for (const net of unit.outputs) if (net !== undefined) known.add(net);
    order.push(...ready);
    left = left.filter((unit) => !ready.includes(unit));
  }
  return order;
}

function checkBuild(build: Build, functions: PlanFunctions): void {
  const formulas = formulasOf(build);
  const place = new Map(functions.variables.map((name, k) => [foldName(name), k]));
  for (const [index, { select, active }] of functions.selects.entries()) {
    if (active.length === 0) continue;
    const net = build.made.get(`select ${index}`)!;
    const level = formulas.get(net) ?? ({ kind: 'name', name: net, start: 0, end: 0 } as const);
    const built = coverOf(
      select.activeLow ? { kind: 'not', term: level } : level,
      (name) => place.get(foldName(name))!,
    );
    const isSame = (a: Cover, b: Cover): boolean => a.every((cube) => covers(b, cube));
    if (built === undefined || !isSame(built, active) || !isSame(active, built))
      bug('gates that do not make their select', { net: select.net });
  }
}

function summarise(
  build: Build,
  functions: PlanFunctions,
  figures: Readonly<Record<DiscreteType, DiscreteFigures>>,
): DiscreteDesign {
  const arrival = new Map<string, number | undefined>();
  for (const { type, inputs, outputs } of inOrder(build.units)) {
    let latest: number | undefined = 0;
    for (const net of inputs) {
      const at = arrival.has(net) ? arrival.get(net) : 0;
      latest = latest === undefined || at === undefined ? undefined : Math.max(latest, at);
    }
    const own = figures[type].delayNs;
    for (const net of outputs)
      if (net !== undefined) arrival.set(net, latest === undefined || own === undefined ? undefined : latest + own);
  }
  let delayNs: number | undefined = 0;
  for (const index of functions.selects.keys()) {
    const net = build.made.get(`select ${index}`);
    if (net === undefined) continue;
    const at = arrival.has(net) ? arrival.get(net) : 0;
    delayNs = delayNs === undefined || at === undefined ? undefined : Math.max(delayNs, at);
  }
  const packages = packagesOf(build.units);
  let currentMa: number | undefined = 0;
  for (const { type, count } of packages) {
    const own = figures[type].currentMa;
    currentMa = currentMa === undefined || own === undefined ? undefined : currentMa + own * count;
  }
  return { units: build.units, packages, chips: chipsOf(build.units), delayNs, currentMa };
}
