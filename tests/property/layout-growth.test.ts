// A layout that stands, and a design that changes: parts that still fit stay in their holes, wires that still serve stay.

import { expect, test } from 'vitest';
import { groupedMachine } from '../../benchmarks/machines/grouped.ts';
import { designOf, RECORDS, randomMachine } from '../../benchmarks/machines/random-design.ts';
import { createRng } from '../../src/base/index.ts';
import { lay, NO_CHOICES, proveLayout, type Wire } from '../../src/board/index.ts';

const texts = (findings: readonly { code: string; message: string }[]): string[] =>
  findings.map((finding) => `${finding.code} ${finding.message}`);

test('a chip added and a part removed leave the rest where it was', () => {
  let kept = 0;
  let all = 0;
  let recut = 0;
  for (let seed = 1; seed <= 8; seed++) {
    const rng = createRng(seed);
    const machine = seed % 2 === 0 ? randomMachine(seed, { chips: 6, stages: 3 }) : groupedMachine(8, seed);
    const before = lay(designOf(machine), NO_CHOICES, undefined, { seed, moves: 4000 });
    expect(texts(before.findings)).toEqual([]);
    const nets = [...new Set(machine.parts.flatMap((part) => [...part.nets.values()]))].filter(
      (net): net is string => typeof net === 'string' && net !== 'main' && net !== 'GND',
    );
    const fresh = new Map<number, string>([
      [20, 'main'],
      [10, 'GND'],
    ]);
    for (let pin = 2; pin < 8; pin++) fresh.set(pin, nets[rng.below(nets.length)]!);
    const gone = machine.parts.find((part) => part.record === RECORDS.resistor);
    const after = {
      ...machine,
      parts: [
        ...machine.parts.filter((part) => part !== gone),
        { name: 'LATE', record: RECORDS.dip20, stage: machine.stages, nets: fresh },
      ],
    };
    const design = designOf(after);
    const { value, findings } = lay(design, NO_CHOICES, before.value, { seed: seed + 1, moves: 4000 });
    expect({ seed, findings: texts(findings) }).toEqual({ seed, findings: [] });
    expect(proveLayout(value, design.netlists)).toEqual([]);
    const places = new Map(value.parts.map((part) => [`${part.part}/${part.stage}`, part.leads]));
    for (const part of before.value.parts) {
      if (part.part === gone?.name) continue;
      expect({ seed, part: part.part, leads: places.get(`${part.part}/${part.stage}`) }).toEqual({
        seed,
        part: part.part,
        leads: part.leads,
      });
    }
    expect(places.has(`LATE/${machine.stages}`)).toBe(true);
    const now = new Map<string, Wire>(value.wires.map((wire) => [wire.id, wire]));
    for (const wire of before.value.wires) {
      all++;
      const same = now.get(wire.id);
      if (same === undefined) continue;
      kept++;
      // What is cut and in stays as it is, but where a new wire needs the hole under it.
      if (same.cutMm !== wire.cutMm || same.style !== wire.style) recut++;
    }
  }
  expect(kept / all).toBeGreaterThan(0.97);
  expect(recut / kept).toBeLessThan(0.01);
});

test('a rail given to a signal carries it, with links where segments are apart', () => {
  const machine = groupedMachine(6);
  const rails = ['1:b+5', '2:t+5', '2:t+40'].map((hole) => ({ hole, net: 'g0/RD', span: undefined }));
  const { value, findings } = lay(designOf(machine), { ...NO_CHOICES, rails }, undefined, { seed: 2, moves: 4000 });
  expect(texts(findings)).toEqual([]);
  const own = value.wires.filter((wire) => wire.net === 'g0/RD');
  expect(own.some((wire) => /^(?:1:b\+|2:t\+)/.test(wire.from) || /^(?:1:b\+|2:t\+)/.test(wire.to))).toBe(true);
});
