// A fuse file of any origin, read and explained in one step. Part of the reading side.

import type { Finding, Result } from '../base/index.ts';
import { type FuseFile, readJesd3 } from '../format/jesd3/index.ts';
import { type Explained, explainFuses } from './explain.ts';
import { type VectorRun, runVectors } from './vectors.ts';

export interface ExplainedFile {
  readonly explained: Explained;
  readonly file: FuseFile;
  /** What its own test vectors give, where it has any. */
  readonly vectors: VectorRun | undefined;
}

/** Fuses of each device with signature, without power-down fuse. */
const FULL = { '16V8': 2194, '20V8': 2706, '22V10': 5892 } as const;

/** Reads `bytes` as a file for `device`. Undefined where the fuses are for another device or stand for no mode. */
export function explainFile(
  bytes: Uint8Array,
  device: '16V8' | '20V8' | '22V10',
  name: string,
): Result<ExplainedFile | undefined> {
  const { value: file, findings: read } = readJesd3(bytes, name);
  const findings: Finding[] = [...read];
  if (file.fuses.length === 0) return { value: undefined, findings };
  let { fuses } = file;
  // Without QF the lists say how far the fuses go, and rows at their default may be left out at the end.
  if (file.fuseCount === undefined && fuses.length < FULL[device]) {
    fuses = new Uint8Array(FULL[device]).fill(file.defaultFuse ?? 0);
    fuses.set(file.fuses);
  }
  const explained = explainFuses(fuses, device, { file: name, start: 0, end: 0 });
  findings.push(...explained.findings);
  if (explained.value === undefined) return { value: undefined, findings };
  let vectors: VectorRun | undefined;
  if (file.vectors.length > 0) {
    const run = runVectors(explained.value, file.vectors, {
      ...(file.defaultTest === undefined ? {} : { defaultTest: file.defaultTest }),
      ...(file.pinOrder === undefined ? {} : { pinOrder: file.pinOrder }),
    });
    vectors = run.value;
    findings.push(...run.findings);
  }
  return { value: { explained: explained.value, file, vectors }, findings };
}
