// Wait states asked for in the map, from the registers in the fuses to the clocks of a bus cycle: by the Z80's data sheet an
// opcode fetch takes four clocks, and one more for each wait state.

import { expect, test } from 'vitest';
import { shipped } from '../../tests/support/library.ts';
import { Build, decodeVerb, Project, runVerb } from './index.ts';

/** A ROM of no operations. */
const NOPS = `${[0, 32, 64, 96].map((at) => `:20${at.toString(16).toUpperCase().padStart(4, '0')}00${'00'.repeat(32)}${((256 - ((32 + at) & 255)) & 255).toString(16).toUpperCase().padStart(2, '0')}`).join('\n')}\n:00000001FF\n`;

const machine = (waits: string): string => `machine: Slow light
supplies: { main: { volts: 5 V } }
clocks: { cpu: { from: OSC.OUT, rate: 1 MHz } }
defaults: { family: HCT, pull: 10 kohm }
parts:
  SUP: { type: DS1813-5, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 1 MHz, pins: { OUT: clock } }
  CPU: { type: Z80, grade: 6 MHz CMOS, pins: { CLK: clock, /RESET: /reset } }
  ROM: { type: 28C256, holds: rom.hex }
  RAM: { type: "62256" }
  SEL: { type: 16V8, grade: 15 ns }
buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }
memory:
  - { ROM: 32 KiB at 0x0000${waits} }
  - { RAM: 32 KiB at 0x8000 }
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
stages:
  - { stage: all, adds: [SUP, OSC, CPU, ROM, RAM, SEL], programs: { SEL: logic, ROM: firmware }, prove: [{ expect: { supply: 4.75 V to 5.25 V } }] }
`;

const buildOf = (waits: string): Build =>
  new Build(
    new Project(
      shipped(),
      new Map([
        ['machine.yaml', machine(waits)],
        ['rom.hex', NOPS],
      ]),
    ),
    'first',
  );

/** Clocks from one opcode fetch to the next, counted in the value change dump of a run. */
function clocksPerFetch(build: Build): number[] {
  const { vcd, findings } = runVerb(build, { stage: 1, clocks: 400, vcd: true, from: 'netlist' }) as ReturnType<
    typeof runVerb
  > & {
    vcd?: string;
  };
  expect(findings.filter(({ severity }) => severity === 'error')).toEqual([]);
  const idOf = (net: string): string =>
    new RegExp(`\\$var \\w+ 1 (\\S+) \\\\?${net.replace('/', '\\/')} `).exec(vcd!)![1]!;
  const [clock, m1] = [idOf('clock'), idOf('CPU./M1')];
  const counts: number[] = [];
  let clocks = 0;
  for (const line of vcd!.split('\n')) {
    if (line === `1${clock}`) clocks++;
    if (line === `0${m1}`) {
      counts.push(clocks);
      clocks = 0;
    }
  }
  return counts.slice(2, 22);
}

test.each([
  ['', 4],
  [', wait: 1', 5],
  [', wait: 2', 6],
] as const)('a fetch from a ROM with%s takes %d clocks', (waits, clocks) => {
  const build = buildOf(waits);
  const decoded = decodeVerb(build, { stage: 1, out: 'fuses' });
  expect(decoded.findings.filter(({ severity }) => severity === 'error')).toEqual([]);
  const counts = clocksPerFetch(build);
  expect(counts.length).toBe(20);
  expect(new Set(counts)).toEqual(new Set([clocks]));
});
