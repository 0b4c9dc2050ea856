// The shipped records and families, read from data/parts, for benchmarks.

import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Shipped } from '../../src/app/index.ts';
import { type FamilyRecord, type PartRecord, readFamily, readPart } from '../../src/parts/index.ts';

function yamlFiles(folder: string): string[] {
  return readdirSync(folder)
    .sort()
    .flatMap((name) => {
      const path = join(folder, name);
      if (statSync(path).isDirectory()) return yamlFiles(path);
      return name.endsWith('.yaml') ? [path] : [];
    });
}

/** Records and families as the tool ships them, without blocks. Reads the disk at every call. */
export function readShipped(): Shipped {
  const parts: PartRecord[] = [];
  const families: FamilyRecord[] = [];
  for (const path of yamlFiles(join('data', 'parts'))) {
    const text = readFileSync(path, 'utf8');
    if (path.includes('families')) {
      const { value } = readFamily(path, text);
      if (value !== undefined) families.push(value);
    } else {
      const { value } = readPart(path, text);
      if (value !== undefined) parts.push(value);
    }
  }
  return { parts, families, files: {} };
}
