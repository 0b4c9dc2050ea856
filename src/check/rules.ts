// All rules, in the order of the manual. A rule here has a page in docs/findings with examples that a test runs.

import type { Rule } from './rule.ts';
import { conflictingDrivers, floatingInput, noPullUp, outputOnRail, unusedUnitInput } from './rules/driving.ts';
import { noMemoryAtReset, overlappingRegions } from './rules/map.ts';
import { ledWithoutResistor, levelMismatch, singlePinNet, strapLeftIn } from './rules/nets.ts';
import { noClock, noReset } from './rules/special.ts';
import { noBypass, noSupply, requiredTieMissing } from './rules/supply.ts';

export const RULES: readonly Rule[] = [
  floatingInput,
  unusedUnitInput,
  noPullUp,
  conflictingDrivers,
  outputOnRail,
  noClock,
  noReset,
  noSupply,
  noBypass,
  requiredTieMissing,
  singlePinNet,
  levelMismatch,
  ledWithoutResistor,
  strapLeftIn,
  overlappingRegions,
  noMemoryAtReset,
];
