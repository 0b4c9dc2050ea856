// Checks of a record's behaviour block: that its formulas can be read and speak of pins that bear a level and of state that
// exists, and that what it sets and drives can be set and driven.

import { foldName, namesOf } from '../base/index.ts';
import { readBehaviour } from './behaviour.ts';
import { pinNames, pinsNamed } from './pin-names.ts';
import type { PartRecord } from './record.ts';
import type { Reporter } from './reporter.ts';

/** Pins whose level from outside means something; what an output drives is told of by the state behind it. */
const READABLE: ReadonlySet<string> = new Set(['input', 'bidirectional', 'open-drain', 'passive']);
const DRIVABLE: ReadonlySet<string> = new Set(['output', 'three-state', 'bidirectional', 'open-drain', 'passive']);

export function checkBehaviour(record: PartRecord, reporter: Reporter): void {
  if (record.behaviour === undefined) return;
  const { behaviour, formulas, targets, problems } = readBehaviour(record.behaviour);
  for (const problem of problems) {
    const { message, path, ...place } = problem;
    reporter.say('parts/formula', { ...place, path: ['behaviour', ...path] }, message, {
      help: 'Formulas have ~ & ^ | and brackets over levels of pins and state; # stands for the repeated value.',
    });
  }
  const state = new Map(behaviour.state.map((name) => [foldName(name), name]));
  for (const name of behaviour.state)
    if (pinsNamed(record, name).length > 0)
      reporter.say('parts/state-name', { path: ['behaviour', 'state'] }, `${name} is a pin; state needs its own name.`);
  const known = [...behaviour.state, ...pinNames(record)];
  for (const { path, formula, repeated } of formulas) {
    const place = { path: ['behaviour', ...path] };
    for (const name of namesOf(formula)) {
      if (state.has(foldName(name))) continue;
      const pin = pinsNamed(record, name)[0];
      const first = repeated ? undefined : placeOf(formula, name);
      if (pin === undefined)
        reporter.unknown('parts/unknown-pin', { ...place, ...first }, 'pin or state variable', name, known);
      else if (!READABLE.has(pin.kind))
        reporter.say(
          'parts/formula-pin',
          { ...place, ...first },
          `${name} is ${pin.kind}: its level decides nothing.`,
          {
            help: 'Use the state or the inputs it comes from.',
          },
        );
    }
  }
  const driven = new Set<string>();
  for (const { path, name, state: isState } of targets) {
    const place = { path: ['behaviour', ...path], key: true };
    if (isState) {
      if (!state.has(foldName(name)))
        reporter.unknown('parts/unknown-state', place, 'state variable', name, behaviour.state);
      continue;
    }
    const pin = pinsNamed(record, name)[0];
    if (pin === undefined) reporter.unknown('parts/unknown-pin', place, 'pin', name, pinNames(record));
    else if (!DRIVABLE.has(pin.kind))
      reporter.say('parts/formula-pin', place, `${name} is ${pin.kind} and cannot be driven.`);
    else if (driven.has(pin.name)) reporter.say('parts/formula-pin', place, `${name} is driven twice.`);
    if (pin !== undefined) driven.add(pin.name);
  }
  behaviour.joins.forEach((join, index) => {
    join.pins.forEach((name, at) => {
      if (pinsNamed(record, name).length === 0)
        reporter.unknown('parts/unknown-pin', { path: ['behaviour', 'joins', index, 'pins', at] }, 'pin', name, known);
    });
  });
  // Where formulas say what the part does, they must say it of every output.
  if (behaviour.model === undefined && behaviour.outputs.length > 0)
    for (const pin of record.pins)
      if ((pin.kind === 'output' || pin.kind === 'three-state') && !driven.has(pin.name))
        reporter.say(
          'parts/undriven-output',
          { path: ['behaviour', 'outputs'], key: true },
          `Nothing drives ${pin.name}.`,
          {
            help: 'Add its formula, or name a model.',
          },
        );
}

function placeOf(formula: ReturnType<typeof readBehaviour>['formulas'][number]['formula'], name: string): object {
  if (formula.kind === 'name')
    return foldName(formula.name) === foldName(name) ? { start: formula.start, end: formula.end } : {};
  const terms = formula.kind === 'not' ? [formula.term] : formula.kind === 'constant' ? [] : formula.terms;
  for (const term of terms) {
    const found = placeOf(term, name);
    if (Object.keys(found).length > 0) return found;
  }
  return {};
}
