// A net drawn as a line: pins as stations, wires as the stretches between them with code, length and state. A filled disc
// drives, hollow discs listen. Branches hang below.

import { createNetTree, type Station } from './net-tree.ts';
import { wrapSvg } from './page-frame.ts';
import type { Scene } from './scene.ts';
import { escapeXml, fitMono, fitSans, num } from './text.ts';
import { type Ground, isWireCode } from './tokens.ts';
import { wireTitle } from './wires-drawing.ts';

export interface NetLineView {
  readonly scene: Scene;
  readonly net: string;
  /** The number of each wire's step in the plan, by wire id. */
  readonly steps?: ReadonlyMap<string, number> | undefined;
  /** The wire of the next step. */
  readonly next?: string | undefined;
  /** px from station to station; 200 where absent. */
  readonly spacing?: number | undefined;
  readonly ground?: Ground | undefined;
}

const ROW = 124;
const R = 8.5;

/** Draws a net as a line. */
export function netLine(view: NetLineView): string {
  const { scene, net } = view;
  const spacing = view.spacing ?? 200;
  const tree = createNetTree(scene, net);
  const x = (station: Station): number => 78 + station.column * spacing;
  const y = (station: Station): number => 58 + station.row * ROW;
  let lines = '';
  let words = '';
  for (const { wire, from, to } of tree.links) {
    const [x0, y0, x1, y1] = [x(from), y(from), x(to), y(to)];
    const d = y0 === y1 ? `M${x0} ${y0}H${x1}` : `M${x0} ${y0}V${y1 - 8}Q${x0} ${y1} ${x0 + 8} ${y1}H${x1}`;
    const code = isWireCode(wire.wire.colour) ? wire.wire.colour : 'x';
    const [core, dx] = { built: [5, 0], planned: [1.6, 0], out: [4, 0] }[wire.state] as [number, number];
    const cased = wire.state !== 'planned' ? `<path class="case" d="${d}" style="stroke-width:${core + 1.5}px"/>` : '';
    lines += `<g class="pb-wire ${wire.state} c-${code}" data-wire="${escapeXml(wire.wire.id)}"><title>${escapeXml(wireTitle(wire))}</title>${cased}<path class="core" d="${d}" style="stroke-width:${core}px"/></g>`;
    const middle = (x0 + x1) / 2 + dx;
    const step = view.steps?.get(wire.wire.id);
    const when =
      view.next === wire.wire.id
        ? 'next step'
        : `${{ built: 'in', planned: 'planned', out: 'to take out' }[wire.state]}${step === undefined ? '' : `, step ${step}`}`;
    words += `<text x="${num(middle)}" y="${y1 - 14}" text-anchor="middle" style="font-size:15px">${escapeXml(`${wire.wire.colour} ${num(wire.wire.cutMm)} mm`)}</text><text class="s q" x="${num(middle)}" y="${y1 + 22}" text-anchor="middle" style="font-size:14px">${escapeXml(fitSans(when, 14, spacing - 30))}</text>`;
  }
  let discs = '';
  for (const station of tree.stations) {
    const [cx, cy] = [x(station), y(station)];
    const pin = station.pins.find(({ part }) => part.leads.length > 2) ?? station.pins[0];
    const more = station.pins.length - 1;
    discs += `<circle class="${station.drives ? 'inkfill' : 'sheet'} rule" cx="${cx}" cy="${cy}" r="${R}" style="stroke-width:2px${station.drives ? ';fill:var(--ink)' : ';fill:var(--sheet)'}"/>`;
    if (station.drives) discs += `<path class="sheet" d="M${cx - 3} ${cy - 4.5}l6.5 4.5-6.5 4.5z"/>`;
    const label =
      pin === undefined
        ? `<tspan class="b">${station.rail ? 'rail' : 'strip'}</tspan> ${escapeXml(stripWords(station))}`
        : stationName(pin.part.name, pin.lead.number, pin.lead.name, more, spacing);
    words += `<text x="${cx}" y="${cy - 38}" text-anchor="middle" style="font-size:16px">${label}</text>`;
    const holes = fitMono(station.holes.length === 0 ? 'not wired' : station.holes.join(', '), 14, spacing - 12);
    words += `<text class="out" x="${cx}" y="${cy + 46}" text-anchor="middle" style="font-size:14px">${escapeXml(holes)}</text>`;
  }
  const width = 156 + Math.max(0, tree.columns - 1) * spacing;
  const height = Math.max(1, tree.rows) * ROW;
  const list = tree.stations
    .map(({ pins }) => pins.map(({ part, lead }) => `${part.name}.${lead.name}`).join(' '))
    .join(', ');
  return wrapSvg(lines + discs + words, width, height, `${net} as a line: ${list}`, view.ground);
}

/** `CPU.21 /RD`, the number light, the part and the pin's name bold; cut where there is no room. */
function stationName(part: string, number: number, name: string, more: number, spacing: number): string {
  const also = more > 0 ? ` +${more}` : '';
  const fixed = `.${number} `.length + also.length;
  const glyphs = Math.floor((spacing - 10) / (16 * 0.632)) - fixed;
  const p = fitMono(part, 1, Math.max(3, glyphs - [...name].length) * 0.632);
  const n = fitMono(name, 1, Math.max(3, glyphs - [...p].length) * 0.632);
  return `<tspan class="b">${escapeXml(p)}</tspan>.${number} <tspan class="b">${escapeXml(n)}</tspan>${escapeXml(also)}`;
}

const stripWords = (station: Station): string => station.key;
