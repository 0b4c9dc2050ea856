// Text of a part record or family file to the record, with what is wrong in it. The schema says what may stand where
// (src/yaml reads it); the checks that need two places of the record at once are in check-record.ts and check-behaviour.ts.

import type { Finding, Result } from '../base/index.ts';
import { readYaml } from '../yaml/index.ts';
import { expandBehaviour } from './behaviour.ts';
import { checkRanges, checkRecord } from './check-record.ts';
import { type FamilyRecord, FamilySchema, type PartRecord, PartRecordSchema } from './record.ts';
import { createReporter } from './reporter.ts';

/** Reads a part record. The value is absent where the text does not fit the schema; it is there, with findings, where only the checks complain. */
export function readPart(file: string, text: string): Result<PartRecord | undefined> {
  const reading = readYaml(file, text, PartRecordSchema);
  if (reading.value === undefined || reading.findings.some((finding) => finding.severity === 'error'))
    return { value: undefined, findings: reading.findings };
  const record = reading.value as PartRecord;
  const reporter = createReporter(text, reading);
  checkRecord(record, reporter);
  // Readers of records need not know of `repeat`: it is written out here, after the checks, which speak of the text.
  const value = record.behaviour === undefined ? record : { ...record, behaviour: expandBehaviour(record.behaviour) };
  return { value, findings: [...reading.findings, ...reporter.findings] };
}

/** Reads a family file; as `readPart`. */
export function readFamily(file: string, text: string): Result<FamilyRecord | undefined> {
  const reading = readYaml(file, text, FamilySchema);
  if (reading.value === undefined || reading.findings.some((finding) => finding.severity === 'error'))
    return { value: undefined, findings: reading.findings };
  const family = reading.value as FamilyRecord;
  const reporter = createReporter(text, reading);
  checkRanges(family, family.sources, reporter);
  return { value: family, findings: [...reading.findings, ...reporter.findings] };
}

/**
 * Checks that need every record and family at once: names that two records claim, families that have no file, and classes
 * of levels or drive that neither record nor family gives.
 */
export function checkLibrary(
  records: readonly { readonly file: string; readonly record: PartRecord }[],
  families: readonly FamilyRecord[],
): Finding[] {
  const findings: Finding[] = [];
  const say = (file: string, code: string, message: string, help: string): void => {
    findings.push({ code, severity: 'error', message, where: [{ file, start: 0, end: 0 }], notes: [], help });
  };
  const known = new Map(families.map((family) => [family.family, family]));
  const claimed = new Map<string, string>();
  for (const { file, record } of records) {
    for (const name of [record.part, ...(record.aliases ?? [])]) {
      const key = name.toLowerCase();
      const other = claimed.get(key);
      if (other !== undefined && other !== record.part)
        say(file, 'parts/repeated-type', `${name} is a name of ${other} already.`, 'Give each type one record.');
      else if (other !== undefined)
        say(
          file,
          'parts/repeated-type',
          `${name} stands twice.`,
          'Keep one record of each type, and one alias of each name.',
        );
      claimed.set(key, record.part);
    }
    for (const name of record.families ?? []) {
      const family = known.get(name);
      if (family === undefined) {
        say(
          file,
          'parts/unknown-family',
          `There is no family file for ${name}.`,
          `Families: ${[...known.keys()].join(', ')}.`,
        );
        continue;
      }
      for (const pin of record.pins) {
        for (const [kind, wanted] of [
          ['inputs', pin.input],
          ['outputs', pin.output],
        ] as const) {
          if (wanted === undefined) continue;
          const own = record[kind]?.[wanted] ?? record.grades?.[name]?.[kind]?.[wanted];
          if (own === undefined && family[kind][wanted] === undefined)
            say(
              file,
              'parts/unknown-class',
              `Pin ${pin.name} is of class ${wanted}, which neither ${record.part} nor family ${name} gives among ${kind}.`,
              `Write its figures under ${kind}, or name a class that is there.`,
            );
        }
      }
    }
  }
  return findings;
}
