// What one sees and presses: the worked examples of Hitachi's HD44780U data sheet (ADE-207-272, tables 11 to 13; of table 11 what
// comes after HITACHI from memory), digits through a 4511, keys, relays, diodes.

import { describe, expect, test } from 'vitest';
import { digitsText, displays, isLit, lightOver } from '../../src/sim/index.ts';
import { ChipBench } from '../support/chip-bench.ts';

const MS = 1e6;

describe('a character display', () => {
  const display = (): ChipBench => new ChipBench('lcd-16').set({ E: 0, RS: 0, 'R/W': 0 }).wait(15 * MS);
  const byte = (bench: ChipBench, rs: 0 | 1, value: number): void => {
    bench.set({ RS: rs, 'R/W': 0 }).bus(value, 'DB').set({ E: 1 });
    bench
      .set({ E: 0 })
      .bus('Z', 'DB')
      .wait(2 * MS);
  };
  const text = (bench: ChipBench, characters: string): void => {
    for (const character of characters) byte(bench, 1, character.charCodeAt(0));
  };
  const line = (bench: ChipBench, row = 0): string => displays(bench.session, bench.netlist)[0]!.lines[row]!;

  test('HITACHI, then MICROCOM with a shifting display', () => {
    const bench = display();
    for (const order of [0x30, 0x0e, 0x06]) byte(bench, 0, order);
    text(bench, 'HITACHI');
    expect(line(bench)).toBe('HITACHI         ');
    // Entry mode set to shift: each character moves the display by one.
    byte(bench, 0, 0x07);
    text(bench, ' MICROKO');
    expect(line(bench)).toMatch(/^MICROKO/);
    // Cursor left twice, C over the K.
    byte(bench, 0, 0x10);
    byte(bench, 0, 0x10);
    text(bench, 'C');
    expect(line(bench)).toMatch(/^ICROCO/);
    // Display and cursor right, cursor right, M.
    byte(bench, 0, 0x1c);
    byte(bench, 0, 0x14);
    text(bench, 'M');
    expect(line(bench)).toMatch(/^ICROCOM/);
    byte(bench, 0, 0x02);
    expect(line(bench)).toBe('HITACHI MICROCOM');
  });

  test('two lines, addresses, what is read back, the busy flag', () => {
    const bench = display();
    for (const order of [0x38, 0x0c, 0x01]) byte(bench, 0, order);
    byte(bench, 0, 0xc5);
    text(bench, 'LOW');
    expect([line(bench, 0), line(bench, 1)]).toEqual([' '.repeat(16), '     LOW        ']);
    bench.set({ RS: 0, 'R/W': 1, E: 1 });
    expect(bench.value('DB')).toBe(0x48);
    bench.set({ E: 0, 'R/W': 0 }).bus(0x01, 'DB').set({ E: 1 });
    bench
      .set({ E: 0 })
      .bus('Z', 'DB')
      .wait(1 * MS)
      .set({ 'R/W': 1, E: 1 });
    expect(bench.value('DB') >> 7).toBe(1);
    bench
      .set({ E: 0 })
      .wait(1 * MS)
      .set({ E: 1 });
    expect(bench.value('DB')).toBe(0);
  });

  test('what is written while it is busy is lost', () => {
    const bench = display();
    for (const order of [0x38, 0x0c, 0x06]) byte(bench, 0, order);
    for (const character of 'AB') {
      bench.set({ RS: 1 }).bus(character.charCodeAt(0), 'DB').set({ E: 1 });
      bench.set({ E: 0 }).wait(1000);
    }
    expect(line(bench)).toMatch(/^A {15}$/);
  });

  test('four wires', () => {
    const bench = display();
    const half = (rs: 0 | 1, value: number): void => {
      bench
        .set({ RS: rs })
        .bus(value << 4, 'DB')
        .set({ E: 1 });
      bench
        .set({ E: 0 })
        .bus('Z', 'DB')
        .wait(2 * MS);
    };
    for (const value of [3, 3, 3, 2]) half(0, value);
    for (const order of [0x28, 0x0c, 0x06]) {
      half(0, order >> 4);
      half(0, order & 15);
    }
    for (const character of 'OK') {
      half(1, character.charCodeAt(0) >> 4);
      half(1, character.charCodeAt(0) & 15);
    }
    expect(line(bench)).toMatch(/^OK /);
  });
});

describe('digits', () => {
  test('each figure of a 4511 on a digit', () => {
    const segments = [...'ABCDEFG'];
    const bench = new ChipBench(
      {
        U: '74HC4511',
        DIGIT: 'digit-7seg-cc',
        ...Object.fromEntries(segments.map((name) => [`R${name}`, { type: 'resistor', value: '470 ohm' }])),
      },
      {
        ...Object.fromEntries(segments.map((name) => [`q${name}`, `U.Q${name} R${name}.A`])),
        ...Object.fromEntries(segments.map((name) => [`s${name}`, `DIGIT.${name} R${name}.B`])),
        GND: 'DIGIT.COM U.LE',
        VCC: 'U./LT U./BI',
      },
    );
    let text = '';
    for (let figure = 0; figure < 11; figure++) {
      bench.set({ 'U.A': (figure & 1) as 0 | 1, 'U.B': ((figure >> 1) & 1) as 0 | 1 });
      bench.set({ 'U.C': ((figure >> 2) & 1) as 0 | 1, 'U.D': ((figure >> 3) & 1) as 0 | 1 });
      text += digitsText(bench.session, bench.netlist, lightOver(bench.session, 1000, 4));
    }
    expect(text).toBe('0123456789 ');
  });
});

describe('small parts', () => {
  test('a key joins its row and column, another does not', () => {
    const bench = new ChipBench('keypad-4x4').set({ R2: 0 });
    bench.session.hand('U.KEY-5', true);
    expect(bench.line('C1', 'C2', 'C3')).toBe('Z0Z');
    bench.session.hand('U.KEY-5', false);
    expect(bench.get('C2')).toBe('Z');
  });

  test('a relay closes with its coil between plus and minus', () => {
    const bench = new ChipBench('relay-5v').set({ PLUS: 1, MINUS: 1, S1: 1 });
    expect(bench.get('S2')).toBe('Z');
    bench.set({ MINUS: 0 });
    expect(bench.get('S2')).toBe(1);
  });

  test('a Darlington driver pulls a lamp and a buzzer', () => {
    const bench = new ChipBench(
      { U: 'ULN2803', BUZZER: 'buzzer' },
      { VCC: 'BUZZER.PLUS U.COM', tone: 'BUZZER.MINUS U.1C' },
    ).set({ '1B': 0 });
    const lamp = bench.session.circuit.lamps.find(({ name }) => name === 'BUZZER')!;
    expect(isLit(bench.session, lamp)).toBe(false);
    bench.set({ '1B': 1 });
    expect(isLit(bench.session, lamp)).toBe(true);
  });

  // Saturated switches: an NPN or N-channel part conducts with a high base or gate, a PNP with a low one.
  test.each([
    ['2N3904', 'C', 'E', 'GND', 'VCC', [1, 0]],
    ['BC547', 'C', 'E', 'GND', 'VCC', [1, 0]],
    ['BC557', 'C', 'E', 'VCC', 'GND', [1, 0]],
    ['2N7000', 'D', 'S', 'GND', 'VCC', [1, 0]],
  ] as const)('%s switches its load', (type, load, common, rail, other, expected) => {
    const bench = new ChipBench(
      { U: type, RB: { type: 'resistor', value: '4.7 kohm' }, RL: { type: 'resistor', value: '1 kohm' } },
      {
        base: `U.${type === '2N7000' ? 'G' : 'B'} RB.A`,
        out: `U.${load} RL.A`,
        [rail]: `U.${common}`,
        [other]: 'RL.B',
      },
    );
    expect([0, 1].map((level) => bench.set({ 'RB.B': level as 0 | 1 }).get('out'))).toEqual(expected);
  });

  test('diodes make an and with a pull-up, an or with a pull-down', () => {
    const parts = {
      D1: '1N4148',
      D2: '1N4148',
      R: { type: 'resistor', value: '10 kohm' },
    };
    const and = new ChipBench(parts, { out: 'D1.A D2.A R.A', VCC: 'R.B' });
    const or = new ChipBench(parts, { out: 'D1.K D2.K R.A', GND: 'R.B' });
    for (const a of [0, 1] as const)
      for (const b of [0, 1] as const) {
        expect(and.set({ 'D1.K': a, 'D2.K': b }).get('out')).toBe(a & b);
        expect(or.set({ 'D1.A': a, 'D2.A': b }).get('out')).toBe(a | b);
      }
    // A clamp to the supply passes nothing.
    const clamp = new ChipBench({ D1: '1N4148' }, { VCC: 'D1.K' });
    expect(clamp.get('D1.A')).toBe('Z');
  });
});
