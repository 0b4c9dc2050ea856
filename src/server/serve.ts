// Serves one project's workbench on the loopback address: the page, the project's texts and what changes in them, whole
// writes with the hash of what they replace, journal lines, photos. Everything that thinks runs in the page.

import { randomBytes } from 'node:crypto';
import { existsSync, mkdirSync, readdirSync, readFileSync, statSync } from 'node:fs';
import type { IncomingMessage } from 'node:http';
import { basename, dirname, join } from 'node:path';
import type { Duplex } from 'node:stream';
import fastify, { type FastifyReply } from 'fastify';
import { WebSocket, WebSocketServer } from 'ws';
import { appendText } from '../app/index.ts';
import { hashText } from '../base/index.ts';
import { createGuard, type Guard, keyOf } from './guard.ts';
import { appendJournal } from './journal-file.ts';
import { createSecondDoor } from './second.ts';
import { asName, isText, LARGEST_TEXT, pathInside, writeWhole } from './project-files.ts';
import { textHash, watchTexts } from './watch.ts';

export interface Served {
  /** The address to open, key included. */
  readonly url: string;
  close(): Promise<void>;
}

/** What an empty folder can be begun from. */
export interface Template {
  readonly name: string;
  readonly title: string;
  readonly about: string;
}

export interface ServeOptions {
  /** Where the program is installed: dist/web and dist/parts.json lie there. */
  readonly root: string;
  /** The project's folder. */
  readonly folder: string;
  /** The machine file's name in it. */
  readonly main: string;
  readonly port?: number;
  /** The build to open first. */
  readonly build?: string;
  readonly templates?: readonly Template[];
  /** Fills the folder from a template; a sentence says why where it can't. */
  /** The record of a build as a PDF file; undefined where there is no such build. */
  readonly pdf?: (build: string) => Promise<Uint8Array | undefined>;
  readonly begin?: (template: string) => string | undefined;
}

const TYPES: Readonly<Record<string, string>> = {
  html: 'text/html; charset=utf-8',
  js: 'text/javascript; charset=utf-8',
  css: 'text/css; charset=utf-8',
  json: 'application/json',
  woff2: 'font/woff2',
  svg: 'image/svg+xml',
  txt: 'text/plain; charset=utf-8',
};
const IMAGES: readonly (readonly [string, RegExp, string])[] = [
  ['image/jpeg', /^\xff\xd8\xff/, 'jpg'],
  ['image/png', /^\x89PNG\r\n/, 'png'],
  ['image/webp', /^RIFF....WEBP/s, 'webp'],
];
const LARGEST_PHOTO = 16 * 1024 * 1024;
/** A window that has this many bytes waiting is let go; it comes back and asks for everything anew. */
const LARGEST_WAIT = 12 * 1024 * 1024;
const BUILD_NAME = /^[\p{L}\p{N}][\p{L}\p{N} ._-]{0,63}$/u;
const ACTS = new Set([
  'open',
  'renamed',
  'done',
  'undo',
  'note',
  'photo',
  'program',
  'measure',
  'fault',
  'mend',
  'power',
]);

/** The page's own files, read once: nothing else of the disk is ever served by name. */
function loadPages(root: string): Map<string, { readonly body: Buffer; readonly type: string }> {
  const pages = new Map<string, { body: Buffer; type: string }>();
  const walk = (folder: string, prefix: string): void => {
    if (!existsSync(folder)) return;
    for (const name of readdirSync(folder)) {
      const path = join(folder, name);
      if (statSync(path).isDirectory()) walk(path, `${prefix}${name}/`);
      else
        pages.set(`/${prefix}${name}`, {
          body: readFileSync(path),
          type: TYPES[name.slice(name.lastIndexOf('.') + 1)] ?? 'application/octet-stream',
        });
    }
  };
  walk(join(root, 'dist', 'web'), '');
  const parts = join(root, 'dist', 'parts.json');
  if (existsSync(parts)) pages.set('/parts.json', { body: readFileSync(parts), type: TYPES.json! });
  return pages;
}

const policy = (nonce: string): string =>
  [
    "default-src 'none'",
    "script-src 'self'",
    "worker-src 'self'",
    `style-src 'self' 'nonce-${nonce}'`,
    // Drawings carry line widths as style attributes.
    "style-src-attr 'unsafe-inline'",
    "font-src 'self'",
    "img-src 'self' data: blob:",
    "connect-src 'self'",
    "base-uri 'none'",
    "form-action 'none'",
    "frame-ancestors 'none'",
  ].join('; ');

/**
 * The simulator's threads make their programs from the machine as text (numbers only) and have it compiled; so they may, and they
 * alone. They reach nothing beside what the page tells them.
 */
const machinePolicy = "default-src 'none'; script-src 'self' 'unsafe-eval'";
const isMachine = (url: string): boolean => /^\/assets\/(?:sim|bringup)-worker-[\w-]+\.js$/.test(url);

/** Starts the workbench of a project. Without a port it takes one that follows from the folder, or any that is free. */
export async function serveWorkbench(options: ServeOptions): Promise<Served> {
  const { folder } = options;
  const key = keyOf(folder);
  const pages = loadPages(options.root);
  const server = fastify({ logger: false, bodyLimit: 64 * 1024, forceCloseConnections: true });
  let guard: Guard | undefined;
  const overTls = (request: IncomingMessage): boolean => (request.socket as { encrypted?: boolean }).encrypted === true;
  const guardOf = (request: IncomingMessage): Guard | undefined =>
    overTls(request) ? second.guardOf(request.headers.host) : guard;
  const second = createSecondDoor(
    (request, response) => server.routing(request, response),
    (request, socket, head) => upgrade(request, socket, head),
  );
  let closing = false;

  const sockets = new WebSocketServer({ noServer: true, maxPayload: 1024, perMessageDeflate: false });
  const tell = (message: object): void => {
    const text = JSON.stringify(message);
    for (const socket of sockets.clients) {
      if (socket.readyState !== WebSocket.OPEN) continue;
      if (socket.bufferedAmount > LARGEST_WAIT) socket.terminate();
      else socket.send(text);
    }
  };
  const watched = watchTexts(folder, (path, now) =>
    tell({ type: 'file', path, hash: now?.hash ?? null, text: now?.text ?? null }),
  );

  server.addHook('onRequest', async (request, reply) => {
    const nonce = randomBytes(12).toString('base64');
    (reply as FastifyReply & { nonce?: string }).nonce = nonce;
    reply.headers({
      'content-security-policy': isMachine(request.url) ? machinePolicy : policy(nonce),
      'x-content-type-options': 'nosniff',
      'referrer-policy': 'no-referrer',
      'cross-origin-resource-policy': 'same-origin',
      'cross-origin-opener-policy': 'same-origin',
      'cross-origin-embedder-policy': 'require-corp',
      'cache-control': 'no-store',
    });
    const met = guardOf(request.raw);
    const refused = met === undefined ? 'This server answers only to its own address.' : met.refusal(request);
    if (refused !== undefined) return reply.code(403).type('text/plain; charset=utf-8').send(refused);
    const cookie = request.method === 'GET' ? met?.fromAddress(request.url) : undefined;
    // The key leaves the address bar as soon as it is kept.
    if (cookie !== undefined && new URL(request.url, 'http://x').pathname === '/')
      return reply.header('set-cookie', cookie).redirect('/', 302);
    return undefined;
  });

  const say = (reply: FastifyReply, code: number, message: string): FastifyReply => reply.code(code).send({ message });

  // Turned on and off from this machine only: a second device can't let in a third.
  server.get('/api/second', async (request) => ({
    own: !overTls(request.raw),
    link: overTls(request.raw) ? null : (second.link ?? null),
  }));
  server.post('/api/second', async (request, reply) => {
    const { on } = (request.body ?? {}) as { on?: unknown };
    if (overTls(request.raw)) return say(reply, 403, 'A second device is let in from the first only.');
    if (typeof on !== 'boolean') return say(reply, 400, 'on: true or false is wanted.');
    if (on) return { own: true, link: await second.open() };
    await second.close();
    return { own: true, link: null };
  });

  server.get('/api/files', async () => ({
    name: basename(folder),
    main: options.main,
    build: options.build ?? null,
    templates: watched.texts.has(options.main) ? [] : (options.templates ?? []),
    files: Object.fromEntries([...watched.texts].map(([path, { text, hash }]) => [path, { text, hash }])),
  }));

  server.put('/api/file', { bodyLimit: LARGEST_TEXT + 4096 }, async (request, reply) => {
    const { path, text, expect } = (request.body ?? {}) as { path?: unknown; text?: unknown; expect?: unknown };
    if (typeof path !== 'string' || (typeof text !== 'string' && text !== null))
      return say(reply, 400, 'A path and a text are wanted.');
    const full = isText(path) && !path.endsWith('.jsonl') ? pathInside(folder, path) : undefined;
    if (full === undefined)
      return say(reply, 403, `${path.slice(0, 80)} is no file of this project that may be written.`);
    if (typeof text === 'string' && Buffer.byteLength(text) > LARGEST_TEXT)
      return say(reply, 413, 'The text is too long.');
    watched.look();
    const now = watched.texts.get(path);
    if ((now?.hash ?? null) !== expect)
      return reply.code(409).send({
        message: `${path} has changed on the disk meanwhile.`,
        hash: now?.hash ?? null,
        text: now?.text ?? null,
      });
    if (text === null) {
      const { rmSync } = await import('node:fs');
      rmSync(full, { force: true });
    } else writeWhole(full, text);
    watched.look();
    return { hash: text === null ? null : textHash(text) };
  });

  server.post('/api/journal', { bodyLimit: 2 * 1024 * 1024 }, async (request, reply) => {
    const { build, machine, entries } = (request.body ?? {}) as Record<string, unknown>;
    if (typeof build !== 'string' || !BUILD_NAME.test(build) || typeof machine !== 'string' || !Array.isArray(entries))
      return say(reply, 400, 'A build, a machine and entries are wanted.');
    const full = pathInside(folder, `builds/${build}/journal.jsonl`);
    if (full === undefined) return say(reply, 403, 'That is no build of this project.');
    if (entries.length === 0 || entries.length > 2000) return say(reply, 400, 'One to 2000 entries are wanted.');
    if (
      !entries.every((entry) => typeof entry === 'object' && entry !== null && ACTS.has((entry as { act: string }).act))
    )
      return say(reply, 400, 'An entry has no act that a journal knows.');
    const time = new Date().toISOString();
    const ids: string[] = [];
    try {
      // All or none: what can't be a line is found before the first is written.
      for (const entry of entries) appendText('', { ...entry, time }, { machine, build });
      mkdirSync(dirname(full), { recursive: true });
      for (const entry of entries)
        appendJournal(full, (tail) => {
          const line = appendText(tail, { ...entry, time }, { machine, build });
          ids.push((JSON.parse(line) as { id: string }).id);
          return line;
        });
    } catch (error) {
      return say(reply, 400, error instanceof Error ? error.message : 'The journal could not be written.');
    }
    watched.look();
    return { time, ids };
  });

  server.addContentTypeParser(/^image\//, { parseAs: 'buffer', bodyLimit: LARGEST_PHOTO }, (_request, body, done) =>
    done(null, body),
  );
  server.post('/api/photo', { bodyLimit: LARGEST_PHOTO }, async (request, reply) => {
    const { build } = request.query as { build?: unknown };
    const body = request.body;
    if (typeof build !== 'string' || !BUILD_NAME.test(build) || !Buffer.isBuffer(body))
      return say(reply, 400, 'A build and a photo are wanted.');
    const head = body.subarray(0, 16).toString('latin1');
    const kind = IMAGES.find(([, magic]) => magic.test(head));
    if (kind === undefined) return say(reply, 415, 'Only JPEG, PNG and WebP photos are kept.');
    const name = `photos/${new Date().toISOString().replace(/[:.]/g, '-')}.${kind[2]}`;
    const full = pathInside(folder, `builds/${build}/${name}`);
    if (full === undefined) return say(reply, 403, 'That is no build of this project.');
    writeWhole(full, body);
    return { file: name };
  });
  server.get('/api/photo', async (request, reply) => {
    const { build, file } = request.query as { build?: unknown; file?: unknown };
    const full =
      typeof build === 'string' && typeof file === 'string' && /^photos\/[\w.-]+\.(?:jpg|png|webp)$/.test(file)
        ? pathInside(folder, `builds/${build}/${file}`)
        : undefined;
    if (full === undefined || !existsSync(full)) return say(reply, 404, 'There is no such photo.');
    const type = IMAGES.find(([, , end]) => full.endsWith(end))?.[0] ?? 'application/octet-stream';
    return reply.type(type).send(readFileSync(full));
  });

  server.get('/api/book.pdf', async (request, reply) => {
    const { build } = request.query as { build?: unknown };
    const made =
      typeof build === 'string' && BUILD_NAME.test(build) && options.pdf !== undefined
        ? await options.pdf(build)
        : undefined;
    if (made === undefined) return say(reply, 404, 'There is no such build.');
    return reply.type('application/pdf').header('content-disposition', 'attachment').send(made);
  });

  server.post('/api/begin', async (request, reply) => {
    const { template } = (request.body ?? {}) as { template?: unknown };
    if (typeof template !== 'string' || options.begin === undefined) return say(reply, 400, 'A template is wanted.');
    if (watched.texts.has(options.main)) return say(reply, 409, 'There is a machine here already.');
    const refused = options.begin(template);
    if (refused !== undefined) return say(reply, 400, refused);
    watched.look();
    return { begun: template };
  });

  server.setNotFoundHandler((request, reply) => {
    const path = new URL(request.url, 'http://x').pathname;
    const page = pages.get(path === '/' ? '/index.html' : path);
    if (request.method !== 'GET' || page === undefined) return say(reply, 404, 'There is nothing here.');
    if (!page.type.startsWith('text/html')) return reply.type(page.type).send(page.body);
    const nonce = (reply as FastifyReply & { nonce?: string }).nonce ?? '';
    return reply.type(page.type).send(page.body.toString('utf8').replaceAll('%NONCE%', nonce));
  });
  server.setErrorHandler((error: Error & { statusCode?: number }, _request, reply) => {
    const code = error.statusCode ?? 500;
    return say(reply, code, code < 500 ? error.message : `The server could not do it: ${error.message}`);
  });

  const upgrade = (request: IncomingMessage, socket: Duplex, head: Buffer): void => {
    socket.on('error', () => socket.destroy());
    const path = new URL(request.url ?? '/', 'http://x').pathname;
    const met = guardOf(request);
    const refused =
      met?.refusal({ method: 'GET', url: request.url ?? '/', headers: request.headers }) ??
      (path === '/api/live' && !closing ? undefined : 'nothing here');
    if (met === undefined || refused !== undefined) {
      socket.end('HTTP/1.1 403 Forbidden\r\nConnection: close\r\n\r\n');
      return;
    }
    sockets.handleUpgrade(request, socket, head, (live) => {
      live.on('error', () => live.terminate());
      live.send(JSON.stringify({ type: 'hello' }));
    });
  };
  server.server.on('upgrade', upgrade);
  const beat = setInterval(() => {
    for (const socket of sockets.clients) socket.ping();
  }, 20_000);
  beat.unref();

  const wanted = options.port ?? 4100 + (hashText(asName(folder)) % 4000);
  let address: string;
  try {
    address = await server.listen({ host: '127.0.0.1', port: wanted });
  } catch (error) {
    if (options.port !== undefined) {
      watched.close();
      throw error;
    }
    address = await server.listen({ host: '127.0.0.1', port: 0 });
  }
  const host = new URL(address).host;
  guard = createGuard(host, key);
  return {
    url: `http://${host}/?token=${key}`,
    close: async () => {
      closing = true;
      clearInterval(beat);
      watched.close();
      for (const socket of sockets.clients) socket.terminate();
      await second.close();
      await server.close();
    },
  };
}
