// Stands in for the board folder's geometry until that lands.
// Bare boards: their kinds as small records, hole names, and the grid of an arrangement in typed arrays. All holes of all
// boards lie on one grid of 2.54 mm. Nothing here knows of parts or nets.

import type { HoleName } from '../board/index.ts';

/** mm between neighbouring holes. */
export const PITCH_MM = 2.54;

/** A kind of board. Rows and their places are the same on every kind (`ROWS`); a kind says which of them it has. */
export interface BoardKind {
  readonly name: string;
  readonly title: string;
  /** Columns of terminal strips; 0 for a board that is rails only. */
  readonly columns: number;
  /** Rails: first column, number of groups of five (a column free between groups), and the column of the break, if any. */
  readonly rails:
    | {
        readonly first: number;
        readonly groups: number;
        readonly breakAt: number | undefined;
        readonly sides: readonly ('t' | 'b')[];
      }
    | undefined;
  readonly widthMm: number;
  readonly heightMm: number;
  /** Pitches from one board to the next, across and down, where they are joined. */
  readonly stepX: number;
  readonly stepY: number;
  /** Tie points, as printed on the package. */
  readonly holes: number;
  /** Where the figures come from. */
  readonly source: string;
}

/**
 * The kinds. Tie points and columns: 63 x 10 + 4 x 50 = 830, 30 x 10 + 4 x 25 = 400, 17 x 10 = 170 as sold; the width of the
 * gutter (row e to row f 7.62 mm) from the text on solderless boards quoted at oem-pcb.com (Wikipedia); outlines, the first
 * column of the rails and the place of the break from memory of common boards.
 */
export const BOARD_KINDS: readonly BoardKind[] = [
  {
    name: 'full',
    title: 'full size, 830 tie points',
    columns: 63,
    rails: { first: 3, groups: 10, breakAt: 32, sides: ['t', 'b'] },
    widthMm: 165.1,
    heightMm: 54.6,
    stepX: 66,
    stepY: 24,
    holes: 830,
    source: 'tie points as sold; outline from memory',
  },
  {
    name: 'half',
    title: 'half size, 400 tie points',
    columns: 30,
    rails: { first: 2, groups: 5, breakAt: undefined, sides: ['t', 'b'] },
    widthMm: 82.5,
    heightMm: 54.6,
    stepX: 33,
    stepY: 24,
    holes: 400,
    source: 'tie points as sold; outline from memory',
  },
  {
    name: 'mini',
    title: 'mini, 170 tie points',
    columns: 17,
    rails: undefined,
    widthMm: 45.7,
    heightMm: 54.6,
    stepX: 18,
    stepY: 24,
    holes: 170,
    source: 'tie points as sold; drawn in the outline of a board whose rails are off; from memory',
  },
  {
    name: 'terminal',
    title: 'full size with both rails taken off, 630 tie points',
    columns: 63,
    rails: undefined,
    widthMm: 165.1,
    heightMm: 54.6,
    stepX: 66,
    stepY: 24,
    holes: 630,
    source: '63 x 10',
  },
  {
    name: 'bus',
    title: 'bus strip, two rails of 50',
    columns: 0,
    rails: { first: 3, groups: 10, breakAt: 32, sides: ['t'] },
    widthMm: 165.1,
    heightMm: 9,
    stepX: 66,
    stepY: 5,
    holes: 100,
    source: 'two rails of a full-size board',
  },
];

/** The kind of that name, or undefined. */
export function findBoardKind(name: string): BoardKind | undefined {
  return BOARD_KINDS.find((kind) => kind.name === name);
}

/** Row names in order from the top, and pitches from the top rail. */
export const ROWS: readonly { readonly name: string; readonly y: number }[] = [
  { name: 't+', y: 0 },
  { name: 't-', y: 1 },
  { name: 'j', y: 4 },
  { name: 'i', y: 5 },
  { name: 'h', y: 6 },
  { name: 'g', y: 7 },
  { name: 'f', y: 8 },
  { name: 'e', y: 11 },
  { name: 'd', y: 12 },
  { name: 'c', y: 13 },
  { name: 'b', y: 14 },
  { name: 'a', y: 15 },
  { name: 'b+', y: 18 },
  { name: 'b-', y: 19 },
];

/** mm from a board's upper left corner to column 1 and to the top rail (interface guide, section 5). */
export const FIRST_COLUMN_MM = 3.81;
export const FIRST_ROW_MM = 3.17;

/** A hole name taken apart; `row` indexes `ROWS`. */
export interface HoleAddress {
  readonly board: number;
  readonly column: number;
  readonly row: number;
}

const ROW_OF = new Map(ROWS.map((row, index) => [row.name, index]));

/** Whether a row index is a rail. */
export function isRailRow(row: number): boolean {
  return row < 2 || row > 11;
}

/** Reads `2:34e` or `2:t+31`; undefined for anything else. Says nothing of whether there is such a hole. */
export function parseHole(text: string): HoleAddress | undefined {
  const match = /^([1-9]\d{0,2}):(?:([tb][+-])([1-9]\d?)|([1-9]\d?)([a-j]))$/.exec(text);
  if (match === null) return undefined;
  const row = ROW_OF.get(match[2] ?? match[5]!);
  if (row === undefined) return undefined;
  return { board: Number(match[1]), column: Number(match[3] ?? match[4]), row };
}

/** The name of a hole. */
export function formatHole(address: HoleAddress): HoleName {
  const row = ROWS[address.row]!.name;
  return isRailRow(address.row)
    ? `${address.board}:${row}${address.column}`
    : `${address.board}:${address.column}${row}`;
}

/** Whether a board of `kind` has a hole at that column and row. */
export function hasHole(kind: BoardKind, column: number, row: number): boolean {
  if (isRailRow(row)) {
    const rails = kind.rails;
    if (rails === undefined || !rails.sides.includes(row < 2 ? 't' : 'b')) return false;
    const at = column - rails.first;
    return at >= 0 && at < rails.groups * 6 - 1 && at % 6 !== 5;
  }
  return column >= 1 && column <= kind.columns;
}

/** What a strip is: five holes of a terminal strip, or a segment of a rail. */
export type StripKind = 'terminal' | 'plus' | 'minus';
