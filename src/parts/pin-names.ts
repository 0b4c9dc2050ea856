// Names of pins as records and machine files write them: the maker's name, an alias, NAME@NUMBER where several pins bear a
// name, ranges and lists. Looked up without regard to case. Nothing here knows of files or findings.

import { foldName } from '../base/index.ts';
import type { PartPinRow, PartRecord } from './record.ts';

/** The numbers and letters that `1-8`, `7-0`, `A-H` or `1-4,6` stands for, in the order written; undefined if it is none. */
export function expandTimes(text: string): string[] | undefined {
  const values: string[] = [];
  for (const piece of text.split(',')) {
    const numbers = /^\s*(\d{1,3})(?:\s*-\s*(\d{1,3}))?\s*$/.exec(piece);
    const letters = /^\s*([A-Za-z])(?:\s*-\s*([A-Za-z]))?\s*$/.exec(piece);
    if (numbers !== null) values.push(...steps(Number(numbers[1]), Number(numbers[2] ?? numbers[1])).map(String));
    else if (letters !== null)
      values.push(
        ...steps(letters[1]!.charCodeAt(0), (letters[2] ?? letters[1]!).charCodeAt(0)).map((code) =>
          String.fromCharCode(code),
        ),
      );
    else return undefined;
  }
  return values;
}

function steps(from: number, to: number): number[] {
  const step = from <= to ? 1 : -1;
  return Array.from({ length: Math.abs(to - from) + 1 }, (_, i) => from + i * step);
}

/** The names that a range such as `A14-A0` stands for, first to last as written; undefined when it is no range. */
export function expandRange(text: string): string[] | undefined {
  const match = /^(.*?)(\d{1,3})-(.*?)(\d{1,3})$/.exec(text);
  if (match === null || foldName(match[1]!) !== foldName(match[3]!)) return undefined;
  return steps(Number(match[2]), Number(match[4])).map((number) => `${match[1]}${number}`);
}

/** The pins that `name` means: by name, by alias, or by NAME@NUMBER; empty where there is none. */
export function pinsNamed(record: Pick<PartRecord, 'pins'>, name: string): PartPinRow[] {
  const wanted = foldName(name);
  const bearing = (key: string): PartPinRow[] => {
    const exact = record.pins.filter((pin) => foldName(pin.name) === key);
    if (exact.length > 0) return exact;
    return record.pins.filter((pin) => pin.aliases?.some((alias) => foldName(alias) === key) === true);
  };
  const direct = bearing(wanted);
  if (direct.length > 0) return direct;
  const at = /^(.+)@(\d+)$/.exec(wanted);
  return at === null ? [] : bearing(at[1]!).filter((pin) => pin.number === Number(at[2]));
}

/**
 * The names that a list such as `A7-A0`, `/CS1, CS2` or `D0` stands for, in the order written. A name that a pin bears is
 * that pin, even where it looks like a range.
 */
export function expandPins(record: Pick<PartRecord, 'pins'>, text: string): string[] {
  return text
    .split(/[\s,]+/)
    .filter((piece) => piece !== '')
    .flatMap((piece) => (pinsNamed(record, piece).length > 0 ? [piece] : (expandRange(piece) ?? [piece])));
}

/** Every name by which a pin of the record may be called, for suggestions. */
export function pinNames(record: Pick<PartRecord, 'pins'>): string[] {
  return [...new Set(record.pins.flatMap((pin) => [pin.name, ...(pin.aliases ?? [])]))];
}
