// What stands in which hole during which stages: leads, wires, bodies, and whose each strip is. Every change can be taken
// back, so that placing, wiring and a drag all work on one state. Knows nothing of cost.

import { type Body, bodiesOverlap, bodyCovers } from './footprint.ts';
import type { Grid } from './geometry.ts';
import { ABSENT, NO_NET } from './timeline.ts';

/** Why something may not go where it was tried. */
export type Refusal =
  | { readonly why: 'no-hole' }
  | { readonly why: 'taken'; readonly hole: number }
  | { readonly why: 'covered'; readonly hole: number }
  | { readonly why: 'strip'; readonly hole: number }
  | { readonly why: 'body'; readonly owner: number };

interface StandingBody {
  readonly body: Body;
  readonly from: number;
  readonly until: number;
  readonly owner: number;
}

const FREE = -1;

/** Occupation of an arrangement over the stages 1 to `stages`. */
export class Space {
  readonly grid: Grid;
  readonly stages: number;
  private readonly width: number;
  /** Leads and wire ends per hole and stage (0 or 1; more only while something illegal is shown). */
  private readonly use: Uint8Array;
  /** Bodies and builder's bans over each hole and stage. */
  private readonly cover: Uint8Array;
  /** Net (0 or more), a lone pin (-2 or less), or FREE, per strip and stage; with the number of leads that say so. */
  private readonly owner: Int32Array;
  private readonly claims: Uint16Array;
  private bodies: StandingBody[] = [];
  private zones: StandingBody[] = [];

  constructor(grid: Grid, stages: number) {
    this.grid = grid;
    this.stages = stages;
    this.width = stages + 1;
    this.use = new Uint8Array(grid.holeCount * this.width);
    this.cover = new Uint8Array(grid.holeCount * this.width);
    this.owner = new Int32Array(grid.stripCount * this.width).fill(FREE);
    this.claims = new Uint16Array(grid.stripCount * this.width);
  }

  /** Whether a hole is open for a lead or wire during the stages from `from` until `until`. */
  isOpen(hole: number, from: number, until: number): boolean {
    const base = hole * this.width;
    for (let t = from; t < until; t++) if (this.use[base + t] !== 0 || this.cover[base + t] !== 0) return false;
    return true;
  }

  isUsed(hole: number, from: number, until: number): boolean {
    const base = hole * this.width;
    for (let t = from; t < until; t++) if (this.use[base + t] !== 0) return true;
    return false;
  }

  take(hole: number, from: number, until: number): void {
    const base = hole * this.width;
    for (let t = from; t < until; t++) this.use[base + t]!++;
  }

  release(hole: number, from: number, until: number): void {
    const base = hole * this.width;
    for (let t = from; t < until; t++) this.use[base + t]!--;
  }

  /** Bars a hole, as a body above it would. */
  bar(hole: number, from: number, until: number, by = 1): void {
    const base = hole * this.width;
    for (let t = from; t < until; t++) this.cover[base + t]! += by;
  }

  /** Whether the hole is barred at some stage. */
  isBarred(hole: number): boolean {
    const base = hole * this.width;
    for (let t = 1; t < this.width; t++) if (this.cover[base + t] !== 0) return true;
    return false;
  }

  /** The net of a strip at a stage, -1 where it is free, -2 or less where it belongs to a pin without net. */
  ownerAt(strip: number, stage: number): number {
    return this.owner[strip * this.width + stage]!;
  }

  /** Whether a lead on `net` (same for all stages of the stretch) may go into the strip. */
  accepts(strip: number, net: number, from: number, until: number): boolean {
    const base = strip * this.width;
    for (let t = from; t < until; t++) {
      const owner = this.owner[base + t]!;
      if (owner !== FREE && owner !== net) return false;
    }
    return true;
  }

  /** Whether a lead may go into the strip whose net changes with the stages. `lone` is the code of a pin without net. */
  acceptsPin(strip: number, nets: Int32Array, lone: number, from: number, until: number): boolean {
    const base = strip * this.width;
    for (let t = from; t < until; t++) {
      const net = nets[t]!;
      if (net === ABSENT) continue;
      const owner = this.owner[base + t]!;
      if (owner !== FREE && owner !== (net === NO_NET ? lone : net)) return false;
    }
    return true;
  }

  claim(strip: number, net: number, from: number, until: number): void {
    const base = strip * this.width;
    for (let t = from; t < until; t++) {
      this.owner[base + t] = net;
      this.claims[base + t]!++;
    }
  }

  unclaim(strip: number, from: number, until: number): void {
    const base = strip * this.width;
    for (let t = from; t < until; t++) if (--this.claims[base + t]! === 0) this.owner[base + t] = FREE;
  }

  claimPin(strip: number, nets: Int32Array, lone: number, from: number, until: number): void {
    for (let t = from; t < until; t++) {
      const net = nets[t]!;
      if (net !== ABSENT) this.claim(strip, net === NO_NET ? lone : net, t, t + 1);
    }
  }

  /** The first body that `body` would overlap, or undefined. */
  bodyInTheWay(body: Body, from: number, until: number): number | undefined {
    for (const other of this.bodies) {
      if (other.from < until && from < other.until && bodiesOverlap(body, other.body)) return other.owner;
    }
    return undefined;
  }

  /** The first part in whose zone `body` would stand, or undefined. */
  zoneInTheWay(body: Body, from: number, until: number): number | undefined {
    return this.zones.find((zone) => zone.from < until && from < zone.until && bodiesOverlap(body, zone.body))?.owner;
  }

  addZone(body: Body, from: number, until: number, owner: number): void {
    this.zones.push({ body, from, until, owner });
  }

  /** Holes that lie under a body. */
  coveredBy(body: Body): number[] {
    const reachX = Math.abs(body.ux) * body.halfLength + Math.abs(body.uy) * body.halfWidth;
    const reachY = Math.abs(body.uy) * body.halfLength + Math.abs(body.ux) * body.halfWidth;
    const holes: number[] = [];
    for (let y = Math.ceil(body.cy - reachY); y <= body.cy + reachY; y++) {
      for (let x = Math.ceil(body.cx - reachX); x <= body.cx + reachX; x++) {
        const hole = this.grid.at(x, y);
        if (hole >= 0 && bodyCovers(body, x, y)) holes.push(hole);
      }
    }
    return holes;
  }

  addBody(body: Body, from: number, until: number, owner: number): void {
    this.bodies.push({ body, from, until, owner });
    for (const hole of this.coveredBy(body)) this.bar(hole, from, until);
  }

  removeBody(owner: number): void {
    for (const standing of this.bodies) {
      if (standing.owner !== owner) continue;
      for (const hole of this.coveredBy(standing.body)) this.bar(hole, standing.from, standing.until, -1);
    }
    this.bodies = this.bodies.filter((standing) => standing.owner !== owner);
    this.zones = this.zones.filter((zone) => zone.owner !== owner);
  }

  /** The number of open holes in a strip. */
  openHoles(strip: number, from: number, until: number): number {
    const { stripStart, stripHoles } = this.grid;
    let count = 0;
    for (let i = stripStart[strip]!; i < stripStart[strip + 1]!; i++)
      if (this.isOpen(stripHoles[i]!, from, until)) count++;
    return count;
  }
}
