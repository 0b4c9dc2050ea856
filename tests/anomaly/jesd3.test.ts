// Fuse files that were cut, struck by bit errors, swollen or never fuse files: findings, no throw, no hang, little memory.

import { expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { readJesd3, writeJesd3 } from '../../src/format/jesd3/index.ts';

const fuses = Uint8Array.from({ length: 2194 }, (_, i) => ((i * 7919) >> 3) & 1);
const rows = Array.from({ length: 64 }, (_, i) => ({ first: i * 32 })).concat({ first: 2048 });
const good = writeJesd3({
  designSpecification: 'Select for the signal box',
  fuses,
  pinCount: 20,
  rows,
  vectors: ['0101010101N1HHLLXXZN', 'C1111111110XXXXXXXXN'.slice(0, 20)],
});
const bytes = Uint8Array.from(good, (c) => c.charCodeAt(0));

test('a file cut anywhere is noticed', () => {
  for (let length = 0; length < bytes.length - 6; length += 7) {
    const { findings } = readJesd3(bytes.subarray(0, length), 'cut.jed');
    expect(findings.length, `cut at ${length}`).toBeGreaterThan(0);
  }
});

test('any single flipped bit within the frame is noticed', () => {
  const rng = createRng(3);
  const etx = bytes.indexOf(3);
  for (let round = 0; round < 1500; round++) {
    const copy = bytes.slice();
    const at = rng.below(etx);
    const bit = rng.below(7); // bit 7 is the parity bit, which the sum leaves out
    copy[at]! ^= 1 << bit;
    const { value, findings } = readJesd3(copy, 'flipped.jed');
    expect(findings.length, `byte ${at} bit ${bit}`).toBeGreaterThan(0);
    expect(findings.length).toBeLessThan(100);
    expect(value.fuses.length).toBeLessThanOrEqual(1_000_000);
  }
});

test('noise, one long line, endless stars and megabytes give findings', () => {
  const rng = createRng(4);
  const noise = Uint8Array.from({ length: 200_000 }, () => rng.below(256));
  const text = (s: string): Uint8Array => new TextEncoder().encode(s);
  const cases: Record<string, Uint8Array> = {
    empty: new Uint8Array(0),
    zeros: new Uint8Array(1_000_000),
    noise,
    stars: new Uint8Array(2_000_000).fill(0x2a),
    'one field': text(`\x02*QF2194*F0*L0 ${'1'.repeat(2_000_000)}*\x030000`),
    'many lists': text(`\x02*QF2194*F0*${'L0 1*L0 0*'.repeat(100_000)}\x030000`),
    'many vectors': text(`\x02*QP4*QF8*F0*L0 1*${'V1 01?1*'.repeat(100_000)}\x030000`),
    'large count': text('\x02*QF999999*F1*L999998 11*\x030000'),
    'larger count': text('\x02*QF99999999999999999999*F1*L0 11*\x030000'),
    'wide characters': text(`\x02${'ü'.repeat(100_000)}*QF8*F0*L0 2*\x030000`),
    'five megabytes': new Uint8Array(5 * 1024 * 1024).fill(0x31),
  };
  for (const [name, content] of Object.entries(cases)) {
    const { value, findings } = readJesd3(content, 'odd.jed');
    expect(findings.length, name).toBeGreaterThan(0);
    expect(findings.length, name).toBeLessThan(100);
    expect(value.fuses.length, name).toBeLessThanOrEqual(1_000_000);
  }
});
