import { expect, test } from 'vitest';
import { readXml } from '../../tests/support/xml.ts';
import type { TimingRow } from '../margins/index.ts';
import { cycleDrawing } from './cycle.ts';

const row = (check: string, marginNs: number | null, ns = 60): TimingRow => ({
  cycle: 'memory read',
  target: 'ROM',
  check,
  from: 'CPU address',
  to: 'CPU data',
  availableNs: marginNs === null ? null : ns + marginNs,
  requiredNs: marginNs === null ? null : ns,
  marginNs,
  path: marginNs === null ? [] : [{ part: 'ROM', symbol: check, ns, source: 'sheet <1>' }],
  start: marginNs === null ? null : { n: 0, phase: 'rise' },
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
  expect(svg.indexOf('-12.3 ns')).toBeLessThan(svg.indexOf('40 ns'));
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

test('slack grows with the period, and a longer path is drawn longer', () => {
  const width = (ns: number): number => {
    const svg = cycleDrawing({ rows: [row('tACC', 100 - ns, ns)], periodNs: 100, high: 0.5, startsWith: 'rise' });
    const [, from, to] = /<path class="rule2" d="M([\d.]+) 88H([\d.]+)"/.exec(svg)!;
    return Number(to) - Number(from);
  };
  expect(width(60)).toBeCloseTo(2 * width(30), 0);
});
