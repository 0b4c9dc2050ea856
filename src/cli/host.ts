// The command line's side of the machine it runs on: project folders read into memory, the shipped library loaded.

import { existsSync, readdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { Project, type Shipped } from '../app/index.ts';

/** Texts longer than this are not read into a project. */
const LARGEST_TEXT = 8 * 1024 * 1024;

/** Loads the records and blocks that come with the tool. */
export function loadShipped(root: string): Shipped {
  return JSON.parse(readFileSync(join(root, 'dist', 'parts.json'), 'utf8')) as Shipped;
}

export interface OpenedProject {
  readonly project: Project;
  readonly folder: string;
}

/** Opens the project at `path`, a folder or a machine file; a sentence says why where it can't be. */
export function openProject(path: string, shipped: Shipped): OpenedProject | string {
  const full = resolve(path);
  if (!existsSync(full)) return `There is no ${path}.`;
  const isFolder = statSync(full).isDirectory();
  const folder = isFolder ? full : dirname(full);
  const main = isFolder ? 'machine.yaml' : full.slice(folder.length + 1);
  if (!existsSync(join(folder, main))) return `${path} holds no machine.yaml, so it is no project.`;
  const files = new Map<string, string>();
  readTexts(folder, '', files, 0);
  return { project: new Project(shipped, files, main), folder };
}

/** The texts of a project that its engines read; captures, photos and images stay on the disk. */
function readTexts(folder: string, prefix: string, files: Map<string, string>, depth: number): void {
  if (depth > 4) return;
  for (const entry of readdirSync(join(folder, prefix), { withFileTypes: true })) {
    const name = prefix === '' ? entry.name : `${prefix}/${entry.name}`;
    if (entry.name.startsWith('.') || entry.name === 'node_modules' || entry.name === 'captures') continue;
    if (entry.isDirectory()) readTexts(folder, name, files, depth + 1);
    else if (
      /\.(?:ya?ml|json|jsonl|hex|s19|srec|jed)$/i.test(entry.name) &&
      statSync(join(folder, name)).size <= LARGEST_TEXT
    ) {
      files.set(name, readFileSync(join(folder, name), 'utf8'));
    }
  }
}

/** The bytes of a file named on the command line, or why it can't be read. */
export function readBytes(path: string): Uint8Array | { readonly problem: string } {
  const full = resolve(path);
  if (!existsSync(full)) return { problem: `There is no ${path}.` };
  const stat = statSync(full);
  if (!stat.isFile()) return { problem: `${path} is no file.` };
  if (stat.size > LARGEST_TEXT) return { problem: `${path} has ${stat.size} bytes; at most ${LARGEST_TEXT} are read.` };
  return readFileSync(full);
}
