import { expect, test } from 'vitest';
import { chipRecord, designOf, type DraftPart } from '../../benchmarks/machines/random-design.ts';
import type { PartRecord } from '../parts/index.ts';
import { FEED_MA, lay, NO_CHOICES, openEditor, proveLayout, stripOfHole, worstCurrent } from './index.ts';

/** Chips that draw `milliamps` each, on one bus. */
function hungry(count: number, milliamps: number): ReturnType<typeof designOf> {
  const plain = chipRecord('HOT', 20, { kind: 'dip', width: 300 }, { current: { max: milliamps } } as never);
  const record = {
    ...plain,
    pins: plain.pins.map((pin) => ({
      ...pin,
      kind: pin.number === 20 ? ('supply' as const) : pin.number === 10 ? ('ground' as const) : pin.kind,
    })),
  } as unknown as PartRecord;
  const parts = Array.from({ length: count }, (_, i): DraftPart => {
    const nets = new Map<number, string>([
      [20, 'main'],
      [10, 'GND'],
    ]);
    for (let pin = 2; pin < 10; pin++) nets.set(pin, `D${pin}`);
    return { name: `U${i}`, record, stage: 1 + (i % 3), nets };
  });
  return designOf({ name: 'hungry', stages: 3, parts });
}

test('one feed does where little is drawn; 500 mA to a contact, and the figure is the sum of the records', () => {
  expect(FEED_MA).toBe(500);
  expect(worstCurrent(hungry(10, 50))).toEqual({ stage: 3, milliamps: 500 });
  const { value, findings } = lay(hungry(10, 50), NO_CHOICES, undefined, { moves: 20_000 });
  expect(findings).toEqual([]);
  expect(value.entries.length).toBe(1);
});

test('two amperes come in by four feeds on rails of their own, and stay there', () => {
  const design = hungry(20, 100);
  const { value, findings } = lay(design, NO_CHOICES, undefined, { moves: 20_000 });
  expect(findings).toEqual([]);
  expect(value.entries.map((entry) => entry.supply)).toEqual(['main', 'main', 'main', 'main']);
  const strip = (hole: string): string => stripOfHole(hole, () => 'full')!;
  expect(new Set(value.entries.map((entry) => strip(entry.plus))).size).toBe(4);
  expect(new Set(value.entries.map((entry) => strip(entry.ground))).size).toBe(4);
  // Nothing stands in the holes of the feeds, and each is joined to the first from the first stage on.
  const ends = new Set([
    ...value.wires.flatMap((wire) => [wire.from, wire.to]),
    ...value.parts.flatMap((part) => part.leads.map((lead) => lead.hole)),
  ]);
  for (const { plus, ground } of value.entries) expect([ends.has(plus), ends.has(ground)]).toEqual([false, false]);
  const up = new Map<string, string>();
  const find = (name: string): string => (up.has(name) ? find(up.get(name)!) : name);
  for (const wire of value.wires)
    if (wire.stage === 1) {
      const [a, b] = [find(strip(wire.from)), find(strip(wire.to))];
      if (a !== b) up.set(a, b);
    }
  expect(new Set(value.entries.map((entry) => find(strip(entry.plus)))).size).toBe(1);
  expect(proveLayout(value, design.netlists)).toEqual([]);
  const again = lay(design, NO_CHOICES, value, { moves: 20_000 });
  expect(again.value.entries).toEqual(value.entries);
  expect(again.value.wires).toEqual(value.wires);
  expect(openEditor(design, NO_CHOICES, value).value.layout().wires).toEqual(value.wires);
});

test('1.2 A need three feeds on boards that the builder chose, too', () => {
  const rows = [1, 2, 3, 4].map((row) => ({ kind: 'full', column: 1, row }));
  const { value, findings } = lay(hungry(12, 100), { ...NO_CHOICES, boards: rows }, undefined, { moves: 20_000 });
  expect(findings).toEqual([]);
  expect(value.entries.length).toBe(3);
});
