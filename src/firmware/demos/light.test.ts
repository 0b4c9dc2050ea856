// The light keeper's firmware run from reset on the Z80 model, with as much of its parts as it uses; ticks come faster than in life.

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { fitImage, readImage } from '../../format/image/index.ts';
import { Z80, z80PowerUp, z80Step } from '../../sim/index.ts';
import { makeLightFirmware } from './index.ts';

const { bytes } = makeLightFirmware();

/** Clocks between ticks: in life 49,152. */
const TICK = 800;

function keeper(options: { readonly switches?: number; readonly shines?: () => boolean } = {}) {
  const s = new Int32Array(Z80.Z80_WORDS);
  z80PowerUp(s, 0, { technology: 'CMOS' });
  const ram = new Uint8Array(0x8000).map((_, k) => (k * 73) & 0xff);
  const said: number[] = [];
  const waiting: number[] = [];
  const written = new Map<number, number[]>();
  const lamp: string[] = [];
  /** Vectors that ask, the first one first. */
  const asking: number[] = [];
  let key = -1;
  let ticks = 0;
  let half = 0;
  const { PIN_CONTROL, PIN_ADDRESS, PIN_DATA, PIN_UNKNOWN, PIN_RD, PIN_WR, PIN_MREQ, PIN_IORQ, PIN_M1 } = Z80;
  const { IN_IDLE, IN_RESET, IN_INT } = Z80;
  const step = z80Step;
  const last = (port: number): number => written.get(port)?.at(-1) ?? 0;
  const read = (port: number): number => {
    if (port === 0x20) return 2 | (waiting.length > 0 ? 1 : 0);
    if (port === 0x21) return waiting[0] ?? 0;
    if (port === 0x50) return options.switches ?? 0xff;
    if (port === 0x11) return (last(0x11) & 0xf7) | ((options.shines ?? (() => true))() ? 8 : 0);
    if (port !== 0x10) return 0xff;
    // A key joins its row to its column.
    const rows = last(0x10) & 15;
    const low = key >= 0 && !((rows >> (key >> 2)) & 1);
    return (low ? 0xf0 & ~(16 << (key & 3)) : 0xf0) | rows;
  };
  const run = (clocks: number): string => {
    const from = said.length;
    for (const stop = half + clocks * 2; half < stop; half++) {
      if (half > 20_000 && half % (TICK * 2) === 0) {
        asking.push(0x00);
        ticks++;
        if (ticks % 100 === 0) asking.push(0x02);
        lamp.push((last(0x11) & 7).toString());
      }
      const control = s[PIN_CONTROL]!;
      const address = s[PIN_ADDRESS]!;
      const port = address & 0xff;
      const low = (pin: number): boolean => (control & (pin | PIN_UNKNOWN)) === 0;
      let data = 0xff;
      const acknowledges = low(PIN_M1) && low(PIN_IORQ);
      if (acknowledges) data = asking[0] ?? 0xff;
      else if (low(PIN_RD) && low(PIN_MREQ))
        data = address < 0x8000 ? (bytes[address] ?? 0xff) : ram[address - 0x8000]!;
      else if (low(PIN_RD) && low(PIN_IORQ)) data = read(port);
      const given = s[PIN_DATA]! & 0xff;
      const levels = (half < 10 ? IN_IDLE & ~IN_RESET : IN_IDLE) & (asking.length > 0 ? ~IN_INT : ~0);
      step(s, 0, data, 0, levels);
      const risen = (control & PIN_UNKNOWN) === 0 ? ~control & s[PIN_CONTROL]! : 0;
      if (acknowledges && risen & PIN_IORQ) asking.shift();
      if (risen & PIN_RD && low(PIN_IORQ) && port === 0x21) waiting.shift();
      if (risen & PIN_WR && low(PIN_MREQ)) {
        if (address < 0x8000) throw new Error(`a write to the ROM at ${address}`);
        ram[address - 0x8000] = given;
      }
      if (risen & PIN_WR && low(PIN_IORQ)) {
        written.set(port, [...(written.get(port) ?? []), given]);
        if (port === 0x21) said.push(given);
      }
    }
    return String.fromCharCode(...said.slice(from));
  };
  const send = (line: string, clocks = 40_000): string => {
    waiting.push(...[...line, '\r'].map((character) => character.charCodeAt(0)));
    return run(clocks);
  };
  return {
    run,
    send,
    last,
    written,
    lamp,
    press: (index: number) => {
      key = index;
      asking.push(0x08);
    },
    release: () => {
      key = -1;
    },
  };
}

test('the image in the project is this firmware', () => {
  const file = 'projects/light-keeper/firmware/light.hex';
  const image = fitImage(readImage(readFileSync(file), file).value, { address: 0, size: 0x8000 }, file);
  expect([...image.value.subarray(0, bytes.length)]).toEqual([...bytes]);
});

test('it greets, with every part set up', () => {
  const machine = keeper();
  expect(machine.run(20_000)).toBe('LIGHT 1, ALL WELL\r\n>');
  // 6850: reset, then by 64, 8 bits, no parity, one stop (control register of the MC6850 sheet).
  expect(machine.written.get(0x20)).toEqual([0x03, 0x16]);
  // CTC: vector; timer by 256 with 192, interrupts; counter of 100 rising edges (UM0081, table 2).
  expect(machine.written.get(0x00)).toEqual([0x00, 0xa7, 192]);
  expect(machine.written.get(0x01)).toEqual([0xd7, 100]);
  expect(4_915_200 / 256 / 192).toBe(100);
  expect(machine.written.get(0x12)).toEqual([0xcf, 0xf0, 0x08, 0x97, 0x0f]);
  expect(machine.written.get(0x13)).toEqual([0xcf, 0x08, 0x07]);
  // No display answers: nothing is written to one.
  expect(machine.written.get(0x60)).toBe(undefined);
});

describe('the lamp', () => {
  const shape = (lamp: readonly string[]): [string, number][] => {
    const list: [string, number][] = [];
    for (const one of lamp) {
      const last = list.at(-1);
      if (last?.[0] === one) last[1]++;
      else list.push([one, 1]);
    }
    return list;
  };

  test('two flashes of half a second every ten, two seconds apart', () => {
    const machine = keeper();
    machine.run(TICK * 1300);
    // The first tick finds it dark, the first flash begins with the second.
    const runs = shape(machine.lamp).slice(2, 7);
    expect(runs.map(([level, ticks]) => `${level} ${ticks}`)).toEqual(['0 150', '1 50', '0 750', '1 50', '0 150']);
  });

  test('rests by day, sounds the horn in fog, raises the alarm where nothing shines', () => {
    const day = keeper({ switches: 0xfe });
    day.run(TICK * 100);
    expect(new Set(day.lamp)).toEqual(new Set(['0']));
    const fog = keeper({ switches: 0xfd });
    fog.run(TICK * 100);
    expect(new Set(fog.lamp.slice(5))).toEqual(new Set(['3', '0']));
    const dark = keeper({ shines: () => false });
    dark.run(TICK * 150);
    expect(dark.lamp.at(-1)).toBe('4');
    const well = keeper();
    well.run(TICK * 150);
    expect(well.lamp.at(-1)).toBe('0');
  });

  test('is lit and put out by hand', () => {
    const machine = keeper();
    machine.run(20_000);
    machine.send('l');
    expect(machine.last(0x11) & 1).toBe(1);
    machine.send('O');
    expect(machine.last(0x11) & 1).toBe(0);
  });
});

test('digits: seconds in decimal, or what was set', () => {
  const machine = keeper();
  machine.run(20_000);
  machine.run(TICK * 1210);
  expect([machine.last(0x30), machine.last(0x40)]).toEqual([0x00, 0x12]);
  expect(machine.send('S')).toBe('S\r\nSECONDS 0012\r\n>');
  machine.send('D 4711');
  expect([machine.last(0x30), machine.last(0x40)]).toEqual([0x47, 0x11]);
  machine.run(TICK * 110);
  expect([machine.last(0x30), machine.last(0x40)]).toEqual([0x47, 0x11]);
});

test('every key says itself once, however long it is held', () => {
  const machine = keeper();
  machine.run(20_000);
  for (const [index, name] of [...'123A456B789C*0#D'].entries()) {
    machine.press(index);
    expect(machine.run(12_000)).toBe(`\r\nKEY ${name}\r\n>`);
    machine.release();
    expect(machine.run(12_000)).toBe('');
    // Watched again: the interrupt word with its mask comes last.
    expect(machine.written.get(0x12)!.slice(-2)).toEqual([0x97, 0x0f]);
  }
});

test('a tick comes, or does not', () => {
  const machine = keeper();
  machine.run(20_000);
  expect(machine.send('T')).toBe('T\r\nTICK COMES\r\n>');
  expect(machine.send('?')).toContain('T TICK, S SECONDS');
});
