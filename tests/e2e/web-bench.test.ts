// Journeys of both hands: parts moved with the mouse, the bench's voice, photos, devices that come out, what a change of the
// machine does to boards that are wired, and the whole demo from an empty folder to its last stage.

import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import { bin, useWorkbench } from '../support/workbench.ts';

const { demo, go, home, journey, open } = useWorkbench();

interface Layout {
  readonly parts: readonly { part: string; rotation: number; leads: readonly { hole: string }[] }[];
  readonly wires: readonly { id: string }[];
}
const layoutOf = (folder: string): Layout =>
  JSON.parse(readFileSync(join(folder, 'builds/first/layout.json'), 'utf8')) as Layout;
const partOf = (folder: string, name: string) => layoutOf(folder).parts.find((item) => item.part === name)!;
// biome-ignore lint/suspicious/noExplicitAny: a contract read as a script would read it
const json = (...args: string[]): any => {
  const text = execFileSync(process.execPath, [bin, ...args, '--json'], { encoding: 'utf8' });
  return JSON.parse(text).value;
};

async function find(page: Page, words: string): Promise<void> {
  await page.keyboard.press('/');
  await page.keyboard.type(words);
  await page.locator('#found [role=option]').first().waitFor();
  await page.keyboard.press('Enter');
}

journey('Boards: a chip is dragged and turned with the mouse, kept, fixed, and put back by undo', async () => {
  const folder = demo();
  const { page } = await open(folder, { width: 1600, height: 1000, hash: '#boards~6' });
  await page.locator('.canvas .layer.base .pb-wire').first().waitFor({ state: 'attached' });
  const before = readFileSync(join(folder, 'builds/first/layout.json'), 'utf8');
  const where = partOf(folder, 'OSC');
  await find(page, 'OSC');
  const body = page.locator('.layer [data-part="OSC"] .body').last();
  const box = (await body.boundingBox())!;
  const from = { x: box.x + box.width / 2, y: box.y + box.height / 2 };
  const drag = async (dx: number, dy: number): Promise<void> => {
    await page.mouse.move(from.x, from.y);
    await page.mouse.down();
    for (let i = 1; i <= 12; i++) await page.mouse.move(from.x + (dx * i) / 12, from.y + (dy * i) / 12);
    await page.mouse.up();
  };
  await drag(40, 4);
  const keep = page.getByRole('button', { name: /^keep/ });
  await keep.waitFor();
  // The rework is told before anything is kept.
  await expect.poll(() => page.locator('.canvas, .side, .cols').first().textContent()).toMatch(/wire/);
  expect(readFileSync(join(folder, 'builds/first/layout.json'), 'utf8')).toBe(before);
  // Where there is no room it can't be kept, and says so; the next column that is free will do.
  for (let i = 0; i < 30; i++) {
    const fits = await expect
      .poll(() => keep.isEnabled(), { timeout: 1500 })
      .toBe(true)
      .then(
        () => true,
        () => false,
      );
    if (fits) break;
    await page.keyboard.press(i < 15 ? 'Shift+ArrowRight' : 'Shift+ArrowLeft');
    if (i === 15) for (let k = 0; k < 20; k++) await page.keyboard.press('Shift+ArrowLeft');
  }
  expect(await keep.isEnabled()).toBe(true);
  await keep.click();
  await expect.poll(() => partOf(folder, 'OSC').leads[0]!.hole, { timeout: 20_000 }).not.toBe(where.leads[0]!.hole);

  const moved = partOf(folder, 'OSC');
  await page.keyboard.press('r');
  await expect.poll(() => keep.isEnabled(), { timeout: 20_000 }).toBe(true);
  await page.keyboard.press('Enter');
  await expect.poll(() => partOf(folder, 'OSC').rotation, { timeout: 20_000 }).not.toBe(moved.rotation);
  // What a hand has placed is fixed there until it is freed.
  const choices = (): string => readFileSync(join(folder, 'builds/first/boards.yaml'), 'utf8');
  expect(choices()).toMatch(/OSC/);
  await page.getByRole('button', { name: 'free it' }).click();
  await expect.poll(choices).not.toMatch(/OSC/);
  await page.getByRole('button', { name: 'fix it here' }).waitFor();
  // Every edit so far, by keys, in the order of doing.
  for (let i = 0; i < 3; i++) await page.keyboard.press('Control+z');
  await expect.poll(() => readFileSync(join(folder, 'builds/first/layout.json'), 'utf8') === before).toBe(true);
});

journey(
  'Build: a step is said aloud, a device comes out to be programmed, and a photo goes into the record',
  async () => {
    const folder = demo();
    const { page } = await open(folder, { hash: '#build~1' });
    await page.evaluate(() => {
      const said: string[] = [];
      (window as unknown as { said: string[] }).said = said;
      speechSynthesis.speak = (words: SpeechSynthesisUtterance) => said.push(words.text);
    });
    await page.locator('.bench footer').waitFor();
    await page.keyboard.press('s');
    const first = await page.evaluate(() => (window as unknown as { said: string[] }).said);
    expect(first.length).toBe(1);
    // Holes are said so that they are heard right: never `2:33i`.
    expect(first[0]).toMatch(/board \d, /);
    expect(first[0]).not.toMatch(/\d:\d/);

    const steps = json('steps', folder).steps as {
      id: string;
      do: string;
      stage: number;
      part?: string;
      text: string;
    }[];
    const upTo = steps.findIndex((step) => step.do === 'take-out' && step.part === 'ROM');
    expect(upTo).toBeGreaterThan(0);
    execFileSync(process.execPath, [bin, 'done', ...steps.slice(0, upTo).map((step) => step.id), '--project', folder]);
    await page.keyboard.press('6');
    const text = (): Promise<string> => page.locator('.bench').evaluate((node) => node.textContent ?? '');
    const seen: string[] = [];
    await expect.poll(text).toMatch(/ROM|Power off/);
    for (let i = 0; i < 90; i++) {
      const now = await text();
      const step = steps.slice(upTo, upTo + 80).find((item) => now.includes(item.text.slice(0, 30)));
      if (step !== undefined) seen.push(step.do);
      if (seen.includes('refit')) break;
      await page.keyboard.press('Space');
      await page.waitForFunction((was) => document.querySelector('.bench')?.textContent !== was, now);
    }
    expect(seen.filter((what, i) => seen.indexOf(what) === i)).toEqual(
      expect.arrayContaining(['take-out', 'program', 'refit']),
    );
    await page.keyboard.press('Escape');
    await go(page, 'Record');
    await page.getByRole('button', { name: 'journal', exact: true }).click();
    const png = 'iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR42mNoAAAAggCByxOyYQAAAABJRU5ErkJggg==';
    await page
      .locator('input[type=file]')
      .setInputFiles({ name: 'bench.png', mimeType: 'image/png', buffer: Buffer.from(png, 'base64') });
    await page.locator('.sheet img').first().waitFor();
    const kept = (json('journal', folder).records as { act: string; file?: string }[]).find(
      (item) => item.act === 'photo',
    );
    expect(existsSync(join(folder, 'builds/first', kept!.file!))).toBe(true);
  },
);

journey(
  'a change of the machine shows as rework on wired boards, from any editor, and Build leads through it',
  async () => {
    const folder = demo();
    const all = json('steps', folder, '--stage', '2').steps as { id: string }[];
    execFileSync(process.execPath, [bin, 'done', ...all.map((step) => step.id), '--project', folder]);
    const { page } = await open(folder, { hash: '#build~2' });
    await expect.poll(() => page.locator('.bench').textContent()).toContain('All steps up to this stage are done');
    // Another editor: the reset button goes.
    const file = join(folder, 'machine.yaml');
    const before = readFileSync(file, 'utf8');
    const after = before
      .replace(/^ {2}RESET-BUTTON:.*\n/m, '')
      .replace('adds: [SUP, RESET-BUTTON]', 'adds: [SUP]')
      .replace(/^.*press: RESET-BUTTON.*\n/m, '');
    expect(after).not.toContain('RESET-BUTTON');
    writeFileSync(file, after);
    await expect.poll(() => page.locator('.bench').textContent()).not.toContain('All steps up to this stage are done');
    execFileSync(process.execPath, [bin, 'lay', folder]);
    await expect.poll(() => page.locator('.bench').textContent(), { timeout: 20_000 }).toMatch(/take out|Take out/);
    for (let i = 0; i < 40; i++) {
      const now = await page.locator('.bench').evaluate((node) => node.textContent ?? '');
      if (now.includes('All steps up to this stage are done')) break;
      await page.keyboard.press('Space');
      await page.waitForFunction((was) => document.querySelector('.bench')?.textContent !== was, now);
    }
    expect(await page.locator('.bench').textContent()).toContain('All steps up to this stage are done');
    expect(json('steps', folder, '--stage', '2').left).toBe(0);
    const built = new Set(
      (json('journal', folder).records as { act: string; text?: string }[]).map((item) => item.text),
    );
    expect([...built].some((text) => text?.startsWith('Take out RESET-BUTTON'))).toBe(true);
  },
);

journey('the whole demo: from an empty folder over its layout to the last stage, one key at a time', async () => {
  const folder = join(home(), 'whole');
  mkdirSync(folder);
  const { page } = await open(folder);
  await page.getByRole('button', { name: /begin with Tide clerk/ }).click();
  await page.getByRole('button', { name: 'lay it out' }).click();
  await page.locator('.canvas .layer.base .pb-wire').first().waitFor({ state: 'attached', timeout: 90_000 });
  await page.keyboard.press('6');
  await go(page, 'Build');
  await page.locator('.bench footer').waitFor();
  let powered = 0;
  let presses = 0;
  for (; presses < 900; presses++) {
    const now = await page.locator('.bench').evaluate((node) => node.textContent ?? '');
    if (now.includes('All steps up to this stage are done')) break;
    if (now.includes('Power on for')) powered++;
    await page.keyboard.press('Space');
    await page.waitForFunction((was) => document.querySelector('.bench')?.textContent !== was, now);
  }
  expect(presses).toBeGreaterThan(250);
  expect(powered).toBeGreaterThanOrEqual(6);
  const left = json('steps', folder);
  expect(left.left).toBe(0);
  expect(left.built.wires).toBe(
    layoutOf(folder).wires.filter((wire) => (wire as { until?: number }).until === undefined).length,
  );
  await page.keyboard.press('Escape');
  await expect.poll(() => page.locator('.who ul').textContent()).toContain('proved to 6');
});
