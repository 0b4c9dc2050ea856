// The methods of the margins against examples that makers and handbooks print. Each names its source. Left out: examples whose own
// source contradicts itself (the MC68HC711D3 formulas at 3 MHz, three rows of the MC68HC812A4 table, rows of four Z80 grades that
// do not follow their footnotes, clock limits of the GAL16V8D-10 and GAL22V10D-10 and -20), and those whose result is from memory.

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { Project } from '../../src/app/index.ts';
import {
  type Affine,
  at,
  bitRate,
  busTiming,
  type ClockModel,
  clockSymbols,
  crystalCapacitors,
  crystalSeriesLimit,
  divided,
  edgeGap,
  fanOut,
  feedbackClock,
  formulaOf,
  groundBounce,
  halfBitTolerance,
  loopInductance,
  mutualInductance,
  noiseMargins,
  printedFormula,
  rateError,
  receiverTolerance,
  resetDelay,
  serialFits,
  solveNetwork,
  type TimingRow,
  unitLoads,
  wireCapacitance,
  wireInductance,
  writePulseWithOutputsOn,
} from '../../src/margins/index.ts';
import { projectOf, shipped } from '../support/library.ts';
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

describe('the time that a processor leaves to memory, through the engine and a wired machine', () => {
  const machine = (cpu: string, grade: string, rate: string, clockPin: string): string => `machine: Weir
supplies: { main: { volts: 5 V, tolerance: 5 % } }
clocks: { cpu: { from: OSC.OUT, rate: ${rate}, duty: 50 % } }
parts:
  CPU: { type: "${cpu}", grade: ${grade} }
  ROM: { type: 28C256, grade: 150 ns }
  RAM: { type: "62256", grade: 70 ns }
  SEL: { type: 16V8, grade: 10 ns }
  OSC: { type: oscillator-can, rate: ${rate} }
buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }
memory:
  - { RAM: 32 KiB at 0x0000 }
  - { ROM: 32 KiB at 0x8000 }
nets: { clk: [OSC.OUT, CPU.${clockPin}] }
stages:
  - { stage: all, adds: [CPU, ROM, RAM, SEL, OSC] }
`;
  /** What is left between address valid and data needed: the row of the address less what memory takes. */
  const left = (
    text: string,
    clockHz?: number,
  ): { readonly allowance: number; readonly rows: readonly TimingRow[] } => {
    const project = projectOf(text);
    const timing = busTiming(project.design().value, 1, {
      families: project.library().value.families,
      withoutAdvice: true,
      ...(clockHz === undefined ? {} : { clockHz }),
    });
    const row = timing.rows.find((item) => item.target === 'ROM' && item.check === 'tACC')!;
    const own = row.path.filter((step) => step.part === 'CPU').reduce((sum, step) => sum + step.ns, 0);
    return { allowance: row.availableNs! - own, rows: timing.rows };
  };

  test('W65C02S', () => {
    // WDC W65C02S data sheet (25 Feb 2020), table 6-3: tACC 30 ns at tCYC 70 ns. Memory-speed note of a public repository:
    // 31.4 ns at 14 MHz, 85 ns at 8 MHz, so 15 ns over 70 ns memory.
    const text = machine('65C02', '14 MHz', '4 MHz', 'PHI2');
    expect(left(text, 1e9 / 70).allowance).toBeCloseTo(30, 6);
    expect(left(text, 1e9 / 71.4).allowance).toBeCloseTo(31.4, 6);
    expect(left(text, 8e6).allowance - 70).toBeCloseTo(15, 6);
  });
  test('W65C02S at 4 MHz with a 10 ns decoder and a 150 ns memory', () => {
    // Builder article "6502: Memory" (trobertson.site/6502-memory): 200 of 250 ns used, 50 left.
    const { rows } = left(machine('65C02', '14 MHz', '4 MHz', 'PHI2'));
    const row = rows.find((item) => item.target === 'ROM' && item.check === 'tCE')!;
    expect(row.requiredNs).toBeCloseTo(200, 6);
    expect(row.marginNs).toBeCloseTo(50, 6);
  });
  test('R65C02 and NMOS 6502', () => {
    // Rockwell R65C02 data sheet, tACC of the 1 and 2 MHz grades: 775 and 340 ns.
    expect(left(machine('R65C02', '1 MHz', '1 MHz', 'PHI0')).allowance).toBeCloseTo(775, 6);
    expect(left(machine('R65C02', '2 MHz', '2 MHz', 'PHI0')).allowance).toBeCloseTo(340, 6);
    // MOS Technology MCS6500 Hardware Manual, Jan 1976, pp.16-17: 575 ns, rise time of the clock counted.
    expect(left(machine('6502', '1 MHz', '1 MHz', 'PHI0')).allowance).toBeCloseTo(575, 6);
  });
  test('6809 and 6809E', () => {
    // Motorola MC6809 DS9845-R2 and MC6809E: tACC 695, 440 (442 by the formula) and 330 ns.
    expect(left(machine('6809', '1 MHz', '4 MHz', 'EXTAL')).allowance).toBeCloseTo(695, 6);
    expect(Math.abs(left(machine('6809', '1.5 MHz', '6 MHz', 'EXTAL')).allowance - 440)).toBeLessThan(3);
    expect(left(machine('6809', '2 MHz', '8 MHz', 'EXTAL')).allowance).toBeCloseTo(330, 6);
    expect(left(machine('6809E', '1 MHz', '1 MHz', 'E')).allowance).toBeCloseTo(695, 6);
    expect(left(machine('6809E', '2 MHz', '2 MHz', 'E')).allowance).toBeCloseTo(330, 6);
  });
  test('8088 at 5 MHz without wait states', () => {
    // Public lecture notes after a standard textbook: 3 TCLCL - TCLAV - TDVCL = 460 ns, with the Intel table's figures.
    const project = new Project(
      shipped(),
      new Map([['machine.yaml', readFileSync('projects/signal-box/machine.yaml', 'utf8')]]),
    );
    const timing = busTiming(project.design().value, 6, {
      families: project.library().value.families,
      withoutAdvice: true,
      clockHz: 5e6,
    });
    const row = timing.rows.find((item) => item.target === 'ROM' && item.check === 'tACC')!;
    const own = row.path.filter((step) => step.part === 'CPU').reduce((sum, step) => sum + step.ns, 0);
    expect(row.availableNs! - own).toBeCloseTo(460, 6);
  });
});

test('8088 with a transceiver on its data lines: its delay on the way back, and its enable in time', () => {
  const text = readFileSync('projects/signal-box/machine.yaml', 'utf8')
    .replace('members: [CLK, LOW, TOP, ROM, RAM, UART, FRAME]', 'members: [CLK, LOW, TOP, DATA, ROM, RAM, UART, FRAME]')
    .replace('adds: [ROM, RAM, MEMSEL]', 'adds: [ROM, RAM, MEMSEL, DATA]')
    .replace(/adds: \[([^\]]*)CTRL, ([^\]]*)DATA/, 'adds: [$1CTRL, $2')
    .replace(/, \]/g, ']');
  const project = projectOf(text);
  const { rows } = busTiming(project.design().value, 6, {
    families: project.library().value.families,
    withoutAdvice: true,
    clockHz: 5e6,
  });
  const row = (check: string): TimingRow => rows.find((item) => item.target === 'ROM' && item.check === check)!;
  const train = (check: string): string =>
    row(check)
      .path.map((step) => `${step.part} ${step.symbol}`)
      .join(', ');
  // Intel 8088 table and the parts' own sheets, by hand: 3 x 200 - (110 + 44 + 150 + 28 + 30); the enable comes with /DEN.
  expect(train('tACC')).toBe('CPU TCLAV, LOW tPHL,tPLH, ROM tACC, DATA tpd, CPU TDVCL');
  expect(row('tACC').marginNs!).toBeCloseTo(600 - (110 + 44 + 150 + 28 + 30), 6);
  expect(train('DATA ten')).toBe('CPU TCVCTV, DATA ten, CPU TDVCL');
});

test('8088 in maximum mode: commands from the bus controller', () => {
  // Intel 8088 data sheet, maximum mode: TCLML 35 and TCLMH 35 of the 8288, by hand at 5 MHz. Read: 2 x 200 - 35 - 70 - 28 - 30.
  const project = projectOf(readFileSync('projects/signal-box/machine.yaml', 'utf8'));
  const { rows } = busTiming(project.design().value, 9, {
    families: project.library().value.families,
    withoutAdvice: true,
    clockHz: 5e6,
  });
  const row = (target: string, check: string): TimingRow =>
    rows.find((item) => item.target === target && item.check === check)!;
  const train = (item: TimingRow): string => item.path.map((step) => `${step.part} ${step.symbol}`).join(', ');
  expect(train(row('ROM', 'tOE'))).toBe('CTRL TCLML, ROM tOE, DATA tpd, CPU TDVCL');
  expect(row('ROM', 'tOE').marginNs!).toBeCloseTo(400 - (35 + 70 + 28 + 30), 6);
  expect(train(row('RAM', 'tDW'))).toBe('CPU TCLDV, DATA tpd, RAM tDW');
});

test('access and wait states of a processor that is not in the library', () => {
  // Zilog AN006301-0201, Z8S180 at 20 MHz: memory (2 + w) t - tAD - tDRS, ports (2 + w) t - tRDD1 - tDRS, tables 1 and 2;
  // interrupt daisy chain 2.5 t - tM1D1 + tIOD1.
  const edge = (n: number) => ({ n, phase: 'rise' }) as const;
  const clock: ClockModel = { highMin: null, highMax: null, edgeNs: 0, says: '' };
  const access = (waits: number, delay: number): number =>
    at(edgeGap(edge(0), edge(2 + waits), clock)!, 50) - delay - 10;
  expect([0, 1, 2, 3].map((waits) => access(waits, 30))).toEqual([60, 110, 160, 210]);
  expect([1, 2, 3, 4].map((waits) => access(waits, 25))).toEqual([115, 165, 215, 265]);
  const half: ClockModel = { ...clock, highMin: { perPeriod: 0.5, ns: 0 } };
  expect(at(edgeGap(edge(0), { n: 2, phase: 'fall' }, half)!, 50) - 35 + 25).toBe(115);
});

describe('peripherals and memories by their own sheets', () => {
  test('16550 read and write cycle', () => {
    // TI (National) PC16550D SNLS378C: RC = tAR + tRD + tRC and WC = tAW + tWR + tWC, 280 ns each.
    const arcs = record('16C550').grades!.standard!.arcs!;
    const min = (symbol: string): number => arcs.find((arc) => arc.symbol === symbol)!.min!;
    expect(min('tAR') + min('tRD') + min('tRC')).toBe(min('RC'));
    expect(min('tAW') + min('tWR') + min('tWC')).toBe(min('WC'));
  });
  test('a write pulse while the outputs are on', () => {
    // Hitachi HM62256B-7, write cycle with /OE low: tWP >= tWHZ + tDW = 55 ns, longer than the 50 ns of the table.
    expect(writePulseWithOutputsOn(25, 30, 50)).toBe(55);
  });
  test('registers fed back through an ATF22V10C', () => {
    // Atmel 0735U p.5: 142, 125, 90, 55.5 MHz for -5 to -15.
    const grades = [
      [3, 4, 142],
      [3.5, 4.5, 125],
      [4.5, 6.5, 90],
      [10, 8, 55.5],
    ] as const;
    for (const [setup, out, mhz] of grades) expect(Math.abs(feedbackClock(setup, out) / 1e6 - mhz)).toBeLessThan(1);
  });
  test('more than two SN74HC161 in a chain', () => {
    // TI SCLS297D: 1 / (43 ns + 12 ns of glitch) = 18 MHz.
    expect(Math.floor(feedbackClock(12, 43) / 1e6)).toBe(18);
  });
  test('MC6845, early issue: read access', () => {
    // Motorola MC6845 data sheet: tAS + tDDR = 480 ns.
    expect(value('tAS+tDDR', { tAS: 160, tDDR: 320 })).toBe(480);
  });
  test('reset of a TLC7705 with 100 nF', () => {
    // TI SLVS087M p.1: 2.1 ms.
    expect(resetDelay(100e-9, 2.1e4)).toBeCloseTo(2.1, 9);
  });
});

describe('serial lines, dividers and crystals', () => {
  test('divisors of the 8250 class', () => {
    // Acrosser AR-B9612 manual table 2-4, Quatech ES-100D manual p.23 (1.8432 MHz); a serial cartridge's note (7.3728 MHz).
    const slow = [
      [50, 2304],
      [75, 1536],
      [110, 1047],
      [134.5, 857],
      [150, 768],
      [300, 384],
      [600, 192],
      [1200, 96],
      [1800, 64],
      [2000, 58],
      [2400, 48],
      [3600, 32],
      [4800, 24],
      [7200, 16],
      [9600, 12],
      [14400, 8],
      [19200, 6],
      [28800, 4],
      [38400, 3],
      [56000, 2],
      [57600, 2],
    ] as const;
    for (const [baud, divisor] of slow) expect(bitRate(1843200, baud).divisor, `${baud}`).toBe(divisor);
    for (const [baud, divisor] of [
      [300, 1536],
      [9600, 48],
      [38400, 12],
      [115200, 4],
      [153600, 3],
      [460800, 1],
    ] as const)
      expect(bitRate(7372800, baud).divisor).toBe(divisor);
  });
  test('R6551 at 1.8432 MHz', () => {
    // Rockwell R6551, doc 29651N90 rev 4: divisors and rates (13704 is printed as 134.51 and gives 134.50).
    expect(divided(1843200, 36864).hz).toBe(50);
    expect(divided(1843200, 16769).hz).toBeCloseTo(109.92, 2);
    expect(divided(1843200, 96).hz).toBe(19200);
  });
  test('errors of a bit rate generator', () => {
    // Renesas H8/325 hardware manual rev 3.0 p.202, table 10.3; OSC / (64 2^2n (N + 1)).
    const rate = (mhz: number, n: number, big: number): number => divided(mhz * 1e6, 64 * 2 ** (2 * n) * (big + 1)).hz;
    expect(rateError(rate(14.7456, 2, 130), 110) * 100).toBeCloseTo(-0.07, 2);
    expect(rateError(rate(16, 2, 141), 110) * 100).toBeCloseTo(0.03, 2);
    expect(rateError(rate(16, 0, 25), 9600) * 100).toBeCloseTo(0.16, 2);
    expect(rateError(rate(20, 0, 32), 9600) * 100).toBeCloseTo(-1.36, 2);
    expect(rateError(rate(20, 0, 15), 19200) * 100).toBeCloseTo(1.73, 2);
    expect(rateError(rate(16, 0, 7), 31250)).toBe(0);
  });
  test('rates that do not come out', () => {
    // embeddedinterviewlab.com: 8 MHz to 115200 by whole numbers, 0.64 %. Circuit Cellar: 16 MHz x 3 / 13, 0.16 %.
    expect(bitRate(8e6, 115200, 1).divisor).toBe(69);
    expect(rateError(8e6 / 69, 115200) * 100).toBeCloseTo(0.64, 2);
    expect(rateError(divided(16e6 * 3, 13).hz, 3686400) * 100).toBeCloseTo(0.16, 2);
  });
  test('what a receiver of 16 samples stands', () => {
    // Microchip online documents, USART error tolerance 24.3.3.2.3: percent of the receiver's rate for 5 to 10 bits.
    const slow = [93.2, 94.12, 94.81, 95.36, 95.81, 96.17];
    const fast = [106.67, 105.79, 105.11, 104.58, 104.14, 103.78];
    for (let k = 0; k < 6; k++) {
      expect(receiverTolerance(5 + k).slow * 100).toBeCloseTo(slow[k]!, 1);
      expect(receiverTolerance(5 + k).fast * 100).toBeCloseTo(fast[k]!, 1);
    }
  });
  test('half a bit at the end of a frame', () => {
    // lineeye.com FAQ a00090: 5 % over 10 bits. Circuit Cellar: 5.26 % over 9.5, half of it for each end.
    expect(halfBitTolerance(10)).toBe(0.05);
    expect(halfBitTolerance(9.5) * 100).toBeCloseTo(5.26, 2);
    expect((halfBitTolerance(9.5) / 2) * 100).toBeCloseTo(2.63, 2);
    // Forum answer: 8.5 % fails after nine bits, being 76.5 % of a bit; NEC uPD780024AS p.227: 15.5 / 320 = 4.84 %.
    expect(0.085).toBeGreaterThan(halfBitTolerance(9));
    expect(halfBitTolerance(320 / 31) * 100).toBeCloseTo(4.84, 2);
    expect(serialFits(0.085, 0, 9).fits).toBe(false);
    expect(serialFits(0.0016, -0.005, 9).fits).toBe(true);
  });
  test('8253 at 1.19318 MHz', () => {
    // Programmer's reference on the 8253-5: 838 ns, 54.925 ms, 18.2 Hz, 72.826 Hz.
    expect(divided(1193180, 1).seconds * 1e9).toBeCloseTo(838, 0);
    expect(divided(1193180, 65536).seconds * 1e3).toBeCloseTo(54.925493, 3);
    expect(divided(1193180, 16384).hz).toBeCloseTo(72.826, 3);
  });
  test('crystals', () => {
    // emboxit.net: CL 15, stray 2, 26 pF. vbatpower.com and resicalc.com: 14 and 18. Rockwell R65C102: 55 pF (2 CL - 5), 138 ohm.
    expect(crystalCapacitors(15, 2)).toBe(26);
    expect(crystalCapacitors(12, 5)).toBe(14);
    expect(crystalCapacitors(12, 3)).toBe(18);
    expect(crystalCapacitors(30, 2.5)).toBe(55);
    expect(Math.floor(crystalSeriesLimit(4, 30))).toBe(138);
  });
});

describe('wires and networks', () => {
  test('inductance of a straight wire', () => {
    // Rosa 1908, equation 11, p.305: by hand for AWG 22 (0.644 mm): 21.5, 49.9, 113.6 and 182.6 nH; 10 cm of 2 mm wire 91 nH,
    // for which a calculator's page prints 63.5.
    expect(wireInductance(25, 0.644)).toBeCloseTo(21.5, 1);
    expect(wireInductance(50, 0.644)).toBeCloseTo(49.9, 1);
    expect(wireInductance(100, 0.644)).toBeCloseTo(113.6, 1);
    expect(wireInductance(150, 0.644)).toBeCloseTo(182.6, 1);
    expect(wireInductance(100, 2)).toBeCloseTo(91, 0);
    expect(mutualInductance(100, 2.54)).toBeCloseTo(67.8, 1);
    expect(loopInductance(100, 0.644, 2.54)).toBeCloseTo(91.6, 1);
  });
  test('capacitance of parallel wires, and ground bounce', () => {
    // jimlux.net capform (NBS Circular 74 p.238): 13.6 pF per metre. One newsletter's example: 32 outputs of 20 mA in 1 ns
    // through 2 nH, 1.28 V.
    expect(wireCapacitance(1000, 0.644, 2.54)).toBeCloseTo(13.6, 1);
    expect(groundBounce(2, 32, 20, 1)).toBeCloseTo(1.28, 9);
  });
  test('a loaded rail as a ladder, and a bridge', () => {
    // By hand: 5 V behind 10 mohm steps with 100 mA at each of three nodes drops 3, 5 and 6 mV.
    const ladder = solveNetwork({
      nodes: 4,
      conductors: [0, 1, 2].map((k) => ({ a: k, b: k + 1, ohm: 0.01 })),
      held: new Map([[0, 5]]),
      drawn: new Map([1, 2, 3].map((k) => [k, 0.1] as const)),
    });
    expect(ladder.map((volts) => Math.round((5 - volts!) * 1e6) / 1e3)).toEqual([0, 3, 5, 6]);
    // Unbalanced bridge: 10 V, arms 1, 2 and 3, 4 ohm, 5 ohm across; held against Kirchhoff's current law at both nodes.
    const bridge = solveNetwork({
      nodes: 4,
      conductors: [
        { a: 0, b: 1, ohm: 1 },
        { a: 1, b: 3, ohm: 2 },
        { a: 0, b: 2, ohm: 3 },
        { a: 2, b: 3, ohm: 4 },
        { a: 1, b: 2, ohm: 5 },
      ],
      held: new Map([
        [0, 10],
        [3, 0],
      ]),
      drawn: new Map(),
    });
    // Node 1: 10 - V1 + (V2 - V1)/5 = V1/2; node 2: (10 - V2)/3 + (V1 - V2)/5 = V2/4.
    const [, v1, v2] = bridge as number[];
    expect(10 - v1! + (v2! - v1!) / 5 - v1! / 2).toBeCloseTo(0, 9);
    expect((10 - v2!) / 3 + (v1! - v2!) / 5 - v2! / 4).toBeCloseTo(0, 9);
    expect(solveNetwork({ nodes: 2, conductors: [], held: new Map([[0, 5]]), drawn: new Map() })[1]).toBeNull();
  });
});
