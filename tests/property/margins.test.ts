// Every figure moves a margin the right way, and one that is gone leaves it unknown. Over every step of every path of a machine,
// not a sample of them.

import { describe, expect, test } from 'vitest';
import { foldName } from '../../src/base/index.ts';
import { busTiming, loadingOf, type TimingRow } from '../../src/margins/index.ts';
import type { Design } from '../../src/netlist/index.ts';
import type { PartRecord, TimingArc } from '../../src/parts/index.ts';
import { loadFamilies } from '../outside/load-parts.ts';
import { loadMachine } from '../support/load-machine.ts';

const families = new Map(
  loadFamilies().flatMap((entry) => (entry.family === undefined ? [] : [[entry.family.family, entry.family] as const])),
);
const design = loadMachine('tide-clerk');
const stage = 6;
const options = { families, withoutAdvice: true };
const before = busTiming(design, stage, options);

/** The design with another record for one part. */
function withRecord(part: string, change: (record: PartRecord) => PartRecord): Design {
  return {
    ...design,
    netlists: design.netlists.map((netlist) => ({
      ...netlist,
      parts: netlist.parts.map((item) =>
        foldName(item.name) === foldName(part) ? { ...item, record: change(item.record) } : item,
      ),
    })),
  };
}

/** A part's arcs of a symbol in the grade or family in use, each changed. */
function withArc(part: string, symbol: string, change: (arc: TimingArc) => TimingArc | undefined): Design {
  const chosen = design.netlists[stage]!.parts.find((item) => item.name === part)!;
  const each = (arcs: readonly TimingArc[] | undefined): TimingArc[] =>
    (arcs ?? []).flatMap((arc) => (arc.symbol === symbol ? (change(arc) ?? []) : [arc]));
  return withRecord(part, (record) => ({
    ...record,
    arcs: each(record.arcs),
    grades: Object.fromEntries(
      Object.entries(record.grades ?? {}).map(([name, grade]) => [
        name,
        name === chosen.grade || name === chosen.family ? { ...grade, arcs: each(grade.arcs) } : grade,
      ]),
    ),
  }));
}

const keyOf = (row: TimingRow): string => `${row.cycle}, ${row.target}, ${row.check}`;
const steps = [
  ...new Set(
    before.rows.flatMap((row) =>
      row.path.filter((step) => step.symbol !== 'load').map((step) => JSON.stringify([step.part, step.symbol])),
    ),
  ),
].map((text) => JSON.parse(text) as [string, string]);

test('the machine has margins to speak of', () => {
  expect(before.rows.length).toBeGreaterThan(40);
  expect(before.rows.every((row) => row.marginNs !== null)).toBe(true);
  expect(steps.length).toBeGreaterThan(35);
  for (const row of before.rows)
    expect(
      row.path.reduce((sum, step) => sum + step.ns, 0),
      keyOf(row),
    ).toBeCloseTo(row.requiredNs!, 6);
});

describe.each(steps)('%s %s', (part, symbol) => {
  const rows = before.rows.filter((row) => row.path.some((step) => step.part === part && step.symbol === symbol));

  test('slower, or asking for more, it leaves less', () => {
    const after = busTiming(
      withArc(part, symbol, ({ conditions: _, ...arc }) => ({
        ...arc,
        ...(arc.max === undefined ? {} : { max: arc.max + 10 }),
        ...(arc.max === undefined && arc.min !== undefined ? { min: arc.min + 10 } : {}),
      })),
      stage,
      options,
    );
    for (const row of rows) {
      const now = after.rows.find((item) => keyOf(item) === keyOf(row))!;
      // Where outputs of one chip are taken to go together, both may have moved.
      if (row.tracks || now.tracks) continue;
      expect(now.marginNs!, keyOf(row)).toBeLessThanOrEqual(row.marginNs! + 1e-9);
      if (row.path.some((step) => step.part === part && step.symbol === symbol && step.ns > 0))
        expect(now.requiredNs! - now.availableNs!, keyOf(row)).toBeGreaterThan(
          row.requiredNs! - row.availableNs! - 1e-9,
        );
    }
  });

  test('without it nothing passes that rests on it', () => {
    const after = busTiming(
      withArc(part, symbol, () => undefined),
      stage,
      options,
    );
    for (const row of rows) {
      const same = after.rows.filter((item) => keyOf(item) === keyOf(row));
      if (same.length === 0) {
        // The requirement itself is gone: then something of that cycle with that part has to be open.
        const open = after.rows.filter(
          (item) => item.cycle === row.cycle && item.target === row.target && item.marginNs === null,
        );
        expect(open.length, keyOf(row)).toBeGreaterThan(0);
        expect(after.maxClockHz, keyOf(row)).toBeNull();
      }
      for (const item of same)
        if (item.marginNs !== null) {
          // Another promise of the maker carries it; it can only promise less.
          expect(
            item.path.some((step) => step.part === part && step.symbol === symbol),
            keyOf(row),
          ).toBe(false);
          expect(item.marginNs, keyOf(row)).toBeLessThanOrEqual(row.marginNs! + 1e-9);
        } else expect(after.maxClockHz).toBeNull();
    }
  });
});

test('a faster clock leaves less, a slower one more, wherever the clock counts', () => {
  const fast = busTiming(design, stage, { ...options, clockHz: 4.5e6 });
  for (const row of before.rows) {
    const now = fast.rows.find((item) => keyOf(item) === keyOf(row))!;
    expect(now.marginNs!, keyOf(row)).toBeLessThanOrEqual(row.marginNs! + 1e-9);
  }
  const limit = busTiming(design, stage, { ...options, clockHz: before.maxClockHz! * (1 + 1e-9) });
  const least = Math.min(...limit.rows.filter((row) => row.maxClockHz !== 0).map((row) => row.marginNs!));
  expect(Math.abs(least), 'at the highest clock the least margin is gone').toBeLessThan(1e-3);
});

test('loads delay, and more passes do', () => {
  const wiring = new Map(
    design.netlists[stage]!.nets.map((net) => [foldName(net.name), { mm: 3000, strips: 9, leads: 1 }] as const),
  );
  const wired = busTiming(design, stage, {
    ...options,
    wiring,
    loading: loadingOf(design, stage, { families, wiring }),
  });
  const row = (rows: readonly TimingRow[]): TimingRow =>
    rows.find((item) => item.cycle === 'fetch' && item.check === 'tACC')!;
  expect(row(wired.rows).marginNs!).toBeLessThan(row(before.rows).marginNs!);
  const passes = new Map([[foldName('SEL.I/O7'), 2]]);
  const twice = busTiming(design, stage, { ...options, passes });
  const select = (rows: readonly TimingRow[]): TimingRow =>
    rows.find((item) => item.cycle === 'fetch' && item.check === 'tCE')!;
  expect(select(before.rows).marginNs! - select(twice.rows).marginNs!).toBeCloseTo(15, 9);
});

test('every figure of a level moves its margin', () => {
  const net = (rows: ReturnType<typeof loadingOf>): number => rows.find((item) => item.net === '/MREQ')!.worst!;
  const rows = loadingOf(design, stage, { families });
  const change = (part: string, key: 'vil' | 'vih', by: number): number =>
    net(
      loadingOf(
        withRecord(part, (record) => ({
          ...record,
          inputs: Object.fromEntries(
            Object.entries(record.inputs ?? {}).map(([name, figures]) => [
              name,
              { ...figures, ...(figures[key] === undefined ? {} : { [key]: figures[key] + by }) },
            ]),
          ),
        })),
        stage,
        { families },
      ),
    );
  expect(change('SEL', 'vil', -0.1)).toBeLessThan(net(rows));
  expect(change('SEL', 'vih', 2)).toBeLessThan(net(rows));
  expect(change('SEL', 'vil', 0.1)).toBeGreaterThan(net(rows));
});
