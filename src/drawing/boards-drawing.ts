// The boards, true to scale, as one SVG: outlines, holes, the strips that carry a net, parts, wires, names, marks. Data in,
// text out; no DOM. A page shows it inline and finds things by data-net, data-part, data-wire and data-hole.

import { createFrame, type Frame } from './frame.ts';
import { type Chosen, drawPart } from './parts-drawing.ts';
import { type BoardPlace, PITCH, type Rect, ROW_Y, ROWS, type Row } from './places.ts';
import { createScene, type Scene, type SceneInput, type SceneWire } from './scene.ts';
import { escapeStyle, standaloneStyle } from './style.ts';
import { escapeXml, num } from './text.ts';
import type { Ground } from './tokens.ts';
import { drawWires } from './wires-drawing.ts';

/** A mark on the drawing. Holes that no board has are skipped. */
export type Mark =
  | { readonly kind: 'detail'; readonly letter: string; readonly frame: Rect }
  | { readonly kind: 'aim'; readonly hole: string }
  | { readonly kind: 'fault'; readonly hole: string; readonly text?: string }
  | { readonly kind: 'probe'; readonly hole: string; readonly text?: string }
  | { readonly kind: 'level'; readonly hole: string; readonly text: string };

export interface BoardsView extends SceneInput {
  /** One thing selected: a net with its pins and strips, a part, or one wire. */
  readonly select?: { readonly net?: string; readonly part?: string; readonly wire?: string } | undefined;
  /** mm to show; all boards with room for coordinates where absent. */
  readonly crop?: Rect | undefined;
  /** px per mm; 4.74 where absent. */
  readonly scale?: number | undefined;
  /** Given: the drawing carries its own colours and stands alone. Absent: it takes those of the page. */
  readonly ground?: Ground | undefined;
  /** `margin`: outside the boards (whole view). `gutter`: bands over two edges of the crop. By default the one that fits. */
  readonly coordinates?: 'margin' | 'gutter' | 'none' | undefined;
  /** At which edges of the crop the gutter's column numbers stand; top where absent. */
  readonly gutterAt?: 'top' | 'bottom' | undefined;
  /** Parts of later stages as dotted outlines; true where absent. */
  readonly later?: boolean | undefined;
  /** Whether the rest steps back when something is selected; true where absent. */
  readonly dim?: boolean | undefined;
  /** Only wires that are on the boards, and the one in hand. */
  readonly onlyBuilt?: boolean | undefined;
  /** Id of the wire in hand. */
  readonly hand?: string | undefined;
  /** Ids of wires under suspicion. */
  readonly faulty?: readonly string[] | undefined;
  readonly marks?: readonly Mark[] | undefined;
  readonly title?: string | undefined;
  /** A scene made before from the same input, to save the work. */
  readonly scene?: Scene | undefined;
}

/** Room round the boards for coordinates, mm. */
const MARGIN = { left: 8.5, right: 5, top: 4.6, bottom: 1.2 } as const;

/** The crop that shows all boards with their coordinates. */
export function wholeView(scene: Scene): Rect {
  const { x, y, width, height } = scene.places.bounds;
  return {
    x: x - MARGIN.left,
    y: y - MARGIN.top,
    width: width + MARGIN.left + MARGIN.right,
    height: height + MARGIN.top + MARGIN.bottom,
  };
}

/** Draws the boards as of a stage. Same view, same bytes. */
export function renderBoards(view: BoardsView): string {
  const scene = view.scene ?? createScene(view);
  const scale = view.scale ?? 4.74;
  const crop = view.crop ?? wholeView(scene);
  const coordinates = view.coordinates ?? (view.crop === undefined ? 'margin' : 'gutter');
  const clear = coordinates === 'gutter' ? clearOfGutter(crop, scale, view.gutterAt ?? 'top') : crop;
  const frame = createFrame(crop, scale, clear);
  const selected = view.select ?? {};
  const wire = selected.wire === undefined ? undefined : scene.wires.find((w) => w.wire.id === selected.wire);
  const hand = view.hand === undefined ? undefined : scene.wires.find((w) => w.wire.id === view.hand);
  const net = selected.net ?? wire?.wire.net ?? hand?.wire.net;
  const dims = view.dim ?? true;
  // With a wire in hand only its two strips light up, so that nothing else asks for attention.
  const strips = hand && new Set([hand.from, hand.to].map((hole) => scene.places.strip(hole).key));
  const chosen: Chosen = { net, strips, part: selected.part, dims };

  const boards = scene.places.boards.filter((board) => frame.seesBox(board, 1));
  const out: string[] = [];
  out.push(drawBoards(boards, frame), drawStrips(scene, frame, net, strips), drawHoles(boards, frame));
  const parts = scene.parts.filter(
    (part) =>
      (part.state !== 'later' || (view.later ?? true)) &&
      (view.onlyBuilt !== true || part.state !== 'planned') &&
      frame.seesBox(part.outline.body ?? { x: part.outline.cx, y: part.outline.cy, width: 0, height: 0 }, 4),
  );
  // What comes later lies below what is there.
  const order = { later: 0, planned: 1, built: 2, out: 3 };
  // What names of small parts keep clear of: other bodies, leads, and the names below three-lead parts.
  const taken: Rect[] = !frame.large
    ? []
    : parts.flatMap((part) => [
        ...(part.outline.body === undefined ? [] : [part.outline.body]),
        ...part.leads.map(({ at }) => ({ x: at.x - 0.5, y: at.y - 0.5, width: 1, height: 1 })),
        ...(part.outline.shape === 'to-92'
          ? [{ x: part.outline.cx - 2, y: part.outline.cy + 2.4, width: 4, height: 1.8 }]
          : []),
      ]);
  const drawings = parts
    .toSorted((a, b) => order[a.state] - order[b.state])
    .map((part) => drawPart(part, frame, chosen, taken));
  out.push(`<g class="pb-parts">${drawings.map((d) => d.body).join('')}</g>`);
  const shown =
    view.onlyBuilt === true ? scene.wires.filter((w) => w.state !== 'planned' || w.wire.id === view.hand) : scene.wires;
  const wires = drawWires(shown, frame, {
    net: hand === undefined ? net : undefined,
    wire: selected.wire,
    hand: view.hand,
    faulty: new Set(view.faulty ?? []),
    dims,
  });
  out.push(wires.wires);
  out.push(`<g class="pb-pins">${drawings.map((d) => d.pins).join('')}</g>`);
  const nets = drawings.map((d) => d.nets).join('');
  if (nets !== '') out.push(`<g class="pb-nets">${nets}</g>`);
  out.push(drawProbeHoles(scene, frame), drawHousings(scene, shown, frame));
  if (coordinates === 'margin') out.push(drawMargin(boards, frame));
  out.push(wires.codes);
  const ends = shown
    .filter((w) => {
      if (hand !== undefined) return w === hand;
      return wire === undefined ? net !== undefined && w.wire.net === net : w === wire;
    })
    .flatMap((w) => [w.from, w.to])
    .filter((end) => frame.sees(end.x, end.y));
  if (coordinates === 'gutter') out.push(drawGutter(boards, frame, ends, view.gutterAt ?? 'top'));
  for (const mark of view.marks ?? []) out.push(drawMark(mark, scene, frame));

  const [x, y, w, h] = [crop.x * scale, crop.y * scale, crop.width * scale, crop.height * scale].map(num);
  const style = view.ground === undefined ? '' : `<style>${escapeStyle(standaloneStyle(view.ground))}</style>`;
  const backing = view.ground === undefined ? '' : `<rect class="table" x="${x}" y="${y}" width="${w}" height="${h}"/>`;
  const attributes = view.ground === undefined ? '' : ` data-ground="${view.ground}"`;
  const title = escapeXml(view.title ?? `${view.design.name}: boards as of stage ${view.stage}`);
  return `<svg xmlns="http://www.w3.org/2000/svg" class="pb" role="img" aria-label="${title}"${attributes} viewBox="${x} ${y} ${w} ${h}" width="${w}" height="${h}"><title>${title}</title>${style}${backing}${out.join('')}</svg>`;
}

function drawBoards(boards: readonly BoardPlace[], frame: Frame): string {
  const { px, scale } = frame;
  let out = '<g class="pb-boards">';
  for (const board of boards) {
    out += `<rect class="pb-board" data-board="${board.board}" x="${px(board.x)}" y="${px(board.y)}" width="${px(board.width)}" height="${px(board.height)}" rx="${num(Math.min(3, 0.8 * scale))}"/>`;
    for (const row of board.railRows)
      for (const [first, last] of board.railSegments)
        out += `<path class="pb-rail ${row.endsWith('+') ? 'p' : 'm'}" d="M${px(columnX(board, first) - PITCH / 2)} ${px(rowY(board, row))}H${px(columnX(board, last) + PITCH / 2)}"/>`;
  }
  return `${out}</g>`;
}

const columnX = (board: BoardPlace, column: number): number => board.firstX + (column - 1) * PITCH;
const rowY = (board: BoardPlace, row: Row): number => board.firstY + ROW_Y[row];

function drawStrips(
  scene: Scene,
  frame: Frame,
  net: string | undefined,
  only: ReadonlySet<string> | undefined,
): string {
  const { px, scale } = frame;
  const wide = 1.5;
  let out = '<g class="pb-strips">';
  for (const { strip, net: name } of scene.strips) {
    const on = net !== undefined && name === net && (only === undefined || only.has(strip.key));
    if (strip.rail && !on) continue;
    const box = {
      x: strip.x0 - wide / 2,
      y: strip.y0 - wide / 2,
      width: strip.x1 - strip.x0 + wide,
      height: strip.y1 - strip.y0 + wide,
    };
    if (!frame.seesBox(box)) continue;
    out += `<rect class="pb-strip${on ? ' on' : ''}" data-net="${escapeXml(name)}" x="${px(box.x)}" y="${px(box.y)}" width="${px(box.width)}" height="${px(box.height)}" rx="${num((wide / 2) * scale)}"/>`;
  }
  return `${out}</g>`;
}

function drawHoles(boards: readonly BoardPlace[], frame: Frame): string {
  const { px, scale, large, level } = frame;
  let d = '';
  for (const board of boards) {
    for (const row of ROWS) {
      const y = rowY(board, row);
      if (y < frame.view.y - 1 || y > frame.view.y + frame.view.height + 1) continue;
      for (const column of board.holesIn(row)) {
        const x = columnX(board, column);
        if (frame.sees(x, y, 1)) d += `M${px(x)} ${px(y)}h0`;
      }
    }
  }
  const dot = level === 'far' ? Math.max(0.9, 0.42 * scale) : Math.max(1.5, (large ? 0.82 : 0.5) * scale);
  const ring = large ? `<path class="pb-hole in" style="stroke-width:${num(0.46 * scale)}px" d="${d}"/>` : '';
  return `<path class="pb-hole" style="stroke-width:${num(dot)}px" d="${d}"/>${ring}`;
}

/** Holes that the layout keeps free for an instrument: a ring round the hole. */
function drawProbeHoles(scene: Scene, frame: Frame): string {
  const { layout, stage } = scene.input;
  return (layout.probes ?? [])
    .filter((probe) => probe.stage <= stage && (probe.until === undefined || stage < probe.until))
    .map((probe) => {
      const at = scene.places.hole(probe.hole);
      if (at === undefined || !frame.sees(at.x, at.y, 1)) return '';
      const title = escapeXml(`${probe.hole}, kept free for a probe on ${probe.net}`);
      return `<circle class="pb-kept" data-hole="${escapeXml(probe.hole)}" data-net="${escapeXml(probe.net)}" cx="${frame.px(at.x)}" cy="${frame.px(at.y)}" r="${num(0.8 * frame.scale)}"><title>${title}</title></circle>`;
    })
    .join('');
}

/** The housings of crimped leads: one outline round the ends of all ways of a lead, at either end. */
function drawHousings(scene: Scene, wires: readonly SceneWire[], frame: Frame): string {
  const leads = new Map<string, SceneWire[]>();
  for (const wire of wires) {
    if (wire.wire.lead === undefined) continue;
    leads.set(wire.wire.lead, [...(leads.get(wire.wire.lead) ?? []), wire]);
  }
  let out = '';
  const known = new Set<string>();
  for (const lead of scene.input.layout.leads ?? []) {
    const ways = leads.get(lead.lead);
    if (ways === undefined) continue;
    known.add(lead.lead);
    const holes = lead.housing.flatMap((hole) => scene.places.hole(hole) ?? []);
    if (holes.length === 0) continue;
    const [xs, ys] = [holes.map((hole) => hole.x), holes.map((hole) => hole.y)];
    const [x, y] = [Math.min(...xs), Math.min(...ys)];
    const [width, height] = [Math.max(...xs) - x, Math.max(...ys) - y];
    if (frame.seesBox({ x, y, width, height }, 2))
      out += housing(frame, lead.lead, ways.length, { x, y, width, height });
  }
  for (const [name, ways] of leads) {
    if (known.has(name)) continue;
    for (const ends of [ways.map((way) => way.from), ways.map((way) => way.to)]) {
      const [xs, ys] = [ends.map((end) => end.x), ends.map((end) => end.y)];
      const [x, y] = [Math.min(...xs), Math.min(...ys)];
      const [width, height] = [Math.max(...xs) - x, Math.max(...ys) - y];
      // A housing is one row; ends that lie otherwise are single pins.
      if (Math.min(width, height) > 0.1 || Math.max(width, height) / PITCH > ways.length - 0.9) continue;
      if (!frame.seesBox({ x, y, width, height }, 2)) continue;
      out += housing(frame, name, ways.length, { x, y, width, height });
    }
  }
  return out;
}

function housing(frame: Frame, lead: string, ways: number, { x, y, width, height }: Rect): string {
  const m = 1.15;
  const title = escapeXml(`crimped lead ${lead}, ${ways} ways`);
  return `<rect class="pb-kept" data-lead="${escapeXml(lead)}" x="${frame.px(x - m)}" y="${frame.px(y - m)}" width="${frame.px(width + 2 * m)}" height="${frame.px(height + 2 * m)}" rx="${num(0.3 * frame.scale)}"><title>${title}</title></rect>`;
}

const rowSign = (row: Row): string => (row.length === 2 ? (row.endsWith('+') ? '+' : '−') : row);

/** Column numbers above each board, row letters at both ends, the board's number at the left. */
function drawMargin(boards: readonly BoardPlace[], frame: Frame): string {
  const { px, scale, level } = frame;
  const size = Math.max(level === 'far' ? 6.5 : 8.6, Math.min(15, 2.1 * scale));
  const every = level === 'far' ? 10 : 5;
  let out = `<g class="pb-coord" style="font-size:${num(size)}px">`;
  for (const board of boards) {
    for (let column = 1; column <= board.columns; column++) {
      if (column !== 1 && column % every !== 0) continue;
      out += `<text x="${px(columnX(board, column))}" y="${px(board.y - 0.9)}">${column}</text>`;
    }
    for (const row of ROWS) {
      if (level === 'far' || board.holesIn(row).length === 0) continue;
      for (const x of [board.x - 1.5, board.x + board.width + 1.5])
        out += `<text x="${px(x)}" y="${px(rowY(board, row))}" dy=".34em">${rowSign(row)}</text>`;
    }
    const middle = board.y + board.height / 2;
    out += `<text class="no" x="${px(board.x - 5.4)}" y="${px(middle)}" dy=".36em" style="font-size:${num(Math.max(13, Math.min(26, 5.4 * scale)))}px;fill:var(--ink)">${board.board}</text>`;
  }
  return `${out}</g>`;
}

/** px of the gutter's bands. */
function gutterSize(frame: Frame): number {
  return frame.level === 'bench' ? 34 : 26;
}

/** The part of a crop that its gutters leave free, mm. */
export function clearOfGutter(crop: Rect, scale: number, at: 'top' | 'bottom' = 'top'): Rect {
  const g = gutterSize(createFrame(crop, scale)) / scale;
  return { x: crop.x + g, y: at === 'top' ? crop.y + g : crop.y, width: crop.width - g, height: crop.height - g };
}

function drawGutter(
  boards: readonly BoardPlace[],
  frame: Frame,
  on: readonly { readonly board: number; readonly column: number; readonly row: Row }[],
  at: 'top' | 'bottom',
): string {
  const { scale, view, level } = frame;
  const g = gutterSize(frame);
  const size = level === 'bench' ? 20 : 13;
  const [left, top, wide, tall] = [view.x, view.y, view.width, view.height].map((mm) => mm * scale) as [
    number,
    number,
    number,
    number,
  ];
  const bandY = at === 'top' ? top : top + tall - g;
  let out = `<g class="pb-gut"><rect x="${num(left)}" y="${num(top)}" width="${num(g)}" height="${num(tall)}"/><rect x="${num(left)}" y="${num(bandY)}" width="${num(wide)}" height="${num(g)}"/><path d="M${num(left + g)} ${num(top)}V${num(top + tall)}M${num(left)} ${num(at === 'top' ? top + g : top + tall - g)}H${num(left + wide)}"/>`;
  const pitch = PITCH * scale;
  const every = pitch >= 20 ? 1 : 5;
  // Boards that share their columns' places share the numbers.
  const seenX = new Set<string>();
  for (const board of boards) {
    for (let column = 1; column <= board.columns; column++) {
      const x = columnX(board, column) * scale;
      if (x < left + g + size * 0.7 || x > left + wide - size * 0.7) continue;
      const lit = on.some(
        (end) =>
          end.column === column && Math.abs(columnX(boardOf(boards, end.board) ?? board, column) * scale - x) < 1,
      );
      if (!lit && column % every !== 0) continue;
      const key = `${Math.round(x)}`;
      if (seenX.has(key)) continue;
      seenX.add(key);
      out += `<text${lit ? ' class="on"' : ''} x="${num(x)}" y="${num(bandY + g / 2)}" dy=".35em" style="font-size:${size}px">${column}</text>`;
    }
  }
  const seenY = new Set<string>();
  const lowest = at === 'top' ? top + g : top;
  const highest = at === 'top' ? top + tall : top + tall - g;
  for (const board of boards) {
    for (const row of ROWS) {
      if (board.holesIn(row).length === 0) continue;
      const y = rowY(board, row) * scale;
      if (y < lowest + size * 0.4 || y > highest - size * 0.3) continue;
      const key = `${Math.round(y)}`;
      if (seenY.has(key)) continue;
      seenY.add(key);
      const lit = on.some((end) => end.board === board.board && end.row === row);
      out += `<text${lit ? ' class="on"' : ''} x="${num(left + g / 2)}" y="${num(y)}" dy=".34em" style="font-size:${size}px">${rowSign(row)}</text>`;
    }
    const middle = ((rowY(board, 'f') + rowY(board, 'e')) / 2) * scale;
    if (middle > lowest + size && middle < highest - size)
      out += `<text class="no" x="${num(left + g / 2)}" y="${num(middle)}" dy=".35em" style="font-size:${num(size * 1.3)}px">${board.board}</text>`;
  }
  return `${out}</g>`;
}

const boardOf = (boards: readonly BoardPlace[], number: number): BoardPlace | undefined =>
  boards.find((board) => board.board === number);

function drawMark(mark: Mark, scene: Scene, frame: Frame): string {
  const { px, scale } = frame;
  if (mark.kind === 'detail') {
    const { x, y, width, height } = mark.frame;
    return `<g class="pb-detail"><rect x="${px(x)}" y="${px(y)}" width="${px(width)}" height="${px(height)}" rx="6"/><circle cx="${px(x + width)}" cy="${px(y)}" r="9"/><text x="${px(x + width)}" y="${px(y)}" dy=".35em" style="font-size:12px">${escapeXml(mark.letter)}</text></g>`;
  }
  const hole = scene.places.hole(mark.hole);
  if (hole === undefined) return '';
  const [x, y] = [hole.x * scale, hole.y * scale];
  const tag = (text: string): string =>
    `<g class="pb-code" transform="translate(${num(x)} ${num(y - 24)})"><rect x="${num(-(text.length * 4.2 + 5))}" y="-10" width="${num(text.length * 8.4 + 10)}" height="20"/><text dy=".35em" style="font-size:13px">${escapeXml(text)}</text></g>`;
  switch (mark.kind) {
    case 'aim':
      return `<circle class="pb-aim" data-hole="${escapeXml(mark.hole)}" cx="${num(x)}" cy="${num(y)}" r="${num(0.6 * PITCH * scale)}" style="stroke-width:${frame.level === 'bench' ? 4.5 : 2.5}px"/>`;
    case 'fault': {
      const k = Math.max(5, 0.8 * scale);
      return `<g data-hole="${escapeXml(mark.hole)}"><circle class="pb-fault" cx="${num(x)}" cy="${num(y)}" r="${num(k * 1.6)}"/><path class="pb-fault" d="M${num(x - k)} ${num(y - k)}l${num(2 * k)} ${num(2 * k)}m0 ${num(-2 * k)}l${num(-2 * k)} ${num(2 * k)}"/>${mark.text === undefined ? '' : tag(mark.text)}</g>`;
    }
    case 'probe':
      return `<g class="pb-probe" data-hole="${escapeXml(mark.hole)}"><circle cx="${num(x)}" cy="${num(y)}" r="7"/><path class="tip" d="M${num(x)} ${num(y - 8)}l-4 -7h8zM${num(x)} ${num(y - 15)}v-9"/></g>${mark.text === undefined ? '' : tag(mark.text)}`;
    case 'level':
      return `<g class="pb-over" data-hole="${escapeXml(mark.hole)}"><text class="on" x="${num(x)}" y="${num(y)}" dy=".35em" text-anchor="middle" style="font-size:${num(Math.max(9, 1.4 * scale))}px">${escapeXml(mark.text)}</text></g>`;
  }
}
