// The Address place in a real browser: the map moved by keys, by mouse and by its form, taken back from another place; a
// builder's own fuse file held against it; no accessibility fault on either ground.

import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect } from 'vitest';
import { axe, useWorkbench } from '../support/workbench.ts';

const { demo, go, journey, open } = useWorkbench();

journey(
  'Address: a region moved by keys, by mouse and by its form lands in the file, and is taken back anywhere',
  async () => {
    const folder = demo();
    const file = (): string => readFileSync(join(folder, 'machine.yaml'), 'utf8');
    const { page } = await open(folder, { hash: '#address~6', width: 1600, height: 1000 });
    const uart = page.locator('.staff .entry[data-part=UART]');
    await uart.waitFor();
    // Who answers, and by which lines.
    await page.getByLabel('Address looked at in ports').focus();
    for (let k = 0; k < 2; k++) await page.keyboard.press('ArrowUp');
    await expect.poll(() => page.locator('.whoat .figure').textContent()).toContain('UART');
    expect(await page.locator('.whoat').textContent()).toContain('A7, A6, A5, A3 decide');
    // By keys: up by its own size, aligned.
    await uart.focus();
    await page.keyboard.press('ArrowUp');
    await expect.poll(file).toContain('{ UART: 8 at 0x18 }');
    await expect.poll(() => uart.getAttribute('aria-label')).toContain('8 bytes at 18');
    expect(await uart.evaluate((node) => node === document.activeElement)).toBe(true);
    // Taken back from another place.
    await go(page, 'Findings');
    await page.keyboard.press('Control+z');
    await expect.poll(file).toContain('{ UART: 8 at 0x10 }');
    await go(page, 'Address');
    // By mouse: RAM down to where the ROM is; the clash is drawn and told.
    const ram = page.locator('.staff .entry[data-part=RAM]');
    const box = (await ram.boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height, { steps: 4 });
    await page.mouse.move(box.x + box.width / 2, box.y + box.height * 1.6, { steps: 4 });
    await page.locator('.staff .ghost').waitFor();
    await page.mouse.up();
    await expect.poll(file).toContain('{ RAM: 32 KiB at 0x0000 }');
    await expect.poll(() => page.locator('.staff .block.double').count()).toBeGreaterThan(0);
    expect(await page.locator('.mapfindings .fault').count()).toBeGreaterThan(0);
    await page.keyboard.press('Control+z');
    await expect.poll(file).toContain('{ RAM: 32 KiB at 0x8000 }');
    // By its form, and a word on mirrors.
    await page.locator('.staff .entry[data-part=HARBOUR]').click();
    const form = page.getByRole('form', { name: 'Where HARBOUR answers' });
    await form.getByLabel('from').fill('60');
    await form.getByRole('button', { name: 'put it there' }).click();
    await expect.poll(file).toContain('{ HARBOUR: 1 at 0x60 }');
    await form.getByLabel('mirrors').selectOption('forbidden');
    await expect.poll(file).toContain('{ HARBOUR: 1 at 0x60, mirrors: forbidden }');
    await form.getByLabel('from').fill('1FF');
    await form.getByRole('button', { name: 'put it there' }).click();
    await expect.poll(() => page.locator('.notice').textContent()).toContain('runs past');
    await form.getByRole('button', { name: 'take it out of the map' }).click();
    await expect.poll(() => file().includes('HARBOUR: 1 at')).toBe(false);
    // A part on a bus without an address is given one.
    const add = page.getByRole('form', { name: 'Give a part an address' });
    await add.getByLabel('in').selectOption('ports');
    await add.getByLabel('from').fill('20');
    await add.getByLabel('size').fill('1');
    await add.getByRole('button', { name: 'put it there' }).click();
    await expect.poll(file).toContain('{ HARBOUR: 1 at 0x20 }');
    // The equations follow, and a net chosen in them is chosen everywhere.
    await page.locator('.equations button', { hasText: '/IORD' }).click();
    await go(page, 'Boards');
    await expect.poll(() => page.locator('h2.name').first().textContent()).toBe('/IORD');
  },
);

journey('Address: a builder’s own fuse file is held against the map, and a failing vector marks its pin', async () => {
  const folder = demo();
  const own = readFileSync(join(folder, 'builds/first/fuses/SEL-r3.jed'), 'latin1')
    // One literal of /UART connected instead of another: A7 high where it was low.
    .replace(/(L0512 )10111/, '$101111')
    .replace('\u0002', '')
    .split('\u0003')[0]!
    .replace(/\nC[0-9A-F]{4}\*/, '');
  writeFileSync(join(folder, 'mine.jed'), `\u0002${own}\u00030000`, 'latin1');
  writeFileSync(
    join(folder, 'machine.yaml'),
    readFileSync(join(folder, 'machine.yaml'), 'utf8').replace(
      'grade: 15 ns, comes-out: true',
      'grade: 15 ns, uses: mine.jed',
    ),
  );
  const { page } = await open(folder, { hash: '#address~6', width: 1600, height: 1000 });
  await page.locator('.fused .verdict.fault').waitFor();
  expect(await page.locator('.differences').textContent()).toMatch(
    /10 to 0?0?17 ?UART is mapped, and \/UART does not select it/,
  );
  expect(await page.locator('.failures li').first().textContent()).toMatch(/17/);
  expect(await page.locator('.outline .bad').count()).toBe(1);
});

for (const slate of [false, true])
  journey(`Address is free of accessibility faults on ${slate ? 'slate' : 'paper'}`, async () => {
    const { page } = await open(demo(), { hash: '#address~6~part=UART', slate, width: 1024, height: 768 });
    await page.locator('.editentry').waitFor();
    for (const summary of await page.locator('.fused summary').all()) await summary.click();
    await page.evaluate(axe);
    const look = async (): Promise<string[]> =>
      (
        (await page.evaluate('axe.run(document, { resultTypes: ["violations"] })')) as {
          violations: { id: string; nodes: { html: string }[] }[];
        }
      ).violations.map((item) => `${item.id}: ${item.nodes[0]?.html.slice(0, 160)}`);
    expect(await look()).toEqual([]);
    // In the middle of the build: parts of later stages, and a map with gaps.
    await page.keyboard.press('4');
    await page.locator('.staff .entry.later').first().waitFor();
    expect(await look()).toEqual([]);
  });
