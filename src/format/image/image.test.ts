import { readdirSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { readIntelHex, writeIntelHex } from '../intel-hex/index.ts';
import { readSRecord, writeSRecord } from '../s-record/index.ts';
import { fitImage, IMAGE_CODES, imageFormatOf, type MemoryImage, readImage } from './index.ts';

const bytes = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));
const codes = (text: string): string[] =>
  readImage(bytes(text), 'tide.hex').findings.map((f) => `${f.code} ${text.slice(f.where[0]!.start, f.where[0]!.end)}`);
const flat = (image: MemoryImage): [number, number[]][] => image.blocks.map((b) => [b.address, [...b.bytes]]);

describe('Intel HEX', () => {
  // Worked example: Intel, Hexadecimal Object File Format Specification, checksum rule (sum of all bytes is 0 modulo 256).
  test('data, addresses and the end are read', () => {
    const text = ':03003000023355 42\n';
    expect(codes(text.replace(' ', ''))).toContain(`image/bad-checksum ${text.replace(' ', '').trim()}`);
    const good = ':0300300002337A1E\r\n:00000001FF\r\n';
    const { value, findings } = readImage(bytes(good), 'x');
    expect(findings).toEqual([]);
    expect(flat(value)).toEqual([[0x30, [0x02, 0x33, 0x7a]]]);
  });
  test('segments wrap, linear addresses run on, starts are told', () => {
    const segment = readIntelHex(bytes(':020000021000EC\n:02FFFF00AABB9B\n:00000001FF\n'), 'x');
    expect(segment.findings).toEqual([]);
    expect(flat(segment.value)).toEqual([
      [0x10000, [0xbb]],
      [0x1ffff, [0xaa]],
    ]);
    const linear = readIntelHex(bytes(':020000040001F9\n:02FFFF00AABB9B\n:0400000500001234B1\n:00000001FF\n'), 'x');
    expect(linear.findings).toEqual([]);
    expect(flat(linear.value)).toEqual([[0x1ffff, [0xaa, 0xbb]]]);
    expect(linear.value.start).toBe(0x1234);
  });
  test.each([
    [':0100000001FE\n', ['image/no-end \n']],
    [':0100000001FE\n:00000001FF\n:0100010001FD\n', ['image/after-end :0100010001FD']],
    [':0100000001FE\n:01000000FF00\n:00000001FF', ['image/overlap :01000000FF00']],
    [':0100000001FE\n:0100000001FE\n:00000001FF', ['image/repeated :0100000001FE']],
    [':0100000001FE\n:0200000001FD\n:00000001FF', ['image/bad-record :0200000001FD']],
    [':0100000001FE\n:010000000\n:00000001FF', ['image/bad-record :010000000']],
    [':0100000001FE\nhello\n:00000001FF', ['image/bad-record hello']],
    [':0100000001FE\n:00000009F7\n:00000001FF', ['image/odd-record :00000009F7']],
    [':00000001FF', ['image/no-data F']],
  ])('%j', (text, told) => {
    expect(codes(text)).toEqual(told);
  });
});

describe('S-record', () => {
  test('the worked line of the format is read', () => {
    // A published line of a Motorola S-record module: S1, 13 hex bytes, address 0, checksum 2A.
    const text = 'S00600004844521B\nS1130000285F245F2212226A000424290008237C2A\nS9030000FC\n';
    const { value, findings } = readSRecord(bytes(text), 'x');
    expect(findings).toEqual([]);
    expect(value.title).toBe('HDR');
    expect(flat(value)).toEqual([
      [0, [0x28, 0x5f, 0x24, 0x5f, 0x22, 0x12, 0x22, 0x6a, 0, 4, 0x24, 0x29, 0, 8, 0x23, 0x7c]],
    ]);
  });
  test.each([
    ['S10500000102F7\nS5030002FA\nS9030000FC\n', ['image/record-count S5030002FA']],
    ['S10500000102F6\nS9030000FC\n', ['image/bad-checksum S10500000102F6']],
    ['S10500000102F7\nS4030000FC\nS9030000FC\n', ['image/odd-record S4030000FC']],
    ['S10500000102F7\nS1FF\nS9030000FC\n', ['image/bad-record S1FF']],
  ])('%j', (text, told) => {
    expect(codes(text)).toEqual(told);
  });
});

/** Blocks that neither overlap nor touch. */
const images: fc.Arbitrary<MemoryImage> = fc
  .array(fc.tuple(fc.nat(70000), fc.uint8Array({ minLength: 1, maxLength: 60 })), { minLength: 1, maxLength: 5 })
  .map((rows) => {
    let end = -1;
    const blocks = [...rows]
      .sort((a, b) => a[0] - b[0])
      .map(([gap, data]) => {
        const address = end + 1 + gap;
        end = address + data.length;
        return { address, bytes: data };
      });
    return { blocks };
  });

test('what is written is read back the same, and by a parser of another make', () => {
  fc.assert(
    fc.property(images, (image) => {
      const hex = writeIntelHex(image);
      const back = readIntelHex(bytes(hex), 'x');
      expect(back.findings).toEqual([]);
      expect(flat(back.value)).toEqual(flat(image));
      expect(plainHex(hex)).toEqual(plainOf(image));
      const records = writeSRecord(image);
      const again = readSRecord(bytes(records), 'x');
      expect(again.findings).toEqual([]);
      expect(flat(again.value)).toEqual(flat(image));
      expect(plainS(records)).toEqual(plainOf(image));
    }),
    { seed: 16550, numRuns: 60 },
  );
});

test('garbage gives findings, never an exception', () => {
  const good = bytes(writeIntelHex({ blocks: [{ address: 0x8000, bytes: bytes('READY, TIDES') }] }));
  fc.assert(
    fc.property(fc.nat(good.length - 1), fc.nat(255), fc.nat(good.length), (at, value, cut) => {
      const broken = good.slice(0, cut);
      if (at < cut) broken[at] = value;
      const { value: image, findings } = readIntelHex(broken, 'x');
      const same = JSON.stringify(flat(image)) === JSON.stringify(flat(readIntelHex(good, 'x').value));
      expect(same || findings.length > 0).toBe(true);
      readSRecord(broken, 'x');
      readImage(broken, 'x');
    }),
    { seed: 7, numRuns: 400 },
  );
  expect(readImage(new Uint8Array(5_000_000), 'x').findings.map((f) => f.code)).toEqual(['image/too-large']);
});

test('an image is fitted into a ROM, and what does not fit is told', () => {
  const image = { blocks: [{ address: 0x7ffe, bytes: Uint8Array.of(1, 2, 3) }] };
  const { value, findings } = fitImage(image, { address: 0, size: 0x8000 }, 'tide.hex');
  expect([...value.subarray(0x7ffd)]).toEqual([0xff, 1, 2]);
  expect(findings.map((f) => `${f.code}: ${f.message}`)).toEqual([
    'image/does-not-fit: 1 byte from 0x8000 lies outside 0x0000 to 0x7FFF.',
  ]);
  expect(imageFormatOf(Uint8Array.of(0xc3, 0, 1))).toBe('binary');
});

test('every code has its page, and every page its code', () => {
  const pages = readdirSync('docs/findings').filter((name) => name.startsWith('image-'));
  expect(pages.sort()).toEqual(
    Object.keys(IMAGE_CODES)
      .map((code) => `${code.replace('/', '-')}.md`)
      .sort(),
  );
  for (const [code, { severity, title }] of Object.entries(IMAGE_CODES)) {
    const page = readFileSync(`docs/findings/${code.replace('/', '-')}.md`, 'utf8');
    expect(page).toContain(`# ${code}\n\nSeverity: ${severity}. ${title}.`);
  }
});

function plainOf(image: MemoryImage): Record<number, number> {
  const map: Record<number, number> = {};
  for (const block of image.blocks) for (const [k, byte] of block.bytes.entries()) map[block.address + k] = byte;
  return map;
}

/** A second reader, line by line with Node's own hexadecimal decoding. */
function plainHex(text: string): Record<number, number> {
  const map: Record<number, number> = {};
  let high = 0;
  for (const line of text.split('\n').filter(Boolean)) {
    const raw = Buffer.from(line.slice(1), 'hex');
    if (raw[3] === 4) high = raw.readUInt16BE(4) * 65536;
    if (raw[3] === 0) for (const [k, byte] of raw.subarray(4, -1).entries()) map[high + raw.readUInt16BE(1) + k] = byte;
  }
  return map;
}

function plainS(text: string): Record<number, number> {
  const map: Record<number, number> = {};
  for (const line of text.split('\n')) {
    const width = { S1: 2, S2: 3, S3: 4 }[line.slice(0, 2)];
    if (width === undefined) continue;
    const raw = Buffer.from(line.slice(2), 'hex');
    for (const [k, byte] of raw.subarray(1 + width, -1).entries()) map[raw.readUIntBE(1, width) + k] = byte;
  }
  return map;
}
