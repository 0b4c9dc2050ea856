import { expect, test } from 'vitest';
import { designOf } from '../../tests/support/bench.ts';
import { small } from '../../tests/support/small.ts';
import type { NetPart } from '../netlist/index.ts';
import { powerCard } from './card.ts';

const design = designOf(small);
const figures = (known: Readonly<Record<string, number>>) => (part: NetPart) => ({
  typMa: known[part.name],
  maxMa: known[part.name] === undefined ? undefined : known[part.name]! * 2,
  source: undefined,
});

test('currents add up, the limit leaves room, and stays under that of the machine file', () => {
  const card = powerCard(design, 3, figures({ G1: 4, ROM: 30, RAM: 26 }))!;
  expect(card.expected.typMa).toBe(60);
  expect(card.expected.maxMa).toBe(120);
  expect(card.limit.mA).toBe(230); // 1.5 x 120 + 50
  expect(card.supplies).toEqual([{ name: 'main', volts: 5, leastVolts: 4.75, mostVolts: 5.25 }]);
  expect(powerCard(design, 3, figures({ G1: 4, ROM: 300, RAM: 260 }))!.limit.mA).toBe(1000);
  expect(powerCard(design, 4, figures({}))).toBeUndefined();
});

test('a part without figures is named, and no sum is made of the rest', () => {
  const card = powerCard(design, 3, figures({ G1: 4, RAM: 26 }))!;
  expect(card.expected.typMa).toBeUndefined();
  expect(card.expected.maxMa).toBeUndefined();
  expect(card.expected.unknown).toEqual(['ROM']);
  expect(card.limit).toEqual({ mA: 1000, why: expect.stringContaining('ROM gives no current') });
});

test('the first stage and every stage carries the cautions it calls for', () => {
  const all = powerCard(design, 1, figures({}))!.cautions.join('\n');
  for (const word of [
    'Local electrical rules',
    'isolated, current-limited',
    'polarity',
    'Power off before moving',
    'hot to the touch',
    'USB supply',
  ])
    expect(all).toContain(word);
  const withProgram = designOf(small, {
    memory: {
      programs: [
        {
          part: { name: 'ROM', span: { file: '', start: 0, end: 0 } },
          with: { name: 'x', span: { file: '', start: 0, end: 0 } },
        },
      ],
    },
  });
  expect(powerCard(withProgram, 3, figures({}))!.cautions.join('\n')).toContain('programming voltage');
  expect(powerCard(design, 3, figures({}))!.cautions.join('\n')).not.toContain('programming voltage');
});
