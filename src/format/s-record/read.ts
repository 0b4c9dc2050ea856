// Reads S-records (Motorola, M68000 family programmer's reference manual, appendix on S-record output format): header, data
// with 16, 24 and 32 bit addresses, counts, start addresses. Whatever is doubtful becomes a finding; nothing throws.

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
/** Bytes of address by kind of record; kind 4 is not used. */
const ADDRESS_BYTES = [2, 2, 3, 4, 0, 2, 3, 4, 3, 2] as const;

/** Reads the bytes of an S-record file. `file` names it in findings. A record with a wrong checksum is kept, as read. */
export const readSRecord = (bytes: Uint8Array, file: string): Result<MemoryImage> => {
  const report = createImageReport();
  if (bytes.length > LARGEST_IMAGE_FILE) {
    report.add('image/too-large', tooLarge(bytes.length), { file, start: 0, end: 0 }, { help: CHECK });
    return { value: { blocks: [] }, findings: report.list() };
  }
  const records: ImageRecord[] = [];
  let start: number | undefined;
  let title: string | undefined;
  let ended = false;
  for (const line of textLines(bytes)) {
    const span = { file, start: line.start, end: line.end };
    if (ended) {
      report.add('image/after-end', 'This stands after the end record and is not read.', span, {
        help: 'Cut the file after its first end record, or keep the images in two files.',
      });
      break;
    }
    const fields = /^S[0-9]/.test(line.text) ? hexBytes(line.text.slice(2)) : undefined;
    const kind = Number(line.text[1]);
    if (fields === undefined || fields.length < 1 || fields.length !== fields[0]! + 1) {
      const why =
        fields === undefined
          ? 'S, a digit and pairs of hexadecimal digits are wanted'
          : `its count says ${fields[0] ?? 0} bytes, and there are ${Math.max(0, fields.length - 1)}`;
      report.add('image/bad-record', `This line is no record: ${why}.`, span, { help: CHECK });
      continue;
    }
    const width = ADDRESS_BYTES[kind]!;
    if (width === 0 || fields.length < width + 2) {
      report.add('image/odd-record', `An S${kind} record of this form is not used.`, span, {
        help: 'It is not read. Choose another form of the file where it is made.',
      });
      continue;
    }
    const sum = fields.subarray(0, -1).reduce((total, byte) => total + byte, 0);
    const right = ~sum & 0xff;
    if (right !== fields[fields.length - 1])
      report.add(
        'image/bad-checksum',
        `The checksum is ${formatHex(fields[fields.length - 1]!, 2)}; the record adds up to ${formatHex(right, 2)}.`,
        span,
        { help: CHECK },
      );
    const address = fields.subarray(1, 1 + width).reduce((total, byte) => total * 256 + byte, 0);
    const data = fields.slice(1 + width, -1);
    if (kind === 0) title = String.fromCharCode(...data.filter((byte) => byte >= 0x20 && byte < 0x7f));
    else if (kind <= 3) records.push({ address, bytes: data, span });
    else if (kind <= 6) {
      const most = 2 ** (8 * width);
      if (address !== records.length % most)
        report.add('image/record-count', `${address} records are stated, and there are ${records.length}.`, span, {
          help: CHECK,
        });
    } else {
      ended = true;
      if (address !== 0) start = address;
    }
  }
  const where = { file, start: Math.max(0, bytes.length - 1), end: bytes.length };
  if (!ended) report.add('image/no-end', 'The file has no end record: it may be cut short.', where, { help: CHECK });
  if (records.length === 0) report.add('image/no-data', 'No record of data is in the file.', where, { help: CHECK });
  const blocks = layRecords(records, report);
  return {
    value: { blocks, ...(start === undefined ? {} : { start }), ...(title === undefined ? {} : { title }) },
    findings: report.list(),
  };
};
