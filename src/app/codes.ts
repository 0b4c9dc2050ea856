// The codes that a waiver may name: those of everything that a machine file leads to.

import { RULES } from '../check/index.ts';
import { MARGINS_CODES } from '../margins/index.ts';
import { MACHINE_CODES } from '../machine/index.ts';
import { NETLIST_CODES } from '../netlist/index.ts';

/** Codes of findings about waivers themselves. */
export const WAIVER_CODES: Readonly<Record<string, string>> = {
  'waiver/of-an-error': 'A waiver names an error, and errors cannot be waived.',
  'waiver/unused': 'A waiver meets no finding any more.',
};

/** Codes that the findings of a machine can have. */
export const MACHINE_FINDING_CODES: readonly string[] = [
  ...Object.keys(MACHINE_CODES),
  ...Object.keys(NETLIST_CODES),
  ...RULES.map((rule) => rule.code),
  ...Object.keys(MARGINS_CODES),
];
