// Parallel ports and the Z80's interrupt chain against their makers' descriptions: Intel 8255A/82C55A (mode 1 output
// read in a reprint; mode definition, bit set/reset, the other figures from memory), Motorola MC6821 (DS9435, from memory), the Z80 PIO technical manual
// (chapters 4 to 6) and UM0081 (daisy chain, return from interrupt).

import { describe, expect, test } from 'vitest';
import { ChipBench } from '../support/chip-bench.ts';

describe('8255', () => {
  const ppi = (): ChipBench =>
    new ChipBench('8255').set({ '/CS': 0, '/RD': 1, '/WR': 1, RESET: 1, A0: 0, A1: 0 }).set({ RESET: 0 });
  const at = (bench: ChipBench, address: number): ChipBench =>
    bench.set({ A0: address & 1 ? 1 : 0, A1: address & 2 ? 1 : 0 });
  const write = (bench: ChipBench, address: number, byte: number): void => {
    at(bench, address).bus(byte);
    bench.set({ '/WR': 0 }).set({ '/WR': 1 }).bus('Z');
  };
  const read = (bench: ChipBench, address: number): number => {
    at(bench, address).set({ '/RD': 0 });
    const byte = bench.value();
    bench.set({ '/RD': 1 });
    return byte;
  };

  test('after a reset all lines come in', () => {
    const bench = ppi();
    expect(bench.line('PA0', 'PB7', 'PC3', 'D0')).toBe('ZZZZ');
    bench.bus(0x3c, 'PA');
    expect(read(bench, 0)).toBe(0x3c);
  });

  // The sheet's table of mode 0 port definition: D4 port A, D3 upper C, D1 port B, D0 lower C; a 1 is an input.
  test.each(Array.from({ length: 16 }, (_, k) => 0x80 | ((k & 12) << 1) | (k & 3)))(
    'mode 0, control word %i',
    (word) => {
      const bench = ppi();
      write(bench, 3, word);
      write(bench, 0, 0xa5);
      write(bench, 1, 0x5a);
      write(bench, 2, 0xc3);
      expect(bench.value('PA')).toBe(word & 0x10 ? -1 : 0xa5);
      expect(bench.value('PB')).toBe(word & 2 ? -1 : 0x5a);
      expect(bench.line('PC7', 'PC4')).toBe(word & 8 ? 'ZZ' : '10');
      expect(bench.line('PC3', 'PC0')).toBe(word & 1 ? 'ZZ' : '01');
    },
  );

  test('single bits of port C are set and cleared', () => {
    const bench = ppi();
    write(bench, 3, 0x80);
    for (const word of [0x0f, 0x01, 0x07]) write(bench, 3, word);
    expect(bench.value('PC')).toBe(0x89);
    write(bench, 3, 0x0e);
    expect(bench.value('PC')).toBe(0x09);
  });

  test('mode 1 input: /STB makes IBF, its end INTR, a read ends both', () => {
    const bench = ppi().set({ PC4: 1 });
    write(bench, 3, 0xb0);
    write(bench, 3, 0x09); // INTE A
    bench.bus(0x77, 'PA').set({ PC4: 0 });
    expect(bench.line('PC5', 'PC3')).toBe('10');
    bench.set({ PC4: 1 });
    expect(bench.line('PC5', 'PC3')).toBe('11');
    bench.bus(0x00, 'PA');
    expect(read(bench, 2) & 0x38).toBe(0x38);
    expect(read(bench, 0)).toBe(0x77);
    expect(bench.line('PC5', 'PC3')).toBe('00');
  });

  test('mode 1 output: a write makes /OBF low, /ACK high again, its end INTR', () => {
    const bench = ppi().set({ PC2: 1 });
    write(bench, 3, 0x84);
    write(bench, 3, 0x05); // INTE B
    expect(bench.line('PC1', 'PC0')).toBe('11');
    write(bench, 1, 0x42);
    expect(bench.line('PC1', 'PC0')).toBe('00');
    bench.set({ PC2: 0 });
    expect(bench.line('PC1', 'PC0')).toBe('10');
    bench.set({ PC2: 1 });
    expect(bench.line('PC1', 'PC0')).toBe('11');
    expect(bench.value('PB')).toBe(0x42);
  });

  test('mode 1 output of port A: its enable is bit 6, its request PC3', () => {
    const bench = ppi().set({ PC6: 1 });
    write(bench, 3, 0xa0);
    write(bench, 0, 0x31);
    bench.set({ PC6: 0 }).set({ PC6: 1 });
    expect(bench.line('PC7', 'PC3')).toBe('10');
    write(bench, 3, 0x0d);
    expect(bench.get('PC3')).toBe(1);
    write(bench, 0, 0x32);
    expect(bench.line('PC7', 'PC3')).toBe('00');
    bench.set({ PC6: 0 });
    expect(bench.get('PC3')).toBe(0);
    bench.set({ PC6: 1 });
    expect([bench.get('PC3'), bench.value('PA')]).toEqual([1, 0x32]);
  });

  test('mode 2: port A drives only while it is acknowledged', () => {
    const bench = ppi().set({ PC4: 1, PC6: 1 });
    write(bench, 3, 0xc0);
    write(bench, 0, 0x99);
    expect([bench.value('PA'), bench.get('PC7')]).toEqual([-1, 0]);
    bench.set({ PC6: 0 });
    expect([bench.value('PA'), bench.get('PC7')]).toEqual([0x99, 1]);
    bench.set({ PC6: 1 }).bus(0x12, 'PA').set({ PC4: 0 }).set({ PC4: 1 }).bus('Z', 'PA');
    expect(bench.get('PC5')).toBe(1);
    expect(read(bench, 0)).toBe(0x12);
  });
});

describe('6821', () => {
  const pia = (): ChipBench =>
    new ChipBench('6821')
      .set({ E: 0, 'R/W': 1, CS0: 1, CS1: 1, '/CS2': 0, RS0: 0, RS1: 0, '/RESET': 0, CA1: 0, CB1: 0 })
      .set({ '/RESET': 1 });
  const cycle = (bench: ChipBench, register: number, byte?: number): number => {
    bench.set({ RS0: register & 1 ? 1 : 0, RS1: register & 2 ? 1 : 0, 'R/W': byte === undefined ? 1 : 0 });
    if (byte !== undefined) bench.bus(byte);
    bench.set({ E: 1 });
    const value = byte === undefined ? bench.value() : byte;
    bench.set({ E: 0 });
    if (byte !== undefined) bench.bus('Z');
    return value;
  };
  /** A cycle for another part. */
  const other = (bench: ChipBench): ChipBench => bench.set({ CS1: 0 }).set({ E: 1 }).set({ E: 0 }).set({ CS1: 1 });

  test('bit 2 of the control register chooses direction or data', () => {
    const bench = pia();
    cycle(bench, 0, 0xf0);
    cycle(bench, 1, 0x04);
    cycle(bench, 0, 0xa5);
    bench.bus(0x0c, 'PA', 4);
    expect([4, 5, 6, 7].map((k) => bench.get(`PA${k}`))).toEqual([0, 1, 0, 1]);
    expect(cycle(bench, 0)).toBe(0xac);
    cycle(bench, 1, 0);
    expect(cycle(bench, 0)).toBe(0xf0);
  });

  // Table of CRA1, CRA0: the active edge, and whether it asks.
  test.each([
    [0x04, 'fall', false],
    [0x05, 'fall', true],
    [0x06, 'rise', false],
    [0x07, 'rise', true],
  ])('CA1 with control %i: %s, asks %s', (control, edge, asks) => {
    const bench = pia().set({ CA1: edge === 'fall' ? 1 : 0 });
    cycle(bench, 1, control);
    bench.set({ CA1: edge === 'fall' ? 0 : 1 });
    expect(cycle(bench, 1)).toBe(control | 0x80);
    expect(bench.get('/IRQA')).toBe(asks ? 0 : 'Z');
    cycle(bench, 0);
    expect(cycle(bench, 1)).toBe(control);
    expect(bench.get('/IRQA')).toBe('Z');
    bench.set({ CA1: edge === 'fall' ? 1 : 0 });
    expect(cycle(bench, 1)).toBe(control);
  });

  test('CA2 as an output: handshake, pulse, low, high', () => {
    const bench = pia();
    cycle(bench, 1, 0x24);
    expect(bench.get('CA2')).toBe(1);
    cycle(bench, 0);
    expect(bench.get('CA2')).toBe(0);
    expect(other(bench).get('CA2')).toBe(0);
    bench.set({ CA1: 1 }).set({ CA1: 0 });
    expect(bench.get('CA2')).toBe(1);
    cycle(bench, 1, 0x2c);
    cycle(bench, 0);
    expect(bench.get('CA2')).toBe(0);
    expect(other(bench).get('CA2')).toBe(1);
    cycle(bench, 1, 0x34);
    expect(bench.get('CA2')).toBe(0);
    cycle(bench, 1, 0x3c);
    expect(bench.get('CA2')).toBe(1);
  });

  test('CB2 goes low after a write of data B, not after a read', () => {
    const bench = pia();
    cycle(bench, 3, 0x24);
    cycle(bench, 2);
    expect(bench.get('CB2')).toBe(1);
    cycle(bench, 2, 1);
    expect(bench.get('CB2')).toBe(0);
    // And CA2 not after a write.
    cycle(bench, 1, 0x24);
    cycle(bench, 0, 1);
    expect(bench.get('CA2')).toBe(1);
  });
});

/** Pins of the Z80 family on one bus. */
const BUS = ['/IORQ', '/RD', '/M1'];
const DATA = Array.from({ length: 8 }, (_, k) => `D${k}`);
const busNets = (...parts: readonly string[]): Record<string, string> =>
  Object.fromEntries(
    [...BUS, ...DATA, '/INT', 'CLK'].map((pin) => [pin, parts.map((part) => `${part}.${pin}`).join(' ')]),
  );

/** What the processor does on the bus of its family. */
class FamilyBus {
  readonly bench: ChipBench;
  constructor(bench: ChipBench) {
    this.bench = bench.set({ '/IORQ': 1, '/RD': 1, '/M1': 1, CLK: 0 });
  }

  write(select: Readonly<Record<string, 0 | 1>>, byte: number): void {
    this.bench.set(select).bus(byte);
    this.bench.set({ '/IORQ': 0 }).set({ '/IORQ': 1 }).bus('Z');
    this.deselect(select);
  }

  read(select: Readonly<Record<string, 0 | 1>>): number {
    this.bench.set(select).set({ '/IORQ': 0, '/RD': 0 });
    const byte = this.bench.value();
    this.bench.set({ '/IORQ': 1, '/RD': 1 });
    this.deselect(select);
    return byte;
  }

  deselect(select: Readonly<Record<string, 0 | 1>>): void {
    for (const name of Object.keys(select)) if (name.endsWith('/CE')) this.bench.set({ [name]: 1 });
  }

  fetch(...opcodes: readonly number[]): void {
    for (const opcode of opcodes) {
      this.bench.set({ '/M1': 0 }).bus(opcode);
      this.bench.set({ '/RD': 0 }).set({ '/RD': 1, '/M1': 1 }).bus('Z');
    }
  }

  /** The vector of an acknowledge; -1 where nobody gives one. */
  acknowledge(): number {
    this.bench.set({ '/M1': 0 }).set({ '/IORQ': 0 });
    const vector = this.bench.value();
    this.bench.set({ '/IORQ': 1, '/M1': 1 });
    return vector;
  }
}

describe('Z80 PIO', () => {
  const pio = (): FamilyBus =>
    new FamilyBus(
      new ChipBench({ U: 'Z80-PIO' }, busNets('U')).set({
        '/CE': 1,
        'C//D': 0,
        'B//A': 0,
        IEI: 1,
        '/ASTB': 1,
        '/BSTB': 1,
      }),
    );
  const A_DATA = { '/CE': 0, 'C//D': 0, 'B//A': 0 } as const;
  const A_CONTROL = { '/CE': 0, 'C//D': 1, 'B//A': 0 } as const;
  const B_DATA = { '/CE': 0, 'C//D': 0, 'B//A': 1 } as const;
  const B_CONTROL = { '/CE': 0, 'C//D': 1, 'B//A': 1 } as const;

  test('mode 0: RDY with the byte, low again and asking with the end of /STB', () => {
    const bus = pio();
    for (const byte of [0x0f, 0x10, 0x87]) bus.write(A_CONTROL, byte);
    bus.write(A_DATA, 0x6d);
    expect([bus.bench.value('PA'), bus.bench.get('ARDY'), bus.bench.get('/INT')]).toEqual([0x6d, 1, 'Z']);
    bus.bench.set({ '/ASTB': 0 });
    expect(bus.bench.get('ARDY')).toBe(1);
    bus.bench.set({ '/ASTB': 1 });
    expect([bus.bench.get('ARDY'), bus.bench.get('/INT')]).toEqual([0, 0]);
    expect(bus.acknowledge()).toBe(0x10);
    expect(bus.bench.get('/INT')).toBe('Z');
  });

  test('mode 1: lines are taken with /STB; a read makes RDY high', () => {
    const bus = pio();
    for (const byte of [0x4f, 0x20, 0x87]) bus.write(B_CONTROL, byte);
    bus.read(B_DATA);
    expect(bus.bench.get('BRDY')).toBe(1);
    bus.bench.bus(0x3e, 'PB').set({ '/BSTB': 0 }).set({ '/BSTB': 1 }).bus(0xff, 'PB');
    expect([bus.bench.get('BRDY'), bus.bench.get('/INT')]).toEqual([0, 0]);
    expect(bus.read(B_DATA)).toBe(0x3e);
    expect(bus.acknowledge()).toBe(0x20);
  });

  test('mode 2: A drives while /ASTB is low, takes with /BSTB', () => {
    const bus = pio();
    bus.write(B_CONTROL, 0xcf);
    bus.write(B_CONTROL, 0xff);
    bus.write(A_CONTROL, 0x8f);
    bus.write(A_DATA, 0x81);
    expect([bus.bench.value('PA'), bus.bench.line('ARDY', 'BRDY')]).toEqual([-1, '11']);
    bus.bench.set({ '/ASTB': 0 });
    expect(bus.bench.value('PA')).toBe(0x81);
    bus.bench.set({ '/ASTB': 1 }).bus(0x24, 'PA').set({ '/BSTB': 0 }).set({ '/BSTB': 1 }).bus('Z', 'PA');
    expect(bus.bench.line('ARDY', 'BRDY')).toBe('00');
    expect(bus.read(A_DATA)).toBe(0x24);
    expect(bus.bench.get('BRDY')).toBe(1);
  });

  // Interrupt control word: bit 6 and, bit 5 high; a 0 in the mask watches its line.
  test.each([
    ['or, low', 0x97, 0xfc, [0xff, 0xfe], true],
    ['or, high', 0xb7, 0xfc, [0x00, 0x02], true],
    ['and, high: one is not enough', 0xf7, 0xfc, [0x00, 0x01], false],
    ['and, high', 0xf7, 0xfc, [0x00, 0x01, 0x03], true],
    ['or, low: another line', 0x97, 0xfc, [0xff, 0xfb], false],
  ] as const)('mode 3, %s', (_, word, mask, lines, asks) => {
    const bus = pio();
    bus.bench.bus(lines[0], 'PA');
    for (const byte of [0xcf, 0xff, 0x40, word, mask]) bus.write(A_CONTROL, byte);
    expect(bus.bench.get('/INT')).toBe('Z');
    for (const value of lines.slice(1)) bus.bench.bus(value, 'PA');
    expect(bus.bench.get('/INT')).toBe(asks ? 0 : 'Z');
  });

  test('mode 3: outputs and inputs by the directions, both in one read', () => {
    const bus = pio();
    bus.write(A_CONTROL, 0xcf);
    bus.write(A_CONTROL, 0xf0);
    bus.write(A_DATA, 0x05);
    bus.bench.set({ PA4: 1, PA5: 0, PA6: 0, PA7: 1 });
    expect(bus.bench.line('PA3', 'PA2', 'PA1', 'PA0')).toBe('0101');
    expect(bus.read(A_DATA)).toBe(0x95);
  });

  test('/M1 alone resets it', () => {
    const bus = pio();
    bus.write(A_CONTROL, 0x0f);
    bus.write(A_DATA, 0x55);
    bus.fetch(0x00);
    expect(bus.bench.value('PA')).toBe(0x55);
    bus.bench.set({ '/M1': 0 }).set({ '/M1': 1 });
    expect(bus.bench.value('PA')).toBe(-1);
  });
});

describe('the interrupt chain', () => {
  const chain = (): FamilyBus =>
    new FamilyBus(
      new ChipBench(
        { FIRST: 'Z80-PIO', NEXT: 'Z80-PIO', LAST: 'Z80-CTC' },
        { ...busNets('FIRST', 'NEXT', 'LAST'), link: 'FIRST.IEO NEXT.IEI', tail: 'NEXT.IEO LAST.IEI' },
      ).set({
        'FIRST.IEI': 1,
        'LAST./RESET': 1,
        'FIRST./CE': 1,
        'NEXT./CE': 1,
        'LAST./CE': 1,
        'FIRST./ASTB': 1,
        'FIRST./BSTB': 1,
        'NEXT./ASTB': 1,
        'NEXT./BSTB': 1,
      }),
    );
  /** Port A of a PIO asks when its line 0 is low. */
  const arm = (bus: FamilyBus, part: string, vector: number): void => {
    bus.bench.set({ [`${part}.PA0`]: 1 });
    for (const byte of [0xcf, 0xff, vector, 0x97, 0xfe])
      bus.write({ [`${part}./CE`]: 0, [`${part}.C//D`]: 1, [`${part}.B//A`]: 0 }, byte);
  };
  const ring = (bus: FamilyBus, part: string): void => {
    bus.bench.set({ [`${part}.PA0`]: 0 });
  };

  test('the first that asks is served; those behind wait for its return', () => {
    const bus = chain();
    arm(bus, 'FIRST', 0x10);
    arm(bus, 'NEXT', 0x20);
    ring(bus, 'NEXT');
    ring(bus, 'FIRST');
    expect(bus.bench.get('link')).toBe(0);
    expect(bus.acknowledge()).toBe(0x10);
    // In service, with nobody before it: NEXT may not ask.
    expect([bus.bench.get('/INT'), bus.bench.get('link')]).toEqual(['Z', 0]);
    bus.fetch(0xed, 0x4d);
    expect(bus.bench.line('link', '/INT')).toBe('10');
    expect(bus.acknowledge()).toBe(0x20);
    expect(bus.bench.get('tail')).toBe(0);
    bus.fetch(0xed, 0x4d);
    expect(bus.bench.line('link', 'tail')).toBe('11');
  });

  test('one before it breaks in; returns go to the inner one first', () => {
    const bus = chain();
    arm(bus, 'FIRST', 0x10);
    arm(bus, 'NEXT', 0x20);
    ring(bus, 'NEXT');
    expect(bus.acknowledge()).toBe(0x20);
    ring(bus, 'FIRST');
    expect(bus.bench.get('/INT')).toBe(0);
    expect(bus.acknowledge()).toBe(0x10);
    bus.fetch(0xed, 0x4d);
    // FIRST is done, NEXT still in service.
    expect(bus.bench.line('link', 'tail')).toBe('10');
    bus.fetch(0xed, 0x4d);
    expect(bus.bench.get('tail')).toBe(1);
  });

  test('a return passes one that only asks: after 0xED its IEO is high', () => {
    const bus = chain();
    arm(bus, 'FIRST', 0x10);
    arm(bus, 'NEXT', 0x20);
    ring(bus, 'NEXT');
    bus.acknowledge();
    ring(bus, 'FIRST');
    expect(bus.bench.get('link')).toBe(0);
    bus.fetch(0xed);
    expect(bus.bench.get('link')).toBe(1);
    bus.fetch(0x4d);
    expect(bus.bench.line('link', '/INT')).toBe('00');
    expect(bus.acknowledge()).toBe(0x10);
  });

  test('other instructions are no return', () => {
    const bus = chain();
    arm(bus, 'NEXT', 0x20);
    ring(bus, 'NEXT');
    bus.acknowledge();
    for (const code of [[0xed, 0x45], [0x4d], [0xed, 0x00, 0x4d]]) bus.fetch(...code);
    expect(bus.bench.get('tail')).toBe(0);
  });

  test('channels of a CTC have their numbers in the vector', () => {
    const bus = chain();
    const ctc = (channel: number): Record<string, 0 | 1> => ({
      'LAST./CE': 0,
      'LAST.CS0': channel & 1 ? 1 : 0,
      'LAST.CS1': channel & 2 ? 1 : 0,
    });
    bus.write(ctc(0), 0x48);
    for (const channel of [1, 3]) {
      bus.bench.set({ [`LAST.CLK/TRG${channel}`]: 0 });
      bus.write(ctc(channel), 0xd7);
      bus.write(ctc(channel), 1);
    }
    bus.bench.set({ 'LAST.CLK/TRG3': 1, 'LAST.CLK/TRG1': 1 }).clocks('CLK', 2);
    expect(bus.acknowledge()).toBe(0x4a);
    expect(bus.bench.get('/INT')).toBe('Z');
    bus.fetch(0xed, 0x4d);
    expect(bus.acknowledge()).toBe(0x4e);
  });
});
