// What is in the drawer, what is on its way, and what a machine still needs. Reads stock.yaml of a build; knows parts by type,
// grade and value, never by the names a machine gives them.

import { type Finding, foldName, parseValue, type Result, type Span } from '../base/index.ts';
import type { Netlist } from '../netlist/index.ts';
import type { Library } from '../parts/index.ts';
import { readYaml } from '../yaml/index.ts';
import { StockSchema } from './schema.ts';

/** One kind of part in the drawer. */
export interface StockItem {
  readonly type: string;
  readonly grade: string | undefined;
  readonly value: string | undefined;
  readonly have: number;
  readonly coming: number;
  readonly place: string | undefined;
  readonly span: Span;
}

/** One kind of part that the machine takes. */
export interface Need {
  readonly type: string;
  readonly grade: string | undefined;
  readonly value: string | undefined;
  /** The parts of the machine that are of this kind, in order. */
  readonly parts: readonly string[];
  /** The first stage that wants one. */
  readonly stage: number;
  readonly have: number;
  readonly coming: number;
  /** How many are to be bought: neither here nor coming. */
  readonly short: number;
}

interface Entry {
  readonly type: string;
  readonly grade?: string;
  readonly value?: string;
  readonly have?: number;
  readonly coming?: number;
  readonly place?: string;
}

/** A part that a build makes of another type than the machine file says. */
export interface Instead {
  readonly part: string;
  readonly type: string;
  readonly grade: string | undefined;
  readonly value: string | undefined;
  readonly span: Span;
}

/** The substitutes of stock.yaml: `instead`. Which parts there are is the caller's to know. */
export function readInstead(file: string, text: string): readonly Instead[] {
  const reading = readYaml(file, text, StockSchema);
  const list = ((reading.value as { instead?: readonly Partial<Instead>[] } | undefined)?.instead ??
    []) as readonly Partial<Instead>[];
  return list.flatMap((entry, index): Instead[] =>
    typeof entry.part === 'string' && typeof entry.type === 'string'
      ? [
          {
            part: entry.part,
            type: entry.type,
            grade: entry.grade,
            value: entry.value,
            span: reading.spanOf(['instead', index, 'type']),
          },
        ]
      : [],
  );
}

/** Reads stock.yaml. Unknown types are findings; they may be parts of another machine, so they are warnings. */
export function readStock(file: string, text: string, library: Library): Result<readonly StockItem[]> {
  const reading = readYaml(file, text, StockSchema);
  const findings: Finding[] = [...reading.findings];
  const items: StockItem[] = [];
  const list = ((reading.value as { stock?: readonly Entry[] } | undefined)?.stock ?? []) as readonly Entry[];
  list.forEach((entry, index) => {
    if (typeof entry.type !== 'string') return;
    const span = reading.spanOf(['stock', index, 'type']);
    const found = library.find(entry.type);
    if (found === undefined) {
      const near = library.nearest(entry.type);
      findings.push({
        code: 'stock/unknown-type',
        severity: 'warning',
        message: `No part record is named ${entry.type}${near === undefined ? '.' : `; did you mean ${near}?`}`,
        where: [span],
        notes: [],
        help: 'It is kept in the list and serves no machine until there is a record.',
        about: [entry.type],
      });
    }
    items.push({
      type: found?.name ?? entry.type,
      grade: entry.grade,
      value: entry.value,
      have: entry.have ?? 0,
      coming: entry.coming ?? 0,
      place: entry.place,
      span,
    });
  });
  return { value: items, findings };
}

/** Whether two values written differently are the same: 4k7 and 4.7 kohm. */
function sameValue(a: string | undefined, b: string | undefined): boolean {
  if (a === undefined || b === undefined) return a === b;
  if (foldName(a) === foldName(b)) return true;
  return (['resistance', 'capacitance', 'frequency'] as const).some((dimension) => {
    const x = parseValue(a, dimension);
    return x !== undefined && x === parseValue(b, dimension);
  });
}

/** Whether a piece of the drawer is of the kind that is needed. A need without a grade takes any. */
export function serves(
  item: StockItem,
  need: { readonly type: string; readonly grade: string | undefined; readonly value: string | undefined },
): boolean {
  if (foldName(item.type) !== foldName(need.type)) return false;
  if (need.grade !== undefined && (item.grade === undefined || foldName(item.grade) !== foldName(need.grade)))
    return false;
  return sameValue(item.value, need.value);
}

/** What the machine takes over all its stages: parts that a later stage takes out are free again and count once. */
export function needs(netlists: readonly Netlist[], stock: readonly StockItem[]): Need[] {
  const kinds = new Map<
    string,
    {
      type: string;
      grade: string | undefined;
      value: string | undefined;
      parts: Set<string>;
      stage: number;
      most: number;
    }
  >();
  for (const netlist of netlists) {
    const now = new Map<string, number>();
    for (const part of netlist.parts) {
      const key = [part.type, part.grade ?? '', part.value ?? ''].join('|').toLowerCase();
      let kind = kinds.get(key);
      if (kind === undefined) {
        kind = {
          type: part.type,
          grade: part.grade,
          value: part.value,
          parts: new Set(),
          stage: netlist.stage,
          most: 0,
        };
        kinds.set(key, kind);
      }
      kind.parts.add(part.name);
      now.set(key, (now.get(key) ?? 0) + 1);
      kind.most = Math.max(kind.most, now.get(key)!);
    }
  }
  const left = new Map(stock.map((item) => [item, { have: item.have, coming: item.coming }]));
  return [...kinds.values()]
    .sort((a, b) => a.stage - b.stage || (a.type < b.type ? -1 : a.type > b.type ? 1 : 0))
    .map((kind) => {
      let have = 0;
      let coming = 0;
      for (const [item, rest] of left) {
        if (!serves(item, kind)) continue;
        const here = Math.min(rest.have, kind.most - have);
        rest.have -= here;
        have += here;
        const later = Math.min(rest.coming, kind.most - have - coming);
        rest.coming -= later;
        coming += later;
      }
      return {
        type: kind.type,
        grade: kind.grade,
        value: kind.value,
        parts: [...kind.parts],
        stage: kind.stage,
        have,
        coming,
        short: kind.most - have - coming,
      };
    });
}
