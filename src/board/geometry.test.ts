import { expect, test } from 'vitest';
import { BOARD_KINDS, createGrid, formatHole, hasHole, parseHole, ROWS, stripOfHole } from './geometry.ts';

test('each kind has as many holes as its package says', () => {
  for (const kind of BOARD_KINDS) {
    let count = 0;
    for (let row = 0; row < ROWS.length; row++)
      for (let column = 1; column <= 63; column++) if (hasHole(kind, column, row)) count++;
    expect({ kind: kind.name, count }).toEqual({ kind: kind.name, count: kind.holes });
  }
});

test('rows e and f stand 0.3 inch apart, the rest of a strip 0.1 inch (solderless boards as described at oem-pcb.com)', () => {
  const y = (name: string): number => ROWS.find((row) => row.name === name)!.y;
  expect(y('e') - y('f')).toBe(3);
  expect(y('a') - y('e')).toBe(4);
  expect(y('f') - y('j')).toBe(4);
});

test('hole names are read and written', () => {
  for (const name of ['2:34e', '1:1a', '12:63j', '2:t+31', '3:b-61', '1:t-3'])
    expect(formatHole(parseHole(name)!)).toBe(name);
  for (const bad of ['', '0:1a', '2:34k', '2:034e', '2:t31', '2:31t+', '2:34', ' 2:34e', '2:34e ', '-1:3a', '1:0a'])
    expect(parseHole(bad)).toBeUndefined();
});

test('strips: five holes, rails broken at column 32 on full boards only', () => {
  const kinds = (board: number): string | undefined => ['full', 'half', 'mini'][board - 1];
  expect(stripOfHole('1:34e', kinds)).toBe('1:34a-e');
  expect(stripOfHole('1:34f', kinds)).toBe('1:34f-j');
  expect(stripOfHole('1:t+31', kinds)).toBe('1:t+3-31');
  expect(stripOfHole('1:t+33', kinds)).toBe('1:t+33-61');
  expect(stripOfHole('1:t+8', kinds)).toBeUndefined();
  expect(stripOfHole('2:b-30', kinds)).toBe('2:b-2-30');
  expect(stripOfHole('2:31a', kinds)).toBeUndefined();
  expect(stripOfHole('3:t+3', kinds)).toBeUndefined();
  expect(stripOfHole('4:1a', kinds)).toBeUndefined();
});

test('the grid and the strip names from hole names agree', () => {
  const boards = [
    { board: 1, kind: 'full', x: 0, y: 0 },
    { board: 2, kind: 'half', x: 167.64, y: 0 },
    { board: 3, kind: 'mini', x: 0, y: 60.96 },
    { board: 4, kind: 'bus', x: 0, y: 121.92 },
  ];
  const grid = createGrid(boards);
  expect(grid.holeCount).toBe(830 + 400 + 170 + 100);
  for (let hole = 0; hole < grid.holeCount; hole++) {
    const name = grid.name(hole);
    expect(grid.find(name)).toBe(hole);
    expect(grid.at(grid.x[hole]!, grid.y[hole]!)).toBe(hole);
    expect(stripOfHole(name, (board) => boards[board - 1]?.kind)).toBe(grid.stripName(grid.strip[hole]!));
  }
  expect(new Set(Array.from({ length: grid.stripCount }, (_, s) => grid.stripName(s))).size).toBe(grid.stripCount);
});
