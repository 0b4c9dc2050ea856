// What all steps of elaboration share: part instances over the stages, pins looked up by name, the list of connection
// statements, and findings. No step writes into another's output; statements are gathered first and assembled per stage.

import {
  bug,
  type Finding,
  type Fix,
  foldName,
  type Note,
  nearestName,
  type Severity,
  type Span,
} from '../../base/index.ts';
import type { Lifetime, Machine, NameRef, PartDecl, PinRef } from '../../machine/index.ts';
import type { Library, PartPinRow, PartRecord, PinKind, ResolvedType } from '../../parts/index.ts';
import type { Origin, StageInfo } from '../model.ts';

/** A part during some stages. A part that is replaced has two instances of one name. */
export interface Instance {
  readonly index: number;
  readonly name: string;
  readonly decl: PartDecl;
  readonly type: ResolvedType;
  readonly stage: number;
  readonly until: number | undefined;
}

/** A stretch of stages: from `stage` until (not including) `until`. */
export interface Stretch {
  readonly stage: number;
  readonly until: number | undefined;
}

/** One pin joined to one net during a stretch of stages; the first statement about a pin wins. */
export interface Statement extends Stretch {
  readonly instance: Instance;
  readonly row: PartPinRow;
  /** The net's name, or undefined when the pin is left open on purpose. */
  readonly net: string | undefined;
  readonly origin: Origin;
  /** True for what a line of the machine file says of this very pin. */
  readonly explicit: boolean;
  /** What the pin is here, where the record says only that it can be both: a cell of a programmable device. */
  readonly kind?: PinKind;
}

export interface Context {
  readonly machine: Machine;
  readonly library: Library;
  readonly stages: readonly StageInfo[];
  readonly instances: readonly Instance[];
  /** Selects all look at the line that names the space, also where that comes late: there is nothing to make better strobes. */
  readonly areSelectsLate: boolean;
  /** Parts that are selected by the address alone so that their selects precede their strobes, and those strobes. */
  readonly early: { readonly part: string; readonly span: Span; readonly strobes: readonly string[] }[];
  readonly statements: Statement[];
  readonly findings: Finding[];
  /** Names of nets as first written, by folded name. */
  readonly netNames: Map<string, string>;
  /** Nets that the machine file names, by folded name. */
  readonly declaredNets: Set<string>;
  /** Instances by folded name, in order of stage. */
  readonly byName: ReadonlyMap<string, readonly Instance[]>;
  /** Statements by pin, kept in step with `statements`. */
  readonly byPin: Map<string, Statement[]>;
}

export function report(
  context: Context,
  code: string,
  severity: Severity,
  message: string,
  where: Span | undefined,
  extra: {
    notes?: readonly Note[];
    help?: string;
    fixes?: readonly Fix[];
    about?: readonly string[];
    stage?: number;
  } = {},
): void {
  context.findings.push({
    code,
    severity,
    message,
    where: where === undefined ? [] : [where],
    ...extra,
    notes: extra.notes ?? [],
  });
}

interface PinIndex {
  readonly byName: ReadonlyMap<string, readonly PartPinRow[]>;
  readonly repeated: ReadonlySet<string>;
}

const indexes = new WeakMap<PartRecord, PinIndex>();

function pinIndex(record: PartRecord): PinIndex {
  const known = indexes.get(record);
  if (known !== undefined) return known;
  const byName = new Map<string, PartPinRow[]>();
  const repeated = new Set<string>();
  for (const row of record.pins) {
    const key = foldName(row.name);
    const rows = byName.get(key);
    if (rows === undefined) byName.set(key, [row]);
    else {
      rows.push(row);
      repeated.add(key);
    }
  }
  // An alias never hides a pin's own name.
  for (const row of record.pins) {
    for (const alias of row.aliases ?? []) {
      const key = foldName(alias);
      const rows = byName.get(key);
      if (rows === undefined) byName.set(key, [row]);
    }
  }
  const index = { byName, repeated };
  indexes.set(record, index);
  return index;
}

/** The rows of a record that bear `name` (its own, an alias, or the pin's number where none is so named), and `number`. */
export function findPins(record: PartRecord, name: string, number?: number): readonly PartPinRow[] {
  const rows =
    pinIndex(record).byName.get(foldName(name)) ??
    (/^[1-9]\d{0,2}$/.test(name) ? record.pins.filter((row) => row.number === Number(name)) : []);
  return number === undefined ? rows : rows.filter((row) => row.number === number);
}

/** `CPU.A0`, or `CPU.GND@20` where the record has several pins of that name. */
export function pinRefText(part: string, record: PartRecord, row: PartPinRow): string {
  return pinIndex(record).repeated.has(foldName(row.name))
    ? `${part}.${row.name}@${row.number}`
    : `${part}.${row.name}`;
}

/** The pin names meant by a record's range or list, such as `A14-A0` or `/CE1, CE2`, highest first as written. */
export function pinList(text: string | undefined): string[] {
  if (text === undefined) return [];
  const names: string[] = [];
  for (const item of text.split(',').map((part) => part.trim())) {
    const range = /^(.*?)(\d+)-(.*?)(\d+)$/.exec(item);
    if (range !== null && range[1] === range[3]) {
      const first = Number(range[2]);
      const last = Number(range[4]);
      const step = first <= last ? 1 : -1;
      for (let k = first; k !== last + step; k += step) names.push(`${range[1]}${k}`);
    } else if (item !== '') names.push(item);
  }
  return names;
}

/** The pin of a record that its own bus description names. A record that names no such pin is our mistake. */
export function recordPin(record: PartRecord, name: string): PartPinRow {
  return findPins(record, name)[0] ?? bug('a record names a pin it does not have', { part: record.part, pin: name });
}

export function overlap(a: Stretch, b: Stretch): boolean {
  return (a.until === undefined || b.stage < a.until) && (b.until === undefined || a.stage < b.until);
}

/** The stages common to both, or undefined. */
export function meet(a: Stretch, b: Stretch): Stretch | undefined {
  if (!overlap(a, b)) return undefined;
  const until = a.until === undefined ? b.until : b.until === undefined ? a.until : Math.min(a.until, b.until);
  return { stage: Math.max(a.stage, b.stage), until };
}

/** The stages of `a` that are not in `b`, in order. */
export function without(a: Stretch, b: Stretch): Stretch[] {
  if (!overlap(a, b)) return [a];
  const left: Stretch[] = [];
  if (a.stage < b.stage) left.push({ stage: a.stage, until: b.stage });
  if (b.until !== undefined && (a.until === undefined || b.until < a.until))
    left.push({ stage: b.until, until: a.until });
  return left;
}

/** The same stages as few stretches, in order. */
export function merged(stretches: readonly Stretch[]): Stretch[] {
  const result: Stretch[] = [];
  for (const next of [...stretches].sort((a, b) => a.stage - b.stage)) {
    const last = result[result.length - 1];
    if (last === undefined || (last.until !== undefined && last.until < next.stage)) result.push(next);
    else if (last.until !== undefined && (next.until === undefined || next.until > last.until))
      result[result.length - 1] = { stage: last.stage, until: next.until };
  }
  return result;
}

/** The number of the stage of that name (from 1), or undefined. */
export function stageNumber(
  context: { readonly stages: readonly StageInfo[] },
  ref: NameRef | undefined,
): number | undefined {
  if (ref === undefined) return undefined;
  const wanted = foldName(ref.name);
  return context.stages.find((stage) => foldName(stage.name) === wanted || String(stage.number) === wanted)?.number;
}

export function stretchOf(context: Context, lifetime: Lifetime): Stretch {
  return { stage: stageNumber(context, lifetime.from) ?? 1, until: stageNumber(context, lifetime.until) };
}

/** The instances of a part's name that overlap `stretch`. */
export function instancesOf(
  context: Context,
  name: string,
  stretch: Stretch = { stage: 1, until: undefined },
): readonly Instance[] {
  return (context.byName.get(foldName(name)) ?? []).filter((instance) => overlap(instance, stretch));
}

/** The name of a net as first written. */
export function netName(context: Context, name: string): string {
  const key = foldName(name);
  const known = context.netNames.get(key);
  if (known !== undefined) return known;
  context.netNames.set(key, name);
  return name;
}

function pinKey(instance: Instance, row: PartPinRow): string {
  return `${instance.index}.${row.number}`;
}

/** The statements about a pin that overlap `stretch`, in order of rank. */
export function statementsOf(
  context: Context,
  instance: Instance,
  row: PartPinRow,
  stretch: Stretch = instance,
): readonly Statement[] {
  return (context.byPin.get(pinKey(instance, row)) ?? []).filter((statement) => overlap(statement, stretch));
}

/** Adds a statement; a contradiction between two explicit ones is reported, and the first stands. */
export function connect(context: Context, statement: Statement): void {
  const key = pinKey(statement.instance, statement.row);
  let list = context.byPin.get(key);
  if (list === undefined) {
    list = [];
    context.byPin.set(key, list);
  }
  if (statement.explicit) {
    const other = list.find(
      (before) =>
        before.explicit && overlap(before, statement) && foldName(before.net ?? '') !== foldName(statement.net ?? ''),
    );
    if (other !== undefined) {
      const ref = pinRefText(statement.instance.name, statement.instance.type.record, statement.row);
      report(
        context,
        'netlist/pin-in-two-nets',
        'error',
        `${ref} is put in ${statement.net ?? 'no net'} here, and in ${other.net ?? 'no net'} elsewhere.`,
        statement.origin.span,
        {
          notes:
            other.origin.span === undefined
              ? []
              : [{ text: 'The other place; it is the one that stands.', span: other.origin.span }],
          help: 'A pin belongs to one net. Remove it from one of the two, or give both the same name.',
          about: [ref],
        },
      );
      return;
    }
  }
  list.push(statement);
  context.statements.push(statement);
}

/** Takes a statement back. */
export function removeStatement(context: Context, statement: Statement): void {
  const drop = (list: Statement[]): void => {
    const at = list.indexOf(statement);
    if (at >= 0) list.splice(at, 1);
  };
  drop(context.statements);
  drop(context.byPin.get(pinKey(statement.instance, statement.row)) ?? []);
}

/** Puts one pin's statement into another net. */
export function moveStatement(context: Context, statement: Statement, to: string): void {
  const moved = { ...statement, net: to };
  const swap = (list: Statement[]): void => {
    const at = list.indexOf(statement);
    if (at >= 0) list[at] = moved;
  };
  swap(context.statements);
  swap(context.byPin.get(pinKey(statement.instance, statement.row)) ?? []);
}

/** Says what a pin is during these stages, whoever joined it. */
export function setKind(context: Context, instance: Instance, row: PartPinRow, stretch: Stretch, kind: PinKind): void {
  for (const statement of statementsOf(context, instance, row, stretch)) {
    const changed = { ...statement, kind };
    for (const list of [context.statements, context.byPin.get(pinKey(instance, row)) ?? []]) {
      const at = list.indexOf(statement);
      if (at >= 0) list[at] = changed;
    }
  }
}

/** Puts the pins of one net into another, saying why. */
export function redirect(context: Context, net: string, to: string, why: string): void {
  const key = foldName(net);
  const moved = (statement: Statement): Statement =>
    statement.net === undefined || foldName(statement.net) !== key
      ? statement
      : { ...statement, net: to, origin: { ...statement.origin, text: `${statement.origin.text}; ${why}` } };
  context.statements.splice(0, context.statements.length, ...context.statements.map(moved));
  for (const [pin, list] of context.byPin) context.byPin.set(pin, list.map(moved));
}

/** Joins the pins that `ref` names to a net, in every instance of the part; unknown pins are reported with the likely name. */
export function connectRef(
  context: Context,
  ref: PinRef,
  net: string | undefined,
  stretch: Stretch,
  origin: Origin,
): readonly { readonly instance: Instance; readonly row: PartPinRow }[] {
  const done: { instance: Instance; row: PartPinRow }[] = [];
  for (const instance of instancesOf(context, ref.part, stretch)) {
    const rows = findPins(instance.type.record, ref.pin, ref.number);
    if (rows.length === 0) {
      reportUnknownPin(context, instance, ref.pin, ref.number, ref.span);
      continue;
    }
    const common = meet(stretch, instance);
    if (common === undefined) continue;
    for (const row of rows) {
      connect(context, { instance, row, net, origin, explicit: true, ...common });
      done.push({ instance, row });
    }
  }
  return done;
}

export function reportUnknownPin(
  context: Context,
  instance: Instance,
  pin: string,
  number: number | undefined,
  span: Span,
): void {
  const record = instance.type.record;
  const named = findPins(record, pin);
  if (named.length > 0) {
    report(
      context,
      'netlist/unknown-pin',
      'error',
      `${instance.name} has no pin ${pin}@${number}; ${pin} is pin ${named.map((row) => row.number).join(', ')}.`,
      span,
      {
        about: [instance.name],
      },
    );
    return;
  }
  const names = record.pins.flatMap((row) => [row.name, ...(row.aliases ?? [])]);
  const near = nearestName(pin, names);
  report(
    context,
    'netlist/unknown-pin',
    'error',
    `${instance.name} (${instance.type.name}) has no pin ${pin}${near === undefined ? '.' : `; did you mean ${near}?`}`,
    span,
    {
      help: `Its pins are ${[...new Set(record.pins.map((row) => row.name))].join(', ')}.`,
      about: [instance.name],
    },
  );
}
