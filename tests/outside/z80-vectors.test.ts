// The Z80 model against measured single-step vectors (Z80 single-step test set, MIT licence, 2024): every opcode, registers,
// memory, ports and the bus by clock. The file stands beside the clone on machines that have it.

import { existsSync, readFileSync } from 'node:fs';
import { resolve } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { expect, test } from 'vitest';
import { PROCESSORS, type VectorCase } from '../../src/sim/index.ts';

const file = resolve('../shared/processor-vectors/z80.json.gz');
const there = existsSync(file);

test.skipIf(!there)(`every vector of the Z80 set${there ? '' : ' (skipped: no vector file beside the clone)'}`, () => {
  const set = JSON.parse(gunzipSync(readFileSync(file)).toString('utf8')) as Record<string, VectorCase[]>;
  const wrong: string[] = [];
  let count = 0;
  for (const [opcode, cases] of Object.entries(set)) {
    for (const vector of cases) {
      count++;
      const differences = PROCESSORS['z80']!.runVector(vector, { cycles: true });
      if (differences.length > 0) wrong.push(`${opcode}: ${differences.join('; ')}`);
    }
  }
  expect(count).toBeGreaterThan(30_000);
  expect({ wrong: wrong.length, first: wrong.slice(0, 20) }).toEqual({ wrong: 0, first: [] });
});
