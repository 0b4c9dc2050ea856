// Where instruments find the nets: a hole kept free on each net that asks for one, and a landing for each pod, which is a run
// of free strips side by side into which its plug goes in one piece, joined to the nets by a crimped lead of the same order.
// Decides before anything is wired, so that no wire takes these holes.

import type { Finding } from '../base/index.ts';
import type { Design, LeadHook } from '../netlist/index.ts';
import { bodyOfBox } from './footprint.ts';
import type { Grid } from './geometry.ts';
import type { Ground } from './ground.ts';
import type { Layout } from './model.ts';
import type { PathObstacle } from './paths.ts';

type Probe = NonNullable<Layout['probes']>[number];

/** The strips in which an instrument's plug stands, for the stages `from` until (not including) `until`. */
export interface Landing {
  readonly lead: string;
  readonly from: number;
  readonly until: number;
  /** From the left: the net of each way, -1 for the one left empty as the key. */
  readonly nets: readonly number[];
  /** The hole of the plug's pin, and the hole of the crimped lead's way, by position. */
  readonly plug: readonly number[];
  readonly way: readonly number[];
}

/** Owners of bodies that are no item. */
const LANDING_OWNER = -1000;

/** Keeps what instruments need. What `previous` kept is kept again where it still can be. */
export function keepProbes(
  ground: Ground,
  design: Design,
  findings: Finding[],
  previous: Layout | undefined,
): { readonly probes: readonly Probe[]; readonly landings: readonly Landing[] } {
  const { timeline, space, grid } = ground;
  const end = timeline.stages + 1;
  const probes: Probe[] = [];
  const landings: Landing[] = [];
  const landed = new Set<LeadHook>();
  for (const pod of podsOf(ground, design)) {
    const landing = findLanding(ground, pod, previous);
    if (landing === undefined) continue;
    claimLanding(ground, landing, landings.length);
    landings.push(landing);
    for (const hook of pod.hooks) landed.add(hook);
    landing.nets.forEach((net, i) => {
      const hook = pod.hooks[i];
      if (net >= 0 && hook !== undefined)
        probes.push(probeAt(ground, net, landing.plug[i]!, hook.stage, hook.until ?? end));
    });
  }
  const wanted: { net: number; from: number; until: number; asked: string }[] = [];
  for (const net of timeline.nets) {
    if (net.net.netClass?.probeHole === true)
      wanted.push({ net: net.index, from: net.from, until: end, asked: `${net.name} asks for a probe hole` });
  }
  for (const lead of design.leads) {
    const net = timeline.netByName.get(lead.net);
    if (net === undefined || landed.has(lead) || wanted.some((w) => w.net === net && w.until === end)) continue;
    wanted.push({
      net,
      from: Math.max(1, lead.stage),
      until: lead.until ?? end,
      asked: `${lead.pod} hooks on to ${lead.net}`,
    });
  }
  const busy = new Set((previous?.wires ?? []).flatMap((wire) => [grid.find(wire.from), grid.find(wire.to)]));
  for (const { net, from, until, asked } of wanted) {
    // Pins come and go: where no strip lasts for the whole time, one hole follows another.
    for (let stage = from; stage < until; ) {
      const old = (previous?.probes ?? []).find(
        (probe) => probe.net === timeline.nets[net]!.name && probe.stage === stage,
      );
      const place = findProbeHole(ground, net, stage, until, busy, old === undefined ? -1 : grid.find(old.hole));
      if (place === undefined) {
        findings.push(noProbeHole(timeline.nets[net]!.name, asked));
        break;
      }
      space.take(place.hole, stage, place.until);
      probes.push(probeAt(ground, net, place.hole, stage, place.until));
      stage = place.until;
    }
  }
  return { probes, landings };
}

function probeAt(ground: Ground, net: number, hole: number, stage: number, until: number): Probe {
  return {
    net: ground.timeline.nets[net]!.name,
    hole: ground.grid.name(hole),
    stage,
    until: until > ground.timeline.stages ? undefined : until,
  };
}

function noProbeHole(net: string, asked: string): Finding {
  return {
    code: 'board/no-probe-hole',
    severity: 'warning',
    message: `No hole can be kept for a probe: ${asked}, and its strips and all free strips are full.`,
    where: [],
    notes: [],
    help: 'Hook on to a pin of the part instead.',
    about: [net],
  };
}

/**
 * The hole that a probe of a net would get and the stage until which it can have it: farthest from the gutter in the strip
 * with most open holes, for as long as that strip is the net's. Where no strip of the net can spare one, a free strip nearby
 * becomes the net's. Undefined where there is no such strip either. `wanted` is taken if it will do; holes of `busy` are
 * taken last.
 */
export function findProbeHole(
  ground: Ground,
  net: number,
  from: number,
  until: number,
  busy: ReadonlySet<number> = new Set(),
  wanted = -1,
): { readonly hole: number; readonly until: number } | undefined {
  const { space, strips, rails } = ground;
  const lives = new Map<number, number>();
  for (const strip of rails.stripsOf.get(net) ?? []) lives.set(strip, until);
  for (const entry of strips.of(net)) {
    if (entry.from > from || from >= entry.until) continue;
    let life = Math.min(until, entry.until);
    // What follows in the same strip lengthens its life.
    for (const more of strips.of(net))
      if (more.strip === entry.strip && more.from <= life && more.until > life) life = Math.min(until, more.until);
    lives.set(entry.strip, Math.max(lives.get(entry.strip) ?? 0, life));
  }
  let best: { hole: number; until: number } | undefined;
  let most = 0;
  // In order of strips, not of how they came to be held: laid again, a layout keeps its probes.
  for (const [strip, life] of [...lives].sort((a, b) => a[0] - b[0])) {
    const holes = openHolesFrom(ground, strip, from, life);
    // The last hole is the net's own.
    if (holes.length < 2) continue;
    const asked = holes.includes(wanted);
    const quiet = holes.filter((hole) => !busy.has(hole));
    const score = (life - from) * 1000 + (asked ? 500 : 0) + (quiet.length > 0 ? 100 : 0) + holes.length;
    if (score <= most) continue;
    most = score;
    best = { hole: asked ? wanted : (quiet[0] ?? holes[0]!), until: life };
  }
  // A short stretch only: better one strip for all of it.
  if (best !== undefined && (best.until >= until || rails.stripsOf.has(net))) return best;
  const junction = nearestFreeStrip(ground, [...lives.keys()], from, until);
  if (junction === undefined) return best;
  space.claim(junction, net, from, until);
  strips.add(net, junction, from, until);
  const holes = openHolesFrom(ground, junction, from, until);
  return { hole: holes[0]!, until };
}

/** The open holes of a strip, the farthest from the gutter first. */
function openHolesFrom({ grid, space }: Ground, strip: number, from: number, until: number): number[] {
  const holes = Array.from(grid.stripHoles.subarray(grid.stripStart[strip]!, grid.stripStart[strip + 1]!)).filter(
    (hole) => space.isOpen(hole, from, until),
  );
  return holes.length > 0 && grid.row[holes[0]!]! < 7 ? holes : holes.reverse();
}

/** A strip that nothing uses, nearest to the strips given. */
function nearestFreeStrip(ground: Ground, near: readonly number[], from: number, until: number): number | undefined {
  const { grid, space } = ground;
  let best: number | undefined;
  let least = Number.POSITIVE_INFINITY;
  const first = (strip: number): number => grid.stripHoles[grid.stripStart[strip]!]!;
  for (let s = 0; s < grid.stripCount; s++) {
    if (grid.stripKind[s] !== 0 || !space.accepts(s, -1, from, until) || space.openHoles(s, from, until) < 3) continue;
    const hole = first(s);
    let d = near.length === 0 ? 0 : Number.POSITIVE_INFINITY;
    for (const other of near)
      d = Math.min(
        d,
        Math.abs(grid.x[first(other)]! - grid.x[hole]!) + Math.abs(grid.y[first(other)]! - grid.y[hole]!),
      );
    if (d < least) {
      least = d;
      best = s;
    }
  }
  return best;
}

interface Pod {
  readonly name: string;
  readonly hooks: readonly LeadHook[];
  readonly from: number;
  readonly until: number;
  /** The net of each way from the left, -1 for the key. */
  readonly nets: readonly number[];
}

/**
 * Pods with two channels or more that come off together. Ways: the channels in order, an empty one as the key, and ground,
 * which every instrument needs; so that the plug cannot be put in the wrong way round unseen.
 */
function podsOf(ground: Ground, design: Design): Pod[] {
  const { timeline } = ground;
  const end = timeline.stages + 1;
  const groups = new Map<string, LeadHook[]>();
  for (const hook of design.leads) {
    if (!timeline.netByName.has(hook.net)) continue;
    const key = `${hook.pod}\n${hook.until ?? end}`;
    const list = groups.get(key);
    if (list === undefined) groups.set(key, [hook]);
    else list.push(hook);
  }
  const ground0 = timeline.nets.find((net) => net.net.kind === 'ground');
  const names = new Map<string, number>();
  const pods: Pod[] = [];
  for (const hooks of groups.values()) {
    if (hooks.length < 2) continue;
    const sorted = [...hooks].sort((a, b) => a.channel - b.channel);
    const from = Math.max(1, Math.min(...sorted.map((hook) => hook.stage)));
    const until = sorted[0]!.until ?? end;
    const pod = sorted[0]!.pod;
    const count = (names.get(pod) ?? 0) + 1;
    names.set(pod, count);
    pods.push({
      name: count === 1 ? pod : `${pod}-${count}`,
      hooks: sorted,
      from,
      until,
      nets: [
        ...sorted.map((hook) => timeline.netByName.get(hook.net)!),
        ...(ground0 === undefined ? [] : [-1, ground0.index]),
      ],
    });
  }
  return pods;
}

function findLanding(ground: Ground, pod: Pod, previous: Layout | undefined): Landing | undefined {
  const { grid, space, strips, rails } = ground;
  const count = pod.nets.length;
  const make = (board: number, upper: boolean, column: number): Landing | undefined => {
    const plug: number[] = [];
    const way: number[] = [];
    for (let i = 0; i < count; i++) {
      const outer = grid.hole(board, column + i, upper ? 2 : 11);
      const inner = grid.hole(board, column + i, upper ? 3 : 10);
      if (outer < 0 || inner < 0) return undefined;
      const strip = grid.strip[outer]!;
      if (!space.accepts(strip, -1, pod.from, pod.until)) return undefined;
      if (!space.isOpen(outer, pod.from, pod.until) || !space.isOpen(inner, pod.from, pod.until)) return undefined;
      if (space.bodyInTheWay(bodyOver(grid, [outer, inner]), pod.from, pod.until) !== undefined) return undefined;
      plug.push(outer);
      way.push(inner);
    }
    return { lead: pod.name, from: pod.from, until: pod.until, nets: pod.nets, plug, way };
  };
  if (previous !== undefined && previous.parts.length > 0) {
    // A bench that is laid out keeps its way of hooking up: at the same landing, or at holes of the nets.
    const old = previous.leads?.find((lead) => lead.lead === pod.name && lead.kind === 'pod');
    const hole = old === undefined ? -1 : grid.find(old.housing[0] ?? '');
    const known = hole < 0 ? undefined : make(grid.board[hole]!, grid.row[hole]! < 7, grid.column[hole]!);
    if (known !== undefined) return known;
    const hung = (previous.probes ?? []).some((probe) => pod.hooks.some((hook) => hook.net === probe.net));
    if (old === undefined && hung) return undefined;
  }
  // Where the ways come to: the nearest strip of each net as the pod is hung up.
  const ends = pod.nets.map((net) =>
    net < 0 || rails.stripsOf.has(net)
      ? []
      : strips
          .of(net)
          .filter((entry) => entry.from <= pod.from && pod.from < entry.until)
          .map((entry) => grid.stripHoles[grid.stripStart[entry.strip]! + 2]!),
  );
  let best: Landing | undefined;
  let least = Number.POSITIVE_INFINITY;
  for (let b = 0; b < grid.boards.length; b++) {
    for (const upper of [true, false]) {
      for (let column = 1; column + count - 1 <= grid.kinds[b]!.columns; column++) {
        const landing = make(b, upper, column);
        if (landing === undefined) continue;
        let cost = 0;
        ends.forEach((list, i) => {
          const hole = landing.way[i]!;
          let d = list.length === 0 ? 0 : Number.POSITIVE_INFINITY;
          for (const other of list)
            d = Math.min(d, Math.abs(grid.x[other]! - grid.x[hole]!) + Math.abs(grid.y[other]! - grid.y[hole]!));
          cost += d;
        });
        if (cost < least) {
          least = cost;
          best = landing;
        }
      }
    }
  }
  return best;
}

/** The housing of a row of pins over these holes, half a pitch to every side. */
function bodyOver(grid: Grid, holes: readonly number[]): ReturnType<typeof bodyOfBox> {
  const xs = holes.map((hole) => grid.x[hole]!);
  const ys = holes.map((hole) => grid.y[hole]!);
  const [x, y] = [Math.min(...xs), Math.min(...ys)];
  return bodyOfBox({ x0: -0.5, y0: -0.5, x1: Math.max(...xs) - x + 0.5, y1: Math.max(...ys) - y + 0.5 }, x, y);
}

/** The two housings of a landing as one body. */
function bodyOfLanding(grid: Grid, landing: Landing): ReturnType<typeof bodyOfBox> {
  return bodyOver(grid, [...landing.plug, ...landing.way]);
}

/** A landing as wires see it. */
export function housingOf(grid: Grid, landing: Landing): PathObstacle {
  return { body: bodyOfLanding(grid, landing), from: landing.from, until: landing.until, out: false };
}

function claimLanding(ground: Ground, landing: Landing, index: number): void {
  const { space, grid, strips } = ground;
  const { from, until } = landing;
  space.addBody(bodyOfLanding(grid, landing), from, until, LANDING_OWNER - index);
  landing.nets.forEach((net, i) => {
    const strip = grid.strip[landing.plug[i]!]!;
    if (net < 0) return;
    space.claim(strip, net, from, until);
    strips.add(net, strip, from, until);
    // Only the way itself takes a wire, so that all of them lie in one row.
    space.bar(landing.way[i]!, from, until, -1);
    for (let h = grid.stripStart[strip]!; h < grid.stripStart[strip + 1]!; h++) {
      const hole = grid.stripHoles[h]!;
      if (hole !== landing.way[i] && hole !== landing.plug[i]) space.bar(hole, from, until);
    }
  });
}
