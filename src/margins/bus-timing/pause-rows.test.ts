import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { loadMachine } from '../../../tests/support/load-machine.ts';
import { projectOf, shipped } from '../../../tests/support/library.ts';
import { busTiming } from './timing.ts';
import type { Design } from '../../netlist/index.ts';

const families = new Map(shipped().families.map((family) => [family.family, family] as const));
const options = { families, withoutAdvice: true };
const rowsOf = (design: Design, waits = 0) => busTiming(design, design.stages.length, { ...options, waits }).rows;
const box = loadMachine('signal-box');
const clerk = readFileSync('projects/tide-clerk/machine.yaml', 'utf8');
const clerkDesign = projectOf(clerk).design().value;

test('8088, maximum mode: the vector comes along the command, the interrupt controller and the transceiver', () => {
  // Intel 8088 (TDVCL 30), 8288 (TCLML 35), 8259A (TRLDV 200): two periods from the fall that starts T2 to that which ends T3.
  const rows = rowsOf(box).filter((row) => row.cycle === 'interrupt acknowledge');
  const row = rows.find((item) => item.check === 'TRLDV')!;
  expect(row.target).toBe('PIC');
  expect(row.availableNs!).toBeCloseTo((2 * 1e9) / 4.9152e6, 6);
  const through = row.path.find((step) => step.part === 'DATA')!.ns;
  expect(row.requiredNs!).toBeCloseTo(35 + 200 + through + 30, 6);
  // Nothing of an address in it.
  for (const item of rows)
    expect(
      item.path.some((step) => step.symbol === 'TCLAV'),
      item.check,
    ).toBe(false);
  for (const check of ['TRLRH', 'turnaround', 'read hold', 'TRHRL'])
    expect(rows.find((item) => item.check === check)?.marginNs, check).not.toBeUndefined();
});

test('minimum mode has the cycle as well, where something gives a vector', () => {
  const min = busTiming(box, 5, options);
  expect(min.processor).toBe('CPU');
  expect(min.rows.some((row) => row.cycle === 'interrupt acknowledge')).toBe(false);
});

test('recovery: to the next cycle of the same kind, with a fetch between on a Z80', () => {
  // PC16550D tRC 125 ns. From the end of /IORQ at the fall in T3 (here fall 3) to its beginning at the rise of T2 in the next port
  // read: 4 periods of the cycle and 4 of a fetch, less what lies between the two edges.
  const row = rowsOf(clerkDesign).find((item) => item.check === 'tRC')!;
  const period = 1e9 / 3.6864e6;
  expect(row.path.map((step) => step.ns)).toContain(125);
  expect(row.availableNs!).toBeGreaterThan(5 * period);
  expect(row.availableNs!).toBeLessThan(6 * period);
  // A maker that wants more gets less left.
  const slower = rowsOf(clerkDesign, 1).find((item) => item.check === 'tRC')!;
  expect(slower.marginNs!).toBeCloseTo(row.marginNs!, 6);
});

test('the wait input is asked for its set-up only where something in the cycle moves it', () => {
  expect(rowsOf(clerkDesign).some((row) => row.check === 'wait set-up')).toBe(false);
  const waiting = clerk
    .replace('CPU./NMI, CPU./WAIT, CPU./BUSRQ', 'CPU./NMI, CPU./BUSRQ')
    .replace('  reset: high when low(/reset)', '  reset: high when low(/reset)\n  /slow: low when low(/MREQ)')
    .replace('  /reset: [CPU./RESET]', '  /reset: [CPU./RESET]\n  /slow: [CPU./WAIT]');
  const { value, findings } = projectOf(waiting).design();
  expect(findings.filter((finding) => finding.severity === 'error')).toEqual([]);
  const rows = rowsOf(value).filter((row) => row.check === 'wait set-up' && row.cycle === 'fetch');
  expect(rows).toHaveLength(1);
  // /MREQ leaves after the fall in T1 and /WAIT is looked at by the next: one period for the processor, the device and TsWAIT(Cf).
  expect(rows[0]!.availableNs!).toBeCloseTo(1e9 / 3.6864e6, 6);
  const symbols = rows[0]!.path.map((step) => step.symbol);
  expect(symbols).toContain('TdCf(MREQf)');
  expect(symbols).toContain('TsWAIT(Cf)');
  // Waits that are there already do not help the first one.
  expect(rowsOf(value, 2).find((row) => row.check === 'wait set-up' && row.cycle === 'fetch')!.availableNs).toBeCloseTo(
    rows[0]!.availableNs!,
    6,
  );
});

test('in writes a transceiver is switched on before the part’s own set-up', () => {
  const row = rowsOf(box).find(
    (item) => item.cycle === 'port write' && item.target === 'PIC' && item.check === 'DATA on',
  )!;
  // 8288 TCVNV 45, then the inverter and the 74HCT245, then 8259A TDVWH 240.
  expect(row.path[0]).toMatchObject({ symbol: 'TCVNV', ns: 45 });
  expect(row.path.at(-1)).toMatchObject({ symbol: 'TDVWH', ns: 240 });
  expect(row.path.some((step) => step.part === 'DATA')).toBe(true);
});
