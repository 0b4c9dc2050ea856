// Maps from the machine file to proved fuses: an overlay by a latch bit, several ranges of one part with a hole between, mirrors
// forbidden and allowed, and ports that keep quiet while another master has the bus. Who answers is read from the map that the
// fuses make; what is expected is worked out here from the ranges as they are written.

import { expect, test } from 'vitest';
import { projectOf } from '../../tests/support/library.ts';
import { Build, decodeVerb, type DiscreteForm, type MapReport } from './index.ts';

const machine = (more: string): string => `machine: Weir by night
supplies: { main: { volts: 5 V } }
defaults: { family: HCT, pull: 10 kohm }
parts:
  SUP: { type: DS1813-5, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 1 MHz, pins: { OUT: clock } }
  CPU: { type: Z80, grade: 6 MHz CMOS, pins: { CLK: clock, /RESET: /reset } }
  ROM: { type: 28C256, grade: 150 ns, holds: rom.hex }
  RAM: { type: "62256", grade: 70 ns }
  LATCH: { type: "74273", pins: { Q1: rom-off } }
${more}`;

interface Decoded {
  readonly errors: readonly string[];
  readonly equations: readonly string[];
  at(space: string, address: number): string;
}

function decoded(text: string): Decoded {
  const result = decodeVerb(new Build(projectOf(text), 'first'), { stage: 1, out: 'fuses' });
  const { map } = result.value as { map: MapReport };
  return {
    errors: result.findings
      .filter(({ severity }) => severity === 'error')
      .map(({ code, message }) => `${code} ${message}`),
    equations: result.text.split('\n').filter((line) => line.includes(' = ')),
    at: (name, address) => {
      const segments = map.spaces.find((space) => space.name === name)!.segments;
      const segment = segments.find((one) => one.from <= address && address <= one.to)!;
      return (
        segment.answers
          .map((one) => `${one.part}${one.is === 'mirror' ? '*' : ''}${one.when === undefined ? '' : ` (${one.when})`}`)
          .join(' + ') || '-'
      );
    },
  };
}

test('an overlay by a latch bit, and a part in two ranges with a hole', () => {
  const made = decoded(
    machine(`  SEL: { type: 22V10, grade: 15 ns }
buses: { main: { processor: CPU, members: [ROM, RAM, LATCH], selects: SEL } }
memory:
  - { ROM: 16 KiB at 0x0000, when: low(rom-off) }
  - { RAM: 16 KiB at 0x0000, when: high(rom-off) }
  - { RAM: [8 KiB at 0x8000, 8 KiB at 0xC000] }
ports: [{ LATCH: 1 at 0x40 }]
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
`),
  );
  expect(made.errors).toEqual([]);
  for (let address = 0; address < 0x10000; address += 0x400) {
    const inRam = (address >= 0x8000 && address < 0xa000) || (address >= 0xc000 && address < 0xe000);
    const wanted = address < 0x4000 ? 'ROM (~rom-off) + RAM (rom-off)' : inRam ? 'RAM' : '-';
    expect([address, made.at('memory', address)]).toEqual([address, wanted]);
  }
});

test('mirrors: forbidden ones are decoded to the last line, allowed ones save inputs, unsaid ones are as the lines give', () => {
  const ports = (mirrors: string): Decoded =>
    decoded(
      machine(`  KEYS: { type: "74541", pins: { A1-A8: GND } }
  SEL: { type: 22V10, grade: 15 ns }
buses: { main: { processor: CPU, members: [ROM, RAM, LATCH, KEYS], selects: SEL } }
memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]
ports: [{ LATCH: 1 at 0x40${mirrors} }, { KEYS: 1 at 0x80${mirrors} }]
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
`),
    );
  const forbidden = ports(', mirrors: forbidden');
  expect(forbidden.errors).toEqual([]);
  for (let port = 0; port < 256; port++)
    expect([port, forbidden.at('ports', port)]).toEqual([
      port,
      port === 0x40 ? 'LATCH (~/WR)' : port === 0x80 ? 'KEYS (~/RD)' : '-',
    ]);
  const allowed = ports(', mirrors: allowed');
  expect(allowed.errors).toEqual([]);
  expect(allowed.at('ports', 0x40)).toContain('LATCH');
  expect(allowed.at('ports', 0x80)).toContain('KEYS');
  expect(allowed.equations.join('\n').length).toBeLessThan(forbidden.equations.join('\n').length);
  // Never two at one address in one kind of cycle.
  for (let port = 0; port < 256; port++)
    expect(allowed.at('ports', port)).not.toMatch(/~\/RD.*\+.*~\/RD|~\/WR.*\+.*~\/WR/);
});

test('while another master has the bus no port answers but its own', () => {
  const made = decoded(
    machine(`  DMA: { type: "8237", pins: { HRQ: hold } }
  UART: { type: 16C550, pins: { XIN: clock, MR: GND } }
  SEL: { type: 22V10, grade: 15 ns }
buses: { main: { processor: CPU, members: [ROM, RAM, LATCH, UART, DMA], selects: SEL, masters: { DMA: low(/BUSACK) } } }
memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]
ports: [{ LATCH: 1 at 0x40 }, { UART: 8 at 0x10 }, { DMA: 16 at 0x20 }]
nets: { /BUSACK: CPU./BUSACK }
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
`),
  );
  const equation = (net: string): string => made.equations.find((line) => line.includes(` ${net} =`)) ?? '';
  expect(equation('/LATCH')).toContain('/BUSACK');
  expect(equation('/UART')).toContain('/BUSACK');
  expect(equation('/UART')).not.toContain('~/BUSACK');
  expect(equation('/DMA')).not.toContain('/BUSACK');
  expect(equation('/RAM')).not.toContain('/BUSACK');
});

test('the same selects of decoders and gates: what they take beside the device', () => {
  // An aligned half each with one strobe: half of a 74139. Figures of the 74HCT139 and the 16V8 are those of their records.
  const text = machine(`  SEL: { type: 16V8, grade: 15 ns }
buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }
memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }]
`);
  const result = decodeVerb(new Build(projectOf(text), 'first'), { stage: 1, out: 'fuses' });
  const [device] = (result.value as { devices: { discrete: DiscreteForm | null }[] }).devices;
  expect(device!.discrete!.packages).toEqual([{ type: '74HCT139', count: 1 }]);
  expect([device!.discrete!.chips, device!.discrete!.device.chips, device!.discrete!.device.delayNs]).toEqual([
    1, 1, 15,
  ]);
  expect(device!.discrete!.delayNs!).toBeGreaterThan(15);
  expect(device!.discrete!.currentMa!).toBeLessThan(device!.discrete!.device.currentMa!);
});
