// A bus cycle against time, as a data sheet draws it: the clock and the signals, and below them for each requirement the train of
// delays from the edge that starts it, with the slack as an open dimension between arrows at its end. Drawn from figures; no
// signal is simulated.

import type { TimingRow, WaveEdge, WaveLane } from '../margins/index.ts';
import { wrapSvg } from './page-frame.ts';
import { escapeXml, fitMono, fitSans, num, sansWidth } from './text.ts';
import type { Ground } from './tokens.ts';

export interface CycleView {
  /** The rows of one cycle; those with unknown margins are listed with what is missing. */
  readonly rows: readonly TimingRow[];
  /** ns of one period of the clock, and the part of it that is high. */
  readonly periodNs: number;
  readonly high: number;
  /** The edge that a cycle starts from. */
  readonly startsWith: 'rise' | 'fall';
  /** Signals above the trains; none unless given. */
  readonly lanes?: readonly WaveLane[] | undefined;
  /** Where data are taken in. */
  readonly capture?: { readonly ns: number; readonly edge: string } | null | undefined;
  readonly ground?: Ground | undefined;
  /** px of the whole drawing; 1120 where absent. */
  readonly width?: number | undefined;
  /** The most trains drawn; the rest is counted in words. All unless said. */
  readonly most?: number | undefined;
}

const LEFT = 172;
const RIGHT = 96;
const AXIS = 34;
const LANE = 31;
const TYPE = 14;

interface Scale {
  readonly x: (ns: number) => number;
  readonly first: number;
  readonly end: number;
}

/** Draws a cycle, the tightest requirement first and large. */
export function cycleDrawing(view: CycleView): string {
  const { periodNs, high } = view;
  const width = view.width ?? 1120;
  const sorted = view.rows
    .filter((row) => row.marginNs !== null)
    .sort((a, b) => rank(a) - rank(b) || a.marginNs! - b.marginNs! || (a.check < b.check ? -1 : 1));
  const known = sorted.slice(0, view.most ?? sorted.length);
  const open = view.rows.filter((row) => row.marginNs === null).slice(0, view.most ?? view.rows.length);
  const lanes = view.lanes ?? [];
  const edgeNs = (n: number, phase: 'rise' | 'fall'): number => (n + (phase === 'fall' ? high : 0)) * periodNs;
  const zero = view.startsWith === 'rise' ? 0 : edgeNs(0, 'fall');
  // What ends where data are taken in is set from there: its start may come later by what the clock's duty leaves open.
  const startOf = (row: TimingRow): number =>
    view.capture && isAccess(row)
      ? view.capture.ns - row.availableNs!
      : row.start === null
        ? 0
        : edgeNs(row.start.n, row.start.phase) - zero + row.startAfterNs;
  const first = Math.min(0, ...known.map(startOf), ...lanes.flatMap((lane) => lane.edges.map((edge) => edge.first)));
  // How long the lines are free after a read needs no true length: it is cut at the edge of the drawing.
  const end =
    1.04 *
    Math.max(
      periodNs,
      view.capture?.ns ?? 0,
      ...known.map((row) => startOf(row) + Math.max(row.kind === 'turnaround' ? 0 : row.availableNs!, row.requiredNs!)),
      ...lanes.flatMap((lane) => lane.edges.map((edge) => (edge.to === 'idle' ? edge.first : edge.last))),
    );
  const per = (width - LEFT - RIGHT) / (end - first);
  const scale: Scale = { x: (ns) => LEFT + (Math.min(ns, end) - first) * per, first, end };

  let y = AXIS + 8;
  let front = '';
  const grid: number[] = [];
  front += clockLane(scale, zero, periodNs, high, y, grid);
  y += LANE + 8;
  for (const lane of lanes) {
    front += laneOf(lane, scale, y);
    y += LANE;
  }
  y += 16;
  for (const [k, row] of known.entries()) {
    front += trainOf(row, startOf(row), scale, y, k === 0);
    y += k === 0 ? 62 : 46;
  }
  const rest = sorted.length - known.length;
  if (rest > 0) {
    front += `<text class="s q out" x="0" y="${y + 12}" style="font-size:${TYPE}px">${rest} more, each with more to spare</text>`;
    y += 26;
  }
  for (const row of open) {
    front += `${label(row, y + 10, false)}<text class="s q" x="${LEFT}" y="${y + 15}" style="font-size:${TYPE}px">${escapeXml(fitSans(`not known: ${row.missing.join('; ')}`, TYPE, width - LEFT - 8))}</text>`;
    y += 40;
  }
  const height = y + 14;
  const lines = grid.map((ns) => `M${num(scale.x(ns))} ${AXIS}V${num(height - 8)}`).join('');
  let back = `<path class="hair" d="${lines}"/>${axisOf(scale)}`;
  if (view.capture) {
    const at = num(scale.x(view.capture.ns));
    back += `<path class="rule2" d="M${at} ${AXIS}V${num(height - 4)}" style="stroke-width:3.4"/>`;
    const word = `data taken, ${view.capture.edge}`;
    const isRoom = scale.x(view.capture.ns) + 8 + sansWidth(word, 13, 700) < width;
    front += `<text class="s b out" x="${isRoom ? num(scale.x(view.capture.ns) + 8) : num(scale.x(view.capture.ns) - 8)}" y="${num(height - 4)}"${isRoom ? '' : ' text-anchor="end"'} style="font-size:13px">${escapeXml(word)}</text>`;
  }
  const words = known.map((row) => `${row.target} ${row.check} ${tenths(row.marginNs!)} ns left`).join(', ');
  const name = view.rows[0]?.cycle ?? 'no cycle';
  return wrapSvg(HATCH + back + front, width, height, `${name}: ${words}`, view.ground);
}

const HATCH =
  '<defs><pattern id="pb-cy-h" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0V5" style="stroke:var(--ink-2);stroke-width:1.1"/></pattern></defs>';
const HATCHED = 'fill:url(#pb-cy-h)';

/** Whether a requirement ends where the processor takes data in. */
const isAccess = (row: TimingRow): boolean => row.kind === 'access';

/** Sheets that ask for 0 ns of hold get 0: that is no news, so such rows come last. */
const rank = (row: TimingRow): number => (row.kind === 'read hold' && row.marginNs! >= 0 ? 1 : 0);

const tenths = (ns: number): string => String(Math.round(ns * 10) / 10);

/** 1, 2 or 5 times a power of ten, so that some `wanted` of them make the span. */
function stepFor(span: number, wanted: number): number {
  const raw = span / wanted;
  const power = 10 ** Math.floor(Math.log10(raw));
  return power * (raw / power < 1.5 ? 1 : raw / power < 3.5 ? 2 : raw / power < 7.5 ? 5 : 10);
}

function axisOf({ x, first, end }: Scale): string {
  const big = stepFor(end - first, 7);
  let ticks = '';
  let words = '';
  for (let k = Math.ceil((first / big) * 10 - 1e-6); k * (big / 10) <= end; k++) {
    const at = num(x(k * (big / 10)));
    ticks += `M${at} ${AXIS}v${k % 10 === 0 ? -12 : k % 5 === 0 ? -8 : -4}`;
    if (k % 10 === 0)
      words += `<text class="s q" x="${at}" y="${AXIS - 16}" text-anchor="middle" style="font-size:13px">${num(k * (big / 10))}</text>`;
  }
  return `<path class="rule" d="M${num(x(first))} ${AXIS}H${num(x(end))}${ticks}" style="stroke:var(--ink-2)"/>${words}<text class="s q" x="${num(x(end) + 8)}" y="${AXIS - 4}" style="font-size:13px">ns</text>`;
}

const name = (text: string, y: number): string =>
  `<text class="m" x="0" y="${num(y + LANE / 2)}" style="font-size:${TYPE}px">${escapeXml(fitMono(text, TYPE, LEFT - 12))}</text>`;

function clockLane(scale: Scale, zero: number, periodNs: number, high: number, y: number, grid: number[]): string {
  const { x, first, end } = scale;
  const [up, down] = [y + 4, y + LANE - 8];
  let path = '';
  for (let n = Math.floor((first + zero) / periodNs) - 1; n * periodNs - zero < end; n++) {
    const rise = n * periodNs - zero;
    for (const [at, level] of [
      [rise, up],
      [rise + high * periodNs, down],
    ] as const) {
      if (at < first - 1e-6 || at > end + 1e-6) continue;
      grid.push(at);
      path += `${path === '' ? `M${num(x(first))} ${level === up ? down : up}` : ''}H${num(x(at))}V${level}`;
    }
  }
  return `${name('clock', y)}<path class="rule2" d="${path}H${num(x(end))}"/>`;
}

/** A level that moves between its earliest and latest edge, or a bus whose hatched part is not settled. */
function laneOf(lane: WaveLane, scale: Scale, y: number): string {
  const [up, down] = [y + 4, y + LANE - 8];
  const middle = (up + down) / 2;
  const { x, first, end } = scale;
  const edges = [...lane.edges].sort((a, b) => a.last - b.last);
  if (edges.length === 0) return name(lane.name, y);
  if (lane.shape === 'level') {
    const level = (edge: WaveEdge): number => (edge.to === 'high' ? up : down);
    let path = `M${num(x(first))} ${level(edges[0]!) === up ? down : up}`;
    let loose = '';
    for (const edge of edges) {
      path += `H${num(Math.max(x(first), x(edge.last) - 3))}L${num(x(edge.last))} ${level(edge)}`;
      if (edge.last - edge.first > 1)
        loose += `<rect x="${num(x(edge.first))}" y="${up}" width="${num(x(edge.last) - x(edge.first))}" height="${down - up}" style="${HATCHED};opacity:.5"/>`;
    }
    return `${name(lane.name, y)}${loose}<path class="rule2" d="${path}H${num(x(end))}" style="stroke-width:2.2;stroke-linejoin:round"/>`;
  }
  // Between settled stretches the lines are a rail in the middle where nobody drives them, or hatched where they change.
  let out = name(lane.name, y);
  let settled: number | undefined;
  const box = (from: number, to: number, isSettled: boolean): string =>
    x(to) - x(from) < 1
      ? ''
      : `<path class="rule2" d="M${num(x(from))} ${middle}L${num(x(from) + 3)} ${up}H${num(x(to) - 3)}L${num(x(to))} ${middle}L${num(x(to) - 3)} ${down}H${num(x(from) + 3)}Z" style="stroke-width:${isSettled ? 2.2 : 1.2};${isSettled ? '' : `${HATCHED};`}stroke-linejoin:round"/>`;
  let at = first;
  for (const edge of edges) {
    if (edge.to === 'valid') {
      out += `<path class="rule" d="M${num(x(at))} ${middle}H${num(x(Math.max(at, edge.first)))}"/>${box(Math.max(at, edge.first), edge.last, false)}`;
      settled = edge.last;
      at = edge.last;
    } else {
      if (settled !== undefined) out += box(settled, Math.max(settled, edge.first), true);
      const from = Math.max(settled ?? at, edge.first);
      out += box(from, Math.max(from, edge.last), false);
      settled = undefined;
      at = Math.max(from, edge.last);
    }
  }
  out +=
    settled === undefined
      ? `<path class="rule" d="M${num(x(at))} ${middle}H${num(x(end))}"/>`
      : box(settled, end, true);
  return out;
}

function label(row: TimingRow, y: number, isTightest: boolean): string {
  return `<text class="m${isTightest ? ' b' : ''}" x="0" y="${num(y + 5)}" style="font-size:${TYPE}px">${escapeXml(fitMono(row.target, TYPE, 70))}</text><text class="s${isTightest ? ' b' : ''}" x="${74}" y="${num(y + 5)}" style="font-size:${TYPE}px">${escapeXml(fitSans(row.check, TYPE, LEFT - 82, isTightest ? 700 : 400))}</text>`;
}

/** How many steps at the end of a train are what is asked for rather than what takes time. */
function asked(row: TimingRow): number {
  if (row.kind === 'turnaround' || row.path.length === 0) return 0;
  if (!isAccess(row)) return 1;
  const cpu = row.path.at(-1)!.part;
  let count = 0;
  while (count < row.path.length - 1 && row.path[row.path.length - 1 - count]!.part === cpu) count++;
  return count;
}

/** One requirement: delays as boxes from the left, what is asked for as a hatched box at its limit, the slack between arrows. */
function trainOf(row: TimingRow, start: number, { x }: Scale, y: number, isTightest: boolean): string {
  const [top, h] = [y, 28];
  const mid = top + h / 2;
  const tail = asked(row);
  const limit = start + row.availableNs!;
  const margin = row.marginNs!;
  let out = label(row, mid, isTightest);
  const box = (from: number, to: number, step: TimingRow['path'][number], isAsked: boolean): string => {
    const [a, b] = [x(from), x(to)];
    const full = `${step.part} ${tenths(step.ns)}`;
    const short = tenths(step.ns);
    const word = sansWidth(full, 13) < b - a - 6 ? full : sansWidth(short, 13) < b - a - 2 ? short : '';
    return `<g><title>${escapeXml(`${step.part} ${step.symbol} ${tenths(step.ns)} ns: ${step.source}`)}</title><rect x="${num(a)}" y="${top}" width="${num(Math.max(1, b - a))}" height="${h}" style="${isAsked ? HATCHED : 'fill:var(--sheet)'};stroke:var(--ink);stroke-width:${isAsked ? 1.2 : 1.8}"/>${word === '' ? '' : `<text class="s out" x="${num((a + b) / 2)}" y="${num(mid + 4.6)}" text-anchor="middle" style="font-size:13px${isAsked ? '' : ';stroke:var(--sheet)'}">${escapeXml(word)}</text>`}</g>`;
  };
  let at = start;
  for (const step of row.path.slice(0, row.path.length - tail)) {
    if (step.ns !== 0) out += box(at, at + step.ns, step, false);
    at += step.ns;
  }
  let back = limit;
  for (const step of row.path.slice(row.path.length - tail).reverse()) {
    if (step.ns !== 0) out += box(back - step.ns, back, step, true);
    back -= step.ns;
  }
  const [a, b] = [x(at), x(back)];
  const word = tenths(margin);
  if (margin < 0) {
    // What is lacking lies over the boxes, in the colour of faults.
    const text = `${word} ns`;
    out += `<rect x="${num(b)}" y="${top - 5}" width="${num(Math.max(1.5, a - b))}" height="${h + 10}" style="fill:var(--fault-wash);stroke:var(--fault);stroke-width:1.6;fill-opacity:.7"/><text class="s b out" x="${num(Math.max(a, x(limit)) + 8)}" y="${num(mid + 6)}" style="font-size:${isTightest ? 20 : 15}px">${text}</text>`;
    return out;
  }
  const type = isTightest ? 30 : 16;
  const wide = sansWidth(word, type, 700) + (isTightest ? 34 : 14);
  const isInside = b - a > wide + 34;
  if (isTightest && b - a > 1)
    out += `<rect class="hl" x="${num(a)}" y="${top - 7}" width="${num(b - a)}" height="${h + 14}"/>`;
  if (b - a > 1)
    out += `<path class="rule" d="M${num(a + 0.5)} ${top - 3}v${h + 6}M${num(b - 0.5)} ${top - 3}v${h + 6}"/>`;
  const arrows =
    b - a > 22 ? `<path class="inkfill" d="M${num(a + 1)} ${mid}l8 -3.5v7zM${num(b - 1)} ${mid}l-8 -3.5v7z"/>` : '';
  const middle = (a + b) / 2;
  out += isInside
    ? `<path class="rule" d="M${num(a)} ${mid}H${num(middle - wide / 2)}M${num(middle + wide / 2)} ${mid}H${num(b)}"/>${arrows}`
    : b - a > 1
      ? `<path class="rule" d="M${num(a)} ${mid}H${num(b)}"/>${arrows}`
      : '';
  const place = isInside ? middle : Math.max(b, x(limit)) + 8;
  return `${out}<text class="s b" x="${num(place)}" y="${num(mid + type * 0.36)}"${isInside ? ' text-anchor="middle"' : ''} style="font-size:${type}px">${word}${isTightest ? '<tspan style="font-size:15px;font-weight:400"> ns</tspan>' : ''}</text>`;
}
