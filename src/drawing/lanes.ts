// Lanes: which way each wire is drawn, on a grid of half a pitch (1.27 mm, about the insulation's width). Runs after layout,
// for wires whose path the layout doesn't give; it chooses lines on the drawing, never holes. Deterministic.
// One wire per lane, few corners, no detours, wires of one bundle side by side: each wire takes the cheapest way past those
// that lie already, in an order that starts with short bundles; then each is lifted and laid anew with the others in place.

/** mm between lanes. */
export const LANE = 1.27;

export type Point = readonly [x: number, y: number];

/** A wire to be drawn, mm. */
export interface LaneWire {
  readonly id: string;
  readonly from: Point;
  readonly to: Point;
  /** Wires of one bundle share this; they are pulled side by side. Empty for a wire by itself. */
  readonly bundle: string;
  /** Place in the bundle, such as the bit. */
  readonly order: number;
  /** Corners, ends included, where they are given; kept as they are and avoided by the others. */
  readonly path?: readonly Point[] | undefined;
}

/** What wires have to go round, mm. */
export interface LaneField {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
  /** A hole of the grid, for its origin. */
  readonly origin: Point;
  /** Bodies of parts. */
  readonly bodies: readonly {
    readonly x: number;
    readonly y: number;
    readonly width: number;
    readonly height: number;
  }[];
  /** Holes with a lead in them. */
  readonly leads: readonly Point[];
  /** Places better left clear: holes of a pin's strip, names. */
  readonly soft: readonly Point[];
  /** Rails: wires may cross but not run along them. */
  readonly rails: readonly { readonly x0: number; readonly x1: number; readonly y: number }[];
}

export interface Lanes {
  /** Corners of each wire's way, ends included, mm. */
  readonly paths: ReadonlyMap<string, readonly Point[]>;
  /** Stretches of one lane length that two wires share: 0 but on the most crowded boards. */
  readonly shared: number;
}

// Costs, in quarters of a lane's length.
const STEP = 4;
const NEAR = 5; // estimate per step still to go
const BEND = 26;
const CROSS = 5;
const TOUCH = 48;
const SHARE = 120;
const SOFT = 3;
const ALONG_RAIL = 20;
const BESIDE = 1; // saved per step beside a wire of the same bundle
const WINDOW = 16; // lanes searched round the box of the two ends, at first
const TOP = 1 << 14; // highest cost that the queue tells apart

/** Finds ways for all wires. About O(wires x lanes of the box round each). */
export function layLanes(wires: readonly LaneWire[], field: LaneField): Lanes {
  const grid = createGrid(field);
  const jobs = wires.map((wire) => createJob(wire, grid));
  for (const job of jobs) grid.claim(job);
  for (const job of jobs) if (job.nodes.length > 0) grid.put(job, 1);
  const free = inOrder(jobs.filter((job) => job.nodes.length === 0));
  for (const job of free) {
    job.nodes = grid.find(job);
    grid.put(job, 1);
  }
  const passes = free.length > 1200 ? 1 : 3;
  for (let pass = 0; pass < passes; pass++) {
    for (const job of pass % 2 === 0 ? free.toReversed() : free) {
      grid.put(job, -1);
      job.nodes = grid.find(job);
      grid.put(job, 1);
    }
  }
  for (let again = 0; again < 6 && grid.shared() > 0; again++) {
    for (const job of free) {
      if (!grid.shares(job)) continue;
      grid.put(job, -1);
      job.nodes = grid.find(job);
      grid.put(job, 1);
    }
  }
  const paths = new Map<string, readonly Point[]>();
  for (const job of jobs) paths.set(job.wire.id, job.wire.path ?? grid.corners(job));
  return { paths, shared: grid.shared() };
}

interface Job {
  readonly wire: LaneWire;
  readonly from: number;
  readonly to: number;
  readonly bundle: number;
  nodes: number[];
}

function createJob(wire: LaneWire, grid: Grid): Job {
  const job: Job = {
    wire,
    from: grid.node(wire.from),
    to: grid.node(wire.to),
    bundle: grid.bundle(wire.bundle),
    nodes: [],
  };
  if (wire.path !== undefined && wire.path.length > 1) job.nodes = grid.alongPath(wire.path);
  return job;
}

const span = (job: Job): number =>
  Math.abs(job.wire.from[0] - job.wire.to[0]) + Math.abs(job.wire.from[1] - job.wire.to[1]);

/** Short bundles first, each in the order of its bits; ties by id. */
function inOrder(jobs: readonly Job[]): Job[] {
  const groups = new Map<string, Job[]>();
  for (const job of jobs) {
    const key = job.wire.bundle === '' ? `\n${job.wire.id}` : job.wire.bundle;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [job]);
    else group.push(job);
  }
  const byId = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);
  return [...groups]
    .map(([key, group]) => ({ key, group, mean: group.reduce((sum, job) => sum + span(job), 0) / group.length }))
    .sort((a, b) => a.mean - b.mean || byId(a.key, b.key))
    .flatMap(({ group }) =>
      group.sort((a, b) => a.wire.order - b.wire.order || span(a) - span(b) || byId(a.wire.id, b.wire.id)),
    );
}

type Grid = ReturnType<typeof createGrid>;

function createGrid(field: LaneField) {
  // Even offsets from `origin` are holes; the field's edge is rounded outward to whole pitches so that they stay even.
  const left = Math.ceil((field.origin[0] - field.x) / (2 * LANE)) * 2;
  const above = Math.ceil((field.origin[1] - field.y) / (2 * LANE)) * 2;
  const columns = Math.max(1, left + Math.ceil((field.x + field.width - field.origin[0]) / LANE) + 1);
  const rows = Math.max(1, above + Math.ceil((field.y + field.height - field.origin[1]) / LANE) + 1);
  const size = columns * rows;
  const clampTo = (value: number, limit: number): number => Math.max(0, Math.min(limit - 1, value));
  const node = ([x, y]: Point): number =>
    clampTo(Math.round((y - field.origin[1]) / LANE) + above, rows) * columns +
    clampTo(Math.round((x - field.origin[0]) / LANE) + left, columns);
  const point = (n: number): Point => [
    field.origin[0] + ((n % columns) - left) * LANE,
    field.origin[1] + (Math.floor(n / columns) - above) * LANE,
  ];

  const BLOCKED = 1 << 24;
  // What entering a node costs by way of entry (0 across, 1 down), kept up to date by put(): the fixed part and the wires there.
  const price = [new Int32Array(size).fill(STEP), new Int32Array(size).fill(STEP)] as const;
  const turnPrice = new Int32Array(size).fill(BEND);
  const flow = [new Uint8Array(size), new Uint8Array(size)] as const; // wires along the edge to the right, and down
  const kin = [new Int32Array(size), new Int32Array(size)] as const; // bundle of the last wire along the edge
  const through = [new Uint8Array(size), new Uint8Array(size)] as const; // wires that pass straight across the node
  const bends = new Uint8Array(size);
  let sharedEdges = 0;

  const block = (n: number): void => {
    price[0][n] = BLOCKED;
    price[1][n] = BLOCKED;
  };
  for (const place of field.soft) for (const way of price) way[node(place)] = STEP + SOFT;
  for (const line of field.rails)
    for (let n = node([line.x0, line.y]); n <= node([line.x1, line.y]); n++) price[0][n] = STEP + ALONG_RAIL;
  for (const lead of field.leads) block(node(lead));
  for (const body of field.bodies) {
    const a = node([body.x, body.y]);
    const z = node([body.x + body.width, body.y + body.height]);
    for (let y = Math.floor(a / columns); y <= Math.floor(z / columns); y++)
      for (let x = a % columns; x <= z % columns; x++) block(y * columns + x);
  }
  /** Counts a wire at a node and puts the prices right. */
  const count = (n: number, what: Uint8Array, sign: 1 | -1): void => {
    const before = what[n]!;
    what[n] = before + sign;
    if (before > 0 === before + sign > 0) return;
    if (what === bends) {
      price[0][n] = price[0][n]! + sign * TOUCH;
      price[1][n] = price[1][n]! + sign * TOUCH;
    } else {
      const other = what === through[0] ? price[1] : price[0];
      other[n] = other[n]! + sign * CROSS;
    }
    turnPrice[n] = BEND + (bends[n]! + through[0][n]! + through[1][n]! > 0 ? TOUCH : 0);
  };

  const bundles = new Map<string, number>();
  const bundle = (name: string): number => {
    if (name === '') return 0;
    if (!bundles.has(name)) bundles.set(name, bundles.size + 1);
    return bundles.get(name)!;
  };

  const put = (job: Job, sign: 1 | -1): void => {
    const { nodes } = job;
    for (let i = 0; i + 1 < nodes.length; i++) {
      const step = nodes[i + 1]! - nodes[i]!;
      const way = Math.abs(step) === 1 ? 0 : 1;
      const edge = Math.min(nodes[i]!, nodes[i + 1]!);
      const before = flow[way][edge]!;
      flow[way][edge] = before + sign;
      sharedEdges += Math.max(0, before + sign - 1) - Math.max(0, before - 1);
      if (sign > 0) kin[way][edge] = job.bundle;
      else if (before === 1) kin[way][edge] = 0;
      if (i === 0) continue;
      const turn = Math.abs(nodes[i]! - nodes[i - 1]!) !== Math.abs(step);
      count(nodes[i]!, turn ? bends : through[way], sign);
    }
  };

  const cost = new Int32Array(size * 2);
  const parent = new Int32Array(size * 2);
  const seen = new Int32Array(size * 2); // 2 x round once reached, one more once settled
  const heads = new Int32Array(TOP).fill(-1);
  let links = new Int32Array(4096);
  let states = new Int32Array(4096);
  let round = 0;

  /** Whether any edge of a way has more than `own` wires on it. */
  const sharesAny = (nodes: readonly number[], own = 0): boolean =>
    nodes.some((n, i) => {
      const next = nodes[i + 1];
      return next !== undefined && flow[Math.abs(next - n) === 1 ? 0 : 1][Math.min(n, next)]! > own;
    });

  /** The cheapest way inside a box, or nothing. Least cost first; among equals the state reached last. */
  const search = (job: Job, margin: number): { nodes: number[]; shares: boolean } | undefined => {
    round += 2;
    const { from, to, bundle: own } = job;
    const tx = to % columns;
    const ty = Math.floor(to / columns);
    const fx = from % columns;
    const fy = Math.floor(from / columns);
    const x0 = Math.max(0, Math.min(fx, tx) - margin);
    const x1 = Math.min(columns - 1, Math.max(fx, tx) + margin);
    const y0 = Math.max(0, Math.min(fy, ty) - margin);
    const y1 = Math.min(rows - 1, Math.max(fy, ty) + margin);
    let used = 0;
    let cursor = TOP;
    let highest = 0;
    const push = (state: number, value: number, x: number, y: number): void => {
      // A turn is still to come where the end lies off the line of travel.
      const off = (state & 1) === 0 ? y !== ty : x !== tx;
      const rest = NEAR * (Math.abs(x - tx) + Math.abs(y - ty)) + (off ? BEND : 0);
      const key = Math.min(TOP - 1, value + rest);
      if (used === links.length) {
        const more = new Int32Array(used * 2);
        more.set(links);
        links = more;
        const wider = new Int32Array(used * 2);
        wider.set(states);
        states = wider;
      }
      states[used] = state;
      links[used] = heads[key]!;
      heads[key] = used++;
      if (key < cursor) cursor = key;
      if (key > highest) highest = key;
    };
    const finish = (): void => {
      heads.fill(-1, 0, highest + 1);
    };
    for (const way of [0, 1]) {
      const state = from * 2 + way;
      cost[state] = 0;
      seen[state] = round;
      parent[state] = -1;
      push(state, 0, fx, fy);
    }
    while (cursor <= highest) {
      const item = heads[cursor]!;
      if (item < 0) {
        cursor++;
        continue;
      }
      heads[cursor] = links[item]!;
      const state = states[item]!;
      if (seen[state] === round + 1) continue;
      seen[state] = round + 1;
      const n = state >> 1;
      const way = (state & 1) as 0 | 1;
      if (n === to) {
        const nodes: number[] = [];
        for (let s = state; s >= 0; s = parent[s]!) nodes.push(s >> 1);
        finish();
        nodes.reverse();
        return { nodes, shares: sharesAny(nodes) };
      }
      const x = n % columns;
      const y = (n - x) / columns;
      const start = parent[state] === -1;
      const here = cost[state]!;
      for (let d = 0; d < 4; d++) {
        const to4 = (d >> 1) as 0 | 1;
        if (start && to4 !== way) continue;
        const sign = (d & 1) === 0 ? 1 : -1;
        const nx = to4 === 0 ? x + sign : x;
        const ny = to4 === 1 ? y + sign : y;
        if (nx < x0 || nx > x1 || ny < y0 || ny > y1) continue;
        const m = ny * columns + nx;
        const entry = price[to4][m]!;
        if (entry >= BLOCKED && m !== to) continue;
        const edge = sign > 0 ? n : m;
        let value = here + (entry >= BLOCKED ? STEP : entry) + SHARE * flow[to4][edge]!;
        if (to4 !== way && !start) value += turnPrice[n]!;
        if (own !== 0) {
          const aside = to4 === 0 ? columns : 1;
          const k = kin[to4];
          if (k[edge - aside] === own || k[edge + aside] === own) value -= BESIDE;
        }
        const next = m * 2 + to4;
        const was = seen[next]!;
        if (was === round + 1 || (was === round && cost[next]! <= value)) continue;
        seen[next] = round;
        cost[next] = value;
        parent[next] = state;
        push(next, value, nx, ny);
      }
    }
    finish();
    return undefined;
  };

  /** The grid nodes of a corner list; diagonals are taken as a horizontal, then a vertical stretch. */
  const alongPath = (path: readonly Point[]): number[] => {
    const nodes = [node(path[0]!)];
    for (const corner of path.slice(1)) {
      const goal = node(corner);
      for (let n = nodes.at(-1)!; n !== goal; n = nodes.at(-1)!) {
        const dx = (goal % columns) - (n % columns);
        nodes.push(n + (dx !== 0 ? Math.sign(dx) : columns * Math.sign(goal - n)));
      }
    }
    return nodes;
  };

  return {
    node,
    bundle,
    put,
    alongPath,
    claim: (job: Job): void => {
      block(job.from);
      block(job.to);
    },
    find: (job: Job): number[] => {
      const near = search(job, WINDOW);
      if (near !== undefined && !near.shares) return near.nodes;
      const far = search(job, WINDOW * 3) ?? near ?? search(job, columns + rows);
      // Walled in by bodies: a plain corner, so that the wire is at least seen.
      return far?.nodes ?? alongPath([job.wire.from, job.wire.to]);
    },
    shared: (): number => sharedEdges,
    shares: (job: Job): boolean => sharesAny(job.nodes, 1),
    corners: (job: Job): Point[] => {
      const { nodes } = job;
      const turns = nodes.filter(
        (n, i) => i === 0 || i === nodes.length - 1 || nodes[i + 1]! - n !== n - nodes[i - 1]!,
      );
      const points = turns.map(point);
      // Ends lie exactly in their holes, even where a board is off the grid.
      return [job.wire.from, ...points.slice(1, -1), job.wire.to];
    },
  };
}
