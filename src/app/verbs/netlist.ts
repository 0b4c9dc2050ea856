// `netlist`: every net as of a stage, or one net explained: which line made each connection, and how to override one.

import { foldName, nearestName } from '../../base/index.ts';
import { type Net, type Netlist, netlistAt } from '../../netlist/index.ts';
import type { Build } from '../build.ts';
import { Places } from '../findings.ts';
import type { Project } from '../project.ts';
import { textTable } from '../table.ts';
import { refuse, type VerbResult } from '../verb.ts';

export function netlistVerb(
  project: Project,
  options: {
    readonly stage: number;
    readonly explain?: string /** Shows the netlist as this build has exchanged its pins. */;
    readonly build?: Build;
  },
): VerbResult {
  const netlist = netlistAt(options.build?.design() ?? project.design().value, options.stage);
  const findings = project.findings();
  if (options.explain !== undefined) return explainNet(project, netlist, options.explain);
  const nets = netlist.nets.map((net) => ({
    name: net.name,
    pins: net.pins.filter((pin) => !isLeg(netlist, pin)).map((pin) => netlist.pins[pin]!.ref),
    // Legs that a part joins to a pin listed: they are on the net without a wire.
    legs: net.pins.filter((pin) => isLeg(netlist, pin)).map((pin) => netlist.pins[pin]!.ref),
    derived: net.derived,
    origin: originText(project, net),
    kind: net.kind,
    class: net.netClass?.name ?? null,
  }));
  const open = netlist.pins.filter((pin) => pin.net < 0 && pin.open).map((pin) => pin.ref);
  const text = textTable(
    nets.map((net) => [net.name, net.derived ? 'derived' : 'stated', [...net.pins, ...net.legs].join(' ')]),
  );
  return { value: { stage: netlist.stage, nets, open }, findings, text };
}

/** Whether a part joins the pin to another of its pins that comes first on the same net. */
function isLeg(netlist: Netlist, id: number): boolean {
  const pin = netlist.pins[id]!;
  const part = netlist.parts[pin.part]!;
  const group = part.record.joined?.find((numbers) => numbers.includes(pin.number));
  if (group === undefined) return false;
  const mates = part.pins.map((other) => netlist.pins[other]!).filter((other) => group.includes(other.number));
  if (mates.some((mate) => mate.net >= 0 && mate.net !== pin.net)) return false;
  const first = group.find((number) => mates.some((mate) => mate.number === number && mate.net >= 0));
  return first !== pin.number;
}

function originText(project: Project, net: Net): string {
  const span = net.origin.span;
  if (span === undefined) return net.origin.text;
  const place = new Places((file) => project.text(file)).place(span);
  return `${net.origin.text} (${place.file}:${place.line})`;
}

function explainNet(project: Project, netlist: Netlist, name: string): VerbResult {
  const net = netlist.nets.find((candidate) => foldName(candidate.name) === foldName(name));
  if (net === undefined) {
    const near = nearestName(
      name,
      netlist.nets.map((candidate) => candidate.name),
    );
    return refuse(
      'netlist/unknown-net',
      `There is no net ${name} as of stage ${netlist.stage}${near === undefined ? '.' : `; did you mean ${near}?`}`,
    );
  }
  const places = new Places((file) => project.text(file));
  const pins = net.pins.map((id) => {
    const pin = netlist.pins[id]!;
    const part = netlist.parts[pin.part]!;
    const place = pin.origin?.span === undefined ? undefined : places.place(pin.origin.span);
    const stated = pin.origin?.by === 'net' || pin.origin?.by === 'pins';
    const override = stated
      ? 'change that line'
      : part.implied !== undefined
        ? `comes with ${part.implied.serves}`
        : `write pins: { ${pin.name}: OTHER-NET } under ${part.name}, or pins: { ${pin.name}: open }`;
    return {
      pin: pin.ref,
      number: pin.number,
      kind: pin.kind,
      why: pin.origin?.text ?? '',
      where: place ?? null,
      override,
    };
  });
  const text = [
    `${net.name}: ${net.kind}${net.netClass === undefined ? '' : `, class ${net.netClass.name}, colour ${net.netClass.colour}`}; ${originText(project, net)}`,
    textTable(
      pins.map((pin) => [
        pin.pin,
        `pin ${pin.number}`,
        pin.kind,
        pin.why,
        pin.where === null ? '' : `${pin.where.file}:${pin.where.line}`,
      ]),
      '  ',
    ),
    `  To change one connection: ${pins.find((pin) => pin.override.startsWith('write'))?.override ?? 'change the line that states it'}.`,
  ].join('\n');
  return {
    value: {
      stage: netlist.stage,
      net: { name: net.name, kind: net.kind, derived: net.derived, origin: originText(project, net) },
      pins,
    },
    findings: [],
    text,
  };
}
