// One net: which strips to join by which holes, so that the wire is short and no strip needs more holes than it has. The
// choice of holes on a given tree is exact (dynamic programming from the leaves); the tree itself is the shortest one where
// that fits the holes, else found by several starts and exchanges of wires.
//
// Length is columns apart plus rows apart, in pitches.

import { createRng, type Rng } from '../base/index.ts';

/** A strip as the tree sees it: its column and the rows of its open holes, both in pitches. */
export interface TreeStrip {
  readonly x: number;
  readonly ys: readonly number[];
}

export interface TreeWire {
  /** Indices of strips. */
  readonly a: number;
  readonly b: number;
  /** Indices into their `ys`. */
  readonly holeA: number;
  readonly holeB: number;
}

export interface TreeResult {
  /** Undefined where no tree exists. */
  readonly wires: readonly TreeWire[] | undefined;
  readonly length: number;
  /** Length of the shortest tree if every strip had holes enough: no wiring can be shorter. */
  readonly bound: number;
}

export interface StagedResult extends TreeResult {
  /** Length of the shortest staged tree if every strip had holes enough. */
  readonly staged: number;
}

const FAR = 1e18;
const CLOSE = 1e-9;

/** Joins strips into one tree; `kept` are pairs of strips joined already. `spare` holes in all must stay open. */
export function solveTree(
  strips: readonly TreeStrip[],
  kept: readonly (readonly [number, number])[],
  spare = 0,
  starts = 6,
): TreeResult {
  return new Solver(strips, kept, undefined).solve(spare, starts);
}

/**
 * Joins strips that come stage by stage into one tree of which, at every stage, the wires between the strips that are there
 * join these: no wire comes out again. `stages` by strip. The bound is that of a tree made at once.
 */
export function solveStagedTree(strips: readonly TreeStrip[], stages: readonly number[], starts = 6): StagedResult {
  const solver = new Solver(strips, [], stages);
  return { ...solver.solve(0, starts), staged: solver.bound };
}

class Solver {
  private readonly count: number;
  private readonly strips: readonly TreeStrip[];
  private readonly kept: readonly (readonly [number, number])[];
  private readonly capacity: Int32Array;
  /** Least distance of two strips, and the columns' part of it. */
  private readonly distance: Float64Array;
  private readonly sideways: Float64Array;
  private readonly part: Int32Array;
  private readonly parts: number;
  private readonly stages: readonly number[] | undefined;
  /** Distinct stages, and how many strips are there at each. */
  private readonly steps: readonly (readonly [stage: number, strips: number])[];
  /** Length of the shortest tree in the order of stages, without regard to holes; set by `solve`. */
  bound = 0;
  private ends: [number, number][] = [];

  constructor(
    strips: readonly TreeStrip[],
    kept: readonly (readonly [number, number])[],
    stages: readonly number[] | undefined,
  ) {
    const k = strips.length;
    this.stages = stages;
    this.steps = [...new Set(stages ?? [])]
      .sort((a, b) => a - b)
      .map((stage) => [stage, stages!.filter((other) => other <= stage).length]);
    this.count = k;
    this.strips = strips;
    this.kept = kept;
    this.capacity = Int32Array.from(strips, (strip) => strip.ys.length);
    this.distance = new Float64Array(k * k);
    this.sideways = new Float64Array(k * k);
    for (let i = 0; i < k; i++) {
      for (let j = i + 1; j < k; j++) {
        const dx = Math.abs(strips[i]!.x - strips[j]!.x);
        let dy = 1e6;
        for (const p of strips[i]!.ys) for (const q of strips[j]!.ys) dy = Math.min(dy, Math.abs(p - q));
        this.sideways[i * k + j] = dx;
        this.sideways[j * k + i] = dx;
        this.distance[i * k + j] = dx + dy;
        this.distance[j * k + i] = dx + dy;
      }
    }
    const up = Int32Array.from({ length: k }, (_, i) => i);
    const find = (i: number): number => {
      let at = i;
      while (up[at] !== at) at = up[at]!;
      return at;
    };
    for (const [a, b] of kept) up[find(a)] = find(b);
    this.part = up.map((_, i) => find(i));
    this.parts = new Set(this.part).size;
  }

  solve(spare: number, starts: number): TreeResult {
    const k = this.count;
    if (this.parts < 2) return { wires: [], length: 0, bound: 0 };
    const shortest = this.grow(this.firstOf(0), false, undefined)!;
    this.bound = this.sum(shortest);
    const free = this.stages === undefined ? this.bound : this.sum(this.grow(0, false, undefined, true)!);
    const holes = this.capacity.reduce((a, b) => a + b, 0);
    if (holes < 2 * (this.parts - 1) + spare) return { wires: undefined, length: FAR, bound: free };
    const degree = new Int32Array(k);
    for (const [a, b] of shortest) {
      degree[a]!++;
      degree[b]!++;
    }
    const fits = degree.every((d, i) => d <= this.capacity[i]!);
    const rng = createRng(7);
    let best = Number.POSITIVE_INFINITY;
    let found: [number, number][] | undefined;
    for (let t = 0; t < starts + (fits ? 1 : 0); t++) {
      const plain = t <= (fits ? 1 : 0);
      const tree =
        fits && t === 0
          ? shortest.map(([a, b]): [number, number] => [a, b])
          : this.grow(this.firstOf(plain ? 0 : rng.below(k)), true, plain ? undefined : rng);
      if (tree === undefined) continue;
      let length = this.chooseHoles(tree, false);
      if (length >= FAR) continue;
      length = this.improve(tree, length);
      if (length < best - CLOSE) {
        best = length;
        found = tree.map(([a, b]): [number, number] => [a, b]);
      }
      if (best <= this.bound + CLOSE) break;
    }
    if (found === undefined) return { wires: undefined, length: FAR, bound: free };
    this.chooseHoles(found, true);
    return {
      wires: found.map(([a, b], i) => ({ a, b, holeA: this.ends[i]![0], holeB: this.ends[i]![1] })),
      length: best,
      bound: free,
    };
  }

  private sum(tree: readonly (readonly [number, number])[]): number {
    let total = 0;
    for (const [a, b] of tree) total += this.distance[a * this.count + b]!;
    return total;
  }

  /** A strip from which a tree may grow: where there are stages, one of the first. */
  private firstOf(strip: number): number {
    const { stages, steps } = this;
    if (stages === undefined || stages[strip] === steps[0]![0]) return strip;
    const first = stages.flatMap((stage, i) => (stage === steps[0]![0] ? [i] : []));
    return first[strip % first.length]!;
  }

  /** Whether the wires between the strips of each stage join these; for a tree over all of them. */
  private isNested(tree: readonly (readonly [number, number])[]): boolean {
    const { stages, steps } = this;
    if (stages === undefined) return true;
    return steps.every(
      ([stage, strips]) => tree.filter(([a, b]) => stages[a]! <= stage && stages[b]! <= stage).length === strips - 1,
    );
  }

  /** Prim's tree; with regard to holes where asked, never closing the last open one before the end. */
  private grow(
    start: number,
    counting: boolean,
    noise: Rng | undefined,
    atOnce = false,
  ): [number, number][] | undefined {
    const { count: k, distance, capacity, part } = this;
    const inside = new Uint8Array(k);
    const degree = new Int32Array(k);
    const holesOf = new Int32Array(k);
    for (let i = 0; i < k; i++) holesOf[part[i]!]! += capacity[i]!;
    let open = 0;
    const enter = (strip: number): void => {
      for (let i = 0; i < k; i++) {
        if (part[i] !== part[strip] || inside[i] !== 0) continue;
        inside[i] = 1;
        open += capacity[i]!;
      }
    };
    const jitter = noise === undefined ? undefined : Float64Array.from({ length: k * k }, () => 1 + 0.3 * noise.unit());
    enter(start);
    const tree: [number, number][] = [];
    for (let n = 1; n < this.parts; n++) {
      let from = -1;
      let to = -1;
      let least = FAR;
      const last = n === this.parts - 1;
      let now = Number.POSITIVE_INFINITY;
      if (this.stages !== undefined && !atOnce)
        for (let j = 0; j < k; j++) if (inside[j] === 0 && this.stages[j]! < now) now = this.stages[j]!;
      for (let i = 0; i < k; i++) {
        if (inside[i] === 0 || (counting && degree[i]! >= capacity[i]!)) continue;
        for (let j = 0; j < k; j++) {
          if (inside[j] !== 0 || (now < Number.POSITIVE_INFINITY && this.stages![j]! > now)) continue;
          if (counting && (capacity[j]! < 1 || (!last && open + holesOf[part[j]!]! - 2 < 1))) continue;
          const d = distance[i * k + j]! * (jitter === undefined ? 1 : jitter[i * k + j]!);
          if (d < least) {
            least = d;
            from = i;
            to = j;
          }
        }
      }
      if (from < 0) return undefined;
      enter(to);
      degree[from]!++;
      degree[to]!++;
      open -= 2;
      tree.push([from, to]);
    }
    return tree;
  }

  /** The shortest choice of holes on a forest; exact. Fills `ends` where asked. FAR where a strip has too few. */
  private chooseHoles(tree: readonly (readonly [number, number])[], want: boolean): number {
    const { count: k, strips, sideways } = this;
    const next: number[][] = Array.from({ length: k }, () => []);
    tree.forEach(([a, b], e) => {
      next[a]!.push(b, e);
      next[b]!.push(a, e);
    });
    const above = new Int32Array(k).fill(-2);
    const order: number[] = [];
    const roots: number[] = [];
    for (let r = 0; r < k; r++) {
      if (above[r] !== -2 || next[r]!.length === 0) continue;
      above[r] = -1;
      roots.push(r);
      let head = order.length;
      order.push(r);
      for (; head < order.length; head++) {
        const u = order[head]!;
        const list = next[u]!;
        for (let q = 0; q < list.length; q += 2) {
          if (above[list[q]!] !== -2) continue;
          above[list[q]!] = u;
          order.push(list[q]!);
        }
      }
    }
    // value[u][a]: least length of the part below u when its wire upwards takes hole a; [m] when it has none.
    const value: (Float64Array | undefined)[] = new Array(k).fill(undefined);
    const taken: ({ below: number[]; pick: Int8Array[]; choice: (Int8Array | undefined)[] } | undefined)[] = new Array(
      k,
    ).fill(undefined);
    for (let h = order.length - 1; h >= 0; h--) {
      const u = order[h]!;
      const ys = strips[u]!.ys;
      const m = ys.length;
      const list = next[u]!;
      const up = above[u]!;
      const children = list.length / 2 - (up >= 0 ? 1 : 0);
      if (children + (up >= 0 ? 1 : 0) > m) return FAR;
      if (children === 0) continue;
      const lengths: Float64Array[] = [];
      const picks: Int8Array[] = [];
      const below: number[] = [];
      for (let q = 0; q < list.length; q += 2) {
        const v = list[q]!;
        if (v === up) continue;
        const row = new Float64Array(m);
        const pick = new Int8Array(m);
        const theirs = strips[v]!.ys;
        const deeper = value[v];
        const dx = sideways[u * k + v]!;
        for (let a = 0; a < m; a++) {
          let least = FAR;
          for (let z = 0; z < theirs.length; z++) {
            const d = Math.abs(ys[a]! - theirs[z]!) + (deeper === undefined ? 0 : deeper[z]!);
            if (d < least) {
              least = d;
              pick[a] = z;
            }
          }
          row[a] = least + dx;
        }
        lengths.push(row);
        picks.push(pick);
        below.push(v, list[q + 1]!);
      }
      const result = new Float64Array(m + 1).fill(FAR);
      const choice: (Int8Array | undefined)[] = want ? new Array(m + 1).fill(undefined) : [];
      const assigned = new Int8Array(children);
      const assign = (child: number, used: number, total: number, free: number): void => {
        if (total >= result[free]!) return;
        if (child === children) {
          result[free] = total;
          if (want) choice[free] = assigned.slice();
          return;
        }
        for (let a = 0; a < m; a++) {
          if (((used >> a) & 1) !== 0) continue;
          assigned[child] = a;
          assign(child + 1, used | (1 << a), total + lengths[child]![a]!, free);
        }
      };
      if (up >= 0) for (let a = 0; a < m; a++) assign(0, 1 << a, 0, a);
      else assign(0, 0, 0, m);
      value[u] = result;
      taken[u] = { below, pick: picks, choice };
    }
    let total = 0;
    for (const r of roots) total += value[r]![strips[r]!.ys.length]!;
    if (want && total < FAR) {
      const ends: [number, number][] = tree.map(() => [0, 0]);
      const walk = (u: number, hole: number): void => {
        const own = taken[u];
        if (own === undefined) return;
        const chosen = own.choice[hole]!;
        for (let c = 0; c < chosen.length; c++) {
          const v = own.below[2 * c]!;
          const e = own.below[2 * c + 1]!;
          const here = chosen[c]!;
          const there = own.pick[c]![here]!;
          ends[e] = tree[e]![0] === u ? [here, there] : [there, here];
          walk(v, there);
        }
      };
      for (const r of roots) walk(r, strips[r]!.ys.length);
      this.ends = ends;
    }
    return total;
  }

  private connected(tree: readonly (readonly [number, number])[]): boolean {
    const up = Int32Array.from(this.part);
    const find = (i: number): number => {
      let at = i;
      while (up[at] !== at) at = up[at]!;
      return at;
    };
    let left = this.parts;
    for (const [a, b] of tree) {
      const x = find(a);
      const y = find(b);
      if (x === y) return false;
      up[x] = y;
      left--;
    }
    return left === 1 && this.isNested(tree);
  }

  /** Exchanges wires while that shortens the tree; changes `tree`. */
  private improve(tree: [number, number][], start: number): number {
    let length = start;
    for (;;) {
      if (length <= this.bound + CLOSE) return length;
      const better = this.exchangeOne(tree, length) ?? this.reinsert(tree, length) ?? this.exchangeTwo(tree, length);
      if (better === undefined) return length;
      length = better;
    }
  }

  /** One wire for another. */
  private exchangeOne(tree: [number, number][], length: number): number | undefined {
    const { count: k, distance, capacity } = this;
    const degree = new Int32Array(k);
    for (const [a, b] of tree) {
      degree[a]!++;
      degree[b]!++;
    }
    const sum = this.sum(tree);
    for (let e = 0; e < tree.length; e++) {
      const old = tree[e]!;
      const [u, v] = old;
      const side = this.sideOf(tree, e);
      degree[u]!--;
      degree[v]!--;
      const rest = sum - distance[u * k + v]!;
      for (let i = 0; i < k; i++) {
        if (side[i] === 0 || degree[i]! >= capacity[i]!) continue;
        for (let j = 0; j < k; j++) {
          if (side[j] !== 0 || degree[j]! >= capacity[j]! || (i === u && j === v)) continue;
          if (rest + distance[i * k + j]! >= length - CLOSE) continue;
          tree[e] = [i, j];
          if (!this.isNested(tree)) continue;
          const now = this.chooseHoles(tree, false);
          if (now < length - CLOSE) return now;
        }
      }
      tree[e] = old;
      degree[u]!++;
      degree[v]!++;
    }
    return undefined;
  }

  /** The strips on the first end's side of wire `e`. */
  private sideOf(tree: readonly (readonly [number, number])[], e: number): Uint8Array {
    const side = new Uint8Array(this.count);
    const stack = [tree[e]![0]];
    side[stack[0]!] = 1;
    while (stack.length > 0) {
      const at = stack.pop()!;
      const visit = (a: number, b: number): void => {
        const other = a === at ? b : b === at ? a : -1;
        if (other >= 0 && side[other] === 0) {
          side[other] = 1;
          stack.push(other);
        }
      };
      for (let f = 0; f < tree.length; f++) if (f !== e) visit(tree[f]![0], tree[f]![1]);
      for (const [a, b] of this.kept) visit(a, b);
    }
    return side;
  }

  /** A strip with one or two wires goes elsewhere in the tree. */
  private reinsert(tree: [number, number][], length: number): number | undefined {
    const { count: k, distance, capacity } = this;
    const held = new Uint8Array(k);
    for (const [a, b] of this.kept) {
      held[a] = 1;
      held[b] = 1;
    }
    const accept = (candidate: [number, number][]): number | undefined => {
      const now = this.chooseHoles(candidate, false);
      if (now >= length - CLOSE || !this.connected(candidate)) return undefined;
      tree.length = 0;
      tree.push(...candidate);
      return now;
    };
    for (let v = 0; v < k; v++) {
      if (held[v] !== 0) continue;
      const mates: number[] = [];
      const rest: [number, number][] = [];
      for (const wire of tree) {
        if (wire[0] === v || wire[1] === v) mates.push(wire[0] === v ? wire[1] : wire[0]);
        else rest.push(wire);
      }
      if (mates.length === 0 || mates.length > 2) continue;
      if (mates.length === 2) {
        if (this.part[mates[0]!] === this.part[mates[1]!]) continue;
        rest.push([mates[0]!, mates[1]!]);
      }
      const degree = new Int32Array(k);
      for (const [a, b] of rest) {
        degree[a]!++;
        degree[b]!++;
      }
      const sum = this.sum(rest);
      for (let i = 0; i < k; i++) {
        if (i === v || degree[i]! >= capacity[i]! || sum + distance[i * k + v]! >= length - CLOSE) continue;
        const now = accept([...rest, [i, v]]);
        if (now !== undefined) return now;
      }
      if (capacity[v]! < 2) continue;
      for (let q = 0; q < rest.length; q++) {
        const [a, b] = rest[q]!;
        if (sum - distance[a * k + b]! + distance[a * k + v]! + distance[v * k + b]! >= length - CLOSE) continue;
        const candidate = rest.slice();
        candidate[q] = [a, v];
        candidate.push([v, b]);
        const now = accept(candidate);
        if (now !== undefined) return now;
      }
    }
    return undefined;
  }

  /** Two wires exchange ends. */
  private exchangeTwo(tree: [number, number][], length: number): number | undefined {
    const { count: k, distance } = this;
    const sum = this.sum(tree);
    for (let e = 0; e < tree.length; e++) {
      for (let f = e + 1; f < tree.length; f++) {
        const one = tree[e]!;
        const two = tree[f]!;
        const rest = sum - distance[one[0] * k + one[1]]! - distance[two[0] * k + two[1]]!;
        for (const [p, q] of [
          [
            [one[0], two[0]],
            [one[1], two[1]],
          ],
          [
            [one[0], two[1]],
            [one[1], two[0]],
          ],
        ] as [[number, number], [number, number]][]) {
          if (p[0] === p[1] || q[0] === q[1]) continue;
          if (rest + distance[p[0] * k + p[1]]! + distance[q[0] * k + q[1]]! >= length - CLOSE) continue;
          tree[e] = p;
          tree[f] = q;
          if (this.connected(tree)) {
            const now = this.chooseHoles(tree, false);
            if (now < length - CLOSE) return now;
          }
          tree[e] = one;
          tree[f] = two;
        }
      }
    }
    return undefined;
  }
}
