// The plain kernel against an IEEE 1364 simulator (Icarus Verilog 11 of Debian): random machines of the 74 series, memories
// and programmed 16V8, exported as structural Verilog, moved by the same stimuli, every net compared after every step.

import { expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { buildCircuit, levelOf, PlainKernel, valueOfLevel, writeVerilog } from '../../src/sim/index.ts';
import { hasIverilog, runVerilog } from '../support/iverilog.ts';
import { type RandomMachine, randomMachine } from '../support/random-machine.ts';
import { simNetlist } from '../support/sim.ts';

const LEVELS = ['0', '1', 'z', 'x'] as const;
type Move = { readonly net: number; readonly level: (typeof LEVELS)[number] };

function moves(machine: RandomMachine, seed: number, count: number): Move[][] {
  const rng = createRng(seed);
  return Array.from({ length: count }, () =>
    Array.from({ length: 1 + rng.below(3) }, () => ({
      net: machine.free[rng.below(machine.free.length)]!,
      level: LEVELS[rng.below(40) === 0 ? 2 + rng.below(2) : rng.below(2)]!,
    })),
  );
}

/** Levels of all nets after each step, by the plain kernel; undefined where something did not come to rest. */
function byKernel(machine: RandomMachine, steps: readonly Move[][]): string[] | undefined {
  const kernel = new PlainKernel(machine.circuit, machine.contents);
  const show = (): string => machine.circuit.nets.map((_, net) => levelOf(kernel.value(net))).join('');
  const out = [show()];
  for (const step of steps) {
    for (const { net, level } of step)
      kernel.force(net, valueOfLevel(level === 'z' ? 'Z' : level === 'x' ? 'X' : level === '1' ? 1 : 0));
    kernel.step();
    out.push(show());
  }
  return kernel.findings.some(({ code }) => code === 'sim/oscillates')
    ? undefined
    : out.map((line) => line.toLowerCase());
}

function byVerilog(machine: RandomMachine, steps: readonly Move[][]): string[] {
  const { text, nets } = writeVerilog(machine.netlist, machine.circuit, machine.contents, { clocks: 'held' }).value;
  const at = (net: number): string => `dut.${nets[net]}`;
  const bench = [
    'module bench;',
    '  \\machine dut();',
    ...machine.free.map((net) => `  reg r${net} = 1'bz; assign ${at(net)}= r${net};`),
    `  task show; $display("%b", {${nets.map((_, net) => at(net)).join(', ')}}); endtask`,
    '  initial begin',
    '    #900 show;',
    ...steps.flatMap((step) => [
      `    #100 ${step.map(({ net, level }) => `r${net} = 1'b${level};`).join(' ')}`,
      '    #900 show;',
    ]),
    '    $finish;',
    '  end',
    'endmodule',
  ];
  const out = runVerilog(`${text}\n${bench.join('\n')}\n`, { top: 'bench' });
  return out.split('\n').filter((line) => /^[01xz]+$/.test(line));
}

test('resistors, switches and buttons come out as the kernel has them where strengths can say it', (context) => {
  if (!hasIverilog()) context.skip('no IEEE 1364 simulator (iverilog) is installed');
  const netlist = simNetlist(
    {
      G: '74HCT04',
      S: { type: 'resistor', value: '330 ohm' },
      P: { type: 'resistor', value: '10 kohm' },
      K: 'dip-switch-8',
      B: 'push-button',
      N: { type: 'resistor-network-9', value: '10 kohm' },
    },
    {
      a: 'G.1A',
      out: 'G.1Y S.A',
      far: 'S.B P.A G.2A',
      left: 'K.A1',
      right: 'K.B1 G.3A',
      b: 'B.A N.R1 G.4A',
      VCC: 'P.B N.COM',
      GND: 'B.B',
    },
  );
  const circuit = buildCircuit(netlist, {}).value;
  const machine = { netlist, circuit, contents: {}, free: ['a', 'left'].map((name) => circuit.nets.indexOf(name)) };
  const steps = moves(machine, 5, 80);
  expect(byVerilog(machine, steps)).toEqual(byKernel(machine, steps));
});

test('every net of random machines is what an IEEE 1364 simulator says', (context) => {
  if (!hasIverilog()) context.skip('no IEEE 1364 simulator (iverilog) is installed');
  const machines = Number(process.env.PROOFBOARD_VERILOG ?? 12);
  const first = Number(process.env.PROOFBOARD_SEED ?? 1);
  const known = new Set<string>();
  let compared = 0;
  let definite = 0;
  for (let seed = first; seed < first + machines; seed++) {
    const machine = randomMachine(seed);
    const steps = moves(machine, seed + 1000, 60);
    const wanted = byKernel(machine, steps);
    if (wanted === undefined) continue;
    const made = byVerilog(machine, steps);
    expect(made.length, `seed ${seed}`).toBe(wanted.length);
    wanted.forEach((line, k) => {
      if (line === made[k]) return;
      const net = [...line].findIndex((level, place) => level !== made[k]![place]);
      expect.fail(
        `seed ${seed}, step ${k}: ${machine.circuit.nets[net]} is ${line[net]} here, ${made[k]![net]} in Verilog`,
      );
    });
    for (const part of machine.netlist.parts) known.add(part.type);
    compared += wanted.length * wanted[0]!.length;
    definite += wanted.join('').replace(/[^01]/g, '').length;
  }
  // Machines that stay unknown throughout would prove nothing.
  expect(definite / compared).toBeGreaterThan(0.5);
  expect(known.size).toBeGreaterThan(Math.min(30, machines));
});
