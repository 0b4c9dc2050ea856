// A bus cycle against time: the clock, and below it for each requirement the train of delays from the edge that starts it, with
// the slack as an open dimension between arrows at its end. Drawn from figures; no signal is simulated.

import type { TimingRow } from '../margins/index.ts';
import { wrapSvg } from './page-frame.ts';
import { escapeXml, fitSans, monoWidth, num } from './text.ts';
import type { Ground } from './tokens.ts';

export interface CycleView {
  /** The rows of one cycle; those with unknown margins are listed with what is missing. */
  readonly rows: readonly TimingRow[];
  /** ns of one period of the clock, and the part of it that is high. */
  readonly periodNs: number;
  readonly high: number;
  /** The edge that a cycle starts from. */
  readonly startsWith: 'rise' | 'fall';
  readonly ground?: Ground | undefined;
  /** px of the time axis; 900 where absent. */
  readonly width?: number | undefined;
}

const LEFT = 210;
const TOP = 74;
const ROW = 46;
const TYPE = 14;

/** Draws a cycle, the tightest requirement first and large. */
export function cycleDrawing(view: CycleView): string {
  const { periodNs, high } = view;
  const width = view.width ?? 900;
  const known = view.rows
    .filter((row) => row.marginNs !== null)
    .sort((a, b) => rank(a) - rank(b) || a.marginNs! - b.marginNs! || (a.check < b.check ? -1 : 1));
  const open = view.rows.filter((row) => row.marginNs === null);
  const edgeNs = (n: number, phase: 'rise' | 'fall'): number => (n + (phase === 'fall' ? high : 0)) * periodNs;
  const zero = view.startsWith === 'rise' ? 0 : edgeNs(0, 'fall');
  const startOf = (row: TimingRow): number => (row.start === null ? 0 : edgeNs(row.start.n, row.start.phase) - zero);
  const first = Math.min(0, ...known.map(startOf));
  const end = Math.max(periodNs, ...known.map((row) => startOf(row) + Math.max(row.availableNs!, row.requiredNs!)));
  const scale = width / (end - first);
  const x = (ns: number): number => LEFT + (ns - first) * scale;

  let body = clockLine(x, zero, first, end, periodNs, high);
  let y = TOP;
  for (const [k, row] of known.entries()) {
    body += trainOf(row, startOf(row), x, y, k === 0);
    y += ROW;
  }
  for (const row of open) {
    body += `<text class="s" x="12" y="${y + 18}" style="font-size:${TYPE}px">${escapeXml(fitSans(`${row.target}, ${row.check}`, TYPE, LEFT - 24))}</text><text class="s q" x="${LEFT}" y="${y + 18}" style="font-size:${TYPE}px">${escapeXml(fitSans(`not known: ${row.missing.join('; ')}`, TYPE, width))}</text>`;
    y += ROW;
  }
  const words = known.map((row) => `${row.target} ${row.check} ${tenths(row.marginNs!)} ns left`).join(', ');
  const name = view.rows[0]?.cycle ?? 'no cycle';
  return wrapSvg(body, LEFT + width + 110, y + 16, `${name}: ${words}`, view.ground);
}

/** Sheets that ask for 0 ns of hold get 0: that is no news, so such rows come last. */
const rank = (row: TimingRow): number => (row.check === 'read hold' && row.marginNs! >= 0 ? 1 : 0);

const tenths = (ns: number): string => String(Math.round(ns * 10) / 10);

function clockLine(
  x: (ns: number) => number,
  zero: number,
  first: number,
  end: number,
  periodNs: number,
  high: number,
): string {
  const [up, down] = [22, 46];
  let path = '';
  let marks = '';
  for (let n = Math.floor((first + zero) / periodNs) - 1; n * periodNs - zero < end; n++) {
    const rise = n * periodNs - zero;
    const fall = rise + high * periodNs;
    for (const [at, level] of [
      [rise, up],
      [fall, down],
    ] as const) {
      if (at < first - 1e-6 || at > end + 1e-6) continue;
      path +=
        path === ''
          ? `M${num(x(first))} ${level === up ? down : up}H${num(x(at))}V${level}`
          : `H${num(x(at))}V${level}`;
      marks += `<path class="hair" d="M${num(x(at))} 50V${TOP - 8}"/><text class="q" x="${num(x(at))}" y="14" text-anchor="middle" style="font-size:11px">${tenths(at)}</text>`;
    }
  }
  return `<text class="s b" x="12" y="40" style="font-size:${TYPE}px">clock, ns</text>${marks}<path class="rule2" d="${path}H${num(x(end))}"/>`;
}

/** One requirement: steps as lengths, then the slack between arrows; what is lacking is washed in the colour of faults. */
function trainOf(row: TimingRow, start: number, x: (ns: number) => number, y: number, isTightest: boolean): string {
  const line = y + 14;
  let at = start;
  let out = `<text class="s${isTightest ? ' b' : ''}" x="12" y="${y + 18}" style="font-size:${isTightest ? TYPE + 3 : TYPE}px">${escapeXml(fitSans(`${row.target}, ${row.check}`, isTightest ? TYPE + 3 : TYPE, LEFT - 24))}</text>`;
  for (const step of row.path) {
    const from = x(at);
    at += step.ns;
    const to = x(at);
    out += `<g><title>${escapeXml(`${step.part} ${step.symbol} ${tenths(step.ns)} ns: ${step.source}`)}</title><path class="rule2" d="M${num(from)} ${line}H${num(to)}"/><path class="rule" d="M${num(from)} ${line - 6}v12M${num(to)} ${line - 6}v12"/>`;
    const label = `${step.part} ${step.symbol}`;
    if (monoWidth(label, 11) < Math.abs(to - from) - 4)
      out += `<text class="q" x="${num((from + to) / 2)}" y="${line + 19}" text-anchor="middle" style="font-size:11px">${escapeXml(label)}</text>`;
    out += '</g>';
  }
  const limit = start + row.availableNs!;
  const margin = row.marginNs!;
  const [a, b] = [x(at), x(limit)];
  out += `<path class="hair" d="M${num(b)} ${line - 14}v28"/>`;
  const type = isTightest ? TYPE + 4 : TYPE - 1;
  const word = `${tenths(margin)} ns`;
  if (margin < 0) {
    out += `<rect x="${num(b)}" y="${line - 10}" width="${num(Math.max(1, a - b))}" height="20" style="fill:var(--fault-wash);stroke:var(--fault);stroke-width:1"/>`;
  } else {
    out += `<path class="rule" d="M${num(a)} ${line}H${num(b)}" style="stroke-dasharray:1 3"/>`;
    // Arrows point outwards at both ends of the open dimension, where there is room for them.
    if (b - a > 16) out += `<path class="inkfill" d="M${num(a)} ${line}l7 -3.5v7zM${num(b)} ${line}l-7 -3.5v7z"/>`;
  }
  const place = Math.max(a, b) + 8;
  if (isTightest)
    out += `<rect class="hl" x="${num(place - 3)}" y="${line - type * 0.75}" width="${num(monoWidth(word, type) + 6)}" height="${num(type * 1.3)}"/>`;
  return `${out}<text class="${isTightest ? 'b' : ''}" x="${num(place)}" y="${num(line + type * 0.33)}" style="font-size:${type}px">${word}</text>`;
}
