import { expect, test } from 'vitest';
import { readFiles as read } from '../../tests/support/machine-files.ts';
import { readMachine } from './index.ts';

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

test('every form of selects, memory and ports', () => {
  const lines = `buses:
  a: { processor: CPU, members: ROM, selects: ROM }
  b: { processor: CPU, selects: [ROM, CPU] }
  c: { processor: CPU, selects: { memory: ROM, ports: [ROM, CPU] }, masters: { ROM: low(/x) } }
memory:
  - { ROM: [8 KiB at 0x0000, 0x8000 to 0xFFFF], CPU: 1 at 65535 }
  - { part: ROM, at: 0x10, size: 16, offset: 8 KiB, when: a & ~b, access: write, mirrors: forbidden, bus: A }
  - { part: ROM, at: 100, size: 2 MiB, offset: 0x20 }
`;
  const { value, shown } = read(small(lines));
  expect(shown).toEqual([]);
  expect(value.buses.map((bus) => bus.selects.map((select) => `${select.name} ${select.for ?? '-'}`))).toEqual([
    ['ROM -'],
    ['ROM -', 'CPU -'],
    ['ROM memory', 'ROM ports', 'CPU ports'],
  ]);
  expect(value.buses[2]!.masters).toMatchObject([{ part: { name: 'ROM' }, when: { name: 'low(/x)' } }]);
  expect(value.map.map((entry) => [entry.part.name, entry.at, entry.bytes, entry.offset])).toEqual([
    ['ROM', 0, 8192, undefined],
    ['ROM', 0x8000, 0x8000, undefined],
    ['CPU', 65535, 1, undefined],
    ['ROM', 16, 16, 8192],
    ['ROM', 100, 2097152, 32],
  ]);
  expect(value.map[3]).toMatchObject({
    when: { name: 'a & ~b' },
    access: 'write',
    mirrors: 'forbidden',
    bus: { name: 'A' },
  });
});

test('regions that make no sense', () => {
  const show = (entry: string) => read(small(`memory: [${entry}]\n`)).shown;
  expect(show('{ ROM: 0 at 0 }')).toEqual([
    '6:17 machine/bad-region [0 at 0] 0 is no size: a whole number of bytes, 1 or more, is wanted.',
  ]);
  expect(show('{ ROM: 32 KiB at $8000 }')).toEqual([
    '6:17 machine/bad-region [32 KiB at $8000] $8000 is no address here; hexadecimal is written 0x8000.',
  ]);
  expect(show('{ ROM: 32 KiB at 8000h }')[0]).toContain('hexadecimal is written 0x8000.');
  expect(show('{ ROM: 32 KiB at FF00 }')[0]).toContain('hexadecimal is written 0xFF00.');
  expect(show('{ ROM: 32 V at 0 }')[0]).toContain('32 V is no size');
  expect(show('{ ROM: 0x9000 to 0x8FFF }')[0]).toContain('0x8FFF is below 0x9000');
  expect(show('{ ROM: 4096 MiB at 1 }')[0]).toContain('runs past the largest address');
  expect(show('{ ROM: 1.5 at 1 }')[0]).toContain('a whole number of bytes');
  expect(show('{ part: ROM, at: -1, size: 3 }')[0]).toContain('machine/bad-region [-1]');
  expect(show('{ part: ROM, at: 1 }')).toEqual([
    '6:18 machine/bad-region [ROM] ROM has no `size` here; both `at` and `size` are wanted.',
  ]);
  expect(show('{ when: a }')[0]).toContain('this names no part'.replace('t', 'T'));
  expect(show('{ ROM: 8 at 0, acess: read }')).toEqual([
    '6:25 machine/unknown-key [acess] There is no acess here; did you mean access?',
  ]);
  expect(show('{ ROM: nonsense }')[0]).toMatch(/^6:17 yaml\/wrong-form \[nonsense\]/);
  expect(show('{ RAM: 8 at 0 }')).toEqual(['6:12 machine/unknown-part [RAM] There is no part RAM; did you mean ROM?']);
});

test('quantities of the wrong kind say what they are', () => {
  const show = (supply: string) => read(`machine: m\nsupplies: { main: ${supply} }\n`).shown;
  expect(show('{ volts: 10 kohm }')).toEqual([
    '2:28 machine/bad-quantity [10 kohm] 10 kohm is a resistance: a voltage is wanted, such as 5 V.',
  ]);
  expect(show('{ volts: 5 }')[0]).toContain('[5] 5 has no unit: a voltage is wanted, such as 5 V.');
  expect(show('{ volts: five }')[0]).toContain('"five" cannot be read');
  expect(show('{ volts: -5 V }')[0]).toContain('-5 V is too small: more than 0 V is wanted.');
  expect(show('{ volts: 500 V }')[0]).toContain('500 V is too large: at most 60 V makes sense here.');
  expect(show('{ volts: 5 V, tolerance: 5 }')[0]).toContain('5 has no unit: a percentage is wanted');
  expect(show('{ volts: 1e400 V }')[0]).toContain('machine/bad-quantity');
  const defaults = (text: string) => read(`machine: m\ndefaults: { ${text} }\n`);
  expect(defaults('pull: 4k7, bypass: 100n, bulk: 10 uF, led: 2R2').value.defaults).toMatchObject({
    pullOhm: 4700,
    bypassFarad: 1e-7,
    bulkFarad: 1e-5,
    ledOhm: 2.2,
  });
  expect(defaults('pull: 10').shown[0]).toContain('10 has no unit');
  expect(defaults('pull: 10 Hz').shown[0]).toContain('10 Hz is a frequency: a resistance is wanted');
});

test('a broken file yields what can be derived', () => {
  const { value, shown } = read('parts:\n  CPU: { type: Z80 }\n  ROM: { typ: 28C256 }\nnets:\n  a: [CPU.A0\n');
  expect(shown.length).toBeGreaterThan(2);
  expect(value.name).toBe('Unnamed machine');
  expect(value.parts.map((part) => [part.name, part.type])).toEqual([
    ['CPU', 'Z80'],
    ['ROM', ''],
  ]);
  expect(value.nets[0]).toMatchObject({ name: 'a', pins: [{ part: 'CPU', pin: 'A0' }] });
  expect(value.supplies).toMatchObject([{ name: 'main', volts: 5 }]);
  expect(value.stages.map((stage) => stage.name)).toEqual(['all']);
  expect(read({}).shown).toEqual(['1:1 machine/file-missing [] There is no file machine.yaml.']);
});

test('a tie or strap whose resistor cannot be read is left out, never made a wire', () => {
  const { value, shown } = read(
    small(
      'ties: [{ high: [CPU./NMI], through: 10 kHz }, { low: [CPU./INT], through: [1] }]\nstages: [{ stage: s, adds: [CPU, ROM], temporary: [{ hold: D0, at: 1, through: 5 V }, { hold: D1, at: high, through: wire }, { hold: D2, at: low }] }]\n',
    ),
  );
  expect(shown.map((line) => line.split(' ')[1])).toEqual([
    'machine/bad-quantity',
    'yaml/wrong-kind',
    'machine/bad-quantity',
  ]);
  expect(value.ties).toEqual([]);
  expect(value.stages[0]!.temporary.map((strap) => [strap.nets[0]!.name, strap.value, strap.throughOhm])).toEqual([
    ['D1', 1, undefined],
    ['D2', 0, 10000],
  ]);
});

test('names that mean something else are refused', () => {
  const show = (lines: string) => read(small(lines)).shown;
  expect(show('nets: { Open: [CPU.A0] }\n')).toEqual([
    '6:9 machine/bad-name [Open] The name "Open" is the word for a pin left open on purpose.',
  ]);
  expect(show('nets: { a.b: [CPU.A0] }\n')[0]).toContain('has a dot in it');
  expect(show('nets: { "a b": [CPU.A0] }\n')[0]).toContain('[a b] The name "a b" has a space in it.');
  expect(show('supplies: { gnd: { volts: 5 V } }\n').at(-1)).toContain('yaml/duplicate-key');
  expect(read('machine: m\nsupplies: { gnd: { volts: 5 V } }\n').shown[0]).toContain('GND is ground');
  expect(
    read('machine: m\nsupplies: { a: { volts: 5 V } }\nparts: { /X: { type: led }, "Y@1": { type: led } }\n').shown,
  ).toEqual([
    '3:10 machine/bad-name [/X] The name "/X" starts with a slash, which only pins and nets do.',
    '3:30 machine/bad-name [Y@1] The name "Y@1" has a @ in it.',
  ]);
});

test('names are compared without regard to case, wherever they stand', () => {
  const { value, shown } = read(
    small(
      'nets: { a: [cpu.A0, Rom.A0] }\nbuses: { main: { processor: cpu, members: rom } }\nstages: [{ stage: One, adds: [cpu] }, { stage: two, adds: rom }]\nties: [{ high: /x, from: ONE, until: TWO }]\n',
    ),
  );
  expect(shown).toEqual([]);
  expect(value.stages.map((stage) => stage.adds[0]!.name)).toEqual(['CPU', 'ROM']);
  expect(read(small('nets: { a: [CPU.A0], A: [CPU.A1] }\n')).shown).toEqual([
    '6:22 machine/duplicate-name [A] A and a are the same net, declared twice.',
  ]);
});

test('lifetimes: unknown stages, ends before beginnings, and pins that change nets', () => {
  const stages = 'stages: [{ stage: one, adds: [CPU] }, { stage: two, adds: [ROM] }]\n';
  const show = (lines: string) => read(small(lines + stages)).shown;
  expect(show('nets: { a: { pins: CPU.A0, from: on } }\n')).toEqual([
    '6:34 machine/unknown-stage [on] There is no stage on; did you mean one?',
  ]);
  expect(show('ties: [{ high: CPU.A0, from: two, until: one }]\n')[0]).toMatch(/^6:42 machine\/bad-lifetime \[one\] /);
  expect(show('ties: [{ high: CPU.A0, until: one }]\n')[0]).toMatch(/^6:31 machine\/bad-lifetime \[one\] /);
  expect(show('nets: { a: { pins: CPU.A0, until: two }, b: { pins: CPU.A0, from: two } }\n')).toEqual([]);
  expect(show('nets: { a: { pins: CPU.A0, until: two }, b: { pins: CPU.A0 } }\n')).toEqual([
    '6:53 machine/pin-on-two-nets [CPU.A0] CPU.A0 is on a and here on b.',
  ]);
  expect(show('nets: { a: [CPU.A0, { pins: CPU.A1, from: two }] }\n')).toEqual([]);
});

test('included files: sections merge, stages of one name join, findings name the line that includes', () => {
  const files = {
    'machine.yaml': `${small('includes: [./sub/a.yaml]\n')}stages: [{ stage: one, adds: [CPU] }, { stage: two, adds: [ROM] }]\n`,
    'sub/a.yaml':
      'includes: [b.yaml]\nparts: { KEY: { type: push-button, pins: { A: /x } } }\nstages: [{ stage: Two, adds: KEY, note: n }]\n',
    'b.yaml': 'parts: { LED: { typ: led } }\nstages: [{ stage: three, adds: LED }]\n',
  };
  const { value, findings, shown } = read(files);
  expect(shown).toEqual([
    'b.yaml:1:15 yaml/missing-key [{] type is missing here.',
    'b.yaml:1:17 yaml/unknown-key [typ] There is no typ here; did you mean type?',
  ]);
  expect(findings[0]!.notes.at(-1)).toMatchObject({
    text: 'b.yaml is included here.',
    span: { file: 'sub/a.yaml', start: 11 },
  });
  expect(value.files).toEqual(['machine.yaml', 'sub/a.yaml', 'b.yaml']);
  expect(value.stages.map((stage) => `${stage.name}: ${stage.adds.map((ref) => ref.name).join(' ')}`)).toEqual([
    'one: CPU',
    'two: ROM KEY',
    'three: LED',
  ]);
});

test('paths that lead out of the project are refused and never asked for', () => {
  const asked: string[] = [];
  for (const path of ['../x.yaml', '/etc/x', 'a/../../x', 'C:/x', 'a\\\\x', 'a/', '']) {
    const text = `machine: m\nincludes: ["${path}"]\n`;
    const { findings } = readMachine('machine.yaml', {
      read: (name) => {
        asked.push(name);
        return name === 'machine.yaml' ? text : undefined;
      },
    });
    expect(
      findings.map((finding) => finding.code),
      path,
    ).toEqual(['machine/bad-path']);
  }
  expect(new Set(asked)).toEqual(new Set(['machine.yaml']));
});

test('pins are split at the first dot, numbers follow @', () => {
  const { value, shown } = read(small('nets: { a: [CPU.GND@20, CPU.A/B, CPU./X.Y] }\n'));
  expect(shown).toEqual([]);
  expect(value.nets[0]!.pins.map(({ part, pin, number }) => [part, pin, number])).toEqual([
    ['CPU', 'GND', 20],
    ['CPU', 'A/B', undefined],
    ['CPU', '/X.Y', undefined],
  ]);
  const show = (pin: string) =>
    read(small(`nets: { a: ["${pin}"] }\n`)).shown.map((line) => line.split(' ').slice(0, 2).join(' '));
  for (const bad of ['CPU', 'CPU.', '.A0', 'CPU.A@x', 'CPU.A@0', 'CPU. A', 'CPU.@3'])
    expect(show(bad), bad).toEqual(['6:14 machine/bad-pin']);
  expect(read(small('nets: { D7-D0: [CPU.D7-CPU.D0] }\n')).findings[0]!.fixes![0]!.edits[0]!.text).toBe('CPU.D7-D0');
});

test('formulas: places of faults, both ways of saying it', () => {
  const show = (lines: string) => read(small(lines)).shown;
  expect(show('logic: { q: a && b }\n')).toEqual(['6:15 machine/bad-formula [&&] Write a single & here.']);
  expect(show('logic: { q: "a + " }\n')[0]).toMatch(/^6:16 machine\/bad-formula \[\+\]/);
  expect(show('logic: { q: a & D7-D0 }\n')).toEqual([
    '6:17 machine/bad-formula [D7-D0] D7-D0 is a range, and a formula works on single nets.',
  ]);
  const { value } = read(small('logic: { /q: { when: a }, r: { when: a }, s: high when a }\n'));
  expect(value.logic.map((one) => one.formula.name)).toEqual(['low when a', 'high when a', 'high when a']);
});

test('fixes put right what they say, inside quotes too', () => {
  const text = small('nets: { a: ["CPX.A0"] }\nstages: [{ stage: s, adds: [\'CPV\', ROM] }]\n');
  let mended = text;
  for (const finding of [...read(text).findings].reverse()) {
    for (const { span, text: put } of finding.fixes?.[0]?.edits ?? [])
      mended = mended.slice(0, span.start) + put + mended.slice(span.end);
  }
  expect(mended).toBe(text.replace('CPX', 'CPU').replace('CPV', 'CPU'));
  expect(read(mended).shown).toEqual([]);
});

test('waivers: codes that no finding has, where the codes are known', () => {
  const text = small('waive: [{ code: check/gapp, at: [ROM, CPU], reason: later }]\n');
  expect(read(text).shown).toEqual([]);
  expect(read(text).value.waivers).toMatchObject([
    { code: { name: 'check/gapp' }, places: [{ name: 'ROM' }, { name: 'CPU' }], reason: 'later' },
  ]);
  expect(read(text, { knownCodes: ['check/gap'] }).shown).toEqual([
    '6:17 machine/unknown-code [check/gapp] No finding has the code check/gapp; did you mean check/gap?',
  ]);
});
