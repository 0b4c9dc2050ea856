// `image`: what each memory is to hold as of a stage, as the bytes that a device programmer writes and reads back, with the
// sums to compare. A self-test that is made and lies in no file yet is written.

import { foldName } from '../../base/index.ts';
import { writeIntelHex } from '../../format/intel-hex/index.ts';
import { type Design, netlistAt } from '../../netlist/index.ts';
import type { Build } from '../build.ts';
import { imageOf, selfTestPath, sumOf } from '../images.ts';
import { counted, textTable } from '../table.ts';
import { type Effect, refuse, type VerbResult } from '../verb.ts';

interface Vector {
  readonly name: string;
  /** Address as the processor sees it. */
  readonly address: number;
  /** The bytes there, in order, as hexadecimal text. */
  readonly bytes: string;
}

/**
 * Where a processor begins and where its interrupts lead: address and length of each place, by the style of its bus. Z80 CPU
 * manual UM0080 (reset, mode 1, NMI); W65C02S and MC6809 data sheets, vector locations; 8086 family user's manual, reset.
 */
const VECTORS: Readonly<Record<string, readonly (readonly [name: string, address: number, length: number])[]>> = {
  z80: [
    ['reset', 0x0000, 3],
    ['interrupt, mode 1', 0x0038, 3],
    ['non-maskable interrupt', 0x0066, 3],
  ],
  '6502': [
    ['non-maskable interrupt', 0xfffa, 2],
    ['reset', 0xfffc, 2],
    ['interrupt', 0xfffe, 2],
  ],
  '6809': [
    ['software interrupt 3', 0xfff2, 2],
    ['software interrupt 2', 0xfff4, 2],
    ['fast interrupt', 0xfff6, 2],
    ['interrupt', 0xfff8, 2],
    ['software interrupt', 0xfffa, 2],
    ['non-maskable interrupt', 0xfffc, 2],
    ['reset', 0xfffe, 2],
  ],
  '8088': [['reset', 0xffff0, 5]],
};

/** CRC-32 of ISO 3309 and ITU-T V.42 (reflected, polynomial 0x04C11DB7, starting and ending with all ones). */
export function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

function vectorsOf(design: Design, stage: number, part: string, bytes: Uint8Array): Vector[] {
  const { parts } = netlistAt(design, stage);
  const style = parts.find((item) => item.record.category === 'processor')?.record.bus?.style ?? '';
  const regions = design.map.filter(
    (region) =>
      region.space === 'memory' &&
      foldName(region.part) === foldName(part) &&
      region.stage <= stage &&
      (region.until === undefined || region.until > stage),
  );
  return (VECTORS[style] ?? []).flatMap(([name, address, length]) => {
    const region = regions.find((one) => address >= one.at && address + length <= one.at + one.bytes);
    if (region === undefined) return [];
    const at = (address - region.at) % bytes.length;
    const found = [...bytes.subarray(at, at + length)].map((byte) => byte.toString(16).toUpperCase().padStart(2, '0'));
    return [{ name, address, bytes: found.join(' ') }];
  });
}

const hex = (value: number, digits: number): string => value.toString(16).toUpperCase().padStart(digits, '0');

/** What every memory holds as of a stage; `out` is a folder of the project for the raw bytes, where they are wanted. */
export function imageVerb(build: Build, options: { readonly stage: number; readonly out?: string }): VerbResult {
  const design = build.design();
  const effects: Effect[] = [];
  const files: { readonly path: string; readonly bytes: Uint8Array }[] = [];
  const findings = [];
  const images = [];
  for (const part of netlistAt(design, options.stage).parts) {
    const held = imageOf(build, part, options.stage);
    if (held === undefined) continue;
    findings.push(...held.findings);
    const { bytes } = held;
    let { file } = held;
    if (bytes === undefined) {
      images.push({ part: part.name, file, image: null, size: null, sum: null, crc: null, vectors: [] });
      continue;
    }
    if (file === 'self-test') {
      file = selfTestPath(build, part.name);
      const end = bytes.findLastIndex((byte) => byte !== 0xff) + 1;
      effects.push({
        kind: 'write',
        path: file,
        text: writeIntelHex({ blocks: [{ address: 0, bytes: bytes.slice(0, end) }] }),
      });
    }
    const image = options.out === undefined ? null : `${options.out}/${part.name.replace(/[^\w.-]/g, '_')}.bin`;
    if (image !== null) files.push({ path: image, bytes });
    images.push({
      part: part.name,
      file,
      image,
      size: bytes.length,
      sum: hex(sumOf(bytes), 4),
      crc: hex(crc32(bytes), 8),
      vectors: vectorsOf(design, options.stage, part.name, bytes),
    });
  }
  if (images.length === 0)
    return refuse(
      'image/nothing',
      `No memory is programmed up to stage ${options.stage}.`,
      'Give a part `holds: FILE`, or a stage `programs: { ROM: FILE }`.',
    );
  return {
    value: { stage: options.stage, images },
    findings,
    effects,
    text: [
      textTable(
        images.map((image) => [
          image.part,
          image.file,
          image.size === null ? 'not there, or not to be read' : counted(image.size, 'byte'),
          image.sum === null ? '' : `sum ${image.sum}`,
          image.crc === null ? '' : `CRC-32 ${image.crc}`,
        ]),
      ),
      ...images.flatMap((image) =>
        image.vectors.map((vector) => `  ${vector.name} at ${hex(vector.address, 4)}: ${vector.bytes}`),
      ),
    ].join('\n'),
    bytes: files,
  };
}
