// The files of one project on the disk: which of them the tool reads, where a name lies, whole writes. The only place that
// turns a name from outside into a path; what would lead out of the folder, by dots or by a link, is refused.

import {
  closeSync,
  fsyncSync,
  lstatSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  realpathSync,
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { dirname, isAbsolute, join, relative, resolve, sep } from 'node:path';

/** Texts longer than this are neither read nor written, bytes. */
export const LARGEST_TEXT = 8 * 1024 * 1024;
/** Folders deeper than this hold nothing of a project. */
const DEEPEST = 5;
const TEXT = /\.(?:ya?ml|json|jsonl|hex|s19|srec|jed)$/i;

/** Writes a file so that a reader sees the old text or the new one, never a part; on the disk when it returns. */
export function writeWhole(full: string, data: string | Uint8Array): void {
  mkdirSync(dirname(full), { recursive: true });
  const beside = join(dirname(full), `.${Math.floor(process.hrtime()[1])}-${process.pid}.part`);
  try {
    writeFileSync(beside, data);
    const handle = openSync(beside, 'r+');
    fsyncSync(handle);
    closeSync(handle);
    renameSync(beside, full);
  } catch (error) {
    rmSync(beside, { force: true });
    throw error;
  }
}

function isWithin(folder: string, full: string): boolean {
  const back = relative(folder, full);
  return back !== '' && !back.startsWith('..') && !isAbsolute(back);
}

/**
 * The full path of `name` (slashes, relative) in a project folder, or undefined for one that leaves it, is hidden, or lies
 * behind a link that leads out. The file need not exist.
 */
export function pathInside(folder: string, name: string): string | undefined {
  // biome-ignore lint/suspicious/noControlCharactersInRegex: control characters are what is refused
  if (name === '' || name.length > 300 || /[\\:\u0000-\u001f]/.test(name)) return undefined;
  const pieces = name.split('/');
  if (pieces.length > DEEPEST + 1 || pieces.some((piece) => piece === '' || piece.startsWith('.'))) return undefined;
  const full = resolve(folder, ...pieces);
  if (!isWithin(folder, full)) return undefined;
  const home = realpathSync(folder);
  // The nearest ancestor that exists must really be inside.
  for (let at = full; ; at = dirname(at)) {
    try {
      lstatSync(at);
    } catch {
      if (at === folder) return undefined;
      continue;
    }
    let real: string;
    try {
      real = realpathSync(at);
    } catch {
      return undefined; // a link to nowhere
    }
    return real === home || isWithin(home, real) ? full : undefined;
  }
}

/** Whether a name is that of a text the tool reads. */
export function isText(name: string): boolean {
  return TEXT.test(name);
}

/** What a scan keeps of each file, to know it again without reading. */
export interface SeenFile {
  readonly full: string;
  readonly stamp: string;
}

/** The one text of a folder of captures: which channel shows which net. All else in it is large, and read when it is asked for. */
const CHANNELS = 'channels.json';

/** The texts of a project, by name with slashes; captures, photos, images and hidden files stay unread. */
export function listTexts(folder: string): Map<string, SeenFile> {
  const found = new Map<string, SeenFile>();
  const walk = (prefix: string, depth: number): void => {
    if (depth > DEEPEST) return;
    let entries: ReturnType<typeof readNames>;
    try {
      entries = readNames(prefix === '' ? folder : join(folder, ...prefix.split('/')));
    } catch {
      return; // gone between the listing and now; the next scan sees it so
    }
    for (const entry of entries) {
      if (entry.name.startsWith('.') || entry.name === 'node_modules') continue;
      if (prefix.endsWith('/captures') && entry.name !== CHANNELS) continue;
      const name = prefix === '' ? entry.name : `${prefix}/${entry.name}`;
      if (entry.isDirectory()) walk(name, depth + 1);
      else if (isText(entry.name)) {
        const full = entry.isSymbolicLink() ? pathInside(folder, name) : join(folder, ...name.split('/'));
        if (full === undefined) continue;
        try {
          const stat = statSync(full);
          if (stat.isFile() && stat.size <= LARGEST_TEXT)
            found.set(name, { full, stamp: `${stat.ino} ${stat.size} ${stat.mtimeMs} ${stat.ctimeMs}` });
        } catch {
          // gone between the listing and now
        }
      }
    }
  };
  walk('', 0);
  return found;
}

const readNames = (path: string) => readdirSync(path, { withFileTypes: true });

/** The texts of a project, read. */
export function readTexts(folder: string): Map<string, string> {
  return new Map([...listTexts(folder)].map(([name, { full }]) => [name, readFileSync(full, 'utf8')]));
}

/** A path of the host as a name with slashes. */
export function asName(path: string): string {
  return sep === '/' ? path : path.replaceAll(sep, '/');
}
