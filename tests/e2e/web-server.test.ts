// The server against requests that mean no good, against writes that cross, and against its own sudden end. No browser: these
// are the requests that a page of another site, another program or a mistake would make.

import { execFileSync, spawn, type ChildProcess } from 'node:child_process';
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { request } from 'node:http';
import { request as secureRequest } from 'node:https';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { textHash } from '../../src/server/index.ts';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
let home: string;
let folder: string;
let child: ChildProcess;
let url: URL;
let cookie = '';

async function start(): Promise<void> {
  child = spawn(process.execPath, [bin, 'open', folder, '--json'], {
    stdio: ['ignore', 'pipe', 'inherit'],
    env: { ...process.env, XDG_STATE_HOME: join(home, 'state') },
  });
  url = await new Promise<URL>((resolve, reject) => {
    let text = '';
    child.stdout!.on('data', (part: Buffer) => {
      text += part.toString();
      try {
        resolve(new URL((JSON.parse(text) as { value: { url: string } }).value.url));
      } catch {
        // Not whole yet.
      }
    });
    child.on('exit', () => reject(new Error('the server ended')));
  });
  const first = await fetch(url, { redirect: 'manual' });
  cookie = first.headers.get('set-cookie')!.split(';')[0]!;
}

beforeAll(async () => {
  execFileSync(process.execPath, [bin, 'parts', 'Z80', '--json']); // builds what is missing, once
  home = mkdtempSync(join(tmpdir(), 'proofboard-server-'));
  folder = join(home, 'demo');
  cpSync('projects/tide-clerk', folder, { recursive: true, filter: (path) => !path.includes('builds') });
  writeFileSync(join(home, 'secret.yaml'), 'machine: not yours\n');
  symlinkSync(join(home, 'secret.yaml'), join(folder, 'out.yaml'));
  mkdirSync(join(home, 'elsewhere'));
  symlinkSync(join(home, 'elsewhere'), join(folder, 'parts'));
  await start();
}, 240_000);
afterAll(() => {
  child.kill();
  rmSync(home, { recursive: true, force: true });
});

interface Asked {
  readonly method?: string;
  readonly path?: string;
  readonly headers?: Record<string, string>;
  readonly body?: string | Buffer;
}
/** A request as any program could make it, headers and path untouched by what a browser would allow. */
function ask(options: Asked): Promise<{ status: number; body: string; headers: Record<string, unknown> }> {
  return new Promise((resolve, reject) => {
    const sent = request(
      {
        host: url.hostname,
        port: url.port,
        method: options.method ?? 'GET',
        path: options.path ?? '/',
        headers: { host: url.host, cookie, ...options.headers },
      },
      (response) => {
        let body = '';
        response.on('data', (part: Buffer) => (body += part.toString()));
        response.on('end', () => resolve({ status: response.statusCode!, body, headers: response.headers }));
      },
    );
    sent.on('error', reject);
    sent.end(options.body);
  });
}
const own = (): Record<string, string> => ({ origin: `http://${url.host}`, 'content-type': 'application/json' });
const put = (path: string, text: string | null, expected: string | null) =>
  ask({ method: 'PUT', path: '/api/file', headers: own(), body: JSON.stringify({ path, text, expect: expected }) });

test('only its own name, its own origin, and who has the key', async () => {
  expect((await ask({})).status).toBe(200);
  expect((await ask({ headers: { host: `tides.example:${url.port}` } })).status).toBe(403);
  expect((await ask({ headers: { host: `127.0.0.1.tides.example:${url.port}` } })).status).toBe(403);
  expect((await ask({ headers: { cookie: '' } })).status).toBe(403);
  expect((await ask({ headers: { cookie: cookie.slice(0, -1) } })).status).toBe(403);
  expect((await ask({ path: '/parts.json', headers: { cookie: '' } })).status).toBe(403);
  const files = { method: 'PUT', path: '/api/file', body: '{"path":"machine.yaml","text":"x","expect":null}' };
  for (const origin of ['http://tides.example', 'null', `http://${url.hostname}:1`, `https://${url.host}`])
    expect((await ask({ ...files, headers: { ...own(), origin } })).status, origin).toBe(403);
  const { origin: _none, ...bare } = own();
  expect((await ask({ ...files, headers: bare })).status).toBe(403);
  expect(
    (await ask({ path: '/api/files', headers: { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'cors' } })).status,
  ).toBe(403);
});

test('the page is kept to itself by its headers, and the key leaves the address', async () => {
  const first = await fetch(url, { redirect: 'manual' });
  expect([first.status, first.headers.get('location')]).toEqual([302, '/']);
  expect(first.headers.get('set-cookie')).toMatch(/HttpOnly; SameSite=Strict/);
  const { headers, body } = await ask({});
  const policy = String(headers['content-security-policy']);
  expect(policy).toContain("default-src 'none'");
  expect(policy).toMatch(/script-src 'self'(;|$)/);
  expect(policy).not.toMatch(/https?:|\*|unsafe-eval/);
  // The simulator's threads alone may compile what they make, and reach nothing else.
  const names = readdirSync(join(process.cwd(), 'dist', 'web', 'assets')).filter((name) => /worker.*\.js$/.test(name));
  expect(names.length).toBeGreaterThan(2);
  for (const name of names) {
    const of = String((await ask({ path: `/assets/${name}` })).headers['content-security-policy']);
    if (/^(?:sim|bringup)-worker-/.test(name)) expect(of).toBe("default-src 'none'; script-src 'self' 'unsafe-eval'");
    else expect(of).not.toContain('unsafe-eval');
  }
  expect(body).not.toContain('%NONCE%');
  expect(body).not.toMatch(/(?:src|href)="https?:/);
});

test('no name leads out of the folder, neither to read nor to write', async () => {
  for (const path of [
    '/../secret.yaml',
    '/..%2f..%2fsecret.yaml',
    '/%2e%2e/secret.yaml',
    '/assets/../../../package.json',
    '/machine.yaml',
    '//etc/passwd',
    '/api/photo?build=first&file=photos/../../../secret.yaml',
    '/api/photo?build=..&file=photos/a.jpg',
  ])
    expect((await ask({ path })).status, path).toBe(404);
  const listed = JSON.parse((await ask({ path: '/api/files' })).body) as { files: Record<string, { text: string }> };
  expect(Object.keys(listed.files)).toContain('machine.yaml');
  expect(JSON.stringify(listed)).not.toContain('not yours');
  for (const path of [
    '../secret.yaml',
    'builds/../../secret.yaml',
    '/etc/tide.yaml',
    'C:\\tide.yaml',
    '.hidden.yaml',
    '.git/x.yaml',
    'out.yaml',
    'parts/own.yaml',
    'run.sh',
    'builds/first/journal.jsonl',
    'a\u0000.yaml',
    '',
  ])
    expect((await put(path, 'x: 1\n', null)).status, path).toBe(403);
  expect(readFileSync(join(home, 'secret.yaml'), 'utf8')).toBe('machine: not yours\n');
  expect(readdirSync(join(home, 'elsewhere'))).toEqual([]);
  const journal = (build: string) =>
    ask({
      method: 'POST',
      path: '/api/journal',
      headers: own(),
      body: JSON.stringify({ build, machine: 'Tide clerk', entries: [{ act: 'note', text: 'x' }] }),
    });
  for (const build of ['..', '../..', 'a/b', '', '.x']) expect((await journal(build)).status, build).toBe(400);
});

test('giant and misshapen bodies are refused and the server goes on', async () => {
  const giant = Buffer.alloc(9 * 1024 * 1024, 'x');
  const refused = await ask({ method: 'PUT', path: '/api/file', headers: own(), body: giant }).catch(() => ({
    status: 413,
  }));
  expect(refused.status).toBe(413);
  const photo = await ask({
    method: 'POST',
    path: '/api/photo?build=first',
    headers: { origin: `http://${url.host}`, 'content-type': 'image/png' },
    body: 'not a picture',
  });
  expect(photo.status).toBe(415);
  for (const body of ['', '{', '[]', 'null', '{"path":3,"text":[]}', '{"path":"a.yaml"}'])
    expect((await ask({ method: 'PUT', path: '/api/file', headers: own(), body })).status, body).toBe(400);
  for (const entries of [[], [3], [null], [{ act: 'drop' }], 'x', [{ act: 'note', text: 'x'.repeat(1_200_000) }]])
    expect(
      (
        await ask({
          method: 'POST',
          path: '/api/journal',
          headers: own(),
          body: JSON.stringify({ build: 'first', machine: 'Tide clerk', entries }),
        })
      ).status,
    ).toBe(400);
  expect((await ask({})).status).toBe(200);
});

test('a write that meets another text is refused with that text', async () => {
  const path = join(folder, 'machine.yaml');
  const text = readFileSync(path, 'utf8');
  expect((await put('machine.yaml', `${text}# one\n`, textHash(text))).status).toBe(200);
  const late = await put('machine.yaml', `${text}# two\n`, textHash(text));
  expect(late.status).toBe(409);
  expect((JSON.parse(late.body) as { text: string }).text).toBe(`${text}# one\n`);
  // Of many at once exactly one goes through, and the file is whole.
  const base = textHash(`${text}# one\n`);
  const all = await Promise.all(
    Array.from({ length: 12 }, (_, i) => put('machine.yaml', `${text}# writer ${i}\n`, base)),
  );
  expect(all.filter(({ status }) => status === 200).length).toBe(1);
  expect(readFileSync(path, 'utf8')).toMatch(/# writer \d+\n$/);
  expect((await put('machine.yaml', text, textHash(readFileSync(path, 'utf8')))).status).toBe(200);
});

test('sockets are guarded like requests, and tell of a change made by another program', async () => {
  const open = (headers: Record<string, string>): Promise<string> =>
    new Promise((resolve) => {
      const socket = new WebSocket(`ws://${url.host}/api/live`, { headers });
      socket.on('message', (data) => {
        const message = JSON.parse(String(data)) as { type: string; path?: string };
        if (message.type === 'hello') writeFileSync(join(folder, 'note.yaml'), 'a: 1\n');
        else {
          socket.close();
          resolve(message.path ?? '');
        }
      });
      socket.on('error', (error) => resolve(error.message));
    });
  expect(await open({ cookie, origin: `http://${url.host}` })).toBe('note.yaml');
  expect(await open({ cookie, origin: 'http://tides.example' })).toContain('403');
  expect(await open({ cookie })).toContain('403');
  expect(await open({ origin: `http://${url.host}` })).toContain('403');
});

test('killed in the middle of writes, every file is one text or the other, and the key still opens', async () => {
  const path = join(folder, 'machine.yaml');
  const text = readFileSync(path, 'utf8');
  const long = (i: number): string => `${text}# ${String(i).repeat(400_000)}\n`;
  for (let round = 0; round < 4; round++) {
    let hash = textHash(readFileSync(path, 'utf8'));
    let writing = true;
    const writes = (async () => {
      for (let i = 0; writing; i++) {
        const next = long(i % 10);
        try {
          const answer = await put('machine.yaml', next, hash);
          if (answer.status === 200) hash = textHash(next);
        } catch {
          return;
        }
      }
    })();
    await new Promise((resolve) => setTimeout(resolve, 60 + round * 37));
    child.kill('SIGKILL');
    writing = false;
    await writes;
    const found = readFileSync(path, 'utf8');
    expect(found === text || /^# (\d)\1*\n$/.test(found.slice(text.length))).toBe(true);
    expect(found === text || found.length === text.length + 400_003).toBe(true);
    const before = cookie;
    await start();
    expect(cookie.split('=')[1]).toBe(before.split('=')[1]);
    expect((await ask({ path: '/api/files' })).body).not.toContain('.part');
  }
  expect(existsSync(join(folder, 'builds', 'first', 'journal.jsonl'))).toBe(false);
});

/** A request as a second device makes it, over TLS; the certificate is of this desk's own making. */
function askSecond(
  to: URL,
  options: Asked = {},
): Promise<{ status: number; body: string; headers: Record<string, unknown>; fingerprint: string }> {
  return new Promise((resolve, reject) => {
    const sent = secureRequest(
      {
        host: to.hostname,
        port: to.port,
        method: options.method ?? 'GET',
        path: options.path ?? `${to.pathname}${to.search}`,
        headers: options.headers ?? {},
        rejectUnauthorized: false,
      },
      (response) => {
        const certificate = (response.socket as import('node:tls').TLSSocket).getPeerCertificate();
        let body = '';
        response.on('data', (part: Buffer) => {
          body += part.toString();
        });
        response.on('end', () =>
          resolve({
            status: response.statusCode!,
            body,
            headers: response.headers,
            fingerprint: certificate.fingerprint256,
          }),
        );
      },
    );
    sent.on('error', reject);
    sent.end(options.body);
  });
}

test('a second device comes in over TLS by its own link while it is turned on, and lets nobody else in', async () => {
  const own = { cookie, origin: url.origin, 'content-type': 'application/json' };
  expect(JSON.parse((await ask({ path: '/api/second', headers: { cookie } })).body)).toEqual({ own: true, link: null });
  const on = await ask({ method: 'POST', path: '/api/second', headers: own, body: '{"on":true}' });
  expect(on.status).toBe(200);
  const { link } = JSON.parse(on.body) as { link: { urls: string[]; fingerprint: string } };
  const second = new URL(link.urls[0]!);
  expect(second.protocol).toBe('https:');
  expect(second.searchParams.get('token')).not.toBe(url.searchParams.get('token'));

  const first = await askSecond(second);
  expect(first.status).toBe(302);
  expect(first.fingerprint).toBe(link.fingerprint);
  const kept = String((first.headers['set-cookie'] as string[])[0]);
  expect(kept).toMatch(/Secure/);
  const key = kept.split(';')[0]!;
  const texts = await askSecond(second, { path: '/api/files', headers: { cookie: key } });
  expect(texts.status).toBe(200);
  expect(texts.body).toContain('Tide clerk');

  // Its key is good for its own door only, and the first's key not for it.
  expect((await ask({ path: '/api/files', headers: { cookie: key } })).status).toBe(403);
  expect((await askSecond(second, { path: '/api/files', headers: { cookie } })).status).toBe(403);
  expect((await askSecond(second, { path: '/api/files' })).status).toBe(403);
  const foreign = { cookie: key, 'content-type': 'application/json' };
  const put = { method: 'PUT', path: '/api/file', body: '{}' };
  expect(
    (await askSecond(second, { ...put, headers: { ...foreign, origin: 'https://elsewhere.example' } })).status,
  ).toBe(403);
  expect((await askSecond(second, { ...put, headers: { ...foreign, origin: second.origin } })).status).toBe(400);
  const third = {
    method: 'POST',
    path: '/api/second',
    headers: { ...foreign, origin: second.origin },
    body: '{"on":true}',
  };
  expect((await askSecond(second, third)).status).toBe(403);

  const live = new WebSocket(`wss://${second.host}/api/live`, {
    rejectUnauthorized: false,
    headers: { cookie: key, origin: second.origin },
  });
  const hello = await new Promise<string>((resolve, reject) => {
    live.on('message', (data) => resolve(String(data)));
    live.on('error', reject);
  });
  expect(JSON.parse(hello)).toEqual({ type: 'hello' });
  const ended = new Promise<void>((resolve) => {
    live.on('close', () => resolve());
    live.on('error', () => undefined);
  });

  const off = await ask({ method: 'POST', path: '/api/second', headers: own, body: '{"on":false}' });
  expect(JSON.parse(off.body)).toEqual({ own: true, link: null });
  await ended;
  await expect(askSecond(second, { path: '/api/files', headers: { cookie: key } })).rejects.toThrow();
});
