// Fitting: which signal sits on which pin, which mode and polarity, which rows. All signals of a view are assigned to pins at
// once, so an assignment is found if there is one. Where nothing fits, what is over is reported per mode.

import { assignCheapest, FORBIDDEN } from './assign.ts';
import { type Cover, type Cube, supportOf } from './cover.ts';
import type { DeviceMode, DeviceView, OutputCell } from './devices.ts';
import type { Goal, Goals } from './goals.ts';

/** One output in its cell. */
export interface FittedOutput {
  readonly goal: Goal;
  readonly cell: OutputCell;
  /** Polarity of the device: true where the pin is low while the sum holds. */
  readonly activeLow: boolean;
  /** The sum, over the goals' variables. */
  readonly sum: Cover;
  readonly isProvedMinimal: boolean;
  /** Terms that the cell has for it. */
  readonly room: number;
}

/** A level that a pin needs from outside because of the mode. */
export interface PinTie {
  readonly pin: number;
  readonly level: 0 | 1;
  readonly why: string;
}

export interface Fitted {
  readonly view: DeviceView;
  readonly goals: Goals;
  /** Pin of each variable of the goals; 0 for one that no function uses and that no pin was asked for. */
  readonly pins: readonly number[];
  readonly outputs: readonly FittedOutput[];
  readonly ties: readonly PinTie[];
}

/** Why a view does not take the goals. */
export interface Misfit {
  readonly mode: DeviceMode;
  readonly reasons: readonly string[];
}

export interface FitOptions {
  /** What a signal costs on a pin, at least 0. */
  readonly pinCost?: ((name: string, pin: number) => number) | undefined;
  /** True: pins that were asked for are ignored (to find out whether they are the obstacle). */
  readonly ignorePins?: boolean;
}

/** Fits into one mode of a device, or says what is over. */
export function fitView(goals: Goals, view: DeviceView, options: FitOptions = {}): Fitted | Misfit {
  const needs = needsOf(goals);
  const reasons: string[] = [];
  const controls = placeControls(goals, view, needs, reasons);
  const candidates = goals.outputs.map((goal) =>
    view.cells.map((cell) => cellFor(goal, cell, view, goals, needs.read)),
  );
  explainOutputs(goals, view, candidates, needs, reasons);
  const columnPins = pinsOf(view);
  const signals = goals.names.map((_, variable) => variable).filter((variable) => needs.placed.includes(variable));
  if (signals.length > columnPins.length)
    reasons.push(`${signals.length} signals need a pin; there are ${columnPins.length}`);
  if (reasons.length > 0) return { mode: view.mode, reasons };
  const costs = signals.map((variable) =>
    columnPins.map((pin) => signalCost(variable, pin, { goals, view, candidates, controls, options, needs })),
  );
  const assignment = assignCheapest(costs);
  if (assignment === undefined)
    return { mode: view.mode, reasons: explainNoAssignment(goals, view, signals, costs, columnPins) };
  const pins = goals.names.map(() => 0);
  for (const [index, variable] of signals.entries()) pins[variable] = columnPins[assignment[index]!]!;
  const outputs = goals.outputs.map((goal, index): FittedOutput => {
    const cell = view.cells.findIndex((one) => one.pin === pins[goal.variable]);
    return candidates[index]![cell]!;
  });
  return { view, goals, pins, outputs, ties: controls.ties };
}

interface Needs {
  /** Variables that functions read. */
  readonly read: number;
  /** Variables that need a pin, ascending. */
  readonly placed: readonly number[];
  readonly hasRegisters: boolean;
}

function needsOf(goals: Goals): Needs {
  // An input that turned out not to matter gets a pin only where one was asked for.
  const placed = goals.names
    .map((_, variable) => variable)
    .filter((variable) => {
      if (variable >= goals.inputs.length || variable === goals.clock) return true;
      return ((goals.used >> variable) & 1) === 1 || goals.inputs[variable]!.pin !== undefined;
    });
  return { read: goals.used, placed, hasRegisters: goals.outputs.some((goal) => goal.registered) };
}

interface Controls {
  /** Variables with one possible pin: the clock, and the enable of all registers of a 16V8 or 20V8. */
  readonly fixed: ReadonlyMap<number, number>;
  /** Pins that no signal may take. */
  readonly reserved: readonly number[];
  readonly ties: readonly PinTie[];
}

function placeControls(goals: Goals, view: DeviceView, needs: Needs, reasons: string[]): Controls {
  const fixed = new Map<number, number>();
  const reserved: number[] = [];
  const ties: PinTie[] = [];
  if (view.resetRow === undefined && goals.reset !== undefined)
    reasons.push('a reset that acts at once needs the reset row of a 22V10');
  if (view.presetRow === undefined && goals.preset !== undefined)
    reasons.push('a preset needs the preset row of a 22V10');
  if (!needs.hasRegisters) {
    if (view.mode === 'registered') {
      reserved.push(view.clockPin!, view.enablePin!);
      ties.push({ pin: view.clockPin!, level: 0, why: 'the clock of this mode, not used' });
      ties.push({ pin: view.enablePin!, level: 0, why: 'the common enable of this mode, not used' });
    }
    return { fixed, reserved, ties };
  }
  if (view.clockPin === undefined) {
    reasons.push('registered outputs need the registered mode');
    return { fixed, reserved, ties };
  }
  if (goals.clock !== undefined) {
    fixed.set(goals.clock, view.clockPin);
    if (!view.columnPins.includes(view.clockPin) && ((needs.read >> goals.clock) & 1) === 1)
      reasons.push(
        `${goals.names[goals.clock]} is the clock on pin ${view.clockPin} and is also read, which pin ${view.clockPin} cannot be in this mode`,
      );
  }
  if (view.enablePin === undefined) return { fixed, reserved, ties };
  // 16V8, 20V8: one pin enables all registered outputs while low.
  const enables = new Set<number>();
  let isMixed = false;
  for (const goal of goals.outputs) {
    if (!goal.registered) continue;
    if (goal.enable === true) enables.add(-1);
    else if (typeof goal.enable === 'object' && isSingleLow(goal.enable))
      enables.add(31 - Math.clz32(goal.enable.care));
    else isMixed = true;
  }
  const [only] = enables;
  if (isMixed || enables.size > 1)
    reasons.push(
      `registered outputs are enabled together, by pin ${view.enablePin} being low; other enables are wanted`,
    );
  else if (only === undefined || only < 0) {
    reserved.push(view.enablePin);
    ties.push({ pin: view.enablePin, level: 0, why: 'it enables the registered outputs' });
  } else {
    fixed.set(only, view.enablePin);
    const isRead = goals.outputs.some((goal) => ((readBy(goal, !goal.registered) >> only) & 1) === 1);
    if (isRead)
      reasons.push(
        `${goals.names[only]} enables the registers on pin ${view.enablePin} and is also read, which that pin cannot be`,
      );
  }
  return { fixed, reserved, ties };
}

function isSingleLow(cube: Cube): boolean {
  return cube.value === 0 && cube.care !== 0 && (cube.care & (cube.care - 1)) === 0;
}

/** Variables in a goal's sums and, where asked, its enable. */
function readBy(goal: Goal, withEnable: boolean): number {
  const enable = withEnable && typeof goal.enable === 'object' ? goal.enable.care : 0;
  return supportOf(goal.high.cover) | supportOf(goal.low.cover) | enable;
}

function pinsOf(view: DeviceView): number[] {
  const pins = new Set([...view.inputPins, ...view.cells.map((cell) => cell.pin)]);
  if (view.clockPin !== undefined) pins.add(view.clockPin);
  if (view.enablePin !== undefined) pins.add(view.enablePin);
  return [...pins].sort((a, b) => a - b);
}

/** How a goal would sit in a cell, or undefined where it can't. */
function cellFor(goal: Goal, cell: OutputCell, view: DeviceView, goals: Goals, read: number): FittedOutput | undefined {
  const rows = goal.registered ? cell.registered : cell.combinational;
  if (rows === undefined) return undefined;
  if (((read >> goal.variable) & 1) === 1 && cell.feedback !== 'pin-or-register') return undefined;
  const isCommonEnable = goal.registered && view.enablePin !== undefined;
  if (goal.enable !== true && cell.enableRow === undefined && !isCommonEnable) return undefined;
  const ways: { activeLow: boolean; sum: Cover; isProved: boolean }[] = [];
  for (const activeLow of [true, false]) {
    if (goal.registered && !isPolarityAllowed(goal, activeLow, view, goals)) continue;
    const { cover, isProved } = activeLow ? goal.low : goal.high;
    if (cover.length <= rows.count) ways.push({ activeLow, sum: cover, isProved });
  }
  // Fewer terms, then fewer literals; low where both are equal, as the devices are without programming.
  const literals = (sum: Cover): number => sum.reduce((total, cube) => total + bitsOf(cube.care), 0);
  ways.sort((a, b) => a.sum.length - b.sum.length || literals(a.sum) - literals(b.sum));
  const best = ways[0];
  if (best === undefined) return undefined;
  return { goal, cell, activeLow: best.activeLow, sum: best.sum, isProvedMinimal: best.isProved, room: rows.count };
}

function bitsOf(mask: number): number {
  let count = 0;
  for (let bits = mask; bits !== 0; bits &= bits - 1) count++;
  return count;
}

/**
 * Reset and power-up put the register to 0. On a 22V10 the polarity gate follows the register, so the pin is then low where
 * active high; on a 16V8 or 20V8 it stands before the register and the pin is high after power-up either way.
 */
function isPolarityAllowed(goal: Goal, activeLow: boolean, view: DeviceView, goals: Goals): boolean {
  const levelAtReset = view.mode === 'cells' ? (activeLow ? 1 : 0) : 1;
  if ((goals.reset !== undefined || goals.preset !== undefined) && goal.resetLevel !== levelAtReset) return false;
  return goal.powerUp === undefined || goal.powerUp === levelAtReset;
}

interface CostContext {
  readonly goals: Goals;
  readonly view: DeviceView;
  readonly candidates: readonly (readonly (FittedOutput | undefined)[])[];
  readonly controls: Controls;
  readonly options: FitOptions;
  readonly needs: Needs;
}

/** An input on an output's pin is a pin less for later: it costs more than any order. */
const INPUT_ON_OUTPUT = 1e-2;

function signalCost(variable: number, pin: number, context: CostContext): number {
  const { goals, view, candidates, controls, options } = context;
  if (controls.reserved.includes(pin)) return FORBIDDEN;
  const fixed = controls.fixed.get(variable);
  if (fixed !== undefined && fixed !== pin) return FORBIDDEN;
  if (fixed === undefined && [...controls.fixed.values()].includes(pin)) return FORBIDDEN;
  const isOutput = variable >= goals.inputs.length;
  const asked = isOutput ? goals.outputs[variable - goals.inputs.length]!.pin : goals.inputs[variable]!.pin;
  if (asked !== undefined && asked !== pin && options.ignorePins !== true) return FORBIDDEN;
  const name = goals.names[variable]!;
  const wish = Math.max(0, options.pinCost?.(name, pin) ?? 0);
  const cell = view.cells.findIndex((one) => one.pin === pin);
  if (isOutput) {
    const index = variable - goals.inputs.length;
    if (cell < 0 || candidates[index]![cell] === undefined) return FORBIDDEN;
    // In the order given, from the top pin down, unless something else decides.
    return wish + 1e-6 * (cell - index) ** 2;
  }
  if (fixed !== undefined) return wish;
  if (!view.columnPins.includes(pin)) return FORBIDDEN;
  if (cell >= 0) return wish + INPUT_ON_OUTPUT;
  return wish + 1e-6 * (view.inputPins.indexOf(pin) - variable) ** 2;
}

function explainOutputs(
  goals: Goals,
  view: DeviceView,
  candidates: readonly (readonly (FittedOutput | undefined)[])[],
  needs: Needs,
  reasons: string[],
): void {
  if (goals.outputs.length > view.cells.length)
    reasons.push(`${goals.outputs.length} outputs are wanted; there are ${view.cells.length}`);
  for (const [index, goal] of goals.outputs.entries()) {
    if (candidates[index]!.some((one) => one !== undefined)) continue;
    const rooms = view.cells.map((cell) => (goal.registered ? cell.registered : cell.combinational)?.count ?? 0);
    const most = Math.max(...rooms);
    const high = goal.high.cover.length;
    const low = goal.low.cover.length;
    if (most === 0) reasons.push(`${goal.name} is registered, which this mode has not`);
    else if (Math.min(high, low) > most)
      reasons.push(`${goal.name} takes ${low} terms active low, ${high} active high; an output has at most ${most}`);
    else if (
      ((needs.read >> goal.variable) & 1) === 1 &&
      !view.cells.some((cell) => cell.feedback === 'pin-or-register')
    )
      reasons.push(`${goal.name} is read by another output, and this mode has no lines for that`);
    else if (goal.enable !== true && !view.cells.some((cell) => cell.enableRow !== undefined))
      reasons.push(`${goal.name} is not always driven, and this mode has no enables`);
    else if (goal.registered && (goals.reset !== undefined || goals.preset !== undefined || goal.powerUp !== undefined))
      reasons.push(
        `${goal.name} takes ${low} terms active low, ${high} active high, and its level at reset or power-up fixes which; an output has at most ${most}`,
      );
    else reasons.push(`${goal.name} finds no output with room and a line back`);
  }
}

function explainNoAssignment(
  goals: Goals,
  view: DeviceView,
  signals: readonly number[],
  costs: readonly (readonly number[])[],
  pins: readonly number[],
): string[] {
  const reasons: string[] = [];
  const askedOf = (variable: number): number | undefined =>
    variable >= goals.inputs.length ? goals.outputs[variable - goals.inputs.length]!.pin : goals.inputs[variable]!.pin;
  const holders = new Map<number, string>();
  for (const [index, variable] of signals.entries()) {
    const name = goals.names[variable]!;
    const asked = askedOf(variable);
    if (asked === undefined) continue;
    const other = holders.get(asked);
    if (other !== undefined) reasons.push(`${other} and ${name} both want pin ${asked}`);
    holders.set(asked, name);
    const column = pins.indexOf(asked);
    if (column >= 0 && costs[index]![column]! < FORBIDDEN) continue;
    if (variable === goals.clock && view.clockPin !== undefined) {
      reasons.push(`the clock is pin ${view.clockPin} here, and ${name} is wanted on pin ${asked}`);
      continue;
    }
    const what = variable >= goals.inputs.length ? 'such an output' : 'an input';
    reasons.push(
      column < 0 ? `pin ${asked}, wanted for ${name}, is no signal pin` : `pin ${asked} cannot be ${what} (${name})`,
    );
  }
  if (reasons.length > 0) return reasons;
  const inputs = signals.filter((variable) => variable < goals.inputs.length).length;
  const lines = new Set(view.columnPins).size;
  reasons.push(
    `${inputs} inputs and ${goals.outputs.length} outputs cannot all be placed: ${view.inputPins.length} pins are inputs only, ${lines - view.inputPins.length} outputs can be inputs instead`,
  );
  return reasons;
}

/** `in simple mode`, or `of a 22V10`. */
export function inMode(view: { readonly mode: DeviceMode; readonly device: string }): string {
  return view.mode === 'cells' ? `of a ${view.device}` : `in ${view.mode} mode`;
}
