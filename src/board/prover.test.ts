import { expect, test } from 'vitest';
import { randomDesign } from '../../benchmarks/machines/random-design.ts';
import { createRng } from '../base/index.ts';
import { lay, NO_CHOICES, proveLayout } from './index.ts';
import { Prover } from './prover.ts';

test('says of sound and of damaged layouts what the plain proof says', () => {
  let wrong = 0;
  for (const seed of [1, 2]) {
    const design = randomDesign(seed, { chips: 6, stages: 3, changes: true, odd: true });
    const { value } = lay(design, NO_CHOICES, undefined, { seed, moves: 2000 });
    const prover = new Prover(design.netlists);
    expect(prover.prove(value)).toEqual([]);
    const rng = createRng(seed);
    for (let round = 0; round < 30; round++) {
      const wires = [...value.wires];
      const parts = [...value.parts];
      const [i, j] = [rng.below(wires.length), rng.below(wires.length)];
      const p = rng.below(parts.length);
      if (round % 5 === 0) wires.splice(i, 1);
      else if (round % 5 === 1) wires[i] = { ...wires[i]!, to: wires[j]!.to };
      else if (round % 5 === 2) wires[i] = { ...wires[i]!, to: wires[i]!.to.replace(/\d+([a-j])$/, '1$1') };
      else if (round % 5 === 3) parts.splice(p, 1);
      else wires[i] = { ...wires[i]!, until: wires[i]!.stage + 1 };
      const damaged = { ...value, wires, parts };
      const plain = proveLayout(damaged, design.netlists);
      if (plain.length > 0) wrong++;
      expect(prover.prove(damaged)).toEqual(plain);
    }
  }
  expect(wrong).toBeGreaterThan(35);
});
