// The bus of the 6809: E from the processor, strobes made of E and R/W, fixed decoders that share the regions between them.
// Which reads and writes a strobe stands for follows from the MC6809 data sheet's bus timing.

import { describe, expect, test } from 'vitest';
import { elaborated } from '../../../tests/support/netlists.ts';

const machine = (parts: string, members: string, selects: string, memory: string): ReturnType<typeof elaborated> =>
  elaborated(`
machine: Test
supplies: { main: { volts: 5 V } }
defaults: { family: HCT }
parts:
  SUP: { type: DS1233-5, pins: { /RST: /reset } }
  CPU: { type: "6809", grade: 1.5 MHz, pins: { XTAL: x1, EXTAL: x2, /RESET: /reset } }
  XTAL: { type: crystal, rate: 4.9152 MHz, pins: { A: x1, B: x2 } }
  XC1: { type: capacitor, value: 24 pF, pins: { "1": x1, "2": GND } }
  XC2: { type: capacitor, value: 24 pF, pins: { "1": x2, "2": GND } }
  ROM: { type: 27C256, holds: rom.hex }
  RAM: { type: "62256" }
  PIA: { type: "6821", grade: 1.5 MHz, pins: { /RESET: /reset } }
  G1: { type: "7400" }
${parts}
buses: { main: { processor: CPU, members: [ROM, RAM, PIA, ${members}], selects: ${selects} } }
memory: [${memory}]
`);

describe('two decoders named for one bus', () => {
  const made = machine(
    '  MEMSEL: { type: "74139" }\n  IOSEL: { type: "74138" }\n  LAMPS: { type: "74273", pins: { /CLR: /reset } }\n  G2: { type: "7432" }',
    'LAMPS',
    '[MEMSEL, IOSEL]',
    '{ RAM: 16 KiB at 0 }, { PIA: 4 at 0x4000 }, { LAMPS: 1 at 0x4800 }, { ROM: 32 KiB at 0x8000 }',
  );

  test('share the regions, each at one output, and a gate adds the write strobe', () => {
    expect(made.problems).toEqual([]);
    const of = (pin: string): string => made.pins(made.at(pin)!).find((ref) => /^(?:MEMSEL|IOSEL)\./.test(ref))!;
    expect(of('ROM./CE')).toMatch(/^MEMSEL\./);
    expect(of('RAM./CS')).toMatch(/^MEMSEL\./);
    expect(of('PIA./CS2')).toMatch(/^IOSEL\./);
    const gate = made.pins('/LAMPS').find((ref) => ref.startsWith('G2.'))!;
    expect(['A', 'B'].map((pin) => made.at(gate.replace('Y', pin))).sort()).toEqual(['/LAMPS-address', '/WR']);
  });

  test('every select is active at its own addresses alone, by the decoders’ function tables', () => {
    // 74139: output k low while /G is low and BA is k; 74138: output k low while G1 high, /G2A and /G2B low, CBA is k.
    const level = (net: string, address: number): number => {
      if (net === 'GND') return 0;
      if (net === 'main') return 1;
      return (address >> Number(/^A(\d+)$/.exec(net)![1])) & 1;
    };
    const at = (pin: string, address: number): number => level(made.at(pin)!, address);
    const isLow = (output: string, address: number): boolean => {
      const half = /^MEMSEL\.\/([12])Y(\d)$/.exec(output);
      if (half !== null) {
        const [, unit, index] = half;
        if (at(`MEMSEL./${unit}G`, address) === 1) return false;
        return at(`MEMSEL.${unit}A`, address) + 2 * at(`MEMSEL.${unit}B`, address) === Number(index);
      }
      const index = Number(/^IOSEL\.\/Y(\d)$/.exec(output)![1]);
      if (at('IOSEL.G1', address) === 0 || at('IOSEL./G2A', address) + at('IOSEL./G2B', address) > 0) return false;
      return at('IOSEL.A', address) + 2 * at('IOSEL.B', address) + 4 * at('IOSEL.C', address) === index;
    };
    const selects = ['ROM./CE', 'RAM./CS', 'PIA./CS2'].map((pin) => made.at(pin)!);
    const outputs = [...selects, '/LAMPS-address'].map(
      (net) => made.pins(net).find((ref) => /^(?:MEMSEL|IOSEL)\./.test(ref))!,
    );
    const inside = [
      (a: number) => a >= 0x8000,
      (a: number) => a < 0x4000,
      (a: number) => a >= 0x4000 && a < 0x4004,
      (a: number) => a === 0x4800,
    ];
    const wrong: string[] = [];
    for (let address = 0; address < 0x10000; address++) {
      const low = outputs.filter((output) => isLow(output, address));
      const wanted = outputs.filter((_, k) => inside[k]!(address));
      if (low.length > 1 || wanted.some((output) => !low.includes(output)))
        wrong.push(`${address.toString(16)}: ${low.join(' ')}`);
    }
    expect(wrong).toEqual([]);
  });

  test('the processor’s own clock goes to the parts of its family, strobes to the memories', () => {
    expect(made.pins('E').filter((pin) => !pin.startsWith('G1.'))).toEqual(['CPU.E', 'PIA.E']);
    expect(made.at('RAM./WE')).toBe('/WR');
    expect(made.at('ROM./OE')).toBe('/RD');
    expect(made.at('PIA.CS0')).toBe('main');
  });

  test('/WR is made of NAND gates alone: R/W turned, then joined with E', () => {
    const write = made.pins('/WR').find((pin) => /^G1\.\dY$/.test(pin))!;
    const nets = ['A', 'B'].map((pin) => made.at(write.replace('Y', pin))!);
    expect(nets).toContain('E');
    const inverter = made.pins(nets.find((net) => net !== 'E')!).find((pin) => /^G1\.\dY$/.test(pin))!;
    expect(['A', 'B'].map((pin) => made.at(inverter.replace('Y', pin)))).toEqual(['R/W', 'R/W']);
  });
});

test('inputs for control pins that must not float have their pulls: halt, interrupts', () => {
  const made = machine(
    '  SEL: { type: 22V10 }\n  PORT: { type: "8255" }\n  INV: { type: 74HCT04 }',
    'PORT',
    'SEL',
    '{ RAM: 16 KiB at 0 }, { PIA: 4 at 0x4000 }, { PORT: 4 at 0x5000 }, { ROM: 32 KiB at 0x8000 }',
  );
  // A strobe part on this bus: its strobes are made of E and R/W too.
  const formulas = new Map(
    made.design.devices.flatMap((device) => device.outputs.map((output) => [output.net, output.formula] as const)),
  );
  expect(formulas.get('/RD')).toBe('~(E & R/W)');
  expect(formulas.get('/WR')).toBe('~(E & ~R/W)');
  expect(made.at('PORT./RD')).toBe('/RD');
  expect(made.at('PORT./WR')).toBe('/WR');
  const pulled = made.design.netlists[1]!.parts.filter((part) => part.implied?.kind === 'pull').map(
    (part) => part.implied!.serves,
  );
  expect(pulled.sort()).toEqual(['/FIRQ', '/HALT', '/IRQ', '/NMI']);
});
