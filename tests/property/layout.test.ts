// Random machines are laid out, and what the holes say must be the netlist at every stage.
import { expect, test } from 'vitest';
import { createRng } from '../../src/base/index.ts';
import { formatHole, lay, NO_CHOICES, parseHole, proveLayout, stripOfHole } from '../../src/board/index.ts';
import type { Design } from '../../src/netlist/index.ts';
import { randomDesign } from '../../benchmarks/machines/random-design.ts';

const messages = (findings: readonly { code: string; message: string }[]): string[] =>
  findings.map((finding) => `${finding.code} ${finding.message}`);

test('random machines are wired as their netlists say, at every stage', () => {
  for (let seed = 1; seed <= 30; seed++) {
    const design = randomDesign(seed, {
      chips: 1 + (seed % 13),
      stages: 1 + (seed % 6),
      changes: seed % 3 !== 0,
      odd: seed % 2 === 0,
    });
    const { value, findings } = lay(design, NO_CHOICES, undefined, { seed, moves: 2000 });
    expect({ seed, findings: messages(findings) }).toEqual({ seed, findings: [] });
    // The proof once more, from outside.
    expect(messages(proveLayout(value, design.netlists))).toEqual([]);
  }
});

test('a wire end moved or a wire taken away is noticed', () => {
  let moved = 0;
  for (const seed of [3, 4, 5]) {
    const design = randomDesign(seed, { chips: 8, stages: 3, changes: true, odd: true });
    const { value } = lay(design, NO_CHOICES, undefined, { seed, moves: 2000 });
    const rng = createRng(seed);
    for (let i = 0; i < 60; i++) {
      const index = rng.below(value.wires.length);
      const wires = value.wires.filter((_, at) => at !== index);
      expect(proveLayout({ ...value, wires }, design.netlists).length).toBeGreaterThan(0);
    }
    for (let i = 0; i < 60; i++) {
      const index = rng.below(value.wires.length);
      const wire = value.wires[index]!;
      const hole = parseHole(wire.to)!;
      const aside = formatHole({ ...hole, column: hole.column + (hole.column > 60 ? -1 : 1) });
      const wires = value.wires.map((w, at) => (at === index ? { ...w, to: aside } : w));
      const strips = (h: string): string | undefined => stripOfHole(h, () => 'full');
      // A rail hole further along the same rail is the same conductor: that is no fault, unless the hole is taken.
      if (strips(aside) === strips(wire.to)) continue;
      moved++;
      const found = proveLayout({ ...value, wires }, design.netlists);
      // The neighbouring strip may carry the same net.
      const same = value.parts.some((part) =>
        part.leads.some(
          (lead) => strips(lead.hole) === strips(aside) && onNet(design, part.part, lead.number, wire.net),
        ),
      );
      if (!same) expect({ wire, aside, found: found.length > 0 }).toEqual({ wire, aside, found: true });
    }
  }
  expect(moved).toBeGreaterThan(80);
});

function onNet(design: Design, part: string, number: number, net: string): boolean {
  return design.netlists.some((netlist) =>
    netlist.pins.some(
      (pin) => netlist.parts[pin.part]!.name === part && pin.number === number && netlist.nets[pin.net]?.name === net,
    ),
  );
}

test('the same input gives the same bytes, and a second run with the layout before it changes nothing', () => {
  const design = randomDesign(11, { chips: 9, stages: 4, changes: true, odd: true });
  const a = lay(design, NO_CHOICES, undefined, { seed: 5, moves: 3000 }).value;
  const b = lay(design, NO_CHOICES, undefined, { seed: 5, moves: 3000 }).value;
  expect(JSON.stringify(a)).toBe(JSON.stringify(b));
  const again = lay(design, NO_CHOICES, a, { seed: 9, moves: 3000 });
  expect(messages(again.findings)).toEqual([]);
  expect(again.value.parts).toEqual(a.parts);
  expect(again.value.wires).toEqual(a.wires);
});
