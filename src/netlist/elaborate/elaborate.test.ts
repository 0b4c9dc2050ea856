// Elaboration from machine text to nets. What is expected of buses follows the data sheets' pin functions; the rest, the
// rules of the machine file.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Elaborated, elaborated } from '../../../tests/support/netlists.ts';
import { evaluate, type Formula, parseFormula, printFormula } from '../../base/index.ts';

const HEAD = `machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
`;
const Z80 = `  CPU: { type: Z80, grade: 4 MHz CMOS }
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 2 MHz }
`;
const NETS = 'nets: { /reset: [CPU./RESET], cpu-clock: [OSC.OUT, CPU.CLK] }\n';
const MEMORIES = `  ROM: { type: 28C256, grade: 150 ns, holds: a.hex }
  RAM: { type: "62256", grade: 70 ns }
`;

/** Pins of a part and the nets they are in, for the pins named. */
function at(machine: Elaborated, part: string, pins: string, stage?: number): string {
  return pins
    .split(' ')
    .map((pin) => `${pin}=${machine.at(`${part}.${pin}`, stage) ?? '?'}`)
    .join(' ');
}

/** Resistors that no line names: name, value, nets. */
function resistors(machine: Elaborated, stage = machine.design.netlists.length - 1): string[] {
  const netlist = machine.design.netlists[stage]!;
  return netlist.parts
    .filter((part) => part.implied !== undefined && ['pull', 'series', 'strap'].includes(part.implied.kind))
    .map(
      (part) =>
        `${part.name} ${part.value} ${part.pins.map((id) => netlist.nets[netlist.pins[id]!.net]!.name).join(' - ')}`,
    );
}

describe('a Z80 bus', () => {
  const machine = elaborated(
    `${HEAD}${Z80}${MEMORIES}  SEL: { type: "74138" }
buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }
memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]
${NETS}`,
  );

  test('joins address, data and strobes, ties the write pin of a ROM, and is found clean', () => {
    expect(machine.problems).toEqual([]);
    for (let bit = 0; bit < 15; bit++)
      expect(machine.pins(`A${bit}`)).toEqual([`CPU.A${bit}`, `ROM.A${bit}`, `RAM.A${bit}`]);
    for (let bit = 0; bit < 8; bit++)
      expect(machine.pins(`D${bit}`)).toEqual([`CPU.D${bit}`, `ROM.I/O${bit}`, `RAM.I/O${bit}`]);
    expect(machine.pins('/RD')).toEqual(['CPU./RD', 'ROM./OE', 'RAM./OE']);
    expect(machine.pins('/WR')).toEqual(['CPU./WR', 'RAM./WE']);
    expect(machine.at('ROM./WE')).toBe('main');
  });

  test('selects come from the address line that tells the regions apart, qualified by /MREQ', () => {
    expect(at(machine, 'SEL', 'A B C /G2A /G2B G1 /Y0 /Y1 /Y2')).toBe(
      'A=A15 B=GND C=GND /G2A=/MREQ /G2B=GND G1=main /Y0=/ROM /Y1=/RAM /Y2=open',
    );
    expect(machine.pins('/ROM')).toEqual(['ROM./CE', 'SEL./Y0']);
  });

  test('required ties are made through the resistor that the record asks for', () => {
    expect(resistors(machine)).toEqual([
      'R-/WAIT 10 kohm /WAIT - main',
      'R-/INT 10 kohm /INT - main',
      'R-/NMI 10 kohm /NMI - main',
      'R-/BUSREQ 10 kohm /BUSREQ - main',
    ]);
  });

  test('every connection says which line made it', () => {
    const { pins } = machine.design.netlists[1]!;
    const origin = (ref: string): string | undefined => pins.find((pin) => pin.ref === ref)!.origin?.by;
    expect(['CPU./RESET', 'SUP./RST', 'ROM.A3', 'ROM./CE', 'ROM./WE', 'CPU.VCC'].map(origin)).toEqual([
      'net',
      'pins',
      'bus',
      'select',
      'required-tie',
      'supply',
    ]);
  });
});

describe('decoders', () => {
  const build = (parts: string, rest: string): Elaborated => elaborated(`${HEAD}${Z80}${parts}${rest}${NETS}`);

  test('half of a 74139 decodes, the other half is tied off', () => {
    const machine = build(
      `${MEMORIES}  SEL: { type: "74139" }\n`,
      'buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }\nmemory: [{ ROM: 16 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]\n',
    );
    expect(machine.problems).toEqual([]);
    expect(at(machine, 'SEL', '1A 1B /1G /1Y0 /1Y1 2A 2B /2G /2Y0')).toBe(
      '1A=A15 1B=GND /1G=/MREQ /1Y0=/ROM /1Y1=/RAM 2A=GND 2B=GND /2G=GND /2Y0=open',
    );
  });

  test('regions that are not one output each are refused, with the reason', () => {
    const machine = build(
      '  ROM: { type: 28C512, holds: a.hex }\n  RAM: { type: "62256", grade: 70 ns }\n  SEL: { type: "74138" }\n',
      'buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }\nmemory: [{ ROM: 48 KiB at 0 }, { RAM: 16 KiB at 0xC000 }]\n',
    );
    expect(machine.problems).toContainEqual(expect.stringMatching(/netlist\/decoder-does-not-fit .*one output each/));
  });

  test('a 16V8 gets the nets that its functions need, on the pins that the file leaves', () => {
    const machine = build(
      `${MEMORIES}  SEL: { type: 16V8, grade: 15 ns, pins: { I/O7: /RAM, I1: A15 } }\n`,
      'buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }\nmemory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]\n',
    );
    expect(machine.problems).toEqual([]);
    const plan = machine.design.devices.find((device) => device.part === 'SEL')!;
    expect(plan.outputs.map((output) => `${output.pin} ${output.net}`).sort()).toEqual(['I/O6 /ROM', 'I/O7 /RAM']);
    expect(plan.inputs.map((input) => input.net).sort()).toEqual(['/MREQ', 'A15']);
    expect(machine.pins('A15')).toEqual(['CPU.A15', 'SEL.I1']);
  });

  test('a second device takes the selects for which the first has no output left', () => {
    const latches = Array.from({ length: 9 }, (_, k) => `  P${k}: { type: "74574" }\n`).join('');
    const names = Array.from({ length: 9 }, (_, k) => `P${k}`);
    const machine = build(
      `${latches}  D1: { type: 16V8, grade: 15 ns, pins: { I/O0: A15, I/O1: A14, I/O2: A13, I/O3: A12 } }\n  D2: { type: 22V10, grade: 15 ns }\n`,
      `buses: { main: { processor: CPU, members: [${names.join(', ')}], selects: [D1, D2] } }\nports: [${names.map((name, k) => `{ ${name}: 1 at ${k} }`).join(', ')}]\n`,
    );
    expect(machine.findings.filter((finding) => finding.code.startsWith('netlist/'))).toEqual([]);
    const outputs = machine.design.devices.map((device) => [device.part, device.outputs.length]);
    expect(outputs).toEqual([
      ['D1', 4],
      ['D2', 5],
    ]);
  });

  test('a memory that fills the space needs no decoder', () => {
    const machine = build(
      '  RAM: { type: "628128", grade: 70 ns }\n',
      'buses: { main: { processor: CPU, members: [RAM] } }\nmemory: [{ RAM: 64 KiB at 0 }]\n',
    );
    // The seventeenth address pin has no line, and must not float.
    expect(at(machine, 'RAM', '/CS1 CS2 A15 A16')).toBe('/CS1=/MREQ CS2=main A15=A15 A16=GND');
  });

  test('without a decoder a part of the space is refused', () => {
    const machine = build(
      `${MEMORIES}`,
      'buses: { main: { processor: CPU, members: [ROM] } }\nmemory: [{ ROM: 32 KiB at 0 }]\n',
    );
    expect(machine.problems).toContainEqual(expect.stringContaining('netlist/no-decoder Nothing makes /ROM'));
  });
});

test('ports are made of registers, buffers and latches, with the strobe in the select', () => {
  const machine = elaborated(`${HEAD}${Z80}  A: { type: "74574" }
  B: { type: "74541", pins: { A1-A8: GND } }
  C: { type: "74273" }
  SEL: { type: 16V8, grade: 15 ns }
buses: { main: { processor: CPU, members: [A, B, C], selects: SEL } }
ports: [{ A: 1 at 0x10 }, { B: 1 at 0x10 }, { C: 1 at 0x20 }]
${NETS}`);
  expect(machine.problems.filter((line) => !line.includes('check/floating-bus'))).toEqual([]);
  expect(at(machine, 'A', '/OE CLK 1D 8D')).toBe('/OE=GND CLK=/A 1D=D0 8D=D7');
  expect(at(machine, 'B', '/OE1 /OE2 Y1 Y8')).toBe('/OE1=/B /OE2=GND Y1=D0 Y8=D7');
  expect(at(machine, 'C', '/CLR CLK 1D 8D')).toBe('/CLR=main CLK=/C 1D=D0 8D=D7');
  const when = machine.design.devices
    .find((device) => device.part === 'SEL')!
    .outputs.map((output) => `${output.net} ${output.select!.when}`);
  expect(when).toEqual(['/A ~/IORQ & ~/WR', '/B ~/IORQ & ~/RD', '/C ~/IORQ & ~/WR']);
});

describe('processors without read and write strobes', () => {
  test('a 65C02 bus gets strobes for memories, and R/W and phase 2 for its own peripherals', () => {
    const machine = elaborated(`${HEAD}  CPU: { type: 65C02 }
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  OSC: { type: oscillator-can, rate: 1 MHz }
${MEMORIES}  VIA: { type: "6522" }
  SEL: { type: 22V10, grade: 15 ns }
buses: { main: { processor: CPU, members: [ROM, RAM, VIA], selects: SEL } }
memory: [{ ROM: 32 KiB at 0x8000 }, { RAM: 16 KiB at 0 }, { VIA: 16 at 0x6000 }]
nets: { /reset: [CPU./RES, VIA./RES], cpu-clock: [OSC.OUT, CPU.PHI2] }
`);
    expect(machine.problems.filter((line) => line.startsWith('error'))).toEqual([]);
    expect(at(machine, 'VIA', 'PHI2 R/W RS0 D7')).toBe('PHI2=cpu-clock R/W=R/W RS0=A0 D7=D7');
    expect(at(machine, 'RAM', '/OE /WE')).toBe('/OE=/RD /WE=/WR');
    const made = machine.design.devices[0]!.outputs.filter((output) => output.formula !== undefined);
    expect(made.map((output) => `${output.net} = ${output.formula}`)).toEqual([
      '/RD = ~(cpu-clock & R/W)',
      '/WR = ~(cpu-clock & ~R/W)',
    ]);
  });

  test('an E-clocked part on a Z80 gets its E', () => {
    const machine = elaborated(`${HEAD}${Z80}  VIA: { type: "6522", pins: { /RES: /reset } }
  SEL: { type: 22V10, grade: 15 ns }
buses: { main: { processor: CPU, members: [VIA], selects: SEL } }
ports: [{ VIA: 16 at 0x20 }]
${NETS}`);
    expect(machine.problems.filter((line) => line.startsWith('error'))).toEqual([]);
    expect(at(machine, 'VIA', 'PHI2 R/W')).toBe('PHI2=E R/W=/WR');
    const made = machine.design.devices[0]!.outputs.find((output) => output.net === 'E')!;
    expect(made.formula).toBe('~/IORQ & (~/RD | ~/WR)');
  });
});

describe('logic', () => {
  const GATES = `  NAND: { type: "7400" }
  INV: { type: "7404" }
  OR: { type: "7432" }
  K1: { type: push-button, pins: { A: a, B: GND } }
  K2: { type: push-button, pins: { A: b, B: GND } }
  K3: { type: push-button, pins: { A: c, B: GND } }
  SHOW: { type: "74541", pins: { A1: x, A2-A8: GND, Y1-Y8: open } }
ties: [{ high: [a, b, c], through: 10 kohm }]
`;

  test('one gate where one does it, and the units that are left are tied', () => {
    const machine = elaborated(`${HEAD}${GATES}logic: { x: ~(a & b) }\n`);
    expect(machine.problems).toEqual([]);
    expect(at(machine, 'NAND', '1A 1B 1Y 2A 2B 2Y')).toBe('1A=b 1B=a 1Y=x 2A=GND 2B=GND 2Y=open');
    expect(at(machine, 'INV', '1A 1Y')).toBe('1A=GND 1Y=open');
  });

  test('the place that `in` names', () => {
    const machine = elaborated(`${HEAD}${GATES}logic: { x: { formula: ~a, in: INV unit 3 } }\n`);
    expect(machine.problems).toEqual([]);
    expect(at(machine, 'INV', '1A 3A 3Y')).toBe('1A=GND 3A=a 3Y=x');
  });

  test('what several gates make is what was asked for', () => {
    const names = ['a', 'b', 'c'];
    const leaf = fc.constantFrom(...names).map((name): Formula => ({ kind: 'name', name, start: 0, end: 0 }));
    const formulas = fc.letrec<{ f: Formula }>((tie) => ({
      f: fc.oneof(
        { maxDepth: 3 },
        leaf,
        tie('f').map((term): Formula => ({ kind: 'not', term })),
        fc
          .tuple(fc.constantFrom('and' as const, 'or' as const), fc.array(tie('f'), { minLength: 2, maxLength: 3 }))
          .map(([kind, terms]): Formula => ({ kind, terms })),
      ),
    })).f;
    let made = 0;
    fc.assert(
      fc.property(formulas, (formula) => {
        if (formula.kind === 'name') return;
        const machine = elaborated(`${HEAD}${GATES}logic: { x: "${printFormula(formula)}" }\n`);
        const netlist = machine.design.netlists[1]!;
        if (machine.findings.some((finding) => finding.code === 'netlist/no-unit-free')) return;
        made++;
        /** The level of a net, gate by gate from the records' formulas. */
        const level = (net: string, inputs: Readonly<Record<string, 0 | 1>>): 0 | 1 => {
          if (net in inputs) return inputs[net]!;
          if (net === 'GND' || net === 'main') return net === 'main' ? 1 : 0;
          const driver = netlist.pins.find(
            (pin) => pin.kind === 'output' && pin.net >= 0 && netlist.nets[pin.net]!.name === net,
          )!;
          const rule = netlist.parts[driver.part]!.record.behaviour!.outputs![driver.name];
          const text = typeof rule === 'string' ? rule : rule!.value;
          const value = evaluate(parseFormula(text).formula!, (pin) =>
            level(machine.at(`${netlist.parts[driver.part]!.name}.${pin}`)!, inputs),
          );
          return value as 0 | 1;
        };
        for (let row = 0; row < 8; row++) {
          const inputs = Object.fromEntries(names.map((name, bit) => [name, ((row >> bit) & 1) as 0 | 1]));
          expect(level('x', inputs), printFormula(formula)).toBe(evaluate(formula, (name) => inputs[name]!));
        }
      }),
      { seed: 42, numRuns: 60 },
    );
    expect(made).toBeGreaterThan(20);
  });
});

describe('stages', () => {
  const machine = elaborated(`${HEAD}${Z80}${MEMORIES}  SEL: { type: "74138" }
  G: { type: "7404", pins: { 1A: A15, 1Y: open } }
buses: { main: { processor: CPU, members: [ROM, RAM], selects: SEL } }
memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]
${NETS}stages:
  - { stage: run, adds: [CPU, SUP, OSC], temporary: [{ hold: D7-D0, at: 0x76, through: 2.2 kohm, until: memory }] }
  - { stage: memory, adds: [ROM, RAM, SEL] }
  - { stage: change, removes: [RAM], adds: [G], replaces: { SEL: { type: "74138", family: AC } } }
`);

  test('straps hold each line at its bit of the value, and come out', () => {
    const straps = resistors(machine, 1).filter((line) => line.startsWith('STRAP'));
    expect(straps).toHaveLength(8);
    expect(straps).toContain('STRAP-D0 2.2 kohm D0 - GND');
    expect(straps).toContain('STRAP-D1 2.2 kohm D1 - main');
    expect(straps.filter((line) => line.endsWith('main'))).toHaveLength(5);
    expect(resistors(machine, 2).filter((line) => line.startsWith('STRAP'))).toEqual([]);
  });

  test('parts are there in their stages only, and a replaced one is wired like the one before', () => {
    const there = (name: string): (string | undefined)[] =>
      [1, 2, 3].map((stage) => machine.design.netlists[stage]!.parts.find((part) => part.name === name)?.type);
    expect(there('RAM')).toEqual([undefined, '62256', undefined]);
    expect(there('SEL')).toEqual([undefined, '74HCT138', '74AC138']);
    expect(there('G')).toEqual([undefined, undefined, '74HCT04']);
    const pins = 'A B C /G2A /G2B G1 /Y0';
    expect(at(machine, 'SEL', pins, 3)).toBe(at(machine, 'SEL', pins, 2));
    expect(machine.pins('A15', 2)).toEqual(['CPU.A15', 'SEL.A']);
    expect(machine.pins('A15', 3)).toEqual(['CPU.A15', 'SEL.A', 'G.1A']);
  });

  test('the empty bench is empty', () => {
    expect(machine.design.netlists[0]).toEqual({ stage: 0, parts: [], pins: [], nets: [] });
  });
});

test('what a line says of a pin stands against everything derived', () => {
  const machine =
    elaborated(`${HEAD}${Z80}  ROM: { type: 28C256, grade: 150 ns, holds: a.hex, pins: { A14: bank, /WE: hold } }
  SEL: { type: "74138" }
  FLIP: { type: jumper-2, pins: { A: bank, B: GND } }
buses: { main: { processor: CPU, members: [ROM], selects: SEL } }
memory: [{ ROM: 16 KiB at 0 }]
ties: [{ high: [bank, hold], through: 10 kohm }, { low: [CPU./WAIT], through: 1 kohm }]
${NETS}`);
  expect(machine.problems.filter((line) => line.startsWith('error'))).toEqual([]);
  expect(at(machine, 'ROM', 'A13 A14 /WE')).toBe('A13=A13 A14=bank /WE=hold');
  expect(machine.pins('A14')).toEqual(['CPU.A14']);
  expect(resistors(machine)).toContain('R-/WAIT 1 kohm /WAIT - GND');
});

test('of two lines that contradict each other the first stands', () => {
  const machine = elaborated(`${HEAD}  G: { type: "7404", pins: { 1A: GND, 1Y: one, 2A: GND, 2Y: two } }
  DRIVE: { type: ULN2803, pins: { 1B: one, IN1: two } }
`);
  expect(machine.problems).toContainEqual(
    expect.stringContaining('netlist/pin-in-two-nets DRIVE.1B is put in two here'),
  );
  expect(machine.at('DRIVE.1B')).toBe('one');
});

test('`through` of a lamp or bar puts a resistor before each diode that is connected', () => {
  const machine = elaborated(`${HEAD}  G: { type: "7404", pins: { 1A: GND, 1Y: lit } }
  L: { type: led, through: 1 kohm, pins: { A: lit, K: GND } }
  B: { type: led-bar-10, through: 470 ohm, pins: { A1: lit, K1: GND, A2: main, K2: lit } }
`);
  expect(machine.problems).toEqual([]);
  expect(resistors(machine)).toEqual([
    'R-L 1 kohm lit - L.A',
    'R-B-A1 470 ohm lit - B.A1',
    'R-B-A2 470 ohm main - B.A2',
  ]);
  expect(at(machine, 'B', 'A1 K1 A2 K2 A3')).toBe('A1=B.A1 K1=GND A2=B.A2 K2=lit A3=?');
});

test('supplies: one bypass capacitor for each chip, one bulk capacitor for each supply', () => {
  const machine = elaborated(`machine: Test
supplies: { main: { volts: 5 V }, low: { volts: 3.3 V } }
parts:
  A: { type: 74HC04 }
  B: { type: 74HC04, supply: low }
`);
  const { parts } = machine.design.netlists[1]!;
  expect(
    parts
      .filter((part) => part.implied !== undefined)
      .map((part) => `${part.name} ${part.value}`)
      .sort(),
  ).toEqual(['C-A 100 nF', 'C-B 100 nF', 'C-bulk-low 47 uF', 'C-bulk-main 47 uF']);
  expect(at(machine, 'B', 'VCC GND')).toBe('VCC=low GND=GND');
});
