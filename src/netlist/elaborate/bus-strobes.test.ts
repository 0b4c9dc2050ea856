// Buses with strobes for reads and writes: parts of the E-clocked kind on them, selects of both polarities behind decoders of
// fixed function, shared pins of the 8085. Levels follow from the Z80's and the 8085's bus timing in their data sheets.

import { describe, expect, test } from 'vitest';
import { type Elaborated, elaborated, z80Machine } from '../../../tests/support/netlists.ts';

const formulasOf = (machine: Elaborated): Map<string, string | undefined> =>
  new Map(
    machine.design.devices.flatMap((device) => device.outputs.map((output) => [output.net, output.formula] as const)),
  );

const codes = (machine: Elaborated): readonly string[] =>
  machine.findings.filter((finding) => finding.severity === 'error').map((finding) => finding.code);

describe('an E-clocked part on the Z80', () => {
  const parts = '  SEL: { type: 22V10 }\n  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }';

  test('at a port gets E from port cycles, R/W from the write strobe', () => {
    const machine = z80Machine(
      parts,
      'VIA',
      'SEL',
      'memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]\nports: [{ VIA: 16 at 0x10 }]',
    );
    expect(codes(machine)).toEqual([]);
    expect(machine.at('VIA.PHI2')).toBe('E');
    expect(machine.at('VIA.R/W')).toBe('/WR');
    expect(formulasOf(machine).get('E')).toBe('~/IORQ & (~/RD | ~/WR)');
  });

  test('in memory gets E from memory cycles', () => {
    const machine = z80Machine(
      parts,
      'VIA',
      'SEL',
      'memory: [{ ROM: 32 KiB at 0 }, { RAM: 16 KiB at 0x8000 }, { VIA: 16 at 0xC000 }]',
    );
    expect(codes(machine)).toEqual([]);
    expect(machine.at('VIA.PHI2')).toBe('E-memory');
    expect(formulasOf(machine).get('E-memory')).toBe('~/MREQ & (~/RD | ~/WR)');
  });
});

test('a transceiver on the Z80 looks inwards for reads and for the vector of an interrupt', () => {
  const machine = z80Machine(
    '  SEL: { type: 22V10 }\n  BUF: { type: "74245" }',
    'BUF',
    'SEL',
    'memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]',
  );
  expect(codes(machine)).toEqual([]);
  expect(formulasOf(machine).get('DT//R')).toBe('/RD & (/IORQ | /M1)');
  expect(formulasOf(machine).get('/DEN')).toBe('/MREQ & /IORQ');
  expect(machine.at('BUF.A1')).toBe(machine.at('CPU.D0'));
});

describe('a select that is active high behind a decoder of fixed function', () => {
  test('is turned by a gate', () => {
    const machine = z80Machine(
      '  MEMSEL: { type: "74139" }\n  IOSEL: { type: "74138" }\n  G1: { type: "7404" }\n  UART: { type: 16C550, pins: { XIN: clock, MR: reset, /CS2: GND } }',
      'UART',
      '{ memory: MEMSEL, ports: IOSEL }',
      'memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]\nports: [{ UART: 8 at 0x10 }]\nlogic: { reset: high when low(/reset) }',
    );
    expect(codes(machine)).toEqual([]);
    expect(machine.at('UART.CS0')).toBe('UART-select');
    const gate = machine.pins('UART-select').find((pin) => pin.startsWith('G1.'))!;
    expect(machine.at(gate.replace('Y', 'A'))).toBe('/UART-select-address');
    expect(machine.pins('/UART-select-address').some((pin) => pin.startsWith('IOSEL./Y'))).toBe(true);
  });

  test('of a transparent latch is joined with the strobe by a NOR', () => {
    const machine = z80Machine(
      '  MEMSEL: { type: "74139" }\n  IOSEL: { type: "74138" }\n  G1: { type: "7402" }\n  LAMPS: { type: "74573" }',
      'LAMPS',
      '{ memory: MEMSEL, ports: IOSEL }',
      'memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]\nports: [{ LAMPS: 1 at 0x10 }]',
    );
    expect(codes(machine)).toEqual([]);
    const gate = machine.pins('LAMPS-select').find((pin) => pin.startsWith('G1.'))!;
    expect(['A', 'B'].map((pin) => machine.at(gate.replace('Y', pin))).sort()).toEqual([
      '/LAMPS-select-address',
      '/WR',
    ]);
  });
});

test('the 8085: low address through one latch, memory and ports told apart by IO/M', () => {
  const machine = elaborated(`
machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
  SUP: { type: DS1233-5, pins: { /RST: /reset } }
  CPU: { type: "8085", pins: { /RESETIN: /reset, X1: x1, X2: x2 } }
  XTAL: { type: crystal, rate: 6 MHz, pins: { A: x1, B: x2 } }
  LOW: { type: "74573" }
  ROM: { type: 28C256, holds: rom.hex }
  RAM: { type: "62256" }
  PORT: { type: "8255" }
  MEMSEL: { type: "74138" }
  IOSEL: { type: "74138" }
buses: { main: { processor: CPU, members: [LOW, ROM, RAM, PORT], selects: { memory: MEMSEL, ports: IOSEL } } }
memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]
ports: [{ PORT: 4 at 0x40 }]
nets: { reset: [CPU.RESETOUT, PORT.RESET] }
`);
  expect(codes(machine)).toEqual([]);
  expect(machine.pins('AD0')).toEqual(['CPU.AD0', 'LOW.1D', 'ROM.I/O0', 'RAM.I/O0', 'PORT.D0']);
  expect(machine.pins('A0')).toEqual(['LOW.1Q', 'ROM.A0', 'RAM.A0', 'PORT.A0']);
  expect(machine.pins('ALE')).toEqual(['CPU.ALE', 'LOW.LE']);
  const space = machine.at('MEMSEL./G2A');
  expect(machine.at('IOSEL.G1')).toBe(space);
  expect(machine.pins(space!)[0]).toMatch(/^CPU\.IO/);
});
