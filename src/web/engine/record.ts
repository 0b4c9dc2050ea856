// The record: the book as a page, tables that export as CSV, chip labels at true scale.

import { cuttingList, netlistAt, pageOf } from '../../app/index.ts';
import { compareNatural } from '../../base/index.ts';
import { escapeXml, fitMono, renderBoards } from '../../drawing/index.ts';
import type { Asks } from '../protocol.ts';
import type { Bench } from './bench.ts';
import { wiresAt } from './panels.ts';

export function book(bench: Bench): string {
  return pageOf(bench.build);
}

/** One stage's boards as a drawing that stands alone. */
export function stageSvg(bench: Bench, ask: Asks['stageSvg'][0]): string {
  const scene = bench.scene(ask.stage);
  if (scene === undefined) return '';
  const { design, layout, stage } = scene.input;
  return renderBoards({ design, layout, stage, scene, scale: 6, ground: ask.ground });
}

/** A table with its head, for CSV. */
export function table(bench: Bench, ask: Asks['table'][0]): readonly (readonly string[])[] {
  const at = wiresAt(bench, ask.stage);
  const netlist = netlistAt(bench.build.design(), ask.stage);
  const built = bench.build.built().value;
  switch (ask.which) {
    case 'wires':
      return [
        ['wire', 'net', 'from', 'to', 'cut mm', 'colour', 'style', 'stage', 'state'],
        ...at.wires.map((wire) => [
          wire.id,
          wire.net,
          wire.from,
          wire.to,
          String(wire.cutMm),
          wire.colour,
          wire.style,
          String(wire.stage),
          built.wires.has(wire.id) ? 'in' : 'to come',
        ]),
      ];
    case 'parts':
      return [
        ['part', 'type', 'grade', 'value', 'stage', 'first lead', 'state'],
        ...[...netlist.parts]
          .sort((a, b) => compareNatural(a.name, b.name))
          .map((part) => [
            part.name,
            part.type,
            part.grade ?? '',
            part.value ?? '',
            String(part.stage),
            at.parts.find((placed) => placed.part === part.name)?.leads[0]?.hole ?? '',
            built.parts.has(part.name) ? 'in' : 'to come',
          ]),
      ];
    case 'steps':
      return [
        ['step', 'stage', 'group', 'what'],
        ...(bench.build.plan(ask.stage)?.value.steps ?? []).map((step) => [
          step.id,
          String(step.stage),
          step.group,
          step.text,
        ]),
      ];
    case 'cut':
      return [
        ['colour', 'cut mm', 'pieces'],
        ...cuttingList(bench.build.plan(ask.stage)?.value.steps ?? []).rows.map((row) => [
          row.colour,
          String(row.cutMm),
          String(row.count),
        ]),
      ];
  }
}

const PITCH = 2.54;

/** Labels for chips at true scale, to print and glue on: every pin's name at its pin, pin 1 at the cut corner. */
export function labels(bench: Bench, ask: Asks['labels'][0]): string {
  const netlist = netlistAt(bench.build.design(), ask.stage);
  const chips = netlist.parts
    .filter((part) => part.record.package.kind === 'dip' && part.pins.length >= 8)
    .sort((a, b) => compareNatural(a.name, b.name));
  const one = (part: (typeof chips)[number]): string => {
    const half = part.record.package.pins / 2;
    const wide = half * PITCH - 0.6;
    const tall = ((part.record.package.width ?? 300) / 1000) * 25.4 - 1.7;
    const names = new Map(part.record.pins.map((pin) => [pin.number, pin.name]));
    // Narrow chips have room for four letters a side at a size that can still be read.
    const size = tall < 8 ? 1.05 : 1.5;
    let out = `<path d="M0 0H${wide}V${tall}H1.6L0 ${tall - 1.6}Z" fill="#fff" stroke="#000" stroke-width=".15"/>`;
    for (let i = 0; i < half; i++) {
      const x = i * PITCH + PITCH / 2 - 0.3;
      const room = tall / 2 - (tall < 8 ? 0.45 : 0.9);
      const low = fitMono(names.get(i + 1) ?? '', size, room);
      const high = fitMono(names.get(2 * half - i) ?? '', size, room);
      out += `<text transform="translate(${x} ${tall - 0.4})rotate(-90)" dy=".35em" font-size="${size}">${escapeXml(low)}</text>`;
      out += `<text transform="translate(${x} .4)rotate(-90)" dy=".35em" text-anchor="end" font-size="${size}">${escapeXml(high)}</text>`;
    }
    const title =
      tall > 8
        ? `<text x="${wide / 2}" y="${tall / 2}" dy=".35em" text-anchor="middle" font-size="2.2" font-weight="700">${escapeXml(part.name)} <tspan font-weight="400" font-size="1.6">${escapeXml(part.type)}</tspan></text>`
        : '';
    return `<figure><svg xmlns="http://www.w3.org/2000/svg" width="${wide}mm" height="${tall}mm" viewBox="0 0 ${wide} ${tall}" role="img" aria-label="Label of ${escapeXml(part.name)}" style="font-family:'Atkinson Hyperlegible Mono',monospace">${out}${title}</svg><figcaption>${escapeXml(part.name)}, ${escapeXml(part.type)}</figcaption></figure>`;
  };
  return chips.map(one).join('');
}
