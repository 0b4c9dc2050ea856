// A demo project from its folder, for benchmarks.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Project } from '../../src/app/index.ts';
import { readShipped } from './library.ts';

/** The project in `projects/<name>`, every text file of it. */
export function readDemo(name: string): Project {
  const root = join('projects', name);
  const files = readdirSync(root, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.(?:ya?ml|json|jsonl|hex|jed)$/i.test(entry.name))
    .map((entry) => join(entry.parentPath, entry.name))
    .sort();
  return new Project(
    readShipped(),
    new Map(files.map((path) => [path.slice(root.length + 1).replaceAll('\\', '/'), readFileSync(path, 'utf8')])),
  );
}
