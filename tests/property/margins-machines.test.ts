// Over whole machines of other processors: every figure on every path moves its margins the right way, and one that is gone leaves
// nothing that rests on it standing as a pass. Levels and currents likewise.

import { describe, expect, test } from 'vitest';
import { foldName } from '../../src/base/index.ts';
import { busTiming, currentAt, loadingOf, type TimingRow } from '../../src/margins/index.ts';
import type { Design } from '../../src/netlist/index.ts';
import type { PartRecord, TimingArc } from '../../src/parts/index.ts';
import { loadFamilies } from '../outside/load-parts.ts';
import { loadMachine } from '../support/load-machine.ts';

const families = new Map(
  loadFamilies().flatMap((entry) => (entry.family === undefined ? [] : [[entry.family.family, entry.family] as const])),
);
const options = { families, withoutAdvice: true };
const keyOf = (row: TimingRow): string => `${row.cycle}, ${row.target}, ${row.check}`;

function withRecord(design: Design, part: string, change: (record: PartRecord) => PartRecord): Design {
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

function withArc(
  design: Design,
  stage: number,
  part: string,
  symbol: string,
  change: (arc: TimingArc) => TimingArc | undefined,
): Design {
  const chosen = design.netlists[stage]!.parts.find((item) => item.name === part)!;
  const each = (arcs: readonly TimingArc[] | undefined): TimingArc[] =>
    (arcs ?? []).flatMap((arc) => (arc.symbol === symbol ? (change(arc) ?? []) : [arc]));
  return withRecord(design, part, (record) => ({
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

describe.each(['signal-box', 'weir-keeper', 'carillon'])('%s', (name) => {
  const design = loadMachine(name);
  const stage = design.stages.length;
  const before = busTiming(design, stage, options);
  const steps = [
    ...new Set(
      before.rows.flatMap((row) =>
        row.path
          .filter(
            (step) => step.symbol !== 'load' && !step.symbol.includes(' passes') && !step.symbol.includes(' after E'),
          )
          .map((step) => JSON.stringify([step.part, step.symbol])),
      ),
    ),
  ].map((text) => JSON.parse(text) as [string, string]);

  test('slower, or asking for more, each figure leaves less', () => {
    expect(steps.length).toBeGreaterThan(20);
    for (const [part, symbol] of steps) {
      const after = busTiming(
        withArc(design, stage, part, symbol, ({ conditions: _, ...arc }) => ({
          ...arc,
          ...(arc.max === undefined ? {} : { max: arc.max + 10 }),
          ...(arc.max === undefined && arc.min !== undefined ? { min: arc.min + 10 } : {}),
        })),
        stage,
        options,
      );
      for (const row of before.rows.filter((item) =>
        item.path.some((step) => step.part === part && step.symbol === symbol),
      )) {
        const now = after.rows.find((item) => keyOf(item) === keyOf(row));
        if (now === undefined || now.marginNs === null || row.tracks || now.tracks) continue;
        expect(now.marginNs, `${part} ${symbol}: ${keyOf(row)}`).toBeLessThanOrEqual(row.marginNs! + 1e-9);
      }
    }
  });

  test('without it nothing passes that rests on it', () => {
    for (const [part, symbol] of steps) {
      const after = busTiming(
        withArc(design, stage, part, symbol, () => undefined),
        stage,
        options,
      );
      for (const row of before.rows.filter((item) =>
        item.path.some((step) => step.part === part && step.symbol === symbol),
      )) {
        const same = after.rows.filter((item) => keyOf(item) === keyOf(row));
        const where = `${part} ${symbol}: ${keyOf(row)}`;
        if (same.length === 0)
          expect(
            after.rows.some((item) => item.cycle === row.cycle && item.target === row.target && item.marginNs === null),
            where,
          ).toBe(true);
        for (const item of same)
          if (item.marginNs !== null)
            expect(
              item.path.some((step) => step.part === part && step.symbol === symbol),
              where,
            ).toBe(false);
      }
    }
  });

  test('a greatest current that is gone is told by name and leaves no margin', () => {
    const now = currentAt(design, stage);
    const part = now.parts.find((item) => item.max !== null && item.max > 1)!;
    const chosen = design.netlists[stage]!.parts.find((item) => item.name === part.part)!;
    const gone = withRecord(design, part.part, ({ current: _, ...record }) => ({
      ...record,
      grades: Object.fromEntries(
        Object.entries(record.grades ?? {}).map(([grade, { current: __, ...rest }]) => [
          grade,
          grade === chosen.grade || grade === chosen.family ? rest : record.grades![grade]!,
        ]),
      ),
    }));
    const after = currentAt(gone, stage);
    expect(after.unknown).toContain(part.part);
    expect(after.marginMa).toBeNull();
    expect(after.max).toBeLessThan(now.max);
  });

  test('levels: a driver that promises less at high, or more at low, leaves less', () => {
    const net = loadingOf(design, stage, { families }).find(
      (item) => item.worst !== null && item.drivers.length === 1 && item.levels.length > 0,
    )!;
    const driver = net.drivers[0]!.driver;
    const part = driver.slice(0, driver.indexOf('.'));
    const input = net.levels[0]!.input;
    const least = (of: Design): number =>
      loadingOf(of, stage, { families }).find((item) => item.net === net.net)!.worst!;
    const stricter = withRecord(design, input.slice(0, input.indexOf('.')), (record) => ({
      ...record,
      inputs: Object.fromEntries(
        Object.entries(record.inputs ?? {}).map(([name_, figures]) => [
          name_,
          {
            ...figures,
            ...(figures.vil === undefined ? {} : { vil: figures.vil - 0.2 }),
            ...(figures.vih === undefined ? {} : { vih: figures.vih + 0.2 }),
          },
        ]),
      ),
    }));
    expect(part).not.toBe('');
    expect(least(stricter)).toBeLessThanOrEqual(least(design) + 1e-9);
  });
});
