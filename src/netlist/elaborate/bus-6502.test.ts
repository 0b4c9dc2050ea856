// The bus of the 65C02: strobes made from PHI2 and R/W for memories and strobe parts, PHI2 and R/W themselves for parts of its
// own family, and pins that stand for nets. What a strobe has to be follows from the W65C02S data sheet's timing (data are
// valid while PHI2 is high; R/W high is a read).

import { describe, expect, test } from 'vitest';
import { elaborated } from '../../../tests/support/netlists.ts';

const machine = (
  parts: string,
  members: string,
  memory: string,
  more = '',
  ram = '24 KiB',
): ReturnType<typeof elaborated> =>
  elaborated(`
machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
  SUP: { type: DS1813-5, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 1.8432 MHz, pins: { OUT: can } }
  INV: { type: 74HCT14, pins: { 1A: can, 1Y: phi2 } }
  CPU: { type: 65C02, grade: 14 MHz, pins: { PHI2: phi2, /RES: /reset } }
  ROM: { type: 28C256, holds: rom.hex }
  RAM: { type: "62256" }
  PULLS: { type: resistor-network-9, value: 4.7 kohm, pins: { R1-R8: D0-D7, COM: main } }
${parts}
buses: { main: { processor: CPU, members: [ROM, RAM, ${members}], selects: SEL } }
memory: [{ RAM: ${ram} at 0 }, ${memory}, { ROM: 32 KiB at 0x8000 }]
${more}
`);

describe('a programmable decoder that makes the strobes too', () => {
  const made = machine(
    `  SEL: { type: 22V10 }
  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }
  UART: { type: 16C550, pins: { XIN: phi2, MR: reset } }
  KEYS: { type: "74541", pins: { A1-A8: GND } }
  LAMPS: { type: "74273", pins: { /CLR: /reset } }`,
    'VIA, UART, KEYS, LAMPS',
    '{ VIA: 16 at 0x6000 }, { UART: 8 at 0x6800 }, { KEYS: 1 at 0x7000 }, { LAMPS: 1 at 0x7800 }',
    'logic: { reset: high when low(/reset) }',
  );
  const plan = made.design.devices.find((device) => device.part === 'SEL')!;

  test('is found clean', () => {
    expect(made.problems).toEqual([]);
  });

  test('strobes are qualified by PHI2', () => {
    const formulas = new Map(plan.outputs.map((output) => [output.net, output.formula]));
    expect(formulas.get('/RD')).toBe('~(phi2 & R/W)');
    expect(formulas.get('/WR')).toBe('~(phi2 & ~R/W)');
    expect(made.pins('/RD').filter((pin) => !pin.startsWith('SEL.'))).toEqual(['ROM./OE', 'RAM./OE', 'UART./RD']);
    expect(made.pins('/WR').filter((pin) => !pin.startsWith('SEL.'))).toEqual(['RAM./WE', 'UART./WR']);
  });

  test('parts of the family take PHI2 and R/W', () => {
    expect(made.at('VIA.PHI2')).toBe('phi2');
    expect(made.at('VIA.R/W')).toBe('R/W');
  });

  test('ports have the strobe in their selects, one read and one write', () => {
    const when = new Map(plan.outputs.map((output) => [output.net, output.select?.when]));
    expect(when.get('/KEYS')).toBe('~/RD');
    expect(when.get('/LAMPS')).toBe('~/WR');
    expect(when.get('/VIA')).toBe('');
    expect(made.at('KEYS./OE2')).toBe('GND');
  });
});

test('gates make the strobes where the decoder is a fixed one', () => {
  const made = machine(
    '  SEL: { type: "74139" }\n  G1: { type: "7400" }\n  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }',
    'VIA',
    '{ VIA: 16 at 0x4000 }',
    '',
    '16 KiB',
  );
  expect(made.problems).toEqual([]);
  const read = made.pins('/RD').find((pin) => pin.startsWith('G1.'))!;
  expect(['A', 'B'].map((pin) => made.at(read.replace('Y', pin))).sort()).toEqual(['R/W', 'phi2']);
  const write = made.pins('/WR').find((pin) => pin.startsWith('G1.'))!;
  const inner = ['A', 'B'].map((pin) => made.at(write.replace('Y', pin))!).find((net) => net !== 'phi2')!;
  const inverter = made.pins(inner).find((pin) => /^(?:G1|INV)\.\dY$/.test(pin))!;
  expect(made.at(inverter.replace('Y', 'A'))).toBe('R/W');
  // Half of the decoder has the whole upper half of the addresses, the other half the quarters of the lower.
  expect(made.at('ROM./CE')).toBe('/ROM');
  expect(new Set(made.design.devices.map((device) => device.part))).toEqual(new Set(['SEL']));
});

test('a transceiver on the data lines is turned by R/W and enabled by PHI2', () => {
  const made = machine(
    '  SEL: { type: 22V10 }\n  BUF: { type: "74245" }\n  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }',
    'BUF, VIA',
    '{ VIA: 16 at 0x6000 }',
  );
  expect(made.problems).toEqual([]);
  const formulas = new Map(
    made.design.devices.flatMap((device) => device.outputs.map((output) => [output.net, output.formula] as const)),
  );
  // DIR high drives from A, the processor's side, to B.
  expect(formulas.get('DT//R')).toBe('~R/W');
  expect(formulas.get('/DEN')).toBe('~phi2');
  expect(made.at('BUF.DIR')).toBe('DT//R');
  expect(made.at('BUF.A1')).toBe(made.at('CPU.D0'));
  expect(made.at('BUF.B1')).toBe(made.at('ROM.I/O0'));
  expect(made.at('CPU.D0')).not.toBe(made.at('ROM.I/O0'));
});

test('resistors may be joined by pin number, alike elements by ranges with the number in front', () => {
  const made = machine(
    `  SEL: { type: 22V10 }
  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, PB0-PB7: lamp0-lamp7, CA1: slow } }
  DRIVE: { type: ULN2803, pins: { 1B-8B: lamp0-lamp7, 1C-8C: /bar0-/bar7, COM: main } }
  BAR: { type: led-bar-10, through: 470 ohm, pins: { A1-A8: main, K1-K8: /bar0-/bar7 } }
  CONTACT: { type: pin-header-1x2, pins: { P1: /contact, P2: GND } }
  PULL: { type: resistor, value: 10 kohm, pins: { "1": /contact, "2": main } }
  SLOW-R: { type: resistor, value: 10 kohm, pins: { "1": /contact, "2": slow } }
  SLOW-C: { type: capacitor, value: 100 nF, pins: { "1": slow, "2": GND } }`,
    'VIA',
    '{ VIA: 16 at 0x6000 }',
  );
  // The input behind a resistor from a pulled contact has a level.
  expect(made.findings.filter((finding) => finding.code === 'check/floating-input')).toEqual([]);
  expect(made.pins('/contact')).toEqual(['CONTACT.P1', 'PULL.A', 'SLOW-R.A']);
  expect(made.pins('lamp7')).toEqual(['VIA.PB7', 'DRIVE.8B']);
  expect(made.at('DRIVE.8C')).toBe('/bar7');
});

test('a resistor in series with each segment stands on the side that segments have to themselves', () => {
  for (const [type, side] of [
    ['digit-7seg-cc', 'GND'],
    ['digit-7seg-ca', 'main'],
  ] as const) {
    const made = elaborated(`
machine: Test
supplies: { main: { volts: 5 V } }
parts:
  SOCKET: { type: pin-header-1x8, pins: { P1-P8: seg1-seg8 } }
  DIGIT:
    type: ${type}
    through: 330 ohm
    pins: { A: seg1, B: seg2, C: seg3, D: seg4, E: seg5, F: seg6, G: seg7, DP: seg8, COM: ${side} }
`);
    const resistors = made.design.netlists[1]!.parts.filter((part) => part.implied?.kind === 'series');
    expect(resistors.map((part) => part.name).sort(), type).toEqual(
      ['A', 'B', 'C', 'D', 'DP', 'E', 'F', 'G'].map((name) => `R-DIGIT-${name}`),
    );
    expect(made.at('DIGIT.COM@3')).toBe(side);
    expect(made.at('DIGIT.A')).toBe('DIGIT.A');
  }
});

test('a lead on a pin that nothing else is joined to makes its net', () => {
  const made = machine(
    '  SEL: { type: 22V10 }\n  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }',
    'VIA',
    '{ VIA: 16 at 0x6000 }',
    `stages:
  - { stage: one, adds: [SUP, OSC, INV, CPU, ROM, RAM, PULLS, SEL, VIA], leads: { pod 1: [CPU.SYNC, A0], until: two } }
  - { stage: two, moves: VIA }`,
  );
  expect(made.problems).toEqual([]);
  expect(made.pins('SYNC')).toEqual(['CPU.SYNC']);
  expect(made.design.leads.map((lead) => [lead.net, lead.channel])).toEqual([
    ['SYNC', 0],
    ['A0', 1],
  ]);
});

test('a class of a pin that nothing else is joined to does no harm', () => {
  const made = machine(
    '  SEL: { type: 22V10 }\n  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }',
    'VIA',
    '{ VIA: 16 at 0x6000 }',
    'classes: { watched: { nets: CPU.SYNC, colour: VT, probe-hole: true } }',
  );
  expect(made.problems).toEqual([]);
  expect(made.pins('SYNC')).toEqual(['CPU.SYNC']);
});
