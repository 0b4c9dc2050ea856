// A demo project read from its folder, with the shipped records, for benchmarks.

import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { Project } from '../../src/app/index.ts';
import { readShipped } from './library.ts';

/** The project in `projects/<name>`, every text file of it. */
export function readDemo(name: string): Project {
  const files = new Map<string, string>();
  const walk = (folder: string, prefix: string): void => {
    for (const entry of readdirSync(folder).sort()) {
      const path = join(folder, entry);
      const key = prefix === '' ? entry : `${prefix}/${entry}`;
      if (statSync(path).isDirectory()) walk(path, key);
      else if (/\.(?:ya?ml|json|jsonl|hex|s19|jed)$/i.test(entry)) files.set(key, readFileSync(path, 'utf8'));
    }
  };
  walk(join('projects', name), '');
  return new Project(readShipped(), files);
}
