// Writes what verbs want written: whole files by way of a neighbour that is then renamed, so that none is ever half there;
// journal lines appended and forced to the disk.

import { existsSync, mkdirSync, readFileSync, statSync } from 'node:fs';
import { dirname, isAbsolute, join, relative, resolve } from 'node:path';
import { contentId } from '../base/index.ts';
import { appendText, type Effect, type Project } from '../app/index.ts';
import { appendJournal, writeWhole } from '../server/index.ts';

/** Where `path` of a project lies on the disk; throws for one that would leave the folder, which no verb asks for. */
function inside(folder: string, path: string): string {
  const full = resolve(folder, path);
  const back = relative(folder, full);
  if (back.startsWith('..') || isAbsolute(back)) throw new Error(`${path} lies outside the project.`);
  return full;
}

/** Carries out a verb's effects and puts the new texts into the project. `outside` names where files go that are not the project's. */
export function carryOut(
  project: Project,
  folder: string,
  effects: readonly Effect[],
  outside?: { readonly from: string; readonly to: string },
): void {
  for (const effect of effects) {
    if (effect.kind === 'write') {
      if (outside !== undefined && effect.path.startsWith(`${outside.from}/`)) {
        writeWhole(join(outside.to, effect.path.slice(outside.from.length + 1)), effect.text);
        continue;
      }
      writeWhole(inside(folder, effect.path), effect.text);
      project.setText(effect.path, effect.text);
      continue;
    }
    const full = inside(folder, effect.path);
    mkdirSync(dirname(full), { recursive: true });
    let added = '';
    for (const entry of effect.entries) {
      let line = '';
      appendJournal(full, (tail) => {
        line = appendText(tail, entry, effect.owner);
        return line;
      });
      added += line;
    }
    project.setText(effect.path, (project.text(effect.path) ?? '') + added);
  }
}

/** The largest photo that is kept. */
const LARGEST_PHOTO = 32 * 1024 * 1024;

/** Copies a photo into the build's photos/, named by its content; its path there, or why it can't be kept. */
export function keepPhoto(
  file: string,
  folder: string,
  build: string,
): { readonly path: string } | { readonly problem: string } {
  const full = resolve(file);
  if (!existsSync(full) || !statSync(full).isFile()) return { problem: `There is no file ${file}.` };
  if (statSync(full).size > LARGEST_PHOTO) return { problem: `${file} is larger than 32 MiB.` };
  const kind = /\.(jpe?g|png|webp)$/i.exec(file)?.[1]?.toLowerCase();
  if (kind === undefined) return { problem: 'Only JPEG, PNG and WebP photos are kept.' };
  const bytes = readFileSync(full);
  const path = `photos/${contentId(bytes.toString('latin1'), 10)}.${kind}`;
  writeWhole(inside(folder, `${build}/${path}`), bytes);
  return { path };
}
