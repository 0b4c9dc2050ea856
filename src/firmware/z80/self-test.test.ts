// The self-test run on the Z80 model against memories with one wiring fault each.

import { describe, expect, test } from 'vitest';
import { PROCESSORS, Z80, z80BeginAt, z80PowerUp, z80Step } from '../../sim/index.ts';
import { makeZ80SelfTest, type Z80SelfTestPlan } from './index.ts';

interface Fault {
  /** Address lines as the RAM sees them. */
  readonly address?: (offset: number) => number;
  /** What a write leaves and a read gives, at the RAM's own address. */
  readonly write?: (byte: number, offset: number) => number;
  readonly read?: (byte: number, offset: number) => number;
}

const SMALL: Z80SelfTestPlan = { romSize: 0x8000, ram: { address: 0x8000, size: 0x0400 } };

function run(plan: Z80SelfTestPlan, fault: Fault = {}, isRamThere = true) {
  const { bytes, ends, lampCodes } = makeZ80SelfTest(plan);
  const ram = new Uint8Array(plan.ram.size).map((_, k) => (k * 37) & 0xff);
  const s = new Int32Array(Z80.Z80_WORDS);
  z80PowerUp(s, 0, { technology: 'CMOS' });
  z80BeginAt(s, 0, 0);
  const places = new Map(Object.entries(ends).map(([name, at]) => [at, name]));
  const lamps: number[] = [];
  let text = '';
  let firstRam = -1;
  let bus = 0xff;
  // Once: a lookup through the module for each half clock is slow under test.
  const { PIN_CONTROL, PIN_ADDRESS, PIN_DATA, PIN_RD, PIN_WR, PIN_MREQ, PIN_IORQ, IN_IDLE, INSTRUCTION_AT, H, L, E } =
    Z80;
  const step = z80Step;
  for (let half = 0; half < 2_000_000; half++) {
    const control = s[PIN_CONTROL]!;
    const address = s[PIN_ADDRESS]!;
    const low = (pin: number): boolean => (control & pin) === 0;
    const offset = address - plan.ram.address;
    const isRam = offset >= 0 && offset < plan.ram.size;
    const seen = (fault.address ?? ((at) => at))(offset) & (plan.ram.size - 1);
    if (low(PIN_RD) && low(PIN_MREQ)) {
      if (!isRam) bus = bytes[address] ?? 0xff;
      else if (isRamThere) bus = (fault.read ?? ((byte) => byte))(ram[seen]!, seen);
      // With nothing there the bus keeps the byte before.
    } else if (low(PIN_RD) && low(PIN_IORQ)) bus = 0xff;
    const data = s[PIN_DATA]! & 0xff;
    step(s, 0, bus, 0, IN_IDLE);
    const risen = ~control & s[PIN_CONTROL]!;
    if (risen & PIN_WR && low(PIN_MREQ)) {
      bus = data;
      if (isRam) {
        firstRam = firstRam < 0 ? half : firstRam;
        ram[seen] = (fault.write ?? ((byte) => byte))(data, seen);
      }
    }
    if (risen & PIN_WR && low(PIN_IORQ)) {
      if ((address & 0xff) === plan.lamps) lamps.push(data);
      if (plan.uart !== undefined && (address & 0xff) === plan.uart.port) text += String.fromCharCode(data);
    }
    const end = places.get(s[INSTRUCTION_AT]!);
    if (end !== undefined)
      return { end, lamps, text, lampCodes, at: s[H]! * 256 + s[L]!, bits: s[E]!, clocks: half / 2 };
  }
  return { end: 'none', lamps, text, lampCodes, at: -1, bits: -1, clocks: -1 };
}

test('a good memory passes, each result has its own address line', () => {
  const { end, clocks } = run(SMALL);
  expect(end).toBe('passed');
  expect(clocks).toBeGreaterThan(10 * 0x400 * 30);
  expect(makeZ80SelfTest(SMALL).ends).toEqual({ passed: 0x4000, data: 0x2000, address: 0x1000, cell: 0x0800 });
  const small = Object.values(makeZ80SelfTest({ ...SMALL, romSize: 0x2000 }).ends);
  expect(new Set(small).size).toBe(4);
  expect(Math.min(...small)).toBeGreaterThanOrEqual(0x800);
  expect(Math.max(...small)).toBeLessThan(0x2000);
});

describe('wiring faults end where they should', () => {
  test.each(Array.from({ length: 8 }, (_, k) => k))('data line %i stuck, open, or short to its neighbour', (k) => {
    expect(run(SMALL, { read: (byte) => byte | (1 << k) })).toMatchObject({ end: 'data', bits: 1 << k, at: 0x8000 });
    expect(run(SMALL, { read: (byte) => byte & ~(1 << k) })).toMatchObject({ end: 'data', bits: 1 << k });
    const other = (k + 1) & 7;
    const short = (byte: number): number => {
      const both = (byte >> k) & (byte >> other) & 1;
      return (byte & ~((1 << k) | (1 << other))) | (both << k) | (both << other);
    };
    expect(run(SMALL, { write: short }).end).toBe('data');
  });

  test.each(Array.from({ length: 10 }, (_, k) => k))('address line %i stuck or short to its neighbour', (k) => {
    expect(run(SMALL, { address: (at) => at | (1 << k) }).end).toBe('address');
    expect(run(SMALL, { address: (at) => at & ~(1 << k) }).end).toBe('address');
    const other = (k + 1) % 10;
    const short = (at: number): number => {
      const both = (at >> k) & (at >> other) & 1;
      return (at & ~((1 << k) | (1 << other))) | (both << k) | (both << other);
    };
    expect(run(SMALL, { address: short }).end).toBe('address');
  });

  test('no RAM at all', () => {
    expect(run(SMALL, {}, false).end).toBe('data');
  });

  test('one bad cell, with its address and bits', () => {
    expect(run(SMALL, { read: (byte, at) => (at === 0x123 ? byte | 0x10 : byte) })).toMatchObject({
      end: 'cell',
      at: 0x8123,
      bits: 0x10,
    });
    // A cell that cannot go from one to zero again.
    const stuck = { seen: 0 };
    const sticky = (byte: number, at: number): number => {
      if (at !== 0x3fe) return byte;
      stuck.seen |= byte & 4;
      return byte | stuck.seen;
    };
    expect(run(SMALL, { write: sticky })).toMatchObject({ end: 'cell', at: 0x83fe, bits: 4 });
  });

  test('exchanged lines are no fault of a RAM: they may be permuted', () => {
    const swap = (value: number): number => (value & ~3) | ((value & 1) << 1) | ((value >> 1) & 1);
    expect(run(SMALL, { address: swap }).end).toBe('passed');
  });
});

test('lamps and a terminal tell the same', () => {
  const plan: Z80SelfTestPlan = { ...SMALL, lamps: 0x28, uart: { port: 0x10, divisor: 24 } };
  const good = run(plan);
  expect(good.lamps).toEqual([1, 2, 3, good.lampCodes.passed]);
  expect(good.text).toContain('MEMORY PASSED\r\n');
  const bad = run(plan, { read: (byte, at) => (at === 0x2c5 ? byte & 0x7f : byte) });
  expect(bad.lamps.at(-1)).toBe(bad.lampCodes.cell);
  expect(bad.text).toContain('\r\nCELL AT 82C5, BITS 80');
});

test('before the memory is proved, the test needs none of it', () => {
  // Flat memory without a writable byte below: the RAM is at the top, everything else is the image.
  const { bytes, ends } = makeZ80SelfTest({
    romSize: 0x8000,
    ram: { address: 0xe000, size: 0x2000 },
    backgrounds: [0],
  });
  const memory = new Uint8Array(65536).fill(0xff);
  memory.set(bytes);
  const result = PROCESSORS['z80']!.runFlat(memory, 0, 60_000_000);
  expect(result).toMatchObject({ stopped: true, at: ends.passed });
  expect([...memory.subarray(0, bytes.length)]).toEqual([...bytes]);
});
