// The findings of the readers of memory images (Intel HEX, S-record, binary) and of fitting an image into a memory: code,
// severity and title of each. A page of docs/findings explains every one.

import type { Severity } from '../../base/index.ts';

/** Every code that the image folders report. */
export const IMAGE_CODES = {
  'image/after-end': { severity: 'warning', title: 'Something stands after the end record' },
  'image/bad-checksum': { severity: 'error', title: 'A record does not match its checksum' },
  'image/bad-record': { severity: 'error', title: 'A line is no record' },
  'image/does-not-fit': { severity: 'error', title: 'The image has bytes outside the memory' },
  'image/no-data': { severity: 'error', title: 'The file holds no byte' },
  'image/no-end': { severity: 'warning', title: 'The file has no end record' },
  'image/odd-record': { severity: 'warning', title: 'A record of a kind that is not used here' },
  'image/overlap': { severity: 'error', title: 'Two records give one address different bytes' },
  'image/record-count': { severity: 'warning', title: 'The number of records is not the one stated' },
  'image/repeated': { severity: 'warning', title: 'Two records give one address the same byte' },
  'image/too-large': { severity: 'error', title: 'The file is larger than any image of such a machine' },
} as const satisfies Readonly<Record<string, { readonly severity: Severity; readonly title: string }>>;

/** One of the codes of the image folders. */
export type ImageCode = keyof typeof IMAGE_CODES;
