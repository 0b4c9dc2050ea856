// Timers against their makers' figures: the wave forms of Intel's 8254 data sheet (231164, figures 15 to 20, control words and counts
// from memory; mode definitions read in Ziatech's reprint), Zilog's UM0081 for the CTC, the timer chapters of WDC's W65C22 sheet, and the formulas of one-shots and the 555.

import { describe, expect, test } from 'vitest';
import { ChipBench } from '../support/chip-bench.ts';

describe('8254', () => {
  const timer = (type = '8254'): ChipBench =>
    new ChipBench(type).set({
      '/CS': 0,
      '/RD': 1,
      '/WR': 1,
      A0: 0,
      A1: 0,
      CLK0: 0,
      CLK1: 0,
      CLK2: 0,
      GATE0: 1,
      GATE1: 1,
      GATE2: 1,
    });
  const write = (bench: ChipBench, address: number, byte: number): void => {
    bench.set({ A0: address & 1 ? 1 : 0, A1: address & 2 ? 1 : 0 }).bus(byte);
    bench.set({ '/WR': 0 }).set({ '/WR': 1 }).bus('Z');
  };
  const read = (bench: ChipBench, address: number): number => {
    bench.set({ A0: address & 1 ? 1 : 0, A1: address & 2 ? 1 : 0, '/RD': 0 });
    const byte = bench.value();
    bench.set({ '/RD': 1 });
    return byte;
  };
  /** OUT after each of so many clocks. */
  const wave = (bench: ChipBench, clocks: number): string => {
    let text = '';
    for (let k = 0; k < clocks; k++) text += bench.clocks('CLK0', 1).get('OUT0');
    return text;
  };

  test('mode 0, CW=10, LSB=4: low until N + 1 clocks after the write', () => {
    const bench = timer();
    write(bench, 3, 0x10);
    expect(bench.get('OUT0')).toBe(0);
    write(bench, 0, 4);
    expect(wave(bench, 7)).toBe('0000111');
    // It counts on from the top: 0xFFFF after the zero.
    write(bench, 3, 0x00);
    expect(read(bench, 0)).toBe(0xfe);
  });

  test('mode 0: GATE low stops the counting, not the output', () => {
    const bench = timer();
    write(bench, 3, 0x10);
    write(bench, 0, 3);
    expect(wave(bench, 2)).toBe('00');
    bench.set({ GATE0: 0 });
    expect(wave(bench, 5)).toBe('00000');
    bench.set({ GATE0: 1 });
    expect(wave(bench, 3)).toBe('011');
  });

  test('mode 1, CW=12, LSB=3: a trigger makes it low for N clocks, and again', () => {
    const bench = timer().set({ GATE0: 0 });
    write(bench, 3, 0x12);
    write(bench, 0, 3);
    expect(wave(bench, 3)).toBe('111');
    bench.set({ GATE0: 1 });
    expect(wave(bench, 5)).toBe('00011');
    bench.set({ GATE0: 0 }).set({ GATE0: 1 });
    expect(wave(bench, 2)).toBe('00');
    // Triggered anew while it runs.
    bench.set({ GATE0: 0 }).set({ GATE0: 1 });
    expect(wave(bench, 4)).toBe('0001');
  });

  test('mode 2, CW=14, LSB=3: low for one clock of three', () => {
    const bench = timer();
    write(bench, 3, 0x14);
    write(bench, 0, 3);
    expect(wave(bench, 9)).toBe('110110110');
    bench.set({ GATE0: 0 });
    expect(wave(bench, 3)).toBe('111');
    bench.set({ GATE0: 1 });
    expect(wave(bench, 4)).toBe('1101');
  });

  test.each([
    [4, '1100110011'],
    [5, '1110011100'],
  ])('mode 3, CW=16, LSB=%i: high for the greater half', (count, expected) => {
    const bench = timer();
    write(bench, 3, 0x16);
    write(bench, 0, count);
    expect(wave(bench, 10)).toBe(expected);
  });

  test('mode 4, CW=18, LSB=3: low for one clock N + 1 after the write', () => {
    const bench = timer();
    write(bench, 3, 0x18);
    write(bench, 0, 3);
    expect(wave(bench, 6)).toBe('111011');
  });

  test('mode 5, CW=1A, LSB=3: the same after a trigger', () => {
    const bench = timer().set({ GATE0: 0 });
    write(bench, 3, 0x1a);
    write(bench, 0, 3);
    expect(wave(bench, 3)).toBe('111');
    bench.set({ GATE0: 1 });
    expect(wave(bench, 6)).toBe('111011');
  });

  test('counts in decimal, low byte then high, latched while it goes on', () => {
    const bench = timer();
    write(bench, 3, 0x31);
    write(bench, 0, 0x00);
    write(bench, 0, 0x10);
    bench.clocks('CLK0', 2);
    write(bench, 3, 0x00);
    bench.clocks('CLK0', 5);
    expect([read(bench, 0), read(bench, 0)]).toEqual([0x99, 0x09]);
    expect([read(bench, 0), read(bench, 0)]).toEqual([0x94, 0x09]);
  });

  test('read-back: status, then the count; the 8253 has none', () => {
    const bench = timer();
    write(bench, 3, 0x16);
    // Null count until it is loaded: bit 6; OUT high: bit 7; low byte only, mode 3.
    write(bench, 3, 0xe2);
    expect(read(bench, 0)).toBe(0xd6);
    write(bench, 0, 4);
    bench.clocks('CLK0', 1);
    write(bench, 3, 0xc2);
    expect([read(bench, 0), read(bench, 0)]).toEqual([0x96, 4]);
    const old = timer('8253');
    write(old, 3, 0x16);
    write(old, 0, 4);
    old.clocks('CLK0', 1);
    write(old, 3, 0xe2);
    expect(read(old, 0)).toBe(4);
  });
});

describe('Z80 CTC', () => {
  const ctc = (): ChipBench =>
    new ChipBench('Z80-CTC')
      .set({ '/CE': 1, '/IORQ': 1, '/RD': 1, '/M1': 1, IEI: 1, '/RESET': 0, CS0: 0, CS1: 0, CLK: 0 })
      .set({ 'CLK/TRG0': 0, 'CLK/TRG1': 0, 'CLK/TRG2': 0, 'CLK/TRG3': 0, '/RESET': 1 });
  const write = (bench: ChipBench, channel: number, ...bytes: readonly number[]): void => {
    for (const byte of bytes) {
      bench.set({ CS0: channel & 1 ? 1 : 0, CS1: channel & 2 ? 1 : 0, '/CE': 0 }).bus(byte);
      bench.set({ '/IORQ': 0 }).set({ '/IORQ': 1, '/CE': 1 }).bus('Z');
    }
  };
  const read = (bench: ChipBench, channel: number): number => {
    bench.set({ CS0: channel & 1 ? 1 : 0, CS1: channel & 2 ? 1 : 0, '/CE': 0, '/IORQ': 0, '/RD': 0 });
    const byte = bench.value();
    bench.set({ '/RD': 1, '/IORQ': 1, '/CE': 1 });
    return byte;
  };
  /** Clocks between the pulses at ZC/TO0. */
  const periods = (bench: ChipBench, clocks: number): number[] => {
    const at: number[] = [];
    let was = bench.get('ZC/TO0');
    for (let k = 0; k < clocks; k++) {
      bench.clocks('CLK', 1);
      if (bench.get('ZC/TO0') === 1 && was === 0) at.push(k);
      was = bench.get('ZC/TO0');
    }
    return at.slice(1).map((one, k) => one - at[k]!);
  };

  test.each([
    [0x07, 16, 3],
    [0x27, 256, 1],
  ])('timer, control %i: the clock by %i and by the constant', (control, prescaler, constant) => {
    const bench = ctc();
    write(bench, 0, control, constant);
    expect([...new Set(periods(bench, prescaler * constant * 4))]).toEqual([prescaler * constant]);
  });

  test('counter: edges chosen by bit 4; a constant of 0 is 256', () => {
    const bench = ctc();
    write(bench, 1, 0x57, 0);
    const pulse = (): void => {
      bench.set({ 'CLK/TRG1': 1 }).clocks('CLK', 2).set({ 'CLK/TRG1': 0 }).clocks('CLK', 2);
    };
    expect(read(bench, 1)).toBe(0); // 256 in eight bits
    pulse();
    expect(read(bench, 1)).toBe(255);
    const falling = ctc();
    write(falling, 1, 0x47, 5);
    falling.set({ 'CLK/TRG1': 1 }).clocks('CLK', 2);
    expect(read(falling, 1)).toBe(5);
    falling.set({ 'CLK/TRG1': 0 }).clocks('CLK', 2);
    expect(read(falling, 1)).toBe(4);
  });

  test('a timer set to a trigger waits for it', () => {
    const bench = ctc();
    write(bench, 0, 0x1f, 4);
    expect(periods(bench, 300)).toEqual([]);
    expect(read(bench, 0)).toBe(4);
    bench.set({ 'CLK/TRG0': 1 });
    expect(new Set(periods(bench, 300))).toEqual(new Set([64]));
  });

  test('a new constant counts from the next zero on; software reset stops', () => {
    const bench = ctc();
    write(bench, 0, 0x07, 2);
    bench.clocks('CLK', 40);
    write(bench, 0, 0x05, 5);
    // Begun anew it would take 80 clocks.
    let first = 0;
    while (bench.get('ZC/TO0') === 0) {
      bench.clocks('CLK', 1);
      first++;
    }
    expect(first).toBeLessThan(32);
    const list = periods(bench, 600);
    expect(list.slice(1).every((one) => one === 80)).toBe(true);
    write(bench, 0, 0x03);
    expect(periods(bench, 300)).toEqual([]);
  });
});

describe('6522', () => {
  const via = (): ChipBench =>
    new ChipBench('6522')
      .set({
        PHI2: 0,
        'R/W': 1,
        CS1: 1,
        '/CS2': 0,
        '/RES': 0,
        RS0: 0,
        RS1: 0,
        RS2: 0,
        RS3: 0,
        CA1: 1,
        CB1: 1,
        CA2: 1,
        CB2: 1,
      })
      .set({ '/RES': 1 });
  const cycle = (bench: ChipBench, register: number, byte?: number): number => {
    const select = { RS0: register & 1, RS1: (register >> 1) & 1, RS2: (register >> 2) & 1, RS3: (register >> 3) & 1 };
    bench.set({ ...(select as Record<string, 0 | 1>), 'R/W': byte === undefined ? 1 : 0 });
    if (byte !== undefined) bench.bus(byte);
    bench.set({ PHI2: 1 });
    const value = byte === undefined ? bench.value() : byte;
    bench.set({ PHI2: 0 });
    if (byte !== undefined) bench.bus('Z');
    bench.set({ 'R/W': 1, CS1: 0 }).set({ RS0: 0, RS1: 0, RS2: 0, RS3: 0 });
    bench.set({ CS1: 1 });
    return value;
  };
  /** A cycle that is not for it. */
  const idle = (bench: ChipBench, count: number): void => {
    bench.set({ CS1: 0 }).clocks('PHI2', count).set({ CS1: 1 });
  };

  test('timer 1, once: /IRQ falls with the N + 1st clock, PB7 is low meanwhile', () => {
    const bench = via();
    cycle(bench, 14, 0xc0);
    cycle(bench, 11, 0x80);
    expect(bench.get('PB7')).toBe(1);
    cycle(bench, 4, 5);
    cycle(bench, 5, 0);
    expect(bench.line('PB7', '/IRQ')).toBe('0Z');
    idle(bench, 5);
    expect(bench.line('PB7', '/IRQ')).toBe('0Z');
    idle(bench, 1);
    expect(bench.line('PB7', '/IRQ')).toBe('10');
    expect(cycle(bench, 13)).toBe(0xc0);
    cycle(bench, 4);
    expect(bench.get('/IRQ')).toBe('Z');
    idle(bench, 40);
    expect(cycle(bench, 13)).toBe(0);
    // It counts on from the top, not from its latch.
    expect(cycle(bench, 5)).toBe(0xff);
  });

  test('timer 1, going on: PB7 turns every N + 2 clocks', () => {
    const bench = via();
    cycle(bench, 11, 0xc0);
    cycle(bench, 4, 4);
    cycle(bench, 5, 0);
    let text = '';
    for (let k = 0; k < 24; k++) {
      idle(bench, 1);
      text += bench.get('PB7');
    }
    expect(text).toBe('000011111100000011111100');
  });

  test('timer 2 counts falls of PB6', () => {
    const bench = via().set({ PB6: 1 });
    cycle(bench, 11, 0x20);
    cycle(bench, 8, 2);
    cycle(bench, 9, 0);
    for (let k = 0; k < 3; k++) {
      expect(cycle(bench, 13)).toBe(0);
      bench.set({ PB6: 0 }).set({ PB6: 1 });
    }
    expect(cycle(bench, 13)).toBe(0x20);
  });

  test('handshake at CA: low after a read, high with CA1; flags and their clearing', () => {
    const bench = via().bus(0x5a, 'PA');
    bench.set({ CA2: 'Z' });
    cycle(bench, 12, 0x08);
    cycle(bench, 14, 0x82);
    expect(bench.get('CA2')).toBe(1);
    expect(cycle(bench, 1)).toBe(0x5a);
    expect(bench.get('CA2')).toBe(0);
    bench.set({ CA1: 0 });
    expect(bench.line('CA2', '/IRQ')).toBe('10');
    expect(cycle(bench, 13)).toBe(0x82);
    cycle(bench, 1);
    expect(bench.get('/IRQ')).toBe('Z');
  });

  test('shift out with PHI2: bit 7 first, eight pulses at CB1, then the flag', () => {
    const bench = via().set({ CB1: 'Z', CB2: 'Z' });
    cycle(bench, 11, 0x18);
    cycle(bench, 10, 0xa5);
    let bits = '';
    let was = bench.get('CB1');
    for (let k = 0; k < 20; k++) {
      idle(bench, 1);
      const now = bench.get('CB1');
      if (was === 0 && now === 1) bits += bench.get('CB2');
      was = now;
    }
    expect(bits).toBe('10100101');
    expect(cycle(bench, 13) & 4).toBe(4);
  });
});

describe('one-shots', () => {
  const shot = (type: string): ChipBench =>
    new ChipBench(
      { U: type, R: { type: 'resistor', value: '10 kohm' }, C: { type: 'capacitor', value: '100 nF' } },
      { rc: 'U.1REXT/CEXT R.A C.A', VCC: 'R.B', c: 'U.1CEXT C.B' },
    ).set({ '1A': 0, '1B': 0, '/1CLR': 1, '2A': 1, '2B': 0, '/2CLR': 1 });

  // TI SN74LS123 SDLS043 and SN74HC123 function tables; 0.45 R C at 5 V for HC (Nexperia 74HC123), 0.37 R C for LS.
  test.each([
    ['74HCT123', 450e3],
    ['74LS123', 370e3],
  ])('%s: high for %d ns from the last trigger on; /CLR ends it', (type, ns) => {
    const bench = shot(type);
    expect(bench.line('1Q', '/1Q')).toBe('01');
    bench.set({ '1B': 1 });
    expect(bench.line('1Q', '/1Q')).toBe('10');
    bench
      .wait(ns * 0.8)
      .set({ '1B': 0 })
      .set({ '1B': 1 });
    bench.wait(ns * 0.99);
    expect(bench.get('1Q')).toBe(1);
    bench.wait(ns * 0.02);
    expect(bench.get('1Q')).toBe(0);
    bench.set({ '1A': 1 }).set({ '1A': 0 });
    expect(bench.get('1Q')).toBe(1);
    bench.set({ '/1CLR': 0 });
    expect(bench.get('1Q')).toBe(0);
    bench.set({ '1A': 1 }).set({ '1A': 0 });
    expect(bench.get('1Q')).toBe(0);
    // With A low and B high the end of the clear is a trigger.
    bench.set({ '/1CLR': 1 });
    expect(bench.get('1Q')).toBe(1);
  });

  // TI NE555 SLFS022I, astable operation: tH = 0.693 (RA + RB) C, tL = 0.693 RB C.
  test('a 555 as an oscillator', () => {
    const bench = new ChipBench(
      {
        U: 'NE555',
        RA: { type: 'resistor', value: '5 kohm' },
        RB: { type: 'resistor', value: '3 kohm' },
        C: { type: 'capacitor', value: '150 nF' },
      },
      { VCC: 'RA.A', dis: 'U.DISCH RA.B RB.A', cap: 'U.THRES U.TRIG RB.B C.A', GND: 'C.B' },
    ).set({ '/RESET': 1 });
    const edges: number[] = [];
    let was = bench.get('OUT');
    for (let k = 0; k < 4000; k++) {
      bench.wait(1e3);
      if (bench.get('OUT') !== was) edges.push(k);
      was = bench.get('OUT');
    }
    const [fall, rise, again] = edges as [number, number, number];
    expect((rise - fall) / 1000).toBeCloseTo(Math.LN2 * 3e3 * 150e-9 * 1e3, 2);
    expect((again - rise) / 1000).toBeCloseTo(Math.LN2 * 8e3 * 150e-9 * 1e3, 2);
  });

  test('a 555 as a one-shot: 1.1 R C from the trigger', () => {
    const bench = new ChipBench(
      { U: 'NE555', R: { type: 'resistor', value: '10 kohm' }, C: { type: 'capacitor', value: '10 nF' } },
      { VCC: 'R.A', cap: 'U.DISCH U.THRES R.B C.A', GND: 'C.B' },
    ).set({ '/RESET': 1, TRIG: 1 });
    expect(bench.get('OUT')).toBe(0);
    bench.set({ TRIG: 0 }).set({ TRIG: 1 });
    expect(bench.wait(109e3).get('OUT')).toBe(1);
    expect(bench.wait(2e3).get('OUT')).toBe(0);
  });
});
