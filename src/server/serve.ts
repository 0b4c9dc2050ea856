// Serves one project's page on the loopback address: only with the token of the first address, only to this machine's own
// name, and never a file. The page is made anew from the disk at every look.

import { randomBytes, timingSafeEqual } from 'node:crypto';
import fastify from 'fastify';

export interface Served {
  /** The address to open, token included. */
  readonly url: string;
  close(): Promise<void>;
}

const COOKIE = 'proofboard';

function same(a: string, b: string): boolean {
  const x = Buffer.from(a);
  const y = Buffer.from(b);
  return x.length === y.length && timingSafeEqual(x, y);
}

/** Starts serving what `page` returns; port 0 takes a free one. */
export async function servePage(page: () => string, options: { readonly port?: number } = {}): Promise<Served> {
  const token = randomBytes(18).toString('base64url');
  const server = fastify({ logger: false, bodyLimit: 1024 });
  let host = '';
  server.addHook('onRequest', async (request, reply) => {
    // Another name for this machine would be a page of another site that had its name point here.
    if (request.headers.host !== host && request.headers.host !== host.replace('127.0.0.1', 'localhost')) {
      return reply.code(403).type('text/plain').send('This server answers only to its own address.');
    }
    reply.headers({
      'content-security-policy':
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
      'x-content-type-options': 'nosniff',
      'referrer-policy': 'no-referrer',
      'cache-control': 'no-store',
    });
    const cookie = new RegExp(`(?:^|;\\s*)${COOKIE}=([\\w-]+)`).exec(request.headers.cookie ?? '')?.[1] ?? '';
    const given = (request.query as Record<string, unknown>).token;
    const fromAddress = typeof given === 'string' && same(given, token);
    if (!fromAddress && !same(cookie, token)) {
      return reply.code(403).type('text/plain').send('Open the address that the program printed: it carries the key.');
    }
    if (fromAddress) reply.header('set-cookie', `${COOKIE}=${token}; HttpOnly; SameSite=Strict; Path=/`);
    return undefined;
  });
  server.get('/', async (_request, reply) => reply.type('text/html; charset=utf-8').send(page()));
  const address = await server.listen({ host: '127.0.0.1', port: options.port ?? 0 });
  host = new URL(address).host;
  return { url: `http://${host}/?token=${token}`, close: () => server.close() };
}
