// The contract as a script would hold the program to it: machines invented here, run as processes, and what they print read by
// code that shares nothing with the program (tests/support/contract-check.ts).

import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { checkStage, compareBuilt, type Laid, type Nets, replayJournal } from '../support/contract-check.ts';

const bin = join(process.cwd(), 'bin', 'proofboard.mjs');
let folder: string;

beforeAll(() => {
  spawnSync(process.execPath, [bin, 'parts', 'Z80']); // builds what is missing, once
  folder = mkdtempSync(join(tmpdir(), 'proofboard-contract-'));
}, 240_000);
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Finding {
  readonly code: string;
  readonly severity: string;
  readonly message: string;
  readonly where: readonly { file: string; line: number; column: number; endLine: number; endColumn: number }[];
}

interface Answer {
  readonly code: number | null;
  readonly format: string;
  // biome-ignore lint/suspicious/noExplicitAny: a contract read as a script would read it
  readonly value: any;
  readonly findings: readonly Finding[];
}

/** Runs a verb with --json and holds what it prints to the frame of the contract. */
function json(...args: string[]): Answer {
  const ran = spawnSync(process.execPath, [bin, ...args, '--json'], {
    encoding: 'utf8',
    cwd: folder,
    maxBuffer: 1 << 28,
  });
  expect(ran.stderr).toBe('');
  const document = JSON.parse(ran.stdout) as Omit<Answer, 'code'>;
  expect(Object.keys(document).sort()).toEqual(['findings', 'format', 'value']);
  expect(document.format).toBe(`proofboard/${args[0]}/1`);
  for (const finding of document.findings) {
    expect(['error', 'warning', 'note']).toContain(finding.severity);
    expect(finding.message).not.toMatch(/undefined|\[object|NaN/);
    for (const place of finding.where) {
      expect(place.line).toBeGreaterThanOrEqual(1);
      expect(place.column).toBeGreaterThanOrEqual(1);
      expect(place.endLine).toBeGreaterThanOrEqual(place.line);
    }
  }
  const isWrong = document.findings.some((finding) => finding.severity === 'error');
  if (document.value === null) expect(ran.status).toBe(2);
  else expect(ran.status).toBe(isWrong ? 1 : 0);
  return { code: ran.status, ...document };
}

function project(name: string, files: Readonly<Record<string, string>>): string {
  const root = join(folder, name);
  for (const [path, text] of Object.entries(files)) {
    mkdirSync(dirname(join(root, path)), { recursive: true });
    writeFileSync(join(root, path), text);
  }
  return root;
}

const FERRY = `machine: Ferry cabin
supplies: { main: { volts: 5 V, tolerance: 5 %, limit: 1 A } }
clocks: { cpu: { from: OSC.OUT, rate: 4 MHz } }
parts:
  CPU: { type: Z80, grade: 8 MHz CMOS }
  ROM: { type: 28C256, grade: 150 ns, holds: firmware/ferry.hex, comes-out: true }
  RAM: { type: "628128", grade: 70 ns }
  SEL: { type: 22V10, grade: 15 ns, comes-out: true }
  IOSEL: { type: "74138" }
  MODE: { type: "74273", pins: { Q1: rom-off, Q2: lamp, /CLR: /reset } }
  OSC: { type: oscillator-can, rate: 4 MHz }
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  KEY: { type: push-button, pins: { A: /reset, B: GND } }
  LAMP: { type: led, colour: green, through: 1 kohm, pins: { A: lamp, K: GND } }
  GATE: { type: 74HCT14 }
buses:
  main: { processor: CPU, members: [ROM, RAM, MODE], selects: { memory: SEL, ports: IOSEL } }
memory:
  - { ROM: 32 KiB at 0x0000, when: low(rom-off), access: read }
  - { part: RAM, at: 0x0000, size: 32 KiB, access: write, when: low(rom-off) }
  - { part: RAM, at: 0x0000, size: 32 KiB, when: high(rom-off) }
  - { part: RAM, at: 0x8000, size: 32 KiB, offset: 32 KiB }
ports: [{ MODE: 1 at 0x40 }]
nets: { cpu-clock: [OSC.OUT, CPU.CLK], /reset: [CPU./RESET] }
ties: [{ high: [CPU./INT, CPU./NMI, CPU./WAIT, CPU./BUSREQ], through: 10 kohm }]
stages:
  - { stage: reset, adds: [SUP, KEY] }
  - stage: free run
    adds: [OSC, CPU]
    temporary: [{ hold: D7-D0, at: 0x00, through: 2.2 kohm, until: memory }]
    prove: { expect: free run }
  - { stage: memory, adds: [ROM, RAM, SEL, MODE, IOSEL, LAMP, GATE] }
`;

/** Every stage of a laid machine, held against its nets by other code. */
function heldAgainstNets(root: string, stages: number): string[] {
  const wrong: string[] = [];
  for (let stage = 0; stage <= stages; stage++) {
    const laid = json('lay', root, '--stage', String(stage), '--moves', '20000').value as Laid;
    const nets = json('netlist', root, '--stage', String(stage)).value as Nets;
    wrong.push(...checkStage(laid, nets).map((one) => `stage ${stage}: ${one}`));
  }
  return wrong;
}

test('a RAM written under a ROM: equations, map, and holes against nets at every stage', () => {
  const root = project('ferry', { 'machine.yaml': FERRY });
  expect(json('check', root).findings.filter((finding) => finding.severity !== 'note')).toEqual([]);
  const { devices, map } = json('decode', root).value;
  const nets = new Map(
    (devices[0].inputs as { pin: number; net: string }[]).map(({ pin, net }) => [pin, net] as const),
  );
  const ram = devices[0].outputs.find((output: { net: string }) => output.net === '/RAM');
  const isActive = (levels: Readonly<Record<string, number>>): boolean =>
    (ram.terms as { pin: number; level: number }[][]).some((term) =>
      term.every(({ pin, level }) => levels[nets.get(pin)!] === level),
    ) === ram.activeLow;
  const cycle = { '/MREQ': 0, A15: 0, 'rom-off': 0, '/WR': 1 };
  expect([
    isActive(cycle),
    isActive({ ...cycle, '/WR': 0 }),
    isActive({ ...cycle, 'rom-off': 1 }),
    isActive({ ...cycle, A15: 1 }),
    isActive({ ...cycle, A15: 1, '/MREQ': 1 }),
  ]).toEqual([false, true, true, true, false]);
  expect(map.spaces[0].segments.map((segment: { state: string }) => segment.state)).toEqual(['mapped', 'mapped']);
  expect(heldAgainstNets(root, 3)).toEqual([]);
}, 120_000);

describe('what can not be read', () => {
  test('one slip is one finding, at its place', () => {
    const root = project('slips', {
      'machine.yaml': `machine: Slips
supplies: { main: { volts: 5 V } }
parts:
  A: { type: 74HCT00 }
  B: { type: 28C265 }
  C: { type: 8255 }
nets: { one: [A.1A, A.2A], two: [A.1A, A.2B] }
stages: [{ stage: gates, adds: A }]
`,
    });
    const at = json('check', root).findings.map(
      ({ code, where: [place] }) => `${place?.line}:${place?.column}-${place?.endColumn} ${code}`,
    );
    expect(at).toContain('5:14-20 netlist/unknown-type');
    expect(at.filter((line) => line.startsWith('6:14'))).toEqual(['6:14-18 yaml/misread-value']);
    expect(at.filter((line) => line.includes('nets'))).toEqual(['7:34-38 machine/pin-on-two-nets']);
  });

  test('verbs that plan or note refuse a machine of which nothing can be read, and say why', () => {
    const root = project('nothing', { 'machine.yaml': '- a\n- b\n' });
    expect(json('check', root).findings.map((finding) => finding.code)).toEqual(['yaml/wrong-kind']);
    for (const verb of ['lay', 'steps', 'card', 'shopping', 'where', 'proofs', 'touch', 'book', 'decode'])
      expect(json(verb, root)).toMatchObject({ code: 2, value: null, findings: [{ code: 'yaml/wrong-kind' }] });
    expect(json('note', 'later', '--project', root).code).toBe(2);
  }, 60_000);

  test('a file where a folder is wanted is a finding, not a crash', () => {
    const root = project('blocked', { 'machine.yaml': FERRY, out: 'x' });
    expect(json('book', root, '--out', join(root, 'out', 'book'))).toMatchObject({
      code: 2,
      findings: [{ code: 'cli/file-error' }],
    });
  });

  test('a layout of a machine with errors says so', () => {
    const root = project('errors', {
      'machine.yaml':
        'machine: E\nsupplies: { main: { volts: 5 V } }\nparts: { A: { type: 74HCT00 }, B: { type: 1x } }\n',
    });
    expect(json('lay', root).findings[0]).toMatchObject({ code: 'lay/machine-has-errors', severity: 'warning' });
  });
});

const POINTS = `machine: Points
supplies: { main: { volts: 5 V, tolerance: 5 %, limit: 500 mA } }
parts:
  KEY: { type: push-button, pins: { A: /pressed, B: GND } }
  OTHER: { type: push-button, pins: { A: /other, B: GND } }
  G1: { type: 74HCT14 }
  G2: { type: 74HCT00 }
  LAMP: { type: led, colour: red, through: 470 ohm, pins: { A: lit, K: GND } }
ties: [{ high: [/pressed, /other], through: 10 kohm }]
logic: { lit: high when low(/pressed), both: low(/pressed) & low(/other) }
stages:
  - { stage: one, adds: [KEY, G1, LAMP], prove: { expect: { lit: low } } }
  - { stage: two, adds: [OTHER, G2], prove: { expect: { both: low } } }
`;

describe('choices in boards.yaml that can not be followed', () => {
  const laid = (name: string, boards: string): Answer =>
    json('lay', project(name, { 'machine.yaml': POINTS, 'builds/first/boards.yaml': boards }));

  test('a supply that is not there and a wire that joins nothing are told at their places', () => {
    const { findings } = laid(
      'unheeded',
      `supplies: { aux: { plus: 1:b+3, ground: 1:b-3 } }\nwires: [{ net: lit, from: 1:1a, to: 1:2a }]\n`,
    );
    expect(findings.map(({ code, where: [place] }) => `${place?.line}:${place?.column} ${code}`)).toEqual([
      '1:18 lay/unknown-supply',
      '2:9 lay/wire-not-laid',
    ]);
  });

  test('no room is told once for a part, not for each of its pins', () => {
    const { findings, value } = laid('no-room', 'boards: { kind: mini, across: 1, down: 1 }\n');
    expect(value).not.toBeNull();
    expect(findings.map((finding) => finding.code)).toEqual(['board/no-room']);
  });

  test('an unreadable file stops the laying, so that no fixed place is given away', () => {
    expect(laid('unreadable', 'places: [unclosed\n')).toMatchObject({
      code: 2,
      findings: expect.arrayContaining([expect.objectContaining({ code: 'lay/choices-unreadable' })]),
    });
  });
});

describe('what stands on the boards', () => {
  test('a layout that is cut off is left alone and told by every verb that needs it', () => {
    const text = '{ "format": 1, "machine": "Points", "bo';
    const root = project('cut', { 'machine.yaml': POINTS, 'builds/first/layout.json': text });
    for (const verb of ['lay', 'steps', 'touch', 'proofs', 'where']) expect(json(verb, root).code).toBe(2);
    expect(json('steps', root).findings.map((finding) => finding.code)).toEqual(['board/layout-not-json']);
    expect(json('book', root).findings.map((finding) => finding.code)).toContain('board/layout-not-json');
    expect(readFileSync(join(root, 'builds/first/layout.json'), 'utf8')).toBe(text);
  }, 60_000);

  test('a machine that changes while it is built: what stands stays, and the journal alone gives the target', () => {
    const root = project('mid', { 'machine.yaml': POINTS });
    const file = join(root, 'machine.yaml');
    const journal = (): string => readFileSync(join(root, 'builds/first/journal.jsonl'), 'utf8');
    const all = (): { id: string; do: string }[] => json('steps', root).value.steps;
    const before = json('lay', root).value as Laid;
    const half = all();
    json('done', ...half.slice(0, half.length / 2).map((step) => step.id), '--project', root);
    writeFileSync(
      file,
      POINTS.replace('type: 74HCT14', 'type: 74HCT04')
        .replace('adds: [OTHER, G2]', 'adds: [OTHER, G2, R9]')
        .replace('parts:\n', 'parts:\n  R9: { type: resistor, value: 1 kohm, pins: { "1": both, "2": GND } }\n'),
    );
    const after = json('lay', root).value as Laid;
    const holes = (laid: Laid, part: string): string[] | undefined =>
      laid.parts.find((one) => one.part === part)?.pins.map((pin) => pin.hole);
    for (const { part } of before.parts) expect(holes(after, part)).toEqual(holes(before, part));
    expect(checkStage(after, json('netlist', root).value as Nets)).toEqual([]);
    json('done', ...all().map((step) => step.id), '--project', root);
    expect(compareBuilt(replayJournal(journal()), after)).toEqual([]);
    // Away again, and to another place by the builder's wish.
    writeFileSync(file, POINTS);
    writeFileSync(join(root, 'builds/first/boards.yaml'), 'places: { G2: { at: 1:50e } }\n');
    const moved = json('lay', root).value as Laid;
    expect(holes(moved, 'G2')?.[0]).toBe('1:50e');
    const rework = all().map((step) => step.do);
    expect(rework).toContain('take-out');
    expect(rework.lastIndexOf('take-out')).toBeLessThan(rework.findIndex((act) => ['place', 'wire'].includes(act)));
    json('done', ...all().map((step) => step.id), '--project', root);
    expect(compareBuilt(replayJournal(journal()), moved)).toEqual([]);
    // Under another name the journal is another machine's: no steps, nothing written.
    const kept = journal();
    writeFileSync(file, POINTS.replace('machine: Points', 'machine: Signals'));
    for (const verb of ['steps', 'where', 'proofs'])
      expect(json(verb, root)).toMatchObject({ code: 2, findings: [{ code: 'stage/journal-other-machine' }] });
    expect(json('note', 'x', '--project', root).code).toBe(2);
    expect(journal()).toBe(kept);
  }, 120_000);

  test('words and numbers that say nothing are refused', () => {
    const root = project('words', { 'machine.yaml': POINTS });
    expect(json('note', ' ', '--project', root).findings[0]?.code).toBe('note/no-text');
    expect(json('lay', root, '--seconds', 'soon').findings[0]?.code).toBe('cli/usage');
    expect(json('lay', root, '--moves=-3').findings[0]?.code).toBe('cli/usage');
  });
});

test('whoever stops reading the output ends the program without a word', () => {
  const ran = spawnSync('sh', ['-c', `"${process.execPath}" "${bin}" parts --json | head -c 100`], {
    encoding: 'utf8',
  });
  expect(ran.stderr).toBe('');
});

test('the list of touches names each one by the id that a reading is given under', () => {
  const root = project('touches', { 'machine.yaml': POINTS });
  json('lay', root);
  const ids = (json('touch', root, '--stage', '1').value.touches as { id: string }[]).map((touch) => touch.id);
  const { stdout } = spawnSync(process.execPath, [bin, 'touch', root, '--stage', '1'], { encoding: 'utf8' });
  expect(ids.length).toBeGreaterThan(3);
  for (const id of ids) expect(stdout).toContain(id);
  expect(json('touch', root, '--stage', '1', '--reading', `${ids[0]}=open`).value.right).toBe(false);
});
