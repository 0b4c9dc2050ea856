// One step at the bench: the wire in hand as a dimensioned piece, and the two holes enlarged in their surroundings, six
// columns either side, with only what is on the boards around them. A part to be placed has its own place enlarged.

import { type BoardsView, renderBoards } from './boards-drawing.ts';
import { wrapSvg } from './page-frame.ts';
import { PITCH, type Rect } from './places.ts';
import { createScene, type Scene, type SceneLead, type ScenePart } from './scene.ts';
import { placed } from './sheet.ts';
import { escapeXml, fitMono, fitSans, MONO_EM, num, sansWidth } from './text.ts';
import { type Ground, isWireCode, wireName } from './tokens.ts';

export interface StepView extends BoardsView {
  /** The wire to put in or take out, by id; or else the part. */
  readonly wire?: string | undefined;
  readonly part?: string | undefined;
  /** mm bared at each end; 7 where absent. */
  readonly bareMm?: number | undefined;
  /** px; 1024 where absent. */
  readonly width?: number | undefined;
  readonly ground?: Ground | undefined;
}

const TAKE = 180;
const NAMES = 74;
const PLACE = 312;

/** Draws the step; a sheet that says so where there is no such wire or part in the layout as of the stage. */
export function stepView(view: StepView): string {
  const scene = view.scene ?? createScene(view);
  const width = view.width ?? 1024;
  if (view.wire !== undefined) {
    const wire = scene.wires.find((w) => w.wire.id === view.wire);
    if (wire !== undefined) return wireStep(view, scene, view.wire, width);
  }
  const part = scene.parts.find((p) => p.name === view.part && p.state !== 'later');
  if (part !== undefined) return partStep(view, scene, part, width);
  const text = 'Nothing of that name is on the boards as of this stage.';
  return wrapSvg(`<text class="s" x="24" y="48" style="font-size:26px">${text}</text>`, width, 80, text, view.ground);
}

/** The pins in the strip of a hole, the chip's first: `CPU./RD`. Empty on rails and empty strips. */
export function pinsAt(scene: Scene, hole: string): string[] {
  const at = scene.places.hole(hole);
  if (at === undefined) return [];
  const { key, rail } = scene.places.strip(at);
  if (rail) return [];
  const found: { part: ScenePart; lead: SceneLead }[] = scene.parts
    .filter((part) => part.state !== 'later')
    .flatMap((part) => part.leads.filter((lead) => lead.strip.key === key).map((lead) => ({ part, lead })));
  return found
    .sort((a, b) => b.part.leads.length - a.part.leads.length)
    .map(({ part, lead }) => `${part.name}.${lead.name === '' ? lead.number : lead.name}`);
}

function wireStep(view: StepView, scene: Scene, id: string, width: number): string {
  const item = scene.wires.find((w) => w.wire.id === id)!;
  const { wire } = item;
  const leaving = item.state === 'out';
  const inner = width - 48;
  const code = isWireCode(wire.colour) ? wire.colour : 'x';
  let out = `<g transform="translate(24 0)" class="c-${code}">`;
  const size = 104;
  const figure = num(wire.cutMm);
  const figureWide = sansWidth(figure, size, 700) + 14 + sansWidth('mm', 44);
  const y = 140;
  const bare = ((view.bareMm ?? 7) / Math.max(1, wire.cutMm)) * inner;
  const gap0 = inner / 2 - figureWide / 2 - 22;
  const gap1 = inner / 2 + figureWide / 2 + 22;
  out += `<path class="rule" d="M.6 58V150M${inner - 0.6} 58V150M0 72H${num(gap0)}M${num(gap1)} 72H${inner}" style="stroke-width:1.3px"/><path class="inkfill" d="M0 72l14 -4.5v9zM${inner} 72l-14 -4.5v9z"/>`;
  out += `<path d="M3 ${y}H${inner - 3}" style="stroke:var(--line);stroke-width:7px;stroke-linecap:round"/><rect class="inkfill" x="${num(bare)}" y="${y - 14}" width="${num(inner - 2 * bare)}" height="28"/><rect x="${num(bare + 1.5)}" y="${y - 12.5}" width="${num(inner - 2 * bare - 3)}" height="25" style="fill:var(--c)${leaving ? ';opacity:.5' : ''}"/>`;
  out += `<text class="s b" x="${inner / 2}" y="106" text-anchor="middle" style="font-size:${size}px">${figure}<tspan style="font-size:44px;font-weight:400" dx="14">mm</tspan></text>`;
  out += `<text class="s b" x="22" y="50" style="font-size:38px">${escapeXml(wire.colour)}<tspan dx="14" style="font-weight:400">${escapeXml(isWireCode(wire.colour) ? wireName(wire.colour) : '')}</tspan></text>`;
  const note = leaving ? 'take out' : `bare ${num(view.bareMm ?? 7)} mm each end`;
  out += `<text class="s" x="${inner - 22}" y="50" text-anchor="end" style="font-size:26px">${note}</text></g>`;
  out += `<path class="rule" d="M0 ${TAKE}H${width}"/>`;
  const half = width / 2;
  for (const [index, hole] of [wire.from, wire.to].entries()) {
    const x = index * half;
    const pins = pinsAt(scene, hole);
    const pin = pins[0] ?? placeName(scene, hole, wire.net);
    out += `<text class="s" x="${x + 24}" y="${TAKE + 53}" style="font-size:26px">${index === 0 ? 'from' : 'to'}</text>`;
    out += `<text class="b" x="${x + 100}" y="${TAKE + 58}" style="font-size:60px;letter-spacing:-.02em">${escapeXml(hole)}</text>`;
    const used = 100 + [...hole].length * 60 * MONO_EM * 0.97 + 16;
    out += `<text x="${x + half - 24}" y="${TAKE + 53}" text-anchor="end" style="font-size:34px">${escapeXml(shrinkToFit(pin, half - used - 24))}</text>`;
    out += placed(
      around(view, scene, hole, half, { hand: leaving ? undefined : id, wire: leaving ? id : undefined }),
      x,
      TAKE + NAMES,
    );
  }
  out += breakLine(half, TAKE + NAMES, PLACE);
  const bottom = TAKE + NAMES + PLACE;
  out += `<path class="rule" d="M0 ${bottom}H${width}"/>`;
  const words = `${leaving ? 'Take out' : 'Take'} ${wireName(wire.colour)}, ${figure} mm, from ${wire.from} to ${wire.to}`;
  return wrapSvg(out, width, bottom + 1, words, view.ground);
}

/** What a hole without a pin is: a rail, by its supply where the wire is one of its net, else by its sign; or the net. */
function placeName(scene: Scene, hole: string, net: string): string {
  const row = scene.places.hole(hole)?.row ?? '';
  if (row.length !== 2) return net;
  const kind = scene.net(net)?.kind;
  return `${kind === 'supply' || kind === 'ground' ? net : row.endsWith('+') ? '+' : '−'} rail`;
}

/** A name at 34 px cut to its room; no smaller type at the bench than what can be read there. */
function shrinkToFit(text: string, room: number): string {
  return fitMono(text, 34, Math.max(room, 34 * MONO_EM * 3));
}

/** Six columns either side of a hole, from the outer edge of its half of the board inward. */
function around(
  view: StepView,
  scene: Scene,
  hole: string,
  width: number,
  what: { readonly hand?: string | undefined; readonly wire?: string | undefined },
): string {
  const at = scene.places.hole(hole)!;
  const scale = width / 13 / PITCH;
  const height = PLACE / scale;
  const gutter = 34 / scale;
  const upper = at.row >= 'f' && at.row.length === 1 ? true : at.row.startsWith('t');
  // Columns are numbered at the outer edge. From there the crop reaches past the strip into the chip's body, so that the pin
  // and its name are in view.
  const strip = scene.places.strip(at);
  const y = upper ? strip.y0 - gutter - 2 : strip.y1 + gutter + 2 - height;
  const crop: Rect = { x: at.x - 6.5 * PITCH - gutter / 2, y, width: 13 * PITCH, height };
  return renderBoards({
    ...view,
    scene,
    ground: undefined,
    crop,
    scale,
    hand: what.hand,
    select: what.wire === undefined ? undefined : { wire: what.wire },
    onlyBuilt: true,
    later: false,
    coordinates: 'gutter',
    gutterAt: upper ? 'top' : 'bottom',
    marks: [{ kind: 'aim', hole }],
    title: `Around hole ${hole}`,
  });
}

/** The break between two places that aren't neighbours. */
function breakLine(x: number, y: number, height: number): string {
  const m = height * 0.45;
  const edge = (dx: number): string => `M${x + dx} ${y}v${num(m)}l-7 12 14 20 -7 12V${y + height}`;
  return `<path class="table" d="M${x - 4} ${y}v${num(m)}l-7 12 14 20 -7 12V${y + height}h8V${num(y + m + 44)}l7 -12 -14 -20 7 -12V${y}z"/><path class="rule" d="${edge(-4)}${edge(4)}" style="stroke-width:1.4px"/>`;
}

function partStep(view: StepView, scene: Scene, part: ScenePart, width: number): string {
  const body = part.outline.body ?? { x: part.outline.cx - 5, y: part.outline.cy - 5, width: 10, height: 10 };
  const height = TAKE + NAMES + PLACE;
  const room = { width: width - 48, height: height - 150 };
  const scale = Math.min(15.5, room.width / (body.width + 14), room.height / (body.height + 16));
  const crop: Rect = {
    x: body.x + body.width / 2 - room.width / scale / 2,
    y: body.y + body.height / 2 - room.height / scale / 2,
    width: room.width / scale,
    height: room.height / scale,
  };
  const first = part.leads[0]!;
  const holes = part.placed.leads;
  const leaving = part.state === 'out';
  const verb = leaving ? 'Take out' : 'Put in';
  const type = part.known?.value ?? part.known?.type ?? part.placed.type;
  let out = `<text class="s b" x="24" y="58" style="font-size:44px">${escapeXml(fitSans(`${verb} ${part.name}`, 44, width * 0.5, 700))}</text>`;
  out += `<text class="s" x="${width - 24}" y="54" text-anchor="end" style="font-size:34px">${escapeXml(fitSans(type, 34, width * 0.42))}</text>`;
  const where =
    holes.length === 2
      ? `${named(first)} in ${holes[0]!.hole}, ${named(part.leads.at(-1)!)} in ${holes.at(-1)!.hole}`
      : `pin ${first.number} in ${holes[0]!.hole}${part.outline.shape === 'chip' || part.outline.shape === 'can' ? ', the cut corner' : ''}`;
  out += `<text x="24" y="104" style="font-size:30px">${escapeXml(fitMono(where, 30, width - 48))}</text>`;
  const shown = renderBoards({
    ...view,
    scene: {
      ...scene,
      parts: scene.parts.map((p) => (p === part && p.state === 'planned' ? { ...p, state: 'built' as const } : p)),
    },
    ground: undefined,
    crop,
    scale,
    select: { part: part.name },
    onlyBuilt: true,
    later: false,
    coordinates: 'gutter',
    marks: holes.length === 0 ? [] : [{ kind: 'aim', hole: holes[0]!.hole }],
    title: `Where ${part.name} goes`,
  });
  out += placed(shown, 24, 126);
  return wrapSvg(out, width, height, `${verb} ${part.name}: ${where}`, view.ground);
}

const named = (lead: SceneLead): string => (lead.name === '' ? `lead ${lead.number}` : lead.name);
