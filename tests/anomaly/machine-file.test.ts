// Thousands of damaged machine files: no throw, no hang, every finding inside its file, and the reader at one with the
// shipped JSON Schema as an independent validator (Ajv) understands it.

import { readFileSync } from 'node:fs';
import { Ajv } from 'ajv';
import { expect, test } from 'vitest';
import { parse, stringify } from 'yaml';
import { createRng, type Finding, type Rng } from '../../src/base/index.ts';
import { MACHINE_CODES, readMachine } from '../../src/machine/index.ts';

/** Damaged files per run; `npm run test:long` takes more of them. */
const RUNS = Number(process.env.PROOFBOARD_MUTATIONS ?? 2000);

const MAIN = `machine: Lamp test
supplies: { main: { volts: 5 V, tolerance: 5 %, limit: 500 mA } }
clocks: { cpu: { from: OSC.OUT, rate: 4 MHz, duty: 50 % } }
defaults: { family: HCT, pull: 10 kohm }
includes: [panel.yaml]
parts:
  CPU: { type: Z80, grade: 6 MHz CMOS }
  ROM: { type: 28C256, grade: 150 ns, holds: firmware/a.hex, comes-out: true }
  "10": { type: "62256" }
  OSC: { type: oscillator-can, rate: 4 MHz, pins: { EN: open } }
buses:
  main: { processor: CPU, members: [ROM, "10"], selects: { memory: ROM }, until: lamps }
memory:
  - { ROM: [8 KiB at 0x0000, 0x4000 to 0x5FFF] }
  - { part: "10", at: 0x8000, size: 32 KiB, when: ~off & high(x), access: read, mirrors: allowed, from: start }
nets:
  clock: [OSC.OUT, CPU.CLK]
  D7-D0: { pins: [CPU.D7-D0, ROM.D7-D0], from: start, until: lamps }
  GND: [CPU.GND@29]
ties:
  - { high: [CPU./NMI, /wait], through: 10 kohm }
logic:
  off: high when low(/reset)
  q: { when: a & b | ~c, in: "ROM unit 3", clock: clock, until: lamps }
classes:
  fast: { nets: [/RD, CPU./WR], colour: VT, longest: 80 mm, probe-hole: true, weight: 2 }
blocks:
  LAMPS: { use: lamp, join: { in: D#, reset: /reset }, copies: 3, first: 0, stages: { lit: lamps } }
stages:
  - stage: start
    adds: [CPU, OSC]
    temporary: [{ hold: D7-D0, at: 0x00, through: 2.2 kohm, until: lamps }]
    leads: { pod 1: [A7-A0], until: lamps }
    prove: [{ given: { supply: 4.2 V, press: CPU for 1 s }, expect: { clock: 4 MHz within 1 %, /reset: low for 1 ms to 2 ms } }]
  - stage: lamps
    adds: [ROM, "10", LAMPS]
    removes: [OSC]
    replaces: { CPU: { type: Z80, grade: 8 MHz CMOS } }
    moves: CPU
    programs: { ROM: firmware }
    note: [{ text: seen, photo: photos/a.jpg }, tried twice]
    prove: [{ expect: free run }]
waive:
  - { code: check/gap, at: [ROM], reason: not built yet }
`;
const PANEL =
  'parts:\n  KEY: { type: push-button, pins: { A: /reset, B: GND } }\nstages:\n  - { stage: start, adds: KEY }\n';
const LAMP = `block: lamp
about: A lamp.
joins: { in: what it shows, reset: { about: takes it back, default: /reset } }
parts: { LED: { type: led, colour: red, pins: { A: inner, K: GND } }, R: { type: resistor, value: 330 ohm } }
nets: { inner: [R.1], in: [R.2] }
logic: { /lit: low when in & ~reset }
stages: [{ stage: lit, prove: [{ given: { hold: in at high }, expect: { inner: high } }] }]
`;
const FILES = { 'machine.yaml': MAIN, 'panel.yaml': PANEL, 'blocks/lamp.yaml': LAMP };
type Files = Readonly<Record<string, string>>;

const YAML_BITS = [
  ...[
    '*a',
    '&a ',
    '!!int ',
    '<<: *a',
    '? ',
    '- ',
    ': ',
    '# ',
    '|\n',
    '>-\n',
    '%YAML 1.1\n',
    '---\n',
    '...\n',
    '\t',
    '~',
  ],
  ...[
    '{',
    '}',
    '[',
    ']',
    ',',
    '"',
    "'",
    '\u0000',
    '\ufeff',
    '\u2028',
    'null',
    'true',
    '1e999',
    '.inf',
    '0x',
    '-',
    '..',
  ],
  ...[
    '__proto__: {}\n',
    'constructor: 1\n',
    '\\',
    'ä',
    '\ud800',
    '../../x',
    'A99999-A0',
    '#',
    '@',
    '&&',
    '))',
    '\r',
    ' to ',
  ],
];

/** One damaged version of `text`. */
function damage(text: string, rng: Rng): string {
  const at = rng.below(text.length + 1);
  const to = Math.min(text.length, at + 1 + rng.below(12));
  const lines = text.split('\n');
  const line = rng.below(lines.length);
  switch (rng.below(9)) {
    case 0: // a byte with one bit changed
      return (
        text.slice(0, at) + String.fromCharCode((text.charCodeAt(at) || 0) ^ (1 << rng.below(8))) + text.slice(at + 1)
      );
    case 1:
      return text.slice(0, at);
    case 2:
      return text.slice(0, at) + text.slice(to);
    case 3:
      return lines.toSpliced(line, 1).join('\n');
    case 4:
      return lines.toSpliced(line, 0, lines[line]!).join('\n');
    case 5:
      return lines.with(line, lines[rng.below(lines.length)]!).join('\n');
    case 6: {
      // A word for another word of the file.
      const words = [...text.matchAll(/[\w./#-]+/g)];
      const a = words[rng.below(words.length)];
      const b = words[rng.below(words.length)];
      if (a === undefined || b === undefined) return text;
      return text.slice(0, a.index) + b[0] + text.slice(a.index + a[0].length);
    }
    case 7:
      return lines.with(line, `${' '.repeat(rng.below(6))}${lines[line]!.trimStart()}`).join('\n');
    default:
      return text.slice(0, at) + YAML_BITS[rng.below(YAML_BITS.length)]! + text.slice(at);
  }
}

function readAll(files: Files): readonly Finding[] {
  return readMachine('machine.yaml', { read: (path) => (Object.hasOwn(files, path) ? files[path] : undefined) })
    .findings;
}

/** What is wrong with a finding itself. */
function faults(finding: Finding, files: Files): string[] {
  const bad: string[] = [];
  const spans = [...finding.where, ...finding.notes.flatMap((note) => note.span ?? [])];
  for (const fix of finding.fixes ?? []) spans.push(...fix.edits.map((edit) => edit.span));
  for (const span of spans) {
    const text = files[span.file];
    if (text === undefined) bad.push(`no file ${span.file}`);
    else if (!(span.start >= 0 && span.start <= span.end && span.end <= text.length))
      bad.push(`span ${JSON.stringify(span)}`);
  }
  if (finding.where.length === 0) bad.push('no place');
  if (finding.code.startsWith('machine/') && !Object.hasOwn(MACHINE_CODES, finding.code))
    bad.push(`code ${finding.code}`);
  if (/undefined|NaN|\[object/.test(finding.message + (finding.help ?? ''))) bad.push(`words: ${finding.message}`);
  if (!/[.?!]$/.test(finding.message)) bad.push(`no sentence: ${finding.message}`);
  return bad.map((text) => `${finding.code}: ${text}`);
}

test('the file that is damaged is sound to begin with', () => {
  expect(readAll(FILES).map((finding) => `${finding.code} ${finding.message}`)).toEqual([]);
});

test('damaged files give findings within the files, and never a throw', () => {
  const rng = createRng(20_261_125);
  const bad: string[] = [];
  let withFindings = 0;
  const runs = RUNS;
  for (let run = 0; run < runs; run++) {
    const files: Record<string, string> = { ...FILES };
    const name = (['machine.yaml', 'machine.yaml', 'machine.yaml', 'panel.yaml', 'blocks/lamp.yaml'] as const)[
      rng.below(5)
    ]!;
    let text = files[name]!;
    for (let k = 1 + rng.below(3); k > 0; k--) text = damage(text, rng);
    files[name] = text;
    let findings: readonly Finding[] = [];
    try {
      findings = readAll(files);
    } catch (error) {
      bad.push(`run ${run}: ${String(error)}\n${text.slice(0, 400)}`);
    }
    if (findings.length > 0) withFindings++;
    for (const finding of findings) bad.push(...faults(finding, files).map((fault) => `run ${run}: ${fault}`));
  }
  expect(bad.slice(0, 10)).toEqual([]);
  expect(withFindings).toBeGreaterThan(runs / 2);
});

test('a fix, put in, takes its finding away and breaks nothing', () => {
  const rng = createRng(11);
  const bad: string[] = [];
  let tried = 0;
  for (let run = 0; run < RUNS / 5; run++) {
    let text = MAIN;
    // A letter doubled, dropped or changed in some word, as fingers do it; at times a word without its quotes.
    const words = [...MAIN.matchAll(/[A-Za-z][\w/-]+|"\d+"/g)];
    const word = words[rng.below(words.length)]!;
    const at = word.index + 1 + rng.below(word[0].length - 1);
    if (word[0].startsWith('"'))
      text = MAIN.slice(0, word.index) + word[0].slice(1, -1) + MAIN.slice(word.index + word[0].length);
    else text = MAIN.slice(0, at) + 'abcxyz'[rng.below(6)]! + MAIN.slice(at + rng.below(2));
    for (const finding of readAll({ ...FILES, 'machine.yaml': text })) {
      for (const fix of finding.fixes ?? []) {
        tried++;
        const { span, text: put } = fix.edits[0]!;
        if (span.file !== 'machine.yaml') continue;
        const mended = text.slice(0, span.start) + put + text.slice(span.end);
        const after = readAll({ ...FILES, 'machine.yaml': mended });
        const again = after.some(({ code, where }) => code === finding.code && where[0]!.start === span.start);
        if (again || after.some(({ code }) => code === 'yaml/syntax')) bad.push(`${finding.message} -> ${fix.title}`);
      }
    }
  }
  expect([...new Set(bad)]).toEqual([]);
  expect(tried).toBeGreaterThan(RUNS / 20);
});

test('however the same document is written, the same machine is read', () => {
  const plain = (text: string): unknown => {
    const { value } = readMachine('machine.yaml', {
      read: (path) => (path === 'machine.yaml' ? text : (FILES as Files)[path]),
    });
    return JSON.parse(
      JSON.stringify(value, (key, inner: unknown) => (/span$/i.test(key) || key === 'layout' ? undefined : inner)),
    );
  };
  // As maps: objects would put the part "10" first.
  const document: unknown = parse(MAIN, { mapAsMap: true });
  const wanted = plain(MAIN);
  const written = [
    stringify(document, { collectionStyle: 'flow', defaultStringType: 'QUOTE_DOUBLE', lineWidth: 0 }),
    stringify(document),
    stringify(document, { collectionStyle: 'flow', lineWidth: 40 }),
    stringify(document, { defaultStringType: 'QUOTE_SINGLE', defaultKeyType: 'QUOTE_DOUBLE', indentSeq: false }),
    MAIN.replaceAll('\n', '\r\n'),
    `\ufeff${MAIN}`,
  ];
  for (const text of written) expect(plain(text), text.slice(0, 60)).toEqual(wanted);
});

const schema = JSON.parse(readFileSync('data/schema/machine.schema.json', 'utf8')) as object;
const ajv = new Ajv({ strict: true, allowUnionTypes: true });
const validate = ajv.compile(schema);

test('what the reader takes without a word about its form is valid by the JSON Schema', () => {
  const rng = createRng(7);
  const bad: string[] = [];
  let accepted = 0;
  let rejected = 0;
  for (let run = 0; run < RUNS / 2; run++) {
    let text = MAIN;
    if (run > 0) for (let k = 1 + rng.below(2); k > 0; k--) text = damage(text, rng);
    const findings = readAll({ ...FILES, 'machine.yaml': text });
    if (findings.some(({ code, where }) => code.startsWith('yaml/') && where[0]?.file === 'machine.yaml')) {
      rejected++;
      continue;
    }
    // The slip of a key in a map entry is told in this folder's words.
    if (findings.some(({ code }) => code === 'machine/unknown-key')) continue;
    accepted++;
    const document: unknown = parse(text, { maxAliasCount: 0, logLevel: 'silent' });
    if (!validate(document)) bad.push(`run ${run}: ${ajv.errorsText(validate.errors)}\n${text}`);
  }
  expect(bad.slice(0, 3)).toEqual([]);
  expect(accepted).toBeGreaterThan(RUNS / 20);
  expect(rejected).toBeGreaterThan(RUNS / 20);
});

test('a key that is not known is refused by both, wherever keys are fixed', () => {
  const document = parse(MAIN) as Record<string, unknown>;
  const places: { at: Record<string, unknown>; path: string }[] = [];
  const walk = (value: unknown, path: string): void => {
    if (typeof value !== 'object' || value === null) return;
    if (!Array.isArray(value)) places.push({ at: value as Record<string, unknown>, path });
    for (const [key, inner] of Object.entries(value)) walk(inner, `${path}/${key}`);
  };
  walk(document, '');
  expect(places.length).toBeGreaterThan(40);
  let refused = 0;
  for (const { at, path } of places) {
    at.zzyzx = 3;
    const byAjv = !validate(document);
    const findings = readAll({ ...FILES, 'machine.yaml': JSON.stringify(document) });
    const byReader = findings.some(({ code }) => code.startsWith('yaml/'));
    expect(byReader, path).toBe(byAjv);
    if (byAjv) refused++;
    delete at.zzyzx;
  }
  // Elsewhere any name stands: proofs name nets, and their values may be numbers.
  expect(refused).toBeGreaterThan(places.length - 12);
});

test('huge and hostile files are refused or read in reasonable time', () => {
  const hostile: Record<string, string> = {
    parts: `machine: x\nparts:\n${Array.from({ length: 8_000 }, (_, i) => `  P${i}: { type: led }`).join('\n')}`,
    unknown: `machine: x\n${Array.from({ length: 8_000 }, (_, i) => `k${i}: 1`).join('\n')}`,
    nets: `machine: x\nnets:\n${Array.from({ length: 8_000 }, (_, i) => `  n${i}: [X${i}.A255-A0]`).join('\n')}`,
    ranges: `machine: x\nties: [{ high: [${'A999999-A0, '.repeat(3000)}B] }]`,
    dashes: `machine: x\nnets: { ${'a1-'.repeat(100_000)}: [x] }`,
    copies: 'machine: x\nblocks: { A: { use: lamp, copies: 256 }, B: { use: nest, copies: 256 } }\n',
    waivers: `machine: x\nwaive:\n${'  - { code: x, at: y, reason: z }\n'.repeat(6_000)}`,
    stages: `machine: x\nstages:\n${Array.from({ length: 8_000 }, (_, i) => `  - stage: s${i}`).join('\n')}`,
    formula: `machine: x\nlogic: { a: "${'('.repeat(50_000)}" }`,
    region: `machine: x\nmemory: [{ A: "${'a '.repeat(50_000)}" }]`,
    include: `machine: x\nincludes: [${'machine.yaml, ./machine.yaml, '.repeat(2000)}a]`,
  };
  const nest = `block: nest\nblocks: { A: { use: nest2, copies: 256 } }\n`;
  const nest2 = `block: nest2\nblocks: { A: { use: lamp, copies: 256, join: { in: x } }, B: { use: nest } }\n`;
  for (const [name, text] of Object.entries(hostile)) {
    const files = {
      'machine.yaml': text,
      'blocks/lamp.yaml': LAMP,
      'blocks/nest.yaml': nest,
      'blocks/nest2.yaml': nest2,
    };
    const findings = readAll(files);
    expect(findings.length, name).toBeGreaterThan(0);
    expect(findings.flatMap((finding) => faults(finding, files)).slice(0, 3), name).toEqual([]);
  }
});
