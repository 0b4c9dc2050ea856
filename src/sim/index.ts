export type {
  FlatRun,
  FlatRunner,
  ProcessorTools,
  VectorCase,
  VectorOptions,
  VectorRunner,
  Z80Inputs,
  Z80Options,
  Z80Pins,
} from './processors/index.ts';
export {
  PROCESSORS,
  Z80,
  Z80_ACTION,
  Z80_PHASES,
  z80BeginAt,
  z80Commit,
  z80Drive,
  z80PowerUp,
  z80Step,
} from './processors/index.ts';
