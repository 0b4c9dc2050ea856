// The processors there are models of, by the name that tools and machine files give them.

import type { FlatRunner } from './flat.ts';
import type { VectorRunner } from './vector.ts';
import { runZ80Flat, runZ80Vector } from './z80/index.ts';

/** What a processor model offers to tools. */
export interface ProcessorTools {
  readonly runVector: VectorRunner;
  readonly runFlat: FlatRunner;
}

/** Every processor by its name in small letters. */
export const PROCESSORS: Readonly<Record<string, ProcessorTools>> = {
  z80: { runVector: runZ80Vector, runFlat: runZ80Flat },
};

export type { FlatRun, FlatRunner } from './flat.ts';
export type { VectorCase, VectorOptions, VectorRunner } from './vector.ts';
export type { Disassembly, Z80Inputs, Z80Options, Z80Pins } from './z80/index.ts';
export {
  disassembleZ80,
  Z80,
  Z80_ACTION,
  Z80_PHASES,
  z80BeginAt,
  z80Commit,
  z80Drive,
  z80PowerUp,
  z80Step,
} from './z80/index.ts';
