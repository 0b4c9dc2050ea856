import { expect, test } from 'vitest';
import { groupedMachine } from '../../benchmarks/machines/grouped.ts';
import { designOf } from '../../benchmarks/machines/random-design.ts';
import { NO_CHOICES } from './choices.ts';
import { cutListOf } from './cut-list.ts';
import { lay } from './lay.ts';

test('every wire is in the list once, and the stages add up', () => {
  const { value } = lay(designOf(groupedMachine(5)), NO_CHOICES, undefined, { moves: 2000 });
  const list = cutListOf(value);
  expect(list.count).toBe(value.wires.length);
  expect(list.rows.reduce((sum, row) => sum + row.count, 0)).toBe(list.count);
  expect(list.rows.reduce((sum, row) => sum + row.count * row.cutMm, 0)).toBe(list.mm);
  expect(list.byColour.reduce((sum, row) => sum + row.mm, 0)).toBe(list.mm);
  const parts = [1, 2, 3, 4, 5, 6].map((stage) => cutListOf(value, stage, stage).mm);
  expect(parts.reduce((sum, mm) => sum + mm, 0)).toBe(list.mm);
});
