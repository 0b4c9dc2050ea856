// The journal's file: whole lines appended in one write each, on the disk before they are acknowledged. What a line holds is
// the core's business (the caller passes the function that makes it); this only guards the file against half lines.

import { closeSync, fstatSync, fsyncSync, openSync, readSync, writeSync } from 'node:fs';

/**
 * Appends the text that `make` gives for the end of the file as it is (its last character, '' for an empty file), and returns
 * once it is on the disk. Several programs may append to one file at once: each line goes out in one write in append mode,
 * and a line that another program's half line is glued to is still found by the reader. Throws the host's own errors.
 */
export function appendJournal(path: string, make: (existingTail: string) => string): void {
  const file = openSync(path, 'a+');
  try {
    for (;;) {
      const bytes = Buffer.from(make(lastCharacter(file)), 'utf8');
      const written = writeSync(file, bytes, 0, bytes.length);
      if (written === bytes.length) break;
      // A short write (a full disk that was freed in between) leaves half a line, which the reader passes over: write anew.
    }
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

function lastCharacter(file: number): string {
  const { size } = fstatSync(file);
  if (size === 0) return '';
  const last = Buffer.alloc(1);
  readSync(file, last, 0, 1, size - 1);
  return last[0] === 10 ? '\n' : '.';
}
