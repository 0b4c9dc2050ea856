export type { Disassembly } from './disassemble.ts';
export { disassembleZ80 } from './disassemble.ts';
export { runZ80Flat } from './flat.ts';
export { ACTION as Z80_ACTION, PHASES as Z80_PHASES } from './phases.ts';
export * as Z80 from './state.ts';
export type { Z80Inputs, Z80Options, Z80Pins } from './step.ts';
export {
  beginAt as z80BeginAt,
  commit as z80Commit,
  drive as z80Drive,
  powerUp as z80PowerUp,
  step as z80Step,
} from './step.ts';
export { runZ80Vector } from './vectors.ts';
