// Another person builds the same machine: a build of its own with its own layout, stock, substitutes, journal and photos;
// a change of the machine shows as steps in each build.

import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync, mkdirSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
let folder: string;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'proofboard-repeat-'));
  cpSync('data/templates/first-machine', folder, { recursive: true });
}, 240_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

// biome-ignore lint/suspicious/noExplicitAny: a contract read as a script would read it
function json(...args: string[]): any {
  const result = spawnSync(process.execPath, [bin, ...args, '--project', folder, '--json'], { encoding: 'utf8' });
  return { code: result.status, ...JSON.parse(result.stdout) };
}

test('two builds of one machine keep apart, and a substitute goes through everything', () => {
  expect(json('lay', '--build', 'hers', '--moves', '2000').code).toBe(0);
  mkdirSync(join(folder, 'builds/his'), { recursive: true });
  writeFileSync(
    join(folder, 'builds/his/stock.yaml'),
    'instead:\n  - { part: SUP, type: DS1233M-5, why: it was in the drawer }\n',
  );
  const his = json('lay', '--build', 'his', '--moves', '2000', '--seed', '7');
  expect(his.value.parts.find((part: { part: string }) => part.part === 'SUP').type).toBe('DS1233M-5');
  expect(
    json('steps', '--build', 'hers').value.steps.some((step: { type?: string }) => step.type === 'DS1233-10'),
  ).toBe(true);
  expect(json('steps', '--build', 'his').value.steps.some((step: { type?: string }) => step.type === 'DS1233M-5')).toBe(
    true,
  );
  expect(json('steps').code).toBe(2); // which of the two?
  const first = json('steps', '--build', 'hers').value.steps[0].id;
  json('done', first, '--build', 'hers');
  expect(json('journal', '--build', 'hers').value.records.map((record: { act: string }) => record.act)).toEqual([
    'open',
    'done',
  ]);
  expect(json('journal', '--build', 'his').value.records).toEqual([]);
});

test('a substitute that is wrong is found, and one for no part is named', () => {
  writeFileSync(join(folder, 'builds/his/stock.yaml'), 'instead:\n  - { part: SUPP, type: DS1233M-5 }\n');
  const steps = json('steps', '--build', 'his');
  expect(steps.findings.find((finding: { code: string }) => finding.code === 'stock/unknown-part').message).toContain(
    'did you mean SUP',
  );
  rmSync(join(folder, 'builds/his/stock.yaml'));
});

test('a change of the machine shows as steps in each build', () => {
  const file = join(folder, 'machine.yaml');
  writeFileSync(
    file,
    readFileSync(file, 'utf8')
      .replace('adds: [CPU, LAMP]', 'adds: [CPU, LAMP, LAMP2]')
      .replace('  LAMP: {', '  LAMP2: { type: led, through: 1 kohm, pins: { A: A14, K: GND } }\n  LAMP: {'),
  );
  for (const build of ['hers', 'his']) {
    expect(
      json('steps', '--build', build).findings.some(
        (finding: { code: string }) => finding.code === 'layout/out-of-date',
      ),
    ).toBe(true);
    json('lay', '--build', build, '--moves', '2000');
    expect(json('steps', '--build', build).value.steps.some((step: { part?: string }) => step.part === 'LAMP2')).toBe(
      true,
    );
  }
});

test('loose jumpers first, a second look, a photo, and the journal for other programs', () => {
  const jumpers = json('steps', '--build', 'his', '--fit', 'jumpers').value.steps as { style?: string; do: string }[];
  expect(jumpers.filter((step) => step.do === 'wire').every((step) => step.style === 'jumper')).toBe(true);
  const rows = json('over', '--build', 'his', '--stage', '1').value.rows as { hole: string; journal: string | null }[];
  expect(rows.length).toBeGreaterThan(10);
  expect(rows.every((row) => row.journal === 'nothing')).toBe(true);
  expect(json('over', '--build', 'his', '--group', 'nonsense').code).toBe(2);
  const photo = join(folder, 'board.png');
  writeFileSync(photo, 'not looked into');
  expect(json('photo', photo, '--build', 'his', '--text', 'stage 1').code).toBe(0);
  const csv = join(folder, 'journal.csv');
  json('journal', '--build', 'his', '--csv', csv);
  expect(readFileSync(csv, 'utf8')).toContain('photo');
});

test('a proof that failed, a fault and its mending, and a machine that got another name', () => {
  const proof = json('proofs', '--build', 'hers').value.proofs[0];
  expect(json('failed', proof.id, '--found', '3.1 V', '--build', 'hers').value).toEqual({
    recorded: true,
    what: proof.id,
  });
  expect(json('proofs', '--build', 'hers').value.proofs[0].status).toBe('failed');
  expect(json('failed', 'nothing', '--build', 'hers').code).toBe(2);

  expect(json('mended', 'tightened', '--build', 'hers').code).toBe(2); // there is no fault yet
  json('fault', 'one leg of SUP beside its hole', '--about', 'SUP', '--build', 'hers');
  expect(json('mended', 'put in straight', '--build', 'hers').code).toBe(0);
  expect(json('where', '--build', 'hers').value.faults).toMatchObject([
    { text: 'one leg of SUP beside its hole', mended: expect.stringMatching(/^20/) },
  ]);

  const file = join(folder, 'machine.yaml');
  const before = readFileSync(file, 'utf8');
  const old = /^machine: (.*)$/m.exec(before)![1]!;
  writeFileSync(file, before.replace(/^machine: .*$/m, 'machine: Another name'));
  expect(json('where', '--build', 'hers').code).toBe(2);
  expect(json('renamed', '--machine', 'A third machine', '--build', 'hers').code).toBe(2);
  expect(json('renamed', '--machine', old, '--build', 'hers').code).toBe(0);
  const records = json('journal', '--build', 'hers');
  expect(records.code).toBe(0);
  expect(records.value.records.map((record: { act: string }) => record.act)).toEqual(
    expect.arrayContaining(['open', 'fault', 'mend', 'renamed']),
  );
  writeFileSync(file, before);
});
