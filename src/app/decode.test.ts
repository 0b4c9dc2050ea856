import { expect, test } from 'vitest';
import { lines, projectOf } from '../../tests/support/library.ts';
import { Build, decodeVerb } from './index.ts';

const machine = (uses: string, port: string): string => `machine: Small
supplies: { main: { volts: 5 V } }
parts:
  CPU: { type: Z80, pins: { CLK: clk, /RESET: /reset } }
  OSC: { type: oscillator-can, rate: 4 MHz, pins: { OUT: clk } }
  SUP: { type: DS1233-10, pins: { /RST: /reset } }
  ROM: { type: 28C256, holds: a.hex }
  OUT: { type: 74HCT574 }
  SEL: { type: 16V8${uses}, pins: { I1: A15, I2: A7, I3: A6, I4: /MREQ, I5: /IORQ, I6: /M1, I7: /WR, I/O7: /ROM, I/O6: /OUT } }
buses: { main: { processor: CPU, members: [ROM, OUT], selects: SEL } }
memory: [{ ROM: 32 KiB at 0x0000 }]
ports: [{ part: OUT, at: ${port}, size: 64, mirrors: forbidden }]
`;

test('a fuse file of the builder is proved against the map, and refused when the map is another', () => {
  const compiled = decodeVerb(new Build(projectOf(machine('', '0x40')), 'first'), { stage: 1, out: 'fuses' });
  expect(lines(compiled.findings.filter((finding) => finding.code.startsWith('decode/')))).toEqual([]);
  const write = compiled.effects?.[0];
  const text = write?.kind === 'write' ? write.text : '';
  expect(text).toContain('QF2194');
  const own = (port: string) =>
    decodeVerb(new Build(projectOf(machine(', uses: mine.jed', port), { 'mine.jed': text }), 'first'), {
      stage: 1,
      out: 'fuses',
    });
  expect(own('0x40').text).toContain('proved equal to map and formulas');
  const differs = own('0x80');
  expect(differs.text).toContain('NOT proved');
  // Names are shown as they are written.
  expect(lines(differs.findings.filter(({ code }) => code === 'decode/file-differs')).join(' ')).toMatch(
    /A7 (?:low|high)/,
  );
  expect(differs.findings.some((finding) => finding.code === 'decode/file-differs')).toBe(true);
  const missing = decodeVerb(new Build(projectOf(machine(', uses: none.jed', '0x40')), 'first'), {
    stage: 1,
    out: 'fuses',
  });
  expect(missing.findings.some((finding) => finding.code === 'app/no-own-file')).toBe(true);
});
