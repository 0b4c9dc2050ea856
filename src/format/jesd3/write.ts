// Writes a fuse file as JESD3 asks: design specification first, quantities before lists, every fuse listed, both sums. The
// same content gives the same bytes. Nothing here knows what the fuses mean.

import { bug } from '../../base/index.ts';
import { fuseChecksum } from './model.ts';
import { transmissionChecksum } from './transmission.ts';

/** What is to be written. */
export interface FuseFileText {
  /** Free text, several lines allowed; characters that JESD3 forbids become blanks. */
  readonly designSpecification: string;
  readonly fuses: Uint8Array;
  /** Pins of the device, which is the length of every vector. */
  readonly pinCount: number;
  /** Where lists begin, ascending, the first 0; each row reaches to the next. A row may bear a note above it. */
  readonly rows: readonly { readonly first: number; readonly note?: string }[];
  readonly vectors?: readonly string[];
  /** Level of inputs whose condition is X; default 0. */
  readonly defaultTest?: 0 | 1;
  /** Protects the programmed device against being read; default false. */
  readonly security?: boolean;
}

const NEW_LINE = '\r\n';

/** The text of a fuse file: ASCII, CR LF line ends, transmission checksum for exactly these characters. */
export function writeJesd3(content: FuseFileText): string {
  const { fuses, pinCount, rows, vectors = [] } = content;
  if (rows[0]?.first !== 0) bug('fuse rows do not begin with fuse 0');
  if (vectors.some((vector) => vector.length !== pinCount))
    bug('a vector of another length than the pins', { pinCount });
  const digits = String(Math.max(0, fuses.length - 1)).length;
  const lines: string[] = [`${clean(content.designSpecification)}*`];
  lines.push(`QP${pinCount}*`, `QF${fuses.length}*`);
  if (vectors.length > 0) lines.push(`QV${vectors.length}*`);
  lines.push(`G${content.security === true ? 1 : 0}*`, 'F0*');
  if (vectors.length > 0) lines.push(`X${content.defaultTest ?? 0}*`);
  for (const [index, row] of rows.entries()) {
    const end = rows[index + 1]?.first ?? fuses.length;
    if (end <= row.first || end > fuses.length) bug('fuse rows out of order', { first: row.first, end });
    if (row.note !== undefined) lines.push(`N ${clean(row.note)}*`);
    lines.push(`L${String(row.first).padStart(digits, '0')} ${fuses.subarray(row.first, end).join('')}*`);
  }
  lines.push(`C${hex(fuseChecksum(fuses))}*`);
  for (const [index, vector] of vectors.entries()) lines.push(`V${String(index + 1).padStart(4, '0')} ${vector}*`);
  const text = `\x02${lines.join(NEW_LINE)}${NEW_LINE}\x03`;
  const bytes = Uint8Array.from(text, (character) => character.charCodeAt(0));
  return `${text}${hex(transmissionChecksum(bytes, 0, bytes.length - 1))}${NEW_LINE}`;
}

function hex(value: number): string {
  return value.toString(16).toUpperCase().padStart(4, '0');
}

function clean(text: string): string {
  return text
    .split(/\r\n|\r|\n/)
    .map((line) => line.replace(/[^\x20-\x7e]|\*/g, ' ').trimEnd())
    .join(NEW_LINE);
}
