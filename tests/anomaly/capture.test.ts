// Captures that were cut, joined, scrambled, or never captures, in pieces of any size: findings, no throw, no hang, little memory,
// and the same result however the bytes come in.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { type Capture, CaptureReader, readCapture } from '../../src/format/capture/index.ts';

const bytesOf = (text: string): Uint8Array => new TextEncoder().encode(text);

const DUMP = [
  '$comment Acquired at 20 MHz $end\n$timescale 10 ns $end\n$scope module m $end\n$var wire 1 ! /RD $end\n',
  '$var wire 4 " D [3:0] $end\n$var real 64 # V $end\n$upscope $end\n$enddefinitions $end\n#0 $dumpvars 0! bx " r0.1 # $end\n',
  ...Array.from(
    { length: 60 },
    (_, k) => `#${5 * k + 5} ${k & 1}! b${(k & 15).toString(2)} "\n${k % 7 === 0 ? `r${k % 5} #\n` : ''}`,
  ),
].join('');
const TABLE = [
  'Sample rate: 20 MHz\n"Time [ns]",/RD,"D[3:0]",CH4 (V)\n',
  ...Array.from(
    { length: 500 },
    (_, k) => `${50 * k},${k & 1},0x${((k >> 1) & 15).toString(16)},${((k % 9) * 0.5).toFixed(2)}\n`,
  ),
].join('');

/** What a capture must be, whatever was read. */
function expectSound(capture: Capture | undefined): void {
  if (capture === undefined) return;
  expect(capture.end).toBeGreaterThanOrEqual(capture.start);
  for (const { times, levels } of capture.channels) {
    expect(levels.length).toBe(times.length);
    for (let k = 0; k < times.length; k++) {
      if (!(times[k]! >= capture.start && times[k]! <= capture.end)) expect.fail(`time ${times[k]} outside`);
      if (k > 0 && !(times[k]! >= times[k - 1]!)) expect.fail('times descend');
      if (levels[k]! > 2) expect.fail(`level ${levels[k]}`);
    }
  }
}

const plain = (capture: Capture | undefined): unknown =>
  capture === undefined
    ? undefined
    : {
        ...capture,
        channels: capture.channels.map(({ name, times, levels }) => ({ name, times: [...times], levels: [...levels] })),
      };

function inPieces(bytes: Uint8Array, sizes: readonly number[]) {
  const reader = new CaptureReader('tide');
  let at = 0;
  for (let k = 0; at < bytes.length; k++) {
    const size = sizes[k % sizes.length]!;
    reader.push(bytes.subarray(at, at + size));
    at += size;
  }
  return reader.end();
}

test('the same capture and findings, however the bytes come in', () => {
  const crlf = TABLE.replaceAll('\n', '\r\n');
  fc.assert(
    fc.property(
      fc.array(fc.integer({ min: 1, max: 700 }), { minLength: 1, maxLength: 6 }),
      fc.constantFrom(DUMP, TABLE, crlf),
      (sizes, text) => {
        const whole = readCapture('tide', bytesOf(text));
        const pieces = inPieces(bytesOf(text), sizes);
        expect(plain(pieces.value)).toEqual(plain(whole.value));
        expect(pieces.findings).toEqual(whole.findings);
      },
    ),
    { seed: 1, numRuns: 120 },
  );
});

test('random bytes, random words and damaged files never throw', () => {
  const words = fc.constantFrom(
    '$var',
    '$end',
    '#',
    '#12',
    '0!',
    'b',
    'b0101',
    'r',
    'p',
    '"',
    ',',
    ';',
    '\n',
    '\r',
    '1',
    '0x3F',
    '1e999',
    '-',
    '$scope',
    '$enddefinitions',
    'wire',
    '1us',
    '\t',
    '99999999999999999999',
    ' ',
    'time',
    '/RD',
  );
  const noise = fc.oneof(
    fc.uint8Array({ maxLength: 3000 }),
    fc.array(words, { maxLength: 400 }).map((list) => bytesOf(list.join(' '))),
    fc.array(words, { maxLength: 400 }).map((list) => bytesOf(`$timescale 1 ns $end ${list.join(' ')}`)),
    fc.array(words, { maxLength: 400 }).map((list) => bytesOf(list.join(','))),
    fc
      .tuple(fc.constantFrom(DUMP, TABLE), fc.array(fc.tuple(fc.nat(), fc.nat({ max: 255 })), { maxLength: 30 }))
      .map(([text, hits]) => {
        const bytes = bytesOf(text);
        for (const [at, byte] of hits) bytes[at % bytes.length] = byte;
        return bytes;
      }),
  );
  fc.assert(
    fc.property(noise, fc.integer({ min: 1, max: 400 }), (bytes, size) => {
      const { value, findings } = inPieces(bytes, [size]);
      expectSound(value);
      expect(findings.length).toBeLessThan(60);
      if (value === undefined)
        expect(findings.some(({ severity }) => severity === 'error') || findings.length > 0).toBe(true);
    }),
    { seed: 2, numRuns: 600 },
  );
});

test('a file cut anywhere still gives what stood before the cut', () => {
  for (const text of [DUMP, TABLE]) {
    const bytes = bytesOf(text);
    const whole = readCapture('tide', bytes).value!;
    for (let length = 0; length < bytes.length; length += 97) {
      const { value, findings } = readCapture('tide', bytes.subarray(0, length));
      expectSound(value);
      if (value === undefined) expect(findings.length).toBeGreaterThan(0);
      else expect(value.end).toBeLessThanOrEqual(whole.end);
    }
  }
});

test('endless lines, endless words and a million channels are left out with a finding', () => {
  const long = `t [ns],A0\n0,0\n10,1\n20,0\n${'7'.repeat(300_000)}\n30,1\n`;
  const table = inPieces(bytesOf(long), [1000]);
  expect(table.findings.map(({ code }) => code)).toEqual(['capture/bad-row']);
  expect(table.value!.end).toBeCloseTo(3e-8, 12);
  const word = `$timescale 1 ns $end $var wire 1 ! A $end $enddefinitions $end #0 0! ${'b0'.repeat(200_000)} #5 1!`;
  const dump = readCapture('tide', bytesOf(word));
  expect(dump.findings.map(({ code }) => code)).toEqual(['capture/bad-token']);
  expect(dump.value!.channels[0]!.times.length).toBe(2);
  const wide = readCapture(
    'tide',
    bytesOf('$var wire 1000000 ! A $end $var wire 1 " B $end $timescale 1 ns $end $enddefinitions $end #0 1" #9 0"'),
  );
  expect(wide.value!.channels.map(({ name }) => name)).toEqual(['B']);
  expect(wide.findings.map(({ code }) => code)).toContain('capture/too-large');
});
