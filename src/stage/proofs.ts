// Which proofs still stand. A proof was passed with certain wires, parts and images on the boards; the journal still knows
// them. What has changed since in its cone voids it, unless a later stage planned just that. Reads only.

import { contentId, foldName } from '../base/index.ts';
import type { HoleName, Layout, StripId } from '../board/index.ts';
import { type Design, type Netlist, netlistAt, type StageInfo } from '../netlist/index.ts';
import { type Built, builtState, type BuiltWire } from './built.ts';
import { type Cone, coneOf } from './cone.ts';
import type { JournalRecord } from './journal.ts';
import { proofId, proofText } from './proof-id.ts';
import { orderWithFewSetUps } from './prove-order.ts';
import { reachedStage } from './reached.ts';

type ProofDecl = StageInfo['decl']['prove'][number];

/**
 * stands: passed, and nothing in its cone that was there has changed. superseded: changed only as later stages planned (a
 * strap taken out, a device programmed anew). stale: changed otherwise. failed: the last measurement. open: never measured.
 */
export type ProofStatus = 'stands' | 'superseded' | 'stale' | 'failed' | 'open';

export interface ProofState {
  readonly id: string;
  readonly stage: number;
  readonly given: string;
  readonly expect: string;
  readonly status: ProofStatus;
  /** The record that is the evidence, and its time. */
  readonly record: string | undefined;
  readonly time: string | undefined;
  /** What changed, in words. */
  readonly reasons: readonly {
    readonly kind: 'wire' | 'part' | 'image' | 'design';
    readonly text: string;
    readonly planned: boolean;
  }[];
  readonly cone: Cone;
}

export interface ProofInput {
  readonly design: Design;
  readonly layout: Layout;
  readonly records: readonly JournalRecord[];
  readonly stripOf: (hole: HoleName) => StripId | undefined;
  /** True for a hole of a rail. */
  readonly onRail: (hole: HoleName) => boolean;
}

/** The cone of a proof: of what is expected, and of what is given where that names something of the machine. */
function coneOfProof(netlist: Netlist, proof: ProofDecl): Cone {
  return coneOf(
    netlist,
    proof.expect.map((term) => term.key),
    proof.given.map((term) => (foldName(term.key) === 'press' ? term.value : term.key)),
  );
}

/** A fingerprint of the design in a proof's cone: to be recorded with the measurement, so that a change of the design shows. */
export function proofBasis(design: Design, stage: number, proof: ProofDecl): string {
  const netlist = netlistAt(design, stage);
  const cone = coneOfProof(netlist, proof);
  const lines = netlist.nets
    .filter((net) => cone.nets.has(net.name) && net.kind === 'signal')
    .map(
      (net) =>
        `${foldName(net.name)}: ${net.pins
          .map((pin) => foldName(netlist.pins[pin]!.ref))
          .sort()
          .join(' ')}`,
    );
  for (const part of netlist.parts)
    if (cone.parts.has(part.name)) lines.push(`${foldName(part.name)} = ${foldName(part.type)} ${part.value ?? ''}`);
  return contentId(lines.sort().join('\n'), 10);
}

/** The state of every proof of every stage that the design declares, in order. */
export function proofStates(input: ProofInput): ProofState[] {
  const { design, records } = input;
  const now = builtState(records).value;
  const reached = reachedStage(design, input.layout, now);
  return design.stages.flatMap((info) =>
    info.decl.prove.map((proof): ProofState => {
      const id = proofId(info.name, proof);
      const cone = coneOfProof(netlistAt(design, info.number), proof);
      const { given, expect } = proofText(proof);
      const measured = now.measured.get(id);
      const common = { id, stage: info.number, given, expect, cone, record: measured?.record, time: measured?.time };
      if (measured === undefined) return { ...common, status: 'open', reasons: [] };
      if (!measured.pass) return { ...common, status: 'failed', reasons: [] };
      const then = builtState(records, measured.record).value;
      const reasons = changes(input, cone, then, now, info.number, reached);
      if (measured.basis !== undefined && measured.basis !== proofBasis(design, info.number, proof))
        reasons.push({ kind: 'design', text: 'the design of what it depends on was changed', planned: false });
      const status =
        reasons.length === 0 ? 'stands' : reasons.every((reason) => reason.planned) ? 'superseded' : 'stale';
      return { ...common, status, reasons };
    }),
  );
}

const wireKey = (wire: BuiltWire): string => [wire.from, wire.to].sort().join(' ');

/** What has changed in a cone between two built states. */
function changes(
  input: ProofInput,
  cone: Cone,
  then: Built,
  now: Built,
  stage: number,
  reached: number,
): ProofState['reasons'][number][] {
  const { design, layout, stripOf, onRail } = input;
  const reasons: ProofState['reasons'][number][] = [];
  const nets = new Set([...cone.nets].map(foldName));
  const supplies = new Set(
    netlistAt(design, design.stages.length)
      .nets.filter((net) => net.kind !== 'signal')
      .map((net) => foldName(net.name)),
  );
  // Of the supply only what feeds a part of the cone counts: rails, and wires in a strip with one of its pins.
  const strips = new Set<StripId>();
  for (const built of [then, now])
    for (const part of built.parts.values())
      if (cone.parts.has(part.part))
        for (const [, hole] of part.leads) {
          const strip = stripOf(hole);
          if (strip !== undefined) strips.add(strip);
        }
  const counts = (wire: BuiltWire): boolean => {
    const net = foldName(wire.net);
    if (!supplies.has(net)) return nets.has(net);
    if (cone.whole) return true;
    if (onRail(wire.from) && onRail(wire.to)) return nets.has(net);
    return [wire.from, wire.to].some((hole) => {
      const strip = stripOf(hole);
      return strip !== undefined && !onRail(hole) && strips.has(strip);
    });
  };
  const stageOf = (name: string | undefined): number => design.stages.find((info) => info.name === name)?.number ?? 0;
  const leavesBy = new Map<string, number>();
  for (const wire of layout.wires)
    if (wire.until !== undefined) leavesBy.set([wire.from, wire.to].sort().join(' '), wire.until);
  const partLeavesBy = new Map<string, number>();
  for (const part of layout.parts) if (part.until !== undefined) partLeavesBy.set(part.part, part.until);

  const before = new Map([...then.wires.values()].filter(counts).map((wire) => [wireKey(wire), wire]));
  const after = new Map([...now.wires.values()].filter(counts).map((wire) => [wireKey(wire), wire]));
  for (const [key, wire] of before)
    if (!after.has(key))
      reasons.push({
        kind: 'wire',
        text: `the ${wire.net} wire from ${wire.from} to ${wire.to} was taken out or moved`,
        planned: (leavesBy.get(key) ?? Number.POSITIVE_INFINITY) <= reached,
      });
  // A later stage that wires on is growth, not a change of what was proved.
  for (const [key, wire] of after)
    if (!before.has(key) && stageOf(wire.stage) <= stage)
      reasons.push({
        kind: 'wire',
        text: `a ${wire.net} wire from ${wire.from} to ${wire.to} was put in`,
        planned: false,
      });
  for (const part of then.parts.values()) {
    if (!cone.parts.has(part.part)) continue;
    const there = now.parts.get(part.part);
    if (there === undefined)
      reasons.push({
        kind: 'part',
        text: `${part.part} was taken out`,
        planned: (partLeavesBy.get(part.part) ?? Number.POSITIVE_INFINITY) <= reached,
      });
    else if (foldName(there.type) !== foldName(part.type) || there.value !== part.value || there.device !== part.device)
      reasons.push({ kind: 'part', text: `${part.part} is another piece`, planned: false });
    else if (JSON.stringify(there.leads) !== JSON.stringify(part.leads))
      reasons.push({ kind: 'part', text: `${part.part} was moved`, planned: false });
    const device = there?.device ?? part.device;
    const held = then.devices.get(device);
    const holds = now.devices.get(device);
    if (holds !== undefined && (held?.file !== holds.file || held?.sum !== holds.sum))
      reasons.push({
        kind: 'image',
        text: `${device} was programmed with ${holds.file}`,
        planned: design.stages.some(
          (info) =>
            info.number > stage &&
            info.number <= reached &&
            info.decl.programs.some((item) => item.part.name === part.part),
        ),
      });
  }
  for (const part of now.parts.values())
    if (cone.parts.has(part.part) && !then.parts.has(part.part) && stageOf(part.stage) <= stage)
      reasons.push({ kind: 'part', text: `${part.part} was put in`, planned: false });
  return reasons;
}

/**
 * The order in which to prove again what is stale, failed or open: a proof whose cone lies wholly within another's comes
 * first, since its failure would explain the other's; within that, with few changes of what is given, then the earlier stage.
 * `setUps` counts how often what is given has to be set up: the least there is for up to 14 proofs, few for more.
 */
export function proveAgain(states: readonly ProofState[]): {
  readonly order: readonly ProofState[];
  readonly setUps: number;
} {
  const left = states.filter(
    (state) => state.status === 'stale' || state.status === 'failed' || state.status === 'open',
  );
  const size = (state: ProofState): number => state.cone.nets.size + state.cone.parts.size;
  // A proof of the whole machine comes after those of its parts, never the other way, so there are no circles.
  const within = (a: ProofState, b: ProofState): boolean =>
    a.cone.whole !== b.cone.whole
      ? b.cone.whole && a.stage <= b.stage
      : size(a) < size(b) &&
        [...a.cone.nets].every((net) => b.cone.nets.has(net)) &&
        [...a.cone.parts].every((part) => b.cone.parts.has(part));
  const order = orderWithFewSetUps(
    left.map((state) => state.given),
    left.map((state) => left.flatMap((other, k) => (other !== state && within(other, state) ? [k] : []))),
  );
  const setUps = order.filter((k, i) => i === 0 || left[order[i - 1]!]!.given !== left[k]!.given).length;
  return { order: order.map((k) => left[k]!), setUps };
}
