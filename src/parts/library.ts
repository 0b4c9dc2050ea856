// The part library in memory: records looked up by any of their names, with the family resolved.

import { foldName, nearestName } from '../base/index.ts';
import type { FamilyRecord, PartRecord } from './record.ts';

/** A type as a machine names it: the record, the logic family it comes in, and the name to print. */
export interface ResolvedType {
  readonly record: PartRecord;
  /** `HCT`, or undefined for parts that exist in no logic family. */
  readonly family: string | undefined;
  /** `74HCT138`, `Z80`. */
  readonly name: string;
}

/** Records and families; `find` resolves a type's name. */
export interface Library {
  readonly records: readonly PartRecord[];
  readonly families: ReadonlyMap<string, FamilyRecord>;
  find(type: string, defaultFamily?: string): ResolvedType | undefined;
  /** The known type that a misspelt one probably meant. */
  nearest(type: string): string | undefined;
}

/** A library of `records`, later ones (a project's own) standing before earlier ones of the same name. */
export function createLibrary(records: readonly PartRecord[], families: readonly FamilyRecord[]): Library {
  const plain = new Map<string, PartRecord>();
  const inFamily = new Map<string, { record: PartRecord; family: string; name: string }>();
  for (const record of records) {
    for (const name of [record.part, ...(record.aliases ?? [])]) {
      plain.set(foldName(name), record);
      const x = /^(\d+)x(\d\w*)$/i.exec(name);
      if (x === null) continue;
      plain.set(foldName(`${x[1]}${x[2]}`), record);
      for (const family of record.families ?? []) {
        const written = `${x[1]}${family}${x[2]}`;
        inFamily.set(foldName(written), { record, family, name: written });
      }
    }
  }
  const find = (type: string, defaultFamily?: string): ResolvedType | undefined => {
    const key = foldName(type.trim());
    const exact = inFamily.get(key);
    if (exact !== undefined) return exact;
    const record = plain.get(key);
    if (record === undefined) return undefined;
    const families = record.families ?? [];
    const family =
      families.length === 0
        ? undefined
        : (families.find((f) => foldName(f) === foldName(defaultFamily ?? '')) ?? families[0]);
    const x = /^(\d+)x(\d\w*)$/i.exec(record.part);
    return { record, family, name: family !== undefined && x !== null ? `${x[1]}${family}${x[2]}` : record.part };
  };
  return {
    records,
    families: new Map(families.map((family) => [family.family, family])),
    find,
    nearest: (type) =>
      nearestName(type, [...inFamily.values()].map((entry) => entry.name).concat(records.map((record) => record.part))),
  };
}
