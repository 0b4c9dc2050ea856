// The findings of the simulator: code, severity and title of each. A page of docs/findings explains every one.

import type { Severity } from '../base/index.ts';

/** Every code that this folder reports. */
export const SIM_CODES = {
  'sim/conflict': { severity: 'error', title: 'Two outputs that drive one net against each other' },
  'sim/image-too-large': { severity: 'error', title: 'An image larger than its memory' },
  'sim/no-image': { severity: 'warning', title: 'A memory whose contents are not known' },
  'sim/no-logic': { severity: 'warning', title: 'A logic device that is not programmed' },
  'sim/no-model': { severity: 'note', title: 'A part that the simulator does not model' },
  'sim/no-rate': { severity: 'warning', title: 'An oscillator without a rate' },
  'sim/no-supply': { severity: 'error', title: 'A part without supply' },
  'sim/no-time': { severity: 'warning', title: 'A one-shot or timer whose time is not known' },
  'sim/oscillates': { severity: 'warning', title: 'A loop that does not come to rest' },
  'sim/supply-shorted': { severity: 'error', title: 'Supply and ground on one net' },
  'sim/verilog-strength': {
    severity: 'note',
    title: 'Resistors that a Verilog export can only tell apart by strength',
  },
  'sim/verilog-empty': { severity: 'note', title: 'A part whose module in a Verilog export has no contents' },
  'sim/value-unknown': { severity: 'warning', title: 'A resistor whose value cannot be read' },
} as const satisfies Readonly<Record<string, { readonly severity: Severity; readonly title: string }>>;

/** One of the codes of this folder. */
export type SimCode = keyof typeof SIM_CODES;
