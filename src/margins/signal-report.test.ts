import { expect, test } from 'vitest';
import { loadMachine } from '../../tests/support/load-machine.ts';
import { loadFamilies } from '../../tests/outside/load-parts.ts';
import { loadingOf } from './loading.ts';
import { bounce, signalReport, type WireFacts } from './signal-report.ts';

const families = new Map(
  loadFamilies().flatMap((entry) => (entry.family === undefined ? [] : [[entry.family.family, entry.family] as const])),
);
const design = loadMachine('weir-keeper');
const stage = design.stages.length;
const loading = loadingOf(design, stage, { families });
const facts = (more: Partial<WireFacts>): WireFacts => ({
  longest: new Map([['phi2', 200]]),
  couples: [],
  bypass: new Map(),
  groundMm: new Map(),
  ...more,
});
const report = (more: Partial<WireFacts>) => signalReport(design, stage, loading, facts(more), { families });
const clock = (mm: number) => report({ longest: new Map([['phi2', mm]]) }).edges.find((row) => row.net === 'phi2')!;

test('a clock rings the more the longer its wire, and who acts on its edges is named', () => {
  const [short, long] = [clock(60), clock(400)];
  expect(long.overshootVolts!).toBeGreaterThan(short.overshootVolts!);
  expect(long.ringMhz!).toBeLessThan(short.ringMhz!);
  expect(long.acts).toContain('CPU.PHI2');
  expect(long.reboundVolts!).toBeGreaterThan(short.reboundVolts!);
  expect(long.criticalMm).toBeCloseTo((5 / 6) * 150, 6);
});

test('crosstalk comes from the neighbours of nets whose edges count, and grows with the common length', () => {
  const beside = (mm: number, distanceMm = 1.27) =>
    report({ couples: [{ a: 'd0', b: 'phi2', mm, distanceMm }] }).crosstalk;
  const [row] = beside(50);
  expect(row).toMatchObject({ net: 'phi2', from: [{ net: 'D0', mm: 50 }] });
  expect(beside(100)[0]!.volts!).toBeGreaterThan(row!.volts!);
  expect(beside(50, 2.54)[0]!.volts!).toBeLessThan(row!.volts!);
  // The port prints no edge time for its lamps: then the sum is not known, rather than small.
  const unknown = report({
    couples: [
      { a: 'd0', b: 'phi2', mm: 50, distanceMm: 1.27 },
      { a: 'lamp0', b: 'phi2', mm: 50, distanceMm: 1.27 },
    ],
  }).crosstalk;
  expect(unknown[0]!.volts).toBeNull();
});

test('without lengths nothing is said of edges; without a capacitor nearby a chip is told of', () => {
  const none = signalReport(design, stage, loading, facts({ longest: new Map() }), { families });
  expect(none.edges).toEqual([]);
  const far = report({ bypass: new Map([['cpu', { capacitor: 'C-CPU', mm: 61 }]]) }).chips.find(
    (row) => row.part === 'CPU',
  )!;
  expect(far.advice).toContain('61 mm');
  const near = report({ bypass: new Map([['cpu', { capacitor: 'C-CPU', mm: 8 }]]) }).chips.find(
    (row) => row.part === 'CPU',
  )!;
  expect(near.advice).toBeNull();
  expect(near.hasUf).toBeCloseTo(0.1, 9);
});

test('ground bounce: by charge where that is less, never more than the swing, more with every output', () => {
  // 12 nH, one output of 15 pF at 5 V in 10 ns: 2 * 12e-9 * 15e-12 * 5 / (10e-9)^2 = 18 mV.
  expect(bounce(12, 1, 15, 40, 5, 10)).toBeCloseTo(0.018, 6);
  // Eight at 50 pF through 60 nH in 5 ns would be 9.6 V by charge; through 40 ohm each it is 5 q (1 - exp(-1/q)), q = 2.4.
  expect(bounce(60, 8, 50, 40, 5, 5)).toBeCloseTo(5 * 2.4 * (1 - Math.exp(-1 / 2.4)), 9);
  for (let n = 1; n < 16; n++) expect(bounce(40, n + 1, 50, 40, 5, 5)).toBeGreaterThan(bounce(40, n, 50, 40, 5, 5));
  expect(bounce(1e4, 16, 500, 10, 5, 1)).toBeLessThan(5);
});

test('bulk capacitors are counted against the current', () => {
  const { bulk } = report({});
  expect(bulk.hasUf).toBeGreaterThan(0);
  expect(bulk.parts.length).toBeGreaterThan(0);
});
