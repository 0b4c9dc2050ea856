// Rules at their edges: what must be said once, and what must not be said. The pages in docs/findings hold an example of each.

import { describe, expect, test } from 'vitest';
import { lines, projectOf } from '../../tests/support/library.ts';

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

const found = (text: string, code?: string): string[] =>
  lines(
    projectOf(text)
      .findings()
      .filter((finding) => code === undefined || finding.code === code),
  );

describe('facts become findings', () => {
  const machine = `${HEAD}${Z80}buses: { main: { processor: CPU, members: [] } }
${NETS}stages:
  - { stage: clock, adds: [SUP, OSC] }
  - { stage: run, adds: [CPU] }
`;

  test('what stands at one place in the same stages is one finding that names the others', () => {
    const all = projectOf(machine).findings();
    const floats = all.filter((finding) => finding.code === 'check/floating-bus');
    expect(floats).toHaveLength(1);
    expect(floats[0]!.message).toBe('D0 floats whenever CPU reads from stage 2 (run) on.');
    expect(floats[0]!.about).toEqual(['D0', 'D1', 'D2', 'D3', 'D4', 'D5', 'D6', 'D7']);
    expect(floats[0]!.notes.at(-1)!.text).toBe('The same holds for D1, D2, D3, D4, D5, D6 and D7.');
  });

  test('a rule of the whole machine says no stage', () => {
    const single = found(
      `${HEAD}  G: { type: "7404", pins: { 1A: GND, 1Y: lost } }
stages: [{ stage: one, adds: [] }, { stage: two, adds: [G] }]
`,
      'check/single-pin-net',
    );
    expect(single).toEqual(['warning check/single-pin-net Net lost has one pin, G.1Y.']);
  });
});

describe('contention', () => {
  const ports = (b: string, extra = ''): string => `${HEAD}${Z80}  A: { type: "74541", pins: { A1-A8: GND } }
  B: { type: "74541", pins: { A1-A8: GND } }
  SEL: { type: 16V8, grade: 15 ns }
buses: { main: { processor: CPU, members: [A, B], selects: SEL } }
ports: [{ A: 1 at 0x10 }, { B: ${b} }]
${extra}${NETS}`;
  const code = 'check/conflicting-enables';

  test('two ports at two addresses are never enabled together', () => {
    expect(found(ports('1 at 0x11'), code)).toEqual([]);
  });

  test('two ports at one address are said by the map alone', () => {
    expect(found(ports('1 at 0x10'), code)).toEqual([]);
    expect(found(ports('1 at 0x10'), 'check/overlapping-regions')).toHaveLength(1);
  });

  test('a select that forgets the strobe fights the processor', () => {
    const text = `${HEAD}${Z80}  A: { type: "74541", pins: { A1-A8: GND, /OE1: /IORQ, /OE2: GND } }
nets:
  /reset: [CPU./RESET]
  cpu-clock: [OSC.OUT, CPU.CLK]
  /IORQ: [CPU./IORQ]
  D7-D0: [CPU.D7-D0, A.Y8-Y1]
`;
    const [line] = found(text, code);
    expect(line).toMatch(/^error check\/conflicting-enables CPU and A can drive D\d and 7 more nets .*\/IORQ low/);
    // With the read strobe in the second enable all is well.
    expect(
      found(text.replace('/OE2: GND', '/OE2: /RD').replace('  D7-D0:', '  /RD: [CPU./RD]\n  D7-D0:'), code),
    ).toEqual([]);
  });

  test('the two sides of a transceiver turned by a strobe never meet', () => {
    const text = (
      oe: string,
      dir: string,
    ): string => `${HEAD}${Z80}  ROM: { type: 28C256, grade: 150 ns, holds: a.hex, pins: { /CE: /MREQ, /OE: /RD, /WE: main, A14-A0: A14-A0, D7-D0: far7-far0 } }
  BUF: { type: "74245", pins: { A1-A8: D0-D7, B1-B8: far0-far7, DIR: ${dir}, /OE: ${oe} } }
nets:
  /reset: [CPU./RESET]
  cpu-clock: [OSC.OUT, CPU.CLK]
  /MREQ: [CPU./MREQ]
  /RD: [CPU./RD]
  A14-A0: [CPU.A14-A0]
  D7-D0: [CPU.D7-D0]
`;
    expect(found(text('/MREQ', '/RD'), code)).toEqual([]);
    // Pointing at the memory all the time, it fights it on every read.
    expect(found(text('/MREQ', 'main'), code)).toHaveLength(1);
  });

  test('enables from two outputs of a decoder exclude each other, from one output twice they do not', () => {
    const text = (
      second: string,
    ): string => `${HEAD}  DEC: { type: "74138", pins: { A: a, B: b, C: GND, /G2A: GND, /G2B: GND, G1: main, /Y0: /one, /Y1: /two } }
  KEY1: { type: jumper-2, pins: { A: a, B: GND } }
  KEY2: { type: jumper-2, pins: { A: b, B: GND } }
  X: { type: "74541", pins: { A1-A8: GND, /OE1: /one, /OE2: GND, Y1: out, Y2-Y8: open } }
  Y: { type: "74541", pins: { A1-A8: GND, /OE1: ${second}, /OE2: GND, Y1: out, Y2-Y8: open } }
  SHOW: { type: "7404", pins: { 1A: out, 1Y: open } }
ties: [{ high: [a, b, out], through: 10 kohm }]
`;
    expect(found(text('/two'), code)).toEqual([]);
    expect(found(text('/one'), code)).toHaveLength(1);
  });
});

describe('no false alarms', () => {
  test('a memory held off by reset at its active-high select', () => {
    const text = `${HEAD}  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  RAM: { type: "628128", grade: 70 ns, pins: { CS2: /reset, /CS1: main, /OE: main, /WE: main, A0-A16: GND } }
`;
    expect(found(text, 'check/conflicting-polarity')).toEqual([]);
  });

  test('data lines of a static memory in any order', () => {
    const text = (type: string): string => `${HEAD}${Z80}  M: { ${type}, pins: { D7-D0: D0-D7 } }
  SEL: { type: "74138" }
buses: { main: { processor: CPU, members: [M], selects: SEL } }
memory: [{ M: 32 KiB at 0 }]
${NETS}`;
    expect(found(text('type: "62256", grade: 70 ns'), 'check/reversed-bus')).toEqual([]);
    expect(found(text('type: 28C256, grade: 150 ns, holds: a.hex'), 'check/reversed-bus')).toHaveLength(1);
  });

  test('a supervisor that watches its output for a button', () => {
    const text = `${HEAD}  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  KEY: { type: push-button, pins: { A: /reset, B: GND } }
  G: { type: "7414", pins: { 1A: /reset, 1Y: open } }
`;
    expect(found(text)).toEqual([]);
  });

  test('a lamp on an output that nothing else listens to', () => {
    const text = `${HEAD}  G: { type: "7404", pins: { 1A: GND, 1Y: lit } }
  L: { type: led, through: 330 ohm, pins: { A: lit, K: GND } }
`;
    expect(found(text)).toEqual([]);
  });

  test('segments of a digit with a resistor each, common to ground', () => {
    const segments = [...'ABCDEFG'];
    const text = `${HEAD}  D: { type: digit-7seg-cc, pins: { COM: GND, DP: open, ${segments.map((s) => `${s}: seg${s}`).join(', ')} } }
${segments.map((s) => `  R${s}: { type: resistor, value: 470 ohm, pins: { A: main, B: seg${s} } }`).join('\n')}
`;
    expect(found(text, 'check/no-led-resistor')).toEqual([]);
    expect(
      found(
        text.replace('RA: { type: resistor, value: 470 ohm', 'RA: { type: fuse, value: 1 A'),
        'check/no-led-resistor',
      ),
    ).toHaveLength(1);
  });
});

test('fixes mend what they say', () => {
  const cases = [
    `${HEAD}  SEL: { type: "74138", pins: { A: GND, B: GND, C: GND, /G2A: GND, /G2B: GND, G1: open, /Y0-/Y7: open } }\n`,
    `${HEAD}  CPU: { type: Z80, grade: 4 MHz CMSO }\n  SUP: { type: DS1233-10, pins: { /RST: /reset } }\n  OSC: { type: oscillator-can, rate: 2 MHz }\n${NETS}`,
    `${HEAD}  G: { type: "7404", pins: { 1A: GND, 1Y: clear, 2A: clear, 2Y: open } }\nstages: [{ stage: one, adds: [G], prove: [{ expect: { cleer: high } }] }]\n`,
    `${HEAD}  G: { type: "7404", family: HTC }\n`,
  ];
  for (const text of cases) {
    const all = projectOf(text).findings();
    const finding = all.find((one) => one.fixes !== undefined)!;
    expect(finding, lines(all).join('\n')).toBeDefined();
    const { span, text: put } = finding.fixes![0]!.edits[0]!;
    const mended = text.slice(0, span.start) + put + text.slice(span.end);
    expect(found(mended, finding.code), mended).toEqual([]);
  }
});
