// The value change dump of a run, read back by a reader that shares nothing with the writer, after IEEE 1364-2005 section 18; and held
// against levels of another run at many moments.

import { expect, test } from 'vitest';
import { Build, MachineRun, runVerb } from '../../src/app/index.ts';
import { resetNs } from '../../src/sim/index.ts';
import { demoProject } from '../support/demo.ts';

/** Times and values of each variable: a four-state reader of scalars, word by word. */
function readDump(text: string): { unit: string; wires: Map<string, { time: number; value: string }[]>; end: number } {
  const words = text.split(/\s+/).filter((word) => word !== '');
  const wires = new Map<string, { time: number; value: string }[]>();
  const byCode = new Map<string, { time: number; value: string }[]>();
  let unit = '';
  let time = 0;
  for (let k = 0; k < words.length; k++) {
    const word = words[k]!;
    const until = (): string[] => {
      const body: string[] = [];
      while (words[++k] !== '$end') body.push(words[k]!);
      return body;
    };
    if (word === '$timescale') unit = until().join('');
    else if (word === '$var') {
      const [kind, size, code, ...name] = until();
      expect([kind, size]).toEqual(['wire', '1']);
      const list: { time: number; value: string }[] = [];
      byCode.set(code!, list);
      wires.set(name.join(' '), list);
    } else if (word === '$dumpvars' || word === '$end') continue;
    else if (word.startsWith('$')) until();
    else if (word.startsWith('#')) {
      const next = Number(word.slice(1));
      if (!(next >= time)) throw new Error(`time goes back at ${word}`);
      time = next;
    } else {
      if (!/^[01xzXZ]/.test(word)) throw new Error(`no value: ${word}`);
      byCode.get(word.slice(1))!.push({ time, value: word[0]!.toLowerCase() });
    }
  }
  return { unit, wires, end: time };
}

test('a dump says of every net at any time what the simulator says', () => {
  const build = new Build(demoProject('tide-clerk'), 'first');
  const clocks = 4000;
  const { vcd } = runVerb(build, { stage: 5, clocks, vcd: true });
  const { unit, wires } = readDump(vcd!);
  const scale = { '1ps': 1e-3, '10ps': 1e-2, '100ps': 0.1, '1ns': 1 }[unit]!;
  expect(scale).toBeDefined();
  const machine = new MachineRun(build, 5);
  const start = resetNs(machine.netlist) - 1.01e6;
  const names = [...wires.keys()];
  expect(names.length).toBeGreaterThan(40);
  const clock = wires.get('cpu-clock')!;
  // Half a period of 3.6864 MHz between two edges, to the unit of the dump.
  const gaps = clock.slice(2).map(({ time }, k) => (time - clock[k + 1]!.time) * scale);
  expect(Math.max(...gaps) - Math.min(...gaps)).toBeLessThanOrEqual(2 * scale);
  expect(gaps.reduce((sum, gap) => sum + gap, 0) / gaps.length).toBeCloseTo(0.5e9 / 3.6864e6, 1);
  let compared = 0;
  machine.runFor(start - machine.ns);
  for (let k = 1; k <= 14; k++) {
    // Between edges, so that rounding of times decides nothing.
    const at = Math.floor((k * 1.0e6) / 15 / machine.clockNs) * machine.clockNs + machine.clockNs / 4;
    machine.runFor(start + at - machine.ns);
    for (const name of names) {
      const shown = wires.get(name)!.findLast(({ time }) => time * scale <= machine.ns - start);
      const level = machine.session.level(machine.session.net(name)!);
      expect(`${name} at ${at.toFixed(1)}: ${shown?.value}`).toBe(
        `${name} at ${at.toFixed(1)}: ${String(level).toLowerCase()}`,
      );
      compared++;
    }
  }
  expect(compared).toBeGreaterThan(600);
}, 60_000);
