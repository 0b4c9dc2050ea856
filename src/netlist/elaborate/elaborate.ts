// The machine file's statements and the part records become the netlist, stage by stage. Order of rank: what a line says of a
// pin, what follows from buses and maps, logic made, ties through resistors, ties that records require, supply pins. The first
// statement about a pin stands.

import { type Finding, foldName, type Result } from '../../base/index.ts';
import type { Machine } from '../../machine/index.ts';
import type { Library } from '../../parts/index.ts';
import type { Design, LeadHook, MapRegion, Origin } from '../model.ts';
import { assembler } from './assemble.ts';
import { deriveBuses } from './bus.ts';
import { classifyNets } from './classes.ts';
import {
  type Context,
  connectRef,
  findPins,
  instancesOf,
  netName,
  reportUnknownPin,
  stageNumber,
  statementsOf,
  stretchOf,
  connect,
} from './context.ts';
import { openContext } from './instances.ts';
import { makeLogic } from './logic.ts';
import {
  capacitors,
  directTies,
  firstStage,
  type ImpliedPart,
  knownNet,
  requiredTies,
  resistorTies,
  seriesResistors,
  strapParts,
  supplyPins,
} from './ties.ts';

/**
 * Elaborates a machine: a netlist for each stage, with the origin of every connection. Never throws on any machine.
 *
 * Parts whose selects must precede their strobes get an address-only select and strobes of their own where the bus needs that
 * (early-selects.ts). Where the machine has nothing left to make those strobes, selects say the space as those of other parts
 * do, and a warning says what is lost.
 */
export function elaborate(machine: Machine, library: Library): Result<Design> {
  const made = elaborateOnce(machine, library, false);
  if (made.early.length === 0 || errorsIn(made) === 0) return { value: made.value, findings: made.findings };
  const plain = elaborateOnce(machine, library, true);
  if (errorsIn(plain) >= errorsIn(made)) return { value: made.value, findings: made.findings };
  const warnings = made.early.map(
    ({ part, span, strobes }): Finding => ({
      code: 'netlist/select-with-strobes',
      severity: 'warning',
      message: `The select of ${part} comes together with its strobes, and its maker wants it before them.`,
      where: [span],
      notes: [
        {
          text: `With the address alone in its select it would need ${strobes.join(' and ')}, and nothing is left to make ${strobes.length === 1 ? 'that' : 'those'}.`,
        },
      ],
      help: 'Add a gate package or a device with outputs to spare; `margins` says how much is lacking as it is.',
      about: [part],
    }),
  );
  return { value: plain.value, findings: [...plain.findings, ...warnings] };
}

function errorsIn({ findings }: { readonly findings: readonly Finding[] }): number {
  return findings.filter((finding) => finding.severity === 'error').length;
}

function elaborateOnce(
  machine: Machine,
  library: Library,
  areSelectsLate: boolean,
): { value: Design; findings: readonly Finding[]; early: Context['early'] } {
  const context = openContext(machine, library, areSelectsLate);
  for (const supply of machine.supplies) netName(context, supply.name);
  netName(context, 'GND');
  const declared = explicitNets(context);
  explicitPins(context);
  directTies(context);
  const implied: ImpliedPart[] = [];
  seriesResistors(context, implied);
  const { requests, map, buses } = deriveBuses(context);
  for (const logic of machine.logic) netName(context, logic.net);
  const devices = makeLogic(context, requests, map);
  resistorTies(context, implied);
  requiredTies(context, implied);
  supplyPins(context);
  for (const { number, decl } of context.stages)
    for (const strap of decl.temporary) strapParts(context, strap, number, implied);
  capacitors(context, implied);
  const { classes, bits } = classifyNets(context, buses, requests, devices);
  const leads = leadHooks(context);
  const assembled = assembler(context, implied, declared, classes, bits);
  const netlists = [0, ...context.stages.map((stage) => stage.number)].map(assembled);
  return {
    value: {
      name: machine.name,
      stages: context.stages,
      netlists,
      map: sortMap(map),
      devices,
      leads,
      supplies: machine.supplies.map((supply) => ({
        name: supply.name,
        volts: supply.volts,
        tolerance: supply.tolerance ?? 0,
        limitAmps: supply.limitAmps,
      })),
      clocks: machine.clocks.map((clock) => ({
        name: clock.name,
        net: clockNet(context, clock.from),
        rateHz: clock.rateHz,
        duty: clock.duty,
      })),
    },
    findings: context.findings,
    early: context.early,
  };
}

function sortMap(map: readonly MapRegion[]): MapRegion[] {
  return [...map].sort((a, b) => (a.space === b.space ? a.at - b.at : a.space < b.space ? -1 : 1));
}

function clockNet(context: Context, from: Machine['clocks'][number]['from']): string | undefined {
  if (from === undefined) return undefined;
  for (const instance of instancesOf(context, from.part)) {
    const rows = findPins(instance.type.record, from.pin, from.number);
    if (rows.length === 0) reportUnknownPin(context, instance, from.pin, from.number, from.span);
    for (const row of rows)
      for (const statement of statementsOf(context, instance, row))
        if (statement.net !== undefined) return statement.net;
  }
  return undefined;
}

/** `nets`: returns the origin of each declared net by folded name. */
function explicitNets(context: Context): Map<string, Origin> {
  const declared = new Map<string, Origin>();
  for (const decl of context.machine.nets) {
    const name = netName(context, decl.name);
    const origin: Origin = { by: 'net', span: decl.span, text: `net ${name}` };
    context.declaredNets.add(foldName(name));
    if (!declared.has(foldName(name))) declared.set(foldName(name), origin);
    const stretch = stretchOf(context, decl.lifetime);
    for (const ref of decl.pins)
      connectRef(context, ref, name, stretch, { by: 'net', span: ref.span, text: `listed in net ${name}` });
  }
  return declared;
}

/** `pins` of parts. */
function explicitPins(context: Context): void {
  for (const instance of context.instances) {
    for (const binding of instance.decl.pins) {
      const rows = findPins(instance.type.record, binding.pin, binding.number);
      if (rows.length === 0) {
        reportUnknownPin(context, instance, binding.pin, binding.number, binding.pinSpan);
        continue;
      }
      for (const row of rows) {
        const net = binding.net === undefined ? undefined : netName(context, binding.net);
        if (net !== undefined) context.declaredNets.add(foldName(net));
        connect(context, {
          instance,
          row,
          net,
          origin: {
            by: 'pins',
            span: binding.pinSpan,
            text: net === undefined ? `left open by \`pins\` of ${instance.name}` : `\`pins\` of ${instance.name}`,
          },
          explicit: true,
          stage: instance.stage,
          until: instance.until,
        });
      }
    }
  }
}

function leadHooks(context: Context): LeadHook[] {
  const hooks: LeadHook[] = [];
  for (const { number, decl } of context.stages) {
    for (const lead of decl.leads) {
      const until = stageNumber(context, lead.until);
      lead.nets.forEach((ref, channel) => {
        const net = knownNet(context, ref);
        if (net !== undefined)
          hooks.push({
            pod: lead.pod,
            channel,
            net,
            stage: Math.max(number, firstStage(context, net)),
            until,
            span: ref.span,
          });
      });
    }
  }
  return hooks;
}
