// Every block that ships, used in one machine: it elaborates and checks without a finding, and joins what it says it joins.

import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { lines, projectOf } from '../support/library.ts';

const text = readFileSync('tests/golden/blocks/machine.yaml', 'utf8');

test('the machine uses every block there is', () => {
  const blocks = readdirSync('data/blocks').map((name) => name.replace(/\.yaml$/, ''));
  expect(blocks.length).toBeGreaterThanOrEqual(6);
  for (const block of blocks) expect(text, block).toContain(`use: ${block}`);
});

test('it checks clean, and the blocks are joined', () => {
  const project = projectOf(text);
  expect(lines(project.findings())).toEqual([]);
  const netlist = project.design().value.netlists.at(-1)!;
  const pins = (net: string): string[] =>
    netlist.nets.find((candidate) => candidate.name === net)?.pins.map((pin) => netlist.pins[pin]!.ref) ?? [];
  expect(pins('cpu-clock')).toEqual(expect.arrayContaining(['CPU.CLK', 'CLK-DIV.1Q', 'CLK-CNT.1CLK']));
  expect(pins('reset')).toEqual(expect.arrayContaining(['RES-INV.1Y', 'SER-PORT.MR']));
  expect(pins('BUF-A15')).toEqual(expect.arrayContaining(['BUF-HIGH.Y8', 'FAR.P16']));
});
