// Bare boards: their kinds as small records, hole names, and the grid of an arrangement in typed arrays. All holes of all
// boards lie on one grid of 2.54 mm. Nothing here knows of parts or nets.

import type { HoleName, PlacedBoard, StripId } from './model.ts';

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
    name: 'single',
    title: 'full size with the lower rails taken off, 730 tie points',
    columns: 63,
    rails: { first: 3, groups: 10, breakAt: 32, sides: ['t'] },
    widthMm: 165.1,
    heightMm: 45.1,
    stepX: 66,
    stepY: 18,
    holes: 730,
    source: '63 x 10 + 2 x 50; outline from memory',
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

/**
 * All holes and strips of an arrangement. Hole ids run by board, row, column; strip ids by board, rails first. `x`, `y` are
 * pitches on the common grid. Arrays belong to the grid and are not to be changed.
 */
export interface Grid {
  readonly boards: readonly PlacedBoard[];
  readonly kinds: readonly BoardKind[];
  readonly holeCount: number;
  readonly x: Int32Array;
  readonly y: Int32Array;
  /** Index into `boards`. */
  readonly board: Int32Array;
  readonly column: Uint8Array;
  readonly row: Uint8Array;
  readonly strip: Int32Array;
  readonly stripCount: number;
  /** Holes of strip s: stripHoles[stripStart[s]] to stripHoles[stripStart[s + 1] - 1], from the top, or from the left in a rail. */
  readonly stripStart: Int32Array;
  readonly stripHoles: Int32Array;
  /** 0 terminal, 1 plus rail, 2 minus rail. */
  readonly stripKind: Uint8Array;
  /** Pitches of column 1 and of the top rail, per board. */
  readonly boardX: Int32Array;
  readonly boardY: Int32Array;
  /** Size in pitches of the whole. */
  readonly width: number;
  readonly height: number;
  /** The hole at a grid place, or -1. */
  at(x: number, y: number): number;
  /** The hole of a board (index), column and row, or -1. */
  hole(board: number, column: number, row: number): number;
  name(hole: number): HoleName;
  /** The hole of that name, or -1 where there is none on these boards. */
  find(name: string): number;
  stripName(strip: number): StripId;
}

/** Lays the boards' holes on the common grid. Boards of unknown kind have no holes. Board places are rounded to pitches. */
export function createGrid(boards: readonly PlacedBoard[]): Grid {
  const none: BoardKind = { ...BOARD_KINDS[0]!, name: '', columns: 0, rails: undefined, holes: 0 };
  const kinds = boards.map((board) => findBoardKind(board.kind) ?? none);
  const boardX = Int32Array.from(boards, (board) => Math.round(board.x / PITCH_MM));
  const boardY = Int32Array.from(boards, (board) => Math.round(board.y / PITCH_MM));
  let count = 0;
  for (const kind of kinds) count += kind.holes;
  const x = new Int32Array(count);
  const y = new Int32Array(count);
  const board = new Int32Array(count);
  const column = new Uint8Array(count);
  const row = new Uint8Array(count);
  const strip = new Int32Array(count);
  let width = 1;
  let height = 1;
  kinds.forEach((kind, b) => {
    width = Math.max(width, boardX[b]! + Math.max(kind.columns, kind.rails === undefined ? 0 : 62) + 1);
    height = Math.max(height, boardY[b]! + 20);
  });
  const cells = new Int32Array(width * height).fill(-1);
  const local = kinds.map(() => new Int32Array(14 * 64).fill(-1));
  const stripNames: string[] = [];
  const stripKinds: number[] = [];
  const lists: number[][] = [];
  let hole = 0;
  kinds.forEach((kind, b) => {
    const base = lists.length;
    const segmentOf = new Map<string, number>();
    const open = (key: string, kindCode: number): number => {
      let id = segmentOf.get(key);
      if (id === undefined) {
        id = lists.length;
        segmentOf.set(key, id);
        lists.push([]);
        stripKinds.push(kindCode);
      }
      return id;
    };
    for (let r = 0; r < ROWS.length; r++) {
      for (let c = 1; c <= 63; c++) {
        if (!hasHole(kind, c, r)) continue;
        const px = boardX[b]! + c - 1;
        const py = boardY[b]! + ROWS[r]!.y;
        x[hole] = px;
        y[hole] = py;
        board[hole] = b;
        column[hole] = c;
        row[hole] = r;
        let id: number;
        if (isRailRow(r)) {
          const after = kind.rails?.breakAt !== undefined && c > kind.rails.breakAt;
          id = open(`${r}/${after ? 1 : 0}`, r === 0 || r === 12 ? 1 : 2);
        } else id = open(`${r < 7 ? 'upper' : 'lower'}/${c}`, 0);
        strip[hole] = id;
        lists[id]!.push(hole);
        local[b]![r * 64 + c] = hole;
        if (px >= 0 && py >= 0) cells[py * width + px] = hole;
        hole++;
      }
    }
    for (let s = base; s < lists.length; s++) stripNames.push(nameOfStrip(boards[b]!.board, lists[s]!, column, row));
  });
  const stripStart = new Int32Array(lists.length + 1);
  const stripHoles = new Int32Array(count);
  let at = 0;
  lists.forEach((list, s) => {
    stripStart[s] = at;
    for (const h of list) stripHoles[at++] = h;
  });
  stripStart[lists.length] = at;
  const indexOf = new Map(boards.map((placed, b) => [placed.board, b]));
  const name = (h: number): HoleName =>
    formatHole({ board: boards[board[h]!]!.board, column: column[h]!, row: row[h]! });
  return {
    boards,
    kinds,
    holeCount: hole,
    x,
    y,
    board,
    column,
    row,
    strip,
    stripCount: lists.length,
    stripStart,
    stripHoles,
    stripKind: Uint8Array.from(stripKinds),
    boardX,
    boardY,
    width,
    height,
    at: (px, py) => (px < 0 || py < 0 || px >= width || py >= height ? -1 : cells[py * width + px]!),
    hole: (b, c, r) => (c < 1 || c > 63 ? -1 : (local[b]?.[r * 64 + c] ?? -1)),
    name,
    find: (text) => {
      const address = parseHole(text);
      if (address === undefined) return -1;
      const b = indexOf.get(address.board);
      return b === undefined || address.column > 63 ? -1 : local[b]![address.row * 64 + address.column]!;
    },
    stripName: (s) => stripNames[s]!,
  };
}

function nameOfStrip(board: number, holes: readonly number[], column: Uint8Array, row: Uint8Array): StripId {
  const first = holes[0]!;
  const last = holes[holes.length - 1]!;
  const r = ROWS[row[first]!]!.name;
  if (isRailRow(row[first]!)) return `${board}:${r}${column[first]}-${column[last]}`;
  return row[first]! < 7 ? `${board}:${column[first]}f-j` : `${board}:${column[first]}a-e`;
}

/**
 * The strip a hole belongs to, from its name and its board's kind alone: `2:34a-e`, `2:34f-j`, `2:t+3-31`. Undefined where
 * there is no such hole.
 */
export function stripOfHole(hole: HoleName, kindOf: (board: number) => string | undefined): StripId | undefined {
  const address = parseHole(hole);
  if (address === undefined) return undefined;
  const kind = findBoardKind(kindOf(address.board) ?? '');
  if (kind === undefined || !hasHole(kind, address.column, address.row)) return undefined;
  if (!isRailRow(address.row)) return `${address.board}:${address.column}${address.row < 7 ? 'f-j' : 'a-e'}`;
  const rails = kind.rails!;
  const last = rails.first + rails.groups * 6 - 2;
  const row = ROWS[address.row]!.name;
  if (rails.breakAt === undefined) return `${address.board}:${row}${rails.first}-${last}`;
  return address.column > rails.breakAt
    ? `${address.board}:${row}${rails.breakAt + 1}-${last}`
    : `${address.board}:${row}${rails.first}-${rails.breakAt - 1}`;
}

/** Pitches of a hole on the common grid, from its name and the placed boards; undefined where there is no such hole. */
export function placeOfHole(
  hole: HoleName,
  boards: readonly PlacedBoard[],
): { readonly x: number; readonly y: number } | undefined {
  const address = parseHole(hole);
  const placed = address === undefined ? undefined : boards.find((board) => board.board === address.board);
  const kind = findBoardKind(placed?.kind ?? '');
  if (address === undefined || placed === undefined || kind === undefined) return undefined;
  if (!hasHole(kind, address.column, address.row)) return undefined;
  return {
    x: Math.round(placed.x / PITCH_MM) + address.column - 1,
    y: Math.round(placed.y / PITCH_MM) + ROWS[address.row]!.y,
  };
}
