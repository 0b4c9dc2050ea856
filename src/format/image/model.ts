// A memory image: what a file of firmware says stands at which address. Readers of the formats build it here from records;
// fitting one into a ROM is here too.

import type { Finding, Result, Span } from '../../base/index.ts';
import { formatHex } from '../../base/index.ts';
import { IMAGE_CODES, type ImageCode } from './codes.ts';

/** Bytes at consecutive addresses. */
export interface ImageBlock {
  readonly address: number;
  readonly bytes: Uint8Array;
}

/** Blocks in order of address, neither overlapping nor touching. */
export interface MemoryImage {
  readonly blocks: readonly ImageBlock[];
  /** Where execution starts, when the file says so. */
  readonly start?: number;
  /** What the file calls itself (the header of an S-record file). */
  readonly title?: string;
}

/** Largest file that is read, in bytes of text; as binary, largest image. */
export const LARGEST_IMAGE_FILE = 4_194_304;
/** Findings of one code that are listed; the rest are counted. */
const MOST_PER_CODE = 8;

/** One record's data with its place in the file. */
export interface ImageRecord {
  readonly address: number;
  readonly bytes: Uint8Array;
  readonly span: Span;
}

/** Collects findings of the image folders, a few of each code listed and the rest counted. */
export interface ImageReport {
  add(code: ImageCode, message: string, where: Span, extra?: Partial<Finding>): void;
  list(): readonly Finding[];
}

/** An empty report. */
export const createImageReport = (): ImageReport => {
  const findings: Finding[] = [];
  const counts = new Map<ImageCode, number>();
  return {
    add: (code, message, where, extra = {}) => {
      const count = (counts.get(code) ?? 0) + 1;
      counts.set(code, count);
      if (count > MOST_PER_CODE) return;
      findings.push({ code, severity: IMAGE_CODES[code].severity, message, where: [where], notes: [], ...extra });
    },
    list: () =>
      findings.map((finding) => {
        const count = counts.get(finding.code as ImageCode)!;
        const isLast = findings.findLast((other) => other.code === finding.code) === finding;
        if (count <= MOST_PER_CODE || !isLast) return finding;
        const text = `${count - MOST_PER_CODE} more like this are not listed.`;
        return { ...finding, notes: [...finding.notes, { text }] };
      }),
  };
};

/** Lays records out in the order of the file: a later one stands over an earlier one, with a finding. */
export const layRecords = (records: readonly ImageRecord[], report: ImageReport): readonly ImageBlock[] => {
  const extents: { start: number; end: number }[] = [];
  for (const { address, bytes } of [...records].sort((a, b) => a.address - b.address)) {
    if (bytes.length === 0) continue;
    const last = extents[extents.length - 1];
    if (last !== undefined && address <= last.end) last.end = Math.max(last.end, address + bytes.length);
    else extents.push({ start: address, end: address + bytes.length });
  }
  const blocks = extents.map(({ start, end }) => ({
    address: start,
    bytes: new Uint8Array(end - start),
    given: new Uint8Array(end - start),
  }));
  for (const { address, bytes, span } of records) {
    if (bytes.length === 0) continue;
    let low = 0;
    let high = blocks.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (blocks[middle]!.address <= address) low = middle;
      else high = middle - 1;
    }
    const block = blocks[low]!;
    const offset = address - block.address;
    let differs = -1;
    let repeats = -1;
    for (let k = 0; k < bytes.length; k++) {
      if (block.given[offset + k] === 1) {
        if (block.bytes[offset + k] !== bytes[k]) differs = differs < 0 ? address + k : differs;
        else repeats = repeats < 0 ? address + k : repeats;
      }
      block.bytes[offset + k] = bytes[k]!;
      block.given[offset + k] = 1;
    }
    if (differs >= 0)
      report.add('image/overlap', `${formatHex(differs, 4)} was given another byte by an earlier record.`, span, {
        help: 'Make the file again; two parts of the firmware want the same addresses.',
      });
    else if (repeats >= 0)
      report.add('image/repeated', `${formatHex(repeats, 4)} was given the same byte by an earlier record.`, span, {
        help: 'Make the file again if it was not joined from two on purpose.',
      });
  }
  return blocks.map(({ address, bytes }) => ({ address, bytes }));
};

/** A file of bare bytes as an image that begins at `address`. */
export const readBinaryImage = (bytes: Uint8Array, file: string, address = 0): Result<MemoryImage> => {
  const report = createImageReport();
  const where = { file, start: 0, end: 0 };
  if (bytes.length > LARGEST_IMAGE_FILE) {
    report.add('image/too-large', tooLarge(bytes.length), where, { help: 'Check that this is the image.' });
    return { value: { blocks: [] }, findings: report.list() };
  }
  if (bytes.length === 0)
    report.add('image/no-data', 'The file is empty.', where, { help: 'Make the image again, or choose another file.' });
  return { value: { blocks: bytes.length === 0 ? [] : [{ address, bytes: bytes.slice() }] }, findings: report.list() };
};

/** The sentence of image/too-large. */
export const tooLarge = (bytes: number): string =>
  `The file has ${bytes} bytes; at most ${LARGEST_IMAGE_FILE} are read.`;

/** The memory that an image is to go into. */
export interface ImageTarget {
  /** Address of its first byte, as the image counts. */
  readonly address: number;
  /** Bytes it has. */
  readonly size: number;
  /** What stands where the image says nothing: 0xFF in an erased ROM. Default 0xFF. */
  readonly fill?: number;
}

/** The bytes of a memory with an image in it; what lies outside is a finding and is left out. `file` names the image. */
export const fitImage = (image: MemoryImage, target: ImageTarget, file: string): Result<Uint8Array> => {
  const report = createImageReport();
  const value = new Uint8Array(target.size).fill(target.fill ?? 0xff);
  const end = target.address + target.size;
  for (const { address, bytes } of image.blocks) {
    const from = Math.max(address, target.address);
    const to = Math.min(address + bytes.length, end);
    if (from < to) value.set(bytes.subarray(from - address, to - address), from - target.address);
    const outside = bytes.length - Math.max(0, to - from);
    if (outside === 0) continue;
    const first = address < target.address ? address : Math.max(address, end);
    report.add(
      'image/does-not-fit',
      `${outside} ${outside === 1 ? 'byte' : 'bytes'} from ${formatHex(first, 4)} ${outside === 1 ? 'lies' : 'lie'} outside ` +
        `${formatHex(target.address, 4)} to ${formatHex(end - 1, 4)}.`,
      { file, start: 0, end: 0 },
      { help: 'Give the firmware the addresses of this memory, or the memory the addresses of the firmware.' },
    );
  }
  return { value, findings: report.list() };
};
