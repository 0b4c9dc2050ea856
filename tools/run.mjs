// Small helpers of the scripts that must run before anything is installed: Node's own modules only.

import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, rmSync, statSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';

export const root = resolve(dirname(fileURLToPath(import.meta.url)), '..');

/** Runs a program in the clone and returns its exit code; its output goes where ours goes, or to standard error. */
export function run(program, args, options = {}) {
  const shell = process.platform === 'win32';
  const stdio = options.quiet ? ['ignore', 'ignore', 'inherit'] : options.toStderr ? ['ignore', 2, 2] : 'inherit';
  const result = spawnSync(program, args, { cwd: root, stdio, shell, env: { ...process.env, ...options.env } });
  if (result.error !== undefined) throw result.error;
  return result.status ?? 1;
}

/** Installs the packages that the lock file names, unless they are there. */
export function installMissing() {
  if (existsSync(join(root, 'node_modules', 'vite')) && existsSync(join(root, 'node_modules', 'yaml'))) return;
  process.stderr.write('Installing packages (once)…\n');
  const code = run('npm', [existsSync(join(root, 'package-lock.json')) ? 'ci' : 'install', '--no-fund', '--no-audit'], {
    toStderr: true,
  });
  if (code !== 0) {
    process.stderr.write('npm could not install the packages; see above.\n');
    process.exit(2);
  }
}

function newest(path) {
  const stat = statSync(path);
  if (!stat.isDirectory()) return stat.mtimeMs;
  let time = 0;
  for (const name of readdirSync(path)) {
    if (name.endsWith('.test.ts') || name.endsWith('.test.tsx')) continue;
    time = Math.max(time, newest(join(path, name)));
  }
  return time;
}

/** Only one builds at a time, since a build begins by clearing dist/; a lock that is older than three minutes is a dead one. */
function withBuildLock(work) {
  const lock = join(root, '.tsbuild', 'build-lock');
  mkdirSync(dirname(lock), { recursive: true });
  for (;;) {
    try {
      mkdirSync(lock);
      break;
    } catch (error) {
      if (error.code !== 'EEXIST') throw error;
      const age = existsSync(lock) ? Date.now() - statSync(lock).mtimeMs : 0;
      if (age > 180_000) rmSync(lock, { recursive: true, force: true });
      else Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 200);
    }
  }
  try {
    work();
  } finally {
    rmSync(lock, { recursive: true, force: true });
  }
}

/** Builds dist/ when it is missing or older than what it is made from. */
export function buildMissing() {
  if (isFresh()) return;
  installMissing();
  let code = 0;
  withBuildLock(() => {
    if (!isFresh()) code = run(process.execPath, [join(root, 'tools', 'build.mjs')], { toStderr: true });
  });
  if (code !== 0) {
    process.stderr.write('The build failed; see above.\n');
    process.exit(2);
  }
}

function isFresh() {
  const stamp = join(root, 'dist', 'stamp');
  const sources = ['src', 'data', 'vite.config.ts', 'vite.web.config.ts', 'package.json', 'tools/build.mjs']
    .map((name) => join(root, name))
    .filter(existsSync);
  return existsSync(stamp) && Math.max(...sources.map(newest)) <= statSync(stamp).mtimeMs;
}
