import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { projectOf } from '../../tests/support/library.ts';
import { readXml } from '../../tests/support/xml.ts';
import { Build, cycleSvg, cyclesOf, cycleVerb, marginsOf, marginsVerb } from './index.ts';

const machine = readFileSync('projects/tide-clerk/machine.yaml', 'utf8');
/** The strobe pins of the serial port joined to the processor's: its select then has /IORQ in it. */
const LATE = machine.replace('INTR: open', 'INTR: open, /RD: /RD, /WR: /WR');
interface Value {
  readonly timing: readonly {
    cycle: string;
    target: string;
    check: string;
    marginNs: number | null;
    path: readonly { source: string }[];
  }[];
  readonly maxClockHz: number | null;
  readonly minClockHz: number | null;
  readonly clockHz: number | null;
  readonly supply: readonly { stage: number; max: number }[];
  readonly loading: readonly { net: string; worst: number | null }[];
  readonly waived: readonly { code: string; reason: string }[];
}
const of = (text: string, stage: number, clockHz?: number): { value: Value; codes: string[]; text: string } => {
  const result = marginsVerb(new Build(projectOf(text), 'first'), {
    stage,
    ...(clockHz === undefined ? {} : { clockHz }),
  });
  return { value: result.value as Value, codes: result.findings.map((finding) => finding.code), text: result.text };
};

test('the tide clerk: every cycle, its clock, its current by stage', () => {
  const { value, text } = of(machine, 6);
  expect(value.clockHz).toBe(3686400);
  expect(value.maxClockHz!).toBeGreaterThan(3686400);
  expect(value.minClockHz).toBe(0);
  expect([...new Set(value.timing.map((row) => row.cycle))]).toEqual([
    'clock',
    'fetch',
    'memory read',
    'memory write',
    'port read',
    'port write',
  ]);
  for (const row of value.timing) for (const step of row.path) expect(step.source).not.toBe('');
  expect(value.supply.map((item) => item.stage)).toEqual([1, 2, 3, 4, 5, 6]);
  expect(value.supply.every((item, k) => k === 0 || item.max >= value.supply[k - 1]!.max)).toBe(true);
  expect(value.loading.find((net) => net.net === 'cpu-clock')!.worst!).toBeGreaterThan(0);
  expect(text).toContain('Current:');
});

test('before there is a processor there is no timing, and no error', () => {
  const { value, text } = of(machine, 2);
  expect(value.timing).toEqual([]);
  expect(text).toContain('No processor yet');
});

test('too fast a clock is told by part, with the symptom of the first to go', () => {
  const { value, codes } = of(machine, 6, 9e6);
  expect(codes).toContain('margins/negative');
  expect(value.timing.filter((row) => row.marginNs !== null && row.marginNs < 0).length).toBeGreaterThan(5);
});

test('a figure that is missing is told and leaves the clock unknown', () => {
  const { value, codes } = of(machine.replace('grade: 6 MHz CMOS', 'grade: 2.5 MHz NMOS'), 6);
  expect(codes).toContain('margins/unknown-arc');
  expect(value.maxClockHz).toBeNull();
});

test('a waiver sets a finding aside, and check has no part in it', () => {
  const waived = LATE.replace(
    /^waive:\n/m,
    'waive:\n  - { code: margins/negative, at: [UART], reason: runs at the bench for a week }\n',
  );
  const { value, codes } = of(waived, 6);
  expect(value.waived.map((item) => item.code)).toEqual(['margins/negative']);
  expect(codes).not.toContain('margins/negative');
  const said = (text: string): string[] =>
    projectOf(text)
      .findings()
      .map((finding) => finding.message);
  expect(said(waived)).toEqual(said(LATE));
});

test('a select by the address alone precedes the strobes of the serial port; one with /IORQ in it does not', () => {
  // PC16550D sheet: tCSR and tCSW 30 ns; Z8400 sheet: /IORQ falls up to 65 ns after the clock, /RD and /WR may be there at 0.
  const selects = (text: string): (number | null)[] =>
    of(text, 6)
      .value.timing.filter((row) => row.target === 'UART' && /^tCS[RW]$/.test(row.check))
      .map((row) => row.marginNs);
  expect(selects(LATE).map((ns) => ns! < 0)).toEqual([true, true]);
  expect(selects(machine).map((ns) => ns! > 100)).toEqual([true, true]);
  expect(of(machine, 6).value.timing.filter((row) => row.marginNs !== null && row.marginNs < 0)).toEqual([]);
});

test('any cycle as a drawing: with one part, with all, and a refusal that says which there are', () => {
  const build = new Build(projectOf(machine), 'first');
  const one = cycleVerb(build, { stage: 6, cycle: 'Memory Read', target: 'rom' });
  expect(one.value).toMatchObject({
    files: ['builds/first/margins/memory-read-rom.svg'],
    cycle: 'memory read',
    target: 'ROM',
  });
  const effect = one.effects![0]!;
  const svg = effect.kind === 'write' ? effect.text : '';
  expect(readXml(svg).length).toBeGreaterThan(30);
  for (const word of ['A15-A0', '/MREQ', 'ROM /CE', 'D7-D0', 'data taken, clock falls', 'tACC'])
    expect(svg).toContain(word);
  expect(svg).not.toContain('RAM');
  for (const { cycle } of cyclesOf(marginsOf(build, { stage: 6, withoutAdvice: true }).value))
    expect(cycleVerb(build, { stage: 6, cycle }).refused, cycle).toBeUndefined();
  expect(cycleVerb(build, { stage: 6, cycle: 'siesta' }).findings[0]!.help).toContain('memory read (');
  expect(cycleVerb(build, { stage: 6, cycle: 'fetch', target: 'LEVEL' }).refused).toBe(true);
  expect(cycleVerb(build, { stage: 2, cycle: 'fetch' }).refused).toBe(true);
});

test('with a slower clock the same cycle is longer', () => {
  const build = new Build(projectOf(machine), 'first');
  const end = (clockHz: number): number =>
    Math.max(
      ...[...cycleSvg(build, { stage: 6, cycle: 'fetch', clockHz })!.matchAll(/font-size:13px">(\d+)<\/text>/g)].map(
        (match) => Number(match[1]),
      ),
    );
  expect(end(1e6)).toBeGreaterThan(2 * end(3.6864e6));
});
