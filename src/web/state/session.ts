// The project's texts as this window has them, in step with the server: whole writes that name what they replace, changes from
// elsewhere taken in as they come, everything asked for anew after the connection was lost.

import { signal } from '@preact/signals';
import { contentId } from '../../base/index.ts';
import { type EngineClient, startEngine } from './engine-client.ts';
import { connection, findings, model, notice, takeModel } from './store.ts';

interface Held {
  text: string | undefined;
  /** Hash of what the server has, null where it has none. */
  hash: string | null;
  /** Hashes of texts on their way to the server. */
  sent: Set<string>;
}

export interface TemplateInfo {
  readonly name: string;
  readonly title: string;
  readonly about: string;
}

const files = new Map<string, Held>();
const listeners = new Set<(path: string, text: string | undefined, from: 'here' | 'elsewhere') => void>();
export const templates = signal<readonly TemplateInfo[]>([]);
export const folderName = signal('');
export const mainFile = signal('machine.yaml');
/** Names of the project's texts. */
export const paths = signal<readonly string[]>([]);
/** Files that changed elsewhere while a change here was not yet saved: what they hold now. */
export const conflicts = signal<ReadonlyMap<string, string | undefined>>(new Map());
let shipped: unknown;

export const textHash = (text: string): string => `${contentId(text, 10)}${text.length.toString(36)}`;

export const engine = startEngine(
  (news) => {
    if (news.kind === 'findings') findings.value = news;
    else takeModel(news);
  },
  (message) => {
    notice.value = `Something went wrong in the engine: ${message}`;
  },
);

/**
 * A second engine for questions that take long (what to buy, the book, a move's rework), so that they never stand in the way
 * of drawing and typing. Started when first asked.
 */
let slow: EngineClient | undefined;
function slowEngine(): EngineClient {
  if (slow === undefined) {
    slow = startEngine(
      () => undefined,
      (message) => {
        notice.value = `Something went wrong in the engine: ${message}`;
      },
      true,
    );
    const { shipped: records, files: texts, main } = projectForWorker();
    slow.send({ kind: 'open', shipped: records, main, build: model.value.build, files: texts });
  }
  return slow;
}

/** Asks the second engine. */
export const askSlow: EngineClient['ask'] = (name, question) => slowEngine().ask(name, question);

export function textOf(path: string): string | undefined {
  return files.get(path)?.text;
}

/** Told of every change of a text, except to the one who makes it by `put` with the same listener. */
export function onText(
  listener: (path: string, text: string | undefined, from: 'here' | 'elsewhere') => void,
): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

function held(path: string): Held {
  let known = files.get(path);
  if (known === undefined) {
    known = { text: undefined, hash: null, sent: new Set() };
    files.set(path, known);
  }
  return known;
}

function setLocal(path: string, text: string | undefined, from: 'here' | 'elsewhere'): void {
  const file = held(path);
  if (file.text === text) return;
  const isNew = file.text === undefined || text === undefined;
  file.text = text;
  engine.send({ kind: 'text', path, text });
  slow?.send({ kind: 'text', path, text });
  if (isNew) listPaths();
  for (const listener of listeners) listener(path, text, from);
}

function listPaths(): void {
  paths.value = [...files]
    .filter(([, file]) => file.text !== undefined)
    .map(([path]) => path)
    .sort();
}

/** Puts a text into the engine at once; nothing is written yet. */
export function draft(path: string, text: string): void {
  setLocal(path, text, 'here');
}

const queues = new Map<string, Promise<boolean>>();

/** Writes a text to the disk. False where somebody else changed the file meanwhile, or the server can't be reached yet. */
export function put(path: string, text: string | undefined): Promise<boolean> {
  setLocal(path, text, 'here');
  const run = async (): Promise<boolean> => {
    const file = held(path);
    const hash = text === undefined ? '' : textHash(text);
    if (file.hash === (text === undefined ? null : hash)) return true;
    file.sent.add(hash);
    try {
      const response = await fetch('/api/file', {
        method: 'PUT',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({ path, text: text ?? null, expect: file.hash }),
      });
      const answer = (await response.json()) as { hash: string | null; text?: string | null; message?: string };
      if (response.ok) {
        file.hash = answer.hash;
        return true;
      }
      if (response.status === 409) {
        file.hash = answer.hash;
        conflicts.value = new Map(conflicts.value).set(path, answer.text ?? undefined);
      }
      notice.value = answer.message ?? `${path} could not be written.`;
      return false;
    } catch {
      unsaved.add(path);
      notice.value = 'The server can’t be reached; what you do is kept here and written when it is back.';
      return false;
    } finally {
      file.sent.delete(hash);
    }
  };
  const next = (queues.get(path) ?? Promise.resolve(true)).then(run, run);
  queues.set(path, next);
  return next;
}

const unsaved = new Set<string>();

/** Ends a conflict: takes what the disk has, or writes what is here over it. */
export function resolveConflict(path: string, keep: 'mine' | 'theirs'): void {
  const theirs = conflicts.value.get(path);
  const rest = new Map(conflicts.value);
  rest.delete(path);
  conflicts.value = rest;
  if (keep === 'theirs') setLocal(path, theirs, 'elsewhere');
  else void put(path, files.get(path)?.text);
}

function takeFromServer(path: string, text: string | undefined, hash: string | null): void {
  const file = held(path);
  const isEcho = hash !== null && file.sent.has(hash);
  const wasClean = file.text === undefined ? file.hash === null : textHash(file.text) === file.hash;
  file.hash = hash;
  if (isEcho || (file.text !== undefined && hash === textHash(file.text))) return;
  if (wasClean || file.text === undefined) setLocal(path, text, 'elsewhere');
  else conflicts.value = new Map(conflicts.value).set(path, text);
}

interface FilesAnswer {
  readonly name: string;
  readonly main: string;
  readonly build: string | null;
  readonly templates: readonly TemplateInfo[];
  readonly files: Readonly<Record<string, { text: string; hash: string }>>;
}

async function fetchFiles(): Promise<FilesAnswer> {
  const response = await fetch('/api/files');
  if (!response.ok) throw new Error(await response.text());
  return (await response.json()) as FilesAnswer;
}

/** Asks for everything and starts the engine with it. */
export async function openProject(): Promise<void> {
  const [answer, parts] = await Promise.all([fetchFiles(), fetch('/parts.json').then((response) => response.json())]);
  shipped = parts;
  folderName.value = answer.name;
  mainFile.value = answer.main;
  templates.value = answer.templates;
  for (const [path, { text, hash }] of Object.entries(answer.files)) files.set(path, { text, hash, sent: new Set() });
  listPaths();
  engine.send({
    kind: 'open',
    shipped: parts,
    main: answer.main,
    build: answer.build ?? undefined,
    files: Object.fromEntries(Object.entries(answer.files).map(([path, { text }]) => [path, text])),
  });
  connect();
}

async function resync(): Promise<void> {
  const answer = await fetchFiles();
  templates.value = answer.templates;
  for (const [path, { text, hash }] of Object.entries(answer.files)) takeFromServer(path, text, hash);
  for (const [path, file] of files)
    if (file.hash !== null && !Object.hasOwn(answer.files, path)) takeFromServer(path, undefined, null);
  for (const path of [...unsaved]) {
    unsaved.delete(path);
    void put(path, files.get(path)?.text);
  }
  for (const send of pending.splice(0)) send();
}

function connect(wait = 250): void {
  const socket = new WebSocket(`${location.protocol === 'https:' ? 'wss' : 'ws'}://${location.host}/api/live`);
  let opened = false;
  socket.onopen = () => {
    opened = true;
    // What changed between the first look and now is asked for too.
    void resync().then(
      () => {
        connection.value = 'live';
      },
      () => socket.close(),
    );
  };
  socket.onmessage = ({ data }: MessageEvent<string>) => {
    const message = JSON.parse(data) as { type: string; path: string; text: string | null; hash: string | null };
    if (message.type === 'file') takeFromServer(message.path, message.text ?? undefined, message.hash);
  };
  socket.onclose = () => {
    connection.value = 'lost';
    setTimeout(() => connect(opened ? 250 : Math.min(4000, wait * 1.6)), wait);
  };
}

const pending: (() => void)[] = [];

/** Appends entries to a build's journal; waits for the server where it is away. Answers the ids of the new records. */
export async function append(build: string, machine: string, entries: readonly object[]): Promise<readonly string[]> {
  try {
    const response = await fetch('/api/journal', {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ build, machine, entries }),
    });
    const answer = (await response.json()) as { ids?: readonly string[]; message?: string };
    if (!response.ok) throw new Refused(answer.message ?? 'The journal could not be written.');
    return answer.ids ?? [];
  } catch (error) {
    if (error instanceof Refused) throw error;
    notice.value = 'The server can’t be reached; the step is kept here and entered when it is back.';
    return new Promise((resolve, reject) => {
      pending.push(() => append(build, machine, entries).then(resolve, reject));
    });
  }
}
class Refused extends Error {}

export async function sendPhoto(build: string, photo: Blob): Promise<string> {
  const response = await fetch(`/api/photo?build=${encodeURIComponent(build)}`, {
    method: 'POST',
    headers: { 'content-type': photo.type },
    body: photo,
  });
  const answer = (await response.json()) as { file?: string; message?: string };
  if (answer.file === undefined) throw new Error(answer.message ?? 'The photo could not be kept.');
  return answer.file;
}

/** Shows another build of the machine; one that isn't there yet is begun with its first layout. */
export function chooseBuild(build: string): void {
  engine.send({ kind: 'build', build });
  slow?.send({ kind: 'build', build });
}

export interface SecondAnswer {
  /** True on the device that the program runs on. */
  readonly own: boolean;
  readonly link: { readonly urls: readonly string[]; readonly fingerprint: string } | null;
}

/** Lets a second device in or shuts it out; without a word, how it stands. */
export async function secondDevice(on?: boolean): Promise<SecondAnswer> {
  const response =
    on === undefined
      ? await fetch('/api/second')
      : await fetch('/api/second', {
          method: 'POST',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ on }),
        });
  const answer = (await response.json()) as SecondAnswer & { readonly message?: string };
  if (!response.ok) throw new Error(answer.message ?? 'The server could not do it.');
  return answer;
}

export async function begin(template: string): Promise<string | undefined> {
  const response = await fetch('/api/begin', {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ template }),
  });
  if (response.ok) return undefined;
  return ((await response.json()) as { message: string }).message;
}

/** What a worker of its own needs to lay the machine. */
export function projectForWorker(): { shipped: unknown; files: Record<string, string>; main: string } {
  const texts: Record<string, string> = {};
  for (const [path, file] of files) if (file.text !== undefined) texts[path] = file.text;
  return { shipped, files: texts, main: mainFile.value };
}
