// Which inputs can change which outputs, by a part's behaviour as data: what an arc between groups really joins, and where
// a path ends at a clock. Derived from the formulas alone.

import { type Formula, foldName, namesOf } from '../base/index.ts';
import { readBehaviour } from './behaviour.ts';
import { pinsNamed } from './pin-names.ts';
import type { PartRecord } from './record.ts';

/** How one output comes about; pins by the record's names. */
export interface Influence {
  /** Inputs that act on it at once: in its own formulas, or through what is latched or set asynchronously. */
  readonly direct: ReadonlySet<string>;
  /** Clock pins at whose edge it may change. */
  readonly clocks: ReadonlySet<string>;
  /** Inputs that such an edge takes up: they need setup and hold, and never reach the output by themselves. */
  readonly sampled: ReadonlySet<string>;
}

/** The influences on every output that the behaviour drives; undefined where it names a model in code or has none. */
export function influences(record: PartRecord): ReadonlyMap<string, Influence> | undefined {
  if (record.behaviour === undefined || record.behaviour.model !== undefined) return undefined;
  const { behaviour } = readBehaviour(record.behaviour);
  const isState = new Map(behaviour.state.map((name) => [foldName(name), name]));
  const rules = { now: new Map<string, Formula[]>(), edge: new Map<string, { clock: Formula; taken: Formula[] }[]>() };
  for (const entry of behaviour.asynchronous)
    for (const { state, value } of entry.set) push(rules.now, state, entry.when, value);
  for (const entry of behaviour.latched)
    for (const { state, value } of entry.set) push(rules.now, state, entry.while, value);
  for (const entry of behaviour.clocked)
    for (const { state, value } of entry.set) {
      const list = rules.edge.get(foldName(state)) ?? [];
      list.push({ clock: entry.of, taken: entry.when === undefined ? [value] : [value, entry.when] });
      rules.edge.set(foldName(state), list);
    }
  const pinsOf = (formula: Formula): string[] =>
    namesOf(formula).flatMap((name) =>
      isState.has(foldName(name)) ? [] : pinsNamed(record, name).map((pin) => pin.name),
    );

  const result = new Map<string, Influence>();
  for (const output of behaviour.outputs) {
    const direct = new Set<string>();
    const clocks = new Set<string>();
    const sampled = new Set<string>();
    // States that act at once, and states that only feed what an edge takes up.
    const seen = new Set<string>();
    const take = (formula: Formula, atOnce: boolean): void => {
      for (const pin of pinsOf(formula)) (atOnce ? direct : sampled).add(pin);
      for (const name of namesOf(formula)) {
        const state = isState.get(foldName(name));
        const key = `${atOnce} ${state}`;
        if (state === undefined || seen.has(key)) continue;
        seen.add(key);
        for (const inner of rules.now.get(foldName(state)) ?? []) take(inner, atOnce);
        for (const { clock, taken } of atOnce ? (rules.edge.get(foldName(state)) ?? []) : []) {
          for (const pin of pinsOf(clock)) clocks.add(pin);
          for (const inner of taken) take(inner, false);
        }
      }
    };
    take(output.value, true);
    if (output.enable !== undefined) take(output.enable, true);
    const pin = pinsNamed(record, output.pin)[0]?.name ?? output.pin;
    result.set(pin, { direct, clocks, sampled });
  }
  return result;
}

function push(map: Map<string, Formula[]>, state: string, ...formulas: Formula[]): void {
  map.set(foldName(state), [...(map.get(foldName(state)) ?? []), ...formulas]);
}
