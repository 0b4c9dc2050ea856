// Reads Intel HEX (Intel, Hexadecimal Object File Format Specification, revision A, 1988): data, end, extended segment and
// linear addresses, start addresses. Whatever is doubtful becomes a finding with its place; nothing throws.

import { formatHex, type Result } from '../../base/index.ts';
import { hexBytes, textLines } from '../image/lines.ts';
import {
  createImageReport,
  type ImageRecord,
  LARGEST_IMAGE_FILE,
  layRecords,
  type MemoryImage,
  tooLarge,
} from '../image/model.ts';

const CHECK = 'Make the file again, or fetch it again if it came over a line.';

/** Reads the bytes of an Intel HEX file. `file` names it in findings. A record with a wrong checksum is kept, as read. */
export const readIntelHex = (bytes: Uint8Array, file: string): Result<MemoryImage> => {
  const report = createImageReport();
  if (bytes.length > LARGEST_IMAGE_FILE) {
    report.add('image/too-large', tooLarge(bytes.length), { file, start: 0, end: 0 }, { help: CHECK });
    return { value: { blocks: [] }, findings: report.list() };
  }
  const records: ImageRecord[] = [];
  let base = 0;
  let isSegment = true;
  let start: number | undefined;
  let ended = false;
  for (const line of textLines(bytes)) {
    const span = { file, start: line.start, end: line.end };
    if (ended) {
      report.add('image/after-end', 'This stands after the end record and is not read.', span, {
        help: 'Cut the file after its first end record, or keep the images in two files.',
      });
      break;
    }
    const fields = line.text.startsWith(':') ? hexBytes(line.text.slice(1)) : undefined;
    if (fields === undefined || fields.length < 5 || fields.length !== fields[0]! + 5) {
      const why =
        fields === undefined
          ? 'a colon and pairs of hexadecimal digits are wanted'
          : `its count says ${fields[0] ?? 0} bytes, and there are ${Math.max(0, fields.length - 5)}`;
      report.add('image/bad-record', `This line is no record: ${why}.`, span, { help: CHECK });
      continue;
    }
    const count = fields[0]!;
    const offset = (fields[1]! << 8) | fields[2]!;
    const kind = fields[3]!;
    const data = fields.slice(4, 4 + count);
    const sum = fields.subarray(0, -1).reduce((total, byte) => total + byte, 0);
    const right = -sum & 0xff;
    if (right !== fields[4 + count])
      report.add(
        'image/bad-checksum',
        `The checksum is ${formatHex(fields[4 + count]!, 2)}; the record adds up to ${formatHex(right, 2)}.`,
        span,
        { help: CHECK },
      );
    const word = (data[0] ?? 0) * 256 + (data[1] ?? 0);
    const wanted = [undefined, 0, 2, 4, 2, 4][kind];
    if (kind > 5 || (wanted !== undefined && wanted !== count)) {
      report.add(
        'image/odd-record',
        kind > 5
          ? `There is no record of kind ${formatHex(kind, 2)}.`
          : `A record of kind ${kind} has ${wanted} bytes.`,
        span,
        { help: 'It is not read. Choose another form of the file where it is made.' },
      );
      continue;
    }
    if (kind === 0) {
      // In a segment the offset wraps at 64 KiB; linear addresses run on.
      const fits = isSegment ? Math.min(count, 0x10000 - offset) : count;
      records.push({ address: base + offset, bytes: data.subarray(0, fits), span });
      if (fits < count) records.push({ address: base, bytes: data.subarray(fits), span });
    } else if (kind === 1) ended = true;
    else if (kind === 2) {
      base = word * 16;
      isSegment = true;
    } else if (kind === 4) {
      base = word * 0x10000;
      isSegment = false;
    } else {
      const low = data[2]! * 256 + data[3]!;
      start = kind === 3 ? word * 16 + low : word * 0x10000 + low;
    }
  }
  const where = { file, start: Math.max(0, bytes.length - 1), end: bytes.length };
  if (!ended) report.add('image/no-end', 'The file has no end record: it may be cut short.', where, { help: CHECK });
  if (records.length === 0) report.add('image/no-data', 'No record of data is in the file.', where, { help: CHECK });
  const blocks = layRecords(records, report);
  return { value: { blocks, ...(start === undefined ? {} : { start }) }, findings: report.list() };
};
