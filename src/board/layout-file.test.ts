import fc from 'fast-check';
import { expect, test } from 'vitest';
import { randomDesign } from '../../benchmarks/machines/random-design.ts';
import { NO_CHOICES } from './choices.ts';
import { lay } from './lay.ts';
import { printLayout, readLayout } from './layout-file.ts';

const layout = lay(randomDesign(2, { chips: 5, stages: 3, changes: true, odd: true }), NO_CHOICES).value;
const text = printLayout(layout);

test('what is written is read again, and written the same', () => {
  const { value, findings } = readLayout('layout.json', text);
  expect(findings).toEqual([]);
  expect(printLayout(value!)).toBe(text);
  expect(value!.wires.length).toBe(layout.wires.length);
});

test('no text makes the reader throw', () => {
  fc.assert(
    fc.property(fc.nat(text.length), fc.string({ maxLength: 6 }), fc.nat(8), (at, put, take) => {
      readLayout('layout.json', text.slice(0, at) + put + text.slice(at + take));
      return true;
    }),
    { seed: 42, numRuns: 300 },
  );
  fc.assert(
    fc.property(fc.json(), (json) => {
      readLayout('layout.json', json);
      readLayout('layout.json', `{"format":1,"boards":${json},"parts":${json},"wires":${json},"entries":${json}}`);
      return true;
    }),
    { seed: 42, numRuns: 300 },
  );
  expect(readLayout('layout.json', '').findings[0]?.code).toBe('board/layout-not-json');
  expect(readLayout('layout.json', '{"format":2}').findings[0]?.code).toBe('board/layout-format');
});
