// How many boards, and how they lie: across and down on the common grid, numbered as one reads.

import type { BoardChoice } from './choices.ts';
import { findBoardKind, PITCH_MM } from './geometry.ts';
import type { PlacedBoard } from './model.ts';
import type { Slot } from './slots.ts';

/** Boards as chosen, each row as high and each column as wide as its largest board. Unknown kinds are left out. */
export function placeBoards(choices: readonly BoardChoice[]): PlacedBoard[] {
  const wide = new Map<number, number>();
  const high = new Map<number, number>();
  for (const choice of choices) {
    const kind = findBoardKind(choice.kind);
    if (kind === undefined) continue;
    wide.set(choice.column, Math.max(wide.get(choice.column) ?? 0, kind.stepX));
    high.set(choice.row, Math.max(high.get(choice.row) ?? 0, kind.stepY));
  }
  const before = (sizes: ReadonlyMap<number, number>, index: number): number => {
    let sum = 0;
    for (const [at, size] of sizes) if (at < index) sum += size;
    return sum;
  };
  return choices.flatMap((choice, index) =>
    findBoardKind(choice.kind) === undefined
      ? []
      : [
          {
            board: index + 1,
            kind: choice.kind,
            x: round(before(wide, choice.column) * PITCH_MM),
            y: round(before(high, choice.row) * PITCH_MM),
          },
        ],
  );
}

function round(mm: number): number {
  return Math.round(mm * 100) / 100;
}

/** An arrangement of `count` boards of one kind, about as wide as high. */
export function proposeBoards(count: number, kind: string): BoardChoice[] {
  const shape = findBoardKind(kind);
  const ratio = shape === undefined ? 2.75 : shape.stepX / shape.stepY;
  let across = Math.max(1, Math.round(Math.sqrt(count / ratio)));
  if (count <= 5 && ratio > 2) across = 1;
  return Array.from({ length: count }, (_, index) => ({
    kind,
    column: (index % across) + 1,
    row: Math.floor(index / across) + 1,
  }));
}

/** Share of columns that parts fill where the tool chooses the number of boards: room for small parts and lanes. */
const FILL = 0.66;

/** The number of boards of that kind to start with. */
export function estimateBoards(slots: readonly Slot[], smallParts: number, kind: string): number {
  const columns = findBoardKind(kind)?.columns ?? 63;
  let need = smallParts * 0.7;
  for (const slot of slots) {
    const variant = slot.variants[0];
    if (variant !== undefined) need += (variant.length + 1) * (variant.halves === 3 ? 1 : 0.5);
  }
  return Math.max(1, Math.ceil(need / (columns * FILL)));
}
