// The simulated machine in a real browser: switched on from its boards, run to its prompt, spoken to, paused, stepped by clock, cycle
// and instruction, its button pressed, its levels, registers and memory read, its proofs held against what is expected; the page goes
// on drawing meanwhile; no accessibility fault on either ground.

import { expect } from 'vitest';
import { axe, useWorkbench } from '../support/workbench.ts';

const { demo, go, journey, open } = useWorkbench();

journey('Simulation: power on, run to the prompt, steps, a button, levels, memory, proofs', async () => {
  const { page } = await open(demo(), { hash: '#boards~6~net=/RD' });
  await go(page, 'Simulation');
  await page.getByRole('button', { name: 'switch on' }).click();
  await page.getByRole('button', { name: 'run', exact: true }).waitFor();
  await page.locator('.sm-terminal .xterm-screen').waitFor();
  const head = (): Promise<string> => page.locator('.sm-controls h2').textContent().then(String);
  const clock = async (): Promise<number> => Number(/clock ([\d,]+)/.exec(await head())![1]!.replaceAll(',', ''));

  // Steps: one clock is one clock; an instruction is some more; the processor says where it is.
  const first = await clock();
  await page.getByRole('button', { name: 'one clock' }).click();
  await expect.poll(clock).toBe(first + 1);
  // As fast as it goes, to the prompt.
  await page.getByLabel('Speed').selectOption({ label: 'as fast as it goes' });
  await page.getByRole('button', { name: 'run', exact: true }).click();
  const terminal = (): Promise<string> => page.locator('.sm-terminal .xterm-rows').textContent().then(String);
  await expect.poll(terminal, { timeout: 60_000 }).toContain('READY');

  // While it runs the page draws: frames are counted for a second. No figure is asked for on a busy machine, only that it lives.
  const frames = await page.evaluate(
    () =>
      new Promise<number>((resolve) => {
        let count = 0;
        const end = performance.now() + 1000;
        const frame = (now: number): void => {
          count++;
          if (now < end) requestAnimationFrame(frame);
          else resolve(count);
        };
        requestAnimationFrame(frame);
      }),
  );
  expect(frames).toBeGreaterThan(5);
  const before = (await terminal()).length;
  await page.locator('.sm-terminal textarea').focus();
  await page.keyboard.type('?');
  await page.keyboard.press('Enter');
  await expect.poll(async () => (await terminal()).length, { timeout: 30_000 }).toBeGreaterThan(before);

  await page.getByRole('button', { name: 'pause' }).click();
  await page.getByRole('button', { name: 'one instruction' }).click();
  await expect.poll(() => page.locator('.sm-now').textContent()).toMatch(/^[0-9A-F]{4} {2}\S/);
  const stood = await clock();
  await page.getByRole('button', { name: 'one instruction' }).click();
  await expect.poll(clock).toBeGreaterThan(stood + 3);
  await page.getByRole('button', { name: 'one machine cycle' }).click();
  const where = await page.locator('.sm-registers dd').first().textContent();
  expect(where).toMatch(/^[0-9A-F]{4}$/);

  // What a probe finds: the pins of the selected net all at one level, of a part each at its own.
  const levels = await page.locator('.sm-pins .sm-level').allTextContents();
  expect(levels.length).toBeGreaterThan(2);
  expect(new Set(levels).size).toBe(1);
  await page.locator('.sm-pick input').fill('part CPU');
  await page.getByRole('button', { name: 'look' }).click();
  await expect.poll(() => page.locator('.sm-pins li').count()).toBe(40);
  await page.locator('.sm-address').fill('0');
  await page.keyboard.press('Enter');
  await expect.poll(() => page.locator('.sm-memory').textContent()).toMatch(/^0000 {2}[0-9A-F]{2} /);

  // The reset button, held: the supervisor pulls /RESET low.
  const reset = page.locator('.sm-hands button', { hasText: /RESET/ }).first();
  await reset.focus();
  await page.keyboard.down('Space');
  await page.getByRole('button', { name: 'one clock' }).waitFor();
  const level = page.locator('.sm-pins li', { hasText: '/RESET' }).locator('.sm-level');
  await expect.poll(() => level.textContent()).toBe('L');
  await page.keyboard.up('Space');

  await page.getByRole('button', { name: 'simulate the proofs' }).click();
  await expect.poll(() => page.locator('.sm-proofs tbody tr').count(), { timeout: 90_000 }).toBeGreaterThan(0);
  expect(await page.locator('.sm-proofs .fault').count()).toBe(0);
  // Another stage is another machine: this one is off.
  await page.keyboard.press('Escape');
  await page.locator('.sm-controls h2').click();
  await page.keyboard.press('3');
  await expect.poll(head).toContain('switched off');
});

journey('Simulation: free of accessibility faults, on both grounds and at a phone', async () => {
  const { page } = await open(demo(), { hash: '#simulation~6~net=/RD' });
  await page.getByRole('button', { name: 'switch on' }).click();
  await page.getByRole('button', { name: 'run', exact: true }).waitFor();
  await page.locator('.sm-terminal .xterm-screen').waitFor();
  await page.evaluate(axe);
  for (const look of ['paper', 'slate', 'phone']) {
    if (look !== 'slate') await page.setViewportSize({ width: look === 'phone' ? 390 : 1280, height: 844 });
    await page.evaluate(
      (ground) => {
        document.documentElement.dataset.ground = ground;
      },
      look === 'slate' ? 'slate' : 'paper',
    );
    await page.waitForTimeout(400);
    const found = (await page.evaluate('axe.run(document, { resultTypes: ["violations"] })')) as {
      violations: { id: string; nodes: { html: string }[] }[];
    };
    expect(found.violations.map((item) => `${look}, ${item.id}: ${item.nodes[0]?.html.slice(0, 200)}`)).toEqual([]);
  }
});
