// Drawing some 3,100 wires: fifteen copies of the demo's layout side by side, lanes laid and SVG written. Processor time of this
// process, so that a busy machine changes it little. Run from the root of the tree.

import { readFileSync } from 'node:fs';
import { readLayout } from '../src/board/index.ts';
import { createScene, renderBoards } from '../src/drawing/index.ts';
import type { Design } from '../src/netlist/index.ts';

const path = 'projects/tide-clerk/builds/first/layout.json';
const layout = readLayout(path, readFileSync(path, 'utf8')).value;
if (layout === undefined) throw new Error(`${path} can't be read`);
const stage = Math.max(...layout.wires.map((wire) => wire.stage));
const design: Design = {
  name: layout.machine,
  stages: [],
  netlists: [{ stage: 0, parts: [], pins: [], nets: [] }],
  map: [],
  devices: [],
  leads: [],
  supplies: [],
  clocks: [],
};
const count = layout.boards.length;
const many = Array.from({ length: 15 }, (_, copy) => copy);
const move = (hole: string, copy: number): string =>
  hole.replace(/^\d+/, (board) => String(Number(board) + count * copy));
const big = {
  ...layout,
  boards: many.flatMap((copy) =>
    layout.boards.map((b) => ({
      ...b,
      board: b.board + count * copy,
      x: b.x + (copy % 5) * 167.64,
      y: b.y + Math.floor(copy / 5) * count * 60.96,
    })),
  ),
  parts: many.flatMap((copy) =>
    layout.parts.map((p) => ({
      ...p,
      part: `${p.part}/${copy}`,
      leads: p.leads.map((lead) => ({ ...lead, hole: move(lead.hole, copy) })),
    })),
  ),
  wires: many.flatMap((copy) =>
    layout.wires.map((w) => ({ ...w, id: `${w.id}/${copy}`, from: move(w.from, copy), to: move(w.to, copy) })),
  ),
};
/** The same without the layout's own ways, so that every wire has to be led. */
const bare = { ...big, wires: big.wires.map((wire) => ({ ...wire, path: undefined })) };
const processorMs = (): number => process.cpuUsage().user / 1000;
for (const [name, each] of [
  ['ways as laid out', big],
  ['ways found here', bare],
  ['ways as laid out', big],
  ['ways found here', bare],
] as const) {
  const start = processorMs();
  const scene = createScene({ design, layout: each, stage });
  const laid = processorMs();
  const svg = renderBoards({ design, layout: each, stage, scene });
  const end = processorMs();
  console.log(
    `${scene.wires.length} wires, ${name}: lanes ${Math.round(laid - start)} ms, ${scene.lanes.shared} lengths shared; SVG ${Math.round(end - laid)} ms, ${(svg.length / 1e6).toFixed(1)} MB`,
  );
}
