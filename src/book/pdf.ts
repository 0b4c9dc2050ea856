// The record as pages of paper: A4, upright for words and tables, lying for the boards. Places blocks and draws them on what
// the host gives: it has the PDF library and the letters.

import {
  type ChipLabel,
  COLOURS,
  drawingBox,
  paintDrawing,
  type PaintFont,
  type Painter,
  pageStyle,
} from '../drawing/index.ts';
import { type Block, type BookInput, bookContent, type Run } from './content.ts';

/** What a host's PDF library does for this page maker. Lengths in points, from the upper left corner. */
export interface Paper extends Painter {
  addPage(width: number, height: number): void;
  /** An entry of the outline that leads to the page now open. */
  outline(title: string, level: 0 | 1): void;
  /** The size of a photo in pixels, or undefined where it can't be printed. */
  photoSize(file: string): { readonly width: number; readonly height: number } | undefined;
  photo(file: string, x: number, y: number, width: number, height: number): void;
}

const PT = 72 / 25.4;
const SHORT = 210 * PT;
const LONG = 297 * PT;
const MARGIN = 16 * PT;
const FOOT = 12 * PT;
const { plain } = COLOURS.paper;
/** The page's sheet, with its colours on every drawing. */
const STYLE = pageStyle().replace(':root,[data-ground="paper"]', '.pb');
const INK = plain.ink!;
const QUIET = plain['ink-2']!;
const HAIR = plain.hair!;
const SIZE = 9.5;
const LEAD = 1.4;

const FONTS: Readonly<Record<NonNullable<Run['style']> | 'plain', { font: PaintFont; size: number; fill: string }>> = {
  plain: { font: 'sans', size: SIZE, fill: INK },
  strong: { font: 'sans-bold', size: SIZE, fill: INK },
  code: { font: 'mono', size: SIZE - 1, fill: INK },
  small: { font: 'sans', size: SIZE - 1, fill: QUIET },
};

/** Draws the whole record on `paper`; the number of pages. */
export function renderPdf(input: BookInput, paper: Paper): number {
  return new Press(input.design.name, paper).print(input);
}

class Press {
  readonly #name: string;
  readonly #paper: Paper;
  #pages = 0;
  /** A section's title that waits for its first drawing. */
  #title: string | undefined;
  #y = 0;
  #width = SHORT;
  #height = LONG;

  constructor(name: string, paper: Paper) {
    this.#name = name;
    this.#paper = paper;
  }

  print(input: BookInput): number {
    this.#page();
    this.#words(input.design.name, 'sans-bold', 26, INK);
    if (input.about !== undefined) this.#paragraph([{ text: input.about }], 0);
    this.#y += 6;
    const blocks = bookContent(input);
    blocks.forEach((block, i) => {
      this.#block(block, blocks[i + 1]);
    });
    return this.#pages;
  }

  #page(lying = false): void {
    this.#width = lying ? LONG : SHORT;
    this.#height = lying ? SHORT : LONG;
    this.#paper.addPage(this.#width, this.#height);
    this.#pages++;
    this.#y = MARGIN;
    const y = this.#height - FOOT + 8;
    this.#text(this.#name, MARGIN, y, 'sans', 8, QUIET);
    const number = String(this.#pages);
    this.#text(number, this.#width - MARGIN - this.#paper.textWidth(number, 'sans', 8), y, 'sans', 8, QUIET);
  }

  get #bottom(): number {
    return this.#height - MARGIN;
  }

  /** Begins a page where `height` is no longer free on this one. */
  #need(height: number): boolean {
    if (this.#y + height <= this.#bottom) return false;
    this.#page();
    return true;
  }

  #text(text: string, x: number, y: number, font: PaintFont, size: number, fill: string): void {
    this.#paper.text(text, x, y, { font, size, fill, halo: undefined, opacity: 1 });
  }

  #words(text: string, font: PaintFont, size: number, fill: string): void {
    this.#need(size * LEAD);
    this.#y += size;
    this.#text(this.#fit(text, font, size, this.#width - 2 * MARGIN), MARGIN, this.#y, font, size, fill);
    this.#y += size * (LEAD - 1) + 2;
  }

  #rule(y: number, colour: string, width: number): void {
    this.#paper.path(`M${MARGIN} ${y}H${this.#width - MARGIN}`, {
      fill: undefined,
      stroke: colour,
      width,
      cap: 'butt',
      join: 'miter',
      dash: [],
      opacity: 1,
    });
  }

  #section(title: string): void {
    this.#paper.outline(title, 0);
    this.#words(title, 'sans-bold', 16, INK);
    this.#rule(this.#y, INK, 0.8);
    this.#y += 8;
  }

  #block(block: Block, next: Block | undefined): void {
    switch (block.kind) {
      case 'section':
        // Drawings begin a page of their own, and take their section's title along.
        if (next?.kind === 'drawing') {
          this.#title = block.title;
          return;
        }
        if (this.#width !== SHORT || this.#y + (next?.kind === 'paragraph' ? 160 : 90) > this.#bottom) this.#page();
        else this.#y += 16;
        this.#section(block.title);
        return;
      case 'heading':
        if (this.#y + 60 > this.#bottom) this.#page();
        else this.#y += 8;
        this.#words(block.text, 'sans-bold', 11.5, INK);
        return;
      case 'paragraph':
        this.#paragraph(block.runs, 0);
        return;
      case 'list':
        block.items.forEach((item, i) => {
          this.#item(item.lines, block.from === undefined ? '' : `${block.from + i}`);
        });
        return;
      case 'table':
        this.#table(block);
        return;
      case 'drawing':
        this.#drawing(block.svg, block.caption);
        return;
      case 'labels':
        this.#labels(block.labels);
        return;
      case 'photo':
        this.#photo(block.file, block.caption);
    }
  }

  /** Lines of at most `room`, broken between words; a word longer than a line is broken where it must. */
  #lines(runs: readonly Run[], room: number): { text: string; style: keyof typeof FONTS; width: number }[][] {
    const lines: { text: string; style: keyof typeof FONTS; width: number }[][] = [[]];
    let used = 0;
    const put = (text: string, style: keyof typeof FONTS): void => {
      const { font, size } = FONTS[style];
      const width = this.#paper.textWidth(text, font, size);
      if (used > 0 && used + this.#paper.textWidth(text.trimEnd(), font, size) > room) {
        lines.push([]);
        used = 0;
      }
      if (used === 0 && width > room && [...text].length > 1) {
        const glyphs = [...text];
        let fits = glyphs.length - 1;
        while (fits > 1 && this.#paper.textWidth(glyphs.slice(0, fits).join(''), font, size) > room) fits--;
        put(glyphs.slice(0, fits).join(''), style);
        put(glyphs.slice(fits).join(''), style);
        return;
      }
      lines.at(-1)!.push({ text, style, width });
      used += width;
    };
    for (const run of runs)
      for (const word of run.text.match(/\S+\s*|\s+/g) ?? []) put(word.replace(/\s+/g, ' '), run.style ?? 'plain');
    return lines;
  }

  #paragraph(runs: readonly Run[], indent: number): void {
    for (const line of this.#lines(runs, this.#width - 2 * MARGIN - indent)) {
      this.#need(SIZE * LEAD);
      let x = MARGIN + indent;
      for (const { text, style, width } of line) {
        const { font, size, fill } = FONTS[style];
        this.#text(text, x, this.#y + SIZE, font, size, fill);
        x += width;
      }
      this.#y += SIZE * LEAD;
    }
  }

  #item(lines: readonly (readonly Run[])[], number: string): void {
    const indent = 26;
    this.#need(SIZE * LEAD * Math.min(2, lines.length));
    const [font, size]: [PaintFont, number] = ['sans', SIZE];
    if (number !== '')
      this.#text(
        number,
        MARGIN + indent - 6 - this.#paper.textWidth(number, font, size),
        this.#y + SIZE,
        font,
        size,
        QUIET,
      );
    else this.#text('–', MARGIN + indent - 12, this.#y + SIZE, font, size, QUIET);
    for (const line of lines) this.#paragraph(line, indent);
    this.#y += 1.5;
  }

  #fit(text: string, font: PaintFont, size: number, room: number): string {
    if (this.#paper.textWidth(text, font, size) <= room) return text;
    const glyphs = [...text];
    while (glyphs.length > 1 && this.#paper.textWidth(`${glyphs.join('')}…`, font, size) > room) glyphs.pop();
    return `${glyphs.join('')}…`;
  }

  #table(table: Extract<Block, { kind: 'table' }>): void {
    const gap = 12;
    const fontOf = (column: number): PaintFont => (table.mono?.includes(column) ? 'mono' : 'sans');
    const size = SIZE - 1;
    const natural = table.head.map((head, column) =>
      table.rows.reduce(
        (most, row) => Math.max(most, this.#paper.textWidth(row[column] ?? '', fontOf(column), size)),
        this.#paper.textWidth(head, 'sans-bold', size),
      ),
    );
    const room = this.#width - 2 * MARGIN - gap * (natural.length - 1);
    const widths = shareRoom(natural, room);
    const row = (cells: readonly string[], isHead: boolean): void => {
      this.#y += size * 1.3;
      let x = MARGIN;
      cells.forEach((text, column) => {
        const font = isHead ? 'sans-bold' : fontOf(column);
        const shown = this.#fit(text, font, size, widths[column]! + 0.01);
        const at = table.right?.includes(column) ? x + widths[column]! - this.#paper.textWidth(shown, font, size) : x;
        this.#text(shown, at, this.#y, font, size, INK);
        x += widths[column]! + gap;
      });
      this.#y += 4;
      this.#rule(this.#y, isHead ? INK : HAIR, isHead ? 0.7 : 0.4);
    };
    this.#need(60);
    row(table.head, true);
    for (const cells of table.rows) {
      if (this.#need(size * 1.3 + 4)) row(table.head, true);
      row(cells, false);
    }
    this.#y += 8;
  }

  #drawing(svg: string, caption: string): void {
    const box = drawingBox(svg);
    // The way up that shows it larger, and nothing larger than life.
    const lyingScale = Math.min((LONG - 2 * MARGIN) / box.width, (SHORT - 2 * MARGIN - 20) / box.height);
    const uprightScale = Math.min((SHORT - 2 * MARGIN) / box.width, (LONG - 2 * MARGIN - 20) / box.height);
    this.#page(lyingScale > uprightScale);
    if (this.#title !== undefined) this.#section(this.#title);
    this.#title = undefined;
    this.#paper.outline(caption.split(':')[0]!, 1);
    this.#words(caption, 'sans-bold', 11, INK);
    const scale = Math.min((this.#width - 2 * MARGIN) / box.width, (this.#bottom - this.#y) / box.height);
    this.#place(svg, MARGIN, this.#y, scale);
    this.#y = this.#bottom;
  }

  #place(svg: string, x: number, y: number, scale: number): void {
    const box = drawingBox(svg);
    this.#paper.save();
    this.#paper.transform(scale, 0, 0, scale, x - box.x * scale, y - box.y * scale);
    paintDrawing(svg, this.#paper, STYLE);
    this.#paper.restore();
  }

  /** True scale: one mm of the label is one mm of paper. */
  #labels(labels: readonly ChipLabel[]): void {
    let x = MARGIN;
    let tall = 0;
    for (const label of labels) {
      const width = Math.max(label.width * PT, this.#paper.textWidth(`${label.part}, ${label.type}`, 'sans', 7));
      const height = label.height * PT + 16;
      if (x > MARGIN && x + width > this.#width - MARGIN) {
        x = MARGIN;
        this.#y += tall + 8;
        tall = 0;
      }
      if (this.#need(height)) x = MARGIN;
      this.#place(label.svg, x, this.#y, PT);
      this.#text(`${label.part}, ${label.type}`, x, this.#y + label.height * PT + 9, 'sans', 7, QUIET);
      x += width + 14;
      tall = Math.max(tall, height);
    }
    this.#y += tall + 8;
  }

  #photo(file: string, caption: string): void {
    const size = this.#paper.photoSize(file);
    if (size === undefined) {
      this.#paragraph([{ text: `${caption === '' ? 'A photo' : caption}: ` }, { text: file, style: 'code' }], 0);
      return;
    }
    const scale = Math.min((this.#width - 2 * MARGIN) / size.width, (110 * PT) / size.height, 1);
    this.#need(size.height * scale + 20);
    this.#paper.photo(file, MARGIN, this.#y, size.width * scale, size.height * scale);
    this.#y += size.height * scale + 2;
    if (caption !== '') this.#paragraph([{ text: caption, style: 'small' }], 0);
    this.#y += 6;
  }
}

/** Columns as wide as they want where there is room; else the widest give way first. */
function shareRoom(natural: readonly number[], room: number): number[] {
  const widths = [...natural];
  let over = widths.reduce((sum, width) => sum + width, 0) - room;
  while (over > 0.01) {
    const most = Math.max(...widths);
    const wide = widths.filter((width) => width >= most - 0.01).length;
    const next = Math.max(0, ...widths.filter((width) => width < most - 0.01));
    const cut = Math.min(most - next, over / wide);
    for (let i = 0; i < widths.length; i++) if (widths[i]! >= most - 0.01) widths[i]! -= cut;
    over -= cut * wide;
  }
  return widths;
}
