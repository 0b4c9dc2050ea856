// Conductors as trees of strips, for proving wires by touching two places: which wires a reading can prove at all (those on no
// loop), which lie between two strips, and the fewest pairs of ends that prove them all. In a tree with L ends, ceil(L / 2)
// paths between ends cover every edge, and fewer can't, since each end needs a touch of its own.

export interface TreeEdge {
  readonly a: number;
  readonly b: number;
  /** What is to be proved, or -1 for what was proved before. */
  readonly element: number;
}

export interface PathTree {
  /** Conductor of each strip, and how many conductors there are. */
  readonly component: Int32Array;
  readonly components: number;
  /** Elements a reading can prove, and those it can't because another way joins the same strips. In order. */
  readonly provable: readonly number[];
  readonly looped: readonly number[];
  /** Elements on the way between two strips of one conductor; [] where they are on different ones. */
  path(from: number, to: number): number[];
  /** The fewest pairs of strips whose paths cover all provable elements. */
  fewest(): readonly (readonly [number, number])[];
  /** Pairs worth considering: `fewest`, and all pairs of ends of small trees. */
  pairs(): readonly (readonly [number, number])[];
  /** Strips at the ends of the tree that `strip` belongs to, as seen from it; itself first. */
  ends(strip: number): readonly number[];
}

interface Half {
  readonly to: number;
  readonly edge: number;
}

/** Builds the trees of strips 0 to count - 1. Linear but for `pairs`. */
export function buildTree(count: number, edges: readonly TreeEdge[]): PathTree {
  const halves: Half[][] = Array.from({ length: count }, () => []);
  edges.forEach((edge, i) => {
    halves[edge.a]!.push({ to: edge.b, edge: i });
    if (edge.a !== edge.b) halves[edge.b]!.push({ to: edge.a, edge: i });
  });
  const component = new Int32Array(count).fill(-1);
  const order = new Int32Array(count).fill(-1);
  const low = new Int32Array(count);
  const isBridge = new Uint8Array(edges.length);
  let components = 0;
  let clock = 0;
  for (let root = 0; root < count; root++) {
    if (order[root] !== -1) continue;
    // Depth first without recursion: rails make long chains.
    const stack: { node: number; by: number; next: number }[] = [{ node: root, by: -1, next: 0 }];
    order[root] = clock;
    low[root] = clock++;
    component[root] = components;
    while (stack.length > 0) {
      const top = stack.at(-1)!;
      const half = halves[top.node]![top.next];
      if (half === undefined) {
        stack.pop();
        const up = stack.at(-1);
        if (up !== undefined) {
          low[up.node] = Math.min(low[up.node]!, low[top.node]!);
          if (low[top.node]! > order[up.node]!) isBridge[top.by] = 1;
        }
        continue;
      }
      top.next++;
      if (half.edge === top.by) continue;
      if (order[half.to] === -1) {
        order[half.to] = clock;
        low[half.to] = clock++;
        component[half.to] = components;
        stack.push({ node: half.to, by: half.edge, next: 0 });
      } else low[top.node] = Math.min(low[top.node]!, order[half.to]!);
    }
    components++;
  }
  const provable: number[] = [];
  const looped: number[] = [];
  edges.forEach((edge, i) => {
    if (edge.element >= 0) (isBridge[i] === 1 ? provable : looped).push(edge.element);
  });

  // Contract everything but what is to be proved: what is left is a forest whose edges are the provable elements.
  const parent = Int32Array.from({ length: count }, (_, i) => i);
  const find = (node: number): number => {
    let at = node;
    while (parent[at] !== at) {
      parent[at] = parent[parent[at]!]!;
      at = parent[at]!;
    }
    return at;
  };
  edges.forEach((edge, i) => {
    if (edge.element < 0 || isBridge[i] === 0) {
      const x = find(edge.a);
      const y = find(edge.b);
      if (x !== y) parent[Math.max(x, y)] = Math.min(x, y);
    }
  });
  const forest = new Map<number, { to: number; element: number; strip: number }[]>();
  const link = (from: number, to: number, element: number, strip: number): void => {
    const list = forest.get(from);
    if (list === undefined) forest.set(from, [{ to, element, strip }]);
    else list.push({ to, element, strip });
  };
  edges.forEach((edge, i) => {
    if (edge.element < 0 || isBridge[i] === 0) return;
    link(find(edge.a), find(edge.b), edge.element, edge.a);
    link(find(edge.b), find(edge.a), edge.element, edge.b);
  });

  const path = (from: number, to: number): number[] => {
    if (component[from] !== component[to]) return [];
    const start = find(from);
    const goal = find(to);
    if (start === goal) return [];
    const by = new Map<number, { node: number; element: number }>([[start, { node: -1, element: -1 }]]);
    const queue = [start];
    for (const node of queue) {
      if (node === goal) break;
      for (const half of forest.get(node) ?? [])
        if (!by.has(half.to)) {
          by.set(half.to, { node, element: half.element });
          queue.push(half.to);
        }
    }
    const elements: number[] = [];
    for (let at = goal; at !== start; ) {
      const step = by.get(at)!;
      elements.push(step.element);
      at = step.node;
    }
    return elements;
  };
  /** Ends of the tree of a contracted node, in depth-first order from an inner node: one strip each, the one its wire goes to. */
  const endsOf = (node: number): number[] => {
    let root = node;
    if ((forest.get(root) ?? []).length === 1) root = forest.get(root)![0]!.to;
    const found: number[] = [];
    const stack: { node: number; from: number; strip: number }[] = [{ node: root, from: -1, strip: -1 }];
    while (stack.length > 0) {
      const top = stack.pop()!;
      const next = forest.get(top.node) ?? [];
      if (next.length === 1) found.push(next[0]!.strip);
      for (let i = next.length - 1; i >= 0; i--)
        if (next[i]!.to !== top.from) stack.push({ node: next[i]!.to, from: top.node, strip: next[i]!.strip });
    }
    return found;
  };
  const roots: number[] = [];
  const seen = new Set<number>();
  for (const node of [...forest.keys()].sort((a, b) => a - b)) {
    if (seen.has(component[node]!)) continue;
    // Several trees may lie on one conductor, joined by nothing (contracted parts join them): one tree each conductor.
    seen.add(component[node]!);
    roots.push(node);
  }
  let fewestPairs: (readonly [number, number])[] | undefined;
  const fewest = (): readonly (readonly [number, number])[] => {
    fewestPairs ??= roots.flatMap((root) => {
      const ends = endsOf(root);
      const half = Math.floor(ends.length / 2);
      const list: (readonly [number, number])[] = [];
      for (let i = 0; i < half; i++) list.push([ends[i]!, ends[i + half]!]);
      if (ends.length % 2 === 1) list.push([ends[0]!, ends.at(-1)!]);
      return list;
    });
    return fewestPairs;
  };
  const pairs = (): readonly (readonly [number, number])[] => {
    const list = [...fewest()];
    for (const root of roots) {
      const ends = endsOf(root);
      if (ends.length > 9) continue;
      for (let i = 0; i < ends.length; i++) for (let j = i + 1; j < ends.length; j++) list.push([ends[i]!, ends[j]!]);
    }
    return list;
  };
  const rootOf = new Map(roots.map((root) => [component[root]!, root]));
  const ends = (strip: number): readonly number[] => {
    const root = rootOf.get(component[strip]!);
    return root === undefined ? [strip] : [strip, ...endsOf(root)];
  };
  return { component, components, provable, looped, path, fewest, pairs, ends };
}
