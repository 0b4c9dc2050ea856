// Golden drawings of one small machine, on both grounds where the ground matters. `npm run test:update` writes them anew;
// tools/gallery.mjs puts them on one page to be looked at.

import { expect, test } from 'vitest';
import {
  busDiagram,
  createScene,
  netLine,
  pageStyle,
  paintDrawing,
  pinCard,
  renderBoards,
  renderSheet,
  stageLine,
  stepView,
} from '../../src/drawing/index.ts';
import { createWeir } from '../support/weir.ts';
import { readXml } from '../support/xml.ts';

const { design, layout, built } = createWeir();
const stage = 2;
const scene = createScene({ design, layout, stage, built });
const view = { design, layout, stage, built, scene };
const next = layout.wires.find((wire) => wire.stage === 2 && !built.wires.has(wire.id))!;
const strap = layout.wires.find((wire) => wire.temporary)!;

const golden = async (name: string, svg: string): Promise<void> => {
  expect(readXml(svg)[0]!.name).toBe('svg');
  // Whatever a drawing is made of can be put on paper too.
  let painted = 0;
  paintDrawing(
    svg,
    {
      save: () => undefined,
      restore: () => undefined,
      transform: () => undefined,
      path: () => {
        painted++;
      },
      text: () => undefined,
      textWidth: (text, _font, size) => text.length * size * 0.6,
    },
    pageStyle().replace(':root,[data-ground="paper"]', '.pb'),
  );
  expect(painted).toBeGreaterThan(0);
  // One element a line, so that a difference can be read.
  await expect(svg.replaceAll('><', '>\n<')).toMatchFileSnapshot(`drawing/expected-${name}.svg`);
};

for (const ground of ['paper', 'slate'] as const) {
  test(`boards with a net selected, ${ground}`, () =>
    golden(`boards-${ground}`, renderBoards({ ...view, select: { net: '/hold' }, scale: 7, ground })));
  test(`detail, ${ground}`, () =>
    golden(
      `detail-${ground}`,
      renderBoards({ ...view, crop: { x: 14, y: 4, width: 62, height: 50 }, scale: 12, ground }),
    ));
}
test('boards far out, before anything is built, as of the last stage', () =>
  golden('far', renderBoards({ design, layout, stage: 3, scale: 2, ground: 'paper' })));
test('sheet with detail and title block', () =>
  golden(
    'sheet',
    renderSheet({ ...view, detail: { x: 14, y: 60, width: 50, height: 30 }, sideWidth: 560, ground: 'paper' }),
  ));
test('net as a line', () => golden('net-line', netLine({ scene, net: '/hold', next: next.id, ground: 'paper' })));
test('pin card', () => golden('pin-card', pinCard({ scene, part: 'LATCH', select: '/hold', ground: 'paper' })));
test('bus diagram', () =>
  golden('bus-diagram', busDiagram({ netlist: design.netlists[stage]!, built: built.parts, ground: 'paper' })));
test('a wire to put in', () => golden('step-wire', stepView({ ...view, wire: next.id, ground: 'paper' })));
test('a strap to take out, slate', () => golden('step-out', stepView({ ...view, wire: strap.id, ground: 'slate' })));
test('a chip to put in', () => golden('step-part', stepView({ ...view, part: 'GATE', ground: 'paper' })));
test('marks', () =>
  golden(
    'marks',
    renderBoards({
      ...view,
      crop: { x: 14, y: 4, width: 62, height: 50 },
      scale: 9,
      faulty: [next.id],
      marks: [
        { kind: 'fault', hole: '1:12a', text: 'pin 5' },
        { kind: 'probe', hole: '1:20f', text: 'next' },
        { kind: 'level', hole: '1:8j', text: 'H' },
        { kind: 'aim', hole: '1:10a' },
        { kind: 'aim', hole: 'no such hole' },
      ],
      ground: 'paper',
    }),
  ));
test('stage line', () =>
  golden(
    'stage-line',
    stageLine({
      machine: 'Weir keeper',
      selected: 2,
      stages: [
        { number: 1, name: 'supply', state: 'proved', proof: 'proved', steps: steps('b'.repeat(6), 'b'.repeat(8)) },
        {
          number: 2,
          name: 'latch',
          state: '9 of 20 steps in',
          proof: 'changed',
          steps: steps('bbbb', 'bbbbb', 'o', 'pppppppppp'),
          faults: 1,
          doubts: 2,
        },
        { number: 3, name: 'alarm', state: '4 of 9 designed', proof: 'failed', steps: steps('pppp', 'nnnnn') },
      ],
      ground: 'paper',
    }),
  ));

/** Groups of steps, one letter each: built, planned, out, none. */
function steps(...groups: string[]) {
  const marks = { b: 'built', p: 'planned', o: 'out', n: 'none' } as const;
  return groups.flatMap((group, i) =>
    [...group].map((letter) => ({ mark: marks[letter as keyof typeof marks], group: `group ${i}` })),
  );
}
