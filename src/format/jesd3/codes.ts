// The findings of the fuse-file reader: code, severity and title of each. A page of docs/findings explains every one.

import type { Severity } from '../../base/index.ts';

/** Every code that this folder reports. */
export const JESD3_CODES = {
  'jesd3/bad-character': { severity: 'warning', title: 'A character that a fuse file may not hold' },
  'jesd3/bad-field': { severity: 'warning', title: 'A field that cannot be read' },
  'jesd3/bad-fuse-state': { severity: 'error', title: 'A fuse list with something else than 0 and 1' },
  'jesd3/bad-vector': { severity: 'warning', title: 'A test vector that cannot be read' },
  'jesd3/conflicting-field': { severity: 'warning', title: 'A field given twice with different values' },
  'jesd3/conflicting-fuse': { severity: 'error', title: 'A fuse listed twice with different states' },
  'jesd3/fuse-checksum': { severity: 'warning', title: 'The fuse checksum does not match the fuses' },
  'jesd3/fuse-out-of-range': { severity: 'error', title: 'A fuse number beyond the number of fuses' },
  'jesd3/no-default-fuse': { severity: 'error', title: 'Fuses that are neither listed nor given a default' },
  'jesd3/no-end': { severity: 'warning', title: 'The file has no end mark' },
  'jesd3/no-fuse-count': { severity: 'warning', title: 'The file does not say how many fuses there are' },
  'jesd3/no-fuses': { severity: 'error', title: 'The file lists no fuse' },
  'jesd3/no-start': { severity: 'warning', title: 'The file has no start mark' },
  'jesd3/not-a-fuse-file': { severity: 'error', title: 'This is no fuse file' },
  'jesd3/too-large': { severity: 'error', title: 'A file or a number larger than is believed' },
  'jesd3/transmission-checksum': { severity: 'warning', title: 'The transmission checksum does not match the text' },
  'jesd3/truncated': { severity: 'error', title: 'The file breaks off within a field' },
} as const satisfies Readonly<Record<string, { readonly severity: Severity; readonly title: string }>>;

/** One of the codes of this folder. */
export type Jesd3Code = keyof typeof JESD3_CODES;
