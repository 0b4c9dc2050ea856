// Hypotheses run against what was observed.

export {
  type ClassResult,
  type DiagnoseInput,
  evaluate,
  type EvaluateOptions,
  evaluatePairs,
  type PairResult,
  prepare,
  type Prepared,
  type ReadyCapture,
  unmeasured,
} from './diagnose.ts';
export { classesOf, type FaultClassOfNets } from './classes.ts';
export { type Diagnosis, type Group, posterior, rank, type RankedPlace, type Verdict } from './rank.ts';
export { PLAIN_PHYSICS, type Physics, Trial } from './trial.ts';
export { pinsThatCount, planTrials, type TrialPlan } from './trial-plan.ts';
