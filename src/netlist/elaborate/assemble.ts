// The last step: statements and implied parts become the netlist as of a stage. What does not depend on the stage (names,
// references, the statements of each pin in order of rank) is gathered once, so that each stage costs a pass over its pins.

import { foldName, formatQuantity } from '../../base/index.ts';
import type { PartPinRow, PartRecord, PinKind } from '../../parts/index.ts';
import type { Net, NetClass, Netlist, NetPart, NetPin, Origin } from '../model.ts';

import { type Context, pinRefText, report, type Stretch } from './context.ts';
import { isRail } from './rails.ts';
import type { ImpliedPart } from './ties.ts';

/** What a pin is joined to during a stretch. */
interface Choice extends Stretch {
  /** Place in the list of net names, or -1 where it is left open on purpose. */
  readonly net: number;
  readonly origin: Origin;
  readonly kind?: PinKind | undefined;
}

interface PinDraft {
  readonly number: number;
  readonly name: string;
  readonly ref: string;
  readonly kind: PinKind;
  /** In order of rank: the first that holds in a stage is what the pin is joined to. */
  readonly choices: readonly Choice[];
}

interface PartDraft extends Stretch {
  readonly part: Omit<NetPart, 'id' | 'pins'>;
  readonly pins: readonly PinDraft[];
}

interface NetDraft {
  readonly name: string;
  readonly kind: Net['kind'];
  readonly derived: boolean;
  readonly origin: Origin | undefined;
  readonly bus: Net['bus'];
  readonly netClass: NetClass | undefined;
}

const inAt = (item: Stretch, stage: number): boolean =>
  item.stage <= stage && (item.until === undefined || stage < item.until);

/** Returns the function that builds the netlist as of a stage. */
export function assembler(
  context: Context,
  implied: readonly ImpliedPart[],
  declared: ReadonlyMap<string, Origin>,
  classes: ReadonlyMap<string, NetClass>,
  bits: ReadonlyMap<string, { name: string; bit: number }>,
): (stage: number) => Netlist {
  const nets: NetDraft[] = [];
  const places = new Map<string, number>();
  for (const [key, name] of context.netNames) {
    places.set(key, nets.length);
    nets.push({
      name,
      kind: key === 'gnd' ? 'ground' : isRail(context, name) ? 'supply' : 'signal',
      derived: !context.declaredNets.has(key),
      origin: declared.get(key),
      bus: bits.get(key),
      netClass: classes.get(key),
    });
  }
  const place = (net: string | undefined): number => (net === undefined ? -1 : (places.get(foldName(net)) ?? -1));
  const drafts = [...partDrafts(context, place), ...impliedDrafts(context, implied, place)];
  return (stage) => assemble(stage, drafts, nets);
}

function partDrafts(context: Context, place: (net: string | undefined) => number): PartDraft[] {
  return context.instances.map((instance) => {
    const { decl, type, name, stage, until } = instance;
    const { record } = type;
    return {
      stage,
      until,
      part: {
        name,
        type: type.name,
        record,
        family: type.family,
        grade: decl.grade?.name,
        value:
          decl.value?.name ?? (decl.rateHz === undefined ? undefined : formatQuantity(decl.rateHz, 'frequency', 9)),
        holds: decl.holds?.name,
        comesOut: decl.comesOut,
        implied: undefined,
        stage,
        until,
        temporary: false,
        origin: { by: 'part', span: decl.span, text: `part ${name}` },
      },
      pins: record.pins.map((row) => ({
        number: row.number,
        name: row.name,
        ref: pinRefText(name, record, row),
        kind: row.kind,
        choices: (context.byPin.get(`${instance.index}.${row.number}`) ?? []).map((statement) => ({
          net: place(statement.net),
          origin: statement.origin,
          kind: statement.kind,
          stage: statement.stage,
          until: statement.until,
        })),
      })),
    };
  });
}

function impliedDrafts(
  context: Context,
  implied: readonly ImpliedPart[],
  place: (net: string | undefined) => number,
): PartDraft[] {
  const records = new Map<string, PartRecord>();
  const missing = new Set<string>();
  return implied.flatMap((part) => {
    const record = records.get(part.type) ?? context.library.find(part.type)?.record;
    if (record === undefined) {
      if (!missing.has(part.type))
        report(
          context,
          'netlist/unknown-type',
          'error',
          `The library has no ${part.type}, which this design needs.`,
          part.origin.span,
          { help: 'Describe it in the folder parts/ of the project.', about: [part.name] },
        );
      missing.add(part.type);
      return [];
    }
    records.set(part.type, record);
    const { name, origin, stage, until } = part;
    const pin = (row: PartPinRow, net: string): PinDraft => ({
      number: row.number,
      name: row.name,
      ref: pinRefText(name, record, row),
      kind: row.kind,
      choices: [{ net: place(net), origin, stage, until }],
    });
    const plus = record.pins.findIndex((row) => /^(?:PLUS|\+|P|A)$/i.test(row.name));
    const order = plus === 1 ? ([1, 0] as const) : ([0, 1] as const);
    return [
      {
        stage,
        until,
        part: {
          name,
          type: record.part,
          record,
          family: undefined,
          grade: undefined,
          value: part.value,
          holds: undefined,
          comesOut: false,
          implied: part.implied,
          stage,
          until,
          temporary: part.temporary,
          origin,
        },
        pins: order.map((k, position) => pin(record.pins[k]!, part.nets[position]!)),
      },
    ];
  });
}

function assemble(stage: number, drafts: readonly PartDraft[], drawn: readonly NetDraft[]): Netlist {
  const present = drafts.filter((draft) => inAt(draft, stage));
  // First pass: what each pin is joined to, and which nets have a pin.
  const choices: (Choice | undefined)[] = [];
  const members: number[][] = drawn.map(() => []);
  const first: (Origin | undefined)[] = drawn.map(() => undefined);
  for (const draft of present) {
    for (const pin of draft.pins) {
      const choice = pin.choices.find((candidate) => inAt(candidate, stage));
      const id = choices.length;
      choices.push(choice);
      if (choice === undefined || choice.net < 0) continue;
      members[choice.net]!.push(id);
      first[choice.net] ??= choice.origin;
    }
  }
  const ids = new Int32Array(drawn.length).fill(-1);
  const nets: Net[] = [];
  drawn.forEach((draft, k) => {
    if (members[k]!.length === 0) return;
    ids[k] = nets.length;
    nets.push({
      id: nets.length,
      name: draft.name,
      kind: draft.kind,
      derived: draft.derived,
      origin: draft.origin ?? first[k] ?? { by: 'net', text: `net ${draft.name}` },
      pins: members[k]!,
      bus: draft.bus,
      netClass: draft.netClass,
    });
  });
  const parts: NetPart[] = [];
  const pins: NetPin[] = [];
  for (const draft of present) {
    const own: number[] = [];
    for (const pin of draft.pins) {
      const id = pins.length;
      const choice = choices[id];
      own.push(id);
      pins.push({
        id,
        part: parts.length,
        number: pin.number,
        name: pin.name,
        ref: pin.ref,
        kind: choice?.kind ?? pin.kind,
        net: choice === undefined || choice.net < 0 ? -1 : ids[choice.net]!,
        open: choice !== undefined && choice.net < 0,
        origin: choice?.origin,
      });
    }
    const { part } = draft;
    parts.push({
      id: parts.length,
      name: part.name,
      type: part.type,
      record: part.record,
      family: part.family,
      grade: part.grade,
      value: part.value,
      holds: part.holds,
      comesOut: part.comesOut,
      implied: part.implied,
      stage: part.stage,
      until: part.until,
      temporary: part.temporary,
      origin: part.origin,
      pins: own,
    });
  }
  return { stage, parts, pins, nets };
}
