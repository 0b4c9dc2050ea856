// Draws waveforms on a canvas, as a data sheet draws timing: predicted thin above, captured firm below, hatched where they differ.
// Only what is in view is looked at, and no more than two marks for each pixel, so that the length of a capture is no matter.

import type { RulerItem, Waves } from '../../bringup-protocol.ts';
import { FOOT, NAMES, RULER, type WaveView, xOf } from './wave-view.ts';

export interface Ink {
  readonly ground: string;
  readonly ink: string;
  readonly ink2: string;
  readonly line: string;
  readonly hair: string;
  readonly fault: string;
  readonly mark: string;
  readonly strip: string;
  readonly sans: string;
  readonly mono: string;
}

export interface WaveLook {
  readonly waves: Waves;
  readonly view: WaveView;
  readonly width: number;
  readonly height: number;
  /** px that the rows are scrolled up. */
  readonly top: number;
  readonly cursor: number | undefined;
  /** A second place, for distances. */
  readonly other: number | undefined;
  readonly ink: Ink;
}

export const rowHeight = (waves: Waves): number =>
  waves.nets.some(({ captured }) => captured !== undefined) ? 42 : 30;

/** Height of all rows. */
export const allRows = (waves: Waves): number => waves.rows.length * rowHeight(waves);

const LANE = 14;

type Levels = Uint8Array | undefined;

/** Value of a bus at a half clock: the number, and whether every line is known. */
export function busValue(
  lanes: readonly Levels[],
  half: number,
): { readonly value: number; readonly isKnown: boolean } {
  let value = 0;
  let isKnown = true;
  for (const lane of lanes) {
    const level = lane?.[half] ?? 2;
    if (level === 2) isKnown = false;
    value = value * 2 + (level === 1 ? 1 : 0);
  }
  return { value, isKnown };
}

export const hexOf = (value: number, lines: number): string =>
  value
    .toString(16)
    .toUpperCase()
    .padStart(Math.ceil(lines / 4), '0');

/** The half clock where a row next changes, from `half` on; the end where it does not. */
function nextChange(lanes: readonly Levels[], half: number, end: number): number {
  let next = end;
  for (const lane of lanes) {
    if (lane === undefined) continue;
    const level = lane[half];
    let k = half + 1;
    while (k < next && lane[k] === level) k++;
    next = k;
  }
  return next;
}

export function drawWaves(context: CanvasRenderingContext2D, look: WaveLook): void {
  const { waves, view, width, height, top, ink } = look;
  context.fillStyle = ink.ground;
  context.fillRect(0, 0, width, height);
  const first = Math.max(0, Math.floor(view.from));
  const last = Math.min(waves.halves, Math.ceil(view.from + (width - NAMES) / view.scale));
  const rowsEnd = height - FOOT;
  context.save();
  context.beginPath();
  context.rect(NAMES, 0, width - NAMES, height);
  context.clip();
  drawTicks(context, look, first, last);
  if (waves.first !== undefined && waves.first >= first - 1 && waves.first <= last) {
    const x = xOf(view, waves.first);
    context.fillStyle = ink.mark;
    context.fillRect(x, RULER, Math.max(2, view.scale), rowsEnd - RULER);
  }
  context.restore();
  const each = rowHeight(waves);
  const hasBoth = each > 30;
  waves.rows.forEach((row, index) => {
    const y = RULER + index * each - top;
    if (y + each < RULER || y > rowsEnd) return;
    const lanesOf = (which: 'predicted' | 'captured'): Levels[] => row.nets.map((net) => waves.nets[net]![which]);
    context.save();
    context.beginPath();
    context.rect(NAMES, RULER, width - NAMES, rowsEnd - RULER);
    context.clip();
    const upper = y + 6;
    const lower = y + 6 + LANE + 4;
    if (hasBoth) hatch(context, look, row.nets, first, last, upper - 2, lower + LANE + 2);
    drawLane(context, look, lanesOf('predicted'), first, last, upper, 1, ink.ink2);
    if (hasBoth) drawLane(context, look, lanesOf('captured'), first, last, lower, 1.9, ink.ink);
    context.restore();
    context.save();
    context.beginPath();
    context.rect(0, RULER, NAMES, rowsEnd - RULER);
    context.clip();
    context.fillStyle = ink.ink;
    context.font = `700 13px ${ink.mono}`;
    context.textBaseline = 'middle';
    context.textAlign = 'left';
    context.fillText(clip(row.label, 14), 8, y + each / 2 - 1);
    context.restore();
    context.fillStyle = ink.hair;
    context.fillRect(0, y + each - 1, width, 1);
  });
  drawRuler(context, look, first, last);
  drawCursors(context, look);
  context.fillStyle = ink.ink;
  context.fillRect(NAMES - 1, 0, 1, rowsEnd);
  context.fillRect(0, rowsEnd, width, 1);
}

const clip = (text: string, most: number): string => (text.length > most ? `${text.slice(0, most - 1)}…` : text);

/** Clocks since reset along the foot, and faint lines up from them. */
function drawTicks(context: CanvasRenderingContext2D, look: WaveLook, first: number, last: number): void {
  const { waves, view, height, ink } = look;
  const since = waves.sinceReset ?? 0;
  // 1, 2, 5, 10 and so on, in clocks.
  let step = 2;
  for (let k = 0; step * view.scale < 70; k++) step = 2 * [1, 2, 5][k % 3]! * 10 ** Math.floor(k / 3);
  context.font = `400 12px ${ink.sans}`;
  context.textBaseline = 'middle';
  context.textAlign = 'center';
  for (let n = Math.ceil((first + since) / step) * step; n - since <= last; n += step) {
    const x = xOf(view, n - since);
    context.fillStyle = ink.hair;
    context.fillRect(Math.round(x), RULER, 1, height - RULER - FOOT);
    context.fillStyle = ink.ink2;
    context.fillText(String(n / 2), x, height - FOOT / 2);
  }
}

/** One lane: a line for a single net, a band with hexadecimal values for several. */
function drawLane(
  context: CanvasRenderingContext2D,
  look: WaveLook,
  lanes: readonly Levels[],
  first: number,
  last: number,
  y: number,
  weight: number,
  colour: string,
): void {
  if (lanes.every((lane) => lane === undefined)) return;
  const { view, ink } = look;
  const high = y + 0.5;
  const low = y + LANE - 0.5;
  const middle = (high + low) / 2;
  const slope = Math.min(3, view.scale / 4);
  context.strokeStyle = colour;
  context.fillStyle = colour;
  context.lineWidth = weight;
  context.lineJoin = 'round';
  const isBus = lanes.length > 1;
  const path = new Path2D();
  const busy = new Path2D();
  const dashed = new Path2D();
  let half = first;
  let before = isBus || first === 0 ? undefined : (lanes[0]?.[first - 1] ?? 2);
  context.font = `400 12px ${ink.mono}`;
  context.textAlign = 'center';
  context.textBaseline = 'middle';
  const yOf = (level: number): number => (level === 1 ? high : level === 0 ? low : middle);
  while (half < last) {
    const next = nextChange(lanes, half, last);
    const x = xOf(view, half);
    // Several changes within a pixel are one block.
    if ((next - half) * view.scale < 1.2) {
      let end = next;
      while (end < last && (nextChange(lanes, end, last) - end) * view.scale < 1.2) end = nextChange(lanes, end, last);
      busy.rect(x, high, Math.max(1, xOf(view, end) - x), low - high);
      half = end;
      before = undefined;
      continue;
    }
    const to = xOf(view, next);
    if (isBus) {
      const { value, isKnown } = busValue(lanes, half);
      const isFloating = lanes.every((lane) => (lane?.[half] ?? 2) === 2);
      if (isFloating) {
        dashed.moveTo(x + slope, middle);
        dashed.lineTo(to - slope, middle);
      } else {
        path.moveTo(x + slope, high);
        path.lineTo(to - slope, high);
        path.lineTo(to, middle);
        path.lineTo(to - slope, low);
        path.lineTo(x + slope, low);
        path.lineTo(x, middle);
        path.closePath();
        const text = isKnown ? hexOf(value, lanes.length) : '?';
        const left = Math.max(x, NAMES);
        const right = Math.min(to, look.width);
        if (right - left > text.length * 7.4 + 6) context.fillText(text, (left + right) / 2, middle + 0.5);
      }
    } else {
      const level = lanes[0]![half]!;
      if (level === 2) {
        dashed.moveTo(x, middle);
        dashed.lineTo(to, middle);
      } else {
        if (before !== undefined && before !== 2 && before !== level) {
          path.moveTo(x - slope / 2, yOf(before));
          path.lineTo(x + slope / 2, yOf(level));
        } else path.moveTo(x, yOf(level));
        path.lineTo(to - (next < last ? slope / 2 : 0), yOf(level));
      }
      before = level;
    }
    half = next;
  }
  context.stroke(path);
  context.setLineDash([3, 3]);
  context.stroke(dashed);
  context.setLineDash([]);
  context.globalAlpha = 0.55;
  context.fill(busy);
  context.globalAlpha = 1;
}

/** Hatches where predicted and captured are both known and differ; in the fault's colour at the first difference. */
function hatch(
  context: CanvasRenderingContext2D,
  look: WaveLook,
  nets: readonly number[],
  first: number,
  last: number,
  top: number,
  bottom: number,
): void {
  const { waves, view, ink } = look;
  const pairs = nets.map((net) => waves.nets[net]!);
  const differs = (half: number): boolean =>
    pairs.some(({ predicted, captured }) => {
      const a = predicted?.[half] ?? 2;
      const b = captured?.[half] ?? 2;
      return a !== 2 && b !== 2 && a !== b;
    });
  const spans: [number, number][] = [];
  const stride = Math.max(1, Math.floor(0.5 / view.scale));
  for (let half = first; half < last; half += stride) {
    let is = false;
    for (let k = half; k < Math.min(last, half + stride) && !is; k++) is = differs(k);
    if (!is) continue;
    const open = spans.at(-1);
    if (open !== undefined && open[1] >= half) open[1] = half + stride;
    else spans.push([half, half + stride]);
  }
  for (const [from, to] of spans) {
    const x = xOf(view, from);
    const end = Math.max(x + 1, xOf(view, to));
    const isFirst = waves.first !== undefined && waves.first >= from && waves.first < to;
    context.save();
    context.beginPath();
    context.rect(x, top, end - x, bottom - top);
    context.clip();
    context.strokeStyle = isFirst ? ink.fault : ink.line;
    context.lineWidth = isFirst ? 1.6 : 1;
    context.beginPath();
    const height = bottom - top;
    for (let k = x - height - (x % 6); k < end; k += 6) {
      context.moveTo(k, bottom);
      context.lineTo(k + height, top);
    }
    context.stroke();
    context.restore();
  }
}

/** Instructions along the top: the predicted ones, and below them the captured ones. */
function drawRuler(context: CanvasRenderingContext2D, look: WaveLook, first: number, last: number): void {
  const { waves, view, width, ink } = look;
  context.fillStyle = ink.ground;
  context.fillRect(0, 0, width, RULER);
  const line = (items: readonly RulerItem[], y: number, weight: string, colour: string): void => {
    if (items.length === 0) return;
    let low = 0;
    let high = items.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (items[middle]!.to < first) low = middle + 1;
      else high = middle;
    }
    context.save();
    context.beginPath();
    context.rect(NAMES, 0, width - NAMES, RULER);
    context.clip();
    context.font = `${weight} 12px ${ink.mono}`;
    context.textBaseline = 'middle';
    context.textAlign = 'left';
    let written = NAMES;
    for (let k = low; k < items.length && items[k]!.from < last; k++) {
      const { from, text } = items[k]!;
      const x = xOf(view, from);
      const next = items[k + 1];
      const end = next === undefined ? xOf(view, items[k]!.to) : xOf(view, next.from);
      if (end - x < 3 && x - written < 3) continue;
      context.fillStyle = ink.line;
      context.fillRect(Math.round(x), y - 10, 1, 20);
      written = x;
      const room = end - Math.max(x, NAMES) - 10;
      if (room < 22) continue;
      const most = Math.floor(room / 7.3);
      context.fillStyle = colour;
      context.fillText(clip(text, Math.max(2, most)), Math.max(x, NAMES) + 5, y);
    }
    context.restore();
  };
  const hasBoth = waves.capturedRuler.length > 0;
  line(waves.predictedRuler, hasBoth ? 15 : 28, '400', ink.ink2);
  line(waves.capturedRuler, 41, '700', ink.ink);
  context.font = `400 12px ${ink.sans}`;
  context.textAlign = 'left';
  context.textBaseline = 'middle';
  context.fillStyle = ink.ink2;
  if (waves.predictedRuler.length > 0) context.fillText(hasBoth ? 'predicted' : 'instructions', 8, hasBoth ? 15 : 28);
  if (hasBoth) context.fillText('captured', 8, 41);
  context.fillStyle = ink.ink;
  context.fillRect(0, RULER - 1, width, 1);
}

/** The hairline in its frame, as on a slide rule. */
function drawCursors(context: CanvasRenderingContext2D, look: WaveLook): void {
  const { view, height, width, cursor, other, ink } = look;
  for (const [half, isMain] of [
    [other, false],
    [cursor, true],
  ] as const) {
    if (half === undefined) continue;
    const x = xOf(view, half + 0.5);
    if (x < NAMES || x > width) continue;
    context.strokeStyle = ink.ink;
    context.lineWidth = isMain ? 1.2 : 1;
    if (!isMain) context.setLineDash([5, 3]);
    context.beginPath();
    context.moveTo(x, 0);
    context.lineTo(x, height - FOOT);
    context.stroke();
    context.setLineDash([]);
    if (!isMain) continue;
    const wide = Math.max(10, view.scale);
    context.strokeRect(x - wide / 2, RULER - 1, wide, height - RULER - FOOT);
  }
}
