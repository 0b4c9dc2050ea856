export { check } from './check.ts';
export type { Fact, Rule, RuleContext } from './rule.ts';
export { RULES } from './rules.ts';
