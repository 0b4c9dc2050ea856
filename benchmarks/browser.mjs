// The workbench in a real browser: first paint, from a keystroke to its findings, and the main thread's time per frame while
// the boards are dragged. On the demo, or on a project given: node benchmarks/browser.mjs [PROJECT]. There is no limit here
// that fails; figures are printed to be compared.

import { cpSync, existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { startBrowser } from '../tools/browser.mjs';
import { buildMissing, root } from '../tools/run.mjs';

buildMissing();
const { main } = await import(pathToFileURL(join(root, 'dist', 'cli.mjs')).href);
const home = mkdtempSync(join(tmpdir(), 'proofboard-browser-'));
const folder = join(home, 'machine');
cpSync(resolve(process.argv[2] ?? join(root, 'projects', 'tide-clerk')), folder, { recursive: true });
const ask = async (...args) => {
  let text = '';
  await main([...args, '--json'], root, { out: (part) => (text += part), err: () => undefined });
  return JSON.parse(text);
};
if (!existsSync(join(folder, 'builds'))) await ask('lay', folder, '--moves', '0');
const { value } = await ask('open', folder);
const { browser, reason } = await startBrowser();
if (browser === undefined) {
  process.stdout.write(`not measured: ${reason}\n`);
  process.exit(2);
}
const context = await browser.newContext({ viewport: { width: 1600, height: 1000 } });
const page = await context.newPage();
await page.goto(value.url);
await page.locator('.layer.base svg').waitFor();
const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1];
const worst = (list) => Math.max(...list);
const print = (name, list) =>
  process.stdout.write(
    `${name.padEnd(44)} median ${median(list).toFixed(1)} ms, worst ${worst(list).toFixed(1)} ms of ${list.length}\n`,
  );

const paints = [];
const boards = [];
for (let i = 0; i < 5; i++) {
  await page.goto(new URL('/#boards~99', value.url).href);
  await page.reload();
  await page.locator('.layer.base svg').waitFor();
  const [paint, now] = await page.evaluate(() => [
    performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0,
    performance.now(),
  ]);
  paints.push(paint);
  boards.push(now);
}
print('first paint', paints);
print('boards drawn, from the start of loading', boards);
const wires = await page.locator('.layer.base .pb-wire').count();

// Dragging: each frame's scripted time, as the main thread's tasks say.
const canvas = page.locator('.canvas');
const box = await canvas.boundingBox();
for (const zoom of [0, 3]) {
  await page.keyboard.press('Escape');
  for (let i = 0; i < zoom; i++) await page.getByRole('button', { name: 'Zoom in' }).click();
  await page.waitForTimeout(900);
  const client = await context.newCDPSession(page);
  // The thread's own time, so that other work on the machine does not count.
  await client.send('Performance.setTimeDomain', { timeDomain: 'threadTicks' });
  await client.send('Performance.enable');
  const metric = async () =>
    Object.fromEntries((await client.send('Performance.getMetrics')).metrics.map((item) => [item.name, item.value]));
  const before = await metric();
  const frames = page.evaluate(
    () =>
      new Promise((done) => {
        let count = 0;
        const until = performance.now() + 2000;
        const tick = () => {
          count++;
          if (performance.now() < until) requestAnimationFrame(tick);
          else done(count);
        };
        requestAnimationFrame(tick);
      }),
  );
  await page.mouse.move(box.x + 300, box.y + 300);
  await page.mouse.down();
  for (let i = 0; i < 110; i++) {
    await page.mouse.move(box.x + 300 + 60 * Math.sin(i / 9), box.y + 300 + 60 * Math.cos(i / 7));
    await page.waitForTimeout(12);
  }
  await page.mouse.up();
  const count = await frames;
  const after = await metric();
  const ms = (name) => ((after[name] - before[name]) * 1000) / count;
  process.stdout.write(
    `${`dragging ${wires} wires${zoom === 0 ? '' : ', zoomed in'}`.padEnd(44)} main thread ${ms('TaskDuration').toFixed(2)} ms per frame (script ${ms('ScriptDuration').toFixed(2)}, style ${ms('RecalcStyleDuration').toFixed(2)}, layout ${ms('LayoutDuration').toFixed(2)}), ${count} frames in 2 s\n`,
  );
}

// Typing: from the key to the findings under the text.
await page.locator('.places a', { hasText: 'Intent' }).click();
await page.locator('.cm-content').click();
await page.keyboard.press('Control+End');
await page.keyboard.type('\nno-such-key: 1');
await page.locator('.cm-under.error').first().waitFor();
const typed = [];
for (let i = 0; i < 24; i++) {
  typed.push(
    await page.evaluate(
      () =>
        new Promise((done) => {
          const content = document.querySelector('.cm-content');
          const shown = () => [...document.querySelectorAll('.cm-under b')].map((node) => node.textContent).join('|');
          const before = shown();
          const start = performance.now();
          const watch = new MutationObserver(() => {
            if (shown() === before) return;
            watch.disconnect();
            done(performance.now() - start);
          });
          watch.observe(content, { childList: true, subtree: true, characterData: true });
          const line = [...content.querySelectorAll('.cm-line')].at(-1);
          const range = document.createRange();
          range.selectNodeContents(line);
          range.collapse(true);
          const selection = getSelection();
          selection.removeAllRanges();
          selection.addRange(range);
          document.execCommand('insertText', false, 'x');
        }),
    ),
  );
  await page.waitForTimeout(60);
}
print('from a keystroke to its findings', typed);
await browser.close();
rmSync(home, { recursive: true, force: true });
process.exit(0);
