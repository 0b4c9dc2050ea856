// Serial ports against their makers' descriptions: National PC16550D (June 1995: tables I, II and IV, FIFO operation), Motorola
// MC6850 (control register and status), Intel 8251A (205222, from memory), Zilog UM0081 for the SIO (read
// registers and priorities; write registers and the vector with status from memory). Lines are read bit by bit, by code of this file.

import { describe, expect, test } from 'vitest';
import { ChipBench, type Levels } from '../support/chip-bench.ts';

/** One frame as it stands on a line: start, data from bit 0 on, parity, stops. */
const frame = (byte: number, bits: number, parity: 'none' | 'even' | 'odd', stops: number): string => {
  const data = Array.from({ length: bits }, (_, k) => (byte >> k) & 1);
  const ones = data.reduce((sum, bit) => sum + bit, 0) % 2;
  const check = parity === 'none' ? '' : `${parity === 'even' ? ones : 1 - ones}`;
  return `0${data.join('')}${check}${'1'.repeat(stops)}`;
};

/** What a line shows, looked at in the middle of each bit of `clocks` clocks, from the first fall on. */
const watch = (bench: ChipBench, line: string, clock: string, clocks: number, count: number): string => {
  for (let k = 0; bench.get(line) === 1 && k < 4000; k++) bench.clocks(clock, 1);
  let text = '';
  for (let bit = 0; bit < count; bit++) {
    bench.clocks(clock, Math.floor(clocks / 2));
    text += bench.get(line);
    bench.clocks(clock, clocks - Math.floor(clocks / 2));
  }
  return text;
};

/** Sends a line, each bit so many clocks long. */
const play = (bench: ChipBench, line: string, clock: string, clocks: number, bits: string): void => {
  for (const bit of bits) {
    bench.set({ [line]: bit === '1' ? 1 : 0 });
    bench.clocks(clock, clocks);
  }
  bench.set({ [line]: 1 });
};

describe('16550', () => {
  const uart = (type = '16C550'): ChipBench =>
    new ChipBench({ U: type }, { clock: 'U./BAUDOUT U.RCLK' })
      .set({
        CS0: 1,
        CS1: 1,
        '/CS2': 0,
        '/ADS': 0,
        '/RD': 1,
        RD: 0,
        '/WR': 1,
        WR: 0,
        MR: 1,
        A0: 0,
        A1: 0,
        A2: 0,
        XIN: 0,
        SIN: 1,
        '/CTS': 1,
        '/DSR': 1,
        '/DCD': 1,
        '/RI': 1,
      })
      .set({ MR: 0 });
  const select = (register: number): Levels => ({
    A0: register & 1 ? 1 : 0,
    A1: register & 2 ? 1 : 0,
    A2: register & 4 ? 1 : 0,
  });
  const write = (bench: ChipBench, register: number, byte: number): void => {
    bench.set(select(register)).bus(byte);
    bench.set({ '/WR': 0 }).set({ '/WR': 1 }).bus('Z');
  };
  const read = (bench: ChipBench, register: number): number => {
    bench.set(select(register)).set({ '/RD': 0 });
    const byte = bench.value();
    bench.set({ '/RD': 1 });
    return byte;
  };
  /** Divisor, then 8 bits, no parity, one stop. */
  const setUp = (bench: ChipBench, divisor: number, lcr = 3): void => {
    write(bench, 3, 0x80);
    write(bench, 0, divisor);
    write(bench, 1, 0);
    write(bench, 3, lcr);
  };

  test('table I: registers after a master reset', () => {
    const bench = uart();
    expect([1, 2, 3, 4, 5].map((register) => read(bench, register))).toEqual([0, 0x01, 0, 0, 0x60]);
    expect(bench.line('SOUT', 'INTR', '/RTS', '/DTR', '/OUT1', '/OUT2')).toBe('101111');
  });

  test.each([
    [3, 8, 'none', 1],
    [0x1a, 7, 'even', 1],
    [0x0f, 8, 'odd', 2],
  ] as const)(
    'line control %i: the frame on SOUT, sixteen clocks of the divided rate a bit',
    (lcr, bits, parity, stops) => {
      const bench = uart();
      setUp(bench, 2, lcr);
      write(bench, 0, 0x53);
      const wanted = frame(0x53, bits, parity, stops);
      expect(watch(bench, 'SOUT', 'XIN', 32, wanted.length)).toBe(wanted);
    },
  );

  test('a character at SIN: ready, read, gone; parity and framing errors', () => {
    const bench = uart();
    setUp(bench, 1, 0x1b);
    play(bench, 'SIN', 'XIN', 16, frame(0xc4, 8, 'even', 1));
    expect(read(bench, 5) & 0x1f).toBe(1);
    expect(read(bench, 0)).toBe(0xc4);
    expect(read(bench, 5) & 0x1f).toBe(0);
    play(bench, 'SIN', 'XIN', 16, frame(0xc4, 8, 'odd', 1));
    expect(read(bench, 5) & 0x1f).toBe(5);
    // The errors go with the status that was read, the character with its own reading.
    expect(read(bench, 5) & 0x1f).toBe(1);
    read(bench, 0);
    play(bench, 'SIN', 'XIN', 16, `${frame(0x41, 8, 'even', 1).slice(0, -1)}0`);
    expect(read(bench, 5) & 0x1f).toBe(9);
  });

  test('overrun without buffers: the later character stands', () => {
    const bench = uart();
    setUp(bench, 1);
    play(bench, 'SIN', 'XIN', 16, frame(0x11, 8, 'none', 1));
    play(bench, 'SIN', 'XIN', 16, frame(0x22, 8, 'none', 1));
    expect(read(bench, 5) & 3).toBe(3);
    expect(read(bench, 0)).toBe(0x22);
  });

  test('table IV: interrupts by priority, each ended as it says', () => {
    const bench = uart();
    setUp(bench, 1);
    write(bench, 1, 0x0f);
    // The empty transmitter asks at once; reading the identification ends it.
    expect([bench.get('INTR'), read(bench, 2), bench.get('INTR')]).toEqual([1, 0x02, 0]);
    bench.set({ '/CTS': 0 });
    expect([bench.get('INTR'), read(bench, 2)]).toEqual([1, 0x00]);
    play(bench, 'SIN', 'XIN', 16, frame(0x11, 8, 'none', 1));
    expect(read(bench, 2)).toBe(0x04);
    play(bench, 'SIN', 'XIN', 16, frame(0x22, 8, 'none', 1));
    expect(read(bench, 2)).toBe(0x06);
    expect(read(bench, 5) & 2).toBe(2);
    expect(read(bench, 2)).toBe(0x04);
    read(bench, 0);
    expect(read(bench, 2)).toBe(0x00);
    expect(read(bench, 6)).toBe(0x11);
    expect([read(bench, 2), bench.get('INTR')]).toEqual([0x01, 0]);
  });

  test('buffers: trigger level, time-out after four characters, sixteen to send', () => {
    const bench = uart();
    setUp(bench, 1);
    write(bench, 2, 0x41); // on, trigger at 4
    write(bench, 1, 1);
    for (let k = 0; k < 3; k++) play(bench, 'SIN', 'XIN', 16, frame(k + 1, 8, 'none', 1));
    expect([bench.get('INTR'), read(bench, 2)]).toEqual([0, 0xc1]);
    bench.clocks('XIN', 16 * 42);
    expect([bench.get('INTR'), read(bench, 2)]).toEqual([1, 0xcc]);
    read(bench, 0);
    expect(bench.get('INTR')).toBe(0);
    for (let k = 0; k < 2; k++) play(bench, 'SIN', 'XIN', 16, frame(k + 4, 8, 'none', 1));
    expect(read(bench, 2)).toBe(0xc4);
    expect([read(bench, 0), read(bench, 0), read(bench, 0), read(bench, 0)]).toEqual([2, 3, 4, 5]);
    expect(read(bench, 5) & 1).toBe(0);
    // The 16450 has no buffers: the identification says so.
    const old = uart('16450');
    write(old, 2, 0x41);
    expect(read(old, 2)).toBe(0x01);
  });

  test('the loop back: out to in, modem outputs to modem inputs', () => {
    const bench = uart();
    setUp(bench, 1);
    write(bench, 4, 0x1b);
    write(bench, 0, 0x9c);
    bench.clocks('XIN', 16 * 12);
    expect(bench.get('SOUT')).toBe(1);
    expect(read(bench, 0)).toBe(0x9c);
    // Bits 4 and 5 of the status follow RTS and DTR, 6 and 7 OUT1 and OUT2 (PC16550D, modem control register, bit 4).
    expect(read(bench, 6) >> 4).toBe(0b1011);
    expect(bench.line('/RTS', '/DTR', '/OUT2')).toBe('111');
  });
});

describe('6850', () => {
  const acia = (): ChipBench =>
    new ChipBench('6850').set({
      E: 0,
      'R/W': 1,
      CS0: 1,
      CS1: 1,
      '/CS2': 0,
      RS: 0,
      RxDATA: 1,
      RxCLK: 0,
      TxCLK: 0,
      '/DCD': 0,
      '/CTS': 0,
    });
  const cycle = (bench: ChipBench, rs: 0 | 1, byte?: number): number => {
    bench.set({ RS: rs, 'R/W': byte === undefined ? 1 : 0 });
    if (byte !== undefined) bench.bus(byte);
    bench.set({ E: 1 });
    const value = byte === undefined ? bench.value() : byte;
    bench.set({ E: 0 });
    if (byte !== undefined) bench.bus('Z');
    return value;
  };
  const setUp = (bench: ChipBench, control: number): void => {
    cycle(bench, 0, 3);
    cycle(bench, 0, control);
  };

  // Control register bits 4 to 2.
  test.each([
    [0, 7, 'even', 2],
    [1, 7, 'odd', 2],
    [2, 7, 'even', 1],
    [3, 7, 'odd', 1],
    [4, 8, 'none', 2],
    [5, 8, 'none', 1],
    [6, 8, 'even', 1],
    [7, 8, 'odd', 1],
  ] as const)('word select %i: %i bits, %s parity, %i stop', (select, bits, parity, stops) => {
    const bench = acia();
    setUp(bench, (select << 2) | 1);
    cycle(bench, 1, 0x65);
    const wanted = frame(0x65, bits, parity, stops);
    expect(watch(bench, 'TxDATA', 'TxCLK', 16, wanted.length)).toBe(wanted);
    play(bench, 'RxDATA', 'RxCLK', 16, frame(0x35, bits, parity, stops));
    expect(cycle(bench, 0) & 0x71).toBe(1);
    expect(cycle(bench, 1)).toBe(0x35);
    expect(cycle(bench, 0) & 1).toBe(0);
    if (parity === 'none') return;
    play(bench, 'RxDATA', 'RxCLK', 16, frame(0x35, bits, parity === 'even' ? 'odd' : 'even', stops));
    expect(cycle(bench, 0) & 0x71).toBe(0x41);
  });

  test('clock by 1 and by 64', () => {
    for (const [divide, clocks] of [
      [0, 1],
      [2, 64],
    ] as const) {
      const bench = acia();
      setUp(bench, 0x14 | divide);
      cycle(bench, 1, 0xd2);
      expect(watch(bench, 'TxDATA', 'TxCLK', clocks, 10)).toBe(frame(0xd2, 8, 'none', 1));
    }
  });

  test('nothing before the master reset; empty, full, empty again', () => {
    const bench = acia();
    expect(cycle(bench, 0) & 2).toBe(0);
    setUp(bench, 0x15);
    expect(cycle(bench, 0)).toBe(2);
    cycle(bench, 1, 0x41);
    expect(cycle(bench, 0) & 2).toBe(0);
    bench.clocks('TxCLK', 2);
    expect(cycle(bench, 0) & 2).toBe(2);
  });

  // Bits 6 and 5: /RTS and the transmitter's interrupt; 11 sends a break.
  test.each([
    [0x15, '0', 'Z'],
    [0x35, '0', '0'],
    [0x55, '1', 'Z'],
    [0x75, '0', 'Z'],
  ])('transmitter control %i: /RTS %s, /IRQ %s', (control, rts, irq) => {
    const bench = acia();
    setUp(bench, control);
    expect(bench.line('/RTS', '/IRQ', 'TxDATA')).toBe(`${rts}${irq}${control === 0x75 ? '0' : '1'}`);
  });

  test('receiver: /IRQ until the character is read; overrun shows with the next read', () => {
    const bench = acia();
    setUp(bench, 0x95);
    for (const byte of [0x31, 0x32]) play(bench, 'RxDATA', 'RxCLK', 16, frame(byte, 8, 'none', 1));
    expect([bench.get('/IRQ'), cycle(bench, 0) & 0xa1]).toEqual([0, 0x81]);
    expect(cycle(bench, 1)).toBe(0x31);
    expect(cycle(bench, 0) & 0x21).toBe(0x21);
    cycle(bench, 1);
    expect([bench.get('/IRQ'), cycle(bench, 0) & 0x21]).toEqual(['Z', 0]);
  });

  test('/CTS high hides the empty transmitter; a lost carrier asks until status and data are read', () => {
    const bench = acia();
    setUp(bench, 0x95);
    bench.set({ '/CTS': 1 });
    expect(cycle(bench, 0)).toBe(8);
    bench.set({ '/CTS': 0, '/DCD': 1 });
    // The data alone do not end it.
    cycle(bench, 1);
    expect([bench.get('/IRQ'), cycle(bench, 0) & 0x84]).toEqual([0, 0x84]);
    bench.set({ '/DCD': 0 });
    expect(cycle(bench, 0) & 0x84).toBe(0x84);
    cycle(bench, 1);
    expect([bench.get('/IRQ'), cycle(bench, 0) & 0x84]).toEqual(['Z', 0]);
  });
});

describe('8251A', () => {
  const usart = (): ChipBench =>
    new ChipBench('8251')
      .set({
        '/CS': 0,
        '/RD': 1,
        '/WR': 1,
        RESET: 1,
        'C//D': 0,
        RxD: 1,
        '/RxC': 0,
        '/TxC': 0,
        '/CTS': 0,
        '/DSR': 1,
        CLK: 0,
      })
      .set({ RESET: 0 });
  const write = (bench: ChipBench, control: 0 | 1, byte: number): void => {
    bench.set({ 'C//D': control }).bus(byte);
    bench.set({ '/WR': 0 }).set({ '/WR': 1 }).bus('Z');
  };
  const read = (bench: ChipBench, control: 0 | 1): number => {
    bench.set({ 'C//D': control, '/RD': 0 });
    const byte = bench.value();
    bench.set({ '/RD': 1 });
    return byte;
  };

  test.each([
    [0x4e, 16, 8, 'none', 1],
    [0xfa, 16, 7, 'even', 2],
    [0x5d, 1, 8, 'odd', 1],
    [0x4f, 64, 8, 'none', 1],
  ] as const)('mode %i: the frame, the clock by %i', (mode, clocks, bits, parity, stops) => {
    const bench = usart();
    write(bench, 1, mode);
    write(bench, 1, 0x27);
    write(bench, 0, 0x5b);
    const wanted = frame(0x5b, bits, parity, stops);
    expect(watch(bench, 'TxD', '/TxC', clocks, wanted.length)).toBe(wanted);
    play(bench, 'RxD', '/RxC', clocks, frame(0x2c, bits, parity, stops));
    expect([bench.get('RxRDY'), read(bench, 0), bench.get('RxRDY')]).toEqual([1, 0x2c, 0]);
  });

  test('status: empty, ready; errors stay until they are reset; /DSR', () => {
    const bench = usart();
    write(bench, 1, 0x4e);
    write(bench, 1, 0x05);
    expect(read(bench, 1)).toBe(0x05);
    bench.set({ '/DSR': 0 });
    expect(read(bench, 1)).toBe(0x85);
    for (const byte of [1, 2]) play(bench, 'RxD', '/RxC', 16, frame(byte, 8, 'none', 1));
    expect(read(bench, 1) & 0x3a).toBe(0x12);
    expect(read(bench, 0)).toBe(2);
    expect(read(bench, 1) & 0x3a).toBe(0x10);
    write(bench, 1, 0x15);
    expect(read(bench, 1) & 0x38).toBe(0);
  });

  test('nothing is sent while /CTS is high; outputs of the command', () => {
    const bench = usart();
    write(bench, 1, 0x4e);
    write(bench, 1, 0x23);
    expect(bench.line('/RTS', '/DTR', 'TxRDY', 'TxEMPTY')).toBe('0011');
    bench.set({ '/CTS': 1 });
    expect(bench.get('TxRDY')).toBe(0);
    write(bench, 0, 0x55);
    bench.clocks('/TxC', 64);
    expect(bench.line('TxD', 'TxEMPTY')).toBe('10');
    bench.set({ '/CTS': 0 });
    expect(watch(bench, 'TxD', '/TxC', 16, 10)).toBe(frame(0x55, 8, 'none', 1));
    // Internal reset: the next control byte is a mode again.
    write(bench, 1, 0x40);
    expect(bench.line('/RTS', '/DTR')).toBe('11');
  });
});

describe('Z80 SIO', () => {
  const sio = (): ChipBench =>
    new ChipBench('Z80-SIO-0')
      .set({
        '/CE': 1,
        '/IORQ': 1,
        '/RD': 1,
        '/M1': 1,
        IEI: 1,
        '/RESET': 0,
        'C//D': 0,
        'B//A': 0,
        RxDA: 1,
        RxDB: 1,
        '/RxCA': 0,
        '/TxCA': 0,
        '/RxTxCB': 0,
        '/CTSA': 1,
        '/CTSB': 1,
        '/DCDA': 1,
        '/DCDB': 1,
        CLK: 0,
      })
      .set({ '/RESET': 1 });
  const write = (bench: ChipBench, channel: 0 | 1, control: 0 | 1, ...bytes: readonly number[]): void => {
    for (const byte of bytes) {
      bench.set({ 'C//D': control, 'B//A': channel, '/CE': 0 }).bus(byte);
      bench.set({ '/IORQ': 0 }).set({ '/IORQ': 1, '/CE': 1 }).bus('Z');
    }
  };
  const read = (bench: ChipBench, channel: 0 | 1, control: 0 | 1): number => {
    bench.set({ 'C//D': control, 'B//A': channel, '/CE': 0, '/IORQ': 0, '/RD': 0 });
    const byte = bench.value();
    bench.set({ '/IORQ': 1, '/RD': 1, '/CE': 1 });
    return byte;
  };
  const acknowledge = (bench: ChipBench): number => {
    bench.set({ '/M1': 0 }).set({ '/IORQ': 0 });
    const vector = bench.value();
    bench.set({ '/IORQ': 1, '/M1': 1 });
    for (const code of [0xed, 0x4d]) {
      bench.set({ '/M1': 0, '/RD': 0 }).bus(code);
      bench.set({ '/RD': 1, '/M1': 1 }).bus('Z');
    }
    return vector;
  };
  /** 8 bits, clock by 16, one stop, no parity; receiver and transmitter on. */
  const setUp = (bench: ChipBench, channel: 0 | 1, wr1 = 0): void =>
    write(bench, channel, 1, 0x18, 4, 0x44, 3, 0xc1, 5, 0xea, 1, wr1);

  test('frames out and in, by the clock of each port', () => {
    for (const [channel, txc, txd, rxc, rxd] of [
      [0, '/TxCA', 'TxDA', '/RxCA', 'RxDA'],
      [1, '/RxTxCB', 'TxDB', '/RxTxCB', 'RxDB'],
    ] as const) {
      const bench = sio();
      setUp(bench, channel);
      expect(read(bench, channel, 1) & 5).toBe(4);
      write(bench, channel, 0, 0xb6);
      expect(watch(bench, txd, txc, 16, 10)).toBe(frame(0xb6, 8, 'none', 1));
      play(bench, rxd, rxc, 16, frame(0x6a, 8, 'none', 1));
      expect(read(bench, channel, 1) & 1).toBe(1);
      expect(read(bench, channel, 0)).toBe(0x6a);
      expect(read(bench, channel, 1) & 1).toBe(0);
    }
  });

  test('three characters wait; a fourth is an overrun, until the error reset', () => {
    const bench = sio();
    setUp(bench, 0);
    for (const byte of [1, 2, 3, 4]) play(bench, 'RxDA', '/RxCA', 16, frame(byte, 8, 'none', 1));
    write(bench, 0, 1, 1);
    expect(read(bench, 0, 1) & 0x20).toBe(0x20);
    expect([read(bench, 0, 0), read(bench, 0, 0)]).toEqual([1, 2]);
    write(bench, 0, 1, 0x30, 1);
    expect(read(bench, 0, 1) & 0x20).toBe(0);
  });

  test('the vector with its status: receiver, transmitter, external of A and B', () => {
    const bench = sio();
    setUp(bench, 0, 0x13);
    setUp(bench, 1, 0x17);
    write(bench, 1, 1, 2, 0x40);
    play(bench, 'RxDA', '/RxCA', 16, frame(0x21, 8, 'none', 1));
    expect(bench.get('/INT')).toBe(0);
    expect(acknowledge(bench)).toBe(0x4c);
    read(bench, 0, 0);
    expect(bench.get('/INT')).toBe('Z');
    write(bench, 1, 0, 0x55);
    bench.clocks('/RxTxCB', 2);
    expect(acknowledge(bench)).toBe(0x40);
    write(bench, 1, 1, 0x28);
    bench.set({ '/CTSA': 0 });
    expect(acknowledge(bench)).toBe(0x4a);
    // The status is held until it is reset.
    bench.set({ '/CTSA': 1 });
    expect(read(bench, 0, 1) & 0x20).toBe(0x20);
    write(bench, 0, 1, 0x10);
    expect(read(bench, 0, 1) & 0x20).toBe(0);
  });

  test('first character only, then again when it is told so', () => {
    const bench = sio();
    setUp(bench, 0, 0x08);
    const ask = (byte: number): unknown => {
      play(bench, 'RxDA', '/RxCA', 16, frame(byte, 8, 'none', 1));
      const level = bench.get('/INT');
      if (level === 0) acknowledge(bench);
      read(bench, 0, 0);
      return level;
    };
    expect([ask(1), ask(2)]).toEqual([0, 'Z']);
    write(bench, 0, 1, 0x20);
    expect(ask(3)).toBe(0);
  });
});
