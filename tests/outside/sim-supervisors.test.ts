// Supervisors and watchdogs by their sheets: DS1233 (022698: reset 350 ms after the button), MAX705 to MAX708 (watchdog 1.6 s, reset
// 200 ms, /MR, active-high reset), DS1232 (/ST strobe, push-button). Times are the typical ones of the records.

import { describe, expect, test } from 'vitest';
import { ChipBench } from '../support/chip-bench.ts';

const MS = 1e6;

test('DS1233-10: low from power-up for 350 ms, and again after a button on its own pin', () => {
  const bench = new ChipBench('DS1233-10');
  expect(bench.get('/RST')).toBe(0);
  expect(bench.wait(349 * MS).get('/RST')).toBe(0);
  expect(bench.wait(2 * MS).get('/RST')).toBe(1);
  bench
    .set({ '/RST': 0 })
    .wait(20 * MS)
    .set({ '/RST': 'Z' });
  expect(bench.wait(349 * MS).get('/RST')).toBe(0);
  expect(bench.wait(2 * MS).get('/RST')).toBe(1);
});

test('MAX707: both polarities, /MR', () => {
  const bench = new ChipBench('MAX707').set({ '/MR': 1 });
  expect(bench.line('/RESET', 'RESET')).toBe('01');
  expect(bench.wait(201 * MS).line('/RESET', 'RESET')).toBe('10');
  bench.set({ '/MR': 0 });
  expect(bench.line('/RESET', 'RESET')).toBe('01');
  bench.wait(500 * MS).set({ '/MR': 1 });
  expect(bench.wait(199 * MS).line('/RESET', 'RESET')).toBe('01');
  expect(bench.wait(2 * MS).line('/RESET', 'RESET')).toBe('10');
});

describe('MAX705 watchdog', () => {
  const bench = (): ChipBench => new ChipBench('MAX705').set({ '/MR': 1, WDI: 0 }).wait(201 * MS);

  test('strobed within 1.6 s it is quiet; not strobed, /WDO goes low', () => {
    const chip = bench();
    for (let k = 0; k < 6; k++) {
      chip.set({ WDI: k % 2 === 0 ? 1 : 0 }).wait(1500 * MS);
      expect(chip.line('/WDO', '/RESET')).toBe('11');
    }
    expect(chip.wait(110 * MS).line('/WDO', '/RESET')).toBe('01');
  });

  test('a new strobe brings /WDO back', () => {
    const chip = bench().set({ WDI: 1 });
    expect(chip.wait(1700 * MS).get('/WDO')).toBe(0);
    chip.set({ WDI: 0 });
    expect(chip.get('/WDO')).toBe(1);
    expect(chip.wait(1700 * MS).get('/WDO')).toBe(0);
  });
});

test('DS1232: the watchdog resets, and goes on resetting', () => {
  const bench = new ChipBench('DS1232').set({ '/PBRST': 1, '/ST': 1 });
  bench.wait(700 * MS);
  expect(bench.get('RST')).toBe(0);
  bench.set({ '/ST': 0 }).set({ '/ST': 1 });
  let resets = 0;
  let was = bench.get('RST');
  for (let k = 0; k < 400; k++) {
    bench.wait(10 * MS);
    if (bench.get('RST') === 1 && was === 0) resets++;
    was = bench.get('RST');
  }
  expect(resets).toBeGreaterThan(1);
});
