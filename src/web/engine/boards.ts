// The drawings of Boards, as the page asks for them: the whole, the selection that lies over it, a detail, what is at a point.

import { type BoardsView, clearOfGutter, renderBoards, type Scene, wholeView } from '../../drawing/index.ts';
import type { Asks, BoardInfo, BoardsAnswer, Selection } from '../protocol.ts';
import { type Bench, placeOfSelection } from './bench.ts';

const PITCH = 2.54;

function inputOf(scene: Scene): Pick<BoardsView, 'design' | 'layout' | 'stage' | 'scene'> {
  return { design: scene.input.design, layout: scene.input.layout, stage: scene.input.stage, scene };
}

/** Boards without anything selected. */
export function boards(bench: Bench, ask: Asks['boards'][0]): BoardsAnswer | undefined {
  const scene = bench.scene(ask.stage);
  if (scene === undefined) return undefined;
  const crop = ask.crop ?? wholeView(scene);
  const svg = renderBoards({
    ...inputOf(scene),
    scale: ask.scale,
    crop,
    coordinates: ask.crop === undefined ? 'margin' : 'none',
  });
  return { svg, crop, scale: ask.scale, boards: boardInfo(scene) };
}

function boardInfo(scene: Scene): BoardInfo[] {
  const rows = ['t+', 't-', 'j', 'i', 'h', 'g', 'f', 'e', 'd', 'c', 'b', 'a', 'b+', 'b-'] as const;
  return scene.places.boards.map((board) => ({
    board: board.board,
    x: board.x,
    y: board.y,
    width: board.width,
    height: board.height,
    firstX: board.firstX,
    firstY: board.firstY,
    columns: board.columns,
    rows: rows.flatMap((row) => {
      const columns = board.holesIn(row);
      const first = columns[0];
      if (first === undefined) return [];
      const place = scene.places.hole(
        row.length === 2 ? `${board.board}:${row}${first}` : `${board.board}:${first}${row}`,
      );
      return place === undefined ? [] : [{ row, y: place.y, columns: [...columns] }];
    }),
  }));
}

/** What a selection selects for drawing: a pin stands for its net, a hole for the net of its strip. */
export function netOfSelection(scene: Scene, select: Selection): string | undefined {
  if (select.net !== undefined) return select.net;
  if (select.pin !== undefined) {
    const cut = select.pin.lastIndexOf('.');
    const part = scene.parts.find((item) => item.name === select.pin!.slice(0, cut));
    return part?.leads.find((lead) => String(lead.number) === select.pin!.slice(cut + 1))?.net;
  }
  if (select.hole !== undefined) {
    const place = scene.places.hole(select.hole);
    if (place === undefined) return undefined;
    const { key } = scene.places.strip(place);
    return scene.strips.find((strip) => strip.strip.key === key)?.net;
  }
  return undefined;
}

function selectOf(scene: Scene, select: Selection): BoardsView['select'] {
  const net = netOfSelection(scene, select);
  if (net !== undefined) return { net };
  if (select.wire !== undefined) return { wire: select.wire };
  if (select.part !== undefined) return { part: select.part };
  return undefined;
}

const marksOf = (select: Selection): BoardsView['marks'] =>
  select.hole === undefined ? [] : [{ kind: 'aim', hole: select.hole }];

/** Only what is selected, to lie over the boards: its wires, strips, parts and names. Boards and holes are left out. */
export function overlay(bench: Bench, ask: Asks['overlay'][0]): string {
  const scene = bench.scene(ask.stage);
  if (scene === undefined) return '';
  const select = selectOf(scene, ask.select);
  if (select === undefined && ask.select.hole === undefined) return '';
  const net = netOfSelection(scene, ask.select);
  const crop = ask.crop ?? wholeView(scene);
  const svg = renderBoards({
    ...inputOf(scene),
    scene: {
      ...scene,
      parts: scene.parts.filter(
        (part) =>
          part.state !== 'later' &&
          (part.name === ask.select.part || (net !== undefined && part.leads.some((lead) => lead.net === net))),
      ),
      wires: scene.wires.filter((item) =>
        net === undefined ? item.wire.id === ask.select.wire : item.wire.net === net,
      ),
      strips: scene.strips.filter((strip) => strip.net === net),
    },
    select,
    scale: ask.scale,
    crop,
    coordinates: 'none',
    later: false,
    marks: marksOf(ask.select),
    title: 'What is selected',
  });
  return svg.replace(/<g class="pb-boards">.*?<\/g>/s, '').replace(/<path class="pb-hole[^>]*>/g, '');
}

/** Places under suspicion: as large as fits with all their holes in view, the wires edged, the holes ringed. */
export function doubted(bench: Bench, ask: Asks['doubted'][0]): string | undefined {
  const scene = bench.scene(ask.stage);
  if (scene === undefined || ask.width < 60 || ask.height < 60) return undefined;
  const part = scene.parts.find((item) => item.name === ask.part);
  const holes = ask.holes.flatMap((hole) => {
    const place = scene.places.hole(hole);
    return place === undefined ? [] : [{ hole, x: place.x, y: place.y }];
  });
  const spots = holes.length > 0 ? holes : (part?.leads.map(({ at }) => at) ?? []);
  const { bounds } = scene.places;
  const all = spots.length > 0 ? spots : [{ x: bounds.x + bounds.width / 2, y: bounds.y + bounds.height / 2 }];
  const [left, right] = [Math.min(...all.map(({ x }) => x)), Math.max(...all.map(({ x }) => x))];
  const [top, bottom] = [Math.min(...all.map(({ y }) => y)), Math.max(...all.map(({ y }) => y))];
  // A whole chip is shown as chosen, with one mark: a cross at every leg would hide them.
  const isWhole = part !== undefined && (holes.length === 0 || holes.length > 6);
  const room = 9;
  const scale = Math.min(9, ask.width / (right - left + 2 * room), ask.height / (bottom - top + 2 * room));
  const [width, height] = [ask.width / scale, ask.height / scale];
  return renderBoards({
    ...inputOf(scene),
    crop: { x: (left + right - width) / 2, y: (top + bottom - height) / 2, width, height },
    scale,
    coordinates: scale > 6 ? 'gutter' : 'none',
    later: false,
    faulty: [...ask.wires],
    ...(isWhole ? { select: { part: part.name } } : {}),
    marks: [
      ...(isWhole ? holes.slice(0, 1) : holes).map(({ hole }, k) => ({
        kind: 'fault' as const,
        hole,
        ...(k === 0 && ask.text !== '' ? { text: ask.text } : {}),
      })),
      ...ask.probes.map((hole) => ({ kind: 'probe' as const, hole, text: 'measure' })),
    ],
    title: 'Places to look at',
  });
}

/** A detail at a scale, about a point: the selection, or what is asked for. Kept within the boards. */
export function detail(bench: Bench, ask: Asks['detail'][0]): Asks['detail'][1] {
  const scene = bench.scene(ask.stage);
  if (scene === undefined) return undefined;
  const { bounds } = scene.places;
  const biggest = [...scene.parts].sort((a, b) => b.leads.length - a.leads.length)[0];
  const centre = ask.centre ??
    placeOfSelection(scene, ask.select) ??
    (biggest === undefined ? undefined : ([biggest.outline.cx, biggest.outline.cy] as const)) ?? [
      bounds.x + bounds.width / 2,
      bounds.y + bounds.height / 2,
    ];
  const width = ask.width / ask.scale;
  const height = ask.height / ask.scale;
  const gutter = 26 / ask.scale;
  const within = (value: number, low: number, high: number): number =>
    high < low ? (low + high) / 2 : Math.max(low, Math.min(high, value));
  // A whole pitch further left than the board, so that the gutter hides no hole.
  const x = within(centre[0] - width / 2 - gutter / 2, bounds.x - gutter - 1, bounds.x + bounds.width - width + 1);
  const y = within(centre[1] - height / 2 - gutter / 2, bounds.y - gutter - 1, bounds.y + bounds.height - height + 1);
  const crop = { x, y, width, height };
  const svg = renderBoards({
    ...inputOf(scene),
    select: selectOf(scene, ask.select),
    crop,
    scale: ask.scale,
    coordinates: 'gutter',
    marks: marksOf(ask.select),
    title: 'Detail A',
  });
  return { svg, crop: clearOfGutter(crop, ask.scale) };
}

/** The hole nearest to a point in mm, within 0.6 of a pitch. */
export function holeAt(bench: Bench, ask: Asks['holeAt'][0]): string | undefined {
  const scene = bench.scene(bench.lastStage());
  if (scene === undefined) return undefined;
  for (const board of boardInfo(scene)) {
    if (ask.x < board.x || ask.x > board.x + board.width || ask.y < board.y || ask.y > board.y + board.height) continue;
    let best: { name: string; far: number } | undefined;
    for (const { row, y, columns } of board.rows) {
      const column = Math.round((ask.x - board.firstX) / PITCH) + 1;
      if (!columns.includes(column)) continue;
      const far = Math.hypot(board.firstX + (column - 1) * PITCH - ask.x, y - ask.y);
      const name = row.length === 2 ? `${board.board}:${row}${column}` : `${board.board}:${column}${row}`;
      if (far < 0.6 * PITCH && (best === undefined || far < best.far)) best = { name, far };
    }
    return best?.name;
  }
  return undefined;
}

export function placeOf(bench: Bench, ask: Asks['placeOf'][0]): Asks['placeOf'][1] {
  const scene = bench.scene(ask.stage);
  return scene === undefined ? undefined : placeOfSelection(scene, ask.select);
}

/** What moving a part by hand needs to show at once: where its leads are, and the nearest other pin of each net. */
export function ghost(bench: Bench, ask: Asks['ghost'][0]): Asks['ghost'][1] {
  const scene = bench.scene(ask.stage);
  const part = scene?.parts.find((item) => item.name === ask.part && item.state !== 'later');
  const body = part?.outline.body;
  if (scene === undefined || part === undefined || part.leads.length === 0) return undefined;
  const others = new Map<string, [number, number][]>();
  for (const other of scene.parts) {
    if (other === part || other.state === 'later') continue;
    for (const lead of other.leads) {
      if (lead.net === undefined) continue;
      const list = others.get(lead.net);
      if (list === undefined) others.set(lead.net, [[lead.at.x, lead.at.y]]);
      else list.push([lead.at.x, lead.at.y]);
    }
  }
  const [x, y] = [part.leads[0]!.at.x, part.leads[0]!.at.y];
  return {
    body: body ?? { x: x - 2, y: y - 2, width: 4, height: 4 },
    rotation: part.placed.rotation,
    firstHole: part.placed.leads[0]!.hole,
    leads: part.leads.map((lead) => {
      const net = lead.net === undefined || scene.net(lead.net)?.kind !== 'signal' ? undefined : others.get(lead.net);
      const near = net?.reduce((best, at) =>
        Math.hypot(at[0] - lead.at.x, at[1] - lead.at.y) < Math.hypot(best[0] - lead.at.x, best[1] - lead.at.y)
          ? at
          : best,
      );
      return { x: lead.at.x, y: lead.at.y, to: near };
    }),
  };
}

/** A hole: the net of its strip, what is in it, which others of the strip are free. */
export function hole(bench: Bench, ask: Asks['hole'][0]): Asks['hole'][1] {
  const scene = bench.scene(ask.stage);
  const place = scene?.places.hole(ask.hole);
  if (scene === undefined || place === undefined) return undefined;
  const { key, rail } = scene.places.strip(place);
  const used = new Map<string, string>();
  for (const part of scene.parts) {
    if (part.state === 'later') continue;
    part.placed.leads.forEach((lead) => {
      used.set(lead.hole, `${part.name}.${lead.number}`);
    });
  }
  for (const { wire } of scene.wires) {
    used.set(wire.from, `wire to ${wire.to}`);
    used.set(wire.to, `wire to ${wire.from}`);
  }
  const rows = rail ? [] : place.row >= 'f' ? ['j', 'i', 'h', 'g', 'f'] : ['e', 'd', 'c', 'b', 'a'];
  return {
    hole: ask.hole,
    net: scene.strips.find((strip) => strip.strip.key === key)?.net,
    holds: used.get(ask.hole) ?? '',
    free: rows.map((row) => `${place.board}:${place.column}${row}`).filter((name) => !used.has(name)),
    forbidden: bench.build.choices().value.forbidden.some((entry) => entry.hole === ask.hole),
  };
}
