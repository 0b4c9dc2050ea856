// The workbench in a real browser over the real server and a real project on the disk: a journey for each place, keys alone,
// accessibility, and no error in the console.

import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect } from 'vitest';
import { axe, bin, useWorkbench } from '../support/workbench.ts';

const { browser, demo, go, home, journey, keep, listen, open, serve } = useWorkbench();

journey(
  'Boards: a net chosen in the find box is shown everywhere; a stage turns the drawing; a press selects a part',
  async () => {
    const { page } = await open(demo());
    await page.locator('.canvas .layer.base svg').waitFor();
    await page.keyboard.press('6');
    await page.keyboard.press('/');
    await page.keyboard.type('/RD');
    await page.locator('[role=option]').first().waitFor();
    await page.keyboard.press('Enter');
    await expect.poll(() => page.locator('h2.name').first().textContent()).toBe('/RD');
    await page.locator('.canvas .layer.over .pb-wire.on').first().waitFor({ state: 'attached' });
    expect(await page.locator('.canvas.chosen').count()).toBe(1);
    const before = await page.locator('.layer.base .pb-wire').count();
    await page.keyboard.press('2');
    await expect.poll(() => page.locator('.st.sel .nm').textContent()).toContain('clock');
    await expect.poll(() => page.locator('.layer.base .pb-wire').count()).toBeLessThan(before);
    await page.keyboard.press('6');
    await page.getByRole('button', { name: 'let go' }).first().click();
    await expect.poll(() => page.locator('.layer.base .pb-wire').count()).toBeGreaterThan(100);
    const body = page.locator('.layer.base [data-part=CPU] .ref').first();
    await body.click({ force: true });
    await expect.poll(() => page.locator('h2.name').first().textContent()).toBe('CPU');
    expect(await page.locator('.pins tbody tr').count()).toBe(40);
  },
);

journey('Boards: a part is moved by keys, kept as one command, taken back and done again', async () => {
  const folder = demo();
  const layout = join(folder, 'builds/first/layout.json');
  const choices = join(folder, 'builds/first/boards.yaml');
  const before = readFileSync(layout, 'utf8');
  const { page } = await open(folder, { hash: '#boards~6~part=OSC' });
  await page.locator('h2.name', { hasText: 'OSC' }).waitFor();
  await page.locator('.canvas').focus();
  // Wherever there is room nearby.
  const keep = page.getByRole('button', { name: 'keep it there' });
  for (const key of [
    'Shift+ArrowRight',
    'Shift+ArrowLeft',
    'Shift+ArrowLeft',
    'Shift+ArrowDown',
    'Shift+ArrowUp',
    'Shift+ArrowUp',
  ]) {
    await page.keyboard.press(key);
    await page.locator('.ghost').waitFor();
    await expect.poll(() => page.locator('section.ruled p').textContent()).not.toContain('laying its wires');
    if (await keep.isEnabled()) break;
  }
  await keep.click();
  await expect.poll(() => existsSync(choices) && readFileSync(choices, 'utf8').includes('OSC')).toBe(true);
  await expect.poll(() => readFileSync(layout, 'utf8') !== before).toBe(true);
  const moved = readFileSync(layout, 'utf8');
  await page.getByRole('button', { name: 'undo' }).click();
  await expect.poll(() => readFileSync(layout, 'utf8') === before).toBe(true);
  expect(existsSync(choices)).toBe(false);
  await page.getByRole('button', { name: 'redo' }).click();
  await expect.poll(() => readFileSync(layout, 'utf8') === moved).toBe(true);
});

journey(
  'Build: Space enters a step, Backspace takes it back, V goes over the group, and another window sees it',
  async () => {
    const folder = demo();
    const { page, context, url } = await open(folder, { hash: '#build~1' });
    const other = await context.newPage();
    listen(other);
    await other.goto(new URL('/#boards~1', url).href);
    await other.locator('.st.sel').waitFor();
    const journal = join(folder, 'builds/first/journal.jsonl');
    const lines = (): number => (existsSync(journal) ? readFileSync(journal, 'utf8').trim().split('\n').length : 0);
    await page.locator('.bench footer').waitFor();
    await expect.poll(() => page.locator('.bench header').textContent()).toContain('step 1 of');
    await page.keyboard.press('Space');
    await expect.poll(lines).toBe(2);
    await expect.poll(() => page.locator('.bench header').textContent()).toContain('step 2 of');
    await page.keyboard.press('Space');
    await expect.poll(lines).toBe(3);
    await expect.poll(() => other.locator('.st.sel .is').textContent()).toContain('2 of');
    await page.keyboard.press('v');
    await expect.poll(() => page.locator('.bench header').textContent()).toContain('hole by hole 1');
    await page.keyboard.press('x');
    await expect.poll(lines).toBe(5);
    await expect.poll(() => page.locator('.bench header').textContent()).toContain('step 2 of');
    await page.keyboard.press('Space');
    await expect.poll(lines).toBe(7); // done again, and so mended
    const acts = readFileSync(journal, 'utf8').trim().split('\n');
    expect(acts.map((line) => JSON.parse(line).act)).toEqual(['open', 'done', 'done', 'fault', 'undo', 'done', 'mend']);
    await page.keyboard.press('Backspace');
    await expect.poll(lines).toBe(8);
    await expect.poll(() => page.locator('.bench header').textContent()).toContain('step 2 of');
    expect(JSON.parse(readFileSync(journal, 'utf8').trim().split('\n').at(-1)!).act).toBe('undo');
    const progress = JSON.parse(execFileSync(process.execPath, [bin, 'steps', folder, '--json'], { encoding: 'utf8' }));
    expect(progress.value.built.steps).toBe(1);
  },
);

journey(
  'Intent: findings follow the typing and mend themselves by their fix; completion knows the pins; rename is proved',
  async () => {
    const folder = demo(false);
    const { page } = await open(folder, { hash: '#intent', height: 3000 });
    const machine = join(folder, 'machine.yaml');
    await page.locator('.cm-content').click();
    await page.keyboard.press('Control+End');
    await page.keyboard.type('\nwires-of-mine: 3');
    await page.locator('.cm-under.error').first().waitFor();
    await expect.poll(() => readFileSync(machine, 'utf8')).toContain('wires-of-mine');
    await expect.poll(() => page.locator('.places .cnt.fault').first().textContent()).toContain('1');
    for (let i = 0; i < 'wires-of-mine: 3'.length; i++) await page.keyboard.press('Backspace');
    await expect.poll(() => page.locator('.cm-under.error').count()).toBe(0);
    await page.keyboard.press('Control+Home');
    await page.locator('.cm-line', { hasText: '/reset: [CPU./RESET]' }).click();
    await page.keyboard.press('End');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.type(', CPU.');
    await expect.poll(() => page.locator('.cm-tooltip-autocomplete').textContent()).toContain('pin 26');
    await page.keyboard.press('Escape');
    for (let i = 0; i < ', CPU.'.length; i++) await page.keyboard.press('Backspace');
    await expect.poll(() => page.locator('.cm-under.error').count()).toBe(0);
    await page.locator('.cm-line', { hasText: 'OSC:' }).first().click();
    await page.keyboard.press('Home');
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('F2');
    await page.locator('.expands input').fill('CRYSTAL');
    await page.keyboard.press('Enter');
    await expect.poll(() => readFileSync(machine, 'utf8')).toContain('CRYSTAL.OUT');
    expect(readFileSync(machine, 'utf8')).not.toMatch(/\bOSC\b/);
    await expect.poll(() => page.locator('.cm-content').textContent()).toContain('CRYSTAL');
  },
);

journey(
  'an edit made elsewhere appears at once in the text and in the findings; a clash is put to the person',
  async () => {
    const folder = demo(false);
    const { page } = await open(folder, { hash: '#intent' });
    const machine = join(folder, 'machine.yaml');
    const text = readFileSync(machine, 'utf8');
    await page.locator('.cm-content').waitFor();
    writeFileSync(machine, text.replace('machine: Tide clerk', 'machine: Tide keeper'));
    await expect.poll(() => page.locator('.who h1').textContent()).toBe('Tide keeper');
    expect(await page.locator('.cm-content').textContent()).toContain('Tide keeper');
    await go(page, 'Findings');
    await page.locator('.findings').waitFor();
    const before = await page.locator('.fi').count();
    writeFileSync(machine, text.replace('[CPU./RESET]', '[CPU./RESETT]'));
    await expect.poll(() => page.locator('.findings').textContent()).toContain('RESETT');
    writeFileSync(machine, text);
    await expect.poll(() => page.locator('.findings').textContent()).not.toContain('RESETT');
    await expect.poll(() => page.locator('.fi').count()).toBe(before);
    // Both at once: the page has not saved yet when the other program writes.
    await go(page, 'Intent');
    await page.locator('.cm-content').click();
    await page.keyboard.press('Control+Home');
    await page.keyboard.type('# mine\n');
    writeFileSync(machine, `# theirs\n${text}`);
    await page.locator('.conflict').waitFor();
    expect(readFileSync(machine, 'utf8')).toBe(`# theirs\n${text}`);
    await page.getByRole('button', { name: 'keep what is here' }).click();
    await expect.poll(() => readFileSync(machine, 'utf8')).toBe(`# mine\n${text}`);
    expect(await page.locator('.conflict').count()).toBe(0);
  },
);

journey('Findings: a warning is waived with a reason, and the waiver is in the file', async () => {
  const folder = demo(false);
  const machine = join(folder, 'machine.yaml');
  writeFileSync(machine, readFileSync(machine, 'utf8').replace('INTR: open', 'INTR: uart-interrupt'));
  const { page } = await open(folder, { hash: '#findings' });
  await page.locator('.fi').first().waitFor();
  const waive = page.getByRole('button', { name: 'waive it' });
  expect(await waive.count()).toBeGreaterThan(0);
  const before = await page.locator('.fi').count();
  await waive.first().click();
  await page.locator('.fi input').fill('The interrupt comes later');
  await page.keyboard.press('Enter');
  await expect.poll(() => readFileSync(machine, 'utf8')).toContain('The interrupt comes later');
  await expect.poll(() => page.locator('.groupname', { hasText: 'waived' }).count()).toBe(1);
  expect(await page.locator('.fi').count()).toBe(before);
});

journey('Record: the book, a wire list as CSV, a drawing as SVG, a note in the journal', async () => {
  const folder = demo();
  const { page } = await open(folder, { hash: '#record~6' });
  await page.locator('.book #drawings svg').first().waitFor();
  const take = async (name: string): Promise<string> => {
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name }).click()]);
    return readFileSync(await download.path(), 'utf8');
  };
  const csv = (await take('wire list, CSV')).trim().split('\r\n');
  expect(csv[0]).toBe('wire,net,from,to,cut mm,colour,style,stage,state');
  const laid = JSON.parse(readFileSync(join(folder, 'builds/first/layout.json'), 'utf8')) as {
    wires: { until?: number }[];
  };
  expect(csv.length - 1).toBeGreaterThan(laid.wires.length / 2);
  expect(await take('boards, SVG')).toMatch(/^<svg xmlns="http:\/\/www.w3.org\/2000\/svg"/);
  expect((await take('the book, PDF')).slice(0, 5)).toBe('%PDF-');
  expect(await take('the book, HTML')).toContain('<section id="wires">');
  await page.getByRole('button', { name: 'journal', exact: true }).click();
  await page.getByLabel('A note for the record').fill('Boards screwed to the plank');
  await page.keyboard.press('Enter');
  await expect.poll(() => page.locator('.sheet tbody').textContent()).toContain('screwed to the plank');
});

journey('an empty folder becomes a drawing in two presses, and is built by one key to the last stage', async () => {
  const folder = join(home(), 'empty');
  mkdirSync(folder);
  const { page } = await open(folder);
  await page.getByRole('button', { name: /begin with First machine/ }).click();
  await page.getByRole('button', { name: 'lay it out' }).click();
  await page.locator('.canvas .layer.base .pb-wire').first().waitFor({ state: 'attached', timeout: 40_000 });
  expect(existsSync(join(folder, 'builds/first/layout.json'))).toBe(true);
  expect(await page.locator('.st').count()).toBe(4);
  await page.keyboard.press('4');
  await go(page, 'Build');
  await page.locator('.bench footer').waitFor();
  const shown = (): Promise<string> => page.locator('.bench').evaluate((node) => node.textContent ?? '');
  let powered = 0;
  let touches = 0;
  for (let i = 0; i < 400; i++) {
    const before = await shown();
    if (before.includes('All steps up to this stage are done')) break;
    if (touches === 0 && (await page.locator('.bench header').textContent())?.includes('meter check')) {
      // One reading is typed; the rest is taken as done.
      await page.locator('.touches input').fill('open');
      await page.keyboard.press('Enter');
      await page.locator('.touches li', { hasText: 'right' }).first().waitFor();
      touches++;
      await page.locator('.bench').focus();
    }
    if (before.includes('Power on for')) {
      powered++;
      await page.locator('.caution li').first().waitFor();
    }
    await page.keyboard.press('Space');
    await page.waitForFunction((text) => document.querySelector('.bench')?.textContent !== text, before);
  }
  expect(await shown()).toContain('All steps up to this stage are done');
  expect(powered).toBeGreaterThanOrEqual(3);
  expect(touches).toBe(1);
  const left = JSON.parse(execFileSync(process.execPath, [bin, 'steps', folder, '--json'], { encoding: 'utf8' }));
  expect(left.value.left).toBe(0);
  await page.keyboard.press('Escape');
  await expect.poll(() => page.locator('.who ul').textContent()).toContain('proved to 4');
});

journey('the server ends and comes back: the window goes on, and nothing is lost', async () => {
  const folder = demo(false);
  const { page, child, url } = await open(folder, { hash: '#intent', allowed: /WebSocket|ERR_CONNECTION_REFUSED/ });
  const machine = join(folder, 'machine.yaml');
  await page.locator('.cm-content').click();
  child.kill('SIGKILL');
  await expect.poll(() => page.locator('.notice').textContent()).toContain('away');
  await page.keyboard.press('Control+Home');
  await page.keyboard.type('# kept while the server was away\n');
  await page.waitForTimeout(600);
  expect(readFileSync(machine, 'utf8')).not.toContain('kept while');
  const again = await serve(folder, Number(new URL(url).port));
  keep({ child: again.child, context: await browser().newContext() });
  await expect
    .poll(() => readFileSync(machine, 'utf8'), { timeout: 15_000 })
    .toContain('kept while the server was away');
  await expect.poll(() => page.locator('.notice .lost').count(), { timeout: 15_000 }).toBe(0);
});

for (const slate of [false, true]) {
  const ground = slate ? 'slate' : 'paper';
  journey(`every place is free of accessibility faults on ${ground}, and at a phone`, async () => {
    const { page } = await open(demo(), { slate, hash: '#boards~4~net=/RD' });
    await page.evaluate(axe);
    const look = async (name: string): Promise<void> => {
      await page.waitForTimeout(150);
      const found = (await page.evaluate('axe.run(document, { resultTypes: ["violations"] })')) as {
        violations: { id: string; nodes: { html: string }[] }[];
      };
      expect(found.violations.map((item) => `${name}, ${item.id}: ${item.nodes[0]?.html.slice(0, 160)}`)).toEqual([]);
    };
    await page.locator('.layer.base svg').waitFor();
    await look('boards');
    for (const place of ['Intent', 'Findings', 'Record']) {
      await go(page, place);
      await look(place);
    }
    await go(page, 'Build');
    await page.locator('.bench footer').waitFor();
    await look('build');
    await page.keyboard.press('l');
    await look('build list');
    await page.keyboard.press('Escape');
    await page.keyboard.press('Escape');
    await page.goto(new URL('/#boards~4~part=SEL', page.url()).href);
    await page.locator('.pins').waitFor();
    await look('boards with a part');
    await page.setViewportSize({ width: 390, height: 844 });
    await look('phone');
  });
}

journey(
  'the desk: another build of the machine is begun and chosen, and a second device follows over TLS',
  async () => {
    const folder = demo();
    const { page, context } = await open(folder, { width: 1600 });
    const desk = page.locator('.desk > button');
    await expect.poll(() => desk.textContent()).toContain('first');
    await desk.click();
    await page.getByLabel('a further build, by the name').fill('hers');
    await page.getByRole('button', { name: 'begin', exact: true }).click();
    await expect.poll(() => desk.textContent()).toContain('hers');
    await desk.click();
    await page.getByRole('button', { name: 'show first' }).click();
    await expect.poll(() => desk.textContent()).toBe('build first');

    await desk.click();
    await page.getByRole('button', { name: 'let a second device in' }).click();
    const link = page.locator('.desk figcaption a').first();
    const address = (await link.getAttribute('href'))!;
    expect(await page.locator('.desk .print').textContent()).toMatch(/^(?:[0-9A-F]{2}:){31}[0-9A-F]{2}$/);
    await page.evaluate(axe);
    const faults = await page.evaluate(async () =>
      // biome-ignore lint/suspicious/noExplicitAny: the checker puts itself on the window
      (await (window as any).axe.run('.desk')).violations.map((item: { id: string }) => item.id),
    );
    expect(faults).toEqual([]);

    const other = await browser().newContext({ ignoreHTTPSErrors: true, viewport: { width: 1024, height: 768 } });
    const tablet = await other.newPage();
    listen(tablet);
    await tablet.goto(address);
    await tablet.locator('.st.sel').waitFor();
    expect(new URL(tablet.url()).search).toBe('');
    expect(await tablet.evaluate(() => window.isSecureContext && 'wakeLock' in navigator)).toBe(true);
    const machine = join(folder, 'machine.yaml');
    writeFileSync(machine, readFileSync(machine, 'utf8').replace('machine: Tide clerk', 'machine: Tide keeper'));
    await expect.poll(() => tablet.title()).toContain('Tide keeper');
    await expect.poll(() => page.title()).toContain('Tide keeper');
    await other.close();
    await page.getByRole('button', { name: 'shut it out' }).click();
    await page.getByRole('button', { name: 'let a second device in' }).waitFor();
    await context.close();
  },
);
