// What wires do to the edges of a whole machine: ringing of clocks and strobes, crosstalk from neighbours, outputs that switch
// together, and what bypass and bulk capacitors have to give. All of it is an estimate by the formulas that stand beside it; no
// margin rests on it. Lengths and neighbours come from a layout as plain data.

import { foldName, parseValue } from '../base/index.ts';
import { type Design, type Netlist, netlistAt, type NetPart, type NetPin, viewOf } from '../netlist/index.ts';
import { outputFigures } from '../parts/index.ts';
import { arcsOf } from './bus-timing/arcs.ts';
import { bandOf, type NetLoading, outputOhms } from './loading.ts';
import type { MarginOptions } from './model.ts';
import {
  capacitiveCrosstalk,
  criticalLength,
  inductiveCrosstalk,
  mutualInductance,
  ringing,
  wireCapacitance,
  wireInductance,
} from './signals.ts';
import { currentOf } from './supply.ts';

/** What a layout tells of wires, beside the lengths and strips of each net. */
export interface WireFacts {
  /** mm of the longest way along a net's wires, by net name folded. */
  readonly longest: ReadonlyMap<string, number>;
  /** Stretches where wires of two nets run beside each other. */
  readonly couples: readonly {
    readonly a: string;
    readonly b: string;
    readonly mm: number;
    readonly distanceMm: number;
  }[];
  /** mm from a chip's supply pin to the nearest capacitor that bypasses the supply, and which, by part name folded. */
  readonly bypass: ReadonlyMap<string, { readonly capacitor: string; readonly mm: number }>;
  /** mm of the ground wire of a chip, by part name folded. */
  readonly groundMm: ReadonlyMap<string, number>;
}

/** mm, AWG 22 (ASTM B258 sizes). */
export const WIRE_MM = 0.644;
/** nH of a lead of a dual in-line package at its corner: from memory, 10 to 15 nH for 20 pins. */
export const LEAD_NH = 12;
/** Outputs are usually twice as strong as they promise, which rings more: common practice, no source. */
export const USUAL_DRIVE = 0.5;
/** V by which a supply may dip at a chip when its outputs switch: common practice, no source. */
export const DIP_VOLTS = 0.1;
/** mm within which a bypass capacitor serves a chip: 5 to 10 mm is advised for boards; on strips twice that (common practice, no source). */
export const BYPASS_MM = 20;
/** uF of bulk for each ampere of supply current: 100 uF a board of some hundred mA (facts of practice; common practice, no source). */
export const BULK_UF_PER_AMP = 100;

export const FORMULAS = {
  ringing:
    'L = 0.2 l (ln(2l/r) - 0.75) uH (Rosa 1908); f = 1/(2 pi sqrt(LC)); overshoot = exp(-pi z/sqrt(1-z^2)), z = R/2 sqrt(C/L); an edge of time t leaves 1/(pi f t) of it',
  crosstalk: 'V = M dI/dt + R C dV/dt with M and C of two parallel wires over their common length',
  bounce:
    'the lesser of L n dI/dt with I = C V / t in half of t, and V q (1 - exp(-1/q)) with q = n L / (R t); L of lead and ground wire, R half of what the output promises',
  bypass: 'C = n C V / dip, what n outputs take out of the capacitor in one edge',
} as const;

export interface EdgeRow {
  readonly net: string;
  readonly driver: string;
  /** Inputs that act on its edges; ringing there counts twice. */
  readonly acts: readonly string[];
  readonly mm: number;
  /** mm from which on the edge feels the wire: its way takes a sixth of the edge. */
  readonly criticalMm: number | null;
  readonly edgeNs: number | null;
  readonly ringMhz: number | null;
  /** V beyond the rail, and V by which it then comes back. */
  readonly overshootVolts: number | null;
  readonly reboundVolts: number | null;
  /** V of the lowest low threshold less the level and what comes back; null where unknown. */
  readonly leftVolts: number | null;
  readonly advice: string | null;
  readonly missing: readonly string[];
}

export interface CrosstalkRow {
  readonly net: string;
  readonly from: readonly { readonly net: string; readonly mm: number; readonly volts: number | null }[];
  /** V of all that switch together; null where an aggressor's edge is unknown. */
  readonly volts: number | null;
  /** V of the net's least level margin. */
  readonly marginVolts: number | null;
}

export interface ChipRow {
  readonly part: string;
  /** Outputs that may switch at once, and pF that each drives. */
  readonly outputs: number;
  readonly pf: number | null;
  readonly bounceVolts: number | null;
  /** uF that its outputs want of a bypass for `DIP_VOLTS`; what it has, and how far. */
  readonly wantsUf: number | null;
  readonly hasUf: number | null;
  readonly bypass: string | null;
  readonly mm: number | null;
  readonly advice: string | null;
}

export interface SignalReport {
  /** Always true: the page and the verb say so. */
  readonly isEstimate: true;
  readonly edges: readonly EdgeRow[];
  readonly crosstalk: readonly CrosstalkRow[];
  readonly chips: readonly ChipRow[];
  readonly bulk: {
    readonly hasUf: number;
    readonly wantsUf: number | null;
    readonly parts: readonly string[];
  };
  readonly formulas: typeof FORMULAS;
}

/** Pins of a part that act on an edge: named so in its arcs or behaviour. */
function edgePins(part: NetPart): ReadonlySet<string> {
  const names = new Set<string>();
  for (const pin of part.record.pins) if (pin.edge === true) names.add(pin.name);
  for (const { arc, from, to } of arcsOf({ record: part.record, family: part.family, grade: part.grade })) {
    if (arc.kind !== 'setup' && arc.kind !== 'hold') continue;
    const end = arc.kind === 'setup' ? to : from;
    if (end.edge !== undefined) for (const name of end.pins) names.add(name);
  }
  const clock = part.record.clock?.pin ?? part.record.bus?.signals?.clock;
  if (clock !== undefined) names.add(clock);
  return names;
}

interface Driven {
  readonly net: number;
  readonly name: string;
  readonly pin: NetPin;
  readonly edgeNs: number | undefined;
  readonly ohm: number | null;
  readonly pf: number | null;
}

/** The estimates for a machine as of a stage. */
export function signalReport(
  design: Design,
  stage: number,
  loading: readonly NetLoading[],
  wires: WireFacts,
  options: MarginOptions,
): SignalReport {
  const netlist = netlistAt(design, stage);
  const view = viewOf(netlist);
  const band = bandOf(design);
  const swing = (band.min + band.max) / 2;
  const byRef = new Map(netlist.pins.map((pin) => [pin.ref, pin]));
  const byNet = new Map(netlist.nets.map((net) => [net.name, net]));
  const edgeOf = new Map(netlist.parts.map((part) => [part.id, edgePins(part)]));
  const driven = new Map<string, Driven>();
  for (const item of loading) {
    const net = byNet.get(item.net);
    // Of several drivers the steepest edge counts.
    for (const { driver } of item.drivers) {
      const pin = byRef.get(driver);
      if (net === undefined || pin === undefined) continue;
      const figures = outputFigures(view.part(pin), view.row(pin), options.families);
      const edgeNs = figures?.['edge-time'];
      const before = driven.get(foldName(item.net));
      if (before !== undefined && (edgeNs === undefined || (before.edgeNs ?? 1e9) <= edgeNs)) continue;
      driven.set(foldName(item.net), {
        net: net.id,
        name: item.net,
        pin,
        edgeNs,
        ohm: usualOhms(outputOhms(figures)),
        pf: item.pf.total,
      });
    }
  }
  const levelOf = new Map(loading.map((item) => [foldName(item.net), item]));
  const edges = [...driven.values()].flatMap((item) => edgeRow(netlist, item, edgeOf, levelOf, wires, swing) ?? []);
  const sensitive = new Set(edges.filter((row) => row.acts.length > 0).map((row) => foldName(row.net)));
  return {
    isEstimate: true,
    edges: edges.sort((a, b) => (a.leftVolts ?? 9) - (b.leftVolts ?? 9) || (a.net < b.net ? -1 : 1)),
    crosstalk: crosstalkOf(wires, driven, levelOf, sensitive, swing),
    chips: chipsOf(netlist, driven, wires, swing),
    bulk: bulkOf(netlist),
    formulas: FORMULAS,
  };
}

const usualOhms = (ohm: number | null): number | null => (ohm === null ? null : ohm * USUAL_DRIVE);

function edgeRow(
  netlist: Netlist,
  item: Driven,
  edgeOf: ReadonlyMap<number, ReadonlySet<string>>,
  levelOf: ReadonlyMap<string, NetLoading>,
  wires: WireFacts,
  swing: number,
): EdgeRow | undefined {
  const mm = wires.longest.get(foldName(item.name));
  if (mm === undefined || mm <= 0) return undefined;
  const listeners = netlist.nets[item.net]!.pins.map((id) => netlist.pins[id]!).filter((pin) => pin !== item.pin);
  const acts = listeners.filter((pin) => edgeOf.get(pin.part)?.has(pin.name)).map((pin) => pin.ref);
  const missing = [
    ...(item.edgeNs === undefined ? [`edge time of ${item.pin.ref}`] : []),
    ...(item.ohm === null ? [`drive of ${item.pin.ref}`] : []),
    ...(item.pf === null ? [`capacitance of ${item.name}`] : []),
  ];
  const base = { net: item.name, driver: item.pin.ref, acts, mm: Math.round(mm), missing };
  const criticalMm = item.edgeNs === undefined ? null : criticalLength(item.edgeNs);
  if (item.edgeNs === undefined || item.ohm === null || item.pf === null || item.pf <= 0)
    return {
      ...base,
      criticalMm,
      edgeNs: item.edgeNs ?? null,
      ringMhz: null,
      overshootVolts: null,
      reboundVolts: null,
      leftVolts: null,
      advice: null,
    };
  const nh = wireInductance(mm, WIRE_MM);
  const ring = ringing(nh, item.pf, item.ohm);
  const slow = Math.min(1, 1 / (Math.PI * ring.hz * item.edgeNs * 1e-9));
  const overshoot = ring.overshoot * slow;
  const reboundVolts = swing * overshoot * ring.overshoot;
  const level = levelOf.get(foldName(item.name));
  const lows = (level?.levels ?? []).flatMap((row) => (row.lowMargin === null ? [] : [row.lowMargin]));
  const least = lows.length === 0 ? null : Math.min(...lows);
  const isUnknown = (level?.levels ?? []).some((row) => row.lowMargin === null);
  const leftVolts = least === null || isUnknown ? null : least - reboundVolts;
  // Damped to an overshoot of a tenth: z = 0.6.
  const series = 1.2 * Math.sqrt((nh * 1e-9) / (item.pf * 1e-12)) - item.ohm;
  const advice =
    acts.length > 0 && leftVolts !== null && leftVolts < 0
      ? `Shorten its way to ${Math.round(criticalLength(item.edgeNs))} mm or so, lay a ground wire beside it${series > 5 ? `, or put ${Math.round(series)} ohm into it at ${item.pin.ref}` : ''}.`
      : null;
  return {
    ...base,
    criticalMm,
    edgeNs: item.edgeNs,
    ringMhz: ring.hz / 1e6,
    overshootVolts: swing * overshoot,
    reboundVolts,
    leftVolts,
    advice,
  };
}

function crosstalkOf(
  wires: WireFacts,
  driven: ReadonlyMap<string, Driven>,
  levelOf: ReadonlyMap<string, NetLoading>,
  sensitive: ReadonlySet<string>,
  swing: number,
): CrosstalkRow[] {
  const onto = new Map<string, { net: string; mm: number; volts: number | null }[]>();
  for (const { a, b, mm, distanceMm } of wires.couples)
    for (const [victim, other] of [
      [a, b],
      [b, a],
    ] as const) {
      if (!sensitive.has(foldName(victim))) continue;
      const [own, from] = [driven.get(foldName(victim)), driven.get(foldName(other))];
      if (own === undefined || from === undefined) continue;
      const isKnown = from.edgeNs !== undefined && from.pf !== null && own.ohm !== null;
      const volts = !isKnown
        ? null
        : inductiveCrosstalk(mutualInductance(mm, distanceMm), (from.pf! * swing) / from.edgeNs!, from.edgeNs!) +
          capacitiveCrosstalk(
            wireCapacitance(mm, WIRE_MM, Math.max(distanceMm, WIRE_MM * 1.01)),
            own.ohm!,
            swing,
            from.edgeNs!,
          );
      const list = onto.get(victim) ?? [];
      onto.set(victim, list);
      list.push({ net: from.name, mm: Math.round(mm), volts });
    }
  return [...onto]
    .map(([victim, list]): CrosstalkRow => {
      const name = driven.get(foldName(victim))!.name;
      const level = levelOf.get(foldName(victim));
      const known = list.filter((item) => item.volts !== null);
      return {
        net: name,
        from: list.sort((x, y) => (y.volts ?? 0) - (x.volts ?? 0)),
        volts:
          known.length < list.length
            ? null
            : Math.min(
                swing,
                known.reduce((sum, item) => sum + item.volts!, 0),
              ),
        marginVolts: level?.worst ?? null,
      };
    })
    .sort((x, y) => (y.volts ?? 0) - (x.volts ?? 0) || (x.net < y.net ? -1 : 1));
}

/** Capacitors between a supply and ground, uF by part name. */
function suppliesHeld(netlist: Netlist): { part: NetPart; uf: number | null }[] {
  return netlist.parts.flatMap((part) => {
    if (part.record.symbol !== 'capacitor' && part.record.symbol !== 'electrolytic') return [];
    const kinds = part.pins.map((id) => {
      const net = netlist.pins[id]!.net;
      return net < 0 ? undefined : netlist.nets[net]!.kind;
    });
    if (!kinds.includes('supply') || !kinds.includes('ground')) return [];
    const farad = part.value === undefined ? undefined : parseValue(part.value, 'capacitance');
    return [{ part, uf: farad === undefined ? null : farad * 1e6 }];
  });
}

function chipsOf(netlist: Netlist, driven: ReadonlyMap<string, Driven>, wires: WireFacts, swing: number): ChipRow[] {
  const held = new Map(suppliesHeld(netlist).map(({ part, uf }) => [foldName(part.name), { name: part.name, uf }]));
  const byPart = new Map<number, Driven[]>();
  for (const item of driven.values()) byPart.set(item.pin.part, [...(byPart.get(item.pin.part) ?? []), item]);
  return netlist.parts.flatMap((part): ChipRow[] => {
    if (currentOf(part) === undefined || part.record.package.kind !== 'dip') return [];
    const outputs = byPart.get(part.id) ?? [];
    const near = wires.bypass.get(foldName(part.name));
    const own = [...held.values()].find((item) =>
      near === undefined
        ? netlist.parts.some(
            (other) => other.name === item.name && foldName(other.implied?.serves ?? '') === foldName(part.name),
          )
        : foldName(item.name) === foldName(near.capacitor),
    );
    // A transceiver drives one of its sides at a time.
    const count = part.record.bus?.role === 'transceiver' ? Math.ceil(outputs.length / 2) : outputs.length;
    const isKnown = outputs.every((item) => item.pf !== null);
    const pf =
      outputs.length === 0 || !isKnown ? null : outputs.reduce((sum, item) => sum + item.pf!, 0) / outputs.length;
    const edge = outputs.length === 0 ? undefined : Math.min(...outputs.map((item) => item.edgeNs ?? Number.NaN));
    const groundNh = LEAD_NH + wireInductance(wires.groundMm.get(foldName(part.name)) ?? 0, WIRE_MM);
    const ohm =
      outputs.length === 0
        ? null
        : outputs.reduce<number | null>(
            (least, item) => (item.ohm === null ? null : least === null ? null : Math.min(least, item.ohm)),
            1e9,
          );
    const bounceVolts =
      pf === null || ohm === null || edge === undefined || Number.isNaN(edge)
        ? null
        : bounce(groundNh, count, pf, ohm, swing, edge);
    const wantsUf = pf === null ? null : (count * pf * 1e-6 * swing) / DIP_VOLTS;
    const mm = near?.mm ?? null;
    const advice =
      own === undefined
        ? `${part.name} has no bypass capacitor: put 100 nF at its own pins.`
        : mm !== null && mm > BYPASS_MM
          ? `The nearest, ${own.name}, is ${Math.round(mm)} mm from its supply pin: move it within ${BYPASS_MM} mm.`
          : wantsUf !== null && own.uf !== null && own.uf < wantsUf
            ? `${own.name} holds too little for all its outputs at once.`
            : null;
    return [
      {
        part: part.name,
        outputs: count,
        pf,
        bounceVolts,
        wantsUf,
        hasUf: own?.uf ?? null,
        bypass: own?.name ?? null,
        mm: mm === null ? null : Math.round(mm),
        advice,
      },
    ];
  });
}

/**
 * V by which a chip's ground rises when `outputs` of it fall together (nH, pF, ohm, V, ns): what the loads' charge asks for, and at
 * most what a ramp through the outputs' own resistance leaves across the inductance.
 */
export function bounce(nh: number, outputs: number, pf: number, ohm: number, swing: number, edgeNs: number): number {
  const byCharge = (2e-3 * nh * outputs * pf * swing) / edgeNs ** 2;
  const q = (outputs * nh) / ohm / edgeNs;
  return Math.min(byCharge, swing * q * (1 - Math.exp(-1 / q)));
}

function bulkOf(netlist: Netlist): SignalReport['bulk'] {
  const bulk = suppliesHeld(netlist).filter(({ uf }) => uf !== null && uf >= 1);
  const currents = netlist.parts.flatMap((part) => currentOf(part) ?? []);
  const isKnown = currents.every((item) => item.max !== null || item.typ !== null);
  const mA = currents.reduce((sum, item) => sum + (item.max ?? item.typ ?? 0), 0);
  return {
    hasUf: bulk.reduce((sum, { uf }) => sum + uf!, 0),
    wantsUf: isKnown ? (mA / 1e3) * BULK_UF_PER_AMP : null,
    parts: bulk.map(({ part }) => part.name),
  };
}
