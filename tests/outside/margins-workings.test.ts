// Reckonings that manuals and sheets print with their results, one test each. Those that their own source contradicts stay out:
// access times of the MC68A09E (440 printed, 442 by its formula), the HD63C09E (185 for 188), the R65C02 at 3 and 4 MHz (215 and
// 160 for 208 and 150), the refresh of 32 rows in 2 ms (64 printed for 62.5 us).

import { expect, test } from 'vitest';
import {
  accessTime,
  bytesPerSecond,
  cycleTime,
  displayTimes,
  fanOut,
  noiseMargins,
  ofUnitLoads,
  refreshSpacing,
  serviceClocks,
  slewRate,
  timeTaken,
  unitLoads,
  waitsFor,
} from '../../src/margins/index.ts';

test('interrupt service of a Z80: 68 clocks for each byte', () => {
  // Zilog Z80 CPU Peripherals User Manual UM008101-0601, DMA and SIO example.
  expect(serviceClocks([19, 4, 16, 7, 4, 4, 14])).toBe(68);
});

test('a kilobaud takes 0.34 % at 2.5 MHz and 0.213 % at 4 MHz', () => {
  // The same example; 125 bytes a second for each kilobaud.
  expect(bytesPerSecond(1000)).toBe(125);
  expect(timeTaken(68, 125, 2.5e6) * 100).toBeCloseTo(0.34, 4);
  expect(timeTaken(68, 125, 4e6) * 100).toBeCloseTo(0.213, 3);
});

test('the raster of an 80 by 24 display', () => {
  // Motorola MC6845 data sheet, early issue: 53.76 us, 645.12 us, 45.32 us, 4.74 us, 16.13 ms, 15.48 ms, 0.54 ms. Its character
  // time of 0.527 us is rounded, so a line comes out at 53.754.
  const times = displayTimes({
    characterSeconds: 0.527e-6,
    horizontalTotal: 101,
    linesPerRow: 12,
    rowsTotal: 25,
    rowsShown: 24,
    charactersShown: 86,
    syncCharacters: 9,
    adjustLines: 10,
  });
  expect(times.line * 1e6).toBeCloseTo(53.76, 1);
  expect(times.row * 1e6).toBeCloseTo(645.12, 0);
  expect(times.shown * 1e6).toBeCloseTo(45.32, 2);
  expect(times.sync * 1e6).toBeCloseTo(4.74, 2);
  expect(times.frame * 1e3).toBeCloseTo(16.13, 2);
  expect(times.visible * 1e3).toBeCloseTo(15.48, 2);
  expect(times.adjust * 1e3).toBeCloseTo(0.54, 2);
});

test('slew that a supervisor detects', () => {
  // Microchip TC1232 data sheet DS21370D, figure 4-3: 0.5 V in 300 us, printed as 1.66 V/ms.
  expect(slewRate(0.5, 300e-6) / 1e3).toBeCloseTo(1.66, 1);
});

test('unit loads of the LS373, both ways', () => {
  // Motorola SN54/74LS373 data sheet p.5-521, loading table: 0.5 and 0.25 in, 65 and 15 out, at 40 uA and 1.6 mA. The currents
  // are the family's usual ones and not printed in that table.
  expect(ofUnitLoads({ high: 0.5, low: 0.25 })).toEqual({ highMa: 0.02, lowMa: 0.4 });
  expect(ofUnitLoads({ high: 65, low: 15 })).toEqual({ highMa: 2.6, lowMa: 24 });
  expect(unitLoads({ high: 2.6, low: 24 })).toEqual({ high: 65, low: 15 });
});

test('an NMOS 8088 output into LS inputs', () => {
  // 8088: 2.0 mA at 0.45 V, 400 uA; LS: 0.4 mA, 20 uA, 0.8 V. The figures are read, the result is the textbook's as remembered.
  expect(fanOut({ low: 2, high: 0.4 }, { low: 0.4, high: 0.02 }).both).toBe(5);
  expect(noiseMargins({ voh: 2.4, vih: 2, vol: 0.45, vil: 0.8 }).low).toBeCloseTo(0.35, 9);
});

test('read and write cycle of a 16550', () => {
  // National PC16550D data sheet: RC = tAR + tRD + tRC, WC = tAW + tWR + tWC, both 280 ns.
  expect(cycleTime([30, 125, 125])).toBe(280);
  expect(cycleTime([30, 100, 150])).toBe(280);
});

test('access times by the sheets’ own formulas', () => {
  // Motorola MC6809E: tcyc - tf - tAD - tDSR, 695 ns at 1 MHz and 330 at 2 MHz. Rockwell R65C02: 775 and 340 ns at 1 and 2 MHz.
  expect(accessTime({ periodNs: 1000, clocks: 1, lost: [25, 200, 80] })).toBe(695);
  expect(accessTime({ periodNs: 500, clocks: 1, lost: [20, 110, 40] })).toBe(330);
  expect(accessTime({ periodNs: 1000, clocks: 1, lost: [125, 100] })).toBe(775);
  expect(accessTime({ periodNs: 500, clocks: 1, lost: [100, 60] })).toBe(340);
  // Hitachi HD63B09E: 330 ns at 2 MHz. Intel 8088 at 5 MHz: 3 TCLCL - TCLAV - TDVCL, 460 ns.
  expect(accessTime({ periodNs: 500, clocks: 1, lost: [20, 110, 40] })).toBe(330);
  expect(accessTime({ periodNs: 200, clocks: 3, lost: [110, 30] })).toBe(460);
  expect(accessTime({ periodNs: 200, clocks: 3, waits: 1, lost: [110, 30] })).toBe(660);
});

test('wait states are whole, and none where there is time', () => {
  // By hand: 460 ns there, 500 asked at 200 ns a period is one wait; 700 is two.
  expect([400, 460, 500, 700].map((needed) => waitsFor(460, needed, 200))).toEqual([0, 0, 1, 2]);
});

test('refresh: every row once in a period', () => {
  // By hand; MOS Technology's manual rounds it to 64 us.
  expect(refreshSpacing(32, 2e-3) * 1e6).toBeCloseTo(62.5, 9);
});
