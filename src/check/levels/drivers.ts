// When a pin drives its net: outputs that can be let go by their records' enables, memories and peripherals by their selects
// and strobes, processors by the kind of cycle. And what can never be together, by the makers' timing diagrams: the only
// place of the checks that knows what a read strobe excludes.

import { type Formula, foldName } from '../../base/index.ts';
import type { NetPart, NetPin } from '../../netlist/index.ts';
import type { RuleContext } from '../rule.ts';
import { FALSE, type Fn, TRUE } from './bdd.ts';
import { behaviourOf, isActiveLow, isProgrammable, type Levels, levelsOf, pinNamed } from './levels.ts';

/** Names of a record's list or range, such as `A14-A0` or `/CE1, CE2`. */
function pinNames(text: string | undefined): string[] {
  return (text ?? '').split(',').flatMap((item) => {
    const range = /^\s*(.*?)(\d+)-(.*?)(\d+)\s*$/.exec(item);
    if (range === null || range[1] !== range[3]) return item.trim() === '' ? [] : [item.trim()];
    const [from, to] = [Number(range[2]), Number(range[4])];
    return Array.from(
      { length: Math.abs(from - to) + 1 },
      (_, k) => `${range[1]}${from + Math.sign(to - from || 1) * k}`,
    );
  });
}

const dataPins = new WeakMap<object, ReadonlySet<string>>();

/** Whether a pin is a data pin of its part's bus. */
export function isDataPin(part: NetPart, pin: NetPin): boolean {
  const { bus } = part.record;
  if (bus?.data === undefined) return false;
  let names = dataPins.get(bus);
  if (names === undefined) {
    names = new Set(pinNames(bus.data).map(foldName));
    dataPins.set(bus, names);
  }
  return names.has(foldName(pin.name));
}

/** True while the named pin of a part is asserted, by its polarity. */
function asserted(levels: Levels, part: NetPart, name: string): Fn {
  const level = levels.at(part, name);
  return isActiveLow(name) ? levels.bdd.not(level) : level;
}

/** A signal of a part as asserted, or undefined where its record has none. */
function signal(levels: Levels, part: NetPart, key: string): Fn | undefined {
  const name = pinNames(part.record.bus?.signals?.[key])[0];
  return name === undefined ? undefined : asserted(levels, part, name);
}

/** The level of a part's signal, whatever its polarity. */
function level(levels: Levels, part: NetPart, key: string): Fn | undefined {
  const name = pinNames(part.record.bus?.signals?.[key])[0];
  return name === undefined ? undefined : levels.at(part, name);
}

function partOfRole(context: RuleContext, role: string): NetPart | undefined {
  return context.netlist.parts.find((part) => part.record.bus?.role === role);
}

const COMMANDS = ['memory-read', 'memory-write', 'io-read', 'io-write', 'interrupt-acknowledge'] as const;

/** When a processor drives its data pins. */
function processorDrives(levels: Levels, part: NetPart): Fn | undefined {
  const { bdd, context } = levels;
  const on = (key: string): Fn => signal(levels, part, key) ?? FALSE;
  const off = (key: string): Fn => bdd.not(on(key));
  switch (part.record.bus?.style) {
    case 'z80':
      // Data come in write cycles only: not in fetches, refreshes, acknowledges, nor while the bus is given away.
      return bdd.and(bdd.or(on('memory'), on('io')), off('read'), off('fetch'), off('refresh'), off('bus-grant'));
    case '6502':
      return bdd.and(
        bdd.not(level(levels, part, 'rw') ?? TRUE),
        level(levels, part, 'phase2') ?? TRUE,
        signal(levels, part, 'bus-enable') ?? TRUE,
      );
    case '6809':
      return bdd.and(bdd.not(level(levels, part, 'rw') ?? TRUE), on('e'), off('bus-grant'));
    case '8085':
    case '8088':
    case '8086': {
      const controller = partOfRole(context, 'bus-controller');
      if (controller !== undefined)
        return bdd.and(
          ...['memory-read', 'io-read', 'interrupt-acknowledge'].map((key) =>
            bdd.not(signal(levels, controller, key) ?? FALSE),
          ),
        );
      // Address in the first state, then data, but never while something else is asked to answer.
      return bdd.and(off('read'), off('interrupt-acknowledge'), off('bus-grant'));
    }
    default:
      return undefined;
  }
}

/** What the parts' makers rule out: read and write at once, two commands at once. */
export function ruledOut(levels: Levels): Fn {
  const { bdd, context } = levels;
  const facts: Fn[] = [];
  const apart = (part: NetPart, keys: readonly string[]): void => {
    const all = keys.flatMap((key) => {
      const on = signal(levels, part, key);
      return on === undefined || on === TRUE ? [] : [on];
    });
    all.forEach((one, k) => {
      for (const other of all.slice(k + 1)) facts.push(bdd.not(bdd.and(one, other)));
    });
  };
  for (const part of context.netlist.parts) {
    const { bus } = part.record;
    if (bus?.role === 'processor') {
      if (bus.style === 'z80') {
        apart(part, ['read', 'write']);
        apart(part, ['memory', 'io']);
        apart(part, ['fetch', 'refresh']);
        const [io, fetch, read] = ['io', 'fetch', 'read'].map((key) => signal(levels, part, key) ?? FALSE);
        // An acknowledge has neither read nor write.
        facts.push(bdd.not(bdd.and(io!, fetch!, read!)));
        facts.push(bdd.not(bdd.and(fetch!, signal(levels, part, 'write') ?? FALSE)));
      }
      if (bus.style === '8085' || bus.style === '8088' || bus.style === '8086') {
        apart(part, ['read', 'write', 'interrupt-acknowledge']);
        const away = level(levels, part, 'data-direction');
        const enabled = signal(levels, part, 'data-enable');
        const read = signal(levels, part, 'read');
        if (away !== undefined && enabled !== undefined && read !== undefined) {
          const reading = bdd.or(read, signal(levels, part, 'interrupt-acknowledge') ?? FALSE);
          // The transceiver points inwards only while something is read, and outwards only while nothing is.
          facts.push(bdd.or(away, bdd.not(enabled), reading));
          facts.push(bdd.or(bdd.not(away), bdd.not(enabled), bdd.not(reading)));
        }
      }
    }
    if (bus?.role === 'bus-controller') {
      apart(part, COMMANDS);
      const away = level(levels, part, 'data-direction');
      const enabled = signal(levels, part, 'data-enable');
      if (away !== undefined && enabled !== undefined) {
        const reading = bdd.or(
          ...['memory-read', 'io-read', 'interrupt-acknowledge'].map((key) => signal(levels, part, key) ?? FALSE),
        );
        facts.push(bdd.or(away, bdd.not(enabled), reading));
        facts.push(bdd.or(bdd.not(away), bdd.not(enabled), bdd.not(reading)));
      }
    }
  }
  return bdd.and(...facts);
}

/** The condition under which a further master drives, where the machine file says one. */
function masterWhen(levels: Levels, part: NetPart): Fn | undefined {
  for (const bus of levels.context.machine.buses)
    for (const master of bus.masters)
      if (foldName(master.part.name) === foldName(part.name)) return levels.overNets(master.when.name);
  return undefined;
}

function drivesWhen(levels: Levels, pin: NetPin): Fn | undefined {
  const { context } = levels;
  const part = context.view.part(pin);
  const { record } = part;
  if (pin.kind === 'output') return TRUE;
  if (isProgrammable(part)) {
    const plan = levels.plan(part);
    if (plan === undefined || plan.outputs.length === 0) return undefined;
    // A pin that the plan gives no function in this stage is an input.
    const output = plan.outputs.find(
      (candidate) =>
        foldName(candidate.pin) === foldName(pin.name) &&
        candidate.stage <= context.stage &&
        (candidate.until === undefined || context.stage < candidate.until),
    );
    if (output === undefined) return FALSE;
    return output.enable === undefined ? TRUE : levels.overNets(output.enable);
  }
  const behaviour = behaviourOf(record);
  const rule = behaviour?.outputs.find((output) => foldName(output.pin) === foldName(pin.name));
  if (behaviour !== undefined && rule !== undefined) {
    if (rule.enable === undefined) return TRUE;
    return formulaAt(levels, part, rule.enable, new Set(behaviour.state.map(foldName)));
  }
  const { bus } = record;
  if (bus === undefined) return undefined;
  const master = masterWhen(levels, part);
  if (master !== undefined) return master;
  if (!isDataPin(part, pin)) return undefined;
  // All data pins of a part drive together.
  const before = levels.together.get(part.id);
  if (before !== undefined) return before.when;
  const when = dataDrives(levels, part);
  levels.together.set(part.id, { when });
  return when;
}

/** When a part drives its data pins. */
function dataDrives(levels: Levels, part: NetPart): Fn | undefined {
  const { bdd } = levels;
  const { bus } = part.record;
  if (bus === undefined) return undefined;
  if (bus.role === 'processor') return processorDrives(levels, part);
  const selected = bdd.and(...(bus.selects ?? []).map((name) => asserted(levels, part, name)));
  if (bus.role === 'memory') {
    const writing = signal(levels, part, 'write') ?? FALSE;
    return bdd.and(selected, signal(levels, part, 'read') ?? TRUE, bdd.not(writing));
  }
  if (bus.role !== 'peripheral') return undefined;
  if (bus.style === 'e-clock')
    return bdd.and(selected, signal(levels, part, 'e') ?? TRUE, level(levels, part, 'rw') ?? TRUE);
  const read = signal(levels, part, 'read');
  return read === undefined ? undefined : bdd.and(selected, read);
}

function formulaAt(levels: Levels, part: NetPart, formula: Formula, state: ReadonlySet<string>): Fn {
  const { bdd } = levels;
  switch (formula.kind) {
    case 'constant':
      return formula.value === 1 ? TRUE : FALSE;
    case 'name':
      return state.has(foldName(formula.name))
        ? bdd.variable(`state ${part.name} ${formula.name}`)
        : levels.at(part, formula.name);
    case 'not':
      return bdd.not(formulaAt(levels, part, formula.term, state));
    case 'and':
      return bdd.and(...formula.terms.map((term) => formulaAt(levels, part, term, state)));
    case 'or':
      return bdd.or(...formula.terms.map((term) => formulaAt(levels, part, term, state)));
    case 'xor':
      return formula.terms.map((term) => formulaAt(levels, part, term, state)).reduce((a, b) => bdd.xor(a, b));
  }
}

const known = new WeakMap<object, Levels>();

/** The functions of the context's netlist, made once. */
export function levelsAt(context: RuleContext): Levels {
  let levels = known.get(context.netlist);
  if (levels === undefined) {
    levels = levelsOf(context, drivesWhen);
    known.set(context.netlist, levels);
  }
  return levels;
}

export { pinNamed, pinNames };
