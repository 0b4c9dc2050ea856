import { expect, test } from 'vitest';
import { demoProject } from '../../tests/support/demo.ts';
import { Build } from './build.ts';
import { MachineRun } from './machine-run.ts';

test('a machine by clocks, cycles and instructions, from its boards', () => {
  const run = new MachineRun(new Build(demoProject('tide-clerk'), 'first'), 5);
  expect(run.from).toBe('boards');
  expect(run.hasTerminal).toBe(true);
  run.toReset();
  // The supervisor holds until its pulse is over; then the first instructions are those from 0 on.
  run.runFor(9000);
  while (
    run.view().processor!.lost !== '' ||
    run.pins({ part: 'CPU' }).find(({ name }) => name === '/RESET')!.level !== 1
  )
    run.runFor(250);
  expect(run.step('instruction')).toBe(true);
  const first = run.view();
  expect(first.processor!.at).toBeLessThan(4);
  const { clocks } = first;
  expect(run.step('clock')).toBe(true);
  expect(run.view().clocks).toBe(clocks + 1);
  const before = run.view().processor!.instructions;
  expect(run.step('cycle')).toBe(true);
  run.step('instruction');
  run.step('instruction');
  expect(run.view().processor!.instructions).toBeGreaterThan(before);
  // Zilog UM008007: a fetch shows the address on A15-A0 with /M1 low.
  const pins = run.pins({ part: 'CPU' });
  expect(pins.map(({ level }) => level).filter((level) => level === 'X')).toEqual([]);
  expect(run.pins({ net: '/RD' }).length).toBeGreaterThan(1);
  expect(run.memory(0, 4).every((byte) => /^[0-9A-F]{2}$/.test(byte))).toBe(true);
  run.runFor(60e6);
  expect(run.received()).toContain('READY');
  expect(run.received()).toBe('');
}, 60_000);
