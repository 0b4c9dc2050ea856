// A second device at the bench: while the builder has it turned on, the same server answers over TLS on this machine's
// addresses in the local network, with a certificate made at that moment and a key of its own that ends when it is turned
// off. A browser keeps a screen awake only on a page that came over TLS, which is why plain HTTP isn't offered.

import { createHash, randomBytes, X509Certificate } from 'node:crypto';
import type { IncomingMessage, ServerResponse } from 'node:http';
import { createServer, type Server } from 'node:https';
import { isIPv4 } from 'node:net';
import { networkInterfaces } from 'node:os';
import type { Duplex } from 'node:stream';
import { generate } from 'selfsigned';
import { createGuard, type Guard } from './guard.ts';

/** What the page shows of a second device's link. */
export interface SecondLink {
  /** One address for each way this machine can be reached, key included. */
  readonly urls: readonly string[];
  /** SHA-256 of the certificate, in pairs with colons: the same that the second device shows before it trusts. */
  readonly fingerprint: string;
}

export interface SecondDoor {
  readonly link: SecondLink | undefined;
  /** The guard of a request that came over TLS. */
  guardOf(host: string | undefined): Guard | undefined;
  open(): Promise<SecondLink>;
  close(): Promise<void>;
}

/** A certificate lasts as long as an evening at the bench and a day more. */
const DAYS = 2;

/** This machine's addresses in local networks; loopback where there is none, so that the link can be tried. */
function localAddresses(): string[] {
  const found = Object.values(networkInterfaces())
    .flatMap((list) => list ?? [])
    .filter((entry) => !entry.internal && isIPv4(entry.address) && !entry.address.startsWith('169.254.'))
    .map((entry) => entry.address);
  return found.length > 0 ? found : ['127.0.0.1'];
}

const fingerprintOf = (pem: string): string =>
  createHash('sha256').update(new X509Certificate(pem).raw).digest('hex').toUpperCase().match(/../g)!.join(':');

/** A door for a second device, shut until opened. `handle` and `upgrade` are what the first server does with a request. */
export function createSecondDoor(
  handle: (request: IncomingMessage, response: ServerResponse) => void,
  upgrade: (request: IncomingMessage, socket: Duplex, head: Buffer) => void,
): SecondDoor {
  let server: Server | undefined;
  let link: SecondLink | undefined;
  let guards = new Map<string, Guard>();
  const sockets = new Set<Duplex>();
  const shut = async (): Promise<void> => {
    const old = server;
    server = undefined;
    link = undefined;
    guards = new Map();
    if (old === undefined) return;
    // Live connections were handed over and are not the server's own any more: they end here too.
    for (const socket of sockets) socket.destroy();
    await new Promise<void>((resolve) => old.close(() => resolve()));
  };
  return {
    get link() {
      return link;
    },
    guardOf: (host) => (host === undefined ? undefined : guards.get(host)),
    open: async () => {
      if (link !== undefined) return link;
      const addresses = localAddresses();
      const now = new Date();
      const made = await generate([{ name: 'commonName', value: 'Proofboard on this desk' }], {
        keyType: 'ec',
        curve: 'P-256',
        notBeforeDate: new Date(now.getTime() - 3_600_000),
        notAfterDate: new Date(now.getTime() + DAYS * 86_400_000),
        extensions: [
          { name: 'basicConstraints', cA: false, critical: true },
          { name: 'keyUsage', digitalSignature: true, critical: true },
          { name: 'extKeyUsage', serverAuth: true },
          { name: 'subjectAltName', altNames: addresses.map((ip) => ({ type: 7 as const, ip })) },
        ],
      });
      const next = createServer({ key: made.private, cert: made.cert, minVersion: 'TLSv1.2' }, handle);
      next.on('upgrade', upgrade);
      next.on('secureConnection', (socket) => {
        sockets.add(socket);
        socket.on('close', () => sockets.delete(socket));
      });
      next.on('tlsClientError', (_error, socket) => socket.destroy());
      const host = addresses.length === 1 ? addresses[0]! : '0.0.0.0';
      await new Promise<void>((resolve, reject) => {
        next.once('error', reject);
        next.listen(0, host, () => resolve());
      });
      const bound = next.address();
      const port = typeof bound === 'object' && bound !== null ? bound.port : 0;
      const key = randomBytes(18).toString('base64url');
      server = next;
      guards = new Map(
        addresses.map((address) => [`${address}:${port}`, createGuard(`${address}:${port}`, key, 'https')]),
      );
      link = {
        urls: addresses.map((address) => `https://${address}:${port}/?token=${key}`),
        fingerprint: fingerprintOf(made.cert),
      };
      return link;
    },
    close: shut,
  };
}
