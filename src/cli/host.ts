// The command line's side of the machine it runs on: project folders read into memory, the shipped library loaded.

import { closeSync, existsSync, mkdirSync, openSync, readFileSync, readSync, statSync } from 'node:fs';
import { basename, dirname, join, resolve } from 'node:path';
import { type CaptureFile, type CaptureOptions, CaptureReader, Project, type Shipped } from '../app/index.ts';
import { LARGEST_TEXT, readTexts } from '../server/index.ts';

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
  return { project: new Project(shipped, readTexts(folder), main), folder };
}

/** The folder and machine file that `path` means for `open`, which makes a folder that isn't there; a sentence where it can't. */
export function projectPlace(path: string): { readonly folder: string; readonly main: string } | string {
  const full = resolve(path);
  if (!existsSync(full)) {
    if (/\.ya?ml$/i.test(path)) return `There is no ${path}.`;
    mkdirSync(full, { recursive: true });
  }
  if (statSync(full).isDirectory()) return { folder: full, main: 'machine.yaml' };
  return { folder: dirname(full), main: full.slice(dirname(full).length + 1) };
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

/** Reads a capture in pieces, so that its size is no matter; or says why it can't be opened. */
export function readCaptureFile(path: string, options: CaptureOptions): CaptureFile | { readonly problem: string } {
  const full = resolve(path);
  if (!existsSync(full)) return { problem: `There is no ${path}.` };
  if (!statSync(full).isFile()) return { problem: `${path} is no file.` };
  const name = basename(full);
  const reader = new CaptureReader(name, options);
  const piece = new Uint8Array(1 << 20);
  const file = openSync(full, 'r');
  try {
    for (;;) {
      const length = readSync(file, piece, 0, piece.length, null);
      if (length === 0) break;
      reader.push(piece.subarray(0, length));
    }
  } finally {
    closeSync(file);
  }
  const { value, findings } = reader.end();
  return { name, capture: value, findings };
}
