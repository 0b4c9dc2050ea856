// Paper for the record, by the PDF library: the two type families go into the file, drawings stay lines and letters.

import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import PDFDocument from 'pdfkit';
import { type BookInput, Build, bookInputOf, type Paper, renderPdf, type Shipped } from '../app/index.ts';
import { openProject } from './host.ts';

const FILES = {
  sans: 'next-400.woff',
  'sans-bold': 'next-700.woff',
  mono: 'mono-400.woff',
  'mono-bold': 'mono-700.woff',
} as const;

/** Photos above this are named and not printed: a book is to be sent and kept. */
const LARGEST_PHOTO = 12 * 1024 * 1024;

/**
 * The record as a PDF file. `root` is where the program is installed, `photos` the build's folder on the disk. Same input, same
 * bytes: the file's date is that of the last act in the journal.
 */
export function makePdf(input: BookInput, root: string, photos: string): Promise<Buffer> {
  const last = input.records.at(-1)?.time;
  const doc = new PDFDocument({
    autoFirstPage: false,
    margin: 0,
    pdfVersion: '1.7',
    lang: 'en',
    info: {
      Title: input.design.name,
      Creator: 'Proofboard',
      CreationDate: new Date(last === undefined ? 0 : Date.parse(last)),
    },
  });
  const parts: Buffer[] = [];
  const whole = new Promise<Buffer>((resolve, reject) => {
    doc.on('data', (part: Buffer) => parts.push(part));
    doc.on('end', () => resolve(Buffer.concat(parts)));
    doc.on('error', reject);
  });
  for (const [name, file] of Object.entries(FILES)) doc.registerFont(name, join(root, 'dist', 'fonts', file));
  renderPdf(input, paperOn(doc, photos));
  doc.end();
  return whole;
}

function paperOn(doc: PDFKit.PDFDocument, photos: string): Paper {
  const widths = new Map<string, number>();
  const images = new Map<string, PDFKit.Mixins.ImageSrc | undefined>();
  /** JPEG and PNG can be printed; a photo that is damaged or of another kind is named instead. */
  const imageOf = (file: string): (PDFKit.Mixins.ImageSrc & { width: number; height: number }) | undefined => {
    if (!images.has(file)) {
      let image: PDFKit.Mixins.ImageSrc | undefined;
      const path = join(photos, file);
      if (/^photos\/[\w.-]+\.(?:jpg|png)$/.test(file) && existsSync(path)) {
        const bytes = readFileSync(path);
        if (bytes.length <= LARGEST_PHOTO) image = opened(doc, bytes);
      }
      images.set(file, image);
    }
    return images.get(file) as (PDFKit.Mixins.ImageSrc & { width: number; height: number }) | undefined;
  };
  const level: (PDFKit.PDFOutline | undefined)[] = [];
  return {
    save: () => {
      doc.save();
    },
    restore: () => {
      doc.restore();
    },
    transform: (a, b, c, d, e, f) => {
      doc.transform(a, b, c, d, e, f);
    },
    path: (data, paint) => {
      doc.path(data);
      doc.lineWidth(paint.width).lineCap(paint.cap).lineJoin(paint.join);
      if (paint.dash.length > 1) doc.dash(paint.dash[0]!, { space: paint.dash[1]! });
      doc.opacity(paint.opacity);
      if (paint.fill !== undefined && paint.stroke !== undefined) doc.fillAndStroke(paint.fill, paint.stroke);
      else if (paint.fill !== undefined) doc.fill(paint.fill);
      else if (paint.stroke !== undefined) doc.stroke(paint.stroke);
      if (paint.dash.length > 1) doc.undash();
    },
    text: (text, x, y, paint) => {
      doc.font(paint.font).fontSize(paint.size).opacity(paint.opacity);
      const how = { lineBreak: false, baseline: 'alphabetic' } as const;
      if (paint.halo !== undefined) {
        doc.lineWidth(paint.halo.width).lineJoin('round').strokeColor(paint.halo.colour);
        doc.text(text, x, y, { ...how, stroke: true, fill: false });
      }
      doc.fillColor(paint.fill).text(text, x, y, how);
    },
    textWidth: (text, font, size) => {
      const key = `${font} ${text}`;
      let width = widths.get(key);
      if (width === undefined) {
        width = doc.font(font).fontSize(1000).widthOfString(text) / 1000;
        widths.set(key, width);
      }
      return width * size;
    },
    addPage: (width, height) => {
      doc.addPage({ size: [width, height], margin: 0 });
    },
    outline: (title, depth) => {
      const above = depth === 0 ? doc.outline : (level[0] ?? doc.outline);
      level[depth] = above.addItem(title);
    },
    photoSize: (file) => {
      const image = imageOf(file);
      return image === undefined ? undefined : { width: image.width, height: image.height };
    },
    photo: (file, x, y, width, height) => {
      const image = imageOf(file);
      if (image !== undefined) doc.image(image, x, y, { width, height });
    },
  };
}

/** A photo as the library reads it; undefined where it is damaged, which leaves its name in the record. */
function opened(doc: PDFKit.PDFDocument, bytes: Buffer): PDFKit.Mixins.ImageSrc | undefined {
  // The library's types leave this method of its out; `image` takes what it gives.
  const reader = doc as unknown as { openImage(bytes: Buffer): PDFKit.Mixins.ImageSrc };
  try {
    return reader.openImage(bytes);
  } catch {
    return undefined;
  }
}

/** The record of a build of the project at `path`, as its files are now; undefined where it can't be opened. */
export async function bookPdf(
  path: string,
  name: string,
  shipped: Shipped,
  root: string,
): Promise<Uint8Array | undefined> {
  const opened = openProject(path, shipped);
  if (typeof opened === 'string') return undefined;
  const build = new Build(opened.project, name);
  return makePdf(bookInputOf(build), root, join(opened.folder, build.folder));
}
