// Ties, straps, required ties, and the small parts the design needs that no line names: pull resistors, strap resistors,
// bypass and bulk capacitors. Their names come from what they serve, so that they stay the same as the machine grows.

import { foldName, formatQuantity, nearestName, parseQuantity } from '../../base/index.ts';
import type { NameRef, PinRef, StrapDecl } from '../../machine/index.ts';
import type { PartPinRow } from '../../parts/index.ts';
import type { Implied, Origin } from '../model.ts';
import { isRail, supplyOf } from './rails.ts';
import {
  type Context,
  connect,
  connectRef,
  findPins,
  type Instance,
  instancesOf,
  meet,
  moveStatement,
  netName,
  pinRefText,
  removeStatement,
  report,
  reportUnknownPin,
  type Stretch,
  stageNumber,
  statementsOf,
  stretchOf,
} from './context.ts';

/** A two-lead part that no line names; `nets` in the order of its record's pins (plus first). */
export interface ImpliedPart extends Stretch {
  readonly name: string;
  readonly type: 'resistor' | 'capacitor' | 'electrolytic';
  readonly value: string;
  readonly implied: Implied;
  readonly nets: readonly [string, string];
  readonly temporary: boolean;
  readonly origin: Origin;
}

/** A part's name may hold no dot, since a dot parts it from its pin. */
function nameFor(prefix: string, served: string): string {
  return `${prefix}-${served.replaceAll('.', '-')}`;
}

/** The net of a pin during a stretch; a pin in no net yet gets one named after it. */
function ownNet(context: Context, instance: Instance, row: PartPinRow, stretch: Stretch, origin: Origin): string {
  const stated = statementsOf(context, instance, row, stretch).find((statement) => statement.net !== undefined);
  if (stated?.net !== undefined) return stated.net;
  const record = instance.type.record;
  const plain =
    record.bus?.role === 'processor' && !context.netNames.has(foldName(row.name))
      ? row.name
      : pinRefText(instance.name, record, row);
  const net = netName(context, plain);
  connect(context, { instance, row, net, origin, explicit: false, ...stretch });
  return net;
}

function isPin(ref: PinRef | NameRef): ref is PinRef {
  return 'pin' in ref;
}

/** Ties made by a wire: the pin simply belongs to the rail's net. Before anything is derived. */
export function directTies(context: Context): void {
  for (const tie of context.machine.ties) {
    if (tie.throughOhm !== undefined && tie.throughOhm > 0) continue;
    const stretch = stretchOf(context, tie.lifetime);
    for (const ref of tie.pins) {
      if (!isPin(ref)) {
        tieNet(
          context,
          ref,
          tie.to === 'low' ? netName(context, 'GND') : (tie.supply?.name ?? defaultSupply(context)),
          stretch,
        );
        continue;
      }
      const origin: Origin = { by: 'tie', span: ref.span, text: `tied ${tie.to} by a wire` };
      for (const instance of instancesOf(context, ref.part, stretch)) {
        const net =
          tie.to === 'low'
            ? netName(context, 'GND')
            : tie.supply === undefined
              ? supplyOf(context, instance)
              : netName(context, tie.supply.name);
        connectRef(context, ref, net, stretch, origin);
        break;
      }
    }
  }
}

/** A net tied by a wire is part of the rail while the tie holds: its pins are moved there for those stages. */
function tieNet(context: Context, ref: NameRef, rail: string, stretch: Stretch): void {
  const key = foldName(ref.name);
  const joined = context.statements.filter(
    (statement) => statement.net !== undefined && foldName(statement.net) === key,
  );
  if (joined.length === 0) {
    knownNet(context, ref);
    return;
  }
  for (const statement of joined) {
    const during = meet(statement, stretch);
    if (during === undefined) continue;
    removeStatement(context, statement);
    const piece = (from: number, until: number | undefined, net: string | undefined): void => {
      if (until === undefined || from < until) connect(context, { ...statement, net, stage: from, until });
    };
    piece(statement.stage, during.stage, statement.net);
    connect(context, {
      ...statement,
      net: rail,
      origin: { by: 'tie', span: ref.span, text: `net ${ref.name} tied to ${rail} by a wire` },
      ...during,
    });
    if (during.until !== undefined) piece(during.until, statement.until, statement.net);
  }
}

/** Ties through a resistor, once all nets are known. */
export function resistorTies(context: Context, implied: ImpliedPart[]): void {
  for (const tie of context.machine.ties) {
    if (tie.throughOhm === undefined || tie.throughOhm <= 0) continue;
    const stretch = stretchOf(context, tie.lifetime);
    const value = formatQuantity(tie.throughOhm, 'resistance');
    for (const ref of tie.pins) {
      const origin: Origin = { by: 'tie', span: ref.span, text: `tied ${tie.to} through ${value}` };
      const pull = (net: string, rail: string, during: Stretch): void => {
        const name = nameFor('R', net);
        if (
          implied.some(
            (part) => foldName(part.name) === foldName(name) && (part.until === undefined || during.stage < part.until),
          )
        )
          return;
        implied.push({
          name,
          type: 'resistor',
          value,
          implied: { kind: 'pull', serves: net },
          nets: [net, rail],
          temporary: false,
          origin: { ...origin, by: 'pull' },
          ...during,
        });
      };
      const rail = (instance: Instance | undefined): string =>
        tie.to === 'low'
          ? netName(context, 'GND')
          : tie.supply !== undefined
            ? netName(context, tie.supply.name)
            : instance === undefined
              ? defaultSupply(context)
              : supplyOf(context, instance);
      if (isPin(ref)) {
        for (const instance of instancesOf(context, ref.part, stretch)) {
          const rows = findPins(instance.type.record, ref.pin, ref.number);
          if (rows.length === 0) reportUnknownPin(context, instance, ref.pin, ref.number, ref.span);
          const common = meet(stretch, instance);
          if (common === undefined) continue;
          for (const row of rows) pull(ownNet(context, instance, row, common, origin), rail(instance), common);
        }
      } else {
        const net = knownNet(context, ref);
        if (net === undefined) continue;
        const first = firstStage(context, net);
        pull(net, rail(undefined), { stage: Math.max(stretch.stage, first), until: stretch.until });
      }
    }
  }
}

/**
 * `through` of a diode: a resistor between each anode (or cathode, where the anodes are one pin) and the net it was put in.
 * The pin moves to a net of its own, so that the drawing, the wires and the checks see what is really there.
 */
export function seriesResistors(context: Context, implied: ImpliedPart[]): void {
  for (const instance of context.instances) {
    const ohms = instance.decl.throughOhm;
    if (ohms === undefined) continue;
    const record = instance.type.record;
    // At the anode, or at the cathode where diodes have their anode in common.
    const diodes = (record.units ?? []).filter((unit) => unit.kind === 'led');
    const common = diodes.length > 1 && diodes.every((unit) => unit.pins.A === diodes[0]!.pins.A);
    const ends = diodes.length > 0 ? diodes.map((unit) => unit.pins[common ? 'K' : 'A']) : [record.pins[0]?.name];
    for (const name of ends) {
      const row = name === undefined ? undefined : findPins(record, name)[0];
      if (row === undefined) continue;
      const ref = pinRefText(instance.name, record, row);
      const stated = statementsOf(context, instance, row).find((statement) => statement.net !== undefined);
      if (stated?.net === undefined) continue;
      const inner = netName(context, ref);
      const stretch = { stage: instance.stage, until: instance.until };
      const origin: Origin = { by: 'series', span: instance.decl.span, text: `resistor in series with ${ref}` };
      implied.push({
        name: nameFor('R', diodes.length > 0 ? ref : instance.name),
        type: 'resistor',
        value: formatQuantity(ohms, 'resistance'),
        implied: { kind: 'series', serves: ref },
        nets: [stated.net, inner],
        temporary: false,
        origin,
        ...stretch,
      });
      moveStatement(context, stated, inner);
    }
  }
}

/** The first stage in which a net has a pin. */
export function firstStage(context: Context, net: string): number {
  const key = foldName(net);
  let first = Number.POSITIVE_INFINITY;
  for (const statement of context.statements)
    if (statement.net !== undefined && foldName(statement.net) === key)
      first = Math.min(first, Math.max(statement.stage, statement.instance.stage));
  return Number.isFinite(first) ? first : 1;
}

function defaultSupply(context: Context): string {
  return netName(context, context.machine.defaults.supply?.name ?? context.machine.supplies[0]?.name ?? 'main');
}

/** The net a name means, or a finding with the likely one. */
export function knownNet(context: Context, ref: NameRef): string | undefined {
  const known = context.netNames.get(foldName(ref.name));
  if (known !== undefined) return known;
  // A pin stands for the net at it.
  const dot = ref.name.indexOf('.');
  if (dot > 0) {
    for (const instance of instancesOf(context, ref.name.slice(0, dot))) {
      const rows = findPins(instance.type.record, ref.name.slice(dot + 1).replace(/@\d+$/, ''));
      if (rows.length === 0) {
        reportUnknownPin(context, instance, ref.name.slice(dot + 1), undefined, ref.span);
        return undefined;
      }
      const net = rows
        .flatMap((row) => statementsOf(context, instance, row))
        .find((statement) => statement.net !== undefined)?.net;
      if (net !== undefined) return net;
      // Nothing else is joined to it: what hangs there now makes its net.
      const row = rows.find((candidate) => statementsOf(context, instance, candidate).length === 0);
      const origin: Origin = { by: 'net', span: ref.span, text: `${ref.name} is named here` };
      const life = { stage: instance.stage, until: instance.until };
      if (row !== undefined) return ownNet(context, instance, row, life, origin);
    }
  }
  const near = nearestName(ref.name, context.netNames.values());
  report(
    context,
    'netlist/unknown-net',
    'error',
    `No net is named ${ref.name}${near === undefined ? '.' : `; did you mean ${near}?`}`,
    ref.span,
    {
      notes: [
        {
          text: "Nets are those under `nets`, under `pins` of parts and under `logic`, and those derived from buses, which bear the processor's pin names.",
        },
      ],
      help: 'Write one of the names that `proofboard netlist` lists, or a pin, which stands for its net.',
      about: [ref.name],
      ...(near === undefined
        ? {}
        : { fixes: [{ title: `Change it to ${near}`, edits: [{ span: ref.span, text: near }] }] }),
    },
  );
  return undefined;
}

/** Straps of a stage: a resistor (or a wire, which is a link of 0 ohm) from each net to a rail until a later stage. */
export function strapParts(context: Context, strap: StrapDecl, stage: number, implied: ImpliedPart[]): void {
  const until = stageNumber(context, strap.until);
  const ohms = strap.throughOhm ?? 0; // The reader fills in the default pull; nothing means a wire.
  strap.nets.forEach((ref, index) => {
    const net = knownNet(context, ref);
    if (net === undefined) return;
    const bit = strap.nets.length - 1 - index;
    const high = Math.floor(strap.value / 2 ** bit) % 2 === 1;
    const rail = high ? defaultSupply(context) : netName(context, 'GND');
    implied.push({
      name: nameFor('STRAP', net),
      type: 'resistor',
      value: formatQuantity(ohms, 'resistance'),
      implied: { kind: 'strap', serves: net },
      nets: [net, rail],
      temporary: true,
      origin: {
        by: 'strap',
        span: ref.span,
        text: `strap: ${net} held ${high ? 'high' : 'low'}${strap.until === undefined ? '' : ` until ${strap.until.name}`}`,
      },
      stage,
      until,
    });
  });
}

/** The stretches of an instance's stages during which a pin has no statement. */
function uncovered(context: Context, instance: Instance, row: PartPinRow, last: number): Stretch[] {
  const statements = statementsOf(context, instance, row);
  const stretches: Stretch[] = [];
  let start: number | undefined;
  const end = instance.until ?? last + 1;
  for (let stage = instance.stage; stage < end; stage++) {
    const covered = statements.some(
      (statement) => statement.stage <= stage && (statement.until === undefined || stage < statement.until),
    );
    if (covered && start !== undefined) {
      stretches.push({ stage: start, until: stage });
      start = undefined;
    } else if (!covered && start === undefined) start = stage;
  }
  if (start !== undefined) stretches.push({ stage: start, until: instance.until });
  return stretches;
}

/** Makes the ties that records ask for wherever the machine says nothing of the pin. */
export function requiredTies(context: Context, implied: ImpliedPart[]): void {
  const last = context.stages.length;
  for (const instance of context.instances) {
    const record = instance.type.record;
    for (const tie of record.ties ?? []) {
      for (const pin of tie.pins) {
        for (const row of findPins(record, pin)) {
          for (const stretch of uncovered(context, instance, row, last)) {
            const origin: Origin = {
              by: 'required-tie',
              span: instance.decl.span,
              text: `${pinRefText(instance.name, record, row)}: ${tie.why}`,
            };
            if (tie.to === 'open') {
              connect(context, { instance, row, net: undefined, origin, explicit: false, ...stretch });
              continue;
            }
            const rail =
              tie.to === 'high' ? supplyOf(context, instance) : tie.to === 'low' ? netName(context, 'GND') : undefined;
            if (rail === undefined) {
              const other = findPins(record, tie.to)[0];
              if (other === undefined) continue;
              const net = ownNet(context, instance, other, stretch, origin);
              connect(context, { instance, row, net, origin, explicit: false, ...stretch });
              continue;
            }
            const ohms = tie.through === undefined ? 0 : (parseQuantity(tie.through)?.value ?? 0);
            if (ohms > 0) {
              const net = ownNet(context, instance, row, stretch, origin);
              implied.push({
                name: nameFor('R', net),
                type: 'resistor',
                value: formatQuantity(ohms, 'resistance'),
                implied: { kind: 'pull', serves: net },
                nets: [net, rail],
                temporary: false,
                origin,
                ...stretch,
              });
            } else connect(context, { instance, row, net: rail, origin, explicit: false, ...stretch });
          }
        }
      }
    }
  }
}

/** Supply and ground pins go to the part's supply and to GND unless a line says otherwise. */
export function supplyPins(context: Context): void {
  for (const instance of context.instances) {
    const bypassed = instance.type.record.category !== 'connector';
    for (const row of instance.type.record.pins) {
      if (row.kind !== 'supply' && row.kind !== 'ground') continue;
      // A connector's supply pin may belong to another machine's supply: joining it is the builder's decision.
      if (!bypassed && row.kind === 'supply') continue;
      for (const stretch of uncovered(context, instance, row, context.stages.length)) {
        connect(context, {
          instance,
          row,
          net: row.kind === 'ground' ? netName(context, 'GND') : supplyOf(context, instance),
          origin: { by: 'supply', span: instance.decl.span, text: `${row.kind} pin of ${instance.name}` },
          explicit: false,
          ...stretch,
        });
      }
    }
  }
}

/** One bypass capacitor per chip, one bulk capacitor per supply. */
export function capacitors(context: Context, implied: ImpliedPart[]): void {
  const { defaults } = context.machine;
  const bulked = new Set<string>();
  for (const instance of context.instances) {
    const record = instance.type.record;
    if (
      record.bypass === 'none' ||
      record.category === 'connector' ||
      record.category === 'discrete' ||
      record.category === 'switch'
    )
      continue;
    const plus = record.pins.find((row) => row.kind === 'supply');
    const ground = record.pins.find((row) => row.kind === 'ground');
    if (plus === undefined || ground === undefined) continue;
    const stretch = { stage: instance.stage, until: instance.until };
    const net = statementsOf(context, instance, plus)[0]?.net;
    const zero = statementsOf(context, instance, ground)[0]?.net;
    if (net === undefined || zero === undefined || !isRail(context, net)) continue;
    const name = nameFor('C', instance.name);
    if (!implied.some((part) => part.name === name && part.until !== undefined && part.until > instance.stage)) {
      implied.push({
        name,
        type: 'capacitor',
        value: formatQuantity(defaults.bypassFarad, 'capacitance'),
        implied: { kind: 'bypass', serves: instance.name },
        nets: [net, zero],
        temporary: false,
        origin: { by: 'bypass', text: `bypass capacitor of ${instance.name}`, span: instance.decl.span },
        ...stretch,
      });
    }
    if (!bulked.has(foldName(net)) && defaults.bulkFarad > 0) {
      bulked.add(foldName(net));
      const supply = context.machine.supplies.find((candidate) => foldName(candidate.name) === foldName(net));
      implied.push({
        name: nameFor('C-bulk', net),
        type: 'electrolytic',
        value: formatQuantity(defaults.bulkFarad, 'capacitance'),
        implied: { kind: 'bulk', serves: net },
        nets: [net, zero],
        temporary: false,
        origin: {
          by: 'bulk',
          text: `bulk capacitor of supply ${net}`,
          ...(supply === undefined ? {} : { span: supply.span }),
        },
        stage: instance.stage,
        until: undefined,
      });
    }
  }
}
