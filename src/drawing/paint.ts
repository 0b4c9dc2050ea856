// A drawing as strokes and words for a renderer that knows no style sheets, such as a PDF writer. It reads the SVG text that
// this folder makes: its elements, its classes and its one style sheet; what it doesn't know it refuses, so that nothing is
// lost in silence.

import { SaxesParser } from 'saxes';
import { bug } from '../base/index.ts';

export type PaintFont = 'sans' | 'sans-bold' | 'mono' | 'mono-bold';

/** How a path is drawn. Colours are `#rrggbb`; absent is not drawn. Lengths in the drawing's units. */
export interface PathPaint {
  readonly fill: string | undefined;
  readonly stroke: string | undefined;
  readonly width: number;
  readonly cap: 'butt' | 'round' | 'square';
  readonly join: 'miter' | 'round' | 'bevel';
  readonly dash: readonly number[];
  /** 0 to 1. */
  readonly opacity: number;
}

export interface TextPaint {
  readonly font: PaintFont;
  readonly size: number;
  readonly fill: string;
  /** A line around the letters, drawn before them. */
  readonly halo: { readonly colour: string; readonly width: number } | undefined;
  readonly opacity: number;
}

/** What a renderer does. A path is SVG path data; text stands on its baseline, from x to the right. */
export interface Painter {
  save(): void;
  restore(): void;
  transform(a: number, b: number, c: number, d: number, e: number, f: number): void;
  path(data: string, paint: PathPaint): void;
  text(text: string, x: number, y: number, paint: TextPaint): void;
  textWidth(text: string, font: PaintFont, size: number): number;
}

export interface DrawingBox {
  readonly x: number;
  readonly y: number;
  readonly width: number;
  readonly height: number;
}

interface Element {
  readonly name: string;
  readonly attributes: Readonly<Record<string, string>>;
  readonly children: (Element | string)[];
}

interface Rule {
  /** Compounds from the outermost in. */
  readonly path: readonly { readonly tag: string; readonly classes: readonly string[] }[];
  readonly declarations: readonly (readonly [name: string, value: string, important: boolean])[];
  readonly weight: number;
}

type Style = Readonly<Record<string, string>>;

const INHERITED = new Set([
  'fill',
  'stroke',
  'stroke-width',
  'stroke-linecap',
  'stroke-linejoin',
  'stroke-dasharray',
  'font-family',
  'font-size',
  'font-weight',
  'text-anchor',
  'paint-order',
]);
const START: Style = {
  fill: '#000000',
  stroke: 'none',
  'stroke-width': '1',
  'stroke-linecap': 'butt',
  'stroke-linejoin': 'miter',
  'font-size': '16px',
  'font-weight': '400',
  'text-anchor': 'start',
};
const PRESENTATION = new Set([...INHERITED, 'opacity', 'display']);
const SILENT = new Set(['title', 'desc', 'style']);

/** The box of a drawing: its `viewBox`. */
export function drawingBox(svg: string): DrawingBox {
  const [x, y, width, height] = (/viewBox="([^"]+)"/.exec(svg)?.[1] ?? '').split(/[\s,]+/).map(Number);
  if (width === undefined || height === undefined || !(width > 0) || !(height > 0))
    bug('a drawing without a viewBox was to be painted');
  return { x: x!, y: y!, width, height };
}

/** Paints a drawing in its own units. `style` is the sheet of a page, for a drawing that doesn't carry its own. */
export function paintDrawing(svg: string, painter: Painter, style = ''): void {
  const root = parse(svg);
  const rules = readStyle(`${style}\n${textOf(root, 'style')}`);
  paint(root, [], START, 1, rules, painter);
}

function parse(svg: string): Element {
  const parser = new SaxesParser();
  const top: Element = { name: '', attributes: {}, children: [] };
  const stack = [top];
  parser.on('opentag', (tag) => {
    const element: Element = { name: tag.name, attributes: tag.attributes as Record<string, string>, children: [] };
    stack.at(-1)!.children.push(element);
    stack.push(element);
  });
  parser.on('closetag', () => {
    stack.pop();
  });
  parser.on('text', (text) => stack.at(-1)!.children.push(text));
  parser.write(svg).close();
  const root = top.children.find((child): child is Element => typeof child !== 'string');
  return root ?? bug('a drawing without an element was to be painted');
}

function textOf(element: Element, name: string): string {
  return element.children
    .map((child) => (typeof child === 'string' ? (element.name === name ? child : '') : textOf(child, name)))
    .join('');
}

function readStyle(css: string): readonly Rule[] {
  const rules: Rule[] = [];
  for (const match of css.replace(/\/\*[\s\S]*?\*\//g, '').matchAll(/([^{}]+)\{([^{}]*)\}/g)) {
    const declarations = match[2]!
      .split(';')
      .filter((text) => text.includes(':'))
      .map((text) => {
        const at = text.indexOf(':');
        const value = text.slice(at + 1).trim();
        const important = value.endsWith('!important');
        return [text.slice(0, at).trim(), important ? value.slice(0, -10).trim() : value, important] as const;
      });
    for (const selector of match[1]!.split(',')) {
      const path = selector
        .trim()
        .split(/\s+/)
        .map((compound) => {
          const plain = /^([a-z]*)((?:\.[\w-]+)*)$/.exec(compound);
          return plain === null ? undefined : { tag: plain[1]!, classes: plain[2]!.split('.').slice(1) };
        });
      // What selects by something else than names and classes is for a page around the drawing.
      if (path.some((compound) => compound === undefined)) continue;
      const whole = path as Rule['path'];
      const weight = whole.reduce((sum, { tag, classes }) => sum + classes.length * 100 + (tag === '' ? 0 : 1), 0);
      rules.push({ path: whole, declarations, weight });
    }
  }
  return rules;
}

const classesOf = (element: Element): readonly string[] =>
  (element.attributes.class ?? '').split(/\s+/).filter(Boolean);

function fits(rule: Rule, element: Element, above: readonly Element[]): boolean {
  const one = (compound: Rule['path'][number], candidate: Element): boolean =>
    (compound.tag === '' || compound.tag === candidate.name) &&
    compound.classes.every((name) => classesOf(candidate).includes(name));
  let at = rule.path.length - 1;
  if (!one(rule.path[at]!, element)) return false;
  for (let i = above.length - 1; i >= 0 && at > 0; i--) if (one(rule.path[at - 1]!, above[i]!)) at--;
  return at === 0;
}

function styleOf(element: Element, above: readonly Element[], parent: Style, rules: readonly Rule[]): Style {
  const own: Record<string, string> = {};
  for (const [name, value] of Object.entries(parent))
    if (INHERITED.has(name) || name.startsWith('--')) own[name] = value;
  for (const [name, value] of Object.entries(element.attributes)) if (PRESENTATION.has(name)) own[name] = value;
  const met = rules
    .map((rule, order) => ({ rule, order }))
    .filter(({ rule }) => fits(rule, element, above))
    .sort((a, b) => a.rule.weight - b.rule.weight || a.order - b.order);
  const inline = (element.attributes.style ?? '')
    .split(';')
    .filter((text) => text.includes(':'))
    .map((text) => [text.slice(0, text.indexOf(':')).trim(), text.slice(text.indexOf(':') + 1).trim()] as const);
  for (const { rule } of met)
    for (const [name, value, important] of rule.declarations) if (!important) own[name] = value;
  for (const [name, value] of inline) own[name] = value;
  for (const { rule } of met)
    for (const [name, value, important] of rule.declarations) if (important) own[name] = value;
  return own;
}

/** The value with its variables put in, or undefined where one is not set. */
function resolve(style: Style, name: string, depth = 0): string | undefined {
  const value = style[name];
  if (value === undefined || depth > 8) return undefined;
  let isWhole = true;
  const text = value.replace(/var\((--[\w-]+)\)/g, (_, variable: string) => {
    const inner = resolve(style, variable, depth + 1);
    if (inner === undefined) isWhole = false;
    return inner ?? '';
  });
  return isWhole ? text : undefined;
}

function colour(style: Style, name: 'fill' | 'stroke'): string | undefined {
  const value = resolve(style, name)?.toLowerCase();
  if (value === undefined || value === 'none' || value === 'transparent') return undefined;
  if (/^#[0-9a-f]{6}$/.test(value)) return value;
  if (/^#[0-9a-f]{3}$/.test(value)) return `#${[...value.slice(1)].map((digit) => digit + digit).join('')}`;
  return bug(`a drawing has the colour ${value}, which is no #rrggbb`);
}

const length = (text: string | undefined, other: number): number => {
  const value = Number.parseFloat(text ?? '');
  return Number.isFinite(value) ? value : other;
};

function pathPaint(style: Style, opacity: number): PathPaint {
  const cap = resolve(style, 'stroke-linecap');
  const join = resolve(style, 'stroke-linejoin');
  const dash = (resolve(style, 'stroke-dasharray') ?? '').split(/[\s,]+/).map(Number);
  return {
    fill: colour(style, 'fill'),
    stroke: colour(style, 'stroke'),
    width: length(resolve(style, 'stroke-width'), 1),
    cap: cap === 'round' || cap === 'square' ? cap : 'butt',
    join: join === 'round' || join === 'bevel' ? join : 'miter',
    dash: dash.length > 1 && dash.every((part) => Number.isFinite(part)) ? dash : [],
    opacity,
  };
}

function fontOf(style: Style): PaintFont {
  const family = /mono/i.test(resolve(style, 'font-family') ?? 'mono') ? 'mono' : 'sans';
  const weight = resolve(style, 'font-weight') ?? '400';
  return weight === 'bold' || Number(weight) >= 600 ? `${family}-bold` : family;
}

const num = (element: Element, name: string, other = 0): number => length(element.attributes[name], other);
const n = (value: number): string => String(Math.round(value * 1e4) / 1e4);

/** Path data of a rectangle, circle or line. */
function shape(element: Element): string {
  if (element.name === 'path') return element.attributes.d ?? '';
  if (element.name === 'line')
    return `M${num(element, 'x1')} ${num(element, 'y1')}L${num(element, 'x2')} ${num(element, 'y2')}`;
  if (element.name === 'circle') {
    const [x, y, r] = [num(element, 'cx'), num(element, 'cy'), num(element, 'r')];
    return `M${n(x - r)} ${n(y)}A${n(r)} ${n(r)} 0 1 0 ${n(x + r)} ${n(y)}A${n(r)} ${n(r)} 0 1 0 ${n(x - r)} ${n(y)}Z`;
  }
  const [x, y, w, h] = [num(element, 'x'), num(element, 'y'), num(element, 'width'), num(element, 'height')];
  const r = Math.min(num(element, 'rx', num(element, 'ry')), w / 2, h / 2);
  if (r <= 0) return `M${n(x)} ${n(y)}H${n(x + w)}V${n(y + h)}H${n(x)}Z`;
  const arc = (dx: number, dy: number): string => `A${n(r)} ${n(r)} 0 0 1 ${n(dx)} ${n(dy)}`;
  return `M${n(x + r)} ${n(y)}H${n(x + w - r)}${arc(x + w, y + r)}V${n(y + h - r)}${arc(x + w - r, y + h)}H${n(x + r)}${arc(x, y + h - r)}V${n(y + r)}${arc(x + r, y)}Z`;
}

function applyTransform(text: string, painter: Painter): void {
  let rest = text.trim();
  while (rest !== '') {
    const match = /^(translate|scale|rotate|matrix)\(([^)]*)\)[\s,]*/.exec(rest);
    if (match === null) bug(`a drawing has the transform ${text}`);
    const [a = 0, b, c, d, e, f] = match[2]!
      .trim()
      .split(/[\s,]+/)
      .map(Number);
    if (match[1] === 'translate') painter.transform(1, 0, 0, 1, a, b ?? 0);
    else if (match[1] === 'scale') painter.transform(a, 0, 0, b ?? a, 0, 0);
    else if (match[1] === 'matrix') painter.transform(a, b!, c!, d!, e!, f!);
    else {
      const angle = (a * Math.PI) / 180;
      const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
      const [x, y] = [b ?? 0, c ?? 0];
      painter.transform(cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y);
    }
    rest = rest.slice(match[0].length);
  }
}

function paint(
  element: Element,
  above: readonly Element[],
  parent: Style,
  faded: number,
  rules: readonly Rule[],
  painter: Painter,
): void {
  if (SILENT.has(element.name)) return;
  const style = styleOf(element, above, parent, rules);
  if (style.display === 'none') return;
  const opacity = faded * length(resolve(style, 'opacity'), 1);
  const moved = element.attributes.transform;
  if (moved !== undefined) {
    painter.save();
    applyTransform(moved, painter);
  }
  if (element.name === 'g' || element.name === 'svg') {
    for (const child of element.children)
      if (typeof child !== 'string') paint(child, [...above, element], style, opacity, rules, painter);
  } else if (element.name === 'text') words(element, above, style, opacity, rules, painter);
  else if (['path', 'line', 'circle', 'rect'].includes(element.name)) {
    const how = pathPaint(style, opacity);
    const data = shape(element);
    if (data !== '' && (how.fill !== undefined || (how.stroke !== undefined && how.width > 0))) painter.path(data, how);
  } else bug(`a drawing holds <${element.name}>, which can't be painted`);
  if (moved !== undefined) painter.restore();
}

/** A text and its spans as one line, from its anchor. */
function words(
  element: Element,
  above: readonly Element[],
  style: Style,
  opacity: number,
  rules: readonly Rule[],
  painter: Painter,
): void {
  const runs: { text: string; dx: number; paint: TextPaint; width: number }[] = [];
  const add = (text: string, own: Style, dx: number, faded: number): void => {
    const said = text.replace(/\s+/g, ' ');
    if (said === '') return;
    const size = length(resolve(own, 'font-size'), 16);
    const font = fontOf(own);
    const halo = (own['paint-order'] ?? '').startsWith('stroke') ? colour(own, 'stroke') : undefined;
    runs.push({
      text: said,
      dx,
      width: painter.textWidth(said, font, size),
      paint: {
        font,
        size,
        fill: colour(own, 'fill') ?? '#000000',
        halo: halo === undefined ? undefined : { colour: halo, width: length(resolve(own, 'stroke-width'), 1) },
        opacity: faded,
      },
    });
  };
  for (const child of element.children)
    if (typeof child === 'string') add(child, style, 0, opacity);
    else if (child.name === 'tspan') {
      const own = styleOf(child, [...above, element], style, rules);
      if (own.display === 'none') continue;
      add(textOf(child, 'tspan'), own, num(child, 'dx'), opacity * length(resolve(own, 'opacity'), 1));
    }
  const whole = runs.reduce((sum, run) => sum + run.dx + run.width, 0);
  const anchor = resolve(style, 'text-anchor');
  const size = length(resolve(style, 'font-size'), 16);
  const dy = element.attributes.dy ?? '';
  let x = num(element, 'x') - (anchor === 'middle' ? whole / 2 : anchor === 'end' ? whole : 0);
  const y = num(element, 'y') + (dy.endsWith('em') ? length(dy, 0) * size : length(dy, 0));
  for (const run of runs) {
    x += run.dx;
    painter.text(run.text, x, y, run.paint);
    x += run.width;
  }
}
