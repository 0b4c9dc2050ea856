// Behaviour as data, bound to numbers: formulas whose names are replaced by the index of an input or state variable. The
// plain kernel walks these trees, the compiled one turns them into code; both follow plainPart of src/parts.

import { bug, type Formula, foldName } from '../../base/index.ts';
import { type Behaviour, type PartRecord, pinsNamed, readBehaviour } from '../../parts/index.ts';
import type { SimLiteral, SimLogic } from '../model.ts';

/** A formula over indexes. */
export type Expr =
  | { readonly op: 'constant'; readonly value: 0 | 1 }
  | { readonly op: 'input' | 'state'; readonly index: number }
  | { readonly op: 'not'; readonly term: Expr }
  | { readonly op: 'and' | 'or' | 'xor'; readonly terms: readonly Expr[] };

export interface Setting {
  readonly state: number;
  readonly value: Expr;
}

/** A part whose behaviour is formulas; inputs and outputs are pin numbers of its record. */
export interface FormulaPart {
  readonly inputs: readonly number[];
  readonly states: readonly string[];
  /** Values at power-up of those state variables that have one. */
  readonly powerUp: ReadonlyMap<number, 0 | 1>;
  readonly asynchronous: readonly { readonly when: Expr; readonly set: readonly Setting[] }[];
  readonly clocked: readonly {
    readonly edge: 'rise' | 'fall';
    readonly of: Expr;
    readonly when: Expr | undefined;
    readonly set: readonly Setting[];
  }[];
  readonly latched: readonly { readonly while: Expr; readonly set: readonly Setting[] }[];
  readonly outputs: readonly {
    readonly pin: number;
    readonly value: Expr;
    readonly enable: Expr | undefined;
    /** Value 1 drives nothing. */
    readonly openDrain: boolean;
  }[];
}

/** The numbers of inputs, as they are first used. */
function createInputs(): { readonly list: number[]; of(pin: number): number } {
  const list: number[] = [];
  return {
    list,
    of: (pin) => {
      const at = list.indexOf(pin);
      return at >= 0 ? at : list.push(pin) - 1;
    },
  };
}

/** The formulas of a record; undefined where its behaviour is no formulas, cannot be read, or says nothing of outputs. */
export function formulaPart(record: PartRecord): FormulaPart | undefined {
  if (record.behaviour === undefined || record.behaviour.model !== undefined) return undefined;
  const { behaviour, problems } = readBehaviour(record.behaviour);
  if (problems.length > 0 || behaviour.outputs.length === 0) return undefined;
  return bindBehaviour(record, behaviour);
}

function bindBehaviour(record: PartRecord, behaviour: Behaviour): FormulaPart {
  const inputs = createInputs();
  const states = new Map(behaviour.state.map((name, index) => [foldName(name), index]));
  const bind = (formula: Formula): Expr => bindFormula(formula, record, inputs.of, states);
  const settings = (set: readonly { readonly state: string; readonly value: Formula }[]): Setting[] =>
    set.map((entry) => ({
      state: states.get(foldName(entry.state)) ?? bug('a state variable that is not declared', { name: entry.state }),
      value: bind(entry.value),
    }));
  return {
    states: behaviour.state,
    powerUp: new Map(),
    asynchronous: behaviour.asynchronous.map((entry) => ({ when: bind(entry.when), set: settings(entry.set) })),
    clocked: behaviour.clocked.map((entry) => ({
      edge: entry.edge,
      of: bind(entry.of),
      when: entry.when === undefined ? undefined : bind(entry.when),
      set: settings(entry.set),
    })),
    latched: behaviour.latched.map((entry) => ({ while: bind(entry.while), set: settings(entry.set) })),
    outputs: behaviour.outputs.map((rule) => {
      const pin = pinsNamed(record, rule.pin)[0] ?? bug('an output that is no pin', { pin: rule.pin });
      return {
        pin: pin.number,
        value: bind(rule.value),
        enable: rule.enable === undefined ? undefined : bind(rule.enable),
        openDrain: pin.kind === 'open-drain',
      };
    }),
    inputs: inputs.list,
  };
}

/** A formula with its names bound: state variables by the map, all else pins of the record. */
export function bindFormula(
  formula: Formula,
  record: PartRecord,
  input: (pin: number) => number,
  states: ReadonlyMap<string, number>,
): Expr {
  switch (formula.kind) {
    case 'constant':
      return { op: 'constant', value: formula.value };
    case 'name': {
      const state = states.get(foldName(formula.name));
      if (state !== undefined) return { op: 'state', index: state };
      const pin = pinsNamed(record, formula.name)[0] ?? bug('a formula with an unknown name', { name: formula.name });
      return { op: 'input', index: input(pin.number) };
    }
    case 'not':
      return { op: 'not', term: bindFormula(formula.term, record, input, states) };
    default:
      return {
        op: formula.kind,
        terms: formula.terms.map((term) => bindFormula(term, record, input, states)),
      };
  }
}

/** A programmed logic device: sums of product terms, registers as state variables. */
export function logicPart(logic: SimLogic): FormulaPart {
  const inputs = createInputs();
  const registers = logic.outputs.filter((output) => output.registered);
  const registerOf = new Map(registers.map((output, index) => [output.pin, index]));
  const inner = new Set(registers.filter((output) => output.feedbackFrom === 'register').map(({ pin }) => pin));
  const literal = (one: SimLiteral): Expr => {
    // State is the level that the pin shows while it is driven.
    const isInner = one.feedback === true || inner.has(one.pin);
    const register = isInner ? registerOf.get(one.pin) : undefined;
    const expr: Expr =
      register === undefined ? { op: 'input', index: inputs.of(one.pin) } : { op: 'state', index: register };
    return one.level === 1 ? expr : { op: 'not', term: expr };
  };
  const product = (term: readonly SimLiteral[]): Expr =>
    term.length === 0
      ? { op: 'constant', value: 1 }
      : term.length === 1
        ? literal(term[0]!)
        : { op: 'and', terms: term.map(literal) };
  const sum = (terms: readonly (readonly SimLiteral[])[]): Expr =>
    terms.length === 0
      ? { op: 'constant', value: 0 }
      : terms.length === 1
        ? product(terms[0]!)
        : { op: 'or', terms: terms.map(product) };
  const not = (isInverted: boolean, expr: Expr): Expr => (isInverted ? { op: 'not', term: expr } : expr);
  const level = (output: (typeof logic.outputs)[number]): Expr => not(output.activeLow, sum(output.terms));
  /** A register at 0 shows high where the output inverts. */
  const cleared = (output: (typeof logic.outputs)[number]): Expr => ({
    op: 'constant',
    value: output.activeLow ? 1 : 0,
  });
  const set = (output: (typeof logic.outputs)[number]): Expr => ({ op: 'constant', value: output.activeLow ? 0 : 1 });
  const all = (value: (output: (typeof logic.outputs)[number]) => Expr): Setting[] =>
    registers.map((output, index) => ({ state: index, value: value(output) }));
  const clock: Expr | undefined =
    logic.clockPin === undefined ? undefined : { op: 'input', index: inputs.of(logic.clockPin) };
  const preset = logic.preset !== undefined && logic.preset.length > 0 ? sum(logic.preset) : undefined;
  const powerUp = registers.flatMap((output, index): [number, 0 | 1][] =>
    output.powerUp === undefined ? [] : [[index, output.powerUp]],
  );
  const reset = logic.reset !== undefined && logic.reset.length > 0 ? sum(logic.reset) : undefined;
  // Registers that stand reset take no edge, even where the reset depends on one of them.
  const free: Expr | undefined = reset === undefined ? undefined : { op: 'not', term: reset };
  const whenFree = (expr: Expr): Expr => (free === undefined ? expr : { op: 'and', terms: [free, expr] });
  return {
    states: registers.map((output) => `pin ${output.pin}`),
    powerUp: new Map(powerUp),
    asynchronous: reset !== undefined && registers.length > 0 ? [{ when: reset, set: all(cleared) }] : [],
    clocked:
      clock === undefined || registers.length === 0
        ? []
        : [
            ...(preset === undefined
              ? []
              : [{ edge: 'rise' as const, of: clock, when: whenFree(preset), set: all(set) }]),
            { edge: 'rise' as const, of: clock, when: free, set: all(level) },
          ],
    latched: [],
    outputs: logic.outputs
      .filter((output) => output.enable !== false)
      .map((output) => ({
        pin: output.pin,
        value: output.registered ? { op: 'state' as const, index: registerOf.get(output.pin)! } : level(output),
        enable: output.enable === true || output.enable === false ? undefined : sum(output.enable),
        openDrain: false,
      })),
    inputs: inputs.list,
  };
}
