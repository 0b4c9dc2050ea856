import { expect, test } from 'vitest';
import { randomDesign } from '../../benchmarks/machines/random-design.ts';
import { createRng } from '../base/index.ts';
import { NO_CHOICES } from './choices.ts';
import { openEditor } from './edit.ts';
import { proveLayout } from './extract.ts';
import { lay } from './lay.ts';

test('an editor shows the layout as it was', () => {
  for (const seed of [2, 4, 7]) {
    const design = randomDesign(seed, { chips: 6, stages: 4, changes: true, odd: seed % 2 === 0 });
    const { value } = lay(design, NO_CHOICES, undefined, { seed, moves: 2000 });
    const opened = openEditor(design, NO_CHOICES, value);
    expect(opened.findings).toEqual([]);
    expect(opened.value.layout()).toEqual(value);
  }
});

test('parts moved about: every move is proved or refused, and most wires stay', () => {
  let moved = 0;
  let kept = 0;
  let all = 0;
  for (const seed of [1, 3, 6, 8]) {
    const design = randomDesign(seed, { chips: 7, stages: 3, changes: true, odd: true });
    const { value } = lay(design, { ...NO_CHOICES, boards: six }, undefined, { seed, moves: 2000 });
    const editor = openEditor(design, { ...NO_CHOICES, boards: six }, value).value;
    const rng = createRng(seed);
    for (let i = 0; i < 45; i++) {
      const before = editor.layout();
      const part = before.parts[rng.below(before.parts.length)]!;
      if (part.leads.length < 3) continue;
      const row = part.leads[0]!.hole.slice(-1);
      const at = `${1 + rng.below(6)}:${1 + rng.below(63)}${row}`;
      const { value: result, findings } = editor.move({ part: part.part, at });
      if (!result.moved) {
        expect(findings[0]!.code).toBe('board/move-impossible');
        expect(result.layout).toEqual(before);
        continue;
      }
      moved++;
      expect(findings).toEqual([]);
      expect(proveLayout(result.layout, design.netlists)).toEqual([]);
      const ids = new Set(result.layout.wires.map((wire) => wire.id));
      all += before.wires.length;
      kept += before.wires.filter((wire) => ids.has(wire.id)).length;
    }
  }
  expect(moved).toBeGreaterThan(25);
  expect(kept / all).toBeGreaterThan(0.7);
});

const six = Array.from({ length: 6 }, (_, i) => ({ kind: 'full', column: 1, row: i + 1 }));
