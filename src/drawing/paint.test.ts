import { expect, test } from 'vitest';
import { drawingBox, paintDrawing, type PathPaint, type TextPaint } from './paint.ts';
import { standaloneStyle } from './style.ts';

/** A renderer that writes down what it is asked. */
function recorder() {
  const said: (readonly [what: string, ...rest: unknown[]])[] = [];
  return {
    said,
    painter: {
      save: () => said.push(['save']),
      restore: () => said.push(['restore']),
      transform: (...m: number[]) => said.push(['transform', ...m.map((value) => Math.round(value * 1000) / 1000)]),
      path: (data: string, paint: PathPaint) => said.push(['path', data, paint]),
      text: (text: string, x: number, y: number, paint: TextPaint) => said.push(['text', text, x, y, paint]),
      textWidth: (text: string, _font: string, size: number) => text.length * size * 0.5,
    },
  };
}
const run = (body: string, style = '') => {
  const { said, painter } = recorder();
  paintDrawing(`<svg xmlns="http://www.w3.org/2000/svg" class="pb" viewBox="0 0 10 10">${body}</svg>`, painter, style);
  return said;
};

test('the sheet is followed as CSS has it: weight before order, inheritance, variables, own style, !important', () => {
  const style =
    '.pb{--a:#112233}.pb path{stroke:var(--a);fill:none}.thin{stroke-width:2}.pb .thin{stroke-width:3}.g .thin{stroke-width:4;--a:#445566}path.must{stroke-width:9!important}';
  const width = (body: string): unknown => (run(body, style)[0]![2] as PathPaint).width;
  expect(width('<path d="M0 0H1"/>')).toBe(1);
  expect(width('<path class="thin" d="M0 0H1"/>')).toBe(3);
  expect(width('<path class="thin" style="stroke-width:5px" d="M0 0H1"/>')).toBe(5);
  expect(width('<path class="thin must" style="stroke-width:5px" d="M0 0H1"/>')).toBe(9);
  const [, [, , inner]] = [0, run('<g class="g"><path class="thin" d="M0 0H1"/></g>', style)[0]!] as const;
  expect(inner).toMatchObject({ stroke: '#445566', width: 4, fill: undefined });
});

test('shapes become paths, groups fade what is in them, what is hidden is left out', () => {
  const said = run(
    '<g opacity="0.5"><rect x="1" y="2" width="3" height="4" fill="#abc"/><g opacity="0.5"><circle cx="5" cy="5" r="1" fill="#000"/></g></g><path style="display:none" d="M0 0H1"/>',
  );
  expect(said.map(([what, data, paint]) => [what, data, (paint as PathPaint).opacity])).toEqual([
    ['path', 'M1 2H4V6H1Z', 0.5],
    ['path', 'M4 5A1 1 0 1 0 6 5A1 1 0 1 0 4 5Z', 0.25],
  ]);
  expect((said[0]![2] as PathPaint).fill).toBe('#aabbcc');
});

test('words: anchors, baselines, spans and the line around them', () => {
  const said = run(
    '<text x="10" y="20" dy="0.5em" text-anchor="middle" font-size="4" class="h">ab<tspan dx="2" font-size="2">cd</tspan></text>',
    '.h{paint-order:stroke;stroke:#ffffff;stroke-width:3px;fill:#000000;font-family:mono}.h tspan{font-weight:700}',
  );
  // 2 letters of 2, a gap of 2, 2 letters of 1: 8 wide, so from 6.
  expect(said.map((item) => item.slice(0, 4))).toEqual([
    ['text', 'ab', 6, 22],
    ['text', 'cd', 12, 22],
  ]);
  expect(said[0]![4]).toEqual({
    font: 'mono',
    size: 4,
    fill: '#000000',
    halo: { colour: '#ffffff', width: 3 },
    opacity: 1,
  });
  expect((said[1]![4] as TextPaint).font).toBe('mono-bold');
});

test('transforms are kept to their element, and turning about a point is a matrix', () => {
  expect(run('<g transform="translate(3 4)rotate(90)"><path d="M0 0H1"/></g>').map((item) => item.slice(0, 7))).toEqual(
    [
      ['save'],
      ['transform', 1, 0, 0, 1, 3, 4],
      ['transform', 0, 1, -1, 0, 0, 0],
      ['path', 'M0 0H1', expect.anything()],
      ['restore'],
    ],
  );
  expect(run('<g transform="rotate(180 2 3)"><path d="M0 0H1"/></g>')[1]).toEqual(['transform', -1, 0, -0, -1, 4, 6]);
});

test('what can not be painted is refused, not dropped', () => {
  expect(() => run('<ellipse rx="1" ry="2"/>')).toThrow('ellipse');
  expect(() => run('<path d="M0 0H1" fill="tomato"/>')).toThrow('tomato');
  expect(() => drawingBox('<svg></svg>')).toThrow('viewBox');
  expect(standaloneStyle('paper')).toContain('.pb');
});
