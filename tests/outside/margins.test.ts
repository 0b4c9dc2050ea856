// The methods of the margins against examples that makers and handbooks print. Each names its source. Left out: examples whose own
// source contradicts itself (the MC68HC711D3 formulas at 3 MHz, three rows of the MC68HC812A4 table, rows of four Z80 grades that
// do not follow their footnotes, clock limits of the GAL16V8D-10 and GAL22V10D-10 and -20), and those whose result is from memory.

import { describe, expect, test } from 'vitest';
import {
  type Affine,
  at,
  type ClockModel,
  clockSymbols,
  edgeGap,
  fanOut,
  formulaOf,
  noiseMargins,
  printedFormula,
  unitLoads,
} from '../../src/margins/index.ts';
import { loadParts } from './load-parts.ts';

const parts = loadParts();
const record = (part: string) => parts.find((item) => item.record?.part === part)!.record!;
const ns = (value: number): Affine => ({ perPeriod: 0, ns: value });

/** A printed table as symbols, for formulas of parts that are not in the library. */
const symbols =
  (table: Readonly<Record<string, number>>) =>
  (name: string): Affine | undefined =>
    Object.hasOwn(table, name) ? ns(table[name]!) : undefined;
const value = (formula: string, table: Readonly<Record<string, number>>): number => {
  const result = printedFormula(formula, symbols(table));
  expect(result, `${formula} can be read`).toBeDefined();
  return at(result!, 0);
};

describe('clock-dependent figures of the Z80, by the footnote formulas that the records hold', () => {
  const z80 = record('Z80');
  // Zilog PS017801-0602, AC Characteristics: Z8400 NMOS pp.38-39, Z84C00 CMOS pp.35-36, footnotes pp.39 and 36.
  const four = {
    'TdA(MREQf)': 65,
    TwMREQh: 110,
    TwMREQl: 220,
    'TdA(IORQf)': 180,
    'TdD(WRf)Mw': 80,
    TwWR: 220,
    'TdD(WRf)IO': -10,
    'TdWRr(D)': 60,
    'TdCTr(A)': 80,
    'TdM1f(IORQf)': 565,
  };
  const eight = {
    'TdA(MREQf)': 20,
    TwMREQh: 45,
    TwMREQl: 100,
    'TdA(IORQf)': 75,
    'TdD(WRf)Mw': 5,
    TwWR: 100,
    'TdD(WRf)IO': -55,
    'TdWRr(D)': 15,
    'TdCTr(A)': 20,
    'TdM1f(IORQf)': 270,
  };
  test.each([
    ['4 MHz NMOS', 250, 110, 20, four],
    ['4 MHz CMOS', 250, 110, 20, four],
    ['8 MHz CMOS', 125, 55, 10, eight],
  ] as const)('%s', (grade, period, wide, edge, printed) => {
    const arcs = z80.grades![grade]!.arcs!;
    // High and low measured between the thresholds: the edges count with half a period each.
    const share = (wide + edge) / period;
    const clock: ClockModel = {
      highMin: { perPeriod: share, ns: 0 },
      highMax: { perPeriod: 1 - share, ns: 0 },
      edgeNs: edge,
      says: '',
    };
    const lookUp = clockSymbols(clock);
    for (const [symbol, result] of Object.entries(printed)) {
      const formula = formulaOf(arcs.find((arc) => arc.symbol === symbol)?.conditions);
      expect(formula, symbol).toBeDefined();
      expect(at(printedFormula(formula!, lookUp)!, period), `${grade} ${symbol}`).toBeCloseTo(result, 6);
    }
  });
});

describe('expansion buses of the 68HC11 and 68HC12, whose tables print their formulas', () => {
  test('68HC11 at 1 MHz', () => {
    // Freescale MC68HC711D3 data sheet p.115, Motorola MC68HC11A8 table A-7 p.A-19; formulas hold up to 2 MHz only.
    const t = { tcyc: 1000 };
    expect(value('tcyc/2-23', t)).toBe(477);
    expect(value('tcyc/2-28', t)).toBe(472);
    expect(value('tcyc/8-29.5', t)).toBe(95.5);
    expect(value('PWEL-tASD-80', { PWEL: 477, tASD: value('tcyc/8-9.5', t) })).toBe(281.5);
    expect(value('PWEL-tASD-90', { PWEL: 477, tASD: 115.5 })).toBe(271.5);
    expect(value('tcyc/4-29-70', t)).toBe(151);
    expect(value('tcyc/8+65.5', t)).toBe(190.5);
  });
  test('68HC812A4 at 8 MHz', () => {
    // Freescale MC68HC812A4 data sheet rev 7 p.232.
    const t = { tcyc: 125, PWEL: 60, PWEH: 60, tAD: 60, tDSR: 30, tLSD: 49 };
    expect(value('tcyc-tAD-tDSR', t)).toBe(35);
    expect(value('PWEH-tDSR', t)).toBe(30);
    expect(value('PWEL-tAD', t)).toBe(0);
    expect(value('PWEL-tLSD', t)).toBe(11);
  });
  test('68HC12B at 2 MHz', () => {
    // Freescale M68HC12B family data sheet rev 9.1 p.326.
    const t = { tcyc: 500, tDDW: 165 };
    expect(value('tcyc/2-4', t)).toBe(246);
    expect(value('tcyc/2-2', t)).toBe(248);
    expect(value('tcyc/4+27', t)).toBe(152);
    expect(value('tcyc/4-18', t)).toBe(107);
    expect(value('tcyc/2-2-tDDW', t)).toBe(83);
    expect(value('tcyc/4+18', t)).toBe(143);
    expect(value('tcyc/2-4-tcyc/4-18', t)).toBe(103);
  });
});

test('8284A: low and high part of the clock by its formulas, as the 8086 table prints them', () => {
  // Intel 8086/8086-2 TCLCH and TCHCL minima; formulas of the M8284A sheet, read from the record.
  const arcs = Object.values(record('8284').grades ?? {}).flatMap((grade) => grade.arcs ?? []);
  const at284 = (symbol: string, period: number): number =>
    at(
      printedFormula(formulaOf(arcs.find((arc) => arc.symbol === symbol)?.conditions)!, (name) =>
        name === 'tCLCL' ? { perPeriod: 1, ns: 0 } : undefined,
      )!,
      period,
    );
  expect(Math.round(at284('tCLCH', 200))).toBe(118);
  expect(Math.round(at284('tCHCL', 200))).toBe(69);
  expect(Math.round(at284('tCLCH', 125))).toBe(68);
  expect(Math.round(at284('tCHCL', 125))).toBe(44);
});

test('gaps between clock edges: whole periods, and with the duty where the phase changes', () => {
  const clock: ClockModel = {
    highMin: { perPeriod: 0.45, ns: 0 },
    highMax: { perPeriod: 0.55, ns: 0 },
    edgeNs: 0,
    says: '',
  };
  expect(at(edgeGap({ n: 0, phase: 'rise' }, { n: 2, phase: 'rise' }, clock)!, 100)).toBe(200);
  expect(at(edgeGap({ n: 0, phase: 'rise' }, { n: 2, phase: 'fall' }, clock)!, 100)).toBeCloseTo(245, 9);
  expect(at(edgeGap({ n: 0, phase: 'fall' }, { n: 2, phase: 'rise' }, clock)!, 100)).toBeCloseTo(145, 9);
  expect(edgeGap({ n: 0, phase: 'fall' }, { n: 1, phase: 'rise' }, { ...clock, highMax: null })).toBeNull();
});

describe('levels and loads', () => {
  test('fan-out of a 74LS08 into 74LS08', () => {
    // Fan-out article with data sheet currents (industrialmonitordirect.com): low 22, high 20, so 20.
    expect(fanOut({ low: 8, high: 0.4 }, { low: 0.36, high: 0.02 })).toEqual({ low: 22, high: 20, both: 20 });
  });
  test('a 74 output into 74LS inputs', () => {
    // curioustab.com question 59607, currents of Tocci table 8-7: 20.
    expect(fanOut({ low: 16, high: 0.4 }, { low: 0.4, high: 0.02 }).both).toBe(20);
  });
  test('ten TTL inputs at high', () => {
    // curioustab.com question 58949: 400 uA, which is ten unit loads of 40 uA.
    expect(unitLoads({ low: 16, high: 0.4 })).toEqual({ low: 10, high: 10 });
  });
  test('noise margins of LS-TTL and of HC-CMOS', () => {
    // Digital electronics text p.1159, tables 16.1 and 16.2: 0.7 and 0.3 V; 1.25 V.
    const ls = noiseMargins({ voh: 2.7, vih: 2, vol: 0.5, vil: 0.8 });
    expect(ls.high).toBeCloseTo(0.7, 9);
    expect(ls.low).toBeCloseTo(0.3, 9);
    expect(noiseMargins({ voh: 4.4, vih: 3.15, vol: 0, vil: 1 }).high).toBeCloseTo(1.25, 9);
  });
});
