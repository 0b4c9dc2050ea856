// `margins`: timing, loading, levels and supply of the machine as of a stage, with the delays of wire where a layout is there.

import { foldName, formatQuantity } from '../../base/index.ts';
import { layoutAt } from '../../board/index.ts';
import { type Margins, margins, type NetWiring, type TimingOptions } from '../../margins/index.ts';
import { type Build, stripIn } from '../build.ts';
import { revisionAt } from '../decode.ts';
import { applyWaivers } from '../findings.ts';
import { textTable } from '../table.ts';
import type { VerbResult } from '../verb.ts';

/** What the layout's wires and the hooks of instruments add to each net as of a stage. */
function wiringOf(build: Build, stage: number): ReadonlyMap<string, NetWiring> | undefined {
  const layout = build.layout().value;
  if (layout === undefined || build.stale().length > 0) return undefined;
  const nets = new Map<string, { mm: number; strips: Set<string>; leads: number }>();
  const at = (net: string): { mm: number; strips: Set<string>; leads: number } => {
    const key = foldName(net);
    const known = nets.get(key) ?? { mm: 0, strips: new Set<string>(), leads: 0 };
    nets.set(key, known);
    return known;
  };
  for (const wire of layoutAt(layout, stage).wires) {
    const net = at(wire.net);
    net.mm += wire.cutMm;
    for (const hole of [wire.from, wire.to]) net.strips.add(stripIn(layout, hole));
  }
  for (const lead of build.design().leads)
    if (lead.stage <= stage && (lead.until === undefined || stage < lead.until)) at(lead.net).leads++;
  return new Map([...nets].map(([net, item]) => [net, { mm: item.mm, strips: item.strips.size, leads: item.leads }]));
}

/** Passes through its array that each output of a programmable device takes, as compiled for this stage. */
function passesOf(build: Build, stage: number): ReadonlyMap<string, number> {
  const passes = new Map<string, number>();
  const { revisions } = build.devices();
  for (const plan of build.design().devices) {
    const compiled = revisionAt(revisions, plan.part, stage)?.result?.compiled;
    for (const output of compiled?.outputs ?? []) {
      const pin = plan.outputs.find((item) => foldName(item.net) === foldName(output.net))?.pin;
      if (pin !== undefined) passes.set(foldName(`${plan.part}.${pin}`), output.passes);
    }
  }
  return passes;
}

export function marginsVerb(build: Build, options: { readonly stage: number; readonly clockHz?: number }): VerbResult {
  const { project } = build;
  const { stage } = options;
  const wiring = wiringOf(build, stage);
  const asked: TimingOptions = {
    families: project.library().value.families,
    passes: passesOf(build, stage),
    ...(wiring === undefined ? {} : { wiring }),
    ...(options.clockHz === undefined ? {} : { clockHz: options.clockHz }),
  };
  const { value, findings } = margins(build.design(), stage, asked);
  const waivers = project.machine().value.waivers.filter((waiver) => waiver.code.name.startsWith('margins/'));
  const { findings: kept, waived } = applyWaivers(findings, waivers);
  const current = value.supply.at(-1);
  return {
    value: {
      stage,
      processor: value.timing.processor,
      clockHz: value.timing.clockHz,
      maxClockHz: value.timing.maxClockHz,
      maxClockOfKnownHz: value.timing.maxClockOfKnownHz,
      minClockHz: value.timing.minClockHz,
      waitStates: value.timing.waitStates,
      critical: value.timing.critical,
      faster: value.timing.faster,
      timing: value.timing.rows,
      unknown: value.timing.unknown,
      assumptions: value.timing.assumptions,
      loading: value.loading,
      supply: value.supply,
      supervisor: value.supervisor,
      breaksFirst: value.breaksFirst,
      waived: waived.map((entry) => ({
        code: entry.finding.code,
        message: entry.finding.message,
        reason: entry.waiver.reason,
      })),
    },
    findings: kept,
    text: textOf(value, current),
  };
}

const ns = (value: number | null): string => (value === null ? '?' : value.toFixed(1));
const hertz = (value: number | null): string => (value === null ? 'not known' : formatQuantity(value, 'frequency', 4));

function textOf(value: Margins, current: Margins['supply'][number] | undefined): string {
  const { timing } = value;
  const lines: string[] = [];
  if (timing.processor === null) lines.push('No processor yet: no bus timing.');
  else if (timing.rows.length > 0) {
    lines.push(
      `${timing.processor} at ${hertz(timing.clockHz)}: up to ${hertz(timing.maxClockHz)}${timing.maxClockHz === null && timing.maxClockOfKnownHz !== null ? ` (${hertz(timing.maxClockOfKnownHz)} by what is known)` : ''}, down to ${timing.minClockHz === 0 ? 'a standstill' : hertz(timing.minClockHz)}`,
    );
    if (timing.critical !== null)
      lines.push(
        `The first to go: ${timing.critical.cycle} with ${timing.critical.target}, ${timing.critical.check}: ${timing.critical.path.map((step) => `${step.part} ${step.symbol} ${ns(step.ns)}`).join(' + ')}`,
      );
    if (timing.faster !== null)
      lines.push(
        `One faster part that helps most: ${timing.faster.part} as ${timing.faster.grade}, up to ${hertz(timing.faster.maxClockHz)}`,
      );
    lines.push(
      '',
      textTable([
        ['cycle', 'with', 'asked for', 'there', 'needed', 'left ns', 'up to'],
        ...[...timing.rows]
          .sort((a, b) => (a.marginNs ?? -1e9) - (b.marginNs ?? -1e9))
          .map((row) => [
            row.cycle,
            row.target,
            row.check,
            ns(row.availableNs),
            ns(row.requiredNs),
            ns(row.marginNs),
            row.marginNs === null
              ? row.missing.join('; ')
              : row.maxClockHz === null
                ? 'any clock'
                : row.maxClockHz === 0
                  ? 'no clock'
                  : hertz(row.maxClockHz),
          ]),
      ]),
      '',
      ...timing.assumptions,
    );
  }
  const levels = value.loading.filter((net) => net.worst !== null).sort((a, b) => a.worst! - b.worst!);
  if (levels.length > 0) {
    lines.push(
      '',
      'Levels, the least margins first:',
      textTable(
        levels.slice(0, 8).map((net) => {
          const row = net.levels.find((item) => item.highMargin === net.worst || item.lowMargin === net.worst)!;
          return [
            net.net,
            `${net.worst!.toFixed(2)} V`,
            `${row.driver} to ${row.input}`,
            row.highMargin === net.worst ? 'high' : 'low',
            net.pf.total === null ? '? pF' : `${Math.round(net.pf.total)} pF`,
          ];
        }),
        '  ',
      ),
    );
  }
  if (current !== undefined)
    lines.push(
      '',
      `Current: ${Math.round(current.typ)} mA typical, ${Math.round(current.max)} mA at most${current.limit === null ? '' : ` of ${current.limit} mA`}${current.unknown.length === 0 ? '' : `; not known: ${current.unknown.join(', ')}`}`,
    );
  if (value.supervisor !== null)
    lines.push(
      `Supervisor: ${value.supervisor.supervisor} at ${value.supervisor.thresholdMin} V at the lowest, ${value.supervisor.part} from ${value.supervisor.leastSupply} V`,
    );
  return lines.join('\n');
}
