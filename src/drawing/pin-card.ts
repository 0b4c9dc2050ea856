// The card of one chip, to hold beside it while wiring: the chip upright as in its data sheet, and for each pin its number,
// name, net, and every other end of the net with its hole; bold where it is in.

import { createNetTree } from './net-tree.ts';
import { wrapSvg } from './page-frame.ts';
import type { Scene, SceneLead, ScenePart } from './scene.ts';
import { escapeXml, fitMono, fitSans, MONO_EM, num } from './text.ts';
import type { Ground } from './tokens.ts';

export interface PinCardView {
  readonly scene: Scene;
  readonly part: string;
  /** A net to highlight. */
  readonly select?: string | undefined;
  readonly ground?: Ground | undefined;
  /** px; 1080 where absent. */
  readonly width?: number | undefined;
}

interface End {
  readonly text: string;
  readonly isIn: boolean;
}

/** Every other pin on the net with the hole of its lead, and whether what leads there from here is all in. */
function otherEnds(scene: Scene, part: ScenePart, lead: SceneLead): End[] {
  if (lead.net === undefined) return [];
  const tree = createNetTree(scene, lead.net);
  // Strips that built wires join to this one.
  const joined = new Set([lead.strip.key]);
  for (let grown = true; grown; ) {
    grown = false;
    for (const w of scene.wires) {
      if (w.wire.net !== lead.net || w.state !== 'built') continue;
      const [a, b] = [scene.places.strip(w.from).key, scene.places.strip(w.to).key];
      if (joined.has(a) !== joined.has(b)) {
        joined.add(a).add(b);
        grown = true;
      }
    }
  }
  return tree.stations.flatMap((station) =>
    station.pins
      .filter((pin) => pin.part !== part || pin.lead !== lead)
      .map((pin) => ({
        text: `${pin.part.name}.${pin.lead.number} ${holeName(pin.lead)}`,
        isIn: joined.has(station.key) && part.state === 'built' && pin.part.state === 'built',
      })),
  );
}

const holeName = (lead: SceneLead): string =>
  lead.at.row.length === 2
    ? `${lead.at.board}:${lead.at.row}${lead.at.column}`
    : `${lead.at.board}:${lead.at.column}${lead.at.row}`;

const LINE = 24;
const BODY = 220;

/** Draws the card; a line that says so where the part isn't on the boards as of the stage. */
export function pinCard(view: PinCardView): string {
  const { scene } = view;
  const width = view.width ?? 1080;
  const part = scene.parts.find((p) => p.name === view.part && p.state !== 'later');
  if (part === undefined) {
    const text = `${view.part} is not on the boards as of stage ${scene.input.stage}`;
    return wrapSvg(
      `<text class="s" x="12" y="30" style="font-size:16px">${escapeXml(fitSans(text, 16, width - 24))}</text>`,
      width,
      48,
      text,
      view.ground,
    );
  }
  const rows = part.known?.record.pins ?? part.leads.map((lead) => ({ number: lead.number, name: lead.name }));
  const count = Math.max(part.known?.record.package.pins ?? 0, ...rows.map((row) => row.number));
  const half = Math.ceil(count / 2);
  const single = part.outline.shape === 'row' || part.outline.shape === 'header' || count <= 3;
  const perSide = single ? count : half;
  const top = 74;
  const height = top + perSide * LINE + 30;
  const x0 = single ? 60 : (width - BODY) / 2;
  const x1 = x0 + BODY;
  let out = '';
  out += `<text class="s b" x="0" y="26" style="font-size:24px">${escapeXml(fitSans(part.name, 24, width * 0.4, 700))}</text>`;
  const facts = [
    part.known?.type ?? part.placed.type,
    part.known?.grade,
    part.known?.value,
    part.known?.record.title,
  ].filter((text): text is string => text !== undefined && text !== '' && text !== part.name);
  out += `<text class="s" x="0" y="48" style="font-size:15px">${escapeXml(fitSans([...new Set(facts)].join(', '), 15, width - 10))}</text>`;
  const longestNet = Math.min(18, Math.max(9, ...part.leads.map((lead) => [...(lead.net ?? '')].length)));
  const holes = part.leads.map(holeName);
  const where = `pin ${part.leads[0]!.number} in ${holes[0]!}${part.outline.corner[1] < 0 ? ', turned: its cut corner lies at the upper right' : ''}`;
  out += `<text x="${width}" y="26" text-anchor="end" style="font-size:15px">${escapeXml(where)}</text>`;
  const b = { top: top - 12, bottom: top + perSide * LINE - 4 };
  out += `<g class="pb-part chip ${part.state}"><path class="body" d="M${x0 + 16} ${b.top}H${x1}V${b.bottom}H${x0}V${b.top + 16}Z"/></g>`;
  for (let number = 1; number <= count; number++) {
    const left = single || number <= half;
    const line = left ? number - 1 : count - number;
    const y = top + line * LINE + 6;
    const row = rows.find((r) => r.number === number);
    const lead = part.leads.find((l) => l.number === number);
    const edge = single ? x1 : left ? x0 : x1;
    const out1 = single ? 1 : left ? -1 : 1;
    const inward = single ? 'end' : left ? 'start' : 'end';
    const outward = single ? 'start' : left ? 'end' : 'start';
    if (row === undefined || lead === undefined) continue;
    const on = view.select !== undefined && lead.net === view.select;
    out += `<g data-pin="${number}" data-net="${escapeXml(lead.net ?? '')}"><path class="rule" d="M${edge} ${y}h${out1 * 9}"/>`;
    out += `<text class="b${on ? ' onmark' : ''}" x="${edge - out1 * 9}" y="${y}" dy=".34em" text-anchor="${inward}" style="font-size:14px"><tspan class="q" style="font-weight:400">${left && !single ? `${number} ` : ''}</tspan>${escapeXml(fitMono(row.name, 14, single ? BODY - 60 : BODY / 2 - 34))}<tspan class="q" style="font-weight:400">${left && !single ? '' : ` ${number}`}</tspan></text>`;
    const room = (single ? width - x1 : x0) - 22;
    const netRoom = Math.min(room * 0.5, longestNet * MONO_EM * 14);
    const netX = edge + out1 * 14;
    const name = lead.net === undefined ? 'on no net' : fitMono(lead.net, 14, netRoom);
    out += `<text class="${lead.net === undefined ? 'q s' : 'b'}${on ? ' onmark' : ''}" x="${num(netX)}" y="${y}" dy=".34em" text-anchor="${outward}" style="font-size:14px">${escapeXml(name)}</text>`;
    const supply = scene.net(lead.net ?? '')?.kind ?? 'signal';
    const ends = lead.net === undefined ? [] : supply === 'signal' ? otherEnds(scene, part, lead) : [];
    out += endsText(ends, netX + out1 * (netRoom + 14), y, outward, room - netRoom - 16);
    out += '</g>';
  }
  out += `<text class="s q" x="0" y="${height - 6}" style="font-size:13px">bold: in. light: not in yet. As of stage ${scene.input.stage}.</text>`;
  const framed = `<g transform="translate(16 8)">${out}</g>`;
  return wrapSvg(framed, width + 32, height + 20, `Pin card of ${part.name}`, view.ground);
}

/** As many ends as there is room for, then how many more; always read from the chip outward. */
function endsText(ends: readonly End[], x: number, y: number, anchor: string, room: number): string {
  const size = 12.5;
  const glyphs = Math.floor(room / (MONO_EM * size));
  const shown: End[] = [];
  let used = 0;
  for (const end of ends) {
    const last = shown.length === ends.length - 1;
    const need = [...end.text].length + (shown.length > 0 ? 2 : 0);
    if (used + need > glyphs - (last ? 0 : 9)) break;
    used += need;
    shown.push(end);
  }
  const rest = ends.length - shown.length;
  const pieces = shown.map((end) => `<tspan${end.isIn ? ' class="b"' : ''}>${escapeXml(end.text)}</tspan>`);
  if (rest > 0 && glyphs >= 8)
    pieces.push(`<tspan class="q">${shown.length > 0 ? `${rest} more` : `${rest} ends`}</tspan>`);
  if (pieces.length === 0) return '';
  return `<text x="${num(x)}" y="${y}" dy=".34em" text-anchor="${anchor}" style="font-size:${size}px">${pieces.join(', ')}</text>`;
}
