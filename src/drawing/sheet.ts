// A drawing sheet of boards: the whole at the left, a detail framed at the right with its scale, and a ruled title block that
// doubles as the legend. One SVG that stands alone or takes the colours of a page.

import { type BoardsView, renderBoards, wholeView } from './boards-drawing.ts';
import type { Rect } from './places.ts';
import { createScene, type Scene } from './scene.ts';
import { escapeStyle, standaloneStyle } from './style.ts';
import { escapeXml, fitSans, metres, num, sansWidth } from './text.ts';

export interface SheetView extends BoardsView {
  /** Part of the boards to enlarge, mm; none where absent. */
  readonly detail?: Rect | undefined;
  /** px per mm of the detail; chosen so that it fills its place where absent. */
  readonly detailScale?: number | undefined;
  /** px of the right-hand column; 640 where absent. */
  readonly sideWidth?: number | undefined;
}

/** What a scene holds, counted. `mm` is the sum of cut lengths of wires that are in or to come. */
export function countWires(scene: Scene): { built: number; planned: number; out: number; mm: number } {
  const count = (state: string): number => scene.wires.filter((w) => w.state === state).length;
  const mm = scene.wires.filter((w) => w.state !== 'out').reduce((sum, w) => sum + w.wire.cutMm, 0);
  return { built: count('built'), planned: count('planned'), out: count('out'), mm };
}

const GAP = 24;
const BLOCK = 104;

/** Puts one drawing into another at a place in px. */
export function placed(svg: string, x: number, y: number): string {
  return svg.replace('<svg ', `<svg x="${num(x)}" y="${num(y)}" `);
}

/** The whole sheet. */
export function renderSheet(view: SheetView): string {
  const scene = view.scene ?? createScene(view);
  const scale = view.scale ?? 4.74;
  const whole = view.crop ?? wholeView(scene);
  const side = view.sideWidth ?? 640;
  const mainWidth = whole.width * scale;
  const mainHeight = whole.height * scale;
  const { detail } = view;
  const inner = { ...view, scene, ground: undefined };
  const marks = [
    ...(view.marks ?? []),
    ...(detail === undefined ? [] : [{ kind: 'detail' as const, letter: 'A', frame: detail }]),
  ];
  let x = GAP;
  let out = placed(renderBoards({ ...inner, crop: whole, coordinates: 'margin', scale, marks }), x, GAP);
  x += mainWidth + GAP;
  let width = x;
  let height = mainHeight + 2 * GAP;
  if (detail !== undefined) {
    const zoom = view.detailScale ?? Math.min(side / detail.width, (mainHeight - BLOCK - GAP) / detail.height);
    const w = detail.width * zoom;
    const h = detail.height * zoom;
    const shown = renderBoards({ ...inner, crop: detail, coordinates: 'gutter', scale: zoom, title: 'Detail A' });
    const ratio = `${(zoom / scale).toFixed(1)} : 1`;
    out += `<rect class="table" x="${num(x)}" y="${GAP}" width="${num(w)}" height="${num(h)}"/>${placed(shown, x, GAP)}`;
    out += `<rect class="rule" x="${num(x)}" y="${GAP}" width="${num(w)}" height="${num(h)}"/>`;
    out += `<rect class="inkfill" x="${num(x)}" y="${GAP}" width="26" height="26"/><text class="s b" x="${num(x + 13)}" y="${GAP + 13}" dy=".36em" text-anchor="middle" style="font-size:15px;fill:var(--ground)">A</text>`;
    out += `<rect class="table" x="${num(x + w - 62)}" y="${num(GAP + h - 24)}" width="62" height="24"/><path class="rule" d="M${num(x + w - 62)} ${num(GAP + h)}v-24h62"/><text class="s" x="${num(x + w - 31)}" y="${num(GAP + h - 12)}" dy=".36em" text-anchor="middle" style="font-size:14px">${ratio}</text>`;
    out += titleBlock(scene, scale, x, GAP + h + GAP, Math.max(w, side));
    width = x + Math.max(w, side) + GAP;
    height = Math.max(height, GAP + h + GAP + BLOCK + GAP);
  } else {
    out += titleBlock(scene, scale, GAP, GAP + mainHeight + 10, mainWidth);
    height += BLOCK;
  }
  const title = escapeXml(view.title ?? `${scene.input.design.name}: boards as of stage ${view.stage}`);
  const style = view.ground === undefined ? '' : `<style>${escapeStyle(standaloneStyle(view.ground))}</style>`;
  const ground = view.ground === undefined ? '' : ` data-ground="${view.ground}"`;
  return `<svg xmlns="http://www.w3.org/2000/svg" class="pb" role="img" aria-label="${title}"${ground} viewBox="0 0 ${num(width)} ${num(height)}" width="${num(width)}" height="${num(height)}"><title>${title}</title>${style}<rect class="table" width="${num(width)}" height="${num(height)}"/>${out}</svg>`;
}

/** Two rows of four: what is drawn, as of when, how much, a scale bar; then what each line weight means, with counts. */
export function titleBlock(scene: Scene, scale: number, x: number, y: number, width: number): string {
  const { design, stage, layout } = scene.input;
  const count = countWires(scene);
  const cell = width / 4;
  const name = design.stages.find((s) => s.number === stage)?.name;
  const kinds = new Set(layout.boards.map((board) => board.kind));
  const boards = `${layout.boards.length} ${layout.boards.length === 1 ? 'board' : 'boards'}${kinds.size === 1 ? `, ${[...kinds][0]}` : ''}`;
  const total = count.built + count.planned;
  const label = (i: number, row: number, text: string): string =>
    `<text class="s" x="${num(x + i * cell + (i === 0 ? 0 : 12))}" y="${num(y + row)}" style="font-size:13px">${escapeXml(fitSans(text, 13, cell - 16))}</text>`;
  const strong = (i: number, row: number, text: string, dx = 0): string =>
    `<text class="s b" x="${num(x + i * cell + (i === 0 ? 0 : 12) + dx)}" y="${num(y + row)}" style="font-size:15px">${escapeXml(fitSans(text, 15, cell - 16 - dx, 700))}</text>`;
  const word = (i: number, row: number, text: string, dx: number): string =>
    `<text class="s" x="${num(x + i * cell + (i === 0 ? 0 : 12) + dx)}" y="${num(y + row)}" style="font-size:14px">${escapeXml(text)}</text>`;
  let out = `<path class="rule2" d="M${num(x)} ${num(y)}h${num(width)}"/><path class="rule" d="M${num(x)} ${num(y + 96)}h${num(width)}"/><path class="hair" d="M${num(x)} ${num(y + 54)}h${num(width)}"/>`;
  for (let i = 1; i < 4; i++) out += `<path class="hair" d="M${num(x + i * cell)} ${num(y + 4)}v90"/>`;
  out += label(0, 21, design.name) + strong(0, 42, boards);
  out +=
    label(1, 21, 'as of') +
    strong(1, 42, stage === 0 ? 'the empty bench' : `stage ${stage}${name === undefined ? '' : `, ${name}`}`);
  out += label(2, 21, 'wires') + strong(2, 42, `${total}, ${metres(count.mm)} cut`);
  const bar = 20 * scale;
  const bx = x + 3 * cell + 12;
  out += `${label(3, 21, '20 mm')}<path class="rule" d="M${num(bx)} ${num(y + 30)}v12M${num(bx)} ${num(y + 36)}h${num(bar)}m0 -6v12M${num(bx + bar / 2)} ${num(y + 33)}v6M${num(bx + bar / 4)} ${num(y + 34)}v4M${num(bx + (3 * bar) / 4)} ${num(y + 34)}v4"/>`;
  const counted = (i: number, number: number, text: string): string =>
    strong(i, 81, String(number), 52) + word(i, 81, text, 57 + sansWidth(String(number), 15, 700));
  const sample = (i: number, state: 'built' | 'planned' | 'out', code: string): string => {
    const x0 = x + i * cell + (i === 0 ? 0 : 12);
    const d = `M${num(x0 + 5)} ${num(y + 76)}h34`;
    const [core, r] = { built: [3.4, 4], planned: [1.4, 3.2], out: [3, 3.6] }[state] as [number, number];
    return `<g class="pb-wire ${state} c-${code}"><path class="core" d="${d}" style="stroke-width:${core}px"/><circle class="end" cx="${num(x0 + 5)}" cy="${num(y + 76)}" r="${r}"/><circle class="end" cx="${num(x0 + 39)}" cy="${num(y + 76)}" r="${r}"/></g>`;
  };
  out += `${sample(0, 'built', 'BU')}${counted(0, count.built, 'built')}`;
  out += `${sample(1, 'planned', 'BU')}${counted(1, count.planned, 'planned')}`;
  out += `${sample(2, 'out', 'BU')}${counted(2, count.out, 'to take out')}`;
  out += `<g class="pb-part later"><rect class="body" x="${num(bx)}" y="${num(y + 69)}" width="40" height="14" rx="1"/></g>${word(3, 81, 'a later stage', 50)}`;
  return out;
}
