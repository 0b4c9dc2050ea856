import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { loadMachine } from '../../tests/support/load-machine.ts';
import { projectOf } from '../../tests/support/library.ts';
import { clockReport, serialRates } from './serial.ts';
import { ratesOf } from './rates.ts';

const designs = new Map<string, ReturnType<typeof loadMachine>>();
const last = (name: string) => {
  const design = designs.get(name) ?? loadMachine(name);
  designs.set(name, design);
  return { design, stage: design.stages.length, report: clockReport(design, design.stages.length) };
};
const rateOn = (name: string, net: string) => {
  const { design, stage } = last(name);
  const id = design.netlists[stage]!.nets.find((item) => item.name === net)!.id;
  return ratesOf(design, stage).get(id);
};

test('the tide clerk: one can feeds processor and serial port, 9600 comes out exactly', () => {
  const { report } = last('tide-clerk');
  const [port] = report.serial;
  expect(port).toMatchObject({ part: 'UART', hz: 3686400, from: 'OSC' });
  expect(port!.rates.find((rate) => rate.bitsPerSecond === 9600)).toMatchObject({ divisor: 24 * 16, error: 0 });
  expect(port!.rates.every((rate) => rate.left > 0)).toBe(true);
  expect(report.clocks.find((clock) => clock.net === 'cpu-clock')!.feeds).toEqual(['CPU.CLK', 'UART.XIN']);
});

test('the carillon: E through a counter by 8 gives sixteen times 9600, and the slow counter 150 Hz', () => {
  // The machine file says so of both: 153.6 kHz as a proof, 150 ticks a second in a note.
  expect(rateOn('carillon', 'sixteen-bauds')).toMatchObject({ hz: 153600, dutyMin: 0.5 });
  expect(rateOn('carillon', 'tick')).toMatchObject({ hz: 150 });
  const { report } = last('carillon');
  expect(report.serial[0]!.rates.find((rate) => rate.bitsPerSecond === 9600)).toMatchObject({ divisor: 16, error: 0 });
  const [crystal] = report.crystals;
  // Two capacitors of 24 pF are 12 pF in series, and the strips add 2 pF.
  expect(crystal).toMatchObject({ part: 'XTAL', hz: 4915200, wantsPf: 18, seesPf: 14, eachPf: 32 });
});

test('the weir keeper: through two gates and still the same rate, the duty kept', () => {
  const phi2 = rateOn('weir-keeper', 'phi2')!;
  expect(phi2.hz).toBe(1843200);
  expect(phi2.dutyMin!).toBeGreaterThan(0);
  expect(phi2.dutyMax!).toBeLessThan(1);
});

test('the signal box: a third of the crystal, a third of each period high', () => {
  expect(rateOn('signal-box', 'CLK')?.hz ?? rateOn('signal-box', 'cpu-clock')?.hz).toBe(4915200);
});

test('a rate that cannot be had is off by what arithmetic says, and does not fit', () => {
  // 2 MHz / 16 / 13 = 9615 bit/s, 0.16 % fast; 115200 asks for a divisor of 1.085.
  const rates = serialRates(2e6, { from: 16, to: 65535 * 16 });
  const at = (bits: number) => rates.find((rate) => rate.bitsPerSecond === bits);
  expect(at(9600)!.error).toBeCloseTo(0.0016, 4);
  expect(at(9600)!.left).toBeGreaterThan(0);
  expect(at(57600)!.error).toBeCloseTo(0.085, 3);
  expect(at(57600)!.left).toBeLessThan(0);
});

test('no clock, no rates', () => {
  const text = readFileSync('projects/tide-clerk/machine.yaml', 'utf8').replace('XIN: cpu-clock, ', 'XIN: nowhere, ');
  const design = projectOf(text).design().value;
  const [port] = clockReport(design, design.stages.length).serial;
  expect(port).toMatchObject({ hz: null, rates: [] });
});
