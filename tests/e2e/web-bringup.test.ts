// Bring-up in a real browser: a capture that is right, one with two wires exchanged, and one that makes no sense; from the place to
// its mending; channels told once; files that are no captures; keys and accessibility.

import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';
import type { Capture } from '../../src/bringup/index.ts';
import { csvOf, vcdOf } from '../support/capture-files.ts';
import { measured, wiresOf } from '../support/measured.ts';
import { axe, bin, useWorkbench } from '../support/workbench.ts';

const { demo, home, journey, open } = useWorkbench();

const NETS = [
  'cpu-clock',
  '/reset',
  '/RD',
  '/WR',
  '/M1',
  '/MREQ',
  '/IORQ',
  'A1',
  'A0',
  ...Array.from({ length: 8 }, (_, k) => `D${7 - k}`),
];

function file(name: string, text: string): string {
  mkdirSync(join(home(), 'captures'), { recursive: true });
  const path = join(home(), 'captures', name);
  writeFileSync(path, text);
  return path;
}

async function drop(page: Page, path: string): Promise<void> {
  await page.locator('.bu-drop input[type=file]').setInputFiles(path);
}

/** Waits for the verdict on what was dropped; trying takes long on a busy machine. */
async function verdict(page: Page): Promise<string | null> {
  await page.locator('.bu-verdict h2').waitFor({ timeout: 150_000 });
  return page.locator('.bu-verdict h2').textContent();
}
const LONG = 240_000;

const check = async (page: Page): Promise<void> => {
  await page.evaluate(axe);
  const violations = await page.evaluate(async () => {
    const run = (
      globalThis as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }
    ).axe;
    return (await run.run()).violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' ')}`);
  });
  expect(violations).toEqual([]);
};

journey(
  'it was right: what to measure, the capture beside the prediction, and what that proves',
  async () => {
    const path = file('right.vcd', vcdOf(measured('tide-clerk', { stage: 4, nets: NETS, seed: 31, halfClocks: 5000 })));
    const { page } = await open(demo(), { hash: '#bring-up~4', width: 1600, height: 1000 });
    await page.locator('.bu-host canvas').waitFor();
    await expect.poll(() => page.locator('.bu-measure tbody tr').count()).toBe(12);
    // The leads of the machine file, each with its hole and what it should show.
    await expect
      .poll(() => page.locator('.bu-measure tbody tr').nth(8).textContent())
      .toMatch(/cpu-clock.*\d:\d+[a-j].*3\.686 MHz, high 50 %/);
    await drop(page, path);
    expect(await verdict(page)).toBe('Right, in the part exercised');
    expect(await page.locator('.bu-about').textContent()).toContain('Laid by the edges of its clock, with certainty.');
    expect(await page.locator('.bu-channels summary').textContent()).toBe('17 channels, all told');
    // Keys: the cursor steps from change to change, and says every level.
    await page.locator('.bu-host').focus();
    await page.keyboard.press('Shift+ArrowRight');
    await expect.poll(() => page.locator('.bu-at').textContent()).toMatch(/^since reset, clock .*\/RD (?:low|high) · /);
    await page.keyboard.press('m');
    await page.keyboard.press('Shift+ArrowRight');
    await expect.poll(() => page.locator('.bu-at').textContent()).toContain('from the mark');
    await page.keyboard.press('f');
    await check(page);
  },
  LONG,
);

journey(
  'one wire: the first difference, places on the boards, and from one to its mending in Build',
  async () => {
    const wires = ['A0', 'A1'].map((net) => wiresOf('tide-clerk', net, 4)[0]!) as [string, string];
    const path = file(
      'wrong.csv',
      csvOf(measured('tide-clerk', { stage: 4, nets: NETS, seed: 32, halfClocks: 5000, exchanged: wires })),
    );
    const folder = demo();
    const steps = JSON.parse(
      execFileSync(process.execPath, [bin, 'steps', folder, '--stage', '4', '--json'], { encoding: 'utf8' }),
    ).value.steps as { id: string; group: string }[];
    const ids = steps.filter(({ group }) => group !== 'proofs').map(({ id }) => id);
    execFileSync(process.execPath, [bin, 'done', ...ids, '--project', folder, '--stage', '4']);
    const { page } = await open(folder, { hash: '#bring-up~4', width: 1024, height: 768, slate: true });
    await page.locator('.bu-host canvas').waitFor();
    await drop(page, path);
    expect(await verdict(page)).toBe('Which wire is it?');
    expect(await page.locator('.bu-verdict > p').first().textContent()).toMatch(/ clocks after reset\.$/);
    await page.getByRole('button', { name: 'first difference' }).click();
    await expect.poll(() => page.locator('.bu-at').textContent()).toContain(', not ');
    await page.locator('.bu-boards svg').waitFor();
    // A meter leads on: what was typed is taken, and what can't be read is said.
    await page.locator('.bu-ask').waitFor({ timeout: 150_000 });
    const line = page.locator('.bu-said input');
    await line.fill('the tide is late');
    await page.keyboard.press('Enter');
    await expect.poll(() => page.locator('.bu-next [role=alert]').textContent()).toContain("can't be read");
    await line.fill('A15 stuck low');
    await page.keyboard.press('Enter');
    await expect.poll(() => page.locator('.bu-answers').textContent()).toBe('A15 stuck low');
    expect(await page.locator('.bu-next [role=alert]').count()).toBe(0);
    const place = page.locator('.bu-place', { hasText: /wire A[01] / }).first();
    await place.click();
    expect(await place.textContent()).toMatch(/step \d+/);
    await expect.poll(() => page.locator('.bu-boards figcaption').textContent()).toMatch(/^wire A[01] from /);
    await check(page);
    await page.getByRole('button', { name: 'it is this: mend it' }).click();
    await page.locator('.bench footer').waitFor();
    const journal = readFileSync(join(folder, 'builds/first/journal.jsonl'), 'utf8')
      .trim()
      .split('\n')
      .map((line) => JSON.parse(line).act as string);
    expect(journal.slice(-2)).toEqual(['fault', 'undo']);
    // The step is to be done again; power goes off before hands go in.
    await expect.poll(() => page.locator('.bench').textContent()).toMatch(/off|A[01]/i);
  },
  LONG,
);

journey(
  'a capture that shows no sense, its channels told once; a file that is no capture; put away again',
  async () => {
    const right = measured('tide-clerk', { stage: 4, nets: NETS, seed: 33, halfClocks: 5000 });
    // Two things at once: reset twitches for a clock now and then, and what is on the data lines has nothing to do with the strobes.
    const odd: Capture = {
      ...right,
      channels: right.channels.map((channel, k) => {
        const bit = NETS[k]!.startsWith('D') ? Number(NETS[k]!.slice(1)) : -1;
        if (NETS[k] === '/reset') {
          const before = channel.times.filter((time) => time < 4e-5);
          const pulses = Array.from({ length: 240 }, (_, j) => 4e-5 + (j >> 1) * 5.3e-6 + (j & 1) * 3.5e-7);
          const levels = [...channel.levels.slice(0, before.length), ...pulses.map((_, j) => j & 1)];
          return { name: `CH${k}`, times: Float64Array.from([...before, ...pulses]), levels: Uint8Array.from(levels) };
        }
        if (bit < 0) return { ...channel, name: `CH${k}` };
        const step = 1.1e-6 * 2 ** (bit % 4) * (1 + bit / 10);
        const count = Math.floor(right.end / step);
        return {
          name: `CH${k}`,
          times: Float64Array.from({ length: count }, (_, j) => j * step),
          levels: Uint8Array.from({ length: count }, (_, j) => j & 1),
        };
      }),
    };
    const path = file('odd.vcd', vcdOf(odd));
    const folder = demo();
    const told = join(folder, 'builds/first/captures/channels.json');
    mkdirSync(join(folder, 'builds/first/captures'), { recursive: true });
    const channels = NETS.map((net, k) => ({ channel: `CH${k}`, net })).filter((_, k) => k !== 3);
    writeFileSync(told, JSON.stringify({ format: 'proofboard/channels/1', channels }));
    const { page } = await open(folder, { hash: '#bring-up~5', width: 1280, height: 900 });
    await page.locator('.bu-host canvas').waitFor();
    await drop(page, file('letter.txt', 'Dear harbour master,\nthe tide is late.\n'));
    await expect.poll(() => page.locator('.bu-drop [role=alert]').textContent()).toContain('no rows of levels');
    await page.keyboard.press('4');
    await page.locator('.bu-host canvas').waitFor();
    await drop(page, path);
    await expect.poll(() => page.locator('.bu-channels summary').textContent()).toBe('17 channels, all told');
    // One that its place among the leads told wrongly, as the names are the instrument's own.
    await page.locator('.bu-channels summary').click();
    await page.getByLabel('Net of channel CH3', { exact: true }).selectOption('/WR');
    await expect.poll(() => page.locator('.bu-channels summary').textContent()).toBe('17 channels, all told');
    // Whatever it is called, it is not called right.
    expect(await verdict(page)).not.toContain('Right');
    const kept = (): { channel: string; net: string }[] => JSON.parse(readFileSync(told, 'utf8')).channels;
    await expect.poll(() => kept().find(({ channel }) => channel === 'CH3')?.net).toBe('/WR');
    expect(kept().length).toBe(NETS.length);
    await check(page);
    await page.getByRole('button', { name: 'put it away' }).click();
    await expect.poll(() => page.locator('.bu-verdict').count()).toBe(0);
    await expect.poll(() => page.locator('.bu-hd h2').textContent()).toBe('What should be seen: memory');
  },
);
