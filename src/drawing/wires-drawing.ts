// Wires on the boards, as SVG text: strokes with round corners that weave where they cross, ends as discs in their holes;
// thin planned, solid built, dashed to be taken out; the selected net in a highlighter band with code and length.

import type { Frame } from './frame.ts';
import { LANE, type Point } from './lanes.ts';
import type { SceneWire } from './scene.ts';
import { isWireCode, wireName } from './tokens.ts';
import { escapeXml, monoWidth, num } from './text.ts';

export interface WireChoice {
  readonly net: string | undefined;
  readonly wire: string | undefined;
  /** The wire in hand at the bench; everything else steps back. */
  readonly hand: string | undefined;
  readonly faulty: ReadonlySet<string>;
  /** Whether what isn't chosen is drawn fainter. */
  readonly dims: boolean;
}

/** A polyline in mm as a path in px, corners rounded by `radius` px at most. */
export function roundedPath(points: readonly Point[], scale: number, radius: number): string {
  const q = points.map(([x, y]) => [x * scale, y * scale] as const);
  const first = q[0];
  if (first === undefined) return '';
  let d = `M${num(first[0])} ${num(first[1])}`;
  for (let i = 1; i + 1 < q.length; i++) {
    const [ax, ay] = q[i - 1]!;
    const [bx, by] = q[i]!;
    const [cx, cy] = q[i + 1]!;
    const before = Math.hypot(bx - ax, by - ay);
    const after = Math.hypot(cx - bx, cy - by);
    const k = Math.min(radius, before / 2, after / 2);
    if (k < 0.01) continue;
    d += `L${num(bx - ((bx - ax) / before) * k)} ${num(by - ((by - ay) / before) * k)}Q${num(bx)} ${num(by)} ${num(bx + ((cx - bx) / after) * k)} ${num(by + ((cy - by) / after) * k)}`;
  }
  const last = q.at(-1)!;
  return `${d}L${num(last[0])} ${num(last[1])}`;
}

function archPath(from: Point, to: Point, scale: number): string {
  const [x0, y0, x1, y1] = [from[0] * scale, from[1] * scale, to[0] * scale, to[1] * scale];
  const length = Math.hypot(x1 - x0, y1 - y0);
  if (length === 0) return `M${num(x0)} ${num(y0)}h0`;
  // Bows to the right of the way from the upper end to the lower, by a tenth of its length and a little more.
  const bow = (length * 0.1 + 0.8 * scale) * (y1 >= y0 ? 1 : -1);
  const nx = ((y1 - y0) / length) * bow;
  const ny = (-(x1 - x0) / length) * bow;
  const at = (t: number): string => `${num(x0 + (x1 - x0) * t + nx)} ${num(y0 + (y1 - y0) * t + ny)}`;
  return `M${num(x0)} ${num(y0)}C${at(0.25)} ${at(0.75)} ${num(x1)} ${num(y1)}`;
}

function seen(wire: SceneWire, frame: Frame): boolean {
  for (let i = 0; i + 1 < wire.path.length; i++) {
    const [ax, ay] = wire.path[i]!;
    const [bx, by] = wire.path[i + 1]!;
    const box = { x: Math.min(ax, bx), y: Math.min(ay, by), width: Math.abs(bx - ax), height: Math.abs(by - ay) };
    if (frame.seesBox(box, LANE)) return true;
  }
  return false;
}

/** Codes that have a casing on one ground or the other. */
const CASED: ReadonlySet<string> = new Set(['OG', 'YE', 'TQ', 'WH', 'PK', 'BK', 'BN']);

/** What a wire is in words: `/RD, violet, 81 mm, 1:21h to 1:44h; in`. */
export function wireTitle(wire: SceneWire): string {
  const state = { built: 'in', planned: 'not in yet', out: 'to be taken out' }[wire.state];
  const { net, colour, cutMm, from, to } = wire.wire;
  return `${net}, ${wireName(colour)}, ${num(cutMm)} mm, ${from} to ${to}; ${state}`;
}

/** All wires in view, and above them the codes and lengths of the chosen ones. */
export function drawWires(
  wires: readonly SceneWire[],
  frame: Frame,
  choice: WireChoice,
): { wires: string; codes: string } {
  const chosen = (w: SceneWire): boolean =>
    choice.hand === undefined &&
    (w.wire.id === choice.wire || (choice.net !== undefined && choice.wire === undefined && w.wire.net === choice.net));
  const special = (w: SceneWire): boolean => chosen(w) || w.wire.id === choice.hand || choice.faulty.has(w.wire.id);
  const anything =
    choice.net !== undefined || choice.wire !== undefined || choice.hand !== undefined || choice.faulty.size > 0;
  // The dimmed ones first, in one layer; then planned below built, what is leaving above, the chosen on top.
  const rank = (w: SceneWire): number =>
    (special(w) ? 10 : 0) + (w.wire.id === choice.hand ? 5 : 0) + { planned: 0, built: 1, out: 2 }[w.state];
  const list = wires
    .filter((w) => seen(w, frame))
    .map((w, index) => ({ w, index, rank: rank(w) }))
    .sort((a, b) => a.rank - b.rank || a.index - b.index);
  const plain = list.filter(({ w }) => !special(w)).map(({ w }) => w);
  const top = list.filter(({ w }) => special(w)).map(({ w }) => w);
  const dim = anything && choice.dims;
  const low =
    frame.scale * LANE * 2 < 5
      ? drawBands(plain, frame)
      : plain.map((w) => drawWire(w, frame, false, false, false)).join('');
  const high = top
    .map((w) => drawWire(w, frame, chosen(w), w.wire.id === choice.hand, choice.faulty.has(w.wire.id)))
    .join('');
  const codes = top
    .filter(chosen)
    .map((w) => codeTag(w, frame))
    .join('');
  return { wires: `<g class="pb-wires${dim ? ' pb-dimmed' : ''}">${low}</g><g class="pb-wires">${high}</g>`, codes };
}

function drawWire(w: SceneWire, frame: Frame, on: boolean, hand: boolean, faulty: boolean): string {
  const { scale, large, px, level } = frame;
  const thick = large ? Math.max(3.4, 0.5 * scale) : Math.max(level === 'far' ? 1.6 : 2.3, 0.5 * scale);
  const thin = level === 'bench' ? 2 : large ? 1.6 : level === 'far' ? 0.9 : 1.15;
  const width = hand
    ? thick * 1.25
    : w.state === 'built'
      ? thick * (on ? 1.3 : 1)
      : w.state === 'out'
        ? thick * 0.8
        : on
          ? thin * 1.5
          : thin;
  const first = w.path[0]!;
  const last = w.path.at(-1)!;
  const d = w.arch ? archPath(first, last, scale) : roundedPath(w.path, scale, scale * (large ? 0.9 : 1));
  const stroke = (cls: string, wide: number): string =>
    `<path class="${cls}" d="${d}" style="stroke-width:${num(wide)}px"/>`;
  const code = isWireCode(w.wire.colour) ? w.wire.colour : 'x';
  const cls = `pb-wire ${w.state} c-${code}${on ? ' on' : ''}${hand ? ' hand' : ''}${faulty ? ' faulty' : ''}`;
  let out = `<g class="${cls}" data-wire="${escapeXml(w.wire.id)}" data-net="${escapeXml(w.wire.net)}"><title>${escapeXml(wireTitle(w))}</title>`;
  if (on || hand || faulty)
    out += stroke('edge', width + (large ? 13 : 9)) + stroke('halo', width + (large ? 10.5 : 7));
  else if (level !== 'far') out += stroke('gap', width + (large ? 3 : 2));
  if (w.state !== 'planned' || hand) if (on || hand || faulty || CASED.has(code)) out += stroke('case', width + 1.5);
  out += stroke('core', width);
  const r = (large ? 0.58 : 0.5) * scale * (w.state === 'planned' && !hand ? 0.8 : 1);
  for (const [end, name] of [
    [w.from, w.wire.from],
    [w.to, w.wire.to],
  ] as const)
    out += `<circle class="end" data-hole="${escapeXml(name)}" cx="${px(end.x)}" cy="${px(end.y)}" r="${num(r)}"/>`;
  if (faulty) {
    const [x, y] = longest(w).middle;
    const k = 0.9 * Math.max(4, scale);
    out += `<path class="pb-fault" d="M${num(x * scale - k)} ${num(y * scale - k)}l${num(2 * k)} ${num(2 * k)}m0 ${num(-2 * k)}l${num(-2 * k)} ${num(2 * k)}"/>`;
  }
  return `${out}</g>`;
}

/** The longest straight stretch of a wire, which carries its tag. */
function longest(w: SceneWire): { middle: Point; upright: boolean; length: number } {
  let best = { middle: w.path[0]!, upright: false, length: -1 };
  for (let i = 0; i + 1 < w.path.length; i++) {
    const [ax, ay] = w.path[i]!;
    const [bx, by] = w.path[i + 1]!;
    const length = Math.hypot(bx - ax, by - ay);
    if (length > best.length)
      best = { middle: [(ax + bx) / 2, (ay + by) / 2], upright: Math.abs(by - ay) > Math.abs(bx - ax), length };
  }
  return best;
}

/** Code and cut length on the wire, so that its colour never speaks alone. */
function codeTag(w: SceneWire, frame: Frame): string {
  if (frame.level === 'far') return '';
  const size = frame.large ? 13 : 10.5;
  const text = `${w.wire.colour} ${num(w.wire.cutMm)} mm`;
  const wide = monoWidth(text, size) + 8;
  // Of the stretches in view, the longest one.
  const inView = clipToView(w, frame);
  if (inView === undefined) return '';
  const room = inView.length * frame.scale;
  const shown = room >= wide + 4 ? text : w.wire.colour;
  const width = monoWidth(shown, size) + 8;
  if (room < width * 0.8) return '';
  const [x, y] = inView.middle;
  const turn = inView.upright ? 'rotate(-90)' : '';
  return `<g class="pb-code" transform="translate(${frame.px(x)} ${frame.px(y)})${turn}"><rect x="${num(-width / 2)}" y="${num(-size * 0.68)}" width="${num(width)}" height="${num(size * 1.36)}"/><text dy=".35em" style="font-size:${num(size)}px">${escapeXml(shown)}</text></g>`;
}

function clipToView(w: SceneWire, frame: Frame): { middle: Point; upright: boolean; length: number } | undefined {
  const { x, y, width, height } = frame.view;
  const within = (v: number, low: number, high: number): number => Math.max(low, Math.min(high, v));
  const path = w.path.map(([px, py]): Point => [within(px, x, x + width), within(py, y, y + height)]);
  const best = longest({ ...w, path });
  return best.length > 0 ? best : undefined;
}

/** Far out, wires of one bundle that are in the same state become one band with their number. */
function drawBands(wires: readonly SceneWire[], frame: Frame): string {
  const bands = new Map<string, SceneWire[]>();
  const single: SceneWire[] = [];
  for (const w of wires) {
    if (w.bundle === '' || w.arch) {
      single.push(w);
      continue;
    }
    const key = `${w.state}\n${w.wire.colour}\n${w.bundle}`;
    const band = bands.get(key);
    if (band === undefined) bands.set(key, [w]);
    else band.push(w);
  }
  let out = single.map((w) => drawWire(w, frame, false, false, false)).join('');
  for (const band of bands.values()) {
    if (band.length < 3) {
      out += band.map((w) => drawWire(w, frame, false, false, false)).join('');
      continue;
    }
    const middle = band[band.length >> 1]!;
    const width = Math.min(9, 1 + band.length * 0.4) * (middle.state === 'built' ? 1 : 0.6);
    const code = isWireCode(middle.wire.colour) ? middle.wire.colour : 'x';
    const nets = band.map((w) => w.wire.net).join(' ');
    const spot = longest(middle).middle;
    out += `<g class="pb-wire ${middle.state} c-${code}"><title>${escapeXml(`${band.length} wires: ${nets}`)}</title><path class="gap" d="${roundedPath(middle.path, frame.scale, frame.scale)}" style="stroke-width:${num(width + 2)}px"/><path class="core" d="${roundedPath(middle.path, frame.scale, frame.scale)}" style="stroke-width:${num(width)}px"/></g><g class="pb-over"><text class="b" x="${frame.px(spot[0])}" y="${frame.px(spot[1])}" dy=".35em" text-anchor="middle" style="font-size:9px">${band.length}</text></g>`;
  }
  return out;
}
