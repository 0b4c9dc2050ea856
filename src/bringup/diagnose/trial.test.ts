// The trial against the plain kernel of the simulator: the same machine and the same slips as changes of the netlist, every net
// after every half clock.

import { expect, test } from 'vitest';
import { demoProject } from '../../../tests/support/demo.ts';
import { Build } from '../../app/index.ts';
import { bringupInput } from '../../app/bringup-input.ts';
import { simInput } from '../../app/sim-input.ts';
import { imagesOf } from '../../app/images.ts';
import { buildCircuit, PlainKernel, type SimNetlist } from '../../sim/index.ts';
import { type Edit, makeFaults, nodesOf } from '../faults/index.ts';
import { PLAIN_PHYSICS, Trial } from './trial.ts';

const build = new Build(demoProject('tide-clerk'), 'first');
const STAGE = 4;
const input = bringupInput(build, STAGE)!;
const { bench, plan } = input;
const sim = simInput(build, STAGE, { from: 'netlist', images: imagesOf(build, STAGE).images, floating: 1 });
const faults = makeFaults(bench);

const at = (ref: string): number => bench.pins.findIndex((pin) => pin.ref === ref);

const data = Array.from({ length: 8 }, (_, k) => at(`CPU.D${k}`));

/** The netlist with an edit, by the bench's nodes. */
function wired(edit: Edit): SimNetlist {
  const nodes = nodesOf(bench, [], edit);
  const nets = Array.from({ length: nodes.count }, (_, k) => ({
    name: `n${k}`,
    pins: [] as { part: number; number: number }[],
    ...(nodes.fed[k] === 1 ? { fed: 1 as const } : nodes.fed[k] === 2 ? { fed: 0 as const } : {}),
  }));
  bench.pins.forEach((pin, k) => {
    nets[nodes.ofPin[k]!]!.pins.push({ part: pin.part, number: pin.number });
  });
  return { parts: sim.netlist.parts, nets };
}

/** Levels of all pins after each half clock, by both; nets that float or are unknown there are left out. */
function compare(edit: Edit, halves: number): { readonly wrong: string[]; readonly compared: number } {
  const { value: circuit } = buildCircuit(wired(edit), sim.contents);
  const kernel = new PlainKernel(circuit, sim.contents);
  const trial = new Trial(plan);
  const nodes = nodesOf(bench, [], edit);
  trial.setHalf(1);
  trial.wire(nodes, edit, PLAIN_PHYSICS);
  const source = circuit.sources.findIndex(({ rateHz }) => rateHz !== undefined);
  const wrong: string[] = [];
  let compared = 0;
  let high = false;
  for (let k = 0; k < halves; k++) {
    if (k === 20) {
      trial.releaseReset();
      kernel.now = 1e9;
      kernel.timeouts();
      kernel.step();
    }
    trial.half();
    high = !high;
    kernel.setSource(source, high ? 1 : 2);
    kernel.step();
    // What a bus reads that nobody drives is a guess in both, and another one: there they may part.
    const isRead = trial.level[nodes.ofPin[at('CPU./RD')]!] === 0;
    if (isRead && data.some((pin) => trial.soft[nodes.ofPin[pin]!] !== 0)) break;
    bench.pins.forEach((pin, n) => {
      const net = circuit.netOfPin.get(pin.part * 256 + pin.number);
      if (net === undefined) return;
      const value = kernel.value(net);
      if (value === 0 || value === 3 || trial.soft[nodes.ofPin[n]!] !== 0) return;
      compared++;
      if ((value === 1 ? 1 : 0) !== trial.level[nodes.ofPin[n]!]) wrong.push(`${k} ${pin.ref}`);
    });
  }
  return { wrong: wrong.slice(0, 5), compared };
}

test('the machine as meant runs as in the plain kernel', () => {
  const { wrong, compared } = compare({}, 300);
  expect(wrong).toEqual([]);
  expect(compared).toBeGreaterThan(30_000);
});

test('slips run as in the plain kernel with the netlist changed', () => {
  const some = faults.filter(
    ({ kind }, k) => k % 97 === 0 && !['part-dead', 'device-blank', 'output-stuck'].includes(kind),
  );
  expect(some.length).toBeGreaterThan(8);
  for (const fault of some) {
    const { wrong } = compare(fault.edit, 120);
    expect({ fault: fault.text, wrong }).toEqual({ fault: fault.text, wrong: [] });
  }
}, 60_000);
