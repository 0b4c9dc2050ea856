import { expect, test } from 'vitest';
import { simCircuit } from '../../tests/support/sim.ts';
import { Session } from './session.ts';

const circuit = simCircuit(
  {
    OSC: { type: 'oscillator-can', rateHz: 4e6 },
    SLOW: { type: 'oscillator-can', rateHz: 1.5e6 },
    C: '74HCT393',
    D: '74HCT74',
  },
  {
    clk: 'OSC.OUT C.1CLK D.1D',
    other: 'SLOW.OUT D.1CLK',
    GND: 'C.1CLR C.2CLR',
    VCC: 'D./1PRE D./1CLR',
    q0: 'C.1QA',
    q3: 'C.1QD C.2CLK',
    s: 'D.1Q',
  },
);
const watch = ['clk', 'other', 'q0', 'q3', 's'];

test('two clocks of different rates: both kernels record the same changes at the same times', () => {
  const runs = (['plain', 'compiled'] as const).map((kernel) => {
    const session = new Session(circuit, { flipFlops: 'random', seed: 3 }, { kernel, watch });
    session.runTo(3000);
    session.setRate('SLOW', 3e6);
    session.runTo(9000);
    const net = session.net('q0')!;
    session.force(net, 1);
    session.runTo(12000);
    session.force(net, 'Z');
    session.runTo(15000);
    return session.changes.map(({ ns, net: place, level }) => `${ns.toFixed(3)} ${place} ${level}`).sort();
  });
  expect(runs[1]).toEqual(runs[0]);
  // 15 us of 4 MHz: 120 edges and the first level.
  expect(runs[0]!.filter((line) => line.split(' ')[1] === '0')).toHaveLength(121);
});

test('changes beyond the most are counted and not kept', () => {
  const session = new Session(circuit, {}, { watch, mostChanges: 20 });
  session.runTo(10_000);
  expect(session.changes).toHaveLength(20);
  expect(session.lost).toBeGreaterThan(60);
});
