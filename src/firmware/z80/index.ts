export type {
  Z80Arithmetic,
  Z80Code,
  Z80Condition,
  Z80Emitter,
  Z80Indexed,
  Z80Operand,
  Z80Pair,
  Z80Plain,
  Z80Register,
  Z80Shift,
  Z80Value,
} from './emit.ts';
export { createZ80Emitter } from './emit.ts';
export type { Z80SelfTest, Z80SelfTestEnd, Z80SelfTestPlan } from './self-test.ts';
export { makeZ80SelfTest } from './self-test.ts';
