// Labels for chips at true scale, to print, cut out and lay on: every pin's name at its pin, pin 1 at the cut corner.

import { compareNatural } from '../base/index.ts';
import type { Netlist } from '../netlist/index.ts';
import { escapeXml, fitMono } from './text.ts';

const PITCH = 2.54;

export interface ChipLabel {
  readonly part: string;
  readonly type: string;
  /** Size on paper, mm. */
  readonly width: number;
  readonly height: number;
  readonly svg: string;
}

/** A label for each chip in a dual in-line package of eight pins or more, by name. */
export function chipLabels(netlist: Netlist): readonly ChipLabel[] {
  return netlist.parts
    .filter((part) => part.record.package.kind === 'dip' && part.pins.length >= 8)
    .sort((a, b) => compareNatural(a.name, b.name))
    .map((part) => {
      const half = part.record.package.pins / 2;
      const width = round(half * PITCH - 0.6);
      const height = round(((part.record.package.width ?? 300) / 1000) * 25.4 - 1.7);
      return { part: part.name, type: part.type, width, height, svg: draw(part, half, width, height) };
    });
}

const round = (mm: number): number => Math.round(mm * 1000) / 1000;

function draw(part: Netlist['parts'][number], half: number, wide: number, tall: number): string {
  const names = new Map(part.record.pins.map((pin) => [pin.number, pin.name]));
  // Narrow chips have room for four letters a side at a size that can still be read.
  const size = tall < 8 ? 1.05 : 1.5;
  const room = tall / 2 - (tall < 8 ? 0.45 : 0.9);
  let out = `<path d="M0 0H${wide}V${tall}H1.6L0 ${round(tall - 1.6)}Z" fill="#ffffff" stroke="#000000" stroke-width="0.15"/>`;
  for (let i = 0; i < half; i++) {
    const x = round(i * PITCH + PITCH / 2 - 0.3);
    const low = fitMono(names.get(i + 1) ?? '', size, room);
    const high = fitMono(names.get(2 * half - i) ?? '', size, room);
    out += `<text transform="translate(${x} ${round(tall - 0.4)})rotate(-90)" dy="0.35em" font-size="${size}">${escapeXml(low)}</text>`;
    out += `<text transform="translate(${x} 0.4)rotate(-90)" dy="0.35em" text-anchor="end" font-size="${size}">${escapeXml(high)}</text>`;
  }
  if (tall > 8)
    out += `<text x="${wide / 2}" y="${tall / 2}" dy="0.35em" text-anchor="middle" font-size="2.2" font-weight="700">${escapeXml(part.name)} <tspan font-weight="400" font-size="1.6">${escapeXml(part.type)}</tspan></text>`;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${wide}mm" height="${tall}mm" viewBox="0 0 ${wide} ${tall}" role="img" aria-label="Label of ${escapeXml(part.name)}" font-family="'Atkinson Hyperlegible Mono',monospace">${out}</svg>`;
}
