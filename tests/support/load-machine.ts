// A machine of projects/ from its files to its design, for benchmarks and tests that look at whole machines.

import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { MAIN_FILE, readMachine } from '../../src/machine/index.ts';
import { type Design, elaborate } from '../../src/netlist/index.ts';
import { createLibrary, type Library } from '../../src/parts/index.ts';
import { loadFamilies, loadParts } from '../outside/load-parts.ts';

let library: Library | undefined;

/** The shipped records, read once for a test file. */
function shippedLibrary(): Library {
  const records = loadParts().flatMap((part) => (part.record === undefined ? [] : [part.record]));
  const families = existsSync(join('data', 'parts', 'families')) ? loadFamilies() : [];
  return createLibrary(
    records,
    families.flatMap((entry) => (entry.family === undefined ? [] : [entry.family])),
  );
}

/** The design of `projects/<name>`, with the shipped part records. Findings of reading are left to other tests. */
export function loadMachine(name: string): Design {
  const root = join('projects', name);
  const { value } = readMachine(MAIN_FILE, {
    read: (path) => (existsSync(join(root, path)) ? readFileSync(join(root, path), 'utf8') : undefined),
  });
  library ??= shippedLibrary();
  return elaborate(value, library).value;
}
