// The findings of laying captures on the machine: code, severity and title of each. A page of docs/findings explains every one.

import type { Severity } from '../../base/index.ts';

/** Every code that this folder reports. */
export const BRINGUP_CAPTURE_CODES = {
  'bringup/channel-ambiguous': { severity: 'warning', title: 'A channel that several nets could be' },
  'bringup/channel-unmatched': { severity: 'note', title: 'A channel whose net is not known' },
  'bringup/clock-rate': { severity: 'warning', title: 'A clock of another rate than the machine file says' },
  'bringup/clock-still': { severity: 'warning', title: 'A clock channel that does not swing' },
  'bringup/few-samples': { severity: 'warning', title: 'Fewer than six samples a clock' },
  'bringup/no-alignment': { severity: 'error', title: 'A capture that cannot be laid on the clock' },
  'bringup/no-reset': { severity: 'note', title: 'A capture that does not hold the reset' },
  'bringup/probe-inverted': { severity: 'warning', title: 'A channel that shows the opposite of its net' },
  'bringup/probes-exchanged': { severity: 'warning', title: "Two channels that show each other's nets" },
  'bringup/skipped-clocks': { severity: 'note', title: 'Clocks that the capture skipped' },
  'bringup/unknown-net': { severity: 'warning', title: 'A remembered channel whose net is not there' },
} as const satisfies Readonly<Record<string, { readonly severity: Severity; readonly title: string }>>;

/** One of the codes of this folder. */
export type BringupCaptureCode = keyof typeof BRINGUP_CAPTURE_CODES;
