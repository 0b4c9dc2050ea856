import { expect, test } from 'vitest';
import { readXml } from '../../tests/support/xml.ts';
import type { TimingRow } from '../margins/index.ts';
import { cycleDrawing } from './cycle.ts';

const row = (check: string, marginNs: number | null, ns = 60): TimingRow => ({
  cycle: 'memory read',
  target: 'ROM',
  check,
  kind: 'access',
  from: 'CPU address',
  to: 'CPU data',
  availableNs: marginNs === null ? null : ns + marginNs,
  requiredNs: marginNs === null ? null : ns,
  marginNs,
  path: marginNs === null ? [] : [{ part: 'ROM', symbol: check, ns, source: 'sheet <1>' }],
  start: marginNs === null ? null : { n: 0, phase: 'rise' },
  startAfterNs: 0,
  bit: null,
  missing: marginNs === null ? ['tOE of ROM'] : [],
  tracks: false,
  maxClockHz: null,
  isFixed: false,
  waitStates: null,
});

test('a cycle is well-formed, tightest first, with what is lacking and what is unknown', () => {
  const svg = cycleDrawing({
    rows: [row('tACC', 40), row('tCE', -12.34), row('tOE', null)],
    periodNs: 100,
    high: 0.5,
    startsWith: 'rise',
  });
  expect(readXml(svg).length).toBeGreaterThan(10);
  expect(svg.indexOf('-12.3 ns')).toBeGreaterThan(0);
  expect(svg.indexOf('-12.3 ns')).toBeLessThan(svg.indexOf('>40<'));
  expect(svg).toContain('not known: tOE of ROM');
  expect(svg).toContain('sheet &lt;1&gt;');
  expect(svg).toContain('var(--fault-wash)');
  expect(svg).toBe(
    cycleDrawing({
      rows: [row('tACC', 40), row('tCE', -12.34), row('tOE', null)],
      periodNs: 100,
      high: 0.5,
      startsWith: 'rise',
    }),
  );
});

test('a longer path is drawn longer, and the slack ends at the limit', () => {
  const boxes = (ns: number): number[] =>
    [
      ...cycleDrawing({
        rows: [
          {
            ...row('tACC', 100 - ns, ns),
            path: [
              { part: 'ROM', symbol: 'tACC', ns: ns - 10, source: '' },
              { part: 'CPU', symbol: 'TsD', ns: 10, source: '' },
            ],
          },
        ],
        periodNs: 100,
        high: 0.5,
        startsWith: 'rise',
      }).matchAll(/<rect x="([\d.]+)" y="\d+" width="([\d.]+)" height="28"/g),
    ].flatMap((match) => [Number(match[1]), Number(match[2])]);
  const [slow, fast] = [boxes(70), boxes(40)];
  expect(slow[1]!).toBeCloseTo(2 * fast[1]!, 0);
  // What the processor asks for stands at the same place in both: at the limit.
  expect(slow[2]).toBeCloseTo(fast[2]!, 1);
});

test('lanes: levels move at their latest, buses are hatched until they are settled, the edge that takes data is marked', () => {
  const svg = cycleDrawing({
    rows: [row('tACC', 40)],
    lanes: [
      {
        name: '/RD',
        shape: 'level',
        edges: [
          { first: 10, last: 30, to: 'low' },
          { first: 90, last: 95, to: 'high' },
        ],
      },
      {
        name: 'A15-A0',
        shape: 'bus',
        edges: [
          { first: 0, last: 20, to: 'valid' },
          { first: 95, last: 99, to: 'idle' },
        ],
      },
    ],
    capture: { ns: 100, edge: 'clock rises' },
    periodNs: 100,
    high: 0.5,
    startsWith: 'rise',
    most: 1,
  });
  expect(readXml(svg).length).toBeGreaterThan(20);
  for (const text of ['/RD', 'A15-A0', 'data taken, clock rises', 'url(#pb-cy-h)']) expect(svg).toContain(text);
});

test('rows beyond the most are counted, not dropped in silence', () => {
  const rows = [row('a', 1), row('b', 2), row('c', 3)];
  expect(cycleDrawing({ rows, periodNs: 100, high: 0.5, startsWith: 'rise', most: 1 })).toContain('2 more');
});
