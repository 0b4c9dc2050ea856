import { expect, test } from 'vitest';
import { demoProject } from '../../tests/support/demo.ts';
import { Build } from './build.ts';
import { expectVerb, runVerb } from './verbs/sim.ts';

const build = new Build(demoProject('tide-clerk'), 'first');

interface RunValue {
  readonly clocks: number;
  readonly from: string;
  readonly terminal: string;
  readonly proofs: readonly { readonly proof: string; readonly predicted: string; readonly pass: boolean | null }[];
}
interface Signal {
  readonly net: string;
  readonly pin: string;
  readonly level?: number | string;
  readonly frequencyHz?: number;
  readonly dutyPercent?: number;
  readonly atFetches?: { readonly gate: string; readonly frequencyHz?: number };
}

test('reset: the supervisor holds the line for its pulse after the button', () => {
  const { value } = runVerb(build, { stage: 1 });
  const { proofs, from } = value as RunValue;
  expect(from).toBe('boards');
  expect(proofs.map(({ pass }) => pass)).toEqual([true, true, true]);
  // DS1813 data sheet: 100 to 300 ms, 150 typical; the button is held for 50.
  expect(proofs[2]!.predicted).toBe('/reset is low for 200.0 ms');
});

test('clock: the can swings at its rate', () => {
  const { value, findings } = runVerb(build, { stage: 2 });
  expect((value as RunValue).proofs).toMatchObject([{ pass: true, predicted: 'cpu-clock swings at 3.68640e+6 Hz' }]);
  expect(findings).toEqual([]);
});

test('free run: the processor walks through all addresses', () => {
  const { value, findings } = runVerb(build, { stage: 3 });
  expect((value as RunValue).proofs).toMatchObject([{ pass: true }]);
  expect((value as RunValue).proofs[0]!.predicted).toContain('through all addresses');
  expect(findings).toEqual([]);
}, 60_000);

test('terminal: the firmware runs to its prompt from the boards', () => {
  const { value, findings } = runVerb(build, { stage: 5, clocks: 150_000 });
  const run = value as RunValue;
  expect(run.from).toBe('boards');
  expect(run.terminal).toContain('READY, TIDES');
  expect(run.proofs).toMatchObject([{ pass: true, proof: 'terminal says: READY, TIDES' }]);
  expect(findings).toEqual([]);
}, 120_000);

test('a wrong wire shows: without the serial wire the terminal stays silent', () => {
  const project = demoProject('tide-clerk');
  const layout = JSON.parse(project.text(build.layoutPath)!) as { wires: { net: string }[] };
  const wires = layout.wires.filter((wire) => wire.net !== 'serial-out');
  expect(wires.length).toBeLessThan(layout.wires.length);
  project.setText(build.layoutPath, JSON.stringify({ ...layout, wires }));
  const { value, findings } = runVerb(new Build(project, 'first'), { stage: 5, clocks: 100_000 });
  const run = value as RunValue;
  expect(run.terminal).toBe('');
  expect(run.proofs).toMatchObject([{ pass: false }]);
  expect(findings.map(({ code }) => code)).toContain('app/proof-not-met');
}, 120_000);

test('a missing image is told of, and no proof is held against the design for it', () => {
  const project = demoProject('tide-clerk');
  project.setText('firmware/tide.hex', undefined);
  const { value, findings } = runVerb(new Build(project, 'first'), { stage: 5, clocks: 20_000 });
  expect((value as RunValue).proofs).toMatchObject([{ pass: null }]);
  expect((value as RunValue).proofs[0]!.predicted).toContain('what ROM holds is not known');
  const codes = findings.map(({ code }) => code);
  expect(codes).toContain('sim/no-image');
  expect(codes).not.toContain('app/proof-not-met');
}, 60_000);

test('what hangs on a part that is not simulated is no failure', () => {
  const { value, findings } = runVerb(new Build(demoProject('signal-box'), 'first'), { stage: 9, clocks: 100 });
  const [proof] = (value as RunValue).proofs;
  expect(proof).toMatchObject({ pass: null });
  expect(proof!.predicted).toContain('CPU');
  expect(findings.filter(({ severity }) => severity === 'error')).toEqual([]);
}, 60_000);

test('expect: lines of a free run, the low ones with refresh between the fetches', () => {
  const { value } = expectVerb(build, { stage: 3 });
  const { signals } = value as { signals: readonly Signal[] };
  const at = (pin: string): Signal => signals.find((signal) => signal.pin === pin)!;
  const clock = 3.6864e6;
  expect(at('OSC.OUT').frequencyHz! / clock).toBeCloseTo(1, 3);
  expect(at('OSC.OUT').dutyPercent).toBeCloseTo(50, 1);
  // A fetch takes four clocks (UM0080, figure 5), so gated by fetches A15 turns over every 65,536 of them, and A0 at every one.
  // Ungated it falls to the refresh address (I is 0) in every fetch of the upper half: no divided clock.
  expect(at('CPU.A15').atFetches!.frequencyHz! / (clock / 4 / 65536)).toBeCloseTo(1, 1);
  expect(at('CPU.A15').frequencyHz! / (clock / 4 / 2)).toBeCloseTo(1, 1);
  expect(at('CPU.A0').atFetches!.frequencyHz! / (clock / 4 / 2)).toBeCloseTo(1, 2);
  expect(at('CPU.A0').atFetches!.gate).toBe('/M1 low at the fall of /RD');
  expect(at('CPU./M1').frequencyHz! / (clock / 4)).toBeCloseTo(1, 3);
  expect(at('CPU./M1').dutyPercent).toBeCloseTo(50, 0);
  expect(at('CPU.D0')).toMatchObject({ level: 0 });
  expect(at('CPU./WR')).toMatchObject({ level: 1 });
}, 60_000);

test('expect at one pin: its first microseconds after reset, and what the supply gives', () => {
  const { value, text } = expectVerb(build, { stage: 5, clocks: 2000, at: 'CPU./RD', firstUs: 3 });
  const { signals, supplies } = value as {
    readonly signals: readonly (Signal & {
      readonly first: {
        readonly level: number;
        readonly changes: readonly { readonly ns: number; readonly level: number }[];
      };
    })[];
    readonly supplies: readonly { readonly typMa?: number; readonly maxMa?: number }[];
  };
  expect(new Set(signals.map(({ net }) => net))).toEqual(new Set(['/RD']));
  const { first } = signals[0]!;
  expect(first.level).toBe(1);
  // Zilog PS0178: two clocks from reset to the first fetch, and /RD falls half a clock later; UM008007, figure 5: it rises with T3.
  const clock = 1e3 / 3.6864;
  const [fall, rise] = first.changes;
  expect([fall!.level, rise!.level]).toEqual([0, 1]);
  expect((rise!.ns - fall!.ns) / clock).toBeCloseTo(1.5, 6);
  expect(fall!.ns / clock).toBeGreaterThan(2.4);
  expect(fall!.ns / clock).toBeLessThan(3.6);
  expect(supplies[0]!.maxMa).toBeGreaterThan(supplies[0]!.typMa! - 1);
  expect(text).toContain('the first 3 us after reset: high, low from');
  expect(expectVerb(build, { stage: 5, clocks: 100, at: 'nothing' }).refused).toBe(true);
}, 60_000);

test('the machine as Verilog: its own modules, the others left empty with a finding', () => {
  const { verilog, findings } = runVerb(build, { stage: 2, clocks: 10, verilog: true });
  expect(verilog).toContain('module \\Tide%20clerk ;');
  expect(verilog).toContain('`ifndef OWN_DS1813_5');
  expect(verilog).toContain('forever #135634');
  expect(findings.map(({ code }) => code)).toEqual(['sim/verilog-empty']);
  expect(runVerb(build, { stage: 2, clocks: 10 }).verilog).toBeUndefined();
});
