// Where holes lie, in mm of the arrangement, and which strip each belongs to. Reads hole names; an unknown name is undefined,
// never an exception, since names come from files.

import {
  FIRST_COLUMN_MM,
  FIRST_ROW_MM,
  findBoardKind,
  type HoleName,
  hasHole,
  type Layout,
  PITCH_MM,
  type PlacedBoard,
  parseHole,
  ROWS as HOLE_ROWS,
} from '../board/index.ts';

/** mm from hole to hole. */
export const PITCH = PITCH_MM;

export type Row = 'a' | 'b' | 'c' | 'd' | 'e' | 'f' | 'g' | 'h' | 'i' | 'j' | 't+' | 't-' | 'b+' | 'b-';

/** Rows from the top, and mm of each below the outer top rail. */
export const ROWS = HOLE_ROWS.map((row) => row.name) as readonly Row[];
export const ROW_Y = Object.fromEntries(HOLE_ROWS.map((row) => [row.name, row.y * PITCH_MM])) as Readonly<
  Record<Row, number>
>;

export interface Rect {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

/** One board of the arrangement with everything that drawing it needs. */
export interface BoardPlace extends Rect {
  readonly board: number;
  /** Of terminal strips; 0 for rails only. */
  readonly columns: number;
  /** mm of column 1 and of the outer top rail. */
  readonly firstX: number;
  readonly firstY: number;
  readonly railRows: readonly Row[];
  /** Rail segments as first and last column. */
  readonly railSegments: readonly (readonly [number, number])[];
  /** Columns at which that row has a hole. */
  holesIn(row: Row): readonly number[];
}

export interface HolePlace {
  readonly board: number;
  readonly column: number;
  readonly row: Row;
  readonly x: number;
  readonly y: number;
}

/** A strip of five, or a rail segment: the line its contact lies on. */
export interface StripPlace {
  readonly key: string;
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
  readonly rail: boolean;
}

export interface Places {
  readonly boards: readonly BoardPlace[];
  /** All boards together. */
  readonly bounds: Rect;
  hole(name: HoleName): HolePlace | undefined;
  strip(hole: HolePlace): StripPlace;
}

const isRail = (row: Row): boolean => row.length === 2;

/** Boards are put on the common grid of whole pitches, as layout does; a kind that isn't known is an outline without holes. */
function boardPlace(placed: PlacedBoard): BoardPlace {
  const kind = findBoardKind(placed.kind);
  const onGrid = (mm: number): number => Math.round(mm / PITCH) * PITCH;
  const x = onGrid(placed.x);
  const y = onGrid(placed.y);
  const holes = new Map<Row, readonly number[]>();
  ROWS.forEach((row, index) => {
    const columns = Array.from({ length: 63 }, (_, i) => i + 1);
    holes.set(row, kind === undefined ? [] : columns.filter((column) => hasHole(kind, column, index)));
  });
  const railRows = ROWS.filter((row) => isRail(row) && holes.get(row)!.length > 0);
  const inRail = railRows[0] === undefined ? [] : holes.get(railRows[0])!;
  const breakAt = kind?.rails?.breakAt;
  const before = inRail.filter((column) => breakAt === undefined || column < breakAt);
  const after = inRail.filter((column) => breakAt !== undefined && column > breakAt);
  return {
    board: placed.board,
    columns: kind?.columns ?? 0,
    x,
    y,
    width: kind?.widthMm ?? 165.1,
    height: kind?.heightMm ?? 54.6,
    firstX: x + FIRST_COLUMN_MM,
    firstY: y + FIRST_ROW_MM,
    railRows,
    railSegments: [before, after].filter((part) => part.length > 0).map((part) => [part[0]!, part.at(-1)!] as const),
    holesIn: (row) => holes.get(row)!,
  };
}

/** The place of every hole of a layout's boards. */
export function createPlaces(layout: Layout): Places {
  const boards = layout.boards.map(boardPlace);
  const byNumber = new Map(boards.map((board) => [board.board, board]));
  const left = Math.min(...boards.map((b) => b.x));
  const top = Math.min(...boards.map((b) => b.y));
  const bounds: Rect =
    boards.length === 0
      ? { x: 0, y: 0, width: 10, height: 10 }
      : {
          x: left,
          y: top,
          width: Math.max(...boards.map((b) => b.x + b.width)) - left,
          height: Math.max(...boards.map((b) => b.y + b.height)) - top,
        };
  return {
    boards,
    bounds,
    hole: (name) => {
      const address = parseHole(name);
      const board = address === undefined ? undefined : byNumber.get(address.board);
      if (address === undefined || board === undefined) return undefined;
      const row = ROWS[address.row]!;
      if (!board.holesIn(row).includes(address.column)) return undefined;
      const x = board.firstX + (address.column - 1) * PITCH;
      return { board: board.board, column: address.column, row, x, y: board.firstY + ROW_Y[row] };
    },
    strip: (hole) => {
      const board = byNumber.get(hole.board)!;
      if (isRail(hole.row)) {
        const [first, last] = board.railSegments.find(([a, z]) => hole.column >= a && hole.column <= z)!;
        const x = (column: number): number => board.firstX + (column - 1) * PITCH;
        const key = `${hole.board}:${hole.row}${first}`;
        return { key, x0: x(first), x1: x(last), y0: hole.y, y1: hole.y, rail: true };
      }
      const upper = hole.row >= 'f';
      const y = (row: Row): number => board.firstY + ROW_Y[row];
      const key = `${hole.board}:${hole.column}${upper ? 'f' : 'a'}`;
      return { key, x0: hole.x, x1: hole.x, y0: y(upper ? 'j' : 'e'), y1: y(upper ? 'f' : 'a'), rail: false };
    },
  };
}

/** The hole nearest to a place in mm, if it is within 0.6 pitch each way. A page turns px into mm by the drawing's scale. */
export function nearestHole(places: Places, x: number, y: number): HoleName | undefined {
  const board = places.boards.find((b) => x >= b.x && x <= b.x + b.width && y >= b.y && y <= b.y + b.height);
  if (board === undefined) return undefined;
  const column = Math.round((x - board.firstX) / PITCH) + 1;
  const away = (row: Row): number => Math.abs(board.firstY + ROW_Y[row] - y);
  const row = ROWS.reduce((best, next) => (away(next) < away(best) ? next : best));
  if (away(row) > 0.6 * PITCH || !board.holesIn(row).includes(column)) return undefined;
  return isRail(row) ? `${board.board}:${row}${column}` : `${board.board}:${column}${row}`;
}
