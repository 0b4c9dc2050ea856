// The drawing's look against what others publish: WCAG 2.1's contrast formula (7:1 is success criterion 1.4.6) for every
// pair of text and ground, and the advance widths in the font files themselves for the table that text is fitted with.

import { existsSync, readFileSync } from 'node:fs';
import { inflateSync } from 'node:zlib';
import { expect, test } from 'vitest';
import { COLOURS, monoWidth, sansWidth, WIRE_CODES } from '../../src/drawing/index.ts';

/** Relative luminance as WCAG 2.1 defines it. */
function luminance(hex: string): number {
  const [r, g, b] = [1, 3, 5].map((i) => {
    const c = Number.parseInt(hex.slice(i, i + 2), 16) / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }) as [number, number, number];
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}
function contrast(a: string, b: string): number {
  const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p) as [number, number];
  return (x + 0.05) / (y + 0.05);
}

test('black on white is 21:1, as the definition has it', () => {
  expect(contrast('#000000', '#FFFFFF')).toBeCloseTo(21, 6);
});

for (const ground of ['paper', 'slate'] as const) {
  const { plain, wire } = COLOURS[ground];
  test(`text is 7:1 or better on ${ground}`, () => {
    for (const text of ['ink', 'ink-2', 'fault', 'doubt', 'proved'])
      for (const back of ['ground', 'sheet'])
        expect([text, back, contrast(plain[text]!, plain[back]!) >= 7]).toEqual([text, back, true]);
    for (const back of ['mark', 'mark-2', 'halo-c', 'strip'])
      expect([back, contrast(plain.ink!, plain[back]!) >= 7]).toEqual([back, true]);
  });
  test(`every wire stands off the sheet on ${ground}: core or casing 3:1, thin lines 3:1`, () => {
    for (const code of WIRE_CODES) {
      const [core, casing, planned] = wire[code];
      const solid = Math.max(
        contrast(core, plain.sheet!),
        casing === 'transparent' ? 0 : contrast(casing, plain.sheet!),
      );
      expect([code, solid >= 3, contrast(planned, plain.sheet!) >= 3]).toEqual([code, true, true]);
    }
  });
}

/** Advance widths of printable ASCII in em, from a WOFF file's cmap (format 4), hmtx, hhea and head. */
function advances(file: string): number[] {
  const bytes = readFileSync(file);
  const tables = new Map<string, Buffer>();
  for (let i = 0; i < bytes.readUInt16BE(12); i++) {
    const at = 44 + 20 * i;
    const [offset, packed, length] = [4, 8, 12].map((d) => bytes.readUInt32BE(at + d)) as [number, number, number];
    const data = bytes.subarray(offset, offset + packed);
    tables.set(bytes.toString('latin1', at, at + 4), packed < length ? inflateSync(data) : data);
  }
  const unitsPerEm = tables.get('head')!.readUInt16BE(18);
  const metrics = tables.get('hhea')!.readUInt16BE(34);
  const cmap = tables.get('cmap')!;
  const glyphOf = (code: number): number => {
    for (let k = 0; k < cmap.readUInt16BE(2); k++) {
      const at = cmap.readUInt32BE(4 + 8 * k + 4);
      if (cmap.readUInt16BE(at) !== 4) continue;
      const segments = cmap.readUInt16BE(at + 6) / 2;
      for (let s = 0; s < segments; s++) {
        const end = cmap.readUInt16BE(at + 14 + 2 * s);
        const start = cmap.readUInt16BE(at + 16 + 2 * segments + 2 * s);
        if (code < start || code > end) continue;
        const delta = cmap.readInt16BE(at + 16 + 4 * segments + 2 * s);
        const place = at + 16 + 6 * segments + 2 * s;
        const range = cmap.readUInt16BE(place);
        if (range === 0) return (code + delta) & 0xffff;
        const glyph = cmap.readUInt16BE(place + range + 2 * (code - start));
        return glyph === 0 ? 0 : (glyph + delta) & 0xffff;
      }
    }
    return 0;
  };
  return Array.from({ length: 95 }, (_, i) => {
    const glyph = Math.min(glyphOf(32 + i), metrics - 1);
    return tables.get('hmtx')!.readUInt16BE(4 * glyph) / unitsPerEm;
  });
}

const fonts = 'node_modules/@fontsource';
test.skipIf(!existsSync(fonts))('text is measured as the font files do', () => {
  for (const weight of [400, 700] as const) {
    const mono = advances(
      `${fonts}/atkinson-hyperlegible-mono/files/atkinson-hyperlegible-mono-latin-${weight}-normal.woff`,
    );
    const sans = advances(
      `${fonts}/atkinson-hyperlegible-next/files/atkinson-hyperlegible-next-latin-${weight}-normal.woff`,
    );
    for (let i = 0; i < 95; i++) {
      const glyph = String.fromCharCode(32 + i);
      expect(monoWidth(glyph, 1)).toBeCloseTo(mono[i]!, 3);
      expect(sansWidth(glyph, 1, weight)).toBeCloseTo(sans[i]!, 3);
    }
  }
});
