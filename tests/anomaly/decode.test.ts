// Fuse files that were cut, struck or made for another device, and plans and requests of odd sizes: findings, no throw.

import { expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { compileDevice, compilePlan, explainFile, proveFile } from '../../src/decode/index.ts';

const request = {
  device: '16V8',
  inputs: [
    { name: 'a15', pin: 2 },
    { name: '/mreq', pin: 3 },
  ],
  outputs: [{ name: '/rom', pin: 19, formula: 'a15 | /mreq' }],
} as const;
const text = compileDevice(request).value!.text;
const bytes = Uint8Array.from(text, (c) => c.charCodeAt(0));

test('a cut file is never taken for the whole', () => {
  for (let length = 0; length < bytes.length - 5; length += 11) {
    const part = bytes.subarray(0, length);
    for (const device of ['16V8', '20V8', '22V10'] as const)
      expect(explainFile(part, device, 'cut.jed').findings.length, `${length}`).toBeGreaterThan(0);
    expect(proveFile(request, part, 'cut.jed').findings.length).toBeGreaterThan(0);
  }
});

test('a file struck by bit errors gives findings and nothing worse', () => {
  const rng = createRng(41);
  for (let round = 0; round < 400; round++) {
    const copy = bytes.slice();
    const flips = 1 + rng.below(4);
    for (let k = 0; k < flips; k++) copy[rng.below(copy.length - 8)]! ^= 1 << rng.below(7);
    const { findings } = proveFile(request, copy, 'struck.jed');
    // Several errors may cancel out in a sum; one never does.
    if (flips === 1) expect(findings.length, `round ${round}`).toBeGreaterThan(0);
    explainFile(copy, '16V8', 'struck.jed');
  }
});

test('random fuses of every device are explained', () => {
  const rng = createRng(42);
  for (let round = 0; round < 60; round++)
    for (const [device, count] of [
      ['16V8', 2194],
      ['20V8', 2706],
      ['22V10', 5892],
    ] as const) {
      const dense = rng.below(2) === 0;
      const states = Array.from({ length: count }, () => (dense ? rng.below(2) : rng.below(40) === 0 ? 0 : 1)).join('');
      const vector = Array.from({ length: device === '16V8' ? 20 : 24 }, () => '01CKXNHLZFUD'[rng.below(12)]).join('');
      const file = `\x02*QF${count}*F0*L0 ${states}*V1 ${vector}*V2 ${vector}*\x030000`;
      const result = explainFile(
        Uint8Array.from(file, (c) => c.charCodeAt(0)),
        device,
        'random.jed',
      );
      if (result.value === undefined) expect(result.findings.map((one) => one.code)).toContain('decode/illegal-mode');
      else for (const output of result.value.explained.outputs) expect(output.enable).not.toBe(false);
    }
});

test('requests of odd sizes are answered', () => {
  const deep = `${'~('.repeat(90)}a${')'.repeat(90)}`;
  const xors = Array.from({ length: 12 }, (_, k) => `(a${k} ^ b${k})`).join(' & ');
  const big = Array.from(
    { length: 400 },
    (_, k) => `(${Array.from({ length: 9 }, (_, v) => `${((k * 37 + 11) >> v) & 1 ? '' : '~'}v${v}`).join(' & ')})`,
  );
  const formulas = [
    '0',
    '1',
    'x',
    deep,
    xors,
    big.join(' | '),
    big.join(' ^ '),
    Array.from({ length: 29 }, (_, k) => `n${k}`).join(' | '),
  ];
  for (const device of ['16V8', '20V8', '22V10'] as const)
    for (const formula of formulas) {
      const { value, findings } = compileDevice({ device, outputs: [{ name: 'out', formula }] });
      if (value === undefined) expect(findings.some((one) => one.severity === 'error')).toBe(true);
      else expect(value.proof.isEqual).toBe(true);
    }
  expect(compileDevice({ device: '16V8', outputs: [] }).value!.proof.isEqual).toBe(true);
});

test('plans of odd sizes are answered', () => {
  const lines = (count: number): string[] => Array.from({ length: count }, (_, k) => `A${k}`);
  for (const bits of [0, 1, 8, 16, 20, 24]) {
    const size = 2 ** bits;
    const ranges = [
      [0, size],
      [0, 1],
      [size - 1, 1],
      [1, Math.max(1, size - 2)],
      [0, 0],
      [Number.NaN, 5],
      [1e300, 5],
    ] as const;
    for (const [at, length] of ranges)
      for (const mirrors of ['allowed', 'forbidden'] as const) {
        const { value, findings } = compilePlan(
          {
            spaces: [{ name: 'memory', lines: lines(bits), cycle: 'low(/MREQ)' }],
            mirrors,
            selects: [{ part: 'X', net: '/X', activeLow: true, ranges: [{ space: 'memory', at, bytes: length }] }],
          },
          { device: '22V10' },
        );
        if (value === undefined)
          expect(
            findings.some((one) => one.severity === 'error'),
            `${bits} ${at}`,
          ).toBe(true);
        else expect(value.map.spaces[0]!.segments[0]!.from).toBe(0);
      }
  }
});
