// A start for the annealer that has the order of the whole right: parts are laid out along the two slowest modes of their
// connections (the vectors of the graph's Laplacian with the least values above zero), then put into rows of boards. Annealing
// from here needs little heat and keeps the order, which no exchange of a few parts would find.
//
// K. M. Hall, An r-dimensional quadratic placement algorithm, Management Science 17 (1970), 219-229.

import { construct, type Placement } from './placement.ts';

/** Rounds of the iteration for the modes; each brings them nearer by the ratio of their values. */
const ROUNDS = 1500;
/** Groups of fewer parts are left to the constructor. */
const LEAST = 6;

/** Lays all slots out afresh; false, and nothing placed, where some slot is fixed or there is no room. */
export function spread(placement: Placement): boolean {
  const { problem } = placement;
  for (let p = 0; p < problem.slotCount; p++) if (placement.fixed[p] !== 0) return false;
  for (let p = 0; p < problem.slotCount; p++) {
    if (placement.board[p]! < 0) continue;
    placement.remove(p);
    placement.board[p] = -1;
  }
  const strength = connections(placement);
  const rows = boardRows(placement);
  for (const group of groupsOf(strength, problem.slotCount)) {
    if (group.length < LEAST) continue;
    placeGroup(placement, rows, group, modesOf(strength, problem.slotCount, group));
  }
  return construct(placement).length === 0;
}

/** Weight of the nets between each two slots; a net of k ends counts for 1 / (k - 1) between each two of them. */
function connections(placement: Placement): Float64Array {
  const { problem } = placement;
  const n = problem.slotCount;
  const strength = new Float64Array(n * n);
  for (let net = 0; net < problem.netCount; net++) {
    const [start, end] = [problem.netStart[net]!, problem.netStart[net + 1]!];
    for (let i = start; i < end; i++)
      for (let j = i + 1; j < end; j++) {
        const [p, q] = [problem.endSlot[i]!, problem.endSlot[j]!];
        if (p === q) continue;
        const add = problem.weight[net]! / (end - start - 1);
        strength[p * n + q]! += add;
        strength[q * n + p]! += add;
      }
  }
  return strength;
}

/** Slots that hang together, the largest group first. */
function groupsOf(strength: Float64Array, n: number): number[][] {
  const seen = new Uint8Array(n);
  const groups: number[][] = [];
  for (let p = 0; p < n; p++) {
    if (seen[p] !== 0) continue;
    seen[p] = 1;
    const group = [p];
    for (let head = 0; head < group.length; head++)
      for (let q = 0; q < n; q++)
        if (seen[q] === 0 && strength[group[head]! * n + q]! > 0) {
          seen[q] = 1;
          group.push(q);
        }
    groups.push(group.sort((a, b) => a - b));
  }
  return groups.sort((a, b) => b.length - a.length || a[0]! - b[0]!);
}

/** The two slowest modes of a group, by place in it. */
function modesOf(strength: Float64Array, n: number, group: readonly number[]): [Float64Array, Float64Array] {
  const k = group.length;
  const degree = Float64Array.from(group, (p) => group.reduce((sum, q) => sum + strength[p * n + q]!, 0));
  const shift = 2 * Math.max(...degree);
  // Any start that is not by chance without the modes; the same every time.
  let seed = 1;
  const start = (): Float64Array =>
    Float64Array.from({ length: k }, () => {
      seed = (seed * 48271) % 2147483647;
      return seed / 2147483647 - 0.5;
    });
  const modes: [Float64Array, Float64Array] = [start(), start()];
  const clean = (v: Float64Array, others: readonly Float64Array[]): void => {
    let mean = 0;
    for (let i = 0; i < k; i++) mean += v[i]! / k;
    for (let i = 0; i < k; i++) v[i]! -= mean;
    for (const other of others) {
      let dot = 0;
      let size = 0;
      for (let i = 0; i < k; i++) {
        dot += v[i]! * other[i]!;
        size += other[i]! * other[i]!;
      }
      for (let i = 0; i < k; i++) v[i]! -= (dot / (size || 1)) * other[i]!;
    }
    let square = 0;
    for (let i = 0; i < k; i++) square += v[i]! * v[i]!;
    const length = Math.sqrt(square) || 1;
    for (let i = 0; i < k; i++) v[i]! /= length;
  };
  const next = new Float64Array(k);
  for (let round = 0; round < ROUNDS; round++) {
    for (let m = 0; m < 2; m++) {
      const v = modes[m]!;
      clean(v, modes.slice(0, m));
      for (let i = 0; i < k; i++) {
        let sum = (shift - degree[i]!) * v[i]!;
        const row = group[i]! * n;
        for (let j = 0; j < k; j++) sum += strength[row + group[j]!]! * v[j]!;
        next[i] = sum;
      }
      v.set(next);
    }
  }
  clean(modes[0], []);
  clean(modes[1], [modes[0]]);
  return modes;
}

/** Boards by row from the top, each row from the left. */
function boardRows(placement: Placement): number[][] {
  const { grid, columns } = placement;
  const rows = new Map<number, number[]>();
  for (let b = 0; b < grid.boards.length; b++) {
    if (columns[b] === 0) continue;
    const list = rows.get(grid.boardY[b]!);
    if (list === undefined) rows.set(grid.boardY[b]!, [b]);
    else list.push(b);
  }
  return [...rows]
    .sort((a, b) => a[0] - b[0])
    .map(([, list]) => list.sort((a, b) => grid.boardX[a]! - grid.boardX[b]!));
}

/** Tries every number of rows and every way round; what is shortest stays. */
function placeGroup(
  placement: Placement,
  rows: readonly (readonly number[])[],
  group: readonly number[],
  modes: readonly [Float64Array, Float64Array],
): void {
  const { problem } = placement;
  const total = group.reduce((sum, p) => sum + problem.length[p]![0]! + problem.gap, 0);
  let best = Number.POSITIVE_INFINITY;
  let kept: { slot: number; variant: number; board: number; column: number }[] | undefined;
  const clear = (): void => {
    for (const p of group) {
      if (placement.board[p]! < 0) continue;
      placement.remove(p);
      placement.board[p] = -1;
    }
  };
  for (let count = 1; count <= rows.length; count++) {
    for (let way = 0; way < 8; way++) {
      const u = modes[way & 1]!;
      const v = modes[1 - (way & 1)]!;
      const [su, sv] = [(way & 2) === 0 ? 1 : -1, (way & 4) === 0 ? 1 : -1];
      const downwards = group.map((_, i) => i).sort((a, b) => sv * (v[a]! - v[b]!) || a - b);
      const lists: number[][] = Array.from({ length: count }, () => []);
      let sum = 0;
      for (const i of downwards) {
        const length = problem.length[group[i]!]![0]! + problem.gap;
        lists[Math.min(count - 1, Math.floor(((sum + length / 2) * count) / total))]!.push(i);
        sum += length;
      }
      for (const list of lists) list.sort((a, b) => su * (u[a]! - u[b]!) || a - b);
      clear();
      if (!settle(placement, rows, group, lists)) continue;
      const cost = turnAll(placement, group);
      if (cost >= best) continue;
      best = cost;
      kept = group.map((slot) => ({
        slot,
        variant: placement.variant[slot]!,
        board: placement.board[slot]!,
        column: placement.column[slot]!,
      }));
    }
  }
  clear();
  for (const { slot, variant, board, column } of kept ?? []) placement.put(slot, variant, board, column);
}

/** Puts the lists into as many rows of boards, one below the other, where there is room; false where there is none. */
function settle(
  placement: Placement,
  rows: readonly (readonly number[])[],
  group: readonly number[],
  lists: readonly (readonly number[])[],
): boolean {
  const across = Math.max(...rows.map((row) => row.length));
  for (let first = 0; first < across; first++) {
    for (let top = 0; top + lists.length <= rows.length; top++) {
      const put: number[] = [];
      const sound = lists.every((list, r) => putRow(placement, rows[top + r]!.slice(first), group, list, put));
      if (sound) return true;
      for (const p of put) {
        placement.remove(p);
        placement.board[p] = -1;
      }
    }
  }
  return false;
}

function putRow(
  placement: Placement,
  boards: readonly number[],
  group: readonly number[],
  list: readonly number[],
  put: number[],
): boolean {
  let at = 0;
  let column = 0;
  for (const i of list) {
    const slot = group[i]!;
    for (;;) {
      const board = boards[at];
      if (board === undefined) return false;
      const length = placement.problem.length[slot]![0]!;
      if (column + length > placement.columns[board]!) {
        at++;
        column = 0;
      } else if (placement.blockers(slot, 0, board, column) === 0) {
        placement.put(slot, 0, board, column);
        put.push(slot);
        column += length + placement.problem.gap;
        break;
      } else column++;
    }
  }
  return true;
}

/** Each part the way round that suits its nets best, twice over; the weighted length of the group's nets. */
function turnAll(placement: Placement, group: readonly number[]): number {
  const { problem } = placement;
  const nets = new Set<number>();
  const lengthOf = (slot: number): number => {
    let sum = 0;
    for (let j = problem.slotNetStart[slot]!; j < problem.slotNetStart[slot + 1]!; j++) {
      const net = problem.slotNets[j]!;
      nets.add(net);
      if (isPlaced(placement, net)) sum += placement.netLength(net) * problem.weight[net]!;
    }
    return sum;
  };
  for (let round = 0; round < 2; round++)
    for (const slot of group) {
      const [board, column] = [placement.board[slot]!, placement.column[slot]!];
      let least = lengthOf(slot);
      let best = placement.variant[slot]!;
      for (let v = 0; v < problem.variants[slot]!.length; v++) {
        if (v === best || placement.blockers(slot, v, board, column) !== 0) continue;
        placement.remove(slot);
        placement.put(slot, v, board, column);
        const length = lengthOf(slot);
        if (length < least) {
          least = length;
          best = v;
        }
      }
      placement.remove(slot);
      placement.put(slot, best, board, column);
    }
  let total = 0;
  for (const net of nets) if (isPlaced(placement, net)) total += placement.netLength(net) * problem.weight[net]!;
  return total;
}

function isPlaced(placement: Placement, net: number): boolean {
  const { netStart, endSlot } = placement.problem;
  for (let q = netStart[net]!; q < netStart[net + 1]!; q++) if (placement.board[endSlot[q]!]! < 0) return false;
  return true;
}
