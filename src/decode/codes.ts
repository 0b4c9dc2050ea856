// The findings of the decoder engine: code, severity and title of each. A page of docs/findings explains every one.

import type { Severity } from '../base/index.ts';

/** Every code that this folder reports. */
export const DECODE_CODES = {
  'decode/always-reset': { severity: 'warning', title: 'Registers that never leave reset' },
  'decode/bad-formula': { severity: 'error', title: 'A formula that cannot be read' },
  'decode/clock-is-formula': { severity: 'error', title: 'A clock that is no single net' },
  'decode/condition-on-address': { severity: 'error', title: 'A condition that looks at an address line' },
  'decode/constant-output': { severity: 'note', title: 'An output that drives one level all the time' },
  'decode/control-too-complex': { severity: 'error', title: 'An enable, reset or preset of several terms' },
  'decode/controls-differ': { severity: 'error', title: 'Registers of one device with different controls' },
  'decode/does-not-fit': { severity: 'error', title: 'More than the device can hold' },
  'decode/double-answer': { severity: 'error', title: 'Two parts that answer at one address' },
  'decode/duplicate-name': { severity: 'error', title: 'A name given twice' },
  'decode/file-differs': { severity: 'error', title: 'A fuse file that does something else than is wanted' },
  'decode/illegal-mode': { severity: 'error', title: 'Mode fuses that stand for no mode' },
  'decode/map-differs': { severity: 'error', title: 'A decoder that does not answer as the map says' },
  'decode/map-not-checked': { severity: 'note', title: 'A map too large to visit every address' },
  'decode/never-driven': { severity: 'error', title: 'An output whose stated enable never holds' },
  'decode/never-enabled': { severity: 'warning', title: 'An output whose enable row is never true' },
  'decode/no-clock': { severity: 'error', title: 'Registers without a clock' },
  'decode/no-discrete-form': { severity: 'note', title: 'Selects too deep for decoders and gates' },
  'decode/not-proved-minimal': { severity: 'note', title: 'A sum that may not be the shortest' },
  'decode/not-told-apart': { severity: 'error', title: 'Two parts that look alike to the decoder' },
  'decode/output-read-back': { severity: 'warning', title: 'A simple-mode output that is read back' },
  'decode/pin-tied': { severity: 'note', title: 'A pin that the mode needs at a level' },
  'decode/power-down-fuse': { severity: 'warning', title: 'A file with a power-down fuse' },
  'decode/proof-failed': { severity: 'error', title: 'A compiled file that was not proved' },
  'decode/range-outside': { severity: 'error', title: 'A range that does not lie in its space' },
  'decode/range-too-fine': { severity: 'error', title: 'A range that needs a line the decoder does not get' },
  'decode/terms-disabled': { severity: 'warning', title: 'Terms that are written but switched off' },
  'decode/too-complex': { severity: 'error', title: 'A function too large to handle' },
  'decode/too-many-signals': { severity: 'error', title: 'More signals than any device has pins' },
  'decode/unaligned-range': { severity: 'note', title: 'A range that is not a multiple of its size' },
  'decode/unknown-name': { severity: 'error', title: 'A name that is no input and no output' },
  'decode/unused-input': { severity: 'note', title: 'An input that does not matter' },
  'decode/vector-fails': { severity: 'error', title: 'A test vector that the fuses do not meet' },
  'decode/vector-not-run': { severity: 'note', title: 'A test vector that only a programmer can run' },
  'decode/wrong-device': { severity: 'error', title: 'A fuse file for another device' },
} as const satisfies Readonly<Record<string, { readonly severity: Severity; readonly title: string }>>;

/** One of the codes of this folder. */
export type DecodeCode = keyof typeof DECODE_CODES;
