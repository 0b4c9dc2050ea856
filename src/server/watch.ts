// Keeps the texts of a project folder as they are on the disk and tells of every change, whoever made it. The host's own
// notices make it quick; a slow look at all files makes it sure where notices are lost.

import { type FSWatcher, readFileSync, watch } from 'node:fs';
import { contentId } from '../base/index.ts';
import { listTexts } from './project-files.ts';

export interface WatchedText {
  readonly text: string;
  readonly hash: string;
}

export interface Watched {
  readonly texts: ReadonlyMap<string, WatchedText>;
  /** Looks now and tells of what has changed before it returns. */
  look(): void;
  close(): void;
}

/** The id of a text's content, as both sides of the wire make it. */
export function textHash(text: string): string {
  return `${contentId(text, 10)}${text.length.toString(36)}`;
}

/** Watches `folder`; `changed` is told the name and the new text, or undefined for a file that is gone. */
export function watchTexts(
  folder: string,
  changed: (name: string, text: WatchedText | undefined) => void,
  pollMs = 1500,
): Watched {
  const texts = new Map<string, WatchedText>();
  const stamps = new Map<string, string>();
  const look = (): void => {
    const found = listTexts(folder);
    for (const [name, { full, stamp }] of found) {
      if (stamps.get(name) === stamp) continue;
      let text: string;
      try {
        text = readFileSync(full, 'utf8');
      } catch {
        continue; // gone again; its stamp stays unknown, so the next look tries anew
      }
      stamps.set(name, stamp);
      const hash = textHash(text);
      if (texts.get(name)?.hash === hash) continue;
      texts.set(name, { text, hash });
      changed(name, texts.get(name));
    }
    for (const name of [...texts.keys()]) {
      if (found.has(name)) continue;
      texts.delete(name);
      stamps.delete(name);
      changed(name, undefined);
    }
  };
  let soon: NodeJS.Timeout | undefined;
  const notice = (): void => {
    soon ??= setTimeout(() => {
      soon = undefined;
      look();
    }, 25);
  };
  let watcher: FSWatcher | undefined;
  try {
    watcher = watch(folder, { recursive: true }, notice);
    watcher.on('error', () => watcher?.close()); // the slow look goes on
  } catch {
    // No notices on this kind of disk: the slow look does it alone.
  }
  const poll = setInterval(look, pollMs);
  poll.unref();
  look();
  return {
    texts,
    look,
    close: () => {
      clearInterval(poll);
      clearTimeout(soon);
      watcher?.close();
    },
  };
}
