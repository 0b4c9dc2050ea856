// Selects that have to precede strobes, on the Z80's bus: its data sheet's input and output cycles have /IORQ and /RD or /WR
// fall together, 16C550 and 8255 sheets ask for the select no later than the strobe (tCSR, tCSW, tAR, tAW).

import { describe, expect, test } from 'vitest';
import { type Elaborated, z80Machine } from '../../../tests/support/netlists.ts';

const MAPS = 'memory: [{ ROM: 32 KiB at 0 }, { RAM: 32 KiB at 0x8000 }]\nports: [{ UART: 8 at 0x10 }]';
const UART = '  UART: { type: 16C550, pins: { XIN: clock, MR: GND } }';

const outputs = (machine: Elaborated, part: string): Map<string, string | undefined> =>
  new Map(
    machine.design.devices
      .filter((device) => device.part === part)
      .flatMap((device) =>
        device.outputs.map((output) => [output.net, output.formula ?? output.select!.when] as const),
      ),
  );

const told = (machine: Elaborated): readonly string[] =>
  machine.findings.filter(({ severity }) => severity !== 'note').map(({ severity, code }) => `${severity} ${code}`);

describe('behind a programmable device', () => {
  test('the select of a 16C550 follows the address alone, and its strobes have /IORQ in them', () => {
    const machine = z80Machine(`  SEL: { type: 16V8 }\n${UART}`, 'UART', 'SEL', MAPS);
    expect(told(machine)).toEqual([]);
    expect([machine.at('UART./CS2'), machine.at('UART./RD'), machine.at('UART./WR')]).toEqual([
      '/UART',
      '/IORD',
      '/IOWR',
    ]);
    const made = outputs(machine, 'SEL');
    expect(made.get('/UART')).toBe('');
    expect(made.get('/IORD')).toBe('/IORQ | /RD');
    expect(made.get('/IOWR')).toBe('/IORQ | /WR');
    // An interrupt acknowledge is /M1 and /IORQ low with /RD and /WR high: no strobe, so nobody needs to look at /M1.
    expect(machine.pins('/M1').filter((pin) => pin.startsWith('SEL.'))).toEqual([]);
  });

  test('other parts keep their strobes', () => {
    const machine = z80Machine(
      `  SEL: { type: 22V10 }\n${UART}\n  LAMPS: { type: "74574" }\n  KEYS: { type: "74541", pins: { A1-A8: GND } }`,
      'UART, LAMPS, KEYS',
      'SEL',
      MAPS.replace('{ UART: 8 at 0x10 }', '{ UART: 8 at 0x10 }, { LAMPS: 1 at 0x20 }, { KEYS: 1 at 0x28 }'),
    );
    expect(told(machine)).toEqual([]);
    const made = outputs(machine, 'SEL');
    expect(made.get('/LAMPS')).toBe('~/IORQ & ~/WR');
    expect(made.get('/KEYS')).toBe('~/IORQ & ~/RD');
    expect(machine.at('ROM./OE')).toBe('/RD');
  });

  test('in memory the strobes have /MREQ in them', () => {
    const machine = z80Machine(
      '  SEL: { type: 22V10 }\n  PPI: { type: "8255", pins: { RESET: GND } }',
      'PPI',
      'SEL',
      'memory: [{ ROM: 32 KiB at 0 }, { RAM: 16 KiB at 0x8000 }, { PPI: 4 at 0xC000 }]',
    );
    expect(told(machine)).toEqual([]);
    const made = outputs(machine, 'SEL');
    expect([made.get('/PPI'), made.get('/MEMRD'), made.get('/MEMWR')]).toEqual(['', '/MREQ | /RD', '/MREQ | /WR']);
  });

  test('E has the space in it already', () => {
    const machine = z80Machine(
      '  SEL: { type: 22V10 }\n  VIA: { type: "6522", grade: 2 MHz, pins: { /RES: /reset, CA1: GND } }',
      'VIA',
      'SEL',
      MAPS.replace('UART: 8', 'VIA: 16'),
    );
    expect(told(machine)).toEqual([]);
    expect(outputs(machine, 'SEL').get('/VIA')).toBe('');
    expect(outputs(machine, 'SEL').get('E')).toBe('~/IORQ & (~/RD | ~/WR)');
  });

  test('strobe pins that the machine file joins leave the select as it was', () => {
    const machine = z80Machine(
      '  SEL: { type: 16V8 }\n  UART: { type: 16C550, pins: { XIN: clock, MR: GND, /RD: /RD, /WR: /WR } }',
      'UART',
      'SEL',
      MAPS,
    );
    expect(told(machine)).toEqual([]);
    expect(machine.at('UART./RD')).toBe('/RD');
    expect(outputs(machine, 'SEL').get('/UART')).toBe('(~/IORQ & /M1)');
  });

  test('a device without an output left makes the select as it can, and that is told', () => {
    const latches = [0, 1, 2, 3, 4];
    const more = latches.map((k) => `  L${k}: { type: "74574" }`).join('\n');
    const places = latches.map((k) => `, { L${k}: 8 at ${0x20 + 8 * k} }`).join('');
    const machine = z80Machine(
      `  SEL: { type: 16V8 }\n${UART}\n${more}`,
      'UART, L0, L1, L2, L3, L4',
      'SEL',
      MAPS.replace('{ UART: 8 at 0x10 }', `{ UART: 8 at 0x10 }${places}`),
    );
    expect(told(machine)).toEqual(['warning netlist/select-with-strobes']);
  });
});

describe('behind decoders of fixed function', () => {
  const parts = `  MEMSEL: { type: "74139" }\n  IOSEL: { type: "74138" }\n${UART}\n  KEYS: { type: "74541", pins: { A1-A8: GND } }\n  LAMPS: { type: "74574" }`;
  const maps = MAPS.replace('{ UART: 8 at 0x10 }', '{ UART: 8 at 0 }, { KEYS: 8 at 8 }, { LAMPS: 8 at 0x10 }');
  const machine = (gates: string): Elaborated =>
    z80Machine(`${parts}${gates}`, 'UART, KEYS, LAMPS', '{ memory: MEMSEL, ports: IOSEL }', maps);

  test('gates make the strobes, and every select is the address alone', () => {
    const made = machine('\n  G: { type: "7432" }');
    expect(told(made)).toEqual([]);
    expect(made.at('UART./RD')).toBe('/IORD');
    expect(made.at('KEYS./OE2')).toBe('/IORD');
    const gate = made.pins('/LAMPS').find((pin) => pin.startsWith('G.'))!;
    expect(['A', 'B'].map((pin) => made.at(gate.replace('Y', pin))).sort()).toEqual(['/IOWR', '/LAMPS-address']);
    expect(made.pins('/IORQ').filter((pin) => pin.startsWith('IOSEL.'))).toEqual([]);
  });

  test('without gates the select comes with the strobes, and that is told', () => {
    const made = z80Machine(
      `  MEMSEL: { type: "74139" }\n  IOSEL: { type: "74138" }\n${UART}`,
      'UART',
      '{ memory: MEMSEL, ports: IOSEL }',
      MAPS,
    );
    expect(told(made)).toEqual(['warning netlist/select-with-strobes']);
    expect(made.at('UART./RD')).toBe('/RD');
    expect(made.pins('/IORQ').some((pin) => pin.startsWith('IOSEL.'))).toBe(true);
  });
});
