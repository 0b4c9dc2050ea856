// A simulated machine that one talks to: its serial line on this terminal (standard input and output) and on a TCP port of this
// computer alone. It runs at its own speed on the wall, or at another that is given.

import { createServer, type Server, type Socket } from 'node:net';
import { performance } from 'node:perf_hooks';
import type { MachineRun } from '../app/index.ts';

/** Where text goes: the machine's to `out`, what the program has to say to `err`. */
export interface Lines {
  out(text: string): void;
  err(text: string): void;
}

export interface LiveOptions {
  /** TCP port at the loopback address; 0 for any that is free. */
  readonly port?: number;
  /** Standard input and output are the terminal. */
  readonly isHere: boolean;
  /** Clocks a second; the machine's own unless given. */
  readonly speed?: number;
  /** Clocks after which it ends by itself. */
  readonly clocks?: number;
}

/** Control and `]`, which ends it. */
const END = 0x1d;
/** Milliseconds of work between two looks at the lines, and how long it goes on after the input has ended. */
const PIECE_MS = 15;
const AFTER_INPUT_MS = 2000;
/** What a client that comes later still gets. */
const KEPT = 4096;

/** Runs it until it is ended; gives why it could not be begun, or undefined. */
export async function liveTerminal(
  machine: MachineRun,
  options: LiveOptions,
  output: Lines,
): Promise<string | undefined> {
  const clients = new Set<Socket>();
  let said = '';
  let isOver = false;
  let endsAt = Number.POSITIVE_INFINITY;
  let server: Server | undefined;
  if (options.port !== undefined) {
    server = createServer((socket) => {
      clients.add(socket);
      socket.on('data', (bytes) => machine.send([...bytes]));
      socket.on('close', () => clients.delete(socket));
      socket.on('error', () => clients.delete(socket));
      if (said !== '') socket.write(Buffer.from(said, 'latin1'));
    });
    const problem = await new Promise<string | undefined>((resolve) => {
      server!.once('error', (error) => resolve(error.message));
      server!.listen(options.port, '127.0.0.1', () => resolve(undefined));
    });
    if (problem !== undefined) return problem;
    const address = server.address();
    if (address !== null && typeof address === 'object')
      output.err(`The machine's terminal is at 127.0.0.1, port ${address.port}.\n`);
  }
  const { stdin } = process;
  const take = (bytes: Buffer): void => {
    if (stdin.isTTY && bytes.includes(END)) isOver = true;
    else machine.send([...bytes]);
  };
  const inputEnds = (): void => {
    endsAt = performance.now() + AFTER_INPUT_MS;
  };
  const stop = (): void => {
    isOver = true;
  };
  if (options.isHere) {
    if (stdin.isTTY) stdin.setRawMode(true);
    stdin.on('data', take);
    stdin.on('end', inputEnds);
    output.err(stdin.isTTY ? 'Control and ] ends it.\n' : '');
  }
  process.once('SIGINT', stop);
  const clockNs = machine.clockNs;
  const speed = options.speed ?? (machine.rateHz === 0 ? 1000 : machine.rateHz);
  const last = options.clocks === undefined ? Number.POSITIVE_INFINITY : machine.ns + options.clocks * clockNs;
  let wall = performance.now();
  let start = machine.ns;
  while (!isOver) {
    const begin = performance.now();
    const wanted = Math.min(last, start + ((begin - wall) / 1000) * speed * clockNs);
    while (machine.ns < wanted && performance.now() - begin < PIECE_MS)
      machine.runFor(Math.min(wanted - machine.ns, 4096 * clockNs));
    // A machine that is slower than it should be is not made to catch up.
    if (wanted - machine.ns > speed * clockNs * 0.1) {
      wall = performance.now();
      start = machine.ns;
    }
    const text = machine.received();
    if (text !== '') {
      said = (said + text).slice(-KEPT);
      if (options.isHere) output.out(text);
      for (const client of clients) client.write(Buffer.from(text, 'latin1'));
      if (endsAt !== Number.POSITIVE_INFINITY) inputEnds();
    }
    if (machine.ns >= last || performance.now() > endsAt) break;
    await new Promise((resolve) => setTimeout(resolve, machine.ns < wanted ? 0 : 5));
  }
  process.removeListener('SIGINT', stop);
  if (options.isHere) {
    stdin.off('data', take);
    stdin.off('end', inputEnds);
    if (stdin.isTTY) stdin.setRawMode(false);
    stdin.pause();
  }
  for (const client of clients) client.destroy();
  server?.close();
  return undefined;
}
