import { expect, test } from 'vitest';
import { readSecond } from './index.ts';

const show = (text: string): string[] =>
  readSecond('f', text).findings.map(
    (finding) => `${text.slice(finding.where[0]!.start, finding.where[0]!.end)}: ${finding.message}`,
  );

test('a table is a source and NAME:k for each lead', () => {
  const { value, findings } = readSecond('f', 'source: a sheet, p. 2\n1A:i /OE:i\r\nR/W:o GND:g\n');
  expect(findings).toEqual([]);
  expect(value?.source).toBe('a sheet, p. 2');
  expect(value?.pins.map((pin) => `${pin.name} ${pin.kind}`)).toEqual([
    '1A input',
    '/OE input',
    'R/W output',
    'GND ground',
  ]);
});

test('what is no table is told of', () => {
  expect(show('1A:i')).toEqual(['1A:i: The first line does not say the source.']);
  expect(show('source:\n1A:i')[0]).toMatch(/source/);
  expect(show('source: x\n1A:i 1B 1Y:z')).toEqual(['1B: 1B is not NAME:k.', '1Y:z: 1Y:z is not NAME:k.']);
  expect(show('')).toHaveLength(1);
});
