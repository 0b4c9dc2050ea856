// How parts sit in holes: the leads of a package on the grid, its body, and what turning it does. Pure geometry in pitches;
// which net a lead is on is no business of this file.

import type { PartRecord } from '../parts/index.ts';
import { PITCH_MM } from './geometry.ts';

/** A lead relative to pin 1 at rotation 0, pitches, y downwards. */
export interface FootLead {
  readonly number: number;
  readonly dx: number;
  readonly dy: number;
}

/** A rectangle in pitches, not necessarily whole. */
export interface Box {
  readonly x0: number;
  readonly y0: number;
  readonly x1: number;
  readonly y1: number;
}

/** A package whose leads stand at fixed places to each other. */
export interface RigidFootprint {
  readonly kind: 'rigid';
  readonly leads: readonly FootLead[];
  readonly body: Box;
}

/** Two leads that may be bent. Lengths in mm. */
export interface BentFootprint {
  readonly kind: 'two-lead';
  readonly numbers: readonly [number, number];
  readonly leastMm: number;
  readonly mostMm: number;
  readonly bodyLengthMm: number;
  readonly bodyWidthMm: number;
}

export type Footprint = RigidFootprint | BentFootprint;
export type Rotation = 0 | 90 | 180 | 270;
export const ROTATIONS: readonly Rotation[] = [0, 90, 180, 270];

/**
 * The footprint of a part record. Where a record gives no body: DIP half a pitch beyond the end leads, 1.2 mm narrower than
 * the rows (JEDEC MS-001 E1 6.1 to 7.1 mm against rows 7.62 mm apart); a row of pins 2.5 mm wide; TO-92 4.8 x 3.7 mm and
 * TO-220 10.2 x 4.6 mm (JEDEC outlines, from memory); two-lead 6.3 x 2.4 mm, as a quarter-watt resistor (from memory).
 */
export function footprintOf(record: PartRecord): Footprint {
  const pack = record.package;
  const body = pack.body;
  const numbers = record.pins.map((pin) => pin.number);
  if (pack.kind === 'two-lead') {
    const [least, most] = pack.span ?? [7.62, 15.24];
    return {
      kind: 'two-lead',
      numbers: [numbers[0] ?? 1, numbers[1] ?? 2],
      leastMm: least,
      mostMm: most,
      bodyLengthMm: body?.length ?? Math.min(6.3, Math.max(2, least - 1)),
      bodyWidthMm: body?.width ?? 2.4,
    };
  }
  let leads: FootLead[];
  let box: Box;
  if (pack.kind === 'dip') {
    const half = Math.floor(pack.pins / 2);
    const across = (pack.width ?? 300) / 100;
    const exists = new Set(pack.only ?? numbers);
    leads = [];
    for (let n = 1; n <= pack.pins; n++) {
      if (!exists.has(n)) continue;
      leads.push(n <= half ? { number: n, dx: n - 1, dy: 0 } : { number: n, dx: pack.pins - n, dy: -across });
    }
    const length = body === undefined ? half : body.length / PITCH_MM;
    const width = body === undefined ? across - 1.2 / PITCH_MM : body.width / PITCH_MM;
    box = around((half - 1) / 2, -across / 2, length, width);
  } else if (pack.kind === 'grid') {
    leads = Object.entries(pack.leads ?? {}).map(([number, at]) => ({
      number: Number(number),
      dx: at[0] as number,
      dy: at[1] as number,
    }));
    if (leads.length === 0) leads = numbers.map((number, index) => ({ number, dx: index, dy: 0 }));
    leads.sort((a, b) => a.number - b.number);
    // Offsets count from the lowest-numbered lead, which stands where the place is named.
    const first = leads[0]!;
    leads = leads.map((lead) => ({ number: lead.number, dx: lead.dx - first.dx, dy: lead.dy - first.dy }));
    const xs = leads.map((lead) => lead.dx);
    const ys = leads.map((lead) => lead.dy);
    const left = Math.min(...xs);
    const right = Math.max(...xs);
    const top = Math.min(...ys);
    const bottom = Math.max(...ys);
    box = around(
      (left + right) / 2,
      (top + bottom) / 2,
      body === undefined ? right - left + 0.9 : body.length / PITCH_MM,
      body === undefined ? Math.max(0.9, bottom - top - 0.3) : body.width / PITCH_MM,
    );
  } else {
    const exists = new Set(pack.only ?? numbers);
    leads = [];
    for (let n = 1; n <= pack.pins; n++) if (exists.has(n)) leads.push({ number: n, dx: n - 1, dy: 0 });
    const usual: Readonly<Record<string, readonly [number, number]>> = { 'to-92': [4.8, 3.7], 'to-220': [10.2, 4.6] };
    const [length, width] = usual[pack.kind] ?? [pack.pins * PITCH_MM, 2.5];
    box = around((pack.pins - 1) / 2, 0, (body?.length ?? length) / PITCH_MM, (body?.width ?? width) / PITCH_MM);
  }
  if (leads.length === 0) leads = [{ number: numbers[0] ?? 1, dx: 0, dy: 0 }];
  const first = leads.find((lead) => lead.number === 1) ?? leads[0]!;
  if (first.dx !== 0 || first.dy !== 0) {
    const { dx, dy } = first;
    leads = leads.map((lead) => ({ number: lead.number, dx: lead.dx - dx, dy: lead.dy - dy }));
    box = { x0: box.x0 - dx, y0: box.y0 - dy, x1: box.x1 - dx, y1: box.y1 - dy };
  }
  return { kind: 'rigid', leads, body: box };
}

function around(cx: number, cy: number, length: number, width: number): Box {
  return { x0: cx - length / 2, y0: cy - width / 2, x1: cx + length / 2, y1: cy + width / 2 };
}

/** Turns an offset counter-clockwise, y downwards. */
export function turn(dx: number, dy: number, rotation: Rotation): readonly [number, number] {
  if (rotation === 0) return [dx, dy];
  if (rotation === 90) return [dy, -dx];
  if (rotation === 180) return [-dx, -dy];
  return [-dy, dx];
}

/** A rigid footprint turned about its first lead (no negative zeros). */
export function turned(footprint: RigidFootprint, rotation: Rotation): RigidFootprint {
  const leads = footprint.leads.map((lead) => {
    const [dx, dy] = turn(lead.dx, lead.dy, rotation);
    return { number: lead.number, dx: dx + 0, dy: dy + 0 };
  });
  const [ax, ay] = turn(footprint.body.x0, footprint.body.y0, rotation);
  const [bx, by] = turn(footprint.body.x1, footprint.body.y1, rotation);
  return {
    kind: 'rigid',
    leads,
    body: { x0: Math.min(ax, bx), y0: Math.min(ay, by), x1: Math.max(ax, bx), y1: Math.max(ay, by) },
  };
}

/** Steps from the first lead to the second that the span allows, shortest first; along rows and columns before slants. */
export function bentOffsets(footprint: BentFootprint): readonly (readonly [number, number])[] {
  const most = Math.floor(footprint.mostMm / PITCH_MM + 0.05);
  const list: [number, number][] = [];
  for (let dx = -most; dx <= most; dx++) {
    for (let dy = -most; dy <= most; dy++) {
      const mm = Math.hypot(dx, dy) * PITCH_MM;
      // A twentieth of a pitch of tolerance: 5.0 mm parts are sold for 5.08 mm.
      if ((dx !== 0 || dy !== 0) && mm >= footprint.leastMm - 0.15 && mm <= footprint.mostMm + 0.15)
        list.push([dx, dy]);
    }
  }
  const slant = ([dx, dy]: readonly [number, number]): number => (dx === 0 || dy === 0 ? 0 : 1);
  return list.sort((a, b) => slant(a) - slant(b) || Math.hypot(...a) - Math.hypot(...b) || a[1] - b[1] || a[0] - b[0]);
}

/** The rotation that says which way a bent part lies: 0 where the second lead is to the right, 90 where it is above. */
export function directionOf(dx: number, dy: number): Rotation {
  if (Math.abs(dx) >= Math.abs(dy)) return dx >= 0 ? 0 : 180;
  return dy < 0 ? 90 : 270;
}

/** A body on the boards: a rectangle about (cx, cy), turned by the direction (ux, uy) of its length; all in pitches. */
export interface Body {
  readonly cx: number;
  readonly cy: number;
  readonly ux: number;
  readonly uy: number;
  readonly halfLength: number;
  readonly halfWidth: number;
}

/** The body of a rigid package whose first lead stands at (x, y); `box` already turned. */
export function bodyOfBox(box: Box, x: number, y: number): Body {
  return {
    cx: x + (box.x0 + box.x1) / 2,
    cy: y + (box.y0 + box.y1) / 2,
    ux: 1,
    uy: 0,
    halfLength: (box.x1 - box.x0) / 2,
    halfWidth: (box.y1 - box.y0) / 2,
  };
}

/** mm along the board that a tool or finger needs at either end of a part that comes out: common practice, no source. */
const GRIP_MM = 5;

/** What a rigid part keeps clear beyond its body, by rotation; lengths in pitches. */
export interface Reach {
  /** At either end, so that it can be taken out. */
  readonly grip: number;
  /** Beyond the end of pin 1, over which a lever swings. */
  readonly swing: number;
}

/** The reach of a part: records of sockets say in `swing-mm` how far their lever goes. */
export function reachOf(record: PartRecord, comesOut: boolean): Reach {
  const swing = (record.facts as Readonly<Record<string, unknown>> | undefined)?.['swing-mm'];
  return {
    grip: comesOut ? GRIP_MM / PITCH_MM : 0,
    swing: typeof swing === 'number' && swing > 0 && swing < 200 ? swing / PITCH_MM : 0,
  };
}

/** The zones beyond the ends of a body (already turned) that stay clear of tall things; `isLever` where one swings. */
export function zonesOf(
  box: Box,
  reach: Reach,
  rotation: Rotation,
): { readonly box: Box; readonly isLever: boolean }[] {
  const zones: { box: Box; isLever: boolean }[] = [];
  if (rotation % 180 !== 0) return zones;
  const left = { ...box, x0: box.x0 - reach.grip, x1: box.x0 };
  const right = { ...box, x0: box.x1, x1: box.x1 + reach.grip };
  if (reach.grip > 0) zones.push({ box: left, isLever: false }, { box: right, isLever: false });
  if (reach.swing > 0)
    zones.push({
      box:
        rotation === 0
          ? { ...box, x0: box.x0 - reach.swing, x1: box.x0 }
          : { ...box, x0: box.x1, x1: box.x1 + reach.swing },
      isLever: true,
    });
  return zones;
}

/** The body of a bent part between two leads. */
export function bodyOfBent(footprint: BentFootprint, x1: number, y1: number, x2: number, y2: number): Body {
  const length = Math.hypot(x2 - x1, y2 - y1);
  return {
    cx: (x1 + x2) / 2,
    cy: (y1 + y2) / 2,
    ux: (x2 - x1) / length,
    uy: (y2 - y1) / length,
    halfLength: footprint.bodyLengthMm / PITCH_MM / 2,
    halfWidth: footprint.bodyWidthMm / PITCH_MM / 2,
  };
}

/** Half the breadth of the bare leads with the room they need, pitches: 0.6 mm of lead and 0.5 mm to either side. */
const LINE_HALF = 0.3;

/** The bare leads of a bent part between its two holes. */
export function lineOfBent(x1: number, y1: number, x2: number, y2: number): Body {
  const length = Math.hypot(x2 - x1, y2 - y1);
  return {
    cx: (x1 + x2) / 2,
    cy: (y1 + y2) / 2,
    ux: (x2 - x1) / length,
    uy: (y2 - y1) / length,
    halfLength: length / 2,
    halfWidth: LINE_HALF,
  };
}

/** What may overlap by drawing tolerance: 0.3 mm. */
const TOLERANCE = 0.3 / PITCH_MM;

/** Whether two bodies overlap (separating axes of two rectangles). */
export function bodiesOverlap(a: Body, b: Body): boolean {
  const dx = b.cx - a.cx;
  const dy = b.cy - a.cy;
  const reach = a.halfLength + a.halfWidth + b.halfLength + b.halfWidth;
  if (Math.abs(dx) > reach || Math.abs(dy) > reach) return false;
  const apart = (ux: number, uy: number): boolean => {
    const extent = (body: Body): number =>
      body.halfLength * Math.abs(body.ux * ux + body.uy * uy) + body.halfWidth * Math.abs(-body.uy * ux + body.ux * uy);
    return Math.abs(dx * ux + dy * uy) >= extent(a) + extent(b) - TOLERANCE;
  };
  return !(apart(a.ux, a.uy) || apart(-a.uy, a.ux) || apart(b.ux, b.uy) || apart(-b.uy, b.ux));
}

/** Whether a body lies over the point (x, y), less a small rim. */
export function bodyCovers(body: Body, x: number, y: number): boolean {
  const dx = x - body.cx;
  const dy = y - body.cy;
  return (
    Math.abs(dx * body.ux + dy * body.uy) < body.halfLength - 0.05 &&
    Math.abs(-dx * body.uy + dy * body.ux) < body.halfWidth - 0.05
  );
}
