// Undo and redo across places. A command is what it did to texts, whole before and after, or the records it put into the
// journal. Nothing is ever taken out of a journal: taking back appends a record that says so.

import { signal } from '@preact/signals';
import type { EntriesAsk } from '../protocol.ts';
import { append, engine, put, textOf } from './session.ts';
import { notice } from './store.ts';

export interface FileEdit {
  readonly path: string;
  readonly before: string | undefined;
  readonly after: string | undefined;
}
type Command =
  | { readonly kind: 'files'; readonly label: string; readonly edits: readonly FileEdit[] }
  | { readonly kind: 'journal'; readonly label: string; records: readonly string[] };

const done: Command[] = [];
const undone: Command[] = [];
/** What undo and redo would do, in words. */
export const undoLabel = signal('');
export const redoLabel = signal('');

function show(): void {
  undoLabel.value = done.at(-1)?.label ?? '';
  redoLabel.value = undone.at(-1)?.label ?? '';
}

function push(command: Command): void {
  done.push(command);
  if (done.length > 500) done.shift();
  undone.length = 0;
  show();
}

/** Writes texts as one command. */
export async function edit(
  label: string,
  edits: readonly { path: string; text: string | undefined }[],
): Promise<boolean> {
  const made = edits.map(({ path, text }) => ({ path, before: textOf(path), after: text }));
  for (const { path, after } of made) if (!(await put(path, after))) return false;
  push({ kind: 'files', label, edits: made });
  notice.value = '';
  return true;
}

/** Enters in the list what was written already, such as a stretch of typing. */
export function remember(label: string, path: string, before: string, after: string): void {
  const last = done.at(-1);
  if (
    last?.kind === 'files' &&
    last.label === label &&
    last.edits.length === 1 &&
    last.edits[0]!.path === path &&
    last.edits[0]!.after === before
  ) {
    done[done.length - 1] = { kind: 'files', label, edits: [{ path, before: last.edits[0]!.before, after }] };
    undone.length = 0;
    show();
    return;
  }
  push({ kind: 'files', label, edits: [{ path, before, after }] });
}

/** Puts an act into the journal as one command; false where it was refused. */
export async function act(label: string, ask: EntriesAsk): Promise<boolean> {
  const records = await enter(ask);
  if (records === undefined) return false;
  push({ kind: 'journal', label, records });
  return true;
}

async function enter(ask: EntriesAsk): Promise<readonly string[] | undefined> {
  const made = await engine.ask('entries', ask);
  notice.value = made.problems[0] ?? '';
  if (made.entries.length === 0) return undefined;
  try {
    return (await append(made.build, made.machine, made.entries)).slice(made.opening);
  } catch (error) {
    notice.value = error instanceof Error ? error.message : 'The journal could not be written.';
    return undefined;
  }
}

async function turn(command: Command, back: boolean): Promise<boolean> {
  if (command.kind === 'journal') {
    const records = await enter({ do: 'undo', records: [...command.records].reverse() });
    if (records === undefined) return false;
    // Taking back the taking back is how it is done again.
    command.records = records;
    return true;
  }
  for (const one of command.edits) {
    const now = textOf(one.path);
    if (now !== (back ? one.after : one.before)) {
      notice.value = `${one.path} has changed since; “${command.label}” can’t be ${back ? 'taken back' : 'done again'} as it was.`;
      return false;
    }
  }
  for (const one of command.edits) if (!(await put(one.path, back ? one.before : one.after))) return false;
  return true;
}

/** Presses come faster than files are written: each waits for the one before, and none is lost. */
let turning: Promise<void> = Promise.resolve();

async function turnLast(from: Command[], to: Command[], back: boolean): Promise<void> {
  const command = from.at(-1);
  if (command === undefined || !(await turn(command, back))) return;
  from.pop();
  to.push(command);
  notice.value = `${back ? 'Taken back' : 'Done again'}: ${command.label}`;
  show();
}

export function undo(): Promise<void> {
  turning = turning.then(() => turnLast(done, undone, true));
  return turning;
}

export function redo(): Promise<void> {
  turning = turning.then(() => turnLast(undone, done, false));
  return turning;
}
