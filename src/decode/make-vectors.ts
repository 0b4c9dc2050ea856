// Test vectors for a fitted device: for each output and each of its terms a point that only this term serves, and for each
// literal a point beside it that no term serves, besides the points that the caller wants visited (address boundaries).
// Expected levels come from the formulas as they were stated, never from the fuses.

import { createRng, evaluate, type Formula, type FormulaLevel, foldName } from '../base/index.ts';
import { type Cover, cofactor, findOutside } from './cover.ts';
import type { Fitted } from './fit.ts';
import type { Intention } from './request.ts';

export interface MadeVectors {
  /** One symbol per pin, pin 1 first. */
  readonly vectors: readonly string[];
  /** Points that were sought, and those that no state within reach allowed. */
  readonly sought: number;
  readonly unreached: number;
}

/** Beyond this many vectors a file would no longer be loaded by small programmers. */
const MOST_VECTORS = 2000;
/** Steps without a new point before the walk through the states gives up: an eight-bit counter comes round in 256. */
const PATIENCE = 300;

/** Makes the vectors; `visit` as in the request. Deterministic. */
export function makeVectors(fitted: Fitted, visit: readonly Readonly<Record<string, 0 | 1>>[] = []): MadeVectors {
  const model = createModel(fitted);
  const points = collectPoints(fitted, visit);
  const hasState = fitted.outputs.some((output) => output.goal.registered || model.loops.has(output.goal.variable));
  const vectors: string[] = [];
  if (!hasState) {
    const seen = new Set<string>();
    for (const point of points) {
      const vector = model.step(point.levels, false);
      if (seen.has(vector)) continue;
      seen.add(vector);
      vectors.push(vector);
    }
    return { vectors: vectors.slice(0, MOST_VECTORS), sought: points.length, unreached: 0 };
  }
  // With states, a point is due when the registers stand as it asks; otherwise the inputs wander.
  const rng = createRng(1364);
  const pending = [...points];
  if (fitted.goals.reset !== undefined) vectors.push(model.step(fitted.goals.reset.value, false));
  let idle = 0;
  while (pending.length > 0 && vectors.length < MOST_VECTORS && idle < PATIENCE) {
    const due = pending.findIndex((point) => model.isAt(point));
    let levels: number;
    if (due >= 0) {
      levels = pending[due]!.levels;
      pending.splice(due, 1);
      idle = 0;
    } else {
      levels = pending[rng.below(pending.length)]!.levels;
      if (rng.below(8) === 0) levels = avoidControls(fitted, levels ^ (rng.next32() & 0x3fffffff), 0);
      idle++;
    }
    vectors.push(model.step(levels, true));
  }
  return { vectors, sought: points.length, unreached: pending.length };
}

interface Point {
  /** Level of each variable, bit by bit. */
  readonly levels: number;
  /** Variables of outputs whose level the point depends on. */
  readonly state: number;
}

function collectPoints(fitted: Fitted, visit: readonly Readonly<Record<string, 0 | 1>>[]): Point[] {
  const { goals } = fitted;
  const outputs = fitted.outputs.reduce((mask, output) => mask | (1 << output.goal.variable), 0);
  const points: Point[] = [];
  const add = (levels: number, care: number): void => {
    points.push({ levels: avoidControls(fitted, levels, care), state: care & outputs });
  };
  const place = new Map(goals.names.map((name, variable) => [foldName(name), variable]));
  for (const wish of visit) {
    let levels = 0;
    for (const [name, level] of Object.entries(wish)) {
      const variable = place.get(foldName(name));
      if (variable !== undefined && level === 1) levels |= 1 << variable;
    }
    add(levels, 0);
  }
  for (const { sum, goal } of fitted.outputs) {
    const sums = typeof goal.enable === 'object' ? [sum, [goal.enable]] : [sum];
    const care = goal.enable;
    for (const cover of sums) {
      const within = typeof care === 'object' && cover === sum ? care : { care: 0, value: 0 };
      for (const point of pointsOf(cover)) {
        // A term is only seen while the output is enabled.
        const levels = (point.levels & ~within.care) | within.value;
        add(levels, point.care | within.care);
      }
    }
  }
  add(0, 0);
  add(0x3fffffff & ~outputs, 0);
  return points;
}

/** The levels with reset and preset out of force, where variables outside `care` allow it. */
function avoidControls(fitted: Fitted, levels: number, care: number): number {
  let result = levels;
  for (const cube of [fitted.goals.reset, fitted.goals.preset]) {
    if (cube === undefined || ((result ^ cube.value) & cube.care) !== 0) continue;
    const free = cube.care & ~care;
    result ^= free & -free;
  }
  return result;
}

function pointsOf(sum: Cover): { levels: number; care: number }[] {
  const points: { levels: number; care: number }[] = [];
  const all = sum.reduce((mask, cube) => mask | cube.care, 0);
  for (const [index, cube] of sum.entries()) {
    const others = sum.filter((_, k) => k !== index);
    const alone = findOutside(cofactor(others, cube)) ?? 0;
    points.push({ levels: (alone & ~cube.care) | cube.value, care: all });
    for (let bits = cube.care; bits !== 0; bits &= bits - 1) {
      const bit = bits & -bits;
      const beside = { care: cube.care, value: cube.value ^ bit };
      const free = findOutside(cofactor(sum, beside));
      if (free !== undefined) points.push({ levels: (free & ~beside.care) | beside.value, care: all });
    }
  }
  return points;
}

/** The device as stated, stepped by levels of its inputs. */
function createModel(fitted: Fitted) {
  const { goals, view } = fitted;
  const levels = new Map<string, FormulaLevel>();
  const keyOf = goals.names.map(foldName);
  const look = (name: string): FormulaLevel => levels.get(foldName(name)) ?? 'X';
  const stateOf = (intention: Intention): FormulaLevel => {
    const value =
      intention.kind === 'formula' ? evaluate(intention.formula, look) : evaluateCover(intention.cover, look);
    return value === 'X' ? 'X' : intention.isInverted === (value === 1) ? 0 : 1;
  };
  const isFree = (goal: Fitted['outputs'][number]['goal']): boolean => {
    if (goal.dontCare !== undefined && evaluate(goal.dontCare, look) !== 0) return true;
    if (goal.intention.kind !== 'cover' || goal.intention.cover.dontCare === undefined) return false;
    const { variables, dontCare } = goal.intention.cover;
    return evaluateCover({ variables, on: dontCare }, look) !== 0;
  };
  const truth = (formula: Formula | undefined): FormulaLevel => (formula === undefined ? 0 : evaluate(formula, look));
  const registered = fitted.outputs.filter((output) => output.goal.registered);
  const combinational = fitted.outputs.filter((output) => !output.goal.registered);
  const loops = findLoops(fitted);
  for (const { goal, activeLow } of registered)
    levels.set(keyOf[goal.variable]!, view.mode === 'cells' ? (activeLow ? 1 : 0) : 1);

  const settle = (): void => {
    for (let round = 0; round <= combinational.length + 1; round++) {
      const reset = truth(goals.resetIntention);
      for (const { goal } of registered) {
        if (reset === 1) levels.set(keyOf[goal.variable]!, goal.resetLevel);
        else if (reset === 'X') levels.set(keyOf[goal.variable]!, 'X');
      }
      let isChanged = false;
      for (const { goal } of combinational) {
        // A pin that is not driven may be at any level when it is read.
        const isDriven = goal.enableIntention === undefined || truth(goal.enableIntention) === 1;
        const value = isFree(goal) || !isDriven ? 'X' : stateOf(goal.intention);
        if (levels.get(keyOf[goal.variable]!) !== value) isChanged = true;
        levels.set(keyOf[goal.variable]!, value);
      }
      if (!isChanged) return;
    }
    for (const { goal } of combinational) if (loops.has(goal.variable)) levels.set(keyOf[goal.variable]!, 'X');
  };

  const tick = (): void => {
    const preset = truth(goals.presetIntention);
    const next = registered.map(({ goal }): FormulaLevel => {
      const set = goal.resetLevel === 1 ? 0 : 1;
      if (preset === 1) return set;
      const value = isFree(goal) ? 'X' : stateOf(goal.intention);
      return preset === 'X' && value !== set ? 'X' : value;
    });
    for (const [index, { goal }] of registered.entries()) levels.set(keyOf[goal.variable]!, next[index]!);
  };

  /** Drives the inputs, ticks where asked and there are registers, and gives the vector with what must be seen. */
  const step = (inputs: number, withClock: boolean): string => {
    // X drives an idle input to the default level; N leaves a pin alone, which idle output cells need.
    const symbols = new Array<string>(view.pinCount).fill('X');
    for (const cell of view.cells) symbols[cell.pin - 1] = 'N';
    symbols[view.groundPin - 1] = 'N';
    symbols[view.supplyPin - 1] = 'N';
    for (const tie of fitted.ties) symbols[tie.pin - 1] = String(tie.level);
    for (let variable = 0; variable < goals.inputs.length; variable++) {
      const level = ((inputs >>> variable) & 1) as 0 | 1;
      const isClock = variable === goals.clock;
      levels.set(keyOf[variable]!, isClock ? 0 : level);
      const pin = fitted.pins[variable]!;
      if (pin > 0) symbols[pin - 1] = isClock ? (withClock ? 'C' : '0') : String(level);
    }
    settle();
    if (withClock && registered.length > 0) {
      tick();
      settle();
    }
    for (const { goal, cell } of fitted.outputs) {
      const enable = goal.enableIntention === undefined ? 1 : truth(goal.enableIntention);
      const level = levels.get(keyOf[goal.variable]!) ?? 'X';
      symbols[cell.pin - 1] = enable === 0 ? 'Z' : enable === 'X' || level === 'X' ? 'N' : level === 1 ? 'H' : 'L';
    }
    return symbols.join('');
  };

  const isAt = (point: Point): boolean => {
    for (let bits = point.state; bits !== 0; bits &= bits - 1) {
      const variable = 31 - Math.clz32(bits & -bits);
      const level = levels.get(keyOf[variable]!);
      const isStateful = loops.has(variable) || registered.some((output) => output.goal.variable === variable);
      if (isStateful && level !== ((point.levels >>> variable) & 1)) return false;
    }
    return true;
  };

  return { step, isAt, loops };
}

function evaluateCover(
  cover: { variables: readonly string[]; on: Cover },
  look: (name: string) => FormulaLevel,
): FormulaLevel {
  let isUnknown = false;
  for (const cube of cover.on) {
    let value: FormulaLevel = 1;
    for (const [k, name] of cover.variables.entries()) {
      if (((cube.care >>> k) & 1) === 0) continue;
      const level = look(name);
      if (level === 'X') value = 'X';
      else if (level !== ((cube.value >>> k) & 1)) {
        value = 0;
        break;
      }
    }
    if (value === 1) return 1;
    if (value === 'X') isUnknown = true;
  }
  return isUnknown ? 'X' : 0;
}

/** Combinational outputs that depend on themselves through pins. */
function findLoops(fitted: Fitted): Set<number> {
  const reads = new Map<number, number>();
  for (const { goal, sum } of fitted.outputs)
    if (!goal.registered)
      reads.set(
        goal.variable,
        sum.reduce((mask, cube) => mask | cube.care, 0),
      );
  const loops = new Set<number>();
  for (const variable of reads.keys()) {
    let reached = reads.get(variable)!;
    for (let before = -1; before !== reached; ) {
      before = reached;
      for (const [other, mask] of reads) if (((reached >>> other) & 1) === 1) reached |= mask;
    }
    if (((reached >>> variable) & 1) === 1) loops.add(variable);
  }
  return loops;
}
