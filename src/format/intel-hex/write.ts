// Writes Intel HEX: records of 16 bytes that never cross a multiple of 16, extended linear addresses only where the image
// goes beyond 64 KiB, one end record. The same image gives the same text.

import type { MemoryImage } from '../image/model.ts';

const record = (offset: number, kind: number, data: readonly number[]): string => {
  const fields = [data.length, (offset >> 8) & 0xff, offset & 0xff, kind, ...data];
  fields.push(-fields.reduce((sum, byte) => sum + byte, 0) & 0xff);
  return `:${fields.map((byte) => byte.toString(16).padStart(2, '0').toUpperCase()).join('')}\n`;
};

/** The text of an Intel HEX file. Addresses from 0 to 0xFFFFFFFF. */
export const writeIntelHex = (image: MemoryImage): string => {
  const parts: string[] = [];
  let page = 0;
  for (const { address, bytes } of image.blocks) {
    for (let at = 0; at < bytes.length; ) {
      const here = address + at;
      const count = Math.min(16 - (here % 16), bytes.length - at);
      const high = Math.floor(here / 0x10000);
      if (high !== page) {
        parts.push(record(0, 4, [high >> 8, high & 0xff]));
        page = high;
      }
      parts.push(record(here % 0x10000, 0, [...bytes.subarray(at, at + count)]));
      at += count;
    }
  }
  if (image.start !== undefined)
    parts.push(
      record(
        0,
        5,
        [24, 16, 8, 0].map((shift) => Math.floor(image.start! / 2 ** shift) % 256),
      ),
    );
  parts.push(record(0, 1, []));
  return parts.join('');
};
