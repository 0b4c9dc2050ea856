// npm run screens [-- OUT]: renders every place of the workbench, paper and slate, at two sizes and on a phone, with the demo
// half built, to be looked at. Writes PNG files into OUT (a folder in the system's temporary folder unless said).

import { cpSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { startBrowser } from './browser.mjs';
import { buildMissing, root } from './run.mjs';

const out = resolve(process.argv[2] ?? join(tmpdir(), 'proofboard-screens'));
const only = process.argv[3];
mkdirSync(out, { recursive: true });
buildMissing();
const { main } = await import(pathToFileURL(join(root, 'dist', 'cli.mjs')).href);
const home = mkdtempSync(join(tmpdir(), 'proofboard-screens-'));
const folder = join(home, 'tide-clerk');
cpSync(join(root, 'projects', 'tide-clerk'), folder, { recursive: true });
const ask = async (...args) => {
  let text = '';
  await main([...args, '--json'], root, { out: (part) => (text += part), err: () => undefined });
  return JSON.parse(text);
};
await ask('lay', folder);
const steps = (await ask('steps', folder)).value.steps;
const until = steps.filter((step) => step.stage < 4).length;
const inFour = steps.filter((step) => step.stage === 4 && step.group !== 'proofs').length;
await ask('done', ...steps.slice(0, until + Math.floor(inFour * 0.45)).map((step) => step.id), '--project', folder);
const { value } = await ask('open', folder);

const { browser, reason } = await startBrowser();
if (browser === undefined) {
  process.stdout.write(`No pictures: ${reason}.\n`);
  process.exit(2);
}
const shots = [
  ['boards-plain', '#boards~4'],
  ['boards-net', '#boards~4~net=/RD'],
  ['boards-part', '#boards~4~part=SEL'],
  ['intent', '#intent~4'],
  ['findings', '#findings~4'],
  ['margins', '#margins~6'],
  ['address', '#address~6'],
  ['address-net', '#address~6~net=/UART'],
  ['simulation', '#simulation~6~net=/RD'],
  ['build', '#build~4'],
  ['bringup', '#bring-up~4'],
  ['record', '#record~4'],
];
const sizes = [
  [1600, 1000],
  [1024, 768],
  [390, 844],
];
for (const [width, height] of sizes) {
  for (const ground of ['paper', 'slate']) {
    const context = await browser.newContext({
      viewport: { width, height },
      colorScheme: ground === 'slate' ? 'dark' : 'light',
    });
    const first = await context.newPage();
    await first.goto(value.url);
    await first.close();
    for (const [name, hash] of shots) {
      if (only !== undefined && !`${name}-${width}-${ground}`.includes(only)) continue;
      const page = await context.newPage();
      page.on('console', (message) => {
        if (message.type() === 'error' || message.type() === 'warning')
          process.stdout.write(`${name} ${ground}: ${message.text()}\n`);
      });
      page.on('pageerror', (error) => process.stdout.write(`${name} ${ground}: ${error.message}\n`));
      await page.goto(new URL(`/${hash}`, value.url).href);
      await page.evaluate(() => document.fonts.ready);
      await page.waitForTimeout(1800);
      if (name === 'intent' && width > 500) {
        const line = page.locator('.cm-line', { hasText: 'processor: CPU' }).first();
        if ((await line.count()) > 0) await line.click();
        await page.waitForTimeout(500);
      }
      await page.screenshot({ path: join(out, `${name}-${width}-${ground}.png`) });
      await page.close();
    }
    await context.close();
  }
}
await browser.close();
rmSync(home, { recursive: true, force: true });
process.stdout.write(`${out}\n`);
process.exit(0);
