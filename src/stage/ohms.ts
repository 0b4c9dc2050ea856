// Readings of an ohmmeter in a network of resistors, and how one fault changes them. Effective resistances of all pairs come
// from one inversion; what a bridge or a missing resistor does to a reading follows in closed form (rank-one updates of the
// network's matrix: Sherman and Morrison 1950).

export interface OhmEdge {
  readonly a: number;
  readonly b: number;
  readonly ohms: number;
}

export interface OhmNetwork {
  /** Between two nodes; Infinity where no resistor path joins them, 0 for a node with itself. */
  between(a: number, b: number): number;
  /** The same with nodes x and y bridged. */
  bridged(a: number, b: number, x: number, y: number): number;
  /** The same with one of the edges missing (its index). */
  without(a: number, b: number, edge: number): number;
}

/** A network of `count` nodes. O(n³) in the largest group of nodes that resistors join. */
export function createOhmNetwork(count: number, edges: readonly OhmEdge[]): OhmNetwork {
  const group = new Int32Array(count).fill(-1);
  const place = new Int32Array(count);
  const adjacent = new Map<number, number[]>();
  for (const edge of edges) {
    for (const [from, to] of [
      [edge.a, edge.b],
      [edge.b, edge.a],
    ] as const) {
      const list = adjacent.get(from);
      if (list === undefined) adjacent.set(from, [to]);
      else list.push(to);
    }
  }
  const matrices: Float64Array[] = [];
  const sizes: number[] = [];
  for (const start of adjacent.keys()) {
    if (group[start] !== -1) continue;
    const id = matrices.length;
    const members = [start];
    group[start] = id;
    for (const node of members)
      for (const next of adjacent.get(node)!)
        if (group[next] === -1) {
          group[next] = id;
          members.push(next);
        }
    members.forEach((node, i) => {
      place[node] = i;
    });
    const n = members.length;
    // The last node is the reference: the reduced Laplacian of the others is inverted.
    const m = n - 1;
    const laplacian = new Float64Array(m * m);
    for (const edge of edges) {
      if (group[edge.a] !== id) continue;
      const g = 1 / edge.ohms;
      const i = place[edge.a]!;
      const j = place[edge.b]!;
      if (i === j) continue;
      if (i < m) laplacian[i * m + i]! += g;
      if (j < m) laplacian[j * m + j]! += g;
      if (i < m && j < m) {
        laplacian[i * m + j]! -= g;
        laplacian[j * m + i]! -= g;
      }
    }
    matrices.push(invert(laplacian, m));
    sizes.push(m);
  }
  const entry = (id: number, i: number, j: number): number => {
    const m = sizes[id]!;
    return i >= m || j >= m ? 0 : matrices[id]![i * m + j]!;
  };
  const between = (a: number, b: number): number => {
    if (a === b) return 0;
    const id = group[a]!;
    if (id === -1 || id !== group[b]) return Number.POSITIVE_INFINITY;
    const i = place[a]!;
    const j = place[b]!;
    return entry(id, i, i) + entry(id, j, j) - 2 * entry(id, i, j);
  };
  /** Voltage between x and y for one ampere through a and b; 0 where they have nothing to do with each other. */
  const transfer = (a: number, b: number, x: number, y: number): number => {
    const id = group[a]!;
    if (id === -1 || [b, x, y].some((node) => group[node] !== id)) return 0;
    const [i, j, k, l] = [place[a]!, place[b]!, place[x]!, place[y]!];
    return entry(id, i, k) - entry(id, i, l) - entry(id, j, k) + entry(id, j, l);
  };
  const bridged = (a: number, b: number, x: number, y: number): number => {
    if ((a === x && b === y) || (a === y && b === x)) return 0;
    const direct = between(a, b);
    if (Number.isFinite(direct)) {
      const across = between(x, y);
      if (!Number.isFinite(across)) return direct;
      const t = transfer(a, b, x, y);
      return across <= 0 ? direct : Math.max(0, direct - (t * t) / across);
    }
    // Apart before: the bridge may lead from one group to the other.
    return Math.min(between(a, x) + between(y, b), between(a, y) + between(x, b));
  };
  const without = (a: number, b: number, index: number): number => {
    const edge = edges[index]!;
    const direct = between(a, b);
    if (!Number.isFinite(direct) || edge.a === edge.b) return direct;
    const t = transfer(a, b, edge.a, edge.b);
    if (Math.abs(t) < 1e-9 * edge.ohms) return direct;
    const rest = 1 - between(edge.a, edge.b) / edge.ohms;
    return rest < 1e-9 ? Number.POSITIVE_INFINITY : direct + (t * t) / edge.ohms / rest;
  };
  return { between, bridged, without };
}

/** Inverse of a symmetric positive definite matrix, by Gauss and Jordan. */
function invert(source: Float64Array, n: number): Float64Array {
  const a = Float64Array.from(source);
  const inverse = new Float64Array(n * n);
  for (let i = 0; i < n; i++) inverse[i * n + i] = 1;
  for (let column = 0; column < n; column++) {
    const pivot = a[column * n + column]!;
    for (let k = 0; k < n; k++) {
      a[column * n + k]! /= pivot;
      inverse[column * n + k]! /= pivot;
    }
    for (let row = 0; row < n; row++) {
      const factor = a[row * n + column]!;
      if (row === column || factor === 0) continue;
      for (let k = 0; k < n; k++) {
        a[row * n + k]! -= factor * a[column * n + k]!;
        inverse[row * n + k]! -= factor * inverse[column * n + k]!;
      }
    }
  }
  return inverse;
}
