// npm run test:long: the suites that take a number of runs from the environment, with many more of them.

import { join } from 'node:path';
import { installMissing, root, run } from './run.mjs';

installMissing();
const env = {
  PROOFBOARD_KILLS: '3000',
  PROOFBOARD_REWORK: '20000',
  PROOFBOARD_MUTATIONS: '100000',
  PROOFBOARD_VERILOG: '2000',
  PROOFBOARD_VECTORS: '20',
  PROOFBOARD_COMPARE: '9000',
  PROOFBOARD_SERIAL: '65000',
  PROOFBOARD_REQUESTS: '100',
  PROOFBOARD_FUSES: '100',
};
process.exit(
  run(
    join(root, 'node_modules', '.bin', 'vitest'),
    [
      'run',
      '--testTimeout=3600000',
      'tests/anomaly/journal-crash',
      'tests/anomaly/machine-file',
      'tests/property/rework',
      'tests/outside/verilog-kernel',
      'tests/outside/bench-machine',
      'tests/outside/z80-requests',
      'tests/outside/fuses-verilog',
      ...process.argv.slice(2),
    ],
    { env },
  ),
);
