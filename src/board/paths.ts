// The way each wire lies: along lanes of half a pitch between and over the holes, round the bodies. A flat wire covers no
// hole that is used while it is there and no body; a lane holds two wires (one lying on the other), four to a column. What
// finds no such way, or only by a long detour, is arched and goes over things, but not over a chip that comes out if there
// is another way.

import type { Body } from './footprint.ts';
import { bodyCovers } from './footprint.ts';
import type { Space } from './space.ts';

/** A wire to be laid. Holes are ids of the grid. */
export interface PathJob {
  readonly a: number;
  readonly b: number;
  readonly from: number;
  readonly until: number;
  /** Wires of one bus lie side by side where they can; bits in order. -1 for none. */
  readonly bus: number;
  readonly bit: number;
  /** A way of a crimped lead: it goes over things and lies in no lane. */
  readonly flying: boolean;
  /** A way it had before, kept where it is still free. */
  readonly before: { readonly path: readonly (readonly [number, number])[]; readonly flat: boolean } | undefined;
}

export interface LaidPath {
  readonly flat: boolean;
  /** Corners in pitches, ends included. */
  readonly corners: readonly (readonly [number, number])[];
  readonly pitches: number;
  /** The nodes of the way, for this file only. */
  readonly nodes: readonly number[];
}

/** A body in the way, and when; `out` where the part comes out to be programmed. */
export interface PathObstacle {
  readonly body: Body;
  readonly from: number;
  readonly until: number;
  readonly out: boolean;
  /** High above the board: in the way of arched wires only. */
  readonly high?: boolean;
}

/** Wires that one lane holds. */
export const LANE_CAPACITY = 2;

const MARGIN = 8;
const STEP = 20;
const BEND = 14;
/** A lane in which a wire lies already; a free hole covered; half of a step beside a wire of the same bus. */
const SHARED = 8;
const OVER_HOLE = 3;
const BESIDE = 5;
/** Arched: over a body, over one that comes out, over a used hole. */
const OVER_BODY = 6;
const OVER_OUT = 120;
const OVER_USED = 2;
/** A flat way may be longer than the straight one by this factor and this many half pitches. */
const DETOUR_FACTOR = 1.35;
const DETOUR_MORE = 12;
/** Half pitches from which on a wire is searched greedily, and is not searched a second time in a wider area. */
const LONG = 60;
const PATIENCE = 6_000;

/** The lanes of an arrangement and what lies in them; wires are laid and taken up one by one or all at once. */
export class Lanes {
  /** Steps after which a search is given up; a wire that takes longer is arched. */
  patience = PATIENCE;
  private readonly space: Space;
  private readonly width: number;
  private readonly height: number;
  /** 1 + index of the obstacle at a node, 0 for none; several at one place make a chain. */
  private readonly covered: Int32Array;
  private readonly chain: { obstacle: number; next: number }[] = [{ obstacle: -1, next: 0 }];
  private readonly obstacles: PathObstacle[] = [];
  private readonly holeAt: Int32Array;
  /** Wires along the edge to the right of and below a node. */
  private readonly useAcross: Uint8Array;
  private readonly useDown: Uint8Array;
  private readonly busAcross: Int16Array;
  private readonly busDown: Int16Array;
  // Search state: two per node, by the direction of arrival (0 across, 1 down).
  private readonly cost: Int32Array;
  private readonly stamp: Int32Array;
  private readonly came: Int32Array;
  private round = 0;
  private heapKeys: Int32Array = new Int32Array(1024);
  private heapItems: Int32Array = new Int32Array(1024);
  private heapSize = 0;

  constructor(space: Space, obstacles: readonly PathObstacle[]) {
    this.space = space;
    const { grid } = space;
    this.width = grid.width * 2 + 2 * MARGIN;
    this.height = grid.height * 2 + 2 * MARGIN;
    const size = this.width * this.height;
    this.covered = new Int32Array(size);
    this.holeAt = new Int32Array(size).fill(-1);
    this.useAcross = new Uint8Array(size);
    this.useDown = new Uint8Array(size);
    this.busAcross = new Int16Array(size).fill(-1);
    this.busDown = new Int16Array(size).fill(-1);
    this.cost = new Int32Array(size * 2);
    this.stamp = new Int32Array(size * 2);
    this.came = new Int32Array(size * 2);
    for (let hole = 0; hole < grid.holeCount; hole++) this.holeAt[this.nodeOf(hole)] = hole;
    for (const obstacle of obstacles) this.addObstacle(obstacle);
  }

  /** Puts a body in the way; the number returned takes it away again. */
  addObstacle(obstacle: PathObstacle): number {
    const index = this.obstacles.length;
    this.obstacles.push(obstacle);
    this.eachNode(obstacle.body, (node) => {
      this.chain.push({ obstacle: index, next: this.covered[node]! });
      this.covered[node] = this.chain.length - 1;
    });
    return index;
  }

  removeObstacle(index: number): void {
    this.obstacles[index] = { ...this.obstacles[index]!, from: 0, until: 0 };
  }

  /** The nodes that a body and holes take: a flat way through one of them has to give way. */
  nodesUnder(body: Body, holes: readonly number[]): Set<number> {
    const nodes = new Set<number>();
    this.eachNode(body, (node) => nodes.add(node));
    for (const hole of holes) nodes.add(this.nodeOf(hole));
    return nodes;
  }

  /** Whether a way leads through one of the nodes, its ends left aside. */
  static passes(path: LaidPath, nodes: ReadonlySet<number>): boolean {
    for (let i = 1; i < path.nodes.length - 1; i++) if (nodes.has(path.nodes[i]!)) return true;
    return false;
  }

  private eachNode(body: Body, visit: (node: number) => void): void {
    const rx = Math.abs(body.ux) * body.halfLength + Math.abs(body.uy) * body.halfWidth;
    const ry = Math.abs(body.uy) * body.halfLength + Math.abs(body.ux) * body.halfWidth;
    for (let y = Math.ceil((body.cy - ry) * 2); y <= (body.cy + ry) * 2; y++) {
      for (let x = Math.ceil((body.cx - rx) * 2); x <= (body.cx + rx) * 2; x++) {
        if (!bodyCovers(body, x / 2, y / 2)) continue;
        const column = x + MARGIN;
        const row = y + MARGIN;
        if (column >= 0 && column < this.width && row >= 0 && row < this.height) visit(row * this.width + column);
      }
    }
  }

  private nodeOf(hole: number): number {
    const { x, y } = this.space.grid;
    return (y[hole]! * 2 + MARGIN) * this.width + x[hole]! * 2 + MARGIN;
  }

  /** Takes a wire's way up again. */
  remove(path: LaidPath, job: PathJob): void {
    if (path.flat) this.occupy(path.nodes, job, -1);
  }

  /** Lays all wires, short ones first, the bits of a bus one after the other. Result in the order of the jobs. */
  layAll(jobs: readonly PathJob[]): LaidPath[] {
    const { grid } = this.space;
    const result: (LaidPath | undefined)[] = new Array(jobs.length).fill(undefined);
    const direct = (job: PathJob): number =>
      Math.abs(grid.x[job.a]! - grid.x[job.b]!) + Math.abs(grid.y[job.a]! - grid.y[job.b]!);
    jobs.forEach((job, i) => {
      if (job.before !== undefined) result[i] = this.keep(job, job.before);
    });
    // A bus goes at the turn of its shortest wire, so that its bits follow each other.
    const turnOf = new Map<number, number>();
    for (const job of jobs) {
      if (job.bus < 0) continue;
      turnOf.set(job.bus, Math.min(turnOf.get(job.bus) ?? Number.POSITIVE_INFINITY, direct(job)));
    }
    const order = jobs.map((_, i) => i).filter((i) => result[i] === undefined);
    order.sort((i, j) => {
      const a = jobs[i]!;
      const b = jobs[j]!;
      const x = a.bus < 0 ? direct(a) : turnOf.get(a.bus)!;
      const y = b.bus < 0 ? direct(b) : turnOf.get(b.bus)!;
      return x - y || a.bus - b.bus || a.bit - b.bit || direct(a) - direct(b) || i - j;
    });
    for (const i of order) result[i] = this.lay(jobs[i]!, direct(jobs[i]!));
    return result.map((path) => path!);
  }

  private lay(job: PathJob, direct: number): LaidPath {
    const limit = (direct * 2 * DETOUR_FACTOR + DETOUR_MORE) * (STEP + OVER_HOLE) + 8 * BEND;
    for (const reach of job.flying ? [] : direct * 2 > LONG ? [8] : [6, 16]) {
      const nodes = this.search(job, true, reach, limit);
      if (nodes === undefined) continue;
      const laid = this.finish(nodes, true);
      if (laid.pitches * 2 > direct * 2 * DETOUR_FACTOR + DETOUR_MORE) break;
      this.occupy(nodes, job, 1);
      return laid;
    }
    const over = this.search(job, false, 6, 1 << 29);
    if (over !== undefined) return this.finish(over, false);
    const { x, y } = this.space.grid;
    const corners: (readonly [number, number])[] = [
      [x[job.a]!, y[job.a]!],
      [x[job.b]!, y[job.a]!],
      [x[job.b]!, y[job.b]!],
    ];
    return { flat: false, corners: straighten(corners), pitches: direct, nodes: [] };
  }

  /** The obstacle chain at a node: 0 free, 1 a body, 2 a body that comes out, during the job's stages. */
  private bodyAt(node: number, job: PathJob, flat: boolean): number {
    let worst = 0;
    for (let at = this.covered[node]!; at !== 0; at = this.chain[at]!.next) {
      const obstacle = this.obstacles[this.chain[at]!.obstacle]!;
      if (obstacle.from >= job.until || job.from >= obstacle.until || (flat && obstacle.high === true)) continue;
      worst = Math.max(worst, obstacle.out ? 2 : 1);
    }
    return worst;
  }

  private search(job: PathJob, flat: boolean, reach: number, limit: number): number[] | undefined {
    const { width, height, space } = this;
    const start = this.nodeOf(job.a);
    const goal = this.nodeOf(job.b);
    const gx = goal % width;
    const gy = Math.floor(goal / width);
    const sx = start % width;
    const sy = Math.floor(start / width);
    const x0 = Math.max(0, Math.min(sx, gx) - reach * 2);
    const x1 = Math.min(width - 1, Math.max(sx, gx) + reach * 2);
    const y0 = Math.max(0, Math.min(sy, gy) - reach * 2);
    const y1 = Math.min(height - 1, Math.max(sy, gy) + reach * 2);
    this.round++;
    this.heapSize = 0;
    // Beside its bus a wire may cost less per step than the estimate says; the way found is then nearly the cheapest. Long
    // wires are searched more greedily still, or a drag across the boards would take too long.
    const cheapest = STEP * (Math.abs(sx - gx) + Math.abs(sy - gy) > LONG ? 1.2 : 1);
    const estimate = (x: number, y: number): number => (Math.abs(x - gx) + Math.abs(y - gy)) * cheapest;
    for (let d = 0; d < 2; d++) {
      this.stamp[start * 2 + d] = this.round;
      this.cost[start * 2 + d] = 0;
      this.came[start * 2 + d] = -1;
      this.push(estimate(sx, sy), start * 2 + d);
    }
    let patience = flat ? this.patience : this.patience / 3;
    while (this.heapSize > 0) {
      if (--patience < 0) return undefined;
      const key = this.heapKeys[0]!;
      const state = this.pop();
      const node = state >> 1;
      const direction = state & 1;
      const x = node % width;
      const y = (node - x) / width;
      const g = this.cost[state]!;
      if (g + estimate(x, y) < key) continue;
      if (key > limit) return undefined;
      if (node === goal) {
        const nodes: number[] = [];
        for (let at = state; at >= 0; at = this.came[at]!) nodes.push(at >> 1);
        return nodes.reverse();
      }
      for (let k = 0; k < 4; k++) {
        const across = k < 2;
        const nx = k === 0 ? x - 1 : k === 1 ? x + 1 : x;
        const ny = k === 2 ? y - 1 : k === 3 ? y + 1 : y;
        if (nx < x0 || nx > x1 || ny < y0 || ny > y1) continue;
        const next = ny * width + nx;
        const edge = k === 0 || k === 2 ? next : node;
        let step = STEP;
        const used = across ? this.useAcross[edge]! : this.useDown[edge]!;
        if (flat) {
          if (used >= LANE_CAPACITY) continue;
          step += used * SHARED;
        }
        if (next !== goal) {
          const body = this.covered[next] === 0 ? 0 : this.bodyAt(next, job, flat);
          const hole = this.holeAt[next]!;
          if (flat) {
            if (body !== 0) continue;
            if (hole >= 0) {
              if (space.isUsed(hole, job.from, job.until)) continue;
              step += OVER_HOLE;
            }
          } else {
            if (body === 2) step += OVER_OUT;
            else if (body === 1) step += OVER_BODY;
            if (hole >= 0 && space.isUsed(hole, job.from, job.until)) step += OVER_USED;
          }
        }
        if (flat && job.bus >= 0) {
          const one = across ? edge - width : edge - 1;
          const two = across ? edge + width : edge + 1;
          const buses = across ? this.busAcross : this.busDown;
          if (buses[one] === job.bus || buses[two] === job.bus) step -= BESIDE;
        }
        if (direction !== (across ? 0 : 1)) step += BEND;
        const total = g + step;
        const to = next * 2 + (across ? 0 : 1);
        if (this.stamp[to] === this.round && this.cost[to]! <= total) continue;
        this.stamp[to] = this.round;
        this.cost[to] = total;
        this.came[to] = state;
        this.push(total + estimate(nx, ny), to);
      }
    }
    return undefined;
  }

  private finish(nodes: readonly number[], flat: boolean): LaidPath {
    const corners = straighten(
      nodes.map((node): [number, number] => [
        ((node % this.width) - MARGIN) / 2,
        (Math.floor(node / this.width) - MARGIN) / 2,
      ]),
    );
    return { flat, corners, pitches: (nodes.length - 1) / 2, nodes };
  }

  private occupy(nodes: readonly number[], job: PathJob, by: number): void {
    for (let i = 1; i < nodes.length; i++) {
      const edge = Math.min(nodes[i]!, nodes[i - 1]!);
      const across = Math.abs(nodes[i]! - nodes[i - 1]!) === 1;
      const use = across ? this.useAcross : this.useDown;
      use[edge]! += by;
      if (job.bus >= 0) (across ? this.busAcross : this.busDown)[edge] = job.bus;
    }
  }

  /** The way of before, if nothing is in it now. */
  private keep(
    job: PathJob,
    before: { readonly path: readonly (readonly [number, number])[]; readonly flat: boolean },
  ): LaidPath | undefined {
    const { grid } = this.space;
    const first = before.path[0]!;
    const last = before.path[before.path.length - 1]!;
    const ends = (hole: number, at: readonly [number, number]): boolean =>
      grid.x[hole] === at[0] && grid.y[hole] === at[1];
    if (!(ends(job.a, first) && ends(job.b, last)) && !(ends(job.b, first) && ends(job.a, last))) return undefined;
    const nodes: number[] = [];
    for (let i = 0; i < before.path.length; i++) {
      const x = before.path[i]![0] * 2 + MARGIN;
      const y = before.path[i]![1] * 2 + MARGIN;
      if (!Number.isInteger(x) || !Number.isInteger(y) || x < 0 || y < 0 || x >= this.width || y >= this.height)
        return undefined;
      if (i === 0) {
        nodes.push(y * this.width + x);
        continue;
      }
      let at = nodes[nodes.length - 1]!;
      const ax = at % this.width;
      const ay = Math.floor(at / this.width);
      if (ax !== x && ay !== y) return undefined;
      const step = ax < x ? 1 : ax > x ? -1 : ay < y ? this.width : -this.width;
      const goal = y * this.width + x;
      while (at !== goal) {
        at += step;
        nodes.push(at);
      }
    }
    if (nodes.length < 2) return undefined;
    if (job.flying && before.flat) return undefined;
    const laid = this.finish(nodes, before.flat);
    if (!before.flat) return laid;
    for (let i = 1; i < nodes.length; i++) {
      const edge = Math.min(nodes[i]!, nodes[i - 1]!);
      const use = Math.abs(nodes[i]! - nodes[i - 1]!) === 1 ? this.useAcross : this.useDown;
      if (use[edge]! >= LANE_CAPACITY) return undefined;
      if (i === nodes.length - 1) continue;
      const node = nodes[i]!;
      if (this.covered[node] !== 0 && this.bodyAt(node, job, true) !== 0) return undefined;
      const hole = this.holeAt[node]!;
      if (hole >= 0 && this.space.isUsed(hole, job.from, job.until)) return undefined;
    }
    this.occupy(nodes, job, 1);
    return laid;
  }

  private push(key: number, item: number): void {
    if (this.heapSize === this.heapKeys.length) {
      const keys = new Int32Array(this.heapSize * 2);
      keys.set(this.heapKeys);
      this.heapKeys = keys;
      const items = new Int32Array(this.heapSize * 2);
      items.set(this.heapItems);
      this.heapItems = items;
    }
    const { heapKeys, heapItems } = this;
    let i = this.heapSize++;
    while (i > 0) {
      const up = (i - 1) >> 1;
      if (heapKeys[up]! <= key) break;
      heapKeys[i] = heapKeys[up]!;
      heapItems[i] = heapItems[up]!;
      i = up;
    }
    heapKeys[i] = key;
    heapItems[i] = item;
  }

  private pop(): number {
    const { heapKeys, heapItems } = this;
    const top = heapItems[0]!;
    const size = --this.heapSize;
    const key = heapKeys[size]!;
    const item = heapItems[size]!;
    let i = 0;
    for (;;) {
      let child = 2 * i + 1;
      if (child >= size) break;
      if (child + 1 < size && heapKeys[child + 1]! < heapKeys[child]!) child++;
      if (heapKeys[child]! >= key) break;
      heapKeys[i] = heapKeys[child]!;
      heapItems[i] = heapItems[child]!;
      i = child;
    }
    heapKeys[i] = key;
    heapItems[i] = item;
    return top;
  }
}

/** Leaves out the points that lie on a straight stretch. */
function straighten(points: readonly (readonly [number, number])[]): (readonly [number, number])[] {
  const corners: (readonly [number, number])[] = [];
  for (const point of points) {
    const b = corners[corners.length - 1];
    const a = corners[corners.length - 2];
    if (b !== undefined && b[0] === point[0] && b[1] === point[1]) continue;
    if (
      a !== undefined &&
      b !== undefined &&
      ((a[0] === b[0] && b[0] === point[0]) || (a[1] === b[1] && b[1] === point[1]))
    )
      corners.pop();
    corners.push(point);
  }
  return corners;
}
