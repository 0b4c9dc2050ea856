// Captures of a stage held against its boards: the observations run against every plausible slip. Shared by the verb and the
// workbench; reading files and spreading work over workers is the host's.

import { type ClassResult, type Diagnosis, evaluate, type Observed, type Prepared, rank } from '../bringup/index.ts';
import type { Build } from './build.ts';
import { prepareStage } from './guided.ts';

export interface StageDiagnosis {
  readonly prepared: Prepared;
  readonly diagnosis: Diagnosis;
  /** For a guided session over what the captures left. */
  readonly results: readonly ClassResult[];
}

/** Undefined where nothing is laid. `progress` is told the share done and stops the work by false; what was run so far is ranked. */
export function diagnoseStage(
  build: Build,
  stage: number,
  observed: readonly Observed[],
  progress?: (share: number) => boolean,
): StageDiagnosis | undefined {
  const prepared = prepareStage(build, stage, observed);
  if (prepared === undefined) return undefined;
  const results = evaluate(prepared, {
    ...(progress === undefined ? {} : { progress: (done, total) => progress(done / Math.max(1, total)) }),
  });
  return { prepared, diagnosis: rank(prepared, [results]), results };
}
