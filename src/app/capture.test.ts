import { expect, test } from 'vitest';
import { demoProject } from '../../tests/support/demo.ts';
import { spoiled } from '../../tests/support/spoil.ts';
import { Build } from './build.ts';
import { captureSetting, predictStage, printChannels, readStageCapture, runStage, toldChannels } from './capture.ts';

const build = new Build(demoProject('tide-clerk'), 'first');
const range = (letter: string, count: number): string[] =>
  Array.from({ length: count }, (_, k) => `${letter}${count - 1 - k}`);
const NETS = ['cpu-clock', '/reset', '/RD', '/WR', '/M1', '/MREQ', '/IORQ', ...range('A', 16), ...range('D', 8)];

test('the firmware, captured at the terminal stage: it agrees, and its instructions are read', () => {
  const setting = captureSetting(build, 5);
  expect(setting).toMatchObject({ clock: 'cpu-clock', rateHz: 3.6864e6, reset: { net: '/reset', active: 0 } });
  const predicted = predictStage(setting, NETS, 12_000)!;
  const capture = spoiled(predicted, NETS, 'cpu-clock', { seed: 3, rate: 8 });
  const { comparison, observed, bus, predictedBus, findings } = readStageCapture(build, 5, capture, []);
  expect(findings).toEqual([]);
  expect(observed!.by).toBe('clock');
  expect(comparison!.firstDifference).toBeNull();
  expect(comparison!.halves).toBeGreaterThan(11_000);
  // The first lines of the firmware's listing.
  expect(bus!.instructions.slice(0, 3).map(({ text }) => text)).toEqual(['DI', 'JP 0x0100', 'LD SP,0x0000']);
  const both = Math.min(bus!.instructions.length, predictedBus!.instructions.length) - 2;
  expect(both).toBeGreaterThan(500);
  const said = (list: typeof bus) => list!.instructions.slice(0, both).map(({ address, text }) => `${address} ${text}`);
  expect(said(bus)).toEqual(said(predictedBus));
}, 120_000);

test('the free run by its leads alone: an instrument that numbers its channels', () => {
  const setting = captureSetting(build, 3);
  const nets = setting.leads.map(({ net }) => net);
  expect(nets).toEqual(['A7', 'A6', 'A5', 'A4', 'A3', 'A2', 'A1', 'A0', 'cpu-clock', '/RD', '/M1', '/reset']);
  const predicted = predictStage(setting, nets, 8000)!;
  const capture = spoiled(
    predicted,
    nets,
    'cpu-clock',
    { seed: 4 },
    nets.map((_, k) => `CH${k}`),
  );
  const { matches, comparison, bus } = readStageCapture(build, 3, capture, []);
  expect(matches.map(({ net, how }) => [net, how])).toEqual(nets.map((net) => [net, 'lead']));
  expect(comparison!.firstDifference).toBeNull();
  expect(bus!.missing).toEqual([
    '8 of 16 address lines are captured: unknown digits stand as ?.',
    'No data line is captured: nothing tells which instructions run.',
    '/WR is not captured: writes cannot be told.',
    '/IORQ is not captured: ports look like memory.',
  ]);
  expect(bus!.cycles.length).toBeGreaterThan(900);
  // The stage's own slip: A3 and A4 exchanged at the probes.
  const swapped = {
    ...capture,
    channels: capture.channels.map((channel, k) => ({ ...channel, name: `CH${k === 3 ? 4 : k === 4 ? 3 : k}` })),
  };
  const told = readStageCapture(build, 3, swapped, []);
  expect(told.findings.map(({ code }) => code)).toContain('bringup/probes-exchanged');
  expect(told.comparison!.firstDifference).toBeNull();
}, 120_000);

test('what was told is kept, and read back; a damaged file is said', () => {
  const project = demoProject('tide-clerk');
  const own = new Build(project, 'first');
  const told = [
    { channel: 'CH1', net: null },
    { channel: 'CH0', net: '/RD', inverted: true as const },
  ];
  project.setText('builds/first/captures/channels.json', printChannels(told));
  expect(toldChannels(own)).toEqual({ value: [told[1], told[0]], problem: undefined });
  for (const text of ['{', '{}', 'null', '{"channels":[{"channel":1,"net":"A0"}]}']) {
    project.setText('builds/first/captures/channels.json', text);
    expect(toldChannels(own).problem, text).toContain('captures/channels.json');
  }
});

test('a run with other contents at power-up never contradicts the prediction', () => {
  const setting = captureSetting(build, 4);
  const data = range('D', 8);
  const all = ['cpu-clock', '/reset', '/RD', '/WR', ...range('A', 16), ...data];
  const predicted = predictStage(setting, all, 6000)!;
  const runs = [5, 6, 7].map((seed) => runStage(setting, all, 6000, seed)!);
  for (const run of runs)
    run.nets.forEach(({ net, level }, k) => {
      const wrong = level.findIndex(
        (value, h) => predicted.nets[k]!.level[h]! < 2 && value !== predicted.nets[k]!.level[h],
      );
      expect(wrong, net).toBe(-1);
    });
}, 120_000);
