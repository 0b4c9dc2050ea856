import { expect, test } from 'vitest';
import { COLOURS, colourName, readColour } from './colour-code.ts';

test('every colour is read by code and by name, in any case', () => {
  for (const { code, name } of COLOURS) {
    for (const text of [code, code.toLowerCase(), name, name.toUpperCase(), ` ${name} `])
      expect(readColour(text)?.codes).toEqual([code]);
    expect(colourName(code)).toBe(name);
  }
  expect(readColour('gray')?.code).toBe('GY');
});

test('what is no designation is not read', () => {
  for (const text of ['', 'B', 'XX', 'RDX', 'RDRD', 'RDXX', 'constructor', 'RD BU', 'BK'.repeat(50)])
    expect(readColour(text)).toBeUndefined();
  expect(colourName('XX')).toBe('XX');
});

test('several colours come in the order of the table', () => {
  expect(readColour('WHBK')).toMatchObject({ codes: ['BK', 'WH'], code: 'BKWH', name: 'black-white' });
  expect(readColour('yegn')).toMatchObject({ code: 'GNYE', name: 'green-yellow', isProtectiveEarth: true });
});
