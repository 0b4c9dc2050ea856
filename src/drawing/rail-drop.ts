// The rails of the boards with what is lost along them: a wedge on each rail as wide as the loss, the volts at every chip, where
// the supply enters and where it could enter as well. Only supply and ground wires are drawn. Volts come worked out.

import { renderBoards, wholeView } from './boards-drawing.ts';
import type { Scene } from './scene.ts';
import { escapeXml, num, sansWidth } from './text.ts';
import type { Ground } from './tokens.ts';

export interface RailDropView {
  readonly scene: Scene;
  /** px per mm; 4 where absent. */
  readonly scale?: number | undefined;
  /** Every place along a rail: a hole and what is lost up to it, V (plus: below the entry; ground: above it). */
  readonly rails: readonly { readonly points: readonly { readonly hole: string; readonly lost: number }[] }[];
  readonly chips: readonly {
    readonly part: string;
    readonly volts: number | null;
    readonly needs: number | null;
    readonly isLowest: boolean;
  }[];
  readonly entries: readonly { readonly plus: string; readonly ground: string; readonly volts: number }[];
  readonly feeds: readonly { readonly plus: string; readonly ground: string }[];
  /** Nets drawn as wires. */
  readonly nets: ReadonlySet<string>;
  readonly ground?: Ground | undefined;
}

/** mm that the greatest loss is wide. */
const WIDEST = 5;

/** Draws the loss along the rails. Same view, same bytes. */
export function railDropDrawing(view: RailDropView): string {
  const { scene } = view;
  const scale = view.scale ?? 4;
  const crop = wholeView(scene);
  const bare: Scene = { ...scene, wires: scene.wires.filter(({ wire }) => view.nets.has(wire.net)) };
  const svg = renderBoards({
    design: scene.input.design,
    layout: scene.input.layout,
    stage: scene.input.stage,
    scene: bare,
    scale,
    crop,
    coordinates: 'margin',
    later: false,
    ground: view.ground,
    title: `${scene.input.design.name}: what is lost along the rails as of stage ${scene.input.stage}`,
  });
  const greatest = Math.max(1e-3, ...view.rails.flatMap((rail) => rail.points.map((point) => Math.abs(point.lost))));
  let over = '';
  for (const rail of view.rails) over += wedge(view, rail.points, greatest, scale);
  for (const entry of view.entries) {
    over += disc(scene, entry.plus, scale, 'inkfill') + disc(scene, entry.ground, scale, 'inkfill');
    over += note(scene, entry.plus, scale, `${entry.volts.toFixed(2)} V in`);
  }
  for (const [k, feed] of view.feeds.entries()) {
    over += ring(scene, feed.plus, scale) + ring(scene, feed.ground, scale);
    over += note(scene, feed.plus, scale, `feed ${k + 1}`);
  }
  for (const chip of view.chips) over += volts(scene, chip, scale);
  return svg.replace(/<\/svg>$/, `<g class="pb-drop">${over}</g></svg>`);
}

/** The mV that the widest wedge stands for, for the legend. */
export function widestDropMv(view: Pick<RailDropView, 'rails'>): number {
  return Math.round(
    1e3 * Math.max(0, ...view.rails.flatMap((rail) => rail.points.map((point) => Math.abs(point.lost)))),
  );
}

function wedge(
  view: RailDropView,
  points: RailDropView['rails'][number]['points'],
  greatest: number,
  scale: number,
): string {
  const at = points
    .flatMap((point) => {
      const place = view.scene.places.hole(point.hole);
      return place === undefined
        ? []
        : [{ place, half: (Math.abs(point.lost) / greatest) * (WIDEST / 2) * scale, point }];
    })
    .sort((a, b) => a.place.x - b.place.x);
  const [first, last] = [at[0], at.at(-1)];
  if (first === undefined || last === undefined || first === last) return '';
  const upper = at.map(({ place, half }) => `${num(place.x * scale)} ${num(place.y * scale - half)}`);
  const lower = at.map(({ place, half }) => `${num(place.x * scale)} ${num(place.y * scale + half)}`).reverse();
  const words = `${first.point.hole} to ${last.point.hole}: ${Math.round(first.point.lost * 1e3)} to ${Math.round(last.point.lost * 1e3)} mV lost`;
  return `<path class="pb-wedge" style="fill:var(--ink);fill-opacity:.38;stroke:var(--ink);stroke-width:.8" d="M${upper.join('L')}L${lower.join('L')}Z"><title>${escapeXml(words)}</title></path>`;
}

function disc(scene: Scene, hole: string, scale: number, name: string): string {
  const place = scene.places.hole(hole);
  return place === undefined
    ? ''
    : `<circle class="${name}" cx="${num(place.x * scale)}" cy="${num(place.y * scale)}" r="${num(Math.max(4, 1.1 * scale))}"/>`;
}

function ring(scene: Scene, hole: string, scale: number): string {
  const place = scene.places.hole(hole);
  return place === undefined
    ? ''
    : `<circle class="rule" style="stroke-width:2.4" cx="${num(place.x * scale)}" cy="${num(place.y * scale)}" r="${num(Math.max(5, 1.4 * scale))}"/>`;
}

function note(scene: Scene, hole: string, scale: number, text: string): string {
  const place = scene.places.hole(hole);
  if (place === undefined) return '';
  const isLeft = place.column > 50;
  return `<text class="s b out" x="${num(place.x * scale + (isLeft ? -10 : 10))}" y="${num(place.y * scale - 9)}"${isLeft ? ' text-anchor="end"' : ''} style="font-size:13px">${escapeXml(text)}</text>`;
}

/** The volts over a chip's body; the lowest on the highlighter, what is too little with a cross. */
function volts(scene: Scene, chip: RailDropView['chips'][number], scale: number): string {
  const part = scene.parts.find((item) => item.name === chip.part);
  const body = part?.outline.body;
  if (part === undefined || body === undefined) return '';
  const isShort = chip.volts === null || (chip.needs !== null && chip.volts < chip.needs);
  const text = chip.volts === null ? 'nothing' : `${chip.volts.toFixed(2)} V`;
  const type = 14;
  // Below the body, where only strips are: names stay readable.
  const [x, y] = [part.outline.cx * scale, (body.y + body.height) * scale + 22];
  const width = sansWidth(text, type, 700) + (isShort ? 24 : 8);
  const left = x - width / 2;
  const cross = isShort ? `<path class="pb-fault" d="M${num(left + 4)} ${num(y - 10)}l9 9m0 -9l-9 9"/>` : '';
  return `<g><rect class="${chip.isLowest ? 'hl' : 'table'}" x="${num(left)}" y="${num(y - 14)}" width="${num(width)}" height="18" style="stroke:var(--ink);stroke-width:${chip.isLowest ? 1.4 : 0.6}"/>${cross}<text class="s b" x="${num(left + (isShort ? 18 : 4))}" y="${num(y)}" style="font-size:${type}px">${text}</text></g>`;
}
