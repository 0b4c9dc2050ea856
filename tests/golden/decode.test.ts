// One compiled file, byte for byte: a change of what is written shows here. Line ends are turned into LF for version control.

import { expect, test } from 'vitest';
import { type AddressPlan, compilePlan } from '../../src/decode/index.ts';

const lines = (count: number): string[] => Array.from({ length: count }, (_, k) => `A${k}`);
const plan: AddressPlan = {
  spaces: [
    { name: 'memory', lines: lines(16), cycle: 'low(/MREQ) & high(/RFSH)' },
    { name: 'ports', lines: lines(8), cycle: 'low(/IORQ) & high(/M1)' },
  ],
  selects: [
    { part: 'ROM', net: '/ROM', activeLow: true, ranges: [{ space: 'memory', at: 0, bytes: 0x8000 }] },
    { part: 'RAM', net: '/RAM', activeLow: true, ranges: [{ space: 'memory', at: 0x8000, bytes: 0x8000 }] },
    { part: 'BELLS', net: '/BELLS', activeLow: true, ranges: [{ space: 'ports', at: 0x40, bytes: 4 }] },
  ],
};

test('the select device of a carillon', async () => {
  const { value, findings } = compilePlan(plan, { device: '16V8', title: 'Carillon: selects, first revision' });
  expect(findings).toEqual([]);
  await expect(value!.compiled.text.replaceAll('\r\n', '\n')).toMatchFileSnapshot('decode/expected-carillon.jed');
});
