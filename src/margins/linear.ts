// Voltages of a resistive network: conductances between nodes, currents drawn, some nodes held. The rails and strips of a bench
// are nearly a tree, so nodes are eliminated in the order of their degree and hardly anything fills in (minimum degree, Tinney
// and Walker 1967). What is eliminated once serves any number of currents, and one conductor can change without a new start.

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

/** A network made ready: any currents can be asked of it. */
export interface Solver {
  /** True for nodes that a held node reaches. */
  readonly reaches: (node: number) => boolean;
  /** V of every node with `share` (1 unless said) of what the network draws; null for nodes that no held node reaches. */
  readonly volts: (share?: number) => (number | null)[];
  /** V of every node when `amps` come in at `a` and go out at `b`, all held nodes at 0 V; unreached nodes give 0. */
  readonly response: (a: number, b: number, amps: number) => Float64Array;
}

const OHM_LEAST = 1e-6;

interface Elimination {
  readonly node: number;
  readonly diagonal: number;
  readonly to: readonly number[];
  readonly factor: readonly number[];
}

/** Eliminates the free nodes of a network. Its cost grows with the nodes as long as the network is nearly a tree. */
export function prepareNetwork(network: Network): Solver {
  const { nodes, conductors, held, drawn } = network;
  const near: Map<number, number>[] = Array.from({ length: nodes }, () => new Map());
  const join = (a: number, b: number, g: number): void => void near[a]!.set(b, (near[a]!.get(b) ?? 0) + g);
  for (const { a, b, ohm } of conductors) {
    if (a === b) continue;
    const g = 1 / Math.max(ohm, OHM_LEAST);
    join(a, b, g);
    join(b, a, g);
  }
  const reached = new Uint8Array(nodes);
  const stack = [...held.keys()];
  for (const node of stack) reached[node] = 1;
  while (stack.length > 0)
    for (const to of near[stack.pop()!]!.keys())
      if (reached[to] === 0) {
        reached[to] = 1;
        stack.push(to);
      }
  const free: number[] = [];
  for (let node = 0; node < nodes; node++) if (reached[node] === 1 && !held.has(node)) free.push(node);
  const diagonal = new Float64Array(nodes);
  const toHeld = new Float64Array(nodes);
  const rest: Map<number, number>[] = Array.from({ length: nodes }, () => new Map());
  for (const node of free)
    for (const [to, g] of near[node]!) {
      diagonal[node]! += g;
      const volts = held.get(to);
      if (volts === undefined) rest[node]!.set(to, g);
      else toHeld[node]! += g * volts;
    }
  // Buckets by degree; a node stands in the bucket of its degree when it was put there, and is put again when that changes.
  const buckets: number[][] = [];
  const place = (node: number): void => {
    const degree = rest[node]!.size;
    while (buckets.length <= degree) buckets.push([]);
    buckets[degree]!.push(node);
  };
  for (const node of free) place(node);
  const done = new Uint8Array(nodes);
  const order: Elimination[] = [];
  for (let degree = 0; degree < buckets.length; ) {
    const node = buckets[degree]!.pop();
    if (node === undefined) {
      degree++;
      continue;
    }
    if (done[node] === 1 || rest[node]!.size !== degree) continue;
    done[node] = 1;
    const row = [...rest[node]!];
    const pivot = diagonal[node]!;
    order.push({ node, diagonal: pivot, to: row.map(([to]) => to), factor: row.map(([, g]) => g / pivot) });
    let least = degree;
    for (const [to, g] of row) {
      rest[to]!.delete(node);
      diagonal[to]! -= (g * g) / pivot;
      for (const [other, h] of row)
        if (other !== to) rest[to]!.set(other, (rest[to]!.get(other) ?? 0) + (g * h) / pivot);
      place(to);
      least = Math.min(least, rest[to]!.size);
    }
    degree = least;
  }
  const solve = (right: Float64Array): Float64Array => {
    for (const { node, to, factor } of order) {
      const value = right[node]!;
      if (value !== 0) for (let k = 0; k < to.length; k++) right[to[k]!]! += factor[k]! * value;
    }
    for (let k = order.length - 1; k >= 0; k--) {
      const { node, diagonal: pivot, to, factor } = order[k]!;
      let value = right[node]! / pivot;
      for (let j = 0; j < to.length; j++) value += factor[j]! * right[to[j]!]!;
      right[node] = value;
    }
    return right;
  };
  const isFree = (node: number): boolean => reached[node] === 1 && !held.has(node);
  return {
    reaches: (node) => reached[node] === 1,
    volts: (share = 1) => {
      const right = new Float64Array(nodes);
      for (const node of free) right[node] = toHeld[node]! - share * (drawn.get(node) ?? 0);
      const x = solve(right);
      return Array.from({ length: nodes }, (_, node) => held.get(node) ?? (reached[node] === 1 ? x[node]! : null));
    },
    response: (a, b, amps) => {
      const right = new Float64Array(nodes);
      if (isFree(a)) right[a]! += amps;
      if (isFree(b)) right[b]! -= amps;
      return solve(right);
    },
  };
}

/** V of every node; null for nodes that no held node reaches. */
export function solveNetwork(network: Network): (number | null)[] {
  return prepareNetwork(network).volts();
}
