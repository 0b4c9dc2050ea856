// Memories that the machine writes itself, by the sequences of their sheets: Atmel AT28C256 (0006M: page write, data polling, toggle
// bit, software data protection enable and disable algorithms), SST39SF010A (S71147 table 4; DS20005022D for times), AMD Am29F040B
// (21445, command definitions).

import { describe, expect, test } from 'vitest';
import { ChipBench } from '../support/chip-bench.ts';

class Writer {
  readonly bench: ChipBench;
  readonly data: string;
  readonly lines: number;
  constructor(type: string, data: string, lines: number, image: Uint8Array) {
    this.data = data;
    this.lines = lines;
    this.bench = new ChipBench(type, {}, { images: new Map([['U', image]]) }).set({ '/CE': 0, '/OE': 1, '/WE': 1 });
    this.at(0);
  }
  at(address: number): this {
    this.bench.bus(address, 'A', this.lines);
    return this;
  }
  write(address: number, byte: number): this {
    this.at(address).bench.bus(byte, this.data);
    this.bench.set({ '/WE': 0 }).set({ '/WE': 1 }).bus('Z', this.data).wait(500);
    return this;
  }
  writes(...pairs: readonly (readonly [address: number, byte: number])[]): this {
    for (const [address, byte] of pairs) this.write(address, byte);
    return this;
  }
  read(address: number): number {
    this.at(address).bench.set({ '/OE': 0 });
    const byte = this.bench.value(this.data);
    this.bench.set({ '/OE': 1 }).wait(500);
    return byte;
  }
}

describe('AT28C256', () => {
  const memory = (): Writer => new Writer('28C256', 'I/O', 15, new Uint8Array(0x8000).fill(0x11));
  const UNLOCK = [
    [0x5555, 0xaa],
    [0x2aaa, 0x55],
  ] as const;

  test('a byte: polled while it is written, there afterwards', () => {
    const chip = memory().write(0x123, 0x5a);
    // Bit 7 turned round, bit 6 turning with every read.
    const polled = [chip.read(0x123), chip.read(0x123), chip.read(0x123)];
    expect(polled.map((byte) => byte >> 7)).toEqual([1, 1, 1]);
    expect(polled[0]! ^ polled[1]!).toBe(0x40);
    expect(polled[1]! ^ polled[2]!).toBe(0x40);
    chip.bench.wait(9e6);
    expect(chip.read(0x123) >> 7).toBe(1);
    chip.bench.wait(2e6);
    expect([chip.read(0x123), chip.read(0x123), chip.read(0x124)]).toEqual([0x5a, 0x5a, 0x11]);
  });

  test('a page: up to 64 bytes, each within 150 us; only the bytes that were given', () => {
    const chip = memory();
    for (const k of [0, 5, 63]) chip.write(0x4c0 + k, k + 1).bench.wait(100e3);
    chip.bench.wait(11e6);
    expect([0, 1, 5, 62, 63].map((k) => chip.read(0x4c0 + k))).toEqual([1, 0x11, 6, 0x11, 64]);
    // A byte that comes later than 150 us is not taken: the write cycle has begun.
    chip.write(0x500, 0x77).bench.wait(200e3);
    chip.write(0x501, 0x78).bench.wait(11e6);
    expect([chip.read(0x500), chip.read(0x501)]).toEqual([0x77, 0x11]);
  });

  test('protection: on with AA 55 A0, off with AA 55 80 AA 55 20', () => {
    const chip = memory().writes(...UNLOCK, [0x5555, 0xa0], [0x10, 0x21]);
    chip.bench.wait(11e6);
    expect(chip.read(0x10)).toBe(0x21);
    expect([chip.read(0x5555), chip.read(0x2aaa)]).toEqual([0x11, 0x11]);
    // A plain write now does nothing, though the timer runs.
    chip.write(0x10, 0x99);
    expect(chip.read(0x10) >> 7).toBe(0);
    chip.bench.wait(11e6);
    expect(chip.read(0x10)).toBe(0x21);
    chip.writes(...UNLOCK, [0x5555, 0xa0], [0x11, 0x22]).bench.wait(11e6);
    expect(chip.read(0x11)).toBe(0x22);
    chip.writes(...UNLOCK, [0x5555, 0x80], ...UNLOCK, [0x5555, 0x20]).bench.wait(11e6);
    chip.write(0x12, 0x23).bench.wait(11e6);
    expect(chip.read(0x12)).toBe(0x23);
  });

  test('with /WE tied high it is a ROM', () => {
    const chip = new ChipBench({ U: '28C256' }, { VCC: 'U./WE' }, { images: new Map([['U', Uint8Array.of(7)]]) });
    chip.set({ '/CE': 0, '/OE': 0 }).bus(0, 'A', 15);
    expect(chip.value('I/O')).toBe(7);
    expect(chip.session.circuit.parts[0]).toMatchObject({ model: { words: 0x8000 } });
  });
});

describe.each([
  ['39SF010', 17, 0x5555, 0x2aaa, 0x1000, 10e3, 25e6, [0xbf, 0xb5]],
  ['29F010', 17, 0x5555, 0x2aaa, 0x4000, 7e3, 1e9, [0x01, 0x20]],
  ['29F040', 19, 0x555, 0x2aa, 0x10000, 7e3, 1e9, [0x01, 0xa4]],
] as const)('%s', (type, lines, first, second, sector, programNs, eraseNs, codes) => {
  const memory = (): Writer => new Writer(type, 'DQ', lines, new Uint8Array(2 ** lines).fill(0x3f));
  const unlock = [
    [first, 0xaa],
    [second, 0x55],
  ] as const;

  test('a byte: ones become zeros only', () => {
    const chip = memory().writes(...unlock, [first, 0xa0], [0x4321, 0x5a]);
    const polled = [chip.read(0x4321), chip.read(0x4321)];
    expect(polled.map((byte) => byte >> 7)).toEqual([1, 1]);
    expect(polled[0]! ^ polled[1]!).toBe(0x40);
    chip.bench.wait(programNs);
    expect([chip.read(0x4321), chip.read(0x4322)]).toEqual([0x1a, 0x3f]);
  });

  test('a sector is erased, and no other', () => {
    const chip = memory().writes(...unlock, [first, 0x80], ...unlock, [sector + 5, 0x30]);
    expect(chip.read(sector) >> 7).toBe(0);
    chip.bench.wait(eraseNs);
    expect([sector - 1, sector, 2 * sector - 1, 2 * sector].map((at) => chip.read(at))).toEqual([
      0x3f, 0xff, 0xff, 0x3f,
    ]);
  });

  test('identification until F0', () => {
    const chip = memory().writes(...unlock, [first, 0x90]);
    expect([chip.read(0), chip.read(1)]).toEqual(codes);
    chip.write(0x99, 0xf0);
    expect(chip.read(0)).toBe(0x3f);
  });

  test('a sequence with a wrong byte, or a plain write, does nothing', () => {
    const chip = memory().writes([first, 0xaa], [second, 0x54], [first, 0xa0], [0x10, 0]);
    chip.write(0x11, 0).bench.wait(programNs);
    expect([chip.read(0x10), chip.read(0x11)]).toEqual([0x3f, 0x3f]);
  });
});
