// The outer frame of a fuse file: from STX to ETX, and the transmission checksum after it. The sum covers line ends, so a
// file whose line ends were changed on its way no longer matches its own sum; the reader says so and only warns.

import type { Finding } from '../../base/index.ts';
import type { Jesd3Code } from './codes.ts';
import type { Checksum } from './model.ts';

/** Byte offsets: `start` is STX (or 0), `end` is ETX (or the end of the file). */
export interface Frame {
  readonly start: number;
  readonly end: number;
  readonly hasStart: boolean;
  readonly hasEnd: boolean;
}

const STX = 2;
const ETX = 3;

/** Finds STX and the first ETX after it. What stands before STX does not belong to the file. */
export function findFrame(bytes: Uint8Array): Frame {
  const stx = bytes.indexOf(STX);
  const start = Math.max(0, stx);
  const etx = bytes.indexOf(ETX, start);
  return { start, end: etx < 0 ? bytes.length : etx, hasStart: stx >= 0, hasEnd: etx >= 0 };
}

/** The sum of the 7-bit codes from `start` to `end` inclusive, 16 bits kept, line ends taken as `lineEnd` where given. */
export function transmissionChecksum(
  bytes: Uint8Array,
  start: number,
  end: number,
  lineEnd?: 'LF' | 'CRLF' | 'CR',
): number {
  const each = lineEnd === 'LF' ? 10 : lineEnd === 'CR' ? 13 : 23;
  let sum = 0;
  for (let i = start; i <= end && i < bytes.length; i++) {
    const code = bytes[i]! & 0x7f;
    if (lineEnd === undefined || (code !== 10 && code !== 13)) sum += code;
    else if (code === 13 && i < end && bytes[i + 1] === 10) {
      sum += each;
      i++;
    } else sum += each;
  }
  return sum % 65536;
}

const NAMES = { LF: 'LF (one character)', CRLF: 'CR LF (two characters)', CR: 'CR (one character)' } as const;

/** Compares the stated sum with the text as it is, and if that differs with the text under each line-end convention. */
export function checkTransmission(
  bytes: Uint8Array,
  frame: Frame,
  report: (code: Jesd3Code, message: string, start: number, end: number, extra?: Partial<Finding>) => void,
): Checksum {
  const computed = transmissionChecksum(bytes, frame.start, frame.end);
  if (!frame.hasEnd) return { stated: undefined, computed };
  const after = String.fromCharCode(...bytes.subarray(frame.end + 1, frame.end + 16));
  const match = /^\s*([0-9a-f]{4})(?![0-9a-z])/i.exec(after);
  if (match === null) {
    const missing = after.trim() === '' ? 'is missing' : 'is not four hexadecimal digits';
    report(
      'jesd3/transmission-checksum',
      `The transmission checksum after the end mark ${missing}.`,
      frame.end,
      Math.min(bytes.length, frame.end + 5),
      { help: 'Four digits are wanted; 0000 tells the programmer not to check.' },
    );
    return { stated: undefined, computed };
  }
  const stated = Number.parseInt(match[1]!, 16);
  if (stated === 0 || stated === computed) return { stated, computed };
  const hex = (value: number): string => value.toString(16).toUpperCase().padStart(4, '0');
  const fits = (['LF', 'CRLF', 'CR'] as const).filter(
    (lineEnd) => transmissionChecksum(bytes, frame.start, frame.end, lineEnd) === stated,
  );
  const at = frame.end + 1 + match[0].length - 4;
  report(
    'jesd3/transmission-checksum',
    `The transmission checksum is stated as ${hex(stated)}; the text adds up to ${hex(computed)}.`,
    at,
    at + 4,
    fits.length > 0
      ? {
          notes: [
            {
              text: `It matches if every line ends with ${NAMES[fits[0]!]}: only the line ends were changed on the way.`,
            },
          ],
          help: 'The fuses are not affected. A programmer that checks this sum may refuse the file: set the sum to 0000 or restore the line ends.',
        }
      : {
          notes: [
            {
              text: 'No line-end convention (LF, CR LF, CR) makes it match: some character was changed, added or lost.',
            },
          ],
          help: 'Compare the fuse checksum as well; if in doubt make or fetch the file again.',
        },
  );
  return { stated, computed };
}
