import { expect, test } from 'vitest';
import { type Finding, lineStarts, positionAt } from '../base/index.ts';
import { type Machine, readMachine } from './index.ts';

const SAMPLE = `machine: Tide clerk
about: Works out the next tides for a harbour office and prints them on a terminal.
supplies:
  main: { volts: 5.0 V, tolerance: 5 %, limit: 1 A }
  # where it enters the boards is a choice of the build: boards.yaml
clocks:
  cpu: { from: OSC.OUT, rate: 3.6864 MHz }
defaults: { family: HCT, pull: 10 kohm, bypass: 100 nF, bulk: 47 uF }
parts:
  CPU:  { type: Z80, grade: 6 MHz CMOS }
  ROM:  { type: 28C256, grade: 150 ns, holds: firmware/tide.hex, comes-out: true }
  RAM:  { type: "62256", grade: 70 ns }
  SEL:  { type: 16V8, grade: 15 ns }
  UART: { type: 16C550, grade: standard, pins: { XIN: cpu-clock, MR: reset, INTR: open } }
  LINE: { type: serial-header-6, pins: { RXD: serial-out, TXD: serial-in, CTS: /rts, RTS: /cts } }
  RESET-BUTTON: { type: push-button, pins: { A: /reset, B: GND } }
  OSC:  { type: oscillator-can, rate: 3.6864 MHz }
  SUP:  { type: DS1233-10, pins: { /RST: /reset } }       # exact types: pinouts of such parts differ
buses:
  main: { processor: CPU, members: [ROM, RAM, UART], selects: SEL }
memory:
  - { ROM: 32 KiB at 0x0000 }
  - { RAM: 32 KiB at 0x8000 }
ports:
  - { UART: 8 at 0x10 }
nets:
  cpu-clock: [OSC.OUT, CPU.CLK]
  /reset: [CPU./RESET]
  serial-in: [UART.SIN]
  serial-out: [UART.SOUT]
  /rts: [UART./RTS]
  /cts: [UART./CTS]
ties:
  - { high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSRQ], through: 10 kohm }
logic:
  reset: high when low(/reset)          # active-high reset for the UART; the tool finds a unit or a device pin
classes:
  strobes: { nets: [/RD, /WR], colour: VT, longest: 80 mm, probe-hole: true }
  clock:   { nets: [cpu-clock], colour: WH, longest: 60 mm }
stages:
  - stage: supply and reset
    adds: [SUP, RESET-BUTTON]
    prove:
      - { expect: { supply: 4.75 V to 5.25 V } }
      - { given: { supply: 4.2 V }, expect: { /reset: low } }
      - { given: { press: RESET-BUTTON }, expect: { /reset: low for 100 ms to 500 ms } }
  - stage: clock
    adds: [OSC]
    prove: [{ expect: { cpu-clock: 3.6864 MHz within 0.1 % } }]
  - stage: free run
    adds: [CPU]
    temporary: [{ hold: D7-D0, at: 0x00, through: 2.2 kohm, until: memory }]
    leads: { pod 1: [A7-A0], pod 2: [cpu-clock, /RD, /M1, /reset], until: terminal }
    prove: [{ expect: free run }]
  - stage: memory
    adds: [ROM, RAM, SEL]
    programs: { SEL: logic, ROM: self-test }
    prove: [{ expect: self-test passes }]
  - stage: terminal
    adds: [UART, LINE]
    programs: { ROM: firmware }
    prove: [{ expect: { terminal says: "READY, TIDES" } }]
`;

/** Reads files given as text: a single text is the main file. */
function read(input: string | Readonly<Record<string, string>>): {
  value: Machine;
  findings: readonly Finding[];
  shown: string[];
} {
  const files = typeof input === 'string' ? { 'machine.yaml': input } : input;
  const { value, findings } = readMachine('machine.yaml', { read: (path) => files[path] });
  const shown = findings.map((finding) => {
    const { file, start, end } = finding.where[0]!;
    const text = files[file] ?? '';
    const at = positionAt(lineStarts(text), start);
    const place = file === 'machine.yaml' ? '' : `${file}:`;
    return `${place}${at.line}:${at.column} ${finding.code} [${text.slice(start, end)}] ${finding.message}`;
  });
  return { value, findings, shown };
}

/** A machine file of two parts, with lines put in. */
function small(lines: string): string {
  return `machine: Small
supplies: { main: { volts: 5 V } }
parts:
  CPU: { type: Z80 }
  ROM: { type: 28C256 }
${lines}`;
}

test('the sample machine reads without findings', () => {
  const { value, shown } = read(SAMPLE);
  expect(shown).toEqual([]);
  expect(value.parts.map((part) => part.name)).toEqual([
    'CPU',
    'ROM',
    'RAM',
    'SEL',
    'UART',
    'LINE',
    'RESET-BUTTON',
    'OSC',
    'SUP',
  ]);
  expect(value.stages.map((stage) => stage.adds.map((ref) => ref.name))).toEqual([
    ['SUP', 'RESET-BUTTON'],
    ['OSC'],
    ['CPU'],
    ['ROM', 'RAM', 'SEL'],
    ['UART', 'LINE'],
  ]);
  expect(value.map.map(({ space, part, at, bytes }) => [space, part.name, at, bytes])).toEqual([
    ['memory', 'ROM', 0, 32768],
    ['memory', 'RAM', 32768, 32768],
    ['ports', 'UART', 16, 8],
  ]);
  const strap = value.stages[2]!.temporary[0]!;
  expect(strap.nets.map((net) => net.name)).toEqual(['D7', 'D6', 'D5', 'D4', 'D3', 'D2', 'D1', 'D0']);
  expect([strap.value, strap.throughOhm, strap.until?.name]).toEqual([0, 2200, 'memory']);
  expect(value.stages[2]!.leads.map((lead) => [lead.pod, lead.nets.length, lead.until?.name])).toEqual([
    ['pod 1', 8, 'terminal'],
    ['pod 2', 4, 'terminal'],
  ]);
  expect(value.stages[4]!.prove[0]!.expect).toMatchObject([{ key: 'terminal says', value: 'READY, TIDES' }]);
});

test('ranges are spelled out bit by bit, in the order written', () => {
  const { value, shown } = read(small('nets:\n  D7-D0: [CPU.D7-D0, ROM.D0-D7]\n'));
  expect(shown).toEqual([]);
  expect(value.nets.map((net) => `${net.name}: ${net.pins.map((pin) => `${pin.part}.${pin.pin}`).join(' ')}`)).toEqual([
    'D7: CPU.D7 ROM.D0',
    'D6: CPU.D6 ROM.D1',
    'D5: CPU.D5 ROM.D2',
    'D4: CPU.D4 ROM.D3',
    'D3: CPU.D3 ROM.D4',
    'D2: CPU.D2 ROM.D5',
    'D1: CPU.D1 ROM.D6',
    'D0: CPU.D0 ROM.D7',
  ]);
});

test('unequal ranges show both lengths', () => {
  expect(read(small('nets:\n  A7-A0: [CPU.A6-A0]\n')).shown).toEqual([
    '7:11 machine/unequal-ranges [CPU.A6-A0] The two sides differ in length: A7-A0 has 8, CPU.A6-A0 has 7.',
  ]);
  expect(read(small('nets:\n  a: [CPU.A6-A0]\n')).shown).toEqual([
    '7:7 machine/unequal-ranges [CPU.A6-A0] The two sides differ in length: a is one, CPU.A6-A0 has 7.',
  ]);
});

test('values that YAML misreads are caught wherever a name stands', () => {
  const lines = `nets:
  10: [CPU.A0]
  a: [10]
  b: 12
memory: [{ 62256: 32 KiB at 0 }]
stages:
  - { stage: 1E1, adds: [8255] }
`;
  expect(read(small(lines)).shown.filter((line) => line.includes('misread'))).toEqual([
    '7:3 yaml/misread-value [10] YAML reads the name 10 as something other than text.',
    '8:7 yaml/misread-value [10] YAML reads 10 as the number 10, but here a text is wanted.',
    '9:6 yaml/misread-value [12] YAML reads 12 as the number 12, but here a text is wanted.',
    '10:12 yaml/misread-value [62256] YAML reads the name 62256 as something other than text.',
    '12:14 yaml/misread-value [1E1] YAML reads 1E1 as the number 10, but here a text is wanted.',
    '12:26 yaml/misread-value [8255] YAML reads 8255 as the number 8255, but here a text is wanted.',
  ]);
});
