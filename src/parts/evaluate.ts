// A plain evaluator of behaviour as data: what a part drives given its state and the levels at its pins, and the state it
// goes to. Slow and literal on purpose: function tables of makers are run against it, and faster simulators are compared
// with it. It knows no delays and no strengths.

import { bug, evaluate, foldName, type Formula, type FormulaLevel } from '../base/index.ts';
import { type Behaviour, readBehaviour } from './behaviour.ts';
import { pinsNamed } from './pin-names.ts';
import type { PartRecord } from './record.ts';

/** Levels at pins by the names of the record; a pin that is not listed is 'X'. */
export type PinLevels = Readonly<Record<string, FormulaLevel>>;

/** State variables by name. */
export type PartState = Readonly<Record<string, FormulaLevel>>;

/** What a pin drives: a level, 'X' where that is not known, 'Z' for nothing. */
export type PinDrive = FormulaLevel | 'Z';

/** A part that can be stepped; made once from its record. */
export interface PlainPart {
  readonly behaviour: Behaviour;
  /** Every state variable 'X', as after power comes on. */
  readonly start: PartState;
  /** The state after the levels went from `before` to `now`: edges first, then latches and asynchronous inputs. */
  step(state: PartState, before: PinLevels, now: PinLevels): PartState;
  /** What each output pin drives. */
  drive(state: PartState, now: PinLevels): Record<string, PinDrive>;
}

/** The plain part of a record whose behaviour is data; undefined where it has none or names a model in code. */
export function plainPart(record: PartRecord): PlainPart | undefined {
  if (record.behaviour === undefined || record.behaviour.model !== undefined) return undefined;
  const { behaviour, problems } = readBehaviour(record.behaviour);
  if (problems.length > 0) return undefined;
  const canonical = new Map<string, string>();
  for (const pin of record.pins) for (const name of pin.aliases ?? []) canonical.set(foldName(name), pin.name);
  for (const pin of record.pins) canonical.set(foldName(pin.name), pin.name);
  for (const name of behaviour.state) canonical.set(foldName(name), name);
  const nameOf = (name: string): string =>
    canonical.get(foldName(name)) ??
    pinsNamed(record, name)[0]?.name ??
    bug('a formula with an unknown name', { name });
  const isState = new Set(behaviour.state);
  const value = (formula: Formula, state: PartState, pins: PinLevels): FormulaLevel =>
    evaluate(formula, (written) => {
      const name = nameOf(written);
      return (isState.has(name) ? state[name] : pins[name]) ?? 'X';
    });
  const open = new Set(record.pins.filter((pin) => pin.kind === 'open-drain').map((pin) => pin.name));

  const step = (state: PartState, before: PinLevels, now: PinLevels): PartState => {
    // Edges act on the levels and the state from before the edge; the earliest entry that acts wins.
    const afterEdges: Record<string, FormulaLevel> = { ...state };
    for (const entry of [...behaviour.clocked].reverse()) {
      const was = value(entry.of, state, before);
      const is = value(entry.of, state, now);
      const acts = both(edge(entry.edge, was, is), entry.when === undefined ? 1 : value(entry.when, state, before));
      for (const { state: name, value: to } of entry.set)
        afterEdges[nameOf(name)] = choose(acts, value(to, state, before), afterEdges[nameOf(name)]!);
    }
    // Latches may feed one another (a master and its slave): settle within as many passes as there are variables.
    let settled: Record<string, FormulaLevel> = afterEdges;
    for (let pass = 0; pass <= behaviour.state.length; pass++) {
      const next: Record<string, FormulaLevel> = { ...settled };
      for (const entry of [...behaviour.latched].reverse())
        for (const { state: name, value: to } of entry.set)
          next[nameOf(name)] = choose(value(entry.while, settled, now), value(to, settled, now), next[nameOf(name)]!);
      for (const entry of [...behaviour.asynchronous].reverse())
        for (const { state: name, value: to } of entry.set)
          next[nameOf(name)] = choose(value(entry.when, settled, now), value(to, settled, now), next[nameOf(name)]!);
      const same = behaviour.state.every((name) => next[name] === settled[name]);
      settled = next;
      if (same) return settled;
    }
    return settled;
  };
  const drive = (state: PartState, now: PinLevels): Record<string, PinDrive> => {
    const drives: Record<string, PinDrive> = {};
    for (const rule of behaviour.outputs) {
      const pin = nameOf(rule.pin);
      const enabled = rule.enable === undefined ? 1 : value(rule.enable, state, now);
      const level = value(rule.value, state, now);
      drives[pin] = enabled === 0 || (open.has(pin) && level === 1) ? 'Z' : enabled === 'X' ? 'X' : level;
    }
    return drives;
  };
  return {
    behaviour,
    start: Object.fromEntries(behaviour.state.map((name) => [name, 'X' as const])),
    step,
    drive,
  };
}

/** Whether the wanted edge happened: 'X' where it may have. */
function edge(kind: 'rise' | 'fall', was: FormulaLevel, is: FormulaLevel): FormulaLevel {
  const from = kind === 'rise' ? 0 : 1;
  const to = kind === 'rise' ? 1 : 0;
  if (was === from && is === to) return 1;
  if (was === to || is === from) return 0;
  return 'X';
}

function both(a: FormulaLevel, b: FormulaLevel): FormulaLevel {
  return a === 0 || b === 0 ? 0 : a === 1 && b === 1 ? 1 : 'X';
}

/** `to` where it acts, `from` where it doesn't, and where that is not known only what both agree on. */
function choose(acts: FormulaLevel, to: FormulaLevel, from: FormulaLevel): FormulaLevel {
  return acts === 1 ? to : acts === 0 || to === from ? from : 'X';
}
