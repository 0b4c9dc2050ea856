// Margins in a real browser: a cycle drawn, the clock moved until something gives way, nets, the rails drawn on the boards, a bad
// contact found from readings; no accessibility fault in any view on either ground.

import { expect } from 'vitest';
import { axe, useWorkbench } from '../support/workbench.ts';

const { demo, go, journey, open } = useWorkbench();

journey(
  'Margins: a cycle with its slack, the clock moved, levels of a net, what the rails lose, a bad contact',
  async () => {
    const { page } = await open(demo(), { hash: '#boards~6' });
    await go(page, 'Margins');
    await page.locator('.mg-drawing svg').waitFor();
    // Every path stands there; none is negative at the machine's own clock.
    expect(await page.locator('.mg-table tbody tr').count()).toBeGreaterThan(40);
    expect(await page.locator('.mg-table tr.bad').count()).toBe(0);
    await page.locator('.mg-drawing .do', { hasText: 'fetch' }).click();
    await expect.poll(() => page.locator('.mg-drawing h2').textContent()).toContain('fetch');
    await page.locator('.mg-targets .do', { hasText: 'ROM' }).click();
    await expect.poll(() => page.locator('.mg-drawing svg title').first().textContent()).toContain('ROM tCE');
    const slack = (): Promise<number> =>
      page
        .locator('.mg-drawing svg title')
        .first()
        .textContent()
        .then((text) => Number(/ROM tCE (-?[\d.]+) ns left/.exec(text ?? '')?.[1]));
    const before = await slack();
    expect(before).toBeGreaterThan(50);
    // The clock, by the keys alone: faster until the fetch fails.
    const clock = page.getByLabel('Clock to try, MHz');
    await clock.focus();
    await page.keyboard.press('ArrowRight');
    await expect.poll(slack).not.toBe(before);
    await page.keyboard.press('End');
    await expect.poll(() => page.locator('.mg-table tr.bad').count()).toBeGreaterThan(5);
    await expect.poll(slack).toBeLessThan(0);
    expect(await page.locator('.mg-rule .cl.over').count()).toBe(1);
    await page.getByRole('button', { name: 'back to 3.69 MHz' }).click();
    await expect.poll(slack).toBe(before);
    await expect.poll(() => page.locator('.mg-table tr.bad').count()).toBe(0);

    await page.getByRole('button', { name: 'levels and loads' }).click();
    await page.locator('.mg-list td button', { hasText: /^\/RD$/ }).click();
    await expect.poll(() => page.locator('.mg-list tr.on').count()).toBe(1);
    await go(page, 'Boards');
    await expect.poll(() => page.locator('h2.name').first().textContent()).toBe('/RD');
    await go(page, 'Margins');

    await page.getByRole('button', { name: 'supply and rails' }).click();
    await page.locator('.pb-drop .pb-wedge').first().waitFor();
    expect(await page.locator('.mg-supply td button', { hasText: 'CPU' }).count()).toBe(1);
    await page.getByLabel(/PART=VOLTS/).fill('CPU.GND=0.9 CPU.VCC=4.96');
    await page.getByRole('button', { name: 'which contact is it?' }).click();
    await expect.poll(() => page.locator('.mg form [role=status]').textContent()).toContain('ohm too much');
    await page.getByLabel(/PART=VOLTS/).fill('NOBODY=4.9');
    await page.keyboard.press('Enter');
    await expect.poll(() => page.locator('.mg form [role=status]').textContent()).toContain('NOBODY');

    await page.getByRole('button', { name: 'what breaks first' }).click();
    await expect.poll(() => page.locator('.mg-steps li').count()).toBeGreaterThan(8);
    await page.keyboard.press('2');
    await page.getByRole('button', { name: 'bus cycles' }).click();
    await expect.poll(() => page.locator('.mg .empty h2').textContent()).toBe('No processor yet.');
  },
);

journey('Margins: every view is free of accessibility faults, on both grounds and at a phone', async () => {
  const { page } = await open(demo(), { hash: '#margins~6' });
  await page.locator('.mg-drawing svg').waitFor();
  await page.evaluate(axe);
  const views = await page.locator('.mg > nav button').allTextContents();
  expect(views.length).toBeGreaterThan(3);
  for (const view of views) {
    await page.getByRole('button', { name: view, exact: true }).click();
    await page.waitForTimeout(300);
    for (const look of ['paper', 'slate', 'phone']) {
      if (look !== 'slate') await page.setViewportSize({ width: look === 'phone' ? 390 : 1280, height: 844 });
      await page.evaluate(
        (ground) => {
          document.documentElement.dataset.ground = ground;
        },
        look === 'slate' ? 'slate' : 'paper',
      );
      const found = (await page.evaluate('axe.run(document, { resultTypes: ["violations"] })')) as {
        violations: { id: string; nodes: { html: string }[] }[];
      };
      expect(
        found.violations.map((item) => `${view} on ${look}, ${item.id}: ${item.nodes[0]?.html.slice(0, 160)}`),
      ).toEqual([]);
    }
  }
});
