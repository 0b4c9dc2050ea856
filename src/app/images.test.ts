import * as zlib from 'node:zlib';
import { expect, test } from 'vitest';
import { demoProject } from '../../tests/support/demo.ts';
import { readIntelHex } from '../format/intel-hex/index.ts';
import { Build } from './build.ts';
import { imageFiles, sumOf } from './images.ts';
import { crc32, imageVerb } from './verbs/image.ts';

interface Image {
  readonly part: string;
  readonly file: string;
  readonly size: number | null;
  readonly sum: string | null;
  readonly vectors: readonly { readonly name: string; readonly address: number; readonly bytes: string }[];
}
const imagesAt = (build: Build, stage: number): readonly Image[] =>
  (imageVerb(build, { stage }).value as { images: readonly Image[] }).images;

test('a memory is programmed anew where a stage says so, and comes out and goes back for it', () => {
  const build = new Build(demoProject('tide-clerk'), 'first');
  const steps = build.wholePlan()!.value.steps.filter((step) => step.part === 'ROM' && step.do !== 'place');
  expect(steps.map((step) => [step.stage, step.do, step.file])).toEqual([
    [4, 'program', 'firmware/self-test.hex'],
    [4, 'label', undefined],
    [5, 'take-out', undefined],
    [5, 'program', 'firmware/tide.hex'],
    [5, 'label', undefined],
    [5, 'refit', undefined],
  ]);
  for (const step of steps.filter((one) => one.do === 'program')) {
    expect(step.bytes).toBe(32768);
    expect(step.sum).toMatch(/^[0-9A-F]{4}$/);
  }
  expect(steps[4]!.text).toMatch(/^Label ROM "ROM tide\.hex [0-9A-F]{4}"\.$/);
});

test('when the firmware changes, the plan asks for the new sum', () => {
  const project = demoProject('tide-clerk');
  const build = new Build(project, 'first');
  const sum = (): string | undefined =>
    build.wholePlan()!.value.steps.findLast((step) => step.do === 'program' && step.part === 'ROM')!.sum;
  const before = sum();
  expect(imageFiles(build)).toContain('firmware/tide.hex');
  const text = project.text('firmware/tide.hex')!;
  // One byte of the first line, and its checksum with it (Intel Hexadecimal Object File Format, revision A: sum is zero).
  const line = text.split('\n')[0]!;
  const bytes = line
    .slice(1)
    .match(/../g)!
    .map((pair) => Number.parseInt(pair, 16));
  bytes[4] = (bytes[4]! + 1) & 0xff;
  bytes[bytes.length - 1] = (bytes.at(-1)! - 1) & 0xff;
  const changed = `:${bytes.map((byte) => byte.toString(16).padStart(2, '0').toUpperCase()).join('')}`;
  project.setText('firmware/tide.hex', text.replace(line, changed));
  expect(Number.parseInt(sum()!, 16)).toBe((Number.parseInt(before!, 16) + 1) & 0xffff);
});

test('image names the bytes, the sums and where the processor begins', () => {
  const build = new Build(demoProject('tide-clerk'), 'first');
  const [rom] = imagesAt(build, 5);
  expect(rom).toMatchObject({ part: 'ROM', file: 'firmware/tide.hex', size: 32768 });
  expect(rom!.vectors.map((vector) => vector.address)).toEqual([0x0000, 0x0038, 0x0066]);
  expect(rom!.vectors[0]!.bytes).toMatch(/^F3 C3 /); // DI, then JP: UM0080
  expect(imageVerb(build, { stage: 2 }).refused).toBe(true);
});

test('a self-test that lies in no file is written, and found again', () => {
  const project = demoProject('tide-clerk');
  project.setText('firmware/self-test.hex', undefined);
  const build = new Build(project, 'first');
  const made = imageVerb(build, { stage: 4 });
  const [write] = made.effects!;
  expect(write).toMatchObject({ kind: 'write', path: 'builds/first/images/ROM-self-test.hex' });
  const text = (write as { text: string }).text;
  expect(readIntelHex(new TextEncoder().encode(text), 'x').findings).toEqual([]);
  project.setText('builds/first/images/ROM-self-test.hex', text);
  expect(imagesAt(build, 4)[0]!.file).toBe('builds/first/images/ROM-self-test.hex');
  expect(imageVerb(build, { stage: 4 }).effects).toEqual([]);
  expect(build.wholePlan()!.value.steps.find((step) => step.do === 'program' && step.part === 'ROM')!.file).toBe(
    'builds/first/images/ROM-self-test.hex',
  );
});

test('the sums: the check value of CRC-32, and another library; all bytes modulo 65,536', () => {
  const nine = new TextEncoder().encode('123456789');
  expect(crc32(nine)).toBe(0xcbf43926); // the check value of ITU-T V.42's polynomial
  const { crc32: other } = zlib as { crc32?: (data: Uint8Array) => number };
  const noise = Uint8Array.from({ length: 5000 }, (_, i) => (i * 97 + (i >> 3)) & 0xff);
  if (other !== undefined) expect(crc32(noise)).toBe(other(noise));
  expect(sumOf(Uint8Array.of(0xff, 0xff, 3))).toBe(0x201);
});
