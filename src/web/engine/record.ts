// The record: the book as a page, tables that export as CSV, chip labels at true scale.

import { cuttingList, netlistAt, pageOf } from '../../app/index.ts';
import { compareNatural } from '../../base/index.ts';
import { chipLabels, escapeXml, renderBoards } from '../../drawing/index.ts';
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

/** Labels for chips at true scale, each with its caption. */
export function labels(bench: Bench, ask: Asks['labels'][0]): string {
  return chipLabels(netlistAt(bench.build.design(), ask.stage))
    .map(
      ({ part, type, svg }) => `<figure>${svg}<figcaption>${escapeXml(part)}, ${escapeXml(type)}</figcaption></figure>`,
    )
    .join('');
}
