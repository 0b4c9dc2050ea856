// Writes S-records: a header, data records of 16 bytes with the shortest addresses that will do, a count, an end record. The
// same image gives the same text.

import type { MemoryImage } from '../image/model.ts';

const record = (kind: number, width: number, address: number, data: readonly number[]): string => {
  const place = Array.from({ length: width }, (_, k) => Math.floor(address / 256 ** (width - 1 - k)) % 256);
  const fields = [width + data.length + 1, ...place, ...data];
  fields.push(~fields.reduce((sum, byte) => sum + byte, 0) & 0xff);
  return `S${kind}${fields.map((byte) => byte.toString(16).padStart(2, '0').toUpperCase()).join('')}\n`;
};

/** The text of an S-record file. Addresses from 0 to 0xFFFFFFFF; the title, if any, in ASCII, 60 characters at most. */
export const writeSRecord = (image: MemoryImage): string => {
  const highest = Math.max(image.start ?? 0, ...image.blocks.map(({ address, bytes }) => address + bytes.length - 1));
  const width = highest < 0x10000 ? 2 : highest < 0x1000000 ? 3 : 4;
  const title = [...(image.title ?? '')].slice(0, 60).map((character) => character.charCodeAt(0) & 0x7f);
  const parts = [record(0, 2, 0, title)];
  let count = 0;
  for (const { address, bytes } of image.blocks) {
    for (let at = 0; at < bytes.length; at += 16) {
      parts.push(record(width - 1, width, address + at, [...bytes.subarray(at, at + 16)]));
      count++;
    }
  }
  if (count < 0x10000) parts.push(record(5, 2, count, []));
  parts.push(record(11 - width, width, image.start ?? 0, []));
  return parts.join('');
};
