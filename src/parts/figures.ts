// The electrical figures of a pin: the record's classes, refined by grade, over those of the logic family. A figure that
// stands nowhere stays undefined: unknown is unknown.

import type { FamilyRecord, InputFigures, OutputFigures, PartPinRow, PartRecord } from './record.ts';

/** What selects figures within a record. */
export interface FigureChoice {
  readonly record: PartRecord;
  readonly family: string | undefined;
  readonly grade: string | undefined;
}

type Families = ReadonlyMap<string, FamilyRecord>;

function layers<T extends object>(
  pick: (source: Readonly<Record<string, T>> | undefined) => T | undefined,
  sources: readonly (Readonly<Record<string, T>> | undefined)[],
): T | undefined {
  const found = sources.map(pick).filter((figures) => figures !== undefined);
  return found.length === 0 ? undefined : Object.assign({}, ...found.reverse());
}

/** What was worked out before, by families and record; the keys say kind, grade, family and class. */
const known = new WeakMap<Families, WeakMap<PartRecord, Map<string, object | undefined>>>();

function once<T extends object>(
  families: Families,
  choice: FigureChoice,
  kind: string,
  name: string,
  compute: () => T | undefined,
): T | undefined {
  let records = known.get(families);
  if (records === undefined) {
    records = new WeakMap();
    known.set(families, records);
  }
  let figures = records.get(choice.record);
  if (figures === undefined) {
    figures = new Map();
    records.set(choice.record, figures);
  }
  const key = `${kind}\n${name}\n${choice.grade ?? ''}\n${choice.family ?? ''}`;
  if (!figures.has(key)) figures.set(key, compute());
  return figures.get(key) as T | undefined;
}

/** Input thresholds and loads of a pin. The result is shared: do not change it. */
export function inputFigures(choice: FigureChoice, row: PartPinRow, families: Families): InputFigures | undefined {
  const name = row.input ?? 'default';
  return once(families, choice, 'input', name, () => inputFiguresOf(choice, name, families));
}

function inputFiguresOf(choice: FigureChoice, name: string, families: Families): InputFigures | undefined {
  const { record, grade, family } = choice;
  const pick = (source: Readonly<Record<string, InputFigures>> | undefined): InputFigures | undefined =>
    source !== undefined && Object.hasOwn(source, name) ? source[name] : source?.default;
  return layers(pick, [
    gradeOf(record, grade)?.inputs,
    gradeOf(record, family)?.inputs,
    record.inputs,
    family === undefined ? undefined : families.get(family)?.inputs,
  ]);
}

/** Output levels and drive of a pin. The result is shared: do not change it. */
export function outputFigures(choice: FigureChoice, row: PartPinRow, families: Families): OutputFigures | undefined {
  const name = row.output ?? 'default';
  return once(families, choice, 'output', name, () => outputFiguresOf(choice, name, families));
}

function outputFiguresOf(choice: FigureChoice, name: string, families: Families): OutputFigures | undefined {
  const { record, grade, family } = choice;
  const pick = (source: Readonly<Record<string, OutputFigures>> | undefined): OutputFigures | undefined =>
    source !== undefined && Object.hasOwn(source, name) ? source[name] : source?.default;
  return layers(pick, [
    gradeOf(record, grade)?.outputs,
    gradeOf(record, family)?.outputs,
    record.outputs,
    family === undefined ? undefined : families.get(family)?.outputs,
  ]);
}

/** The grade's block, by name without regard to case; a bare `150 ns` also finds the only grade that starts so. */
export function gradeOf(
  record: PartRecord,
  grade: string | undefined,
): NonNullable<PartRecord['grades']>[string] | undefined {
  if (grade === undefined || record.grades === undefined) return undefined;
  const wanted = grade.toLowerCase();
  const exact = Object.keys(record.grades).find((name) => name.toLowerCase() === wanted);
  return exact === undefined ? undefined : record.grades[exact];
}

/** The least high level an output guarantees at light load, in V with a supply of `volts`; undefined when unknown. */
export function lightHigh(figures: OutputFigures | undefined, volts: number): number | undefined {
  const points = [
    ...(figures?.high ?? []).map((point) => ({ volts: point.volts, load: Math.abs(point.at) })),
    ...(figures?.['high-below-supply'] ?? []).map((point) => ({
      volts: volts - point.volts,
      load: Math.abs(point.at),
    })),
  ];
  if (points.length === 0) return undefined;
  return points.reduce((best, point) =>
    point.load < best.load || (point.load === best.load && point.volts > best.volts) ? point : best,
  ).volts;
}

/** The lowest level an input is sure to read as high, in V with a supply of `volts`. */
export function highThreshold(figures: InputFigures | undefined, volts: number): number | undefined {
  if (figures === undefined) return undefined;
  const below = figures['vih-below-supply'];
  return below !== undefined ? volts - below : figures.vih;
}
