// A real browser for the suites and scripts that look at the page: the one installed, else the packed one. Undefined where
// neither starts, with the reason.

import { existsSync } from 'node:fs';
import { chromium } from 'playwright-core';

const ARGS = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--no-first-run',
];

/** Starts Chromium; `{ browser }` or `{ reason }`. */
export async function startBrowser() {
  const installed = '/usr/bin/chromium';
  let reason = 'no Chromium is installed';
  if (existsSync(installed)) {
    try {
      return { browser: await chromium.launch({ executablePath: installed, args: ARGS }) };
    } catch (error) {
      reason = String(error).split('\n')[0];
    }
  }
  try {
    const packed = (await import('@sparticuz/chromium')).default;
    return {
      browser: await chromium.launch({
        executablePath: await packed.executablePath(),
        args: [...packed.args, ...ARGS],
      }),
    };
  } catch (error) {
    return { reason: `${reason}; the packed one does not start: ${String(error).split('\n')[0]}` };
  }
}
