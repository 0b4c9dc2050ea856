// Worked examples printed by others, against the reader: fuse and transmission checksums of JESD3.

import { expect, test } from 'vitest';
import { readJesd3 } from '../../src/format/jesd3/index.ts';

const bytes = (text: string): Uint8Array => Uint8Array.from(text, (c) => c.charCodeAt(0));

// "JEDEC Standard Number 3A", a programmer maker's implementation text, example "File for PLD 12S8" (fuse addresses
// completed where the plain-text reprint lost their leading digits).
test('the example for a 12S8 adds up to C124E', () => {
  const rows = [
    ['0000', '1111101111111111111111111111'],
    ['0028', '1011111111111111111111111111'],
    ['0056', '1110111111111111111111111111'],
    ['0112', '0101011101111011111111111111'],
    ['0224', '0101011110111011111111111111'],
    ['0336', '0101011101110111111111111111'],
  ];
  const lists = rows.map(([first, states]) => `L${first} ${states}*\r\n`).join('');
  const text = `\x02File for PLD 12S8\r\nCreated on 8-Feb-85 3:05PM*\r\nQP20*\r\nQF448*\r\nG0*F0*\r\n${lists}C124E*\r\n\x030000`;
  const { value, findings } = readJesd3(bytes(text), 'example.jed');
  expect(value.fuseSum).toEqual({ stated: 0x124e, computed: 0x124e });
  expect(findings).toEqual([]);
});

// UniSite-xpi User Manual, chapter 6, p. 6-41, and ProMaster 2500 User Manual, appendix D, p. D-41: binary and hexadecimal
// form of the same fuses.
test.each(['F0*L0 01010101* L0008 01010111* L1000 0101*C019E*', 'F0*K0 55* K0008 57* K1000 5* C019E*'])(
  'the short example adds up to 019E: %s',
  (fields) => {
    const { value, findings } = readJesd3(bytes(`\x02*QF1004*${fields}\x030000`), 'example.jed');
    expect(value.fuseSum).toEqual({ stated: 0x019e, computed: 0x019e });
    expect(findings).toEqual([]);
  },
);

// Lattice, Answer Database 2037, "What are the last four characters in the JEDEC file": 05C4, line by line.
test('the transmission example adds up to 05C4', () => {
  const text = '\x02TEST*\r\nQF0384*\r\nF0*  \r\nL10 101*\r\n\x0305C4\r\n';
  const { value, findings } = readJesd3(bytes(`left out of the sum${text}`), 'example.jed');
  expect(value.transmissionSum).toEqual({ stated: 0x05c4, computed: 0x05c4 });
  expect(value.designSpecification).toBe('TEST');
  expect([value.fuseCount, [...value.fuses.subarray(10, 13)]]).toEqual([384, [1, 0, 1]]);
  expect(findings).toEqual([]);
});

test('with its line ends changed, the example is said to match CR LF', () => {
  const text = '\x02TEST*\nQF0384*\nF0*  \nL10 101*\n\x0305C4\n';
  const { findings } = readJesd3(bytes(text), 'example.jed');
  expect(findings.map((f) => [f.code, f.severity])).toEqual([['jesd3/transmission-checksum', 'warning']]);
  expect(findings[0]!.notes[0]!.text).toContain('CR LF');
});
