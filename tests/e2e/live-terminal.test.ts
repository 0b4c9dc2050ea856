// The machine's serial line as a program of its own: spoken to over a loopback TCP port and through standard input and output.

import { execFile, spawn } from 'node:child_process';
import { connect } from 'node:net';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
const project = join(process.cwd(), 'projects', 'tide-clerk');

test('a TCP port of this computer is the terminal: the prompt comes, and an answer to what is sent', async () => {
  const args = ['run', '--stage', '5', '--port', '0', '--clocks', '40000000', '--speed', '20000000', project];
  const child = spawn(process.execPath, [bin, ...args]);
  try {
    const port = await new Promise<number>((resolve, reject) => {
      let text = '';
      child.stderr.on('data', (part: Buffer) => {
        text += part.toString();
        const found = /127\.0\.0\.1, port (\d+)/.exec(text)?.[1];
        if (found !== undefined) resolve(Number(found));
      });
      child.once('exit', () => reject(new Error(`it ended: ${text}`)));
    });
    const answer = await new Promise<string>((resolve, reject) => {
      let text = '';
      let isAsked = false;
      const socket = connect(port, '127.0.0.1');
      socket.on('data', (bytes) => {
        text += bytes.toString('latin1');
        if (!isAsked && text.includes('>')) {
          isAsked = true;
          socket.write('T\r');
        }
        if (isAsked && text.split('>').length > 2) {
          socket.destroy();
          resolve(text);
        }
      });
      socket.on('error', reject);
      socket.on('close', () => reject(new Error(`closed after ${JSON.stringify(text)}`)));
    });
    expect(answer).toMatch(/READY, TIDES\r\n>T/);
  } finally {
    child.kill();
  }
}, 60_000);

test('standard input and output are the terminal with --talk', async () => {
  const text = await new Promise<string>((resolve, reject) => {
    const child = execFile(
      process.execPath,
      [bin, 'run', '--stage', '5', '--talk', '--speed', '20000000', project],
      (error, out) => (error === null ? resolve(out) : reject(error)),
    );
    child.stdin!.end('T\r');
  });
  expect(text).toContain('READY, TIDES');
  expect(text.split('>').length).toBeGreaterThan(2);
}, 60_000);
