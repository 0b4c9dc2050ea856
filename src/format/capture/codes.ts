// The findings of the capture readers: code, severity and title of each. A page of docs/findings explains every one.

import type { Severity } from '../../base/index.ts';

/** Every code that this folder reports. */
export const CAPTURE_CODES = {
  'capture/bad-row': { severity: 'warning', title: 'A row with more or fewer fields than the others' },
  'capture/bad-token': { severity: 'warning', title: 'A word in a dump that cannot be read' },
  'capture/bad-value': { severity: 'warning', title: 'A value that is no level' },
  'capture/hole': { severity: 'note', title: 'Samples are missing' },
  'capture/no-channels': { severity: 'error', title: 'A capture without a single channel' },
  'capture/no-swing': { severity: 'warning', title: 'An analogue channel that never passes both thresholds' },
  'capture/no-time': { severity: 'error', title: 'Neither times nor a sample rate' },
  'capture/not-a-capture': { severity: 'error', title: 'A file that is neither a dump nor a table' },
  'capture/not-volts': { severity: 'warning', title: 'A column that is neither levels nor volts nor a bus' },
  'capture/time-goes-back': { severity: 'warning', title: 'A time before the one above it' },
  'capture/time-unit': { severity: 'warning', title: 'A time column without a unit' },
  'capture/too-large': { severity: 'warning', title: 'More than is kept' },
  'capture/truncated': { severity: 'warning', title: 'A file that ends in the middle' },
  'capture/wrong-width': { severity: 'warning', title: 'A value wider than its signal' },
} as const satisfies Readonly<Record<string, { readonly severity: Severity; readonly title: string }>>;

/** One of the codes of this folder. */
export type CaptureCode = keyof typeof CAPTURE_CODES;
