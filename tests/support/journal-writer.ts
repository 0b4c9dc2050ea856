// A program that does nothing but append records to a journal, for the test that kills it: FILE WRITER. After each record is
// on the disk it prints the record's id, which acknowledges it.

import { writeSync } from 'node:fs';
import { appendJournal } from '../../src/server/journal-file.ts';
import { appendText, type JournalEntry, recordId } from '../../src/stage/index.ts';

const [file, writer] = process.argv.slice(2) as [string, string];

/** Prints; a pipe that is full for a moment is tried again. */
function acknowledge(text: string): void {
  for (;;) {
    try {
      writeSync(1, text);
      return;
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
    }
  }
}

const owner = { machine: 'Railway signal box', build: 'first' };
for (let n = 0; ; n++) {
  const entry: JournalEntry = {
    act: n === 0 ? 'open' : 'done',
    time: new Date().toISOString(),
    writer: `${writer}-${n}`,
    ...(n === 0 ? owner : {}),
    text: 'signal lever '.repeat(n % 40),
  };
  appendJournal(file, (tail) => appendText(tail, entry, owner));
  acknowledge(`${recordId(entry, owner)}\n`);
}
