// The bus of the 8088: shared pins and their latches, minimum mode grown to maximum mode, and what changes with it. What is
// expected follows the 8088 data sheet (231456-006): figure 1 and the pin table for both modes, and the 8288's pin table.

import { describe, expect, test } from 'vitest';
import { elaborated } from '../../../tests/support/netlists.ts';

const HEAD = `
machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
clocks: { cpu: { from: CLK.CLK, rate: 4.9152 MHz } }
`;
const PARTS = `
  SUP: { type: DS1233-10, pins: { /RST: /good } }
  CLK: { type: "8284", pins: { /RES: /good, X1: x1, X2: x2 } }
  XTAL: { type: crystal, rate: 14.7456 MHz, pins: { A: x1, B: x2 } }
  XC1: { type: capacitor, value: 22 pF, pins: { A: x1, B: GND } }
  XC2: { type: capacitor, value: 22 pF, pins: { A: x2, B: GND } }
  CPU: { type: "8088", grade: 5 MHz }
  LOW: { type: "74573" }
  TOP: { type: "74573" }
  ROM: { type: 28C256, holds: rom.hex }
  RAM: { type: "62256" }
  MEMSEL: { type: "74138" }
  IOSEL: { type: "74138" }
  G1: { type: "7404" }
`;
const MAPS = `
memory: [{ RAM: 32 KiB at 0 }, { ROM: 32 KiB at 0xF8000 }]
ties:
  - { high: [CPU.MN//MX], until: two }
  - { low: [CPU.MN//MX], from: two }
  - { low: [CPU.HOLD], through: 10 kohm, until: two }
`;

const GROWN = `${HEAD}
parts:${PARTS}
  MID: { type: "74573" }
  CTRL: { type: "8288" }
  DATA: { type: "74245" }
  PORT: { type: "8255" }
  PIC: { type: "8259" }
  KEYS: { type: "74541", pins: { A1-A8: GND } }
buses:
  small: { processor: CPU, members: [CLK, LOW, TOP, ROM, RAM, PORT], selects: { memory: MEMSEL, ports: IOSEL }, until: two }
  large:
    processor: CPU
    members: [CLK, CTRL, LOW, MID, TOP, DATA, ROM, RAM, PORT, PIC, KEYS]
    selects: { memory: MEMSEL, ports: IOSEL }
    from: two
${MAPS}
ports: [{ PORT: 4 at 0x20 }, { PIC: 2 at 0x40 }, { KEYS: 1 at 0x80 }]
nets:
  reset: [CLK.RESET, PORT.RESET]
  interrupt: { pins: [PIC.INT, CPU.INTR], from: two }
stages:
  - { stage: one, adds: [SUP, CLK, XTAL, XC1, XC2, CPU, LOW, TOP, ROM, RAM, MEMSEL, IOSEL, G1, PORT] }
  - { stage: two, adds: [MID, CTRL, DATA, PIC, KEYS] }
`;

describe('an 8088 that grows from minimum to maximum mode', () => {
  const machine = elaborated(GROWN);

  test('is found clean', () => {
    expect(machine.problems).toEqual([]);
  });

  test('in minimum mode the processor makes the strobes, and its low address pins pass a latch', () => {
    expect(machine.pins('AD0', 1)).toEqual(['CPU.AD0', 'LOW.1D', 'ROM.I/O0', 'RAM.I/O0', 'PORT.D0']);
    expect(machine.pins('A7', 1)).toEqual(['LOW.8Q', 'ROM.A7', 'RAM.A7', 'IOSEL.B']);
    expect(machine.pins('A8', 1)).toEqual(['CPU.A8', 'ROM.A8', 'RAM.A8']);
    expect(machine.pins('A16/S3', 1)).toEqual(['CPU.A16/S3', 'TOP.1D']);
    expect(machine.pins('ALE', 1)).toEqual(['CPU.ALE', 'LOW.LE', 'TOP.LE']);
    expect(machine.pins('IO//M', 1)).toEqual(['CPU.IO//M', 'MEMSEL./G2A', 'IOSEL.G1']);
    expect(machine.pins('/RD', 1)).toEqual(['CPU./RD', 'ROM./OE', 'RAM./OE', 'PORT./RD']);
    expect(machine.at('ROM./WE', 1)).toBe('main');
    expect(machine.at('CPU.MN//MX', 1)).toBe('main');
  });

  test('elements of a latch that no address bit needs are tied, their outputs open', () => {
    expect(machine.at('TOP.5D', 1)).toBe('GND');
    expect(machine.at('TOP.8Q', 1)).toBe('open');
  });

  test('clock, reset and ready come from the clock generator', () => {
    expect(machine.pins('CLK')).toEqual(['CLK.CLK', 'CPU.CLK', 'CTRL.CLK']);
    expect(machine.pins('READY')).toEqual(['CLK.READY', 'CPU.READY']);
    expect(machine.pins('reset')).toEqual(['CLK.RESET', 'CPU.RESET', 'PORT.RESET']);
  });

  test('in maximum mode the pins mean status, and the bus controller makes the strobes by space', () => {
    expect(machine.pins('/S0')).toEqual(['CPU./DEN', 'CTRL./S0']);
    expect(machine.pins('/S1')).toEqual(['CPU.DT//R', 'CTRL./S1']);
    expect(machine.pins('/S2')).toEqual(['CPU.IO//M', 'CTRL./S2']);
    expect(machine.pins('ALE')).toEqual(['LOW.LE', 'TOP.LE', 'MID.LE', 'CTRL.ALE']);
    expect(machine.pins('/MRDC')).toEqual(['ROM./OE', 'RAM./OE', 'CTRL./MRDC']);
    expect(machine.pins('/IORC')).toEqual(['CTRL./IORC', 'PORT./RD', 'PIC./RD', 'KEYS./OE2']);
    expect(machine.pins('/IOWC')).toEqual(['CTRL./IOWC', 'PORT./WR', 'PIC./WR']);
    expect(machine.at('CPU./RD')).toBeUndefined();
    expect(machine.at('CPU.MN//MX')).toBe('GND');
  });

  test('the transceiver is enabled low from a bus controller that says it high', () => {
    expect(machine.pins('DT//R')).toEqual(['CTRL.DT//R', 'DATA.DIR']);
    const [made] = machine.pins('/DEN').filter((pin) => pin.startsWith('G1.'));
    expect(made).toMatch(/^G1\.\dY$/);
    expect(machine.pins('/DEN')).toContain('DATA./OE');
    expect(machine.at(made!.replace('Y', 'A'))).toBe('DEN');
    // Before there is a bus controller the gate is spare.
    expect(machine.at(made!.replace('Y', 'A'), 1)).toBe('GND');
    expect(machine.at(made!, 1)).toBe('open');
  });

  test('A side of the transceiver at the processor: DT//R high, to transmit, drives from A to B', () => {
    expect(machine.pins('AD7')).toEqual(['CPU.AD7', 'LOW.8D', 'DATA.A8']);
    expect(machine.pins('D7')).toContain('DATA.B8');
  });

  test('interrupt acknowledge goes to the controller that puts the vector on the bus, and selects no port', () => {
    expect(machine.pins('/INTA')).toEqual(['CTRL./INTA', 'PIC./INTA']);
    expect(machine.at('CPU.INTR', 1)).toBe('GND');
  });

  test('a decoder changes only what the mode asks for', () => {
    for (const pin of ['A', 'B', 'C', '/G2A', '/G2B', '/Y0'])
      expect(machine.at(`IOSEL.${pin}`, 1), pin).toBe(machine.at(`IOSEL.${pin}`, 2));
    expect(machine.at('IOSEL.G1')).toBe('main');
    expect(machine.at('MEMSEL./G2A')).toBe('GND');
  });
});

test('a programmable decoder keeps its pins and no longer looks at what is gone', () => {
  const machine = elaborated(
    GROWN.replace(/selects: \{ memory: MEMSEL, ports: IOSEL \}/g, 'selects: SEL')
      .replace('  MEMSEL: { type: "74138" }\n  IOSEL: { type: "74138" }', '  SEL: { type: 22V10, grade: 15 ns }')
      .replace('MEMSEL, IOSEL', 'SEL'),
  );
  expect(machine.problems).toEqual([]);
  const select = (part: string, pin: string): (string | undefined)[] =>
    [1, 2].map((stage) =>
      machine.pins(machine.at(`${part}.${pin}`, stage)!, stage).find((ref) => ref.startsWith('SEL.')),
    );
  for (const [part, pin] of [
    ['ROM', '/CE'],
    ['RAM', '/CS'],
    ['PORT', '/CS'],
  ] as const) {
    const [before, after] = select(part, pin);
    expect(before).toBeDefined();
    expect(after).toBe(before);
  }
  const looked = machine.pins('IO//M', 1).find((ref) => ref.startsWith('SEL.'));
  expect(looked).toBeDefined();
  expect(machine.at(looked!, 2)).not.toBe('IO//M');
  expect(machine.pins('IO//M', 2)).toEqual([]);
  expect(machine.pins('/IORC', 2).some((ref) => ref.startsWith('SEL.'))).toBe(true);
});

test('in minimum mode interrupt acknowledge comes from the processor', () => {
  const machine = elaborated(`${HEAD}
parts:${PARTS}
  PIC: { type: "8259" }
buses:
  main: { processor: CPU, members: [CLK, LOW, TOP, ROM, RAM, PIC], selects: { memory: MEMSEL, ports: IOSEL } }
memory: [{ RAM: 32 KiB at 0 }, { ROM: 32 KiB at 0xF8000 }]
ports: [{ PIC: 2 at 0x40 }]
nets: { interrupt: [PIC.INT, CPU.INTR] }
ties: [{ low: [CPU.HOLD], through: 10 kohm }]
`);
  expect(machine.problems).toEqual([]);
  expect(machine.pins('/INTA')).toEqual(['CPU./INTA', 'PIC./INTA']);
  expect(machine.at('PIC./SP//EN')).not.toBe('main');
});

describe('ports made of buffers and latches behind a decoder of fixed function', () => {
  const build = (port: string, more = ''): ReturnType<typeof elaborated> =>
    elaborated(
      `${HEAD}
parts:${PARTS}
  PORT: ${port}
  G2: { type: "7432" }
buses:
  main: { processor: CPU, members: [CLK, LOW, TOP, ROM, RAM, PORT${more === '' ? '' : ', MORE'}], selects: { memory: MEMSEL, ports: IOSEL } }
memory: [{ RAM: 32 KiB at 0 }, { ROM: 32 KiB at 0xF8000 }]
ports: [{ PORT: 1 at 0x40 }${more === '' ? '' : ', { MORE: 2 at 0x60 }'}]
ties: [{ low: [CPU.HOLD], through: 10 kohm }]
`.replace('  G2:', `${more}  G2:`),
    );

  test('a buffer with two enables for all outputs takes the select at one and the strobe at the other', () => {
    const machine = build('{ type: "74541", pins: { A1-A8: GND } }');
    expect(machine.problems).toEqual([]);
    expect(machine.pins('/PORT')).toEqual(['IOSEL./Y0', 'PORT./OE1']);
    expect(machine.at('PORT./OE2')).toBe('/RD');
  });

  test('a buffer whose enables are for half the outputs each takes select and strobe at both', () => {
    const machine = build('{ type: "74244", pins: { 1A1-1A4: GND, 2A1-2A4: GND } }');
    expect(machine.problems).toEqual([]);
    expect(machine.at('PORT./1OE')).toBe('/PORT');
    expect(machine.at('PORT./2OE')).toBe('/PORT');
    expect(machine.at('IOSEL./G2A')).toBe('/RD');
  });

  test('where the decoder serves others too, a gate joins select and strobe', () => {
    const machine = build('{ type: "74574" }', '  MORE: { type: "8259" }\n');
    expect(machine.problems).toEqual([]);
    expect(machine.pins('/PORT-address').filter((ref) => ref.startsWith('IOSEL.'))).toHaveLength(1);
    const gate = machine.pins('/PORT').find((ref) => ref.startsWith('G2.'))!;
    expect(machine.pins('/PORT')).toContain('PORT.CLK');
    const inputs = ['A', 'B'].map((pin) => machine.at(gate.replace('Y', pin)));
    expect(inputs.sort()).toEqual(['/PORT-address', '/WR']);
  });
});

test('a decoder, a gate and a device that are exchanged for faster ones are wired like those before them', () => {
  const machine = elaborated(`${HEAD}
parts:${PARTS}
  SEL: { type: 16V8, grade: 15 ns }
  PORT: { type: "8255" }
buses:
  main: { processor: CPU, members: [CLK, LOW, TOP, ROM, RAM, PORT], selects: { memory: MEMSEL, ports: SEL } }
memory: [{ RAM: 32 KiB at 0 }, { ROM: 32 KiB at 0xF8000 }]
ports: [{ PORT: 4 at 0x40 }]
nets: { reset: [CLK.RESET, PORT.RESET], slow: [PORT.PA0] }
logic: { quick: ~slow }
ties: [{ low: [CPU.HOLD], through: 10 kohm }]
stages:
  - { stage: one, adds: [SUP, CLK, XTAL, XC1, XC2, CPU, LOW, TOP, ROM, RAM, MEMSEL, G1, SEL, PORT] }
  - stage: two
    replaces:
      MEMSEL: { type: "74138", family: AC }
      SEL: { type: 16V8, grade: 10 ns }
      G1: { type: "7404", family: AC }
`);
  expect(machine.findings.filter((finding) => finding.code.startsWith('netlist/'))).toEqual([]);
  for (const part of ['MEMSEL', 'SEL', 'G1'])
    for (const pin of machine.design.netlists[1]!.pins.filter((each) => each.ref.startsWith(`${part}.`)))
      expect(machine.at(pin.ref, 2), pin.ref).toBe(machine.at(pin.ref, 1));
  expect(machine.design.netlists[2]!.parts.find((part) => part.name === 'SEL')!.grade).toBe('10 ns');
});

test('a crystal is bought and put in by its frequency, every digit of it', () => {
  const crystal = elaborated(GROWN).design.netlists[1]!.parts.find((part) => part.name === 'XTAL');
  expect(crystal?.value).toBe('14.7456 MHz');
});
