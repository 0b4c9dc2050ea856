// Reads a memory image in whichever format its bytes are in.

import type { Result } from '../../base/index.ts';
import { readIntelHex } from '../intel-hex/read.ts';
import { readSRecord } from '../s-record/read.ts';
import { type MemoryImage, readBinaryImage } from './model.ts';

/** The formats of images. */
export type ImageFormat = 'intel-hex' | 's-record' | 'binary';

/** What the bytes look like: the first line is a record (`:` or `S` and digits only), or they are bare bytes. */
export const imageFormatOf = (bytes: Uint8Array): ImageFormat => {
  let head = '';
  for (const byte of bytes.subarray(0, 600)) head += String.fromCharCode(byte);
  const first = head
    .trimStart()
    .split(/[\r\n]/)[0]!
    .trimEnd();
  if (/^:[0-9A-Fa-f]{10,}$/.test(first)) return 'intel-hex';
  if (/^S[0-9][0-9A-Fa-f]{4,}$/.test(first)) return 's-record';
  return 'binary';
};

/** Reads an image; `address` is where bare bytes begin, by default 0. */
export const readImage = (bytes: Uint8Array, file: string, address = 0): Result<MemoryImage> => {
  const format = imageFormatOf(bytes);
  if (format === 'intel-hex') return readIntelHex(bytes, file);
  if (format === 's-record') return readSRecord(bytes, file);
  return readBinaryImage(bytes, file, address);
};
