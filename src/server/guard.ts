// Who may talk to the server: this machine's own name, pages of this server's own origin, and only with the key of the first
// address. A page of another site reaches loopback addresses too; it is met here.

import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import type { IncomingHttpHeaders } from 'node:http';
import { homedir } from 'node:os';
import { join } from 'node:path';

const same = (a: string, b: string): boolean => {
  const x = Buffer.from(a);
  const y = Buffer.from(b);
  return x.length === y.length && timingSafeEqual(x, y);
};

/**
 * The key of a project folder: the same after a restart, so that open windows go on. Made from a secret of this user that is
 * kept in the state folder; a fresh one where that can't be written.
 */
export function keyOf(folder: string): string {
  const home = process.env.XDG_STATE_HOME ?? join(homedir(), '.local', 'state');
  const file = join(home, 'proofboard', 'key');
  let secret: string;
  try {
    secret = readFileSync(file, 'utf8');
    if (secret.length < 32) throw new Error('too short to be a secret');
  } catch {
    secret = randomBytes(32).toString('base64url');
    try {
      mkdirSync(join(home, 'proofboard'), { recursive: true, mode: 0o700 });
      writeFileSync(file, secret, { mode: 0o600, flag: 'wx' });
    } catch {
      // Not kept: the key then lasts as long as the program runs.
    }
  }
  return createHmac('sha256', secret).update(folder).digest('base64url');
}

export interface Guard {
  /** Why a request is turned away, or undefined where it may pass. */
  refusal(request: { method: string; url: string; headers: IncomingHttpHeaders }): string | undefined;
  /** Whether the address carries the key, and the header that keeps it. */
  fromAddress(url: string): string | undefined;
}

/** The guard of a server at `host` (name and port). Over plain HTTP that is this machine only, which `localhost` names too. */
export function createGuard(host: string, key: string, scheme: 'http' | 'https' = 'http'): Guard {
  const port = host.slice(host.lastIndexOf(':') + 1);
  const cookie = `proofboard-${port}`;
  const hosts = new Set(scheme === 'http' ? [host, `localhost:${port}`] : [host]);
  const find = new RegExp(`(?:^|;\\s*)${cookie}=([\\w-]+)`);
  const keyIn = (url: string): string => new URL(url, 'http://x').searchParams.get('token') ?? '';
  return {
    refusal: ({ method, url, headers }) => {
      if (headers.host === undefined || !hosts.has(headers.host)) return 'This server answers only to its own address.';
      const origin = headers.origin;
      const isWrite = method !== 'GET' && method !== 'HEAD';
      const wantsSocket = headers.upgrade !== undefined;
      if (origin !== undefined ? origin !== `${scheme}://${headers.host}` : isWrite || wantsSocket)
        return 'This request does not come from a page of this server.';
      const site = headers['sec-fetch-site'];
      // A link followed from elsewhere is a plain look at the page; everything else must be of one's own origin.
      if (site === 'cross-site' && (isWrite || headers['sec-fetch-mode'] !== 'navigate'))
        return 'This request does not come from a page of this server.';
      const given = find.exec(headers.cookie ?? '')?.[1] ?? '';
      if (!same(given, key) && !same(keyIn(url), key))
        return 'Open the address that the program printed: it carries the key.';
      return undefined;
    },
    fromAddress: (url) =>
      same(keyIn(url), key)
        ? `${cookie}=${key}; HttpOnly; SameSite=Strict; Path=/; ${scheme === 'https' ? 'Secure; Max-Age=172800' : 'Max-Age=31536000'}`
        : undefined,
  };
}
