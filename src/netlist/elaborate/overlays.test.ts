// Overlays: parts that answer under a condition, or to one kind of cycle only. What is expected follows from the pin functions
// of the parts: a 74138 has two active-low enables and one active-high one; a RAM drives whenever /CS and /OE are low.

import { expect, test } from 'vitest';
import { type Elaborated, elaborated } from '../../../tests/support/netlists.ts';

function machine(type: string, memory: string, more = ''): ReturnType<typeof elaborated> {
  return elaborated(
    `machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
  CPU: { type: Z80, grade: 4 MHz CMOS }
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 2 MHz }
  ROM: { type: 28C256, grade: 150 ns, holds: a.hex }
  RAM: { type: "62256", grade: 70 ns }
  SEL: { type: ${type} }
  MODE: { type: "7474", pins: { 1Q: rom-off, 1D: GND, 1CLK: GND, /1CLR: /reset } }
buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }
memory: [${memory}]
nets: { /reset: [CPU./RESET], cpu-clock: [OSC.OUT, CPU.CLK] }
${more}`,
  );
}

const WRITE_UNDER =
  '{ ROM: 32 KiB at 0, when: low(rom-off), access: read }, { RAM: 32 KiB at 0, when: low(rom-off), access: write }, { RAM: 32 KiB at 0, when: high(rom-off) }';

test('a programmable decoder gets the strobe that keeps a RAM to writes; a ROM needs none', () => {
  const design = machine('16V8', WRITE_UNDER);
  const device = design.design.devices.find((plan) => plan.part === 'SEL')!;
  expect(device.inputs.map((input) => input.net)).toEqual(expect.arrayContaining(['/WR', '/MREQ', 'rom-off']));
  expect(device.inputs.map((input) => input.net)).not.toContain('/RD');
  const select = (net: string) => device.outputs.find((output) => output.net === net)!.select!;
  expect(select('/RAM').regions.map((region) => region.gate)).toEqual(['~/WR', undefined]);
  expect(select('/ROM').regions.map((region) => region.gate)).toEqual([undefined]);
});

test('a RAM that is to be read only is kept from writes by the read strobe', () => {
  const device = machine('16V8', '{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000, access: read }').design.devices[0]!;
  expect(device.inputs.map((input) => input.net)).toContain('/RD');
});

test('a fixed decoder takes a condition of all its regions to an enable pin', () => {
  const design = machine(
    '"74138"',
    '{ ROM: 32 KiB at 0, when: high(rom-off) }, { RAM: 32 KiB at 0x8000, when: high(rom-off) }',
  );
  expect(design.problems.filter((line) => line.startsWith('error'))).toEqual([]);
  expect(design.at('SEL.G1')).toBe('rom-off');
});

test('a fixed decoder says so where a condition is more than it can look at', () => {
  expect(machine('"74138"', WRITE_UNDER).problems.join('\n')).toContain(
    'they answer under different conditions at different addresses',
  );
  expect(machine('"74138"', '{ ROM: 16 KiB at 0, when: high(rom-off) | high(/BUSACK) }').problems.join('\n')).toContain(
    'more than its enable pins can look at',
  );
});

test('without a decoder, a part that fills the space under a condition has no select', () => {
  const design = elaborated(
    `machine: Test
supplies: { main: { volts: 5 V } }
parts:
  CPU: { type: Z80, grade: 4 MHz CMOS }
  RAM: { type: "62256" }
buses: { main: { processor: CPU, members: [RAM] } }
memory: [{ RAM: 64 KiB at 0, when: high(/BUSACK) }]
`,
  );
  expect(design.problems.join('\n')).toContain('Nothing makes /RAM');
});

test('two programmable decoders: what the first has no pins to look at, the second makes', () => {
  const machine = (selects: string): Elaborated =>
    elaborated(`
machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 1 MHz, pins: { OUT: clock } }
  CPU: { type: Z80, grade: 6 MHz CMOS, pins: { CLK: clock, /RESET: /reset } }
  ROM: { type: 28C256, holds: rom.hex }
  RAM: { type: "62256" }
  A: { type: "74574" }
  B: { type: "74574" }
  SEL: { type: 16V8 }
  SEL2: { type: 16V8 }
buses: { main: { processor: CPU, members: [ROM, RAM, A, B], selects: ${selects} } }
memory:
  - { ROM: 8 KiB at 0x0000, mirrors: forbidden }
  - { RAM: 1 KiB at 0x8000, mirrors: forbidden }
ports:
  - { A: 1 at 0x13, mirrors: forbidden }
  - { B: 1 at 0x14, mirrors: forbidden }
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
`);
  const codes = (made: Elaborated): string[] =>
    made.findings.filter(({ code }) => code === 'netlist/device-inputs-short').map(({ code }) => code);
  expect(codes(machine('[SEL]'))).toEqual(['netlist/device-inputs-short']);
  const both = machine('[SEL, SEL2]');
  expect(codes(both)).toEqual([]);
  const made = new Map(both.design.devices.map((plan) => [plan.part, plan.outputs.map((output) => output.net)]));
  expect(made.get('SEL')!.length).toBeGreaterThan(0);
  expect(made.get('SEL2')!.length).toBeGreaterThan(0);
  expect([...made.values()].flat().sort()).toEqual(['/A', '/B', '/RAM', '/ROM']);
});
