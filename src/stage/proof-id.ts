// The identity of a proof: what is given and what must be seen, in its stage. The same proof keeps its id when lines move.

import { contentId } from '../base/index.ts';
import type { StageInfo } from '../netlist/index.ts';

type ProofDecl = StageInfo['decl']['prove'][number];

const term = (item: { readonly key: string; readonly value: string }): string =>
  item.value === '' ? item.key : `${item.key}: ${item.value}`;

/** What is given and what must be seen, as one would say it. */
export function proofText(proof: ProofDecl): { readonly given: string; readonly expect: string } {
  return { given: proof.given.map(term).join(', '), expect: proof.expect.map(term).join(', ') };
}

/** The id of a proof, also that of its measuring step. */
export function proofId(stage: string, proof: ProofDecl): string {
  const { given, expect } = proofText(proof);
  return contentId(`proof|${stage}|${given}|${expect}`);
}
