// Arcs of a part as it stands in the machine: those of its grade, of its family, and those common to all; and what pins their
// ends mean.

import { foldName } from '../../base/index.ts';
import { expandPins, gradeOf, type PartRecord, pinsNamed, type TimingArc } from '../../parts/index.ts';

/** A part of the machine as far as its figures go. */
export interface Chosen {
  readonly record: PartRecord;
  readonly family: string | undefined;
  readonly grade: string | undefined;
}

export interface ArcEnd {
  /** `rise` or `fall` where the arc says so. */
  readonly edge: 'rise' | 'fall' | undefined;
  /** Names of the record's pins. */
  readonly pins: ReadonlySet<string>;
}

export interface PartArc {
  readonly arc: TimingArc;
  readonly from: ArcEnd;
  readonly to: ArcEnd;
}

const known = new WeakMap<PartRecord, Map<string, readonly PartArc[]>>();

/** What an end stands for: pins, ranges, groups, or lists of these. */
export function arcEnd(record: PartRecord, text: string | undefined): ArcEnd {
  const pins = new Set<string>();
  let edge: ArcEnd['edge'];
  for (const piece of (text ?? '').split(',')) {
    const match = /^\s*(?:(rise|fall)\s+)?(.*?)\s*$/.exec(piece)!;
    edge ??= match[1] as ArcEnd['edge'];
    const name = match[2]!;
    if (name === '') continue;
    const group = record.pins.filter((pin) => pin.group !== undefined && foldName(pin.group) === foldName(name));
    const rows = group.length > 0 ? group : expandPins(record, name).flatMap((pin) => pinsNamed(record, pin));
    for (const row of rows) pins.add(row.name);
  }
  return { edge, pins };
}

/** Every arc that holds for a part. The result is shared. */
export function arcsOf(part: Chosen): readonly PartArc[] {
  let byChoice = known.get(part.record);
  if (byChoice === undefined) {
    byChoice = new Map();
    known.set(part.record, byChoice);
  }
  const key = `${part.grade ?? ''}\n${part.family ?? ''}`;
  let arcs = byChoice.get(key);
  if (arcs === undefined) {
    arcs = [
      ...(gradeOf(part.record, part.grade)?.arcs ?? []),
      ...(gradeOf(part.record, part.family)?.arcs ?? []),
      ...(part.record.arcs ?? []),
    ].map((arc) => ({ arc, from: arcEnd(part.record, arc.from), to: arcEnd(part.record, arc.to) }));
    byChoice.set(key, arcs);
  }
  return arcs;
}

/** Arcs that other grades of the part have and that this one lacks, by kind and ends: known to exist, figure unknown. */
export function arcsOfOtherGrades(part: Chosen): PartArc[] {
  const have = new Set(arcsOf(part).map(({ arc }) => `${arc.kind} ${arc.from} ${arc.to}`));
  const found = new Map<string, PartArc>();
  for (const grade of Object.values(part.record.grades ?? {}))
    for (const arc of grade.arcs ?? []) {
      const key = `${arc.kind} ${arc.from} ${arc.to}`;
      if (!have.has(key) && !found.has(key))
        found.set(key, { arc, from: arcEnd(part.record, arc.from), to: arcEnd(part.record, arc.to) });
    }
  return [...found.values()];
}
