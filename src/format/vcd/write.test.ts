import { expect, test } from 'vitest';
import { type VcdChange, writeVcd } from './index.ts';

/** A reader of its own, from the grammar of IEEE 1364-2005, 18.2: names and the value of each at a time. */
function readBack(text: string): { names: string[]; at(name: string, ps: number): string; end: number } {
  const tokens = text.split(/\s+/).filter((token) => token !== '');
  const names = new Map<string, string>();
  const changes: { time: number; code: string; value: string }[] = [];
  let time = 0;
  for (let k = 0; k < tokens.length; k++) {
    const token = tokens[k]!;
    if (token === '$var') {
      names.set(tokens[k + 3]!, tokens[k + 4]!);
      expect([tokens[k + 1], tokens[k + 2], tokens[k + 5]]).toEqual(['wire', '1', '$end']);
      k += 5;
    } else if (/^\$(?:version|timescale|scope|upscope|enddefinitions)$/.test(token)) {
      while (tokens[k] !== '$end') k++;
    } else if (token === '$dumpvars' || token === '$end') {
      // Values follow.
    } else if (token.startsWith('#')) {
      expect(Number(token.slice(1))).toBeGreaterThanOrEqual(time);
      time = Number(token.slice(1));
    } else {
      expect(token).toMatch(/^[01xz][!-~]+$/);
      expect(names.has(token.slice(1))).toBe(true);
      changes.push({ time, code: token.slice(1), value: token[0]! });
    }
  }
  return {
    names: [...names.values()],
    end: time,
    at: (name, ps) => {
      const code = [...names].find(([, one]) => one === name)![0];
      return changes.filter((change) => change.code === code && change.time <= ps).at(-1)!.value;
    },
  };
}

test('a dump reads back with the values at their times', () => {
  const changes: VcdChange[] = [
    { ps: 0, signal: 0, value: 0 },
    { ps: 125_000, signal: 0, value: 1 },
    { ps: 125_000, signal: 1, value: 'Z' },
    { ps: 250_000, signal: 0, value: 'X' },
  ];
  const dump = { scope: 'Tide clerk', signals: [{ name: '/RD' }, { name: 'D0' }, { name: 'D0' }], changes, endPs: 3e5 };
  const back = readBack(writeVcd(dump));
  expect(back.names).toEqual(['/RD', 'D0', 'D0_2']);
  expect([back.at('/RD', 0), back.at('/RD', 124_999), back.at('/RD', 125_000), back.at('/RD', 260_000)]).toEqual([
    '0',
    '0',
    '1',
    'x',
  ]);
  expect([back.at('D0', 0), back.at('D0', 125_000), back.end]).toEqual(['x', 'z', 300_000]);
});

test('many signals get codes of their own', () => {
  const signals = Array.from({ length: 10_000 }, (_, k) => ({ name: `n${k}` }));
  const text = writeVcd({ scope: 's', signals, changes: [], endPs: 0 });
  const codes = [...text.matchAll(/^\$var wire 1 (\S+) /gm)].map((match) => match[1]!);
  expect(new Set(codes).size).toBe(10_000);
});
