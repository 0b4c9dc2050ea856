import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readJesd3, writeJesd3 } from './index.ts';

const bytes = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));
const read = (text: string) => readJesd3(bytes(text), 'sel.jed');
/** Codes, each with the stretch of text it points at. */
const told = (text: string): string[] =>
  read(text).findings.map((f) => `${f.code} ${text.slice(f.where[0]!.start, f.where[0]!.end)}`);

test('a star at the start of the next line, blanks before it and a lone star are read', () => {
  const text = '\x02\nDecoder\n*F0\n*G1\n*QF16\n*L0000 1111\n0000 \n*L8 10101010\n*N a note\n*C0064\n*\n\x030000';
  const { value, findings } = read(text);
  expect(findings.filter((f) => f.code !== 'jesd3/fuse-checksum')).toEqual([]);
  expect([...value.fuses].join('')).toBe('1111000010101010');
  expect(value.security).toBe(true);
  expect(value.notes).toEqual(['a note']);
  expect(value.fuseSum.computed).toBe(0x0f + 0x55);
  expect(value.pinCount).toBeUndefined();
});

test('vectors, their order and the default condition are read', () => {
  const { value, findings } = read('\x02*QP4*QF4*X1*P 4 3 2 1*V0001 01HN*\nV2 C XLZ*F0*L0 1111*\x030000');
  expect(findings).toEqual([]);
  expect(value.vectors.map((v) => [v.number, v.conditions])).toEqual([
    [1, '01HN'],
    [2, 'CXLZ'],
  ]);
  expect(value.pinOrder).toEqual([4, 3, 2, 1]);
  expect(value.defaultTest).toBe(1);
});

test.each([
  ['\x02*QF8*F0*L0 1111*C0000*\x030000', ['jesd3/fuse-checksum C0000']],
  ['\x02*QF8*F0*L0 11*C0003*\x03FFFF', ['jesd3/transmission-checksum FFFF']],
  ['\x02*QF8*F0*L0 11*C0003*\x03', ['jesd3/transmission-checksum \x03']],
  ['*QF8*F0*L0 11*\x030000', ['jesd3/no-start *']],
  ['\x02QF8*F0*L0 11*\x030000', ['jesd3/bad-field QF8']],
  ['\x02*QF8*F0*L0 11', ['jesd3/truncated L0 11', 'jesd3/no-end 1']],
  ['\x02*F0*L0 11*\x030000', ['jesd3/no-fuse-count L0 11']],
  ['\x02*QF8*L0 11*\x030000', ['jesd3/no-default-fuse QF8']],
  ['\x02*QF8*F0*\x030000', ['jesd3/no-fuses QF8']],
  ['\x02*QF8*F0*L4 11001*\x030000', ['jesd3/fuse-out-of-range 1']],
  ['\x02*QF8*F0*L99999999999999 1*L0 1*\x030000', ['jesd3/fuse-out-of-range L99999999999999 1']],
  ['\x02*QF8*F0*L0 1121*\x030000', ['jesd3/bad-fuse-state 2']],
  ['\x02*QF8*F0*L0 11*L1 0*\x030000', ['jesd3/conflicting-fuse 0']],
  ['\x02*QF8*F0*F1*L0 11*\x030000', ['jesd3/conflicting-field F1']],
  ['\x02*QF99999999*F0*L0 11*\x030000', ['jesd3/too-large QF99999999', 'jesd3/no-fuse-count L0 11']],
  ['\x02*QF8*F0*L0 11*@ what*\x030000', ['jesd3/bad-field @ what']],
  ['\x02*QF8*F0*L0000011*\x030000', ['jesd3/no-fuses QF8'].slice(1)],
  ['\x02*QP3*QF8*F0*L0 11*V1 01*V2 01?*\x030000', ['jesd3/bad-vector V1 01', 'jesd3/bad-vector V2 01?']],
  ['a letter to the railway', ['jesd3/truncated a letter to the railway', 'jesd3/bad-field a letter to the railway']],
])('%j gives its findings', (text, expected) => {
  expect(told(text).filter((line) => !line.startsWith('jesd3/no-') || expected.includes(line))).toEqual(
    expect.arrayContaining(expected),
  );
  for (const line of expected) expect(told(text)).toContain(line);
});

test('offsets count characters as an editor shows them', () => {
  const text = '\x02Schleuse für Süd*QF8*F0*L0 12*\x030000';
  const { findings } = readJesd3(new TextEncoder().encode(text), 'sel.jed');
  const bad = findings.find((f) => f.code === 'jesd3/bad-fuse-state')!.where[0]!;
  expect(text.slice(bad.start, bad.end)).toBe('2');
  expect(findings.some((f) => f.code === 'jesd3/bad-character')).toBe(true);
});

test('what is written is read back the same, without findings, and again to the same bytes', () => {
  const fuses = fc.array(fc.constantFrom(0, 1), { minLength: 1, maxLength: 300 });
  const vector = fc.array(fc.constantFrom(...'01CXHLZN'), { minLength: 5, maxLength: 5 }).map((c) => c.join(''));
  fc.assert(
    fc.property(
      fuses,
      fc.array(vector, { maxLength: 5 }),
      fc.string(),
      fc.integer({ min: 1, max: 40 }),
      (f, v, spec, width) => {
        const rows = f.flatMap((_, first) => (first % width === 0 ? [{ first, note: `row ${first}` }] : []));
        const content = { designSpecification: spec, fuses: Uint8Array.from(f), pinCount: 5, rows, vectors: v };
        const text = writeJesd3(content);
        const back = read(text);
        expect(back.findings).toEqual([]);
        expect([...back.value.fuses]).toEqual(f);
        expect(back.value.listed.every((listed) => listed === 1)).toBe(true);
        expect(back.value.vectors.map((one) => one.conditions)).toEqual(v);
        expect(writeJesd3(content)).toBe(text);
      },
    ),
    { seed: 8, numRuns: 200 },
  );
});
