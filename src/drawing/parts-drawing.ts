// Parts on the boards, as SVG text: open outlines for chips with the name along the body and the pin-1 corner cut, bodies at
// true size with the sign of IEC 60617 for the rest. Names of pins are drawn apart from the bodies, above the wires.

import { pinRank } from './part-words.ts';
import type { Frame } from './frame.ts';
import type { SceneLead, ScenePart } from './scene.ts';
import { PITCH, type Rect } from './places.ts';
import { escapeXml, fitMono, fitSans, monoWidth, num, sansWidth } from './text.ts';

/** What of the scene is selected, as far as parts care. */
export interface Chosen {
  readonly net: string | undefined;
  /** Strips to light up; all of the net where undefined. */
  readonly strips: ReadonlySet<string> | undefined;
  readonly part: string | undefined;
  /** True where the rest steps back. */
  readonly dims: boolean;
}

/** Whether a lead is on the selected net, and in one of the strips that are meant. */
function isOn(lead: SceneLead, chosen: Chosen): boolean {
  return (
    chosen.net !== undefined &&
    lead.net === chosen.net &&
    (chosen.strips === undefined || chosen.strips.has(lead.strip.key))
  );
}

/** A part's body and its pins' names, to be put below and above the wires. */
export interface PartDrawing {
  readonly body: string;
  readonly pins: string;
  /** Net names outside, near and bench only. */
  readonly nets: string;
}

const TWO_ROWS: ReadonlySet<string> = new Set(['chip', 'can']);

/** Draws one part. `others` is what its name should keep clear of; the name's own place is added to it. */
export function drawPart(part: ScenePart, frame: Frame, chosen: Chosen, others: Rect[] = []): PartDrawing {
  const { outline } = part;
  const selected = chosen.part === part.name;
  const kind = TWO_ROWS.has(outline.shape) || outline.shape === 'row' ? ' chip' : '';
  const head = `<g class="pb-part ${part.state}${kind}${selected ? ' sel' : ''}" data-part="${escapeXml(part.name)}"><title>${escapeXml(titleOf(part))}</title>`;
  const label = kind === '' ? bodyName(part, frame, others) : '';
  const inside = kind === '' ? drawBody(part, frame) + (frame.large ? '' : label) : drawChip(part, frame, chosen);
  const names = kind === '' ? { pins: '', nets: '' } : pinNames(part, frame, chosen);
  const pins = names.pins + leadMarks(part, frame, chosen);
  return { body: `${head}${inside}</g>`, pins, nets: names.nets + (frame.large ? label : '') };
}

function titleOf(part: ScenePart): string {
  const known = part.known;
  const words = [part.name, known?.type ?? part.placed.type, known?.value ?? '', known?.record.title ?? ''].filter(
    Boolean,
  );
  const state = { built: 'in', planned: 'not in yet', out: 'to be taken out', later: `stage ${part.placed.stage}` }[
    part.state
  ];
  return `${words.join(', ')}; ${state}`;
}

/** The pins of the selected net, as discs on the leads. */
function leadMarks(part: ScenePart, frame: Frame, chosen: Chosen): string {
  if (part.state === 'later' || chosen.net === undefined) return '';
  return part.leads
    .filter((lead) => isOn(lead, chosen) && frame.sees(lead.at.x, lead.at.y, 1))
    .map((lead) => {
      const r = num((frame.large ? 0.62 : 0.78) * frame.scale);
      return `<circle class="pb-pinon" data-net="${escapeXml(chosen.net ?? '')}" cx="${frame.px(lead.at.x)}" cy="${frame.px(lead.at.y)}" r="${r}"/>`;
    })
    .join('');
}

// ---------------------------------------------------------------------------------------------------------------- chips

/** mm cut off the corner at pin 1. */
const CUT = 1.7;

interface ChipBox {
  readonly x0: number;
  readonly x1: number;
  readonly y0: number;
  readonly y1: number;
}

function chipBox(part: ScenePart, frame: Frame): ChipBox {
  const body = part.outline.body!;
  // Narrow chips get a little more room for names where there is something to read.
  const wider = part.outline.shape === 'chip' && frame.large && body.height < 8 ? 0.38 : 0;
  return { x0: body.x, x1: body.x + body.width, y0: body.y - wider, y1: body.y + body.height + wider };
}

/** A box with the corner at pin 1 cut off. */
function cutBox(box: ChipBox, corner: readonly [number, number], frame: Frame): string {
  const { px } = frame;
  const cut = Math.min(CUT, (box.y1 - box.y0) / 3, (box.x1 - box.x0) / 3);
  const corners: [number, number][] = [
    [-1, -1],
    [1, -1],
    [1, 1],
    [-1, 1],
  ];
  const points = corners.flatMap(([sx, sy]): [number, number][] => {
    const x = sx < 0 ? box.x0 : box.x1;
    const y = sy < 0 ? box.y0 : box.y1;
    if (sx !== corner[0] || sy !== corner[1]) return [[x, y]];
    const alongX: [number, number] = [x - sx * cut, y];
    const alongY: [number, number] = [x, y - sy * cut];
    // Clockwise from the upper left: which of the two comes first depends on the corner.
    return sx === sy ? [alongY, alongX] : [alongX, alongY];
  });
  return `M${points.map(([x, y]) => `${px(x)} ${px(y)}`).join('L')}Z`;
}

const isUpper = (part: ScenePart, lead: SceneLead): boolean => lead.at.y < part.outline.cy - 0.1;

function drawChip(part: ScenePart, frame: Frame, chosen: Chosen): string {
  const { px, scale } = frame;
  const box = chipBox(part, frame);
  const later = part.state === 'later';
  let legs = '';
  let dots = '';
  for (const lead of part.leads) {
    const { x, y } = lead.at;
    dots += `M${px(x)} ${px(y)}h0`;
    if (y < box.y0) legs += `M${px(x)} ${px(y)}V${px(box.y0)}`;
    else if (y > box.y1) legs += `M${px(x)} ${px(y)}V${px(box.y1)}`;
  }
  const legPath =
    legs === '' || later ? '' : `<path class="legs" d="${legs}" style="stroke-width:${num(0.5 * scale)}px"/>`;
  const dotPath = `<path class="dots" d="${dots}" style="stroke-width:${num((later ? 0.5 : 0.95) * scale)}px"/>`;
  const dotsInside = legs === '';
  const body = `<path class="body" d="${cutBox(box, part.outline.corner, frame)}"/>`;
  return `${legPath}${dotsInside ? body + dotPath : dotPath + body}${chipName(part, box, frame, chosen)}`;
}

/** Columns of a chip with how far names reach in from either side, mm; where the part's own name goes follows from it. */
function reachOfNames(part: ScenePart, frame: Frame, chosen: Chosen): { x: number; upper: number; lower: number }[] {
  const size = pinSize(part, frame) / frame.scale;
  const columns = new Map<number, { x: number; upper: number; lower: number }>();
  for (const lead of part.leads) {
    const key = Math.round(lead.at.x * 100);
    const column = columns.get(key) ?? { x: lead.at.x, upper: 0, lower: 0 };
    columns.set(key, column);
    if (!showsPin(part, lead, frame, chosen)) continue;
    const reach = 0.5 + monoWidth(lead.name, size) + indent(part, lead);
    if (isUpper(part, lead)) column.upper = reach;
    else column.lower = reach;
  }
  return [...columns.values()].sort((a, b) => a.x - b.x);
}

function chipName(part: ScenePart, box: ChipBox, frame: Frame, chosen: Chosen): string {
  const { scale, px, clear: view } = frame;
  const wide = box.y1 - box.y0 > 8;
  const later = part.state === 'later';
  if (part.outline.shape === 'row') return rowName(part, box, frame);
  const x0 = Math.max(box.x0, view.x);
  const x1 = Math.min(box.x1, view.x + view.width);
  const y0 = Math.max(box.y0, view.y);
  const y1 = Math.min(box.y1, view.y + view.height);
  if (x1 - x0 < 4 || y1 - y0 < (wide ? 4 : 2)) return '';
  const type = later ? `stage ${part.placed.stage}` : (part.known?.type ?? part.placed.type);
  const weight = part.state === 'built' ? 700 : 400;
  const columns = later ? [] : reachOfNames(part, frame, chosen);
  const middle = (y0 + y1) / 2;

  /** The calmest place for a text of that size between the pins' names: how far it would overlap them, and where it is, mm. */
  const place = (width: number, height: number): { x: number; y: number; overlap: number } => {
    let best = { x: (x0 + x1) / 2, y: middle, overlap: 0 };
    if (columns.length === 0) return best;
    let least = Number.POSITIVE_INFINITY;
    for (let left = x0 + 0.6; left + width <= x1 - 0.4; left += PITCH / 2) {
      let upper = y0;
      let lower = y1;
      for (const column of columns) {
        if (column.x < left - 0.9 || column.x > left + width + 0.9) continue;
        upper = Math.max(upper, box.y0 + column.upper);
        lower = Math.min(lower, box.y1 - column.lower);
      }
      const overlap = Math.max(0, height - (lower - upper));
      const aside = Math.abs(left + width / 2 - (x0 + x1) / 2);
      if (overlap * 100 + aside >= least) continue;
      least = overlap * 100 + aside;
      // In the middle of the body where that is free, so that names of chips in a row stand in line.
      const fits = middle - height / 2 >= upper && middle + height / 2 <= lower;
      best = { x: left + width / 2, y: fits || lower <= upper ? middle : (upper + lower) / 2, overlap };
    }
    return least === Number.POSITIVE_INFINITY ? { ...best, overlap: height } : best;
  };
  const cropped = y0 > box.y0 || y1 < box.y1 || x0 > box.x0 || x1 < box.x1;
  for (const shrink of [1, 0.8, 0.64]) {
    const size = nameSize(frame, wide) * shrink;
    const small = Math.max(frame.large ? 9 : 8, size * (frame.large ? 0.5 : 0.55));
    const name = fitSans(part.name, size, (x1 - x0) * scale - 8, 700);
    if (name === '') continue;
    const height = (size * 0.95) / scale;
    const nameWide = (sansWidth(name, size, weight) + 4) / scale;
    const bothWide = nameWide + (sansWidth(type, small) + size * 0.45) / scale;
    const alone = place(nameWide, height);
    const both = place(bothWide, height);
    // The type is left out before it touches a pin's name.
    const withType = type !== '' && type !== name && bothWide < x1 - x0 - 2 && both.overlap === 0;
    const at = withType ? both : alone;
    if (at.overlap > 0.25 && (shrink > 0.7 || cropped)) continue;
    const second = withType
      ? `<tspan class="type" dx="${num(size * 0.4)}" style="font-size:${num(small)}px">${escapeXml(type)}</tspan>`
      : '';
    return `<text class="ref" x="${px(at.x)}" y="${px(at.y)}" dy=".35em" text-anchor="middle" style="font-size:${num(size)}px">${escapeXml(name)}${second}</text>`;
  }
  return '';
}

/** A single row has no room between its leads: the name stands beside the body, on the side of the gutter. */
function rowName(part: ScenePart, box: ChipBox, frame: Frame): string {
  if (frame.level === 'far') return '';
  const size = frame.large ? 1.5 * frame.scale : 10;
  const upper = (part.leads[0]?.at.row ?? 'j') >= 'f';
  const y = upper ? box.y1 + (0.9 * size) / frame.scale : box.y0 - (0.9 * size) / frame.scale;
  const text = part.state === 'later' ? `${part.name} stage ${part.placed.stage}` : part.name;
  return `<text class="ref" x="${frame.px((box.x0 + box.x1) / 2)}" y="${frame.px(y)}" dy=".35em" text-anchor="middle" style="font-size:${num(size)}px">${escapeXml(text)}</text>`;
}

function nameSize(frame: Frame, wide: boolean): number {
  const { scale, large } = frame;
  if (large) return Math.min(wide ? 2.5 * scale : 1.45 * scale, 44);
  return wide ? Math.min(21, 4.4 * scale) : Math.min(12.5, 2.7 * scale);
}

/** Whether the rows are so close that names at a glance have no room. */
const isNarrow = (part: ScenePart): boolean => part.outline.shape === 'can' || (part.outline.body?.height ?? 0) < 8;

/** px of a pin's name. */
function pinSize(part: ScenePart, frame: Frame): number {
  const narrow = isNarrow(part);
  return frame.large ? Math.min((narrow ? 1.0 : 1.16) * frame.scale, 20) : 8.6;
}

function showsPin(part: ScenePart, lead: SceneLead, frame: Frame, chosen: Chosen): boolean {
  if (part.state === 'later' || lead.name === '') return false;
  if (frame.large) return true;
  if (frame.level === 'far') return false;
  return !isNarrow(part) || isOn(lead, chosen);
}

/** mm that the name of pin 1 stands further in, past the cut. */
function indent(part: ScenePart, lead: SceneLead): number {
  const { corner, cx, cy } = part.outline;
  const first = part.leads.reduce((a, b) => (b.number < a.number ? b : a));
  if (lead !== first) return 0;
  const atCut =
    Math.sign(lead.at.x - cx) === corner[0] && (Math.sign(lead.at.y - cy) === corner[1] || lead.at.y === cy);
  return atCut ? 0.9 : 0;
}

function pinNames(part: ScenePart, frame: Frame, chosen: Chosen): { pins: string; nets: string } {
  const { px, scale } = frame;
  const box = chipBox(part, frame);
  const size = pinSize(part, frame);
  const pad = (frame.large ? 0.35 : 0.55) + 0.1;
  const columns = new Map(reachOfNames(part, frame, chosen).map((column) => [Math.round(column.x * 100), column]));
  const oneRow = part.outline.shape === 'row';
  let pins = '';
  let nets = '';
  for (const lead of part.leads) {
    const { x, y } = lead.at;
    if (!frame.sees(x, y, 1.5) || part.state === 'later') continue;
    const on = isOn(lead, chosen);
    const upper = isUpper(part, lead);
    if (showsPin(part, lead, frame, chosen) && !oneRow) {
      const column = columns.get(Math.round(x * 100))!;
      const other = upper ? column.lower : column.upper;
      const depth = box.y1 - box.y0;
      const room = (Math.max(depth / 2, depth - other) - pad - indent(part, lead) - 0.25) * scale;
      const wanted = monoWidth(lead.name, size);
      // A long name in a narrow chip is set narrower, to two thirds at most, and smaller beyond that.
      const squeezed = Math.min(1, room / wanted);
      const small = squeezed < 0.66 ? size * Math.max(0.6, squeezed / 0.66) : size;
      const fit =
        squeezed < 1
          ? ` textLength="${num(Math.min(room, monoWidth(lead.name, small)))}" lengthAdjust="spacingAndGlyphs"`
          : '';
      // A lead under the body shows as a dot there; its name starts past it.
      const past = Math.max(0, upper ? y - box.y0 + 0.5 : box.y1 - y + 0.5);
      const step = Math.max(past, indent(part, lead));
      const at = upper ? box.y0 + pad + step : box.y1 - pad - step;
      const length = Math.min(room, wanted) / scale;
      const [nearest, farthest] = upper ? [at, at + length] : [at - length, at];
      const { clear } = frame;
      if (!on && (nearest < clear.y - 0.4 || farthest > clear.y + clear.height + 0.4 || x < clear.x)) continue;
      const style = on && !frame.large ? Math.max(7.6, Math.min(size, 1.75 * scale)) : small;
      const cls = on ? ' class="on"' : chosen.dims && chosen.net !== undefined ? ' class="dim"' : '';
      pins += `<text${cls} transform="translate(${px(x)} ${px(at)})rotate(-90)" dy=".34em" text-anchor="${upper ? 'end' : 'start'}" style="font-size:${num(style)}px"${fit}>${escapeXml(lead.name)}</text>`;
    }
    if (lead.net !== undefined && (frame.large || (on && frame.level === 'mid')))
      nets += netOutside(lead, frame, on, upper, oneRow);
  }
  return { pins, nets };
}

/** The net's name beside its strip, between two columns, cut to the strip's length. */
function netOutside(lead: SceneLead, frame: Frame, on: boolean, upper: boolean, oneRow: boolean): string {
  if (!frame.large) return '';
  const { px, scale } = frame;
  const size = Math.min(1.05 * scale, 17);
  const up = oneRow ? lead.at.row >= 'f' : upper;
  const edge = up ? lead.strip.y0 : lead.strip.y1;
  const gap = 0.8;
  const room = (Math.abs(edge - lead.at.y) + 0.7 - gap) * scale;
  const name = lead.net ?? '';
  const wanted = monoWidth(name, size);
  // Set narrower to three quarters where that is enough, cut beyond; nothing rather than a scrap.
  const text = wanted * 0.75 <= room ? name : fitMono(name, size, room);
  if ([...text].length < Math.min(4, [...name].length)) return '';
  const fit = monoWidth(text, size) > room ? ` textLength="${num(room)}" lengthAdjust="spacingAndGlyphs"` : '';
  const y = up ? lead.at.y - gap : lead.at.y + gap;
  return `<text${on ? ' class="on"' : ''} data-net="${escapeXml(lead.net ?? '')}" transform="translate(${px(lead.at.x - PITCH * 0.42)} ${px(y)})rotate(-90)" dy=".34em" text-anchor="${up ? 'start' : 'end'}" style="font-size:${num(size)}px"${fit}>${escapeXml(text)}</text>`;
}

// ---------------------------------------------------------------------------------------------------------- other parts

/** Lengths in the part's own frame: x from the first lead to the last, y to the right of that line; px. */
function drawBody(part: ScenePart, frame: Frame): string {
  const { scale: s, px } = frame;
  const { cx, cy, angle, length, width, reach, shape } = part.outline;
  const f = (mm: number): string => num(mm * s);
  const l = length / 2;
  const w = width / 2;
  const r = reach / 2;
  const line = (d: string, cls = 'sign'): string => `<path class="${cls}" d="${d}"/>`;
  const box = (cls = 'body', a = l, b = w, round = 0): string =>
    `<rect class="${cls}" x="${f(-a)}" y="${f(-b)}" width="${f(2 * a)}" height="${f(2 * b)}"${round > 0 ? ` rx="${f(round)}"` : ''}/>`;
  const disc = (cls: string, radius: number): string => `<circle class="${cls}" r="${f(radius)}"/>`;
  const leads = r > l ? line(`M${f(-r)} 0H${f(-l)}M${f(l)} 0H${f(r)}`) : '';
  const plates = (gap: number, tall: number): string =>
    line(
      `M${f(-Math.max(r, gap))} 0H${f(-gap)}M${f(-gap)} ${f(-tall)}V${f(tall)}M${f(gap)} ${f(-tall)}V${f(tall)}M${f(gap)} 0H${f(Math.max(r, gap))}`,
    );
  // +1 where the first lead is the positive one (anode), -1 where the last is.
  const plus = part.leads.length < 2 ? 1 : pinRank(part.leads[0]!.name) >= pinRank(part.leads.at(-1)!.name) ? 1 : -1;
  // Points from anode to cathode.
  const arrow = (a: number): string =>
    line(`M${f(-a * plus)} ${f(-a)}V${f(a)}L${f(a * plus)} 0Z`, 'sign solid') +
    line(`M${f(a * plus)} ${f(-a)}V${f(a)}`);
  const value = part.known?.value ?? '';
  let inner: string;
  switch (shape) {
    case 'resistor':
      inner = leads + box() + valueText(compactValue(value), length, width, angle, frame);
      break;
    case 'fuse':
      inner = `${leads}${box()}${line(`M${f(-l)} 0H${f(l)}`)}`;
      break;
    case 'capacitor':
      inner = box('body', Math.max(l, r + 0.4), w, w) + plates(0.28, Math.min(0.8, w * 0.62));
      break;
    case 'electrolytic':
      inner =
        disc('body', l) +
        plates(0.3, l * 0.42) +
        line(
          `M${f(-plus * l * 0.62 - 0.45)} ${f(-l * 0.45)}h${f(0.9)}M${f(-plus * l * 0.62)} ${f(-l * 0.45 - 0.45)}v${f(0.9)}`,
        );
      break;
    case 'diode':
      inner = `${leads}${box()}${arrow(Math.min(0.75, w * 0.7))}`;
      break;
    case 'led': {
      const a = l * 0.34;
      const ray = (x: number): string =>
        `M${f(x)} ${f(-a * 1.25)}l${f(0.55)} ${f(-0.75)}m${f(-0.42)} ${f(0.12)}l${f(0.42)} ${f(-0.12)}l${f(0.05)} ${f(0.44)}`;
      // Flat side at the cathode, as on the part.
      const flat = plus * l * 0.82;
      const half = Math.sqrt(l * l - flat * flat);
      const rim = `<path class="body" d="M${f(flat)} ${f(-half)}A${f(l)} ${f(l)} 0 1 ${plus > 0 ? 0 : 1} ${f(flat)} ${f(half)}Z"/>`;
      inner = `${rim}${line(`M${f(-Math.max(r, a))} 0H${f(Math.max(r, a))}`)}${arrow(a)}${frame.level === 'far' ? '' : line(ray(-0.5) + ray(0.35))}`;
      break;
    }
    case 'crystal':
      inner = `${box('body', l, w, w)}${line(`M${f(-r)} 0H${f(-1)}M${f(-1)} ${f(-1.1)}V${f(1.1)}M${f(1)} ${f(-1.1)}V${f(1.1)}M${f(1)} 0H${f(r)}`)}${box('sign', 0.6, 1)}`;
      break;
    case 'button':
      inner = `${box()}${disc('sign', Math.min(l, w) * 0.56)}${line(`M${f(-0.9)} ${f(0.5)}h0M${f(-0.9)} ${f(0.5)}h${f(0.35)}M${f(0.55)} ${f(0.5)}h${f(0.35)}M${f(-0.8)} ${f(-0.15)}H${f(0.8)}M0 ${f(-0.15)}V${f(-0.75)}`)}`;
      break;
    case 'switch': {
      const xs = [...new Set(part.leads.map((lead) => lead.at.x - cx))];
      inner =
        box() +
        xs
          .map(
            (x) =>
              `<rect class="sign" x="${f(x - 0.6)}" y="${f(-w * 0.45)}" width="${f(1.2)}" height="${f(w * 0.9)}"/><path class="sign" d="M${f(x - 0.6)} 0h${f(1.2)}"/>`,
          )
          .join('');
      break;
    }
    case 'bar': {
      const xs = [...new Set(part.leads.map((lead) => Math.round((lead.at.x - cx) * 100) / 100))];
      inner =
        box() +
        xs
          .map((x) => `<rect class="sign" x="${f(x - 0.75)}" y="${f(-w * 0.5)}" width="${f(1.5)}" height="${f(w)}"/>`)
          .join('');
      break;
    }
    case 'digit': {
      const a = Math.min(l * 0.4, w * 0.32);
      const b = a * 1.7;
      const k = a * 0.12;
      inner =
        box() +
        line(
          `M${f(-a + b * k)} ${f(-b)}H${f(a + b * k)}L${f(a)} 0L${f(a - b * k)} ${f(b)}H${f(-a - b * k)}L${f(-a)} 0ZM${f(-a)} 0H${f(a)}`,
        );
      break;
    }
    case 'header': {
      const step = part.leads.length > 1 ? reach / (part.leads.length - 1) : PITCH;
      const bars = Array.from(
        { length: Math.max(0, part.leads.length - 1) },
        (_, i) => `M${f(-r + (i + 0.5) * step)} ${f(-w)}v${f(2 * w)}`,
      ).join('');
      inner = box() + (bars === '' ? '' : line(bars));
      break;
    }
    case 'to-92': {
      // Seen from above with the flat side towards the reader, leads count from the left (JEDEC TO-92 as makers draw it).
      const flat = w * 0.72;
      const half = l * 0.96;
      inner = `<path class="body" d="M${f(-half)} ${f(flat)}H${f(half)}A${f(l * 1.02)} ${f(l * 1.02)} 0 1 0 ${f(-half)} ${f(flat)}Z"/>`;
      break;
    }
    case 'to-220':
      inner = `${box()}${line(`M${f(-l)} ${f(-w + 1.3)}H${f(l)}`)}`;
      break;
    default:
      inner = leads + box() + valueText(compactValue(value), length, width, angle, frame);
  }
  const later = part.state === 'later';
  const dots = part.leads.map((lead) => `M${px(lead.at.x)} ${px(lead.at.y)}h0`).join('');
  const group = `<g transform="translate(${px(cx)} ${px(cy)})${angle === 0 ? '' : `rotate(${num(angle)})`}">${inner}</g>`;
  return `${group}<path class="dots" d="${dots}" style="stroke-width:${num((later ? 0.5 : 0.8) * s)}px"/>`;
}

/** The value in the body, along it, never upside down. */
function valueText(value: string, length: number, width: number, angle: number, frame: Frame): string {
  if (!frame.large || value === '') return '';
  const size = Math.min(width * 0.62, 1.3) * frame.scale;
  const text = sansWidth(value, size) <= length * frame.scale - 3 ? value : '';
  if (text === '') return '';
  const turned = angle > 45 || angle <= -135;
  return `<text class="val" text-anchor="middle" dy=".35em"${turned ? ' transform="rotate(180)"' : ''} style="font-size:${num(size)}px">${escapeXml(text)}</text>`;
}

/** `10 kohm` as `10k`, `100 nF` as `100n`: the form that fits on a small body. Anything else stays as it is. */
export function compactValue(value: string): string {
  const match = /^([\d.]+)\s*([pnumkMG]?)\s*(ohm|F|H)?$/.exec(value);
  return match === null ? value : `${match[1]}${match[2] === 'u' ? 'µ' : match[2]}`;
}

/** Where a small part's name may stand without lying on another part: right, left, above, below; else it is left out. */
function bodyName(part: ScenePart, frame: Frame, others: Rect[]): string {
  const { outline } = part;
  const { scale, px } = frame;
  const later = part.state === 'later';
  if (outline.shape === 'to-92' || outline.shape === 'to-220') {
    const size = frame.large ? 1.4 * scale : Math.min(10.5, 2.6 * scale);
    return `<text class="${frame.large ? 's b' : 'ref'}" x="${px(outline.cx)}" y="${px(outline.cy + 3.3)}" dy=".35em" text-anchor="middle" style="font-size:${num(size)}px">${escapeXml(part.name)}</text>`;
  }
  const body = outline.body;
  if (body === undefined) return '';
  if (later && frame.level !== 'far' && body.width > 9 && part.leads.length > 2) {
    const size = Math.min(frame.large ? 2 * scale : 11.5, body.height * 0.8 * scale);
    const room = body.width * scale - 4;
    const both = `${part.name} stage ${part.placed.stage}`;
    const text = sansWidth(both, size) <= room ? both : fitSans(part.name, size, room);
    return `<text class="ref" x="${px(outline.cx)}" y="${px(outline.cy)}" dy=".35em" text-anchor="middle" style="font-size:${num(size)}px">${escapeXml(text)}</text>`;
  }
  if (!frame.large || later) return '';
  const size = Math.min(1.05 * scale, 14);
  const w = sansWidth(part.name, size) / scale;
  const h = size / scale;
  const sides = [
    { x: body.x + body.width + 0.75, y: outline.cy - h / 2 },
    { x: body.x - 0.75 - w, y: outline.cy - h / 2 },
  ];
  const ends = [
    { x: outline.cx - w / 2, y: body.y - 0.3 - h },
    { x: outline.cx - w / 2, y: body.y + body.height + 0.3 },
  ];
  // Not on the part's own leads.
  const lying = Math.abs(Math.cos((outline.angle * Math.PI) / 180)) > 0.7 && outline.reach > outline.length;
  const spots = lying ? ends : [...sides, ...ends];
  const { clear } = frame;
  const free = spots.find(
    (spot) =>
      spot.x > clear.x &&
      spot.y > clear.y &&
      spot.x + w < clear.x + clear.width &&
      spot.y + h < clear.y + clear.height &&
      !others.some((o) => spot.x < o.x + o.width && spot.x + w > o.x && spot.y < o.y + o.height && spot.y + h > o.y),
  );
  if (free === undefined) return '';
  others.push({ ...free, width: w, height: h });
  return `<text class="s" x="${px(free.x)}" y="${px(free.y + h / 2)}" dy=".35em" style="font-size:${num(size)}px">${escapeXml(part.name)}</text>`;
}
