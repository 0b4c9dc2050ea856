// Current of the machine by stage: typical and greatest, with what nobody printed listed by name. What lamps and pulls draw is
// counted from the loading, not from records.

import { foldName } from '../base/index.ts';
import { type Design, netlistAt, type NetPart } from '../netlist/index.ts';
import { gradeOf } from '../parts/index.ts';
import { lampsOf } from './loading.ts';
import { sourceOf } from './model.ts';

/** What one part draws, mA. */
export interface PartCurrent {
  readonly part: string;
  readonly typ: number | null;
  readonly max: number | null;
  readonly conditions: string | null;
  readonly source: string;
}

export interface StageCurrent {
  readonly stage: number;
  readonly parts: readonly PartCurrent[];
  /** mA of lamps with all of them lit. */
  readonly lamps: number;
  /** mA: typical where printed, else the greatest. Both count what is known only; `unknown` says what is missing. */
  readonly typ: number;
  readonly max: number;
  readonly unknown: readonly string[];
  /** mA of the supply's limit, or null. */
  readonly limit: number | null;
  /** mA left under the limit at the greatest current; null with unknown parts or without a limit. */
  readonly marginMa: number | null;
}

/** What a part draws: its grade's figure, its family's, or the record's; undefined for parts without a supply pin. */
export function currentOf(part: NetPart): PartCurrent | undefined {
  if (!part.record.pins.some((pin) => pin.kind === 'supply')) return undefined;
  const figure =
    gradeOf(part.record, part.grade)?.current ?? gradeOf(part.record, part.family)?.current ?? part.record.current;
  return {
    part: part.name,
    typ: figure?.typ ?? null,
    max: figure?.max ?? null,
    conditions: figure?.conditions ?? null,
    source: figure === undefined ? 'not known' : sourceOf(part.record, figure.source).text,
  };
}

/** Parts that a machine is fed by or that only pass its current on. */
const isPassedOver = (part: NetPart): boolean =>
  part.record.category === 'supply' || part.record.category === 'connector';

/** The machine's current as of a stage. */
export function currentAt(design: Design, stage: number): StageCurrent {
  const netlist = netlistAt(design, stage);
  const parts = netlist.parts.filter((part) => !isPassedOver(part)).flatMap((part) => currentOf(part) ?? []);
  const lamps = new Map<string, number>();
  for (const lamp of lampsOf(design, stage)) if (lamp.mA !== null) lamps.set(foldName(lamp.part), lamp.mA);
  const lit = [...lamps.values()].reduce((sum, mA) => sum + mA, 0);
  const sum = (pick: (part: PartCurrent) => number | null): number =>
    parts.reduce((total, part) => total + (pick(part) ?? 0), lit);
  const unknown = parts.filter((part) => part.max === null).map((part) => part.part);
  const amps = design.supplies[0]?.limitAmps;
  const limit = amps === undefined ? null : amps * 1e3;
  const max = sum((part) => part.max ?? part.typ);
  return {
    stage,
    parts,
    lamps: lit,
    typ: sum((part) => part.typ ?? part.max),
    max,
    unknown,
    limit,
    marginMa: limit === null || unknown.length > 0 ? null : limit - max,
  };
}
