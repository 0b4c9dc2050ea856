// The outline of a part on the boards, mm: from its package, its symbol and the holes its leads are in. Chips are open outlines
// between their rows; parts with two leads and displays are drawn at the size of their body.

import type { PlacedPart } from '../board/index.ts';
import type { PartRecord } from '../parts/index.ts';
import { PITCH, type Rect } from './places.ts';

export type Shape =
  | 'chip'
  | 'can'
  | 'row'
  | 'to-92'
  | 'to-220'
  | 'resistor'
  | 'capacitor'
  | 'electrolytic'
  | 'diode'
  | 'led'
  | 'crystal'
  | 'fuse'
  | 'button'
  | 'switch'
  | 'digit'
  | 'header'
  | 'bar'
  | 'box';

/** Which part of the sheet a part takes and how to draw it there. */
export interface Outline {
  readonly shape: Shape;
  /** Middle of the leads. */
  readonly cx: number;
  readonly cy: number;
  /** Degrees clockwise on the drawing, of the line from the first lead to the last; 0 for chips. */
  readonly angle: number;
  /** Size of the body along and across that line. */
  readonly length: number;
  readonly width: number;
  /** Distance from the first lead to the last. */
  readonly reach: number;
  /** What wires go round: the body's box on the drawing. Undefined for a body that wires pass over. */
  readonly body: Rect | undefined;
  /** Chips: where pin 1 is, as signs of x and y from the middle. */
  readonly corner: readonly [number, number];
}

interface LeadPoint {
  readonly number: number;
  readonly at: { readonly x: number; readonly y: number };
}

/** Usual bodies, mm, for records that give none: quarter-watt resistor, 2.5 mm disc, 5 mm can and lamp, HC-49 crystal. */
const USUAL: Partial<Record<Shape, readonly [length: number, width: number]>> = {
  resistor: [6.3, 2.3],
  capacitor: [5, 2.5],
  electrolytic: [5, 5],
  diode: [4.2, 2],
  led: [5, 5],
  crystal: [11, 4.7],
  fuse: [6.3, 2.3],
  box: [6, 2.5],
  'to-92': [4.7, 3.7],
  'to-220': [10.2, 4.6],
};

const SHAPES: Readonly<Partial<Record<string, Shape>>> = {
  resistor: 'resistor',
  capacitor: 'capacitor',
  electrolytic: 'electrolytic',
  diode: 'diode',
  led: 'led',
  crystal: 'crystal',
  fuse: 'fuse',
  button: 'button',
  switch: 'switch',
  digit: 'digit',
  header: 'header',
  can: 'can',
  network: 'row',
};

function shapeOf(record: PartRecord | undefined, leads: number): Shape {
  const kind: string | undefined = record?.package.kind;
  if (kind === 'to-92') return 'to-92';
  if (kind === 'to-220') return 'to-220';
  const symbol: string | undefined = record?.symbol;
  const shape = symbol !== undefined && Object.hasOwn(SHAPES, symbol) ? SHAPES[symbol] : undefined;
  if (shape !== undefined) return shape;
  if (leads <= 2) return 'box';
  return kind === 'sip' ? 'row' : 'chip';
}

/** The outline of a placed part. Without a record: a chip where it has more than two leads, else a box. */
export function outlinePart(placed: PlacedPart, record: PartRecord | undefined, leads: readonly LeadPoint[]): Outline {
  const xs = leads.map((lead) => lead.at.x);
  const ys = leads.map((lead) => lead.at.y);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const found = shapeOf(record, placed.leads.length);
  // Lamps in one body, lead pairs across it.
  const asked = found === 'led' && leads.length > 2 ? 'bar' : found;
  const shape = asked === 'chip' && y1 - y0 < PITCH ? 'row' : asked;
  const cx = (x0 + x1) / 2;
  const cy = (y0 + y1) / 2;
  const first = leads.reduce((a, b) => (b.number < a.number ? b : a)).at;
  const last = leads.reduce((a, b) => (b.number > a.number ? b : a)).at;
  const reach = Math.hypot(last.x - first.x, last.y - first.y);
  const sideOf = (value: number, middle: number, otherwise: number): number =>
    Math.abs(value - middle) < 0.1 ? otherwise : Math.sign(value - middle);
  const turned = placed.rotation === 180 || placed.rotation === 90;
  const corner = [sideOf(first.x, cx, turned ? 1 : -1), sideOf(first.y, cy, turned ? -1 : 1)] as const;
  const box = record?.package.body;

  if (shape === 'chip') {
    const inset = Math.min(0.8, (y1 - y0) / 4);
    const body = { x: x0 - 1.15, y: y0 + inset, width: x1 - x0 + 2.3, height: Math.max(1.5, y1 - y0 - 2 * inset) };
    return { shape, cx, cy, angle: 0, length: body.width, width: body.height, reach, body, corner };
  }
  if (
    shape === 'can' ||
    shape === 'button' ||
    shape === 'switch' ||
    shape === 'digit' ||
    shape === 'bar' ||
    (y1 - y0 > 1 && x1 - x0 > 1 && reach > 0 && leads.length > 2)
  ) {
    // A body with a size of its own, centred over its leads; sized as its leads lie (length along the longer side).
    const upright = placed.rotation === 90 || placed.rotation === 270;
    const along = box?.length ?? x1 - x0 + PITCH;
    const across = box?.width ?? y1 - y0 + PITCH;
    const width = Math.max(upright ? across : along, 2);
    const height = Math.max(upright ? along : across, 2);
    const body = { x: cx - width / 2, y: cy - height / 2, width, height };
    return { shape, cx, cy, angle: 0, length: width, width: height, reach, body, corner };
  }
  const angle = reach < 0.1 ? 0 : (Math.atan2(last.y - first.y, last.x - first.x) * 180) / Math.PI;
  const usual = USUAL[shape];
  const isRow = shape === 'row' || shape === 'header';
  const length = isRow ? reach + 2.3 : (box?.length ?? usual?.[0] ?? reach + 2);
  const width = isRow ? 2.3 : (box?.width ?? usual?.[1] ?? 2.5);
  const cos = Math.abs(Math.cos((angle * Math.PI) / 180));
  const sin = Math.abs(Math.sin((angle * Math.PI) / 180));
  const w = length * cos + width * sin;
  const h = length * sin + width * cos;
  // A body that stands askew is passed over: the box round it would shut off half a board.
  const askew = cos > 0.2 && sin > 0.2;
  const body = askew ? undefined : { x: cx - w / 2, y: cy - h / 2, width: w, height: h };
  return { shape, cx, cy, angle, length, width, reach, body, corner };
}
