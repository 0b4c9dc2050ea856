import { addressPlace } from './address/index.tsx';
import { boards } from './boards/index.tsx';
import { bringUp } from './bringup/index.tsx';
import { build } from './build/index.tsx';
import { findingsPlace } from './findings/index.tsx';
import { intent } from './intent/index.tsx';
import { marginsPlace } from './margins/index.tsx';
import { record } from './record/index.tsx';
import { simulationPlace } from './simulation/index.tsx';
import type { Place } from './registry.ts';

/** In the order in which they are shown. */
export const PLACES: readonly Place[] = [
  intent,
  findingsPlace,
  marginsPlace,
  addressPlace,
  boards,
  simulationPlace,
  build,
  bringUp,
  record,
];
