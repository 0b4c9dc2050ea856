import { expect, test } from 'vitest';
import {
  chipRecord,
  designOf,
  type DraftPart,
  RECORDS,
  randomMachine,
} from '../../benchmarks/machines/random-design.ts';
import { lay, type Layout, NO_CHOICES, parseHole, placementCost, proveLayout, stripOfHole } from './index.ts';

const texts = (findings: readonly { message: string }[]): string[] => findings.map((finding) => finding.message);

/** Holes of a pin's strip that neither the part's leads nor its body take, by pin; rows of the body by place on the grid. */
function boardsOf(layout: Layout, part: string): number[] {
  const leads = layout.parts.find((one) => one.part === part)!.leads;
  return [...new Set(leads.map((lead) => parseHole(lead.hole)!.board))].sort((a, b) => a - b);
}

function machine(wide: DraftPart['record'], seed: number): ReturnType<typeof designOf> {
  const made = randomMachine(seed, { chips: 4, stages: 2 });
  const nets = new Map<number, string>([
    [1, 'main'],
    [32, 'GND'],
  ]);
  const last = wide.pins.length;
  for (let i = 0; i < 5; i++) nets.set(2 + i, `n${i}`).set(last - i, `n${i}`);
  made.parts.push({ name: 'WIDE', record: wide, stage: 1, nets });
  return designOf(made);
}

const rows = (kind: string, count: number): { kind: string; column: number; row: number }[] =>
  Array.from({ length: count }, (_, i) => ({ kind, column: 1, row: i + 1 }));

test('a chip of 0.9 inch stands across two boards where these leave its pins more holes', () => {
  const design = machine(RECORDS.dip64, 3);
  const { value, findings } = lay(design, { ...NO_CHOICES, boards: rows('single', 5) }, undefined, { moves: 4000 });
  expect(texts(findings)).toEqual([]);
  const boards = boardsOf(value, 'WIDE');
  expect(boards.length).toBe(2);
  expect(boards[1]! - boards[0]!).toBe(1);
  expect(proveLayout(value, design.netlists)).toEqual([]);
  expect(placementCost(design, NO_CHOICES, value)).toBeGreaterThan(0);
  // Every pin keeps holes to be wired by: no other lead stands in its strip, so four are there, some under the body.
  const strips = value.parts
    .find((one) => one.part === 'WIDE')!
    .leads.map((lead) => stripOfHole(lead.hole, () => 'single'));
  expect(new Set(strips).size).toBe(64);
  // Laid again it stays.
  const again = lay(design, { ...NO_CHOICES, boards: rows('single', 5) }, value, { moves: 4000 });
  expect(again.value.parts).toEqual(value.parts);
});

test('a module whose rows are farther apart than a board is gets boards that it fits', () => {
  const leads: Record<string, [number, number]> = {};
  for (let i = 0; i < 16; i++) {
    leads[i + 1] = [i, 0];
    leads[32 - i] = [i, -13];
  }
  const module = chipRecord('MODULE', 32, { kind: 'grid', leads, body: { length: 43, width: 38 } });
  const design = machine(module, 4);
  const { value, findings } = lay(design, NO_CHOICES, undefined, { moves: 4000 });
  expect(texts(findings)).toEqual([]);
  expect(boardsOf(value, 'WIDE').length).toBe(2);
  expect(value.boards[0]!.kind).toBe('single');
});

test('a place across two boards that the builder fixes is kept to', () => {
  const design = machine(RECORDS.dip64, 5);
  const places = [{ part: 'WIDE', at: '3:10i', to: undefined, rotation: 0 as const, span: undefined }];
  const { value, findings } = lay(design, { ...NO_CHOICES, boards: rows('single', 5), places }, undefined, {
    moves: 4000,
  });
  expect(texts(findings)).toEqual([]);
  expect(value.parts.find((one) => one.part === 'WIDE')!.leads[0]!.hole).toBe('3:10i');
  expect(boardsOf(value, 'WIDE')).toEqual([2, 3]);
});
