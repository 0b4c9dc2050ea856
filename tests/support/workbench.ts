// A workbench under test: the real server over a copy of a project on the disk, a real browser in front of it. `useWorkbench`
// registers the hooks of a test file; its journeys are skipped, saying so, where no browser starts, and fail where the page
// complains in its console.

import { execFileSync, spawn, type ChildProcess } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';

const { startBrowser } = (await import(new URL('../../tools/browser.mjs', import.meta.url).href)) as {
  startBrowser(): Promise<{ browser?: Browser; reason?: string }>;
};
/** The program as a person starts it. */
export const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
/** The accessibility checker's source, to be put into a page. */
export const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

export interface OpenOptions {
  readonly width?: number;
  readonly height?: number;
  readonly slate?: boolean;
  /** The address's part after `#`, with it. */
  readonly hash?: string;
  /** Console messages that are no complaint. */
  readonly allowed?: RegExp;
}

export interface Opened {
  readonly page: Page;
  readonly context: BrowserContext;
  readonly child: ChildProcess;
  readonly url: string;
}

export interface Workbench {
  /** A folder of this test file's own, removed at its end. */
  home(): string;
  browser(): Browser;
  /** A copy of a shipped project, with its layout unless said. */
  demo(withLayout?: boolean, project?: string): string;
  serve(folder: string, port?: number): Promise<{ child: ChildProcess; url: string }>;
  /** Collects what a page complains of; a test with complaints fails. */
  listen(page: Page, allowed?: RegExp): void;
  open(folder: string, options?: OpenOptions): Promise<Opened>;
  /** Closed and killed after the test. */
  keep(opened: { readonly child: ChildProcess; readonly context: BrowserContext }): void;
  /** `ms` where a journey takes longer than two minutes on a busy machine. */
  journey(name: string, body: () => Promise<void>, ms?: number): void;
  go(page: Page, place: string): Promise<void>;
}

/** Puts the hooks of a workbench test in place; called once, at the top of a test file. */
export function useWorkbench(): Workbench {
  let home = '';
  let browser: Browser | undefined;
  let reason = '';
  let count = 0;
  const opened: { child: ChildProcess; context: BrowserContext }[] = [];
  const complaints: string[] = [];

  beforeAll(async () => {
    execFileSync(process.execPath, [bin, 'parts', 'Z80', '--json']); // builds what is missing, once
    home = mkdtempSync(join(tmpdir(), 'proofboard-web-'));
    const started = await startBrowser();
    browser = started.browser;
    reason = started.reason ?? '';
    if (browser === undefined) process.stderr.write(`no browser, so the workbench was not looked at: ${reason}\n`);
  }, 240_000);

  afterEach(async () => {
    for (const { child, context } of opened.splice(0)) {
      await context.close();
      child.kill();
    }
    expect(complaints.splice(0)).toEqual([]);
  });

  afterAll(async () => {
    await browser?.close();
    rmSync(home, { recursive: true, force: true });
  });

  const serve: Workbench['serve'] = (folder, port) => {
    const more = port === undefined ? [] : ['--port', String(port)];
    const child = spawn(process.execPath, [bin, 'open', folder, '--json', ...more], {
      stdio: ['ignore', 'pipe', 'inherit'],
      env: { ...process.env, XDG_STATE_HOME: join(home, 'state') },
    });
    return new Promise((resolve, reject) => {
      let text = '';
      child.stdout.on('data', (part: Buffer) => {
        text += part.toString();
        try {
          resolve({ child, url: (JSON.parse(text) as { value: { url: string } }).value.url });
        } catch {
          // Not whole yet.
        }
      });
      child.on('exit', () => reject(new Error('the server ended')));
    });
  };

  const listen: Workbench['listen'] = (page, allowed = /^$/) => {
    page.on('console', (message) => {
      if ((message.type() === 'error' || message.type() === 'warning') && !allowed.test(message.text()))
        complaints.push(message.text());
    });
    page.on('pageerror', (error) => complaints.push(error.message));
  };

  const needed = (): Browser => {
    if (browser === undefined) throw new Error(`no browser: ${reason}`);
    return browser;
  };

  return {
    home: () => home,
    browser: needed,
    demo: (withLayout = true, project = 'tide-clerk') => {
      const folder = join(home, `demo-${++count}`);
      cpSync(`projects/${project}`, folder, {
        recursive: true,
        filter: (path) => withLayout || !path.includes('builds'),
      });
      if (withLayout) execFileSync(process.execPath, [bin, 'lay', folder, '--json', '--moves', '0']);
      return folder;
    },
    serve,
    listen,
    keep: (item) => opened.push(item),
    open: async (folder, options = {}) => {
      const { child, url } = await serve(folder);
      const context = await needed().newContext({
        viewport: { width: options.width ?? 1280, height: options.height ?? 900 },
        colorScheme: options.slate === true ? 'dark' : 'light',
        reducedMotion: 'reduce',
        acceptDownloads: true,
      });
      opened.push({ child, context });
      const page = await context.newPage();
      listen(page, options.allowed);
      await page.goto(url);
      if (options.hash !== undefined) {
        await page.goto(new URL(`/${options.hash}`, url).href);
        await page.reload();
      }
      await page.locator('.st.sel, .empty h2, .bench').first().waitFor();
      return { page, context, child, url };
    },
    journey: (name, body, ms = 120_000) => {
      test(name, { timeout: ms }, async ({ skip }) => {
        if (browser === undefined) skip(`no browser starts here: ${reason}`);
        await body();
      });
    },
    go: async (page, place) => {
      await page.locator('.places a', { hasText: place }).click();
    },
  };
}
