// Lanes: which way each wire is drawn, on a grid of half a pitch (1.27 mm, about the insulation's width). Runs after layout,
// for wires whose path the layout doesn't give; it chooses lines on the drawing, never holes. Deterministic.
// One wire per lane, few corners, no detours, wires of one bundle side by side: each wire takes the cheapest way past those
// that lie already, in an order that starts with short bundles. Those that share a lane are lifted and laid anew, looking
// further; laying all of them anew changes little (corners 251 to 252 on the fixture) and costs as much again.

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
  /** Corners, ends included, where they are given; kept but for a third of a lane, and avoided by the others. */
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
const NEAR = 6; // estimate per step still to go
const BEND = 26;
const CROSS = 5;
const TOUCH = 48;
const SHARE = 40;
const SOFT = 3;
const ALONG_RAIL = 20;
const BESIDE = 1; // saved per step beside a wire of the same bundle
const WINDOW = 16; // lanes; searched round the box of the two ends are a few times as many
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
  // What still shares a lane looks further afield. Where more wires leave a row of strips than there are lanes between them,
  // some sharing stays. Left out for very many wires: it takes as long again and takes off a fifth of the sharing.
  for (let again = 0; again < (free.length > 1000 ? 0 : 2) && grid.shared() > 0; again++) {
    for (const job of free) {
      if (!grid.shares(job)) continue;
      grid.put(job, -1);
      job.nodes = grid.find(job, 3 * WINDOW);
      grid.put(job, 1);
    }
  }
  const paths = new Map<string, readonly Point[]>();
  const aside = asideShifts(grid);
  for (const job of jobs) {
    const shifts = aside(job);
    const given = shifts.some((shift) => shift !== 0) ? undefined : job.wire.path;
    paths.set(job.wire.id, given ?? grid.corners(job, shifts));
  }
  return { paths, shared: grid.shared() };
}

/**
 * Where wires share a lane, each but the first is drawn a third of a lane aside, so that both are seen. The shift of each
 * straight stretch of a wire, in lanes; stretches that end in a hole stay on it.
 */
function asideShifts(grid: Grid): (job: Job) => number[] {
  const drawn = new Map<number, number>();
  return ({ nodes }) => {
    const shifts: number[] = [];
    let start = 0;
    for (let i = 1; i < nodes.length; i++) {
      const step = nodes[i]! - nodes[i - 1]!;
      if (i + 1 < nodes.length && nodes[i + 1]! - nodes[i]! === step) continue;
      let others = 0;
      for (let k = start; k < i; k++) {
        const edge = grid.edge(nodes[k]!, nodes[k + 1]!);
        if (!grid.isShared(edge)) continue;
        others = Math.max(others, drawn.get(edge) ?? 0);
        drawn.set(edge, (drawn.get(edge) ?? 0) + 1);
      }
      const isEnd = start === 0 || i === nodes.length - 1;
      shifts.push(isEnd || others === 0 ? 0 : (others % 2 === 1 ? 1 : -1) / 3);
      start = i;
    }
    return shifts;
  };
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

/** More than any way costs: entering a hole with a lead or an end in it, or leaving the field. */
const BLOCKED = 1 << 24;
/** Entering a node under a body; wires pass over one only where there is no way round. */
const BODY = 1 << 20;
const OVER_BODY = 40;

/**
 * The field as nodes one lane apart. Arrays that depend on the way of travel hold it across first, then down: the entry for
 * node n is at n, and at n + size. An edge is named by its left or upper node.
 */
function createGrid(field: LaneField) {
  // Lanes that lie wholly inside the field, and the ring round them.
  const left = Math.max(0, Math.floor((field.origin[0] - field.x) / LANE)) + 1;
  const above = Math.max(0, Math.floor((field.origin[1] - field.y) / LANE)) + 1;
  const columns = left + Math.max(1, Math.floor((field.x + field.width - field.origin[0]) / LANE)) + 2;
  const rows = above + Math.max(1, Math.floor((field.y + field.height - field.origin[1]) / LANE)) + 2;
  const size = columns * rows;
  // The outermost ring stays blocked, so that a step never has to ask where the field ends.
  const clampTo = (value: number, limit: number): number => Math.max(1, Math.min(limit - 2, value));
  const node = ([x, y]: Point): number =>
    clampTo(Math.round((y - field.origin[1]) / LANE) + above, rows) * columns +
    clampTo(Math.round((x - field.origin[0]) / LANE) + left, columns);
  const point = (n: number): Point => [
    field.origin[0] + ((n % columns) - left) * LANE,
    field.origin[1] + (Math.floor(n / columns) - above) * LANE,
  ];

  const price = new Int32Array(size * 2).fill(STEP); // of entering a node: its place, and the wires there
  const turnPrice = new Int32Array(size).fill(BEND);
  const flow = new Uint8Array(size * 2); // wires along an edge
  const kin = new Int32Array(size * 2); // bundle of the last wire along an edge
  const through = new Uint8Array(size * 2); // wires that pass straight across a node
  const bends = new Uint8Array(size);
  let sharedEdges = 0;

  const block = (n: number): void => {
    price[n] = BLOCKED;
    price[n + size] = BLOCKED;
  };
  for (const place of field.soft) {
    price[node(place)] = STEP + SOFT;
    price[node(place) + size] = STEP + SOFT;
  }
  for (const line of field.rails)
    for (let n = node([line.x0, line.y]); n <= node([line.x1, line.y]); n++) price[n] = STEP + ALONG_RAIL;
  for (const lead of field.leads) block(node(lead));
  for (const body of field.bodies) {
    const a = node([body.x, body.y]);
    const z = node([body.x + body.width, body.y + body.height]);
    for (let y = Math.floor(a / columns); y <= Math.floor(z / columns); y++)
      for (let x = a % columns; x <= z % columns; x++) {
        const n = y * columns + x;
        price[n] = Math.max(price[n]!, BODY);
        price[n + size] = Math.max(price[n + size]!, BODY);
      }
  }
  for (let x = 0; x < columns; x++) for (const y of [0, rows - 1]) block(y * columns + x);
  for (let y = 0; y < rows; y++) for (const x of [0, columns - 1]) block(y * columns + x);

  const bundles = new Map<string, number>();
  const bundle = (name: string): number => {
    if (name === '') return 0;
    if (!bundles.has(name)) bundles.set(name, bundles.size + 1);
    return bundles.get(name)!;
  };

  /** Adds a wire's way to the counts and prices, or takes it off. */
  const put = (job: Job, sign: 1 | -1): void => {
    const { nodes } = job;
    for (let i = 0; i + 1 < nodes.length; i++) {
      const n = nodes[i]!;
      const step = nodes[i + 1]! - n;
      const way = step === 1 || step === -1 ? 0 : size;
      const edge = (step > 0 ? n : nodes[i + 1]!) + way;
      const before = flow[edge]!;
      flow[edge] = before + sign;
      sharedEdges += Math.max(0, before + sign - 1) - Math.max(0, before - 1);
      if (sign > 0) kin[edge] = job.bundle;
      else if (before === 1) kin[edge] = 0;
      if (i === 0) continue;
      const came = n - nodes[i - 1]!;
      if ((came === 1 || came === -1) === (way === 0)) {
        const held = through[n + way]!;
        through[n + way] = held + sign;
        // Whoever comes from the side has to cross it.
        if (held === 0 || held + sign === 0) price[n + size - way] = price[n + size - way]! + sign * CROSS;
      } else {
        const held = bends[n]!;
        bends[n] = held + sign;
        if (held === 0 || held + sign === 0) {
          price[n] = price[n]! + sign * TOUCH;
          price[n + size] = price[n + size]! + sign * TOUCH;
        }
      }
      turnPrice[n] = BEND + (bends[n]! + through[n]! + through[n + size]! > 0 ? TOUCH : 0);
    }
  };

  const cost = new Int32Array(size * 2);
  const parent = new Int32Array(size * 2);
  const seen = new Int32Array(size * 2); // 2 x round once reached, one more once settled
  const heads = new Int32Array(TOP).fill(-1);
  let links = new Int32Array(1 << 14);
  let states = new Int32Array(1 << 14);
  let round = 0;

  const sharesAny = (nodes: readonly number[]): boolean =>
    nodes.some((n, i) => {
      const next = nodes[i + 1];
      return next !== undefined && flow[Math.min(n, next) + (Math.abs(next - n) === 1 ? 0 : size)]! > 1;
    });

  /**
   * The cheapest way inside a box round the ends, or nothing. A queue of whole costs, least first; among equals the state
   * reached last, which goes straight on. A state is a node and the way it was entered.
   */
  const search = (job: Job, margin: number, over = false): number[] | undefined => {
    round += 2;
    const open = round;
    const settled = round + 1;
    const { from, to, bundle: own } = job;
    const tx = to % columns;
    const ty = (to - tx) / columns;
    const fx = from % columns;
    const fy = (from - fx) / columns;
    const x0 = Math.max(1, Math.min(fx, tx) - margin);
    const x1 = Math.min(columns - 2, Math.max(fx, tx) + margin);
    const y0 = Math.max(1, Math.min(fy, ty) - margin);
    const y1 = Math.min(rows - 2, Math.max(fy, ty) + margin);
    let used = 0;
    let cursor = TOP;
    let highest = 0;
    for (let way = 0; way <= size; way += size) {
      const state = from + way;
      cost[state] = 0;
      seen[state] = open;
      parent[state] = -1;
      const key = NEAR * (Math.abs(fx - tx) + Math.abs(fy - ty)) + ((way === 0 ? fy !== ty : fx !== tx) ? BEND : 0);
      const slot = Math.min(TOP - 1, key);
      states[used] = state;
      links[used] = heads[slot]!;
      heads[slot] = used++;
      if (slot < cursor) cursor = slot;
      if (slot > highest) highest = slot;
    }
    let found = -1;
    while (cursor <= highest) {
      const item = heads[cursor]!;
      if (item < 0) {
        cursor++;
        continue;
      }
      heads[cursor] = links[item]!;
      const state = states[item]!;
      if (seen[state] === settled) continue;
      seen[state] = settled;
      const down = state >= size;
      const n = down ? state - size : state;
      if (n === to) {
        found = state;
        break;
      }
      const x = n % columns;
      const y = (n - x) / columns;
      const start = n === from;
      const here = cost[state]!;
      const turn = turnPrice[n]!;
      if (used + 4 > links.length) {
        const more = new Int32Array(links.length * 2);
        more.set(links);
        links = more;
        const wider = new Int32Array(states.length * 2);
        wider.set(states);
        states = wider;
      }
      for (let d = 0; d < 4; d++) {
        const vertical = d >= 2;
        const turns = vertical !== down;
        if (turns && start) continue;
        const ahead = d === 0 || d === 2;
        const nx = vertical ? x : ahead ? x + 1 : x - 1;
        const ny = vertical ? (ahead ? y + 1 : y - 1) : y;
        if (nx < x0 || nx > x1 || ny < y0 || ny > y1) continue;
        const m = ny * columns + nx;
        const way = vertical ? size : 0;
        let entry = price[m + way]!;
        if (entry >= BODY / 2) {
          if (m === to) entry = STEP;
          else if (over && entry < BLOCKED / 2) entry = OVER_BODY;
          else continue;
        }
        const next = m + way;
        const was = seen[next]!;
        if (was === settled) continue;
        const edge = (ahead ? n : m) + way;
        let value = here + entry;
        const others = flow[edge]!;
        if (others > 0) value += SHARE * others;
        if (turns) value += turn;
        if (own !== 0) {
          const aside = vertical ? 1 : columns;
          if (kin[edge - aside] === own || kin[edge + aside] === own) value -= BESIDE;
        }
        if (was === open && cost[next]! <= value) continue;
        seen[next] = open;
        cost[next] = value;
        parent[next] = state;
        // A turn is still to come where the end lies off the line of travel.
        const dx = nx > tx ? nx - tx : tx - nx;
        const dy = ny > ty ? ny - ty : ty - ny;
        const key = value + NEAR * (dx + dy) + ((vertical ? dx : dy) !== 0 ? BEND : 0);
        const slot = key < TOP ? key : TOP - 1;
        states[used] = next;
        links[used] = heads[slot]!;
        heads[slot] = used++;
        if (slot < cursor) cursor = slot;
        if (slot > highest) highest = slot;
      }
    }
    heads.fill(-1, 0, highest + 1);
    if (found < 0) return undefined;
    const nodes: number[] = [];
    for (let s = found; s >= 0; s = parent[s]!) nodes.push(s >= size ? s - size : s);
    nodes.reverse();
    return nodes;
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
    find: (job: Job, margin = 2 * WINDOW): number[] => {
      const far = 3 * WINDOW;
      const way =
        search(job, margin) ?? search(job, far) ?? search(job, far, true) ?? search(job, columns + rows, true);
      // Walled in by leads: a plain corner, so that the wire is at least seen.
      return way ?? alongPath([job.wire.from, job.wire.to]);
    },
    shared: (): number => sharedEdges,
    shares: (job: Job): boolean => sharesAny(job.nodes),
    edge: (a: number, b: number): number => Math.min(a, b) + (Math.abs(a - b) === 1 ? 0 : size),
    isShared: (edge: number): boolean => flow[edge]! > 1,
    /** Corners of a way, its straight stretches shifted aside by so many lanes each. */
    corners: (job: Job, shifts: readonly number[]): Point[] => {
      const { nodes } = job;
      const turns = nodes.filter(
        (n, i) => i === 0 || i === nodes.length - 1 || nodes[i + 1]! - n !== n - nodes[i - 1]!,
      );
      const points = turns.map(point).map(([x, y]): [number, number] => [x, y]);
      shifts.forEach((shift, i) => {
        const a = points[i];
        const b = points[i + 1];
        if (shift === 0 || a === undefined || b === undefined) return;
        // Across a horizontal stretch is down, across an upright one is right.
        const axis = a[1] === b[1] ? 1 : 0;
        a[axis] += shift * LANE;
        b[axis] += shift * LANE;
      });
      // Ends lie exactly in their holes, even where a board is off the grid.
      return [job.wire.from, ...points.slice(1, -1), job.wire.to];
    },
  };
}
