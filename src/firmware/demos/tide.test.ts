// The tide clerk's firmware run from reset on the Z80 model, with ROM, RAM and as much of a UART as it uses.

import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { fitImage, readImage } from '../../format/image/index.ts';
import { writeIntelHex } from '../../format/intel-hex/index.ts';
import { Z80, z80PowerUp, z80Step } from '../../sim/index.ts';
import { HARBOURS, makeTideFirmware, TIDE_PERIODS_HOURS } from './index.ts';

const { bytes } = makeTideFirmware();

function clerk(switches = 0xff) {
  const s = new Int32Array(Z80.Z80_WORDS);
  z80PowerUp(s, 0, { technology: 'CMOS' });
  const ram = new Uint8Array(0x8000).map((_, k) => (k * 73) & 0xff);
  const lamps: number[] = [];
  const uart: number[] = [];
  const waiting: number[] = [];
  const setUp: number[][] = [];
  let latched = false;
  let half = 0;
  // The words of the state, once: a lookup through the module for each half clock is slow under test.
  const { PIN_CONTROL, PIN_ADDRESS, PIN_DATA, PIN_UNKNOWN, PIN_RD, PIN_WR, PIN_MREQ, PIN_IORQ, IN_IDLE, IN_RESET } =
    Z80;
  const step = z80Step;
  /** Runs until it waits for the next line (the prompt is out and nothing to read is left), or so many clocks. */
  const run = (clocks: number): string => {
    const from = uart.length;
    for (const stop = half + clocks * 2; half < stop; half++) {
      if (uart.length > from && uart[uart.length - 1] === 0x3e && waiting.length === 0) break;
      const control = s[PIN_CONTROL]!;
      const address = s[PIN_ADDRESS]!;
      const port = address & 0xff;
      const low = (pin: number): boolean => (control & (pin | PIN_UNKNOWN)) === 0;
      let data = 0xff;
      if (low(PIN_RD) && low(PIN_MREQ)) data = address < 0x8000 ? (bytes[address] ?? 0xff) : ram[address - 0x8000]!;
      if (low(PIN_RD) && low(PIN_IORQ)) {
        if (port === 0x20) data = switches;
        if (port === 0x15) data = 0x60 | (waiting.length > 0 ? 1 : 0);
        if (port === 0x10) data = waiting[0] ?? 0;
      }
      const written = s[PIN_DATA]! & 0xff;
      step(s, 0, data, 0, half < 10 ? IN_IDLE & ~IN_RESET : IN_IDLE);
      const risen = (control & PIN_UNKNOWN) === 0 ? ~control & s[PIN_CONTROL]! : 0;
      if (risen & PIN_RD && low(PIN_IORQ) && port === 0x10) waiting.shift();
      if (risen & PIN_WR && low(PIN_MREQ)) {
        if (address < 0x8000) throw new Error(`a write to the ROM at ${address}`);
        ram[address - 0x8000] = written;
      }
      if (risen & PIN_WR && low(PIN_IORQ)) {
        if (port === 0x28) lamps.push(written);
        else if (port === 0x10 && !latched) uart.push(written);
        else setUp.push([port, written]);
        if (port === 0x13) latched = (written & 0x80) !== 0;
      }
    }
    return String.fromCharCode(...uart.slice(from));
  };
  const send = (line: string, clocks = 400_000): string => {
    waiting.push(...[...line, '\r'].map((character) => character.charCodeAt(0)));
    return run(clocks);
  };
  return { run, send, lamps, setUp };
}

test('it greets after reset, with the UART set to 9600 baud, 8 bits', () => {
  const machine = clerk();
  expect(machine.run(20_000)).toBe('READY, TIDES\r\n>');
  expect(machine.lamps).toEqual([0]);
  expect(machine.setUp).toEqual([
    [0x13, 0x83],
    [0x10, 24],
    [0x11, 0],
    [0x13, 0x03],
    [0x12, 0x07],
    [0x14, 0x03],
  ]);
});

test('lamps by number, and what is no number', () => {
  const machine = clerk();
  machine.run(20_000);
  expect(machine.send('L 255', 50_000)).toBe('L 255\r\n>');
  expect(machine.send('l 9', 50_000)).toBe('L 9\r\n>');
  expect(machine.send('L170 ', 50_000)).toBe('L170 \r\n>');
  expect(machine.lamps).toEqual([0, 255, 9, 170]);
  for (const wrong of ['L', 'L 256', 'L 9999999', 'L X', 'L 1X', 'HELLO'])
    expect(machine.send(wrong, 50_000)).toContain('L 0 TO 255: LAMPS.');
  expect(machine.send('L 1\b25', 50_000)).toContain('\b \b25');
  expect(machine.lamps).toEqual([0, 255, 9, 170, 25]);
  expect(machine.send('', 20_000)).toBe('\r\n>');
  expect(machine.send('X'.repeat(60), 90_000)).toContain(`${'X'.repeat(30)}\r\n`);
});

test('the harbour is the first switch that is closed', () => {
  expect(clerk(0xff).send('S', 60_000)).toContain('HARBOUR OLD QUAY\r\n');
  expect(clerk(0b1111_0111).send('S', 60_000)).toContain('HARBOUR FERRY STEPS\r\n');
  expect(clerk(0b0111_1111).send('S', 60_000)).toContain('HARBOUR REED CREEK\r\n');
});

describe('tides', () => {
  // The same sum in floating point, looked at every minute.
  const height = (harbour: (typeof HARBOURS)[number], minutes: number): number =>
    harbour.harmonics.reduce(
      (sum, [amplitude, degrees], k) =>
        sum + amplitude * Math.sin(2 * Math.PI * (degrees / 360 + minutes / 60 / TIDE_PERIODS_HOURS[k]!)),
      harbour.mean,
    );
  test.each(HARBOURS.map((harbour, k) => [harbour.name, k] as const))('%s', (name, k) => {
    const harbour = HARBOURS[k]!;
    const machine = clerk(0xff & ~(1 << k));
    const text = machine.send('T', 1_500_000);
    expect(text).toContain(`HARBOUR ${name}\r\n`);
    const told = [...text.matchAll(/(HIGH|LOW ) (\d\d):(\d\d) (\d)\.(\d\d) M\r\n/g)];
    expect(told.length).toBe(4);
    const wanted: [string, number, number][] = [];
    // A turn in the first ten minutes lies before the second height that the firmware works out.
    for (let minute = 10; wanted.length < 4; minute++) {
      const [before, here, after] = [-1, 0, 1].map((d) => height(harbour, minute + d)) as [number, number, number];
      if (here > before && here >= after) wanted.push(['HIGH', minute, here]);
      if (here < before && here <= after) wanted.push(['LOW ', minute, here]);
    }
    told.forEach((row, index) => {
      const [kind, minute, centimetres] = wanted[index]!;
      expect(row[1]).toBe(kind);
      expect(Math.abs(Number(row[2]) * 60 + Number(row[3]) - (minute % 1440))).toBeLessThanOrEqual(30);
      expect(Math.abs(Number(row[4]) * 100 + Number(row[5]) - centimetres)).toBeLessThanOrEqual(4);
    });
    const shown = machine.lamps.at(-1)!;
    expect(shown).toBe(2 ** Math.floor(height(harbour, 0) / 64 + 0.02) - 1);
  });
});

test('the image in the project is this program', () => {
  const file = readFileSync('projects/tide-clerk/firmware/tide.hex');
  expect(file.toString('latin1')).toBe(writeIntelHex({ blocks: [{ address: 0, bytes }] }));
  const { value, findings } = fitImage(readImage(file, 'tide.hex').value, { address: 0, size: 0x8000 }, 'tide.hex');
  expect(findings).toEqual([]);
  expect([...value.subarray(0, bytes.length)]).toEqual([...bytes]);
});
