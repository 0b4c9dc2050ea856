import { expect, test } from 'vitest';
import { demoProject } from '../../tests/support/demo.ts';
import { buildCircuit, Session } from '../sim/index.ts';
import { Build } from './build.ts';
import { simInput } from './sim-input.ts';

const build = new Build(demoProject('tide-clerk'), 'first');

test('the tide clerk free runs from its own boards, with the refresh on the low lines', () => {
  const input = simInput(build, 3);
  expect(input.from).toBe('boards');
  const { value: circuit, findings } = buildCircuit(input.netlist, input.contents);
  expect(findings).toEqual([]);
  const session = new Session(circuit, input.contents, { kernel: 'plain' });
  // The supervisor would take 350 ms; held high from outside the processor is out of reset after some clocks.
  const reset = session.net('/reset')!;
  session.runTo(5_000);
  session.force(reset, 1);
  const seen: { m1: boolean; address: number }[] = [];
  const lines = Array.from({ length: 16 }, (_, bit) => session.net(`A${bit}`)!);
  for (let k = 0; k < 400; k++) {
    session.runTo(session.now + 1e9 / 3.6864e6 / 2);
    if (session.level(session.net('/MREQ')!) !== 0) continue;
    const address = lines.reduce((sum, net, bit) => sum + (session.level(net) === 1 ? 2 ** bit : 0), 0);
    const m1 = session.level(session.net('/M1')!) === 0;
    if (seen.at(-1)?.address !== address || seen.at(-1)?.m1 !== m1) seen.push({ m1, address });
  }
  const fetched = seen.filter(({ m1 }) => m1).map(({ address }) => address);
  expect(fetched.slice(0, 40)).toEqual(Array.from({ length: 40 }, (_, k) => k));
  // UM0080: the refresh address is on the low lines while /RFSH is low, one further each time.
  const refreshed = seen.filter(({ m1 }) => !m1).map(({ address }) => address);
  expect(refreshed.slice(0, 40)).toEqual(Array.from({ length: 40 }, (_, k) => k));
  expect(session.findings).toEqual([]);
});
