// What stands on nets that resistors and closed switches join. Closed switches make their nets one; a net that nothing
// drives takes the level that the resistors divide down to, as a fraction of the supply; between the thresholds it is X.

import { HIGH, LOW, X } from '../values.ts';
import { WEAK_HIGH, WEAK_LOW } from './build.ts';
import type { CircuitCluster } from './circuit.ts';

/**
 * Values of a cluster's nets into `out` (by place in cluster.nets), from what drives each net (`strong`, Z where nothing
 * does) and whether each switch is closed (`closed`: HIGH, LOW, else not known). Cubic in the nets that are only pulled.
 */
export function resolveCluster(cluster: CircuitCluster, strong: Uint8Array, closed: Uint8Array, out: Uint8Array): void {
  const count = cluster.nets.length;
  const place = new Map(cluster.nets.map((net, k) => [net, k]));
  const parent = Int32Array.from({ length: count }, (_, k) => k);
  const find = (k: number): number => {
    let at = k;
    while (parent[at] !== at) at = parent[at]!;
    return at;
  };
  const value = Uint8Array.from(strong);
  cluster.switches.forEach(({ a, b }, n) => {
    const [x, y] = [find(place.get(a)!), find(place.get(b)!)];
    if (closed[n] === HIGH) {
      if (x !== y) parent[Math.max(x, y)] = Math.min(x, y);
    } else if (closed[n] !== LOW) {
      // A contact that may be closed leaves neither side known.
      value[place.get(a)!] = X;
      value[place.get(b)!] = X;
    }
  });
  const driven = new Uint8Array(count);
  const up = new Float64Array(count);
  const down = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    const root = find(k);
    driven[root]! |= value[k]!;
    up[root]! += cluster.up[k]!;
    down[root]! += cluster.down[k]!;
  }
  const links: { a: number; b: number; g: number }[] = [];
  for (const { a, b, ohms } of cluster.resistors) {
    const [x, y] = [find(place.get(a)!), find(place.get(b)!)];
    if (x !== y) links.push({ a: x, b: y, g: 1 / ohms });
  }
  // Nets that some level reaches through resistors.
  const reached = new Uint8Array(count);
  for (let k = 0; k < count; k++) if (driven[k] !== 0 || up[k]! + down[k]! > 0) reached[k] = 1;
  for (let changed = true; changed; ) {
    changed = false;
    for (const { a, b } of links) {
      if (reached[a] === reached[b]) continue;
      reached[a] = 1;
      reached[b] = 1;
      changed = true;
    }
  }
  const weak: number[] = [];
  for (let k = 0; k < count; k++) if (find(k) === k && driven[k] === 0 && reached[k] === 1) weak.push(k);
  const isUnknown = driven.includes(X);
  const low = weak.length === 0 ? [] : solve(weak, driven, up, down, links, 0);
  const high = weak.length === 0 || !isUnknown ? low : solve(weak, driven, up, down, links, 1);
  const weakValue = new Uint8Array(count);
  weak.forEach((k, n) => {
    const a = levelOfFraction(low[n]!);
    weakValue[k] = a === levelOfFraction(high[n]!) ? a : X;
  });
  for (let k = 0; k < count; k++) {
    const root = find(k);
    out[k] = driven[root] !== 0 ? driven[root]! : weakValue[root]!;
  }
}

function levelOfFraction(fraction: number): number {
  return fraction >= WEAK_HIGH ? HIGH : fraction <= WEAK_LOW ? LOW : X;
}

/** Fractions of the supply at the nets in `weak`; what is driven unknown counts as `unknown`. Gauss, no pivoting: the matrix is diagonally dominant. */
function solve(
  weak: readonly number[],
  driven: Uint8Array,
  up: Float64Array,
  down: Float64Array,
  links: readonly { readonly a: number; readonly b: number; readonly g: number }[],
  unknown: number,
): number[] {
  const n = weak.length;
  const row = new Map(weak.map((k, index) => [k, index]));
  const m = weak.map((k) => {
    const line = new Float64Array(n + 1);
    line[row.get(k)!] = up[k]! + down[k]!;
    line[n] = up[k]!;
    return line;
  });
  const toDriven = (at: number, to: number, g: number): void => {
    m[at]![at]! += g;
    const value = driven[to]!;
    m[at]![n]! += g * (value === HIGH ? 1 : value === LOW ? 0 : unknown);
  };
  for (const { a, b, g } of links) {
    const x = row.get(a);
    const y = row.get(b);
    if (x !== undefined && y !== undefined) {
      m[x]![x]! += g;
      m[y]![y]! += g;
      m[x]![y]! -= g;
      m[y]![x]! -= g;
    } else if (x !== undefined && driven[b] !== 0) toDriven(x, b, g);
    else if (y !== undefined && driven[a] !== 0) toDriven(y, a, g);
  }
  for (let k = 0; k < n; k++) {
    for (let r = k + 1; r < n; r++) {
      const factor = m[r]![k]! / m[k]![k]!;
      if (factor === 0) continue;
      for (let c = k; c <= n; c++) m[r]![c]! -= factor * m[k]![c]!;
    }
  }
  const result = new Array<number>(n).fill(0);
  for (let k = n - 1; k >= 0; k--) {
    let sum = m[k]![n]!;
    for (let c = k + 1; c < n; c++) sum -= m[k]![c]! * result[c]!;
    result[k] = sum / m[k]![k]!;
  }
  return result;
}
