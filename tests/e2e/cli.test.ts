// The program as it runs: real processes on real folders, the JSON contract, exit codes, and a package that installs elsewhere.

import { execFileSync, spawn, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
let folder: string;
let demo: string;

beforeAll(() => {
  execFileSync(process.execPath, [bin, 'parts', 'Z80', '--json']); // builds what is missing, once
  folder = mkdtempSync(join(tmpdir(), 'proofboard-cli-'));
  demo = join(folder, 'demo');
  cpSync('projects/tide-clerk', demo, { recursive: true, filter: (path) => !path.includes('builds') });
}, 240_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Ran {
  readonly code: number | null;
  readonly out: string;
  readonly err: string;
}

function run(...args: string[]): Ran {
  const result = spawnSync(process.execPath, [bin, ...args], { encoding: 'utf8', cwd: folder });
  return { code: result.status, out: result.stdout, err: result.stderr };
}

interface Document {
  readonly format: string;
  // biome-ignore lint/suspicious/noExplicitAny: a contract read as a script would read it
  readonly value: any;
  readonly findings: readonly {
    code: string;
    severity: string;
    message: string;
    where: readonly { file: string; line: number; column: number; endLine: number; endColumn: number }[];
  }[];
}

function json(...args: string[]): Document & { readonly code: number | null } {
  const ran = run(...args, '--json');
  expect(ran.err).toBe('');
  return { code: ran.code, ...(JSON.parse(ran.out) as Document) };
}

test('check counts the demo and finds nothing wrong', () => {
  const checked = json('check', demo);
  expect(checked.code).toBe(0);
  expect(checked.format).toBe('proofboard/check/1');
  expect(checked.value.counts).toMatchObject({ stages: 6 });
  expect(checked.value.counts.parts).toBeGreaterThanOrEqual(12);
  expect(checked.findings).toEqual([]);
});

test('netlist lists every net, and explains one', () => {
  const nets = json('netlist', demo).value.nets as { name: string; pins: string[]; derived: boolean }[];
  expect(nets.find((net) => net.name === 'A7')?.pins).toEqual(['CPU.A7', 'ROM.A7', 'RAM.A7', 'SEL.I1']);
  expect(nets.find((net) => net.name === 'A7')?.derived).toBe(true);
  const explained = run('netlist', demo, '--explain', 'a7').out;
  expect(explained).toContain('bus main, member ROM');
  expect(explained).toContain('machine.yaml:');
  const missing = run('netlist', demo, '--explain', 'A77');
  expect(missing.code).toBe(2);
  expect(missing.err).toContain('did you mean A7');
});

test('a stage is named by name or number, 0 is the empty bench', () => {
  expect(json('check', demo, '--stage', 'free run').value.counts.parts).toBe(4);
  expect(json('check', demo, '--stage', '0').value.counts.parts).toBe(0);
  const unknown = json('check', demo, '--stage', 'nowhere');
  expect(unknown.code).toBe(2);
  expect(unknown.findings[0]?.code).toBe('cli/no-stage');
});

test('lay, steps, done and undo: a layout, and a journal that counts', () => {
  const nothing = json('steps', demo);
  expect(nothing.code).toBe(2);
  const laid = json('lay', demo, '--moves', '20000');
  expect(laid.code).toBe(0);
  expect(laid.value.parts.find((part: { part: string }) => part.part === 'CPU').pins).toHaveLength(40);
  for (const wire of laid.value.wires) {
    expect(wire.cutMm).toBeGreaterThan(0);
    expect(wire.from.strip).not.toBe('');
    expect(wire.from.strip).not.toBe(wire.to.strip);
  }
  const again = readFileSync(join(demo, 'builds/first/layout.json'), 'utf8');
  json('lay', demo, '--moves', '20000');
  expect(readFileSync(join(demo, 'builds/first/layout.json'), 'utf8')).toBe(again);
  const steps = json('steps', demo);
  expect(steps.value.steps.length).toBeGreaterThan(150);
  const first = steps.value.steps[0];
  const done = json('done', first.id, '--project', demo);
  expect(done.value.left).toBe(steps.value.left - 1);
  const unknown = json('done', 'zzzz', '--project', demo);
  expect(unknown.code).toBe(2);
  const undone = json('undo', demo);
  expect(undone.value.left).toBe(steps.value.left);
  expect(json('undo', demo).code).toBe(2);
});

test('decode writes proved fuse files, and explain reads them back the same', () => {
  const out = join(folder, 'fuses');
  const decoded = json('decode', demo, '--out', out);
  expect(decoded.code).toBe(0);
  const [device] = decoded.value.devices;
  expect(device).toMatchObject({ part: 'SEL', device: '16V8', revision: 3, stage: 6 });
  const explained = json('explain', join(out, 'SEL-r3.jed'), '--device', '16V8');
  expect(explained.findings).toEqual([]);
  const plain = (outputs: { pin: number; terms: unknown; activeLow: boolean }[]) =>
    outputs.map(({ pin, terms, activeLow }) => ({ pin, terms, activeLow }));
  expect(plain(explained.value.outputs)).toEqual(plain(device.outputs));
  const ports = decoded.value.map.spaces.find((space: { name: string }) => space.name === 'ports').segments as {
    from: number;
    to: number;
    state: string;
  }[];
  expect(ports.filter(({ state }) => state !== 'gap').map(({ from, to, state }) => [from, to, state])).toEqual([
    [0x00, 0x07, 'mirror'], // the decoder has no pin left for A4
    [0x10, 0x17, 'mapped'],
    [0x20, 0x20, 'mapped'],
    [0x21, 0x27, 'mirror'],
    [0x28, 0x28, 'mapped'],
    [0x29, 0x2f, 'mirror'],
    [0x30, 0x37, 'mirror'],
    [0x38, 0x3f, 'mirror'],
  ]);
  const early = json('decode', demo, '--stage', 'memory', '--out', out).value.devices[0];
  expect(early.revision).toBe(1);
  expect(json('explain', join(out, 'nothing.jed'), '--device', '16V8').code).toBe(2);
  expect(json('explain', join(out, 'SEL-r3.jed'), '--device', '99V9').code).toBe(2);
});

test('book writes a page and a drawing for each stage', () => {
  const out = join(folder, 'record');
  const book = json('book', demo, '--out', out);
  expect(book.code).toBe(0);
  expect(readdirSync(out).sort()).toEqual([
    'book.pdf',
    'index.html',
    ...[1, 2, 3, 4, 5, 6].map((stage) => `stage-${stage}.svg`),
  ]);
  const page = readFileSync(join(out, 'index.html'), 'utf8');
  expect(page).toContain('<h1>Tide clerk</h1>');
  expect(page).toContain('Who answers where');
  expect(page).toContain('/IORD = ');
});

test('new makes a project that checks clean, and refuses a folder with something in it', () => {
  const made = join(folder, 'made');
  expect(json('new', made).value.files).toContain('machine.yaml');
  const checked = json('check', made);
  expect(checked.findings.filter((finding) => finding.severity === 'error')).toEqual([]);
  expect(json('new', made).code).toBe(2);
  expect(json('new', join(folder, 'other'), '--from', 'tide-clark').findings[0]?.message).toContain(
    'did you mean tide-clerk',
  );
});

test('a broken file gives findings with places, exit code 1, and still what can be derived', () => {
  const broken = join(folder, 'broken');
  json('new', broken);
  const file = join(broken, 'machine.yaml');
  writeFileSync(file, readFileSync(file, 'utf8').replace('CPU.CLK', 'CPU.CLOK').replace('type: led', 'type: lead'));
  const checked = json('check', broken);
  expect(checked.code).toBe(1);
  const unknown = checked.findings.find((finding) => finding.code === 'netlist/unknown-pin');
  expect(unknown?.message).toContain('did you mean CLK');
  expect(unknown?.where[0]).toMatchObject({
    file: 'machine.yaml',
    line:
      readFileSync(file, 'utf8')
        .split('\n')
        .findIndex((line) => line.includes('CLOK')) + 1,
  });
  expect(checked.value.counts.nets).toBeGreaterThan(20);
});

test('what can not be carried out is exit code 2, in JSON too', () => {
  expect(run('check', join(folder, 'nowhere')).code).toBe(2);
  expect(run('check', '--nonsense').code).toBe(2);
  expect(run('frobnicate').code).toBe(2);
  const usage = json('check', '--nonsense');
  expect(usage).toMatchObject({ code: 2, value: null, format: 'proofboard/check/1' });
});

test('open serves the page to its own address and key only', async () => {
  const child = spawn(process.execPath, [bin, 'open', demo, '--json'], { stdio: ['ignore', 'pipe', 'inherit'] });
  try {
    const url = await new Promise<string>((resolve, reject) => {
      let text = '';
      child.stdout.on('data', (part: Buffer) => {
        text += part.toString();
        try {
          resolve((JSON.parse(text) as Document).value.url as string);
        } catch {
          // Not whole yet.
        }
      });
      child.on('exit', () => reject(new Error('the server ended')));
    });
    const first = await fetch(url, { redirect: 'manual' });
    expect([first.status, first.headers.get('location')]).toEqual([302, '/']);
    const cookie = first.headers.get('set-cookie')!.split(';')[0]!;
    const page = await fetch(new URL('/', url), { headers: { cookie } });
    expect(page.status).toBe(200);
    const files = await fetch(new URL('/api/files', url), { headers: { cookie } });
    expect(await files.text()).toContain('Tide clerk');
    expect((await fetch(new URL('/', url))).status).toBe(403);
    expect((await fetch(new URL('/?token=wrong', url))).status).toBe(403);
  } finally {
    child.kill();
  }
});

test('npm pack gives a package that installs and runs elsewhere', () => {
  const packed = spawnSync('npm', ['pack', '--json', '--ignore-scripts', '--pack-destination', folder], {
    encoding: 'utf8',
  });
  const [{ filename }] = JSON.parse(packed.stdout) as [{ filename: string }];
  const elsewhere = mkdtempSync(join(tmpdir(), 'proofboard-pack-'));
  try {
    writeFileSync(join(elsewhere, 'package.json'), '{"private":true}');
    execFileSync('npm', ['install', '--no-fund', '--no-audit', '--prefer-offline', join(folder, filename)], {
      cwd: elsewhere,
      stdio: 'ignore',
    });
    const installed = join(elsewhere, 'node_modules', '.bin', 'proofboard');
    expect(existsSync(installed)).toBe(true);
    execFileSync(installed, ['new', 'clerk', '--from', 'tide-clerk'], { cwd: elsewhere });
    const checked = JSON.parse(
      execFileSync(installed, ['check', 'clerk', '--json'], { cwd: elsewhere, encoding: 'utf8' }),
    ) as Document;
    expect(checked.findings).toEqual([]);
  } finally {
    rmSync(elsewhere, { recursive: true, force: true });
  }
}, 240_000);

test('run: the self-test that is put into the ROM runs from its boards to its good end', () => {
  const ran = json('run', join(process.cwd(), 'projects/tide-clerk'), '--stage', '4');
  expect(ran.value.proofs).toMatchObject([
    { pass: true, predicted: 'the self-test ends at 0x4000: passed', proof: 'self-test passes' },
  ]);
}, 120_000);
