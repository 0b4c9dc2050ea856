// Cheapest assignment of signals to pins: each signal one pin of its own. The Hungarian method by shortest augmenting paths
// (Kuhn 1955, Munkres 1957), O(n^2 m). Deterministic: of equal assignments the one found first.

/** Cost of what must not be. */
export const FORBIDDEN = Number.POSITIVE_INFINITY;

/**
 * `costs[row][column]`, at most as many rows as columns. The column of each row, or undefined where the rows cannot all have
 * an allowed column of their own.
 */
export function assignCheapest(costs: readonly (readonly number[])[]): number[] | undefined {
  const rows = costs.length;
  const columns = costs[0]?.length ?? 0;
  if (rows === 0) return [];
  if (rows > columns) return undefined;
  const rowPotential = new Float64Array(rows + 1);
  const columnPotential = new Float64Array(columns + 1);
  /** Row (from 1) that holds each column (from 1); 0 is none. */
  const holder = new Int32Array(columns + 1);
  for (let row = 1; row <= rows; row++) {
    holder[0] = row;
    let column = 0;
    const least = new Float64Array(columns + 1).fill(Number.POSITIVE_INFINITY);
    const from = new Int32Array(columns + 1);
    const isDone = new Uint8Array(columns + 1);
    do {
      isDone[column] = 1;
      const current = holder[column]!;
      let delta = Number.POSITIVE_INFINITY;
      let next = -1;
      for (let c = 1; c <= columns; c++) {
        if (isDone[c] === 1) continue;
        const cost = costs[current - 1]![c - 1]! - rowPotential[current]! - columnPotential[c]!;
        if (cost < least[c]!) {
          least[c] = cost;
          from[c] = column;
        }
        if (least[c]! < delta) {
          delta = least[c]!;
          next = c;
        }
      }
      if (next < 0) return undefined;
      for (let c = 0; c <= columns; c++) {
        if (isDone[c] === 1) {
          rowPotential[holder[c]!]! += delta;
          columnPotential[c]! -= delta;
        } else least[c]! -= delta;
      }
      column = next;
    } while (holder[column] !== 0);
    while (column !== 0) {
      const before = from[column]!;
      holder[column] = holder[before]!;
      column = before;
    }
  }
  const result = new Array<number>(rows).fill(-1);
  for (let c = 1; c <= columns; c++) if (holder[c] !== 0) result[holder[c]! - 1] = c - 1;
  return result;
}
