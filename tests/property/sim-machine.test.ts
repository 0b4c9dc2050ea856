// Both kernels on a whole machine: the light keeper from its boards, with its fuses and firmware, edge by edge the same on every net.

import { expect, test } from 'vitest';
import { Build } from '../../src/app/index.ts';
import { imagesOf } from '../../src/app/images.ts';
import { simInput } from '../../src/app/sim-input.ts';
import { buildCircuit, Session } from '../../src/sim/index.ts';
import { demoProject } from '../support/demo.ts';

test('the plain and the compiled kernel agree on every net of the light keeper', () => {
  const build = new Build(demoProject('light-keeper'), 'first');
  const stage = 10;
  const input = simInput(build, stage, { images: imagesOf(build, stage).images });
  const { value: circuit, findings } = buildCircuit(input.netlist, input.contents);
  expect(findings).toEqual([]);
  const names = circuit.nets.filter((name) => !name.startsWith('.'));
  // By net: in what order nets that change at once are told is each kernel's own.
  const run = (kernel: 'plain' | 'compiled'): string[] => {
    const session = new Session(circuit, input.contents, { kernel, watch: names });
    // The supervisor would take 350 ms; the display's own reset takes 10.
    session.runTo(4_000);
    session.force(session.net('/reset')!, 1);
    session.runTo(session.now + (2500 / 4.9152e6) * 1e9);
    session.hand('PAD.KEY-5', true);
    session.runTo(session.now + (500 / 4.9152e6) * 1e9);
    expect(session.findings).toEqual([]);
    const byNet = names.map(() => [] as string[]);
    for (const { ns, net, level } of session.changes) byNet[net]!.push(`${level}@${ns.toFixed(3)}`);
    return byNet.map((list, net) => `${names[net]}: ${list.join(' ')}`);
  };
  const plain = run('plain');
  expect(plain.join().length).toBeGreaterThan(100_000);
  expect(run('compiled')).toEqual(plain);
}, 60_000);
