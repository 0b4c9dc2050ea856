// Voltages of a resistive network: conductances between nodes, currents drawn, some nodes held. Symmetric and positive, so the
// method of conjugate gradients (Hestenes and Stiefel 1952) with diagonal scaling; no matrix is stored.

export interface Conductor {
  readonly a: number;
  readonly b: number;
  readonly ohm: number;
}

export interface Network {
  readonly nodes: number;
  readonly conductors: readonly Conductor[];
  /** V of the nodes that a supply holds. */
  readonly held: ReadonlyMap<number, number>;
  /** A drawn out of a node (negative where current comes in). */
  readonly drawn: ReadonlyMap<number, number>;
}

/** V of every node; null for nodes that no held node reaches. */
export function solveNetwork(network: Network): (number | null)[] {
  const { nodes, conductors, held, drawn } = network;
  const near: { to: number; g: number }[][] = Array.from({ length: nodes }, () => []);
  for (const { a, b, ohm } of conductors) {
    const g = 1 / Math.max(ohm, 1e-6);
    near[a]!.push({ to: b, g });
    near[b]!.push({ to: a, g });
  }
  const reached = new Uint8Array(nodes);
  const stack = [...held.keys()];
  for (const node of stack) reached[node] = 1;
  while (stack.length > 0)
    for (const { to } of near[stack.pop()!]!)
      if (reached[to] === 0) {
        reached[to] = 1;
        stack.push(to);
      }
  const free: number[] = [];
  for (let node = 0; node < nodes; node++) if (reached[node] === 1 && !held.has(node)) free.push(node);
  const index = new Int32Array(nodes).fill(-1);
  free.forEach((node, k) => {
    index[node] = k;
  });
  const n = free.length;
  const diagonal = new Float64Array(n);
  const right = new Float64Array(n);
  free.forEach((node, k) => {
    right[k] = -(drawn.get(node) ?? 0);
    for (const { to, g } of near[node]!) {
      diagonal[k]! += g;
      const volts = held.get(to);
      if (volts !== undefined) right[k]! += g * volts;
    }
  });
  const multiply = (x: Float64Array, out: Float64Array): void => {
    free.forEach((node, k) => {
      let sum = diagonal[k]! * x[k]!;
      for (const { to, g } of near[node]!) {
        const other = index[to]!;
        if (other >= 0) sum -= g * x[other]!;
      }
      out[k] = sum;
    });
  };
  // From the mean of what is held: the drops are small beside it.
  const start = held.size === 0 ? 0 : [...held.values()].reduce((a, b) => a + b, 0) / held.size;
  const x = new Float64Array(n).fill(start);
  const r = new Float64Array(n);
  const ap = new Float64Array(n);
  multiply(x, ap);
  for (let k = 0; k < n; k++) r[k] = right[k]! - ap[k]!;
  const z = Float64Array.from(r, (value, k) => value / diagonal[k]!);
  const p = Float64Array.from(z);
  const dot = (a: Float64Array, b: Float64Array): number => a.reduce((sum, value, k) => sum + value * b[k]!, 0);
  let rz = dot(r, z);
  const goal = 1e-24 * Math.max(1e-12, dot(right, right));
  for (let step = 0; step < 20 * n + 20 && dot(r, r) > goal; step++) {
    multiply(p, ap);
    const alpha = rz / dot(p, ap);
    for (let k = 0; k < n; k++) {
      x[k]! += alpha * p[k]!;
      r[k]! -= alpha * ap[k]!;
      z[k] = r[k]! / diagonal[k]!;
    }
    const next = dot(r, z);
    const beta = next / rz;
    rz = next;
    for (let k = 0; k < n; k++) p[k] = z[k]! + beta * p[k]!;
  }
  return Array.from({ length: nodes }, (_, node) => {
    const volts = held.get(node);
    if (volts !== undefined) return volts;
    const k = index[node]!;
    return k < 0 ? null : x[k]!;
  });
}
